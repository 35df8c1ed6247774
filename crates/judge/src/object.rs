//! What the readings say of the object, as it is shown and kept.

use physics::depolarization::{hamon, hamon_ratio};
use physics::fit::{Exponentials, Level, NotSeparable, Point, Tried, fit_supported_exponentials};
use physics::identify::{Check, Reason};
use quantity::edge::twelve_digits;
use quantity::{Capacitance, Current, Time, Uncertain, Voltage};

use crate::findings::{Branches, CrossCheck, Doubtful, Object, ObjectValue};
use crate::model::Model;
use crate::words;

/// Age of the absorption current that the loss is taken from: 0.1/t is 1.67 mHz.
const LOSS_AT: Time = Time::from_seconds(60.0);

/// What is told of the object.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Told {
    Capacitance,
    Conduction,
    Insulation,
    Exponent,
    AtOneMinute,
    LossTangent,
}

impl Told {
    /// Whether it is read from the readings themselves, and not from other values.
    pub(crate) fn is_root(id: &str) -> bool {
        [Self::Capacitance, Self::Conduction, Self::Exponent].iter().any(|root| root.key() == id)
    }

    const fn key(self) -> &'static str {
        match self {
            Self::Capacitance => "capacitance",
            Self::Conduction => "conduction",
            Self::Insulation => "insulation-resistance",
            Self::Exponent => "absorption-exponent",
            Self::AtOneMinute => "absorption-at-one-minute",
            Self::LossTangent => "loss-tangent",
        }
    }

    const fn unit(self) -> &'static str {
        match self {
            Self::Capacitance => "nF",
            Self::Conduction => "µA",
            Self::Insulation => "MΩ",
            Self::Exponent | Self::LossTangent => "",
            Self::AtOneMinute => "nA/kV",
        }
    }
}

/// From the model; what the meters err alike in every reading is added here. `of_index` is the
/// standard uncertainty of the index as it was judged: two ranges of a meter err apart.
pub(crate) fn of(model: &Model, of_index: Option<f64>) -> Object {
    let found = &model.object;
    let at_top = |siemens: f64| Current::from_amperes(siemens * model.top_volts).microamperes();
    let capacitance = found.capacitance.as_ref().map(|one| {
        let nano = |one: Capacitance| one.nanofarads();
        (nano(one.value), nano(one.standard))
    });
    let conduction = found.conductance.as_ref();
    let absorption = found.absorption.as_ref();
    let common = model.in_common;
    let values = vec![
        value(Told::Capacitance, common, capacitance),
        value(Told::Conduction, common, conduction.map(|one| in_unit(one, at_top))),
        value(Told::Insulation, common, insulation(model)),
        value(Told::Exponent, 0.0, absorption.map(|one| in_unit(&one.exponent, plain))),
        value(
            Told::AtOneMinute,
            common,
            absorption.map(|one| in_unit(&one.at_minute, nano_per_kilo)),
        ),
        value(Told::LossTangent, 0.0, loss(model)),
    ];
    let is_finite = |one: &Uncertain<f64>| (one.value + one.standard).is_finite();
    let checks = found.cross_checks.iter();
    let checks = checks.filter(|one| is_finite(&one.by_fit) && is_finite(&one.as_read));
    Object {
        values,
        cross_checks: checks.map(|one| check(one, model.in_common, of_index)).collect(),
        left_out_s: model.left_out_s.clone(),
        branches: Some(branches(model)),
        look: Vec::new(),
        end: None,
    }
}

/// Value and standard uncertainty in a unit.
fn in_unit(one: &Uncertain<f64>, unit: impl Fn(f64) -> f64) -> (f64, f64) {
    (unit(one.value), unit(one.standard))
}

const fn plain(value: f64) -> f64 {
    value
}

/// Siemens as nanoamperes a kilovolt.
const fn nano_per_kilo(siemens: f64) -> f64 {
    siemens * 1e12
}

/// Amperes as microamperes.
const fn micro(amperes: f64) -> f64 {
    Current::from_amperes(amperes).microamperes()
}

fn insulation(model: &Model) -> Result<(f64, f64), &Reason> {
    let conductance = model.object.conductance.as_ref()?;
    let found = model.object.insulation();
    // Below its doubt the conduction leaves only a bound, which the line of the conduction shows.
    Ok(found.map_or((f64::INFINITY, conductance.standard), |one| {
        (one.value.megohms(), one.standard.megohms())
    }))
}

/// Loss at low frequency by Hamon's approximation, put right for the exponent, with what conduction
/// adds. Current and charge are of one meter, so that its accuracy cancels.
fn loss(model: &Model) -> Result<(f64, f64), &Reason> {
    let capacitance = model.object.capacitance.as_ref()?;
    let conductance = model.object.conductance.as_ref()?;
    let absorption = model.object.absorption.as_ref()?;
    let top = Voltage::from_volts(model.top_volts);
    let tangent = |siemens: f64| {
        let current = Current::from_amperes(siemens * model.top_volts);
        hamon(current, top, LOSS_AT).tangent(capacitance.value).value()
    };
    let ratio = hamon_ratio(absorption.exponent.value).value();
    let (absorbed, conducted) =
        (tangent(absorption.at_minute.value) / ratio, tangent(conductance.value));
    let doubt = tangent(absorption.at_minute.standard).hypot(tangent(conductance.standard));
    let of_capacitance = capacitance.standard / capacitance.value;
    let sum = absorbed + conducted;
    Ok((sum, doubt.hypot(sum * of_capacitance)))
}

