//! Absorption: the power law, its realisation as branches, and what follows from it.
//!
//! The power law itself is an empirical fit (Curie and von Schweidler), good over some decades of
//! time and never down to zero. What is derived from it here is exact, but for
//! [`PowerLaw::branches`], an approximation whose bound is [`BRANCH_ERROR`].

use quantity::{Capacitance, Current, Ratio, Resistance, Time, Voltage, VoltageRate};
use statrs::function::gamma::ln_gamma;

use crate::root;
use crate::transient::Branch;

/// Largest relative error of the current by [`PowerLaw::branches`] within its window, for an
/// exponent from 0.05 to 2. Derived: the trapezoidal sum's own bound, and tested against it.
pub const BRANCH_ERROR: f64 = 0.005;

/// Bend of three readings, over the first, below which they do not part. Common practice, no
/// source.
const LEAST_BEND: f64 = 1e-3;

/// Branches to a decade of time.
const BRANCHES_A_DECADE: f64 = 2.5;

/// The law of absorption current after a step: i = C·K·ΔV·t⁻ⁿ.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PowerLaw {
    /// K, `[s^(n−1)]`.
    pub strength: f64,
    /// n, `[1]`.
    pub exponent: f64,
}

impl PowerLaw {
    /// Absorption current some time after a step of voltage.
    ///
    /// - `capacitance` `[F]`, `step` `[V]`, `age` time since the step `[s]`, above 0
    /// - returns `[A]`
    ///
    /// i = C·K·ΔV·t⁻ⁿ
    ///
    /// # Source
    /// The Curie–von Schweidler law.
    ///
    /// ```
    /// use physics::absorption::PowerLaw;
    /// use quantity::{Capacitance, Time, Voltage};
    /// let law = PowerLaw { strength: 0.02, exponent: 0.8 };
    /// let current = law.after_step(
    ///     Capacitance::from_microfarads(0.25),
    ///     Voltage::from_kilovolts(10.0),
    ///     Time::from_seconds(60.0),
    /// );
    /// // Derived: 3.139944 µA less 1.25 µA of conduction in the same worked staircase.
    /// assert!((current.microamperes() - 1.889944).abs() < 1e-6);
    /// ```
    #[must_use]
    pub fn after_step(&self, capacitance: Capacitance, step: Voltage, age: Time) -> Current {
        let charge = (capacitance * step).coulombs();
        Current::from_amperes(charge * self.strength * age.seconds().powf(-self.exponent))
    }

    /// Absorption current from a ramp that began `oldest` ago and ended `youngest` ago.
    ///
    /// - `capacitance` `[F]`, `rate` of the ramp `[V/s]`
    /// - `oldest` and `youngest` `[s]`; a `youngest` of zero is the ramp still on, which the law
    ///   gives a finite current only for n < 1
    /// - returns `[A]`
    ///
    /// i = C·K·a·∫ u⁻ⁿ du from youngest to oldest = C·K·a·(u₂^(1−n) − u₁^(1−n))/(1 − n), or
    /// C·K·a·ln(u₂/u₁) where n = 1
    ///
    /// # Source
    /// Derived: superposition of steps.
    ///
    /// ```
    /// use physics::absorption::PowerLaw;
    /// use quantity::{Capacitance, Time, VoltageRate};
    /// let law = PowerLaw { strength: 0.02, exponent: 0.5 };
    /// let current = law.after_ramp(
    ///     Capacitance::from_microfarads(1.0),
    ///     VoltageRate::from_kilovolts_per_second(1.0),
    ///     Time::from_seconds(4.0),
    ///     Time::ZERO,
    /// );
    /// // Derived: 1e-6·0.02·1000·√4/0.5 = 80 µA.
    /// assert!((current.microamperes() - 80.0).abs() < 1e-9);
    /// ```
    #[must_use]
    pub fn after_ramp(
        &self,
        capacitance: Capacitance,
        rate: VoltageRate,
        oldest: Time,
        youngest: Time,
    ) -> Current {
        let aged = aged(self.exponent, oldest.seconds(), youngest.seconds());
        capacitance * rate * (self.strength * aged)
    }

    /// Charge that absorption takes up between two ages after a step, over that of the capacitance.
    ///
    /// - `from` and `to` ages `[s]`, 0 < `from`; zero where `to` is not after it
    /// - returns `[1]`
    ///
    /// K·∫ t⁻ⁿ dt
    ///
    /// # Source
    /// Derived.
    ///
    /// ```
    /// use physics::absorption::PowerLaw;
    /// use quantity::Time;
    /// let law = PowerLaw { strength: 0.02, exponent: 0.8 };
    /// let share = law.taken_up(Time::from_seconds(1.0), Time::from_hours(1.0));
    /// // Derived: 0.02·(3600^0.2 − 1)/0.2.
    /// assert!((share.value() - 0.414_352).abs() < 1e-6);
    /// ```
    #[must_use]
    pub fn taken_up(&self, from: Time, to: Time) -> Ratio {
        Ratio::from_value(self.strength * aged(self.exponent, to.seconds(), from.seconds()))
    }

