//! Voltage raised in steps: exposure adds up, and what comes next has its probability.

use quantity::{Band, Time, Voltage};

use super::bounds::two_sided;
use super::{NoWeibull, Outcome, Weibull, weibull};
use crate::root;

/// Highest exponent looked at, and how many places are looked at up to it.
const HIGHEST: f64 = 80.0;
const PLACES: usize = 81;

/// A stretch of a test: voltage from one value to another, evenly, for a time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// Voltage at its beginning, above zero or zero.
    pub from: Voltage,
    /// Voltage at its end.
    pub to: Voltage,
    /// How long it takes.
    pub time: Time,
}

/// How a test ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// The specimen broke down at the very end of the last stretch.
    Broke,
    /// It broke down some time in the last stretch.
    BrokeInLast,
    /// It had not broken down by the end.
    Withstood,
}

/// One specimen's test.
#[derive(Clone, Debug, PartialEq)]
pub struct StepTest {
    /// In the order of time.
    pub stretches: Vec<Stretch>,
    /// How it ended.
    pub end: End,
}

/// Life under voltage: Weibull's distribution of exposure, which counts time at a voltage as its
/// power N.
#[derive(Clone, Debug, PartialEq)]
pub struct Endurance {
    /// β of the time to breakdown at one voltage.
    pub shape: f64,
    /// N: how life falls with voltage, as V^(−N).
    pub exponent: f64,
    /// η: the time by which 63.2 % break down at the reference voltage.
    pub scale: Time,
    /// The reference voltage.
    pub reference: Voltage,
    /// Covariance of ln β, ln η and N, in this order; zero for what was given.
    pub covariance: [[f64; 3]; 3],
}

/// Why an endurance cannot be told.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum NoEndurance {
    /// A test has no stretch, a voltage below zero, or a time that is not above zero.
    #[error("test {} cannot be used: it needs stretches with voltages and times above 0", .0 + 1)]
    Unusable(usize),
    /// The reference voltage is not above zero.
    #[error("the reference voltage must be above 0")]
    Reference,
    /// The exponent cannot be told from the shape: the tests went too much alike.
    #[error("the tests went too much alike to tell the exponent: vary the time of the steps")]
    ExponentNotTold,
    /// The times at the reference voltage have no Weibull fit.
    #[error(transparent)]
    Weibull(#[from] NoWeibull),
}

/// Fits life under voltage to tests in which voltage was raised.
///
/// - `tests` of the specimens `[V]`, `[s]`; `reference` voltage `[V]` for which η is told
/// - returns β, N and η `[s]` with their covariance
///
/// F = 1 − exp(−(ε/η)^β), ε = ∫ (V/V_ref)^N dt; N is where the greatest likelihood of β and η for
/// it peaks
///
/// # Source
/// Cumulative exposure with the inverse power law: Accelerated life testing: step-stress models and
/// data analyses, IEEE Trans. Reliability R-29 (1980); the profile derived.
///
/// # Errors
/// When a test cannot be used, or the tests do not tell N from β.
///
/// ```
/// use physics::breakdown::{End, StepTest, Stretch, endurance};
/// use quantity::{Time, Voltage};
/// let held = |volts: f64, hours: f64| StepTest {
///     stretches: vec![Stretch {
///         from: Voltage::from_volts(volts),
///         to: Voltage::from_volts(volts),
///         time: Time::from_seconds(3600.0 * hours),
///     }],
///     end: End::Broke,
/// };
/// // Hours at 3 V and 5 V that the package `reliability` 0.9.0 carries; by SciPy 1.17.1 over the
/// // same likelihood N 0.687746, β 6.873140, η 718.997 h at 3 V.
/// let low = [620.0, 632.0, 685.0, 822.0].map(|hours| held(3.0, hours));
/// let high = [380.0, 416.0, 460.0, 596.0].map(|hours| held(5.0, hours));
/// let tests = [low, high].concat();
/// let found = endurance(&tests, Voltage::from_volts(3.0)).expect("two voltages");
/// assert!((found.exponent - 0.687746).abs() < 1e-6);
/// assert!((found.shape - 6.873140).abs() < 1e-6);
/// assert!((found.scale.seconds() / 3600.0 - 718.997).abs() < 1e-3);
/// ```
pub fn endurance(tests: &[StepTest], reference: Voltage) -> Result<Endurance, NoEndurance> {
    let volts = reference.volts();
    if !(volts > 0.0 && volts.is_finite()) {
        return Err(NoEndurance::Reference);
    }
    if let Some(bad) = tests.iter().position(|test| !usable(test)) {
        return Err(NoEndurance::Unusable(bad));
    }
    // Exposure is counted at a voltage in the middle, where no power runs over.
    let middle = middle_of(tests);
    at_exponent(tests, middle, 0.0)?;
    let height = |exponent: f64| {
        at_exponent(tests, middle, exponent).map_or(f64::NEG_INFINITY, |found| found.1)
    };
    let place = |k: usize| HIGHEST * (k as f64 / (PLACES - 1) as f64).powi(2);
    let heights: Vec<f64> = (0..PLACES).map(|k| height(place(k))).collect();
    let top = (0..PLACES).max_by(|&a, &b| heights[a].total_cmp(&heights[b])).unwrap_or(0);
    if top == 0 || top + 1 == PLACES {
        return Err(NoEndurance::ExponentNotTold);
    }
    let exponent = root::peak(height, place(top - 1), place(top + 1));
    let (found, best) = at_exponent(tests, middle, exponent)?;
    // Within the range both sides must fall by as much as 95 % asks, or N may be anything.
    let fall = 0.5 * two_sided(0.95).powi(2);
    if best - heights[0] < fall || best - heights[PLACES - 1] < fall {
        return Err(NoEndurance::ExponentNotTold);
    }
    let covariance = covariance(tests, middle, exponent, &found)?;
    let at_middle = Endurance {
        shape: found.shape,
        exponent,
        scale: Time::from_seconds(found.scale),
        reference: Voltage::from_volts(middle),
        covariance,
    };
    Ok(at_middle.told_at(reference))
}

