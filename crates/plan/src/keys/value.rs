//! One value of a file held against its key.

use jiff::civil::Date;
use serde_json::Value;
use toml::de::{DeInteger, DeValue};

use super::FaultKind;
use super::{Key, Kind, Numbers, Order, Range};
use super::{slips, units};

/// The plain value, if it is one that the key may have.
pub(crate) fn read(key: &Key, value: &DeValue<'_>) -> Result<Value, FaultKind> {
    match (key.kind, value) {
        (Kind::Text, DeValue::String(text)) => full_text(text).map(Value::from),
        (Kind::Texts, DeValue::Array(list)) => {
            let texts: Vec<&str> = list.iter().filter_map(|one| one.get_ref().as_str()).collect();
            if texts.len() != list.len() {
                return Err(wrong_kind(key, value));
            }
            different(&texts)
        }
        (Kind::Choice(choices), DeValue::String(text)) => choice(text, &choices()),
        (Kind::Choices(choices), DeValue::Array(list)) => {
            let choices = choices();
            let words = list.iter().map(|one| match one.get_ref() {
                DeValue::String(text) => choice(text, &choices),
                _ => Err(wrong_kind(key, value)),
            });
            words.collect::<Result<Vec<_>, _>>().map(Value::from)
        }
        (Kind::Flag, DeValue::Boolean(flag)) => Ok(Value::from(*flag)),
        (Kind::Date, DeValue::Datetime(day)) => date(&day.to_string()),
        (Kind::Date, DeValue::String(day)) => date(day),
        (Kind::Number(range), _) => number(key, value, range).map(Value::from),
        (Kind::Whole(range), DeValue::Integer(whole)) => {
            let found = of_integer(whole).ok_or_else(|| wrong_kind(key, value))?;
            in_range(key, found, range)?;
            Ok(Value::from(found as i64))
        }
        (Kind::OneOf(choices), _) => {
            let found = plain_number(key, value)?;
            if choices.contains(&found) {
                return Ok(Value::from(found));
            }
            Err(FaultKind::NotAStandardNumber { found, choices })
        }
        (Kind::Numbers(rule), DeValue::Array(list)) => {
            let numbers = list.iter().map(|one| number(key, one.get_ref(), rule.each));
            numbers_in_order(&numbers.collect::<Result<Vec<_>, _>>()?, &rule)
        }
        (Kind::Numbers(rule), DeValue::Integer(_) | DeValue::Float(_)) if rule.bare => {
            number(key, value, rule.each).map(|number| Value::from(vec![number]))
        }
        _ => Err(wrong_kind(key, value)),
    }
}

/// Longest text, in characters; it must find room on paper.
const LONGEST_TEXT: usize = 1000;

fn full_text(text: &str) -> Result<&str, FaultKind> {
    let is_control = |c: char| c.is_control() && !matches!(c, '\n' | '\r' | '\t');
    if text.trim().is_empty() {
        Err(FaultKind::EmptyText)
    } else if text.contains(is_control) {
        Err(FaultKind::ControlCharacter)
    } else if text.chars().count() > LONGEST_TEXT {
        Err(FaultKind::LongText { limit: LONGEST_TEXT })
    } else {
        Ok(text)
    }
}

fn different(texts: &[&str]) -> Result<Value, FaultKind> {
    for (index, text) in texts.iter().enumerate() {
        full_text(text)?;
        if texts[..index].contains(text) {
            return Err(FaultKind::Repeated { text: (*text).to_owned() });
        }
    }
    Ok(Value::from(texts))
}

