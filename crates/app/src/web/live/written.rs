//! A line as the fields of a form hold it, for a page without a script.

use serde::Deserialize;

/// Units of an ammeter's scale, and by how many places their figures are moved to microamperes.
pub(crate) const UNITS: &[(&str, i8)] = &[("nA", -3), ("µA", 0), ("mA", 3)];

/// What a form sends.
#[derive(Debug, Default, Deserialize)]
pub(super) struct Written {
    /// How the line begins, or all of it.
    line: String,
    #[serde(default)]
    first: String,
    /// The word between the two.
    #[serde(default)]
    joint: String,
    #[serde(default)]
    second: String,
    /// The scale that the second was read on.
    unit: Option<String>,
    #[serde(default)]
    pub(super) nonce: String,
    #[serde(default)]
    pub(super) ago_ms: f64,
}

impl Written {
    /// The line, in the words of `session::say`.
    pub(super) fn line(&self) -> String {
        let second = match &self.unit {
            Some(unit) => scaled(&self.second, unit),
            None => self.second.trim().to_owned(),
        };
        let joint = if second.is_empty() { "" } else { self.joint.trim() };
        let first = match &self.unit {
            Some(_) => plain(&self.first),
            None => self.first.trim().to_owned(),
        };
        let parts = [self.line.trim(), &first, joint, &second];
        parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" ")
    }
}

/// The figures as the needle says them, moved by an exponent, so that how finely they were read
/// stays known.
fn scaled(figures: &str, unit: &str) -> String {
    let number = plain(figures);
    let places = UNITS.iter().find(|(known, _)| *known == unit).map_or(0, |(_, places)| *places);
    if places == 0 || !number.ends_with(|last: char| last.is_ascii_digit()) {
        return number;
    }
    format!("{number}e{places}")
}

/// A comma is the decimal sign where it cannot part thousands.
fn plain(figures: &str) -> String {
    let figures = figures.trim();
    let Some((whole, decimals)) = figures.split_once(',') else { return figures.to_owned() };
    let whole_digits = whole.trim_start_matches(['-', '+', '\u{2212}']);
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|one| one.is_ascii_digit());
    let clear = whole_digits == "0" || decimals.len() != 3 || whole_digits.len() > 3;
    if clear && digits(whole_digits) && digits(decimals) {
        return format!("{whole}.{decimals}");
    }
    figures.to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fields_become_the_line_that_a_person_would_type() {
        let check = |line: &str, first: &str, joint: &str, second: &str, expected: &str| {
            let of = |text: &str| text.to_owned();
            let (line, first, joint, second) = (of(line), of(first), of(joint), of(second));
            let written = Written { line, first, joint, second, ..Written::default() };
            assert_eq!(written.line(), expected);
        };
        check("@A energise", "", "", "", "@A energise");
        check("@A ground", " 3 ", "at", "far end", "@A ground 3 at far end");
        check("@A ground", "3", "at", "", "@A ground 3");
        check("@A residual", "?", "", "", "@A residual ?");
        check("remark", "rain, from the west", "", "", "remark rain, from the west");
    }

    #[test]
    fn a_reading_is_what_the_needle_says_on_its_scale() {
        let check = |kv: &str, current: &str, unit: &str, expected: &str| {
            let written = Written {
                line: "@A".to_owned(),
                first: kv.to_owned(),
                second: current.to_owned(),
                unit: Some(unit.to_owned()),
                ..Written::default()
            };
            assert_eq!(written.line(), expected);
        };
        check("30.1", "2.40", "µA", "@A 30.1 2.40");
        check("30.1", "2.40", "mA", "@A 30.1 2.40e3");
        check("30,1", "0,25", "mA", "@A 30.1 0.25e3");
        check("30.1", "15", "nA", "@A 30.1 15e-3");
        check("30.1", "?", "mA", "@A 30.1 ?");
        // What may part thousands is left for a person to say.
        check("1,234", "2", "µA", "@A 1,234 2");
        check("0,234", "2", "µA", "@A 0.234 2");
    }
}
