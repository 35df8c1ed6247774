//! Through the hold: does the current rise?

use quantity::{Current, Time, Voltage};
use standards::cable::{HoldTrend, hold_trend};
use standards::tolerance;

use plan::job::AssetClass;

use crate::context::Context;
use crate::draft::{Draft, reading};
use crate::findings::Outcome;
use crate::part::Part;
use crate::trace::{Stretch, Taken, Trace};
use crate::words::{Id, Link, Said};

/// Voltages of two readings that differ by less than this are taken as alike.
const ALIKE: f64 = 0.002;

/// One comparison of a later with an earlier reading.
struct Comparison {
    earlier: Taken,
    later: Taken,
    rule: Option<HoldTrend>,
}

/// Compares by every rule that the hold is long enough for and speaks for the worst.
///
/// The published rule is on the readings themselves: no more later than earlier. A steady reading
/// meets it, so the pass side is not guarded. On the other side a rise counts as one only when it
/// is more than the digits of the two readings and the unrest of the hold can hide (k = 2);
/// accuracy is common to both. A smaller rise of the two is no rise where all readings of the hold
/// together show none, and open where there are too few to tell.
pub(crate) fn finding(context: &Context<'_>, part: &Part<'_>) -> Option<Draft> {
    if context.only_resistance || !context.looks_at_current() {
        return None;
    }
    let plain = |said| Draft::new(Id::HoldTrend, Outcome::NotApplicable, said);
    let Some((trace, hold)) = part.hold() else {
        return Some(plain(Said::TrendUnread));
    };
    let later_by = tolerance::later_by(context.library).value;
    if trace.duration_s(&hold) < 60.0 * later_by {
        return Some(plain(Said::TrendTooShort));
    }
    let unrest = Unrest::of(trace, &hold);
    let judged = comparisons(context, trace, &hold, later_by)
        .into_iter()
        .map(|one| judge(context, &one, unrest.as_ref()));
    // The worst speaks; the others stand in its chain.
    let worst = judged.reduce(|mut worst, mut next| {
        if next.weight() > worst.weight() {
            std::mem::swap(&mut worst, &mut next);
        }
        worst.chain(next.chain)
    });
    Some(worst.unwrap_or_else(|| plain(Said::TrendUnread)))
}

/// A later reading speaks for the trend only when it is so many times older.
fn comparisons(
    context: &Context<'_>,
    trace: &Trace,
    hold: &Stretch,
    later_by: f64,
) -> Vec<Comparison> {
    let later = |at: Option<Time>| match at {
        Some(at) => trace.at(hold, at.seconds()),
        None => trace.last(hold),
    };
    let rules: Vec<Option<HoldTrend>> = if context.class() == AssetClass::Cable {
        hold_trend(context.library).into_iter().map(Some).collect()
    } else {
        vec![None]
    };
    let compare = |rule: Option<HoldTrend>| {
        let from = rule.as_ref().map_or(60.0, |rule| rule.earlier.seconds());
        let earlier = trace.at(hold, from)?;
        let later = later(rule.as_ref().and_then(|rule| rule.later))?;
        (later.at_s >= earlier.at_s * later_by).then_some(Comparison { earlier, later, rule })
    };
    rules.into_iter().filter_map(compare).collect()
}

