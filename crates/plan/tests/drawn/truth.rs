//! Objects as they might really be: one inside what the plan says of it, one whose absorption is
//! of another shape than the plan's law.

use physics::absorption::PowerLaw;
use physics::transient::{Branch, TestObject};
use plan::Plan;
use plan::course::ObjectModel;
use quantity::{Band, Capacitance, Resistance, Time, Voltage};

use crate::chance::Chance;

/// The 97.5 % point of a standard normal distribution.
const END: f64 = 1.959_964;
/// The law is followed down to this age, as the plan's way down does.
const YOUNGEST: Time = Time::from_seconds(1.0);
/// The slowest branch, over the time at voltage.
pub(crate) const SLOWEST: f64 = 5.0;
/// The fastest of those branches, over the same.
const FASTEST: f64 = 0.02;
/// Most branches of an object that follows no law.
const MOST_BRANCHES: usize = 5;

/// An object of the plan's own law, nowhere further out than the 95 % region of what the plan says:
/// four normal numbers within a ball, each band's ends at ±1.96 of its own.
pub(crate) fn inside(plan: &Plan, chance: &mut Chance) -> Option<TestObject> {
    let (capacitance, model) = (plan.capacitance_band?, plan.model.as_ref()?);
    let place = loop {
        let place: [f64; 4] = std::array::from_fn(|_| chance.normal());
        if place.iter().map(|z| z * z).sum::<f64>().sqrt() <= END {
            break place;
        }
    };
    let farads = at(capacitance.map(Capacitance::farads), place[0]);
    let capacitance = Capacitance::from_farads(farads);
    let ohms = at(model.insulation.map(Resistance::ohms), place[1]);
    let law = PowerLaw {
        strength: at(model.absorption_strength, place[2]),
        exponent: at(model.absorption_exponent, place[3]),
    };
    let whole = at_voltage(plan).max(YOUNGEST * 2.0);
    Some(object(capacitance, ohms, law.branches(capacitance, YOUNGEST, whole)))
}

/// An object that follows no law: one to five branches, the slowest up to five times the time at
/// voltage, and any share of the absorbed charge in any of them.
///
/// Its absorption as a whole is physical: it takes up what the law of its own insulation system
/// would take up from one second to that slowest time, at a strength from the lower to the upper
/// end that is typical of the system (`practice/absorption`: common practice, no source). Only how
/// that charge is spread over time is another. Capacitance and conduction are the plan's.
pub(crate) fn of_another_shape(plan: &Plan, chance: &mut Chance) -> Option<TestObject> {
    let (capacitance, model) = (plan.capacitance_band?, plan.model.as_ref()?);
    let even = |band: Band<f64>, chance: &mut Chance| chance.decades(band.low, band.high);
    let farads = even(capacitance.map(Capacitance::farads), chance);
    let ohms = even(model.insulation.map(Resistance::ohms), chance);
    let whole = at_voltage(plan);
    // One in four is the worst there is: all of it, in one slow branch.
    let worst = chance.happens(0.25);
    let strength = even(model.absorption_strength, chance);
    let strength = if worst { model.absorption_strength.high } else { strength };
    let count = if worst { 1 } else { 1 + chance.below(MOST_BRANCHES) };
    let fastest = if worst { 0.8 * SLOWEST } else { FASTEST };
    let absorbed = farads * strength * absorbed(model, whole * SLOWEST);
    let weights: Vec<f64> = (0..count).map(|_| chance.unit().powi(3)).collect();
    let sum: f64 = weights.iter().sum();
    let branches = weights
        .iter()
        .map(|weight| {
            let slow = whole * chance.decades(fastest, SLOWEST);
            let capacitance = Capacitance::from_farads(absorbed * weight / sum);
            Branch { resistance: slow / capacitance, capacitance, start: Voltage::ZERO }
        })
        .collect();
    Some(object(Capacitance::from_farads(farads), ohms, branches))
}

/// ∫ t⁻ⁿ dt from one second to `until`, at the middle exponent: charge taken up over C·K·V.
fn absorbed(model: &ObjectModel, until: Time) -> f64 {
    let power = 1.0 - model.absorption_exponent.mid;
    let until = until.seconds().max(1.0);
    if power.abs() < 1e-9 { until.ln() } else { (until.powf(power) - 1.0) / power }
}

/// From energising to the end of the hold.
pub(crate) fn at_voltage(plan: &Plan) -> Time {
    plan.course.iter().fold(Time::ZERO, |sum, step| sum + step.rise_time + step.dwell)
}

fn object(capacitance: Capacitance, ohms: f64, branches: Vec<Branch>) -> TestObject {
    TestObject {
        capacitance,
        insulation: Some(Resistance::from_ohms(ohms)),
        start: Voltage::ZERO,
        branches,
        surface: None,
        onset: None,
    }
}

/// A point of a band that is told as two halves of log-normal distributions.
fn at(band: Band<f64>, z: f64) -> f64 {
    let end = if z < 0.0 { band.mid / band.low } else { band.high / band.mid };
    band.mid * end.powf(z / END)
}
