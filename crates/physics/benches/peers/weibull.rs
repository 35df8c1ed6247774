//! Weibull's distribution from a censored sample with its bounds, and life under voltage.

use std::hint::black_box;

use physics::breakdown::{
    Bounds, End, Figure, Outcome, Positions, Regress, StepTest, Stretch, Weibull, endurance,
    ranked, weibull,
};
use quantity::{Band, Time, Voltage};
use serde_json::{Value, json};

use super::Case;

/// NIST/SEMATECH e-Handbook 8.4.1.3, hours; ten more taken out at 500 h.
const FAILED: [f64; 10] = [54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0];
const SURVIVED: [f64; 10] = [500.0; 10];

/// Hours at 3 V and at 5 V that the package `reliability` carries.
const HELD: [(f64, [f64; 4]); 2] =
    [(3.0, [620.0, 632.0, 685.0, 822.0]), (5.0, [380.0, 416.0, 460.0, 596.0])];

fn outcomes() -> Vec<Outcome> {
    let survived = SURVIVED.map(Outcome::Survived);
    FAILED.map(Outcome::Failed).into_iter().chain(survived).collect()
}

/// A voltage for so many hours, and how that ended.
fn held(volts: f64, hours: f64) -> StepTest {
    let level = Voltage::from_volts(volts);
    let time = Time::from_seconds(3600.0 * hours);
    StepTest { stretches: vec![Stretch { from: level, to: level, time }], end: End::Broke }
}

fn bounds_of(fit: &Weibull, bounds: Bounds) -> Value {
    let told = |figure| -> Value {
        let Band { low, mid, high } = fit.band(figure, 0.95, bounds);
        json!([low, mid, high])
    };
    json!({ "shape": told(Figure::Shape), "scale": told(Figure::Scale),
            "tenth": told(Figure::Percentile(0.1)), "by_300": told(Figure::FailedBy(300.0)) })
}

fn answer() -> Value {
    let outcomes = outcomes();
    let fit = weibull(&outcomes).expect("ten failures");
    let line = |regress| -> Value {
        let found = ranked(&outcomes, Positions::NearMedian, regress).expect("ten failures");
        json!([found.shape, found.scale])
    };
    let tests: Vec<StepTest> = HELD
        .iter()
        .flat_map(|(volts, hours)| hours.iter().map(|hours| held(*volts, *hours)))
        .collect();
    let life = endurance(&tests, Voltage::from_volts(3.0)).expect("two voltages");
    json!({ "failed": FAILED, "survived": SURVIVED, "held": HELD,
            "shape": fit.shape, "scale": fit.scale, "ln_likelihood": fit.ln_likelihood,
            "deviations": fit.deviations(), "normal": bounds_of(&fit, Bounds::Normal),
            "ratio": bounds_of(&fit, Bounds::LikelihoodRatio),
            "x_on_y": line(Regress::XOnY), "y_on_x": line(Regress::YOnX),
            "life": { "shape": life.shape, "exponent": life.exponent,
                      "hours": life.scale.seconds() / 3600.0,
                      "exponent_sd": life.covariance[2][2].sqrt() } })
}

pub(crate) fn case(_: &[String]) -> Case {
    let sample = outcomes();
    Case {
        call: Box::new(move || {
            black_box(weibull(black_box(&sample)).expect("ten failures"));
        }),
        answer: Box::new(answer),
    }
}
