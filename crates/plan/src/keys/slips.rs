//! What was probably meant: near names, other units, decimal commas, words without quotes.

use super::check::line_at;
use super::fault::{FaultKind, InputFault};
use super::units::{self, Conversion};
use super::{Key, Kind};

/// Below this likeness (1 is equal) a name is no longer a slip of another.
const LIKENESS: f64 = 0.5;

/// The nearest of some names, where any is near.
pub fn nearest<'a>(found: &str, names: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let found = found.to_lowercase();
    let mut best = None;
    for name in names {
        let likeness = likeness(&found, name);
        if likeness >= LIKENESS && best.is_none_or(|(most, _)| likeness > most) {
            best = Some((likeness, name));
        }
    }
    best.map(|(_, name)| name)
}

/// One is equal; a name that begins like the other counts as near.
fn likeness(found: &str, name: &str) -> f64 {
    let name = name.to_lowercase();
    let edits = strsim::normalized_damerau_levenshtein(found, &name);
    let longest = found.len() >= 3 && (name.starts_with(found) || found.starts_with(&name));
    if longest { edits.max(LIKENESS + 0.4 * edits) } else { edits }
}

/// What is probably meant by a name that no table of keys has.
pub(crate) fn unknown(keys: &'static [Key], table: &str, name: &str) -> FaultKind {
    if let Some(key) = keys.iter().find(|key| key.leaf() == name && !is_in_list(keys, key)) {
        return FaultKind::OtherTable { write: key.path.to_owned() };
    }
    let here = || keys.iter().filter(move |key| key.table() == table);
    if let Some(fault) = here().find_map(|key| other_unit(key, name)) {
        return fault;
    }
    if let Some(leaf) = nearest(name, here().map(Key::leaf)) {
        let path = if table.is_empty() { leaf.to_owned() } else { format!("{table}.{leaf}") };
        return FaultKind::UnknownKey { nearest: Some(path) };
    }
    if let Some(fault) = keys.iter().find_map(|key| other_unit(key, name)) {
        return fault;
    }
    let leaf = nearest(name, keys.iter().map(Key::leaf));
    let path = leaf.and_then(|leaf| keys.iter().find(|key| key.leaf() == leaf));
    FaultKind::UnknownKey { nearest: path.map(|key| key.path.to_owned()) }
}

/// Whether the key stands in one of several tables of a list, which a stray key cannot name.
fn is_in_list(keys: &[Key], key: &Key) -> bool {
    keys.iter().any(|table| table.path == key.table() && matches!(table.kind, Kind::Tables))
}

fn other_unit(key: &Key, name: &str) -> Option<FaultKind> {
    let stem = key.leaf().strip_suffix(key.unit)?.strip_suffix('_')?;
    let name = name.to_lowercase();
    let suffix = name.strip_prefix(stem)?;
    let as_it_is = suffix.strip_prefix('_') == Some(key.unit);
    if suffix.is_empty() || as_it_is {
        return Some(FaultKind::UnknownKey { nearest: Some(key.path.to_owned()) });
    }
    let factor = match units::conversion(suffix.strip_prefix('_')?, key.unit)? {
        Conversion::Times(factor) => Some(factor),
        Conversion::Shifted => None,
    };
    Some(FaultKind::OtherUnit { write: key.path.to_owned(), factor })
}

/// The same number with a point, where a text is a number with a decimal comma.
#[must_use]
pub fn decimal_comma(text: &str) -> Option<String> {
    let text = text.trim();
    let (whole, decimals) = text.split_once(',')?;
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    let is_number = digits(whole.trim_start_matches(['-', '+'])) && digits(decimals);
    is_number.then(|| format!("{whole}.{decimals}"))
}

/// What the parser complains of, in terms of what to write instead.
pub(crate) fn explain(text: &str, errors: &[toml::de::Error]) -> Vec<InputFault> {
    let lines: Vec<&str> = text.lines().collect();
    let mut faults: Vec<InputFault> = Vec::new();
    for error in errors {
        let mut line = error.span().map_or(1, |span| line_at(text, span.start));
        let mut fault = broken(lines.get(line - 1).copied().unwrap_or_default(), error.message());
        if fault == (FaultKind::Unclosed { what: LIST }) {
            line = open_list(&lines, line);
        }
        if faults.iter().any(|other| other.line == line) {
            continue;
        }
        let written = lines.get(line - 1).copied().unwrap_or_default();
        if let FaultKind::NotToml { detail } = &mut fault {
            *detail = detail.replace('\n', " ");
        }
        let key = written.split_once('=').map_or("", |(key, _)| key.trim()).to_owned();
        let one = InputFault { line, key, fault };
        let is_last = makes_nonsense_of_the_rest(&one, text);
        faults.push(one);
        if is_last {
            break;
        }
    }
    faults
}

/// Whether what follows is read into a place where it was not meant to stand: the first of two
/// tables, or a list.
pub(crate) fn makes_nonsense_of_the_rest(fault: &InputFault, text: &str) -> bool {
    match fault.fault {
        FaultKind::Unclosed { what } => what == LIST,
        FaultKind::Twice => {
            let line = text.lines().nth(fault.line - 1).unwrap_or_default();
            line.trim_start().starts_with('[')
        }
        _ => false,
    }
}

const LIST: &str = "the list with `]`";

/// The line in which the list was opened that is still open at `line`.
fn open_list(lines: &[&str], line: usize) -> usize {
    let opens = |text: &&str| text.contains("= [") && !text.contains(']');
    let before = &lines[..line.min(lines.len())];
    before.iter().rposition(opens).map_or(line, |index| index + 1)
}

fn broken(line: &str, message: &str) -> FaultKind {
    if message.contains("duplicate key") {
        return FaultKind::Twice;
    }
    let is_whole_list = line.contains("= [") && line.contains(']');
    if message.contains("array") && !is_whole_list {
        return FaultKind::Unclosed { what: LIST };
    }
    let other = FaultKind::NotToml { detail: message.to_owned() };
    let Some((_, value)) = line.split_once('=') else { return other };
    if value.trim_start().starts_with(['"', '\'']) {
        return FaultKind::Unclosed { what: "the quotes" };
    }
    let value = value.split('#').next().unwrap_or_default().trim();
    if let Some(write) = decimal_comma(value) {
        return FaultKind::DecimalComma { write };
    }
    let parts: Vec<&str> = value.split(['.', '/', '-']).collect();
    let is_number = |part: &&str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
    if parts.len() == 3 && parts.iter().all(is_number) {
        return FaultKind::NotADate { found: value.to_owned() };
    }
    let is_word = value.chars().next().is_some_and(char::is_alphabetic)
        && value.chars().all(|c| c.is_alphanumeric() || "-_ .".contains(c));
    if is_word { FaultKind::Unquoted { word: value.to_owned() } } else { other }
}
