//! What goes to stdout and stderr while a test runs, on a thread of its own: a reader that stops
//! reading, such as a pager, holds up neither the meter nor the disk.

use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::time::Duration;

use super::voice::aside;
use crate::output::print;

/// Lines that may wait for their reader. What comes then is left out: the record has it, and an
/// acknowledgement stands for all before it.
const WAITING: usize = 1 << 16;

/// How long a reader is waited for at the end.
const ENDING: Duration = Duration::from_secs(1);

/// Writes lines in the order they are given.
pub(crate) struct Pen {
    to: Option<SyncSender<Line>>,
    ended: Receiver<()>,
}

enum Line {
    Out(String),
    Err(String),
}

impl Pen {
    /// Starts it.
    pub(crate) fn new() -> Self {
        let (to, lines) = sync_channel(WAITING);
        let (end, ended) = sync_channel(0);
        std::thread::spawn(move || {
            for line in lines {
                match line {
                    Line::Out(line) => print(&format!("{line}\n")),
                    Line::Err(line) => aside(&line),
                }
            }
            drop(end);
        });
        Self { to: Some(to), ended }
    }

    /// A line on stdout.
    pub(crate) fn out(&self, line: String) {
        self.write(Line::Out(line));
    }

    /// A line on stderr.
    pub(crate) fn err(&self, line: String) {
        self.write(Line::Err(line));
    }

    fn write(&self, line: Line) {
        if let Some(to) = &self.to {
            // See `WAITING`.
            let _ = to.try_send(line);
        }
    }
}

impl Drop for Pen {
    fn drop(&mut self) {
        self.to = None;
        // It ends by dropping its end; one whose reader does not read is left to itself.
        let _ = self.ended.recv_timeout(ENDING);
    }
}
