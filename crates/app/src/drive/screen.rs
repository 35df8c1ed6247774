//! The person's screen: keys into lines of words, the session's view onto the terminal.

use std::io::Result;

use crossterm::event::{Event, KeyEvent};
use session::live::view::View;
use session::record::Now;
use session::say;

use super::counsel::Given;
use super::terminal::{Pressed, Terminal, Typing};
use crate::show::stage::{self, About, CLOSE, Hand, KEYS, Meant, Scene, WHY, WITHDRAW, meant};

/// Messages remembered.
const MESSAGES: usize = 12;

/// A person's terminal.
pub(crate) struct Screen {
    terminal: Terminal,
    typing: Typing,
    messages: Vec<String>,
    help: bool,
    /// The longer reason of what is advised instead of messages.
    why: bool,
    /// The conductor that the next line is of, where Tab named one.
    picked: Meant,
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
            messages: Vec::new(),
            help: false,
            why: false,
            picked: Meant::Next,
            asset: asset.to_owned(),
            record: record.to_owned(),
            kept: 0,
        })
    }

    /// Remembers what happened.
    pub(crate) fn message(&mut self, said: String) {
        self.messages.extend(said.lines().map(str::to_owned));
        let over = self.messages.len().saturating_sub(MESSAGES);
        self.messages.drain(..over);
    }

    /// Everything up to this number is durable.
    pub(crate) fn kept(&mut self, seq: u64) {
        self.kept = seq;
    }

    /// Takes a key; gives the line that it ends, or the wish to leave.
    pub(crate) fn press(&mut self, now: Now, key: KeyEvent, view: &View) -> Pressed {
        let pressed = self.typing.press(now, key, view.is_hazardous());
        match pressed {
            Pressed::Help => (self.help, self.why) = (!self.help, false),
            Pressed::Why => (self.help, self.why) = (false, !self.why),
            Pressed::NextConductor => {
                let before = meant("", self.picked, view);
                self.picked = Meant::Picked((before + 1) % view.conductors.len().max(1));
            }
            _ => self.help = false,
        }
        match pressed {
            Pressed::Line(at, words) => {
                Pressed::Line(at, of_conductor(words, std::mem::take(&mut self.picked), view))
            }
            other => other,
        }
    }

    /// Draws what changed.
    pub(crate) fn draw(
        &mut self,
        view: &View,
        standing: Vec<String>,
        given: Option<&Given>,
    ) -> Result<()> {
        let scene = self.scene(view, &standing, given);
        let size = self.terminal.size();
        self.terminal.show(stage::rows(&scene, &self.hand(view), size))
    }

    fn scene(&self, view: &View, standing: &[String], given: Option<&Given>) -> Scene {
        let about = About {
            asset: &self.asset,
            record: &self.record,
            kept: self.kept,
            standing,
            given,
            messages: &self.messages,
            meant: Meant::Picked(self.meant(view)),
        };
        Scene::of(view, &about)
    }

    fn hand(&self, view: &View) -> Hand {
        let name = view.conductors.get(self.meant(view)).map_or("", |one| one.name.as_str());
        let keys = || {
            let acts = KEYS.iter().map(|one| (one.key.to_string(), one.label));
            let more = [
                (WHY, "why it is advised"),
                (WITHDRAW, "withdraw reading"),
                (CLOSE, "close the record"),
            ];
            acts.chain(more.map(|(key, label)| (key.to_owned(), label))).collect()
        };
        Hand {
            typing: self.typing.line().map(|(asks, typed)| {
                let of = if self.typing.words().is_some() {
                    format!("{name} · ")
                } else {
                    String::new()
                };
                (format!("{of}{asks}"), typed.to_owned())
            }),
            tabbed: (self.picked != Meant::Next).then(|| name.to_owned()),
            keys: self.help.then(keys),
            why: self.why,
        }
    }

    /// The conductor that the line at hand is of, or the next one.
    fn meant(&self, view: &View) -> usize {
        meant(self.typing.words().unwrap_or_default(), self.picked, view)
    }
}

/// The line, beginning with its conductor where that is not plain.
fn of_conductor(words: String, picked: Meant, view: &View) -> String {
    let names_one = ["@", "lead ", "check "].iter().any(|begins| words.starts_with(begins));
    let at = meant(&words, picked, view);
    match view.conductors.get(at).filter(|_| !names_one && view.conductors.len() > 1) {
        Some(conductor) => say::of(&conductor.name, &words),
        None => words,
    }
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
    use session::record::{Head, Kind};
    use session::say::Mode;

    use super::*;
    use crate::show::stage::Standing;

    fn now(seconds: f64) -> Now {
        Now { monotonic: Time::from_seconds(seconds), wall: jiff::Timestamp::UNIX_EPOCH }
    }

    fn standing(view: &View) -> Standing {
        Scene::of(view, &About::default()).state
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
        for hold in session::hold::of(&head.plan) {
            session.handle_tick(now(0.0), None, None, &hold.id, true).expect("it is taken");
        }
        for (second, line) in lines.iter().enumerate() {
            #[expect(clippy::cast_precision_loss, reason = "a handful of lines")]
            let now = now(1.0 + second as f64);
            went = of_conductor((*line).to_owned(), Meant::Next, &session.view(now));
            session.handle_here(now, None, &session::role::Role::ALL).expect("it is open");
            let said = say::parse(&went, Mode::Typed).expect("a line");
            let taken = session.handle_said(now, None, said);
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
        assert_eq!(standing(&worked(&ready[..5]).1), Standing::NotEnergised);
        assert_eq!(standing(&worked(&ready).1), Standing::Hazardous);
        assert_eq!(standing(&worked(&left).1), Standing::Grounded);
        let right: Vec<&str> =
            left.iter().chain(&["lead right", "check", "lift 2"]).copied().collect();
        let (_, view) = worked(&right);
        assert_eq!(view.conductors[view.focus].name, "right");
        assert_eq!(standing(&view), Standing::NoGround);
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
