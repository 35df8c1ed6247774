//! The register of grounds, and what still stands hazardous, on paper.

use serde::Serialize;
use session::record::Moment;
use session::register::{Ground, Register};
use session::{Record, fold};

use crate::course::{is_closed, is_live, wall};

/// One ground of the register.
#[derive(Clone, Debug, Serialize)]
pub struct GroundRow {
    /// Its number, as painted on it.
    pub number: String,
    /// Where it is.
    pub place: String,
    /// The conductor it is on.
    pub phase: String,
    /// When it was put on, and by whom.
    pub on: String,
    /// When it was taken off, and by whom; empty while it is on.
    pub off: String,
    /// To whom it was handed over, still on.
    pub left: String,
}

impl From<&Ground> for GroundRow {
    fn from(ground: &Ground) -> Self {
        let when = |at: Option<Moment>, by: &Option<String>| {
            let words = [at.map(|at| wall(at.wall)), by.clone()];
            words.into_iter().flatten().collect::<Vec<_>>().join(", ")
        };
        let off = when(ground.off, &ground.off_by);
        Self {
            number: ground.number.clone(),
            place: ground.place.clone().unwrap_or_default(),
            phase: ground.phase.clone(),
            on: when(ground.on, &ground.on_by),
            off: if ground.is_off && off.is_empty() { "off".to_owned() } else { off },
            left: ground.left_to.clone().unwrap_or_default(),
        }
    }
}

/// The register of what was recorded while it happened; `None` where the record was typed in.
#[must_use]
pub fn ground_rows(record: &Record) -> Option<Vec<GroundRow>> {
    is_live(record).then(|| Register::of(&record.events).grounds.iter().map(Into::into).collect())
}

/// What is said on page one while a record is not closed.
#[derive(Serialize)]
pub(crate) struct OpenBox {
    title: &'static str,
    what: String,
}

impl OpenBox {
    /// Nothing where the record is closed, or was typed in.
    pub(crate) fn of(record: &Record) -> Option<Self> {
        if !is_live(record) || is_closed(record) {
            return None;
        }
        let names = fold::hazardous(record);
        let (title, what) = if names.is_empty() {
            (
                "RECORD STILL OPEN",
                "Grounds and release are not all settled. Look at each ground before anyone \
                 touches anything."
                    .to_owned(),
            )
        } else {
            let names = names.join(", ");
            (
                "RECORD STILL OPEN – HAZARDOUS",
                format!(
                    "Treat {names} as energised: set off, tool, then solid ground. Neither is \
                     recorded since voltage was on."
                ),
            )
        };
        Some(Self { title, what })
    }
}
