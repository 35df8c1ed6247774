//! Fits against worked traces, and against traces made from the model itself.

use physics::fit::{
    NotSeparable, Point, Step, fit_conduction, fit_course, fit_fixed_exponent, fit_power_law, hinge,
};

/// A worked staircase: 10 kV at 0 s, 2 kV more at 600 … 840 s, each read just before the next.
fn staircase() -> (Vec<Point>, Vec<Step>) {
    // Derived: 0.25 µF, K = 0.02, n = 0.8 and 8 GΩ; printed with seven digits.
    let read = [
        (60.0, 10e3, 3.139944),
        (600.0, 10e3, 1.549536),
        (660.0, 12e3, 2.155535),
        (720.0, 14e3, 2.603970),
        (780.0, 16e3, 2.994869),
        (840.0, 18e3, 3.355581),
        (900.0, 20e3, 3.697597),
    ];
    let points = read.map(|(at_s, volts, microamperes)| Point {
        at_s,
        volts,
        amperes: microamperes * 1e-6,
        sigma: 1e-8,
    });
    let mut steps = vec![Step { at_s: 0.0, volts: 10e3, over_s: 0.0 }];
    steps.extend([600.0, 660.0, 720.0, 780.0, 840.0].map(|at_s| Step {
        at_s,
        volts: 2e3,
        over_s: 0.0,
    }));
    (points.to_vec(), steps)
}

