//! A meter that is asked, one question at a time.
//!
//! An answer belongs to a question only because it comes after it. So whenever something went
//! wrong (no answer in time, an answer that is none, an answer that nobody asked for), the
//! next question waits until the meter has answered one whose answer looks like no other.

use std::io::ErrorKind;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use crate::address::Address;
use crate::framer::{Answer, FrameFault, Framer, beginning};
use crate::number::{NumberFault, Shown, number};
use crate::query::{self, NotAQuery};
use crate::wire::{Wire, open};

/// How often a wait looks whether it was told to stop.
const LOOK: Duration = Duration::from_millis(200);

/// Entries of a meter's list of errors that are read at most before the next question.
const MOST_ERRORS: usize = 16;

/// How a meter is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Settings {
    /// How long an answer may take.
    pub timeout: Duration,
    /// How long a connection may take.
    pub connect: Duration,
    /// How long an answer may be, in bytes.
    pub longest: usize,
}

impl Default for Settings {
    fn default() -> Self {
        let second = Duration::from_secs(1);
        Self { timeout: second, connect: 3 * second, longest: 1 << 16 }
    }
}

/// Why there is no meter.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum OpenError {
    /// Nothing has this name.
    Name {
        /// The host.
        host: String,
    },
    /// Nothing listens there, or it cannot be reached.
    Connect {
        /// Where.
        address: Address,
        /// What the system says.
        kind: ErrorKind,
    },
    /// The serial line cannot be opened.
    Device {
        /// Its path.
        device: String,
        /// What the system says.
        kind: ErrorKind,
    },
}

/// How a meter was lost.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Loss {
    /// The other side ended the connection.
    Closed,
    /// It ended in the middle of an answer, of which nothing is made.
    MidAnswer {
        /// Bytes of it that had come.
        bytes: usize,
    },
    /// It answers nothing, or what comes belongs to no question.
    OutOfStep,
    /// The line failed.
    Line {
        /// What the system says.
        kind: ErrorKind,
    },
    /// It was not opened again since.
    NotOpen,
}

/// What is wrong with an answer.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Garble {
    /// It is no line and no block.
    Frame(FrameFault),
    /// It is no number.
    Number(NumberFault),
    /// It is a block where a line was asked for.
    Block,
}

/// Why a question has no answer.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum AskError {
    /// It was not sent.
    NotSent(NotAQuery),
    /// No answer came in time.
    TimedOut {
        /// What was asked.
        query: String,
        /// How long was waited.
        after: Duration,
    },
    /// The meter is gone; open it again.
    Lost(Loss),
    /// What came is no answer.
    Garbled {
        /// The start of what came.
        sent: String,
        /// What is wrong with it.
        fault: Garble,
    },
    /// The wait was told to stop.
    Stopped,
}

/// A meter on a wire.
pub struct Meter {
    address: Address,
    settings: Settings,
    wire: Option<Box<dyn Wire>>,
    framer: Framer,
    input: Box<[u8]>,
    /// The part of `input` that is not looked at yet.
    unread: std::ops::Range<usize>,
    /// Whether the next answer belongs to the next question.
    in_step: bool,
    /// Whether bytes may still come from before this connection.
    keeps_bytes: bool,
    stop: Arc<AtomicBool>,
}

impl Meter {
    /// Opens the meter at this address.
    ///
    /// # Errors
    ///
    /// When nothing is there.
    pub fn open(address: &Address, settings: Settings) -> Result<Self, OpenError> {
        let mut meter = Self {
            address: address.clone(),
            settings,
            wire: None,
            framer: Framer::new(settings.longest),
            input: vec![0; 4096].into_boxed_slice(),
            unread: 0..0,
            in_step: false,
            keeps_bytes: false,
            stop: Arc::default(),
        };
        meter.reopen()?;
        Ok(meter)
    }

    /// Opens it once more; the caller decides when, and how often.
    ///
    /// # Errors
    ///
    /// When nothing is there.
    pub fn reopen(&mut self) -> Result<(), OpenError> {
        self.let_go();
        let (wire, keeps_bytes) = open(&self.address, self.settings.connect)?;
        self.wire = Some(wire);
        self.keeps_bytes = keeps_bytes;
        self.in_step = !keeps_bytes;
        Ok(())
    }