/// Branches by what was read at the longest level. What they still draw for an earlier change of
/// voltage dies away by the same time constants, so that nothing need be taken off for it.
fn branches(model: &Model) -> Branches {
    let [reached_s, last_s] = model.held_s;
    let is_used = |point: &&Point| {
        point.at_s > reached_s && point.at_s <= last_s && !model.left_out_s.contains(&point.at_s)
    };
    let points: Vec<&Point> = model.points.iter().filter(is_used).collect();
    let column = |of: fn(&Point) -> f64| points.iter().map(|&point| of(point)).collect::<Vec<_>>();
    let ages: Vec<f64> = points.iter().map(|point| point.at_s - reached_s).collect();
    let (amperes, weights) = (column(|one| one.amperes), column(|one| one.sigma.powi(-2)));
    let fitted = fit_supported_exponentials(&ages, &amperes, &weights, Level::Fitted);
    let told = fitted.and_then(|(fit, tried)| Ok((time_constants(&fit)?, tried)));
    let text =
        words::branches(told.as_ref().map(|(found, tried)| (&found[..], more(found, tried))));
    let found = told.ok().map(|(found, _)| found);
    Branches { count: found.as_ref().map(Vec::len), time_constants_s: found, text }
}

/// Time constants with their doubt, by what the readings' digits leave open or by their scatter,
/// whichever is larger. One whose interval reaches zero is none.
fn time_constants(fit: &Exponentials) -> Result<Vec<Doubtful>, NotSeparable> {
    let widen = fit.residual_sd().clamp(f64::MIN_POSITIVE, 1.0).recip();
    let terms = fit.terms.iter().enumerate();
    terms
        .map(|(k, term)| {
            let value = term.time_constant_s;
            let place = 1 + fit.terms.len() + k;
            let standard = fit.covariance[place][place].sqrt() * widen;
            let expanded_u = twelve_digits(2.0 * standard);
            (2.0 * standard < value)
                .then_some(Doubtful { value: twelve_digits(value), expanded_u })
                .ok_or(NotSeparable::Term(value))
        })
        .collect()
}

/// Why there is not one more.
fn more(found: &[Doubtful], tried: &[Tried]) -> Option<NotSeparable> {
    tried.iter().find(|one| one.count > found.len())?.told_apart.err()
}

fn value(told: Told, in_common: f64, found: Result<(f64, f64), &Reason>) -> ObjectValue {
    let number = found.as_ref().ok().filter(|(value, doubt)| (value + doubt).is_finite());
    let number = number.map(|(value, standard)| Doubtful {
        value: twelve_digits(*value),
        expanded_u: twelve_digits(2.0 * standard.hypot(value * in_common)),
    });
    let unit = told.unit();
    ObjectValue {
        id: told.key().to_owned(),
        value: number.map(|number| number.value),
        unit: number.map(|_| unit.to_owned()).filter(|unit| !unit.is_empty()),
        expanded_u: number.map(|number| number.expanded_u),
        text: words::told(told, number, unit, found.err()),
    }
}

fn check(
    found: &physics::identify::CrossCheck,
    in_common: f64,
    of_index: Option<f64>,
) -> CrossCheck {
    let (id, unit, scale, in_common): (_, _, fn(f64) -> f64, _) = match found.of {
        Check::ConductionEarly => ("conduction-early", "µA", micro, in_common),
        Check::ConductionLate => ("conduction-late", "µA", micro, in_common),
        Check::ConductionFromPair => ("conduction-from-pair", "µA", micro, in_common),
        Check::PolarizationIndex => ("polarization-index", "", plain, 0.0),
        Check::AbsorptionRatio => ("absorption-ratio", "", plain, 0.0),
        Check::TimeConstant => ("time-constant", "s", plain, 0.0),
    };
    // Both sides were read by the same meters, whose accuracy is in neither difference.
    let least = of_index.filter(|_| found.of == Check::PolarizationIndex).unwrap_or(0.0);
    let of_side = |one: &Uncertain<f64>| {
        let (value, standard) = in_unit(one, scale);
        let standard = standard.max(least);
        Doubtful {
            value: twelve_digits(value),
            expanded_u: twelve_digits(2.0 * standard.hypot(value * in_common)),
        }
    };
    let (by_model, as_read) = (of_side(&found.by_fit), of_side(&found.as_read));
    let apart = (found.by_fit.value - found.as_read.value).abs();
    let widest = found.by_fit.standard.max(least).hypot(found.as_read.standard.max(least));
    let agrees = found.agrees() || (least > 0.0 && apart <= 2.0 * widest);
    CrossCheck {
        id: id.to_owned(),
        by_model,
        as_read,
        unit: Some(unit.to_owned()).filter(|unit| !unit.is_empty()),
        agrees,
        text: words::cross_check(found.of, by_model, as_read, unit, agrees),
    }
}
