//! The register of grounds: every conductor, screen and part that one goes on, numbered.

use super::GroundSpot;
use crate::connection::lifts_low_side;
use crate::job::{AssetClass, CableAs, Job};

/// Every place that a ground goes on, in the order of a walk from the set to the far end.
pub(super) fn register(job: &Job) -> Vec<GroundSpot> {
    let mut all: Vec<(String, &str)> = Vec::new();
    let conductors = job.conductors();
    let mut each = |places: &[&'static str], part: &str| {
        for &place in places {
            all.extend(conductors.iter().map(|name| (format!("{name}{part}"), place)));
        }
    };
    match job.asset.class {
        AssetClass::Protective => return Vec::new(),
        AssetClass::Cable => match job.cable_as() {
            Some(CableAs::Oversheath) => each(&["near end", "far end"], " conductor and screen"),
            Some(CableAs::SeriesCircuit) => {
                each(&["first lead at the regulator", "second lead at the regulator"], "");
            }
            _ => {
                each(&["near end"], "");
                each(&[screen_at(job, "near end")], " screen");
                each(&["far end"], "");
                each(&[screen_at(job, "far end")], " screen");
            }
        },
        AssetClass::Switchgear => each(&["bus side", "cable side"], ""),
        AssetClass::Busway => each(&["near end", "far end"], ""),
        AssetClass::Breaker | AssetClass::Switch => each(&["one side", "other side"], ""),
        AssetClass::Motor | AssetClass::Generator => {
            each(&["line terminal"], "");
            if neutral_apart(job) {
                each(&["neutral end"], "");
            }
        }
        AssetClass::Insulator | AssetClass::Bushing | AssetClass::Arrester => {
            each(&["line terminal"], "");
        }
        AssetClass::Capacitor => each(&["across its terminals", "terminal to case"], ""),
        AssetClass::Other => each(&["terminal"], ""),
    }
    all.extend(parts(job).into_iter().map(|(what, place)| (what.to_owned(), place)));
    all.into_iter()
        .enumerate()
        .map(|(at, (what, place))| GroundSpot { number: at + 1, what, place: place.to_owned() })
        .collect()
}

/// A screen that its own conductor is tested against goes to the return then, and off ground.
fn screen_at(job: &Job, end: &'static str) -> &'static str {
    match (lifts_low_side(job), end) {
        (false, _) => end,
        (true, "near end") => "near end; off while its own conductor is tested",
        (true, _) => "far end; off while its own conductor is tested",
    }
}

fn neutral_apart(job: &Job) -> bool {
    let machine = job.asset.machine.as_ref();
    job.has_phases() && machine.is_none_or(|machine| machine.neutral_open != Some(false))
}

/// What else is grounded for the test.
fn parts(job: &Job) -> Vec<(&'static str, &'static str)> {
    let own: &[(&str, &str)] = match job.asset.class {
        AssetClass::Cable if job.cable_as() == Some(CableAs::SeriesCircuit) => {
            &[("neighbours", "in reach of both leads"), ("regulator", "output terminals")]
        }
        AssetClass::Cable => &[("neighbours", "in reach of both ends")],
        AssetClass::Motor | AssetClass::Generator => &[
            ("frame", "ground pad"),
            ("rotor or stator not tested", "shaft or terminal"),
            ("temperature detectors", "terminal box"),
        ],
        AssetClass::Switchgear | AssetClass::Busway | AssetClass::Breaker | AssetClass::Switch => {
            &[("enclosure", "ground bar"), ("cables taken off", "their ends")]
        }
        AssetClass::Bushing => &[("test tap", "tap cap"), ("flange", "ground pad")],
        AssetClass::Insulator | AssetClass::Arrester => &[("base", "ground pad")],
        AssetClass::Capacitor => &[("case", "ground pad"), ("neighbouring units", "terminals")],
        AssetClass::Other => &[("frame", "ground pad")],
        AssetClass::Protective => &[],
    };
    let lifted = lifts_low_side(job).then(|| lifted(job.asset.class)).flatten();
    let own = own.iter().map(|&(what, place)| match lifted {
        Some((part, off)) if part == what => (what, off),
        _ => (what, place),
    });
    let set = [("test set", "ground terminal"), ("discharge tool", "ground lead")];
    own.chain(set).collect()
}

/// The part that is the low side, where that is lifted, and what its ground then is.
const fn lifted(class: AssetClass) -> Option<(&'static str, &'static str)> {
    match class {
        AssetClass::Motor | AssetClass::Generator => {
            Some(("frame", "ground pad; off under voltage where it is the low side"))
        }
        AssetClass::Switchgear | AssetClass::Busway | AssetClass::Breaker | AssetClass::Switch => {
            Some(("enclosure", "ground bar; off under voltage"))
        }
        AssetClass::Bushing => Some(("flange", "ground pad; off under voltage")),
        AssetClass::Insulator | AssetClass::Arrester => {
            Some(("base", "ground pad; off under voltage"))
        }
        AssetClass::Other => Some(("frame", "ground pad; off under voltage")),
        AssetClass::Cable | AssetClass::Capacitor | AssetClass::Protective => None,
    }
}
