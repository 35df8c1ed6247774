//! One key for each act, digits for a reading: what is typed becomes a line of words, the same
//! words that a pipe takes.

use crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};
use session::record::Now;

use crate::show::stage::{KEYS, Key};

/// What came of a key.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Pressed {
    /// A whole line, with the moment its first key was pressed.
    Line(Now, String),
    /// Another conductor is meant from now on.
    NextConductor,
    /// The table of keys, or away with it.
    Help,
    /// The longer reason of what is advised, or away with it.
    Why,
    /// Leave the record open and go.
    Leave,
    /// Nothing yet, or nothing at all.
    Nothing,
}

/// What is being typed.
#[derive(Clone, Debug, Default)]
pub(crate) struct Typing {
    going: Option<Going>,
}

#[derive(Clone, Debug)]
struct Going {
    first: Now,
    what: What,
    text: String,
}

#[derive(Clone, Debug)]
enum What {
    /// The kilovolts of a reading.
    Kilovolts,
    /// Its current, the kilovolts being typed already.
    Current { kilovolts: String },
    /// What an act asks for.
    Asked { words: &'static str, asks: &'static str },
    /// A whole line in words.
    Words,
    /// Whether to leave while it is hazardous.
    Leaving,
}

impl Typing {
    /// Takes one key. `hazardous` makes leaving ask once.
    pub(crate) fn press(&mut self, now: Now, key: KeyEvent, hazardous: bool) -> Pressed {
        if key.kind == KeyEventKind::Release {
            return Pressed::Nothing;
        }
        if key.modifiers.intersects(KeyModifiers::CONTROL | KeyModifiers::ALT) {
            return self.chord(now, key, hazardous);
        }
        match self.going.take() {
            None => self.begin(now, key.code, hazardous),
            Some(going) => self.go_on(going, key.code),
        }
    }

    /// What stands on the line of typing: what is asked, and what is typed.
    pub(crate) fn line(&self) -> Option<(String, &str)> {
        let going = self.going.as_ref()?;
        let asks = match &going.what {
            What::Kilovolts => "Reading: kV".to_owned(),
            What::Current { kilovolts } => format!("Reading: {kilovolts} kV, µA"),
            What::Asked { asks, .. } => (*asks).to_owned(),
            What::Words => "Words".to_owned(),
            What::Leaving => {
                "It stays HAZARDOUS and open. Enter leaves the program, Esc stays".to_owned()
            }
        };
        Some((asks, &going.text))
    }

    /// The words that the line being typed begins with, where it is an act that asks for more.
    pub(crate) fn words(&self) -> Option<&'static str> {
        match &self.going.as_ref()?.what {
            What::Asked { words, .. } if *words != "remark" && *words != "lead" => Some(words),
            _ => None,
        }
    }

    fn chord(&mut self, now: Now, key: KeyEvent, hazardous: bool) -> Pressed {
        let control = key.modifiers.contains(KeyModifiers::CONTROL);
        match key.code {
            KeyCode::Char('z') if control && self.going.is_none() => {
                Pressed::Line(now, "withdraw".to_owned())
            }
            KeyCode::Char('d') if control && self.going.is_none() => {
                Pressed::Line(now, "close".to_owned())
            }
            KeyCode::Char('c') if control => {
                self.going = None;
                self.leave(now, hazardous)
            }
            _ => Pressed::Nothing,
        }
    }

    fn begin(&mut self, now: Now, code: KeyCode, hazardous: bool) -> Pressed {
        let mut start = |what: What, text: String| {
            self.going = Some(Going { first: now, what, text });
            Pressed::Nothing
        };
        match code {
            KeyCode::Tab => Pressed::NextConductor,
            KeyCode::Char('?') => Pressed::Help,
            KeyCode::Char('!') => Pressed::Why,
            KeyCode::Char('q') => self.leave(now, hazardous),
            KeyCode::Char(':') => start(What::Words, String::new()),
            KeyCode::Char(first) if begins_a_number(first) => {
                start(What::Kilovolts, first.to_string())
            }
            KeyCode::Char(pressed) => match KEYS.iter().find(|one| one.key == pressed) {
                Some(Key { words, asks: Some(asks), .. }) => {
                    start(What::Asked { words, asks }, String::new())
                }
                Some(one) => Pressed::Line(now, one.words.to_owned()),
                None => Pressed::Nothing,
            },
            _ => Pressed::Nothing,
        }
    }

    fn leave(&mut self, now: Now, hazardous: bool) -> Pressed {
        if !hazardous {
            return Pressed::Leave;
        }
        self.going = Some(Going { first: now, what: What::Leaving, text: String::new() });
        Pressed::Nothing
    }

    fn go_on(&mut self, mut going: Going, code: KeyCode) -> Pressed {
        match code {
            KeyCode::Esc => return Pressed::Nothing,
            KeyCode::Enter => return self.enter(going),
            KeyCode::Backspace if going.text.pop().is_none() => {
                return Pressed::Nothing;
            }
            // A line is bounded: a key that is stuck fills no memory.
            KeyCode::Char(typed) if going.text.len() < LONGEST => going.text.push(typed),
            _ => {}
        }
        self.going = Some(going);
        Pressed::Nothing
    }

    fn enter(&mut self, going: Going) -> Pressed {
        let Going { first, what, text } = going;
        let text = text.trim().to_owned();
        match what {
            What::Leaving => Pressed::Leave,
            What::Kilovolts => {
                let what = What::Current { kilovolts: text };
                self.going = Some(Going { first, what, text: String::new() });
                Pressed::Nothing
            }
            _ if text.is_empty() => Pressed::Nothing,
            What::Current { kilovolts } => Pressed::Line(first, format!("{kilovolts} {text}")),
            What::Asked { words, .. } => Pressed::Line(first, format!("{words} {text}")),
            What::Words => Pressed::Line(first, text),
        }
    }
}

