//! How restless the current is through the hold.

use quantity::{Current, Ratio, Time};
use standards::tolerance;

use crate::context::Context;
use crate::draft::Draft;
use crate::findings::Outcome;
use crate::part::Part;
use crate::trend::Unrest;
use crate::words::{Id, Link, More, MoreLink, Said};

/// Unrest beyond the digits of the readings; `None` where the readings are too few to show any.
pub(crate) fn finding(context: &Context<'_>, part: &Part<'_>) -> Option<Draft> {
    if context.only_resistance || !context.looks_at_current() {
        return None;
    }
    let (trace, hold) = part.hold()?;
    let unrest = Unrest::of(trace, &hold)?;
    let last = trace.last(&hold).filter(|last| last.amps > 0.0)?;
    let rule = tolerance::unrest(context.library);
    let part = Ratio::from_value(unrest.amps / last.amps);
    let hidden = 2.0 * context.instrument.amps_by_eye(&last);
    let restless = part > rule.value && unrest.amps > hidden;
    let (outcome, said) = if restless {
        (Outcome::Warn, More::Restless { part })
    } else {
        (Outcome::Ok, More::Steady { part })
    };
    let amps = Current::from_amperes(unrest.amps);
    Some(
        Draft::new(Id::Unrest, outcome, Said::More(said))
            .value(part.percent(), "%")
            .limit(rule.value.percent())
            .chain([
                Link::from(MoreLink::Unrest { amps, of: Current::from_amperes(last.amps) }),
                Link::from(MoreLink::Since { age: Time::from_seconds(last.at_s) }),
                Link::from(MoreLink::LargestPart { part: rule.value }),
            ])
            .source(&rule.source),
    )
}
