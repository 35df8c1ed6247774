//! What holds for every case: voltages stay between zero and the highest command, currents between
//! zero and the limit, no voltage moves faster than the limit lets it, and an open object without
//! insulation resistance keeps its charge.

use physics::conduction::Onset;
use physics::transient::{Branch, Discharge, Happening, Leg, Run, Supply, Surface, TestObject};
use quantity::{Capacitance, Current, Resistance, Time, Voltage, VoltageRate};

/// Numbers from 0 to 1, always the same for a seed.
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> f64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// From `low` to `high`, even in the logarithm.
    fn log(&mut self, low: f64, high: f64) -> f64 {
        low * (high / low).powf(self.next())
    }

    fn maybe(&mut self, low: f64, high: f64) -> Option<f64> {
        (self.next() < 0.7).then(|| self.log(low, high))
    }
}

fn object(chance: &mut Chance) -> TestObject {
    let branches = (chance.next() * 6.0) as usize;
    let insulation = chance.maybe(1e7, 1e13).map(Resistance::from_ohms);
    TestObject {
        capacitance: Capacitance::from_farads(chance.log(1e-10, 1e-5)),
        insulation,
        start: Voltage::ZERO,
        branches: (0..branches)
            .map(|_| Branch {
                resistance: Resistance::from_ohms(chance.log(1e5, 1e12)),
                capacitance: Capacitance::from_farads(chance.log(1e-11, 1e-6)),
                start: Voltage::ZERO,
            })
            .collect(),
        surface: chance.maybe(1e8, 1e13).map(|ohms| Surface {
            resistance: Resistance::from_ohms(ohms),
            guarded: chance.next() < 0.5,
        }),
        onset: insulation.and_then(|_| onset(chance)),
    }
}

/// In half of the cases, from anywhere and growing e-fold over 10 V to 100 kV.
fn onset(chance: &mut Chance) -> Option<Onset> {
    let from = Voltage::from_volts(chance.log(100.0, 3e4));
    let scale = Voltage::from_volts(chance.log(10.0, 1e5));
    (chance.next() < 0.5).then_some(Onset { from, scale })
}

fn course(chance: &mut Chance) -> Vec<Leg> {
    (0..1 + (chance.next() * 5.0) as usize)
        .map(|_| Leg {
            to: Voltage::from_volts((chance.next() * 6.0).floor() * 5e3),
            rise: chance.maybe(10.0, 1e4).map(VoltageRate::from_volts_per_second),
            dwell: Time::from_seconds((chance.next() * 4.0).floor() * 30.0),
        })
        .collect()
}

/// Charge on all capacitances.
fn charge(object: &TestObject) -> f64 {
    let branches = object.branches.iter().map(|b| (b.capacitance * b.start).coulombs());
    (object.capacitance * object.start).coulombs() + branches.sum::<f64>()
}

/// Checks one case; returns what happened in it.
fn check(seed: u64) -> Vec<Happening> {
    let mut chance = Chance(seed);
    let object = object(&mut chance);
    let supply = Supply {
        limit: Some(Current::from_amperes(chance.log(1e-5, 1e-1))),
        series: Resistance::from_ohms(chance.maybe(1e-3, 1e8).unwrap_or(0.0)),
        trip: chance.maybe(1e-5, 1e-1).map(Current::from_amperes),
        bleed: chance.maybe(1e6, 1e12).map(Resistance::from_ohms),
        ripple: None,
    };
    let legs = course(&mut chance);
    let top = legs.iter().fold(0.0, |top: f64, leg| top.max(leg.to.volts()));
    let discharge = Discharge {
        resistor: Some(Resistance::from_ohms(chance.log(1e3, 1e8))),
        bleed: chance.maybe(0.1, 100.0).map(Time::from_seconds),
        short: None,
        open: chance.maybe(1.0, 1e5).map(Time::from_seconds),
    };
    let run = Run::new(&object, &supply, &legs, Some(&discharge), Time::ZERO)
        .unwrap_or_else(|error| panic!("seed {seed}: {error}"));
    let outline = run.outline();
    assert!(outline.events.windows(2).all(|pair| pair[0].at <= pair[1].at), "seed {seed}");
    let end = outline.end.seconds();
    let mut before = 0.0;
    let steps = 2000;
    for k in 0..=steps {
        let at = Time::from_seconds(end * f64::from(k) / f64::from(steps));
        let sample = run.sample(at);
        let volts = sample.voltage.volts();
        assert!((-1e-6..=top * (1.0 + 1e-9) + 1e-6).contains(&volts), "seed {seed}: {sample:?}");
        assert!(sample.current.is_finite(), "seed {seed}: {sample:?}");
        let passed = object.surface.filter(|surface| surface.guarded);
        let past = passed.map_or(Current::ZERO, |surface| sample.voltage / surface.resistance);
        let off = (sample.current - sample.metered - past).amperes().abs();
        assert!(
            off <= 1e-9 * sample.current.amperes().abs() + 1e-9 * past.amperes() + 1e-15,
            "seed {seed}: {sample:?}"
        );
        if at <= outline.course_end {
            let limit = supply.limit.expect("always given") * (1.0 + 1e-9);
            let allowed = -limit * 1e-9..=limit;
            assert!(allowed.contains(&sample.supplied), "seed {seed}: {sample:?}");
            // What the supply gives and the object does not take goes through the built-in path.
            let path = supply.bleed.map_or(Current::ZERO, |bleed| sample.voltage / bleed);
            let rounding = limit * 1e-9 + path * 1e-9;
            let rest = sample.supplied - sample.current - path;
            assert!(rest <= rounding && -rest <= rounding, "seed {seed}: {sample:?}");
            // No faster than the limit lets it.
            let most = limit.amperes() / object.capacitance.farads() * end / f64::from(steps);
            assert!(volts - before <= most * (1.0 + 1e-6) + 1e-6, "seed {seed}: {sample:?}");
        }
        before = volts;
    }
    // Left open without insulation, no charge goes anywhere.
    if object.insulation.is_none() && object.surface.is_none() && discharge.open.is_some() {
        let opened = outline.course_end + discharge.bleed.unwrap_or(Time::ZERO);
        let (then, last) = (charge(&run.object_at(opened)), charge(&run.object_at(outline.end)));
        let most = charge(&run.object_at(outline.course_end)).abs();
        assert!(
            (then - last).abs() <= 1e-9 * then.abs() + 1e-14 * most,
            "seed {seed}: {then} {last}"
        );
    }
    outline.events.iter().map(|event| event.what).collect()
}

#[test]
fn a_thousand_cases_keep_to_the_circuit() {
    let seen: Vec<Happening> = (0..1000).flat_map(check).collect();
    // Else the cases would show nothing.
    for what in [
        Happening::LimitReached,
        Happening::LimitLeft,
        Happening::CannotSink,
        Happening::Resumed,
        Happening::Tripped,
    ] {
        let count = seen.iter().filter(|happening| **happening == what).count();
        assert!(count >= 50, "{what:?} in {count} cases only");
    }
}
