//! A metal-oxide arrester: its reference voltage and its leakage, and nothing of a withstand.

mod words;

use physics::uncertainty::{Budget, Input};
use plan::job::{AssetClass, Method};
use quantity::{Current, Time, Voltage};
use standards::arrester::{self, ArresterReference};
use standards::library::Cited;
use standards::{Citation, Mark};

use crate::context::Context;
use crate::draft::Draft;
use crate::findings::Outcome;
use crate::part::Part;
use crate::trace::{Row, Taken, Trace};
use crate::words::{Id, Link, Said};

pub(crate) use words::{ArresterLink, ArresterNext, ArresterSaid};

/// Two readings further apart than this, as a part of the reference voltage, say little of where
/// the reference current begins to flow between them: more than one step of the plan.
const WIDEST: f64 = 0.06;
/// Within this part of the reference current a reading stands for it, whatever lies beside it.
const NEAR: f64 = 0.1;

/// Whether a job is measured by the reference current, so that no level is held.
pub(crate) fn is_measured(context: &Context<'_>) -> bool {
    context.class() == AssetClass::Arrester && context.plan.method == Method::Reference
}

/// What is known beforehand of the arrester.
struct Known {
    how: Cited<ArresterReference>,
    reference: Voltage,
    leakage: Current,
    leakage_source: Citation,
}

impl Known {
    fn of(context: &Context<'_>) -> Option<Self> {
        let how = arrester::reference(context.library);
        let arrester = context.job.asset.arrester.as_ref()?;
        let makers = arrester.leakage_limit;
        Some(Self {
            reference: arrester.reference?,
            leakage: makers.unwrap_or(how.value.leakage),
            leakage_source: makers.map_or_else(|| how.source.clone(), |_| makers_figure()),
            how,
        })
    }

    fn limits(&self) -> [Voltage; 2] {
        let tolerance = self.how.value.tolerance.value();
        [self.reference * (1.0 - tolerance), self.reference * (1.0 + tolerance)]
    }
}

fn makers_figure() -> Citation {
    Citation {
        id: "own".to_owned(),
        title: "The maker's figure".to_owned(),
        edition: "as given for this job".to_owned(),
        place: "[asset.arrester] leakage_limit_ua".to_owned(),
        mark: Mark::Own,
    }
}

/// Findings on reference voltage and leakage; none for anything else.
pub(crate) fn findings(context: &Context<'_>, part: &Part<'_>) -> Vec<Draft> {
    if !is_measured(context) {
        return Vec::new();
    }
    let Some(known) = Known::of(context) else { return Vec::new() };
    let Some(trace) = part.foremost() else { return Vec::new() };
    vec![reference(context, &known, trace), leakage(context, &known, trace, part.tolerance)]
}

/// Where the reference current begins to flow on the way up.
struct Crossing {
    volts: f64,
    /// The row that lends its meters and digits.
    row: Row,
    /// The voltage of the other row, where it was read between two.
    between: f64,
    /// d ln I / d ln U there, where two rows show it.
    slope: Option<f64>,
}

fn crossing(trace: &Trace, at: f64) -> Option<Crossing> {
    let rows: Vec<&Row> = trace.rows.iter().filter(|row| row.amps.is_some()).collect();
    let amps = |row: &Row| row.amps.unwrap_or_default();
    let first = rows.iter().position(|row| amps(row) >= at)?;
    let above = rows[first];
    let below = rows[..first].iter().rfind(|row| amps(row) > 0.0 && row.volts < above.volts);
    let Some(below) = below else {
        return Some(Crossing { volts: above.volts, row: *above, between: 0.0, slope: None });
    };
    let slope = (amps(above) / amps(below)).ln() / (above.volts / below.volts).ln();
    let volts = below.volts * ((at / amps(below)).ln() / slope).exp();
    let nearer = if (at / amps(below)).ln() < (amps(above) / at).ln() { *below } else { above };
    let other = if nearer.volts == above.volts { below.volts } else { above.volts };
    Some(Crossing { volts, row: *nearer, between: other, slope: Some(slope) })
}

fn reference(context: &Context<'_>, known: &Known, trace: &Trace) -> Draft {
    let at = known.how.value.reference;
    let Some(found) = crossing(trace, at.amperes()) else { return unreached(known, trace) };
    let volts = Voltage::from_volts(found.volts);
    let taken = Taken {
        at_s: found.row.t_s,
        amps: found.row.amps.unwrap_or_default(),
        volts: found.row.volts,
        row: found.row,
        between: found.between > 0.0,
    };
    let near = (taken.amps / at.amperes() - 1.0).abs() <= NEAR;
    let apart = (found.between - found.row.volts).abs() / known.reference.volts();
    let chain = [read(&taken)];
    if !near && (found.between == 0.0 || apart > WIDEST) {
        let said = ArresterSaid::ReadTooFar { current: taken_current(&taken) };
        return Draft::new(Id::ReferenceVoltage, Outcome::Warn, Said::Arrester(said))
            .chain(chain)
            .source(&known.how.source);
    }
    let expanded = Voltage::from_volts(2.0 * doubt(context, &taken, &found));
    let [low, high] = known.limits();
    let outcome = if volts - expanded >= low && volts + expanded <= high {
        Outcome::Ok
    } else if volts + expanded < low || volts - expanded > high {
        Outcome::Fail
    } else {
        Outcome::Warn
    };
    let said = match outcome {
        Outcome::Ok => ArresterSaid::ReferenceMet { volts, at },
        Outcome::Fail => ArresterSaid::ReferenceOff { volts, at, low, high },
        Outcome::Warn | Outcome::NotApplicable => ArresterSaid::ReferenceOpen { volts, at },
    };
    let nearer = if volts < known.reference { low } else { high };
    Draft::new(Id::ReferenceVoltage, outcome, Said::Arrester(said))
        .value(volts.kilovolts(), "kV")
        .limit(nearer.kilovolts())
        .expanded(expanded.kilovolts())
        .chain(chain)
        .chain([
            Link::Arrester(ArresterLink::Crossed { volts, at }),
            Link::Arrester(ArresterLink::Doubt { expanded }),
            Link::Arrester(ArresterLink::Limits { low, high, of: known.reference }),
        ])
        .source(&known.how.source)
}