impl Endurance {
    /// An endurance that is known from elsewhere.
    ///
    /// - `shape` β and `exponent` N, above zero; `scale` η `[s]` at the `reference` voltage `[V]`
    ///
    /// # Source
    /// As for [`endurance`].
    #[must_use]
    pub const fn given(shape: f64, exponent: f64, scale: Time, reference: Voltage) -> Self {
        Self { shape, exponent, scale, reference, covariance: [[0.0; 3]; 3] }
    }

    /// The same, with η told at another voltage.
    #[must_use]
    pub fn told_at(&self, reference: Voltage) -> Self {
        let ln = (reference.volts() / self.reference.volts()).ln();
        // ln η changes by −N·ln, and its covariances with it.
        let turn = [[1.0, 0.0, 0.0], [0.0, 1.0, -ln], [0.0, 0.0, 1.0]];
        let mut covariance = [[0.0; 3]; 3];
        for (i, row) in covariance.iter_mut().enumerate() {
            for (j, entry) in row.iter_mut().enumerate() {
                for k in 0..3 {
                    for l in 0..3 {
                        *entry += turn[i][k] * self.covariance[k][l] * turn[j][l];
                    }
                }
            }
        }
        let scale = Time::from_seconds(self.scale.seconds() * (-self.exponent * ln).exp());
        Self { scale, reference, covariance, ..self.clone() }
    }

    /// The probability that a specimen that withstood `history` breaks down in `next`, with its
    /// bounds at a two-sided confidence.
    ///
    /// - `history` what it withstood; `next` what is to come; `confidence` such as 0.95
    /// - returns lower bound, probability and upper bound `[1]`
    ///
    /// P = 1 − exp(ε₁^β − ε₂^β), each ε over η; ln(ε₂^β − ε₁^β) taken as normal
    ///
    /// # Source
    /// As for [`endurance`]; the bounds derived.
    ///
    /// ```
    /// use physics::breakdown::{Endurance, Stretch};
    /// use quantity::{Time, Voltage};
    /// let (kv, minute) = (Voltage::from_kilovolts, Time::from_seconds(60.0));
    /// let life = Endurance::given(1.0, 2.0, Time::from_seconds(600.0), kv(1.0));
    /// let next = Stretch { from: kv(2.0), to: kv(2.0), time: minute };
    /// // Derived: with N = 2 a minute at 2 kV is four at 1 kV, and with β = 1 history is nothing.
    /// let band = life.breaks_in(&[Stretch { from: kv(1.0), to: kv(1.0), ..next }], &[next], 0.95);
    /// assert!((band.mid - (1.0 - (-0.4_f64).exp())).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn breaks_in(&self, history: &[Stretch], next: &[Stretch], confidence: f64) -> Band<f64> {
        let reference = self.reference.volts();
        let ln_hazard = |at: [f64; 3]| {
            let before = exposure(history, reference, at[2]);
            let after = before + exposure(next, reference, at[2]);
            let power = |exposure: f64| (at[0].exp() * (exposure.ln() - at[1])).exp();
            (power(after) - power(before)).ln()
        };
        let at = [self.shape.ln(), self.scale.seconds().ln(), self.exponent];
        let middle = ln_hazard(at);
        let slope = [0, 1, 2].map(|k| {
            let step = 1e-5 * at[k].abs().max(1.0);
            let moved = |by: f64| {
                let mut at = at;
                at[k] += by;
                ln_hazard(at)
            };
            (moved(step) - moved(-step)) / (2.0 * step)
        });
        let of = |row: &[f64; 3]| row.iter().zip(slope).map(|(a, b)| a * b).sum::<f64>();
        let variance: f64 = self.covariance.iter().zip(slope).map(|(row, s)| s * of(row)).sum();
        let reach = two_sided(confidence) * variance.max(0.0).sqrt();
        let [low, mid, high] =
            [middle - reach, middle, middle + reach].map(|one| -(-one.exp()).exp_m1());
        Band { low, mid, high }
    }
}

