//! Many invented cables and windings, half of them from a sum of exponentials that the judge does
//! not fit.
//! Source: derived: superposition of conduction and absorption, rounded as a needle or digits.

use judge::{Findings, Outcome, Verdict};
use plan::job::{AccuracyOf, Method};
use quantity::{Ratio, Temperature};
use standards::words::Insulation;

use crate::support::{Written, cable, plan, stator};

/// A generator that anyone can write down again (splitmix64).
struct Seeded(u64);

impl Seeded {
    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    fn decades(&mut self, low: f64, high: f64) -> f64 {
        low * (high / low).powf(self.unit())
    }
}

/// What a cable's current is made of, in microamperes a kilovolt.
struct Made {
    conduction: f64,
    absorption: f64,
    exponent: f64,
    /// Weights and time constants of exponentials, instead of the power law.
    exponentials: Option<Vec<(f64, f64)>>,
    knee: f64,
    noise: f64,
    decimals: usize,
}

impl Made {
    fn of(seeded: &mut Seeded, knee: bool) -> Self {
        let conduction = seeded.decades(0.05, 2.0);
        let exponentials = (seeded.unit() < 0.5).then(|| {
            [8.0, 40.0, 200.0, 1000.0].map(|tau| (seeded.between(0.2, 1.0), tau)).to_vec()
        });
        let knee = if knee { seeded.between(1.5, 6.0) * conduction.max(0.3) } else { 0.0 };
        Self {
            conduction,
            absorption: seeded.decades(0.02, 0.5),
            exponent: seeded.between(0.6, 1.1),
            exponentials,
            knee,
            noise: seeded.between(0.0, 0.004),
            decimals: if seeded.unit() < 0.5 { 0 } else { 2 },
        }
    }

    fn kernel(&self, age_s: f64) -> f64 {
        match &self.exponentials {
            None => (age_s / 60.0).powf(-self.exponent),
            Some(terms) => terms.iter().map(|(weight, tau)| weight * (-age_s / tau).exp()).sum(),
        }
    }

    /// Five steps of 11 kV, then a quarter of an hour.
    fn cable(&self, seeded: &mut Seeded) -> String {
        let begins: Vec<(f64, f64)> = (0..5).map(|step| (60.0 * f64::from(step), 11.0)).collect();
        let ends = (1..=4).map(|minute| 60.0 * f64::from(minute));
        let hold = (1..=15).map(|minute| 240.0 + 60.0 * f64::from(minute));
        let times = ends.chain(std::iter::once(270.0)).chain(hold).collect();
        self.rows(seeded, &begins, times, 38.0)
    }

    /// Ten minutes at 10 kV, then steps of 1 kV a minute to 29 kV.
    fn stator(&self, seeded: &mut Seeded) -> String {
        let steps = (0..19).map(|step| (600.0 + 60.0 * f64::from(step), 1.0));
        let begins: Vec<(f64, f64)> = std::iter::once((0.0, 10.0)).chain(steps).collect();
        let first = [19.0, 60.0, 190.0, 600.0];
        let ends = (1..=19).map(|minute| 600.0 + 60.0 * f64::from(minute));
        self.rows(seeded, &begins, first.into_iter().chain(ends).collect(), 23.0)
    }

    fn rows(
        &self,
        seeded: &mut Seeded,
        begins: &[(f64, f64)],
        times: Vec<f64>,
        knee_kv: f64,
    ) -> String {
        let row = |t: f64| {
            let begun = || begins.iter().filter(move |(begin, _)| *begin < t);
            let kv: f64 = begun().map(|(_, step)| step).sum();
            let absorbed: f64 = begun().map(|(begin, step)| step * self.kernel(t - begin)).sum();
            let straight = self.conduction * kv + self.absorption * absorbed;
            let bent = straight + self.knee * (kv - knee_kv).max(0.0);
            let read = bent * (1.0 + self.noise * seeded.between(-1.0, 1.0));
            let range = [10.0, 100.0, 1000.0].into_iter().find(|range| *range > bent);
            format!("{t} {kv:.1} {read:.*} {}\n", self.decimals, range.unwrap_or(5000.0))
        };
        times.into_iter().map(row).collect()
    }
}

fn judged(seed: u64, knee: bool) -> Findings {
    let mut seeded = Seeded(seed);
    let mut job = cable(Insulation::Epr, 15.0, &["A", "B", "C"]);
    job.set.accuracy = Some(Ratio::from_percent(1.0));
    job.set.accuracy_of = AccuracyOf::Reading;
    let plan = plan(&job, &[11.0, 22.0, 33.0, 44.0, 55.0], 900.0);
    let made = Made::of(&mut seeded, false);
    let kneed =
        Made { knee: Made::of(&mut seeded, knee).knee, ..Made::of(&mut Seeded(seed), false) };
    let mut written = Written::new(job, plan);
    for (phase, made) in [("A", &made), ("B", &made), ("C", &kneed)] {
        written = written.rows(phase, &made.cable(&mut seeded));
    }
    written.judged()
}

/// How many seeds a run of the suite takes. By hand 2000 cables gave 7 questioned and 1000
/// windings 7; none was rejected, and no knee of as many was accepted.
const SEEDS: u64 = 100;

#[test]
fn healthy_cables_are_hardly_ever_questioned_and_never_rejected() {
    let mut questioned = Vec::new();
    for seed in 0..SEEDS {
        let found = judged(seed, false);
        assert!(
            !matches!(found.verdict, Verdict::Reject | Verdict::Void),
            "seed {seed}: {}",
            found.because
        );
        if found.verdict != Verdict::Accept {
            questioned.push((seed, found.because));
        }
    }
    assert!(questioned.len() <= 3, "{} of {SEEDS}: {questioned:#?}", questioned.len());
}

#[test]
fn a_knee_is_not_accepted_whatever_the_absorption() {
    for seed in 0..SEEDS {
        let found = judged(seed, true);
        assert_ne!(found.verdict, Verdict::Accept, "seed {seed}");
        let linear = found.findings.iter().find(|finding| finding.id == "step-linearity");
        assert_eq!(linear.map(|finding| finding.outcome), Some(Outcome::Warn), "seed {seed}");
    }
}

fn judged_stator(seed: u64, knee: bool) -> Findings {
    let mut seeded = Seeded(seed);
    let mut job = stator(13.8, Method::Step);
    job.asset.conductors = vec!["ABC".into()];
    job.conditions.object_temperature = Some(Temperature::from_celsius(40.0));
    let levels: Vec<f64> = (10..=29).map(f64::from).collect();
    let plan = plan(&job, &levels, 60.0);
    let made = Made::of(&mut seeded, knee);
    Written::new(job, plan).rows("ABC", &made.stator(&mut seeded)).judged()
}

#[test]
fn steps_of_a_healthy_winding_are_hardly_ever_questioned() {
    let questioned: Vec<u64> = (0..SEEDS)
        .filter(|&seed| {
            let found = judged_stator(seed, false);
            let linear = found.findings.iter().find(|finding| finding.id == "step-linearity");
            linear.map(|finding| finding.outcome) != Some(Outcome::Ok)
        })
        .collect();
    assert!(questioned.len() <= 3, "{questioned:?}");
}

#[test]
fn a_knee_of_a_winding_is_not_accepted() {
    for seed in 0..SEEDS {
        let found = judged_stator(seed, true);
        assert_ne!(found.verdict, Verdict::Accept, "seed {seed}");
    }
}