fn judge(context: &Context<'_>, one: &Comparison, unrest: Option<&Unrest>) -> Draft {
    let (earlier, later) = (&one.earlier, &one.later);
    let factor = one.rule.as_ref().map_or(1.0, |rule| rule.ratio);
    let unlike = (later.volts / earlier.volts - 1.0).abs() > ALIKE;
    let scaled = if unlike { later.amps * earlier.volts / later.volts } else { later.amps };
    let allowed = earlier.amps * factor;
    let digits = context.instrument.difference(earlier, later);
    let scatter = unrest.map_or(0.0, |unrest| unrest.amps * 2f64.sqrt());
    let expanded = 2.0 * digits.max(scatter);
    let steady = unrest.is_some_and(|unrest| unrest.is_steady);
    let (from, to) = (Time::from_seconds(earlier.at_s), Time::from_seconds(later.at_s));
    let (first, last) = (Current::from_amperes(earlier.amps), Current::from_amperes(scaled));
    let risen = scaled - allowed;
    let (outcome, said) = if risen <= allowed * 1e-9 || (steady && risen <= expanded) {
        (Outcome::Ok, Said::TrendHeld { first, last })
    } else if risen > expanded {
        // Nobody published this for other objects than cable: it opens a question, no more.
        let outcome = if one.rule.is_some() { Outcome::Fail } else { Outcome::Warn };
        (outcome, Said::TrendRose { earlier: from, later: to, first, last })
    } else {
        (Outcome::Warn, Said::TrendOpen { earlier: from, later: to })
    };
    let mut chain = reading(earlier);
    chain.extend(reading(later));
    if unlike {
        chain.push(Link::SameVoltage {
            from: Voltage::from_volts(later.volts),
            to: Voltage::from_volts(earlier.volts),
            scaled: last,
        });
    }
    let expanded = Current::from_amperes(expanded);
    let expanded_text = format!("{expanded:.2}");
    chain.push(if scatter > digits {
        Link::Unrest { expanded: expanded_text }
    } else {
        Link::DigitsOnly { expanded: expanded_text }
    });
    chain.push(Link::MostAllowed { current: Current::from_amperes(allowed) });
    let draft = Draft::new(Id::HoldTrend, outcome, said)
        .value(last.microamperes(), "µA")
        .limit(Current::from_amperes(allowed).microamperes())
        .expanded(expanded.microamperes())
        .chain(chain);
    match &one.rule {
        Some(rule) => draft.source(&rule.source),
        None => draft.by_practice(),
    }
}

/// How restless the current is through the hold, and whether it rises beyond that.
pub(crate) struct Unrest {
    /// Standard deviation of one reading about its neighbours, in amperes.
    pub(crate) amps: f64,
    /// All readings together show no rise beyond it (k = 2).
    is_steady: bool,
}

/// Fewer readings show no unrest of their own.
const LEAST_READINGS: usize = 5;
/// Younger readings, in seconds, still fall steeply.
const SETTLED_S: f64 = 55.0;

impl Unrest {
    /// Each reading is compared with the straight line between its neighbours, in the logarithm of
    /// time; the slope is that of least squares on the same axis.
    pub(crate) fn of(trace: &Trace, hold: &Stretch) -> Option<Self> {
        let points: Vec<(f64, f64)> = trace.rows[hold.rows.clone()]
            .iter()
            .filter(|row| row.t_s - hold.start_s >= SETTLED_S)
            .filter_map(|row| Some(((row.t_s - hold.start_s).ln(), row.amps?)))
            .collect();
        if points.len() < LEAST_READINGS {
            return None;
        }
        let squares: f64 = points.windows(3).map(|three| departure(three).powi(2)).sum();
        let amps = (squares / (points.len() - 2) as f64).sqrt();
        let count = points.len() as f64;
        let mean = |of: fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>() / count;
        let (x, y) = (mean(|point| point.0), mean(|point| point.1));
        let spread: f64 = points.iter().map(|point| (point.0 - x).powi(2)).sum();
        let joint: f64 = points.iter().map(|point| (point.0 - x) * (point.1 - y)).sum();
        let slope = joint / spread;
        Some(Self { amps, is_steady: slope <= 2.0 * amps / spread.sqrt() })
    }
}

/// Of the middle one of three from the line between the outer two, as one reading's share.
fn departure(three: &[(f64, f64)]) -> f64 {
    let [(x0, y0), (x1, y1), (x2, y2)] = [three[0], three[1], three[2]];
    let part = (x1 - x0) / (x2 - x0);
    let line = y0 + (y2 - y0) * part;
    (y1 - line) / (1.0 + part * part + (1.0 - part) * (1.0 - part)).sqrt()
}
