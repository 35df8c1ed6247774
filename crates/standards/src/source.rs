//! Where a value comes from, and how sure we are of it.

use std::fmt;

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

/// The edition of what has none: common practice, or a book known by one printing.
const NO_EDITION: &str = "no edition";

impl Citation {
    /// Title, edition and place, what is not known left out.
    pub fn parts(&self) -> impl Iterator<Item = &str> {
        [&self.title, &self.edition, &self.place]
            .into_iter()
            .map(String::as_str)
            .filter(|part| !part.is_empty() && *part != NO_EDITION)
    }
}

/// In one line; the mark stands beside it.
impl fmt::Display for Citation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.parts().collect::<Vec<_>>().join(", "))
    }
}

impl<T> Cited<T> {
    /// The same place with another value made from it.
    #[must_use]
    pub fn map<P>(self, change: impl FnOnce(T) -> P) -> Cited<P> {
        Cited { value: change(self.value), source: self.source }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_citation_in_one_line_leaves_out_what_is_not_known() {
        let check = |edition: &str, place: &str, expected: &str| {
            let [id, title] = ["practice/x", "Common practice"].map(str::to_owned);
            let (edition, place) = (edition.to_owned(), place.to_owned());
            let citation = Citation { id, title, edition, place, mark: Mark::Practice };
            assert_eq!(citation.to_string(), expected);
        };
        check("2019", "Table 1", "Common practice, 2019, Table 1");
        check("no edition", "a needle near zero", "Common practice, a needle near zero");
        check("", "", "Common practice");
    }
}
