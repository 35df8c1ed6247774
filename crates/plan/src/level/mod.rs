//! Which level: the published rows for the object, the one taken, what lowered it.

mod apparatus;
mod cable;
mod company;
pub(crate) mod gear;
mod protective;
mod switchgear;
mod winding;

use quantity::{Length, Time, Voltage, VoltageRate};
use standards::library::{Cited, Standing};
use standards::{Citation, Level, Library, Mark};

use crate::arrester;
use crate::course::{Alternative, ChosenLevel};
use crate::job::{AssetClass, Job};
use crate::words::{LevelConcern, Say};
use crate::{PlanIssue, Severity};

/// Time at the owner's level where no row says one. Common practice, no source.
const USUAL_HOLD: Time = Time::from_seconds(60.0);

/// The level to plan with.
pub(crate) struct Taken {
    pub(crate) test: Voltage,
    pub(crate) hold: Time,
    pub(crate) chosen: ChosenLevel,
    /// Published beside the level: water line and rate of rise of rubber goods.
    pub(crate) water_line: Option<Length>,
    pub(crate) water_line_most: Option<Length>,
    pub(crate) rise: Option<Cited<VoltageRate>>,
    /// Everything published that the level rests on.
    pub(crate) sources: Vec<Citation>,
}

/// Something that may lower the level.
struct Cap {
    by: &'static str,
    limit: Voltage,
    source: Option<Citation>,
}

/// What the rows of one class amount to, before the owner's level and the caps.
#[derive(Default)]
struct Rows {
    levels: Vec<Level>,
    caps: Vec<Cap>,
    /// A published limit that stands below the rows, where the job has a level of its own: only a
    /// reason goes above it.
    column: Option<Voltage>,
    water_line: Option<Length>,
    water_line_most: Option<Length>,
    rise: Option<Cited<VoltageRate>>,
    /// The longest time from zero to the level, where one is published.
    rise_within: Option<Cited<Time>>,
}

/// Takes the level for a job; `None` where there is none, the issues saying why.
pub(crate) fn take(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Option<Taken> {
    let before = issues.len();
    let found = match job.asset.class {
        // No rule of anyone's makes a withstand of what conducts.
        AssetClass::Arrester => return arrester::take(job, library, issues),
        AssetClass::Cable => cable::rows(job, library, issues),
        AssetClass::Motor | AssetClass::Generator => winding::rows(job, library, issues),
        AssetClass::Switchgear => switchgear::rows(job, library, issues),
        AssetClass::Protective => protective::rows(job, library, issues),
        AssetClass::Busway | AssetClass::Breaker | AssetClass::Switch => {
            gear::rows(job, library, issues)
        }
        AssetClass::Insulator | AssetClass::Bushing | AssetClass::Capacitor | AssetClass::Other => {
            apparatus::rows(job, library, issues)
        }
    };
    let rows = with_company(job, library, found, before, issues)?;
    if issues.iter().any(|issue| issue.severity == Severity::Refuse) {
        return None;
    }
    let choice = choose(job, &rows.levels, issues)?;
    Some(settle(job, &choice, &rows, issues))
}

/// Issues that say that nothing is published, and nothing else.
const UNPUBLISHED: [&str; 1] = ["no-direct-published"];

/// The rows with the user's own rules before them.
///
/// A rule of the user's own stands in for what is not published, by its reason. It lifts no other
/// refusal.
fn with_company(
    job: &Job,
    library: &Library,
    found: Option<Rows>,
    before: usize,
    issues: &mut Vec<PlanIssue>,
) -> Option<Rows> {
    let published = found.as_ref().map_or(&[][..], |rows| &rows.levels);
    let mut said = Vec::new();
    let mut levels = company::levels(job, library, published, &mut said);
    let unpublished = |issue: &PlanIssue| UNPUBLISHED.contains(&issue.id.as_str());
    let refuses = |issue: &PlanIssue| issue.severity == Severity::Refuse;
    if found.is_none() {
        if levels.is_empty() || issues[before..].iter().any(|it| refuses(it) && !unpublished(it)) {
            issues.extend(said.into_iter().filter(|_| levels.is_empty()));
            return None;
        }
        let known = issues.split_off(before);
        issues.extend(known.into_iter().filter(|issue| !unpublished(issue)));
    }
    issues.extend(said);
    let mut rows = found.unwrap_or_default();
    levels.append(&mut rows.levels);
    for level in &mut levels {
        say_reference(level, library);
    }
    Some(Rows { levels, ..rows })
}

/// A figure that its own text calls a reference is shown so wherever the row is.
fn say_reference(level: &mut Level, library: &Library) {
    let table = library.show(&level.rule);
    let informs = table.is_ok_and(|table| table.standing == Standing::Reference);
    if informs && !level.how.contains(crate::words::NOT_ASKED) {
        level.how.push_str(" (for reference, ");
        level.how.push_str(crate::words::NOT_ASKED);
        level.how.push(')');
    }
}

fn rated(job: &Job, issues: &mut Vec<PlanIssue>) -> Option<Voltage> {
    if job.asset.rated.is_none() {
        issues.push(LevelConcern::RatingMissing.say());
    }
    job.asset.rated
}

fn reason(job: &Job) -> Option<&str> {
    job.test.reason.as_deref().map(str::trim).filter(|reason| !reason.is_empty())
}

/// What the level is taken from.
enum Choice<'a> {
    /// A published row, even where the owner's level then stands above it.
    Row(&'a Level),
    /// The owner's or maker's level alone: no row prints a value.
    OwnersAlone,
}

impl<'a> Choice<'a> {
    fn row(&self) -> Option<&'a Level> {
        match self {
            Self::Row(level) => Some(level),
            Self::OwnersAlone => None,
        }
    }
}

