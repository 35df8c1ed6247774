//! Tests of an object that conducts more above an onset: beside another solver, closed forms, and
//! the balances of charge and energy.

use physics::conduction::Onset;
use physics::transient::{
    Branch, Discharge, Happening, Input, Leg, Run, Supply, TestObject, TransientError, simulate,
};
use quantity::{Capacitance, Current, Resistance, Time, Voltage, VoltageRate};

const VOLTS: fn(f64) -> Voltage = Voltage::from_volts;
const SECONDS: fn(f64) -> Time = Time::from_seconds;

fn onset(from: f64, scale: f64) -> Option<Onset> {
    Some(Onset { from: VOLTS(from), scale: VOLTS(scale) })
}

/// C 1 µF, 25 GΩ up to 12 kV, and absorption up to 100,000 s.
fn object(efold: f64) -> TestObject {
    let branch = |(megohms, nanofarads): (f64, f64)| Branch {
        resistance: Resistance::from_megohms(megohms),
        capacitance: Capacitance::from_nanofarads(nanofarads),
        start: Voltage::ZERO,
    };
    TestObject {
        insulation: Some(Resistance::from_megohms(25e3)),
        branches: [(20.0, 50.0), (200.0, 50.0), (2e3, 50.0), (1e6, 100.0)].map(branch).to_vec(),
        ..plain(efold)
    }
}

/// The same without absorption.
fn plain(efold: f64) -> TestObject {
    TestObject {
        capacitance: Capacitance::from_microfarads(1.0),
        insulation: Some(Resistance::from_megohms(25e3)),
        start: Voltage::ZERO,
        branches: vec![],
        surface: None,
        onset: onset(12e3, efold),
    }
}

fn supply(limit: f64, trip: f64) -> Supply {
    Supply {
        limit: Some(Current::from_amperes(limit)),
        series: Resistance::from_kilohms(200.0),
        trip: Some(Current::from_amperes(trip)),
        ..Supply::default()
    }
}

fn leg(to: f64, dwell: f64) -> Leg {
    let rise = Some(VoltageRate::from_kilovolts_per_second(1.0));
    Leg { to: VOLTS(to), rise, dwell: SECONDS(dwell) }
}

fn course() -> Vec<Leg> {
    vec![leg(10e3, 60.0), leg(20e3, 120.0), leg(15e3, 60.0)]
}

fn down() -> Discharge {
    Discharge {
        resistor: Some(Resistance::from_megohms(1.0)),
        bleed: Some(SECONDS(5.0)),
        short: None,
        open: Some(SECONDS(300.0)),
    }
}

fn run(object: &TestObject, supply: &Supply) -> Run {
    Run::new(object, supply, &course(), Some(&down()), Time::ZERO).expect("a sound case")
}

fn near(what: &str, found: f64, expected: f64, part: f64) {
    assert!((found - expected).abs() <= part * expected.abs(), "{what}: {found}, not {expected}");
}

/// Seconds, volts, amperes.
type Row = (f64, f64, f64);

#[test]
fn another_solver_finds_the_same() {
    // SciPy 1.17.1, solve_ivp by Radau with rtol 1e-11 in the voltages themselves, anew at every
    // kink: bench/peers/agree/nonlinear.py.
    let weak: &[Row] = &[
        (40.37, 9998.895363, 5.52318612e-06),
        (82.37, 19959.77075, 0.00020114624),
        (95.37, 19965.03838, 0.000174808079),
        (200.37, 19911.00782, 0.0),
        (262.37, 17134.60949, 0.0),
        (266.37, 4576.931248, -0.00457693125),
        (300.37, 967.9312254, 0.0),
        (560.37, 1425.39966, 0.0),
    ];
    // The limit holds it: e-fold one per cent of the voltage asked for.
    let steep: &[Row] = &[
        (40.37, 9998.882999, 5.58500284e-06),
        (82.37, 13502.66579, 0.001),
        (200.37, 13504.47891, 0.001),
        (262.37, 13504.58837, 0.001),
        (266.37, 3613.271056, -0.00361327106),
        (560.37, 1082.272217, 0.0),
    ];
    let tripping: &[Row] = &[
        (40.37, 9998.895363, 5.52318612e-06),
        (82.37, 13190.60959, 0.0),
        (200.37, 12367.99254, 0.0),
        (266.37, 3280.456213, -0.00328045621),
        (560.37, 990.9599485, 0.0),
    ];
    for (what, efold, limit, trip, rows) in [
        ("weak", 1.5e3, 2e-3, 3e-3, weak),
        ("steep", 200.0, 1e-3, 2e-3, steep),
        ("tripping", 300.0, 5e-3, 1.3e-3, tripping),
    ] {
        let run = run(&object(efold), &supply(limit, trip));
        for &(at, volts, amperes) in rows {
            let sample = run.sample(SECONDS(at));
            near(what, sample.voltage.volts(), volts, 2e-9);
            near(what, sample.current.amperes(), amperes, 1e-8);
        }
        let events = &run.outline().events;
        assert!(events.len() < 8, "{events:?}");
        assert_eq!(run.outline().tripped_at.is_some(), what == "tripping");
    }
}

