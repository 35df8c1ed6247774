//! Readings of two meters that were taken at nearly the same moment, as one.
//!
//! Each meter is asked on its own, so that one which is late or dead holds nobody up. What has no
//! partner in time goes on alone: the other value was not read then, and none is made up for it.

use instrument::reader::Reading;
use jiff::SignedDuration;
use quantity::Time;
use session::record::Now;

/// Two readings this far apart are of one moment, at the least and at the most. Common practice,
/// no source: what an eye takes between two needles.
const LEAST: Time = Time::from_seconds(0.1);
const MOST: Time = Time::from_seconds(1.0);

/// What waits for its partner.
#[derive(Debug)]
pub(super) struct Pairing {
    window: Time,
    waits: Option<Reading<Now>>,
}

impl Pairing {
    /// Of meters that are asked at this pace.
    pub(super) fn at_pace(every: Time) -> Self {
        Self { window: (every * 0.5).max(LEAST).min(MOST), waits: None }
    }

    /// Takes a reading in; gives what is whole now, in the order of time. With nobody to wait for
    /// it is whole at once.
    pub(super) fn take(&mut self, reading: Reading<Now>, alone: bool) -> Vec<Reading<Now>> {
        let Some(before) = self.waits.take() else {
            return self.wait_or_go(reading, alone);
        };
        let near = (reading.at.monotonic - before.at.monotonic).abs() <= self.window;
        let partners = before.voltage.is_some() != reading.voltage.is_some();
        if near && partners {
            return vec![joined(before, reading)];
        }
        let mut whole = vec![before];
        whole.extend(self.wait_or_go(reading, alone));
        whole
    }

    /// Gives what waits: its partner will not come.
    pub(super) fn rest(&mut self) -> Option<Reading<Now>> {
        self.waits.take()
    }

    fn wait_or_go(&mut self, reading: Reading<Now>, alone: bool) -> Vec<Reading<Now>> {
        if alone {
            return vec![reading];
        }
        self.waits = Some(reading);
        Vec::new()
    }
}

/// Both values, at the middle of their two moments.
fn joined(one: Reading<Now>, other: Reading<Now>) -> Reading<Now> {
    let half = (other.at.monotonic - one.at.monotonic) * 0.5;
    let later = SignedDuration::try_from_secs_f64(half.seconds()).unwrap_or_default();
    let at = Now {
        monotonic: one.at.monotonic + half,
        wall: one.at.wall.checked_add(later).unwrap_or(one.at.wall),
    };
    let earlier = |a: Now, b: Now| if b.monotonic < a.monotonic { b } else { a };
    let last = |a: Now, b: Now| if b.monotonic > a.monotonic { b } else { a };
    Reading {
        asked: earlier(one.asked, other.asked),
        at,
        voltage: one.voltage.or(other.voltage),
        current: one.current.or(other.current),
        voltage_range: one.voltage_range.or(other.voltage_range),
        current_range: one.current_range.or(other.current_range),
        ended: last(one.ended, other.ended),
    }
}

#[cfg(test)]
mod tests {
    use instrument::Shown;
    use jiff::Timestamp;
    use quantity::{Current, Voltage};

    use super::*;

    fn at(seconds: f64) -> Now {
        Now { monotonic: Time::from_seconds(seconds), wall: Timestamp::UNIX_EPOCH }
    }

    fn reading(seconds: f64, kv: Option<f64>, ua: Option<f64>) -> Reading<Now> {
        let voltage = kv.map(|kv| Shown::Value {
            value: Voltage::from_kilovolts(kv),
            half_digit: Voltage::from_volts(5.0),
        });
        let current = ua.map(|ua| Shown::Value {
            value: Current::from_microamperes(ua),
            half_digit: Current::from_microamperes(0.05),
        });
        let (voltage_range, current_range) = (None, None);
        let (asked, now) = (at(seconds), at(seconds));
        Reading { asked, at: now, voltage, current, voltage_range, current_range, ended: now }
    }

    /// Seconds, and which of the two values stand in it.
    fn shape(all: &[Reading<Now>]) -> Vec<(f64, bool, bool)> {
        let one = |reading: &Reading<Now>| {
            let t = (reading.at.monotonic.seconds() * 1e6).round() / 1e6;
            (t, reading.voltage.is_some(), reading.current.is_some())
        };
        all.iter().map(one).collect()
    }

    /// By hand: the middle of 0 and 0.04 is 0.02; 0.6 is further from 0.4 than half of 0.2.
    #[test]
    fn two_near_in_time_are_one_and_what_has_no_partner_goes_alone() {
        let mut pairing = Pairing::at_pace(Time::from_seconds(0.2));
        let mut take = |seconds, kv, ua| shape(&pairing.take(reading(seconds, kv, ua), false));
        assert_eq!(take(0.0, Some(1.0), None), []);
        assert_eq!(take(0.04, None, Some(2.0)), [(0.02, true, true)]);
        assert_eq!(take(0.2, Some(1.0), None), []);
        assert_eq!(take(0.4, Some(1.0), None), [(0.2, true, false)]);
        assert_eq!(take(0.6, None, Some(2.0)), [(0.4, true, false)]);
        assert_eq!(take(0.65, Some(1.0), None), [(0.625, true, true)]);
        assert_eq!(take(0.8, None, Some(2.0)), []);
        assert_eq!(shape(&pairing.rest().into_iter().collect::<Vec<_>>()), [(0.8, false, true)]);
        let alone = pairing.take(reading(1.0, None, Some(2.0)), true);
        assert_eq!(shape(&alone), [(1.0, false, true)]);
        assert!(pairing.rest().is_none());
    }
}
