//! Where conduction that turns up in a winding would run away, and whether corona is excluded.

use physics::fit::{RunawayEnd, fit_runaway};
use quantity::edge::twelve_digits;
use quantity::{Band, Voltage};
use standards::tolerance;

use crate::context::Context;
use crate::draft::Draft;
use crate::findings::Outcome;
use crate::guarded::{self, Ends, Pair};
use crate::leads::Two;
use crate::model::Model;
use crate::part::Part;
use crate::words::{Excluded, Id, Link, More, MoreLink, Said};

/// Findings on corona, surface and forecast, and the forecast itself.
///
/// Published texts produce the curve of resistance or of current to an end by eye and give no
/// number; the laws of [`fit_runaway`] do it with an interval. It is asked only of windings, for
/// which it is published, and only where a turn is borne out.
pub(crate) fn findings(
    context: &Context<'_>,
    part: &Part<'_>,
    model: Option<&Model>,
    turns_up: bool,
) -> (Vec<Draft>, Option<Band<Voltage>>) {
    if context.only_resistance || !context.looks_at_current() {
        return (Vec::new(), None);
    }
    let Some(model) = model else { return (Vec::new(), None) };
    let pair = guarded::pair(context, part);
    let ends = guarded::ends(context, part);
    let mut found: Vec<Draft> = pair.iter().map(|pair| surface(pair, ends)).collect();
    let corona = corona(context, part, model, pair.as_ref(), turns_up);
    let is_open = corona.as_ref().is_some_and(|draft| draft.outcome == Outcome::Warn);
    found.extend(corona);
    if !turns_up || !context.job.is_machine() {
        return (found, None);
    }
    if is_open {
        let above = tolerance::corona_above(context.library).value;
        let said = Said::More(More::ForecastWithheld { above });
        found.push(
            Draft::new(Id::Forecast, Outcome::Warn, said)
                .chain([Link::from(MoreLink::CoronaRule { above })]),
        );
        return (found, None);
    }
    let (draft, band) = forecast(model);
    found.push(draft);
    (found, band)
}

fn forecast(model: &Model) -> (Draft, Option<Band<Voltage>>) {
    let found = match fit_runaway(&model.points, &model.steps) {
        Ok(found) => found,
        Err(why) => {
            let said = Said::More(More::ForecastNone { why });
            return (Draft::new(Id::Forecast, Outcome::Warn, said).by_practice(), None);
        }
    };
    let [low, mid, high] = found.volts.map(|volts| Voltage::from_volts(twelve_digits(volts)));
    let law = |end: &RunawayEnd| {
        let [low, mid, high] = end.volts.map(Voltage::from_volts);
        Link::from(MoreLink::Law { law: end.law, low, mid, high, is_bounded: end.is_bounded })
    };
    let said = Said::More(More::Forecast { low, mid, high, open_above: !found.is_bounded });
    let draft = Draft::new(Id::Forecast, Outcome::Warn, said)
        .value(mid.kilovolts(), "kV")
        .chain(found.ends.iter().map(law))
        .chain([Link::from(MoreLink::CoversAll)])
        .by_practice();
    (draft, Some(Band { low, mid, high }))
}

/// Above a voltage leads and ends may glow, and their current turns up as a weak spot's does.
fn corona(
    context: &Context<'_>,
    part: &Part<'_>,
    model: &Model,
    pair: Option<&Pair>,
    turns_up: bool,
) -> Option<Draft> {
    let rule = tolerance::corona_above(context.library);
    let above = rule.value;
    let top = Voltage::from_volts(model.top_volts);
    if top <= above {
        return None;
    }
    let by_pair = pair.is_some_and(|pair| pair.at > above && !pair.is_told);
    let guarded_alone = pair.is_none() && guarded::is_all_guarded(part);
    let two = Two::of(context, part);
    let changed = two.is_some_and(|two| two.too_far_apart(context).is_some());
    let excluded = if part.blank_reaches(model.top_volts) && !changed {
        Some(Excluded::BlankRun)
    } else if by_pair || guarded_alone {
        Some(Excluded::GuardPair)
    } else {
        None
    };
    let (outcome, said) = match (excluded, turns_up) {
        (Some(how), _) => (Outcome::Ok, More::CoronaExcluded { how }),
        (None, true) => (Outcome::Warn, More::CoronaOpen { above }),
        (None, false) => (Outcome::NotApplicable, More::CoronaUnasked { above }),
    };
    Some(
        Draft::new(Id::Corona, outcome, Said::More(said))
            .value(top.kilovolts(), "kV")
            .limit(above.kilovolts())
            .chain(pair.map(Pair::link))
            .chain([Link::from(MoreLink::CoronaRule { above })])
            .source(&rule.source),
    )
}

fn surface(pair: &Pair, ends: Option<Ends>) -> Draft {
    let said = if pair.is_told {
        More::Surface { part: pair.part, at: pair.at }
    } else {
        More::SurfaceUntold { at: pair.at }
    };
    Draft::new(Id::Surface, Outcome::NotApplicable, Said::More(said))
        .value(pair.part.percent(), "%")
        .expanded(pair.expanded.percent())
        .chain([pair.link()])
        .chain(ends.map(|ends| Link::from(MoreLink::Ends { ends })))
        .by_practice()
}
