//! How to connect, so that the meter reads as little else as it can.

use crate::course::{ConnectionPlan, Link, Metered};
use crate::job::{AssetClass, Job, LowSide};

/// The connection of one job.
pub(crate) fn connect(job: &Job) -> ConnectionPlan {
    let low_side = job.connection.low_side;
    let (link, metered) = match low_side {
        LowSide::Isolated => (Link::GuardToGround, Metered::ObjectOnly),
        LowSide::Grounded => (Link::ReturnToGround, Metered::ObjectAndLeads),
    };
    let mut steps = vec![
        "Set, tool and object to one solid ground; the set's ground lead first on, last off."
            .to_owned(),
        object_side(job).to_owned(),
    ];
    steps.push(
        match low_side {
            LowSide::Isolated => {
                "Low side to the metered return, its lead screened; guard terminal to ground."
            }
            LowSide::Grounded => {
                "Low side is ground: tie the metered return to ground; screens and guard rings to \
                 the guard terminal."
            }
        }
        .to_owned(),
    );
    steps
        .push("High-voltage lead last, to the conductor under test, by insulated tool.".to_owned());
    if metered == Metered::ObjectAndLeads {
        steps.push(
            "Before the object: raise leads and set alone to the level, read, come down, ground; \
             enter it as a blank run."
                .to_owned(),
        );
    }
    ConnectionPlan { low_side, link, metered, steps }
}

fn object_side(job: &Job) -> &'static str {
    match job.asset.class {
        AssetClass::Cable => {
            "All shields and the conductors not under test to ground; both ends clear."
        }
        AssetClass::Motor | AssetClass::Generator => {
            "Both ends of the phase under test joined; the other phases, frame, rotor and \
             detectors to ground."
        }
        AssetClass::Switchgear => {
            "The phase under test through closed breakers; other phases and frame to ground."
        }
        AssetClass::Protective => {
            "Item full of water to the line given and standing in it; outside water to ground."
        }
        AssetClass::Insulator | AssetClass::Arrester | AssetClass::Busway | AssetClass::Breaker => {
            "Everything not under test to ground."
        }
    }
}
