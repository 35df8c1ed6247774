//! What a discharged object gives back, and what that says of its losses.
//!
//! After a charge of some length an object that is shorted gives back what its absorption took.
//! Conduction does not come back: that tells the two apart. Loss at low frequency follows from
//! either current by Hamon's approximation, whose error is known for a power law.

use std::f64::consts::{FRAC_PI_2, PI};

use quantity::{Capacitance, Current, Ratio, Time, Voltage};
use statrs::function::gamma::ln_gamma;

use crate::absorption::{PowerLaw, aged};
use crate::transient::Branch;

/// Exponents for which Hamon's approximation is in use; within them it errs by 3 % at most.
/// From memory, unverified; the error is derived.
pub const HAMON_EXPONENTS: (f64, f64) = (0.3, 1.2);

/// 2π·0.1: angular frequency times age in Hamon's approximation.
const HAMON: f64 = 0.2 * PI;

/// Why a current over time cannot be summed.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum NoCharge {
    /// The columns differ in length.
    #[error("the columns of readings differ in length")]
    Lengths,
    /// Fewer than two readings.
    #[error("take at least 2 readings; there are {0}")]
    TooFew(usize),
    /// Not a number, or not later than the one before and above zero.
    #[error("reading {} cannot be used: times must be above 0 and grow, each with a current",
            .0 + 1)]
    Unusable(usize),
    /// No voltage to divide by.
    #[error("give the voltage as a number above 0")]
    NoVoltage,
}

/// Capacitance as it grows with time: the charge since the first reading over the voltage.
///
/// - `times_s` since the step or the short `[s]`, rising; `amperes` of charge or discharge `[A]`,
///   conduction taken off; `voltage` of the charge `[V]`
/// - returns C(t) less C(t₁) at each reading `[F]`; the first is zero, since nothing tells what
///   flowed before it
///
/// C(t) − C(t₁) = ∫ i dt / U, between two readings of one sign by the power law through both,
/// which is exact for a single power law however far apart they are, else by a straight line
///
/// # Source
/// Definition of capacitance; the rule of integration is derived.
///
/// # Errors
/// When a reading or the voltage cannot be used.
///
/// ```
/// use physics::depolarization::capacitance_growth;
/// use quantity::Voltage;
/// // Derived: ∫ 1 µA·√(1 s/t) dt from 1 s to 100 s is 18 µC; at 1 kV that is 18 nF.
/// let grown = capacitance_growth(&[1.0, 100.0], &[1e-6, 1e-7], Voltage::from_kilovolts(1.0));
/// assert!((grown.expect("two readings")[1].nanofarads() - 18.0).abs() < 1e-9);
/// ```
pub fn capacitance_growth(
    times_s: &[f64],
    amperes: &[f64],
    voltage: Voltage,
) -> Result<Vec<Capacitance>, NoCharge> {
    if times_s.len() != amperes.len() {
        return Err(NoCharge::Lengths);
    }
    if times_s.len() < 2 {
        return Err(NoCharge::TooFew(times_s.len()));
    }
    let later = |k: usize| times_s[k] > if k == 0 { 0.0 } else { times_s[k - 1] };
    let usable = |k: usize| later(k) && times_s[k].is_finite() && amperes[k].is_finite();
    if let Some(bad) = (0..times_s.len()).find(|&k| !usable(k)) {
        return Err(NoCharge::Unusable(bad));
    }
    if !(voltage > Voltage::ZERO && voltage.is_finite()) {
        return Err(NoCharge::NoVoltage);
    }
    let mut coulombs = 0.0;
    let mut grown = vec![Capacitance::ZERO];
    for k in 1..times_s.len() {
        coulombs += between((times_s[k - 1], amperes[k - 1]), (times_s[k], amperes[k]));
        grown.push(Capacitance::from_farads(coulombs / voltage.volts()));
    }
    Ok(grown)
}

