//! How exact a test must be, and the guide values that common practice goes by.

use quantity::{Ratio, Time, Voltage};

use crate::library::{Cited, Library, Row};

/// How far the voltage may stand off its level over a hold.
#[must_use]
pub fn voltage(lib: &Library, hold: Time) -> Cited<Ratio> {
    let table = lib.table("iec-60060-3-2006/voltage-tolerance");
    let short = |row: &&Row| row.number("to_s").is_none_or(|to| hold.seconds() <= to);
    table
        .rows
        .iter()
        .find(short)
        .expect("the last row has no end; tested")
        .must("tolerance_percent", Ratio::from_percent)
}

/// How much the test voltage may ripple: half of peak to peak over the mean.
#[must_use]
pub fn ripple(lib: &Library) -> Cited<Ratio> {
    lib.table("iec-60060-1-2010/ripple").only().must("most_percent", Ratio::from_percent)
}

/// Below its level by no more than this, a reading counts as at the level.
#[must_use]
pub fn counting(lib: &Library) -> Cited<Ratio> {
    lib.table("practice/counting").only().must("tolerance_percent", Ratio::from_percent)
}

/// Months a calibration lasts where the owner has set no interval.
#[must_use]
pub fn calibration_months(lib: &Library) -> Cited<i32> {
    lib.table("neta-calibration/interval").only().must("interval_months", |months| months as i32)
}

/// How many times older a later reading is at least, to speak for the trend of a hold.
#[must_use]
pub fn later_by(lib: &Library) -> Cited<f64> {
    lib.table("practice/later-reading").only().must("later_ratio", |ratio| ratio)
}

/// Conductance at the highest step over that of the lower ones, above which to look again.
#[must_use]
pub fn step_linearity(lib: &Library) -> Cited<f64> {
    lib.table("practice/step-linearity").only().must("largest_ratio", |ratio| ratio)
}

/// How far a reading may stray from its neighbours, over the current, before it is restless.
#[must_use]
pub fn unrest(lib: &Library) -> Cited<Ratio> {
    lib.table("practice/unrest").only().must("largest_percent", Ratio::from_percent)
}

/// Least part of a range at which a needle is still read with trust.
#[must_use]
pub fn least_of_range(lib: &Library) -> Cited<Ratio> {
    lib.table("practice/least-of-range").only().must("least_percent", Ratio::from_percent)
}

/// Least kelvins that an object stands above the dew point, for its surfaces to count as dry.
#[must_use]
pub fn dew_margin_kelvins(lib: &Library) -> Cited<f64> {
    lib.table("practice/dew-margin").only().must("margin_k", |kelvins| kelvins)
}

/// Most wind on a lead in the open, in metres per second.
#[must_use]
pub fn most_wind_metres_per_second(lib: &Library) -> Cited<f64> {
    lib.table("practice/open-leads").only().must("most_m_per_s", |wind| wind)
}

/// Which temperature stands for that of the insulation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ReadOn {
    /// A thermometer on the object.
    Object,
    /// The air, where nobody measured the object.
    Air,
}

/// Within so many kelvins the insulation is as warm as what was read.
#[must_use]
pub fn temperature_kelvins(lib: &Library, read_on: ReadOn) -> Cited<f64> {
    let column = match read_on {
        ReadOn::Object => "object_k",
        ReadOn::Air => "air_k",
    };
    lib.table("practice/temperature-doubt").only().must(column, |kelvins| kelvins)
}

/// Voltage above which leakage read without a guard may be corona.
#[must_use]
pub fn corona_above(lib: &Library) -> Cited<Voltage> {
    lib.table("practice/corona").only().must("above_kv", Voltage::from_kilovolts)
}

/// Part of the whole current below which that of leads and set alone is subtracted.
#[must_use]
pub fn blank_run_below(lib: &Library) -> Cited<Ratio> {
    lib.table("practice/blank-run").only().must("below_percent", Ratio::from_percent)
}

/// Rating of a cable from which both its ends are guarded and the meter stands at high voltage.
#[must_use]
pub fn guard_both_ends_from(lib: &Library) -> Cited<Voltage> {
    lib.table("gb-practice/guard-both-ends").only().must("from_kv", Voltage::from_kilovolts)
}

/// Which ratio of two readings a ladder is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ladder {
    /// Sixty seconds over thirty.
    AbsorptionRatio,
    /// Ten minutes over one minute.
    PolarizationIndex,
}

/// One rung of a ladder that people rate a ratio by.
#[derive(Clone, Debug, PartialEq)]
pub struct Rung {
    /// Lowest ratio of the rung.
    pub from: f64,
    /// The word for it.
    pub word: String,
}

/// A ladder of words for a ratio, lowest rung first. No standard stands behind it.
#[must_use]
pub fn ladder(lib: &Library, ladder: Ladder) -> Vec<Cited<Rung>> {
    let key = match ladder {
        Ladder::AbsorptionRatio => "absorption-ratio",
        Ladder::PolarizationIndex => "polarization-index",
    };
    let rung = |row: &Row| {
        let word = row.text("word").to_owned();
        row.must("from_ratio", |from| from).map(|from| Rung { from, word })
    };
    lib.table("practice/ladders").matching(&[("ratio_of", key)]).map(rung).collect()
}
