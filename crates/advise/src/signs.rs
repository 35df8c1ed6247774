//! Whether the current is read against the voltage, as by a meter whose leads are changed over or
//! one that shows a size where the other shows its sign.
//!
//! Such a current is not taken as none: its size is advised on, and the sign is told.

use quantity::{Current, Time, Voltage};
use session::counts::SELDOM;
use session::counts::against::{AGREE, BY_HAND, CLEAR, IN_ANY_WAY, ON_END};

use crate::adviser::Taken;

/// Where the voltage falls the object gives back: that is no wrong sign. Such a part below the
/// highest on the way counts as falling.
const FALLS: f64 = 0.02;

/// What the signs of the readings say so far.
#[derive(Clone, Debug, Default)]
pub(crate) struct Signs {
    /// The current is read against the voltage.
    pub(crate) against: bool,
    /// Readings on end that say otherwise than is taken.
    run: Vec<(Time, Current)>,
    peak: Option<Voltage>,
}

impl Signs {
    /// Takes a reading as it was read; gives since when its sign is another than was taken, where
    /// that is told now. Below the floor no voltage drives a current: what is read there is the
    /// meter's own zero.
    pub(crate) fn take(
        &mut self,
        taken: &Taken,
        every: Option<Time>,
        floor: Voltage,
    ) -> Option<Time> {
        let (voltage, current) = (taken.voltage?, taken.current?);
        let peak = self.peak.map_or(voltage, |peak| peak.max(voltage));
        self.peak = Some(peak);
        let falls = voltage < peak * (1.0 - FALLS);
        if !current.is_finite() || taken.blank || falls || voltage < floor {
            return None;
        }
        let least = taken.current_half_digit.map_or(Current::ZERO, |half| half * CLEAR);
        let (negative, clear) = (current < Current::ZERO, current.abs() > least);
        if negative == self.against {
            self.run.clear();
            return None;
        }
        if !clear {
            return None;
        }
        self.run.push((taken.at, current.abs()));
        self.is_told(every).then(|| {
            self.against = negative;
            let since = self.run.first().map_or(taken.at, |(at, _)| *at);
            self.run.clear();
            since
        })
    }

    fn is_told(&self, every: Option<Time>) -> bool {
        let by_hand = every.is_some_and(|every| every >= SELDOM);
        let asked = if by_hand { BY_HAND } else { ON_END };
        let Some(from) = self.run.len().checked_sub(asked) else { return false };
        let last = self.run[from..].iter().map(|(_, current)| *current);
        let most = last.clone().fold(Current::ZERO, Current::max);
        let agree = last.fold(most, Current::min) * AGREE >= most;
        by_hand || agree || self.run.len() >= IN_ANY_WAY
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Seconds between readings, and kilovolts and microamperes of each; at which it is told.
    fn check(every: f64, rows: &[(f64, f64)], expected: Option<usize>) {
        let mut signs = Signs::default();
        let told = rows.iter().enumerate().position(|(index, (kv, ua))| {
            let taken = Taken {
                at: Time::from_seconds(every * index as f64),
                voltage: Some(Voltage::from_kilovolts(*kv)),
                current: Some(Current::from_microamperes(*ua)),
                current_half_digit: Some(Current::from_microamperes(0.0005)),
                ..Taken::default()
            };
            let floor = Voltage::from_kilovolts(1.0);
            signs.take(&taken, Some(Time::from_seconds(every)), floor).is_some()
        });
        assert_eq!(told, expected, "{rows:?}");
    }

    /// Derived from the rule: six that agree, three of a hand, sixteen that do not agree; none
    /// while the voltage falls, and none of what is lost in the digits.
    #[test]
    fn a_current_against_the_voltage_is_told_and_what_falls_or_is_noise_is_not() {
        let all = |ua: f64| vec![(50.0, ua); 40];
        check(0.2, &all(-2.2), Some(5));
        check(0.2, &all(2.2), None);
        check(30.0, &all(-2.2), Some(2));
        check(0.2, &all(-0.001), None);
        let doubles: Vec<(f64, f64)> = (0..40).map(|n| (50.0, -(2f64.powi(n)))).collect();
        check(1.0, &doubles, Some(15));
        let noise: Vec<(f64, f64)> =
            (0..400).map(|n| (50.0, if n % 5 == 0 { 0.3 } else { -0.2 })).collect();
        check(0.2, &noise, None);
        let falls: Vec<(f64, f64)> = (0..40).map(|n| (50.0 - f64::from(n), -3.0)).collect();
        check(0.2, &falls, None);
        check(0.2, &vec![(0.5, -3.0); 40], None);
    }
}
