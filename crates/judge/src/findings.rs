//! What is said of a test: findings, each with its chain, and a verdict.

use jiff::civil::Date;
use quantity::{Band, Capacitance, Current, Resistance, Temperature, Time, Voltage, edge};
use serde::{Deserialize, Serialize};
use standards::{Citation, Mark};

use crate::object::Told;
use crate::words;

/// Edition of the method; a verdict names it.
pub const METHOD: &str = "judge-6";

/// All that is said of one test. The top level speaks for the worst conductor.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Findings {
    /// Edition of the method.
    pub method: String,
    /// The day the verdict is made as of.
    pub as_of: Option<Date>,
    /// The owner's identifier of the object.
    pub asset: String,
    /// Of the whole test.
    pub verdict: Verdict,
    /// Why, in one line.
    pub because: String,
    /// What to do next; never that something is safe.
    pub next: Vec<String>,
    /// The worst of each kind, over all conductors and between them; `phases` has every one.
    pub findings: Vec<Finding>,
    /// Figures of the worst conductor.
    #[serde(flatten)]
    pub figures: Figures,
    /// The same for each conductor.
    pub phases: Vec<Phase>,
    /// What a user's own file loosens of what the plan and this judgement went by, each with the
    /// reason that was typed for it; empty in what an older edition of the method found.
    #[serde(default)]
    pub looser: Vec<String>,
    /// Every published value the judgement used, and those that the level rests on.
    pub sources: Vec<Citation>,
}

/// One conductor's findings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Phase {
    /// Its name.
    pub phase: String,
    /// Of this conductor.
    pub verdict: Verdict,
    /// Its findings.
    pub findings: Vec<Finding>,
    /// Its figures.
    #[serde(flatten)]
    pub figures: Figures,
    /// What its readings say of the object; `None` where none were taken at voltage, and in what
    /// an older edition of the method found.
    #[serde(default)]
    pub object: Option<Object>,
}

/// What the readings say of the object, with doubt or the reason why not.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Object {
    /// Capacitance, conduction, resistance, absorption, loss.
    pub values: Vec<ObjectValue>,
    /// One thing in two ways.
    pub cross_checks: Vec<CrossCheck>,
    /// When readings were taken that the others speak against.
    pub left_out_s: Vec<f64>,
    /// The absorption as branches; `None` in what an older edition of the method found.
    #[serde(default)]
    pub branches: Option<Branches>,
    /// Where to look, most likely first; empty where nothing stands open, and in what an older
    /// edition of the method found.
    #[serde(default)]
    pub look: Vec<Look>,
    /// Which end to look at first, in words; `None` where the readings do not tell.
    #[serde(default)]
    pub end: Option<String>,
}

impl Object {
    /// In words, a line each: what is told, why the rest is not, what agrees, what was left out.
    #[must_use]
    pub fn lines(&self) -> Vec<String> {
        // Of what follows from others it is enough to say why those are not told.
        let told = |one: &&ObjectValue| one.value.is_some() || Told::is_root(&one.id);
        let values = self.values.iter().filter(told).map(|one| one.text.clone());
        let checks = self.cross_checks.iter().map(|one| one.text.clone());
        let left_out = (!self.left_out_s.is_empty()).then(|| words::left_out(&self.left_out_s));
        let branches = self.branches.iter().map(|branches| branches.text.clone());
        let look = self.look.iter().map(|look| look.text.clone());
        let which_end = self.end.clone().unwrap_or_else(|| words::more::WHICH_END.to_owned());
        let which_end = Some(which_end).filter(|_| !self.look.is_empty());
        let told = values.chain(branches).chain(checks).chain(left_out);
        told.chain(look).chain(which_end).collect()
    }
}

/// One value, or why it cannot be told.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ObjectValue {
    /// Its name, the same in every record.
    pub id: String,
    /// The number.
    pub value: Option<f64>,
    /// Its unit.
    pub unit: Option<String>,
    /// Expanded uncertainty (k = 2), in its unit.
    pub expanded_u: Option<f64>,
    /// In words: the value with its doubt, or why it cannot be told and what would tell it.
    pub text: String,
}

/// One thing that may be behind what was found.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Look {
    /// Its name, the same in every record.
    pub cause: String,
    /// How likely beside the others that are known, in per cent.
    pub likelihood_percent: f64,
    /// In words, with the evidence.
    pub text: String,
}

