//! Everything the judge says, in words. One exhaustive match a kind.

use jiff::civil::Date;
use physics::fit::NotSeparable;
use physics::identify::{Check, Reason};
use quantity::{Current, Ratio, Resistance, Temperature, Time, Voltage};
use session::guard::Guard;

use crate::air::AirTold;
use crate::arrester::{ArresterLink, ArresterNext, ArresterSaid};
use crate::findings::{Doubtful, Outcome};
use crate::object::Told;

pub(crate) mod more;
pub(crate) mod seen;

use more::MoreNext;
pub(crate) use more::{Excluded, More, MoreLink};
use seen::{Seen, SeenLink, SeenNext};

macro_rules! ids {
    ($($name:ident = $key:literal,)*) => {
        /// Names of findings.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub(crate) enum Id { $($name,)* }

        impl Id {
            pub(crate) const fn key(self) -> &'static str {
                match self { $(Self::$name => $key,)* }
            }
        }
    };
}

// In the order they are read: what outranks, whether it can be judged, what was judged.
ids! {
    Breakdown = "breakdown",
    Flashover = "flashover",
    Trip = "trip",
    ConductorsDone = "conductors-done",
    TestVoltage = "test-voltage",
    HoldTime = "hold-time",
    ReadingsEnough = "readings-enough",
    Signs = "signs",
    Calibration = "calibration",
    Range = "range",
    BlankRun = "blank-run",
    Connection = "connection",
    MeterChecks = "meter-checks",
    Weather = "weather",
    HoldTrend = "hold-trend",
    StepLinearity = "step-linearity",
    Knee = "knee",
    Corona = "corona",
    Surface = "surface",
    Unrest = "unrest",
    ComeDown = "come-down",
    Forecast = "forecast",
    Imbalance = "imbalance",
    ReferenceVoltage = "reference-voltage",
    Leakage = "leakage",
    ResistanceMinimum = "resistance-minimum",
    IndexMinimum = "index-minimum",
    IndexNotMeaningful = "index-not-meaningful",
    LeakageAllowance = "leakage-allowance",
    InsulationConstant = "insulation-constant",
    RulesKept = "rules-kept",
    Grounding = "grounding",
}

/// What stands in the source column where nobody published the criterion.
pub(crate) const COMMON_PRACTICE: &str = "common practice, no source";

/// What a finding says.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Said {
    Withstood { level: Voltage, held: Time },
    BrokeDown { at: Time },
    NotAtVoltage,
    FlashedOver { at: Time },
    FlashedOverThenHeld { at: Time },
    Tripped { at: Time },
    TrippedExplained { at: Time, cause: String },
    TrippedThenHeld { at: Time, cause: String },
    HoldMet { held: Time, asked: Time },
    HoldShort { held: Time, asked: Time },
    HoldMetThoughUnwatched { held: Time, unwatched: Time, asked: Time },
    HoldUnwatched { held: Time, unwatched: Time, asked: Time },
    HoldNever { level: Voltage },
    HoldNotAsked,
    HoldUnplanned,
    LevelMet { asked: Voltage },
    LevelOff { worst: Voltage, asked: Voltage, tolerance: Ratio },
    LevelNever { highest: Voltage, asked: Voltage },
    LevelTripped { highest: Voltage, most: Current, asked: Voltage },
    LevelRefused { reason: String },
    LevelUnplanned,
    ResistanceVoltageMet { level: Voltage },
    ResistanceVoltageOff { level: Voltage, low: Voltage, high: Voltage },
    CalibrationHeld { until: Date },
    CalibrationLapsed { until: Date, test: Date },
    CalibrationUnknown,
    CalibrationLater { calibrated: Date },
    TestDateUnknown,
    ReadingsEnough { count: usize },
    ReadingsNone,
    ReadingsTooFew { missing: Vec<Missing> },
    ReadingsSome { missing: Vec<Missing> },
    RangeFits,
    RangeUnknown,
    RangeOver { reading: Current, range: Current },
    RangeCoarse { reading: Current, range: Current, finer: Current },
    RangeOverVolts { reading: Voltage, range: Voltage },
    RangeOverload { count: usize },
    LeadsTakenOut { part: Ratio },
    LeadsTooLarge { part: Ratio },
    WeatherNoted { air: Temperature, humidity: Ratio },
    WeatherUnknown,
    Condensation { object: Temperature, dew_point: Temperature },
    ConductorsDone { count: usize },
    ConductorsMissing { names: Vec<String> },
    ConductorsAsOne,
    ConductorsUnnamed,
    ConductorsFewer { tested: usize, planned: usize },
    TrendHeld { first: Current, last: Current },
    TrendRose { earlier: Time, later: Time, first: Current, last: Current },
    TrendOpen { earlier: Time, later: Time },
    TrendUnread,
    TrendTooShort,
    Linear,
    NotLinear { excess: Ratio },
    LinearityOpen { excess: Ratio },
    LinearityUnread { levels: usize },
    LinearityNotSeparable,
    LinearityNotAsked,
    Knee { from: Voltage, excess: Current, probability: Option<f64> },
    Balanced { ratio: f64 },
    Imbalanced { ratio: f64, highest: String, lowest: String },
    ImbalanceOpen { ratio: f64, limit: f64, finer: bool },
    ImbalanceWaived { ratio: f64, below: Current },
    ImbalanceUnread { name: String },
    ImbalanceNoRule,
    Arrester(ArresterSaid),
    ResistanceMet,
    ResistanceBelow,
    ResistanceBelowTypical,
    ResistanceOpen { why: Open },
    ResistanceOtherSuffices { below: bool },
    ResistanceUnread,
    ResistanceNoRule,
    ResistanceOtherVoltage { read: Voltage, asked: Voltage },
    IndexMet { index: f64 },
    IndexBelow { index: f64 },
    IndexOpen { index: f64 },
    IndexOtherSuffices { index: f64, below: bool },
    IndexNotMeaningful { resistance: Resistance },
    IndexUnread,
    IndexNoRule { index: f64 },
    RulesKept,
    RulesNotMet { count: usize },
    RecordClosed,
    RecordOpen,
    StillHazardous { names: Vec<String> },
    More(More),
    Seen(Seen),
}