fn choice(found: &str, choices: &[&'static str]) -> Result<Value, FaultKind> {
    if choices.contains(&found) {
        return Ok(Value::from(found));
    }
    let nearest = slips::nearest(found, choices.iter().copied());
    Err(FaultKind::NotAChoice { found: found.to_owned(), nearest, choices: choices.to_vec() })
}

fn date(found: &str) -> Result<Value, FaultKind> {
    let is_day = found.len() == "2026-11-03".len() && found.parse::<Date>().is_ok();
    if is_day {
        return Ok(Value::from(found));
    }
    Err(FaultKind::NotADate { found: found.to_owned() })
}

fn numbers_in_order(numbers: &[f64], rule: &Numbers) -> Result<Value, FaultKind> {
    if let Some(expected) = rule.length.filter(|&length| length != numbers.len()) {
        return Err(FaultKind::ListLength { expected, found: numbers.len() });
    }
    let in_order = numbers.windows(2).all(|pair| match rule.order {
        Order::Any => true,
        Order::NotFalling => pair[1] >= pair[0],
        Order::Rising => pair[1] > pair[0],
    });
    if in_order { Ok(Value::from(numbers)) } else { Err(FaultKind::NotRising) }
}

fn number(key: &Key, value: &DeValue<'_>, range: Range) -> Result<f64, FaultKind> {
    let found = plain_number(key, value)?;
    in_range(key, found, range)?;
    Ok(found)
}

fn in_range(key: &Key, found: f64, range: Range) -> Result<(), FaultKind> {
    if range.holds(found) {
        return Ok(());
    }
    let slip = units::slip(found, key.unit, |value| range.holds(value));
    let unit = units::symbol(key.unit);
    Err(FaultKind::OutOfRange { found, range: range.words(), unit, slip })
}

fn plain_number(key: &Key, value: &DeValue<'_>) -> Result<f64, FaultKind> {
    let found = match value {
        DeValue::Integer(whole) => of_integer(whole),
        DeValue::Float(float) => float.as_str().parse().ok(),
        DeValue::String(text) => {
            return Err(match slips::decimal_comma(text) {
                Some(write) => FaultKind::DecimalComma { write },
                None => wrong_kind(key, value),
            });
        }
        _ => None,
    };
    let found: f64 = found.ok_or_else(|| wrong_kind(key, value))?;
    if found.is_finite() { Ok(found) } else { Err(FaultKind::NotFinite) }
}

fn of_integer(whole: &DeInteger<'_>) -> Option<f64> {
    i64::from_str_radix(whole.as_str(), whole.radix()).ok().map(|whole| whole as f64)
}

fn wrong_kind(key: &Key, value: &DeValue<'_>) -> FaultKind {
    let expected = match key.kind {
        Kind::Table => format!("a table `[{}]`", key.path),
        Kind::Tables => format!("a table `[[{}]]` for each", key.path),
        Kind::Text => "a text in quotes".to_owned(),
        Kind::Texts => "a list of texts, for example `[\"A\", \"B\"]`,".to_owned(),
        Kind::Choice(choices) => format!("one of {} in quotes", choices().join(", ")),
        Kind::Choices(choices) => format!("a list, in quotes, of {}", choices().join(", ")),
        Kind::Flag => "`true` or `false` without quotes".to_owned(),
        Kind::Date => "a day as 2026-11-03".to_owned(),
        Kind::Whole(_) => "a whole number without quotes".to_owned(),
        Kind::Number(_) | Kind::OneOf(_) if key.unit.is_empty() => {
            "a number without quotes".to_owned()
        }
        Kind::Number(_) | Kind::OneOf(_) => {
            format!("a number of {} without quotes or unit", units::symbol(key.unit))
        }
        Kind::Numbers(_) => {
            format!("a list of numbers of {}, for example `[1.0, 2.0]`,", units::symbol(key.unit))
        }
    };
    FaultKind::WrongKind { expected, found: kind_found(value) }
}

fn kind_found(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a number with decimals",
        DeValue::Boolean(_) => "`true` or `false`",
        DeValue::Datetime(_) => "a date or time",
        DeValue::Array(_) => "a list of another kind or length",
        DeValue::Table(_) => "a table",
    }
}