/// Charge between two readings.
fn between((t0, i0): (f64, f64), (t1, i1): (f64, f64)) -> f64 {
    if i0 * i1 <= 0.0 {
        return 0.5 * (i0 + i1) * (t1 - t0);
    }
    let exponent = (i0 / i1).ln() / (t1 / t0).ln();
    // i₀·t₀ⁿ·∫ u⁻ⁿ du, in units of t₀ so that no power overflows.
    i0 * t0 * aged(exponent, t1 / t0, 1.0)
}

/// Current that a power law's absorption gives into a short.
///
/// - `law`, `capacitance` `[F]`, `voltage` of the charge `[V]`, `charged` how long `[s]`, `since`
///   the short `[s]`, above 0
/// - returns `[A]`, positive where it flows out of the object
///
/// i = C·K·U·(t⁻ⁿ − (t + t_c)⁻ⁿ)
///
/// # Source
/// Derived: superposition of the charge and of its end.
///
/// ```
/// use physics::absorption::PowerLaw;
/// use physics::depolarization::of_power_law;
/// use quantity::{Capacitance, Time, Voltage};
/// let law = PowerLaw { strength: 0.02, exponent: 1.0 };
/// let (c, u) = (Capacitance::from_microfarads(1.0), Voltage::from_kilovolts(1.0));
/// let current = of_power_law(&law, c, u, Time::from_seconds(90.0), Time::from_seconds(10.0));
/// // Derived: 20 µA·(1/10 − 1/100).
/// assert!((current.microamperes() - 1.8).abs() < 1e-12);
/// ```
#[must_use]
pub fn of_power_law(
    law: &PowerLaw,
    capacitance: Capacitance,
    voltage: Voltage,
    charged: Time,
    since: Time,
) -> Current {
    law.after_step(capacitance, voltage, since)
        - law.after_step(capacitance, voltage, since + charged)
}

/// Current that absorption branches give into a short.
///
/// - `branches`, empty before the charge; `voltage` of the charge `[V]`, `charged` how long `[s]`,
///   `since` the short `[s]`
/// - returns `[A]`, positive where it flows out of the object
///
/// i = Σ U/R_j·(1 − e^(−t_c/τ_j))·e^(−t/τ_j)
///
/// # Source
/// Derived; the extended Debye circuit.
///
/// ```
/// use physics::depolarization::of_branches;
/// use physics::transient::Branch;
/// use quantity::{Capacitance, Resistance, Time, Voltage};
/// let branch = Branch {
///     resistance: Resistance::from_megohms(5e3),
///     capacitance: Capacitance::from_nanofarads(2.0),
///     start: Voltage::ZERO,
/// };
/// let (charged, since) = (Time::from_seconds(1000.0), Time::from_seconds(10.0));
/// let current = of_branches(&[branch], Voltage::from_kilovolts(1.0), charged, since);
/// // Derived: 200 nA/e.
/// assert!((current.microamperes() - 0.073_575_888).abs() < 1e-9);
/// ```
#[must_use]
pub fn of_branches(branches: &[Branch], voltage: Voltage, charged: Time, since: Time) -> Current {
    let amperes = branches.iter().map(|branch| {
        let tau = branch.time_constant();
        let taken = -(-(charged / tau)).exp_m1();
        (voltage / branch.resistance).amperes() * taken * (-(since / tau)).exp()
    });
    Current::from_amperes(amperes.sum())
}

/// Conduction from a charging and a discharging current of one age.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PairConduction {
    /// The difference of the two: conduction is no more than this, since absorption that the charge
    /// did not finish is still in it.
    pub at_most: Current,
    /// The same with that rest taken off by a power law of known exponent.
    pub by_law: Option<Current>,
}

