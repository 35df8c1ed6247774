//! The keys of the user's own values file.

use plan::keys::{InputFault, Key, Kind, within};

fn statuses() -> Vec<&'static str> {
    vec!["confirmed", "replaced"]
}

/// Every key of an own-values file.
pub(crate) const KEYS: &[Key] = &[
    Key::new("value", Kind::Tables, "One value, read in a copy of one's own"),
    Key::new("value.id", Kind::Text, "Edition, table, row and column, joined by `/`").required(),
    Key::new("value.status", Kind::Choice(statuses), "What the copy says of it").required(),
    Key::new("value.value", within(0.0, f64::MAX), "The value, in the unit of its column"),
    Key::new("value.unit", Kind::Text, "The unit of its column, with a value"),
    Key::new("value.edition", Kind::Text, "The edition of the copy").required(),
    Key::new("value.place", Kind::Text, "Clause, table or page in it").required(),
    Key::new("value.by", Kind::Text, "Who read it").required(),
    Key::new("value.on", Kind::Date, "The day it was read, without quotes").required(),
];

/// Whether every key is known and of its kind.
pub(super) fn check(text: &str) -> Result<(), Vec<InputFault>> {
    plan::keys::check(text, KEYS).finish::<serde_json::Value>().map(|_| ())
}
