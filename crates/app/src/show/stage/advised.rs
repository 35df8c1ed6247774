//! What is advised, as a screen says it: one large line, what comes of it, and the longer reason.

use advise::{Advice as Found, Forecast, NextStep, Reason};
use plan::words::duration;
use quantity::{Band, Current, Time, Voltage};
use serde::Serialize;
use session::live::View;
use session::record::Strength;

use super::words::{how, up};
use super::{Expected, Lies};
use crate::drive::counsel::Given;

/// The reason of a fallback that no adviser gave.
const BY_PLAN: &str = "above-plan";

/// What is advised.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub(crate) struct Advice {
    /// How strongly.
    pub(crate) urge: Urge,
    /// The same in words.
    pub(crate) word: &'static str,
    /// The same as a shape, for a terminal.
    pub(crate) shape: &'static str,
    /// The reason as a word that stays while its figures change.
    pub(crate) reason: String,
    /// Why, in one line.
    pub(crate) why: String,
    /// The longer reason: figures, what is tested, what else speaks for it.
    pub(crate) more: Vec<String>,
}

/// How strongly something is advised, or that nothing can be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Urge {
    /// Nothing is known to advise by.
    Unknown,
    /// Go on as planned.
    CarryOn,
    /// Go on and look.
    Watch,
    /// Do not raise the voltage.
    HoldHere,
    /// Bring the voltage down.
    ComeDown,
}

impl From<Strength> for Urge {
    fn from(strength: Strength) -> Self {
        match strength {
            Strength::CarryOn => Self::CarryOn,
            Strength::Watch => Self::Watch,
            Strength::HoldHere => Self::HoldHere,
            Strength::ComeDown => Self::ComeDown,
        }
    }
}

/// A part of something that must not be used up, as a length.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct Margin {
    /// The part that is taken; nothing where that is not known.
    pub(crate) taken: Option<f64>,
    /// The same in words.
    pub(crate) said: String,
}

/// The current to expect from now on, by what was read so far.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct Ahead {
    /// Which conductor, in the order of the plan.
    pub(crate) conductor: usize,
    /// From energising.
    pub(crate) t_s: Vec<f64>,
    /// 2.5 %.
    pub(crate) low_ua: Vec<f64>,
    /// Middle.
    pub(crate) mid_ua: Vec<f64>,
    /// 97.5 %.
    pub(crate) high_ua: Vec<f64>,
    /// The same as a table: time from now, from, middle, to.
    pub(crate) rows: Vec<[String; 4]>,
}

/// The band is a model's, so three figures of it are more than it knows; two are enough.
fn band(band: Band<Current>) -> String {
    format!("{:.2} … {:.2}", band.low, band.high)
}

impl Advice {
    /// What is shown: first what no reading is needed for, then what was shown and is in the
    /// record, then that nothing speaks against going on.
    pub(super) fn of(view: &View, silent: bool, given: Option<&Given>, plan: Lies) -> Option<Self> {
        let found = given.map(|given| &given.advice);
        let say = |strength: Strength, reason: &str, why: String| {
            Some(Self::new(strength.into(), reason, why, more(found)))
        };
        if let Some(why) = view.come_down.first() {
            return say(Strength::ComeDown, "called", why.to_string());
        }
        if let Some(top) = view.above {
            let slip = "if it was a slip, say so";
            let why = format!("above {top:.3}, the plan's highest; {slip}");
            return say(Strength::ComeDown, "above-level", why);
        }
        if silent && view.is_hazardous() {
            let why = "read the set's own needles: the meter is not heard";
            return say(Strength::Watch, "silent", why.to_owned());
        }
        let shown = view.advised.as_ref().filter(|shown| shown.strength > Strength::CarryOn);
        if let Some(shown) = shown {
            let why = shown.text.split_once(": ").map_or(shown.text.as_str(), |(_, why)| why);
            return say(shown.strength, &shown.reason, why.to_owned());
        }
        if let Some(found) = found {
            let (urge, why) = calm(found);
            return Some(Self::new(urge, found.reason.key(), why, more(Some(found))));
        }
        let why = "the current lies above what the plan expects";
        if plan == Lies::Above { say(Strength::Watch, BY_PLAN, why.to_owned()) } else { None }
    }

    fn new(urge: Urge, reason: &str, why: String, more: Vec<String>) -> Self {
        Self { urge, word: urge.word(), shape: urge.shape(), reason: reason.to_owned(), why, more }
    }
}

