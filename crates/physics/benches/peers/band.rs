//! The band of a planned test: six steps, 1,000 draws, 200 instants.

use std::hint::black_box;

use physics::course::{ObjectRange, bands};
use physics::transient::Leg;
use quantity::{Band, Capacitance, Resistance, Time, Voltage, VoltageRate};
use serde_json::json;

use super::Case;

const DRAWS: usize = 1000;

/// A large winding of which little is known.
fn range() -> ObjectRange {
    let factor = |mid: f64, factor: f64| Band { low: mid / factor, mid, high: mid * factor };
    ObjectRange {
        capacitance: factor(0.25e-6, 1.2).map(Capacitance::from_farads),
        insulation: factor(8e9, 5.0).map(Resistance::from_ohms),
        strength: factor(0.02, 3.0),
        exponent: Band { low: 0.75, mid: 0.85, high: 0.95 },
        extent: Band { low: 0.5, mid: 1.0, high: 2.0 },
    }
}

/// Ten minutes at 10 kV, then 2 kV more each minute, to 20 kV.
fn course() -> Vec<Leg> {
    let rise = Some(VoltageRate::from_kilovolts_per_second(1.0));
    (0..6)
        .map(|k| Leg {
            to: Voltage::from_kilovolts(10.0 + 2.0 * f64::from(k)),
            rise,
            dwell: if k == 0 { Time::from_minutes(10.0) } else { Time::from_minutes(1.0) },
        })
        .collect()
}

pub(crate) fn case(_: &[String]) -> Case {
    let (range, legs) = (range(), course());
    let times: Vec<Time> = (1..=200).map(|k| Time::from_seconds(4.6 * f64::from(k))).collect();
    let told = (legs.clone(), times.clone());
    Case {
        call: Box::new(move || {
            black_box(bands(black_box(&range), &legs, &times, DRAWS).expect("sound"));
        }),
        answer: Box::new(move || {
            let (legs, times) = &told;
            let found = bands(&range, legs, times, DRAWS).expect("sound");
            let column = |of: fn(&Band<quantity::Current>) -> quantity::Current| {
                found.iter().map(|band| of(band).amperes()).collect::<Vec<f64>>()
            };
            json!({ "t_s": times.iter().map(|t| t.seconds()).collect::<Vec<f64>>(),
                    "low": column(|band| band.low), "mid": column(|band| band.mid),
                    "high": column(|band| band.high) })
        }),
    }
}
