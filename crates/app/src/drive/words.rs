//! What a person reads while a test runs: first what to do now, by hand, then the detail.

use std::fmt;

use jiff::Timestamp;
use plan::words::duration;
use quantity::Time;
use quantity::edge::twelve_digits;
use session::Kind;
use session::live::View;
use store::{RecordId, Summary};

use super::answers::{self, Refused};
use super::notice::Notice;
use super::source::SourceError;

impl fmt::Display for Notice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotKept { since, error } => write!(
                f,
                "NOT KEPT since {}: write the readings on the job sheet by hand, with their times. \
                 ({error})",
                clock(*since)
            ),
            Self::KeptAgain => {
                f.write_str("Go on: everything that waited is kept now, in its order.")
            }
            Self::NoRoom { events } => write!(
                f,
                "READINGS ARE REFUSED: write every reading and every act by hand, with its time, \
                 and come down if nobody can write. ({} wait to be kept and no more can)",
                count(*events, "event")
            ),
            Self::RoomAgain { not_taken } => write!(
                f,
                "Readings are taken again: type from your sheet what was refused meanwhile. \
                 ({not_taken} were not taken)"
            ),
            Self::Lost { why } => write!(
                f,
                "LINK LOST: read the set's own needles and write the values with their times; \
                 nothing is made up here. ({why})"
            ),
            Self::Back { gap } => {
                write!(f, "The instrument answers again, after {}.", duration(*gap))
            }
            Self::Garbled { sent } => write!(
                f,
                "Read the needle: the instrument sent what is no number, and no reading was made \
                 of it. (it began \"{sent}\")"
            ),
            Self::OverRange => f.write_str(
                "OVER RANGE: go up one range at the meter that shows it; until then its value is \
                 missing, not guessed.",
            ),
            Self::NoValue => f.write_str(
                "Read the needle: a meter answers that it has no value; until it has one, it is \
                 missing, not guessed.",
            ),
            Self::Changed { identity } => write!(
                f,
                "Check the cable: another instrument answers than the one that this record was \
                 begun with. ({identity})"
            ),
            Self::MeterLost { meter, why } => write!(
                f,
                "METER LOST: read the needle in place of {meter} and write its values with their \
                 times; what else is heard goes on. ({why})"
            ),
            Self::MeterBack { meter, gap } => {
                write!(f, "Again: {meter} answers, after {}.", duration(*gap))
            }
            Self::MeterGarbled { meter, sent } => write!(
                f,
                "Read the needle: {meter} sent what is no number, and no reading was made of it. \
                 (it began \"{sent}\")"
            ),
            Self::MeterChanged { meter, identity } => write!(
                f,
                "Check the cable: another instrument answers as {meter} than the one that this \
                 record was begun with. ({identity})"
            ),
            Self::LoggerLost { logger, why } => write!(
                f,
                "Read the air yourself and write it as a remark: {logger} gave nothing. ({why})"
            ),
            Self::Against => f.write_str(
                "CURRENT READS AGAINST THE VOLTAGE: look how its meter is joined, or which sign it \
                 shows; its size is advised on and judged, its sign is kept. Once grounded, change \
                 its leads over or give its [[meter]] a `ratio` below zero.",
            ),
            Self::Slip { kv, ua, times } => slip(f, *kv, *ua, *times),
            Self::ClockSet { by } => write!(
                f,
                "Go on: the computer's clock was set {} by {}; the record counts its own time \
                 evenly.",
                if by.seconds() < 0.0 { "back" } else { "forward" },
                duration(by.abs())
            ),
            Self::Stood { time } => write!(
                f,
                "Read the needles now: for {} nothing was recorded, the computer slept or was too \
                 busy.",
                duration(*time)
            ),
            Self::Refused { number, said, why } => {
                write!(f, "{}{why} (\"{said}\")", place(*number))
            }
            Self::NotUnderstood { number, said, why } => {
                write!(f, "{}{why} (\"{said}\" was not taken)", place(*number))
            }
            Self::ScreenGone { error } => write!(
                f,
                "The record goes on without a screen: press q or Ctrl+C to leave it. ({error})"
            ),
        }
    }
}

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooLong => write!(
                f,
                "Write it shorter, in several lines if need be: one holds {} letters.",
                answers::LONGEST
            ),
            Self::NotUnderstood(why) => why.fmt(f),
            Self::Refusal(why) => why.fmt(f),
            Self::NoRoom => f.write_str(
                "NOT TAKEN: write it by hand, with its time, and come down if nobody can write. \
                 (too much waits to be kept)",
            ),
            Self::Ended => f.write_str(
                "Open the sheet anew: its record is at work here no more, and this was not taken.",
            ),
            Self::NotAcknowledged => f.write_str(
                "Not acknowledged: look whether it stands in the list, then say it again.",
            ),
        }
    }
}