/// Conduction from the currents of charge and discharge at the same age.
///
/// - `charging` so long after the step, `discharging` as long after the short, both as amounts
///   `[A]`; `age` of both, `charged` how long the charge was `[s]`
/// - `exponent` n of the absorption, if it is known
/// - returns the difference, an upper bound that is close where `charged` is long against `age`,
///   and with an exponent the exact value for that law
///
/// I ≤ i_p − i_d = I + f(t + t_c); with a power law f(t + t_c) = i_d·r/(1 − r), r = (t/(t + t_c))ⁿ
///
/// # Source
/// Derived: absorption comes back and conduction does not.
///
/// ```
/// use physics::depolarization::conduction_from_pair;
/// use quantity::{Current, Time};
/// // Derived: 20 µA/t of absorption beside 1 µA, charged for 90 s, read at 10 s.
/// let (age, charged) = (Time::from_seconds(10.0), Time::from_seconds(90.0));
/// let [charging, discharging] = [3.0, 1.8].map(Current::from_microamperes);
/// let found = conduction_from_pair(charging, discharging, age, charged, Some(1.0));
/// assert!((found.at_most.microamperes() - 1.2).abs() < 1e-12);
/// assert!((found.by_law.expect("n is given").microamperes() - 1.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn conduction_from_pair(
    charging: Current,
    discharging: Current,
    age: Time,
    charged: Time,
    exponent: Option<f64>,
) -> PairConduction {
    let at_most = charging - discharging;
    let left = |exponent: f64| {
        // r/(1 − r), without loss where r is near one.
        let fallen = exponent * (charged / age).ln_1p();
        discharging * (1.0 / fallen.exp_m1())
    };
    PairConduction { at_most, by_law: exponent.map(|exponent| at_most - left(exponent)) }
}

/// Loss at one low frequency.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Loss {
    /// At which frequency, `[Hz]`.
    pub frequency_hz: f64,
    /// Imaginary part of the complex capacitance, C″.
    pub capacitance: Capacitance,
}

impl Loss {
    /// tan δ with the capacitance that stores: C″/C′.
    #[must_use]
    pub fn tangent(&self, storing: Capacitance) -> Ratio {
        Ratio::from_value(self.capacitance / storing)
    }
}

/// Loss at low frequency from a current some time after a step, by Hamon's approximation.
///
/// - `current` of absorption, conduction or both `[A]`, `voltage` of the step `[V]`, `age` `[s]`
/// - returns the loss at f = 0.1/t; for exponents within [`HAMON_EXPONENTS`] it errs by 3 % at
///   most, see [`hamon_ratio`]; for conduction it is exact. From a discharge current only where
///   the charge was long against `age`
///
/// C″ = i·t/(0.2π·U) at f = 0.1/t
///
/// # Source
/// B. V. Hamon, An approximate method for deducing dielectric loss factor from direct-current
/// measurements, Proc. IEE 99 IV, 1952; from memory, unverified. Its error is derived.
///
/// ```
/// use physics::depolarization::hamon;
/// use quantity::{Capacitance, Current, Time, Voltage};
/// // Derived: 5 nA at 100 s and 1 kV beside 100 nF: 0.79577 nF and 0.00796 at 1 mHz.
/// let (i, u) = (Current::from_microamperes(5e-3), Voltage::from_kilovolts(1.0));
/// let loss = hamon(i, u, Time::from_seconds(100.0));
/// assert!((loss.frequency_hz - 1e-3).abs() < 1e-18);
/// let tangent = loss.tangent(Capacitance::from_nanofarads(100.0)).value();
/// assert!((tangent - 7.957_747e-3).abs() < 1e-9);
/// ```
#[must_use]
pub fn hamon(current: Current, voltage: Voltage, age: Time) -> Loss {
    let farads = current.amperes() * age.seconds() / (HAMON * voltage.volts());
    Loss { frequency_hz: 0.1 / age.seconds(), capacitance: Capacitance::from_farads(farads) }
}

/// What Hamon's approximation gives over what a power law's loss is at that frequency.
///
/// - `exponent` n, 0 < n < 2
/// - returns `[1]`; divide by it where the exponent is known
///
/// (0.2π)⁻ⁿ / (Γ(1 − n)·cos(nπ/2))
///
/// # Source
/// Derived: Fourier transform of t⁻ⁿ.
///
/// ```
/// use physics::depolarization::hamon_ratio;
/// // Derived: (0.2π)^(−1/2)·√(2/π).
/// assert!((hamon_ratio(0.5).value() - 1.006_584).abs() < 1e-6);
/// ```
#[must_use]
pub fn hamon_ratio(exponent: f64) -> Ratio {
    Ratio::from_value(HAMON.powf(-exponent) / transform(exponent))
}

