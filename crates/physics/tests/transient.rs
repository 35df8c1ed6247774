//! Published and derived runs, to a millionth of the printed value.

use physics::transient::{
    Branch, Discharge, Happening, Leg, Run, Supply, Surface, TestObject, TransientError, simulate,
};
use quantity::{Capacitance, Current, Resistance, Time, Voltage, VoltageRate};

/// C 1 µF, 25 GΩ, branches 20 MΩ, 200 MΩ and 2 GΩ, each with 50 nF.
fn three_branches(start: f64, branch_starts: [f64; 3]) -> TestObject {
    let branch = |(megohms, volts): (f64, f64)| Branch {
        resistance: Resistance::from_megohms(megohms),
        capacitance: Capacitance::from_nanofarads(50.0),
        start: Voltage::from_volts(volts),
    };
    TestObject {
        capacitance: Capacitance::from_microfarads(1.0),
        insulation: Some(Resistance::from_megohms(25_000.0)),
        start: Voltage::from_volts(start),
        branches: [20.0, 200.0, 2000.0].into_iter().zip(branch_starts).map(branch).collect(),
        surface: None,
        onset: None,
    }
}

fn limited_clamp() -> Supply {
    Supply {
        limit: Some(Current::from_milliamperes(1.0)),
        series: Resistance::ZERO,
        trip: None,
        bleed: None,
        ripple: None,
    }
}

fn jump_to_25_kv(dwell: f64) -> Leg {
    Leg { to: Voltage::from_kilovolts(25.0), rise: None, dwell: Time::from_seconds(dwell) }
}

fn check(what: &str, found: f64, expected: f64) {
    assert!((found - expected).abs() <= 1e-6 * expected.abs(), "{what}: {found}, not {expected}");
}

#[test]
fn a_limited_supply_charges_three_branches() {
    // Derived: matrix exponential of the four circuit equations by a second program; a circuit
    // simulator with small steps agrees to 2.5e-5.
    let times = [1.0, 10.0, 20.0, 60.0, 120.0, 300.0, 600.0].map(Time::from_seconds);
    let object = three_branches(0.0, [0.0; 3]);
    let samples = simulate(&object, &limited_clamp(), &[jump_to_25_kv(600.0)], None, &times)
        .expect("a sound case");
    for (sample, volts) in samples.iter().zip([979.249426, 9378.532138, 18497.122706]) {
        check("V", sample.voltage.volts(), volts);
        check("A", sample.current.amperes(), 1e-3);
    }
    let amperes = [1.047106e-5, 5.324816e-6, 1.714233e-6, 1.035560e-6];
    for (sample, amperes) in samples[3..].iter().zip(amperes) {
        check("V", sample.voltage.volts(), 25e3);
        check("A", sample.current.amperes(), amperes);
    }
}

#[test]
fn the_limit_is_left_when_the_level_is_reached() {
    // Derived: the same second program.
    let object = three_branches(0.0, [0.0; 3]);
    let run = Run::new(&object, &limited_clamp(), &[jump_to_25_kv(600.0)], None, Time::ZERO)
        .expect("a sound case");
    let events = &run.outline().events;
    assert_eq!(events.len(), 2, "{events:?}");
    assert_eq!(events[0].what, Happening::LimitReached);
    assert_eq!(events[0].at, Time::ZERO);
    assert_eq!(events[1].what, Happening::LimitLeft);
    check("s", events[1].at.seconds(), 27.201137066);
    let there = run.object_at(events[1].at);
    for (branch, volts) in there.branches.iter().zip([24098.81461, 16507.63452, 3141.51525]) {
        check("V", branch.start.volts(), volts);
    }
    let before = run.sample(Time::from_seconds(27.090097900));
    check("V", before.voltage.volts(), 24.9e3);
    // Index from the end of the rise.
    let at = |after: f64| run.sample(events[1].at + Time::from_seconds(after)).current.amperes();
    check("index", at(60.0) / at(600.0), 6.915988);
}

