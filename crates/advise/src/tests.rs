//! The tests of a series: what they say of objects whose law is known, seeded and derived.

use physics::absorption::PowerLaw;
use physics::course::{ExpectedObject, current_at};
use physics::transient::Leg;
use quantity::{Capacitance, Resistance, Time, Voltage, VoltageRate};

use crate::history::History;
use crate::model::{Model, Point};
use crate::series::{Row, Series};
use crate::weigh;

/// Numbers that look drawn and are the same every time: Marsaglia's shifts, from memory,
/// unverified; nothing rests on their quality but that they scatter evenly.
struct Chance(u64);

impl Chance {
    fn unit(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn between(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * self.unit()
    }

    /// Twelve even draws less six: deviation one.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.unit()).sum::<f64>() - 6.0
    }
}

const PRIOR: [f64; 4] = [-23.0, -20.7, 0.8, -16.0];
const DOUBT: [f64; 4] = [2.5, 2.0, 0.3, 0.5];

/// How an object absorbs, over its current at one minute.
#[derive(Clone, Copy, Debug)]
enum Kernel {
    Power(f64),
    Stretched(f64, f64),
}

impl Kernel {
    fn at(self, age_s: f64) -> f64 {
        let age_s = age_s.max(0.1);
        match self {
            Self::Power(exponent) => (age_s / 60.0).powf(-exponent),
            Self::Stretched(tau_s, beta) => {
                ((60.0 / tau_s).powf(beta) - (age_s / tau_s).powf(beta)).exp()
            }
        }
    }
}

/// Steps of a minute, read by a meter every second.
struct Test {
    top: f64,
    steps: usize,
    kernel: Kernel,
    /// Conduction in siemens, and absorption a minute after a step, over it.
    siemens: f64,
    absorbs: f64,
    noise: f64,
    /// Onset and end of what grows without bound, in parts of the top.
    knee: Option<(f64, f64)>,
}

impl Test {
    fn drawn(chance: &mut Chance) -> Self {
        let kernel = if chance.unit() < 0.5 {
            Kernel::Power(chance.between(0.6, 1.1))
        } else {
            Kernel::Stretched(chance.between(50.0, 1500.0), chance.between(0.3, 0.7))
        };
        Self {
            top: chance.between(8e3, 50e3),
            steps: 20 + (chance.unit() * 8.0) as usize,
            kernel,
            siemens: 1e-10 * chance.between(0.3, 5.0),
            absorbs: chance.between(0.2, 4.0),
            noise: chance.between(5e-4, 4e-3),
            knee: None,
        }
    }

    fn excess(&self, part: f64) -> f64 {
        let Some((from, end)) = self.knee.filter(|(from, _)| part > *from) else { return 0.0 };
        0.1 * self.siemens * self.top * (part - from) / (end - part).max(1e-3)
    }

    /// The strongest advice, and the last level at which the hand was told no further.
    fn run(&self, chance: &mut Chance) -> (weigh::Weight, Option<usize>) {
        let pace = self.top / self.steps as f64 / 10.0;
        let mut series = Series::new((PRIOR, DOUBT), 0.02, pace, false);
        let mut begun: Vec<(f64, f64)> = Vec::new();
        let (mut t_s, mut worst, mut stopped) = (0.0, weigh::NOTHING, None);
        for level in 1..=self.steps {
            let part = level as f64 / self.steps as f64;
            if self.knee.is_some_and(|(_, end)| part >= end) {
                break;
            }
            let volts = self.top * part;
            let step = self.top / self.steps as f64;
            begun.extend((0..8).map(|k| (t_s + 0.625 * (f64::from(k) + 0.5), step / 8.0)));
            series.leaves(t_s);
            t_s += 5.0;
            series.stands(t_s, volts);
            for _ in 0..60 {
                t_s += 1.0;
                let absorbed: f64 =
                    begun.iter().map(|(at, step)| step * self.kernel.at(t_s - at)).sum();
                let amps = self.siemens * (volts + self.absorbs * absorbed) + self.excess(part);
                series.take(Row {
                    t_s,
                    volts: volts * (1.0 + 3e-4 * chance.normal()),
                    amps: amps * (1.0 + self.noise * chance.normal()),
                    volts_half: 0.5,
                    amps_half: 1e-5 * amps,
                    range: 1e-3,
                });
                let turn = series.turn.map_or(weigh::NOTHING, |turn| weigh::of_turn(&turn));
                let rise = series.rising().map_or(weigh::NOTHING, |rise| weigh::of_rise(&rise));
                worst = worst.max(turn).max(rise);
                if turn >= weigh::HOLD {
                    stopped = stopped.or(Some(level));
                }
            }
        }
        (worst, stopped)
    }
}

