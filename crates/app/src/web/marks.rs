//! Words and shapes that several pages put beside a name: a verdict, a kind, a state.

use jiff::Timestamp;
use maud::{Markup, html};
use session::Kind;

use super::due::{Due, day};
use super::percent::encoded;
use crate::show::records;

/// A verdict, the worst first; what was never judged stands between.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Worst {
    Reject,
    Investigate,
    Void,
    NotJudged,
    NeverTested,
    Accept,
}

impl Worst {
    /// By the word that is kept.
    pub(super) fn of(verdict: Option<&str>) -> Self {
        match verdict {
            Some("reject") => Self::Reject,
            Some("investigate") => Self::Investigate,
            Some("accept") => Self::Accept,
            Some(_) => Self::Void,
            None => Self::NotJudged,
        }
    }

    const fn told(self) -> (&'static str, &'static str, &'static str) {
        match self {
            Self::Reject => ("reject", "✕", "REJECT"),
            Self::Investigate => ("investigate", "△", "INVESTIGATE"),
            Self::Void => ("void", "⌀", "VOID"),
            Self::NotJudged => ("open", "·", "not judged"),
            Self::NeverTested => ("open", "·", "no closed test"),
            Self::Accept => ("accept", "○", "ACCEPT"),
        }
    }
}

/// A verdict as word, shape and colour.
pub(super) fn verdict(is: Worst) -> Markup {
    let (key, shape, word) = is.told();
    html! {
        span .judged data-verdict=(key) { span aria-hidden="true" { (shape) } " " (word) }
    }
}

/// How a record came to be, where that is not a test at an object.
pub(super) fn kind(kind: Kind) -> Markup {
    html! {
        @match kind {
            Kind::Test => {},
            other => span .kind { (records::kind(other)) },
        }
    }
}

/// Whether it is due, as word, shape and colour.
pub(super) fn due(due: Due) -> Markup {
    html! {
        span .due data-due=(due.key()) { span aria-hidden="true" { (due.shape()) } " " (due) }
    }
}

/// The day of a moment.
pub(super) fn date(at: Timestamp) -> Markup {
    let day = day(at);
    html! { time datetime=(day) { (day) } }
}

/// The shape of what is grounded; fonts seldom have it.
pub(super) fn ground() -> Markup {
    html! {
        svg .ground viewBox="0 0 16 16" aria-hidden="true" {
            path d="M8 1v7M2 8h12M4.5 11h7M7 14h2" {}
        }
    }
}

/// With a capital, to begin a sentence.
pub(super) fn begun_large(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// Where the page of an apparatus is.
pub(super) fn apparatus(name: &str) -> String {
    format!("/apparatus/{}", encoded(name))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_rejected_is_worse_than_what_was_never_tested_and_that_than_accepted() {
        let mut all = [None, Some("accept"), Some("void"), Some("reject"), Some("investigate")];
        all.sort_by_key(|word| Worst::of(*word));
        let expected = [Some("reject"), Some("investigate"), Some("void"), None, Some("accept")];
        assert_eq!(all, expected);
    }
}
