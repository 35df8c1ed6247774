//! Resistance, polarization index and resistance at 40 °C by draws, with exact quantiles.
//! Words: how many draws (a million), by how many threads (two).

use std::hint::black_box;

use physics::temperature::{Model, factor_to_40};
use physics::uncertainty::{Budget, Drawn, Input, Sampling, draw};
use quantity::Temperature;
use serde_json::json;

use super::Case;

const SHARES: [f64; 3] = [0.025, 0.5, 0.975];

/// A winding of 5 kV rating read at one and ten minutes; the temperature is known to 2 K.
fn budget() -> Budget {
    Budget::new(vec![
        Input::normal("voltage", 5000.0, 50.0),
        Input::normal("current at 60 s", 2.0e-6, 0.04e-6),
        Input::normal("current at 600 s", 0.6e-6, 0.02e-6),
        Input::normal("temperature", 55.0, 2.0),
    ])
    .expect("four inputs")
}

fn results(x: &[f64]) -> [f64; 3] {
    let [volts, at_60, at_600, celsius] = *x else { return [f64::NAN; 3] };
    let resistance = volts / at_60;
    let factor = factor_to_40(Model::HalvingPerTen, Temperature::from_celsius(celsius));
    let factor = factor.map_or(f64::NAN, |factor| factor.value());
    [resistance, at_60 / at_600, resistance * factor]
}

pub(crate) fn case(words: &[String]) -> Case {
    let word = |place: usize, usual| {
        words.get(place).map_or(usual, |word| word.parse().expect("a whole number"))
    };
    let sampling = Sampling { draws: word(0, 1_000_000), threads: word(1, 2) };
    let inputs = budget();
    let once = move || {
        draw(black_box(&inputs), results, sampling, &SHARES).expect("every draw is a number")
    };
    let told = once.clone();
    Case {
        call: Box::new(move || {
            black_box(once());
        }),
        answer: Box::new(move || {
            let one = |drawn: &Drawn| {
                json!({ "mean": drawn.mean, "standard": drawn.standard,
                        "quantiles": drawn.quantiles })
            };
            let budget = budget();
            let inputs = budget.inputs().iter().map(|input| [input.value(), input.standard()]);
            json!({ "inputs": inputs.collect::<Vec<_>>(), "draws": sampling.draws,
                    "shares": SHARES, "results": told().iter().map(one).collect::<Vec<_>>() })
        }),
    }
}
