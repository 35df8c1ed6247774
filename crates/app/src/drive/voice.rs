//! How the loop speaks: one line of JSON for each durable append, lines of text, or a screen.

use std::io::Write as _;

use quantity::Time;
use session::{Entry, Event, Kind};
use store::RecordId;

use super::notice::Notice;
use super::pages::Pages;
use super::pen::Pen;
use super::screen::Screen;
use crate::show;

/// Between two readings that are printed as text.
const EVERY: Time = Time::from_seconds(10.0);

/// The same where they say the same.
const EVERY_SAME: Time = Time::from_seconds(60.0);

/// Who listens, and how.
pub(crate) enum Voice {
    /// A program: JSON on stdout, notices on stderr.
    Json(Pen),
    /// A pipe or a file: text on stdout, notices on stderr.
    Text {
        /// What writes it.
        pen: Pen,
        /// The reading that was printed last, and when in the record's time.
        printed: Option<(Time, String)>,
    },
    /// A person.
    Screen(Box<Screen>),
    /// Any number of pages.
    Pages(Box<Pages>),
}

impl Voice {
    /// For a program.
    pub(crate) fn json() -> Self {
        Self::Json(Pen::new())
    }

    /// For a pipe or a file.
    pub(crate) fn text() -> Self {
        Self::Text { pen: Pen::new(), printed: None }
    }

    /// Whether a person sits at the screen.
    pub(crate) fn is_a_person(&self) -> bool {
        matches!(self, Self::Screen(_) | Self::Pages(_))
    }

    /// A record is begun or taken up.
    pub(crate) fn begins(&mut self, id: &RecordId, asset: &str, kind: Kind) {
        let kind = match kind {
            Kind::Simulated => "SIMULATED · ",
            Kind::Practice => "PRACTICE · ",
            Kind::Test | Kind::Transcribed => "",
        };
        if let Self::Text { pen, .. } = self {
            pen.out(format!("{kind}{asset} · record {id}"));
        }
    }

    /// An event entered the record.
    pub(crate) fn event(&mut self, entry: &Entry) {
        match self {
            Self::Json(_) => {}
            Self::Text { pen, printed } => {
                if matches!(entry.what, Event::Metered(_) | Event::Readings { .. }) {
                    let now = entry.at.map_or(Time::ZERO, |at| at.since_begun);
                    let said = show::event::what(&entry.what);
                    let due = printed.as_ref().is_none_or(|(last, before)| {
                        now - *last >= if said == *before { EVERY_SAME } else { EVERY }
                    });
                    if !due {
                        return;
                    }
                    *printed = Some((now, said));
                }
                pen.out(show::event::line(entry));
            }
            Self::Screen(screen) => {
                if !matches!(entry.what, Event::Metered(_)) {
                    screen.message(show::event::line(entry));
                }
            }
            Self::Pages(pages) => pages.event(entry),
        }
    }

    /// Something has to be told.
    pub(crate) fn notice(&mut self, notice: &Notice) {
        self.say(&notice.to_string());
    }

    /// The same in words.
    pub(crate) fn say(&mut self, said: &str) {
        match self {
            Self::Json(pen) | Self::Text { pen, .. } => pen.err(said.to_owned()),
            Self::Screen(screen) => screen.message(said.to_owned()),
            Self::Pages(pages) => pages.message(said.to_owned()),
        }
    }

    /// So many more events are durable, the last under this number, and so many readings in all.
    pub(crate) fn kept(&mut self, (seq, events): (u64, usize), readings: u64) {
        match self {
            Self::Json(pen) => pen.out(format!("{{\"kept\": {seq}, \"readings\": {readings}}}")),
            Self::Text { .. } => {}
            Self::Screen(screen) => screen.kept(seq),
            Self::Pages(pages) => pages.kept(seq, events),
        }
    }
}

/// A line on stderr; a reader that went away is no failure of ours.
pub(crate) fn aside(said: &str) {
    let mut stderr = std::io::stderr().lock();
    let _ = writeln!(stderr, "{said}");
}
