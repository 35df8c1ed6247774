//! What outranks every number: breakdown, flashover, trip.

use quantity::{Time, Voltage};
use session::Happening;

use crate::context::Context;
use crate::draft::Draft;
use crate::findings::Outcome;
use crate::part::Part;
use crate::words::{Id, Link, Said};

/// Breakdown always has a finding where the level was to be held; the others when seen.
pub(crate) fn findings(context: &Context<'_>, part: &Part<'_>) -> Vec<Draft> {
    let mut found = Vec::new();
    let at = Time::from_seconds;
    if let Some(seen) = part.saw(Happening::Breakdown) {
        let said = Said::BrokeDown { at: at(seen) };
        found.push(Draft::new(Id::Breakdown, Outcome::Fail, said).chain([Link::NoBreakdown]));
    } else if !context.only_resistance {
        found.push(no_breakdown(part));
    }
    if let Some(seen) = part.saw(Happening::Flashover) {
        let (outcome, said) = if part.free_of_at_last(Happening::Flashover) {
            (Outcome::Ok, Said::FlashedOverThenHeld { at: at(seen) })
        } else {
            (Outcome::Warn, Said::FlashedOver { at: at(seen) })
        };
        found.push(Draft::new(Id::Flashover, outcome, said).chain([Link::NoEvent]));
    }
    if let Some(seen) = part.saw(Happening::Trip) {
        // A breakdown explains its own trip.
        let explained = part.saw(Happening::Breakdown).is_some();
        let outcome = if explained { Outcome::Ok } else { Outcome::Warn };
        let said = Said::Tripped { at: at(seen) };
        found.push(Draft::new(Id::Trip, outcome, said).chain([Link::NoEvent]));
    }
    found
}

fn no_breakdown(part: &Part<'_>) -> Draft {
    let Some((trace, hold)) = part.hold() else {
        return Draft::new(Id::Breakdown, Outcome::NotApplicable, Said::NotAtVoltage);
    };
    let level = Voltage::from_volts(hold.level);
    let held = Time::from_seconds(trace.duration_s(&hold));
    let counted = Link::Counted {
        from: Time::from_seconds(hold.start_s),
        to: Time::from_seconds(hold.start_s + held.seconds()),
    };
    let draft = Draft::new(Id::Breakdown, Outcome::Ok, Said::Withstood { level, held });
    draft.chain([counted, Link::NoBreakdown])
}
