//! The numbers of one conductor.

use quantity::{Capacitance, Current, Time, Voltage};

use crate::brought::{Brought, CORRECTED_TO};
use crate::context::Context;
use crate::findings::{Figures, ResistanceFigure};
use crate::model::Model;
use crate::part::Part;
use crate::resistance::{Insulation, index, quotient};
use crate::trace::{Row, Trace};
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
        capacitance: part.foremost().and_then(capacitance),
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

/// Rows of a rise closer than this, in seconds, differ by no more than their digits.
const APART_S: f64 = 0.5;

/// Charge over voltage between rows of a rise.
///
/// ΔQ is the mean of two neighbouring currents times the time between them. Absorption and
/// conduction flow in it too, so it stands a little above the capacitance; a rise that is slow
/// against the set's limit shows that more.
fn capacitance(trace: &Trace) -> Option<Capacitance> {
    let (mut coulombs, mut volts) = (0.0, 0.0);
    let mut from: Option<Row> = None;
    for to in &trace.rows {
        let before = from.filter(|from| from.rising && to.rising);
        if before.is_some_and(|from| to.t_s - from.t_s < APART_S) {
            continue;
        }
        if let Some(before) = before.filter(|from| to.volts > from.volts)
            && let (Some(first), Some(last)) = (before.amps, to.amps)
        {
            coulombs += (first + last) / 2.0 * (to.t_s - before.t_s);
            volts += to.volts - before.volts;
        }
        from = Some(*to);
    }
    (volts > 0.0 && coulombs > 0.0).then(|| Capacitance::from_farads(coulombs / volts))
}