fn read(taken: &Taken) -> Link {
    let voltage = Voltage::from_volts(taken.volts);
    let at = Time::from_seconds(taken.at_s);
    Link::Arrester(ArresterLink::Read { current: taken_current(taken), voltage, at })
}

fn taken_current(taken: &Taken) -> Current {
    Current::from_amperes(taken.amps)
}

/// Standard uncertainty of the voltage at the reference current, in volts: the voltmeter's, what
/// the ammeter's makes of it along the curve, and half of what the voltage was carried from the
/// reading it rests on.
fn doubt(context: &Context<'_>, taken: &Taken, found: &Crossing) -> f64 {
    let [volts, accuracy, digits] = context.instrument.resistance_inputs(taken);
    let along = found.slope.map_or(1.0, |slope| slope.max(1.0));
    let by_current = found.volts / along / taken.amps.max(f64::MIN_POSITIVE);
    let carried = (found.volts - taken.volts).abs() / 2.0;
    let inputs =
        vec![volts, accuracy, digits, Input::rectangular("between readings", 0.0, carried)];
    Budget::new(inputs)
        .and_then(|it| it.with_sensitivities(found.volts, &[1.0, by_current, by_current, 1.0]))
        .map_or(f64::INFINITY, |found| found.standard)
}

/// The current never came to the reference: its voltage is above the highest allowed, or the
/// voltage was not raised far enough to tell.
fn unreached(known: &Known, trace: &Trace) -> Draft {
    let [_, high] = known.limits();
    let top = Voltage::from_volts(trace.peak());
    let most = Current::from_amperes(trace.most().unwrap_or_default());
    let at = known.how.value.reference;
    let draft = if top >= high {
        let said = ArresterSaid::ReferenceAbove { top, most, at };
        Draft::new(Id::ReferenceVoltage, Outcome::Fail, Said::Arrester(said))
    } else {
        let said = ArresterSaid::ReferenceNever { top, most, at };
        Draft::void(Id::ReferenceVoltage, Said::Arrester(said))
    };
    draft
        .value(top.kilovolts(), "kV")
        .limit(high.kilovolts())
        .chain([Link::Arrester(ArresterLink::Most { top, most })])
        .source(&known.how.source)
}

/// The last reading at the part of the reference voltage where leakage is read.
fn leakage(context: &Context<'_>, known: &Known, trace: &Trace, tolerance: f64) -> Draft {
    let level = known.reference * known.how.value.part.value();
    let is_at = |row: &&Row| {
        let off = (row.volts - level.volts()).abs();
        off <= level.volts() * tolerance && row.amps.is_some() && !row.rising
    };
    let Some(row) = trace.rows.iter().rfind(is_at) else {
        let said = Said::Arrester(ArresterSaid::LeakageUnread { level });
        return Draft::void(Id::Leakage, said).source(&known.leakage_source);
    };
    let taken = Taken {
        at_s: row.t_s,
        amps: row.amps.unwrap_or_default(),
        volts: row.volts,
        row: *row,
        between: false,
    };
    let current = taken_current(&taken);
    let [_, accuracy, digits] = context.instrument.resistance_inputs(&taken);
    let expanded = Current::from_amperes(2.0 * accuracy.standard().hypot(digits.standard()));
    let limit = known.leakage;
    let (outcome, said) = if current + expanded <= limit {
        (Outcome::Ok, ArresterSaid::LeakageMet { current, level })
    } else if current - expanded > limit {
        (Outcome::Fail, ArresterSaid::LeakageAbove { current, level, limit })
    } else {
        (Outcome::Warn, ArresterSaid::LeakageOpen { current, level, limit })
    };
    Draft::new(Id::Leakage, outcome, Said::Arrester(said))
        .value(current.microamperes(), "µA")
        .limit(limit.microamperes())
        .expanded(expanded.microamperes())
        .chain([read(&taken)])
        .chain([
            Link::Arrester(ArresterLink::LeakDoubt { expanded }),
            Link::MostAllowed { current: limit },
        ])
        .source(&known.leakage_source)
}

/// In the place of level, hold and withstand.
pub(crate) fn no_level(context: &Context<'_>, id: Id) -> Option<Draft> {
    let said = match id {
        Id::Breakdown => ArresterSaid::NotProved,
        Id::TestVoltage => ArresterSaid::NoLevel,
        _ => ArresterSaid::NoHold,
    };
    is_measured(context).then(|| Draft::new(id, Outcome::NotApplicable, Said::Arrester(said)))
}