fn usable(test: &StepTest) -> bool {
    let good = |one: &Stretch| {
        let (from, to, time) = (one.from.volts(), one.to.volts(), one.time.seconds());
        from >= 0.0 && to >= 0.0 && from + to > 0.0 && (from + to + time).is_finite() && time > 0.0
    };
    !test.stretches.is_empty() && test.stretches.iter().all(good)
}

/// Geometric mean of the voltages at which the tests ended.
fn middle_of(tests: &[StepTest]) -> f64 {
    let highest = |test: &StepTest| {
        test.stretches.iter().map(|one| one.from.volts().max(one.to.volts())).fold(0.0, f64::max)
    };
    (tests.iter().map(|test| highest(test).ln()).sum::<f64>() / tests.len() as f64).exp()
}

/// Seconds at the reference voltage that count as much: ∫ (V/V_ref)^N dt.
fn exposure(stretches: &[Stretch], reference: f64, exponent: f64) -> f64 {
    let each = |one: &Stretch| {
        let (from, to) = (one.from.volts() / reference, one.to.volts() / reference);
        let seconds = one.time.seconds();
        let rise = to - from;
        if rise.abs() <= 1e-9 * (to + from) {
            return seconds * (0.5 * (from + to)).powf(exponent);
        }
        seconds * (to.powf(exponent + 1.0) - from.powf(exponent + 1.0)) / ((exponent + 1.0) * rise)
    };
    stretches.iter().map(each).sum()
}

/// β and η at a given exponent, and the likelihood of the tests.
fn at_exponent(
    tests: &[StepTest],
    middle: f64,
    exponent: f64,
) -> Result<(Weibull, f64), NoWeibull> {
    let mut ln_rates = 0.0;
    let mut outcomes = Vec::with_capacity(tests.len());
    for test in tests {
        let all = exposure(&test.stretches, middle, exponent);
        outcomes.push(match test.end {
            End::Withstood => Outcome::Survived(all),
            End::BrokeInLast => {
                let before = &test.stretches[..test.stretches.len() - 1];
                Outcome::Between(exposure(before, middle, exponent), all)
            }
            End::Broke => {
                let last = test.stretches.last().map_or(middle, |one| one.to.volts());
                ln_rates += exponent * (last / middle).ln();
                Outcome::Failed(all)
            }
        });
    }
    let found = weibull(&outcomes)?;
    let height = found.ln_likelihood + ln_rates;
    Ok((found, height))
}

/// Of ln β, ln η and N: what they have at a held N, and how they follow it.
fn covariance(
    tests: &[StepTest],
    middle: f64,
    exponent: f64,
    found: &Weibull,
) -> Result<[[f64; 3]; 3], NoEndurance> {
    let step = 2e-3 * exponent.max(1.0);
    let (below, low) = at_exponent(tests, middle, exponent - step)?;
    let (above, high) = at_exponent(tests, middle, exponent + step)?;
    let (_, top) = at_exponent(tests, middle, exponent)?;
    let bend = (2.0 * top - low - high) / (step * step);
    if bend.is_nan() || bend <= 0.0 {
        return Err(NoEndurance::ExponentNotTold);
    }
    let along = [
        (above.shape / below.shape).ln() / (2.0 * step),
        (above.scale / below.scale).ln() / (2.0 * step),
        1.0,
    ];
    let mut covariance = [[0.0; 3]; 3];
    for (i, row) in covariance.iter_mut().enumerate() {
        for (j, entry) in row.iter_mut().enumerate() {
            let held = if i < 2 && j < 2 { found.covariance[i][j] } else { 0.0 };
            *entry = held + along[i] * along[j] / bend;
        }
    }
    Ok(covariance)
}
