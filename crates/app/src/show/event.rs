//! One event of a record as one line.

use super::meters;
use plan::words::duration;
use session::act::Act;
use session::record::{Batch, ClockNews, SourceNews, Told};
use session::{Entry, Event, Reading};

/// When, of which conductor, what, and how it is known.
pub(crate) fn line(entry: &Entry) -> String {
    let since = entry.at.map(|at| at.since_begun.seconds());
    let when = since.map_or_else(String::new, |since| format!("{since:>9.1} s  "));
    let by = entry.by.as_ref().map_or_else(String::new, |by| format!("  (said by {by})"));
    format!("{when}{}{by}", what(&entry.what))
}

/// The same without when and by whom.
pub(crate) fn what(event: &Event) -> String {
    match event {
        Event::Begun(_) => "the record begins".to_owned(),
        Event::Energised { phase } => format!("{phase}  high voltage on"),
        Event::Readings { phase, rows } => match rows.last() {
            Some(row) => format!("{phase}  {}", reading(row)),
            None => format!("{phase}  no reading"),
        },
        Event::Marked { phase, what, .. } => format!("{phase}  {}", what.key()),
        Event::Metered(batch) => metered(batch),
        Event::Did { phase, act, told, breaches, .. } => {
            let seen = if *told == Told::Seen { ", seen in the readings" } else { "" };
            let broke = breaches
                .first()
                .map_or_else(String::new, |rule| format!("; RULE NOT MET: {}", rule.not_met()));
            format!("{phase}  {}{seen}{broke}", did(act))
        }
        Event::Withdrawn { phase, at } => {
            format!("{phase}  reading of {:.1} s withdrawn", at.seconds())
        }
        Event::Source(news) => source(news),
        Event::Clock(ClockNews::Set { by }) => format!("clock set by {:.0} s", by.seconds()),
        Event::Clock(ClockNews::Stood { time }) => {
            format!("the program stood for {}", duration(*time))
        }
        Event::Resumed { gap, .. } => format!("taken up again after {}", duration(*gap)),
        Event::Ticked { phase, line, on } => {
            let of = phase.as_ref().map_or_else(String::new, |phase| format!("{phase}  "));
            format!("{of}{}: {line}", if *on { "looked at" } else { "tick taken back" })
        }
        Event::Advised(advised) => {
            format!("{}  advice, {}: {}", advised.phase, advised.strength.key(), advised.text)
        }
        Event::GivesBack { phase, told, .. } => format!("{phase}  {told}"),
        Event::Overridden { phase, what, reason, .. } => {
            let of = phase.as_ref().map_or_else(String::new, |phase| format!("{phase}  "));
            format!("{of}PASSED OVER: {what} Reason: {reason}")
        }
        Event::Role { role, news } => report::course::of_role(*role, news),
        Event::Scaled(scales) => meters::scales(scales),
        Event::Compared(compared) => meters::compared(compared),
        Event::Beside(beside) => meters::beside(beside),
        Event::Remark { text } => format!("remark: {text}"),
        Event::Closed => "the record is closed".to_owned(),
    }
}

/// What was done or seen, in the words of the trade.
pub(crate) fn did(act: &Act) -> String {
    let plain = match act {
        Act::Lead => "lead on it",
        Act::Check => "checklist done",
        Act::Blank => "leads and set alone",
        Act::Energise => "HIGH VOLTAGE ON, dial at zero",
        Act::Rise => "rising",
        Act::Dwell => "at the level of a step",
        Act::Hold => "at the test level",
        Act::Trip => "THE SET TRIPPED, nothing is discharged",
        Act::Flashover => "FLASHOVER",
        Act::Breakdown => "BREAKDOWN",
        Act::Stop => "dial coming down",
        Act::Abort => "HIGH VOLTAGE CUT at once",
        Act::Off => "dial at zero, high voltage off at the set",
        Act::Residual { voltage: None } => "what is left lies below what the meter can tell",
        Act::Residual { voltage: Some(voltage) } => {
            return format!("{:.3} kV left", voltage.kilovolts());
        }
        Act::Tool => "tool laid on",
        Act::Ground { number, place: None } => return format!("ground {number} on"),
        Act::Ground { number, place: Some(place) } => {
            return format!("ground {number} on, {place}");
        }
        Act::Lift { number } => return format!("ground {number} off"),
        Act::Leave { number, to } => return format!("ground {number} stays on, passed to {to}"),
        Act::Cause { text } => return format!("why it ended: {text}"),
        Act::Again => "decided: voltage again",
        Act::End => "decided: no further voltage",
        Act::Reset => "trip reset",
        Act::Zero => "dial at zero",
        Act::Release => "released",
    };
    plain.to_owned()
}

fn metered(batch: &Batch) -> String {
    let last = |column: &[Option<f64>], unit: &str| match column.last() {
        Some(Some(value)) => format!("{value} {unit}"),
        _ => format!("- {unit}"),
    };
    let over = if batch.overload.is_empty() { "" } else { "  OVER RANGE" };
    let (kv, ua) = (last(&batch.kv, "kV"), last(&batch.ua, "µA"));
    format!("{}  {kv}  {ua}{over}", batch.phase)
}

fn reading(row: &Reading) -> String {
    let kv = row.voltage.map_or_else(|| "-".to_owned(), |value| value.kilovolts().to_string());
    let ua = row.current.map_or_else(|| "-".to_owned(), |value| value.microamperes().to_string());
    let over = if row.overload { "  OVER RANGE" } else { "" };
    format!("at {:.1} s  {kv} kV  {ua} µA{over}", row.at.seconds())
}

fn source(news: &SourceNews) -> String {
    match news {
        SourceNews::Answers { identity: Some(identity) } => format!("{identity} answers"),
        SourceNews::Answers { identity: None } => "an instrument answers".to_owned(),
        SourceNews::Lost { why } => format!("the instrument is lost: {why}"),
        SourceNews::Back { gap } => {
            format!("the instrument answers again after {}", duration(*gap))
        }
        SourceNews::Garbled { sent, count } => {
            format!("no number came ({count}): \"{sent}\"")
        }
        SourceNews::Changed { identity } => format!("ANOTHER INSTRUMENT ANSWERS: {identity}"),
        SourceNews::Ended => "no more readings".to_owned(),
        SourceNews::MeterLost { meter, why } => format!("{meter} is lost: {why}"),
        SourceNews::MeterBack { meter, gap } => {
            format!("{meter} answers again after {}", duration(*gap))
        }
        SourceNews::MeterGarbled { meter, sent, count } => {
            format!("no number came from {meter} ({count}): \"{sent}\"")
        }
        SourceNews::MeterChanged { meter, identity } => {
            format!("ANOTHER INSTRUMENT ANSWERS as {meter}: {identity}")
        }
        SourceNews::Slip { kv, ua, times } => meters::slip(*kv, *ua, *times),
    }
}
