//! A winding whose conduction runs away, read each second: what a reading takes that makes a
//! forecast, beside one that makes none. `cargo bench -p advise --bench forecast`.

use std::hint::black_box;
use std::time::Instant;

use advise::{Adviser, Taken};
use plan::course::Step;
use quantity::{Current, Time, Voltage};
use session::act::Act;
use session::record::{Head, Moment, Told};
use session::{Entry, Event, Kind, RECORD_FORMAT};
use standards::Library;

const ROUNDS: usize = 21;

const JOB: &str = "[asset]\nid = \"M-1\"\nclass = \"motor\"\nrated_kv = 13.8\n[asset.machine]\n\
    winding = \"form-wound\"\nwinding_state = \"in-service\"\nthermal_class = \"F\"\n\
    built_year = 1998\ncapacitance_nf = 110.0\nneutral_open = true\n[test]\n\
    date = 2026-11-03\npurpose = \"maintenance\"\nmethod = \"step\"\n[connection]\n\
    low_side = \"isolated\"\nguard = \"both-ends\"\n[set]\nrated_kv = 60.0\nrated_ma = 5.0\n\
    voltmeter_ranges_kv = [60.0]\nammeter_ranges_ua = [1000.0]\naccuracy_percent = 0.5\n\
    accuracy_of = \"reading\"\n[conditions]\ntemperature_c = 21.0\nobject_temperature_c = 21.0\n\
    humidity_percent = 45.0\naltitude_m = 120.0\n";

fn head() -> Head {
    let job = plan::job_file::parse(JOB).expect("it is well formed");
    let plan = plan::plan(&job, &Library::published());
    let format = RECORD_FORMAT.to_owned();
    Head { format, kind: Kind::Test, source: None, job, plan }
}

fn did(phase: &str, second: f64, act: Act) -> Entry {
    let since_begun = Time::from_seconds(second);
    let at = Some(Moment { since_begun, wall: Default::default() });
    let (phase, since_energised) = (phase.to_owned(), Some(since_begun));
    let what = Event::Did { phase, since_energised, act, told: Told::Said, breaches: Vec::new() };
    Entry { at, by: None, what }
}

/// Derived: 1 nS and absorption by t^−0.8, and from 45 % of the top on a part of the conduction
/// that has no bound at 80 %.
fn amperes(volts: f64, top: f64, age_s: f64, second: f64) -> f64 {
    let part = volts / top;
    let knee = if part > 0.45 { 0.1 * (part - 0.45) / (0.8 - part).max(1e-3) } else { 0.0 };
    let noise = 1e-3 * (12.9898 * second).sin();
    1e-9 * volts * (1.0 + 2.0 * age_s.powf(-0.8) + knee) * (1.0 + noise)
}

/// What the same reading takes, on as many copies.
fn micros(before: &Adviser, phase: &str, taken: &Taken) -> f64 {
    let mut all: Vec<f64> = (0..ROUNDS)
        .map(|_| {
            let mut adviser = before.clone();
            let begun = Instant::now();
            adviser.reading(black_box(phase), black_box(taken));
            let time = begun.elapsed().as_secs_f64() * 1e6;
            black_box(&adviser);
            time
        })
        .collect();
    all.sort_by(f64::total_cmp);
    all[ROUNDS / 2]
}

fn main() {
    let head = head();
    let phase = head.plan.conductors[0].clone();
    let steps: Vec<&Step> = head.plan.course.iter().collect();
    let top = steps.last().expect("the plan has steps").level.volts();
    let mut adviser = Adviser::new(&head);
    adviser.event(&did(&phase, 0.0, Act::Energise));
    let (mut second, mut told) = (0.0, None);
    let (mut with, mut without) = (Vec::new(), Vec::new());
    for k in 1..=40 {
        let volts = top * f64::from(k) / 40.0;
        if volts > 0.79 * top {
            break;
        }
        adviser.event(&did(&phase, second, Act::Rise));
        second += 5.0;
        adviser.event(&did(&phase, second, Act::Dwell));
        for age in 1..=60 {
            second += 1.0;
            let taken = Taken {
                at: Time::from_seconds(second),
                voltage: Some(Voltage::from_volts(volts)),
                current: Some(Current::from_amperes(amperes(volts, top, f64::from(age), second))),
                current_half_digit: Some(Current::from_microamperes(0.0005)),
                ..Taken::default()
            };
            let before = adviser.clone();
            adviser.reading(&phase, &taken);
            let now = adviser.at(&phase, taken.at).forecast;
            let time = micros(&before, &phase, &taken);
            // A forecast that is made anew is another one in its last digits.
            if now != told && now.is_some() {
                with.push(time)
            } else {
                without.push(time)
            }
            told = now;
        }
    }
    for (name, mut times) in [("with a forecast", with), ("without", without)] {
        times.sort_by(f64::total_cmp);
        let Some(longest) = times.last() else {
            println!("{name}: none");
            continue;
        };
        let (half, count) = (times[times.len() / 2], times.len());
        println!("{name}: {count} readings, half within {half:.1} µs, all within {longest:.0} µs");
    }
}
