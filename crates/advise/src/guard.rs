//! Whether corona is excluded: by a guard that is on, by readings with and without it that agree,
//! or by a blank run that is small beside the object.

use quantity::{Current, Time, Voltage};
use session::counts::{AGED_ALIKE, ALIKE, guard_said};

use crate::adviser::Taken;
use crate::course::corona_above;

/// With and without the guard the current is the same within this part, and what the digits hide.
/// Common practice, no source: less than what asks whether a forecast holds.
const SAME: f64 = 0.1;
/// Leads and set alone are small below this part of what the object takes. Common practice, no
/// source.
const SMALL: f64 = 0.1;

/// A current that speaks of corona.
#[derive(Clone, Copy, Debug)]
struct Seen {
    at: Time,
    voltage: Voltage,
    current: Current,
    /// Two digits or what an eye cannot tell apart, the larger.
    hidden: Current,
}

/// What was read above where corona begins, over all applications of one conductor.
#[derive(Clone, Debug, Default)]
pub(crate) struct Guarded {
    /// Of leads and set alone.
    blank: Vec<Seen>,
    /// With the guard said to be on, and off.
    on: Vec<Seen>,
    off: Vec<Seen>,
}

impl Guarded {
    /// Takes a reading in; an eye cannot tell apart what differs by less than `eye`.
    pub(crate) fn take(&mut self, taken: &Taken, blank: bool, eye: Current) {
        let (Some(voltage), Some(current)) = (taken.voltage, taken.current) else { return };
        if voltage <= corona_above() || taken.overload {
            return;
        }
        let half = taken.current_half_digit.unwrap_or(Current::ZERO);
        let seen = Seen { at: taken.at, voltage, current, hidden: (half * 2.0).max(eye) };
        match taken.link.as_deref().and_then(guard_said) {
            _ if blank => keep(&mut self.blank, seen),
            Some(true) => keep(&mut self.on, seen),
            Some(false) => keep(&mut self.off, seen),
            None => {}
        }
    }

    /// Whether corona is excluded at this voltage, at which so much flows.
    pub(crate) fn excludes(&self, at: Voltage, current: Option<Current>) -> bool {
        let near = |seen: &&Seen| seen.voltage >= at * (1.0 - ALIKE);
        let small = |seen: &Seen| {
            current.is_some_and(|current| {
                current > Current::ZERO && seen.current.abs() <= current * SMALL + seen.hidden
            })
        };
        let mut blank = self.blank.iter().filter(near).peekable();
        if blank.peek().is_some() {
            return blank.all(small);
        }
        if self.off.is_empty() {
            return self.on.iter().any(|seen| near(&seen));
        }
        let pairs =
            self.on.iter().filter(near).flat_map(|on| {
                self.off.iter().filter(|off| alike(on, off)).map(move |off| (on, off))
            });
        let mut pairs = pairs.peekable();
        pairs.peek().is_some() && pairs.all(|(on, off)| agree(on, off))
    }
}

/// What was read at a like voltage and age before is known better now.
fn keep(all: &mut Vec<Seen>, seen: Seen) {
    match all.iter_mut().find(|one| alike(one, &seen)) {
        Some(one) => *one = seen,
        None => all.push(seen),
    }
}

fn alike(one: &Seen, other: &Seen) -> bool {
    let volts = (one.voltage / other.voltage - 1.0).abs() <= ALIKE;
    volts && one.at.max(other.at) <= one.at.min(other.at) * AGED_ALIKE
}

fn agree(on: &Seen, off: &Seen) -> bool {
    let hidden = on.hidden + off.hidden;
    (off.current - on.current).abs() <= on.current.abs() * SAME + hidden
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Seconds, kilovolts, microamperes, the link, and whether it is blank.
    type Row<'a> = (f64, f64, f64, Option<&'a str>, bool);

    /// Derived: with and without the guard the same at a like voltage and age, or leads and set
    /// alone far below the object, leave nothing for corona; where they differ it is what differs.
    #[test]
    fn a_pair_that_agrees_or_a_small_blank_run_or_a_guard_all_along_exclude_corona() {
        let check = |rows: &[Row<'_>], expected: bool| {
            let mut seen = Guarded::default();
            for (t_s, kv, ua, link, blank) in rows {
                let taken = Taken {
                    at: Time::from_seconds(*t_s),
                    voltage: Some(Voltage::from_kilovolts(*kv)),
                    current: Some(Current::from_microamperes(*ua)),
                    link: link.map(str::to_owned),
                    ..Taken::default()
                };
                seen.take(&taken, *blank, Current::from_microamperes(0.05));
            }
            let (at, current) = (Voltage::from_kilovolts(30.0), Current::from_microamperes(10.0));
            assert_eq!(seen.excludes(at, Some(current)), expected, "{rows:?}");
        };
        let (on, off) = (Some("guard on"), Some("no guard"));
        check(&[(60.0, 30.0, 10.0, Some("guard-to-ground"), false)], false);
        check(&[], false);
        check(&[(60.0, 30.0, 10.0, None, false)], false);
        check(&[(60.0, 30.0, 0.5, None, true)], true);
        check(&[(60.0, 30.0, 50.0, None, true)], false);
        check(&[(60.0, 26.0, 0.5, None, true)], false);
        check(&[(60.0, 30.0, 10.0, on, false)], true);
        check(&[(60.0, 26.0, 10.0, on, false)], false);
        check(&[(60.0, 30.0, 10.0, on, false), (70.0, 30.0, 10.3, off, false)], true);
        check(&[(60.0, 30.0, 10.0, on, false), (70.0, 30.0, 40.0, off, false)], false);
        check(&[(60.0, 30.0, 10.0, on, false), (600.0, 30.0, 10.0, off, false)], false);
        check(&[(60.0, 26.0, 10.0, on, false), (70.0, 26.0, 10.0, off, false)], false);
        check(&[(60.0, 20.0, 10.0, on, false), (70.0, 30.0, 10.0, off, false)], false);
    }
}