/// What is said where nothing speaks against going on; what is not known is not praised.
fn calm(found: &Found) -> (Urge, String) {
    match &found.reason {
        Reason::NothingRead => (Urge::Unknown, "nothing was read yet".to_owned()),
        Reason::Blank => (Urge::Unknown, "leads and set alone, no object".to_owned()),
        // How much may be left falls all the while, and stands in a line of its own.
        Reason::ComingDown { .. } => {
            (Urge::CarryOn, "treat it as charged until tool and ground are on".to_owned())
        }
        reason => (found.strength.into(), reason.to_string()),
    }
}

/// The longer reason.
fn more(found: Option<&Found>) -> Vec<String> {
    let Some(found) = found else {
        return vec!["Nothing more is known: no readings of this test are at hand here".to_owned()];
    };
    let mut more = vec![format!("Now: {}", found.reason)];
    more.extend(how(&found.reason).map(str::to_owned));
    more.extend(found.others.iter().map(|other| format!("Also: {other}")));
    more.push(match found.band {
        Some(now) => format!("Expected now {:.2}, {}", now.mid, band(now)),
        None => "No current is expected here: a level must be reached first".to_owned(),
    });
    more.extend(found.next_step.as_ref().map(next_step));
    if let Some(dwell) = found.next_dwell {
        more.push(format!("Next step, graded by what was read: stay {}", duration(dwell)));
    }
    more.extend(found.forecast.as_ref().map(forecast));
    more.push(
        "It advises; the hand stays yours. Where nothing is advised, nothing is promised"
            .to_owned(),
    );
    more
}

fn next_step(next: &NextStep) -> String {
    let to_trip = next.trip_margin.map_or_else(String::new, |margin| {
        format!(", at most {:.0} % of the trip", (1.0 - margin) * 100.0)
    });
    format!("At {:.1} kV {} expected{to_trip}", next.level.kilovolts(), band(next.expected))
}

fn forecast(forecast: &Forecast) -> String {
    // Down to a tenth, never up to what it warns of.
    let down = |voltage: quantity::Voltage| (voltage.kilovolts() * 10.0 + 1e-9).floor() / 10.0;
    let stop = forecast.stop_at.map_or_else(String::new, |stop| {
        format!("; stop at {:.1} kV instead of going higher", down(stop))
    });
    format!(
        "Model estimate, not a rating: run-away about {:.1} kV, {:.1} … {:.1} kV{stop}",
        forecast.mid.kilovolts(),
        down(forecast.low),
        forecast.high.kilovolts()
    )
}

/// One line of what is to come: what may be left on the way down, else the forecast, else what the
/// next step may bring.
pub(super) fn outlook(view: &View, given: Option<&Given>) -> String {
    let focus = view.conductors.get(view.focus);
    if let Some(focus) = focus.filter(|focus| focus.hazardous && !focus.state.is_energised()) {
        let left = given.and_then(|given| given.advice.residual).or(focus.left);
        let by_readings = focus.gives_back.is_some_and(|found| found.object.is_some());
        let unknown = || "What is left on it is not known".to_owned();
        return left.map_or_else(unknown, |left| residual(left, by_readings));
    }
    let Some(found) = given.map(|given| &given.advice) else { return String::new() };
    let ahead = found.forecast.as_ref().map(forecast);
    ahead.or(found.next_step.as_ref().map(next_step)).unwrap_or_default()
}

/// What may be left, rounded up, and what tells of it.
fn residual(left: Band<Voltage>, by_readings: bool) -> String {
    let (about, most) = (up(left.mid), up(left.high));
    let from = if by_readings { "from this test's readings" } else { "from the plan" };
    if about == most {
        return format!("Up to {most} may be left now, {from}");
    }
    format!("Up to {most} may be left now, about {about}, {from}")
}

/// The charging current beside what the set gives; it is told while the voltage rises.
pub(super) fn charging(view: &View, given: Option<&Given>) -> Option<Margin> {
    let focus = view.conductors.get(view.focus)?;
    if focus.state != session::state::State::Rising {
        return None;
    }
    let taken = given.and_then(|given| given.advice.charging_margin).map(|margin| 1.0 - margin);
    let said = match taken {
        Some(taken) if taken >= 1.0 => "AT WHAT THE SET GIVES: raise slower".to_owned(),
        Some(taken) => format!("Charging takes {:.0} % of what the set gives", taken * 100.0),
        None => "What charging takes of the set is not known".to_owned(),
    };
    Some(Margin { taken, said })
}

