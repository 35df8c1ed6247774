//! What is joined and what is grounded at the object, by what it is.

use standards::words::{ProtectiveItem, Winding};

use crate::job::{AssetClass, Job};

/// What is joined and what is grounded at the object.
pub(super) fn of(job: &Job) -> &'static str {
    match job.asset.class {
        AssetClass::Cable => {
            "All shields and the conductors not under test to ground; both ends clear."
        }
        AssetClass::Motor | AssetClass::Generator => winding_side(job),
        AssetClass::Switchgear => {
            "The phase under test through closed breakers; other phases and frame to ground."
        }
        AssetClass::Protective => piece_side(job),
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
        AssetClass::Insulator | AssetClass::Arrester | AssetClass::Bushing | AssetClass::Other => {
            "Everything not under test to ground."
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
            let found = of(&job);
            assert!(found.starts_with(expected), "{found}");
        }
    }
}
