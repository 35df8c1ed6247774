//! Step by step: does conduction grow in proportion to voltage, absorption taken out?

use physics::fit::HINGE_P;
use physics::identify::MODEL_PART;
use quantity::{Current, Ratio, Voltage, engineering};
use standards::{Mark, tolerance};

use crate::context::Context;
use crate::draft::Draft;
use crate::findings::Outcome;
use crate::model::Model;
use crate::words::{self, Id, Link, More, MoreLink, Said};

/// Fewer levels than this show no proportion.
pub(crate) const LEAST_LEVELS: usize = 3;

/// A turn that the readings bear out is spoken of from this part of what practice allows on:
/// below it lies what a sum of exponentials looks like to a power law (seeded test), above it
/// what a knee between two steps looks like to a hinge on one of them.
const SPOKEN_OF: f64 = 0.15;

/// Growth without a knee up to this part of what practice allows is what conduction does in high
/// fields; a knee is spoken of from the probability on at which it is the likelier of the two.
const SMOOTH: f64 = 0.5;
const LIKELIER: f64 = 0.5;

/// Step linearity, and a knee where one is borne out.
///
/// The raw resistance of a linear object falls from step to step, because each step adds
/// absorption; the model of conduction and absorption is therefore fitted first, and a knee is a
/// change of slope that the readings bear out beyond it. What a power law misses of real
/// absorption can look like a small turn: below [`SPOKEN_OF`] none is spoken of.
pub(crate) fn findings(context: &Context<'_>, model: Option<&Model>) -> Vec<Draft> {
    let plain = |said| vec![Draft::new(Id::StepLinearity, Outcome::NotApplicable, said)];
    if context.only_resistance || !context.looks_at_current() {
        return Vec::new();
    }
    let Some(model) = model else { return plain(Said::LinearityNotAsked) };
    if model.levels < 2 && !context.has_steps() {
        return plain(Said::LinearityNotAsked);
    }
    if model.levels < LEAST_LEVELS {
        return plain(Said::LinearityUnread { levels: model.levels });
    }
    let Some(turn) = Turn::of(model) else {
        return plain(Said::LinearityNotSeparable);
    };
    turn.findings(context, model)
}

/// How the current at the highest level stands to the line through the lower ones.
struct Turn {
    read: f64,
    /// What the lower levels lead one to expect.
    predicted: f64,
    /// From where, and how likely it is by chance; where a knee was looked for.
    from_volts: Option<f64>,
    by_chance: Option<f64>,
    borne_out: bool,
    /// That it is a knee, beside a growth without one.
    probability: f64,
    expanded: f64,
}

impl Turn {
    fn of(model: &Model) -> Option<Self> {
        let top = model.points.iter().rposition(|point| point.volts >= model.top_volts * 0.98)?;
        let first_at_top = model.points.iter().position(|p| p.volts >= model.top_volts * 0.98)?;
        let read = model.points[first_at_top].amperes;
        let expanded = 2.0 * model.points[top].sigma;
        let hinge = model.object.knee.as_ref().ok()?;
        let excess = hinge.excess_amperes.max(0.0);
        let predicted = read - excess;
        // Hardly anything left to compare with: the excess is all there is.
        let predicted = if predicted > 0.0 { predicted } else { expanded.max(read * 1e-3) };
        Some(Self {
            read,
            predicted,
            from_volts: (excess > 0.0).then_some(hinge.from_volts),
            by_chance: Some(hinge.p),
            borne_out: hinge.supported && excess > expanded,
            probability: hinge.probability,
            expanded,
        })
    }

    fn findings(&self, context: &Context<'_>, model: &Model) -> Vec<Draft> {
        let rule = tolerance::step_linearity(context.library);
        let ratio = self.read / self.predicted;
        let excess = Ratio::from_value(ratio - 1.0);
        let spoken_of = ratio > 1.0 + (rule.value - 1.0) * SPOKEN_OF;
        // A small turn that a growth without a knee explains as well is none.
        let is_smooth = self.probability < LIKELIER && ratio <= 1.0 + (rule.value - 1.0) * SMOOTH;
        let spoken_of = spoken_of && !is_smooth;
        let (outcome, said) = if self.borne_out && ratio > rule.value {
            // What only practice asks for opens a question; it does not reject.
            let published = rule.source.mark != Mark::Practice;
            let outcome = if published { Outcome::Fail } else { Outcome::Warn };
            (outcome, Said::NotLinear { excess })
        } else if (self.borne_out && spoken_of) || ratio > rule.value {
            (Outcome::Warn, Said::LinearityOpen { excess })
        } else if self.borne_out && is_smooth {
            (Outcome::Ok, Said::More(More::Smooth { excess }))
        } else {
            (Outcome::Ok, Said::Linear)
        };
        let allowed = Ratio::from_value(rule.value - 1.0);
        let relative = self.expanded / self.predicted;
        let mut found = vec![
            Draft::new(Id::StepLinearity, outcome, said)
                .value(ratio, "")
                .limit(rule.value)
                .expanded(relative)
                .chain(modelled(model))
                .chain([
                    Link::Predicted {
                        read: Current::from_amperes(self.read),
                        predicted: Current::from_amperes(self.predicted),
                        level: Voltage::from_volts(model.top_volts),
                    },
                    Link::from(MoreLink::DigitsAndLaw {
                        expanded: engineering(relative, "", 2),
                        part: Ratio::from_value(MODEL_PART),
                    }),
                    Link::ExcessAllowed { ratio: allowed },
                ])
                .source(&rule.source),
        ];
        if let Some(from) = self.from_volts.filter(|_| self.borne_out && spoken_of) {
            let from = Voltage::from_volts(from);
            let excess = Current::from_amperes(self.read - self.predicted);
            let said = Said::Knee { from, excess, probability: Some(self.probability) };
            found.push(
                Draft::new(Id::Knee, Outcome::Warn, said)
                    .value(from.kilovolts(), "kV")
                    .chain(modelled(model))
                    .chain(self.by_chance.map(|p| {
                        let places = model.levels.saturating_sub(1);
                        Link::from(MoreLink::KneeRule { places, p, below: HINGE_P })
                    }))
                    .by_practice(),
            );
        }
        found
    }
}

fn modelled(model: &Model) -> Vec<Link> {
    match (&model.object.conductance, model.conduction()) {
        (Ok(_), Some(conduction)) => vec![Link::Modelled {
            conduction: Current::from_amperes(conduction),
            exponent: model.best_exponent(),
            readings: model.points.len(),
        }],
        (Err(why), _) => vec![Link::NotSeparable { reason: words::untold(why) }],
        (Ok(_), None) => Vec::new(),
    }
}
