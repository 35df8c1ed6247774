//! The drawing of the connection, and where it stands on the sheet.

use plan::Plan;
use serde::Serialize;

use crate::wiring::wiring;

/// The name of its file for the template.
const FILE: &str = "wiring.svg";

/// Where the drawing stands, and how wide.
#[derive(Clone, Copy, Serialize)]
pub(super) struct Place {
    /// Whether it is the first page.
    pub(super) first: bool,
    width_mm: f64,
}

const fn place(first: bool, width_mm: f64) -> Place {
    Place { first, width_mm }
}

impl Place {
    /// The widest first; the letters of the narrowest are still those of the page.
    pub(super) const ALL: [Self; 7] = [
        place(true, 120.0),
        place(true, 104.0),
        place(true, 88.0),
        place(false, 120.0),
        place(false, 108.0),
        place(false, 96.0),
        place(false, 84.0),
    ];
}

#[derive(Serialize)]
pub(super) struct Drawing {
    #[serde(flatten)]
    place: Place,
    file: &'static str,
    alt: String,
    sentences: Vec<String>,
}

/// The drawing as the template reads it, and its file.
pub(super) fn draw(plan: &Plan, place: Place) -> (Drawing, (String, String)) {
    let drawn = wiring(plan);
    let alt = format!("{}. {}", drawn.title, drawn.sentences.join(" "));
    let drawing = Drawing { place, file: FILE, alt, sentences: drawn.sentences };
    (drawing, (FILE.to_owned(), drawn.svg))
}