/// The first row that prints a value, or the first of the rule the job names.
fn choose<'a>(job: &Job, levels: &'a [Level], issues: &mut Vec<PlanIssue>) -> Option<Choice<'a>> {
    let with_value = || levels.iter().filter(|level| level.voltage.is_some());
    if let Some(named) = &job.test.rule {
        let found = with_value().find(|level| level.rule.starts_with(named.as_str()));
        if found.is_none() {
            let known = with_value().map(|level| level.rule.clone()).collect();
            issues.push(LevelConcern::RuleNotFound { named: named.clone(), known }.say());
        }
        return found.map(Choice::Row);
    }
    match (with_value().next(), job.test.level, job.asset.rated) {
        (Some(level), ..) => Some(Choice::Row(level)),
        (None, Some(_), _) => Some(Choice::OwnersAlone),
        (None, None, rating) => {
            issues.push(LevelConcern::NoRule { rating: rating.unwrap_or(Voltage::ZERO) }.say());
            None
        }
    }
}

/// The owner's level above the published one, then the caps; says what was done.
fn settle(job: &Job, choice: &Choice, rows: &Rows, issues: &mut Vec<PlanIssue>) -> Taken {
    let row = choice.row();
    let published = row.and_then(|level| level.voltage);
    let before_caps = job.test.level.or(published).unwrap_or(Voltage::ZERO);
    let lowest = rows
        .caps
        .iter()
        .filter(|cap| cap.limit < before_caps)
        .min_by(|one, other| one.limit.volts().total_cmp(&other.limit.volts()));
    let test = lowest.map_or(before_caps, |cap| cap.limit);
    if let Some(cap) = lowest {
        let by = cap.by.to_owned();
        issues.push(LevelConcern::Capped { by, from: before_caps, to: test }.say());
    }
    if let (Choice::OwnersAlone, Some(level)) = (choice, job.test.level) {
        issues.push(LevelConcern::MakersLevel { level }.say());
    }
    say_of_own(job, (published, rows.column), test, issues);
    say_of_level(job, row, issues);
    if let Some(source) = lowest.and_then(|cap| cap.source.as_ref())
        && source.mark == Mark::Memory
        && row.is_none_or(|row| row.source != *source || job.test.level.is_some())
    {
        issues.push(LevelConcern::FromMemory { source: source.clone() }.say());
    }
    let chosen = ChosenLevel {
        published,
        capped_by: lowest.map(|cap| cap.by.to_owned()),
        ..labelled(describe(job, row, &rows.levels), lowest.filter(|_| job.test.level.is_some()))
    };
    let differs = |other: &Alternative| {
        let both = other.voltage.zip(chosen.published);
        both.is_some_and(|(other, taken)| (other - taken).volts().abs() >= 0.5)
    };
    if job.test.level.is_none() && chosen.not_taken.iter().any(differs) {
        issues.push(LevelConcern::RulesDiffer { chosen: Box::new(chosen.clone()) }.say());
    }
    let mut sources = vec![chosen.source.clone()];
    sources.extend(row.and_then(|level| level.hold_source.clone()));
    sources.extend(rows.caps.iter().filter_map(|cap| cap.source.clone()));
    let hold = row.and_then(|level| level.hold).unwrap_or(USUAL_HOLD);
    let within = rows.rise_within.clone().map(|longest| {
        longest.map(|time| VoltageRate::from_volts_per_second(test.volts() / time.seconds()))
    });
    Taken {
        test,
        hold,
        chosen,
        water_line: rows.water_line,
        water_line_most: rows.water_line_most,
        rise: rows.rise.clone().or(within),
        sources,
    }
}

