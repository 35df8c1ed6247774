//! What is said of a fault: what to write instead first, then the detail.

use std::fmt;

use super::fault::{FaultKind, InputFault};

impl fmt::Display for InputFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let key = &self.key;
        match &self.fault {
            FaultKind::NotToml { detail } => {
                write!(f, "write one `key = value` a line, texts in quotes — {detail}")
            }
            FaultKind::DecimalComma { write } => {
                write!(f, "write `{write}` with a decimal point — a comma separates list items")
            }
            FaultKind::Unquoted { word } => {
                write!(f, "write `\"{word}\"` in quotes — a text without quotes is not read")
            }
            FaultKind::Unclosed { what } => {
                write!(f, "close {what} — the value of `{key}` has no end, or no sense inside")
            }
            FaultKind::Twice => {
                f.write_str("write each key and table once — this one stands there twice")
            }
            FaultKind::UnknownKey { nearest: Some(nearest) } => {
                write!(f, "write `{nearest}` — `{key}` is not known")
            }
            FaultKind::UnknownKey { nearest: None } => {
                write!(f, "leave `{key}` out — it is not known, and nothing like it is")
            }
            FaultKind::OtherUnit { write, factor: Some(factor) } => {
                write!(f, "write `{write}` and multiply by {factor} — `{key}` is not known")
            }
            FaultKind::OtherUnit { write, factor: None } => {
                write!(f, "write `{write}` and convert the value — `{key}` is not known")
            }
            FaultKind::OtherTable { write } => {
                write!(f, "write it as `{write}` — `{key}` is not known there")
            }
            FaultKind::WrongKind { expected, found } => {
                write!(f, "write {expected} for `{key}` — found {found}")
            }
            FaultKind::NotAChoice { found, nearest, choices } => {
                write_choice(f, key, found, *nearest, choices)
            }
            FaultKind::NotAStandardNumber { found, choices } => {
                let choices: Vec<String> = choices.iter().map(f64::to_string).collect();
                write!(f, "write {} for `{key}` — found {found}", choices.join(" or "))
            }
            FaultKind::OutOfRange { found, range, unit, slip } => {
                write_range(f, key, *found, range, unit, *slip)
            }
            FaultKind::NotFinite => {
                write!(
                    f,
                    "write a number for `{key}`, or leave the key out if unknown — \
                    `nan` and `inf` are no values"
                )
            }
            FaultKind::NotRising => {
                write!(f, "write the numbers of `{key}` from lowest to highest, each once")
            }
            FaultKind::ListLength { expected, found } => {
                write!(f, "write {expected} values for `{key}` — found {found}")
            }
            FaultKind::EmptyText => {
                write!(f, "write a text for `{key}`, or leave the key out — it is empty")
            }
            FaultKind::ControlCharacter => {
                write!(f, "write a plain text for `{key}` — it holds control characters")
            }
            FaultKind::LongText { limit } => {
                write!(f, "shorten the text of `{key}` to {limit} characters — it is longer")
            }
            FaultKind::Repeated { text } => {
                write!(f, "write each name in `{key}` once — `{text}` stands there twice")
            }
            FaultKind::NotADate { found } => {
                write!(f, "write a day of the calendar as 2026-11-03 for `{key}` — found `{found}`")
            }
            FaultKind::Missing { doc } => write!(f, "add `{key}` — it is missing ({doc})"),
            FaultKind::OtherClass { class, write } => {
                write!(f, "write `{write}` — `{key}` does not go with class `{class}`")
            }
            FaultKind::NotAQuestion { found } => write!(
                f,
                "write a question that ends in `?` for `{key}` — `{found}` is none, and nothing \
                 that switches, sets or tests a meter is ever sent"
            ),
            FaultKind::OtherQuantity { reads, units } => {
                write!(f, "write {units} for `{key}` — this meter reads {reads}")
            }
            FaultKind::Contradiction { other, rule } => {
                write!(f, "correct `{key}` or `{other}` — {rule}")
            }
        }
    }
}

fn write_choice(
    f: &mut fmt::Formatter<'_>,
    key: &str,
    found: &str,
    nearest: Option<&str>,
    choices: &[&str],
) -> fmt::Result {
    let all = choices.join(", ");
    match nearest {
        Some(nearest) => write!(
            f,
            "write `\"{nearest}\"` for `{key}`, or another of {all} — `{found}` is not known"
        ),
        None => write!(f, "write one of {all} for `{key}` — `{found}` is not known"),
    }
}

fn write_range(
    f: &mut fmt::Formatter<'_>,
    key: &str,
    found: f64,
    range: &str,
    unit: &str,
    slip: Option<(&str, f64)>,
) -> fmt::Result {
    let gap = if unit.is_empty() { "" } else { " " };
    match slip {
        Some((meant, value)) => write!(
            f,
            "write `{key} = {value:?}` if you meant {found} {meant} — {found}{gap}{unit} is not \
             {range}"
        ),
        None => write!(f, "write a number {range} for `{key}` — found {found}{gap}{unit}"),
    }
}
