//! The words for people: one function for each kind of thing, so that a missing word does not
//! compile.

use judge::{Outcome, Verdict};
use plan::course::{EndAt, GroundBy, Link, Metered, Severity, When};
use plan::job::{AccuracyOf, AssetClass, Method, Polarity, Reads};
use quantity::Time;
use session::act::Act;
use session::record::{Advised, ClockNews, SourceNews, Strength, Told};
use session::role::{Role, RoleNews};
use session::{Happening, Kind};
use standards::Mark;

use crate::digits::{kilovolts, span};
use crate::meters;

/// How sure we are of a source.
#[must_use]
pub const fn mark(mark: Mark) -> &'static str {
    match mark {
        Mark::Own => "from your own copy",
        Mark::Seen => "read in a public text",
        Mark::Practice => "common practice, no source",
        Mark::Memory => "from memory, check your copy",
    }
}

/// The polarity of the high-voltage terminal.
#[must_use]
pub const fn polarity(polarity: Polarity) -> &'static str {
    match polarity {
        Polarity::Negative => "negative",
        Polarity::Positive => "positive",
    }
}

/// How the voltage is raised.
#[must_use]
pub const fn method(method: Method) -> &'static str {
    match method {
        Method::Resistance => "insulation resistance",
        Method::Withstand => "withstand: one rise, one hold",
        Method::Step => "equal steps",
        Method::Graded => "graded-time steps",
        Method::Ramp => "slow ramp",
        Method::Reference => "reference voltage and leakage",
    }
}

/// What one of the tested things is called.
#[must_use]
pub const fn piece(class: AssetClass) -> &'static str {
    match class {
        AssetClass::Protective => "Piece",
        AssetClass::Motor | AssetClass::Generator => "Phase",
        _ => "Conductor",
    }
}

/// How heavy an issue is.
#[must_use]
pub const fn severity(severity: Severity) -> &'static str {
    match severity {
        Severity::Refuse => "Refused",
        Severity::Warn => "Warning",
        Severity::Note => "Note",
    }
}

pub(crate) const fn when(when: When) -> &'static str {
    match when {
        When::Before => "before",
        When::Connecting => "connecting",
        When::Energised => "energised",
        When::ComingDown => "coming-down",
        When::After => "after",
    }
}

/// What decided how long the ground stays on.
#[must_use]
pub const fn ground_by(by: GroundBy) -> &'static str {
    match by {
        GroundBy::Model => "set by the model of the absorbed charge, longer than the minima",
        GroundBy::LateCharge => "set by charge that may come back late, longer than the minima",
        GroundBy::TimeAtVoltage => "set by the time at voltage",
        GroundBy::PublishedMinimum => "set by the published minimum",
    }
}

/// Which link is fitted.
#[must_use]
pub const fn link(link: Link) -> &'static str {
    match link {
        Link::GuardToGround => "Fit the link between guard and ground.",
        Link::ReturnToGround => "Fit the link between return and ground.",
        Link::None => "The link is on neither guard nor return: fit it first.",
    }
}

/// An end of the object, as the set sees it.
pub(crate) const fn end_at(end: EndAt) -> &'static str {
    match end {
        EndAt::Near => "near",
        EndAt::Far => "far",
    }
}

/// What the meter reads.
#[must_use]
pub const fn metered(metered: Metered) -> &'static str {
    match metered {
        Metered::ObjectOnly => "The meter reads the current of the object alone.",
        Metered::ObjectAndLeads => {
            "The meter reads the object together with leads and set: \
             take a blank run without the object and write it down."
        }
    }
}

/// How a record came to be.
#[must_use]
pub const fn kind(kind: Kind) -> &'static str {
    match kind {
        Kind::Test => "recorded while it happened",
        Kind::Practice => "PRACTICE: made for practice",
        Kind::Simulated => "SIMULATED: made against a simulated set",
        Kind::Transcribed => "transcribed from paper or a file",
    }
}

