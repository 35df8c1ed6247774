//! Sums of exponentials against certified values, worked traces, and traces made from the model.

use physics::fit::{Level, NotSeparable, fit_exponentials, fit_supported_exponentials};
use quantity::Voltage;

/// Twenty ages from 1 s to `last` in equal steps of the logarithm.
fn ages(last: f64) -> Vec<f64> {
    (0..20).map(|k| last.powf(f64::from(k) / 19.0)).collect()
}

fn current(t: f64, level: f64, terms: &[(f64, f64)]) -> f64 {
    level + terms.iter().map(|(amplitude, tau)| amplitude * (-t / tau).exp()).sum::<f64>()
}

/// Numbers that scatter like a normal distribution of width one, always the same.
fn scatter(count: usize, seed: u64) -> Vec<f64> {
    let mut state = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x5851_f42d_4c95_7f2d;
    let mut uniform = || {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((state >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    };
    (0..count).map(|_| (0..12).map(|_| uniform()).sum::<f64>() - 6.0).collect()
}

/// A trace with that relative scatter, and weights to match.
fn noisy(times: &[f64], level: f64, terms: &[(f64, f64)], part: f64, seed: u64) -> [Vec<f64>; 2] {
    let clean: Vec<f64> = times.iter().map(|&t| current(t, level, terms)).collect();
    let currents =
        clean.iter().zip(scatter(times.len(), seed)).map(|(i, noise)| i * (1.0 + part * noise));
    [currents.collect(), clean.iter().map(|i| (part * i).powi(-2)).collect()]
}

#[test]
fn the_certified_fit_of_three_exponentials() {
    // NIST/ITL StRD, Lanczos3 (higher level of difficulty for any start): certified parameters and
    // standard deviations of y = b1·e^(−b2·x) + b3·e^(−b4·x) + b5·e^(−b6·x).
    let y = [
        2.5134, 2.0443, 1.6684, 1.3664, 1.1232, 0.9269, 0.7679, 0.6389, 0.5338, 0.4479, 0.3776,
        0.3197, 0.2720, 0.2325, 0.1997, 0.1723, 0.1493, 0.1301, 0.1138, 0.1000, 0.0883, 0.0783,
        0.0698, 0.0624,
    ];
    let x: Vec<f64> = (0..24).map(|k| 0.05 * f64::from(k)).collect();
    let fit = fit_exponentials(&x, &y, &[1.0; 24], 3, Level::Zero).expect("it falls");
    assert_eq!(fit.freedom, 18);
    assert!((fit.squares / 1.6117193594e-8 - 1.0).abs() < 1e-7, "{}", fit.squares);
    let certified = [
        (1.5825685901, 0.058371576281, 4.9863565084, 0.034436403035),
        (0.84400777463, 0.041488663282, 2.9515951832, 0.10766312506),
        (0.086816414977, 0.017197908859, 0.95498101505, 0.097041624475),
    ];
    for (k, (amplitude, its_sd, rate, rate_sd)) in certified.into_iter().enumerate() {
        let term = fit.terms[k];
        let found = [
            (term.amplitude, amplitude),
            (fit.covariance[1 + k][1 + k].sqrt(), its_sd),
            (term.time_constant_s.recip(), rate),
            // The standard deviation of a rate 1/τ is τ's over τ².
            (fit.covariance[4 + k][4 + k].sqrt() / term.time_constant_s.powi(2), rate_sd),
        ];
        for (found, certified) in found {
            assert!((found / certified - 1.0).abs() < 1e-6, "{found}, certified {certified}");
        }
    }
}

#[test]
fn a_worked_object_gives_its_branches_back() {
    // Derived: 1 kV on 50 GΩ with 5 GΩ and 2 nF, 20 GΩ and 5 nF, 100 GΩ and 10 nF.
    let truth = [(5e9, 2e-9), (20e9, 5e-9), (100e9, 10e-9)];
    let terms = truth.map(|(ohms, farads): (f64, f64)| (1e3 / ohms, ohms * farads));
    let times = ages(3600.0);
    let currents: Vec<f64> = times.iter().map(|&t| current(t, 20e-9, &terms)).collect();
    // In nanoamperes at 1, 10 and 100 s the same object is worked out by hand.
    for (t, nanoamperes) in [(1.0, 260.459980), (10.0, 148.718257), (100.0, 47.451426)] {
        assert!((1e9 * current(t, 20e-9, &terms) - nanoamperes).abs() < 1e-6);
    }
    let fit = fit_exponentials(&times, &currents, &[1.0; 20], 3, Level::Fitted).expect("it falls");
    assert_eq!(fit.told_apart(), Ok(()));
    for (branch, (ohms, farads)) in fit.branches(Voltage::from_volts(1e3)).iter().zip(truth) {
        assert!((branch.resistance.ohms() / ohms - 1.0).abs() < 1e-4, "{branch:?}");
        assert!((branch.capacitance.farads() / farads - 1.0).abs() < 1e-4, "{branch:?}");
    }
    assert!((fit.conduction / 20e-9 - 1.0).abs() < 1e-4);
}

#[test]
fn the_covariance_says_how_far_a_noisy_fit_is_off() {
    // Derived: over 400 noisy traces each unknown's error over its stated one scatters by about
    // one; 13 degrees of freedom widen it to √(13/11) = 1.09.
    let (times, terms) = (ages(1000.0), [(80.0, 4.0), (30.0, 35.0), (10.0, 260.0)]);
    let truth = [2.0, 80.0, 30.0, 10.0, 4.0, 35.0, 260.0];
    let mut squares = [0.0; 7];
    for seed in 0..400 {
        let [currents, weights] = noisy(&times, 2.0, &terms, 0.005, seed);
        let fit =
            fit_exponentials(&times, &currents, &weights, 3, Level::Fitted).expect("it falls");
        let amplitudes = fit.terms.iter().map(|term| term.amplitude);
        let constants = fit.terms.iter().map(|term| term.time_constant_s);
        let found = [fit.conduction].into_iter().chain(amplitudes).chain(constants);
        for (k, (found, truth)) in found.zip(truth).enumerate() {
            squares[k] += (found - truth).powi(2) / fit.covariance[k][k] / 400.0;
        }
    }
    for square in squares {
        // Five standard errors of the spread of 400, and what is left of curvature.
        assert!((0.9..1.3).contains(&square.sqrt()), "{squares:?}");
    }
}

#[test]
fn as_many_branches_as_the_readings_support() {
    let times = ages(1000.0);
    for (terms, noise) in [
        (&[(80.0, 30.0)][..], 0.01),
        (&[(80.0, 4.0), (10.0, 260.0)], 0.01),
        (&[(80.0, 4.0), (30.0, 35.0), (10.0, 260.0)], 0.005),
    ] {
        let right = (0..100).filter(|&seed| {
            let [currents, weights] = noisy(&times, 2.0, terms, noise, seed);
            let found = fit_supported_exponentials(&times, &currents, &weights, Level::Fitted);
            found.is_ok_and(|(fit, _)| fit.terms.len() == terms.len())
        });
        let right = right.count();
        assert!(right >= 90, "{} branches: {right} of 100", terms.len());
    }
}

#[test]
fn what_cannot_be_told_apart_is_said() {
    let times = ages(1000.0);
    // Derived: 20 s and 30 s lie closer than a factor of two; a tenth of a per cent of scatter.
    let [currents, weights] = noisy(&times, 2.0, &[(50.0, 20.0), (50.0, 30.0)], 0.001, 1);
    let fit = fit_exponentials(&times, &currents, &weights, 2, Level::Fitted).expect("it falls");
    assert!(matches!(
        fit.told_apart(),
        Err(NotSeparable::TimeConstants(..) | NotSeparable::Term(_))
    ));
    // One branch, and four asked for.
    let [currents, weights] = noisy(&times, 2.0, &[(50.0, 20.0)], 0.01, 2);
    let fit = fit_exponentials(&times, &currents, &weights, 4, Level::Fitted).expect("it falls");
    assert!(fit.told_apart().is_err());
    let ones = [1.0; 20];
    let fit = |currents: &[f64]| {
        fit_exponentials(&times, currents, &ones, 2, Level::Fitted).map(|fit| fit.terms.len())
    };
    assert_eq!(fit(&[3.0; 20]), Err(NotSeparable::Flat));
    let rising: Vec<f64> = times.iter().map(|t| 1.0 + t / 900.0).collect();
    assert_eq!(fit(&rising), Err(NotSeparable::NotFalling));
    let few = fit_exponentials(&times[..5], &currents[..5], &ones[..5], 2, Level::Fitted);
    assert_eq!(few.map(|fit| fit.freedom), Err(NotSeparable::TooFew { needed: 6, given: 5 }));
    let mut back = times.clone();
    back.swap(3, 4);
    let swapped = fit_exponentials(&back, &currents, &ones, 2, Level::Fitted);
    assert_eq!(swapped.map(|fit| fit.freedom), Err(NotSeparable::Unusable(4)));
    let noise: Vec<f64> = scatter(20, 9).iter().map(|noise| 3.0 + 0.1 * noise).collect();
    let lost = fit_supported_exponentials(&times, &noise, &ones, Level::Fitted);
    assert!(lost.is_err(), "{lost:?}");
}
