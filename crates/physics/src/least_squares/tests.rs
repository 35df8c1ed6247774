//! Bounds, reasons, and minima that are not the lowest.

use super::*;

/// BoxBOD of the NIST StRD: y = b1·(1 − e^(−b2·x)).
const X: [f64; 6] = [1.0, 2.0, 3.0, 5.0, 7.0, 10.0];
const Y: [f64; 6] = [109.0, 149.0, 149.0, 191.0, 213.0, 224.0];

fn saturation(k: usize, b: &[f64], slopes: &mut [f64]) -> f64 {
    let left = (-b[1] * X[k]).exp();
    slopes.copy_from_slice(&[1.0 - left, b[0] * X[k] * left]);
    b[0] * (1.0 - left)
}

fn line(k: usize, b: &[f64], slopes: &mut [f64]) -> f64 {
    slopes.copy_from_slice(&[1.0, X[k]]);
    b[0] + b[1] * X[k]
}

fn box_bod(parameters: &[Parameter]) -> Result<Solution, NoFit> {
    fit(saturation, &Y, &[1.0; 6], parameters)
}

#[test]
fn a_wrong_minimum_is_never_taken_for_the_right_one() {
    // Certified: 1168.0088766. With b2 large the model is a level, whose sum is 9771.5.
    let mut led_astray = 0;
    for power in -20..=20 {
        let start = 10.0_f64.powf(f64::from(power) / 10.0);
        for first in [Parameter::linear(), Parameter::bending(1.0), Parameter::bending(1e4)] {
            let found = box_bod(&[first, Parameter::bending(start)]).expect("two unknowns");
            assert!((found.squares - 1168.0088766).abs() < 1e-6, "{start}: {found:?}");
            if let Search::BetterElsewhere { squares, .. } = found.search {
                assert!(squares > 9771.0 || squares.is_nan(), "{squares}");
                led_astray += 1;
            }
        }
    }
    assert!(led_astray > 10, "{led_astray}");
}

#[test]
fn bounds_are_kept_and_running_to_one_is_told() {
    let positive = Parameter::bending(0.5).within(0.0, f64::INFINITY);
    let inside = Parameter::bending(0.5).within(0.1, 5.0);
    let below = Parameter::bending(0.5).within(f64::NEG_INFINITY, 1.0);
    for second in [positive, inside, below] {
        let found = box_bod(&[Parameter::linear(), second]).expect("two unknowns");
        // Certified value and standard deviation.
        assert!((found.parameters[1] - 0.547_237_485_42).abs() < 1e-10);
        assert!((found.deviations()[1] - 0.104_559_932_37).abs() < 1e-10);
    }
    let high = Parameter::bending(0.8).within(0.6, 1.0);
    let reason = NoFit::AtBound { parameter: 1, bound: 0.6 };
    assert_eq!(box_bod(&[Parameter::linear(), high]), Err(reason));
    let small = Parameter::linear().within(0.0, 150.0);
    let found = box_bod(&[small, Parameter::bending(0.5)]);
    assert_eq!(found, Err(NoFit::AtBound { parameter: 0, bound: 150.0 }));
}

#[test]
fn what_cannot_be_told_apart_is_named() {
    // Derived: only the sum of the first and third can be told.
    let twice = |k: usize, b: &[f64], slopes: &mut [f64]| {
        slopes.copy_from_slice(&[1.0, X[k], 1.0]);
        b[0] + b[1] * X[k] + b[2]
    };
    let found = fit(twice, &Y, &[1.0; 6], &[Parameter::linear(); 3]);
    assert_eq!(found, Err(NoFit::NotIdentified(vec![0, 2])));
    let level =
        fit(saturation, &[5.0; 6], &[1.0; 6], &[Parameter::linear(), Parameter::bending(1.0)]);
    assert!(level.is_err(), "{level:?}");
}

#[test]
fn a_straight_line_with_its_covariance() {
    // Derived, by the textbook sums: slope Sxy/Sxx with variance σ²/Sxx, Sxx = 57.333…
    let weights = [0.25; 6];
    let found = fit(line, &Y, &weights, &[Parameter::linear(); 2]).expect("two unknowns");
    let (mean_x, mean_y) = (28.0 / 6.0, 1035.0 / 6.0);
    let sxx: f64 = X.iter().map(|x| (x - mean_x) * (x - mean_x)).sum();
    let sxy: f64 = X.iter().zip(Y).map(|(x, y)| (x - mean_x) * (y - mean_y)).sum();
    assert!((found.parameters[1] - sxy / sxx).abs() < 1e-12);
    assert!((found.covariance_as_stated()[1][1] - 4.0 / sxx).abs() < 1e-14);
    let variance = found.squares / 4.0;
    assert!((found.covariance_by_scatter()[1][1] - variance * 4.0 / sxx).abs() < 1e-10);
    assert_eq!(found.search, Search::Agreed);
    assert_eq!(found.freedom, 4);
}

#[test]
fn what_cannot_be_used_is_refused() {
    let two = [Parameter::linear(), Parameter::bending(1.0)];
    type Case<'a> = (&'a [f64], &'a [f64], [Parameter; 2], NoFit);
    let cases: [Case; 5] = [
        (&Y[..2], &[1.0; 2], two, NoFit::TooFew { needed: 3, given: 2 }),
        (&Y, &[1.0; 5], two, NoFit::Lengths),
        (&[1.0, f64::NAN, 2.0], &[1.0; 3], two, NoFit::Unusable(1)),
        (&Y, &[1.0, 1.0, 1.0, 0.0, 1.0, 1.0], two, NoFit::Unusable(3)),
        (&Y, &[1.0; 6], [two[0], two[1].within(2.0, 3.0)], NoFit::Start(1)),
    ];
    for (observed, weights, parameters, reason) in cases {
        assert_eq!(fit(saturation, observed, weights, &parameters), Err(reason));
    }
    let nowhere = |_: usize, _: &[f64], _: &mut [f64]| f64::NAN;
    assert_eq!(fit(nowhere, &Y, &[1.0; 6], &two), Err(NoFit::Undefined));
}
