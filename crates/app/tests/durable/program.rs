//! The program as a child: what it says, what it acknowledges, and its sudden end.

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::process::{Child, ChildStdin, Command, ExitStatus, Output, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use serde_json::Value;

/// A run that neither ends nor says anything for so long hangs.
const PATIENCE: Duration = Duration::from_secs(120);

/// The built program.
pub(crate) const PROGRAM: &str = env!("CARGO_BIN_EXE_ohmstead");

/// Runs the program to its end with nothing to read.
pub(crate) fn call(words: &[&str]) -> Output {
    Command::new(PROGRAM)
        .args(words)
        .stdin(Stdio::null())
        .output()
        .expect("the program was built for this test")
}

/// The last acknowledgement, and how many there were.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Acknowledged {
    pub(crate) lines: u64,
    /// Number of the last durable event.
    pub(crate) seq: u64,
    /// Readings that are durable.
    pub(crate) readings: u64,
}

/// A run of the program that goes on.
pub(crate) struct Running {
    child: Child,
    stdin: Option<ChildStdin>,
    lines: Receiver<String>,
    errors: JoinHandle<String>,
    said: Said,
}

/// What a run said.
#[derive(Debug, Default)]
pub(crate) struct Said {
    pub(crate) acknowledged: Acknowledged,
    /// Lines of stdout that acknowledge nothing, in order.
    pub(crate) others: Vec<Value>,
    /// Everything on stderr.
    pub(crate) errors: String,
    /// How it ended; `None` when it was killed.
    pub(crate) status: Option<ExitStatus>,
}

impl Running {
    /// Starts `ohmstead` with these words.
    pub(crate) fn start(words: &[&str]) -> Self {
        let mut command = Command::new(PROGRAM);
        command.args(words);
        Self::of(command)
    }

    /// Starts a command that ends up as the program.
    pub(crate) fn of(mut command: Command) -> Self {
        let mut child = command
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program was built for this test");
        let stdout = child.stdout.take().expect("it was piped");
        let mut stderr = child.stderr.take().expect("it was piped");
        let stdin = child.stdin.take();
        let (send, lines) = channel();
        std::thread::spawn(move || {
            let mut stdout = BufReader::new(stdout);
            let mut line = String::new();
            // Half a line acknowledges nothing.
            while matches!(stdout.read_line(&mut line), Ok(1..)) && line.ends_with('\n') {
                if send.send(std::mem::take(&mut line)).is_err() {
                    return;
                }
            }
        });
        let errors = std::thread::spawn(move || {
            let mut said = Vec::new();
            let _ = stderr.read_to_end(&mut said);
            String::from_utf8_lossy(&said).into_owned()
        });
        Self { child, stdin, lines, errors, said: Said::default() }
    }

    pub(crate) fn id(&self) -> u32 {
        self.child.id()
    }

    /// Writes a line to it; whether it still listens.
    pub(crate) fn tell(&mut self, line: &str) -> bool {
        let Some(stdin) = &mut self.stdin else { return false };
        stdin.write_all(format!("{line}\n").as_bytes()).is_ok()
    }

    /// Says that no more lines come.
    pub(crate) fn end_of_lines(&mut self) {
        self.stdin = None;
    }

    pub(crate) fn acknowledged(&self) -> Acknowledged {
        self.said.acknowledged
    }

    /// Hears what it says for some time; whether it still can say something.
    pub(crate) fn hear_for(&mut self, time: Duration) -> bool {
        let until = Instant::now() + time;
        loop {
            let left = until.saturating_duration_since(Instant::now());
            match self.lines.recv_timeout(left) {
                Ok(line) => self.heard(&line),
                Err(RecvTimeoutError::Timeout) => return true,
                Err(RecvTimeoutError::Disconnected) => return false,
            }
        }
    }

    /// Hears until the event of this number is acknowledged; whether it came so far.
    pub(crate) fn hear_until(&mut self, seq: u64) -> bool {
        while self.said.acknowledged.seq < seq {
            match self.lines.recv_timeout(PATIENCE) {
                Ok(line) => self.heard(&line),
                Err(RecvTimeoutError::Disconnected) => return false,
                Err(RecvTimeoutError::Timeout) => panic!("nothing was said for {PATIENCE:?}"),
            }
        }
        true
    }

    /// SIGKILL, and what was said before.
    pub(crate) fn kill(mut self) -> Said {
        self.child.kill().expect("a child can be killed");
        self.child.wait().expect("a killed child can be waited for");
        self.rest(None)
    }

    /// Hears it to its own end.
    pub(crate) fn finish(mut self) -> Said {
        self.end_of_lines();
        loop {
            match self.lines.recv_timeout(PATIENCE) {
                Ok(line) => self.heard(&line),
                Err(RecvTimeoutError::Disconnected) => break,
                Err(RecvTimeoutError::Timeout) => {
                    let said = self.kill();
                    panic!("it did not end, {}", said.errors);
                }
            }
        }
        let status = self.child.wait().expect("a child can be waited for");
        self.rest(Some(status))
    }

    fn rest(mut self, status: Option<ExitStatus>) -> Said {
        while let Ok(line) = self.lines.recv() {
            self.heard(&line);
        }
        let mut said = self.said;
        said.errors = self.errors.join().expect("the thread has no way to panic");
        said.status = status;
        said
    }

    fn heard(&mut self, line: &str) {
        let value: Value = serde_json::from_str(line)
            .unwrap_or_else(|error| panic!("{line:?} is no line of JSON: {error}"));
        match (value["kept"].as_u64(), value["readings"].as_u64()) {
            (Some(seq), Some(readings)) => {
                let before = self.said.acknowledged;
                assert!(seq > before.seq, "{line} after {before:?}");
                assert!(readings >= before.readings, "{line} after {before:?}");
                self.said.acknowledged = Acknowledged { lines: before.lines + 1, seq, readings };
            }
            _ => self.said.others.push(value),
        }
    }
}