/// Angular frequency times age at which a power law's loss is i/(ω·U) exactly.
///
/// - `exponent` n, 0 < n < 2
/// - returns ω·t `[1]`; Hamon's approximation takes 0.628 for any exponent
///
/// ω·t = (Γ(1 − n)·cos(nπ/2))^(−1/n)
///
/// # Source
/// Derived: Fourier transform of t⁻ⁿ.
///
/// ```
/// use physics::depolarization::exact_phase;
/// // Derived: 2/π.
/// assert!((exact_phase(0.5) - 0.636_620).abs() < 1e-6);
/// ```
#[must_use]
pub fn exact_phase(exponent: f64) -> f64 {
    transform(exponent).powf(-1.0 / exponent)
}

/// Γ(1 − n)·cos(nπ/2), by the reflection formula so that n = 1 is no pole.
fn transform(exponent: f64) -> f64 {
    FRAC_PI_2 / (ln_gamma(exponent).exp() * (exponent * FRAC_PI_2).sin())
}

#[cfg(test)]
mod tests {
    use quantity::Resistance;

    use super::*;

    fn seconds(t: f64) -> Time {
        Time::from_seconds(t)
    }

    fn nano(amperes: f64) -> Current {
        Current::from_amperes(1e-9 * amperes)
    }

    fn close(found: f64, expected: f64, tolerance: f64) {
        assert!((found - expected).abs() <= tolerance, "{found}, not {expected}");
    }

    /// Source: derived, to the digits given: n, ω·t, f·t, Hamon over exact.
    #[test]
    fn hamon_errs_as_the_table_says() {
        for (n, phase, turn, ratio) in [
            (0.1, 0.58282, 0.09276, 0.9925),
            (0.3, 0.61577, 0.09800, 0.9940),
            (0.5, 2.0 / PI, 0.10132, 1.0066),
            (0.7, 0.64577, 0.10278, 1.0194),
            (0.8, 0.64589, 0.10280, 1.0223),
            (0.9, 0.64290, 0.10232, 1.0209),
            (1.1, 0.62680, 0.09976, 0.9973),
            (1.2, 0.61307, 0.09757, 0.9709),
            (1.5, 0.54193, 0.08625, 0.8010),
        ] {
            close(exact_phase(n), phase, 6e-6);
            close(exact_phase(n) / (2.0 * PI), turn, 6e-6);
            close(hamon_ratio(n).value(), ratio, 6e-5);
        }
        // Derived: at n = 1 the transform is π/2.
        close(exact_phase(1.0), 1.0 / FRAC_PI_2, 1e-14);
        for k in 0..=90 {
            let n = HAMON_EXPONENTS.0 + 0.01 * f64::from(k);
            close(hamon_ratio(n).value(), 1.0, 0.03);
        }
    }

    /// Source: derived: 5 nA at 100 s, 1 kV, 100 nF.
    #[test]
    fn loss_at_a_millihertz() {
        let (i, u) = (Current::from_microamperes(5e-3), Voltage::from_kilovolts(1.0));
        let loss = hamon(i, u, seconds(100.0));
        close(loss.capacitance.farads(), 7.957_747e-10, 1e-16);
        close(loss.tangent(Capacitance::from_nanofarads(100.0)).value(), 7.957_747e-3, 1e-9);
        // Derived: a resistance alone loses G/ω whatever its current's age.
        let constant = hamon(nano(20.0), u, seconds(300.0));
        let omega = 2.0 * PI * constant.frequency_hz;
        close(constant.capacitance.farads() * omega / 20e-12, 1.0, 1e-12);
    }

    fn debye() -> Vec<Branch> {
        [(5.0, 2.0), (20.0, 5.0), (100.0, 10.0)]
            .map(|(gigohms, nanofarads)| Branch {
                resistance: Resistance::from_megohms(1e3 * gigohms),
                capacitance: Capacitance::from_nanofarads(nanofarads),
                start: Voltage::ZERO,
            })
            .to_vec()
    }

