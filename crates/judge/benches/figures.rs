//! Figures of twenty readings of one level (resistance with its doubt at both temperatures, index,
//! absorption ratio, conduction, exponent) beside a general fit of the same conduction and
//! absorption, in turns: least and middle of many. `cargo bench -p judge --bench figures`.

use std::hint::black_box;
use std::time::Instant;

use judge::figures::{Reckoner, of_record};
use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::storage::Owned;
use nalgebra::{Dyn, OMatrix, OVector, U3, Vector3};
use quantity::{Current, Time, Voltage};
use session::{Event, Kind, RECORD_FORMAT, Reading, Record};

const ROUNDS: usize = 15;
/// What the system tells of a processor comes in steps of some milliseconds: a turn takes many.
const TURN_US: f64 = 60_000.0;
const AGES_S: [f64; 20] = [
    15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0, 75.0, 90.0, 120.0, 150.0, 180.0, 210.0, 240.0, 300.0,
    360.0, 420.0, 480.0, 540.0, 600.0,
];

/// Derived: 2 µA and 8 µA·(t/60 s)^(−0.8) at 5 kV, three in a thousand off to either side.
fn microamperes(k: usize) -> f64 {
    (2.0 + 8.0 * (AGES_S[k] / 60.0).powf(-0.8)) * [1.003, 0.997, 1.0][k % 3]
}

fn readings() -> Vec<Reading> {
    let reading = |k: usize| Reading {
        at: Time::from_seconds(AGES_S[k]),
        voltage: Some(Voltage::from_kilovolts(5.0)),
        current: Some(Current::from_microamperes(microamperes(k))),
        voltage_half_digit: Some(Voltage::from_volts(5.0)),
        current_half_digit: Some(Current::from_microamperes(0.005)),
        ..Reading::default()
    };
    (0..AGES_S.len()).map(reading).collect()
}

/// The same three unknowns for a fit that knows nothing of them, in microamperes and minutes.
#[derive(Clone)]
struct General {
    at: Vector3<f64>,
    weights: Vec<f64>,
}

impl General {
    fn start() -> Self {
        let sigma = |k: usize| (0.005 / 3f64.sqrt()).hypot(0.002 * microamperes(k));
        let weights = (0..AGES_S.len()).map(|k| 1.0 / sigma(k)).collect();
        Self { at: Vector3::new(1.0, 5.0, 1.0), weights }
    }
}

impl LeastSquaresProblem<f64, Dyn, U3> for General {
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, U3>;
    type ParameterStorage = Owned<f64, U3>;

    fn set_params(&mut self, at: &Vector3<f64>) {
        self.at = *at;
    }

    fn params(&self) -> Vector3<f64> {
        self.at
    }

    fn residuals(&self) -> Option<OVector<f64, Dyn>> {
        let left = |k: usize, _| {
            let fitted = self.at[0] + self.at[1] * (AGES_S[k] / 60.0).powf(-self.at[2]);
            (fitted - microamperes(k)) * self.weights[k]
        };
        Some(OVector::<f64, Dyn>::from_fn(AGES_S.len(), left))
    }

    fn jacobian(&self) -> Option<OMatrix<f64, Dyn, U3>> {
        let slope = |k: usize, term: usize| {
            let age: f64 = AGES_S[k] / 60.0;
            let power = age.powf(-self.at[2]);
            [1.0, power, -age.ln() * self.at[1] * power][term] * self.weights[k]
        };
        Some(OMatrix::<f64, Dyn, U3>::from_fn(AGES_S.len(), slope))
    }
}

/// Microseconds of the processor a call, where the system tells; else of the clock.
fn took(about_us: f64, mut call: impl FnMut()) -> f64 {
    let calls = (TURN_US / about_us) as u32;
    let (started, before) = (Instant::now(), processor_ns());
    for _ in 0..calls {
        call();
    }
    let clock = started.elapsed().as_secs_f64() * 1e9;
    let spent = processor_ns().zip(before).map_or(clock, |(after, before)| after - before);
    spent / 1e3 / f64::from(calls)
}

/// What this thread has had of a processor, in nanoseconds.
fn processor_ns() -> Option<f64> {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    told.split_whitespace().next()?.parse().ok()
}

fn main() {
    let job = include_str!("../../../crates/app/tests/live/winding-resistance.toml");
    let job = plan::job_file::parse(job).expect("the example is good");
    let library = standards::Library::published();
    let rows = readings();
    let mut reckoner = Reckoner::of(&job, &library);
    let (general, solver) = (General::start(), LevenbergMarquardt::new());
    let record = record(&job, &library, &rows);
    let numbers = reckoner.level(&rows).figures();
    let fitted = solver.minimize(general.clone()).0.at;
    println!("figures: {numbers:?}\npeer: {} µA, exponent {}", fitted[0], fitted[2]);
    let mut times: [Vec<f64>; 4] = Default::default();
    for _ in 0..ROUNDS {
        let each = [
            took(4.0, || {
                black_box(reckoner.level(black_box(&rows)));
            }),
            took(15.0, || drop(black_box(solver.minimize(general.clone())))),
            took(10.0, || drop(black_box(of_record(black_box(&record), &library)))),
            took(400.0, || drop(black_box(judge::judge(black_box(&record), &library)))),
        ];
        times.iter_mut().zip(each).for_each(|(all, one)| all.push(one));
    }
    let [ours, peer, record, findings] = times.map(|mut all| {
        all.sort_by(f64::total_cmp);
        (all[0], all[all.len() / 2])
    });
    for (what, (least, middle)) in [
        ("figures of the level", ours),
        ("a general fit of three unknowns", peer),
        ("figures of the record", record),
        ("findings of the record", findings),
    ] {
        println!("| {what} | {least:.2} µs | {middle:.2} µs |");
    }
    println!("figures take {:.2} of the general fit", ours.1 / peer.1);
}

fn record(job: &plan::Job, library: &standards::Library, rows: &[Reading]) -> Record {
    let phase = job.conductors().first().cloned().unwrap_or_default();
    let readings = Event::Readings { phase: phase.clone(), rows: rows.to_vec() };
    let events = [Event::Energised { phase }, readings];
    Record {
        format: RECORD_FORMAT.into(),
        kind: Kind::Transcribed,
        job: job.clone(),
        plan: plan::plan(job, library),
        source: None,
        events: events.into_iter().map(Into::into).collect(),
    }
}
