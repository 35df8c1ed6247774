//! Why a test cannot go on.

use std::io;

use fantoccini::error::{CmdError, NewSessionError};

/// Why a test cannot go on.
#[derive(Debug, thiserror::Error)]
pub enum Fault {
    /// A program does not start.
    #[error("{program} does not start: {why}")]
    Start {
        /// The program.
        program: String,
        /// What the system says.
        why: io::Error,
    },
    /// A program starts and ends before it is ready.
    #[error("{program} ended before it was ready; it said: {said}")]
    Ended {
        /// The program.
        program: String,
        /// Its last words.
        said: String,
    },
    /// A file cannot be read or written.
    #[error("{0}")]
    File(#[from] io::Error),
    /// Chromium does not open.
    #[error("chromium does not open: {0}")]
    Session(#[from] NewSessionError),
    /// Chromium does not do what it is told.
    #[error("{doing}: {why}")]
    Driver {
        /// What it was told.
        doing: String,
        /// What its driver says.
        why: Box<CmdError>,
    },
    /// Something does not come in time.
    #[error("waited {waited_s} s in vain for {what}; the page is {page}")]
    Late {
        /// What was waited for.
        what: String,
        /// How long.
        waited_s: f64,
        /// Address and text of the page.
        page: String,
    },
    /// Something is not on the page.
    #[error("the page has no {what}; the page is {page}")]
    Missing {
        /// What.
        what: String,
        /// Address and text of the page.
        page: String,
    },
}
