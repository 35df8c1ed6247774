//! The way down, the distances, and the quantities behind them.

use plan::Plan;
use plan::course::{Clearance, Descent, End};
use quantity::{Energy, engineering};
use serde::Serialize;

use crate::digits::{distance, joules, significant, span_up, trimmed, volts};
use crate::sources::ShortSources;
use crate::words;

#[derive(Serialize)]
pub(super) struct Down {
    resistor: String,
    tool_at_hand: bool,
    resistor_first: bool,
    peak: String,
    joules: String,
    limit: String,
    to_limit: String,
    bleed: Option<String>,
    ground: String,
    ground_by: &'static str,
    rebound: String,
    rebound_after: Option<String>,
    floor: Option<String>,
}

impl From<&Descent> for Down {
    fn from(down: &Descent) -> Self {
        Self {
            resistor: format!("{} kΩ", trimmed(down.resistor.kilohms(), 1)),
            tool_at_hand: down.tool_at_hand,
            resistor_first: down.resistor_first,
            peak: peak(down),
            joules: joules(down.resistor_energy),
            limit: volts(down.touch_limit),
            to_limit: span_up(down.to_limit()),
            bleed: down.bleed_to_tenth.map(span_up),
            ground: span_up(down.ground),
            ground_by: words::ground_by(down.ground_by),
            rebound: volts(down.rebound),
            rebound_after: down.rebound_peak_after.map(span_up),
            floor: down.meter_floor.map(volts),
        }
    }
}

/// First peak of current, and of power where the plan knows it.
fn peak(down: &Descent) -> String {
    let current = engineering(down.peak.amperes(), "A", 3);
    match down.peak_watts {
        Some(watts) => format!("{current}, {}", engineering(watts, "W", 3)),
        None => current,
    }
}

#[derive(Serialize)]
pub(super) struct Distances {
    /// A row for each place at high voltage; one without a name where the plan tells none apart.
    rows: Vec<DistanceRow>,
    /// Number of the source of barrier and restricted.
    source: usize,
}

#[derive(Serialize)]
struct DistanceRow {
    end: Option<&'static str>,
    barrier: String,
    restricted: String,
    strike: String,
}

pub(super) fn distances(clear: &Clearance, sources: &mut ShortSources) -> Distances {
    let row = |end: Option<&End>| DistanceRow {
        end: end.map(|end| words::end_at(end.end)),
        barrier: distance(end.map_or(clear.barrier, |end| end.barrier)),
        restricted: distance(end.map_or(clear.restricted, |end| end.restricted)),
        strike: distance(end.map_or(clear.strike, |end| end.strike)),
    };
    let rows = match clear.ends.as_slice() {
        [] | [_] => vec![row(None)],
        ends => ends.iter().map(|end| row(Some(end))).collect(),
    };
    Distances { rows, source: sources.refer(&clear.source.title, clear.source.mark) }
}

pub(super) fn quantities(plan: &Plan) -> Vec<String> {
    let stored = |stored: Energy| format!("stored at the level {}", joules(stored));
    [
        plan.capacitance
            .map(|value| format!("capacitance {} nF", significant(value.nanofarads(), 2))),
        plan.stored_most.map(stored),
        plan.charging
            .map(|current| format!("charging current {}", engineering(current.amperes(), "A", 2))),
        plan.duration.map(|time| {
            format!("{} for one {}", span_up(time), words::piece(plan.class).to_lowercase())
        }),
        air(plan),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// The air as far as a hand needs it on one page: what it takes from a gap, with its mark, and when
/// surfaces turn wet. All of it stands in the plan that is attached.
fn air(plan: &Plan) -> Option<String> {
    let air = &plan.air;
    let mark = air
        .source
        .as_ref()
        .map_or_else(String::new, |source| format!(", {}", words::mark(source.mark)));
    let strength = air.kt.map(|kt| format!("Kt {:.2}{mark}", kt.value()));
    let dew = air.dew_point.map(|at| format!("dew point {:.0} °C", at.celsius()));
    let said: Vec<String> = [strength, dew].into_iter().flatten().collect();
    (!said.is_empty()).then(|| format!("air: {}", said.join(", ")))
}
