//! What is published to do instead, where direct voltage is not the right test.

use serde::{Deserialize, Serialize};
use standards::Citation;

/// One published test to take instead.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Instead {
    /// The method in a few words.
    pub method: String,
    /// Where to read about it.
    pub source: Citation,
}