/// What was not read.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Missing {
    OneMinute,
    End,
    Steps { read: usize, planned: usize },
    Voltages(usize),
}

/// Why a comparison with a minimum stands open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Open {
    /// The limit lies inside the uncertainty of the reading.
    Doubt,
    /// The object's temperature is unknown.
    NoTemperature,
    /// The temperature is outside what a correction serves.
    OutsideCorrection,
    /// The temperature is outside the table of factors to 20 °C.
    OutsideFactors,
    /// No rule of correction is kept for this object.
    NoRule,
    /// Two published corrections disagree about it.
    Corrections,
    /// One of the two is met, and whether one is enough depends on the rating.
    Rating,
    /// Nobody saw when the voltage came on.
    Ages,
}

/// One line of a chain.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Link {
    Read { after: Time, current: Current, voltage: Voltage, range: Option<Current>, between: bool },
    ReadOf { name: String, after: Time, current: Current, voltage: Voltage },
    Rows { count: usize },
    Conductors { tested: usize, planned: usize },
    Dew { object: Temperature, dew_point: Temperature },
    Air(AirTold),
    LevelRead { level: Voltage },
    Between { low: Voltage, high: Voltage },
    NoBreakdown,
    NoEvent,
    Trip { at: Time, cause: Option<String> },
    NoTrip,
    NotWatched { from: Time, to: Time },
    RuleNotMet { phase: String, rule: Guard },
    PassedOver { what: String, reason: String, by: Option<String> },
    EveryRule,
    ToolThenGround,
    FullScale { least: Ratio },
    EveryReading,
    InsideInterval,
    Counted { from: Time, to: Time },
    Span { low: Voltage, high: Voltage },
    LeadsOut { current: Current },
    SameVoltage { from: Voltage, to: Voltage, scaled: Current },
    ResistanceRead { resistance: Resistance },
    Corrected { resistance: Resistance, to: Temperature, from: Temperature, model: String },
    AmbientTaken,
    NotCorrected { why: Open },
    OtherCorrection { resistance: Resistance, model: String },
    DigitsOnly { expanded: String },
    Unrest { expanded: String },
    Part { input: String, standard: String, makes: Option<String> },
    ByDraws { low: Resistance, high: Resistance, draws: usize },
    Doubt { expanded: String, accuracy_known: bool },
    DoubtNotUsed { expanded: String },
    Modelled { conduction: Current, exponent: Option<f64>, readings: usize },
    NotSeparable { reason: String },
    Predicted { read: Current, predicted: Current, level: Voltage },
    CalibratedOn { calibrated: Date, months: i32, assumed: bool },
    MostAllowed { current: Current },
    NoMoreThan { ratio: f64 },
    LeastOf { resistance: Resistance, at: Option<Temperature>, after: Time },
    LeastIndex { index: f64 },
    OlderEdition { resistance: Resistance, source: String },
    Tolerance { tolerance: Ratio },
    LeastTime { time: Time },
    Waiver { below: Current },
    WaiverMixed,
    EitherSuffices { up_to_mva: f64 },
    ExcessAllowed { ratio: Ratio },
    Arrester(ArresterLink),
    More(Box<MoreLink>),
    Seen(Box<SeenLink>),
}

impl From<MoreLink> for Link {
    fn from(link: MoreLink) -> Self {
        Self::More(Box::new(link))
    }
}

impl From<SeenLink> for Link {
    fn from(link: SeenLink) -> Self {
        Self::Seen(Box::new(link))
    }
}

/// What to do next.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Next {
    Isolate,
    CleanAndRepeat,
    FindTrip,
    RepeatAfterTrip,
    FindLeak,
    RepeatHold,
    RepeatLevel,
    Recalibrate,
    WriteCalibration,
    WriteDate,
    ReadMore,
    FinerRange,
    WarmAndDry,
    DoMissing(Vec<String>),
    DoOthers,
    NameConductors,
    WatchTrend,
    ReadFinerTrend,
    RepeatSteps,
    CompareEnds,
    LookForCorona,
    DryAndClean,
    ReadFinerResistance,
    WriteTemperature,
    WriteRating,
    RefusedPlan,
    ConfirmGrounds(Vec<String>),
    CloseRecord,
    LookAtRules,
    Arrester(ArresterNext),
    KeepGround,
    ThisTestOnly,
    More(MoreNext),
    Seen(SeenNext),
}

/// Seconds or minutes, as a person says them.
pub(crate) fn time(time: Time) -> String {
    let seconds = time.seconds();
    if seconds >= 120.0 && (seconds / 60.0).fract().abs() < 1e-9 {
        return format!("{} min", seconds / 60.0);
    }
    let rounded = (seconds * 10.0).round() / 10.0;
    format!("{rounded} s")
}

fn list(names: &[String]) -> String {
    names.join(", ")
}

fn missing(missing: &[Missing]) -> String {
    let one = |missing: &Missing| match missing {
        Missing::OneMinute => "the reading at 1 min".to_owned(),
        Missing::End => "the reading at the end of the hold".to_owned(),
        Missing::Steps { read, planned } => {
            format!("the steps ({read} of {planned} levels)")
        }
        Missing::Voltages(count) => format!("the kilovolts of {count} rows"),
    };
    missing.iter().map(one).collect::<Vec<_>>().join(", ")
}

/// The last line of a chain.
pub(crate) const fn outcome(outcome: Outcome, voids: bool) -> &'static str {
    match (outcome, voids) {
        (_, true) => "Outcome: cannot be judged",
        (Outcome::Ok, false) => "Outcome: met",
        (Outcome::Warn, false) => "Outcome: open",
        (Outcome::Fail, false) => "Outcome: not met",
        (Outcome::NotApplicable, false) => "Outcome: does not apply",
    }
}

