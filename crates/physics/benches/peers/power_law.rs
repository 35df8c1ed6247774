//! G + A·t⁻ⁿ to twenty readings, with covariance.

use std::hint::black_box;

use physics::fit::fit_power_law;
use serde_json::json;

use super::Case;

/// Twenty readings from 15 s to 600 s in equal steps of ln t: 2 + 8·(t/60)^(−0.8), one per cent
/// off to either side in turn.
fn readings() -> (Vec<f64>, Vec<f64>, Vec<f64>) {
    let times: Vec<f64> = (0..20).map(|k| 15.0 * 40.0_f64.powf(f64::from(k) / 19.0)).collect();
    let currents: Vec<f64> = times
        .iter()
        .enumerate()
        .map(|(k, t)| (2.0 + 8.0 * (t / 60.0).powf(-0.8)) * [1.01, 0.99][k % 2])
        .collect();
    let weights = currents.iter().map(|current| (0.01 * current).powi(-2)).collect();
    (times, currents, weights)
}

pub(crate) fn case(_: &[String]) -> Case {
    let (t, i, w) = readings();
    let told = (t.clone(), i.clone(), w.clone());
    Case {
        call: Box::new(move || {
            let found = fit_power_law(black_box(&t), black_box(&i), black_box(&w));
            black_box(found.expect("it falls"));
        }),
        answer: Box::new(move || {
            let (t, i, w) = &told;
            let fit = fit_power_law(t, i, w).expect("it falls");
            json!({ "t_s": t, "current": i, "weight": w, "conduction": fit.conduction,
                    "absorption": fit.absorption, "exponent": fit.exponent,
                    "covariance": fit.covariance })
        }),
    }
}