#[test]
fn through_a_resistor_then_open() {
    // Derived: matrix exponential, and a stiff integrator, by a second program.
    let object = three_branches(25e3, [25e3, 25e3, 24937.7]);
    let discharge = Discharge {
        resistor: Some(Resistance::from_kilohms(50.0)),
        bleed: Some(Time::from_seconds(10.0)),
        short: None,
        open: Some(Time::from_seconds(1000.0)),
    };
    let table = [
        (0.05, 9214.960614),
        (0.25, 226.063570),
        (1.0, 31.781204),
        (5.0, 4.895151),
        (10.0, 2.891507),
        (20.0, 376.472845),
        (50.0, 750.133685),
        (100.0, 1010.988564),
        (200.0, 1248.822247),
        (400.0, 1354.534713),
        (522.01, 1360.4477),
    ];
    for (seconds, volts) in table {
        let times = [Time::from_seconds(seconds)];
        let found = simulate(&object, &Supply::default(), &[], Some(&discharge), &times)
            .expect("a sound case");
        check("V", found[0].voltage.volts(), volts);
        let amperes = if seconds <= 10.0 { -volts / 50e3 } else { 0.0 };
        check("A", found[0].current.amperes(), amperes);
    }
}

#[test]
fn a_dead_short_then_open() {
    // Derived: closed form of one branch, C 1 µF, 2 GΩ and 50 nF from 25 kV.
    let object = TestObject { insulation: None, ..three_branches(25e3, [25e3; 3]) };
    let object = TestObject { branches: vec![object.branches[2]], ..object };
    let table = [
        (10.0, 22620.935, 1077.1874, 503.48622),
        (60.0, 13720.290, 653.34719, 305.37983),
        (240.0, 2267.9488, 107.99756, 50.478947),
        (600.0, 61.968804, 2.9508954, 1.3792727),
    ];
    for (short, branch, at_last, at_minute) in table {
        let discharge = Discharge {
            short: Some(Time::from_seconds(short)),
            open: Some(Time::from_hours(10.0)),
            ..Discharge::default()
        };
        let run = Run::new(&object, &Supply::default(), &[], Some(&discharge), Time::ZERO)
            .expect("a sound case");
        let opened = Time::from_seconds(short);
        let shorted = run.sample(opened);
        check("V", run.object_at(opened).branches[0].start.volts(), branch);
        check("A", shorted.current.amperes(), -branch / 2e9);
        assert_eq!(shorted.voltage, Voltage::ZERO);
        let minute = run.sample(opened + Time::from_seconds(60.0));
        check("V", minute.voltage.volts(), at_minute);
        check("V", run.sample(Time::from_hours(9.0)).voltage.volts(), at_last);
        assert_eq!(minute.current, Current::ZERO);
    }
}

#[test]
fn polarisation_and_depolarisation_currents() {
    // Derived: sums of the three exponentials; 1 kV for 1000 s, then shorted.
    let branch = |megohms: f64, nanofarads: f64| Branch {
        resistance: Resistance::from_megohms(megohms),
        capacitance: Capacitance::from_nanofarads(nanofarads),
        start: Voltage::ZERO,
    };
    let object = TestObject {
        capacitance: Capacitance::from_nanofarads(100.0),
        insulation: Some(Resistance::from_megohms(50e3)),
        start: Voltage::ZERO,
        branches: vec![branch(5e3, 2.0), branch(20e3, 5.0), branch(100e3, 10.0)],
        surface: None,
        onset: None,
    };
    let leg =
        Leg { to: Voltage::from_kilovolts(1.0), rise: None, dwell: Time::from_seconds(1000.0) };
    let discharge = Discharge { short: Some(Time::from_seconds(2000.0)), ..Discharge::default() };
    let run = Run::new(&object, &Supply::default(), &[leg], Some(&discharge), Time::ZERO)
        .expect("a sound case");
    let table = [
        (1.0, 260.459980, 236.782615),
        (10.0, 148.718257, 125.074014),
        (100.0, 47.451426, 24.121880),
        (600.0, 25.612054, 3.593083),
        (1000.0, 23.681064, 2.327711),
    ];
    for (seconds, charging, discharging) in table {
        let on = run.sample(Time::from_seconds(seconds)).current.amperes();
        check("nA", on * 1e9, charging);
        let off = run.sample(Time::from_seconds(1000.0 + seconds)).current.amperes();
        check("nA", off * 1e9, -discharging);
    }
}