/// What is printed at the head of every page; `None` where the record is of a real test.
pub(crate) const fn banner(kind: Kind) -> Option<&'static str> {
    match kind {
        Kind::Practice => Some("PRACTICE – no apparatus was tested"),
        Kind::Simulated => Some("SIMULATED – no apparatus was tested"),
        Kind::Transcribed => Some("TRANSCRIBED – typed in from paper or taken from a file"),
        Kind::Test => None,
    }
}

/// The same in one word, for the title, the foot of every page and the file's own description.
pub(crate) const fn stamp_word(kind: Kind) -> Option<&'static str> {
    match kind {
        Kind::Practice => Some("PRACTICE"),
        Kind::Simulated => Some("SIMULATED"),
        Kind::Transcribed => Some("TRANSCRIBED"),
        Kind::Test => None,
    }
}

/// A verdict in one word.
#[must_use]
pub const fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Accept => "ACCEPT",
        Verdict::Investigate => "INVESTIGATE",
        Verdict::Reject => "REJECT",
        Verdict::Void => "VOID",
    }
}

/// What a verdict means, and no more than that.
#[must_use]
pub const fn verdict_means(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Accept => "Every criterion that applies was met on the day of the test.",
        Verdict::Investigate => "Something stands open; the findings say what would settle it.",
        Verdict::Reject => "Breakdown, or a criterion plainly not met.",
        Verdict::Void => "The test cannot be judged.",
    }
}

/// The shape that says the verdict without words and without colour.
#[must_use]
pub const fn verdict_shape(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Accept => "●",
        Verdict::Investigate => "▲",
        Verdict::Reject => "■",
        Verdict::Void => "✕",
    }
}

/// A published palette that stays apart for every kind of colour vision (Color Universal Design,
/// 2008), darkened where white letters stand on it.
pub(crate) const fn verdict_colour(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Accept => "#00694d",
        Verdict::Investigate => "#7a4f00",
        Verdict::Reject => "#9c3f00",
        Verdict::Void => "#3d3d3d",
    }
}

/// How a finding came out, as shape and word.
#[must_use]
pub const fn outcome(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Ok => "● met",
        Outcome::Warn => "▲ open",
        Outcome::Fail => "■ not met",
        Outcome::NotApplicable => "– n/a",
    }
}

/// What a person saw or did.
#[must_use]
pub const fn happening(happening: Happening) -> &'static str {
    match happening {
        Happening::Rise => "rise",
        Happening::Hold => "hold",
        Happening::Trip => "TRIP",
        Happening::Flashover => "FLASHOVER",
        Happening::Breakdown => "BREAKDOWN",
        Happening::Blank => "blank run",
        Happening::Down => "brought down",
        Happening::Ground => "grounded",
    }
}

pub(crate) const fn accuracy_of(of: AccuracyOf) -> &'static str {
    match of {
        AccuracyOf::Range => "of the range",
        AccuracyOf::Reading => "of the reading",
    }
}

pub(crate) const fn reads(reads: Reads) -> &'static str {
    match reads {
        Reads::Voltage => "voltage",
        Reads::Current => "current",
        Reads::Guard => "guard current",
    }
}

/// How an act is known.
#[must_use]
pub const fn told(told: Told) -> &'static str {
    match told {
        Told::Said => "said",
        Told::Seen => "seen in the readings",
        Told::Confirmed => "confirmed",
    }
}

/// What was done or seen.
#[must_use]
pub fn act(act: &Act) -> String {
    let plain = match act {
        Act::Lead => "lead put on",
        Act::Check => "checklist gone through",
        Act::Blank => "lead off the object, to read leads and set alone",
        Act::Energise => "high voltage on, dial at zero",
        Act::Rise => "dial raised",
        Act::Dwell => "level of the step reached",
        Act::Hold => "test level reached",
        Act::Trip => "TRIP of the set",
        Act::Flashover => "FLASHOVER over the surface",
        Act::Breakdown => "BREAKDOWN of the insulation",
        Act::Stop => "brought down by the dial",
        Act::Abort => "ABORTED: switched off at once",
        Act::Off => "dial at zero, high voltage off",
        Act::Residual { voltage: Some(left) } => return format!("{} left on it", kilovolts(*left)),
        Act::Residual { voltage: None } => "voltage left: the meter cannot tell",
        Act::Tool => "discharged through the tool",
        Act::Ground { number, place: Some(place) } => {
            return format!("ground {number} on, {place}");
        }
        Act::Ground { number, place: None } => return format!("ground {number} on"),
        Act::Lift { number } => return format!("ground {number} off"),
        Act::Leave { number, to } => return format!("ground {number} left on, to {to}"),
        Act::Cause { text } => return format!("cause: “{text}”"),
        Act::Again => "decided: voltage again",
        Act::End => "decided: end here",
        Act::Reset => "trip reset",
        Act::Zero => "dial seen at zero",
        Act::Release => "handed back",
    };
    plain.to_owned()
}

