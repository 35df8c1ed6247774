//! The plan: everything that is settled before voltage is on.
//!
//! These types are the plan's JSON as well; each key that carries a number ends in its unit.

use jiff::civil::Date;
use quantity::{
    Band, Capacitance, Current, Energy, Length, Ratio, Resistance, Time, Voltage, VoltageRate, edge,
};
use serde::{Deserialize, Serialize};
use standards::words::TemperatureModel;
use standards::{Citation, Mark};

use crate::air::Air;
pub use crate::connection::{BlankRun, ConnectionPlan, MeterLink, Metered};
pub use crate::distances::{AcEquivalent, Clearance, End, EndAt, OtherDistance};
use crate::instead::Instead;
use crate::job::{AssetClass, Method, Polarity};
pub use crate::job::{Guard, Link, MeterAt};
use crate::judged::Judged;
use crate::ready::Ready;
use crate::sets::SetFit;

/// What to do, what to expect and what not to do, for each conductor of one job.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Plan {
    /// The owner's identifier of the object.
    pub asset: String,
    /// Its class.
    pub class: AssetClass,
    /// The object in a few words, for the head of a sheet.
    pub object: String,
    /// The day of the test, if named.
    pub date: Option<Date>,
    /// How the voltage is raised.
    pub method: Method,
    /// Conductors, phases or pieces, in the order of testing.
    pub conductors: Vec<String>,
    /// The level; `None` where there is none to plan with.
    #[serde(rename = "test_kv", with = "edge::kv")]
    pub test: Option<Voltage>,
    /// How the level was reached, and what was not taken.
    pub level: Option<ChosenLevel>,
    /// Time at the level.
    #[serde(rename = "hold_s", with = "edge::s")]
    pub hold: Option<Time>,
    /// Of the high-voltage terminal.
    pub polarity: Polarity,
    /// Insulation resistance and index, before the overvoltage.
    pub resistance_test: Option<ResistanceTest>,
    /// The steps, the last one being the hold; empty when the plan refuses.
    pub course: Vec<Step>,
    /// The current to expect from energising to the end of the hold, as it is drawn.
    #[serde(default, skip_serializing_if = "ExpectedBand::is_empty")]
    pub band: ExpectedBand,
    /// What to write down on the way up of a ramp; empty for every other method.
    #[serde(default)]
    pub ramp_readings: Vec<RampReading>,
    /// When to read during the hold, from the moment the level is reached.
    #[serde(rename = "read_at_s", with = "edge::s")]
    pub read_at: Vec<Time>,
    /// Trip setting for the hold.
    #[serde(rename = "trip_ma", with = "edge::ma")]
    pub trip: Option<Current>,
    /// How far that trip stands above the most that is expected at the first reading of the hold,
    /// with what the set's own discharge path takes; not in plans of earlier days.
    #[serde(rename = "trip_margin_percent", with = "edge::percent", default)]
    pub trip_margin: Option<Ratio>,
    /// Voltmeter range for the whole test.
    #[serde(rename = "voltmeter_range_kv", with = "edge::kv")]
    pub voltmeter_range: Option<Voltage>,
    /// Ammeter range for the hold.
    #[serde(rename = "ammeter_range_ua", with = "edge::ua")]
    pub ammeter_range: Option<Current>,
    /// Charging current at the planned rise.
    #[serde(rename = "charging_ma", with = "edge::ma")]
    pub charging: Option<Current>,
    /// Capacitance planned with.
    #[serde(rename = "capacitance_nf", with = "edge::nf")]
    pub capacitance: Option<Capacitance>,
    /// What it may be.
    #[serde(rename = "capacitance_band_nf", with = "edge::nf")]
    pub capacitance_band: Option<Band<Capacitance>>,
    /// Where the capacitance comes from.
    pub capacitance_from: Option<Citation>,
    /// What the expected currents were computed from.
    pub model: Option<ObjectModel>,
    /// Energy stored at the level by `capacitance`.
    #[serde(rename = "stored_j", with = "edge::j")]
    pub stored: Option<Energy>,
    /// The same at the upper capacitance; the tool is chosen and people are warned by this.
    #[serde(rename = "stored_most_j", with = "edge::j")]
    pub stored_most: Option<Energy>,
    /// From energising to below the touch limit, one conductor.
    #[serde(rename = "duration_s", with = "edge::s")]
    pub duration: Option<Time>,
    /// The way down.
    pub descent: Option<Descent>,
    /// Distances to keep.
    pub clearance: Option<Clearance>,
    /// The air round the test.
    #[serde(default)]
    pub air: Air,
    /// Water line to cuff or edge, for what is filled with water.
    #[serde(rename = "water_line_mm", with = "edge::mm")]
    pub water_line: Option<Length>,
    /// The furthest it may be, where the air makes the test impractical at that line.
    #[serde(default, rename = "water_line_most_mm", with = "edge::mm")]
    pub water_line_most: Option<Length>,
    /// How to connect.
    pub connection: ConnectionPlan,
    /// Leads and set alone, where the meter reads them too.
    #[serde(default)]
    pub blank_run: Option<BlankRun>,
    /// What to look at before voltage, in order.
    pub checklist: Vec<Line>,
    /// Cautions, each where the hand is.
    pub cautions: Vec<Caution>,
    /// What is asked first, who stands where, and what is put back.
    #[serde(default)]
    pub ready: Ready,
    /// By what the readings will be judged; not in plans of earlier days.
    #[serde(default)]
    pub judged: Vec<Judged>,
    /// Which of the sets at hand can run the course.
    #[serde(default)]
    pub sets: Vec<SetFit>,
    /// Published tests to take instead, where direct voltage is not the right one.
    #[serde(default)]
    pub instead: Vec<Instead>,
    /// What stands against the plan, or beside it.
    pub issues: Vec<PlanIssue>,
    /// Every published value the plan used.
    pub sources: Vec<Citation>,
}

