//! The loop against the practice set in lock-step: the set's time and the record's move together,
//! only here, as fast as the machine can; the same seed is the same run.

use std::sync::mpsc::{Receiver, RecvTimeoutError};
use std::time::Duration;

use instrument::reader::poll_once;
use instrument::{AskError, Meter, Shown};
use quantity::Time;
use session::record::SourceNews;
use session::say::Mode;

use super::desk::Desk;
use super::input::Input;
use super::wire::{ADVANCE, STRIDE, Wire};

/// Whose words the deeds are.
pub(crate) const HAND: &str = "practice hand";

/// Events that may wait before time stands still for the disk.
const LAG: usize = 256;

/// Strides in which time did not move before the set counts as stuck. A hand does a handful of
/// things at one moment.
const STUCK: u32 = 1000;

/// A stride below this moves nothing.
const NO_STRIDE: Time = Time::from_seconds(1e-6);

/// Works until the hand is done, the record is closed, or the person leaves.
pub(crate) fn work(desk: &mut Desk, mut wire: Wire, inputs: &Receiver<Input>, every: Time) {
    let mut still = 0;
    let mut to_next = None;
    loop {
        while let Ok(input) = inputs.try_recv() {
            if hear(desk, input) {
                return;
            }
        }
        if wait_for_the_disk(desk, inputs) {
            return;
        }
        let why = match step(desk, &mut wire, every, &mut to_next) {
            Ok(Some(stride)) if !desk.view().closed => {
                still = if stride < NO_STRIDE { still + 1 } else { 0 };
                if still < STUCK {
                    continue;
                }
                "the time of the practice set stands still".to_owned()
            }
            Ok(_) => return,
            Err(error) => error.to_string(),
        };
        let now = desk.clock.now();
        desk.source(now, SourceNews::Lost { why });
        return desk.source(now, SourceNews::Ended);
    }
}

/// One stride of both; `None` once the hand has nothing left to do.
///
/// `to_next` is the time to the hand's next deed where that is known: readings do not move it, so
/// it is asked again only when it is near.
fn step(
    desk: &mut Desk,
    wire: &mut Wire,
    every: Time,
    to_next: &mut Option<Time>,
) -> Result<Option<Time>, AskError> {
    let known = to_next.take().filter(|left| *left >= every * 2.0);
    let left = match known {
        Some(left) => left,
        None => match stride(&mut wire.meter)? {
            Some(left) => left,
            None => return Ok(None),
        },
    };
    let charged = desk.view().is_hazardous();
    let stride = if charged { left.min(every) } else { left };
    let deeds = wire.meter.ask_line(&format!("{ADVANCE} {:?}", stride.seconds()))?;
    desk.clock.advance(stride);
    let now = desk.clock.now();
    let deeds = deeds_of(&deeds);
    *to_next = deeds.is_empty().then_some(left - stride);
    for deed in deeds {
        desk.line(now, Some(HAND), &deed, Mode::Typed, None);
    }
    let clock = &desk.clock;
    let cycle = poll_once(&mut wire.meter, &wire.questions, || clock.now());
    if let Some(reading) = &cycle.reading {
        desk.reading(reading);
    }
    desk.time();
    cycle.faults.into_iter().next().map_or(Ok(Some(stride)), Err)
}

/// Seconds to the hand's next deed or reading; `None` when it has done everything.
fn stride(meter: &mut Meter) -> Result<Option<Time>, AskError> {
    Ok(match meter.ask_number(STRIDE)? {
        Shown::Value { value, .. } => Some(Time::from_seconds(value)),
        Shown::Overload { .. } | Shown::NotANumber => None,
    })
}

/// The deeds in an answer; what is no list of words has none.
pub(crate) fn deeds_of(answer: &str) -> Vec<String> {
    serde_json::from_str(answer).unwrap_or_default()
}

/// Takes what came; whether the person leaves.
fn hear(desk: &mut Desk, input: Input) -> bool {
    match input {
        Input::Kept(kept) => desk.kept(kept),
        Input::Leave => return true,
        Input::Line(_, number, line, _) => {
            let now = desk.clock.now();
            desk.line(now, None, &line, Mode::Typed, Some(number));
        }
        Input::Said(said) => desk.page(*said),
        Input::Key(..)
        | Input::LinesEnded
        | Input::Meter(..)
        | Input::Logged(..)
        | Input::Source(_) => {}
    }
    false
}

/// Stands still while much waits to be durable, so that nothing has to be refused; while nothing
/// can be kept at all it goes on as long as there is room.
fn wait_for_the_disk(desk: &mut Desk, inputs: &Receiver<Input>) -> bool {
    while desk.waiting() > LAG && !desk.in_trouble() {
        match inputs.recv_timeout(Duration::from_secs(30)) {
            Ok(input) => {
                if hear(desk, input) {
                    return true;
                }
            }
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => return true,
        }
    }
    false
}