/// The absorption as branches, each a resistance and a capacitance in series.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Branches {
    /// How many the readings of the longest level support.
    pub count: Option<usize>,
    /// Resistance times capacitance of each, fastest first.
    pub time_constants_s: Option<Vec<Doubtful>>,
    /// In words, or why none can be told.
    pub text: String,
}

/// One thing, by the model of conduction and absorption and as read.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CrossCheck {
    /// Its name, the same in every record.
    pub id: String,
    /// By the model.
    pub by_model: Doubtful,
    /// As read.
    pub as_read: Doubtful,
    /// Unit of both.
    pub unit: Option<String>,
    /// Whether they differ by no more than their expanded uncertainties allow.
    pub agrees: bool,
    /// In words.
    pub text: String,
}

/// A number and how far it may be off.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Doubtful {
    /// The number.
    pub value: f64,
    /// Expanded uncertainty (k = 2).
    pub expanded_u: f64,
}

/// The four verdicts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Every criterion that applies was met.
    Accept,
    /// Something stands open; the findings say what would settle it.
    Investigate,
    /// Breakdown, or a criterion plainly not met.
    Reject,
    /// The test cannot be judged.
    Void,
}

/// How one finding came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Outcome {
    /// Met.
    #[serde(rename = "ok")]
    Ok,
    /// Open.
    #[serde(rename = "warn")]
    Warn,
    /// Not met.
    #[serde(rename = "fail")]
    Fail,
    /// Does not apply, or cannot be said.
    #[serde(rename = "n/a")]
    NotApplicable,
}

/// One finding.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// Its name, the same in every record.
    pub id: String,
    /// Which conductor, or `None` for the test as a whole.
    pub phase: Option<String>,
    /// The number judged.
    pub value: Option<f64>,
    /// Its unit.
    pub unit: Option<String>,
    /// The number judged against.
    pub limit: Option<f64>,
    /// Expanded uncertainty of the value (k = 2), in its unit.
    pub expanded_u: Option<f64>,
    /// How it came out.
    pub outcome: Outcome,
    /// In words, with what to do.
    pub text: String,
    /// Reading → correction → criterion → outcome, a line each.
    pub chain: Vec<String>,
    /// Title, edition and place of the criterion.
    pub source: Option<String>,
    /// How sure we are of that source.
    pub mark: Option<Mark>,
    /// Whether this makes the test void rather than open or failed.
    #[serde(default)]
    pub voids: bool,
}

/// The numbers of one conductor.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Figures {
    /// Insulation resistance at one minute.
    pub resistance: Option<ResistanceFigure>,
    /// Ten minutes over one minute.
    pub polarization_index: Option<f64>,
    /// Sixty seconds over thirty.
    pub absorption_ratio: Option<f64>,
    /// Conduction at the highest level, absorption taken out.
    #[serde(rename = "conduction_ua", with = "edge::ua")]
    pub conduction: Option<Current>,
    /// Exponent of the absorption.
    pub exponent_n: Option<f64>,
    /// From the charging current, where a rise was read.
    #[serde(rename = "capacitance_nf", with = "edge::nf")]
    pub capacitance: Option<Capacitance>,
    /// Where breakdown would be met, by model; never a rating.
    #[serde(rename = "forecast_kv", with = "edge::kv")]
    pub forecast: Option<Band<Voltage>>,
}

/// Insulation resistance, with what it was read at.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ResistanceFigure {
    /// As read.
    #[serde(rename = "mohm", with = "edge::mohm")]
    pub value: Resistance,
    /// The voltage.
    #[serde(rename = "at_kv", with = "edge::kv")]
    pub at_voltage: Voltage,
    /// Time at that voltage.
    #[serde(rename = "at_s", with = "edge::s")]
    pub at_time: Time,
    /// Expanded uncertainty (k = 2).
    #[serde(rename = "expanded_u_mohm", with = "edge::mohm")]
    pub expanded: Resistance,
    /// After temperature correction, where a rule for it is known.
    #[serde(rename = "corrected_mohm", with = "edge::mohm")]
    pub corrected: Option<Resistance>,
    /// To that temperature.
    #[serde(rename = "corrected_to_c", with = "edge::c")]
    pub corrected_to: Option<Temperature>,
}
