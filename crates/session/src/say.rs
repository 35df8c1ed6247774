//! The words that a person, a pipe or a practice hand says, one line each.
//!
//! | line | meaning |
//! |---|---|
//! | `lead A` · `check A` | the lead is on A · the checklist was gone through for A |
//! | `blank` | leads and set alone are to be read |
//! | `energise` `rise` `dwell` `hold` `stop` `abort` `off` | what the hand does |
//! | `trip` `flashover` `breakdown` | what happens |
//! | `residual 0.4` · `residual ?` | kilovolts left · the meter cannot tell |
//! | `tool` · `ground 3 at far end` · `lift 3` · `leave 3 to NAME` | the way down and the grounds |
//! | `cause TEXT` · `again` · `end` · `reset` · `zero` · `release` | what follows |
//! | `tick LINE` · `untick LINE` | a line of the checklist was looked at, or not |
//! | `override LINE reason WHY` | a hold point, or a part, is passed over |
//! | `here far-end` · `here watch far-end` | these were heard: all is as it must be with them |
//! | `call far-end somebody is near` | calls for the voltage to come down |
//! | `range 40 kV` · `range 100 uA` · `range ?` | what the meters stand on from now on |
//! | `link guard-to-ground` · `link ?` | which link is fitted |
//! | `meter voltage 10 9.98` · `meter current 0 0.02` | checked: known, read; in kV, in µA |
//! | `remark TEXT` · `withdraw` · `close` | the record itself |
//! | `30.1 2.4` | typed: kilovolts, microamperes |
//! | `60 30.1 2.4 hold` | from a pipe: seconds from energising, kilovolts, microamperes, event |
//! | `60 30.1 ?` · `? 2.4` | the other value was not read |
//!
//! `@A rise` names the conductor, `@"left hand" rise` one of several words, a quote in it written
//! twice; without it the conductor with the lead is meant.

use crate::act::Act;
use crate::meters::Compared;
use crate::readings::{ReadingsFault, Row, typed_row};
use crate::record::Reading;
use crate::role::Role;
use crate::state::ActKind;

use quantity::{Current, Voltage};

/// How a line of numbers is to be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// `kv ua`, typed live; the time is that of typing.
    Typed,
    /// `t_s kv ua [event]`, from a pipe.
    Piped,
}

/// What a line says.
#[derive(Clone, Debug, PartialEq)]
pub enum Said {
    /// An act.
    Act {
        /// The conductor, if one was named.
        phase: Option<String>,
        /// What.
        act: Act,
    },
    /// A typed reading; its time is for the session to set.
    Reading {
        /// The conductor, if one was named.
        phase: Option<String>,
        /// What was read.
        reading: Reading,
    },
    /// A line with its own time.
    Row {
        /// The conductor, if one was named.
        phase: Option<String>,
        /// What it says.
        row: Row,
    },
    /// The last typed reading was a slip.
    Withdraw {
        /// The conductor, if one was named.
        phase: Option<String>,
    },
    /// A line of the checklist was looked at, or its tick is taken back.
    Tick {
        /// The conductor, if one was named.
        phase: Option<String>,
        /// The line.
        line: String,
        /// Whether it was looked at.
        on: bool,
    },
    /// A hold point, or a part, is passed over.
    Override {
        /// The conductor, if one was named.
        phase: Option<String>,
        /// Its number or name.
        line: String,
        /// Why.
        reason: String,
    },
    /// Parts were heard.
    Here {
        /// Which.
        roles: Vec<Role>,
    },
    /// Somebody calls for the voltage to come down.
    Call {
        /// Who; the operator where nobody is named.
        role: Role,
        /// Why; may be empty.
        text: String,
    },
    /// Ranges or link are others from now on.
    Scales(ScalesChange),
    /// A meter was checked against something known.
    Compared(Compared),
    /// A remark.
    Remark {
        /// The words.
        text: String,
    },
    /// The record is closed.
    Close,
    /// An empty line.
    Nothing,
}

/// What changes in the ranges and the link.
#[derive(Clone, Debug, PartialEq)]
pub enum ScalesChange {
    /// Full scales; `None` stays as it was.
    Ranges {
        /// Of the voltmeter.
        voltage: Option<Voltage>,
        /// Of the ammeter.
        current: Option<Current>,
    },
    /// Neither range is known any more.
    RangesUnknown,
    /// The link; `None` is not known.
    Link {
        /// Which.
        link: Option<String>,
    },
}