/// Whether an act stands out among the others.
pub(crate) const fn is_grave(act: &Act) -> bool {
    matches!(act, Act::Trip | Act::Flashover | Act::Breakdown | Act::Abort | Act::Cause { .. })
}

/// What became of the source of the readings.
pub(crate) fn source_news(news: &SourceNews) -> String {
    match news {
        SourceNews::Answers { identity: Some(identity) } => format!("source answers: {identity}"),
        SourceNews::Answers { identity: None } => "source answers".to_owned(),
        SourceNews::Lost { why } => format!("source lost: {why}"),
        SourceNews::Back { gap } => format!("source answers again after {}", span(*gap)),
        SourceNews::Garbled { sent, count } => {
            format!("source sent no number ({count}): “{sent}”")
        }
        SourceNews::Changed { identity } => format!("another instrument answers: {identity}"),
        SourceNews::Ended => "source ended".to_owned(),
        SourceNews::MeterLost { meter, why } => format!("{meter} lost: {why}"),
        SourceNews::MeterBack { meter, gap } => {
            format!("{meter} answers again after {}", span(*gap))
        }
        SourceNews::MeterGarbled { meter, sent, count } => {
            format!("{meter} sent no number ({count}): “{sent}”")
        }
        SourceNews::MeterChanged { meter, identity } => {
            format!("another instrument answers as {meter}: {identity}")
        }
        SourceNews::Slip { kv, ua, times } => meters::slip(*kv, *ua, *times),
    }
}

/// What became of the clocks.
pub(crate) fn clock_news(news: ClockNews) -> String {
    match news {
        ClockNews::Set { by } if by < Time::ZERO => {
            format!("wall clock set back by {}", span(-by))
        }
        ClockNews::Set { by } => format!("wall clock set forward by {}", span(by)),
        ClockNews::Stood { time } => format!("the program did not run for {}", span(time)),
    }
}

/// That a line of the checklist was looked at, or not.
pub(crate) fn ticked(line: &str, on: bool) -> String {
    format!("{}: {line}", if on { "looked at" } else { "tick taken back" })
}

/// What was shown as advice; what it rests on stands in its own line.
pub(crate) fn advised(advised: &Advised) -> String {
    let how = match advised.strength {
        Strength::CarryOn => "carry on",
        Strength::Watch => "watch",
        Strength::HoldHere => "hold here",
        Strength::ComeDown => "come down",
    };
    format!("advice, {how}: {}", advised.text)
}

/// That a hold point, or a part, was passed over.
pub(crate) fn passed_over(what: &str, reason: &str) -> String {
    format!("passed over: {what} Reason: “{reason}”")
}

/// What came of a part, or did not.
pub(crate) fn role_news(role: Role, news: &RoleNews) -> String {
    let name = role.name();
    match news {
        RoleNews::Here => format!("{name} was heard: all as it must be there"),
        RoleNews::Called { text } if text.is_empty() => format!("{name} calls: come down"),
        RoleNews::Called { text } => format!("{name} calls: come down, “{text}”"),
        RoleNews::Silent { time } => format!("{name} not heard for {}: come down", span(*time)),
    }
}

/// That the program ended and was started again.
pub(crate) fn resumed(gap: Time, same_boot: bool) -> String {
    let from = if same_boot { "" } else { ", by the wall clock; the machine was started anew" };
    format!("record taken up again after {}{from}", span(gap))
}
