//! The loop by the clock: keys, lines and meters as they come.

use std::collections::VecDeque;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender};
use std::time::Duration;

use instrument::reader::{News, Stream};
use instrument::{AskError, Loss};
use quantity::Time;
use session::live::View;
use session::record::{Now, SourceNews};
use session::say::Mode;

use super::alone::Alone;
use super::desk::Desk;
use super::garbage::Garbage;
use super::input::{Input, OnItsWay};
use super::lock_step::{HAND, deeds_of};
use super::notice::Notice;
use super::screen;
use super::terminal::Pressed;
use super::voice::{Voice, aside};
use super::wire::{ADVANCE, TYPED, Wire};

/// Time is told to the session, and the screen looked over, at least so often.
const TICK: Duration = Duration::from_millis(200);

/// The same where time goes faster than the clock.
const SHORT_TICK: Duration = Duration::from_millis(50);

/// A link that is gone longer than this is told, whatever it sent before. Common practice, no
/// source: as long as a person looks before reading the needle.
const GONE: Time = Time::from_seconds(2.0);

/// The loop and what it goes by.
pub(crate) struct Live<'a> {
    pub(crate) desk: &'a mut Desk,
    pub(crate) by: Option<String>,
    pub(crate) mode: Mode,
    pub(crate) attended: bool,
    /// With nobody at hand, a meter that stays away this long does not come back.
    pub(crate) patience: Time,
}

/// What ends it besides the record being closed.
#[derive(Debug, Default)]
struct Ends {
    /// The person leaves.
    left: bool,
    /// What the meter sent that is no number.
    garbage: Garbage,
    /// A loss of the link that no event tells yet.
    untold: Option<(Now, String)>,
    /// Words come through the pipe, so somebody works at it.
    worked: bool,
    /// The practice set's hand tells its deeds, and closes the record.
    deeds: bool,
    /// No more lines come.
    lines_ended: bool,
    /// Lines that came faster than the disk; nothing of a pipe needs to be refused for that.
    held: VecDeque<(usize, String, OnItsWay)>,
    /// Since when the wire is lost.
    lost: Option<Time>,
    /// What a meter has told with nobody at hand.
    alone: Alone,
}

/// The meter that is asked, and what it tells this by.
struct Feed {
    meter: Option<(Stream, Option<instrument::serve::Server>)>,
    identity: Option<String>,
    every: Duration,
    send: Sender<Input>,
}

