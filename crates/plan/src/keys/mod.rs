//! Files of `key = value` lines: a written table of keys, and all that comes from it.
//!
//! Reading, the complaints about bad input and the JSON Schema come from one table a file kind;
//! the table of the job file is [`JOB`].

#[cfg(test)]
mod agree;
mod check;
mod fault;
mod job;
mod schema;
mod slips;
mod units;
mod value;
mod words;

pub use check::{Checked, check};
pub use fault::{FaultKind, InputFault};
pub use job::JOB;
pub use schema::{json_schema, schema};
pub use slips::{decimal_comma, nearest};
pub(crate) use units::slip;
pub use units::{Conversion, conversion, symbol};

/// One key of a file.
#[derive(Clone, Copy, Debug)]
pub struct Key {
    /// With its tables: `asset.cable.length_m`. A list of tables counts as one table.
    pub path: &'static str,
    /// What may stand there.
    pub kind: Kind,
    /// The unit as the key's name ends in it; empty for a plain number, text or table.
    pub unit: &'static str,
    /// Whether it must be there when its table is.
    pub required: bool,
    /// What it says.
    pub doc: &'static str,
}

/// What may stand behind a key.
#[derive(Clone, Copy, Debug)]
pub enum Kind {
    /// A table.
    Table,
    /// Any number of tables under one name.
    Tables,
    /// A text.
    Text,
    /// A list of different texts.
    Texts,
    /// One of these words.
    Choice(fn() -> Vec<&'static str>),
    /// A list of these words.
    Choices(fn() -> Vec<&'static str>),
    /// `true` or `false`.
    Flag,
    /// A day: `2026-11-03`, with quotes or without.
    Date,
    /// A number.
    Number(Range),
    /// A whole number.
    Whole(Range),
    /// One of these numbers.
    OneOf(&'static [f64]),
    /// A list of numbers.
    Numbers(Numbers),
}

/// A list of numbers.
#[derive(Clone, Copy, Debug)]
pub struct Numbers {
    /// What each may be.
    pub each: Range,
    /// How they follow each other.
    pub order: Order,
    /// How many, where that is settled.
    pub length: Option<usize>,
    /// Whether one bare number may stand for a list of one.
    pub bare: bool,
}

/// How the numbers of a list follow each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Order {
    /// In any way.
    Any,
    /// None is smaller than the one before.
    NotFalling,
    /// Each is larger than the one before.
    Rising,
}

/// What a number may be.
#[derive(Clone, Copy, Debug)]
pub struct Range {
    /// Lowest.
    pub low: f64,
    /// Whether the lowest itself may be.
    pub low_is_in: bool,
    /// Highest; it may itself be.
    pub high: f64,
    /// Whether zero may not be, though it lies inside.
    pub not_zero: bool,
}

impl Range {
    /// Whether the number may be.
    #[must_use]
    pub fn holds(&self, value: f64) -> bool {
        let above = if self.low_is_in { value >= self.low } else { value > self.low };
        above && value <= self.high && !(self.not_zero && value == 0.0)
    }

    /// The range in words.
    #[must_use]
    pub fn words(&self) -> String {
        if self.not_zero {
            return format!("from {} to {} and not 0", self.low, self.high);
        }
        match (self.low_is_in, self.high == f64::MAX) {
            (true, true) => format!("at least {}", self.low),
            (false, true) => format!("above {}", self.low),
            (true, false) => format!("from {} to {}", self.low, self.high),
            (false, false) => format!("above {} and at most {}", self.low, self.high),
        }
    }
}

/// From this to that, both allowed.
#[must_use]
pub const fn within(low: f64, high: f64) -> Kind {
    Kind::Number(Range { low, low_is_in: true, high, not_zero: false })
}

/// Of this size at most, with either sign, and not zero.
#[must_use]
pub const fn signed(most: f64) -> Kind {
    Kind::Number(Range { low: -most, low_is_in: true, high: most, not_zero: true })
}

/// Above zero, at most this.
#[must_use]
pub const fn positive(high: f64) -> Kind {
    Kind::Number(POSITIVE.up_to(high))
}

/// A list of numbers above zero, each at most this, that rise.
#[must_use]
pub const fn rising(high: f64) -> Kind {
    let each = POSITIVE.up_to(high);
    Kind::Numbers(Numbers { each, order: Order::Rising, length: None, bare: false })
}

/// Any number above zero.
pub const POSITIVE: Range = Range { low: 0.0, low_is_in: false, high: f64::MAX, not_zero: false };

impl Range {
    const fn up_to(self, high: f64) -> Self {
        Self { high, ..self }
    }
}

impl Key {
    /// A key that may be left out.
    #[must_use]
    pub const fn new(path: &'static str, kind: Kind, doc: &'static str) -> Self {
        Self { path, kind, unit: "", required: false, doc }
    }

    /// The same with a unit at the end of its name.
    #[must_use]
    pub const fn unit(self, unit: &'static str) -> Self {
        Self { unit, ..self }
    }

    /// The same, but it must be there when its table is.
    #[must_use]
    pub const fn required(self) -> Self {
        Self { required: true, ..self }
    }

    /// Its last name.
    #[must_use]
    pub fn leaf(&self) -> &'static str {
        self.path.rsplit('.').next().unwrap_or(self.path)
    }

    /// The path of its table; empty at the top.
    #[must_use]
    pub fn table(&self) -> &'static str {
        self.path.rsplit_once('.').map_or("", |(table, _)| table)
    }
}
