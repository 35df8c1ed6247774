//! A level and three exponentials to twenty readings, no start given; words: noise, seed.

use std::hint::black_box;

use physics::fit::{Exponentials, Level, fit_exponentials};
use serde_json::json;

use super::Case;

/// Nanoamperes of an object of 50 GΩ, 2 nF behind 5 GΩ, 5 nF behind 20 GΩ and 10 nF behind 100 GΩ
/// at 1 kV, read twenty times from 1 s to 1000 s in equal steps of ln t.
fn readings(noise: f64, seed: u64) -> [Vec<f64>; 3] {
    let mut state = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x5851_f42d_4c95_7f2d;
    let mut uniform = || {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((state >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    };
    // Twelve uniform numbers make a normal one, near enough.
    let mut normal = || (0..12).map(|_| uniform()).sum::<f64>() - 6.0;
    let times: Vec<f64> = (0..20).map(|k| 1000.0_f64.powf(f64::from(k) / 19.0)).collect();
    let clean = |t: f64| {
        20.0 + 200.0 * (-t / 10.0).exp() + 50.0 * (-t / 100.0).exp() + 10.0 * (-t / 1000.0).exp()
    };
    let currents: Vec<f64> = times.iter().map(|&t| clean(t) * (1.0 + noise * normal())).collect();
    let weights = currents.iter().map(|current| (noise * current).powi(-2)).collect();
    [times, currents, weights]
}

fn fit([times, currents, weights]: &[Vec<f64>; 3]) -> Exponentials {
    fit_exponentials(times, currents, weights, 3, Level::Fitted).expect("it falls")
}

pub(crate) fn case(words: &[String]) -> Case {
    let noise = words.first().and_then(|word| word.parse().ok()).expect("a noise, such as 0.01");
    let seed = words.get(1).and_then(|word| word.parse().ok()).expect("a seed, such as 7");
    let read = readings(noise, seed);
    let told = read.clone();
    Case {
        call: Box::new(move || {
            black_box(fit(black_box(&read)));
        }),
        answer: Box::new(move || {
            let found = fit(&told);
            json!({ "t_s": told[0], "current": told[1], "weight": told[2],
                    "squares": found.squares, "conduction": found.conduction,
                    "amplitudes": found.terms.iter().map(|t| t.amplitude).collect::<Vec<_>>(),
                    "time_constants_s":
                        found.terms.iter().map(|t| t.time_constant_s).collect::<Vec<_>>() })
        }),
    }
}
