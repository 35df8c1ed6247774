//! What is said of a fault: what to write instead first, then the detail.

use std::fmt;

use super::fault::{FaultKind, ReadingsFault, ReadingsNote};
use crate::record::Happening;

impl fmt::Display for ReadingsNote {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::DecimalCommas => "commas inside numbers were read as decimal points",
        })
    }
}

impl fmt::Display for ReadingsFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.fault {
            FaultKind::Empty => {
                f.write_str("write the header `t_s,kv,ua` and the readings — the file is empty")
            }
            FaultKind::NoRows => {
                f.write_str("write the readings below the header — there are none")
            }
            FaultKind::TooLarge { limit_mb } => write!(
                f,
                "split the file by phase or keep fewer readings — it is larger than {limit_mb} MB"
            ),
            FaultKind::BeginsLate { first_s, apart_s } => write!(
                f,
                "say from where time counts, zero=LINE with the line at which voltage was put on, \
                 or zero=0 where it counts from then as it stands — the first row is at \
                 {first_s} s and at voltage, and rows stand no more than {apart_s} s apart"
            ),
            FaultKind::TooManyRows { limit } => write!(
                f,
                "split the file by phase or keep fewer readings — it has more than {limit} rows"
            ),
            FaultKind::LineTooLong { limit } => write!(
                f,
                "write one reading a line and short notes — this line is longer than {limit} bytes"
            ),
            FaultKind::Binary => {
                f.write_str("save the file as plain text (UTF-8) — it holds control characters")
            }
            FaultKind::NotUtf8 => f.write_str(
                "save the file as plain text (UTF-8) — this line holds bytes that are no text",
            ),
            FaultKind::BadQuote => f.write_str(
                "close the quotes before the next comma, and write a quote inside a text twice — \
                 the quotes that open here do not end a field",
            ),
            FaultKind::NoHeader => f.write_str(
                "write the header `t_s,kv,ua` as the first line, or say what is what, as in \
                     --columns t=1:s,kv=2:kV,ua=3:uA — it holds numbers",
            ),
            FaultKind::UnnamedColumn { place } => {
                write!(f, "name column {} or remove it — its header is empty", place + 1)
            }
            FaultKind::UnknownColumn { found, nearest: Some(nearest) } => {
                write!(f, "write `{nearest}` — column `{found}` is not known")
            }
            FaultKind::UnknownColumn { found, nearest: None } => {
                write!(f, "remove column `{found}` or put it into `note` — it is not known")
            }
            FaultKind::OtherUnit { found, write, factor } => {
                write!(f, "column `{found}`: write `{write}`{}", conversion(*factor))
            }
            FaultKind::MissingColumn { name } => {
                write!(f, "add column `{name}` — the header has none")
            }
            FaultKind::RepeatedColumn { name } => {
                write!(f, "keep one column `{name}` — the header has it twice")
            }
            FaultKind::FieldCount { expected, found } => write!(
                f,
                "write {expected} fields as the header does, with decimal points and a note with \
                 commas in quotes — this line has {found}"
            ),
            FaultKind::DecimalComma { column, write } => {
                write!(f, "write `{write}` in `{column}` — a decimal comma stands there")
            }
            FaultKind::UnclearComma { column, found, write } => write!(
                f,
                "write `{write}` or `{}` in `{column}` — the comma of `{found}` may mean either",
                found.replace(',', "")
            ),
            FaultKind::NotANumber { column, found } => {
                write!(f, "write a number without unit in `{column}` — found `{found}`")
            }
            FaultKind::NotFinite { column, found } => write!(
                f,
                "write the reading in `{column}`, 9.9E37 for overload, or remove the line — found \
                 `{found}`"
            ),
            FaultKind::EmptyNumber { column } => write!(
                f,
                "write the reading in `{column}`, or remove the line — it is empty and the line \
                 has no event"
            ),
            FaultKind::TooHigh { column, found } => too_high(f, column, *found),
            FaultKind::RangeNotPositive { column, found } => write!(
                f,
                "write the full scale in `{column}`, or leave it empty if unknown — found {found}"
            ),
            FaultKind::OverloadHere { column } => {
                write!(f, "write the number in `{column}` — only a reading can be over range")
            }
            FaultKind::TimeOutOfRange { found } => {
                write!(f, "count `t_s` in seconds from energising, which is 0 — found {found}")
            }
            FaultKind::TimeBack { at_s, since_s } => write!(
                f,
                "sort the lines by `t_s`, or write event `ground` where the conductor was \
                 grounded between two runs — {at_s} comes after {since_s}"
            ),
            FaultKind::UnknownEvent { found, nearest } => unknown_event(f, found, *nearest),
            FaultKind::MixedSigns { column, found } => write!(
                f,
                "write all readings with one sign, that of the polarity — `{column}` is {found} \
                 here, most others have the other sign"
            ),
            FaultKind::UnknownPhase { found, conductors } => write!(
                f,
                "write phase {}, as the job names them — `{found}` is none of them",
                conductors.join(" or ")
            ),
        }
    }
}

fn conversion(factor: Option<f64>) -> String {
    match factor {
        Some(1.0) => " — the unit is right, the name is not".to_owned(),
        Some(factor) if factor < 1.0 => format!(" and divide by {}", (1.0 / factor).round()),
        Some(factor) => format!(" and multiply by {factor}"),
        None => " with values in the unit of that name — this name has no unit".to_owned(),
    }
}

fn too_high(f: &mut fmt::Formatter<'_>, column: &str, found: f64) -> fmt::Result {
    let (unit, smaller) = if column == "kv" { ("kV", "V") } else { ("µA", "nA") };
    let meant = found / 1000.0;
    write!(
        f,
        "write `{meant}` in `{column}` if you meant {found} {smaller} — {found} {unit} cannot be"
    )
}

fn unknown_event(f: &mut fmt::Formatter<'_>, found: &str, nearest: Option<&str>) -> fmt::Result {
    let all: Vec<&str> = Happening::ALL.iter().map(|event| event.key()).collect();
    let all = all.join(", ");
    match nearest {
        Some(nearest) => {
            write!(f, "write `{nearest}`, or another of {all} in `event` — `{found}` is not known")
        }
        None => write!(f, "write one of {all} in `event` — `{found}` is not known"),
    }
}
