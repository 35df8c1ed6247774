//! The way down of an object with three branches: held, a tool, a dead short, left open.

use std::hint::black_box;

use physics::discharge::{Held, Tool, ground_time, rebound, resistor_energy, time_below};
use physics::transient::{Branch, TestObject};
use quantity::{Capacitance, Resistance, Time, Voltage};
use serde_json::json;

use super::Case;

const LIMIT: Voltage = Voltage::from_volts(50.0);
const WEEK: Time = Time::from_hours(168.0);

fn charged() -> TestObject {
    let branch = |megohms| Branch {
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
    let held = Held { voltage: Voltage::from_kilovolts(25.0), over: Time::from_minutes(10.0) };
    held.charge(&object).expect("sound")
}

fn tool() -> Tool {
    Tool { resistance: Resistance::from_kilohms(50.0), time: Time::from_seconds(10.0) }
}

pub(crate) fn case(_: &[String]) -> Case {
    let (object, tool) = (charged(), tool());
    let told = object.clone();
    Case {
        call: Box::new(move || {
            let found = ground_time(black_box(&object), Some(&tool), LIMIT, WEEK);
            black_box(found.expect("sound"));
        }),
        answer: Box::new(move || {
            let ground = ground_time(&told, Some(&tool), LIMIT, WEEK).expect("sound").time;
            let back = rebound(&told, Some(&tool), Time::ZERO).expect("sound");
            let farads = told.branches.iter().map(|one| one.capacitance.farads());
            let ohms = told.branches.iter().map(|one| one.resistance.ohms());
            json!({
                "farads": told.capacitance.farads(),
                "ohms": told.insulation.map(Resistance::ohms),
                "branch_farads": farads.collect::<Vec<f64>>(),
                "branch_ohms": ohms.collect::<Vec<f64>>(),
                "held_v": told.start.volts(),
                "held_s": 600.0,
                "tool_ohms": tool.resistance.ohms(),
                "tool_s": tool.time.seconds(),
                "limit_v": LIMIT.volts(),
                "below_s": time_below(&told, tool.resistance, LIMIT).expect("sound").seconds(),
                "resistor_j": resistor_energy(&told, &tool).expect("sound").joules(),
                "rebound_v": back.peak.volts(),
                "rebound_s": back.at.seconds(),
                "ground_s": ground.seconds(),
            })
        }),
    }
}
