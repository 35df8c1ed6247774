//! What holds from row to row: time, and the sign of the voltage.

use std::collections::BTreeMap;

use quantity::{Current, Time, Voltage};

use super::Row;
use super::fault::{FaultKind, ReadingsFault};
use crate::record::Happening;

/// Where the rows of one phase stand.
struct Standing {
    at: Time,
    grounded: bool,
    blank: bool,
}

/// Marks each row before which a conductor was energised anew.
///
/// Time may restart where the phase changes, after a `ground`, and between a blank run and the
/// object; anywhere else it must not go backwards.
pub(super) fn times(rows: &mut [Row], faults: &mut Vec<ReadingsFault>) {
    let mut phases: BTreeMap<Option<String>, Standing> = BTreeMap::new();
    let mut before: Option<Option<String>> = None;
    for row in rows.iter_mut() {
        let (at, line) = (row.reading.at, row.reading.line.unwrap_or(0));
        if !at.is_finite() {
            continue;
        }
        let blank = row.reading.blank;
        let is_ground = row.event == Some(Happening::Ground);
        let standing = phases.entry(row.phase.clone()).or_insert_with(|| {
            row.energised = true;
            Standing { at, grounded: false, blank }
        });
        if at < standing.at {
            let may_restart =
                standing.grounded || standing.blank != blank || before.as_ref() != Some(&row.phase);
            if may_restart {
                row.energised = true;
                standing.grounded = false;
            } else {
                let fault =
                    FaultKind::TimeBack { at_s: at.seconds(), since_s: standing.at.seconds() };
                faults.push(fault.at(line));
            }
        }
        *standing = Standing { at, grounded: standing.grounded || is_ground, blank };
        before = Some(row.phase.clone());
    }
}

/// Makes magnitudes of readings that are wholly negative, and refuses a mix of signs.
///
/// On the way down charge flows back, so the current after a `down`, a `ground` or a fall of the
/// voltage may have either sign, and so may the noise of leads and set alone; it keeps its sign,
/// relative to the voltage's.
pub(super) fn signs(rows: &mut [Row], faults: &mut Vec<ReadingsFault>) {
    let signed = signed_values(rows);
    let negatives = signed.iter().filter(|(_, _, value)| *value < 0.0).count();
    if negatives == 0 {
        return;
    }
    if negatives < signed.len() {
        let odd_is_negative = 2 * negatives <= signed.len();
        let odd = signed.iter().find(|(_, _, value)| (*value < 0.0) == odd_is_negative);
        if let Some(&(line, column, found)) = odd {
            faults.push(FaultKind::MixedSigns { column, found }.at(line));
        }
        return;
    }
    for row in rows {
        let reading = &mut row.reading;
        reading.negative = true;
        reading.voltage = reading.voltage.map(|kv| Voltage::ZERO - kv);
        reading.current = reading.current.map(|ua| Current::ZERO - ua);
    }
}

/// Below this part of the highest voltage of a run the object is on its way down: the tolerance
/// within which a voltage counts as held.
const HELD: f64 = 0.97;

/// How far the rows of one phase are.
#[derive(Default)]
struct Course {
    highest_kv: f64,
    down: bool,
}

/// Line, column and value of all that is not zero and must be of one sign.
fn signed_values(rows: &[Row]) -> Vec<(usize, &'static str, f64)> {
    let mut phases: BTreeMap<Option<&str>, Course> = BTreeMap::new();
    let mut signed = Vec::new();
    for row in rows {
        let line = row.reading.line.unwrap_or(0);
        let kv = row.reading.voltage.map(|voltage| voltage.kilovolts());
        let ua = row.reading.current.map_or(0.0, |current| current.microamperes());
        let course = phases.entry(row.phase.as_deref()).or_default();
        if row.energised {
            *course = Course::default();
        }
        course.down |= matches!(row.event, Some(Happening::Down | Happening::Ground))
            || kv.is_some_and(|kv| kv.abs() < HELD * course.highest_kv);
        course.highest_kv = course.highest_kv.max(kv.unwrap_or(0.0).abs());
        if let Some(kv) = kv.filter(|&kv| kv != 0.0) {
            signed.push((line, "kv", kv));
        }
        if ua != 0.0 && !course.down && !row.reading.blank {
            signed.push((line, "ua", ua));
        }
    }
    signed
}
