//! What outranks every number: breakdown, flashover, trip.

use quantity::{Time, Voltage};
use session::Happening;

use crate::arrester;
use crate::context::Context;
use crate::draft::Draft;
use crate::findings::Outcome;
use crate::part::{Part, length_s};
use crate::words::{Id, Link, Said};

/// Breakdown always has a finding where the level was to be held; the others when seen.
pub(crate) fn findings(context: &Context<'_>, part: &Part<'_>) -> Vec<Draft> {
    let mut found = Vec::new();
    let at = Time::from_seconds;
    if let Some(seen) = part.saw(Happening::Breakdown) {
        let said = Said::BrokeDown { at: at(seen) };
        found.push(Draft::new(Id::Breakdown, Outcome::Fail, said).chain([Link::NoBreakdown]));
    } else if !context.only_resistance {
        let measured = arrester::no_level(context, Id::Breakdown);
        found.push(measured.unwrap_or_else(|| no_breakdown(part)));
    }
    if let Some(seen) = part.saw(Happening::Flashover) {
        let (outcome, said) = if part.free_of_at_last(Happening::Flashover) {
            (Outcome::Ok, Said::FlashedOverThenHeld { at: at(seen) })
        } else {
            (Outcome::Warn, Said::FlashedOver { at: at(seen) })
        };
        found.push(Draft::new(Id::Flashover, outcome, said).chain([Link::NoEvent]));
    }
    found.extend(tripped(part));
    found
}

/// A trip that nobody explained is open whatever else was found. One that was explained is settled
/// when the test was repeated without one: the hold starts again, and what was held before does
/// not count.
fn tripped(part: &Part<'_>) -> Option<Draft> {
    let trips = part.applications.iter().filter_map(|application| {
        let seen = application.marks.iter().find(|(_, seen)| *seen == Happening::Trip)?;
        Some((seen.0, application.cause.clone()))
    });
    let trips: Vec<(Time, Option<String>)> = trips.collect();
    let (last, cause) = trips.last()?.clone();
    let unexplained = trips.iter().find(|(_, cause)| cause.is_none()).map(|(at, _)| *at);
    // A breakdown explains its own trip.
    let broke_down = part.saw(Happening::Breakdown).is_some();
    let (outcome, said) = match (unexplained, cause) {
        (Some(at), _) if broke_down => (Outcome::Ok, Said::Tripped { at }),
        (Some(at), _) => (Outcome::Warn, Said::Tripped { at }),
        (None, cause) => {
            let cause = cause.unwrap_or_default();
            if part.free_of_at_last(Happening::Trip) {
                (Outcome::Ok, Said::TrippedThenHeld { at: last, cause })
            } else if broke_down {
                (Outcome::Ok, Said::TrippedExplained { at: last, cause })
            } else {
                (Outcome::Warn, Said::TrippedExplained { at: last, cause })
            }
        }
    };
    let chain = trips.into_iter().map(|(at, cause)| Link::Trip { at, cause });
    Some(Draft::new(Id::Trip, outcome, said).chain(chain).chain([Link::NoTrip]))
}

fn no_breakdown(part: &Part<'_>) -> Draft {
    let Some((trace, hold)) = part.hold() else {
        return Draft::new(Id::Breakdown, Outcome::NotApplicable, Said::NotAtVoltage);
    };
    let level = Voltage::from_volts(hold.level);
    let lasted = trace.duration_s(&hold);
    let held = Time::from_seconds(lasted - length_s(&part.gaps(&hold)));
    let counted = Link::Counted {
        from: Time::from_seconds(hold.start_s),
        to: Time::from_seconds(hold.start_s + lasted),
    };
    let draft = Draft::new(Id::Breakdown, Outcome::Ok, Said::Withstood { level, held });
    draft.chain([counted, Link::NoBreakdown])
}
