//! The end gauge of JCGM 100:2008 H.1, and a resistance at 40 °C, to first order.

use std::hint::black_box;

use physics::temperature::{Model, factor_to_40};
use physics::uncertainty::{Budget, Evaluated, Input, Order};
use quantity::Temperature;
use serde_json::{Value, json};

use super::Case;

fn gauge() -> Evaluated {
    let budget = Budget::new(vec![
        Input::normal("standard", 50_000_623.0, 25.0).with_freedom(18.0),
        Input::normal("difference", 215.0, 9.7).with_freedom(25.6),
        Input::normal("expansion", 11.5e-6, 1.2e-6),
        Input::normal("temperature", -0.1, 0.41),
        Input::normal("expansions apart", 0.0, 0.58e-6).with_freedom(50.0),
        Input::normal("temperatures apart", 0.0, 0.029).with_freedom(2.0),
    ]);
    let length = |x: &[f64]| x[0] + x[1] - x[0] * (x[4] * x[3] + x[2] * x[5]);
    budget.and_then(|budget| budget.evaluate(length, Order::First)).expect("a length")
}

fn corrected() -> Evaluated {
    let budget = Budget::new(vec![
        Input::rectangular("voltage", 5000.0, 100.0),
        Input::rectangular("current", 2.0e-6, 0.05e-6),
        Input::rectangular("meter", 1.0, 0.02),
        Input::rectangular("temperature", 25.0, 2.0),
    ]);
    let resistance = |x: &[f64]| {
        let factor = factor_to_40(Model::HalvingPerTen, Temperature::from_celsius(x[3]));
        x[0] / (x[1] * x[2]) * factor.map_or(f64::NAN, |factor| factor.value())
    };
    budget.and_then(|budget| budget.evaluate(resistance, Order::First)).expect("a resistance")
}

pub(crate) fn case(_: &[String]) -> Case {
    let told = |found: &Evaluated| -> Value {
        let inputs = found.contributions.iter().map(|one| {
            json!({ "name": one.name, "value": one.value, "standard": one.standard,
                    "sensitivity": one.sensitivity })
        });
        json!({ "value": found.value, "standard": found.standard,
                "inputs": inputs.collect::<Vec<_>>() })
    };
    Case {
        call: Box::new(|| {
            black_box((gauge(), corrected()));
        }),
        answer: Box::new(
            move || json!({ "gauge": told(&gauge()), "corrected": told(&corrected()) }),
        ),
    }
}
