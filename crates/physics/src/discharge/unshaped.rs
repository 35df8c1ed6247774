//! How long to ground an object of which the absorbed charge is known as a whole, and not how it
//! is spread over time.

use quantity::{Ratio, Time, Voltage};

use super::Held;
use crate::root;
use crate::transient::{Input, TransientError, not_negative, positive};

/// Time constants that are tried at first: the slowest, and each this part of the one before.
const NEXT: f64 = 0.9;
/// The last of them, over the shortest of the times that the matter has.
const LAST: f64 = 1e-3;
/// Never more of them.
const MOST_TRIED: f64 = 700.0;

/// Absorption of which no law is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unshaped {
    /// Capacitance of all its branches together, over that of the object.
    pub share: Ratio,
    /// None of its time constants is longer.
    pub slowest: Time,
    /// Insulation resistance times capacitance of the object; `None` where nothing is conducted.
    pub decay: Option<Time>,
}

/// A dead short after which such an object, left open, does not come back above `limit`.
///
/// - `held` the voltage and how long the object was held at it, at the most `[V]`, `[s]`
/// - `absorbed` what is known of its absorption; `limit` the voltage not to be exceeded `[V]`
/// - returns `[s]`, the time for the worst single branch that takes the whole share
///
/// t = max over τ ≤ τ_slowest of τ·ln(V·(1 − e^(−T/τ))·p/V_limit), where p is the peak of the open
/// object for one volt on its branch: F/τ·(e^(−λ₁·t) − e^(−λ₂·t))/(λ₂ − λ₁) at its turn, and
/// F/(1 + F) without conduction
///
/// No spread over several branches comes higher. Without conduction this is exact: with every
/// branch at the highest voltage u of any, the object is at u less the relaxation of a charged
/// capacitance into empty branches, which falls to u/(1 + F) and never turns. With conduction it is
/// so to first order in F, where what comes back is linear in the shares, and is tested beyond.
///
/// # Source
/// Derived: Kirchhoff's laws.
///
/// # Errors
/// When a quantity is out of its range.
///
/// ```
/// use physics::discharge::{Held, Unshaped, ground_time_unshaped};
/// use quantity::{Ratio, Time, Voltage};
/// let held =
///     Held { voltage: Voltage::from_kilovolts(25.0), over: Time::from_seconds(1200.0) };
/// let absorbed = Unshaped {
///     share: Ratio::from_value(0.05),
///     slowest: Time::from_seconds(6000.0),
///     decay: None,
/// };
/// let limit = Voltage::from_volts(50.0);
/// let time = ground_time_unshaped(held, absorbed, limit).expect("sound");
/// // Derived by arithmetic, the slowest branch being the worst: 6000 s·ln(25 kV·(1 − e^(−1/5))
/// // ·(0.05/1.05)/50 V).
/// assert!((time.seconds() - 8773.8832).abs() < 1e-3);
/// ```
pub fn ground_time_unshaped(
    held: Held,
    absorbed: Unshaped,
    limit: Voltage,
) -> Result<Time, TransientError> {
    not_negative(Input::HeldVoltage, held.voltage.volts())?;
    not_negative(Input::HeldTime, held.over.seconds())?;
    not_negative(Input::AbsorbedShare, absorbed.share.value())?;
    positive(Input::SlowestBranch, absorbed.slowest.seconds())?;
    absorbed.decay.map_or(Ok(()), |decay| positive(Input::Decay, decay.seconds()))?;
    positive(Input::ReboundLimit, limit.volts())?;
    let (share, slowest) = (absorbed.share.value(), absorbed.slowest.seconds());
    if share == 0.0 || held.over == Time::ZERO || held.voltage == Voltage::ZERO {
        return Ok(Time::ZERO);
    }
    let leak = absorbed.decay.map_or(0.0, |decay| 1.0 / decay.seconds());
    let (volts, held) = (held.voltage / limit, held.over.seconds());
    // By the logarithm of the time constant over the slowest.
    let short = |x: f64| {
        let tau = slowest * x.exp();
        tau * (volts * -(-held / tau).exp_m1() * peak(share, tau, leak)).ln()
    };
    let step = NEXT.ln();
    let shortest = slowest.min(held).min(absorbed.decay.map_or(held, Time::seconds));
    let tries = ((LAST * shortest / slowest).ln() / step).ceil().min(MOST_TRIED);
    let tried = (0..=tries as u32).map(|k| f64::from(k) * step);
    let worst = tried.fold(0.0, |worst, x| if short(x) > short(worst) { x } else { worst });
    let found = short(root::peak(short, worst + step, (worst - step).min(0.0)));
    Ok(Time::from_seconds(short(worst).max(found).max(0.0)))
}