/// A finding's text.
pub(crate) fn said(said: &Said) -> String {
    match said {
        Said::Arrester(said) => said.text(),
        Said::Withstood { level, held } => {
            format!("No breakdown in {} at {level:.3}.", time(*held))
        }
        Said::BrokeDown { at } => {
            format!("The insulation broke down {} after energising. Keep it out of use.", time(*at))
        }
        Said::NotAtVoltage => "The level was not held, so nothing is said of withstand.".into(),
        Said::FlashedOver { at } => format!(
            "Flashover outside the insulation {} after energising. Clean the surface and repeat.",
            time(*at)
        ),
        Said::FlashedOverThenHeld { at } => format!(
            "Flashover outside the insulation at {}; the test was repeated without one.",
            time(*at)
        ),
        Said::Tripped { at } => format!(
            "The set tripped {} after energising. Find out why before the object is judged.",
            time(*at)
        ),
        Said::TrippedExplained { at, cause } => format!(
            "The set tripped {} after energising: “{cause}”. Repeat it; the hold starts again.",
            time(*at)
        ),
        Said::TrippedThenHeld { at, cause } => format!(
            "The set tripped {} after energising: “{cause}”. The test was repeated without a trip.",
            time(*at)
        ),
        Said::HoldMet { held, asked } => {
            format!("Held for {}; {} was asked.", time(*held), time(*asked))
        }
        Said::HoldShort { held, asked } => {
            format!("Hold cut short: {} of {}. Repeat the hold.", time(*held), time(*asked))
        }
        Said::HoldMetThoughUnwatched { held, unwatched, asked } => format!(
            "Held and watched for {}; {} more had no readings and do not count; {} was asked.",
            time(*held),
            time(*unwatched),
            time(*asked)
        ),
        Said::HoldUnwatched { held, unwatched, asked } => format!(
            "Of the hold {} was watched; {} had no readings and do not count; {} was asked. \
             Repeat the hold.",
            time(*held),
            time(*unwatched),
            time(*asked)
        ),
        Said::HoldNever { level } => format!("{level:.3} was never reached."),
        Said::HoldNotAsked => "A resistance test asks for no hold at a test level.".into(),
        Said::HoldUnplanned => "No hold was planned.".into(),
        Said::LevelMet { asked } => format!("The voltage stayed at {asked:.3}."),
        Said::LevelOff { worst, asked, tolerance } => format!(
            "The voltage came to {worst:.3}; {asked:.3} within {:.0} % was asked. Repeat.",
            tolerance.percent()
        ),
        Said::LevelNever { highest, asked } => {
            format!(
                "The highest voltage was {highest:.3}; {asked:.3} was asked. Find why it went no \
                 higher, then repeat the test."
            )
        }
        Said::LevelTripped { highest, most, asked } => format!(
            "The set tripped at {highest:.3}, {most:.3} the most read before; {asked:.3} was not \
             reached. Find what draws the current before any voltage again."
        ),
        Said::LevelRefused { reason } => {
            format!("The plan refused this test, so there is no level to hold it to: {reason}")
        }
        Said::LevelUnplanned => "No level was planned, so none is held against.".into(),
        Said::ResistanceVoltageMet { level } => format!("The resistance was read at {level:.3}."),
        Said::ResistanceVoltageOff { level, low, high } => format!(
            "The resistance was read at {level:.3}; between {low:.3} and {high:.3} is asked."
        ),
        Said::CalibrationHeld { until } => format!("Calibration ran to {until}."),
        Said::CalibrationLapsed { until, test } => {
            format!("Calibration ran out on {until}; the test was on {test}. Calibrate and repeat.")
        }
        Said::CalibrationUnknown => "The day of the last calibration is not written down.".into(),
        Said::CalibrationLater { calibrated } => format!(
            "The calibration of {calibrated} is later than the test. Write down the one before."
        ),
        Said::TestDateUnknown => {
            "The day of the test is not written down, so calibration cannot be held to it.".into()
        }
        Said::ReadingsEnough { count: 1 } => "1 reading can be used.".into(),
        Said::ReadingsEnough { count } => format!("{count} readings can be used."),
        Said::ReadingsNone => "There is no reading of current at voltage. Repeat and read.".into(),
        Said::ReadingsTooFew { missing: what } => {
            format!("Too few readings: {} is missing. Repeat and read.", missing(what))
        }
        Said::ReadingsSome { missing: what } => format!("Not read: {}.", missing(what)),
        Said::RangeFits => "The readings lie well on their ranges.".into(),
        Said::RangeUnknown => "The ranges are not written down.".into(),
        Said::RangeOver { reading, range } => {
            format!("A reading of {reading:.3} stands above its range of {range:.3}. Look it up.")
        }
        Said::RangeCoarse { reading, range, finer } => format!(
            "A reading of {reading:.3} lies low on the range of {range:.3}; take {finer:.3}."
        ),
        Said::RangeOverVolts { reading, range } => {
            format!("A reading of {reading:.3} stands above its range of {range:.3}. Look it up.")
        }
        Said::RangeOverload { count } => {
            format!("{count} readings were over range and are not used. Take a higher range.")
        }
        Said::LeadsTakenOut { part } => format!(
            "Leads and set alone take {:.1} % of the last reading; it was subtracted.",
            part.percent()
        ),
        Said::LeadsTooLarge { part } => format!(
            "Leads and set alone take {:.0} % of the last reading: too much to subtract, and \
             nothing was. The object's own current is not known.",
            part.percent()
        ),
        Said::WeatherNoted { air, humidity } => {
            format!("Air at {air}, {:.0} % humidity; no dew on the object.", humidity.percent())
        }
        Said::WeatherUnknown => "Temperature or humidity is not written down.".into(),
        Said::Condensation { object, dew_point } => format!(
            "The object at {object} is not above the dew point of {dew_point}. Warm it, repeat."
        ),
        Said::ConductorsDone { count } => format!("Every conductor was tested, {count} in all."),
        Said::ConductorsMissing { names } => format!("Not tested: {}. Test them.", list(names)),
        Said::ConductorsAsOne => "There are readings of one alone; the winding is taken as tested \
                                  with its phases joined."
            .into(),
        Said::ConductorsUnnamed => "The readings name no conductor, so they are taken as one test \
                                    of the whole. Where conductors are tested one by one, name \
                                    each."
            .into(),
        Said::ConductorsFewer { tested, planned } => {
            format!("{tested} of {planned} conductors were tested. Test the others.")
        }
        Said::TrendHeld { first, last } => {
            format!("The current did not rise through the hold: {first:.3}, then {last:.3}.")
        }
        Said::TrendRose { earlier, later, first, last } => format!(
            "The current rose from {first:.3} at {} to {last:.3} at {}. Stop and look.",
            time(*earlier),
            time(*later)
        ),
        Said::TrendOpen { earlier, later } => format!(
            "Whether the current rose between {} and {} is less than the meter can tell. \
             Repeat the hold on a finer range, with one more digit.",
            time(*earlier),
            time(*later)
        ),
        Said::TrendUnread => "The current was not read at the times that are compared.".into(),
        Said::TrendTooShort => "The hold is too short for a comparison in time.".into(),
        Said::Linear => "Conduction is in proportion to voltage, absorption taken out.".into(),
        Said::NotLinear { excess } => format!(
            "Current at the highest level is {:.0} % above proportion. Go no higher; look for it.",
            excess.percent()
        ),
        Said::LinearityOpen { excess } => format!(
            "Current at the highest level may be {:.0} % above proportion. \
             Repeat the upper steps with longer, equal times.",
            excess.percent()
        ),
        Said::LinearityUnread { levels } => {
            format!("Readings at {levels} levels are too few to tell proportion.")
        }
        Said::LinearityNotSeparable => {
            "The steps were not read well enough to take absorption out.".into()
        }
        Said::LinearityNotAsked => "One level alone says nothing of proportion.".into(),
        Said::Knee { from, excess, probability } => {
            let likely = match probability {
                Some(p) if *p > 0.999 => " Probability of a knee: above 0.999.".to_owned(),
                Some(p) => format!(" Probability of a knee, not of smooth growth: {p:.3}."),
                None => String::new(),
            };
            format!(
                "Conduction turns up above {from:.3}: {excess:.3} more at the highest level.\
                 {likely}"
            )
        }
        Said::Balanced { ratio } => {
            format!("The highest current is {ratio:.2} times the lowest.")
        }
        Said::Imbalanced { ratio, highest, lowest } => format!(
            "{ratio:.2} times the current of {lowest}. Rule out dirty ends and \
             unlike leads, then look at {highest}."
        ),
        Said::ImbalanceOpen { ratio, limit, finer } => format!(
            "The highest current is {ratio:.2} times the lowest; whether that is more than \
             {limit} is less than the meter can tell. {}",
            if *finer {
                "Repeat on a finer range."
            } else {
                "No finer range of the set holds it: only a more accurate meter can tell."
            }
        ),
        Said::ImbalanceWaived { ratio, below } => format!(
            "The highest current is {ratio:.2} times the lowest; all are below {below:.3}, \
             where the ratio is not looked at."
        ),
        Said::ImbalanceUnread { name } => format!("{name} has no reading of current at the level."),
        Said::ImbalanceNoRule => "No published limit for unlike currents is known here.".into(),
        Said::ResistanceMet => "The resistance is above the minimum.".into(),
        Said::ResistanceBelow => "The resistance is below the minimum.".into(),
        Said::ResistanceBelowTypical => {
            "The resistance is below the least that is typical of this \
                                         insulation and length. Clean the ends, then look for the \
                                         cause."
                .into()
        }
        Said::ResistanceOpen { why } => match why {
            Open::Doubt => "The minimum lies inside the uncertainty of the reading. \
                            Repeat with a finer range or a more accurate meter."
                .into(),
            Open::NoTemperature => "The object's temperature is not written down, and it decides. \
                                    Measure it."
                .into(),
            Open::NoRule => "No correction for temperature is known here, and it decides.".into(),
            Open::OutsideCorrection => "The object's temperature is outside what the correction \
                                        serves. Repeat nearer to 40 °C."
                .into(),
            Open::OutsideFactors => "The object's temperature is outside the table of factors. \
                                     Repeat nearer to 20 °C."
                .into(),
            Open::Corrections => "Two published temperature corrections disagree. Repeat nearer \
                                  to 40 °C, or find out which insulation it is."
                .into(),
            Open::Rating => "One of resistance and index is met; whether one is enough depends \
                             on the rating. Write the rated MVA down."
                .into(),
            Open::Ages => "The readings begin with the voltage on already, so the resistance is \
                           that of a later time than was asked, and resistance grows with time."
                .into(),
        },
        Said::ResistanceOtherSuffices { below } => format!(
            "{}; the index is met, and up to this rating either is enough.",
            if *below {
                "The resistance is below the minimum"
            } else {
                "Whether the resistance is above the minimum stands open"
            }
        ),
        Said::ResistanceUnread => "The resistance at 1 min was not read.".into(),
        Said::ResistanceNoRule => "No published minimum is known for this object.".into(),
        Said::ResistanceOtherVoltage { read, asked } => {
            format!("The minimum is for {asked:.3}; the resistance was read at {read:.3}.")
        }
        Said::IndexMet { index } => format!("The polarization index is {index:.2}."),
        Said::IndexBelow { index } => {
            format!("The polarization index is {index:.2}, below the minimum.")
        }
        Said::IndexOpen { index } => format!(
            "The polarization index is {index:.2}; the minimum lies inside its uncertainty, or \
             rests on what is not written down. Repeat on one range with one more digit."
        ),
        Said::IndexOtherSuffices { index, below } => format!(
            "The polarization index is {index:.2}, {}; the resistance is met, and up to this \
             rating either is enough.",
            if *below { "below the minimum" } else { "which stands open" }
        ),
        Said::IndexNotMeaningful { resistance } => {
            format!("At {resistance:.3} the polarization index says nothing.")
        }
        Said::IndexUnread => "The current was not read at 1 min and 10 min.".into(),
        Said::IndexNoRule { index } => {
            format!("The polarization index is {index:.2}; write the thermal class down.")
        }
        Said::RulesKept => "The record shows no rule of the work that was not met.".into(),
        Said::RulesNotMet { count } => format!(
            "The record does not show {count} {} of the work as met. No value was changed for it.",
            if *count == 1 { "rule" } else { "rules" }
        ),
        Said::RecordClosed => "Tool, grounds and release of every conductor are recorded.".into(),
        Said::RecordOpen => "The record is not closed: grounds or release are open.".into(),
        Said::StillHazardous { names } => format!(
            "Treat as hazardous: {}. Tool and solid ground are not recorded since voltage was on.",
            list(names)
        ),
        Said::More(found) => more::said(found),
        Said::Seen(found) => found.text(),
    }
}