impl Live<'_> {
    /// Works until the record is closed, the person leaves, or nothing more can come.
    pub(crate) fn work(
        mut self,
        wire: Option<Wire>,
        every: Duration,
        inputs: &Receiver<Input>,
        send: Sender<Input>,
    ) {
        let mut feed = Feed { meter: None, identity: None, every, send };
        if let Some(wire) = wire {
            self.start(wire, &mut feed);
        }
        let tick = if self.desk.clock.times() > 1.0 { SHORT_TICK } else { TICK };
        let mut ends = Ends::default();
        loop {
            match inputs.recv_timeout(tick) {
                Ok(input) => self.take(input, &mut ends, &mut feed),
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => break,
            }
            // A flood of readings must not keep the screen from being drawn: what is there now
            // is taken, no more.
            for input in inputs.try_iter().take(1024) {
                self.take(input, &mut ends, &mut feed);
            }
            let now = self.desk.clock.now();
            if let Some(news) = ends.garbage.due(now.monotonic) {
                self.desk.source(now, news);
            }
            if ends.untold.as_ref().is_some_and(|(at, _)| now.monotonic - at.monotonic >= GONE) {
                self.tell_loss(&mut ends);
            }
            self.desk.time();
            let view = self.desk.view();
            self.draw(&view);
            let closed = view.closed && !self.desk.owes_an_answer();
            let has_wire = feed.meter.is_some();
            if ends.left || closed || self.nothing_comes(&mut ends, &view, has_wire) {
                break;
            }
        }
        self.count_out(self.desk.clock.now(), &mut ends);
        self.desk.leaves(ends.held.len());
    }

    fn tell_loss(&mut self, ends: &mut Ends) {
        if let Some((at, why)) = ends.untold.take() {
            self.desk.source(at, SourceNews::Lost { why });
        }
    }

    /// Records what the meter sent that was no number, before the record may end.
    fn count_out(&mut self, now: Now, ends: &mut Ends) {
        if let Some(news) = ends.garbage.rest(now.monotonic) {
            self.desk.source(now, news);
        }
    }

    /// Asks the meter on a thread of its own, the practice set for its deeds as well.
    fn start(&self, mut wire: Wire, feed: &mut Feed) {
        if wire.is_simulated() {
            wire.questions.beside = Some(format!("{ADVANCE} 0"));
        }
        let clock = self.desk.clock.clone();
        let (stream, news) =
            Stream::start(wire.meter, wire.questions, feed.every, move || clock.now());
        let send = feed.send.clone();
        std::thread::spawn(move || {
            for one in news {
                if send.send(Input::Meter(one)).is_err() {
                    break;
                }
            }
        });
        feed.identity = wire.identity;
        feed.meter = Some((stream, wire.own));
    }

    /// Readings come from elsewhere from now on.
    fn turn_to(&mut self, wire: Option<Wire>, ends: &mut Ends, feed: &mut Feed) {
        let now = self.desk.clock.now();
        self.count_out(now, ends);
        (ends.lost, ends.untold) = (None, None);
        feed.meter = None;
        let identity = match &wire {
            Some(wire) => wire.identity.clone(),
            None => Some(TYPED.to_owned()),
        };
        self.desk.turn_to(now, SourceNews::Answers { identity });
        if let Some(wire) = wire {
            self.start(wire, feed);
        }
    }

    fn take(&mut self, input: Input, ends: &mut Ends, feed: &mut Feed) {
        match input {
            Input::Key(now, event) => self.key(now, event, ends),
            Input::Line(now, number, line, on_its_way) => {
                self.count_out(now, ends);
                ends.worked = true;
                if ends.held.is_empty() && !self.desk.is_behind() {
                    self.desk.line(now, self.by.as_deref(), &line, self.mode, Some(number));
                } else {
                    ends.held.push_back((number, line, on_its_way));
                }
            }
            Input::LinesEnded => {
                ends.lines_ended = true;
                ends.worked = false;
                // A terminal ends when it is gone, and nobody can come back to it.
                self.attended = false;
            }
            Input::Said(said) => {
                self.count_out(said.at, ends);
                self.desk.page(*said);
            }
            Input::Source(wire) => self.turn_to(wire.map(|wire| *wire), ends, feed),
            // What a meter sent before another one took its place is not heard any more.
            Input::Meter(_) if feed.meter.is_none() => {}
            Input::Meter(news) => self.meter(news, ends, feed.identity.as_deref()),
            Input::Kept(kept) => {
                self.desk.kept(kept);
                self.take_held(ends);
            }
            Input::Leave => ends.left = true,
        }
    }

    /// Lines that waited until the disk had caught up.
    fn take_held(&mut self, ends: &mut Ends) {
        while !self.desk.is_behind() {
            let Some((number, line, _)) = ends.held.pop_front() else { return };
            let now = self.desk.clock.now();
            self.desk.line(now, self.by.as_deref(), &line, self.mode, Some(number));
        }
    }

    fn key(&mut self, now: Now, event: crossterm::event::Event, ends: &mut Ends) {
        let view = self.desk.view();
        let Voice::Screen(screen) = &mut self.desk.voice else { return };
        let Some(key) = screen::key(event) else { return };
        match screen.press(now, key, &view) {
            Pressed::Line(at, line) => {
                self.count_out(at, ends);
                self.desk.line(at, self.by.as_deref(), &line, self.mode, None);
            }
            Pressed::Leave => ends.left = true,
            Pressed::NextConductor | Pressed::Help | Pressed::Nothing => {}
        }
    }

    fn meter(&mut self, news: News<Now>, ends: &mut Ends, begun_with: Option<&str>) {
        match news {
            News::Reading(reading) => self.desk.reading(&reading),
            News::Beside { at, line } => {
                for deed in deeds_of(&line) {
                    ends.deeds = true;
                    self.desk.line(at, Some(HAND), &deed, Mode::Typed, None);
                }
            }
            News::Garbled { at, fault, .. } => {
                ends.garbage.take(match fault {
                    AskError::Garbled { sent, .. } => sent,
                    other => other.to_string(),
                });
                if let Some(news) = ends.garbage.due(at.monotonic) {
                    self.desk.source(at, news);
                }
            }
            News::Silent { at, fault } => self.desk.silent(at, &fault),
            News::Lost { at, why } => {
                ends.lost.get_or_insert(at.monotonic);
                ends.untold = Some((at, why.to_string()));
                // Each answer that is none may cost the link as well: that is told as seldom.
                if why != Loss::OutOfStep || !ends.garbage.waits() {
                    self.tell_loss(ends);
                }
            }
            News::Back { at, identity } => {
                let since = ends.lost.take().unwrap_or(at.monotonic);
                if ends.untold.take().is_none() {
                    self.desk.source(at, SourceNews::Back { gap: at.monotonic - since });
                }
                if identity.as_deref() != begun_with {
                    let identity = identity.unwrap_or_else(|| "it does not say who".to_owned());
                    self.desk.source(at, SourceNews::Changed { identity });
                }
            }
        }
    }

    fn draw(&mut self, view: &View) {
        let standing = self.desk.standing();
        match &mut self.desk.voice {
            Voice::Json(_) | Voice::Text { .. } => {}
            Voice::Pages(pages) => pages.draw(view.clone(), standing),
            Voice::Screen(screen) => {
                if let Err(error) = screen.draw(view, standing) {
                    self.desk.voice = Voice::text();
                    aside(&Notice::ScreenGone { error }.to_string());
                }
            }
        }
    }

    /// Whether nothing more can come that belongs to this record.
    fn nothing_comes(&mut self, ends: &mut Ends, view: &View, has_wire: bool) -> bool {
        if self.attended || ends.worked || !ends.held.is_empty() {
            return false;
        }
        if !has_wire {
            if ends.lines_ended {
                self.desk.source(self.desk.clock.now(), SourceNews::Ended);
            }
            return ends.lines_ended;
        }
        let now = self.desk.clock.now();
        if ends.lost.is_some_and(|since| now.monotonic - since >= self.patience) {
            self.tell_loss(ends);
            self.count_out(now, ends);
            self.desk.source(now, SourceNews::Ended);
            return true;
        }
        !ends.deeds && ends.alone.is_over(now.monotonic, view)
    }
}