/// Why a line says nothing that is known; rendered as what to write instead.
#[derive(Clone, Debug, PartialEq)]
pub enum SayFault {
    /// The word is not known.
    UnknownWord {
        /// What was written.
        found: String,
        /// The nearest that is.
        nearest: Option<&'static str>,
    },
    /// Something is missing, or in the wrong form.
    Form {
        /// How to write it.
        write: &'static str,
        /// What was written.
        found: String,
    },
    /// So many numbers make no reading.
    Numbers {
        /// How it was to be read.
        mode: Mode,
        /// How many fields there were.
        found: usize,
    },
    /// A number is wrong.
    Reading(ReadingsFault),
}

/// Stands for a value that was not read.
const NOT_READ: &str = "?";

/// A longer word is no slip of one that is known.
const LONGEST_WORD: usize = 40;

/// Reads one line.
///
/// # Errors
/// What to write instead.
pub fn parse(line: &str, mode: Mode) -> Result<Said, SayFault> {
    let line = line.trim();
    let (phase, words) = match line.strip_prefix('@') {
        None => (None, line),
        Some(rest) => {
            let plain = || {
                let (name, words) = split(rest);
                (name.to_owned(), words)
            };
            let (name, words) = quoted(rest).unwrap_or_else(plain);
            if name.is_empty() || words.is_empty() {
                let write = "@CONDUCTOR and what was done, for example `@A rise`";
                return Err(SayFault::Form { write, found: line.to_owned() });
            }
            (Some(name), words)
        }
    };
    if words.is_empty() {
        return Ok(Said::Nothing);
    }
    let starts_number = |c: char| c.is_ascii_digit() || "?+-.,\u{2212}".contains(c);
    if words.starts_with(starts_number) {
        return numbers(phase, words, mode);
    }
    let (word, rest) = split(words);
    if word.parse::<f64>().is_ok() {
        let write = "a number as the meter shows it, and `?` for what was not read";
        return Err(SayFault::Form { write, found: words.to_owned() });
    }
    let form = |write| SayFault::Form { write, found: words.to_owned() };
    let alone = |said| if rest.is_empty() { Ok(said) } else { Err(form("the word alone")) };
    match word.to_lowercase().as_str() {
        "remark" if rest.is_empty() => Err(form("`remark` and the words")),
        "remark" => Ok(Said::Remark { text: rest.to_owned() }),
        "tick" | "untick" if rest.is_empty() => Err(form("`tick` or `untick` and the line")),
        word @ ("tick" | "untick") => {
            Ok(Said::Tick { phase, line: rest.to_owned(), on: word == "tick" })
        }
        "override" => overridden(phase, rest).ok_or_else(|| form(OVERRIDE)),
        "here" => here(rest).ok_or_else(|| form(HERE)),
        "call" => Ok(call(rest)),
        "range" => ranges(rest).map(Said::Scales).ok_or_else(|| form(RANGE)),
        "link" if rest.is_empty() => Err(form("`link` and which, for example `link ?`")),
        "link" => {
            let link = (rest != NOT_READ).then(|| rest.to_owned());
            Ok(Said::Scales(ScalesChange::Link { link }))
        }
        "meter" => meter_check(rest).map(Said::Compared).ok_or_else(|| form(METER)),
        "withdraw" => alone(Said::Withdraw { phase }),
        "close" => alone(Said::Close),
        word => act(phase, word, rest, words),
    }
}

/// The line that says these words of this conductor.
#[must_use]
pub fn of(conductor: &str, words: &str) -> String {
    if conductor.contains(char::is_whitespace) || conductor.starts_with('"') {
        format!("@\"{}\" {words}", conductor.replace('"', "\"\""))
    } else {
        format!("@{conductor} {words}")
    }
}

/// A name in quotes, each quote in it written twice, and the words behind it.
fn quoted(text: &str) -> Option<(String, &str)> {
    let rest = text.strip_prefix('"')?;
    let mut name = String::new();
    let mut letters = rest.char_indices().peekable();
    while let Some((_, letter)) = letters.next() {
        let next = letters.peek().copied();
        match (letter, next) {
            ('"', Some((at, next))) if next.is_whitespace() => {
                return Some((name, rest.get(at..)?.trim()));
            }
            ('"', Some((_, '"'))) => {
                letters.next();
                name.push('"');
            }
            _ => name.push(letter),
        }
    }
    None
}

fn split(text: &str) -> (&str, &str) {
    let (first, rest) = text.split_once(char::is_whitespace).unwrap_or((text, ""));
    (first, rest.trim())
}

const OVERRIDE: &str = "the hold point and why it is passed over, for example \
                        `override 8 reason a wall stands in place of the barrier`";
const HERE: &str = "who was heard: `here far-end`, `here watch`, or both in one line";

/// The word between a hold point and the reason.
const REASON: &str = " reason ";