fn not_corrected(why: Open) -> &'static str {
    match why {
        Open::NoTemperature => "Correction: none made, the object's temperature is unknown",
        Open::OutsideCorrection | Open::OutsideFactors => {
            "Correction: none made, the temperature is outside its range"
        }
        Open::NoRule => "Correction: none made, no rule for this object is kept here",
        Open::Doubt | Open::Corrections | Open::Rating | Open::Ages => "Correction: none made",
    }
}

fn modelled(conduction: Current, exponent: Option<f64>, readings: usize) -> String {
    match exponent {
        Some(n) => format!(
            "Correction: absorption taken out by a power law, n = {n:.3}, over {readings} \
             readings; conduction {conduction:.4} at the highest level"
        ),
        None => format!(
            "Correction: no absorption seen over {readings} readings; conduction \
             {conduction:.4} at the highest level"
        ),
    }
}

/// What the readings say of the object, or why they do not.
pub(crate) fn told(
    told: Told,
    number: Option<Doubtful>,
    unit: &str,
    why: Option<&Reason>,
) -> String {
    let name = match told {
        Told::Capacitance => "Capacitance, what is taken up within a second",
        Told::Conduction => "Conduction at the highest level, absorption taken out",
        Told::Insulation => "Insulation resistance, absorption taken out",
        Told::Exponent => "Exponent of the absorption",
        Told::AtOneMinute => "Absorption current one minute after a step, over the step",
        Told::LossTangent => "Loss tangent at 1.7 mHz, conduction in it",
    };
    match (number, why) {
        (Some(number), _) => format!("{name}: {}.", doubtful(number, unit)),
        (None, Some(why)) => format!("{name}: unknown; {}.", untold(why)),
        (None, None) => format!("{name}: unknown; conduction does not show beyond its doubt."),
    }
}

