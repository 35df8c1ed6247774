//! The words by which the set answers on a wire: a line in, a line out. Queries only.
//!
//! Source for the form of messages, the error numbers and the status bits: SCPI-1999 volume 1 and
//! IEEE 488.2, from memory and from a public parser. `SYSTem:PRACtice:` is our own.

use std::collections::VecDeque;

use quantity::{Current, Time, Voltage};

use crate::hand::{Deed, Hand};
use crate::needle::Shown;
use crate::rig::Rig;

/// What the set answers to `*IDN?`; it marks every record SIMULATED.
const IDENTITY: &str = concat!("Ohmstead,Practice set,SIMULATED,", env!("CARGO_PKG_VERSION"));
/// The edition that `SYSTem:VERSion?` names.
const EDITION: &str = "1999.0";
/// Beyond the range, and more than can be told. SCPI-1999 volume 1, 7.2.1.4, from memory.
const INFINITY: &str = "9.9E37";
/// Errors kept; a further one becomes a queue overflow.
const QUEUE: usize = 10;
/// Longest stride taken in one go, a month.
const LONGEST: f64 = 31.0 * 86_400.0;

/// An error, as SCPI-1999 numbers it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Fault {
    InvalidCharacter,
    DataType,
    ParameterNotAllowed,
    MissingParameter,
    UndefinedHeader,
    SettingsConflict,
    OutOfRange,
    QueueOverflow,
}

impl Fault {
    const fn said(self) -> &'static str {
        match self {
            Self::InvalidCharacter => "-101,\"Invalid character\"",
            Self::DataType => "-104,\"Data type error\"",
            Self::ParameterNotAllowed => "-108,\"Parameter not allowed\"",
            Self::MissingParameter => "-109,\"Missing parameter\"",
            Self::UndefinedHeader => "-113,\"Undefined header\"",
            Self::SettingsConflict => "-221,\"Settings conflict\"",
            Self::OutOfRange => "-222,\"Data out of range\"",
            Self::QueueOverflow => "-350,\"Queue overflow\"",
        }
    }

    /// Its bit of the standard event status register.
    const fn event_bit(self) -> u8 {
        match self {
            Self::InvalidCharacter
            | Self::DataType
            | Self::ParameterNotAllowed
            | Self::MissingParameter
            | Self::UndefinedHeader => 0x20,
            Self::SettingsConflict | Self::OutOfRange => 0x10,
            Self::QueueOverflow => 0x08,
        }
    }
}

/// What can be asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Command {
    Identity,
    Clear,
    Reset,
    Complete,
    EventStatus,
    StatusByte,
    Error,
    Version,
    Voltage,
    Current,
    Advance,
    Stride,
}

/// Words of a header: what must be written in capitals, what may be left out in brackets.
const COMMANDS: &[(&str, Command)] = &[
    ("*IDN?", Command::Identity),
    ("*CLS", Command::Clear),
    ("*RST", Command::Reset),
    ("*OPC?", Command::Complete),
    ("*ESR?", Command::EventStatus),
    ("*STB?", Command::StatusByte),
    ("SYSTem:ERRor[:NEXT]?", Command::Error),
    ("SYSTem:VERSion?", Command::Version),
    ("MEASure:VOLTage[:DC]?", Command::Voltage),
    ("MEASure:CURRent[:DC]?", Command::Current),
    ("SYSTem:PRACtice:ADVance?", Command::Advance),
    ("SYSTem:PRACtice:STRide?", Command::Stride),
];

/// A practice set and the hand at it, behind a wire.
#[derive(Clone, Debug)]
pub struct Skin {
    rig: Rig,
    hand: Hand,
    deeds: Vec<Deed>,
    errors: VecDeque<Fault>,
    events: u8,
}

impl Skin {
    /// Puts a rig and the hand that works it behind a wire.
    #[must_use]
    pub fn new(rig: Rig, hand: Hand) -> Self {
        // Power on. IEEE 488.2: bit 7 of the event status register.
        Self { rig, hand, deeds: Vec::new(), errors: VecDeque::new(), events: 0x80 }
    }

    /// The set, as it stands.
    #[must_use]
    pub fn rig(&self) -> &Rig {
        &self.rig
    }

    /// Whether the hand has done everything.
    #[must_use]
    pub fn is_done(&self) -> bool {
        self.hand.is_done()
    }

