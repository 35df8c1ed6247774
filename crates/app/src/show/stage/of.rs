//! The scene of a view.

use std::hash::{DefaultHasher, Hash as _, Hasher as _};

use plan::words::{clock, duration};
use quantity::{Current, Time, Voltage};
use session::live::view::{ConductorView, LastRead, StepView};
use session::live::{Next, View};
use session::record::Kind;

use super::words::waited_for;
use super::{
    Advice, Conductor, Countdown, Expected, FarEnd, Lies, Scene, Section, Standing, Trip, Wait,
    advised,
};
use crate::drive::counsel::Given;
use crate::drive::pages::Moment;

/// Silence after which the link counts as lost on the screen.
const SILENT: Time = Time::from_seconds(2.0);

/// So much of a record's number tells it from others.
const SHORT: usize = 13;

/// What a view does not know of its record.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct About<'a> {
    /// The owner's name for the object.
    pub(crate) asset: &'a str,
    /// The record's number.
    pub(crate) record: &'a str,
    /// Events that are durable.
    pub(crate) kept: u64,
    /// What needs a hand until it is put right.
    pub(crate) standing: &'a [String],
    /// What is advised, where the record is at work.
    pub(crate) given: Option<&'a Given>,
    /// What happened last, the newest at the end.
    pub(crate) messages: &'a [String],
    /// The conductor that the next key is of.
    pub(crate) meant: Meant,
}

impl<'a> About<'a> {
    /// With what the loop of a record tells at a moment.
    pub(crate) fn with<'b>(self, moment: &'b Moment) -> About<'b>
    where
        'a: 'b,
    {
        let Moment { standing, messages, .. } = moment;
        About { kept: moment.kept, standing, messages, given: moment.given.as_ref(), ..self }
    }
}

/// The conductor that the next key is of.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Meant {
    /// The one that the next thing to do names, or else the one in the largest words.
    #[default]
    Next,
    /// This one.
    Picked(usize),
}

/// The conductor that a line beginning so is of: the one that was picked, or the one that the next
/// thing to do names where the line does that, or else the one in the large words.
pub(crate) fn meant(words: &str, picked: Meant, view: &View) -> usize {
    let word = words.split_whitespace().next().unwrap_or_default();
    let asked = view.next.of().filter(|(act, _)| act.key() == word);
    let asked = asked.and_then(|(_, name)| view.conductors.iter().position(|one| one.name == name));
    match picked {
        Meant::Picked(index) => index,
        Meant::Next => asked.unwrap_or(view.focus),
    }
}

impl Scene {
    /// What is shown of a record at work.
    pub(crate) fn of(view: &View, about: &About<'_>) -> Self {
        let focus = view.conductors.get(view.focus);
        let silent = view.silent.is_some_and(|silent| silent >= SILENT);
        let state = state(view, silent);
        let given = about.given;
        // On the way down nothing flows that the readings at a level told of.
        let fed = given.filter(|_| focus.is_some_and(|one| one.state.is_energised()));
        let current_now = view.current.as_ref().and_then(|last| last.value);
        let by_plan = view.expected.map_or(Lies::Unknown, |band| Lies::of(band, current_now));
        let picked = match about.meant {
            Meant::Picked(index) => index,
            Meant::Next => view.focus,
        };
        let conductors = view.conductors.iter().enumerate();
        let range = view.step.as_ref().and_then(|step| step.ammeter_range);
        let wait = waited_for(view).map(|(what, left)| Wait { what, time: countdown(left) });
        Self {
            head: head(view, about),
            state,
            state_word: state.word(),
            shape: state.shape(),
            of: focus.map(|one| of(one, view.step.as_ref())).unwrap_or_default(),
            kilovolts: kilovolts(view.voltage.as_ref()),
            kilovolts_note: kilovolts_note(view),
            next: view.next.to_string(),
            current: current(view.current.as_ref()),
            charging: advised::charging(view, given),
            advice: Advice::of(view, silent, given, by_plan),
            outlook: advised::outlook(view, given),
            ahead: advised::ahead(fed),
            ahead_said: advised::ahead_said(fed),
            far_end: FarEnd::of(view),
            expected: expected(view, fed),
            reading_in: view.reading_in.map(countdown),
            wait,
            trip: trip(view),
            conductors: conductors.map(|(at, one)| conductor(one, picked == at)).collect(),
            standing: called_down(view).chain(about.standing.iter().cloned()).collect(),
            messages: about.messages.to_vec(),
            focus: focus.map(|one| one.name.clone()).unwrap_or_default(),
            ammeter_range: range.map(|range| format!("{range:.3}")),
            needle_unit: range.map_or("µA", needle_unit),
            acts: signature(view),
            section: section(view),
            stage: is_stage(view),
        }
    }
}