/// Absorption as branches: their time constants and why there is not one more, or why none is told.
pub(crate) fn branches(told: Result<(&[Doubtful], Option<NotSeparable>), &NotSeparable>) -> String {
    const NAME: &str = "Absorption as branches, each a resistance and a capacitance in series";
    let (found, more) = match told {
        Ok(told) => told,
        Err(why) => return format!("{NAME}: unknown; {}.", blurred(why)),
    };
    let times: Vec<String> = found.iter().map(|one| doubtful(*one, "s")).collect();
    let constants = if found.len() == 1 { "a time constant" } else { "time constants" };
    let more = more.map(|why| format!(" One more cannot be told: {}.", blurred(&why)));
    format!(
        "{NAME}: the longest level shows {}, with {constants} of {}. They describe the current \
         over the time it was read, not beyond.{}",
        found.len(),
        list(&times),
        more.unwrap_or_default()
    )
}

/// Why branches are not told apart, and what would tell them.
fn blurred(why: &NotSeparable) -> String {
    match why {
        NotSeparable::TimeConstants(fast, slow) => format!(
            "{fast:.1} s and {slow:.1} s lie too close together; read longer, finer or oftener"
        ),
        NotSeparable::Term(seconds) => {
            format!(
                "one near {seconds:.1} s is lost in its own doubt; read longer, finer or oftener"
            )
        }
        NotSeparable::WithinNoise => {
            "what falls is lost in the digits of the readings; read finer or oftener".to_owned()
        }
        other => other.to_string(),
    }
}

/// Readings that the others speak against.
pub(crate) fn left_out(at_s: &[f64]) -> String {
    let times: Vec<String> = at_s.iter().map(|at| format!("{at:.0} s")).collect();
    format!(
        "Left out of all this, because the other readings speak against it: {} after energising. \
         Look at what was written there.",
        list(&times)
    )
}

/// Why the readings do not tell, and what would.
pub(crate) fn untold(why: &Reason) -> String {
    match why {
        Reason::NotSeparable(why) => why.to_string(),
        Reason::Unusable(place) => format!("reading {} cannot be used", place + 1),
        Reason::TooShort { exponent, expanded } => format!(
            "{exponent:.2} ± {expanded:.2} is all that readings over less than a decade of time \
             tell: read longer"
        ),
        Reason::Loose { exponent, expanded } => format!(
            "{exponent:.2} ± {expanded:.2} is all that the readings tell: read finer or oftener"
        ),
        Reason::FewLevels { levels } => {
            format!("readings at {levels} levels are too few to tell proportion")
        }
        Reason::NoRise => "read the current twice or more while the voltage rises".to_owned(),
        Reason::RiseWithinNoise => "the rise is lost in the digits of its readings".to_owned(),
        Reason::NoLevel => "no current was read at a level".to_owned(),
    }
}

/// One thing in two ways, and what it means when they differ.
pub(crate) fn cross_check(
    of: Check,
    by_model: Doubtful,
    as_read: Doubtful,
    unit: &str,
    agrees: bool,
) -> String {
    let (name, differs) = match of {
        Check::ConductionEarly => (
            "Conduction by the readings at 19, 60 and 190 s",
            "the absorption is not one power law, or a reading is off",
        ),
        Check::ConductionLate => (
            "Conduction by the readings at 1, 3.2 and 10 min",
            "the absorption is not one power law, or a reading is off",
        ),
        Check::PolarizationIndex => {
            ("Polarization index", "the readings at 1 and 10 min do not lie on the model")
        }
        Check::AbsorptionRatio => {
            ("Absorption ratio", "the readings at 30 and 60 s do not lie on the model")
        }
        Check::ConductionFromPair => (
            "Conduction by what came back after the short",
            "the charge was short against the time of reading, or the object was not at rest",
        ),
        Check::TimeConstant => (
            "Resistance times capacitance by the last reading",
            "absorption still flowed when the current was last read",
        ),
    };
    let (read, model) = (doubtful(as_read, unit), doubtful(by_model, unit));
    let end = if agrees { "they agree".to_owned() } else { format!("they differ: {differs}") };
    format!("{name}: {read}; by the model {model}; {end}.")
}

