//! Which of the sets at hand can run the course, and what would.

use serde::{Deserialize, Serialize};

/// One set against the course.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SetFit {
    /// The owner's name for it.
    pub id: String,
    /// Whether it can run the course.
    pub fit: bool,
    /// Why, or why not.
    pub why: String,
}