const LONGEST: usize = 200;

const fn begins_a_number(first: char) -> bool {
    matches!(first, '0'..='9' | '.' | '-' | '+' | ',')
}

#[cfg(test)]
mod tests {
    use jiff::Timestamp;
    use quantity::Time;

    use super::*;

    fn at(seconds: f64) -> Now {
        Now { monotonic: Time::from_seconds(seconds), wall: Timestamp::UNIX_EPOCH }
    }

    /// Types a text, `⏎` being Enter and `⌫` Backspace, a second between keys.
    fn typed(keys: &str, hazardous: bool) -> Vec<Pressed> {
        let mut typing = Typing::default();
        let mut came = Vec::new();
        for (second, key) in keys.chars().enumerate() {
            let code = match key {
                '⏎' => KeyCode::Enter,
                '⌫' => KeyCode::Backspace,
                '⎋' => KeyCode::Esc,
                '⇥' => KeyCode::Tab,
                other => KeyCode::Char(other),
            };
            #[expect(clippy::cast_precision_loss, reason = "a handful of keys")]
            let now = at(second as f64);
            let pressed = typing.press(now, KeyEvent::new(code, KeyModifiers::NONE), hazardous);
            if pressed != Pressed::Nothing {
                came.push(pressed);
            }
        }
        came
    }

    fn line(second: f64, words: &str) -> Pressed {
        Pressed::Line(at(second), words.to_owned())
    }

    #[test]
    fn keys_become_lines_stamped_at_their_first_key() {
        let check =
            |keys: &str, expected: &[Pressed]| assert_eq!(typed(keys, true), expected, "{keys}");
        check("e", &[line(0.0, "energise")]);
        check("26.1⏎12.5⏎", &[line(0.0, "26.1 12.5")]);
        check("25⌫6⏎1⏎", &[line(0.0, "26 1")]);
        check("2⎋e", &[line(2.0, "energise")]);
        check("v?⏎", &[line(0.0, "residual ?")]);
        check("g3 at far end⏎", &[line(0.0, "ground 3 at far end")]);
        check("w⏎e", &[line(2.0, "energise")]);
        check(":@B rise⏎", &[line(0.0, "@B rise")]);
        check("⇥?", &[Pressed::NextConductor, Pressed::Help]);
        check("!", &[Pressed::Why]);
        check("q⎋q⏎", &[Pressed::Leave]);
    }

    #[test]
    fn nothing_asks_where_nothing_is_hazardous() {
        assert_eq!(typed("q", false), [Pressed::Leave]);
    }

    #[test]
    fn no_key_stands_for_two_things() {
        let mut seen: Vec<char> = vec!['q', ':', '?', '!'];
        for one in KEYS {
            assert!(!seen.contains(&one.key), "{}", one.key);
            assert!(!begins_a_number(one.key), "{}", one.key);
            seen.push(one.key);
        }
    }
}
