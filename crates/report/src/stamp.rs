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