    /// Goes on by some time; what the hand does meanwhile is kept until it is asked for.
    pub fn advance_by(&mut self, time: Time) {
        let to = self.rig.now() + time.max(Time::ZERO);
        self.deeds.extend(self.hand.work(&mut self.rig, to));
    }

    /// The answer to one line; `None` where the line asks for none.
    ///
    /// ```text
    /// MEAS:VOLT:DC?        → volts at the set's output, to the last digit the needle gives
    /// MEAS:CURR:DC?        → amperes through the ammeter; 9.9E37 beyond the scale
    /// SYST:PRAC:STR?       → seconds to the hand's next deed or reading, or to a trip
    /// SYST:PRAC:ADV? 2.5   → goes on by 2.5 s; ["@A rise"], the deeds since the last call
    /// ```
    pub fn answer(&mut self, line: &str) -> Option<String> {
        let mut answers = Vec::new();
        // After a semicolon the path goes on where it was; a colon returns to the root.
        let mut path = String::new();
        for unit in line.trim().split(';').map(str::trim).filter(|unit| !unit.is_empty()) {
            match self.one(unit, &mut path) {
                Ok(Some(answer)) => answers.push(answer),
                Ok(None) => {}
                Err(fault) => {
                    self.raise(fault);
                    break;
                }
            }
        }
        (!answers.is_empty()).then(|| answers.join(";"))
    }

    fn one(&mut self, unit: &str, path: &mut String) -> Result<Option<String>, Fault> {
        if !unit.is_ascii() {
            return Err(Fault::InvalidCharacter);
        }
        let (header, parameter) = match unit.split_once(char::is_whitespace) {
            Some((header, parameter)) => (header, Some(parameter.trim())),
            None => (unit, None),
        };
        let whole = match header.strip_prefix(':') {
            Some(from_root) => from_root.to_owned(),
            None if header.starts_with('*') => header.to_owned(),
            None => format!("{path}{header}"),
        };
        let known = COMMANDS.iter().find(|(pattern, _)| matches(pattern, &whole));
        let (_, command) = known.ok_or(Fault::UndefinedHeader)?;
        if !header.starts_with('*') {
            let last = whole.rfind(':').map_or(0, |colon| colon + 1);
            whole[..last].clone_into(path);
        }
        match (command, parameter) {
            (Command::Advance, Some(parameter)) => self.advance(parameter).map(Some),
            (Command::Advance, None) => Err(Fault::MissingParameter),
            (_, Some(_)) => Err(Fault::ParameterNotAllowed),
            (command, None) => self.plain(*command),
        }
    }

    /// A command without a parameter.
    fn plain(&mut self, command: Command) -> Result<Option<String>, Fault> {
        Ok(Some(match command {
            Command::Identity => IDENTITY.to_owned(),
            Command::Clear => {
                (self.events, self.errors) = (0, VecDeque::new());
                return Ok(None);
            }
            // A hand is at the set; nobody takes the dial out of it over a wire.
            Command::Reset => return Err(Fault::SettingsConflict),
            Command::Complete => "1".to_owned(),
            Command::EventStatus => std::mem::take(&mut self.events).to_string(),
            // IEEE 488.2 and SCPI-1999: bit 2, something in the error queue.
            Command::StatusByte => if self.errors.is_empty() { "0" } else { "4" }.to_owned(),
            Command::Error => {
                self.errors.pop_front().map_or("0,\"No error\"", Fault::said).to_owned()
            }
            Command::Version => EDITION.to_owned(),
            Command::Voltage => number(self.rig.needles().voltage.of(Voltage::volts)),
            Command::Current => number(self.rig.needles().current.of(Current::amperes)),
            Command::Stride => self.stride(),
            Command::Advance => return Err(Fault::MissingParameter),
        }))
    }

    /// To the hand's next deed or reading, or to the trip that comes before it.
    fn stride(&self) -> String {
        let Some(next) = self.hand.next(&self.rig) else { return INFINITY.to_owned() };
        let next = self.rig.trip_before(next).unwrap_or(next);
        format!("{:?}", (next - self.rig.now()).max(Time::ZERO).seconds())
    }

    fn advance(&mut self, parameter: &str) -> Result<String, Fault> {
        let seconds: f64 = parameter.parse().map_err(|_| Fault::DataType)?;
        if !(0.0..=LONGEST).contains(&seconds) {
            return Err(Fault::OutOfRange);
        }
        self.advance_by(Time::from_seconds(seconds));
        let words: Vec<String> = self.deeds.drain(..).map(|deed| deed.words).collect();
        Ok(serde_json::to_string(&words).expect("strings are plain data"))
    }