fn head(view: &View, about: &About<'_>) -> String {
    let kind = match view.kind {
        Kind::Simulated => "SIMULATED · ",
        Kind::Practice => "PRACTICE · ",
        Kind::Transcribed => "TRANSCRIBED · ",
        Kind::Test => "",
    };
    let About { asset, record, kept, .. } = about;
    let record: String = record.chars().take(SHORT).collect();
    format!("{kind}{asset} · record {record} · kept {kept} · {} readings", view.readings)
}

fn state(view: &View, silent: bool) -> Standing {
    if view.is_hazardous() {
        return if silent { Standing::LinkLost } else { Standing::Hazardous };
    }
    let energised = view.conductors.iter().any(|one| one.applications > 0);
    let grounded = view.conductors.get(view.focus).is_some_and(|one| !one.grounds.is_empty());
    match (energised, grounded) {
        (false, _) => Standing::NotEnergised,
        (true, false) => Standing::NoGround,
        (true, true) => Standing::Grounded,
    }
}

/// Where the next step is done; while voltage is on, or what it left, the stage is at work.
pub(crate) fn section(view: &View) -> Section {
    match &view.next {
        _ if is_stage(view) => Section::Test,
        Next::PutGroundOn { .. }
        | Next::MoveLead { .. }
        | Next::Check { .. }
        | Next::TakeGroundOff { .. }
        | Next::ReadBeforeVoltage
        | Next::TickHolds { .. }
        | Next::HearFrom { .. }
        | Next::Energise => Section::Before,
        Next::Nothing => Section::Findings,
        Next::Raise { .. }
        | Next::Stay { .. }
        | Next::Hold { .. }
        | Next::BringDown
        | Next::SwitchOff => Section::Test,
        _ => Section::Down,
    }
}

fn is_stage(view: &View) -> bool {
    !view.closed && view.is_hazardous()
}

/// The unit that a needle shows on this range.
fn needle_unit(range: Current) -> &'static str {
    if range >= Current::from_milliamperes(1.0) { "mA" } else { "µA" }
}

/// The conductor, where it stands, and of how many steps it is at which.
fn of(one: &ConductorView, step: Option<&StepView>) -> String {
    let stands = format!("{} {}", one.name, one.state.key());
    match step.filter(|_| one.state.is_energised()) {
        Some(step) if step.is_resistance => format!("{stands} · resistance test"),
        Some(step) => format!("{stands} · step {} of {}", step.number, step.of),
        None => stands,
    }
}

fn kilovolts(last: Option<&LastRead<Voltage>>) -> Option<String> {
    let value = last?.value?;
    Some(format!("{:.2}", value.kilovolts()))
}

fn kilovolts_note(view: &View) -> String {
    let said = match &view.voltage {
        None => return "not read yet".to_owned(),
        Some(last) if last.overload => return "OVER RANGE".to_owned(),
        Some(last) if last.value.is_none() => format!("last read {} ago", old(last.age)),
        Some(last) => format!("{} ago", old(last.age)),
    };
    let floor = view.meter_floor.map_or_else(String::new, |floor| {
        format!("; below {:.2} kV it cannot tell", floor.kilovolts())
    });
    said + &floor
}

