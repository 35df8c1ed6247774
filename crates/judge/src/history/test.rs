//! One test as a history needs it: figures with their doubt, and what they were read under.

use jiff::civil::Date;
use physics::temperature::Model;
use plan::Plan;
use plan::course::{Link, Metered};
use plan::job::{AssetClass, Guard, Job, LowSide, MeterAt, Polarity};
use quantity::{Temperature, Voltage};
use serde::{Deserialize, Serialize};
use session::Kind;
use standards::switchgear::{InsulatedBy, factor_to_20};
use standards::tolerance::{self, ReadOn};
use standards::words::{
    Insulation, ProtectiveClass, ProtectiveItem, TestedPart, Winding, WindingState,
};
use standards::{Library, Mark};

use super::Told;
use crate::findings::{Findings, Outcome, Phase, Verdict};

/// What is followed over the years.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Figure {
    /// Insulation resistance one minute after the level was reached.
    InsulationResistance,
    /// Ten minutes over one minute.
    PolarizationIndex,
    /// Conduction at the highest level, absorption taken out.
    Conduction,
}

impl Figure {
    /// All of them, in the order they are told.
    pub const ALL: [Self; 3] =
        [Self::InsulationResistance, Self::PolarizationIndex, Self::Conduction];

    /// Its name, the same in every history.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::InsulationResistance => "insulation-resistance",
            Self::PolarizationIndex => "polarization-index",
            Self::Conduction => "conduction",
        }
    }

    /// The unit of its numbers.
    #[must_use]
    pub const fn unit(self) -> &'static str {
        match self {
            Self::InsulationResistance => "MΩ",
            Self::PolarizationIndex => "",
            Self::Conduction => "µA",
        }
    }

    /// Whether a smaller number is the worse one.
    #[must_use]
    pub const fn falls_when_worse(self) -> bool {
        !matches!(self, Self::Conduction)
    }

    /// Resistances and ratios go by their logarithm; a current may be about zero and does not.
    pub(crate) const fn is_logarithmic(self) -> bool {
        !matches!(self, Self::Conduction)
    }

    /// The finding that holds it against a published limit.
    const fn criterion(self) -> &'static str {
        match self {
            Self::InsulationResistance => "resistance-minimum",
            Self::PolarizationIndex => "index-minimum",
            Self::Conduction => "leakage-allowance",
        }
    }
}

/// One test with what a history takes from it.
#[derive(Clone, Debug)]
pub struct Test {
    pub(crate) record: String,
    pub(crate) on: Option<Date>,
    pub(crate) kind: Kind,
    pub(crate) class: AssetClass,
    pub(crate) verdict: Verdict,
    method: String,
    pub(crate) kin: Kin,
    pub(crate) polarity: Polarity,
    pub(crate) connection: Wired,
    /// Of the insulation, and within so many kelvins.
    pub(crate) temperature: Option<Temperature>,
    pub(crate) within_k: f64,
    /// To 20 °C, where factors serve that temperature.
    pub(crate) factor: Option<Factor>,
    /// Repaired since the test before, as it says itself.
    pub(crate) after_repair: bool,
    /// Of a winding; one that became repaired was so since the test before.
    pub(crate) winding_state: Option<WindingState>,
    /// Something of the whole test voids it, beyond a conductor that was left out.
    pub(crate) void: bool,
    pub(crate) reads: Vec<Read>,
}

/// How it was connected, as far as readings go by it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Wired {
    low_side: LowSide,
    link: Link,
    metered: Metered,
    guard: Guard,
    meter_at: MeterAt,
}

/// What makes one apparatus like another.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Kin {
    class: AssetClass,
    rated: Option<Voltage>,
    insulation: Option<Insulation>,
    part: Option<TestedPart>,
    winding: Option<Winding>,
    item: Option<(ProtectiveItem, Option<ProtectiveClass>)>,
    /// Of a cable, in metres: resistance goes by it.
    pub(crate) length_m: Option<f64>,
}

impl Kin {
    fn of(job: &Job) -> Self {
        let asset = &job.asset;
        let (cable, machine) = (asset.cable.as_ref(), asset.machine.as_ref());
        Self {
            class: asset.class,
            rated: asset.rated,
            insulation: cable.and_then(|cable| cable.insulation),
            part: cable.and_then(|cable| cable.tested_part),
            winding: machine.and_then(|machine| machine.winding),
            item: asset.protective.as_ref().map(|one| (one.item, one.class)),
            length_m: cable.and_then(|cable| cable.length).map(|length| length.metres()),
        }
    }

