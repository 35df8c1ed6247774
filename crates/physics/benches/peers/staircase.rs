//! A staircase of 620 s on an object of four states, and 124,000 rows of it: 1 µF with 25 GΩ and
//! three branches of 50 nF, charged at 1 mA to five levels. Netlist: `bench/peers/circuit.py`.

use std::hint::black_box;

use physics::transient::{Branch, Leg, Rows, Run, Supply, TestObject};
use quantity::{Capacitance, Current, Resistance, Time, Voltage};
use serde_json::json;

use super::Case;

fn staircase() -> (TestObject, Supply, Vec<Leg>) {
    let branch = |megohms: f64| Branch {
        resistance: Resistance::from_megohms(megohms),
        capacitance: Capacitance::from_nanofarads(50.0),
        start: Voltage::ZERO,
    };
    let object = TestObject {
        capacitance: Capacitance::from_microfarads(1.0),
        insulation: Some(Resistance::from_megohms(25_000.0)),
        start: Voltage::ZERO,
        branches: [20.0, 200.0, 2000.0].into_iter().map(branch).collect(),
        surface: None,
        onset: None,
    };
    let supply = Supply { limit: Some(Current::from_milliamperes(1.0)), ..Supply::default() };
    let level = |k: u32| Leg {
        to: Voltage::from_kilovolts(5.0 * f64::from(k)),
        rise: None,
        dwell: Time::from_seconds(124.0),
    };
    (object, supply, (1..=5).map(level).collect())
}

/// Rows at a time, as the command `simulate` takes them.
const BLOCK: usize = 2048;

/// Gives each block of rows to `take`.
fn blocks(mut take: impl FnMut(Rows)) {
    let (object, supply, course) = black_box(staircase());
    let run = Run::new(&object, &supply, &course, None, Time::ZERO).expect("a sound case");
    let last = 124_001;
    for first in (1..last).step_by(BLOCK) {
        let which = first..last.min(first + BLOCK);
        take(run.rows(Time::from_seconds(0.005), which).expect("a sound step"));
    }
}

pub(crate) fn case(_: &[String]) -> Case {
    Case {
        call: Box::new(|| {
            blocks(|rows| {
                black_box(rows);
            });
        }),
        answer: Box::new(|| {
            let (mut at, mut volts, mut amperes) = (Vec::new(), Vec::new(), Vec::new());
            blocks(|rows| {
                at.extend(rows.at_s);
                volts.extend(rows.volts);
                amperes.extend(rows.amperes);
            });
            json!({ "t_s": at, "volts": volts, "amperes": amperes })
        }),
    }
}
