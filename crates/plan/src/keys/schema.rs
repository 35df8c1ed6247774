//! JSON Schema from a table of keys.

use serde_json::{Map, Value, json};

use super::{JOB, Key, Kind, Range, units};

/// The JSON Schema of a job file.
#[must_use]
pub fn json_schema() -> Value {
    schema("Job file", JOB)
}

/// The JSON Schema of the file that a table of keys describes.
#[must_use]
pub fn schema(title: &str, keys: &[Key]) -> Value {
    let mut root = table(keys, "");
    root.insert("$schema".to_owned(), json!("https://json-schema.org/draft/2020-12/schema"));
    root.insert("title".to_owned(), json!(title));
    Value::Object(root)
}

fn table(keys: &[Key], path: &str) -> Map<String, Value> {
    let here = || keys.iter().filter(|key| key.table() == path);
    let properties: Map<String, Value> =
        here().map(|key| (key.leaf().to_owned(), property(keys, key))).collect();
    let required: Vec<&str> = here().filter(|key| key.required).map(Key::leaf).collect();
    let mut table = Map::new();
    table.insert("type".to_owned(), json!("object"));
    table.insert("properties".to_owned(), Value::Object(properties));
    table.insert("required".to_owned(), json!(required));
    table.insert("additionalProperties".to_owned(), json!(false));
    table
}

fn property(keys: &[Key], key: &Key) -> Value {
    let mut value = match key.kind {
        Kind::Table => Value::Object(table(keys, key.path)),
        Kind::Tables => json!({ "type": "array", "items": table(keys, key.path) }),
        Kind::Text => text(),
        Kind::Texts => json!({ "type": "array", "items": text(), "uniqueItems": true }),
        Kind::Choice(choices) => json!({ "enum": choices() }),
        Kind::Choices(choices) => json!({ "type": "array", "items": { "enum": choices() } }),
        Kind::Flag => json!({ "type": "boolean" }),
        Kind::Date => json!({ "type": "string", "format": "date" }),
        Kind::Number(range) => number("number", range),
        Kind::Whole(range) => number("integer", range),
        Kind::OneOf(numbers) => json!({ "enum": numbers }),
        Kind::Numbers(rule) => {
            let mut list = json!({ "type": "array", "items": number("number", rule.each) });
            if let Some(length) = rule.length {
                list["minItems"] = json!(length);
                list["maxItems"] = json!(length);
            }
            if rule.bare { json!({ "anyOf": [number("number", rule.each), list] }) } else { list }
        }
    };
    let unit = units::symbol(key.unit);
    let doc = if unit.is_empty() { key.doc.to_owned() } else { format!("{} [{unit}]", key.doc) };
    value["description"] = json!(doc);
    value
}

fn text() -> Value {
    json!({ "type": "string", "minLength": 1 })
}

fn number(kind: &str, range: Range) -> Value {
    let mut value = json!({ "type": kind });
    let low = if range.low_is_in { "minimum" } else { "exclusiveMinimum" };
    if range.low > f64::MIN {
        value[low] = json!(range.low);
    }
    if range.high < f64::MAX {
        value["maximum"] = json!(range.high);
    }
    if range.not_zero {
        value["not"] = json!({ "const": 0 });
    }
    value
}
