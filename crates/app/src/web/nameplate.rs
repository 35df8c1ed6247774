//! What is known of a thing, by the keys of the job file: a label, a value and its unit.

use maud::{Markup, html};
use plan::keys::{self, JOB};
use serde::Serialize;
use serde_json::Value;

/// One line of a plate.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Line {
    pub(super) path: String,
    pub(super) label: &'static str,
    pub(super) value: String,
}

/// Every known value of a thing that stands under this key.
pub(super) fn lines(under: &str, thing: &impl Serialize) -> Vec<Line> {
    let value = serde_json::to_value(thing).unwrap_or_default();
    let mut lines = Vec::new();
    gather(under, &value, &mut lines);
    // As the table of keys has them.
    let place = |line: &Line| JOB.iter().position(|key| key.path == line.path);
    lines.sort_by_key(place);
    lines
}

fn gather(path: &str, value: &Value, lines: &mut Vec<Line>) {
    if let Value::Object(parts) = value {
        return parts
            .iter()
            .for_each(|(name, part)| gather(&format!("{path}.{name}"), part, lines));
    }
    let Some(key) = JOB.iter().find(|key| key.path == path) else { return };
    if let Some(value) = said(value) {
        let unit = keys::symbol(key.unit);
        let value = if unit.is_empty() { value } else { format!("{value} {unit}") };
        lines.push(Line { path: path.to_owned(), label: key.doc, value });
    }
}

fn said(value: &Value) -> Option<String> {
    match value {
        Value::Null | Value::Object(_) => None,
        Value::Bool(yes) => Some(if *yes { "yes" } else { "no" }.to_owned()),
        Value::Number(number) => Some(number.as_f64().map_or_else(
            || number.to_string(),
            // A whole number stands without its point, as on a plate.
            |float| format!("{float}"),
        )),
        Value::String(text) => Some(text.clone()),
        Value::Array(all) if all.is_empty() => None,
        Value::Array(all) => Some(all.iter().filter_map(said).collect::<Vec<_>>().join(" · ")),
    }
}

/// As a list of labels and values.
pub(super) fn told(lines: &[Line]) -> Markup {
    html! {
        dl .known {
            @for line in lines {
                div { dt { (line.label) } dd { (line.value) } }
            }
        }
    }
}

/// What became different from an earlier plate to a later one.
pub(super) fn changes(before: &[Line], after: &[Line]) -> Vec<String> {
    let find = |all: &[Line], path: &str| {
        all.iter()
            .find(|line| line.path == path)
            .map_or("not known".to_owned(), |l| l.value.clone())
    };
    let mut paths: Vec<(&str, &str)> =
        before.iter().chain(after).map(|line| (line.path.as_str(), line.label)).collect();
    paths.sort_unstable();
    paths.dedup();
    paths
        .into_iter()
        .map(|(path, label)| (label, find(before, path), find(after, path)))
        .filter(|(_, before, after)| before != after)
        .map(|(label, before, after)| format!("{label}: {before} → {after}"))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plate(text: &str) -> Vec<Line> {
        let job = plan::job_file::parse(text).expect("well formed");
        lines("asset", &job.asset)
    }

    #[test]
    fn a_plate_tells_what_is_known_with_its_unit_and_what_changed() {
        let text = include_str!("../../../../docs/examples/cable.toml");
        let before = plate(text);
        let length = before.iter().find(|line| line.path == "asset.cable.length_m");
        assert_eq!(length.map(|line| line.value.as_str()), Some("640 m"));
        assert!(!before.iter().any(|line| line.path == "asset.cable.conductor_diameter_mm"));
        let after = plate(&text.replace("in_service_years = 0", "in_service_years = 5"));
        assert_eq!(changes(&before, &after), ["Years in service; 0 is new: 0 → 5"]);
        assert!(changes(&before, &before).is_empty());
    }
}
