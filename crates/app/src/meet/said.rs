//! What laptop and office say to each other around the batches.

use serde::{Deserialize, Serialize};
use store::meet::{Batch, Refused, Told, Want};

/// Who answers.
#[derive(Debug, Serialize, Deserialize)]
pub(crate) struct Hello {
    /// Edition of what is said.
    pub(crate) form: String,
    /// The writer of the office's database.
    pub(crate) writer: String,
    /// Version of its program.
    pub(crate) version: String,
}

/// A laptop asks for what it lacks.
#[derive(Debug, Serialize, Deserialize)]
pub(crate) struct Ask {
    pub(crate) wants: Vec<Want>,
    /// About so many bytes at once.
    pub(crate) most: usize,
}

/// As much of it as goes at once, and what is left.
#[derive(Debug, Serialize, Deserialize)]
pub(crate) struct Given {
    pub(crate) batch: Batch,
    pub(crate) rest: Vec<Want>,
}

/// A meeting came to its end.
#[derive(Debug, Serialize, Deserialize)]
pub(crate) struct Done {
    /// The writer of the laptop's database.
    pub(crate) from: String,
    pub(crate) told: Told,
    /// What the laptop refused.
    pub(crate) refused: Vec<Refused>,
}

/// A laptop asks to be let in.
#[derive(Debug, Serialize, Deserialize)]
pub(crate) struct PairUp {
    pub(crate) code: String,
    pub(crate) device: String,
}

/// It was.
#[derive(Debug, Serialize, Deserialize)]
pub(crate) struct PairedAs {
    /// What it carries from now on.
    pub(crate) token: String,
}

/// Why not.
#[derive(Debug, Serialize, Deserialize)]
pub(crate) struct Not {
    pub(crate) remedy: String,
    #[serde(default)]
    pub(crate) detail: String,
}