/// C 100 nF with 10 GΩ and no branches, from zero.
fn plain() -> TestObject {
    TestObject {
        capacitance: Capacitance::from_nanofarads(100.0),
        insulation: Some(Resistance::from_megohms(10_000.0)),
        start: Voltage::ZERO,
        branches: vec![],
        surface: None,
        onset: None,
    }
}

fn leg(kilovolts: f64, kilovolts_per_second: f64, dwell: f64) -> Leg {
    Leg {
        to: Voltage::from_kilovolts(kilovolts),
        rise: Some(VoltageRate::from_kilovolts_per_second(kilovolts_per_second)),
        dwell: Time::from_seconds(dwell),
    }
}

#[test]
fn a_ramp_behind_a_resistance_settles_on_its_lag() {
    // Derived: v = a·(t − s·C·(1 − e^(−t/sC))) with s·C = 20 ms, insulation left out.
    let object = TestObject { insulation: None, ..plain() };
    let supply = Supply { series: Resistance::from_kilohms(200.0), ..Supply::default() };
    let times = [0.02, 5.0, 10.0, 10.02].map(Time::from_seconds);
    let found =
        simulate(&object, &supply, &[leg(10.0, 1.0, 60.0)], None, &times).expect("a sound case");
    let fall = (-1.0_f64).exp();
    check("V", found[0].voltage.volts(), 20.0 * fall);
    check("A", found[0].current.amperes(), 1e-4 * (1.0 - fall));
    check("V", found[1].voltage.volts(), 4980.0);
    check("A", found[2].current.amperes(), 1e-4);
    // After the ramp the lag dies with the same time constant.
    check("V", found[3].voltage.volts(), 10e3 - 20.0 * fall);
    check("A", found[3].current.amperes(), 1e-4 * fall);
}

#[test]
fn the_hold_current_behind_a_small_resistance_keeps_its_digits() {
    // Derived: V/(R + s), with 1 mΩ in series: the difference of the voltages is 1 nV in 10 kV.
    let supply = Supply { series: Resistance::from_ohms(1e-3), ..Supply::default() };
    let found =
        simulate(&plain(), &supply, &[leg(10.0, 1.0, 600.0)], None, &[Time::from_seconds(600.0)])
            .expect("a sound case");
    let expected = 10e3 / 10e9;
    assert!((found[0].current.amperes() / expected - 1.0).abs() < 1e-10);
}

#[test]
fn a_rectifier_cannot_take_charge_back() {
    // Derived: idle from the top, v falls by R·C = 1000 s alone until the command meets it.
    let legs = [leg(10.0, 1.0, 10.0), leg(5.0, 1.0, 2000.0)];
    let run =
        Run::new(&plain(), &Supply::default(), &legs, None, Time::ZERO).expect("a sound case");
    let events: Vec<_> = run.outline().events.iter().map(|event| event.what).collect();
    assert_eq!(events, [Happening::CannotSink, Happening::Resumed]);
    check("s", run.outline().events[0].at.seconds(), 20.0);
    check("s", run.outline().events[1].at.seconds(), 20.0 + 1000.0 * 2.0_f64.ln());
    let floating = run.sample(Time::from_seconds(120.0));
    check("V", floating.voltage.volts(), 10e3 * (-0.1_f64).exp());
    assert_eq!(floating.current, Current::ZERO);
    let held = run.sample(Time::from_seconds(2000.0));
    check("V", held.voltage.volts(), 5e3);
    check("A", held.current.amperes(), 5e-7);
}

