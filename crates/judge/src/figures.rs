//! The numbers of one conductor.

use quantity::{Current, Time, Voltage};

use crate::brought::{Brought, CORRECTED_TO};
use crate::context::Context;
use crate::findings::{Figures, ResistanceFigure};
use crate::model::Model;
use crate::part::Part;
use crate::resistance::{Insulation, index, quotient};
use quantity::edge::twelve_digits;

/// Figures from what was read; what was not read stays unknown.
pub(crate) fn of(
    context: &Context<'_>,
    part: &Part<'_>,
    model: Option<&Model>,
    insulation: Option<&Insulation>,
) -> Figures {
    let absorption_ratio = part
        .resistance(context.job)
        .and_then(|(trace, stretch)| quotient(context, trace, &stretch, 30.0, 60.0));
    Figures {
        resistance: insulation.map(resistance),
        polarization_index: index(context, part).map(|(found, _)| twelve_digits(found.value)),
        absorption_ratio: absorption_ratio.map(|(found, _)| twelve_digits(found.value)),
        conduction: model.and_then(Model::conduction).map(Current::from_amperes),
        exponent_n: model.and_then(Model::told_exponent).map(twelve_digits),
        capacitance: model.and_then(Model::capacitance),
        forecast: None,
    }
}

fn resistance(insulation: &Insulation) -> ResistanceFigure {
    ResistanceFigure {
        value: insulation.read.value(),
        at_voltage: Voltage::from_volts(insulation.taken.volts),
        at_time: Time::from_seconds(insulation.taken.at_s),
        expanded: insulation.read.expanded(),
        corrected: insulation.at_40.as_ref().map(Brought::value),
        corrected_to: insulation.at_40.as_ref().map(|_| CORRECTED_TO),
    }
}