/// The band now and on, as far as the readings tell.
pub(super) fn ahead(given: Option<&Given>) -> Option<Ahead> {
    let given = given.filter(|given| !given.ahead.is_empty())?;
    let column = |of: fn(&Band<Current>) -> Current| {
        given.ahead.iter().map(|(_, band)| of(band).microamperes()).collect()
    };
    let (now, _) = given.ahead.first()?;
    let rows = given.ahead.iter().map(|(at, band)| {
        let figure = |current: Current| format!("{current:.2}");
        [since(*at - *now), figure(band.low), figure(band.mid), figure(band.high)]
    });
    Some(Ahead {
        conductor: given.conductor,
        t_s: given.ahead.iter().map(|(at, _)| at.seconds()).collect(),
        low_ua: column(|band| band.low),
        mid_ua: column(|band| band.mid),
        high_ua: column(|band| band.high),
        rows: rows.collect(),
    })
}

/// The same in words; nothing is expected of what no reading told of.
pub(super) fn ahead_said(given: Option<&Given>) -> String {
    let ends = given.and_then(|given| given.ahead.first().zip(given.ahead.last()));
    let Some(((now, first), (end, last))) = ends else {
        return "Nothing is expected from the readings so far: a level must be stood at first."
            .to_owned();
    };
    format!(
        "By the readings so far {:.2} is expected now ({}), and {:.2} ({}) in {}.",
        first.mid,
        band(*first),
        last.mid,
        band(*last),
        since(*end - *now)
    )
}

fn since(time: Time) -> String {
    plan::words::clock(time)
}

/// Where the current lies to what is expected now, by the readings so far.
pub(super) fn expected(found: &Found, current: Option<Current>) -> Option<Expected> {
    let now = found.band?;
    let lies = Lies::of(now, current);
    let band = format!("{:.2} now, {}", now.mid, band(now));
    Some(Expected { band, lies, said: lies.said() })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(strength: Strength, reason: Reason) -> Found {
        Found {
            strength,
            reason,
            others: vec![Reason::OverRange],
            band: None,
            next_step: None,
            forecast: None,
            residual: None,
            charging_margin: None,
            next_dwell: None,
        }
    }

    #[test]
    fn what_is_not_known_is_not_praised() {
        for reason in [Reason::NothingRead, Reason::Blank] {
            let (urge, why) = calm(&found(Strength::CarryOn, reason));
            assert_eq!(urge, Urge::Unknown, "{why}");
            assert_eq!(urge.word(), "No advice");
        }
        let (urge, why) = calm(&found(Strength::CarryOn, Reason::AsExpected));
        assert_eq!((urge, why.as_str()), (Urge::CarryOn, "readings lie as expected"));
    }

    #[test]
    fn a_forecast_is_called_a_models_estimate_and_says_where_to_stop() {
        let kilovolts = Voltage::from_kilovolts;
        let said = forecast(&Forecast {
            low: kilovolts(38.0),
            mid: kilovolts(45.0),
            high: kilovolts(52.0),
            stop_at: Some(kilovolts(36.0)),
        });
        assert_eq!(
            said,
            "Model estimate, not a rating: run-away about 45.0 kV, 38.0 … 52.0 kV; stop at 36.0 \
             kV instead of going higher"
        );
    }

    #[test]
    fn the_longer_reason_has_figures_tests_and_the_others() {
        let jump = Reason::Jump {
            from: Current::from_microamperes(2.0),
            to: Current::from_microamperes(3.0),
        };
        let mut found = found(Strength::HoldHere, jump);
        let current = Current::from_microamperes;
        found.next_step = Some(NextStep {
            level: Voltage::from_kilovolts(26.0),
            expected: Band { low: current(7.0), mid: current(9.0), high: current(12.0) },
            trip_margin: Some(0.6),
        });
        let more = more(Some(&found)).join("\n");
        for words in [
            "jumped from 2.00 µA to 3.00 µA",
            "noise",
            "Also: meter over range",
            "No current is expected here",
            "At 26.0 kV 7.0 µA … 12 µA expected, at most 40 % of the trip",
            "the hand stays yours",
        ] {
            assert!(more.contains(words), "{words} is missing:\n{more}");
        }
    }

    #[test]
    fn what_may_be_left_is_rounded_up() {
        let left = Band { low: 0.0, mid: 3_140.0, high: 9_710.0 }.map(Voltage::from_volts);
        let said = residual(left, false);
        assert_eq!(said, "Up to 9.8 kV may be left now, about 3.2 kV, from the plan");
        let said = residual(left, true);
        assert!(said.ends_with("about 3.2 kV, from this test's readings"), "{said}");
    }
}