fn overridden(phase: Option<String>, rest: &str) -> Option<Said> {
    let (line, reason) = rest.split_once(REASON)?;
    let (line, reason) = (line.trim().to_owned(), reason.trim().to_owned());
    (!line.is_empty() && !reason.is_empty()).then_some(Said::Override { phase, line, reason })
}

/// Parts by their words, `far end` too.
fn here(rest: &str) -> Option<Said> {
    let words = rest.to_lowercase().replace("far end", "far-end").replace(',', " ");
    let roles: Option<Vec<Role>> = words.split_whitespace().map(Role::of_words).collect();
    roles.filter(|roles| !roles.is_empty()).map(|roles| Said::Here { roles })
}

/// Who calls is never asked to write it better: what names no part is all of it the reason.
fn call(rest: &str) -> Said {
    let (first, words) = split(rest);
    match Role::of_words(first) {
        Some(role) => Said::Call { role, text: words.to_owned() },
        None => Said::Call { role: Role::Operator, text: rest.to_owned() },
    }
}

fn act(phase: Option<String>, word: &str, rest: &str, line: &str) -> Result<Said, SayFault> {
    let Some(kind) = ActKind::ALL.iter().find(|kind| kind.key() == word) else {
        if word.chars().count() > LONGEST_WORD {
            let found = word.chars().take(LONGEST_WORD).chain(['…']).collect();
            return Err(SayFault::UnknownWord { found, nearest: None });
        }
        let others = [
            "tick", "untick", "override", "here", "call", "remark", "withdraw", "close", "range",
            "link", "meter",
        ];
        let all = ActKind::ALL.iter().map(|kind| kind.key()).chain(others);
        let nearest = plan::keys::nearest(word, all);
        return Err(SayFault::UnknownWord { found: word.to_owned(), nearest });
    };
    let form = |write| SayFault::Form { write, found: line.to_owned() };
    let mut phase = phase;
    let act = match kind {
        ActKind::Lead | ActKind::Check => {
            if !rest.is_empty() {
                if phase.as_deref().is_some_and(|named| named != rest) {
                    return Err(form("one conductor and not two: `lead A` or `@A lead`"));
                }
                phase = Some(rest.to_owned());
            }
            Act::plain(*kind)
        }
        ActKind::Residual => Some(Act::Residual { voltage: residual(rest, line)? }),
        ActKind::Ground => Some(ground(rest).ok_or_else(|| {
            form("the number on the ground and where it is, for example `ground 3 at far end`")
        })?),
        ActKind::Lift => {
            if rest.is_empty() || rest.contains(char::is_whitespace) {
                return Err(form("the number on the ground, for example `lift 3`"));
            }
            Some(Act::Lift { number: rest.to_owned() })
        }
        ActKind::Leave => Some(leave(rest).ok_or_else(|| {
            form("the number on the ground and to whom it is left, for example `leave 3 to NAME`")
        })?),
        ActKind::Cause if rest.is_empty() => return Err(form("`cause` and why, in words")),
        ActKind::Cause => Some(Act::Cause { text: rest.to_owned() }),
        _ if !rest.is_empty() => {
            return Err(form("the word alone, with `@CONDUCTOR` before it if need be"));
        }
        kind => Act::plain(*kind),
    };
    match act {
        Some(act) => Ok(Said::Act { phase, act }),
        None => Err(form("the act with what belongs to it")),
    }
}

const RANGE: &str = "the full scale and its unit, for example `range 40 kV`, `range 100 uA` or \
                     both, or `range ?` where it is not known";

const METER: &str = "which meter, what is known and what it reads, in kilovolts or microamperes: \
                     `meter voltage 10 9.98`, or `meter current 0 0.02` with nothing on it";

/// One or two full scales with their units, in any order.
fn ranges(rest: &str) -> Option<ScalesChange> {
    if rest == NOT_READ {
        return Some(ScalesChange::RangesUnknown);
    }
    let words: Vec<&str> = rest.split_whitespace().collect();
    let (pairs, left) = words.as_chunks::<2>();
    if pairs.is_empty() || pairs.len() > 2 || !left.is_empty() {
        return None;
    }
    let (mut voltage, mut current) = (None, None);
    for [number, unit] in pairs {
        let value: f64 = number.parse().ok().filter(|value: &f64| *value > 0.0)?;
        let unit = unit.to_lowercase().replace(['\u{b5}', '\u{3bc}'], "u");
        match unit.as_str() {
            "v" => voltage = Some(Voltage::from_volts(value)),
            "kv" => voltage = Some(Voltage::from_kilovolts(value)),
            "na" => current = Some(Current::from_microamperes(value / 1e3)),
            "ua" => current = Some(Current::from_microamperes(value)),
            "ma" => current = Some(Current::from_microamperes(value * 1e3)),
            _ => return None,
        }
    }
    let finite = voltage.is_none_or(Voltage::is_finite) && current.is_none_or(Current::is_finite);
    let one_each = pairs.len() == usize::from(voltage.is_some()) + usize::from(current.is_some());
    (finite && one_each).then_some(ScalesChange::Ranges { voltage, current })
}

