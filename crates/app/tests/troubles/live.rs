//! The program while it runs: what it is told, and what it says as it says it.

use std::io::{BufReader, Read, Write as _};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread;
use std::time::{Duration, Instant};

/// How long anything is waited for; a machine that is busy is given time.
const PATIENCE: Duration = Duration::from_secs(40);

/// Where a line came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum From {
    Out,
    Err,
}

/// A program that runs; it is ended with this.
pub(crate) struct Live {
    child: Child,
    stdin: Option<ChildStdin>,
    lines: Receiver<(From, Option<String>)>,
    heard: Vec<(From, String)>,
    /// Lines before this one were looked at already.
    looked: usize,
    /// Streams that have ended.
    ended: usize,
}

/// How it ended, and all that it said.
#[derive(Debug)]
pub(crate) struct Ended {
    /// Exit status; `None` where a signal ended it.
    pub(crate) status: Option<i32>,
    pub(crate) out: String,
    pub(crate) err: String,
}

impl Live {
    pub(crate) fn start(mut command: Command) -> Self {
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = command.spawn().expect("the program was built for this test");
        let (send, lines) = channel();
        listen(From::Out, child.stdout.take().expect("piped"), send.clone());
        listen(From::Err, child.stderr.take().expect("piped"), send);
        let stdin = child.stdin.take();
        Self { child, stdin, lines, heard: Vec::new(), looked: 0, ended: 0 }
    }

    pub(crate) fn id(&self) -> u32 {
        self.child.id()
    }

    pub(crate) fn say(&mut self, line: &str) {
        let stdin = self.stdin.as_mut().expect("it is not closed yet");
        writeln!(stdin, "{line}").expect("it listens");
    }

    pub(crate) fn say_all(&mut self, lines: &str) {
        let stdin = self.stdin.as_mut().expect("it is not closed yet");
        stdin.write_all(lines.as_bytes()).expect("it listens");
    }

    pub(crate) fn close_stdin(&mut self) {
        self.stdin = None;
    }

    /// Sends a signal, such as `INT`.
    pub(crate) fn signal(&self, name: &str) {
        let id = self.child.id().to_string();
        let sent = Command::new("kill").args([&format!("-{name}"), &id]).status();
        assert!(sent.is_ok_and(|status| status.success()), "signal {name} was not sent");
    }

    /// Waits for a line on stdout that has these words, after the last one waited for.
    pub(crate) fn until_out(&mut self, words: &str) -> String {
        self.until(words, |from, line| from == From::Out && line.contains(words))
    }

    /// The same on stderr.
    pub(crate) fn until_err(&mut self, words: &str) -> String {
        self.until(words, |from, line| from == From::Err && line.contains(words))
    }

    /// Waits until so many readings are acknowledged.
    pub(crate) fn until_kept(&mut self, readings: u64) {
        if self.kept() < readings {
            self.until("an acknowledgement", |from, line| {
                from == From::Out && kept(line).is_some_and(|kept| kept >= readings)
            });
        }
    }

    /// Readings that are acknowledged, as far as was heard.
    pub(crate) fn kept(&mut self) -> u64 {
        while let Ok(line) = self.lines.try_recv() {
            self.hear(line);
        }
        let out = self.heard.iter().filter(|(from, _)| *from == From::Out);
        out.filter_map(|(_, line)| kept(line)).max().unwrap_or(0)
    }

    /// Whether stderr has these words, as far as was heard.
    pub(crate) fn was_told(&self, words: &str) -> bool {
        self.heard.iter().any(|(from, line)| *from == From::Err && line.contains(words))
    }

    /// The line of stderr with these words, which was heard.
    pub(crate) fn line_with(&self, words: &str) -> String {
        let mut all = self.heard.iter();
        let found = all.find(|(from, line)| *from == From::Err && line.contains(words));
        found.map(|(_, line)| line.clone()).unwrap_or_default()
    }

    /// Lets it work for a moment, and hears what it says.
    pub(crate) fn pause(&mut self) {
        if let Ok(line) = self.lines.recv_timeout(Duration::from_millis(20)) {
            self.hear(line);
        }
        self.kept();
    }

    fn until(&mut self, what: &str, is: impl Fn(From, &str) -> bool) -> String {
        let deadline = Instant::now() + PATIENCE;
        loop {
            while self.looked < self.heard.len() {
                let (from, line) = &self.heard[self.looked];
                self.looked += 1;
                if is(*from, line) {
                    return line.clone();
                }
            }
            let left = deadline.saturating_duration_since(Instant::now());
            match self.lines.recv_timeout(left) {
                Ok(line) => self.hear(line),
                Err(RecvTimeoutError::Timeout) => panic!("no {what} came\n{}", self.all()),
                Err(RecvTimeoutError::Disconnected) => {
                    panic!("it ended without {what}\n{}", self.all())
                }
            }
        }
    }

    fn hear(&mut self, (from, line): (From, Option<String>)) {
        match line {
            Some(line) => self.heard.push((from, line)),
            None => self.ended += 1,
        }
    }

    fn all(&self) -> String {
        self.heard.iter().map(|(from, line)| format!("{from:?}: {line}\n")).collect()
    }

    /// Closes its stdin and waits for its end.
    pub(crate) fn end(mut self) -> Ended {
        self.close_stdin();
        let deadline = Instant::now() + PATIENCE;
        while self.ended < 2 {
            let left = deadline.saturating_duration_since(Instant::now());
            match self.lines.recv_timeout(left) {
                Ok(line) => self.hear(line),
                Err(_) => panic!("it does not end\n{}", self.all()),
            }
        }
        let status = self.child.wait().expect("it is our child").code();
        let of = |wanted: From| {
            let lines = self.heard.iter().filter(|(from, _)| *from == wanted);
            lines.map(|(_, line)| format!("{line}\n")).collect()
        };
        Ended { status, out: of(From::Out), err: of(From::Err) }
    }
}

impl Drop for Live {
    fn drop(&mut self) {
        // It has ended already where all went well.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Ended {
    /// The last acknowledgement.
    pub(crate) fn kept(&self) -> u64 {
        self.out.lines().filter_map(kept).max().unwrap_or(0)
    }

    /// The line of stderr with these words.
    pub(crate) fn told(&self, words: &str) -> &str {
        let line = self.err.lines().find(|line| line.contains(words));
        line.unwrap_or_else(|| panic!("no \"{words}\" in\n{}", self.err))
    }
}

/// Readings that a line acknowledges.
fn kept(line: &str) -> Option<u64> {
    let line: serde_json::Value = serde_json::from_str(line).ok()?;
    line.get("kept")?;
    line.get("readings")?.as_u64()
}

fn listen(from: From, stream: impl Read + Send + 'static, to: Sender<(From, Option<String>)>) {
    thread::spawn(move || {
        let mut piece = Vec::new();
        for byte in BufReader::new(stream).bytes().map_while(Result::ok) {
            // A screen has no ends of lines; what it says stands between its commands.
            if byte != b'\n' && byte != 0x1b {
                piece.push(byte);
                continue;
            }
            let line = String::from_utf8_lossy(&piece).trim_end().to_owned();
            piece.clear();
            if to.send((from, Some(line))).is_err() {
                return;
            }
        }
        // Nobody may listen any more.
        let _ = to.send((from, None));
    });
}

/// Waits for this long, where it is the passing of time that is tried.
pub(crate) fn pass(time: Duration) {
    let (_held, nothing) = channel::<()>();
    let _ = nothing.recv_timeout(time);
}