    /// Branches whose currents after a step add up to this law between the ages `from` and `to`.
    ///
    /// - `capacitance` of the object `[F]`; `from` and `to` `[s]`
    /// - returns branches at 0 V, fastest first, 2.5 a decade over the window and 2.6 decades more;
    ///   within it the current is right to [`BRANCH_ERROR`], outside it is not meant to be
    ///
    /// t⁻ⁿ = ∫ u^(n−1)·e^(−ut) du / Γ(n), as a trapezoidal sum in ln u; what lies below the window
    /// is one branch with the same current and the same first slope
    ///
    /// # Source
    /// Derived from the integral of Γ.
    ///
    /// # Panics
    /// When 0 < `from` < `to` does not hold, the exponent is not within 0 to 2, or the strength is
    /// below zero.
    ///
    /// ```
    /// use physics::absorption::{BRANCH_ERROR, PowerLaw};
    /// use quantity::{Capacitance, Time, Voltage};
    /// let (law, c) = (PowerLaw { strength: 0.02, exponent: 0.8 }, Capacitance::from_farads(1e-7));
    /// let branches = law.branches(c, Time::from_seconds(1.0), Time::from_hours(1.0));
    /// let sum: f64 = branches
    ///     .iter()
    ///     .map(|b| (-60.0 / b.time_constant().seconds()).exp() / b.resistance.ohms())
    ///     .sum();
    /// let exact = law.after_step(c, Voltage::from_volts(1.0), Time::from_seconds(60.0));
    /// assert!((sum / exact.amperes() - 1.0).abs() < BRANCH_ERROR);
    /// ```
    #[must_use]
    pub fn branches(&self, capacitance: Capacitance, from: Time, to: Time) -> Vec<Branch> {
        let (from, to, n) = (from.seconds(), to.seconds(), self.exponent);
        assert!(0.0 < from && from < to && to.is_finite(), "a window of ages {from} to {to} s");
        assert!(n > 0.0 && n <= 2.0, "an exponent from 0 to 2, not {n}");
        assert!(self.strength >= 0.0, "a strength of 0 or more, not {}", self.strength);
        if self.strength == 0.0 {
            return Vec::new();
        }
        let spacing = std::f64::consts::LN_10 / BRANCHES_A_DECADE;
        let (slowest, fastest) = (0.05 / to, 20.0 / from);
        let count = ((fastest / slowest).ln() / spacing).ceil() as u32;
        let scale = capacitance.farads() * self.strength * (-ln_gamma(n)).exp() * spacing;
        // A branch at the rate u carries C·K·h·uⁿ/Γ(n) amperes for a step of one volt.
        let branch = |rate: f64, siemens: f64| Branch {
            resistance: Resistance::from_ohms(1.0 / siemens),
            capacitance: Capacitance::from_farads(siemens / rate),
            start: Voltage::ZERO,
        };
        let mut branches: Vec<Branch> = (0..=count)
            .rev()
            .map(|k| slowest * (spacing * f64::from(k)).exp())
            .map(|rate| branch(rate, scale * rate.powf(n)))
            .collect();
        // The rest of the sum, k = −1, −2 …, is a geometric series: its sum and its mean rate.
        let below = |power: f64| 1.0 / (spacing * power).exp_m1();
        let rate = slowest * below(n + 1.0) / below(n);
        branches.push(branch(rate, scale * slowest.powf(n) * below(n)));
        branches
    }
}

/// ∫ u⁻ⁿ du between two ages, without loss near n = 1.
pub(crate) fn aged(exponent: f64, oldest: f64, youngest: f64) -> f64 {
    let power = 1.0 - exponent;
    if oldest <= youngest {
        return 0.0;
    }
    if youngest <= 0.0 {
        return if power > 0.0 { oldest.powf(power) / power } else { f64::INFINITY };
    }
    let spread = (oldest / youngest).ln();
    let grown = power * spread;
    let part = if grown.abs() < 1e-8 { 1.0 + 0.5 * grown } else { grown.exp_m1() / grown };
    youngest.powf(power) * spread * part
}