#[test]
fn the_trip_opens_the_supply_for_good() {
    // Derived: a clamp on a 1 kV/s ramp carries C·a + V/R; that exceeds 100.5 µA at 5 kV.
    let supply = Supply {
        trip: Some(Current::from_microamperes(100.5)),
        limit: Some(Current::from_milliamperes(5.0)),
        ..Supply::default()
    };
    let run = Run::new(&plain(), &supply, &[leg(10.0, 1.0, 60.0)], None, Time::ZERO)
        .expect("a sound case");
    let tripped = run.outline().tripped_at.expect("it trips");
    check("s", tripped.seconds(), 5.0);
    check("A", run.sample(tripped).current.amperes(), 100.5e-6);
    let later = run.sample(Time::from_seconds(55.0));
    assert_eq!(later.current, Current::ZERO);
    check("V", later.voltage.volts(), 5e3 * (-0.05_f64).exp());
    // A limit that is not above the trip can never exceed it.
    let supply = Supply { limit: supply.trip, ..supply };
    let run = Run::new(&plain(), &supply, &[leg(10.0, 1.0, 60.0)], None, Time::ZERO)
        .expect("a sound case");
    assert_eq!(run.outline().tripped_at, None);
}

#[test]
fn an_instant_of_change_gives_the_values_before_it() {
    let legs = [leg(10.0, 1.0, 60.0)];
    let discharge = Discharge {
        short: Some(Time::from_seconds(60.0)),
        open: None,
        resistor: Some(Resistance::from_kilohms(100.0)),
        bleed: Some(Time::from_seconds(1.0)),
    };
    let times = [0.0, 10.0, 70.0, 71.0, 131.0, 500.0].map(Time::from_seconds);
    let found = simulate(&plain(), &Supply::default(), &legs, Some(&discharge), &times)
        .expect("a sound case");
    let microamperes: Vec<f64> = found.iter().map(|s| s.current.microamperes()).collect();
    assert_eq!(found[0].voltage, Voltage::ZERO);
    assert_eq!(microamperes[0], 0.0);
    check("µA", microamperes[1], 101.0);
    check("µA", microamperes[2], 1.0);
    // Derived: R·C is 10 ms, so e⁻¹⁰⁰ is left after 1 s (the insulation adds 1e-5 to the rate).
    check("V", found[3].voltage.volts(), 1e4 * (-100.001_f64).exp());
    assert_eq!(found[4].voltage, Voltage::ZERO);
    // The short was the last phase: it stays on.
    assert_eq!(found[5].voltage, Voltage::ZERO);
}

#[test]
fn bad_input_is_named() {
    let run = |object: &TestObject, legs: &[Leg], discharge: Option<&Discharge>| {
        simulate(object, &Supply::default(), legs, discharge, &[Time::from_seconds(1.0)])
            .map(|_| ())
            .map_err(|error| error.to_string())
    };
    let hollow = TestObject { capacitance: Capacitance::ZERO, ..plain() };
    assert_eq!(
        run(&hollow, &[], None),
        Err("give the capacitance of the object as a number above 0, not 0".to_owned())
    );
    assert_eq!(
        run(&plain(), &[leg(1.0, 1.0, -5.0)], None),
        Err("give the dwell of course leg 1 as 0 or a number above 0, not -5".to_owned())
    );
    let bare = Discharge { bleed: Some(Time::from_seconds(1.0)), ..Discharge::default() };
    assert_eq!(run(&plain(), &[], Some(&bare)), Err(TransientError::ResistorMissing.to_string()));
}

/// 1 µF alone behind 1 MΩ, or clamped, with a built-in path of so many megohms.
fn bled(series_megohms: f64, megohms: f64) -> Supply {
    Supply {
        limit: Some(Current::from_milliamperes(5.0)),
        series: Resistance::from_megohms(series_megohms),
        bleed: Some(Resistance::from_megohms(megohms)),
        ..Supply::default()
    }
}

fn jump(kilovolts: f64, dwell: f64) -> Leg {
    Leg { rise: None, ..leg(kilovolts, 1.0, dwell) }
}

fn microfarad() -> TestObject {
    TestObject { capacitance: Capacitance::from_microfarads(1.0), insulation: None, ..plain() }
}