/// The object as it was planned with: conduction and absorption beside the capacitance.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ObjectModel {
    /// Insulation resistance, conduction alone.
    #[serde(rename = "insulation_mohm", with = "edge::mohm")]
    pub insulation: Band<Resistance>,
    /// K of the absorption i = C·K·ΔV·t⁻ⁿ, in s^(n−1).
    pub absorption_strength: Band<f64>,
    /// n of it.
    pub absorption_exponent: Band<f64>,
    /// Relative permittivity, typical of its insulation.
    #[serde(default)]
    pub relative_permittivity: Option<Band<f64>>,
    /// Model by which its resistance is usually taken to follow temperature.
    #[serde(default)]
    pub temperature_model: Option<TemperatureModel>,
}

/// The level taken, and those that were not.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ChosenLevel {
    /// The rule it follows, as `standards list` names it; `own` for the owner's or maker's.
    pub rule: String,
    /// The row in words, for example `1.7 × 1.25 E`.
    pub how: String,
    /// The published value before any cap.
    #[serde(rename = "published_kv", with = "edge::kv")]
    pub published: Option<Voltage>,
    /// What lowered it, if anything did.
    pub capped_by: Option<String>,
    /// Where it is published.
    pub source: Citation,
    /// Where the time at it is published, which may be elsewhere.
    #[serde(default)]
    pub hold_source: Option<Citation>,
    /// The other published values for the same question.
    pub not_taken: Vec<Alternative>,
}

/// A published value that was not taken.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Alternative {
    /// The rule, as `standards list` names it.
    pub rule: String,
    /// The row in words.
    pub how: String,
    /// Its value; `None` where the edition prints none.
    #[serde(rename = "kv", with = "edge::kv")]
    pub voltage: Option<Voltage>,
    /// Its hold.
    #[serde(rename = "hold_s", with = "edge::s")]
    pub hold: Option<Time>,
    /// Where it is published.
    pub source: Citation,
}