/// Ratio of the current at one age to that at a later one: the polarization index for 1 and
/// 10 min, the absorption ratio for 30 and 60 s.
///
/// - `exponent` n of the power law; `earlier` and `later` `[s]`
/// - `share` absorption over conduction at `earlier`; `None` without conduction
/// - returns `[1]`
///
/// (q + 1)/(q·(t₁/t₂)ⁿ + 1), or (t₂/t₁)ⁿ
///
/// # Source
/// Derived.
///
/// ```
/// use physics::absorption::index;
/// use quantity::Time;
/// let (minute, ten) = (Time::from_minutes(1.0), Time::from_minutes(10.0));
/// // Derived: 10^0.7.
/// assert!((index(0.7, minute, ten, None).value() - 5.011872).abs() < 1e-6);
/// ```
#[must_use]
pub fn index(exponent: f64, earlier: Time, later: Time, share: Option<f64>) -> Ratio {
    let fallen = (earlier / later).powf(exponent);
    Ratio::from_value(share.map_or(1.0 / fallen, |q| (q + 1.0) / (q * fallen + 1.0)))
}

/// Conduction parted from absorption by three readings whose times stand in one ratio.
///
/// - `readings` at t, r·t and r²·t after one step of voltage `[A]`
/// - returns `[A]`; `None` where the readings do not part: the current does not fall, or falls as a
///   straight line in log time does
///
/// I_c = (i₀·i₂ − i₁²)/(i₀ + i₂ − 2·i₁)
///
/// # Source
/// Derived: with i = I_c + b·t⁻ⁿ, (i₁ − I_c)² = (i₀ − I_c)(i₂ − I_c). That IEEE 95 prints it for
/// times in the ratio √10 is from memory, unverified.
///
/// ```
/// use physics::absorption::conduction_of_three;
/// use quantity::Current;
/// let read = [10.0, 5.577709, 3.6].map(Current::from_microamperes);
/// // Derived: a conduction of 2 µA and 8 µA of absorption that falls to a fifth in a decade.
/// let conduction = conduction_of_three(read).expect("they part");
/// assert!((conduction.microamperes() - 2.0).abs() < 1e-6);
/// ```
#[must_use]
pub fn conduction_of_three(readings: [Current; 3]) -> Option<Current> {
    let [first, middle, last] = readings.map(Current::amperes);
    let bend = first + last - 2.0 * middle;
    let falls = first > middle && middle > last && last > 0.0;
    if !falls || bend <= LEAST_BEND * first {
        return None;
    }
    let conduction = (first * last - middle * middle) / bend;
    (conduction < last).then(|| Current::from_amperes(conduction))
}

/// Absorption at one age over that at a later one, once conduction is parted from both.
///
/// - `early`, `late` the two readings and `conduction` `[A]`
/// - returns `[1]`; `None` where absorption does not fall
///
/// N = (i₁ − I_c)/(i₂ − I_c)
///
/// # Source
/// Derived; for 1 and 10 min it is the absorption ratio of IEEE 95, from memory, unverified.
///
/// ```
/// use physics::absorption::absorption_ratio;
/// use quantity::Current;
/// let [early, late, conduction] = [10.0, 3.6, 2.0].map(Current::from_microamperes);
/// assert_eq!(absorption_ratio(early, late, conduction).map(|n| n.value()), Some(5.0));
/// ```
#[must_use]
pub fn absorption_ratio(early: Current, late: Current, conduction: Current) -> Option<Ratio> {
    let (early, late) = (early - conduction, late - conduction);
    (late > Current::ZERO && early > late).then(|| Ratio::from_value(early / late))
}

/// How long to stay on each step so that the absorption current at its end is in proportion to the
/// voltage: what then bends the current against voltage is not absorption.
///
/// - `exponent` n; `first` time on the first step `[s]`
/// - `increment` of each later step, in parts of the first; `steps` how many in all
/// - returns the time on each step `[s]`
///
/// Σ ΔV_k·(t − t_k)⁻ⁿ = (V/V₁)·V₁·t₁⁻ⁿ at the end of each step
///
/// # Source
/// Derived from superposition. It is no published table.
///
/// # Panics
/// When the exponent, the first time or the increment is not above zero.
///
/// ```
/// use physics::absorption::graded_times;
/// use quantity::Time;
/// // Derived: n = 1 (an absorption ratio of ten), second step 4.082 min.
/// let times = graded_times(1.0, Time::from_minutes(10.0), 0.2, 11);
/// assert!((times[1].minutes() - 4.082).abs() < 1e-3);
/// ```
#[must_use]
pub fn graded_times(exponent: f64, first: Time, increment: f64, steps: usize) -> Vec<Time> {
    assert!(exponent > 0.0 && first > Time::ZERO && increment > 0.0, "all above zero");
    // In units of the first time: when each step began, and how high it was.
    let mut begun = vec![(0.0, 1.0)];
    let mut times = vec![first; steps.min(1)];
    let mut now = 1.0;
    let mut level = 1.0;
    while times.len() < steps {
        begun.push((now, increment));
        level += increment;
        let excess = |dwell: f64| {
            let currents = begun.iter().map(|(at, step)| step * (now + dwell - at).powf(-exponent));
            currents.sum::<f64>() - level
        };
        let mut long = 1.0;
        while excess(long) > 0.0 {
            long *= 2.0;
        }
        let dwell = root::between(excess, 1e-9, long, 1e-13);
        times.push(first * dwell);
        now += dwell;
    }
    times
}