/// Peak of the open object, over the voltage that its one branch begins with.
fn peak(share: f64, tau: f64, leak: f64) -> f64 {
    let (node, branch) = (leak + share / tau, 1.0 / tau);
    let (half, product) = (0.5 * (node + branch), leak * branch);
    let root = (half * half - product).max(0.0).sqrt();
    let fast = half + root;
    let slow = product / fast;
    if slow == 0.0 {
        return share / (1.0 + share);
    }
    // e^(−λ₁t) − e^(−λ₂t) at t = ln(λ₂/λ₁)/(λ₂ − λ₁).
    let at = (fast / slow).ln() / (fast - slow);
    share / tau * ((-slow * at).exp() - (-fast * at).exp()) / (fast - slow)
}

#[cfg(test)]
mod tests {
    use quantity::{Capacitance, Resistance};

    use super::*;
    use crate::discharge::{ground_time, rebound};
    use crate::transient::{Branch, TestObject};

    const WHOLE: Capacitance = Capacitance::from_nanofarads(100.0);

    fn object(branches: &[(f64, f64)], decay: Option<f64>) -> TestObject {
        let branch = |&(share, seconds): &(f64, f64)| Branch {
            resistance: Resistance::from_ohms(seconds / (WHOLE * share).farads()),
            capacitance: WHOLE * share,
            start: Voltage::ZERO,
        };
        TestObject {
            capacitance: WHOLE,
            insulation: decay.map(|seconds| Resistance::from_ohms(seconds / WHOLE.farads())),
            start: Voltage::ZERO,
            branches: branches.iter().map(branch).collect(),
            surface: None,
            onset: None,
        }
    }

    fn held(seconds: f64) -> Held {
        Held { voltage: Voltage::from_kilovolts(25.0), over: Time::from_seconds(seconds) }
    }

    const LIMIT: Voltage = Voltage::from_volts(50.0);

    fn bound(share: f64, seconds: f64, slowest: f64, decay: Option<f64>) -> Time {
        let absorbed = Unshaped {
            share: Ratio::from_value(share),
            slowest: Time::from_seconds(slowest),
            decay: decay.map(Time::from_seconds),
        };
        ground_time_unshaped(held(seconds), absorbed, LIMIT).expect("sound")
    }

    const DECAYS: [Option<f64>; 4] = [None, Some(1e5), Some(2000.0), Some(50.0)];

    /// Derived: the search for one branch's own ground time, of the worst of many branches.
    #[test]
    fn it_is_the_time_of_the_worst_single_branch() {
        for (share, slowest) in [(0.01, 6000.0), (0.05, 6000.0), (1.0, 6000.0), (0.05, 1e7)] {
            for decay in DECAYS {
                let alone = |seconds: f64| {
                    let object = object(&[(share, seconds)], decay);
                    let charged = held(1200.0).charge(&object).expect("sound");
                    let bound = Time::from_hours(1e4);
                    ground_time(&charged, None, LIMIT, bound).expect("sound").time.seconds()
                };
                let steps = (0..=400).map(|k| slowest * (f64::from(k - 400) / 30.0).exp());
                let worst = steps.map(alone).fold(0.0, f64::max);
                let found = bound(share, 1200.0, slowest, decay).seconds();
                let at = format!("{share} {slowest} {decay:?}: {found} of {worst}");
                assert!(found >= worst * (1.0 - 1e-7) && found <= worst * 1.001, "{at}");
            }
        }
    }

    /// Derived: exact rebounds of objects with the same charge in two to five branches.
    #[test]
    fn no_spread_of_the_same_charge_comes_back_higher() {
        let spreads: &[&[(f64, f64)]] = &[
            &[(0.5, 6000.0), (0.5, 6000.0)],
            &[(0.9, 6000.0), (0.1, 3000.0)],
            &[(0.1, 6000.0), (0.9, 4000.0)],
            &[(0.5, 6000.0), (0.5, 2000.0)],
            &[(0.3, 60.0), (0.3, 600.0), (0.4, 6000.0)],
            &[(0.05, 5.0), (0.15, 5400.0), (0.3, 5700.0), (0.4, 3000.0), (0.1, 1500.0)],
        ];
        for share in [0.02, 0.2, 2.0] {
            for decay in DECAYS {
                let ground = bound(share, 1200.0, 6000.0, decay);
                for spread in spreads {
                    let branches: Vec<_> = spread.iter().map(|&(f, t)| (f * share, t)).collect();
                    let charged = held(1200.0).charge(&object(&branches, decay)).expect("sound");
                    let back = rebound(&charged, None, ground).expect("sound").peak;
                    let at = format!("{share} {decay:?} in {spread:?}: {back}");
                    assert!(back <= LIMIT * (1.0 + 1e-9), "{at}");
                }
            }
        }
    }

    #[test]
    fn little_charge_needs_no_ground_and_bad_input_is_named() {
        assert_eq!(bound(0.001, 1200.0, 6000.0, None), Time::ZERO);
        assert_eq!(bound(0.5, 0.0, 6000.0, None), Time::ZERO);
        let absorbed =
            Unshaped { share: Ratio::from_value(-0.1), slowest: Time::ZERO, decay: None };
        let wrong = ground_time_unshaped(held(1.0), absorbed, LIMIT);
        assert!(matches!(wrong, Err(TransientError::Negative { what: Input::AbsorbedShare, .. })));
    }
}
