//! Where the lines of a checklist and the cautions stand.

use crate::library::{Library, Row};
use crate::source::Citation;

/// Where one line of the checklist, or one caution, stands; `None` for a name not known.
#[must_use]
pub fn citation(lib: &Library, id: &str) -> Option<Citation> {
    let row = lib.table("checklist/lines").find(&[("line", id)])?;
    Some(Citation {
        id: format!("{}/{}", row.source.id, row.key),
        title: row.text("publication").to_owned(),
        edition: row.text("edition").to_owned(),
        ..row.source.clone()
    })
}

/// Every line that has a citation.
pub fn ids(lib: &Library) -> impl Iterator<Item = &str> {
    lib.table("checklist/lines").rows.iter().map(key)
}

/// A published test that may take the place of direct voltage.
#[derive(Clone, Debug, PartialEq)]
pub struct Substitute {
    /// The method in a few words.
    pub method: String,
    /// Where to read about it.
    pub source: Citation,
}

/// Published tests for an item that direct voltage does not suit; none for an item not known.
#[must_use]
pub fn instead(lib: &Library, item: &str) -> Vec<Substitute> {
    let keys = [("item", item)];
    let substitute = |row: &Row| Substitute {
        method: row.text("line").to_owned(),
        source: Citation {
            id: format!("{}/{}", row.source.id, row.key),
            title: row.text("publication").to_owned(),
            edition: row.text("edition").to_owned(),
            ..row.source.clone()
        },
    };
    lib.table("instead/methods").matching(&keys).map(substitute).collect()
}

fn key(row: &Row) -> &str {
    row.text("line")
}
