//! Every sentence the planner says, one file per kind of concern.

mod around;
mod arrester;
mod cable;
mod connection;
mod distances;
mod gear;
mod judged;
mod laid;
mod level;
mod measured;
mod object;
mod own;
mod ready;
mod set;
mod winding;

use quantity::{Current, Length, Time, Voltage};

use crate::air::Air;
use crate::course::{Plan, PlanIssue, Severity};
use crate::job::{AssetClass, Job, Method, Polarity};

pub(crate) use around::AroundConcern;
pub(crate) use arrester::ArresterConcern;
pub(crate) use cable::CableConcern;
pub(crate) use connection::{
    Circuit, ConnectionConcern, blank_run_otherwise, meter_link, meter_question,
};
pub use connection::{blank_run, connected};
pub use distances::{NotTaken, distances_not_taken, ends, metres_and_feet};
pub(crate) use distances::{ac_equivalent_how, end_of};
pub(crate) use gear::GearConcern;
pub use judged::not_met;
pub(crate) use judged::{Criterion, criterion};
pub(crate) use laid::LaidConcern;
pub(crate) use level::LevelConcern;
pub(crate) use object::ObjectConcern;
pub use own::loosens;
pub(crate) use own::{NOT_ASKED, OwnConcern};
pub(crate) use ready::ReadyConcern;
pub(crate) use set::{Binds, CannotCarry, SetConcern, set_fits};
pub(crate) use winding::{Measured, WindingConcern};

/// What can be said as an issue of the plan.
pub(crate) trait Say {
    /// The issue as it is printed.
    fn say(&self) -> PlanIssue;
}

fn issue(severity: Severity, id: &str, text: String, remedy: String) -> PlanIssue {
    PlanIssue { id: id.to_owned(), severity, text, remedy }
}

fn refuse(id: &str, text: String, remedy: String) -> PlanIssue {
    issue(Severity::Refuse, id, text, remedy)
}

fn warn(id: &str, text: String, remedy: String) -> PlanIssue {
    issue(Severity::Warn, id, text, remedy)
}

fn note(id: &str, text: String, remedy: String) -> PlanIssue {
    issue(Severity::Note, id, text, remedy)
}

/// The air in one line; `None` where nothing of it can be said.
#[must_use]
pub fn air(air: &Air) -> Option<String> {
    let humidity = air.absolute_humidity.map(|h| h.grams_per_cubic_metre());
    let doubt = air.kt_expanded.map(|u| format!(" ± {:.2}", u.value())).unwrap_or_default();
    let said: Vec<String> = [
        air.relative_density.map(|delta| format!("density {:.3} of reference", delta.value())),
        humidity.map(|grams| format!("{grams:.1} g/m³ of water")),
        air.dew_point.map(|dew_point| format!("dew point {dew_point}")),
        air.kt.map(|kt| format!("a gap withstands {:.2}{doubt} of reference (Kt)", kt.value())),
        air.kt_change_per_km
            .map(|change| format!("{:.0} % less for each km of height", -change.percent())),
    ]
    .into_iter()
    .flatten()
    .collect();
    (!said.is_empty()).then(|| said.join(", "))
}

/// What published rules ask of the ground, where it is less than what stands, a line each.
#[must_use]
pub fn grounds_not_taken(plan: &Plan) -> Vec<NotTaken<'_>> {
    let Some(down) = &plan.descent else { return Vec::new() };
    let shorter = down.published_grounds.iter().filter(|rule| rule.ground < down.ground * 0.999);
    shorter
        .map(|rule| {
            let least = if rule.at_least > Time::ZERO {
                format!(", at least {}", duration(rule.at_least))
            } else {
                String::new()
            };
            let text = format!(
                "{} times the time at voltage{least} = {}",
                rule.times_at_voltage,
                at_least(rule.ground)
            );
            NotTaken { text, source: &rule.source }
        })
        .collect()
}

/// A water line, and how far it may go; `None` for what is not filled with water.
#[must_use]
pub fn water_line(plan: &Plan) -> Option<String> {
    let millimetres = |line: Length| format!("{:.0} mm", line.millimetres());
    let most = plan.water_line_most.map(millimetres).map_or_else(String::new, |most| {
        format!(", at most {most} where the air makes the test impractical at it")
    });
    plan.water_line.map(|line| millimetres(line) + &most)
}

