//! What is said of what is round the test.

use quantity::air::AbsoluteHumidity;
use quantity::{Energy, Length, Resistance, Time, Voltage};

use super::{Say, at_least_kilovolts, duration, note, refuse, upward, warn};
use crate::PlanIssue;

/// A concern about what is round the test.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum AroundConcern {
    DateMissing,
    CapacitanceTypical,
    ToolMissing {
        kv: Voltage,
        joules: Energy,
        resistance: Resistance,
    },
    ToolTooSmall {
        what: &'static str,
        has: String,
        needs: String,
    },
    ToolMustCool {
        rated: Energy,
        one: Energy,
        all: Energy,
    },
    GroundUnbounded {
        searched: Time,
        limit: Voltage,
    },
    ObjectTemperatureAssumed,
    TemperatureMissing,
    HighAltitude {
        factor: f64,
    },
    HumidityOutside {
        over_density: AbsoluteHumidity,
        least: AbsoluteHumidity,
        most: AbsoluteHumidity,
    },
    AirUncorrected {
        why: String,
    },
    DistanceUnknown {
        at: Voltage,
    },
    AltitudeMissing {
        up_to: Length,
    },
    LongerForAlternating {
        restricted: Length,
        other: Length,
    },
}

impl Say for AroundConcern {
    fn say(&self) -> PlanIssue {
        match self {
            Self::DateMissing => note(
                "date-missing",
                "The day of the test is not given.".to_owned(),
                "Write [test] date; a verdict is made as of it.".to_owned(),
            ),
            Self::CapacitanceTypical => note(
                "capacitance-typical",
                "Capacitance not given: typical values, as a wide band.".to_owned(),
                "Write the capacitance, or the geometry, for a narrower one.".to_owned(),
            ),
            Self::ToolMissing { kv, joules, resistance } => warn(
                "tool-missing",
                "No discharge tool is named.".to_owned(),
                format!(
                    "Bring one for at least {} and {:.2} at once, of about {resistance:.2}.",
                    at_least_kilovolts(*kv),
                    Energy::from_joules(upward(joules.joules(), 2))
                ),
            ),
            Self::ToolTooSmall { what, has, needs } => refuse(
                "tool-too-small",
                format!("The discharge tool's {what} is {has}; this object needs {needs}."),
                "Do not start before a tool is there that can take it.".to_owned(),
            ),
            Self::ToolMustCool { rated, one, all } => warn(
                "tool-must-cool",
                format!(
                    "The discharge tool takes {one:.3} from each conductor and {all:.3} from all; \
                     it is rated {rated:.3}."
                ),
                "Let it cool between conductors as its maker says, or bring another one."
                    .to_owned(),
            ),
            Self::GroundUnbounded { searched, limit } => warn(
                "ground-unbounded",
                format!(
                    "The model gives back more than {:.0} V even after {} of grounding.",
                    limit.volts(),
                    duration(*searched)
                ),
                "Leave the ground on until the object is used again.".to_owned(),
            ),
            Self::ObjectTemperatureAssumed => note(
                "object-temperature-assumed",
                "The object's own temperature is not given; the ambient was taken.".to_owned(),
                "Measure it at the insulation: [conditions] object_temperature_c.".to_owned(),
            ),
            Self::TemperatureMissing => note(
                "temperature-missing",
                "No temperature is given: resistance cannot be corrected.".to_owned(),
                "Measure it: [conditions] temperature_c and object_temperature_c.".to_owned(),
            ),
            Self::DistanceUnknown { at } => warn(
                "distance-unknown",
                format!("No published distance is held for {at:.3}."),
                "Take the distances from your own safety rules before you start.".to_owned(),
            ),
            Self::AltitudeMissing { up_to } => note(
                "altitude-missing",
                format!(
                    "The height above the sea is not given: distances stand for up to {:.0} m.",
                    up_to.metres()
                ),
                "Write [conditions] altitude_m; thin air lengthens them.".to_owned(),
            ),
            Self::LongerForAlternating { restricted, other } => note(
                "longer-for-alternating",
                format!(
                    "For alternating voltage of the same peak to ground {:.2} m is published, more \
                     than the {:.2} m for direct voltage.",
                    other.metres(),
                    restricted.metres()
                ),
                "Keep the longer of the two where your own rules do not say.".to_owned(),
            ),
            Self::HighAltitude { factor } => warn(
                "high-altitude",
                format!(
                    "Thin air: barrier and restricted distance were multiplied by {factor:.2}."
                ),
                "Expect corona and flashover at a lower voltage than at sea level.".to_owned(),
            ),
            Self::HumidityOutside { over_density, least, most } => warn(
                "humidity-outside",
                format!(
                    "Humidity over density is {:.1} g/m³, outside {} to {} g/m³: no factor of \
                     humidity is published for it.",
                    over_density.grams_per_cubic_metre(),
                    least.grams_per_cubic_metre(),
                    most.grams_per_cubic_metre()
                ),
                if over_density > most {
                    "Expect leakage over surfaces: wipe and dry them, or wait for drier air."
                } else {
                    "Do not rely on Kt: keep to the longer of two distances."
                }
                .to_owned(),
            ),
            Self::AirUncorrected { why } => note(
                "air-uncorrected",
                format!("The strength of the air was not corrected: {why}."),
                "Check [conditions]; in such air keep to the longer of two distances.".to_owned(),
            ),
        }
    }
}