/// One step of the course: rise to a level, then stay.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Step {
    /// The level of this step.
    #[serde(rename = "kv", with = "edge::kv")]
    pub level: Voltage,
    /// How fast to it.
    #[serde(rename = "rise_kv_per_s", with = "edge::kv_per_s")]
    pub rise: VoltageRate,
    /// How long the rise takes.
    #[serde(rename = "rise_s", with = "edge::s")]
    pub rise_time: Time,
    /// How long to stay.
    #[serde(rename = "dwell_s", with = "edge::s")]
    pub dwell: Time,
    /// The dial, as a hint: the voltmeter rules.
    #[serde(rename = "dial_percent", with = "edge::percent")]
    pub dial: Option<Ratio>,
    /// Trip setting for this stretch.
    #[serde(rename = "trip_ma", with = "edge::ma")]
    pub trip: Option<Current>,
    /// How far that trip stands above the most that is expected while rising, with what the set's
    /// own discharge path takes; not in plans of earlier days.
    #[serde(rename = "trip_margin_percent", with = "edge::percent", default)]
    pub trip_margin: Option<Ratio>,
    /// Current while rising, at its highest.
    #[serde(rename = "rising_ua", with = "edge::ua")]
    pub rising: Band<Current>,
    /// Current at the last reading of this step.
    #[serde(rename = "expected_ua", with = "edge::ua")]
    pub expected: Band<Current>,
    /// Ammeter range for the rise to this level; not in plans of earlier days.
    #[serde(rename = "rise_range_ua", with = "edge::ua", default)]
    pub rise_range: Option<Current>,
    /// Where the range changes, at this level and before the next rise: a gap in the readings, and
    /// never in the middle of a stretch.
    #[serde(default)]
    pub range_change: Option<RangeChange>,
    /// Ammeter range for reading this step.
    #[serde(rename = "ammeter_range_ua", with = "edge::ua")]
    pub ammeter_range: Option<Current>,
    /// When to read, from the moment this level is reached, with what to expect.
    pub readings: Vec<ExpectedReading>,
}

/// A change of the ammeter's range when the level is reached; before the next rise it goes back.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct RangeChange {
    /// The range of the rise.
    #[serde(rename = "from_ua", with = "edge::ua")]
    pub from: Current,
    /// The range of the readings.
    #[serde(rename = "to_ua", with = "edge::ua")]
    pub to: Current,
    /// From the moment the level is reached: no reading is taken in this gap.
    #[serde(rename = "gap_s", with = "edge::s")]
    pub gap: Time,
}

/// One reading to be taken.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ExpectedReading {
    /// From the moment the level of the step is reached.
    #[serde(rename = "at_s", with = "edge::s")]
    pub at: Time,
    /// From energising.
    #[serde(rename = "t_s", with = "edge::s")]
    pub since_start: Time,
    /// The current to expect.
    #[serde(rename = "expected_ua", with = "edge::ua")]
    pub expected: Band<Current>,
}

/// One reading on the way up of a ramp: the voltage does not stop for it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RampReading {
    /// Where to read.
    #[serde(rename = "kv", with = "edge::kv")]
    pub level: Voltage,
    /// From energising, at the planned rise.
    #[serde(rename = "t_s", with = "edge::s")]
    pub since_start: Time,
    /// The current to expect.
    #[serde(rename = "expected_ua", with = "edge::ua")]
    pub expected: Band<Current>,
}

/// The current to expect over a stretch of time, read or not, as columns. From the same draws as
/// what is expected at each reading; to four digits. Plans of earlier days have none.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct ExpectedBand {
    /// From energising.
    #[serde(rename = "t_s", with = "edge::s")]
    pub since_start: Vec<Time>,
    /// 2.5 % points.
    #[serde(rename = "low_ua", with = "edge::ua")]
    pub low: Vec<Current>,
    /// Medians.
    #[serde(rename = "mid_ua", with = "edge::ua")]
    pub mid: Vec<Current>,
    /// 97.5 % points.
    #[serde(rename = "high_ua", with = "edge::ua")]
    pub high: Vec<Current>,
}