/// The object in a few words, for the head of a sheet.
pub(crate) fn object(job: &Job) -> String {
    let rated = job.asset.rated.map(kilovolts);
    let mut words: Vec<String> = rated.into_iter().collect();
    match job.asset.class {
        AssetClass::Cable => {
            if let Some(cable) = &job.asset.cable {
                words.extend(cable.insulation_level_percent.map(|level| format!("{level} %")));
                words.extend(cable.insulation.map(|kind| kind.key().to_uppercase()));
                words.push("cable".to_owned());
                words.extend(cable.length.map(|length| format!("{:.0} m", length.metres())));
                words.extend(cable.in_service_years.map(age));
            }
        }
        AssetClass::Motor | AssetClass::Generator => {
            let machine = job.asset.machine.as_ref();
            let winding = machine.and_then(|machine| machine.winding);
            words.extend(winding.map(|winding| winding.key().to_owned()));
            words.push(job.asset.class.key().to_owned());
            let state = machine.and_then(|machine| machine.winding_state);
            words.extend(state.map(|state| state.key().to_owned()));
        }
        AssetClass::Switchgear => {
            words.extend(job.asset.switchgear.as_ref().map(|gear| gear.kind.key().to_owned()));
            words.push("switchgear".to_owned());
        }
        AssetClass::Protective => {
            if let Some(item) = &job.asset.protective {
                words.extend(item.class.map(|class| format!("class {}", class.key())));
                words.push(item.item.key().to_owned());
            }
        }
        AssetClass::Insulator
        | AssetClass::Arrester
        | AssetClass::Busway
        | AssetClass::Breaker
        | AssetClass::Switch
        | AssetClass::Bushing
        | AssetClass::Capacitor
        | AssetClass::Other => words.push(job.asset.class.key().to_owned()),
    }
    words.join(" ")
}

fn age(years: f64) -> String {
    if years > 0.0 { format!("{years} years in service") } else { "new".to_owned() }
}

impl AssetClass {
    /// The word as it stands in job files.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Cable => "cable",
            Self::Switchgear => "switchgear",
            Self::Motor => "motor",
            Self::Generator => "generator",
            Self::Protective => "protective",
            Self::Insulator => "insulator",
            Self::Arrester => "arrester",
            Self::Busway => "busway",
            Self::Breaker => "breaker",
            Self::Switch => "switch",
            Self::Bushing => "bushing",
            Self::Capacitor => "capacitor",
            Self::Other => "other",
        }
    }
}

impl Polarity {
    /// The word as it stands in job files.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Negative => "negative",
            Self::Positive => "positive",
        }
    }
}

impl Method {
    /// The word as it stands in job files.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Resistance => "resistance",
            Self::Withstand => "withstand",
            Self::Step => "step",
            Self::Graded => "graded",
            Self::Ramp => "ramp",
            Self::Reference => "reference",
        }
    }
}

/// A voltage in kilovolts, to the volt, without zeros that say nothing: `29.325 kV`, `65 kV`.
#[must_use]
pub fn kilovolts(voltage: Voltage) -> String {
    let digits = format!("{:.3}", voltage.kilovolts());
    format!("{} kV", digits.trim_end_matches('0').trim_end_matches('.'))
}

/// A figure that must not be said too small: upwards to so many digits.
#[must_use]
pub(crate) fn upward(value: f64, digits: i32) -> f64 {
    if value <= 0.0 || !value.is_finite() {
        return value;
    }
    let unit = 10f64.powi(value.log10().floor() as i32 + 1 - digits);
    // A thousandth of a millionth is what arithmetic may add.
    (value / unit - 1e-9).ceil() * unit
}

/// A current that must be there at least, to two digits.
fn at_least_current(current: Current) -> String {
    format!("{:.2}", Current::from_amperes(upward(current.amperes(), 2)))
}

/// A voltage that must be reached at least: upwards to the volt.
pub(crate) fn at_least_kilovolts(voltage: Voltage) -> String {
    kilovolts(Voltage::from_volts((voltage.volts() - 1e-6).ceil()))
}

/// What a person typed, ended as a sentence.
fn sentence(typed: &str) -> String {
    let ended = typed.ends_with(['.', '!', '?']);
    if ended { typed.to_owned() } else { format!("{typed}.") }
}

/// A span of time as a clock shows it: `0:42`, `12:05`, `1:00:00`; what is past is none.
#[must_use]
pub fn clock(time: Time) -> String {
    let all = time.seconds().max(0.0).ceil() as u64;
    let (hours, minutes, seconds) = (all / 3600, all / 60 % 60, all % 60);
    if hours > 0 {
        format!("{hours}:{minutes:02}:{seconds:02}")
    } else {
        format!("{minutes}:{seconds:02}")
    }
}

