//! The loop by the clock: keys, lines and meters as they come.

use std::collections::VecDeque;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender};
use std::time::Duration;

use instrument::reader::{News, Reading};
use instrument::{AskError, Loss};
use plan::job::Logger;
use quantity::Time;
use session::live::View;
use session::record::{Now, SourceNews};
use session::say::Mode;

use super::alone::Alone;
use super::desk::Desk;
use super::ears::{Ear, Ears};
use super::input::{Input, OnItsWay};
use super::lock_step::{HAND, deeds_of};
use super::loggers::Loggers;
use super::notice::Notice;
use super::screen;
use super::terminal::Pressed;
use super::voice::{Voice, aside};
use super::wire::{TYPED, Wire};

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
    /// What reads the air beside the test.
    pub(crate) loggers: Vec<Logger>,
    /// With nobody at hand, a meter that stays away this long does not come back.
    pub(crate) patience: Time,
}

/// What ends it besides the record being closed.
#[derive(Debug, Default)]
struct Ends {
    /// The person leaves.
    left: bool,
    /// Words come through the pipe, so somebody works at it.
    worked: bool,
    /// The practice set's hand tells its deeds, and closes the record.
    deeds: bool,
    /// No more lines come.
    lines_ended: bool,
    /// Lines that came faster than the disk; nothing of a pipe needs to be refused for that.
    held: VecDeque<(usize, String, OnItsWay)>,
    /// What a meter has told with nobody at hand.
    alone: Alone,
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
        let loggers = Loggers::start(&self.loggers, &self.desk.clock, &send);
        let mut ears = Ears::new(every, send);
        ears.turn_to(wire, &self.desk.clock);
        let tick = if self.desk.clock.times() > 1.0 { SHORT_TICK } else { TICK };
        let mut ends = Ends::default();
        loop {
            match inputs.recv_timeout(tick) {
                Ok(input) => self.take(input, &mut ends, &mut ears),
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => break,
            }
            // A flood of readings must not keep the screen from being drawn: what is there now
            // is taken, no more.
            for input in inputs.try_iter().take(1024) {
                self.take(input, &mut ends, &mut ears);
            }
            let now = self.desk.clock.now();
            for ear in &mut ears.all {
                if let Some(news) = ear.garbled_news(now.monotonic, false) {
                    self.desk.source(now, news);
                }
                let gone = |(at, _): &(Now, String)| now.monotonic - at.monotonic >= GONE;
                if ear.untold.as_ref().is_some_and(gone) {
                    self.tell_loss(ear);
                }
            }
            self.desk.time();
            let view = self.desk.view();
            self.draw(&view);
            let closed = view.closed && !self.desk.owes_an_answer();
            if ends.left || closed || self.nothing_comes(&mut ends, &view, &mut ears) {
                break;
            }
        }
        drop(loggers);
        ears.waiting().iter().for_each(|reading| self.desk.reading(reading));
        self.count_out(self.desk.clock.now(), &mut ears);
        self.desk.leaves(ends.held.len());
    }

    fn tell_loss(&mut self, ear: &mut Ear) {
        if let Some((at, why)) = ear.untold.take() {
            self.desk.source(at, ear.lost_news(why));
        }
    }

    /// Records what meters sent that was no number, before the record may end.
    fn count_out(&mut self, now: Now, ears: &mut Ears) {
        for ear in &mut ears.all {
            if let Some(news) = ear.garbled_news(now.monotonic, true) {
                self.desk.source(now, news);
            }
        }
    }

    /// Readings come from elsewhere from now on.
    fn turn_to(&mut self, wire: Option<Wire>, ears: &mut Ears) {
        let now = self.desk.clock.now();
        self.count_out(now, ears);
        let identity = match &wire {
            Some(wire) => wire.identities(),
            None => Some(TYPED.to_owned()),
        };
        ears.turn_to(None, &self.desk.clock);
        self.desk.turn_to(now, SourceNews::Answers { identity });
        ears.turn_to(wire, &self.desk.clock);
    }

    fn take(&mut self, input: Input, ends: &mut Ends, ears: &mut Ears) {
        match input {
            Input::Key(now, event) => self.key(now, event, ends, ears),
            Input::Line(now, number, line, on_its_way) => {
                self.count_out(now, ears);
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
                self.count_out(said.at, ears);
                self.desk.page(*said);
            }
            Input::Source(wire) => self.turn_to(wire.map(|wire| *wire), ears),
            Input::Meter(number, news) => {
                // What a meter sent before another one took its place is not heard any more.
                if let Some(place) = ears.place(number) {
                    self.meter(news, ends, ears, place);
                }
            }
            Input::Logged(now, logged) => self.desk.logged(now, logged),
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

    fn key(&mut self, now: Now, event: crossterm::event::Event, ends: &mut Ends, ears: &mut Ears) {
        let view = self.desk.view();
        let Voice::Screen(screen) = &mut self.desk.voice else { return };
        let Some(key) = screen::key(event) else { return };
        match screen.press(now, key, &view) {
            Pressed::Line(at, line) => {
                self.count_out(at, ears);
                self.desk.line(at, self.by.as_deref(), &line, self.mode, None);
            }
            Pressed::Leave => ends.left = true,
            Pressed::NextConductor | Pressed::Help | Pressed::Why | Pressed::Nothing => {}
        }
    }

    fn meter(&mut self, news: News<Now>, ends: &mut Ends, ears: &mut Ears, place: usize) {
        match news {
            News::Reading(reading) => self.reading(reading, ears, place),
            News::Beside { at, line } => {
                for deed in deeds_of(&line) {
                    ends.deeds = true;
                    self.desk.line(at, Some(HAND), &deed, Mode::Typed, None);
                }
            }
            News::Garbled { at, fault, .. } => {
                let ear = &mut ears.all[place];
                ear.silence.other();
                ear.garbage.take(match fault {
                    AskError::Garbled { sent, .. } => sent,
                    other => other.to_string(),
                });
                if let Some(news) = ear.garbled_news(at.monotonic, false) {
                    self.desk.source(at, news);
                }
            }
            News::Silent { at, fault } => self.silent(at, &fault, ears, place),
            News::Lost { at, why } => {
                ears.waiting().iter().for_each(|reading| self.desk.reading(reading));
                let ear = &mut ears.all[place];
                ear.silence.other();
                ear.lost.get_or_insert(at.monotonic);
                ear.untold = Some((at, why.to_string()));
                // Each answer that is none may cost the link as well: that is told as seldom.
                if why != Loss::OutOfStep || !ear.garbage.waits() {
                    self.tell_loss(ear);
                }
            }
            News::Back { at, identity } => {
                let ear = &mut ears.all[place];
                let since = ear.lost.take().unwrap_or(at.monotonic);
                // A loss that was not told is none that is over: what is silent stays so.
                ear.silence.other();
                if ear.untold.take().is_none() {
                    ear.silence.back();
                    self.desk.source(at, ear.back_news(at.monotonic - since));
                }
                if identity != ear.identity {
                    let identity = identity.unwrap_or_else(|| "it does not say who".to_owned());
                    self.desk.source(at, ear.changed_news(identity));
                }
            }
        }
    }

    /// A meter showed something.
    fn reading(&mut self, reading: Reading<Now>, ears: &mut Ears, place: usize) {
        let ear = &mut ears.all[place];
        if let Some(news) = ear.heard(&reading) {
            self.desk.source(reading.at, news);
        }
        if ear.is_guard {
            return self.desk.guard(&ear.name, &reading);
        }
        let whole = ears.of_object(place, reading);
        whole.iter().for_each(|reading| self.desk.reading(reading));
    }

    /// A question had no answer in time; the wire is there.
    fn silent(&mut self, at: Now, fault: &AskError, ears: &mut Ears, place: usize) {
        ears.waiting().iter().for_each(|reading| self.desk.reading(reading));
        if let Some(news) = ears.all[place].unheard(at, fault.to_string()) {
            self.desk.source(at, news);
        }
    }

    fn draw(&mut self, view: &View) {
        let standing = self.desk.standing();
        let given = self.desk.given(view);
        match &mut self.desk.voice {
            Voice::Json(_) | Voice::Text { .. } => {}
            Voice::Pages(pages) => pages.draw(view.clone(), standing, given),
            Voice::Screen(screen) => {
                if let Err(error) = screen.draw(view, standing, given.as_ref()) {
                    self.desk.voice = Voice::text();
                    aside(&Notice::ScreenGone { error }.to_string());
                }
            }
        }
    }

    /// Whether nothing more can come that belongs to this record.
    fn nothing_comes(&mut self, ends: &mut Ends, view: &View, ears: &mut Ears) -> bool {
        if self.attended || ends.worked || !ends.held.is_empty() {
            return false;
        }
        if ears.all.is_empty() {
            if ends.lines_ended {
                self.desk.source(self.desk.clock.now(), SourceNews::Ended);
            }
            return ends.lines_ended;
        }
        let now = self.desk.clock.now();
        if ears.are_lost(now.monotonic, self.patience) {
            ears.all.iter_mut().for_each(|ear| self.tell_loss(ear));
            self.count_out(now, ears);
            self.desk.source(now, SourceNews::Ended);
            return true;
        }
        !ends.deeds && ends.alone.is_over(now.monotonic, view)
    }
}