/// With two digits of its doubt (k = 2).
fn doubtful(number: Doubtful, unit: &str) -> String {
    let (Doubtful { value, expanded_u }, unit) = in_reach(number, unit);
    let widest = if expanded_u > 0.0 { expanded_u } else { value.abs() * 1e-3 };
    let decimals = if widest > 0.0 { 1 - widest.log10().floor() as i32 } else { 0 };
    let decimals = usize::try_from(decimals).unwrap_or(0).min(12);
    format!("{value:.decimals$} ± {expanded_u:.decimals$} {unit}").trim_end().to_owned()
}

/// The same in the larger unit that keeps it below a thousand, where its unit has one.
fn in_reach(number: Doubtful, unit: &str) -> (Doubtful, &str) {
    const LADDERS: [&[&str]; 4] = [
        &["MΩ", "GΩ", "TΩ"],
        &["nF", "µF", "mF"],
        &["µA", "mA", "A"],
        &["nA/kV", "µA/kV", "mA/kV"],
    ];
    let ladder = LADDERS.iter().find(|ladder| ladder[0] == unit);
    let Some(ladder) = ladder else { return (number, unit) };
    let largest = number.value.abs().max(number.expanded_u);
    let rungs = (largest.max(1.0).log10() / 3.0).floor() as usize;
    let rung = rungs.min(ladder.len() - 1);
    let scale = 1000_f64.powi(-(rung as i32));
    let scaled = Doubtful { value: number.value * scale, expanded_u: number.expanded_u * scale };
    (scaled, ladder[rung])
}

/// A line of a chain.
pub(crate) fn line(link: &Link) -> String {
    match link {
        Link::Arrester(link) => link.text(),
        Link::Read { after, current, voltage, range, between } => {
            let how = if *between { ", between two readings" } else { "" };
            let on = range.map(|range| format!(", range {range:.3}")).unwrap_or_default();
            format!("Reading: {current:.4} at {voltage:.4}, {} at level{how}{on}", time(*after))
        }
        Link::ReadOf { name, after, current, voltage } => {
            format!("Reading: {name} takes {current:.4} at {voltage:.4}, {} at level", time(*after))
        }
        Link::Rows { count: 1 } => "Reading: 1 row at voltage".into(),
        Link::Rows { count } => format!("Reading: {count} rows at voltage"),
        Link::Conductors { tested, planned } => {
            format!("Reading: {tested} tested; criterion: every one of {planned}")
        }
        Link::Dew { object, dew_point } => {
            format!("Reading: object at {object}; criterion: above the dew point, {dew_point}")
        }
        Link::Air(told) => told.to_string(),
        Link::LevelRead { level } => format!("Reading: {level:.4}"),
        Link::Between { low, high } => format!("Criterion: {low:.3} to {high:.3}"),
        Link::NoBreakdown => "Criterion: no breakdown through the hold".into(),
        Link::NoEvent => "Criterion: none of it through the test".into(),
        Link::Trip { at, cause: Some(cause) } => {
            format!("Reading: trip {} after energising; cause given: “{cause}”", time(*at))
        }
        Link::Trip { at, cause: None } => {
            format!("Reading: trip {} after energising; no cause was given", time(*at))
        }
        Link::NoTrip => "Criterion: no trip, or its cause given and the test repeated".into(),
        Link::NotWatched { from, to } => format!(
            "Correction: no readings from {} to {}, longer than planned; taken out",
            time(*from),
            time(*to)
        ),
        Link::RuleNotMet { phase, rule } => format!("Record: {phase}: {}", rule.not_met()),
        Link::PassedOver { what, reason, by } => {
            let by = by.as_ref().map(|by| format!(", {by}")).unwrap_or_default();
            format!("Record: passed over: {what} Reason: “{reason}”{by}")
        }
        Link::EveryRule => "Criterion: every rule of the work is shown as met".into(),
        Link::ToolThenGround => "Criterion: tool, then solid ground, then released".into(),
        Link::FullScale { least } => format!(
            "Criterion: below full scale; above {:.0} % of it where a finer range is at hand",
            least.percent()
        ),
        Link::EveryReading => "Criterion: what the criteria look at was read".into(),
        Link::InsideInterval => "Criterion: the test on or before the end of the interval".into(),
        Link::Counted { from, to } => format!(
            "Reading: at level from {} to {} after energising, counted from the last row below it",
            time(*from),
            time(*to)
        ),
        Link::Span { low, high } => format!("Reading: {low:.4} to {high:.4} through the hold"),
        Link::LeadsOut { current } => {
            format!("Correction: {current:.4} of leads and set alone taken out")
        }
        Link::SameVoltage { from, to, scaled } => {
            format!("Correction: {scaled:.4} when scaled from {from:.4} to {to:.4}")
        }
        Link::ResistanceRead { resistance } => format!("Reading: {resistance:.4}"),
        Link::Corrected { resistance, to, from, model } => {
            format!("Correction: {resistance:.4} at {to}, from {from}, {model}")
        }
        Link::AmbientTaken => "Correction: the air's temperature stands for the object's".into(),
        Link::NotCorrected { why } => not_corrected(*why).into(),
        Link::OtherCorrection { resistance, model } => {
            format!("Correction: {resistance:.4} by the other published rule, {model}")
        }
        Link::DigitsOnly { expanded } => format!(
            "Uncertainty: {expanded} (k = 2), from the digits alone; one meter on one range"
        ),
        Link::Unrest { expanded } => {
            format!("Uncertainty: {expanded} (k = 2), from the unrest of the readings themselves")
        }
        Link::Part { input, standard, makes: None } => {
            format!("Uncertainty: {input}, u = {standard}, cancels out")
        }
        Link::Part { input, standard, makes: Some(makes) } => {
            format!("Uncertainty: {input}, u = {standard}, makes {makes} of it")
        }
        Link::ByDraws { low, high, draws } => format!(
            "Uncertainty: by {draws} draws from {low:.3} to {high:.3} (95 %), which decides; \
             the same to either side does not serve here"
        ),
        Link::Doubt { expanded, accuracy_known: true } => {
            format!("Uncertainty: {expanded} (k = 2), all of these together")
        }
        Link::Doubt { expanded, accuracy_known: false } => {
            format!("Uncertainty: {expanded} (k = 2), all of these; no accuracy is written down")
        }
        Link::DoubtNotUsed { expanded } => {
            format!("Uncertainty: {expanded} (k = 2); the tolerance is held to the value as read")
        }
        Link::Modelled { conduction, exponent, readings } => {
            modelled(*conduction, *exponent, *readings)
        }
        Link::NotSeparable { reason } => format!("Correction: none made, {reason}"),
        Link::Predicted { read, predicted, level } => format!(
            "Reading: {read:.4} at {level:.4}; {predicted:.4} would be in proportion to the \
             lower levels"
        ),
        Link::CalibratedOn { calibrated, months, assumed } => {
            let from = if *assumed { ", the usual interval" } else { "" };
            format!("Reading: calibrated {calibrated}, for {months} months{from}")
        }
        Link::MostAllowed { current } => format!("Criterion: no more than {current:.4}"),
        Link::NoMoreThan { ratio } => format!("Criterion: no more than {ratio} times"),
        Link::LeastOf { resistance, at, after } => {
            let at = at.map(|at| format!(" at {at}")).unwrap_or_default();
            format!("Criterion: at least {resistance:.4}{at} after {}", time(*after))
        }
        Link::LeastIndex { index } => format!("Criterion: at least {index}"),
        Link::OlderEdition { resistance, source } => {
            format!("Not taken: {resistance:.4} by {source}")
        }
        Link::Tolerance { tolerance } => {
            format!("Criterion: within {:.0} % of the level", tolerance.percent())
        }
        Link::LeastTime { time: asked } => format!("Criterion: at least {}", time(*asked)),
        Link::Waiver { below } => {
            format!("Criterion: not looked at where all are below {below:.3}")
        }
        Link::WaiverMixed => "Criterion: one is not below the waiver, so all are compared".into(),
        Link::EitherSuffices { up_to_mva } => {
            format!("Criterion: up to {up_to_mva} MVA resistance or index is enough")
        }
        Link::ExcessAllowed { ratio } => format!(
            "Criterion: no more than {:.0} % above proportion, and no knee",
            ratio.percent()
        ),
        Link::More(link) => more::line(link),
        Link::Seen(link) => link.text(),
    }
}

