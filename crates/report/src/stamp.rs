//! What the caller knows and the pages do not: the day, the program, the size of the paper.

use jiff::civil::Date;
use serde::Serialize;

/// When and by what a document was made. The same stamp gives the same bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stamp {
    /// The day the document is made; `None` takes the day of the test.
    pub date: Option<Date>,
    /// Version of the program.
    pub version: &'static str,
    /// The paper it is printed on.
    pub page: PageSize,
}

/// What seals a kept record: whoever has the paper can tell whether the record still agrees.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Seal {
    /// The record's identifier.
    pub record: String,
    /// How many events it covers, from the first.
    pub events: u64,
    /// The code of the last of these, in hexadecimal.
    pub code: String,
    /// What others wrote in the same record: how many events, and the code of the last.
    pub beside: Vec<(u64, String)>,
}

impl Seal {
    /// The code in groups of four, as an eye compares it.
    pub(crate) fn grouped(code: &str) -> String {
        let signs: Vec<char> = code.chars().filter(|sign| !sign.is_whitespace()).collect();
        let groups: Vec<String> = signs.chunks(4).map(|four| four.iter().collect()).collect();
        groups.join(" ")
    }
}

/// Size of the paper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum PageSize {
    /// 210 mm by 297 mm.
    #[default]
    A4,
    /// 8.5 in by 11 in.
    Letter,
}

impl PageSize {
    /// As the typesetter names it.
    pub(crate) const fn name(self) -> &'static str {
        match self {
            Self::A4 => "a4",
            Self::Letter => "us-letter",
        }
    }
}

/// A day in parts, as the typesetter wants it.
#[derive(Clone, Copy, Serialize)]
pub(crate) struct Day {
    year: i16,
    month: i8,
    day: i8,
}

impl From<Date> for Day {
    fn from(date: Date) -> Self {
        Self { year: date.year(), month: date.month(), day: date.day() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_is_printed_in_groups_of_four() {
        let check = |code: &str, expected: &str| {
            assert_eq!(Seal::grouped(code), expected);
        };
        check("ba7816bf8f01cfea", "ba78 16bf 8f01 cfea");
        check("ba78 16bf8f", "ba78 16bf 8f");
        check("", "");
    }
}
