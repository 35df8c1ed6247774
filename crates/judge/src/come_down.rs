//! What was advised while the test was under way, and a current that rose where nobody judges it.
//!
//! A test whose object asked for less voltage is not accepted because the hold was served: what is
//! in the record of it stands in the verdict.

use quantity::{Current, Time};
use session::Record;
use session::counts::why;
use session::record::{Event, Strength};

use crate::arrester;
use crate::context::Context;
use crate::draft::{Draft, reading};
use crate::findings::Outcome;
use crate::part::Part;
use crate::trace::{Row, Taken};
use crate::words::seen::{Seen, SeenLink};
use crate::words::{Id, Link, Said};

/// Advice to come down for what the readings show of the object, and not of the work: the words of
/// its reasons as they stand in records.
const OF_THE_OBJECT: [&str; 5] =
    [why::RISING, why::JUMP, why::TURNS_UP, why::UNREST, why::FORECAST_NEAR];
/// What is shown once the voltage comes down, in the word that stands in records: whoever follows
/// advice at once does not take it back by that.
const FOLLOWED: &str = why::COMING_DOWN;
/// Advice that is taken back sooner, in seconds, was about one reading. Common practice, no source.
const STOOD_S: f64 = 30.0;
/// Later over earlier, where no rule is published. Common practice, no source.
const ROSE: f64 = 1.5;
/// Younger than this, in seconds, a reading may still hold charging current.
const SETTLED_S: f64 = 10.0;

/// Advice to come down, in the order of a record.
#[derive(Clone, Debug)]
pub(crate) struct Advice {
    phase: String,
    /// Since the record was begun.
    said_s: f64,
    since_energised: Time,
    text: String,
}

/// Every advice to come down for what the readings show, and that stood for long enough: what the
/// next readings took back was of one of them.
pub(crate) fn advised(record: &Record) -> Vec<Advice> {
    let all = record.events.iter().filter_map(|entry| match &entry.what {
        Event::Advised(advised) => {
            Some((entry.at.map_or(0.0, |at| at.since_begun.seconds()), advised))
        }
        _ => None,
    });
    let all: Vec<_> = all.collect();
    let stood = |at: usize| {
        let (said_s, said) = all[at];
        let after = all[at + 1..].iter().filter(|(_, one)| one.phase == said.phase);
        let mut taken_back =
            after.filter(|(_, one)| one.strength != Strength::ComeDown && one.reason != FOLLOWED);
        taken_back.next().is_none_or(|(back_s, _)| back_s - said_s >= STOOD_S)
    };
    let one = |at: usize| {
        let (said_s, advised) = all[at];
        let asks = advised.strength == Strength::ComeDown
            && OF_THE_OBJECT.contains(&advised.reason.as_str());
        (asks && stood(at)).then(|| Advice {
            phase: advised.phase.clone(),
            said_s,
            since_energised: advised.since_energised.unwrap_or_default(),
            text: advised.text.clone(),
        })
    };
    (0..all.len()).filter_map(one).collect()
}

/// Findings on one conductor; none where nothing of the kind was seen.
pub(crate) fn findings(context: &Context<'_>, part: &Part<'_>) -> Vec<Draft> {
    followed(context, part).into_iter().chain(rose(context, part)).collect()
}

/// What was advised in an application that was broken off and repeated does not count.
fn followed(context: &Context<'_>, part: &Part<'_>) -> Option<Draft> {
    let (main, next) = part.main_application()?;
    let from_s = main.began?.since_begun.seconds();
    let to_s = next.and_then(|next| next.began).map(|began| began.since_begun.seconds());
    let inside = |one: &&Advice| {
        one.phase == part.phase && one.said_s >= from_s && to_s.is_none_or(|to_s| one.said_s < to_s)
    };
    let mut said = context.come_down.iter().filter(inside);
    let first = said.next()?;
    let last_s = part.main()?.rows.last().map_or(0.0, |row| row.t_s);
    let stayed = Time::from_seconds((last_s - first.since_energised.seconds()).max(0.0));
    let (at, text) = (first.since_energised, first.text.clone());
    let link = |one: &Advice| SeenLink::Advised { at: one.since_energised, text: one.text.clone() };
    let chain: Vec<SeenLink> = std::iter::once(first).chain(said).take(MOST).map(link).collect();
    let chain = chain.into_iter().chain([SeenLink::NoComeDown]);
    Some(
        Draft::new(Id::ComeDown, Outcome::Warn, Said::Seen(Seen::ComeDown { at, text, stayed }))
            .chain(chain.map(Into::into))
            .by_practice(),
    )
}

/// Lines of advice that are told one by one.
const MOST: usize = 5;

/// Where current is no criterion: the middle of the last third of the hold over that of the first.
fn rose(context: &Context<'_>, part: &Part<'_>) -> Option<Draft> {
    if context.only_resistance || context.looks_at_current() || arrester::is_measured(context) {
        return None;
    }
    let (trace, hold) = part.hold()?;
    let age_s = |row: &Row| row.t_s - hold.start_s;
    let settled = trace.rows[hold.rows.clone()].iter().filter(|row| age_s(row) >= SETTLED_S);
    let taken: Vec<Taken> = settled
        .filter_map(|row| {
            let (amps, volts) = (row.amps?, row.volts);
            Some(Taken { at_s: age_s(row), amps, volts, row: *row, between: false })
        })
        .collect();
    let third = (taken.len() / 3).max(1);
    let earlier = middle(taken.get(..third)?)?;
    let later = middle(taken.get(taken.len().checked_sub(third)?..)?)?;
    let scaled = later.amps * earlier.volts / later.volts;
    let doubt = context.instrument.difference(&earlier, &later);
    let by_eye = context.instrument.amps_by_eye(&earlier) * 2f64.sqrt();
    // Twice the usual: a needle that moves by its last division has not risen.
    let expanded = 4.0 * doubt.max(by_eye);
    let risen = scaled - earlier.amps;
    if later.at_s <= earlier.at_s || scaled < earlier.amps * ROSE || risen <= expanded {
        return None;
    }
    let (first, last) = (Current::from_amperes(earlier.amps), Current::from_amperes(scaled));
    let (from, to) = (Time::from_seconds(earlier.at_s), Time::from_seconds(later.at_s));
    let said = Seen::Rose { earlier: from, later: to, first, last };
    let rule: Link = SeenLink::NoMoreThanHalfAgain { ratio: ROSE }.into();
    Some(
        Draft::new(Id::HoldTrend, Outcome::Warn, Said::Seen(said))
            .value(last.microamperes(), "µA")
            .limit((first * ROSE).microamperes())
            .expanded(Current::from_amperes(expanded).microamperes())
            .chain(reading(&earlier))
            .chain(reading(&later))
            .chain([rule])
            .by_practice(),
    )
}

/// The reading whose current is in the middle.
fn middle(taken: &[Taken]) -> Option<Taken> {
    let mut sorted: Vec<&Taken> = taken.iter().collect();
    sorted.sort_by(|one, other| one.amps.total_cmp(&other.amps));
    sorted.get(sorted.len() / 2).copied().copied()
}
