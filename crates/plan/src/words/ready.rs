//! What is said of the answers that are asked for first.

use quantity::Temperature;

use super::{Say, refuse, warn};
use crate::PlanIssue;

/// A concern about what must be so before the first voltage.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum ReadyConcern {
    /// A question of the table, answered the wrong way.
    Wrong {
        id: &'static str,
        key: &'static str,
        why: &'static str,
        remedy: &'static str,
    },
    CoolantFilled,
    GasNotTested,
    Wet {
        object: Temperature,
        dew_point: Temperature,
    },
    NearlyWet {
        object: Temperature,
        dew_point: Temperature,
        margin: f64,
    },
    Rain,
    Wind {
        wind: f64,
        most: f64,
    },
    /// Two parts that one person cannot have.
    OnePersonTwoParts {
        name: String,
        parts: [&'static str; 2],
    },
}

impl Say for ReadyConcern {
    fn say(&self) -> PlanIssue {
        match self {
            Self::Wrong { id, key, why, remedy } => refuse(
                &format!("ready-{id}"),
                (*why).to_owned(),
                format!("{remedy} Then correct [ready] {key}."),
            ),
            Self::CoolantFilled => refuse(
                "ready-coolant",
                "Liquid is in the coolant passages: it carries the current and may boil."
                    .to_owned(),
                "Drain and dry them, or follow the maker's written method for this test; then \
                 correct [ready] coolant."
                    .to_owned(),
            ),
            Self::GasNotTested => refuse(
                "ready-gas-tested",
                "The vault was not tested for gas: a spark can set it off.".to_owned(),
                "Test its air by the rules for enclosed spaces, ventilate; then correct [ready] \
                 gas_tested."
                    .to_owned(),
            ),
            Self::Wet { object, dew_point } => refuse(
                "dew",
                format!("The object at {object} is not above the dew point of {dew_point}."),
                "Warm it before voltage: water on a surface leaks, and may flash over.".to_owned(),
            ),
            Self::NearlyWet { object, dew_point, margin } => warn(
                "dew-near",
                format!(
                    "The object at {object} is less than {margin:.0} K above the dew point of \
                     {dew_point}."
                ),
                "Warm it, or measure again close before voltage (common practice, no source)."
                    .to_owned(),
            ),
            Self::Rain => refuse(
                "ready-leads-dry",
                "It rains on open leads: what the meter reads is the water.".to_owned(),
                "Wait for dry weather, or bring lead and ends under cover; then correct [ready] \
                 rain."
                    .to_owned(),
            ),
            Self::Wind { wind, most } => refuse(
                "ready-wind",
                format!(
                    "Wind of {wind:.1} m/s on open leads is above {most:.0} m/s (common practice, \
                     no source): a lead that moves changes its distances."
                ),
                "Wait, or tie the lead down under cover; then correct [ready] wind_m_per_s."
                    .to_owned(),
            ),
            Self::OnePersonTwoParts { name, parts: [one, other] } => refuse(
                "one-person-two-parts",
                format!("{name} cannot be {one} and {other} at once."),
                "Name another person in [people]: two at least, and one only watches.".to_owned(),
            ),
        }
    }
}