    /// Whether they differ in size at most.
    pub(crate) fn is_like(&self, other: &Self) -> bool {
        *self == Self { length_m: self.length_m, ..other.clone() }
    }
}

/// One figure of one conductor.
#[derive(Clone, Debug)]
pub(crate) struct Read {
    pub(crate) phase: String,
    pub(crate) figure: Figure,
    pub(crate) value: f64,
    /// Expanded uncertainty, k = 2; `None` where it is not known.
    pub(crate) expanded: Option<f64>,
    pub(crate) volts: Option<f64>,
    pub(crate) at_s: Option<f64>,
    /// Why it cannot speak for the object.
    pub(crate) spoilt: Option<Spoilt>,
    pub(crate) limit: Option<Criterion>,
}

/// Why a conductor's figures cannot speak for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Spoilt {
    Void,
    BrokeDown,
}

/// A published limit as the findings have it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Criterion {
    pub(crate) value: f64,
    pub(crate) source: Option<String>,
    pub(crate) mark: Option<Mark>,
}

impl Test {
    /// From what is kept of it.
    ///
    /// - `begun` stands in where the job names no day of the test
    #[must_use]
    pub fn of(
        record: &str,
        (kind, begun): (Kind, Option<Date>),
        (job, plan): (&Job, &Plan),
        findings: &Findings,
        library: &Library,
    ) -> Self {
        let conditions = &job.conditions;
        let measured = conditions.object_temperature.is_some();
        let read_on = if measured { ReadOn::Object } else { ReadOn::Air };
        let level = plan.test.or(plan.resistance_test.as_ref().map(|test| test.voltage));
        let connection = &plan.connection;
        let temperature = conditions.object_temperature.or(conditions.temperature);
        let within_k = tolerance::temperature_kelvins(library, read_on).value;
        Self {
            record: record.to_owned(),
            on: job.test.date.or(begun),
            kind,
            class: job.asset.class,
            verdict: findings.verdict,
            method: findings.method.clone(),
            kin: Kin::of(job),
            polarity: job.test.polarity,
            connection: Wired {
                low_side: connection.low_side,
                link: connection.link,
                metered: connection.metered,
                guard: connection.guard,
                meter_at: connection.meter_at,
            },
            temperature,
            within_k,
            factor: temperature.and_then(|at| Factor::of(library, at, within_k)),
            after_repair: job
                .asset
                .cable
                .as_ref()
                .and_then(|cable| cable.after_repair)
                .unwrap_or_default(),
            winding_state: job.asset.machine.as_ref().and_then(|machine| machine.winding_state),
            void: findings
                .findings
                .iter()
                .any(|one| one.voids && one.phase.is_none() && one.id != "conductors-done"),
            reads: findings.phases.iter().flat_map(|phase| reads(phase, level)).collect(),
        }
    }

    /// The same, with the verdict that is kept of it: figures may be told anew by the method of
    /// today, a verdict stands as it was given.
    #[must_use]
    pub fn with_verdict(self, verdict: Verdict, method: &str) -> Self {
        Self { verdict, method: method.to_owned(), ..self }
    }

    /// The record's name.
    #[must_use]
    pub fn record(&self) -> &str {
        &self.record
    }

    /// The day it was made, where that is known.
    #[must_use]
    pub const fn on(&self) -> Option<Date> {
        self.on
    }

    /// Before what comes after it; a test of no known day is the oldest.
    pub(crate) fn order(&self) -> (Option<Date>, &str) {
        (self.on, &self.record)
    }

    pub(crate) fn told(&self) -> Told {
        Told {
            record: self.record.clone(),
            on: self.on,
            kind: self.kind,
            verdict: self.verdict,
            method: self.method.clone(),
        }
    }

    /// Whether its numbers were measured at an object.
    pub(crate) const fn is_real(&self) -> bool {
        matches!(self.kind, Kind::Test | Kind::Transcribed)
    }