#[test]
fn left_open_it_falls_as_the_exponential_integral_says() {
    // Derived: t = R·C·exp(V₀/V_s)·(E₁(v/V_s) − E₁(20 kV/V_s)), E₁ by SciPy 1.17.1; from 12 kV on
    // it falls with 25,000 s.
    let table = [
        (26.949467526224065, 18e3),
        (301.33627256610276, 15e3),
        (1331.5477381712656, 13e3),
        (2798.5335105828417, 12e3),
        (2798.5335105828417 + 25e3, 12e3 * (-1.0_f64).exp()),
    ];
    for polarity in [1.0, -1.0] {
        let object = TestObject { start: VOLTS(polarity * 20e3), ..plain(1.5e3) };
        let run = Run::new(&object, &Supply::default(), &[], None, Time::ZERO).expect("sound");
        for (at, volts) in table {
            near("V", run.sample(SECONDS(at)).voltage.volts(), polarity * volts, 1e-8);
        }
        assert!(run.sample(SECONDS(1e7)).voltage.abs().volts() < 1e-3);
    }
}

#[test]
fn an_ideal_clamp_comes_to_its_limit_where_lambert_says() {
    // Derived: 1 kV/s into 1 µF is 1 mA; conduction takes the other 0.5 mA at V_s·W(R·I·
    // exp(V₀/V_s)/V_s), W by SciPy 1.17.1; then at the limit the voltage settles where all of
    // 1.5 mA is conducted.
    let supply = Supply { limit: Some(Current::from_milliamperes(1.5)), ..Supply::default() };
    let until = SECONDS(500.0);
    let run = Run::new(&plain(1.5e3), &supply, &[leg(30e3, 0.0)], None, until).expect("sound");
    let events = &run.outline().events;
    assert_eq!(events.len(), 1, "{events:?}");
    assert_eq!(events[0].what, Happening::LimitReached);
    near("s", events[0].at.seconds(), 21.54500956257135, 1e-11);
    near("V", run.sample(until).voltage.volts(), 23089.103146482896, 1e-9);
    // Beyond what was solved for, the last stretch goes on.
    near("V", run.sample(SECONDS(1e6)).voltage.volts(), 23089.103146482896, 1e-9);
    // Derived: charging and I = V/R·exp((V − V₀)/V_s) on the way.
    let before = run.sample(SECONDS(20.0)).current.amperes();
    near("A", before, 1e-3 + 20e3 / 25e9 * (8e3_f64 / 1.5e3).exp(), 1e-12);
}

#[test]
fn below_the_onset_nothing_changes() {
    let weak = object(100.0);
    let straight = TestObject { onset: None, ..weak.clone() };
    let times: Vec<Time> = (0..600).map(|k| SECONDS(f64::from(k))).collect();
    let asked =
        |object| simulate(object, &supply(2e-3, 3e-3), &[leg(11.9e3, 60.0)], Some(&down()), &times);
    assert_eq!(asked(&weak), asked(&straight));
}

#[test]
fn what_hardly_bends_is_hardly_off() {
    // Derived: e-fold over 10⁹ kV adds less than 1e-8 of the conduction.
    let times: Vec<Time> = (0..600).map(|k| SECONDS(0.5 + f64::from(k))).collect();
    let asked = |onset| {
        let object = TestObject { onset, ..object(1.0) };
        simulate(&object, &supply(2e-3, 3e-3), &course(), Some(&down()), &times).expect("sound")
    };
    for (bent, straight) in asked(onset(1e3, 1e12)).iter().zip(asked(None)) {
        near("V", bent.voltage.volts(), straight.voltage.volts(), 1e-7);
        near("A", bent.current.amperes(), straight.current.amperes(), 1e-7);
    }
}