/// Why the verdict is what it is, where no single finding says so.
pub(crate) const ALL_MET: &str = "Every criterion that applies was met.";
/// When nothing could be looked at.
pub(crate) const NOTHING_READ: &str = "Nothing was read, so nothing can be judged.";
/// When the plan said not to run the test.
pub(crate) fn refused(reason: &str) -> String {
    format!("The plan refused this test: {reason}")
}

/// What to do next, as a sentence.
pub(crate) fn next(next: &Next) -> String {
    match next {
        Next::Arrester(next) => next.text(),
        Next::Isolate => {
            "Ground it and keep it out of use. Locate the fault, or scrap what is not \
                          repaired."
                .into()
        }
        Next::CleanAndRepeat => {
            "Ground it, clean and dry the surface and the ends, then repeat the test.".into()
        }
        Next::FindTrip => "Find what tripped the set: the trip setting, the leads, the ends, the \
                           object. Then repeat the test."
            .into(),
        Next::RepeatAfterTrip => {
            "Reset the trip with the dial at zero, then repeat the test from the \
                                  start."
                .into()
        }
        Next::FindLeak => "Before any voltage again: ground it, take off what else hangs on it, \
                           clean and dry the ends, read its resistance at low voltage. Where that \
                           is low, keep it out of use and locate the fault."
            .into(),
        Next::RepeatHold => "Repeat the hold for its whole time.".into(),
        Next::RepeatLevel => "Repeat the test at the planned level, by the voltmeter.".into(),
        Next::Recalibrate => "Have the set calibrated, then repeat the test.".into(),
        Next::WriteCalibration => "Write the day of the last calibration into the job.".into(),
        Next::WriteDate => "Write the day of the test into the job.".into(),
        Next::ReadMore => "Repeat the test and take every reading on the sheet.".into(),
        Next::FinerRange => "Repeat the readings on the range that fits them.".into(),
        Next::WarmAndDry => "Warm the object above the dew point, let it dry, then repeat.".into(),
        Next::DoMissing(names) => format!("Test what is missing: {}.", list(names)),
        Next::DoOthers => "Test the other conductors.".into(),
        Next::NameConductors => {
            "Write down which conductor this was, and test the others one by one.".into()
        }
        Next::WatchTrend => "Rule out a drifting supply and dirty ends, then repeat the hold and \
                             watch the current."
            .into(),
        Next::ReadFinerTrend => "Repeat the hold on a finer range and write one more digit.".into(),
        Next::RepeatSteps => {
            "Guard or clean the ends, then repeat the steps with equal, longer times.".into()
        }
        Next::CompareEnds => {
            "Clean and compare the ends, change the leads about, then repeat each one.".into()
        }
        Next::LookForCorona => {
            "Look for corona first: shield and space leads and ends, read leads and set alone \
             again before and after, then the object."
                .into()
        }
        Next::DryAndClean => "Clean and dry the object, then measure the resistance again.".into(),
        Next::ReadFinerResistance => {
            "Measure the resistance again, with a range that is nearly filled.".into()
        }
        Next::WriteTemperature => "Measure the object's temperature with the resistance.".into(),
        Next::WriteRating => "Write the rating and thermal class into the job.".into(),
        Next::RefusedPlan => "Do what the plan names instead of this test.".into(),
        Next::ConfirmGrounds(names) => format!(
            "Treat {} as energised. Lay the tool on, put the solid ground on, and confirm both in \
             the record.",
            list(names)
        ),
        Next::CloseRecord => "Settle every ground and release every conductor in the record, then \
                              close it."
            .into(),
        Next::LookAtRules => "Go through the rules that were not met with whoever was there, and \
                              write down what was done."
            .into(),
        Next::KeepGround => "Keep the ground on for the planned time.".into(),
        Next::ThisTestOnly => {
            "The verdict speaks of this test on this day only; the owner decides on use.".into()
        }
        Next::More(next) => more::next(next),
        Next::Seen(next) => next.text(),
    }
}

