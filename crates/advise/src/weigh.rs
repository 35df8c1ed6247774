//! From what the tests say to how strongly something is advised.
//!
//! The errors are spent over a whole application: it has up to some 30 levels, each looked at with
//! readings that share most of their noise, and up to some 600 cells at one level.

use crate::rising::{Rise, TOLD, Unrest};
use crate::turn::Turn;

/// Deviations from which a turn holds the voltage here, and from which it brings it down. By the
/// normal law 30 levels would pass the first by chance in 28 %; what is allowed to laws that the
/// fit lacks leaves one in a hundred of that (docs/alarms.md).
pub(crate) const TURN_HOLD: f64 = 2.3;
pub(crate) const TURN_DOWN: f64 = 4.0;
/// Told lower down already, and larger here, it needs less.
pub(crate) const TURN_AGAIN: f64 = 1.5;
/// And the least excess that is spoken of, as a part: less is what meters do.
const TURN_LEAST: f64 = 0.004;
/// One reading alone may be a slip.
const ALONE: usize = 2;
const SLIP: f64 = 1.2;
/// A forecast is borne by no less than this, as a part, and by one reading no further off.
const FORECAST_LEAST: f64 = 0.04;
const FAR_OFF: f64 = 0.5;

/// How strongly, from 0 to 3.
pub(crate) type Weight = u8;

/// Nothing is said.
pub(crate) const NOTHING: Weight = 0;
/// Look.
pub(crate) const WATCH: Weight = 1;
/// Raise no further.
pub(crate) const HOLD: Weight = 2;
/// Bring it down.
pub(crate) const DOWN: Weight = 3;

/// Of a turn.
pub(crate) fn of_turn(turn: &Turn) -> Weight {
    let from = if turn.again { TURN_AGAIN } else { TURN_HOLD };
    if turn.excess < TURN_LEAST || turn.z < from {
        return NOTHING;
    }
    if turn.told_by < ALONE && turn.excess > SLIP {
        // Read again before anything is made of it.
        return WATCH;
    }
    // The level below that told it already is another reading.
    if turn.again || (turn.z >= TURN_DOWN && turn.told_by >= ALONE) { DOWN } else { HOLD }
}

/// Whether a forecast made of it may bring the voltage down: a small turn may be the law's own
/// miss, and one reading that lies far off a slip.
pub(crate) fn bears_a_forecast(turn: &Turn) -> bool {
    let slip = turn.told_by < ALONE && turn.excess > FAR_OFF;
    of_turn(turn) >= DOWN || (turn.excess > FORECAST_LEAST && !slip)
}

/// Of a rise at standing voltage.
pub(crate) fn of_rise(rise: &Rise) -> Weight {
    if rise.z < TOLD || rise.by < 0.01 {
        return NOTHING;
    }
    // One cell alone may be a slip, or be chosen for its height.
    let confirmed = rise.cells >= 2;
    match rise {
        Rise { jump: Some((from, to)), .. } if confirmed => {
            if to / from > 1.5 {
                DOWN
            } else {
                HOLD
            }
        }
        Rise { by, doubles_s, .. } if confirmed && *by > 0.05 && *doubles_s < 600.0 => DOWN,
        Rise { by, doubles_s, .. } if confirmed && *by > 0.02 && *doubles_s < 3600.0 => HOLD,
        _ => WATCH,
    }
}

/// Of a restless current.
pub(crate) fn of_unrest(unrest: &Unrest) -> Weight {
    match (unrest.ratio, unrest.part) {
        (ratio, part) if ratio > 6.0 && part > 0.1 => HOLD,
        (ratio, part) if ratio > 3.0 && part > 0.02 => WATCH,
        _ => NOTHING,
    }
}
