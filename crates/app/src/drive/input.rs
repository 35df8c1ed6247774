//! All that comes to the loop, in one queue.

use std::io::BufRead as _;
use std::sync::mpsc::Sender;

use instrument::reader::News;
use session::record::Now;
use store::trouble::AppendError;
use tokio::runtime::Builder;

use super::clock::Clock;
use super::keeper::Kept;

/// One thing that came.
#[derive(Debug)]
pub(crate) enum Input {
    /// A key, or the terminal has another size.
    Key(Now, crossterm::event::Event),
    /// A line from the pipe, with its number.
    Line(Now, usize, String),
    /// The pipe has ended, or cannot be read.
    LinesEnded,
    /// The meter said something.
    Meter(News<Now>),
    /// What became of events that were handed over.
    Kept(Kept<AppendError>),
    /// The program is asked to end.
    Leave,
}

/// Lines of the pipe, as they come, in a thread of its own.
pub(crate) fn lines(to: Sender<Input>, clock: Clock) {
    std::thread::spawn(move || {
        let mut pipe = std::io::stdin().lock();
        let mut bytes = Vec::new();
        let mut number = 0;
        while matches!(pipe.read_until(b'\n', &mut bytes), Ok(1..)) {
            number += 1;
            let line = String::from_utf8_lossy(&bytes).trim_end().to_owned();
            bytes.clear();
            if to.send(Input::Line(clock.now(), number, line)).is_err() {
                return;
            }
        }
        let _ = to.send(Input::LinesEnded);
    });
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
