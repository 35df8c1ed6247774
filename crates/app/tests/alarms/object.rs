//! What a drawn object really is, sound or with a fault, by the law `advise` fits or by others.

use physics::absorption::PowerLaw;
use physics::transient::Branch;
use plan::Plan;
use plan::job::Method;
use practice::nature::{Absorbs, Bend, Departure, FieldLaw, Glow, Growth, HighField};
use practice::{Fault, Truth};
use quantity::{Band, Capacitance, Current, Resistance, Time, Voltage};

use super::chance::Chance;

/// What the draw made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Kind {
    Healthy,
    Wet,
    Dirty,
    Knee,
    Puncture,
    Rising,
    Arrester,
    Corona,
    LooseLink,
    WeakSupply,
}

impl Kind {
    pub(super) const fn key(self) -> &'static str {
        match self {
            Self::Healthy => "healthy",
            Self::Wet => "wet",
            Self::Dirty => "dirty",
            Self::Knee => "knee",
            Self::Puncture => "puncture",
            Self::Rising => "rising",
            Self::Arrester => "arrester",
            Self::Corona => "corona",
            Self::LooseLink => "loose-link",
            Self::WeakSupply => "weak-supply",
        }
    }

    /// Half are healthy and a quarter has a knee; the others are as many of each.
    pub(super) fn drawn(chance: &mut Chance) -> Self {
        match chance.unit() {
            u if u < 0.5 => Self::Healthy,
            u if u < 0.75 => Self::Knee,
            _ => {
                let others = [
                    Self::Wet,
                    Self::Dirty,
                    Self::Puncture,
                    Self::Rising,
                    Self::Arrester,
                    Self::Corona,
                    Self::LooseLink,
                    Self::WeakSupply,
                ];
                others[chance.below(others.len())]
            }
        }
    }
}

/// One object of each conductor, with what lies beside it.
pub(super) struct Drawn {
    pub(super) kind: Kind,
    /// By laws that `advise` does not have.
    pub(super) other_model: bool,
    pub(super) truths: Vec<Truth>,
    /// Which conductor has the fault.
    pub(super) which: usize,
    /// In the set's output, where the supply is weak.
    pub(super) series: Option<Resistance>,
}

/// The 97.5 % point of a standard normal distribution is about two, so the ends of a band are met
/// seldom: a sound object is drawn evenly, in its logarithm, over so much of the way to either end.
const REACH: f64 = 0.9;

fn within(band: Band<f64>, chance: &mut Chance) -> f64 {
    at(band, chance.between(-REACH, REACH))
}

fn at(band: Band<f64>, way: f64) -> f64 {
    let end = if way < 0.0 { band.low } else { band.high };
    band.mid * (end / band.mid).powf(way.abs())
}

pub(super) fn drawn(plan: &Plan, kind: Kind, other_model: bool, chance: &mut Chance) -> Drawn {
    let which = chance.below(plan.conductors.len());
    let sound = sound(plan, other_model, chance);
    let mut truths: Vec<Truth> = plan.conductors.iter().map(|_| sister(&sound, chance)).collect();
    let mut drawn = Drawn { kind, other_model, truths: Vec::new(), which, series: None };
    spoil(&mut truths[which], &mut drawn, plan, chance);
    drawn.truths = truths;
    drawn
}

/// Sound, and dry or damp: anywhere inside the plan's bands.
fn sound(plan: &Plan, other_model: bool, chance: &mut Chance) -> Truth {
    // The plan has both where it has a course.
    let mut truth = Truth::drawn(plan, (chance.unit() * 1e9) as u64)
        .expect("a plan with a course has a model")
        .swap_remove(0);
    let model = plan.model.as_ref().expect("a plan with a course has a model");
    let capacitance = plan.capacitance_band.expect("a plan with a course has a capacitance");
    let farads = within(capacitance.map(Capacitance::farads), chance);
    truth.capacitance = Capacitance::from_farads(farads);
    let ohms = within(model.insulation.map(Resistance::ohms), chance);
    truth.insulation = Resistance::from_ohms(ohms);
    truth.surface = truth.insulation * chance.decades(3.0, 50.0);
    let law = PowerLaw {
        strength: within(model.absorption_strength, chance),
        exponent: within(model.absorption_exponent, chance),
    };
    let whole = plan.duration.unwrap_or(Time::from_hours(1.0)).max(Time::from_minutes(1.0)) * 3.0;
    if other_model {
        // As much charge as the law takes up, spread over time in another way.
        let part = law.taken_up(Time::from_seconds(1.0), whole).value();
        truth.absorption = others(truth.capacitance, part, whole, chance);
        truth.departure = departure(plan, chance);
    } else {
        truth.absorption = law.branches(truth.capacitance, Time::from_seconds(1.0), whole);
    }
    truth
}

