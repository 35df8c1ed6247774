//! What is joined and what is grounded at the object, by what it is.

use standards::words::{ProtectiveItem, Winding};

use crate::job::{AssetClass, CableAs, Job};

/// What is joined and what is grounded at the object; `lifted` where its low side goes to the
/// return and must not be on ground, which would take the meter out of the way.
pub(super) fn of(job: &Job, lifted: bool) -> &'static str {
    match job.asset.class {
        AssetClass::Cable => cable_side(job.cable_as(), lifted),
        AssetClass::Motor | AssetClass::Generator if lifted => winding_lifted(job),
        AssetClass::Motor | AssetClass::Generator => winding_side(job),
        AssetClass::Protective if lifted => piece_lifted(job),
        AssetClass::Protective => piece_side(job),
        _ if lifted => gear_lifted(job.asset.class),
        _ => gear_side(job.asset.class),
    }
}

/// The oversheath lies between the screen and the outside, so its high side is the screen. How a
/// series circuit is joined, both leads off the regulator and tied together: from memory,
/// unverified.
const fn cable_side(cable: Option<CableAs>, lifted: bool) -> &'static str {
    match cable {
        Some(CableAs::Oversheath) => {
            "Conductor tied to its screen at both ends; both off ground at both ends and in every \
             link box, limiters off: the high voltage goes on them. The outside, conducting layer \
             or soil, is the low side, to ground; other cables to ground."
        }
        Some(CableAs::SeriesCircuit) => {
            "Regulator off at both leads, its cutout open; both leads joined and clear of ground: \
             the high voltage goes on both. The soil is the low side; screens, where there are \
             any, to ground."
        }
        _ if lifted => {
            "Screen of the conductor under test off ground at both ends; all other shields and \
             conductors to ground; both ends clear."
        }
        _ => "All shields and the conductors not under test to ground; both ends clear.",
    }
}

const fn gear_side(class: AssetClass) -> &'static str {
    match class {
        AssetClass::Switchgear => {
            "The phase under test through closed breakers; other phases and frame to ground."
        }
        AssetClass::Busway => {
            "The phase under test, its far end clear; other phases and enclosure to ground."
        }
        AssetClass::Breaker | AssetClass::Switch => {
            "Closed: each phase in turn, the others and the frame to ground. Open: each terminal \
             in turn, all others and the frame to ground."
        }
        AssetClass::Capacitor => {
            "Its terminals of one side joined; the other side and the case to ground."
        }
        _ => "Everything not under test to ground.",
    }
}

const fn gear_lifted(class: AssetClass) -> &'static str {
    match class {
        AssetClass::Switchgear => {
            "The phase under test through closed breakers; frame off ground; other phases to \
             ground."
        }
        AssetClass::Busway => {
            "The phase under test, its far end clear; enclosure off ground; other phases to ground."
        }
        AssetClass::Breaker | AssetClass::Switch => {
            "Frame off ground. Closed: each phase in turn, the others to ground. Open: each \
             terminal in turn, all others to ground."
        }
        AssetClass::Capacitor => {
            "Its terminals of one side joined; those of the other joined and off ground; the case \
             to ground."
        }
        _ => "Its foot off ground; everything else that is not under test to ground.",
    }
}

/// The winding, with what its low side is off ground.
fn winding_lifted(job: &Job) -> &'static str {
    let machine = job.asset.machine.as_ref();
    let winding = machine.and_then(|machine| machine.winding).unwrap_or(Winding::FormWound);
    let together = machine.is_some_and(|machine| machine.neutral_open == Some(false));
    match winding {
        Winding::Field | Winding::FieldAcExcited => {
            "Both ends of the field joined, its supply off; shaft off ground; frame and stator to \
             ground."
        }
        Winding::WoundRotor | Winding::WoundRotorReversing => {
            "Slip rings joined by bare wire, brushes up; shaft off ground; frame and stator to \
             ground."
        }
        Winding::ExciterArmature => {
            "Terminals joined, diodes shorted or disconnected; shaft off ground; frame to ground."
        }
        Winding::DcArmature | Winding::Universal => {
            "Brushes up, all commutator bars joined by bare wire; shaft off ground; frame and \
             fields to ground."
        }
        Winding::FormWound | Winding::RandomWound | Winding::Brushless if together => {
            "All phases joined at the terminals; frame off ground; rotor and detectors to ground."
        }
        Winding::FormWound | Winding::RandomWound | Winding::Brushless => {
            "Both ends of the phase under test joined; frame off ground; the other phases, rotor \
             and detectors to ground."
        }
    }
}

fn winding_side(job: &Job) -> &'static str {
    let machine = job.asset.machine.as_ref();
    let winding = machine.and_then(|machine| machine.winding).unwrap_or(Winding::FormWound);
    let together = machine.is_some_and(|machine| machine.neutral_open == Some(false));
    match winding {
        Winding::Field | Winding::FieldAcExcited => {
            "Both ends of the field joined, its supply off; shaft, frame and stator to ground."
        }
        Winding::WoundRotor | Winding::WoundRotorReversing => {
            "Slip rings joined by bare wire, brushes up; shaft, frame and stator to ground."
        }
        Winding::ExciterArmature => {
            "Terminals joined, diodes shorted or disconnected; shaft and frame to ground."
        }
        Winding::DcArmature | Winding::Universal => {
            "Brushes up, all commutator bars joined by bare wire; shaft, frame and fields to \
             ground."
        }
        Winding::FormWound | Winding::RandomWound | Winding::Brushless if together => {
            "All phases joined at the terminals; frame, rotor and detectors to ground."
        }
        Winding::FormWound | Winding::RandomWound | Winding::Brushless => {
            "Both ends of the phase under test joined; the other phases, frame, rotor and \
             detectors to ground."
        }
    }
}

