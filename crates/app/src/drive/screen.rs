//! The person's screen: keys into lines of words, the session's view onto the terminal.

use std::collections::VecDeque;
use std::io::Result;

use crossterm::event::{Event, KeyEvent};
use plan::words::duration;
use quantity::{Band, Current, Voltage};
use session::live::view::{ConductorView, LastRead, View};
use session::record::{Kind, Now};
use session::say;

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
    /// The conductor that the next line is of, where Tab named one.
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
                let after = self.meant.unwrap_or(view.focus) + 1;
                self.meant = Some(after % view.conductors.len().max(1));
            }
            _ => self.help = false,
        }
        match pressed {
            Pressed::Line(at, words) => {
                Pressed::Line(at, of_conductor(words, self.meant.take(), view))
            }
            other => other,
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
        let meant = match self.typing.words() {
            Some(words) => meant(words, self.meant, view),
            None => self.meant.unwrap_or(view.focus),
        };
        let name = view.conductors.get(meant).map_or("", |one| one.name.as_str());
        Scene {
            head: self.head(view),
            state: state(view, silent.is_some()),
            of: focus.map(|one| of(one, view)).unwrap_or_default(),
            kilovolts: kilovolts(view.voltage.as_ref()),
            kilovolts_note: kilovolts_note(view),
            next: view.next.to_string(),
            current: current(view.current.as_ref()),
            expected: view.expected.map(|band| expected(band, view.current.as_ref())),
            reading_in: view.reading_in.map(duration),
            stay_left: view
                .step
                .as_ref()
                .and_then(|step| Some((step.is_hold, duration(step.left?)))),
            trip: trip(view),
            conductors: view
                .conductors
                .iter()
                .enumerate()
                .map(|(at, one)| conductor(one, meant == at))
                .collect(),
            standing,
            messages: self.messages.iter().cloned().collect(),
            typing: self.typing.line().map(|(asks, typed)| {
                let of = if self.typing.words().is_some() {
                    format!("{name} · ")
                } else {
                    String::new()
                };
                (format!("{of}{asks}"), typed.to_owned())
            }),
            tabbed: self.meant.map(|_| name.to_owned()),
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

/// The conductor that a line is of: the one that Tab named, or the one that the next thing to do
/// names where the line does that, or else the one in the large words.
fn meant(words: &str, tabbed: Option<usize>, view: &View) -> usize {
    let word = words.split_whitespace().next().unwrap_or_default();
    let asked = view.next.of().filter(|(act, _)| act.key() == word);
    let asked = asked.and_then(|(_, name)| view.conductors.iter().position(|one| one.name == name));
    tabbed.or(asked).unwrap_or(view.focus)
}

/// The line, beginning with its conductor where that is not plain.
fn of_conductor(words: String, tabbed: Option<usize>, view: &View) -> String {
    let names_one = ["@", "lead ", "check "].iter().any(|begins| words.starts_with(begins));
    let at = meant(&words, tabbed, view);
    match view.conductors.get(at).filter(|_| !names_one && view.conductors.len() > 1) {
        Some(conductor) => say::of(&conductor.name, &words),
        None => words,
    }
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

/// The conductor, where it stands, and of how many steps it is at which.
fn of(one: &ConductorView, view: &View) -> String {
    let stands = format!("{} {}", one.name, one.state.key());
    match view.step.as_ref().filter(|_| one.state.is_energised()) {
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
    let age = match &view.voltage {
        None => return "not read yet".to_owned(),
        Some(last) if last.overload => return "OVER RANGE".to_owned(),
        Some(last) if last.value.is_none() => return "read the needle again".to_owned(),
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
    let end = one.end.filter(|end| end.key() != one.state.key());
    let end = end.map_or_else(String::new, |end| format!(", {}", end.key()));
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

#[cfg(test)]
mod tests {
    use quantity::Time;
    use session::Session;
    use session::record::Head;
    use session::say::{Mode, Said};

    use super::*;

    fn now(seconds: f64) -> Now {
        Now { monotonic: Time::from_seconds(seconds), wall: jiff::Timestamp::UNIX_EPOCH }
    }

    /// Says each line of the conductor that the screen means, and gives the last one as it went.
    fn worked(lines: &[&str]) -> (String, View) {
        let text = include_str!("../../../../docs/examples/gloves.toml");
        let job = plan::job_file::parse(text).expect("the example is well formed");
        let plan = plan::plan(&job, &standards::Library::published());
        let format = session::RECORD_FORMAT.to_owned();
        let head = Head { format, kind: Kind::Test, source: None, job, plan };
        let mut session = Session::begin(&head, "boot", now(0.0));
        let mut went = String::new();
        for (second, line) in lines.iter().enumerate() {
            #[expect(clippy::cast_precision_loss, reason = "a handful of lines")]
            let now = now(1.0 + second as f64);
            went = of_conductor((*line).to_owned(), None, &session.view(now));
            let taken = match say::parse(&went, Mode::Typed).expect("a line") {
                Said::Act { phase, act } => session.handle_act(now, None, phase.as_deref(), act),
                Said::Reading { phase, reading } => {
                    session.handle_typed(now, None, phase.as_deref(), reading)
                }
                other => panic!("{other:?}"),
            };
            taken.unwrap_or_else(|refusal| panic!("{went}: {refusal}"));
        }
        (went, session.view(now(1000.0)))
    }

    /// The largest word is of the conductor beside it: another one's ground is none of its own.
    #[test]
    fn grounded_is_never_said_of_what_has_its_ground_off() {
        let ready = ["ground 1", "lead left", "check", "ground 2", "lift 1", "energise"];
        let down = ["50 1.1", "stop", "off", "residual ?", "tool", "ground 1"];
        let left: Vec<&str> = ready.iter().chain(&down).copied().collect();
        assert_eq!(state(&worked(&ready[..5]).1, false), Standing::NotEnergised);
        assert_eq!(state(&worked(&ready).1, false), Standing::Hazardous);
        assert_eq!(state(&worked(&left).1, false), Standing::Grounded);
        let right: Vec<&str> =
            left.iter().chain(&["lead right", "check", "lift 2"]).copied().collect();
        let (_, view) = worked(&right);
        assert_eq!(view.conductors[view.focus].name, "right");
        assert_eq!(state(&view, false), Standing::NoGround);
    }

    /// One person at the keys presses what the screen asks for; no name has to be typed.
    #[test]
    fn a_key_is_of_the_conductor_that_the_screen_names() {
        assert_eq!(worked(&["50.0 1.1"]).0, "@left 50.0 1.1", "what is read is never lost");
        let ready = ["ground 1", "lead left", "check", "ground 2", "lift 1", "energise"];
        assert_eq!(worked(&ready[..4]).0, "@right ground 2");
        assert_eq!(worked(&ready).0, "@left energise");
        let down = ["50 1.1", "stop", "off", "residual ?", "tool", "ground 1"];
        let all: Vec<&str> = ready.iter().chain(&down).copied().collect();
        assert_eq!(worked(&all).0, "@left ground 1");
    }
}