/// The owner's level stands above what is published, by a reason that was typed; without one it
/// refuses.
fn say_of_own(
    job: &Job,
    (published, column): (Option<Voltage>, Option<Voltage>),
    test: Voltage,
    issues: &mut Vec<PlanIssue>,
) {
    let ours = [published, column].into_iter().flatten().reduce(Voltage::min);
    if let (Some(own), Some(published)) = (job.test.level, ours)
        && test.volts() > published.volts() * 1.000_001
    {
        let reason = reason(job).map(str::to_owned);
        issues.push(LevelConcern::OwnAbovePublished { own, published, reason }.say());
    }
}

/// A level of the owner's that something lowered is no longer the owner's: it is called by what
/// lowered it.
fn labelled(level: ChosenLevel, lowered: Option<&Cap>) -> ChosenLevel {
    let Some(cap) = lowered else { return level };
    ChosenLevel {
        rule: cap.source.as_ref().map_or(level.rule, |source| source.id.clone()),
        how: format!("limit of the {}, below the owner's or maker's level", cap.by),
        source: cap.source.clone().unwrap_or(level.source),
        ..level
    }
}

fn say_of_level(job: &Job, row: Option<&Level>, issues: &mut Vec<PlanIssue>) {
    let Some(level) = row else { return };
    if let (false, Some(rating), Some(class)) = (level.exact_class, job.asset.rated, level.class) {
        issues.push(LevelConcern::NearestClass { rating, class }.say());
    }
    if level.source.mark == Mark::Memory && job.test.level.is_none() {
        issues.push(LevelConcern::FromMemory { source: level.source.clone() }.say());
    }
}

/// The level in words, with the rows that were not taken.
fn describe(job: &Job, row: Option<&Level>, levels: &[Level]) -> ChosenLevel {
    let taken = row.filter(|_| job.test.level.is_none());
    let not_taken = levels
        .iter()
        .filter(|other| taken.is_none_or(|taken| *other != taken))
        .map(|other| Alternative {
            rule: other.rule.clone(),
            how: other.how.clone(),
            voltage: other.voltage,
            hold: other.hold,
            source: other.source.clone(),
        })
        .collect();
    ChosenLevel {
        rule: taken.map_or_else(|| "own".to_owned(), |level| level.rule.clone()),
        how: taken.map_or_else(|| "owner's or maker's level".to_owned(), |level| level.how.clone()),
        published: None,
        capped_by: None,
        source: taken.map_or_else(owners_level, |level| level.source.clone()),
        hold_source: row.and_then(|level| level.hold_source.clone()),
        not_taken,
    }
}

/// Where the owner's or maker's level stands.
pub(crate) fn owners_level() -> Citation {
    Citation {
        id: "own".to_owned(),
        title: "The owner's or maker's level".to_owned(),
        edition: "as given for this job".to_owned(),
        place: "[test] test_kv".to_owned(),
        mark: Mark::Own,
    }
}
