//! Published fits, and what cannot be told.

use super::*;
use quantity::{Time, Voltage};

fn failed(at: &[f64]) -> Vec<Outcome> {
    at.iter().map(|&at| Outcome::Failed(at)).collect()
}

fn check(found: f64, expected: f64, relative: f64) {
    assert!((found / expected - 1.0).abs() <= relative, "{found}, not {expected}");
}

/// Hours to failure of insulation, as Probability and Statistics for Engineering and the Sciences
/// prints them from a paper of 1985.
const INSULATION: [f64; 10] =
    [282.0, 501.0, 741.0, 851.0, 1072.0, 1122.0, 1202.0, 1585.0, 1905.0, 2138.0];

/// Minutes to breakdown of an insulating fluid at 34 kV: Accelerated Testing (1990), p. 129.
const FLUID: [f64; 19] = [
    0.19, 0.78, 0.96, 1.31, 2.78, 3.16, 4.15, 4.67, 4.85, 6.50, 7.35, 8.01, 8.27, 12.06, 31.75,
    32.52, 33.91, 36.71, 72.89,
];

/// NIST/SEMATECH e-Handbook 8.4.1.3: hours, ten more taken out at 500 h.
fn handbook() -> Vec<Outcome> {
    let mut outcomes =
        failed(&[54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0]);
    outcomes.extend([Outcome::Survived(500.0); 10]);
    outcomes
}

/// Bearing cages: Statistical Methods for Reliability Data, example 8.16; how many ran how long.
fn cages() -> Vec<Outcome> {
    let mut outcomes = failed(&[230.0, 334.0, 423.0, 990.0, 1009.0, 1510.0]);
    let ran =
        [288, 148, 124, 111, 106, 99, 110, 114, 119, 127, 123, 93, 47, 41, 27, 11, 6, 0, 1, 0, 2];
    for (count, hours) in ran.into_iter().zip((0..).map(|k| 50.0 + 100.0 * f64::from(k))) {
        outcomes.extend(vec![Outcome::Survived(hours); count]);
    }
    outcomes
}

#[test]
fn greatest_likelihood_as_published() {
    // β, η and ln L: W1, W2 by an independent script of the same equations; W3 the handbook's own
    // (its ln L 75.135); W4 The New Weibull Handbook, appendix C.5; W7 survreg of R, and the book's
    // own β of 2.035.
    let mut engines = failed(&[1500.0, 2250.0, 4000.0, 4300.0, 7000.0]);
    engines.extend([Outcome::Survived(1750.0), Outcome::Survived(5000.0)]);
    let cases = [
        (failed(&INSULATION), 2.152_001, 1_289.342_723, Some(-77.095_088)),
        (failed(&FLUID), 0.770_821, 12.222_218, Some(-68.386_026)),
        (handbook(), 1.720_797, 606.527_558, Some(-75.134_618)),
        (engines, 2.257_043, 4_900.105_687, None),
        (cages(), 2.035_318_6, 11_792.178_17, Some(-76.436_896_4)),
    ];
    for (outcomes, shape, scale, height) in cases {
        let found = weibull(&outcomes).expect("it fails");
        check(found.shape, shape, 3e-7);
        check(found.scale, scale, 3e-8);
        if let Some(height) = height {
            check(found.ln_likelihood, height, 1e-8);
        }
    }
    // The book's B10 of the cages.
    let found = weibull(&cages()).expect("it fails");
    assert_eq!(found.value(Figure::Percentile(0.1)).round(), 3903.0);
    assert_eq!(found.failures(), 6);
}

#[test]
fn bounds_by_the_likelihood_ratio() {
    // Roots of the profile likelihood of scipy.stats.weibull_min, SciPy 1.17.1, χ² of 95 %.
    let fit = weibull(&handbook()).expect("ten failures");
    let cases = [
        (Figure::Shape, 0.905_645_358_752, 2.885_737_865_74),
        (Figure::Scale, 437.556_745_394, 1_118.877_624_7),
        (Figure::Percentile(0.1), 59.854_554_249_4, 271.949_517_555),
        (Figure::FailedBy(300.0), 0.124_644_142_49, 0.437_716_124_52),
    ];
    for (figure, low, high) in cases {
        let band = fit.band(figure, 0.95, Bounds::LikelihoodRatio);
        check(band.low, low, 1e-9);
        check(band.high, high, 1e-9);
        check(band.mid, fit.value(figure), 1e-15);
    }
}

