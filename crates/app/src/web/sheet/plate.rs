//! Section 1: object and purpose, typed from the plates or as it was sealed.

use maud::{Markup, html};
use plan::Job;
use plan::keys::{Kind, symbol};
use serde_json::Value;

use super::fields::{self, Field, GROUPS};
use super::number::customary;

/// What still matters of the plates when they are folded.
pub(super) fn line(job: &Job, object: &str) -> String {
    format!("{object}, {}", fields::said("test.purpose", job.test.purpose.key()))
}

/// The plates of a record, as they were sealed: every group with what is known of it.
pub(super) fn told(job: &Job) -> Markup {
    let job = serde_json::to_value(job).expect("a job is plain data");
    html! {
        @for group in GROUPS.iter().filter(|group| group.id != "meters") {
            (told_group(group.title, group.fields, &job))
        }
        @for meter in job["meter"].as_array().into_iter().flatten() {
            @let alone = serde_json::json!({ "meter": meter });
            (told_group("Meter beside the set", meter_fields(), &alone))
        }
    }
}

fn meter_fields() -> &'static [Field] {
    GROUPS.iter().find(|group| group.id == "meters").map_or(&[], |group| group.fields)
}

fn told_group(title: &str, fields: &[Field], job: &Value) -> Markup {
    let known: Vec<(&Field, String)> = fields
        .iter()
        .filter_map(|field| Some((field, known(field, at(job, field.path)?)?)))
        .collect();
    html! {
        @if !known.is_empty() {
            h3 { (title) }
            dl .plate-told {
                @for (field, said) in known { div { dt { (field.label) } dd { (said) } } }
            }
        }
    }
}

fn at<'a>(job: &'a Value, path: &str) -> Option<&'a Value> {
    path.split('.').try_fold(job, |value, name| value.get(name))
}

/// A value of a job in words, with its unit; `None` where it is not known.
fn known(field: &Field, value: &Value) -> Option<String> {
    let key = field.key();
    let one = |value: &Value| match value {
        Value::String(word) if matches!(key.kind, Kind::Choice(_) | Kind::Choices(_)) => {
            fields::said(field.path, word)
        }
        Value::Bool(flag) => fields::said(field.path, &flag.to_string()),
        Value::String(text) => text.clone(),
        other => other.to_string().trim_end_matches(".0").to_owned(),
    };
    let said = match value {
        Value::Null => return None,
        Value::Array(list) if list.is_empty() => return None,
        Value::Array(list) => list.iter().map(one).collect::<Vec<_>>().join(", "),
        value => one(value),
    };
    let beside = value.as_f64().and_then(|number| customary(number, key.unit));
    let beside = beside.map(|said| format!(" ({said})")).unwrap_or_default();
    let gap = if key.unit.is_empty() { "" } else { " " };
    Some(format!("{said}{gap}{}{beside}", symbol(key.unit)))
}