    pub(crate) fn read(&self, phase: &str, figure: Figure) -> Option<&Read> {
        self.reads.iter().find(|read| read.phase == phase && read.figure == figure)
    }

    /// By which published rule its resistance is brought to another temperature: of windings that
    /// of the judge.
    pub(crate) const fn rule(&self) -> Option<Rule> {
        match self.class {
            AssetClass::Motor | AssetClass::Generator => Some(Rule::Model(Model::HalvingPerTen)),
            AssetClass::Switchgear
            | AssetClass::Busway
            | AssetClass::Breaker
            | AssetClass::Switch => Some(Rule::Factors),
            AssetClass::Cable
            | AssetClass::Protective
            | AssetClass::Insulator
            | AssetClass::Arrester
            | AssetClass::Bushing
            | AssetClass::Capacitor
            | AssetClass::Other => None,
        }
    }
}

/// A published rule of temperature.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Rule {
    /// A formula, to 40 °C.
    Model(Model),
    /// Factors of gear with solid insulation, to 20 °C.
    Factors,
}

/// The published factor at the temperature of a test, and its relative standard uncertainty by how
/// far the insulation may be from that.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Factor {
    pub(crate) value: f64,
    pub(crate) relative: f64,
}

impl Factor {
    fn of(library: &Library, at: Temperature, within_k: f64) -> Option<Self> {
        Self::by(library, InsulatedBy::Solid, at, within_k)
    }

    /// The same for what insulates.
    pub(crate) fn by(
        library: &Library,
        by: InsulatedBy,
        at: Temperature,
        within_k: f64,
    ) -> Option<Self> {
        let factor = |celsius: f64| {
            Some(factor_to_20(library, by, Temperature::from_celsius(celsius))?.value)
        };
        let (celsius, apart) = (at.celsius(), within_k / 3f64.sqrt());
        let value = factor(celsius)?;
        // At an end of the table the side that is in it speaks for both (JCGM 100:2008, 5.1.3).
        let slopes = [apart, -apart].map(|off| Some((factor(celsius + off)? / value).ln().abs()));
        let relative = slopes.into_iter().flatten().fold(0.0, f64::max);
        Some(Self { value, relative })
    }
}

/// All figures of one conductor.
fn reads(phase: &Phase, level: Option<Voltage>) -> Vec<Read> {
    let finding = |id: &str| phase.findings.iter().find(|one| one.id == id);
    let broke = finding("breakdown").is_some_and(|one| one.outcome == Outcome::Fail);
    let spoilt = match phase.verdict {
        _ if broke => Some(Spoilt::BrokeDown),
        Verdict::Void => Some(Spoilt::Void),
        _ => None,
    };
    let read = |figure: Figure, value, expanded| Read {
        phase: phase.phase.clone(),
        figure,
        value,
        expanded,
        volts: None,
        at_s: None,
        spoilt,
        limit: finding(figure.criterion()).and_then(|one| {
            // Where the other criterion suffices, this one still tells how it stands.
            let unit = one.unit.as_deref().unwrap_or_default();
            let value = one.limit.filter(|_| unit == figure.unit())?;
            Some(Criterion { value, source: one.source.clone(), mark: one.mark })
        }),
    };
    let mut all = Vec::new();
    if let Some(resistance) = &phase.figures.resistance {
        let expanded = Some(resistance.expanded.megohms());
        all.push(Read {
            volts: Some(resistance.at_voltage.volts()),
            at_s: Some(resistance.at_time.seconds()),
            ..read(Figure::InsulationResistance, resistance.value.megohms(), expanded)
        });
    }
    if let Some(index) = phase.figures.polarization_index {
        let expanded = finding("index-minimum").and_then(|one| one.expanded_u);
        let volts = phase.figures.resistance.as_ref().map(|one| one.at_voltage.volts());
        all.push(Read { volts, ..read(Figure::PolarizationIndex, index, expanded) });
    }
    let values = phase.object.iter().flat_map(|object| &object.values);
    let mut conduction = values.filter(|one| one.id == "conduction");
    if let Some((one, value)) = conduction.find_map(|one| Some((one, one.value?))) {
        let volts = level.map(|level| level.volts());
        all.push(Read { volts, ..read(Figure::Conduction, value, one.expanded_u) });
    }
    all.retain(|read| read.value.is_finite());
    all
}
