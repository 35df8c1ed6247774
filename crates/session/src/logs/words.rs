//! What is said of a log: what to do first, then the detail.

use std::fmt;

use super::guess::{Doubt, What};
use super::mapping::MappingError;
use super::rows::LogNote;

impl fmt::Display for What {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Time => "time",
            Self::Voltage => "voltage",
            Self::Current => "current",
        })
    }
}

impl What {
    /// The name of its part of a mapping.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Time => "t",
            Self::Voltage => "kv",
            Self::Current => "ua",
        }
    }

    const fn units(self) -> &'static str {
        match self {
            Self::Time => "ms, s, min, h, clock (h:m:s) or m-s",
            Self::Voltage => "mV, V or kV",
            Self::Current => "pA, nA, uA, mA or A",
        }
    }
}

impl fmt::Display for Doubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Rows => f.write_str(
                "say where the rows begin and what parts their fields, skip=LINES and \
                 delimiter=comma, semicolon, tab or blanks: no rows of three fields were found",
            ),
            Self::Decimal => f.write_str(
                "say decimal=comma or decimal=point: in every number the comma or the point stands \
                 before three digits, so 1,234 or 1.234 may be a thousand and more",
            ),
            Self::BothSigns => f.write_str(
                "say decimal=comma or decimal=point: points and commas both stand in numbers",
            ),
            Self::NoColumn(what) => {
                write!(f, "say which column is the {what}, {}=NUMBER: no name tells", what.key())
            }
            Self::Several(what) => {
                write!(f, "say which column is the {what}, {}=NUMBER: several may be", what.key())
            }
            Self::OneColumn => f.write_str(
                "say which column is which, t=NUMBER,kv=NUMBER,ua=NUMBER: one stands for two",
            ),
            Self::NoUnit(what) => write!(
                f,
                "say what the {what} is in, {}=NUMBER:UNIT with {}: nothing tells",
                what.key(),
                what.units()
            ),
        }
    }
}

impl std::error::Error for MappingError {}

impl fmt::Display for MappingError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Part { found } => write!(
                f,
                "write parts such as t=1:s,kv=3:V,ua=4:nA,decimal=comma,delimiter=tab,skip=2, \
                 zero=LINE; `{found}` is none"
            ),
            Self::Column { found } => {
                write!(f, "write the number of a column, from 1, instead of `{found}`")
            }
            Self::Unit { name, found } => {
                let what = match *name {
                    "t" => What::Time,
                    "kv" => What::Voltage,
                    _ => What::Current,
                };
                write!(f, "write {name}=NUMBER:UNIT with {}; `{found}` is none", what.units())
            }
            Self::Word { name, found } => {
                let words = match *name {
                    "decimal" => "point or comma",
                    _ => "tab, semicolon, comma or blanks",
                };
                write!(f, "write {name}={words} instead of `{found}`")
            }
        }
    }
}

impl fmt::Display for LogNote {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut parts = Vec::new();
        if self.empty > 0 {
            parts.push(format!("{} rows without any value left out", self.empty));
        }
        if self.before > 0 {
            parts.push(format!("{} rows before voltage was put on left out", self.before));
        }
        f.write_str(&parts.join("; "))
    }
}
