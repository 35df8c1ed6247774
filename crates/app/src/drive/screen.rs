//! The person's screen: keys into lines of words, the session's view onto the terminal.

use std::collections::VecDeque;
use std::io::Result;

use crossterm::event::{Event, KeyEvent};
use plan::words::duration;
use quantity::{Band, Current, Voltage};
use session::live::view::{ConductorView, LastRead, View};
use session::record::{Kind, Now};

use super::terminal::{KEYS, Pressed, Terminal, Typing};
use crate::show::stage::{self, Conductor, Expected, Lies, Scene, Standing, Trip};

/// Messages remembered.
const MESSAGES: usize = 12;

/// Silence after which the link counts as lost on the screen.
const SILENT_S: f64 = 2.0;

/// A person's terminal.
pub(crate) struct Screen {
    terminal: Terminal,
    typing: Typing,
    messages: VecDeque<String>,
    help: bool,
    /// The conductor that keys mean, where it is not the one with the lead.
    meant: Option<usize>,
    asset: String,
    record: String,
    kept: u64,
}

impl Screen {
    /// Takes the terminal for this record.
    pub(crate) fn open(asset: &str, record: &str) -> Result<Self> {
        Ok(Self {
            terminal: Terminal::open()?,
            typing: Typing::default(),
            messages: VecDeque::new(),
            help: false,
            meant: None,
            asset: asset.to_owned(),
            record: record.chars().take(13).collect(),
            kept: 0,
        })
    }

    /// Remembers what happened.
    pub(crate) fn message(&mut self, said: String) {
        self.messages.extend(said.lines().map(str::to_owned));
        while self.messages.len() > MESSAGES {
            self.messages.pop_front();
        }
    }

    /// Everything up to this number is durable.
    pub(crate) fn kept(&mut self, seq: u64) {
        self.kept = seq;
    }

    /// Takes a key; gives the line that it ends, or the wish to leave.
    pub(crate) fn press(&mut self, now: Now, key: KeyEvent, view: &View) -> Pressed {
        let pressed = self.typing.press(now, key, view.is_hazardous());
        match pressed {
            Pressed::Help => self.help = !self.help,
            Pressed::NextConductor => {
                let after = self.meant.or(view.lead).map_or(0, |at| at + 1);
                let next = after % view.conductors.len().max(1);
                self.meant = Some(next).filter(|next| view.lead != Some(*next));
            }
            _ => self.help = false,
        }
        match pressed {
            Pressed::Line(at, words) => Pressed::Line(at, self.of_conductor(words, view)),
            other => other,
        }
    }

    /// The line, beginning with the conductor that is meant where that is not plain.
    fn of_conductor(&mut self, words: String, view: &View) -> String {
        let named = self.meant.and_then(|at| view.conductors.get(at));
        match named {
            Some(conductor) if !words.starts_with('@') => format!("@{} {words}", conductor.name),
            _ => words,
        }
    }

    /// Draws what changed.
    pub(crate) fn draw(&mut self, view: &View, standing: Vec<String>) -> Result<()> {
        let scene = self.scene(view, standing);
        let size = self.terminal.size();
        self.terminal.show(stage::rows(&scene, size))
    }

    fn scene(&self, view: &View, standing: Vec<String>) -> Scene {
        let focus = view.conductors.get(view.focus);
        let silent = view.silent.filter(|silent| silent.seconds() >= SILENT_S);
        let keys = || {
            let acts = KEYS.iter().map(|one| (one.key.to_string(), one.label));
            let more = [("Ctrl+Z", "withdraw reading"), ("Ctrl+D", "close the record")];
            acts.chain(more.map(|(key, label)| (key.to_owned(), label))).collect()
        };
        let meant = self.meant.or(view.lead);
        Scene {
            head: self.head(view),
            state: state(view, silent.is_some()),
            of: focus.map(|one| format!("{} {}", one.name, one.state.key())).unwrap_or_default(),
            kilovolts: kilovolts(view.voltage.as_ref()),
            kilovolts_note: kilovolts_note(view),
            next: view.next.to_string(),
            current: current(view.current.as_ref()),
            expected: view.expected.map(|band| expected(band, view.current.as_ref())),
            reading_in: view.reading_in.map(duration),
            hold_left: view.step.as_ref().and_then(|step| step.left).map(duration),
            trip: trip(view),
            conductors: view
                .conductors
                .iter()
                .enumerate()
                .map(|(at, one)| conductor(one, meant == Some(at)))
                .collect(),
            standing,
            messages: self.messages.iter().cloned().collect(),
            typing: self.typing.line().map(|(asks, typed)| (asks, typed.to_owned())),
            keys: self.help.then(keys),
        }
    }

    fn head(&self, view: &View) -> String {
        let kind = match view.kind {
            Kind::Simulated => "SIMULATED · ",
            Kind::Practice => "PRACTICE · ",
            Kind::Transcribed => "TRANSCRIBED · ",
            Kind::Test => "",
        };
        let readings = view.readings;
        format!(
            "{kind}{} · record {} · kept {} · {readings} readings",
            self.asset, self.record, self.kept
        )
    }
}

fn state(view: &View, silent: bool) -> Standing {
    if view.is_hazardous() {
        return if silent { Standing::LinkLost } else { Standing::Hazardous };
    }
    let energised = view.conductors.iter().any(|one| one.applications > 0);
    if energised { Standing::Grounded } else { Standing::NotEnergised }
}

fn kilovolts(last: Option<&LastRead<Voltage>>) -> Option<String> {
    let value = last?.value?;
    Some(format!("{:.2}", value.kilovolts()))
}

fn kilovolts_note(view: &View) -> String {
    let age = match &view.voltage {
        None => return "not read yet".to_owned(),
        Some(last) if last.overload => return "OVER RANGE".to_owned(),
        Some(last) => last.age,
    };
    let floor = view.meter_floor.map_or_else(String::new, |floor| {
        format!("; below {:.2} kV it cannot tell", floor.kilovolts())
    });
    format!("{:.0} s ago{floor}", age.seconds())
}

fn current(last: Option<&LastRead<Current>>) -> Option<String> {
    let last = last?;
    if last.overload {
        return Some("OVER RANGE".to_owned());
    }
    last.value.map(|value| format!("{value:.3}"))
}

fn expected(band: Band<Current>, last: Option<&LastRead<Current>>) -> Expected {
    let lies = match last.and_then(|last| last.value) {
        None => Lies::Unknown,
        Some(value) if value > band.high => Lies::Above,
        Some(value) if value < band.low => Lies::Below,
        Some(_) => Lies::Inside,
    };
    Expected { band: format!("{:.2} … {:.2}", band.low, band.high), lies }
}

fn trip(view: &View) -> Option<Trip> {
    let set = view.step.as_ref()?.trip?;
    Some(Trip { set: format!("{set:.2}"), taken: view.margin_to_trip.map(|margin| 1.0 - margin) })
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
    let end = one.end.map_or_else(String::new, |end| format!(", {}", end.key()));
    let why = if one.unexplained { ", CAUSE MISSING" } else { "" };
    let word = if one.hazardous { "HAZARDOUS " } else { "" };
    let text = format!("{} {word}{}{end}{why} · {grounds}", one.name, one.state.key());
    Conductor { hazardous: one.hazardous, meant, text }
}

/// The key of a terminal event, where it is one.
pub(crate) fn key(event: Event) -> Option<KeyEvent> {
    match event {
        Event::Key(key) => Some(key),
        _ => None,
    }
}
