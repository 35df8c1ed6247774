//! Humidity, dew point and pressure of the air over a grid of weather and height.

use std::hint::black_box;

use physics::air::correction::{Stress, gap_correction};
use physics::air::{Weather, absolute_humidity, standard_pressure};
use physics::temperature::dew_point;
use quantity::{Length, Ratio, Temperature, Voltage};
use serde_json::{Value, json};

use super::Case;

fn moist() -> Vec<Value> {
    let mut rows = Vec::new();
    for celsius in [1.0, 10.0, 20.0, 30.0, 40.0, 50.0] {
        for percent in [10.0, 40.0, 63.56, 80.0, 100.0] {
            let (air, part) = (Temperature::from_celsius(celsius), Ratio::from_percent(percent));
            let humidity = absolute_humidity(air, part).expect("in range");
            let dew = dew_point(air, part).expect("in range");
            rows.push(json!({ "air_c": celsius, "humidity_percent": percent,
                "absolute_humidity_g_per_m3": humidity.grams_per_cubic_metre(),
                "dew_point_c": dew.celsius() }));
        }
    }
    rows
}

fn heights() -> Vec<Value> {
    let row = |metres: &f64| {
        let pressure = standard_pressure(Length::from_metres(*metres)).expect("in the layer");
        json!({ "altitude_m": metres, "pressure_kpa": pressure.kilopascals() })
    };
    [-500.0, 0.0, 300.0, 1000.0, 2000.0, 3000.0, 6000.0, 11_000.0].iter().map(row).collect()
}

pub(crate) fn case(_: &[String]) -> Case {
    let stress =
        Stress { breakdown: Voltage::from_kilovolts(135.5), gap: Length::from_metres(0.25) };
    let (air, part) = (Temperature::from_celsius(30.0), Ratio::from_percent(40.0));
    let weather = Weather::at(Length::from_metres(120.0), air, part).expect("in the layer");
    Case {
        call: Box::new(move || {
            black_box(gap_correction(black_box(&weather), &stress).expect("in range"));
        }),
        answer: Box::new(|| json!({ "moist": moist(), "heights": heights() })),
    }
}