/// Charge and energy stored.
fn stored(object: &TestObject) -> (f64, f64) {
    let own = (object.capacitance.farads(), object.start.volts());
    let branches = object.branches.iter().map(|b| (b.capacitance.farads(), b.start.volts()));
    std::iter::once(own)
        .chain(branches)
        .fold((0.0, 0.0), |(charge, energy), (c, v)| (charge + c * v, energy + 0.5 * c * v * v))
}

#[test]
fn charge_and_energy_balance_over_the_whole_test() {
    // Derived: what goes in is stored, conducted, or turned to heat in the branches. Simpson's rule
    // over steps that end where anything changes.
    let (object, supply) = (object(1.5e3), supply(2e-3, 3e-3));
    let run = run(&object, &supply);
    let through = object.conduction().expect("it conducts");
    let flows = |at: f64| {
        let (sample, there) = (run.sample(SECONDS(at)), run.object_at(SECONDS(at)));
        let volts = sample.voltage;
        let conducted = through.current(volts).amperes();
        let heat = there.branches.iter().map(|branch| {
            let across = (volts - branch.start).volts();
            across * across / branch.resistance.ohms()
        });
        let net = sample.current.amperes() - conducted;
        (net, volts.volts() * net - heat.sum::<f64>())
    };
    let outline = run.outline();
    let mut stops: Vec<f64> = vec![10.0, 70.0, 80.0, 200.0, 205.0, 265.0, 270.0];
    stops.extend(outline.events.iter().map(|event| event.at.seconds()));
    stops.sort_by(f64::total_cmp);
    let (mut charge, mut energy, mut from) = (0.0, 0.0, 1e-9);
    for to in stops {
        let steps = 4000;
        // Close together at first, where a change has just been.
        let place = |k: f64| from + (to - from) * (k / f64::from(2 * steps)).powi(4);
        for k in 0..steps {
            let [a, b] = [2 * k, 2 * k + 2].map(|k| place(f64::from(k)));
            if b <= a {
                continue;
            }
            let just_after = a + 1e-11 * a;
            let (first, middle, last) = (flows(just_after), flows(0.5 * (a + b)), flows(b));
            charge += (b - a) / 6.0 * (first.0 + 4.0 * middle.0 + last.0);
            energy += (b - a) / 6.0 * (first.1 + 4.0 * middle.1 + last.1);
        }
        from = to;
    }
    let (held, left) = (stored(&run.object_at(SECONDS(200.0))), run.object_at(SECONDS(from)));
    let left = stored(&left);
    assert!((charge - left.0).abs() < 1e-6 * held.0, "{charge} {left:?} {held:?}");
    assert!((energy - left.1).abs() < 1e-6 * held.1, "{energy} {left:?} {held:?}");
}

#[test]
fn the_weaker_the_object_the_more_it_takes() {
    let mut before = 0.0;
    for efold in [8e3, 4e3, 2e3, 1e3] {
        let run = run(&object(efold), &supply(5e-3, 6e-3));
        let now = run.sample(SECONDS(199.0)).current.amperes();
        assert!(now > 1.2 * before, "{efold}: {now} {before}");
        before = now;
    }
}

#[test]
fn nonsense_is_refused() {
    let refused = |object: &TestObject| {
        Run::new(object, &Supply::default(), &[], None, Time::ZERO).expect_err("nonsense")
    };
    let bad = |from, scale| TestObject { onset: onset(from, scale), ..plain(1.0) };
    let (what, value) = (Input::OnsetFrom, 0.0);
    assert_eq!(refused(&bad(0.0, 1e3)), TransientError::NotPositive { what, value });
    let (what, value) = (Input::OnsetScale, -1.0);
    assert_eq!(refused(&bad(1e3, -1.0)), TransientError::NotPositive { what, value });
    let what = Input::OnsetScale;
    assert_eq!(refused(&bad(1e3, f64::NAN)), TransientError::NotFinite { what });
    let open = TestObject { insulation: None, ..plain(1e3) };
    assert_eq!(refused(&open), TransientError::OnsetWithoutInsulation);
}
