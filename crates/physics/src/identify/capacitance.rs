//! Capacitance from the charge of a rise, conduction and absorption taken off.

use quantity::{Capacitance, Uncertain};

use super::law::{Both, Law, Outcome};
use super::{Application, CAPACITANCE_WITHIN_S, Reading, Reason};
use crate::absorption::aged;
use crate::fit::Step;

/// With fewer segments than this none is told from the rest.
const LEAST_SEGMENTS: usize = 5;
/// A segment of the rise strays when it is further than this many deviations from the middle one.
const STRAY: f64 = 5.0;
/// What the law says of ages younger than any reading may be nothing or twice as much: rectangular,
/// 1/√3. Common practice, no source.
const EXTRAPOLATED: f64 = 0.577_350_269_189_626;

/// What a rise says.
pub(super) struct Rise {
    pub(super) capacitance: Uncertain<Capacitance>,
    /// Places of readings that were left out.
    pub(super) outliers: Vec<usize>,
}

/// What went in between two neighbouring readings of a rise.
#[derive(Clone, Copy)]
struct Segment<'a> {
    from: &'a Reading,
    to: &'a Reading,
}

/// Charge, and what else it is made of, summed over all rises.
#[derive(Clone, Copy, Default)]
struct Sums {
    coulombs: f64,
    volts: f64,
    volt_seconds: f64,
    seconds: f64,
    /// Variances of the charge by the readings and by the clock, and of the voltage.
    coulombs_variance: f64,
    clock_variance: f64,
    volts_variance: f64,
}

pub(super) fn of(seen: &Application<'_>, law: &Law) -> Result<Rise, Reason> {
    let outliers = strayed(seen.readings);
    let runs = runs(seen.readings, &outliers);
    if runs.is_empty() {
        return Err(Reason::NoRise);
    }
    let sums = runs.iter().fold(Sums::default(), |sums, run| sums.with(run, seen.clock_s));
    if sums.volts <= 0.0 || sums.coulombs <= 0.0 {
        return Err(Reason::RiseWithinNoise);
    }
    let beside = beside(seen, law, &runs, &sums)?;
    let farads = (sums.coulombs - beside.coulombs) / sums.volts;
    let noise = sums.coulombs_variance + farads * farads * sums.volts_variance;
    let noise = noise.sqrt() * scatter(&runs, farads, beside.coulombs / sums.seconds);
    let standard = noise.hypot(sums.clock_variance.sqrt()).hypot(beside.standard) / sums.volts;
    if farads.is_nan() || farads <= standard {
        return Err(Reason::RiseWithinNoise);
    }
    // Welch–Satterthwaite: the noise of the readings is taken as known.
    let known = standard * sums.volts / beside.fitted.max(f64::MIN_POSITIVE);
    let freedom = beside.freedom * known.powi(4);
    let capacitance = Uncertain {
        value: Capacitance::from_farads(farads),
        standard: Capacitance::from_farads(standard),
        freedom,
    };
    Ok(Rise { capacitance, outliers })
}

/// Neighbouring readings of rises between which the voltage grew, rise by rise.
fn runs<'a>(readings: &'a [Reading], left_out: &[usize]) -> Vec<Vec<Segment<'a>>> {
    let mut runs: Vec<Vec<Segment<'a>>> = Vec::new();
    let mut before: Option<&Reading> = None;
    let mut goes_on = false;
    for (place, to) in readings.iter().enumerate() {
        if !to.rising {
            before = None;
            goes_on = false;
            continue;
        }
        if left_out.contains(&place) {
            continue;
        }
        if let Some(from) = before {
            if to.volts <= from.volts || to.at_s <= from.at_s {
                continue;
            }
            let segment = Segment { from, to };
            match runs.last_mut() {
                Some(run) if goes_on => run.push(segment),
                _ => runs.push(vec![segment]),
            }
            goes_on = true;
        }
        before = Some(to);
    }
    runs
}

impl Segment<'_> {
    fn seconds(&self) -> f64 {
        self.to.at_s - self.from.at_s
    }

    fn volts(&self) -> f64 {
        self.to.volts - self.from.volts
    }

    fn coulombs(&self) -> f64 {
        0.5 * (self.from.amperes + self.to.amperes) * self.seconds()
    }

    /// Standard uncertainty of the charge less what a capacitance takes of it.
    fn doubt(&self, farads: f64) -> f64 {
        let current = 0.5 * self.seconds();
        let current = current * self.from.amperes_sigma.hypot(self.to.amperes_sigma);
        current.hypot(farads * self.from.volts_sigma.hypot(self.to.volts_sigma))
    }
}