impl ExpectedBand {
    /// Whether there is nothing to draw.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.since_start.is_empty()
    }

    /// Row by row.
    pub fn rows(&self) -> impl Iterator<Item = (Time, Band<Current>)> {
        let ends = self.low.iter().zip(&self.mid).zip(&self.high);
        let bands = ends.map(|((&low, &mid), &high)| Band { low, mid, high });
        self.since_start.iter().copied().zip(bands)
    }
}

/// Insulation resistance and polarization index, before the overvoltage.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ResistanceTest {
    /// The voltage.
    #[serde(rename = "kv", with = "edge::kv")]
    pub voltage: Voltage,
    /// How long.
    #[serde(rename = "dwell_s", with = "edge::s")]
    pub dwell: Time,
    /// When to read, and what to expect.
    pub readings: Vec<ExpectedReading>,
    /// The current to expect all the while, as it is drawn.
    #[serde(default, skip_serializing_if = "ExpectedBand::is_empty")]
    pub band: ExpectedBand,
    /// Least resistance at one minute.
    #[serde(rename = "minimum_mohm", with = "edge::mohm")]
    pub minimum: Option<Resistance>,
    /// The temperature that minimum is for.
    #[serde(rename = "minimum_at_c")]
    pub minimum_at_celsius: Option<f64>,
    /// Least polarization index.
    pub index_minimum: Option<f64>,
    /// How long to ground after it, before the steps.
    #[serde(rename = "ground_s", with = "edge::s")]
    pub ground: Option<Time>,
    /// Where the voltage is published.
    pub source: Citation,
}

/// The way down.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Descent {
    /// The tool's resistor, planned with.
    #[serde(rename = "resistor_kohm", with = "edge::kohm")]
    pub resistor: Resistance,
    /// Whether that resistor is the job's own tool or one asked for.
    pub tool_at_hand: bool,
    /// Through the resistor first, then solid ground; otherwise solid ground at once.
    pub resistor_first: bool,
    /// First peak through it, from the level.
    #[serde(rename = "peak_ma", with = "edge::ma")]
    pub peak: Current,
    /// Power in the resistor at that moment, `[W]`; not in plans of earlier days.
    #[serde(rename = "peak_w", default)]
    pub peak_watts: Option<f64>,
    /// Energy the resistor takes.
    #[serde(rename = "resistor_j", with = "edge::j")]
    pub resistor_energy: Energy,
    /// What it holds after every conductor when nothing of it cools meanwhile; not in plans of
    /// earlier days.
    #[serde(rename = "resistor_all_j", with = "edge::j", default)]
    pub all_energy: Option<Energy>,
    /// Voltage that the tool is to bring it below.
    #[serde(rename = "touch_limit_kv", with = "edge::kv")]
    pub touch_limit: Voltage,
    /// From laying the tool on to that limit, at the upper capacitance; published it is 50 V.
    #[serde(rename = "to_50v_s", with = "edge::s")]
    pub to_50v: Time,
    /// The same with what the object's absorption gives back meanwhile; not in plans of earlier
    /// days.
    #[serde(rename = "to_limit_with_absorption_s", with = "edge::s", default)]
    pub to_limit_with_absorption: Option<Time>,
    /// From dial at zero to a tenth of the level through the set's own path, if it has one, with
    /// absorption.
    #[serde(rename = "bleed_to_tenth_s", with = "edge::s")]
    pub bleed_to_tenth: Option<Time>,
    /// The same to that limit; not in plans of earlier days.
    #[serde(rename = "bleed_to_limit_s", with = "edge::s", default)]
    pub bleed_to_limit: Option<Time>,
    /// How long the solid ground stays on.
    #[serde(rename = "ground_s", with = "edge::s")]
    pub ground: Time,
    /// What decided the ground time.
    pub ground_by: GroundBy,
    /// The model's own upper bound, before the published minima lengthen it.
    #[serde(rename = "model_ground_s", with = "edge::s")]
    pub model_ground: Time,
    /// For charge that comes back late, however it is spread over time; not in plans of earlier
    /// days.
    #[serde(rename = "late_charge_ground_s", with = "edge::s", default)]
    pub late_ground: Option<Time>,
    /// What each published rule asks for by itself, taken or not; not in plans of earlier days.
    #[serde(default)]
    pub published_grounds: Vec<PublishedGround>,
    /// What the object would rise to if it were left open right after the tool.
    #[serde(rename = "rebound_kv", with = "edge::kv")]
    pub rebound: Voltage,
    /// How long after the tool comes off that would be; not in plans of earlier days.
    #[serde(rename = "rebound_peak_after_s", with = "edge::s", default)]
    pub rebound_peak_after: Option<Time>,
    /// What it would rise to if the ground came off after its time.
    #[serde(rename = "rebound_after_ground_kv", with = "edge::kv")]
    pub rebound_after_ground: Voltage,
    /// Below this the kilovolt meter in use cannot tell.
    #[serde(rename = "meter_floor_kv", with = "edge::kv")]
    pub meter_floor: Option<Voltage>,
}

