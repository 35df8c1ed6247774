//! All that comes to the loop, in one queue.

use std::io::{BufRead, Read as _};
use std::sync::mpsc::Sender;
use std::sync::{Arc, Condvar, Mutex, PoisonError};

use instrument::reader::News;
use session::record::Now;
use store::trouble::AppendError;
use tokio::runtime::Builder;

use super::answers::Said;
use super::clock::Clock;
use super::keeper::Kept;
use super::loggers::Logged;
use super::wire::Wire;

/// One thing that came.
pub(crate) enum Input {
    /// A key, or the terminal has another size.
    Key(Now, crossterm::event::Event),
    /// A line from the pipe, with its number.
    Line(Now, usize, String, OnItsWay),
    /// The pipe has ended or cannot be read, or the terminal is gone.
    LinesEnded,
    /// The meter of this number said something.
    Meter(u64, News<Now>),
    /// A logger of the air said something, or nothing came of it.
    Logged(Now, Logged),
    /// What became of events that were handed over.
    Kept(Kept<AppendError>),
    /// A page says something.
    Said(Box<Said>),
    /// Readings come from elsewhere from now on; `None` for those that are typed.
    Source(Option<Box<Wire>>),
    /// The program is asked to end.
    Leave,
}

/// So many lines of a pipe are read ahead of what was taken.
const AHEAD: usize = 1024;

/// A line on its way from the pipe; when it is dropped, another may come.
#[derive(Debug)]
pub(crate) struct OnItsWay(Arc<Gate>);

#[derive(Debug, Default)]
struct Gate {
    lines: Mutex<usize>,
    fewer: Condvar,
}

impl Gate {
    /// Waits until there is room for one more.
    fn enter(gate: &Arc<Self>) -> OnItsWay {
        let lines = gate.lines.lock().unwrap_or_else(PoisonError::into_inner);
        let full = |lines: &mut usize| *lines >= AHEAD;
        let mut lines = gate.fewer.wait_while(lines, full).unwrap_or_else(PoisonError::into_inner);
        *lines += 1;
        OnItsWay(Arc::clone(gate))
    }
}

impl Drop for OnItsWay {
    fn drop(&mut self) {
        *self.0.lines.lock().unwrap_or_else(PoisonError::into_inner) -= 1;
        self.0.fewer.notify_one();
    }
}

/// No line of a pipe is longer, in bytes; what is, is no line.
const LONGEST_LINE: u64 = 16 * 1024;

/// Lines of the pipe, as they come, in a thread of its own.
pub(crate) fn lines(to: Sender<Input>, clock: Clock) {
    std::thread::spawn(move || {
        let mut pipe = std::io::stdin().lock();
        let gate = Arc::default();
        let mut number = 0;
        while let Some(line) = next_line(&mut pipe) {
            number += 1;
            let on_its_way = Gate::enter(&gate);
            let line = if number == 1 { line.trim_start_matches('\u{feff}') } else { &line };
            let line = line.trim_end().to_owned();
            if to.send(Input::Line(clock.now(), number, line, on_its_way)).is_err() {
                return;
            }
        }
        let _ = to.send(Input::LinesEnded);
    });
}

/// The next line of a pipe. One that is too long is told as such, in words that no line has, and
/// read past.
fn next_line(pipe: &mut impl BufRead) -> Option<String> {
    let mut bytes = Vec::new();
    pipe.by_ref().take(LONGEST_LINE).read_until(b'\n', &mut bytes).ok().filter(|read| *read > 0)?;
    if bytes.len() as u64 == LONGEST_LINE && bytes.last() != Some(&b'\n') {
        pipe.skip_until(b'\n').ok()?;
        return Some(format!("[a line of more than {LONGEST_LINE} bytes]"));
    }
    Some(String::from_utf8_lossy(&bytes).into_owned())
}

/// Ctrl+C, and the system's wish that the program ends, in a thread of its own.
pub(crate) fn wishes_to_end(to: Sender<Input>) {
    std::thread::spawn(move || {
        let Ok(runtime) = Builder::new_current_thread().enable_all().build() else { return };
        runtime.block_on(async {
            while asked().await.is_ok() {
                if to.send(Input::Leave).is_err() {
                    return;
                }
            }
        });
    });
}

#[cfg(unix)]
async fn asked() -> std::io::Result<()> {
    use tokio::signal::unix::{SignalKind, signal};
    let (mut end, mut hang_up) = (signal(SignalKind::terminate())?, signal(SignalKind::hangup())?);
    tokio::select! {
        _ = end.recv() => Ok(()),
        _ = hang_up.recv() => Ok(()),
        pressed = tokio::signal::ctrl_c() => pressed,
    }
}

#[cfg(not(unix))]
async fn asked() -> std::io::Result<()> {
    tokio::signal::ctrl_c().await
}
