//! Where a value comes from, and how sure we are of it.

use serde::{Deserialize, Serialize};

/// How sure we are of a published value.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Mark {
    /// The user's own copy says so.
    Own,
    /// Read in the public text named.
    Seen,
    /// Common practice, no source.
    Practice,
    /// From memory: check your copy.
    Memory,
}

/// A place in one edition of one publication.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Citation {
    /// Name of the rule or table, as `standards list` shows it.
    pub id: String,
    /// Body, number and title.
    pub title: String,
    /// Edition.
    pub edition: String,
    /// Clause, table or page.
    pub place: String,
    /// How sure we are.
    pub mark: Mark,
}

/// A value with its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Cited<T> {
    /// The value.
    pub value: T,
    /// Where it stands.
    pub source: Citation,
}

impl Mark {
    /// Every mark, surest first.
    pub const ALL: [Self; 4] = [Self::Own, Self::Seen, Self::Practice, Self::Memory];

    /// The mark as it stands in files.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Own => "own",
            Self::Seen => "seen",
            Self::Practice => "practice",
            Self::Memory => "memory",
        }
    }
}

impl<T> Cited<T> {
    /// The same place with another value made from it.
    #[must_use]
    pub fn map<P>(self, change: impl FnOnce(T) -> P) -> Cited<P> {
        Cited { value: change(self.value), source: self.source }
    }
}