#[test]
fn rank_regression_by_every_named_position() {
    // By an independent script of the same equations (machines' figures W1).
    let cases = [
        (Positions::Midpoint, 1.979_45, 1_296.277, 1.961_96, 1_299.492),
        (Positions::NearMedian, 1.811_09, 1_310.470, 1.791_18, 1_314.685),
        (Positions::Iec62539, 1.902_00, 1_322.048, 1.885_26, 1_325.546),
    ];
    for (positions, x_shape, x_scale, y_shape, y_scale) in cases {
        let x = ranked(&failed(&INSULATION), positions, Regress::XOnY).expect("ten failures");
        let y = ranked(&failed(&INSULATION), positions, Regress::YOnX).expect("ten failures");
        check(x.shape, x_shape, 4e-6);
        check(x.scale, x_scale, 4e-7);
        check(y.shape, y_shape, 4e-6);
        check(y.scale, y_scale, 4e-7);
        // Derived: the two slopes enclose the correlation.
        check(y.shape / x.shape, x.correlation_squared, 1e-12);
    }
    // Printed tables of median ranks, n = 10: 0.0670, 0.1623, … 0.9330.
    let exact = ranked(&failed(&INSULATION), Positions::Median, Regress::XOnY).expect("ten");
    for (point, share) in [(0, 0.0670), (1, 0.1623), (4, 0.4517), (9, 0.9330)] {
        assert!((exact.points[point].1 - share).abs() < 5e-5, "{:?}", exact.points);
    }
    // Derived: 1 − (1 − p)^n = 1/2 for the first of n.
    check(exact.points[0].1, 1.0 - 0.5_f64.powf(0.1), 1e-12);
}

#[test]
fn suspensions_move_the_ranks_behind_them() {
    // Derived: five of seven fail; after the suspension at 1750 the step is (8 − 1)/(1 + 5).
    let mut outcomes = failed(&[1500.0, 2250.0, 4000.0, 4300.0, 7000.0]);
    outcomes.extend([Outcome::Survived(1750.0), Outcome::Survived(5000.0)]);
    let found = ranked(&outcomes, Positions::Midpoint, Regress::XOnY).expect("five failures");
    let ranks: Vec<f64> = found.points.iter().map(|point| 7.0 * point.1 + 0.5).collect();
    let step = 7.0 / 6.0;
    let last = 1.0 + 3.0 * step;
    let expected = [1.0, 1.0 + step, 1.0 + 2.0 * step, last, last + (8.0 - last) / 2.0];
    for (rank, expected) in ranks.iter().zip(expected) {
        check(*rank, expected, 1e-12);
    }
    let between = [Outcome::Failed(1.0), Outcome::Failed(2.0), Outcome::Between(1.0, 2.0)];
    let refused = ranked(&between, Positions::Median, Regress::XOnY);
    assert_eq!(refused, Err(NoWeibull::NoRank(2)));
}

#[test]
fn narrow_intervals_are_as_good_as_failures() {
    // Derived: the likelihood of an interval of width h is that of a failure, times h.
    let exact = weibull(&handbook()).expect("ten failures");
    let narrow: Vec<Outcome> = handbook()
        .into_iter()
        .map(|outcome| match outcome {
            Outcome::Failed(at) => Outcome::Between(at - 1e-3, at + 1e-3),
            other => other,
        })
        .collect();
    let found = weibull(&narrow).expect("ten intervals");
    check(found.shape, exact.shape, 1e-8);
    check(found.scale, exact.scale, 1e-8);
    check(found.covariance[0][0], exact.covariance[0][0], 1e-5);
    // Wide ones tell less, yet the same thing.
    let wide: Vec<Outcome> = [(0.0, 200.0), (200.0, 300.0), (300.0, 400.0)]
        .iter()
        .zip([2, 3, 5])
        .flat_map(|(&(after, until), count)| vec![Outcome::Between(after, until); count])
        .chain([Outcome::Survived(500.0); 10])
        .collect();
    let found = weibull(&wide).expect("ten intervals");
    assert!((found.shape / exact.shape).ln().abs() < 0.2, "{found:?}");
}

