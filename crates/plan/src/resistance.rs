//! Insulation resistance: by itself, or before a winding sees any overvoltage.

use physics::course::ObjectRange;
use physics::discharge::Held;
use quantity::{Resistance, Time, Voltage};
use standards::library::Cited;
use standards::switchgear::{ApparatusMinimum, InsulatedBy};
use standards::winding::{self, MinimumQuestion};
use standards::words::{BreakerKind, TestedPart, Winding};
use standards::{Citation, Library, switchgear, tolerance};

use crate::course::{ChosenLevel, Plan, ResistanceTest};
use crate::job::{AssetClass, Job};
use crate::level::{self, Taken, owners_level};
use crate::steps::Stretch;
use crate::words::{CableConcern, GearConcern, LevelConcern, Say, SetConcern, WindingConcern};
use crate::{PlanIssue, descent, object, steps, supply};

/// Long enough for the polarization index.
pub(crate) const INDEX_TIME: Time = Time::from_minutes(10.0);
/// Long enough for the resistance alone.
const RESISTANCE_TIME: Time = Time::from_minutes(1.0);
/// Crest to ground of a system, over its line-to-line voltage: √(2/3).
const CREST_TO_GROUND: f64 = 0.816_496_580_927_726;

/// The voltage of a resistance test by itself; `None` where there is none, the issues saying why.
///
/// Above the crest to ground in service it is an overvoltage, and the class's own rules say how
/// far it may go.
pub(crate) fn take(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Option<Taken> {
    let described = describes_object(job, issues);
    let Some(rated) = job.asset.rated else {
        issues.push(LevelConcern::RatingMissing.say());
        return None;
    };
    let (low, high, source) = published(job, rated, library, issues)?;
    let most = high.max(rated * CREST_TO_GROUND);
    if !described {
        return None;
    }
    let hold = if job.is_machine() { INDEX_TIME } else { RESISTANCE_TIME };
    if let Some(asked) = job.test.level.filter(|asked| *asked > most) {
        issues.push(LevelConcern::ResistanceIsOvervoltage { asked, most }.say());
        let taken = level::take(job, library, issues)?;
        return Some(shorter(hold, taken, issues));
    }
    let own = job.test.level.is_some();
    let (test, capped_by) = lowered(job, job.test.level.unwrap_or(low), issues);
    let chosen = ChosenLevel {
        rule: if own { "own".to_owned() } else { source.id.clone() },
        how: "insulation-resistance test voltage".to_owned(),
        published: Some(low),
        capped_by: capped_by.map(str::to_owned),
        source: if own { owners_level() } else { source.clone() },
        hold_source: None,
        not_taken: Vec::new(),
    };
    Some(Taken {
        test,
        hold,
        sources: vec![chosen.source.clone(), source],
        chosen,
        water_line: None,
        water_line_most: None,
        rise: None,
    })
}

/// What sits on the ends, or is still connected, takes no more in this test than in any other.
fn lowered(
    job: &Job,
    asked: Voltage,
    issues: &mut Vec<PlanIssue>,
) -> (Voltage, Option<&'static str>) {
    let cable = job.asset.cable.as_ref().filter(|_| job.asset.class == AssetClass::Cable);
    let main = cable.filter(|cable| cable.tested_part != Some(TestedPart::Oversheath));
    let gear = job.asset.switchgear.as_ref().filter(|_| object::cables_on(job));
    let limits = [
        (main.and_then(|cable| cable.terminator_limit), "terminators"),
        (gear.and_then(|gear| gear.cables_limit), "connected cables"),
    ];
    for (limit, by) in limits {
        if let Some(to) = limit.filter(|limit| *limit < asked) {
            issues.push(LevelConcern::Capped { by: by.to_owned(), from: asked, to }.say());
            return (to, Some(by));
        }
    }
    (asked, None)
}

/// Above service stress a winding stands no longer than the overvoltage rule lets it: an index
/// that needs ten minutes is read at the published resistance voltage instead.
fn shorter(index: Time, taken: Taken, issues: &mut Vec<PlanIssue>) -> Taken {
    let hold = index.min(taken.hold);
    if hold < index {
        issues.push(WindingConcern::HoldByOvervoltage { hold, index }.say());
    }
    Taken { hold, ..taken }
}

/// Lowest and highest published voltage for a resistance test.
fn published(
    job: &Job,
    rated: Voltage,
    library: &Library,
    issues: &mut Vec<PlanIssue>,
) -> Option<(Voltage, Voltage, Citation)> {
    if job.is_machine() {
        let found = winding::resistance_voltage(library, rated);
        return Some((found.value.low, found.value.high, found.source));
    }
    let Some(guide) = switchgear::resistance_minimum(library, rated) else {
        issues.push(LevelConcern::NoRule { rating: rated }.say());
        return None;
    };
    at_twenty(job, library, &guide, issues);
    Some((guide.value.test, guide.value.test, guide.source))
}

/// The least at 20 °C, and by what a reading at another temperature is brought there.
fn at_twenty(
    job: &Job,
    library: &Library,
    guide: &Cited<ApparatusMinimum>,
    issues: &mut Vec<PlanIssue>,
) {
    if job.asset.class == AssetClass::Cable {
        return;
    }
    let conditions = &job.conditions;
    let oil = job.asset.breaker.as_ref().and_then(|breaker| breaker.kind) == Some(BreakerKind::Oil);
    let by = if oil { InsulatedBy::Oil } else { InsulatedBy::Solid };
    let at = conditions.object_temperature.or(conditions.temperature);
    let factor = at.and_then(|at| switchgear::factor_to_20(library, by, at));
    let (least, source) = (guide.value.minimum, guide.source.clone());
    issues.push(GearConcern::LeastAtTwenty { least, source, at, factor }.say());
}

/// Whether the job says enough of a cable for its capacitance.
fn describes_object(job: &Job, issues: &mut Vec<PlanIssue>) -> bool {
    match (&job.asset.cable, job.asset.class) {
        (None, AssetClass::Cable) => issues.push(LevelConcern::TableMissing("cable").say()),
        (Some(cable), AssetClass::Cable) if cable.insulation.is_none() => {
            issues.push(CableConcern::InsulationMissing.say());
        }
        _ => return true,
    }
    false
}

/// Resistance and index, read before a winding sees any overvoltage.
pub(crate) fn before_steps(
    plan: &mut Plan,
    job: &Job,
    library: &Library,
    range: &ObjectRange,
    issues: &mut Vec<PlanIssue>,
) {
    let Some(rated) = job.asset.rated else { return };
    let machine = job.asset.machine.as_ref();
    let voltage = winding::resistance_voltage(library, rated);
    let winding = machine.and_then(|machine| machine.winding).unwrap_or(Winding::FormWound);
    let indexed = winding == Winding::FormWound;
    let dwell = if indexed { INDEX_TIME } else { RESISTANCE_TIME };
    let stretch = Stretch::new(voltage.value.low, dwell, steps::hold_readings(library, dwell));
    let built_year = machine.and_then(|machine| machine.built_year);
    let question = MinimumQuestion { winding, built_year, rated };
    let minimum = minimum(library, &question, issues);
    if !indexed {
        issues.push(WindingConcern::IndexOfRandom.say());
    }
    let class = machine.and_then(|machine| machine.thermal_class).filter(|_| indexed);
    let index = class.and_then(|class| winding::index_minimum(library, class));
    let held = Held { voltage: voltage.value.low, over: dwell };
    let ground = Some(descent::after_resistance(job, library, range, held));
    let least = tolerance::least_of_range(library).value;
    if let Some(&smallest) = job.set.voltmeter_ranges.first()
        && stretch.level < smallest * least.value()
    {
        let voltage = stretch.level;
        issues.push(SetConcern::ResistanceUnreadable { voltage, smallest }.say());
    }
    plan.sources.push(voltage.source.clone());
    plan.sources.extend(minimum.as_ref().map(|minimum| minimum.source.clone()));
    plan.sources.extend(index.as_ref().map(|index| index.source.clone()));
    let (readings, band) = supply::expected_alone(range, &stretch);
    plan.resistance_test = Some(ResistanceTest {
        voltage: voltage.value.low,
        dwell,
        readings,
        band,
        minimum_at_celsius: minimum.as_ref().map(|_| winding::MINIMUM_AT.celsius()),
        minimum: minimum.map(|minimum| minimum.value),
        index_minimum: index.map(|index| index.value),
        ground,
        source: voltage.source,
    });
}

/// The newest edition's least resistance; says where another edition asks for another.
fn minimum(
    library: &Library,
    question: &MinimumQuestion,
    issues: &mut Vec<PlanIssue>,
) -> Option<Cited<Resistance>> {
    let mut editions = winding::resistance_minimum(library, question).into_iter();
    let newest = editions.next()?;
    let differs = |other: &Cited<Resistance>| (other.value / newest.value - 1.0).abs() > 1e-9;
    if let Some(other) = editions.find(differs) {
        let named = |one: &Cited<Resistance>| {
            (one.value, format!("{}, {}", one.source.title, one.source.edition))
        };
        let (taken, other) = (named(&newest), named(&other));
        issues.push(WindingConcern::MinimaDiffer { taken, other }.say());
    }
    Some(newest)
}