    fn raise(&mut self, fault: Fault) {
        self.events |= fault.event_bit();
        if self.errors.len() < QUEUE {
            self.errors.push_back(fault);
        } else if let Some(last) = self.errors.back_mut() {
            *last = Fault::QueueOverflow;
        }
    }
}

/// Whether a header fits a pattern such as `SYSTem:ERRor[:NEXT]?`, short or long, in any case.
fn matches(pattern: &str, header: &str) -> bool {
    if header.ends_with('?') != pattern.ends_with('?') {
        return false;
    }
    let (pattern, header) = (pattern.trim_end_matches('?'), header.trim_end_matches('?'));
    let (needed, optional) = match pattern.split_once('[') {
        Some((needed, optional)) => (needed, optional.trim_matches([':', ']'])),
        None => (pattern, ""),
    };
    let given: Vec<&str> = header.split(':').collect();
    let mut words: Vec<&str> = needed.split(':').collect();
    if given.len() > words.len() && !optional.is_empty() {
        words.push(optional);
    }
    given.len() == words.len() && given.iter().zip(words).all(|(given, word)| fits(given, word))
}

fn fits(given: &str, word: &str) -> bool {
    let short: String = word.chars().filter(|letter| !letter.is_ascii_lowercase()).collect();
    given.eq_ignore_ascii_case(word) || given.eq_ignore_ascii_case(&short)
}

/// A reading with as many digits as the needle gives.
fn number(shown: Shown<f64>) -> String {
    if shown.over {
        return INFINITY.to_owned();
    }
    // A resolution that is a power of ten but for rounding counts as one.
    let last = (shown.resolution.log10() + 1e-9).floor() as i32;
    let power = if shown.value == 0.0 {
        last
    } else {
        ((shown.value.log10() + 1e-9).floor() as i32).max(last)
    };
    let decimals = usize::try_from(power - last).unwrap_or(0);
    format!("{:.decimals$}E{power:+03}", shown.value / 10f64.powi(power))
}

#[cfg(test)]
mod tests {
    use standards::Library;

    use super::*;
    use crate::hand::Habits;

    fn skin() -> Skin {
        let text = include_str!("../../../docs/examples/cable.toml");
        let job = plan::job_file::parse(text).expect("the example is sound");
        let plan = plan::plan(&job, &Library::published());
        let rig = Rig::new(&job, &plan, 1).expect("sound");
        Skin::new(rig, Hand::new(&plan, Habits::default()).expect("sound"))
    }

    fn check(skin: &mut Skin, line: &str, expected: Option<&str>) {
        assert_eq!(skin.answer(line).as_deref(), expected, "{line}");
    }

    #[test]
    fn it_says_who_it_is_and_that_it_is_simulated() {
        let identity = skin().answer("*IDN?").expect("a query");
        let parts: Vec<&str> = identity.split(',').collect();
        assert_eq!(parts[..3], ["Ohmstead", "Practice set", "SIMULATED"]);
        assert_eq!(parts.len(), 4);
    }

    /// Source: SCPI-1999 volume 1, chapters 5 and 6, from memory, unverified.
    #[test]
    fn headers_are_short_or_long_in_any_case_and_keep_their_path() {
        let mut skin = skin();
        for line in [
            "MEAS:VOLT:DC?",
            ":MEASure:VOLTage:DC?",
            "meas:volt?",
            "Measure:Volt:Dc?",
            "  MEAS:VOLT?  ",
        ] {
            check(&mut skin, line, Some("0E+02"));
        }
        check(&mut skin, "MEAS:VOLT?;CURR?", Some("0E+02;0E-08"));
        check(
            &mut skin,
            "MEAS:VOLT?;:SYST:VERS?;*OPC?;ERR?",
            Some("0E+02;1999.0;1;0,\"No error\""),
        );
        check(&mut skin, "SYST:ERR:NEXT?", Some("0,\"No error\""));
        check(&mut skin, "", None);
        // Neither short nor long.
        check(&mut skin, "MEASU:VOLT?", None);
        check(&mut skin, "SYST:ERR?", Some("-113,\"Undefined header\""));
    }

