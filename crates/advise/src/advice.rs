//! What is advised at one instant.

use quantity::{Band, Current, Ratio, Time, Voltage};
use session::counts::why;
use session::record::Strength;
use session::role::Role;

/// Advice of one conductor at one instant; the hand stays the operator's.
#[derive(Clone, Debug, PartialEq)]
pub struct Advice {
    /// How strongly.
    pub strength: Strength,
    /// The reason that weighs most.
    pub reason: Reason,
    /// The other reasons, the weightiest first.
    pub others: Vec<Reason>,
    /// The current to expect now, as far as the readings so far tell.
    pub band: Option<Band<Current>>,
    /// What the next step is expected to bring.
    pub next_step: Option<NextStep>,
    /// Where conduction would run away, where that can be told; a model's estimate.
    pub forecast: Option<Forecast>,
    /// What may be on the conductor now.
    pub residual: Option<Band<Voltage>>,
    /// What is left of the current the set can give: 1 none is used, 0 it is at its limit.
    pub charging_margin: Option<f64>,
    /// How long the next step is best stayed at, where the method is graded.
    pub next_dwell: Option<Time>,
}

/// What the next step is expected to bring.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NextStep {
    /// Its level.
    pub level: Voltage,
    /// The current at its first reading.
    pub expected: Band<Current>,
    /// What is left to the trip then, by the upper end: 1 nothing flows, 0 it trips.
    pub trip_margin: Option<f64>,
}

/// Where conduction would run away, as a model's estimate and no rating.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Forecast {
    /// 2.5 %.
    pub low: Voltage,
    /// Middle.
    pub mid: Voltage,
    /// 97.5 %.
    pub high: Voltage,
    /// Where to stop instead of the plan's highest level; never above that.
    pub stop_at: Option<Voltage>,
}

/// A value that is not read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unread {
    /// The voltage.
    Voltage,
    /// The current.
    Current,
}

/// Why.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Reason {
    /// Nothing was read yet.
    NothingRead,
    /// The readings lie as expected.
    AsExpected,
    /// Leads and set alone: no object is advised on.
    Blank,
    /// The voltage is off; what is left is what matters.
    ComingDown {
        /// What may be left.
        left: Option<Voltage>,
    },
    /// No reading for so long.
    Late {
        /// How long.
        since: Time,
    },
    /// One of the two values was not read for so long, while the other was.
    Unread {
        /// Which.
        what: Unread,
        /// How long.
        since: Time,
    },
    /// The current is read with a sign against that of the voltage; its size is advised on.
    Against,
    /// A meter shows overload: its value is missing.
    OverRange,
    /// The meter nears the end of its range.
    RangeEnd {
        /// The part of the range that the current takes.
        part: Ratio,
        /// The range.
        range: Current,
    },
    /// The voltage is not at the level of the step.
    OffStep {
        /// What is read.
        voltage: Voltage,
        /// What is planned.
        level: Voltage,
    },
    /// The voltage lies above the plan's highest level.
    AboveLevel {
        /// What is read.
        voltage: Voltage,
        /// The highest level.
        level: Voltage,
    },
    /// The current lies above what was expected.
    AboveBand {
        /// What is read.
        current: Current,
        /// The upper end.
        high: Current,
    },
    /// The current rises while the voltage stands.
    Rising {
        /// How much since it was lowest, as a part.
        by: Ratio,
        /// How long until it doubles as it rises now; `None` where that is far.
        doubles_in: Option<Time>,
    },
    /// The current jumped while the voltage stood.
    Jump {
        /// From here.
        from: Current,
        /// To here.
        to: Current,
    },
    /// The current is restless, more than it was.
    Unrest {
        /// Its scatter as a part of the current.
        part: Ratio,
    },
    /// The current grows faster than the voltage.
    TurnsUp {
        /// By how much it exceeds what the steps before led to expect, as a part.
        excess: Ratio,
        /// At this voltage.
        at: Voltage,
    },
    /// The next step is expected to pass the trip.
    TripNear {
        /// The next level.
        level: Voltage,
        /// The current it may bring.
        current: Current,
        /// The trip as it is set then.
        trip: Current,
    },
    /// The next step reaches where conduction is forecast to run away; a model's estimate.
    ForecastNear {
        /// The next level.
        level: Voltage,
        /// The lower end of the forecast.
        low: Voltage,
    },
    /// The rise is too fast for the set: the charging current nears its limit.
    ChargingLimit {
        /// The part of the limit that is taken.
        part: Ratio,
    },
    /// The voltage drops at the same dial while the current rises.
    Sagging {
        /// By how much.
        by: Voltage,
    },
    /// Above this, without a guard, corona is suspected before the insulation: no forecast is
    /// made.
    Corona {
        /// The voltage.
        above: Voltage,
    },
    /// The guard of the far end was not heard in time.
    FarEndSilent {
        /// For how long, when it was noticed.
        time: Time,
    },
    /// Somebody calls for the voltage to come down.
    Called {
        /// Who.
        role: Role,
        /// Why, in words; may be empty.
        text: String,
    },
}

impl Reason {
    /// The word for it that does not change, as it stands in records.
    #[must_use]
    pub const fn key(&self) -> &'static str {
        match self {
            Self::NothingRead => "nothing-read",
            Self::AsExpected => "as-expected",
            Self::Blank => "blank",
            Self::ComingDown { .. } => why::COMING_DOWN,
            Self::Late { .. } => "late",
            Self::Unread { what: Unread::Voltage, .. } => "voltage-unread",
            Self::Unread { what: Unread::Current, .. } => "current-unread",
            Self::Against => "against-the-voltage",
            Self::OverRange => "over-range",
            Self::RangeEnd { .. } => "range-end",
            Self::OffStep { .. } => "off-step",
            Self::AboveLevel { .. } => "above-level",
            Self::AboveBand { .. } => "above-band",
            Self::Rising { .. } => why::RISING,
            Self::Jump { .. } => why::JUMP,
            Self::Unrest { .. } => why::UNREST,
            Self::TurnsUp { .. } => why::TURNS_UP,
            Self::TripNear { .. } => "trip-near",
            Self::ForecastNear { .. } => why::FORECAST_NEAR,
            Self::ChargingLimit { .. } => "charging-limit",
            Self::Sagging { .. } => "sagging",
            Self::Corona { .. } => "corona",
            Self::FarEndSilent { .. } => "far-end-silent",
            Self::Called { .. } => "called",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Derived: records that are kept hold these words, and verdicts are made of them again;
    /// another word would take their advice to come down out of the verdict.
    #[test]
    fn the_words_that_verdicts_read_are_those_of_kept_records() {
        let (amps, volts) = (Current::ZERO, Voltage::ZERO);
        let part = Ratio::from_value(0.1);
        let check = |reason: &Reason, word: &str| assert_eq!(reason.key(), word);
        check(&Reason::Rising { by: part, doubles_in: None }, "rising");
        check(&Reason::Jump { from: amps, to: amps }, "jump");
        check(&Reason::Unrest { part }, "unrest");
        check(&Reason::TurnsUp { excess: part, at: volts }, "turns-up");
        check(&Reason::ForecastNear { level: volts, low: volts }, "forecast-near");
        check(&Reason::ComingDown { left: None }, "coming-down");
    }
}
