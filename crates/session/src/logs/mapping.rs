//! How a log is read, and the words that say so.

use std::fmt;
use std::str::FromStr;

/// What stands between fields.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Delimiter {
    /// A tab.
    Tab,
    /// `;`
    Semicolon,
    /// `,`
    Comma,
    /// One blank or more.
    Blanks,
}

/// Which sign parts the whole from its decimals.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Decimal {
    /// `.`
    Point,
    /// `,`
    Comma,
}

/// What a column of time holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TimeForm {
    /// Milliseconds.
    Milliseconds,
    /// Seconds.
    Seconds,
    /// Minutes.
    Minutes,
    /// Hours.
    Hours,
    /// Hours, minutes, seconds, with a date before them or not: a time of day, counted from the
    /// first row.
    Clock,
    /// Minutes and seconds.
    MinutesSeconds,
}

/// What a column of voltage or current is in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// Millivolts.
    Millivolts,
    /// Volts.
    Volts,
    /// Kilovolts.
    Kilovolts,
    /// Picoamperes.
    Picoamperes,
    /// Nanoamperes.
    Nanoamperes,
    /// Microamperes.
    Microamperes,
    /// Milliamperes.
    Milliamperes,
    /// Amperes.
    Amperes,
}

/// One column with what it is in, counted from zero.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Column<U> {
    /// Its place.
    pub place: usize,
    /// What it is in.
    pub unit: U,
}

/// How a log is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Mapping {
    /// What stands between fields.
    pub delimiter: Delimiter,
    /// Which sign is the decimal one.
    pub decimal: Decimal,
    /// Lines before the first row.
    pub skip: usize,
    /// The column of time.
    pub time: Column<TimeForm>,
    /// The column of voltage.
    pub voltage: Column<Unit>,
    /// The column of current.
    pub current: Column<Unit>,
    /// The line at which voltage was put on, counted from one: rows before it are left out and
    /// time counts from it. Zero where a person said that it counts from then as it stands.
    pub zero: Option<usize>,
}

/// What a person says of a log; what is left out is guessed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Asked {
    /// What stands between fields.
    pub delimiter: Option<Delimiter>,
    /// Which sign is the decimal one.
    pub decimal: Option<Decimal>,
    /// Lines before the first row.
    pub skip: Option<usize>,
    /// The column of time, and what it holds.
    pub time: Option<Column<Option<TimeForm>>>,
    /// The column of voltage, and its unit.
    pub voltage: Option<Column<Option<Unit>>>,
    /// The column of current, and its unit.
    pub current: Option<Column<Option<Unit>>>,
    /// The line at which voltage was put on.
    pub zero: Option<usize>,
}

/// Why words do not say how a log is read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum MappingError {
    /// Not of the form `name=value`, or a name that is not known.
    Part {
        /// As written.
        found: String,
    },
    /// A column that is no whole number from one.
    Column {
        /// As written.
        found: String,
    },
    /// A unit that is none of this quantity.
    Unit {
        /// Of what.
        name: &'static str,
        /// As written.
        found: String,
    },
    /// A word that is none of those.
    Word {
        /// Of what.
        name: &'static str,
        /// As written.
        found: String,
    },
}

impl Delimiter {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Tab, Self::Semicolon, Self::Comma, Self::Blanks];

    /// The word that says it.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Tab => "tab",
            Self::Semicolon => "semicolon",
            Self::Comma => "comma",
            Self::Blanks => "blanks",
        }
    }
}

impl Decimal {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Point, Self::Comma];

    /// The word that says it.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Point => "point",
            Self::Comma => "comma",
        }
    }
}

impl TimeForm {
    /// All of them.
    pub const ALL: [Self; 6] = [
        Self::Milliseconds,
        Self::Seconds,
        Self::Minutes,
        Self::Hours,
        Self::Clock,
        Self::MinutesSeconds,
    ];

    /// The word that says it.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Milliseconds => "ms",
            Self::Seconds => "s",
            Self::Minutes => "min",
            Self::Hours => "h",
            Self::Clock => "clock",
            Self::MinutesSeconds => "m-s",
        }
    }
}

impl Unit {
    /// All of them.
    pub const ALL: [Self; 8] = [
        Self::Millivolts,
        Self::Volts,
        Self::Kilovolts,
        Self::Picoamperes,
        Self::Nanoamperes,
        Self::Microamperes,
        Self::Milliamperes,
        Self::Amperes,
    ];

    /// Its symbol, in plain letters.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Millivolts => "mV",
            Self::Volts => "V",
            Self::Kilovolts => "kV",
            Self::Picoamperes => "pA",
            Self::Nanoamperes => "nA",
            Self::Microamperes => "uA",
            Self::Milliamperes => "mA",
            Self::Amperes => "A",
        }
    }

    /// Whether it is one of voltage.
    #[must_use]
    pub const fn is_voltage(self) -> bool {
        matches!(self, Self::Millivolts | Self::Volts | Self::Kilovolts)
    }

    /// The power of ten that makes kilovolts or microamperes of it.
    pub(super) const fn power(self) -> i32 {
        match self {
            Self::Millivolts | Self::Picoamperes => -6,
            Self::Volts | Self::Nanoamperes => -3,
            Self::Kilovolts | Self::Microamperes => 0,
            Self::Milliamperes => 3,
            Self::Amperes => 6,
        }
    }
}