fn meter_check(rest: &str) -> Option<Compared> {
    let words: Vec<&str> = rest.split_whitespace().collect();
    let &[which, known, read] = words.as_slice() else { return None };
    let number = |text: &str| text.parse().ok().filter(|value: &f64| value.is_finite());
    let (known, read) = (number(known)?, number(read)?);
    match which {
        "voltage" => {
            let [known, read] = [known, read].map(Voltage::from_kilovolts);
            Some(Compared::Voltage { known, read })
        }
        "current" => {
            let [known, read] = [known, read].map(Current::from_microamperes);
            Some(Compared::Current { known, read })
        }
        _ => None,
    }
}

fn residual(rest: &str, line: &str) -> Result<Option<Voltage>, SayFault> {
    if rest == "?" {
        return Ok(None);
    }
    if rest.is_empty() || rest.contains(char::is_whitespace) {
        let write = "the kilovolts left, for example `residual 0.04`, or `residual ?` where the \
                     meter cannot tell";
        return Err(SayFault::Form { write, found: line.to_owned() });
    }
    let row = typed_row("0", rest, "0", "").map_err(SayFault::Reading)?;
    row.reading.voltage.map(Some).ok_or_else(|| SayFault::Form {
        write: "a larger voltmeter range, then the kilovolts left",
        found: line.to_owned(),
    })
}

fn ground(rest: &str) -> Option<Act> {
    let (number, rest) = split(rest);
    let place = match split(rest) {
        ("", _) => None,
        ("at", place) if !place.is_empty() => Some(place.to_owned()),
        _ => return None,
    };
    let number = Some(number).filter(|number| !number.is_empty())?.to_owned();
    Some(Act::Ground { number, place })
}

fn leave(rest: &str) -> Option<Act> {
    let (number, rest) = split(rest);
    match split(rest) {
        ("to", to) if !to.is_empty() && !number.is_empty() => {
            Some(Act::Leave { number: number.to_owned(), to: to.to_owned() })
        }
        _ => None,
    }
}

fn numbers(phase: Option<String>, words: &str, mode: Mode) -> Result<Said, SayFault> {
    let fields: Vec<&str> = words.split_whitespace().collect();
    match (mode, fields.as_slice()) {
        (Mode::Typed, [NOT_READ, NOT_READ]) | (Mode::Piped, [_, NOT_READ, NOT_READ]) => {
            let write = "one of the two values at least, and `?` for the other";
            Err(SayFault::Form { write, found: words.to_owned() })
        }
        (Mode::Typed, [kv, ua]) => {
            let row = partly_read("0", kv, ua, "").map_err(SayFault::Reading)?;
            Ok(Said::Reading { phase, reading: row.reading })
        }
        (Mode::Piped, [t_s, kv, ua]) => piped(phase, t_s, kv, ua, ""),
        (Mode::Piped, [t_s, kv, ua, event]) => piped(phase, t_s, kv, ua, event),
        (mode, fields) => {
            if let Some(found) = fields.iter().find(|field| field.contains(',')) {
                let write =
                    "a decimal point, and blanks between the numbers, for example `30.1 2.4`";
                return Err(SayFault::Form { write, found: (*found).to_owned() });
            }
            Err(SayFault::Numbers { mode, found: fields.len() })
        }
    }
}

fn piped(
    phase: Option<String>,
    t_s: &str,
    kv: &str,
    ua: &str,
    event: &str,
) -> Result<Said, SayFault> {
    let row = partly_read(t_s, kv, ua, event).map_err(SayFault::Reading)?;
    Ok(Said::Row { phase, row })
}

/// A row one of whose values may not have been read.
fn partly_read(t_s: &str, kv: &str, ua: &str, event: &str) -> Result<Row, ReadingsFault> {
    let number = |field| if field == NOT_READ { "0" } else { field };
    let mut row = typed_row(t_s, number(kv), number(ua), event)?;
    let reading = &mut row.reading;
    if kv == NOT_READ {
        (reading.voltage, reading.voltage_half_digit) = (None, None);
    }
    if ua == NOT_READ {
        (reading.current, reading.current_half_digit) = (None, None);
    }
    Ok(row)
}
