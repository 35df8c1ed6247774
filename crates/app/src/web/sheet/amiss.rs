//! What is wrong with a field, said at the field: what to write instead first.

use plan::keys::{FaultKind, InputFault, Key, Kind, symbol};

use super::fields;

/// Whether something must be written that is not.
pub(super) const fn is_missing(fault: &InputFault) -> bool {
    matches!(fault.fault, FaultKind::Missing { .. })
}

/// What is wrong, and what to write instead.
pub(super) fn said(fault: &InputFault, key: &Key, typed: &str) -> String {
    match &fault.fault {
        FaultKind::WrongKind { .. }
        | FaultKind::DecimalComma { .. }
        | FaultKind::NotADate { .. } => unread(key, typed),
        FaultKind::OutOfRange { found, unit, range, slip: Some((meant, value)) } => {
            format!("Write {value} if you meant {found} {meant}. {found} {unit} is not {range}.")
        }
        FaultKind::OutOfRange { found, unit, range, slip: None } => {
            format!("Write a number {range}. Found {found} {unit}.").replace(" .", ".")
        }
        FaultKind::NotAChoice { found, .. } => {
            format!("Choose one of these. “{found}” is not known.")
        }
        FaultKind::NotAStandardNumber { found, .. } => {
            format!("Choose one of these. Found {found}.")
        }
        FaultKind::Contradiction { other, rule } => {
            let label = fields::of(other).map_or(*other, |field| field.label);
            format!("Correct this or “{label}”: {rule}.")
        }
        FaultKind::Missing { .. } => "Still asked for.".to_owned(),
        _ => plainly(fault),
    }
}

/// What was typed is not of the kind that the key takes.
fn unread(key: &Key, typed: &str) -> String {
    let unit =
        if key.unit.is_empty() { String::new() } else { format!(" of {}", symbol(key.unit)) };
    let asked = match key.kind {
        Kind::Numbers(_) => format!("Write numbers{unit} with spaces between, such as 20 40 80"),
        Kind::Number(_) | Kind::OneOf(_) if typed.contains(',') => {
            format!("Write one number{unit} with one decimal sign, and no sign between thousands")
        }
        Kind::Number(_) | Kind::OneOf(_) => format!("Write one number{unit}, such as 13.8"),
        Kind::Whole(_) => "Write a whole number".to_owned(),
        Kind::Date => "Write a day of the calendar as 2026-11-03".to_owned(),
        Kind::Texts => "Write names with spaces between, such as A B C".to_owned(),
        Kind::Text => "Write a text".to_owned(),
        Kind::Choice(_) | Kind::Choices(_) | Kind::Flag | Kind::Table | Kind::Tables => {
            "Choose one of these".to_owned()
        }
    };
    format!("{asked}. Found “{typed}”.")
}

/// As files are told, with the field in the place of the key.
fn plainly(fault: &InputFault) -> String {
    let text = fault.to_string().replace(&format!(" for `{}`", fault.key), "");
    let label = fields::of(&fault.key).map_or("", |field| field.label);
    let text = text.replace(&format!("`{}`", fault.key), &format!("“{label}”"));
    let mut letters: Vec<char> = text.replace(" — ", ": ").chars().collect();
    if let Some(first) = letters.first_mut() {
        first.make_ascii_uppercase();
    }
    let mut signs = ['“', '”'].into_iter().cycle();
    let quoted = letters.into_iter().map(|one| if one == '`' { signs.next() } else { Some(one) });
    quoted.flatten().chain(['.']).collect()
}