    /// Source: numbers and texts of SCPI-1999 volume 2, chapter 21, as a public parser has them.
    #[test]
    fn what_it_does_not_understand_is_an_error_to_be_asked_for() {
        let mut skin = skin();
        check(&mut skin, "*ESR?", Some("128"));
        for (line, error) in [
            ("OUTP ON", "-113,\"Undefined header\""),
            ("MEAS:VOLT", "-113,\"Undefined header\""),
            ("*IDN? 3", "-108,\"Parameter not allowed\""),
            ("SYST:PRAC:ADV?", "-109,\"Missing parameter\""),
            ("SYST:PRAC:ADV? soon", "-104,\"Data type error\""),
            ("SYST:PRAC:ADV? -1", "-222,\"Data out of range\""),
            ("SYST:PRAC:ADV? nan", "-222,\"Data out of range\""),
            ("*RST", "-221,\"Settings conflict\""),
            ("MEAS:VOLT\u{fffd}?", "-101,\"Invalid character\""),
        ] {
            check(&mut skin, line, None);
            check(&mut skin, "*STB?", Some("4"));
            check(&mut skin, "SYST:ERR?", Some(error));
            check(&mut skin, "SYST:ERR?", Some("0,\"No error\""));
        }
        check(&mut skin, "*ESR?", Some("48"));
        check(&mut skin, "*ESR?;*STB?", Some("0;0"));
    }

    #[test]
    fn a_full_queue_ends_in_an_overflow_and_is_cleared() {
        let mut skin = skin();
        for _ in 0..QUEUE + 5 {
            check(&mut skin, "NONSENSE", None);
        }
        for _ in 1..QUEUE {
            check(&mut skin, "SYST:ERR?", Some("-113,\"Undefined header\""));
        }
        check(&mut skin, "SYST:ERR?", Some("-350,\"Queue overflow\""));
        check(&mut skin, "SYST:ERR?", Some("0,\"No error\""));
        check(&mut skin, "NONSENSE", None);
        check(&mut skin, "*CLS", None);
        check(&mut skin, "SYST:ERR?;*ESR?", Some("0,\"No error\";0"));
    }

    #[test]
    fn numbers_have_the_digits_that_the_needle_gives() {
        let shown = |value, resolution, over| Shown { value, over, resolution, range: 0.0 };
        for (value, resolution, expected) in [
            (0.0, 100.0, "0E+02"),
            (10_300.0, 100.0, "1.03E+04"),
            (65e3, 200.0, "6.50E+04"),
            (1.325e-6, 2.5e-8, "1.33E-06"),
            (2.5e-8, 2.5e-8, "2E-08"),
            (1e-5, 2.5e-6, "1.0E-05"),
            (20e3, 50.0, "2.000E+04"),
        ] {
            assert_eq!(number(shown(value, resolution, false)), expected, "{value}");
        }
        assert_eq!(number(shown(1.0, 0.1, true)), "9.9E37");
    }

    #[test]
    fn the_clock_goes_on_when_it_is_asked_to_and_tells_the_deeds() {
        let mut skin = skin();
        check(&mut skin, "SYST:PRAC:STR?", Some("0.0"));
        check(&mut skin, "SYST:PRAC:ADV? 0", Some("[\"@A ground 1 at A\"]"));
        check(&mut skin, "SYST:PRAC:ADV? 0", Some("[]"));
        check(&mut skin, "SYST:PRAC:STR?", Some("2.0"));
        check(&mut skin, "SYST:PRAC:ADV? 4.5", Some("[\"@B ground 2 at B\",\"@C ground 3 at C\"]"));
        check(&mut skin, "SYST:PRAC:STR?", Some("1.5"));
        // A server in real time keeps the deeds until they are asked for.
        skin.advance_by(Time::from_seconds(4.0));
        // The hold points of the example, one by one, between lead and check.
        let deeds = "lead A,tick two-persons,tick isolate,tick lock-and-tag,tick prove-dead,\
             tick ground-first,tick barrier,tick far-end-guarded,tick single-ground,\
             tick controls-checked,tick gas-tested,tick voltage-transformers-off,\
             tick arresters-off,tick surge-capacitors-off,tick drives-off,\
             tick electronics-off,tick backfeed-looked-for,tick no-thunder,\
             tick leads-dry,tick wind,tick corona-suppressed,check A";
        let told: Vec<String> = deeds.split(',').map(|deed| format!("\"{deed}\"")).collect();
        check(&mut skin, "SYST:PRAC:ADV? 0", Some(&format!("[{}]", told.join(","))));
        assert_eq!(skin.rig().now(), Time::from_seconds(8.5));
    }
}