/// How long a published rule keeps the ground on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PublishedGround {
    /// Times the time at voltage.
    pub times_at_voltage: f64,
    /// And at least this long.
    #[serde(rename = "at_least_s", with = "edge::s")]
    pub at_least: Time,
    /// What that comes to in this test.
    #[serde(rename = "ground_s", with = "edge::s")]
    pub ground: Time,
    /// Where it stands.
    pub source: Citation,
}

impl Descent {
    /// From laying the tool on to the touch limit: with absorption, where the plan knows it.
    #[must_use]
    pub fn to_limit(&self) -> Time {
        self.to_limit_with_absorption.map_or(self.to_50v, |time| time.max(self.to_50v))
    }

    /// How long the tool stays on before the solid ground, at least.
    #[must_use]
    pub fn tool_on(&self) -> Time {
        crate::descent::tool_on(self)
    }
}

/// What decided the ground time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum GroundBy {
    /// The model of the object's absorbed charge.
    Model,
    /// As much charge as is typical at the most, in the slowest branch that is looked for.
    LateCharge,
    /// A published multiple of the time at voltage.
    TimeAtVoltage,
    /// A published minimum.
    PublishedMinimum,
}

/// One line of the checklist.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Line {
    /// Its name.
    pub id: String,
    /// What to look at or do.
    pub text: String,
    /// When.
    pub when: When,
    /// Whose rule it is.
    pub source: Citation,
    /// No voltage before somebody said that it is so.
    #[serde(default)]
    pub hold_point: bool,
}

/// When a line or a caution belongs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum When {
    /// Before voltage.
    Before,
    /// While connecting.
    Connecting,
    /// While voltage is on.
    Energised,
    /// While coming down, discharging and grounding.
    ComingDown,
    /// After grounding.
    After,
}

/// A caution, as it is printed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Caution {
    /// Its name.
    pub id: String,
    /// What it says.
    pub text: String,
    /// Where it belongs.
    pub when: When,
    /// Title and edition of its source, in one line.
    pub source: String,
    /// How sure we are of that source.
    pub mark: Mark,
}

/// Something that stands against the plan, or beside it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlanIssue {
    /// Its name.
    pub id: String,
    /// How heavy.
    pub severity: Severity,
    /// What is the matter.
    pub text: String,
    /// What to do instead.
    pub remedy: String,
}

/// How heavy an issue is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// Do not run this.
    Refuse,
    /// Run it only with eyes open.
    Warn,
    /// Good to know.
    Note,
}

impl Plan {
    /// Whether the answer is "do not run this".
    #[must_use]
    pub fn is_refused(&self) -> bool {
        self.issues.iter().any(|issue| issue.severity == Severity::Refuse)
    }
}