/// Numbers that scatter like a normal distribution of width one, always the same.
fn scatter(count: usize, seed: u64) -> Vec<f64> {
    let mut state = seed;
    let mut uniform = || {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((state >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    };
    (0..count).map(|_| (0..12).map(|_| uniform()).sum::<f64>() - 6.0).collect()
}

#[test]
fn the_staircase_gives_its_exponent_and_resistance_back() {
    let (points, steps) = staircase();
    let fit = fit_course(&points, &steps).expect("seven readings");
    let gigohms = fit.insulation().expect("it conducts").megohms() / 1e3;
    assert!((fit.exponent / 0.8 - 1.0).abs() < 1e-4, "n = {}", fit.exponent);
    assert!((gigohms / 8.0 - 1.0).abs() < 1e-4, "R = {gigohms} GΩ");
    // Derived: C·K·ΔV·60^(−0.8).
    assert!((fit.absorption / 1.889944e-6 - 1.0).abs() < 1e-4);
    for point in &points {
        let fitted = fit.current(point.volts, point.at_s, &steps).expect("there are steps");
        assert!((point.amperes - fitted).abs() < 1e-12);
    }
    assert_eq!(fit.freedom, 4);
    assert!(fit.scatter < 1e-3);
    // The stated uncertainty rules where the scatter is smaller: 10 nA on each reading.
    assert!(fit.covariance[0][0].sqrt() > 1e-13);
    // A straight sample shows no knee, though its apparent resistance falls.
    let knee = hinge(&points, &steps, None).expect("six levels");
    assert!(!knee.supported, "{knee:?}");
}

#[test]
fn a_known_exponent_or_none_at_all() {
    let (points, steps) = staircase();
    let fit = fit_fixed_exponent(&points, &steps, 0.8).expect("seven readings");
    assert!((fit.conductance * 8e9 - 1.0).abs() < 1e-5);
    assert_eq!(fit.covariance[2], [0.0; 3]);
    let straight: Vec<Point> =
        points.iter().map(|point| Point { amperes: point.volts / 8e9, ..*point }).collect();
    let fit = fit_conduction(&straight).expect("seven readings");
    assert!((fit.conductance * 8e9 - 1.0).abs() < 1e-12);
    assert_eq!(fit.absorption, 0.0);
}

#[test]
fn a_knee_is_found_behind_absorption() {
    // Derived: the staircase with 0.4 nS more above 16 kV, so 1.6 µA of excess at 20 kV.
    let (mut points, steps) = staircase();
    for (point, noise) in points.iter_mut().zip(scatter(7, 3)) {
        point.amperes += 0.4e-9 * (point.volts - 16e3).max(0.0) + 1e-9 * noise;
        point.sigma = 1e-9;
    }
    let knee = hinge(&points, &steps, Some(0.8)).expect("six levels");
    assert!(knee.supported, "{knee:?}");
    assert_eq!(knee.from_volts, 16e3);
    assert!((knee.excess_amperes / 1.6e-6 - 1.0).abs() < 0.02, "{knee:?}");
    let knee = hinge(&points, &steps, None).expect("six levels");
    assert!((knee.excess_amperes / 1.6e-6 - 1.0).abs() < 0.05, "{knee:?}");
}

#[test]
fn noise_alone_seldom_makes_a_knee() {
    // Derived: at a level of 1 % no more than a few of a hundred straight samples may show one.
    let (points, steps) = staircase();
    let seen = (0..100).filter(|&seed| {
        let noisy: Vec<Point> = points
            .iter()
            .zip(scatter(7, 1000 + seed))
            .map(|(point, noise)| Point { amperes: point.amperes + 1e-8 * noise, ..*point })
            .collect();
        hinge(&noisy, &steps, Some(0.8)).expect("six levels").supported
    });
    let seen = seen.count();
    assert!(seen <= 3, "{seen} of 100");
}

/// Readings of i = g + a·(t/60)⁻ⁿ at 40 times from 5 s to 900 s.
fn trace(conduction: f64, absorption: f64, exponent: f64) -> (Vec<f64>, Vec<f64>) {
    let times: Vec<f64> = (0..40).map(|k| 5.0 * 180.0_f64.powf(f64::from(k) / 39.0)).collect();
    let currents = times.iter().map(|t| conduction + absorption * (t / 60.0).powf(-exponent));
    let currents = currents.collect();
    (times, currents)
}

#[test]
fn one_trace_gives_its_law_back() {
    for (conduction, absorption, exponent) in
        [(2.0, 8.0, 0.7), (0.5, 20.0, 1.2), (5.0, 3.0, 0.3), (1.0, 1.0, 1.8), (0.0, 4.0, 0.9)]
    {
        let (times, currents) = trace(conduction, absorption, exponent);
        let fit = fit_power_law(&times, &currents, &[1.0; 40]).expect("it bends");
        let close = |found: f64, expected: f64| (found - expected).abs() < 1e-6;
        assert!(close(fit.exponent, exponent), "{exponent}: {fit:?}");
        assert!(close(fit.conduction, conduction), "{conduction}: {fit:?}");
        assert!(close(fit.absorption, absorption), "{absorption}: {fit:?}");
    }
}

#[test]
fn the_covariance_says_how_far_a_noisy_fit_is_off() {
    // Derived: over 200 noisy traces the exponent's error over its stated one scatters by one.
    let (times, currents) = trace(2.0, 8.0, 0.7);
    let (mut sum, mut noise_found) = (0.0, 0.0);
    for seed in 0..200 {
        let noisy: Vec<f64> =
            currents.iter().zip(scatter(40, 77 + seed)).map(|(i, noise)| i + 0.1 * noise).collect();
        let fit = fit_power_law(&times, &noisy, &[100.0; 40]).expect("it bends");
        let pull = (fit.exponent - 0.7) / fit.covariance[2][2].sqrt();
        sum += pull * pull;
        noise_found += fit.residual_sd / 200.0;
    }
    let spread = (sum / 200.0).sqrt();
    assert!((0.85..1.2).contains(&spread), "{spread}");
    // Weights are 1/σ², so the scatter comes out as one.
    assert!((noise_found - 1.0).abs() < 0.03, "{noise_found}");
}

#[test]
fn what_cannot_be_told_is_said() {
    let (times, falling) = trace(2.0, 8.0, 0.7);
    let ones = [1.0; 40];
    let fit = |currents: &[f64]| fit_power_law(&times, currents, &ones).map(|fit| fit.exponent);
    assert_eq!(fit(&[3.0; 40]), Err(NotSeparable::Flat));
    let rising: Vec<f64> = times.iter().map(|t| 1.0 + t / 900.0).collect();
    assert_eq!(fit(&rising), Err(NotSeparable::NotFalling));
    // Falls faster than any exponent looked at.
    let steep: Vec<f64> = times.iter().map(|t| 1.0 + 1e3 * (t / 5.0).powf(-4.0)).collect();
    assert_eq!(fit(&steep), Err(NotSeparable::ExponentAtBound(2.0)));
    let noise = scatter(40, 5);
    let buried: Vec<f64> = noise.iter().map(|noise| 3.0 + 0.1 * noise).collect();
    assert!(
        matches!(
            fit(&buried),
            Err(NotSeparable::WithinNoise | NotSeparable::Flat | NotSeparable::NotFalling)
        ),
        "{:?}",
        fit(&buried)
    );
    assert_eq!(
        fit_power_law(&times[..3], &falling[..3], &ones[..3]).map(|fit| fit.exponent),
        Err(NotSeparable::TooFew { needed: 4, given: 3 })
    );
    assert_eq!(
        fit_power_law(&times, &falling, &ones[..3]).map(|fit| fit.exponent),
        Err(NotSeparable::Lengths)
    );
    let (mut points, steps) = staircase();
    assert_eq!(fit_course(&points, &[]).map(|fit| fit.exponent), Err(NotSeparable::NoStep));
    points[2].sigma = 0.0;
    assert_eq!(fit_course(&points, &steps).map(|fit| fit.exponent), Err(NotSeparable::Unusable(2)));
}
