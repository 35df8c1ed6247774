//! Rows at even steps against single samples, and against a matrix exponential taken elsewhere.

use physics::transient::{
    Branch, Discharge, Leg, Run, Supply, Surface, TestObject, TransientError,
};
use quantity::{Capacitance, Current, Resistance, Time, Voltage, VoltageRate};

/// C 1 µF, 25 GΩ, branches 20 MΩ, 200 MΩ and 2 GΩ, each with 50 nF.
fn three_branches() -> TestObject {
    let branch = |megohms: f64| Branch {
        resistance: Resistance::from_megohms(megohms),
        capacitance: Capacitance::from_nanofarads(50.0),
        start: Voltage::ZERO,
    };
    TestObject {
        capacitance: Capacitance::from_microfarads(1.0),
        insulation: Some(Resistance::from_megohms(25_000.0)),
        start: Voltage::ZERO,
        branches: [20.0, 200.0, 2000.0].into_iter().map(branch).collect(),
        surface: None,
        onset: None,
    }
}

fn supply(series_kohm: f64) -> Supply {
    Supply {
        limit: Some(Current::from_milliamperes(1.0)),
        series: Resistance::from_kilohms(series_kohm),
        ..Supply::default()
    }
}

/// Five steps to 25 kV, two at the limit and three by a rate; then down.
fn staircase() -> (Vec<Leg>, Discharge) {
    let leg = |k: u32| Leg {
        to: Voltage::from_kilovolts(5.0 * f64::from(k)),
        rise: (k > 2).then(|| VoltageRate::from_volts_per_second(500.0)),
        dwell: Time::from_seconds(100.0),
    };
    let discharge = Discharge {
        resistor: Some(Resistance::from_kilohms(50.0)),
        bleed: Some(Time::from_seconds(10.0)),
        short: Some(Time::from_seconds(30.0)),
        open: Some(Time::from_seconds(50.0)),
    };
    ((1..=5).map(leg).collect(), discharge)
}

fn check(what: &str, found: f64, expected: f64, size: f64, at: f64) {
    assert!((found - expected).abs() <= 1e-11 * size, "{what} at {at} s: {found}, not {expected}");
}

#[test]
fn each_row_is_the_sample_at_its_time() {
    let (legs, discharge) = staircase();
    let surface = |guarded| Surface { resistance: Resistance::from_megohms(5e3), guarded };
    let bled = Supply { bleed: Some(Resistance::from_megohms(900.0)), ..supply(200.0) };
    for (object, supply) in [
        (three_branches(), supply(0.0)),
        (three_branches(), supply(200.0)),
        (TestObject { surface: Some(surface(true)), ..three_branches() }, bled),
        (TestObject { insulation: None, ..three_branches() }, bled),
    ] {
        let run = Run::new(&object, &supply, &legs, Some(&discharge), Time::ZERO).expect("sound");
        for (step, first) in [(0.05, 0), (7.3, 3), (0.011_313_131_7, 20_000)] {
            let last = (650.0 / step) as usize;
            let step = Time::from_seconds(step);
            let rows = run.rows(step, first..last).expect("a sound step");
            assert_eq!(rows.at_s.len(), last - first);
            for (k, &at) in rows.at_s.iter().enumerate() {
                let expected = (first + k) as f64 * step.seconds();
                assert!((at - expected).abs() <= 1e-15 * expected);
                let sample = run.sample(Time::from_seconds(at));
                check("V", rows.volts[k], sample.voltage.volts(), sample.voltage.volts(), at);
                // A current is made of parts that may be larger than itself.
                let size = sample.current.amperes().abs() + 1e-9;
                check("A", rows.amperes[k], sample.current.amperes(), size, at);
                check("A metered", rows.metered_amperes[k], sample.metered.amperes(), size, at);
            }
        }
    }
}

#[test]
fn a_long_hold_keeps_its_digits() {
    // Derived: matrix exponential of the four circuit equations by a second program; printed with
    // nine decimals and seven digits.
    let jump =
        Leg { to: Voltage::from_kilovolts(25.0), rise: None, dwell: Time::from_seconds(600.0) };
    let run = Run::new(&three_branches(), &supply(0.0), &[jump], None, Time::from_seconds(620.0))
        .expect("sound");
    let step = Time::from_seconds(0.005);
    let rows = run.rows(step, 1..124_001).expect("a sound step");
    for (at, volts) in [(1.0, 979.249_426), (10.0, 9_378.532_138), (20.0, 18_497.122_706)] {
        let row = (at / 0.005) as usize - 1;
        assert_eq!(rows.at_s[row], at);
        assert!((rows.volts[row] - volts).abs() < 1e-6, "{}", rows.volts[row]);
    }
    for (at, amperes) in [(60.0, 1.047_106e-5), (300.0, 1.714_233e-6), (600.0, 1.035_560e-6)] {
        let found = rows.amperes[(at / 0.005) as usize - 1];
        assert!((found / amperes - 1.0).abs() < 1e-6, "{found}");
    }
}

#[test]
fn times_are_the_numbers_as_written() {
    let object = TestObject { start: Voltage::from_volts(7.0), ..three_branches() };
    let run = Run::new(&object, &Supply::default(), &[], None, Time::ZERO).expect("sound");
    let rows = run.rows(Time::from_seconds(0.1), 0..1001).expect("a sound step");
    let written: Vec<f64> =
        (0..1001).map(|k| format!("{}.{}", k / 10, k % 10).parse().expect("a number")).collect();
    assert_eq!(rows.at_s, written);
    // Before anything has begun, what it starts with.
    assert_eq!((rows.volts[0], rows.amperes[0]), (7.0, 0.0));
    assert_eq!(run.rows(Time::from_seconds(1.0), 5..5).expect("none").at_s.len(), 0);
    let wrong = run.rows(Time::ZERO, 0..5);
    assert!(matches!(wrong, Err(TransientError::NotPositive { .. })), "{wrong:?}");
}