/// What a finding asks for next, if it is not met.
pub(crate) fn next_of(said: &Said) -> Option<Next> {
    Some(match said {
        Said::Arrester(said) => return said.next(),
        Said::BrokeDown { .. } => Next::Isolate,
        Said::FlashedOver { .. } => Next::CleanAndRepeat,
        Said::Tripped { .. } => Next::FindTrip,
        Said::TrippedExplained { .. } => Next::RepeatAfterTrip,
        Said::HoldShort { .. } | Said::HoldUnwatched { .. } => Next::RepeatHold,
        Said::LevelTripped { .. } => Next::FindLeak,
        Said::StillHazardous { names } => Next::ConfirmGrounds(names.clone()),
        Said::RecordOpen => Next::CloseRecord,
        Said::RulesNotMet { .. } => Next::LookAtRules,
        Said::LevelOff { .. } | Said::LevelNever { .. } | Said::ResistanceVoltageOff { .. } => {
            Next::RepeatLevel
        }
        Said::LevelRefused { .. } => Next::RefusedPlan,
        Said::CalibrationLapsed { .. } => Next::Recalibrate,
        Said::CalibrationUnknown | Said::CalibrationLater { .. } => Next::WriteCalibration,
        Said::TestDateUnknown => Next::WriteDate,
        Said::ReadingsNone
        | Said::ReadingsTooFew { .. }
        | Said::ReadingsSome { .. }
        | Said::ImbalanceUnread { .. }
        | Said::LinearityUnread { .. }
        | Said::LinearityNotSeparable => Next::ReadMore,
        Said::RangeOver { .. }
        | Said::RangeCoarse { .. }
        | Said::RangeOverVolts { .. }
        | Said::RangeOverload { .. }
        | Said::ImbalanceOpen { finer: true, .. } => Next::FinerRange,
        Said::ImbalanceOpen { finer: false, .. } => Next::More(MoreNext::BetterMeter),
        Said::Condensation { .. } => Next::WarmAndDry,
        Said::ConductorsMissing { names } => Next::DoMissing(names.clone()),
        Said::ConductorsFewer { .. } => Next::DoOthers,
        Said::ConductorsUnnamed => Next::NameConductors,
        Said::TrendRose { .. } => Next::WatchTrend,
        Said::TrendOpen { .. } => Next::ReadFinerTrend,
        Said::NotLinear { .. } | Said::LinearityOpen { .. } | Said::Knee { .. } => {
            Next::RepeatSteps
        }
        Said::Imbalanced { .. } => Next::CompareEnds,
        Said::LeadsTooLarge { .. } => Next::LookForCorona,
        Said::ResistanceBelow | Said::ResistanceBelowTypical | Said::IndexBelow { .. } => {
            Next::DryAndClean
        }
        Said::ResistanceOpen { why } => match why {
            Open::Doubt => Next::ReadFinerResistance,
            Open::NoTemperature
            | Open::OutsideCorrection
            | Open::OutsideFactors
            | Open::NoRule
            | Open::Corrections => Next::WriteTemperature,
            Open::Rating => Next::WriteRating,
            Open::Ages => Next::Seen(SeenNext::LogTheRise),
        },
        Said::IndexOpen { .. } => Next::ReadFinerResistance,
        Said::More(found) => Next::More(more::next_of(found)?),
        Said::Seen(found) => Next::Seen(found.next()?),
        Said::Withstood { .. }
        | Said::NotAtVoltage
        | Said::FlashedOverThenHeld { .. }
        | Said::TrippedThenHeld { .. }
        | Said::HoldMet { .. }
        | Said::HoldNever { .. }
        | Said::HoldMetThoughUnwatched { .. }
        | Said::HoldNotAsked
        | Said::HoldUnplanned
        | Said::LevelMet { .. }
        | Said::LevelUnplanned
        | Said::ResistanceVoltageMet { .. }
        | Said::CalibrationHeld { .. }
        | Said::ReadingsEnough { .. }
        | Said::RangeFits
        | Said::RangeUnknown
        | Said::WeatherNoted { .. }
        | Said::WeatherUnknown
        | Said::ConductorsDone { .. }
        | Said::ConductorsAsOne
        | Said::TrendHeld { .. }
        | Said::TrendUnread
        | Said::TrendTooShort
        | Said::Linear
        | Said::LinearityNotAsked
        | Said::Balanced { .. }
        | Said::ImbalanceWaived { .. }
        | Said::ImbalanceNoRule
        | Said::ResistanceMet
        | Said::ResistanceOtherSuffices { .. }
        | Said::ResistanceUnread
        | Said::ResistanceNoRule
        | Said::ResistanceOtherVoltage { .. }
        | Said::IndexMet { .. }
        | Said::IndexOtherSuffices { .. }
        | Said::IndexNotMeaningful { .. }
        | Said::IndexUnread
        | Said::IndexNoRule { .. }
        | Said::LeadsTakenOut { .. }
        | Said::RulesKept
        | Said::RecordClosed => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    // Derived: the doubt has two digits, and the unit keeps the number below a thousand.
    #[test]
    fn a_doubtful_number_is_said_in_the_unit_that_fits_it() {
        for (value, expanded_u, unit, expected) in [
            (20_506.0, 1085.0, "MΩ", "20.5 ± 1.1 GΩ"),
            (106.07, 2.1, "MΩ", "106.1 ± 2.1 MΩ"),
            (0.5, 0.012, "µA", "0.500 ± 0.012 µA"),
            (999.0, 2000.0, "nF", "1.0 ± 2.0 µF"),
            (3.25e9, 1e7, "MΩ", "3250 ± 10 TΩ"),
            (12.0, 0.0, "s", "12.000 ± 0.000 s"),
        ] {
            let number = Doubtful { value, expanded_u };
            assert_eq!(doubtful(number, unit), expected);
        }
    }
}