fn piece_side(job: &Job) -> &'static str {
    let item = job.asset.protective.as_ref().map(|piece| piece.item);
    match item {
        Some(ProtectiveItem::Glove) | None => {
            "Glove full of water to the line given and standing in it; outside water to ground."
        }
        Some(ProtectiveItem::Sleeve) => {
            "Sleeve between its inner and outer electrode, both edges clear; outer one to ground."
        }
        Some(
            ProtectiveItem::Blanket
            | ProtectiveItem::Matting
            | ProtectiveItem::LineHose
            | ProtectiveItem::Cover
            | ProtectiveItem::LiveLineTool,
        ) => "Flat between the electrodes, clear of every edge; lower electrode to ground.",
    }
}

/// A piece, with its outer electrode off ground.
fn piece_lifted(job: &Job) -> &'static str {
    match job.asset.protective.as_ref().map(|piece| piece.item) {
        Some(ProtectiveItem::Glove) | None => {
            "Glove full of water to the line given and standing in it; the tank of the outside \
             water off ground."
        }
        Some(ProtectiveItem::Sleeve) => {
            "Sleeve between its inner and outer electrode, both edges clear; outer one off ground."
        }
        Some(_) => "Flat between the electrodes, clear of every edge; lower electrode off ground.",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Common practice, no source: what is joined and grounded, by what is tested.
    #[test]
    fn the_low_side_is_that_of_what_is_tested() {
        for (keys, expected) in [
            ("class = \"motor\"\n[asset.machine]\nneutral_open = true", "Both ends of the phase"),
            ("class = \"motor\"\n[asset.machine]\nneutral_open = false", "All phases joined"),
            ("class = \"motor\"\n[asset.machine]\nwinding = \"field\"", "Both ends of the field"),
            ("class = \"motor\"\n[asset.machine]\nwinding = \"dc-armature\"", "Brushes up"),
            ("class = \"protective\"\n[asset.protective]\nitem = \"glove\"", "Glove full"),
            ("class = \"protective\"\n[asset.protective]\nitem = \"matting\"", "Flat between"),
        ] {
            let text = format!("[asset]\nid = \"X\"\n{keys}\n[test]\npurpose = \"proof\"\n[set]");
            let job = crate::job_file::parse(&text).expect("a job");
            let found = of(&job, false);
            assert!(found.starts_with(expected), "{found}");
        }
    }

    /// Kirchhoff's current law: what returns through the meter must have no other way to ground.
    /// Whatever is lifted is named, and nothing of it is grounded in the same breath.
    #[test]
    fn a_lifted_low_side_is_not_grounded() {
        let machine = |winding: &str| format!("class = \"motor\"\n[asset.machine]\n{winding}");
        let piece =
            |item: &str| format!("class = \"protective\"\n[asset.protective]\nitem = \"{item}\"");
        for (keys, low) in [
            ("class = \"cable\"".to_owned(), "Screen of the conductor under test"),
            ("class = \"busway\"".to_owned(), "enclosure"),
            ("class = \"breaker\"".to_owned(), "Frame"),
            ("class = \"capacitor\"".to_owned(), "those of the other joined and"),
            ("class = \"insulator\"".to_owned(), "Its foot"),
            (machine("neutral_open = true"), "frame"),
            (machine("neutral_open = false"), "frame"),
            (machine("winding = \"field\""), "shaft"),
            (machine("winding = \"dc-armature\""), "shaft"),
            (piece("glove"), "tank of the outside water"),
            (piece("matting"), "lower electrode"),
        ] {
            let text = format!("[asset]\nid = \"X\"\n{keys}\n[test]\npurpose = \"proof\"\n[set]");
            let job = crate::job_file::parse(&text).expect("a job");
            let found = of(&job, true);
            assert!(found.contains(&format!("{low} off ground")), "{found}");
            assert!(!of(&job, false).contains("off ground"), "{}", of(&job, false));
        }
    }

    /// The oversheath lies between screen and outside (IEC 60229, from memory, unverified): its
    /// high side is the screen, and no screen of the tested cable is on ground.
    #[test]
    fn an_oversheath_has_its_screen_at_high_voltage() {
        let found = cable_side(Some(CableAs::Oversheath), false);
        assert!(found.contains("Conductor tied to its screen at both ends"), "{found}");
        assert!(found.contains("off ground at both ends"), "{found}");
        assert!(found.contains("limiters off") && !found.contains("ll shields"), "{found}");
        assert!(found.contains("soil, is the low side"), "{found}");
    }

    /// A series circuit is one conductor whose regulator is taken off (from memory, unverified).
    #[test]
    fn a_series_circuit_is_off_its_regulator() {
        let found = cable_side(Some(CableAs::SeriesCircuit), false);
        assert!(found.contains("Regulator off at both leads"), "{found}");
        assert!(found.contains("both leads joined and clear of ground"), "{found}");
    }
}