/// A thousandfold value may be true: the needle says which, and until then it is taken as true.
fn slip(f: &mut fmt::Formatter<'_>, kv: Option<f64>, ua: Option<f64>, times: f64) -> fmt::Result {
    let (shown, near) = match (kv, ua) {
        (Some(kv), _) => (format!("{kv} kV"), format!("{} kV", twelve_digits(kv * times))),
        (None, ua) => {
            let ua = ua.unwrap_or_default();
            (format!("{ua} µA"), format!("{} µA", twelve_digits(ua * times)))
        }
    };
    write!(
        f,
        "UNIT? Look at the needle: {shown} came, and about {near} is what can be. If the needle \
         says {shown} too, come down. If not, set the meter's unit or ratio right, or withdraw \
         what was typed; nothing is corrected here."
    )
}

/// Where a line of a pipe stands, in the form of a file's complaints.
fn place(number: Option<usize>) -> String {
    number.map_or_else(String::new, |number| format!("stdin:{number}: "))
}

/// Why an answer that came so late is not taken.
pub(crate) fn late(took: Time) -> String {
    format!(
        "an answer came {} after its question and tells what was shown then, not now",
        duration(took)
    )
}

/// A time of day, Greenwich.
pub(crate) fn clock(at: Timestamp) -> String {
    at.strftime("%H:%M:%SZ").to_string()
}

pub(crate) fn count(number: usize, of: &str) -> String {
    format!("{number} {of}{}", if number == 1 { "" } else { "s" })
}

impl fmt::Display for SourceError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Kind { found } => write!(
                f,
                "write keys, csv:FILE, tcp:HOST:PORT, serial:DEVICE[:BAUD], meters or sim[:SEED] \
                 instead of `{found}`"
            ),
            Self::File => f.write_str("write csv:FILE with the name of the readings file"),
            Self::Seed { found } => {
                write!(f, "write sim:SEED with a whole number from 0; `{found}` is none")
            }
            Self::Address(error) => error.fmt(f),
        }
    }
}

/// What an earlier run left hazardous, and what to do by hand.
pub(crate) fn left_hazardous(summary: &Summary, view: &View) -> String {
    format!("{}{}", left_open(summary), by_hand(view))
}

/// That an earlier run left something hazardous.
pub(crate) fn left_open(summary: &Summary) -> String {
    let kind = match summary.kind {
        Kind::Simulated => ", SIMULATED",
        Kind::Practice => ", practice",
        Kind::Test | Kind::Transcribed => "",
    };
    format!(
        "▲ HAZARDOUS until grounded: {} (record {}{kind}, left open at {})",
        summary.asset, summary.id, summary.last,
    )
}

/// What this run leaves hazardous, and what to do by hand.
pub(crate) fn still_hazardous(id: &RecordId, view: &View) -> String {
    format!(
        "▲ HAZARDOUS until grounded: record {id} stays open; `ohmstead run … --resume {id}` takes \
         it up again{}",
        by_hand(view)
    )
}

/// The same in lines that a terminal of 80 columns breaks nowhere.
pub(crate) fn in_lines(said: &str) -> String {
    let lines = said.lines().map(|line| {
        let indent = line.len() - line.trim_start().len();
        format!("{}{}", " ".repeat(indent), crate::show::wrapped(line, 79, indent + 2))
    });
    lines.collect::<Vec<_>>().join("\n")
}

fn by_hand(view: &View) -> String {
    let mut said = String::new();
    for one in view.conductors.iter().filter(|one| one.hazardous) {
        let read = one.last_voltage.map_or_else(
            || "no voltage was read".to_owned(),
            |last| format!("last read {:.3} kV", last.kilovolts()),
        );
        let grounds: Vec<&str> = one.grounds.iter().map(|one| one.number.as_str()).collect();
        let grounds = match &grounds[..] {
            [] => "no ground on".to_owned(),
            on => format!("ground {} on", on.join(", ")),
        };
        said += &format!("\n  {} {}, {read}, {grounds}", one.name, one.state.key());
    }
    said += "\n  Do by hand now: dial to zero, high voltage off at the set; read what is left; \
             discharge through the tool; put the solid ground on. Say each here when it is done.";
    if let Some(floor) = view.meter_floor {
        let floor = floor.kilovolts();
        said +=
            &format!("\n  Below {floor:.2} kV the meter cannot tell; zero there proves nothing.");
    }
    said
}
