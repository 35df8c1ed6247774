//! Whether the current that was written down is the object's own at all.

use plan::job::{Link as Fitted, LowSide, MeterAt};
use quantity::Current;
use session::Application;

use crate::context::Context;
use crate::draft::Draft;
use crate::findings::Outcome;
use crate::part::Part;
use crate::words::seen::{Seen, SeenLink};
use crate::words::{Id, Said};

/// A current that stays at zero while the voltage is raised and held was not measured: what
/// charges an object shows on every meter that is joined to it. Where a digit of the meter is more
/// than all that was expected, zero says nothing of the kind.
///
/// Where current is judged, the test is void; where withstand alone is, it stands open, for with
/// the meter dead nobody would have seen the object give way slowly.
pub(crate) fn dead(context: &Context<'_>, part: &Part<'_>) -> Option<Draft> {
    let half = never_left_zero(part)?;
    let steps = context.plan.course.iter();
    let most = steps.map(|step| step.rising.high.max(step.expected.high));
    let most = most.fold(Current::ZERO, Current::max).amperes();
    if most > 0.0 && most < 2.0 * half {
        return None;
    }
    let said = Said::Seen(Seen::CurrentDead);
    let draft = if context.looks_at_current() || context.only_resistance {
        Draft::void(Id::ReadingsEnough, said)
    } else {
        Draft::new(Id::ReadingsEnough, Outcome::Warn, said)
    };
    let half = Current::from_amperes(half);
    let chain = [SeenLink::NoMoreThanDigits { half }, SeenLink::MovesWithVoltage];
    Some(draft.chain(chain.map(Into::into)))
}

/// Half the coarsest digit, where an application that counts has current read at voltage and never
/// beyond that.
fn never_left_zero(part: &Part<'_>) -> Option<f64> {
    part.counting().find_map(coarsest_of_nothing)
}

fn coarsest_of_nothing(application: &Application) -> Option<f64> {
    let mut coarsest = None;
    for reading in &application.readings {
        if reading.overload {
            return None;
        }
        let at_voltage = reading.voltage.is_some_and(|voltage| voltage.volts() > 0.0);
        let Some(amps) = reading.current.filter(|_| at_voltage) else { continue };
        let half = reading.current_half_digit.map_or(0.0, |half| half.amperes());
        if amps.amperes().abs() > half {
            return None;
        }
        coarsest = Some(coarsest.map_or(half, |before: f64| before.max(half)));
    }
    coarsest
}

/// The link that a person wrote beside the readings, where by it the current goes past the meter:
/// the plan refuses the same connection.
pub(crate) fn link(context: &Context<'_>, part: &Part<'_>) -> Option<Draft> {
    let connection = &context.plan.connection;
    if connection.low_side != LowSide::Grounded || connection.meter_at != MeterAt::Return {
        return None;
    }
    let readings = part.applications.iter().flat_map(|application| &application.readings);
    let mut written = readings.filter_map(|reading| reading.link.as_deref());
    let link = written.find(|words| is(words, Fitted::GuardToGround))?.to_owned();
    let said = Said::Seen(Seen::LinkPastMeter { link: link.clone() });
    let draft = if context.looks_at_current() || context.only_resistance {
        Draft::void(Id::Connection, said)
    } else {
        Draft::new(Id::Connection, Outcome::Warn, said)
    };
    let chain = [SeenLink::LinkWritten { link }, SeenLink::LinkBelongs];
    Some(draft.chain(chain.map(Into::into)).by_practice())
}

/// Whether words name this place of the link, with blanks or strokes between them.
fn is(words: &str, link: Fitted) -> bool {
    let named = match link {
        Fitted::GuardToGround => "guard to ground",
        Fitted::ReturnToGround => "return to ground",
        Fitted::None => "none",
    };
    let plain = words.trim().to_lowercase().replace(['-', '_'], " ");
    plain == named
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_people_write_of_the_link() {
        for (words, expected) in [
            ("guard to ground", true),
            ("Guard-to-ground ", true),
            ("return to ground", false),
            ("guard", false),
            ("guard on", false),
        ] {
            assert_eq!(is(words, Fitted::GuardToGround), expected, "{words}");
        }
    }
}