fn others(capacitance: Capacitance, part: f64, whole: Time, chance: &mut Chance) -> Vec<Branch> {
    let seconds = whole.seconds();
    match chance.below(3) {
        0 => {
            let longest = Time::from_seconds(chance.decades(0.05 * seconds, seconds));
            Absorbs::CutOff { longest, shape: chance.between(0.1, 0.5) }.branches(capacitance, part)
        }
        1 => {
            let middle = Time::from_seconds(chance.decades(5.0, 0.1 * seconds));
            Absorbs::Spread { middle, width: chance.between(1.0, 2.5) }.branches(capacitance, part)
        }
        _ => {
            let count = 2 + chance.below(4);
            let one = |_| {
                let capacitance = capacitance * (part / count as f64 * chance.between(0.3, 1.7));
                let time = Time::from_seconds(chance.decades(4.0, 0.5 * seconds));
                Branch { resistance: time / capacitance, capacitance, start: Voltage::ZERO }
            };
            (0..count).map(one).collect()
        }
    }
}

/// Up to a quarter more conduction at the highest voltage; warming or cooling by which it doubles
/// in three hours or later.
fn departure(plan: &Plan, chance: &mut Chance) -> Departure {
    let law = [FieldLaw::Square, FieldLaw::RootExponential][chance.below(2)];
    let top = plan.test.expect("a plan with a course has a level");
    let field = HighField { at: top, more: chance.between(0.0, 0.25), law };
    let sign = if chance.unit() < 0.5 { -1.0 } else { 1.0 };
    let doubling = Time::from_hours(sign * chance.decades(3.0, 20.0));
    Departure { field: Some(field), doubling: (chance.unit() < 0.5).then_some(doubling) }
}

/// Sisters are alike within some per cent.
fn sister(sound: &Truth, chance: &mut Chance) -> Truth {
    let mut truth = sound.clone();
    truth.insulation = truth.insulation * chance.between(0.85, 1.15);
    truth.capacitance = truth.capacitance * chance.between(0.98, 1.02);
    truth
}

fn spoil(truth: &mut Truth, drawn: &mut Drawn, plan: &Plan, chance: &mut Chance) {
    let top = plan.test.expect("a plan with a course has a level");
    let at_top = top / truth.insulation;
    truth.fault = match drawn.kind {
        Kind::Healthy => None,
        Kind::Wet => Some(Fault::Wet { times: chance.decades(20.0, 300.0) }),
        Kind::Dirty => {
            Some(Fault::Dirty { surface: truth.insulation / chance.decades(5.0, 100.0) })
        }
        Kind::Knee => Some(Fault::Bend(knee(top, at_top, drawn.other_model, chance))),
        Kind::Puncture => Some(Fault::Puncture {
            at: top * chance.between(0.3, 0.99),
            after: Time::from_seconds(chance.between(0.0, 40.0)),
        }),
        Kind::Rising => Some(Fault::Rising {
            from: top * chance.between(0.5, 0.99),
            doubling: Time::from_seconds(chance.decades(15.0, 200.0)),
        }),
        Kind::Arrester => Some(Fault::Arrester { onset: top * chance.between(0.3, 0.95) }),
        Kind::Corona => {
            let onset = if top.kilovolts() > 28.0 {
                Voltage::from_kilovolts(chance.between(25.0, 0.95 * top.kilovolts()))
            } else {
                top * chance.between(0.6, 0.95)
            };
            truth.glow = Some(Glow {
                onset,
                at: top,
                current: at_top.max(Current::from_microamperes(0.5)) * chance.decades(0.5, 20.0),
                restless: chance.between(0.02, 0.4),
            });
            None
        }
        Kind::LooseLink => Some(Fault::LooseLink),
        Kind::WeakSupply => {
            // A leak that the supply can hardly hold up: it sags by a tenth to four tenths.
            let leak = Current::from_microamperes(chance.decades(30.0, 400.0));
            drawn.series = Some(top / leak * chance.between(0.1, 0.4));
            Some(Fault::Wet { times: (leak / at_top).max(1.0) })
        }
    };
}