/// A current as it is printed in a table: no digit lost, no zero that says nothing.
pub(crate) fn current(current: Current) -> String {
    let micro = (current.microamperes() * 1e6).round() / 1e6;
    if micro >= 1000.0 { format!("{} mA", micro / 1e3) } else { format!("{micro} µA") }
}

/// A span of time as people say it: `45 s`, `12 min`, `2 h 05 min`.
#[must_use]
pub fn duration(span: Time) -> String {
    let seconds = span.seconds();
    if !seconds.is_finite() {
        return "unknown".to_owned();
    }
    if seconds < 0.01 {
        return "under 0.01 s".to_owned();
    }
    if seconds < 0.95 {
        return format!("{seconds:.2} s");
    }
    if seconds < 99.5 {
        return format!("{seconds:.0} s");
    }
    let minutes = (seconds / 60.0).ceil();
    if minutes < 100.0 {
        let whole = (seconds / 60.0).round();
        return if (seconds - whole * 60.0).abs() < 1.0 {
            format!("{whole:.0} min")
        } else {
            format!("{:.1} min", seconds / 60.0)
        };
    }
    format!("{:.0} h {:02.0} min", (minutes / 60.0).floor(), minutes % 60.0)
}

/// The same where it must not be cut short: upwards to the whole second, or tenth of a minute.
#[must_use]
pub fn at_least(span: Time) -> String {
    let step = if span.seconds() < 99.0 { 1.0 } else { 6.0 };
    // A thousandth of a millionth is what arithmetic may add.
    duration(Time::from_seconds((span.seconds() / step - 1e-9).ceil() * step))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_read_as_people_say_them() {
        for (seconds, expected) in [
            (0.003, "under 0.01 s"),
            (0.31, "0.31 s"),
            (45.0, "45 s"),
            (900.0, "15 min"),
            (90.0, "90 s"),
            (7500.0, "2 h 05 min"),
        ] {
            assert_eq!(duration(Time::from_seconds(seconds)), expected);
        }
    }

    // Derived: seconds up to the next whole one, from 99 s on to the next six.
    #[test]
    fn what_protects_is_never_said_shorter_than_it_is() {
        for (seconds, expected) in [
            (0.3, "1 s"),
            (10.0, "10 s"),
            (12.04, "13 s"),
            (98.5, "99 s"),
            (99.1, "1.7 min"),
            (614.0, "10.3 min"),
            (840.0, "14 min"),
        ] {
            assert_eq!(at_least(Time::from_seconds(seconds)), expected);
        }
    }

    // Derived: a tool of the figure that is said must take what it is said for.
    #[test]
    fn what_must_be_there_is_never_said_smaller_than_it_is() {
        for (value, digits, expected) in [
            (29_325.0, 3, 29_400.0),
            (50.26, 2, 51.0),
            (50.0, 2, 50.0),
            (1.8e-3, 2, 1.8e-3),
            (0.000_445_1, 2, 0.000_45),
            (0.0, 2, 0.0),
        ] {
            let said = upward(value, digits);
            assert!((said / expected - 1.0).abs() < 1e-9 || said == expected, "{value}: {said}");
        }
        assert_eq!(at_least_kilovolts(Voltage::from_volts(29_325.3)), "29.326 kV");
        assert_eq!(at_least_kilovolts(Voltage::from_volts(1.7 * 1.25 * 13_800.0)), "29.325 kV");
        assert_eq!(at_least_current(Current::from_milliamperes(2.708)), "2.8 mA");
    }

    // Derived: 1.7 x 1.25 x 13.8 kV is 29.325 kV; 1.7 x 0.75 x (2 x 13.8 + 1) kV is 36.465 kV.
    #[test]
    fn a_level_is_said_to_the_volt() {
        for (volts, expected) in [
            (1.7 * 1.25 * 13_800.0, "29.325 kV"),
            (1.7 * 0.75 * 28_600.0, "36.465 kV"),
            (65_000.0, "65 kV"),
            (37_500.0, "37.5 kV"),
            (460.0, "0.46 kV"),
            (100_000.0, "100 kV"),
        ] {
            assert_eq!(kilovolts(Voltage::from_volts(volts)), expected);
        }
    }
}