impl fmt::Display for Mapping {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "t={}:{},kv={}:{},ua={}:{},decimal={},delimiter={},skip={}",
            self.time.place + 1,
            self.time.unit.key(),
            self.voltage.place + 1,
            self.voltage.unit.key(),
            self.current.place + 1,
            self.current.unit.key(),
            self.decimal.key(),
            self.delimiter.key(),
            self.skip
        )?;
        self.zero.map_or(Ok(()), |line| write!(f, ",zero={line}"))
    }
}

/// Says nothing of a log: all of it is guessed anew.
const GUESS: &str = "guess";

impl FromStr for Asked {
    type Err = MappingError;

    fn from_str(text: &str) -> Result<Self, MappingError> {
        let mut asked = Self::default();
        // Whatever was remembered of such logs is put aside.
        if text.trim() == GUESS {
            return Ok(asked);
        }
        for part in text.split(',').map(str::trim).filter(|part| !part.is_empty()) {
            let wrong = || MappingError::Part { found: part.to_owned() };
            let (name, value) = part.split_once('=').ok_or_else(wrong)?;
            match (name.trim(), value.trim()) {
                ("t", value) => asked.time = Some(column(value, "t", time_form)?),
                ("kv", value) => asked.voltage = Some(column(value, "kv", |w| unit(w, true))?),
                ("ua", value) => asked.current = Some(column(value, "ua", |w| unit(w, false))?),
                ("decimal", value) => {
                    let all = Decimal::ALL;
                    asked.decimal = Some(word("decimal", value, &all, Decimal::key)?);
                }
                ("delimiter", value) => {
                    let all = Delimiter::ALL;
                    asked.delimiter = Some(word("delimiter", value, &all, Delimiter::key)?);
                }
                ("skip", value) => asked.skip = Some(value.parse().map_err(|_| wrong())?),
                ("zero", value) => {
                    asked.zero = Some(value.parse().map_err(|_| wrong())?);
                }
                _ => return Err(wrong()),
            }
        }
        Ok(asked)
    }
}

fn column<U>(
    text: &str,
    name: &'static str,
    unit: impl Fn(&str) -> Option<U>,
) -> Result<Column<Option<U>>, MappingError> {
    let (place, written) = text.split_once(':').map_or((text, None), |(a, b)| (a, Some(b)));
    let number: usize = place.trim().parse().unwrap_or(0);
    let wrong = || MappingError::Column { found: text.to_owned() };
    let place = number.checked_sub(1).ok_or_else(wrong)?;
    let unit = written.map(|written| {
        unit(written.trim()).ok_or_else(|| MappingError::Unit { name, found: written.to_owned() })
    });
    Ok(Column { place, unit: unit.transpose()? })
}

fn word<T: Copy>(
    name: &'static str,
    text: &str,
    all: &[T],
    key: fn(T) -> &'static str,
) -> Result<T, MappingError> {
    let found = all.iter().find(|one| key(**one) == text);
    found.copied().ok_or_else(|| MappingError::Word { name, found: text.to_owned() })
}

fn time_form(text: &str) -> Option<TimeForm> {
    TimeForm::ALL.into_iter().find(|form| form.key() == text)
}

/// A unit as people write it; of a capital M, a hundredfold of nothing that is read here, none.
pub(super) fn unit(text: &str, voltage: bool) -> Option<Unit> {
    let plain = text.trim().replace(['\u{b5}', '\u{3bc}'], "u");
    let same = |unit: &Unit| {
        let key = unit.key();
        let small = plain.starts_with('M') == key.starts_with('M');
        unit.is_voltage() == voltage && small && plain.eq_ignore_ascii_case(key)
    };
    Unit::ALL.into_iter().find(same)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_said_of_a_log_is_read_and_the_rest_is_left_open() {
        let asked: Asked = "t=1,kv=3:V,ua=4:nA".parse().expect("well formed");
        let expected = Asked {
            time: Some(Column { place: 0, unit: None }),
            voltage: Some(Column { place: 2, unit: Some(Unit::Volts) }),
            current: Some(Column { place: 3, unit: Some(Unit::Nanoamperes) }),
            ..Asked::default()
        };
        assert_eq!(asked, expected);
        let whole = "t=2:clock,kv=1:kV,ua=5:uA,decimal=comma,delimiter=tab,skip=3,zero=9";
        let asked: Asked = whole.parse().expect("well formed");
        assert_eq!(asked.delimiter, Some(Delimiter::Tab));
        assert_eq!((asked.skip, asked.zero), (Some(3), Some(9)));
    }

    #[test]
    fn what_is_no_mapping_says_what_to_write() {
        let check = |text: &str, part: &str| {
            let error = text.parse::<Asked>().expect_err(text).to_string();
            assert!(error.contains(part), "{text}: {error}");
        };
        check("t", "t=1");
        check("volts=2", "t=1");
        check("kv=0", "from 1");
        check("kv=2:mA", "mV, V or kV");
        check("kv=2:MV", "mV, V or kV");
        check("ua=2:kV", "pA, nA, uA, mA or A");
        check("t=1:days", "clock");
        check("decimal=dot", "point or comma");
        check("delimiter=|", "tab, semicolon, comma or blanks");
        check("zero=-1", "t=1");
    }
}
