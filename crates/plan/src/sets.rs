//! Which of the sets at hand can run the course, and why.
//!
//! Voltage and current by the course itself; beside them the polarity, the duty, what mains or a
//! generator gives, and the ripple.

use physics::course::ObjectRange;
use quantity::{Current, Time, Voltage, VoltageRate, edge};
use serde::{Deserialize, Serialize};
use standards::{Library, tolerance, typical};

use crate::job::{Job, TestSet};
use crate::steps::Stretch;
use crate::supply::{self, Fitted, Wanted};
use crate::words::{Say, SetConcern, set_fits};
use crate::{PlanIssue, Severity};

/// One set against the course.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SetFit {
    /// The owner's name for it, or where it stands in the job.
    pub id: String,
    /// Whether the course is planned with it.
    pub chosen: bool,
    /// Whether it can run the course.
    pub fit: bool,
    /// Why, or why not and what would.
    pub why: String,
    /// How fast it can rise.
    #[serde(rename = "rise_kv_per_s", with = "edge::kv_per_s")]
    pub rise: Option<VoltageRate>,
    /// The most that flows while it rises, with its own discharge path.
    #[serde(rename = "highest_ma", with = "edge::ma")]
    pub highest: Option<Current>,
    /// One conductor, from energising to the end of the hold.
    #[serde(rename = "at_voltage_s", with = "edge::s")]
    pub at_voltage: Option<Time>,
    /// What it draws from mains or generator meanwhile, at the most, in volt-amperes.
    pub drawn_va: Option<f64>,
}

/// What every set is held against.
pub(crate) struct Course<'a> {
    pub(crate) object: &'a ObjectRange,
    pub(crate) stretches: &'a [Stretch],
    pub(crate) preferred: VoltageRate,
    pub(crate) wanted: Wanted,
}

impl<'a> Course<'a> {
    pub(crate) fn new(
        job: &Job,
        library: &Library,
        object: &'a ObjectRange,
        stretches: &'a [Stretch],
        preferred: VoltageRate,
    ) -> Self {
        let wanted = Wanted {
            rule: typical::trip_factors(library).value,
            least_of_range: tolerance::least_of_range(library).value.value(),
            range_gap: typical::range_change(library).value,
            demand: typical::supply_demand(library).value,
            together: job.is_machine() && job.has_phases() && job.conductors().len() == 1,
        };
        Self { object, stretches, preferred, wanted }
    }

    /// The course as one set can run it; `None` where it cannot, the issues saying why.
    pub(crate) fn run_by(
        &self,
        set: &TestSet,
        job: &Job,
        library: &Library,
        issues: &mut Vec<PlanIssue>,
    ) -> Option<Fitted> {
        let Self { object, stretches, preferred, wanted } = self;
        if let Some(fixed) = set.polarity.filter(|fixed| *fixed != job.test.polarity) {
            let asked = job.test.polarity;
            issues.push(SetConcern::PolarityFixed { fixed, asked }.say());
        }
        let fitted = supply::fit(set, object, stretches, *preferred, wanted, issues)?;
        beside(set, &fitted, library, issues);
        Some(fitted)
    }

    fn level(&self) -> Voltage {
        self.stretches.last().map_or(Voltage::ZERO, |hold| hold.level)
    }
}

/// What is asked of a set beside voltage and current.
fn beside(set: &TestSet, fitted: &Fitted, library: &Library, issues: &mut Vec<PlanIssue>) {
    let needed = at_voltage(fitted);
    if let Some(on) = set.duty_on.filter(|on| *on < needed) {
        issues.push(SetConcern::DutyTooShort { on, needed }.say());
    } else if let (Some(after), Some(rest)) = (set.duty_on, set.duty_off) {
        issues.push(SetConcern::Rest { after, rest }.say());
    }
    let most = tolerance::ripple(library).value;
    let level = fitted.course.last().map(|hold| hold.level);
    if let (Some(factor), Some(level)) = (set.ripple.filter(|factor| *factor > most), level) {
        let peak = level * (1.0 + factor.value());
        issues.push(SetConcern::Ripples { factor, most, peak }.say());
    }
}

fn at_voltage(fitted: &Fitted) -> Time {
    fitted.course.iter().fold(Time::ZERO, |sum, step| sum + step.rise_time + step.dwell)
}

/// Every set of the job against its course, the planned one first.
pub(crate) fn compare(course: &Course, job: &Job, library: &Library) -> Vec<SetFit> {
    let sets = std::iter::once(&job.set).chain(&job.sets_at_hand).enumerate();
    sets.map(|(place, set)| one(course, (place, set), job, library)).collect()
}

fn one(course: &Course, (place, set): (usize, &TestSet), job: &Job, library: &Library) -> SetFit {
    let mut issues = Vec::new();
    let fitted = course.run_by(set, job, library, &mut issues);
    let against: Vec<&PlanIssue> =
        issues.iter().filter(|issue| issue.severity == Severity::Refuse).collect();
    let fitted = fitted.filter(|_| against.is_empty());
    let level = course.level();
    let highest = fitted.as_ref().map(|fitted| {
        let most = |most: Current, rising: Current| most.max(rising);
        fitted.course.iter().map(|step| step.rising.high).fold(Current::ZERO, most)
            + supply::bleeding(set, level)
    });
    let rise = fitted.as_ref().and_then(|fitted| fitted.course.last()).map(|step| step.rise);
    let at_voltage = fitted.as_ref().map(at_voltage);
    SetFit {
        id: set.id.clone().unwrap_or_else(|| match place {
            0 => "set".to_owned(),
            _ => format!("set at hand {place}"),
        }),
        chosen: place == 0,
        fit: fitted.is_some(),
        why: match (rise, highest, at_voltage) {
            (Some(rise), Some(highest), Some(whole)) => set_fits(rise, highest, whole, set),
            _ => against
                .iter()
                .map(|issue| format!("{} {}", issue.text, issue.remedy))
                .collect::<Vec<_>>()
                .join(" "),
        },
        rise,
        highest,
        at_voltage,
        drawn_va: highest.map(|highest| course.wanted.drawn(highest, level)),
    }
}
