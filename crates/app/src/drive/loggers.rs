//! Loggers of the air: each is asked now and then, in a thread of its own.

use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::time::Duration;

use instrument::registers::Register;
use plan::job::{Logger, LoggerReads};
use quantity::{Ratio, Temperature};
use session::meters::Beside;

use super::clock::Clock;
use super::input::Input;

/// Air changes slowly. Common practice, no source.
const EVERY: Duration = Duration::from_secs(30);

/// How long an answer may take.
const WAIT: Duration = Duration::from_secs(2);

/// A scale where none is written: many loggers count tenths. Common practice, no source.
const SCALE: f64 = 0.1;

/// What air can be where a person tests. Common practice, no source; meters of humidity read a
/// little beyond 100 %.
const AIR_C: std::ops::RangeInclusive<f64> = -60.0..=80.0;
const HUMIDITY_PERCENT: std::ops::RangeInclusive<f64> = 0.0..=102.0;

/// What a logger told.
pub(crate) struct Logged {
    /// Which.
    pub(crate) name: String,
    /// Its value, or why there is none.
    pub(crate) told: Result<Beside, String>,
}

/// All of them; they end with this.
pub(super) struct Loggers {
    _stops: Vec<Sender<()>>,
}

impl Loggers {
    pub(super) fn start(loggers: &[Logger], clock: &Clock, send: &Sender<Input>) -> Self {
        let start = |logger: &Logger| {
            let (stop, stopped) = channel();
            let (logger, clock, send) = (logger.clone(), clock.clone(), send.clone());
            std::thread::spawn(move || {
                loop {
                    let logged = ask(&logger);
                    if send.send(Input::Logged(clock.now(), logged)).is_err() {
                        return;
                    }
                    if stopped.recv_timeout(EVERY) != Err(RecvTimeoutError::Timeout) {
                        return;
                    }
                }
            });
            stop
        };
        Self { _stops: loggers.iter().map(start).collect() }
    }
}

fn ask(logger: &Logger) -> Logged {
    let what = match logger.reads {
        LoggerReads::Temperature => "temperature",
        LoggerReads::Humidity => "humidity",
    };
    let name = format!("the logger of {what} at {}", logger.address);
    let told = value(logger).map(|value| {
        let mut beside = Beside { from: name.clone(), ..Beside::default() };
        match logger.reads {
            LoggerReads::Temperature => {
                beside.temperature_c = Some(Temperature::from_celsius(value));
            }
            LoggerReads::Humidity => beside.humidity_percent = Some(Ratio::from_percent(value)),
        }
        beside
    });
    Logged { name, told }
}

fn value(logger: &Logger) -> Result<f64, String> {
    let register = Register {
        address: logger
            .address
            .parse()
            .map_err(|error: instrument::AddressError| error.to_string())?,
        device: logger.device.unwrap_or(1),
        number: logger.register,
        is_input: logger.input.unwrap_or(false),
    };
    let count = register.read(WAIT).map_err(|error| error.to_string())?;
    possible(logger.reads, f64::from(count) * logger.scale.unwrap_or(SCALE))
}

/// What no air is, is no value: the scale or the register is another one.
fn possible(reads: LoggerReads, value: f64) -> Result<f64, String> {
    let (range, unit) = match reads {
        LoggerReads::Temperature => (AIR_C, "\u{b0}C"),
        LoggerReads::Humidity => (HUMIDITY_PERCENT, "%"),
    };
    if range.contains(&value) {
        return Ok(value);
    }
    Err(format!(
        "check its `scale` and `register` in the job file; it gave {value:.1} {unit}, and air is \
         from {} to {} {unit}",
        range.start(),
        range.end()
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative humidity ends at 100 % by its definition; air colder than -60 or hotter than 80 is
    /// of no place where a person tests (common practice, no source).
    #[test]
    fn what_no_air_is_is_no_value() {
        for (reads, value, is_taken) in [
            (LoggerReads::Humidity, 300.0, false),
            (LoggerReads::Humidity, 30.0, true),
            (LoggerReads::Humidity, -1.0, false),
            (LoggerReads::Temperature, -5.0, true),
            (LoggerReads::Temperature, 215.0, false),
        ] {
            let told = possible(reads, value);
            assert_eq!(told.is_ok(), is_taken, "{told:?}");
            assert!(told.map_or_else(|why| why.contains("`scale`"), |kept| kept == value));
        }
    }
}