    /// Source: derived: three branches of 10, 100 and 1000 s beside 50 GΩ, 1 kV for 1000 s; age,
    /// charge and discharge current in nanoamperes.
    const PAIRS: [(f64, f64, f64); 5] = [
        (1.0, 260.459_980, 236.782_615),
        (10.0, 148.718_257, 125.074_014),
        (100.0, 47.451_426, 24.121_880),
        (600.0, 25.612_054, 3.593_083),
        (1000.0, 23.681_064, 2.327_711),
    ];

    #[test]
    fn branches_give_back_what_they_took() {
        let (branches, volts) = (debye(), Voltage::from_kilovolts(1.0));
        let charged = seconds(1000.0);
        for (age, charging, discharging) in PAIRS {
            let back = of_branches(&branches, volts, charged, seconds(age));
            close(back.microamperes() * 1e3, discharging, 1e-6);
            // A charge without end gives back all that flowed in beside conduction.
            let all = of_branches(&branches, volts, seconds(1e9), seconds(age));
            close(all.microamperes() * 1e3 + 20.0, charging, 1e-6);
        }
    }

    #[test]
    fn a_pair_bounds_conduction_and_the_law_makes_it_exact() {
        let pair = |(age, charging, discharging): (f64, f64, f64), exponent| {
            let (age, charged) = (seconds(age), seconds(1000.0));
            conduction_from_pair(nano(charging), nano(discharging), age, charged, exponent)
        };
        // Derived: 20 nA of conduction; what the charge did not finish is still in it.
        close(pair(PAIRS[0], None).at_most.microamperes() * 1e3, 23.677_365, 1e-6);
        close(pair(PAIRS[4], None).at_most.microamperes() * 1e3, 21.353_353, 1e-6);
        // Derived: 2 + 8·(t/60)^(−0.7) µA, charged for 600 s.
        let law = |t: f64| 8.0 * (t / 60.0).powf(-0.7);
        for t in [1.0, 60.0, 3000.0] {
            let (charging, back) = (2.0 + law(t), law(t) - law(t + 600.0));
            let [charging, back] = [charging, back].map(Current::from_microamperes);
            let found = conduction_from_pair(charging, back, seconds(t), seconds(600.0), Some(0.7));
            close(found.by_law.expect("n is given").microamperes(), 2.0, 1e-12);
            assert!(found.at_most.microamperes() > 2.0);
        }
    }

    #[test]
    fn capacitance_grows_by_the_charge() {
        // Derived: e^(−t/τ) from 0.1 to 1000 s at 40 readings a decade; not exact.
        let times: Vec<f64> = (0..=160).map(|k| 0.1 * 10f64.powf(f64::from(k) / 40.0)).collect();
        let amperes: Vec<f64> = times.iter().map(|t| 2e-7 * (-t / 10.0).exp()).collect();
        let volts = Voltage::from_kilovolts(1.0);
        let grown = capacitance_growth(&times, &amperes, volts).expect("readings");
        let exact = 2.0 * (-0.01f64).exp();
        close(grown[160].nanofarads(), exact, 1e-3 * exact);
        assert_eq!(grown[0], Capacitance::ZERO);
        let check = |times: &[f64], amperes: &[f64], volts: f64, expected| {
            let found = capacitance_growth(times, amperes, Voltage::from_volts(volts));
            assert_eq!(found, Err(expected));
        };
        check(&[1.0], &[1.0, 2.0], 1.0, NoCharge::Lengths);
        check(&[1.0], &[1.0], 1.0, NoCharge::TooFew(1));
        check(&[1.0, 1.0], &[1.0, 1.0], 1.0, NoCharge::Unusable(1));
        check(&[0.0, 1.0], &[1.0, 1.0], 1.0, NoCharge::Unusable(0));
        check(&[1.0, 2.0], &[1.0, f64::NAN], 1.0, NoCharge::Unusable(1));
        check(&[1.0, 2.0], &[1.0, 1.0], 0.0, NoCharge::NoVoltage);
    }
}