#[test]
fn a_guard_takes_the_surface_past_the_meter() {
    // Derived: 10 kV on 10 GΩ and 1 GΩ of surface; 1 kV/s on 100 nF.
    for (guarded, metered) in [(true, 1.0), (false, 11.0)] {
        let surface = Surface { resistance: Resistance::from_megohms(1000.0), guarded };
        let object = TestObject { surface: Some(surface), ..plain() };
        let run = |series: f64| {
            let supply = Supply { series: Resistance::from_kilohms(series), ..Supply::default() };
            let leg = leg(10.0, 1.0, 60.0);
            Run::new(&object, &supply, &[leg], None, Time::from_seconds(70.0)).expect("sound")
        };
        let held = run(0.0).sample(Time::from_seconds(60.0));
        check("µA", held.current.microamperes(), 11.0);
        check("µA", held.metered.microamperes(), metered);
        let rising = run(0.0).sample(Time::from_seconds(5.0));
        check("µA", rising.current.microamperes(), 105.5);
        check("µA", rising.metered.microamperes(), 100.0 + 0.5 * metered);
        // Behind 1 MΩ: 11 µA into 909.0909 MΩ.
        let behind = run(1000.0).sample(Time::from_seconds(60.0));
        check("µA", behind.current.microamperes(), 10e3 / (1e4 / 11.0 + 1.0));
        check("ratio", behind.metered / behind.current, metered / 11.0);
        // Open, the surface takes charge off through the meter's own lead, and the terminal none.
        let charged = TestObject { start: Voltage::from_kilovolts(10.0), ..object.clone() };
        let open = Run::new(&charged, &Supply::default(), &[], None, Time::ZERO).expect("sound");
        let sample = open.sample(Time::from_seconds(1e-9));
        assert_eq!(sample.current, Current::ZERO);
        let expected = if guarded { -10.0 } else { 0.0 };
        assert!((sample.metered.microamperes() - expected).abs() < 1e-6);
    }
}

#[test]
fn a_built_in_path_divides_and_takes_its_current() {
    // Derived: 10 kV behind 1 MΩ with 9 MΩ across 1 µF: to 9 kV, time constant 0.9 s.
    let course = [jump(10.0, 60.0)];
    let supply = Supply { limit: None, ..bled(1.0, 9.0) };
    let run = Run::new(&microfarad(), &supply, &course, None, Time::ZERO).expect("sound");
    for seconds in [0.2, 0.9, 3.0] {
        let left = f64::exp(-seconds / 0.9);
        let sample = run.sample(Time::from_seconds(seconds));
        check("kV", sample.voltage.kilovolts(), 9.0 * (1.0 - left));
        check("mA", sample.current.amperes() * 1e3, 10.0 * left);
        check("mA", sample.supplied.amperes() * 1e3, 1.0 + 9.0 * left);
    }
    // Settled, nothing goes into the object and 1 mA through the path.
    let settled = run.sample(Time::from_seconds(60.0));
    assert!(settled.current.amperes().abs() < 1e-20, "{settled:?}");
    check("mA", settled.supplied.amperes() * 1e3, 1.0);
}

#[test]
fn limit_and_trip_see_the_built_in_path_too() {
    // Derived: 5 mA into 1 µF beside 4 MΩ: 20 kV (1 − e^(−t/4 s)); a clamp at 10 kV after
    // 4 s·ln 2, from where 2.5 mA go through the path alone.
    let run = Run::new(&microfarad(), &bled(0.0, 4.0), &[jump(10.0, 20.0)], None, Time::ZERO)
        .expect("sound");
    let events = &run.outline().events;
    assert_eq!(events.len(), 2, "{events:?}");
    check("s", events[1].at.seconds(), 4.0 * f64::ln(2.0));
    let sample = run.sample(Time::from_seconds(2.0));
    check("kV", sample.voltage.kilovolts(), 20.0 * (1.0 - f64::exp(-0.5)));
    check("mA", sample.current.amperes() * 1e3, 5.0 * f64::exp(-0.5));
    let held = run.sample(Time::from_seconds(10.0));
    assert_eq!(held.current, Current::ZERO);
    check("mA", held.supplied.amperes() * 1e3, 2.5);
    // At 0.5 kV/s 0.5 mA charge, and 4 MΩ take 2.5 mA more at 10 kV: a trip of 2 mA goes at
    // 6 kV, after 12 s; then 1 µF and 4 MΩ decay in 4 s.
    let supply = Supply { trip: Some(Current::from_milliamperes(2.0)), ..bled(0.0, 4.0) };
    let course = [leg(10.0, 0.5, 20.0)];
    let run = Run::new(&microfarad(), &supply, &course, None, Time::ZERO).expect("sound");
    check("s", run.outline().tripped_at.expect("it trips").seconds(), 12.0);
    let after = run.sample(Time::from_seconds(14.0));
    check("kV", after.voltage.kilovolts(), 6.0 * f64::exp(-0.5));
    check("mA", after.current.amperes() * 1e3, -1.5 * f64::exp(-0.5));
    assert_eq!(after.supplied, Current::ZERO);
}