/// How old a figure is; whole seconds, as long as anybody counts them.
fn old(age: Time) -> String {
    if age < Time::from_seconds(120.0) { format!("{:.0} s", age.seconds()) } else { duration(age) }
}

fn current(last: Option<&LastRead<Current>>) -> Option<String> {
    let last = last?;
    if last.overload {
        return Some("OVER RANGE".to_owned());
    }
    last.value.map(|value| format!("{value:.3}"))
}

/// By the readings so far, or else by the plan: at the next planned reading.
fn expected(view: &View, given: Option<&Given>) -> Option<Expected> {
    let current = view.current.as_ref().and_then(|last| last.value);
    let by_readings = given.and_then(|given| advised::expected(&given.advice, current));
    by_readings.or_else(|| {
        let band = view.expected?;
        let lies = Lies::of(band, current);
        Some(Expected {
            band: format!("{:.2} … {:.2}", band.low, band.high),
            lies,
            said: lies.said(),
        })
    })
}

fn trip(view: &View) -> Option<Trip> {
    let set = format!("{:.2}", view.step.as_ref()?.trip?);
    let taken = view.margin_to_trip.map(|margin| 1.0 - margin);
    let said = match taken {
        None => format!("Trip planned at {set}"),
        Some(taken) => {
            let past = if taken >= 1.0 { ": AT THE TRIP" } else { "" };
            format!("{:.0} % of the trip at {set}{past}", taken * 100.0)
        }
    };
    Some(Trip { set, taken, said })
}

/// Why the voltage is to come down, apart from the readings: on every screen of the record.
fn called_down(view: &View) -> impl Iterator<Item = String> {
    view.come_down.iter().map(|why| format!("COME DOWN: {why}. {}", why.remedy()))
}

fn conductor(one: &ConductorView, meant: bool) -> Conductor {
    let grounds: Vec<String> = one
        .grounds
        .iter()
        .map(|ground| match &ground.place {
            Some(place) => format!("{} {place}", ground.number),
            None => ground.number.clone(),
        })
        .collect();
    let grounds = if grounds.is_empty() {
        "no ground on".to_owned()
    } else {
        format!("ground {}", grounds.join(", "))
    };
    let end = one.end.filter(|end| end.key() != one.state.key());
    let end = end.map_or_else(String::new, |end| format!(", {}", end.key()));
    let why = if one.unexplained { ", CAUSE MISSING" } else { "" };
    let word = if one.hazardous { "HAZARDOUS " } else { "" };
    let text = format!("{} {word}{}{end}{why} · {grounds}", one.name, one.state.key());
    let state = match (one.hazardous, one.grounds.is_empty()) {
        (true, _) => Standing::Hazardous,
        (false, true) => Standing::NoGround,
        (false, false) => Standing::Grounded,
    };
    let name = one.name.clone();
    Conductor { name, hazardous: one.hazardous, meant, state, text }
}

/// Time as a clock shows it, and to the millisecond.
pub(super) fn countdown(left: Time) -> Countdown {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "no test lasts so long, and what is past is none"
    )]
    let left_ms = (left.seconds().max(0.0) * 1e3) as u64;
    Countdown { left: clock(left), left_ms }
}

/// One number for the acts that can be said, what is in their way and which comes next.
pub(crate) fn signature(view: &View) -> u64 {
    let mut hasher = DefaultHasher::new();
    for one in &view.conductors {
        (&one.name, one.withdrawable, one.state).hash(&mut hasher);
        for way in &one.ways_on {
            (way.act, way.seen, &way.unmet).hash(&mut hasher);
        }
        one.grounds.iter().for_each(|ground| ground.number.hash(&mut hasher));
    }
    std::mem::discriminant(&view.next).hash(&mut hasher);
    (view.next.of(), view.closable, view.focus).hash(&mut hasher);
    // Numbers of a page are doubles.
    hasher.finish() >> 11
}