#[cfg(test)]
mod tests {
    use super::*;

    const MINUTE: Time = Time::from_minutes(1.0);

    #[test]
    fn branches_keep_to_their_bound() {
        // Derived: the law itself.
        for tenths in [1, 4, 10, 14, 16, 20, 24, 30, 40] {
            let law = PowerLaw { strength: 0.03, exponent: 0.05 * f64::from(tenths) };
            let farads = Capacitance::from_nanofarads(300.0);
            let branches = law.branches(farads, Time::from_seconds(2.0), Time::from_hours(3.0));
            assert!(branches.len() <= 24, "{}", branches.len());
            for k in 0..=200 {
                let age = 2.0 * 5400.0_f64.powf(f64::from(k) / 200.0);
                let sum: f64 = branches
                    .iter()
                    .map(|b| (-age / b.time_constant().seconds()).exp() / b.resistance.ohms())
                    .sum();
                let volt = Voltage::from_volts(1.0);
                let exact = law.after_step(farads, volt, Time::from_seconds(age)).amperes();
                let error = sum / exact - 1.0;
                assert!(error.abs() < BRANCH_ERROR, "n {} age {age}: {error}", law.exponent);
            }
        }
    }

    #[test]
    fn a_ramp_is_a_sum_of_small_steps() {
        // Derived: a ramp of 1 V/s from 70 s to 60 s ago as 10,000 steps at their middles.
        for exponent in [0.5, 0.999_999_999, 1.0, 1.000_000_001, 1.4] {
            let law = PowerLaw { strength: 1.0, exponent };
            let farad = Capacitance::from_farads(1.0);
            let rate = VoltageRate::from_volts_per_second(1.0);
            let ramp = law.after_ramp(farad, rate, Time::from_seconds(70.0), MINUTE);
            let steps: f64 = (0..10_000)
                .map(|k| 60.0 + (f64::from(k) + 0.5) * 1e-3)
                .map(|age| 1e-3 * age.powf(-exponent))
                .sum();
            assert!((ramp.amperes() / steps - 1.0).abs() < 1e-9, "n {exponent}");
        }
    }

    #[test]
    fn indices_of_the_power_law() {
        let ten = MINUTE * 10.0;
        let half = MINUTE * 0.5;
        let check = |found: Ratio, expected: f64| {
            assert!((found.value() - expected).abs() < 6e-5, "{} {expected}", found.value());
        };
        // Derived: 10ⁿ and 2ⁿ.
        for (n, polarization, absorption) in
            [(0.5, 3.162278, 2.0_f64.sqrt()), (0.7, 5.011872, 1.624505), (0.9, 7.943282, 1.866066)]
        {
            check(index(n, MINUTE, ten, None), polarization);
            check(index(n, half, MINUTE, None), absorption);
        }
        // Derived: n 0.7 with absorption 1, 5 and 10 times conduction at one minute.
        for (share, expected) in [(1.0, 1.6673), (5.0, 3.0036), (10.0, 3.6725)] {
            check(index(0.7, MINUTE, ten, Some(share)), expected);
        }
    }

    #[test]
    fn graded_times_of_eight_absorption_ratios() {
        // Derived: the same condition solved by a second program; minutes for steps 2 and 11, and
        // in all.
        let table = [
            (2.0, 3.235, 1.328, 29.947),
            (3.0, 3.456, 1.477, 31.730),
            (4.0, 3.610, 1.592, 33.054),
            (5.0, 3.728, 1.686, 34.108),
            (6.0, 3.823, 1.766, 34.987),
            (8.0, 3.970, 1.897, 36.398),
            (10.0, 4.082, 2.003, 37.510),
            (15.0, 4.281, 2.202, 39.558),
        ];
        for (ratio, second, last, total) in table {
            let ratio: f64 = ratio;
            let times = graded_times(ratio.log10(), MINUTE * 10.0, 0.2, 11);
            let sum: f64 = times.iter().map(|time| time.minutes()).sum();
            for (found, expected) in
                [(times[1].minutes(), second), (times[10].minutes(), last), (sum, total)]
            {
                assert!((found - expected).abs() < 6e-4, "{ratio}: {found}, not {expected}");
            }
        }
    }
}
