//! The level as both documents state it: value, rule, mark, and what was not taken.

use plan::Plan;
use plan::course::{Alternative, ChosenLevel};
use plan::job::Method;
use quantity::Current;
use serde::Serialize;
use standards::Citation;

use crate::digits::{joules, kilovolts, span, span_up, trimmed};
use crate::sources::{Sources, cite, named, short};
use crate::words;

#[derive(Serialize)]
pub(crate) struct LevelLine {
    kv: String,
    polarity: &'static str,
    hold: String,
    trip: String,
    /// What the first, the third and the fourth of these are called.
    names: [&'static str; 3],
    rule: String,
    mark: &'static str,
    /// How sure the hold is, where it stands elsewhere than the level.
    hold_mark: Option<&'static str>,
    capped: Option<String>,
    ranges: Option<String>,
    pub(crate) not_taken: Vec<String>,
}

/// Where the current rules and not the voltage: what to stop at.
fn reference_current(plan: &Plan) -> Option<Current> {
    let last = plan.course.last().filter(|_| plan.method == Method::Reference)?;
    Some(last.expected.mid)
}

pub(crate) fn level_line(plan: &Plan) -> Option<LevelLine> {
    let test = plan.test?;
    let level = plan.level.as_ref()?;
    let range = |name: &str, text: Option<String>| text.map(|text| format!("{name} {text}"));
    let ranges: Vec<String> = [
        range("voltmeter", plan.voltmeter_range.map(kilovolts)),
        range("ammeter at the hold", plan.ammeter_range.map(ammeter)),
    ]
    .into_iter()
    .flatten()
    .collect();
    Some(LevelLine {
        kv: trimmed(test.kilovolts(), 3),
        polarity: words::polarity(plan.polarity),
        hold: match reference_current(plan) {
            Some(current) => milliamperes(current),
            None => plan.hold.map_or("–".to_owned(), span),
        },
        names: match reference_current(plan) {
            Some(_) => ["NEVER ABOVE", "STOP AT", "TRIP AT THE TOP"],
            None => ["LEVEL", "HOLD", "TRIP AT THE HOLD"],
        },
        trip: plan.trip.map_or("–".to_owned(), milliamperes),
        rule: format!("{}: {}", cite(&level.source), level.how),
        mark: words::mark(level.source.mark),
        hold_mark: hold_source(level).map(|source| words::mark(source.mark)),
        capped: level.capped_by.clone(),
        not_taken: level
            .not_taken
            .iter()
            .map(|other| passed_over(other, short_of(other)))
            .collect(),
        ranges: (!ranges.is_empty()).then(|| format!("Ranges: {}", ranges.join(", "))),
    })
}

/// The level on a report's page: facts by name, and what was not taken.
pub(crate) struct LevelWords {
    pub(crate) facts: Vec<(&'static str, String)>,
    pub(crate) not_taken: Vec<String>,
}

/// The level with its rule, as a report states it.
pub(crate) fn level_words(plan: &Plan, sources: &mut Sources) -> LevelWords {
    let Some(level) = &plan.level else {
        let none = "none: the plan has no level for this object".to_owned();
        return LevelWords { facts: vec![("Level", none)], not_taken: Vec::new() };
    };
    let rule = format!("{}: {}", cite(&level.source), level.how);
    let source = sources.refer(&level.source);
    let facts = [
        (
            "Level",
            plan.test.map(|test| format!("{} {}", kilovolts(test), words::polarity(plan.polarity))),
        ),
        (
            "Hold",
            plan.hold.map(|hold| match hold_source(level) {
                Some(source) => {
                    let number = sources.refer(source);
                    format!("{} – {} [{number}]", span(hold), words::mark(source.mark))
                }
                None => span(hold),
            }),
        ),
        ("By", Some(format!("{rule} – {} [{source}]", words::mark(level.source.mark)))),
        ("Published", level.published.map(kilovolts)),
        ("Lowered by", level.capped_by.clone()),
        ("Method", Some(format!("{}, {}", words::method(plan.method), steps(plan)))),
        ("Trip", plan.trip.map(|trip| format!("{}, no limit for leakage", milliamperes(trip)))),
        ("Stored", plan.stored_most.map(joules)),
        ("Ground", plan.descent.as_ref().map(|down| span_up(down.ground))),
    ];
    let not_taken = level.not_taken.iter().map(|other| {
        let source = sources.refer(&other.source);
        passed_over(
            other,
            format!(
                "{}, {} [{source}]",
                named(&other.source.title),
                words::mark(other.source.mark)
            ),
        )
    });
    LevelWords {
        facts: facts.into_iter().filter_map(|(name, text)| Some((name, text?))).collect(),
        not_taken: not_taken.collect(),
    }
}

/// How many there are.
fn steps(plan: &Plan) -> String {
    match plan.course.len() {
        1 => "1 step".to_owned(),
        count => format!("{count} steps"),
    }
}

/// Where the hold stands, when that is less sure or more than where the level stands.
fn hold_source(level: &ChosenLevel) -> Option<&Citation> {
    level.hold_source.as_ref().filter(|source| source.mark != level.source.mark)
}

fn passed_over(other: &Alternative, source: String) -> String {
    let value = other.voltage.map_or("no value".to_owned(), kilovolts);
    let hold = other.hold.map(|hold| format!(" for {}", span(hold))).unwrap_or_default();
    format!("{value}{hold}, {} ({source})", other.how)
}

fn short_of(other: &Alternative) -> String {
    short(&other.source.title, other.source.mark)
}

fn milliamperes(current: Current) -> String {
    format!("{} mA", trimmed(current.milliamperes(), 3))
}

fn ammeter(range: Current) -> String {
    match range.milliamperes() < 1.0 {
        true => format!("{} µA", trimmed(range.microamperes(), 1)),
        false => milliamperes(range),
    }
}