#[test]
fn a_step_test_of_one_voltage_is_a_weibull_sample() {
    let at = |volts: f64| Stretch {
        from: Voltage::from_volts(volts),
        to: Voltage::from_volts(volts),
        time: Time::from_seconds(60.0),
    };
    let alike = vec![StepTest { stretches: vec![at(1e3)], end: End::Broke }; 3];
    let reference = Voltage::from_kilovolts(1.0);
    assert_eq!(endurance(&alike, reference), Err(NoWeibull::NoSpread.into()));
    // Derived: with β = 1 and N = 2, one minute at 2 kV is four at 1 kV, whatever came before.
    let known = Endurance::given(1.0, 2.0, Time::from_seconds(600.0), reference);
    let band = known.breaks_in(&[at(1e3)], &[at(2e3)], 0.95);
    check(band.mid, 1.0 - (-0.4_f64).exp(), 1e-12);
    assert_eq!(band.low, band.high);
    // Derived: a rise from 0 to V counts 1/(N + 1) of as long at V.
    let rise = Stretch { from: Voltage::from_volts(0.0), ..at(2e3) };
    check(known.breaks_in(&[], &[rise], 0.95).mid, 1.0 - (-0.4_f64 / 3.0).exp(), 1e-12);
}

#[test]
fn what_tells_nothing_is_said() {
    let one = [Outcome::Failed(1.0), Outcome::Survived(2.0)];
    assert_eq!(weibull(&one), Err(NoWeibull::TooFew { needed: 2, given: 1 }));
    assert_eq!(weibull(&failed(&[3.0; 4])), Err(NoWeibull::NoSpread));
    assert_eq!(weibull(&failed(&[3.0, -1.0])), Err(NoWeibull::Unusable(1)));
    assert_eq!(
        weibull(&[Outcome::Failed(1.0), Outcome::Between(2.0, 2.0)]),
        Err(NoWeibull::Unusable(1))
    );
    // Fails early and then hardly: the likelihood runs off towards the first failure.
    assert_eq!(located(&failed(&FLUID)), Err(NoWeibull::Unbounded));
}

#[test]
fn a_location_is_told_only_where_it_is() {
    // By SciPy 1.17.1 over the same likelihood written out, its peak inside.
    let found = located(&failed(&INSULATION)).expect("a peak");
    check(found.location, 144.556_162, 1e-6);
    check(found.above.shape, 1.790_831_5, 1e-6);
    check(found.above.scale, 1_116.102_81, 1e-6);
    check(found.above.ln_likelihood, -77.038_588_262_9, 1e-11);
    // Derived: no specimen was drawn with a location, and none is supported.
    assert!(!found.supported && found.p > 0.3, "{}", found.p);
    assert_eq!(found.location_band.low, 0.0);
    assert!(found.location_band.high <= INSULATION[0]);
    // The handbook's failures alone do best without.
    let alone = &handbook()[..10];
    assert_eq!(located(alone), Err(NoWeibull::NoLocation));
    // Derived: places of γ = 100, β = 2, η = 50; greatest likelihood by SciPy.
    let middle = |i: u32| 100.0 + 50.0 * (-(1.0 - (f64::from(i) + 0.5) / 30.0).ln()).sqrt();
    let outcomes: Vec<Outcome> = (0..30).map(|i| Outcome::Failed(middle(i))).collect();
    let found = located(&outcomes).expect("a peak");
    check(found.location, 102.691_139_27, 1e-7);
    assert!(found.supported);
    let band = found.location_band;
    assert!(0.0 < band.low && band.low < 100.0 && band.high < middle(0), "{band:?}");
    let by_ranks = located_by_ranks(&outcomes, Positions::Midpoint).expect("thirty places");
    check(by_ranks.location, 100.0, 1e-7);
    check(by_ranks.scale, 50.0, 1e-6);
}

/// Steps of 2 kV from 4 kV on, each held `minutes`; the specimen broke in the middle of the last.
fn staircase(minutes: f64, levels: u32, part: f64) -> StepTest {
    let stretch = |k: u32| {
        let level = Voltage::from_kilovolts(4.0 + 2.0 * f64::from(k));
        let held = if k + 1 == levels { part * minutes } else { minutes };
        Stretch { from: level, to: level, time: Time::from_seconds(60.0 * held) }
    };
    StepTest { stretches: (0..levels).map(stretch).collect(), end: End::Broke }
}