#[test]
fn the_built_in_path_stays_until_the_lead_is_off() {
    // Derived: 1 µF and 4 MΩ decay in 4 s while the command falls at 5 kV/s, which is faster; with
    // 1 MΩ laid on in 0.8 s; open, the lead off, not at all.
    let course = [leg(10.0, 10.0, 1.0), leg(0.0, 5.0, 2.0)];
    let discharge = Discharge {
        resistor: Some(Resistance::from_megohms(1.0)),
        bleed: Some(Time::from_seconds(0.8)),
        open: Some(Time::from_seconds(100.0)),
        ..Discharge::default()
    };
    let supply = Supply { limit: None, ..bled(0.0, 4.0) };
    let run = |discharge: &Discharge| {
        let object = microfarad();
        Run::new(&object, &supply, &course, Some(discharge), Time::ZERO).expect("sound")
    };
    let volts = |run: &Run, at: f64| run.sample(Time::from_seconds(at)).voltage.kilovolts();
    let tool = run(&discharge);
    check("kV", volts(&tool, 4.0), 10.0 * f64::exp(-0.5));
    let laid_on = 10.0 * f64::exp(-1.0);
    check("kV", volts(&tool, 6.4), laid_on * f64::exp(-0.5));
    check("kV", volts(&tool, 100.0), laid_on * f64::exp(-1.0));
    // Without a tool the path has it alone.
    let path = run(&Discharge { resistor: None, ..discharge });
    check("kV", volts(&path, 6.4), laid_on * f64::exp(-0.1));
    check("kV", volts(&path, 100.0), laid_on * f64::exp(-0.2));
    let nothing = Discharge { resistor: None, ..discharge };
    let bare = Supply { bleed: None, ..supply };
    let refused = Run::new(&microfarad(), &bare, &course, Some(&nothing), Time::ZERO);
    assert!(matches!(refused, Err(TransientError::ResistorMissing)));
}

#[test]
fn a_crossing_that_is_back_at_once_is_not_missed() {
    // Derived: held at 10 kV, 1 MΩ takes 10 mA; branches of 1 s from 0 kV and 0.5 s from 20 kV,
    // 10 MΩ each, add 1 mA·(x − x²) with x = e^(−t): 10.25 mA at ln 2, and less before and after.
    let branch = |nanofarads: f64, kilovolts: f64| Branch {
        resistance: Resistance::from_megohms(10.0),
        capacitance: Capacitance::from_nanofarads(nanofarads),
        start: Voltage::from_kilovolts(kilovolts),
    };
    let object = TestObject {
        insulation: Some(Resistance::from_megohms(1.0)),
        start: Voltage::from_kilovolts(10.0),
        branches: vec![branch(100.0, 0.0), branch(50.0, 20.0)],
        ..microfarad()
    };
    let trip = |milliamperes: f64| {
        let trip = Some(Current::from_milliamperes(milliamperes));
        let supply = Supply { trip, ..Supply::default() };
        let run = Run::new(&object, &supply, &[jump(10.0, 60.0)], None, Time::ZERO);
        run.expect("sound").outline().tripped_at
    };
    assert_eq!(trip(10.25 * (1.0 + 1e-9)), None);
    let tripped = trip(10.25 * (1.0 - 1e-9)).expect("it trips").seconds();
    check("s", tripped, -(0.5 + f64::sqrt(10.25e-9)).ln());
}