impl Sums {
    fn with(mut self, run: &[Segment<'_>], clock_s: f64) -> Self {
        let (Some(first), Some(last)) = (run.first(), run.last()) else { return self };
        for (k, segment) in run.iter().enumerate() {
            self.coulombs += segment.coulombs();
            self.seconds += segment.seconds();
            self.volt_seconds += 0.5 * (segment.from.volts + segment.to.volts) * segment.seconds();
            let next = run.get(k + 1).map_or(0.0, Segment::seconds);
            let weight = 0.5 * (segment.seconds() + next);
            self.coulombs_variance += (weight * segment.to.amperes_sigma).powi(2);
        }
        self.coulombs_variance += (0.5 * first.seconds() * first.from.amperes_sigma).powi(2);
        let of_clock = clock_s * first.from.amperes.hypot(last.to.amperes);
        self.clock_variance += of_clock * of_clock;
        self.volts += last.to.volts - first.from.volts;
        self.volts_variance += first.from.volts_sigma.powi(2) + last.to.volts_sigma.powi(2);
        self
    }
}

/// How much more the segments stray from one capacitance than their readings' uncertainty says; 1
/// where they do not.
fn scatter(runs: &[Vec<Segment<'_>>], farads: f64, beside: f64) -> f64 {
    let all = || runs.iter().flatten();
    let count = all().count();
    if count < 3 {
        return 1.0;
    }
    let stray = |segment: &Segment<'_>| {
        let left = segment.coulombs() - farads * segment.volts() - beside * segment.seconds();
        left / segment.doubt(farads).max(f64::MIN_POSITIVE)
    };
    let squares: f64 = all().map(|segment| stray(segment).powi(2)).sum();
    (squares / (count - 1) as f64).sqrt().max(1.0)
}

/// Places of readings of a rise that both segments beside them stray with.
fn strayed(readings: &[Reading]) -> Vec<usize> {
    let rising: Vec<usize> = (0..readings.len()).filter(|&k| readings[k].rising).collect();
    let of_pair = |pair: &[usize]| {
        let segment = Segment { from: &readings[pair[0]], to: &readings[pair[1]] };
        let apart = pair[1] == pair[0] + 1 && segment.volts() > 0.0;
        apart.then(|| segment.coulombs() / segment.volts())
    };
    let farads: Vec<Option<f64>> = rising.windows(2).map(of_pair).collect();
    let mut sorted: Vec<f64> = farads.iter().flatten().copied().collect();
    if sorted.len() < LEAST_SEGMENTS {
        return Vec::new();
    }
    let middle = median(&mut sorted);
    let mut away: Vec<f64> = sorted.iter().map(|one| (one - middle).abs()).collect();
    // 1.4826 makes the median deviation of normal noise its standard deviation.
    let deviation = 1.4826 * median(&mut away);
    let strays = |k: usize| {
        let Some(Some(found)) = farads.get(k) else { return true };
        let segment = Segment { from: &readings[rising[k]], to: &readings[rising[k + 1]] };
        let doubt = segment.doubt(middle) / segment.volts();
        (found - middle).abs() > STRAY * deviation.max(doubt)
    };
    let is_out = |&k: &usize| {
        let known = |k: usize| matches!(farads.get(k), Some(Some(_)));
        let beside = [k.checked_sub(1), Some(k)];
        beside.iter().flatten().any(|&k| known(k))
            && beside.iter().all(|beside| beside.is_none_or(strays))
    };
    (0..rising.len()).filter(is_out).map(|k| rising[k]).collect()
}

fn median(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// What flowed beside the charging current, in all.
struct Beside {
    coulombs: f64,
    /// In all, `[C]`.
    standard: f64,
    /// The part of it that the fit leaves, and its degrees of freedom.
    fitted: f64,
    freedom: f64,
}

fn beside(
    seen: &Application<'_>,
    law: &Law,
    runs: &[Vec<Segment<'_>>],
    sums: &Sums,
) -> Result<Beside, Reason> {
    let known = |coulombs: f64, standard: f64| Beside {
        coulombs,
        standard,
        fitted: 0.0,
        freedom: f64::INFINITY,
    };
    match &law.outcome {
        Outcome::Both(both) => Ok(by_law(both, seen.steps, runs, sums)),
        Outcome::Alone(..) => {
            let conductance = law.conductance()?;
            let took = |siemens: f64| siemens * sums.volt_seconds;
            Ok(known(took(conductance.value), took(conductance.standard)))
        }
        // The first current at a level stands for what flowed beside, and may be all wrong.
        Outcome::Neither(_) => {
            let first = law.points().first().ok_or(Reason::NoLevel)?;
            let took = (first.amperes / first.volts * sums.volt_seconds).max(0.0);
            Ok(known(took, took))
        }
    }
}

fn by_law(both: &Both, steps: &[Step], runs: &[Vec<Segment<'_>>], sums: &Sums) -> Beside {
    let absorbed = |terms: &[f64; 3], until_s: f64| {
        let law = Young::of(terms[2], both.youngest_s);
        let runs = runs.iter().map(|run| law.absorbed(steps, run, until_s));
        terms[1] * 60f64.powf(terms[2]) * runs.sum::<f64>()
    };
    let found =
        both.propagated(|terms| terms[0] * sums.volt_seconds + absorbed(terms, f64::INFINITY));
    // Of that, what lies at ages that no reading speaks for.
    let guessed = absorbed(&both.terms, both.youngest_s).abs() * EXTRAPOLATED;
    Beside {
        coulombs: found.value,
        standard: found.standard.hypot(guessed),
        fitted: found.standard,
        freedom: both.freedom,
    }
}

/// t⁻ⁿ from [`CAPACITANCE_WITHIN_S`] on; younger than any reading it is no steeper than t⁻¹, since
/// a steeper law would have taken a charge without bound.
#[derive(Clone, Copy)]
struct Young {
    exponent: f64,
    /// Before this age it is not read, `[s]`.
    from_s: f64,
}

impl Young {
    fn of(exponent: f64, youngest_s: f64) -> Self {
        Self { exponent, from_s: youngest_s.max(CAPACITANCE_WITHIN_S) }
    }

    /// ∫ w^power·i(w) dw from [`CAPACITANCE_WITHIN_S`] to `age`.
    fn moment(self, power: f64, age: f64) -> f64 {
        let (steep, flat) = (self.exponent, self.exponent.min(1.0));
        let part = |exponent: f64, age: f64, from: f64| {
            if age > from { aged(exponent - power, age, from) } else { 0.0 }
        };
        let young = part(flat, age.min(self.from_s), CAPACITANCE_WITHIN_S);
        young * self.from_s.powf(flat - steep) + part(steep, age, self.from_s)
    }

    /// What a volt has taken at an age, over strength.
    fn taken(self, age: f64) -> f64 {
        self.moment(0.0, age)
    }

    /// ∫ taken(u) du from zero to `age`: by parts.
    fn taken_sum(self, age: f64) -> f64 {
        age * self.taken(age) - self.moment(1.0, age)
    }

    /// Charge over strength that absorption took through a run, beyond what counts as capacitance;
    /// what is older than `until_s` takes no more.
    fn absorbed(self, steps: &[Step], run: &[Segment<'_>], until_s: f64) -> f64 {
        let (Some(first), Some(last)) = (run.first(), run.last()) else { return 0.0 };
        let (begin, end) = (first.from.at_s, last.to.at_s);
        let sum = |age: f64| {
            let within = age.min(until_s);
            self.taken_sum(within) + (age - within) * self.taken(within)
        };
        // What a volt that came at once, or over a while, has taken so long after it began to come.
        let taken = |age: f64, over_s: f64| {
            if over_s > 0.0 {
                (sum(age) - sum((age - over_s).max(0.0))) / over_s
            } else {
                self.taken(age.min(until_s))
            }
        };
        let before = steps.iter().filter(|step| step.at_s + step.over_s <= begin);
        let older = before.map(|step| {
            let [at_end, at_begin] = [end, begin].map(|at_s| taken(at_s - step.at_s, step.over_s));
            step.volts * (at_end - at_begin)
        });
        let risen = run
            .iter()
            .map(|segment| segment.volts() * taken(end - segment.from.at_s, segment.seconds()));
        older.sum::<f64>() + risen.sum::<f64>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Derived: by the rule of Simpson, and 1/w from 1 to 4 s where a law of 1.5 is not read.
    #[test]
    fn what_a_volt_takes_is_the_integral_of_the_law() {
        for (exponent, from_s) in [(0.8, 15.0), (1.0, 15.0), (1.5, 4.0), (0.3, 0.2)] {
            let law = Young::of(exponent, from_s);
            let simpson = |f: &dyn Fn(f64) -> f64, to: f64| {
                let width = (to - 1.0) / 2e4;
                let weight = |k: u32| match k {
                    0 | 20_000 => 1.0,
                    _ => 2.0 + 2.0 * f64::from(k % 2),
                };
                let part = |k: u32| weight(k) * f(1.0 + width * f64::from(k));
                (0..=20_000).map(part).sum::<f64>() * width / 3.0
            };
            let current = |age: f64| {
                let flat = exponent.min(1.0);
                let from = from_s.max(1.0);
                if age < from {
                    from.powf(-exponent) * (age / from).powf(-flat)
                } else {
                    age.powf(-exponent)
                }
            };
            for to in [3.0, 40.0] {
                let taken = simpson(&current, to);
                assert!((law.taken(to) / taken - 1.0).abs() < 1e-5, "{exponent} {to}");
                let sum = simpson(&|age| law.taken(age), to);
                assert!((law.taken_sum(to) / sum - 1.0).abs() < 1e-5, "{exponent} {to}");
            }
            assert_eq!((law.taken(0.5), law.taken_sum(0.0)), (0.0, 0.0));
        }
    }
}