    /// Where it is.
    #[must_use]
    pub const fn address(&self) -> &Address {
        &self.address
    }

    /// Whether it is open, as far as is known.
    #[must_use]
    pub const fn is_open(&self) -> bool {
        self.wire.is_some()
    }

    /// Asks one question.
    ///
    /// # Errors
    ///
    /// When the question may not be sent, or has no answer.
    pub fn ask(&mut self, line: &str) -> Result<Answer, AskError> {
        query::check(line).map_err(AskError::NotSent)?;
        self.look_for_strays()?;
        if !self.in_step {
            self.find_step(line)?;
        }
        self.send(line)?;
        let marker = line == query::NEXT_ERROR;
        let deadline = Instant::now() + self.settings.timeout;
        loop {
            match self.receive(line, deadline) {
                // The late answer to a question that only looked for the step.
                Ok(Answer::Line(entry)) if !marker && query::error_entry(&entry).is_some() => {}
                Err(AskError::TimedOut { query, after }) => {
                    // What it finds out is kept; this question stays without answer.
                    let _ = self.find_step(line);
                    return Err(AskError::TimedOut { query, after });
                }
                other => {
                    self.in_step &= other.is_ok();
                    return other;
                }
            }
        }
    }

    /// Asks for one line.
    ///
    /// # Errors
    ///
    /// As [`Self::ask`], and when a block comes.
    pub fn ask_line(&mut self, line: &str) -> Result<String, AskError> {
        match self.ask(line)? {
            Answer::Line(text) => Ok(text),
            Answer::Block(bytes) => {
                Err(AskError::Garbled { sent: beginning(&bytes), fault: Garble::Block })
            }
        }
    }

    /// Asks for one number.
    ///
    /// # Errors
    ///
    /// As [`Self::ask`], and when what comes is no number.
    pub fn ask_number(&mut self, line: &str) -> Result<Shown<f64>, AskError> {
        let text = self.ask_line(line)?;
        number(&text).map_err(|fault| {
            self.in_step = false;
            AskError::Garbled { sent: beginning(text.as_bytes()), fault: Garble::Number(fault) }
        })
    }

    /// Who the meter says it is; `None` where it does not answer that.
    ///
    /// # Errors
    ///
    /// When the meter is gone.
    pub fn identity(&mut self) -> Result<Option<String>, AskError> {
        match self.ask_line(query::IDENTITY) {
            Ok(text) => Ok(Some(text)),
            Err(AskError::TimedOut { .. } | AskError::Garbled { .. }) => {
                if self.wire.is_none() {
                    self.reopen().map_err(|_| AskError::Lost(Loss::NotOpen))?;
                }
                Ok(None)
            }
            Err(error) => Err(error),
        }
    }

    /// Empties the meter's list of errors.
    ///
    /// # Errors
    ///
    /// When the meter is gone.
    pub fn clear(&mut self) -> Result<(), AskError> {
        self.send(query::CLEAR)
    }

    /// What ends every wait of this meter, from another thread, once it is true.
    pub(crate) fn stopper(&self) -> Arc<AtomicBool> {
        Arc::clone(&self.stop)
    }

    /// What came unasked means that the next answer may belong to something else. Ends of lines
    /// alone mean nothing.
    fn look_for_strays(&mut self) -> Result<(), AskError> {
        while self.in_step {
            let mut rest = &self.input[self.unread.clone()];
            let whole = self.framer.take(&mut rest);
            self.unread.start = self.unread.end - rest.len();
            self.in_step = whole.is_none() && self.framer.partial() == 0;
            if self.unread.is_empty() && !self.fill_from_pending()? {
                break;
            }
        }
        Ok(())
    }

    fn fill_from_pending(&mut self) -> Result<bool, AskError> {
        let Some(wire) = &mut self.wire else { return Err(AskError::Lost(Loss::NotOpen)) };
        match wire.pending() {
            Ok(true) => self.fill(Duration::ZERO).map(|got| got > 0),
            Ok(false) => Ok(false),
            Err(error) => Err(self.lose(error.kind())),
        }
    }