/// Goal: at most 1 of 100 sound tests is told to come down, 5 to hold; a law that the model does
/// not have is as good as its own.
#[test]
fn sound_objects_of_two_laws_are_left_alone() {
    let mut chance = Chance(0x2545_F491_4F6C_DD1D);
    let weights: Vec<u8> = (0..60).map(|_| Test::drawn(&mut chance).run(&mut chance).0).collect();
    let of = |least: u8| weights.iter().filter(|weight| **weight >= least).count();
    assert!(of(weigh::DOWN) <= 1 && of(weigh::HOLD) <= 3, "{weights:?}");
}

/// Goal: 95 of 100 knees are stopped a step before the end, where the excess there is five times
/// what a reading repeats to.
#[test]
fn knees_are_stopped_a_step_before_their_end() {
    let mut chance = Chance(0x9E37_79B9_7F4A_7C15);
    let (mut seen, mut stopped) = (0, 0);
    for _ in 0..60 {
        let mut test = Test::drawn(&mut chance);
        let from = chance.between(0.45, 0.8);
        test.knee = Some((from, chance.between(from + 0.1, 1.0)));
        let end = test.knee.map_or(1.0, |(_, end)| end);
        let last = (end * test.steps as f64).ceil() as usize - 1;
        let part = last as f64 / test.steps as f64;
        let excess = test.excess(part);
        let whole = test.siemens * test.top * part * (1.0 + test.absorbs) + excess;
        if excess < 5.0 * test.noise * whole {
            continue;
        }
        seen += 1;
        let told = test.run(&mut chance).1;
        stopped += usize::from(told.is_some_and(|level| level <= last));
    }
    assert!(seen > 20 && stopped as f64 >= 0.9 * f64::from(seen), "{stopped} of {seen}");
}

/// Source: the closed sums of `physics::course`, which are held against a worked staircase there.
#[test]
fn the_model_is_that_of_the_plan() {
    let object = ExpectedObject {
        capacitance: Capacitance::from_microfarads(0.25),
        insulation: Resistance::from_megohms(8000.0),
        absorption: PowerLaw { strength: 0.02, exponent: 0.8 },
    };
    let leg = |kv: f64| Leg {
        to: Voltage::from_kilovolts(kv),
        rise: Some(VoltageRate::from_kilovolts_per_second(1.0)),
        dwell: Time::from_seconds(60.0),
    };
    let legs = [leg(10.0), leg(20.0), leg(30.0)];
    let mut history = History::new(1000.0);
    for (k, kv) in [10.0, 20.0, 30.0].into_iter().enumerate() {
        let from_s = 70.0 * k as f64;
        history.leaves(from_s);
        history.stand(from_s + 10.0, kv * 1e3);
    }
    let at = [(1.0 / 8e9_f64).ln(), (0.25e-6_f64 * 0.02).ln(), 0.8, 0.25e-6_f64.ln()];
    let model = Model::new(at, DOUBT);
    for t_s in [12.0, 40.0, 69.0, 85.0, 140.0, 155.0, 210.0] {
        let volts = if t_s < 75.0 {
            10e3
        } else if t_s < 145.0 {
            20e3
        } else {
            30e3
        };
        let point = Point { t_s, volts, rate: 0.0, amps: 0.0, sigma: 0.0 };
        let ours = model.amps(&history, &point);
        let plans = current_at(&object, &legs, Time::from_seconds(t_s)).amperes();
        // A rise far off is taken as a step in its middle.
        assert!((ours / plans - 1.0).abs() < 0.004, "{t_s} s: {ours:e} and {plans:e}");
    }
}

/// Source: derived: readings made by a law are fitted by it, within what the prior pulls.
#[test]
fn a_fit_finds_the_law_that_made_its_readings() {
    let mut history = History::new(1000.0);
    history.stand(10.0, 10e3);
    let truth = Model::new([-22.5, -20.0, 0.9, -16.0], DOUBT);
    let points: Vec<Point> = (1..=40)
        .map(|k| {
            let mut point = Point {
                t_s: 10.0 + 3.0 * 1.16_f64.powi(k),
                volts: 10e3,
                rate: 0.0,
                amps: 0.0,
                sigma: 1e-10,
            };
            point.amps = truth.amps(&history, &point);
            point
        })
        .collect();
    let mut model = Model::new(PRIOR, DOUBT);
    model.fit(&history, &points, 12);
    for (k, near) in [0.02, 0.02, 0.01].into_iter().enumerate() {
        assert!((model.at[k] - truth.at[k]).abs() < near, "{k}: {:?}", model.at);
    }
    let (amps, changes) = model.current(&history, &points[20]);
    let standard = model.standard(amps, &changes);
    assert!(standard > 0.0 && standard < 0.05 * amps, "{standard:e} of {amps:e}");
}

