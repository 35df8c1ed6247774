//! What is asked before the first voltage, who stands where, and what is put back afterwards.

use serde::{Deserialize, Serialize};
use standards::Citation;

/// What is asked first, who stands where, and what is put back.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Ready {
    /// Who does what; one person never has two of these.
    pub roles: Vec<Role>,
}

/// One person's part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Role {
    /// Name of the part.
    pub id: String,
    /// What the person does, and does not.
    pub text: String,
    /// Where it stands.
    pub source: Citation,
}
