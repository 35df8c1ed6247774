//! A whole test of an object that conducts more above an onset: up, held, down and left open.

use std::hint::black_box;

use physics::conduction::Onset;
use physics::transient::{Branch, Discharge, Leg, Sample, Supply, TestObject, simulate};
use quantity::{Capacitance, Current, Resistance, Time, Voltage, VoltageRate};
use serde_json::{Value, json};

use super::Case;

struct Told {
    object: TestObject,
    supply: Supply,
    course: Vec<Leg>,
    discharge: Discharge,
    times: Vec<Time>,
}

const VOLTS: fn(f64) -> Voltage = Voltage::from_volts;
const SECONDS: fn(f64) -> Time = Time::from_seconds;

/// `weak` bends gently; `steep` is held by the limit, e-fold one per cent of the voltage and a
/// branch of 100,000 s; `tripping` runs into the trip.
fn told(which: &str) -> Told {
    let (efold, limit, trip) = match which {
        "weak" => (1.5e3, 2e-3, 3e-3),
        "steep" => (200.0, 1e-3, 2e-3),
        _ => (300.0, 5e-3, 1.3e-3),
    };
    let branch = |(megohms, nanofarads): (f64, f64)| Branch {
        resistance: Resistance::from_megohms(megohms),
        capacitance: Capacitance::from_nanofarads(nanofarads),
        start: Voltage::ZERO,
    };
    let leg = |to, dwell| Leg {
        to: VOLTS(to),
        rise: Some(VoltageRate::from_volts_per_second(1e3)),
        dwell: SECONDS(dwell),
    };
    Told {
        object: TestObject {
            capacitance: Capacitance::from_microfarads(1.0),
            insulation: Some(Resistance::from_megohms(25e3)),
            start: Voltage::ZERO,
            branches: [(20.0, 50.0), (200.0, 50.0), (2e3, 50.0), (1e6, 100.0)].map(branch).to_vec(),
            surface: None,
            onset: Some(Onset { from: VOLTS(12e3), scale: VOLTS(efold) }),
        },
        supply: Supply {
            limit: Some(Current::from_amperes(limit)),
            series: Resistance::from_kilohms(200.0),
            trip: Some(Current::from_amperes(trip)),
            ..Supply::default()
        },
        course: vec![leg(10e3, 60.0), leg(20e3, 120.0), leg(15e3, 60.0)],
        discharge: Discharge {
            resistor: Some(Resistance::from_megohms(1.0)),
            bleed: Some(SECONDS(5.0)),
            short: None,
            open: Some(SECONDS(300.0)),
        },
        times: (0..=560).map(|k| SECONDS(f64::from(k) + 0.37)).collect(),
    }
}

fn solved(told: &Told) -> Vec<Sample> {
    let down = Some(&told.discharge);
    simulate(&told.object, &told.supply, &told.course, down, &told.times).expect("a sound case")
}

fn described(told: &Told) -> Value {
    let Told { object, supply, course, discharge, .. } = told;
    let samples = solved(told);
    let onset = object.onset.expect("an onset");
    let open = discharge.open.expect("left open").seconds();
    let (end, _) = course.iter().fold((Time::ZERO, object.start), |(gone, at), leg| {
        (gone + (leg.to - at).abs() / leg.rise.expect("a rate") + leg.dwell, leg.to)
    });
    let end = end.seconds();
    let bled = end + discharge.bleed.expect("a tool").seconds();
    json!({
        "capacitance_f": object.capacitance.farads(),
        "insulation_ohm": object.insulation.expect("it conducts").ohms(),
        "start_v": object.start.volts(),
        "branch_ohm": object.branches.iter().map(|b| b.resistance.ohms()).collect::<Vec<_>>(),
        "branch_f": object.branches.iter().map(|b| b.capacitance.farads()).collect::<Vec<_>>(),
        "onset_v": onset.from.volts(), "efold_v": onset.scale.volts(),
        "limit_a": supply.limit.expect("a limit").amperes(),
        "trip_a": supply.trip.expect("a trip").amperes(),
        "series_ohm": supply.series.ohms(),
        "course": course.iter().map(|leg| json!({
            "to_v": leg.to.volts(), "dwell_s": leg.dwell.seconds(),
            "rise_v_per_s": leg.rise.expect("a rate").volts_per_second(),
        })).collect::<Vec<_>>(),
        "down": [[end, bled, discharge.resistor.expect("a tool").ohms()],
                 [bled, bled + open, Value::Null]],
        "t_s": samples.iter().map(|s| s.at.seconds()).collect::<Vec<_>>(),
        "v": samples.iter().map(|s| s.voltage.volts()).collect::<Vec<_>>(),
        "a": samples.iter().map(|s| s.current.amperes()).collect::<Vec<_>>(),
    })
}

pub(crate) fn case(words: &[String]) -> Case {
    let which = words.first().map_or("weak", String::as_str).to_string();
    let timed = told(&which);
    Case {
        call: Box::new(move || {
            black_box(solved(black_box(&timed)));
        }),
        answer: Box::new(move || described(&told(&which))),
    }
}