/// A current that bends up from an onset and ends in breakdown at or below the highest voltage, at
/// half of to thirty times what the sound object conducts there.
fn knee(top: Voltage, at_top: Current, other_model: bool, chance: &mut Chance) -> Bend {
    let breaks = top * chance.between(0.6, 1.0);
    let onset = breaks * chance.between(0.5, 0.9);
    let growth = match (other_model, chance.below(2)) {
        (false, _) => {
            let beyond = chance.between(1.01, 1.1);
            Growth::ToAnEnd { end: onset + (breaks - onset) * beyond }
        }
        (true, 0) => Growth::Even,
        (true, _) => Growth::Exponential { folds: chance.between(0.5, 4.0) },
    };
    let current = at_top.max(Current::from_microamperes(0.2)) * chance.decades(0.5, 30.0);
    Bend { onset, at: breaks, current, growth, breaks: Some(breaks) }
}

/// Where a knee has to be stopped, and whether it could be seen there.
#[derive(Clone, Copy, Debug)]
pub(super) struct Warned {
    /// The level, or the voltage of a ramp, beyond which it was not to go.
    pub(super) last: Voltage,
    /// One step over the highest voltage.
    pub(super) step: f64,
    /// What the knee adds to the current there.
    pub(super) excess: Current,
    /// What the sound object would draw there.
    pub(super) base: Current,
}

/// A ramp has no steps: so much of its highest voltage counts as one. What is to be seen has to
/// stand for one of them before it is to be stopped, as it does for the time of a step.
const RAMP_STEP: f64 = 0.03;

/// `None` where the object breaks down on the way to the first level, or not at all.
///
/// Arguments: the plan; the object; what truly stands on it over what the voltmeter shows.
pub(super) fn warned(plan: &Plan, truth: &Truth, gain: f64) -> Option<Warned> {
    let Some(Fault::Bend(bend)) = truth.fault else { return None };
    let (top, breaks) = (plan.test? * gain, bend.breaks?);
    let siemens = 1.0 / truth.insulation.ohms() + 1.0 / truth.surface.ohms();
    let conducted = |at: Voltage| Current::from_amperes(at.volts() * siemens);
    if plan.method == Method::Ramp {
        let (last, rise) = (breaks - top * RAMP_STEP, plan.course.first()?.rise);
        let farads = truth.capacitance.farads()
            + truth.absorption.iter().map(|one| one.capacitance.farads()).sum::<f64>();
        // At most all of the absorption follows the ramp.
        let charging = Current::from_amperes(farads * rise.volts_per_second());
        let base = conducted(last) + charging;
        let seen = bend.current(last - top * RAMP_STEP);
        return Some(Warned { last, step: RAMP_STEP, excess: seen, base });
    }
    let levels: Vec<Voltage> = plan.course.iter().map(|step| step.level * gain).collect();
    let beyond = levels.iter().position(|level| *level >= breaks)?;
    let last = *levels.get(beyond.checked_sub(1)?)?;
    let mut absorbed = 0.0;
    let (mut age, mut higher) = (0.0, last);
    for step in plan.course[..beyond].iter().rev() {
        age += step.dwell.seconds();
        let lower = levels.iter().rfind(|level| **level < step.level * gain * 0.999).copied();
        let by = (higher - lower.unwrap_or(Voltage::ZERO)).volts();
        let of = |one: &Branch| {
            by / one.resistance.ohms() * (-age / one.time_constant().seconds()).exp()
        };
        absorbed += truth.absorption.iter().map(of).sum::<f64>();
        higher = lower.unwrap_or(Voltage::ZERO);
    }
    let base = conducted(last) + Current::from_amperes(absorbed);
    let step = (levels[beyond] - last).volts() / top.volts();
    Some(Warned { last, step, excess: bend.current(last), base })
}
