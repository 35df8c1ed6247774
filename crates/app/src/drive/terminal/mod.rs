//! The terminal: raw mode while the run lasts, keys in, rows out.

mod keys;
mod paint;

use std::io::{BufWriter, IsTerminal as _, Result, Stdout, stdin, stdout};
use std::sync::mpsc::Sender;

use crossterm::event::{Event, read};
use crossterm::terminal::{
    EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode, size,
};
use crossterm::{cursor, execute};

pub(crate) use keys::{Pressed, Typing};

use crate::show::stage::Row;
use paint::Painter;

/// A terminal that is ours while this lives, and is put back when it ends.
pub(crate) struct Terminal {
    painter: Painter<BufWriter<Stdout>>,
}

/// Whether a person sits at both ends.
pub(crate) fn attended() -> bool {
    stdin().is_terminal() && stdout().is_terminal()
}

impl Terminal {
    /// Takes the terminal.
    pub(crate) fn open() -> Result<Self> {
        enable_raw_mode()?;
        let opened = Self { painter: Painter::new(BufWriter::new(stdout()), colour()) };
        execute!(stdout(), EnterAlternateScreen, cursor::Hide)?;
        Ok(opened)
    }

    /// Columns and rows.
    pub(crate) fn size(&self) -> (u16, u16) {
        size().unwrap_or((80, 24))
    }

    /// Shows these rows.
    pub(crate) fn show(&mut self, rows: Vec<Row>) -> Result<()> {
        let size = self.size();
        self.painter.show(size, rows)
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        // The terminal may be gone; there is nobody left to tell.
        let _ = execute!(stdout(), cursor::Show, LeaveAlternateScreen);
        let _ = disable_raw_mode();
    }
}

/// Sends every key on until nobody listens, and nothing once no more can come; a thread of its
/// own, for a read waits.
pub(crate) fn listen<T: Send + 'static>(
    to: Sender<T>,
    wrap: impl Fn(Option<Event>) -> T + Send + 'static,
) {
    std::thread::spawn(move || {
        while let Ok(event) = read() {
            if to.send(wrap(Some(event))).is_err() {
                return;
            }
        }
        let _ = to.send(wrap(None));
    });
}

/// The usual wish for no colour, by the environment.
fn colour() -> bool {
    std::env::var_os("NO_COLOR").is_none_or(|wish| wish.is_empty())
}