/// A current that doubles in two minutes at standing voltage, and one that falls all the while.
#[test]
fn a_rise_is_told_from_absorption_and_noise() {
    let check = |doubling: Option<f64>, expected: u8| {
        let mut chance = Chance(0x1234_5678_9ABC_DEF1);
        let mut series = Series::new((PRIOR, DOUBT), 0.02, 100.0, false);
        series.leaves(0.0);
        series.stands(10.0, 10e3);
        let mut worst = weigh::NOTHING;
        for k in 1..=600 {
            let age = f64::from(k);
            let grown = doubling.map_or(0.0, |time| (age / time).exp2() - 1.0);
            let amps = 1e-6 * (1.0 + 3.0 * age.powf(-0.8) + 0.2 * grown);
            let row = Row {
                t_s: 10.0 + age,
                volts: 10e3,
                amps: amps * (1.0 + 2e-3 * chance.normal()),
                volts_half: 0.5,
                amps_half: 1e-10,
                range: 1e-5,
            };
            series.take(row);
            worst = worst.max(series.rising().map_or(0, |rise| weigh::of_rise(&rise)));
        }
        assert_eq!(worst, expected, "{doubling:?}");
    };
    check(None, weigh::NOTHING);
    check(Some(120.0), weigh::DOWN);
}

/// A ramp of 20 V a second up to 20 kV, held for a minute where it stands at 14 kV, its last 600 V
/// set by a hand ten times as fast: what was told from there on, and while it was held.
fn of_a_ramp(knee: Option<f64>) -> (weigh::Weight, Option<f64>, weigh::Weight) {
    let (pace, top, held_at, held_s) = (20.0, 20e3, 14e3, 60.0);
    let mut chance = Chance(0x0BAD_5EED_1234_5677);
    let mut series = Series::new((PRIOR, DOUBT), 0.02, pace, true);
    let (mut volts, mut waits) = (0.0_f64, held_s);
    let (mut worst, mut came_down, mut while_held) = (weigh::NOTHING, None, weigh::NOTHING);
    for second in 1..=1100 {
        let t_s = f64::from(second);
        let rate = match volts {
            volts if volts >= top => 0.0,
            volts if volts >= held_at && waits > 0.0 => 0.0,
            volts if volts >= top - 600.0 => 10.0 * pace,
            _ => pace,
        };
        if volts >= held_at && waits > 0.0 {
            waits -= 1.0;
        }
        volts += rate;
        let excess = knee.filter(|from| volts > *from);
        let excess = excess.map_or(0.0, |from| 4e-7 * (((volts - from) / 700.0).exp() - 1.0));
        let amps = 1e-7 * rate + 1e-10 * volts + excess;
        series.take(Row {
            t_s,
            volts: volts * (1.0 + 3e-4 * chance.normal()),
            amps: amps * (1.0 + 1e-3 * chance.normal()),
            volts_half: 0.5,
            amps_half: 1e-10,
            range: 1e-3,
        });
        let turn = series.turn.map_or(weigh::NOTHING, |turn| weigh::of_turn(&turn));
        worst = worst.max(turn);
        if turn >= weigh::DOWN {
            came_down = came_down.or(Some(volts));
        }
        // Some seconds pass until it is seen that the voltage stands.
        if rate == 0.0 && volts < top && waits < held_s - 10.0 {
            while_held = turn;
        }
    }
    (worst, came_down, while_held)
}

/// Source: derived: the current of a ramp is charging and conduction; the last level is set by hand
/// faster than the ramp goes, which charges more and is no knee.
#[test]
fn a_sound_ramp_is_left_alone_when_a_hand_sets_its_level() {
    assert_eq!(of_a_ramp(None).0, weigh::NOTHING);
}

/// Source: derived: a knee from 13 kV on is seen before the hold at 14 kV and stands while nothing
/// is beside it to compare; what lies far above is not waited for.
#[test]
fn a_ramp_that_is_held_for_a_turn_is_held_for_it_still() {
    let (_, came_down, while_held) = of_a_ramp(Some(13e3));
    assert!(while_held >= weigh::HOLD, "{while_held}");
    assert!(came_down.is_some_and(|volts| volts < 15e3), "{came_down:?}");
}