    /// Asks for the list of errors until its end and passes over everything before.
    fn find_step(&mut self, line: &str) -> Result<(), AskError> {
        self.in_step = false;
        self.framer.clear();
        self.unread = 0..0;
        for _ in 0..MOST_ERRORS {
            self.send(query::NEXT_ERROR)?;
            let sent = Instant::now();
            let deadline = sent + self.settings.timeout;
            let mut last_came = sent;
            loop {
                match self.receive(line, deadline) {
                    Ok(Answer::Line(text)) => match query::error_entry(&text) {
                        Some(0) => {
                            self.in_step = true;
                            return Ok(());
                        }
                        Some(_) => break,
                        None => last_came = Instant::now(),
                    },
                    Ok(Answer::Block(_)) | Err(AskError::Garbled { .. }) => {
                        last_came = Instant::now();
                    }
                    Err(error @ AskError::TimedOut { .. }) => {
                        return self.without_marker(deadline - last_came, error);
                    }
                    Err(error) => return Err(error),
                }
            }
        }
        self.in_step = true;
        Ok(())
    }

    /// A meter that knows no list of errors. A socket is given up: a new one brings no old
    /// answer. A serial line stays the same, so there a time of quiet has to do.
    fn without_marker(&mut self, quiet: Duration, error: AskError) -> Result<(), AskError> {
        if self.keeps_bytes && quiet * 2 >= self.settings.timeout && self.framer.partial() == 0 {
            self.in_step = true;
            return Ok(());
        }
        self.let_go();
        Err(error)
    }

    fn send(&mut self, line: &str) -> Result<(), AskError> {
        let Some(wire) = &mut self.wire else { return Err(AskError::Lost(Loss::NotOpen)) };
        let sent = wire.write(format!("{line}\n").as_bytes(), self.settings.timeout);
        sent.map_err(|error| self.lose(error.kind()))
    }

    fn receive(&mut self, line: &str, deadline: Instant) -> Result<Answer, AskError> {
        loop {
            let mut rest = &self.input[self.unread.clone()];
            let whole = self.framer.take(&mut rest);
            self.unread.start = self.unread.end - rest.len();
            match whole {
                Some(Ok(answer)) => return Ok(answer),
                Some(Err(fault)) => {
                    let sent = fault.start().to_owned();
                    return Err(AskError::Garbled { sent, fault: Garble::Frame(fault) });
                }
                None => {}
            }
            if self.stop.load(Ordering::Relaxed) {
                return Err(AskError::Stopped);
            }
            let left = deadline.saturating_duration_since(Instant::now());
            if left.is_zero() {
                let after = self.settings.timeout;
                return Err(AskError::TimedOut { query: line.to_owned(), after });
            }
            self.fill(left.min(LOOK))?;
        }
    }

    /// Reads once; zero when nothing came in time.
    fn fill(&mut self, wait: Duration) -> Result<usize, AskError> {
        let Some(wire) = &mut self.wire else { return Err(AskError::Lost(Loss::NotOpen)) };
        match wire.read(&mut self.input, wait) {
            Ok(0) => Err(self.lose(ErrorKind::UnexpectedEof)),
            Ok(got) => {
                self.unread = 0..got;
                Ok(got)
            }
            Err(error) if matches!(error.kind(), ErrorKind::TimedOut | ErrorKind::Interrupted) => {
                Ok(0)
            }
            Err(error) => Err(self.lose(error.kind())),
        }
    }

    fn lose(&mut self, kind: ErrorKind) -> AskError {
        const ENDS: &[ErrorKind] = &[
            ErrorKind::UnexpectedEof,
            ErrorKind::BrokenPipe,
            ErrorKind::ConnectionReset,
            ErrorKind::ConnectionAborted,
        ];
        let bytes = self.framer.partial();
        self.let_go();
        AskError::Lost(match ENDS.contains(&kind) {
            true if bytes > 0 => Loss::MidAnswer { bytes },
            true => Loss::Closed,
            false => Loss::Line { kind },
        })
    }

    fn let_go(&mut self) {
        self.wire = None;
        self.framer.clear();
        self.unread = 0..0;
        self.in_step = false;
    }
}