#[test]
fn the_exponent_of_life_under_voltage_from_steps_of_different_length() {
    let mut tests = Vec::new();
    for (minutes, ends) in [(1.0, [9, 10, 10, 11, 12]), (60.0, [6, 7, 7, 8, 8])] {
        for (k, levels) in ends.into_iter().enumerate() {
            tests.push(staircase(minutes, levels, 0.15 + 0.2 * k as f64));
        }
    }
    tests[4].end = End::Withstood;
    tests[9].end = End::BrokeInLast;
    let reference = Voltage::from_kilovolts(10.0);
    let found = endurance(&tests, reference).expect("two lengths of step");
    // By SciPy 1.17.1: Nelder–Mead and a numeric Hessian over the same likelihood written out.
    check(found.shape, 0.852_426_83, 1e-6);
    check(found.scale.seconds(), 578_260.2, 1e-6);
    check(found.exponent, 10.013_098_8, 1e-7);
    let covariance = [
        [0.099_482_5, -0.188_994_5, -0.343_129_1],
        [-0.188_994_5, 1.810_711_4, 2.684_795_4],
        [-0.343_129_1, 2.684_795_4, 4.374_167_8],
    ];
    for (row, expected) in found.covariance.iter().zip(covariance) {
        row.iter().zip(expected).for_each(|(one, expected)| check(*one, expected, 5e-5));
    }
    // The like once more: the chance that the one which withstood breaks down in as much again.
    let band = found.breaks_in(&tests[4].stretches, &tests[4].stretches[11..], 0.95);
    check(band.low, 0.247_279_87, 1e-5);
    check(band.mid, 0.636_596_160, 1e-7);
    check(band.high, 0.972_868_79, 1e-6);
    // Derived: told at another voltage it foretells the same.
    let elsewhere = found.told_at(Voltage::from_kilovolts(25.0));
    let again = elsewhere.breaks_in(&tests[4].stretches, &tests[4].stretches[11..], 0.95);
    check(again.low, band.low, 1e-7);
    check(again.high, band.high, 1e-7);
    // The same steps throughout tell the product of N and β alone.
    let alike: Vec<StepTest> = (0..5).map(|k| staircase(1.0, 9 + k % 3, 0.3)).collect();
    assert_eq!(endurance(&alike, reference), Err(NoEndurance::ExponentNotTold));
}

/// Evenly strewn numbers between 0 and 1 that depend on nothing but their place.
fn strewn(place: u64) -> f64 {
    let mut bits = place.wrapping_add(1).wrapping_mul(0x9e37_79b9_7f4a_7c15);
    bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    ((bits ^ (bits >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
}

#[test]
fn bias_and_bounds_hold_over_many_samples() {
    // Derived: of samples drawn from β = 2, η = 1 the mean of β̂ is off by the stated factor, and
    // bounds by the likelihood ratio miss as seldom as their confidence says.
    for (count, failures) in [(8, 8), (10, 6)] {
        let samples = 1500;
        let (mut sum, mut missed, mut factor) = (0.0, 0, 1.0);
        for sample in 0..samples {
            let mut lives: Vec<f64> =
                (0..count).map(|k| (-strewn(sample * 16 + k).ln()).sqrt()).collect();
            lives.sort_by(f64::total_cmp);
            let last = lives[failures - 1];
            let outcomes: Vec<Outcome> = lives
                .iter()
                .map(|&x| if x <= last { Outcome::Failed(x) } else { Outcome::Survived(last) })
                .collect();
            let found = weibull(&outcomes).expect("several failures");
            sum += found.shape / 2.0;
            factor = found.shape_bias().expect("more than three failures");
            let band = found.band(Figure::Scale, 0.9, Bounds::LikelihoodRatio);
            missed += i32::from(band.low > 1.0 || band.high < 1.0);
        }
        let mean = sum / samples as f64;
        assert!((mean / factor - 1.0).abs() < 0.03, "{mean}, not {factor}");
        let share = f64::from(missed) / samples as f64;
        assert!((0.08..0.16).contains(&share), "{share} of 0.1");
    }
}
