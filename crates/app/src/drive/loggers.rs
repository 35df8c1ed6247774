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
    Ok(f64::from(count) * logger.scale.unwrap_or(SCALE))
}
