//! One test while it happens: no clock, no wire, no disk. Time and readings are handed in, events
//! and timers are asked for.
//!
//! What a person *says* is held against the table of [`crate::state`] and refused where it is
//! illegal. What the readings *show* is never refused: it moves the state, and the rules that were
//! broken stand in the event. The state is the fold of the events; nothing else moves it.

mod before;
mod clock;
mod course;
mod folded;
mod infer;
mod meter;
mod refusal;
mod rules;
mod said;
mod show;
mod slip;
mod standing;
mod timer;
pub mod view;

pub use folded::Folded;
pub use meter::Metered;
pub use refusal::{Refusal, ReplayError};
pub use timer::Timer;
pub use view::{Next, View};

use std::collections::VecDeque;

use plan::measured::GivesBack;
use quantity::{Current, Time, Voltage};

use crate::act::Act;
use crate::guard::Guard;
use crate::meters::Beside;
use crate::record::{Advised, Entry, Event, Head, Kind, Moment, Now, SourceNews, Told};
use crate::state::{ActKind, State};

use clock::Clock;
use course::Course;
use infer::{Belief, Point, Watcher};
use meter::{Asked, Buffer};
use slip::Slips;

/// One test while it happens.
#[derive(Clone, Debug)]
pub struct Session {
    kind: Kind,
    course: Course,
    folded: Folded,
    clock: Option<Clock>,
    buffer: Buffer,
    watcher: Watcher,
    slips: Slips,
    out: VecDeque<Entry>,
    /// When time was told last, since the record was begun.
    told: Time,
    /// When a meter was heard last, since the record was begun.
    heard: Option<Time>,
}

impl Session {
    /// A new record, begun now.
    ///
    /// Arguments: what it begins with; the machine's own name for the time since it was started
    /// last; both clocks.
    #[must_use]
    pub fn begin(head: &Head, boot: &str, now: Now) -> Self {
        let mut session = Self::replaying(head);
        session.clock = Some(Clock::begin(now));
        session.tell(now, None, Event::Begun(Clock::clocks(boot, now)));
        session
    }

    /// A record that is about to be read back, event by event.
    #[must_use]
    pub fn replaying(head: &Head) -> Self {
        let course = Course::of(head);
        Self {
            kind: head.kind,
            folded: Folded::new(&course),
            course,
            clock: None,
            buffer: Buffer::default(),
            watcher: Watcher::default(),
            slips: Slips::default(),
            out: VecDeque::new(),
            told: Time::ZERO,
            heard: None,
        }
    }

    /// Takes in an event of the record, as it was kept.
    ///
    /// # Errors
    /// An event that no live record can have there.
    pub fn replay(&mut self, entry: &Entry) -> Result<(), ReplayError> {
        self.folded.apply(&self.course, entry)
    }

    /// Takes the record up again, now; one that is closed stays as it is.
    pub fn resume(&mut self, boot: &str, now: Now) {
        let (clock, gap, same_boot) = Clock::resume(&self.folded, boot, now);
        self.clock = Some(clock);
        self.told = clock.since(now);
        let focus = self.folded.focus();
        self.watcher = Watcher::taken_up(focus, &self.folded.conductors[focus]);
        if self.folded.closed {
            return;
        }
        let clocks = Clock::clocks(boot, now);
        self.tell(now, None, Event::Resumed { gap, same_boot, clocks });
    }

    /// Time will be told in leaps, by a practice set in lock-step: a leap is no standing still.
    pub fn expect_leaps(&mut self) {
        if let Some(clock) = &mut self.clock {
            clock.leaps = true;
        }
    }

    /// The state, to be compared with that of a replayed record.
    #[must_use]
    pub fn folded(&self) -> &Folded {
        &self.folded
    }

    /// A reading from meters.
    pub fn handle_metered(&mut self, now: Now, mut reading: Metered) {
        reading.voltage = reading.voltage.filter(|voltage| voltage.is_finite());
        reading.current = reading.current.filter(|current| current.is_finite());
        self.look_at_clocks(now);
        if self.folded.closed {
            return;
        }
        self.look_for_silence(now);
        let (at, conductor) = (self.since(now), self.folded.focus());
        self.heard = Some(at);
        self.folded.scales.fill(&mut reading);
        let floor = self.floor(conductor);
        if self.buffer.must_flush(conductor, &reading, floor) {
            self.flush(now);
        }
        let voltage = reading.voltage.map(Voltage::abs);
        let current = reading.current;
        self.buffer.take(conductor, at, reading, floor);
        let fell = self.slips.fell(voltage, current);
        self.look_for_slips(now, conductor, (voltage, current), None);
        let point = voltage.filter(|_| !fell);
        let point = point.and_then(|voltage| self.watcher.take(conductor, at, voltage));
        if let Some(point) = point {
            self.infer(now, conductor, point, Belief::Two);
        }
        if self.buffer.is_full() {
            self.flush(now);
        }
    }

    /// Something about the source of the readings.
    pub fn handle_source(&mut self, now: Now, news: SourceNews) {
        self.look_at_clocks(now);
        if !self.folded.closed {
            self.flush(now);
            if matches!(news, SourceNews::Answers { .. }) {
                // Whatever was heard before was another one.
                self.heard = None;
                self.slips.forget();
            }
            self.tell(now, None, Event::Source(news));
        }
    }

    /// This is shown to the person as advice from now on; what was read before stands before it.
    /// Of a conductor that the plan does not have there is none.
    pub fn handle_advice(&mut self, now: Now, advised: Advised) {
        self.look_at_clocks(now);
        if !self.folded.closed && self.folded.index(&advised.phase).is_some() {
            self.flush(now);
            self.tell(now, None, Event::Advised(advised));
        }
    }

    /// What a conductor gives back, by its own test; of one that the plan does not have nothing is
    /// told.
    pub fn handle_gives_back(
        &mut self,
        now: Now,
        phase: &str,
        since_energised: Time,
        told: GivesBack,
    ) {
        self.look_at_clocks(now);
        if !self.folded.closed && self.folded.index(phase).is_some() {
            self.flush(now);
            let phase = phase.to_owned();
            self.tell(now, None, Event::GivesBack { phase, since_energised, told });
        }
    }

    /// What was read beside the object.
    pub fn handle_beside(&mut self, now: Now, beside: Beside) {
        self.look_at_clocks(now);
        if !self.folded.closed {
            self.tell(now, None, Event::Beside(beside));
        }
    }

    /// Whether a value that looks like a slip of its unit was told, and none since was as expected.
    #[must_use]
    pub const fn slip_stands(&self) -> bool {
        self.slips.stands()
    }

    /// Says where a value is a thousand times off; what was typed has its name beside it.
    fn look_for_slips(
        &mut self,
        now: Now,
        index: usize,
        (voltage, current): (Option<Voltage>, Option<Current>),
        typed: Option<Option<&str>>,
    ) {
        let one = &self.folded.conductors[index];
        let said = self.slips.take(&self.course, one, voltage, current, typed.is_some());
        if !said.is_empty() {
            self.flush(now);
        }
        for news in said {
            self.tell(now, typed.flatten(), Event::Source(news));
        }
    }

    /// Time goes on.
    pub fn handle_time(&mut self, now: Now) {
        self.look_at_clocks(now);
        self.told = self.told.max(self.since(now));
        if self.buffer.due().is_some_and(|due| due <= self.told) {
            self.flush(now);
        }
        self.look_for_silence(now);
    }

    /// The next event to keep, in order.
    pub fn poll_event(&mut self) -> Option<Entry> {
        self.out.pop_front()
    }

    /// Gives out what was read and waits for its batch; before the program ends.
    pub fn flush(&mut self, now: Now) {
        self.flush_before(now, None);
    }

    fn flush_before(&mut self, now: Now, before: Option<Time>) {
        let one = &self.folded.conductors[self.buffer.conductor()];
        let energised_at = one.energised_at.filter(|_| one.state.in_application());
        let asked = Asked { phase: &one.name, energised_at, blank: one.blank };
        if let Some(batch) = self.buffer.give(before, &asked) {
            self.tell(now, None, Event::Metered(batch));
        }
    }

    fn look_at_clocks(&mut self, now: Now) {
        let hazardous = (0..self.folded.conductors.len()).any(|one| self.folded.is_hazardous(one));
        let Some(clock) = &mut self.clock else { return };
        let news = clock.look(now, hazardous);
        if self.folded.closed {
            return;
        }
        for one in news {
            self.tell(now, None, Event::Clock(one));
        }
    }

    /// This moment by the record's own time.
    #[must_use]
    pub fn since_begun(&self, now: Now) -> Time {
        self.since(now)
    }

    /// The conductor that is worked on, by its place in the plan: what meters show is of it.
    #[must_use]
    pub fn focus(&self) -> usize {
        self.folded.focus()
    }

    /// Every conductor's name, in the order of the plan.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.folded.conductors.iter().map(|one| one.name.as_str())
    }

    /// Whether nothing follows any more.
    #[must_use]
    pub fn is_closed(&self) -> bool {
        self.folded.closed
    }

    fn since(&self, now: Now) -> Time {
        self.clock.as_ref().map_or(Time::ZERO, |clock| clock.since(now))
    }

    fn moment(&self, now: Now) -> Moment {
        clock::moment(&self.folded, self.since(now), now)
    }

    /// Below this a voltage is none.
    fn floor(&self, conductor: usize) -> Voltage {
        infer::floor(&self.course, &self.folded.conductors[conductor])
    }

    /// What a point shows, and what follows from it at once.
    fn infer(&mut self, now: Now, conductor: usize, point: Point, belief: Belief) {
        let mut belief = belief;
        self.watcher.turn_to(conductor);
        self.watcher.follow(&self.folded.conductors[conductor], point.voltage, belief);
        // Energised, rising, at a level: no point can show more than three moves.
        for _ in 0..3 {
            let one = &self.folded.conductors[conductor];
            let t = one.energised_at.map_or(Time::ZERO, |zero| point.at - zero);
            let served = one.served(&self.course, t);
            let shown = self.watcher.shows(&self.course, one, point, belief, served);
            let Some((kind, since)) = shown else { return };
            self.see(now, conductor, kind, since);
            // The second point that showed voltage is as good for the level that it is at.
            if belief == Belief::Two {
                belief = Belief::Level;
            }
        }
    }

    /// Something was seen; `at` since the record was begun.
    fn see(&mut self, now: Now, conductor: usize, kind: ActKind, at: Time) {
        let Some(act) = Act::plain(kind) else { return };
        let before = (kind == ActKind::Energise).then_some(at);
        self.flush_before(now, before);
        let moment = self.moment(now);
        let one = &self.folded.conductors[conductor];
        let t = match kind {
            ActKind::Energise => Some(moment.since_begun - at),
            _ => one.energised_at.map(|zero| at - zero),
        };
        self.did(now, None, conductor, act, t.map(clock::round), Told::Seen);
    }

    /// Writes an act down; what is seen takes the rules with it that it breaks.
    fn did(
        &mut self,
        now: Now,
        by: Option<&str>,
        conductor: usize,
        act: Act,
        since_energised: Option<Time>,
        told: Told,
    ) {
        let at = self.moment(now).since_begun;
        let one = &self.folded.conductors[conductor];
        let mut breaches = Vec::new();
        if told == Told::Seen {
            if one.state.after(act.kind()).is_none() {
                breaches.push(Guard::State);
            }
            breaches.extend(self.folded.unmet(&self.course, conductor, &act, at));
        }
        let phase = one.name.clone();
        self.watcher.moved();
        if act.kind() == ActKind::Energise {
            self.watcher.begun();
        }
        self.tell(now, by, Event::Did { phase, since_energised, act, told, breaches });
    }

    fn tell(&mut self, now: Now, by: Option<&str>, what: Event) {
        let entry = Entry { at: Some(self.moment(now)), by: by.map(str::to_owned), what };
        let taken = self.folded.apply(&self.course, &entry);
        assert!(taken.is_ok(), "an event made here fits the state: {taken:?}");
        self.out.push_back(entry);
    }

    /// Where a conductor stands; `None` where the plan has none of this name.
    #[must_use]
    pub fn state(&self, conductor: &str) -> Option<State> {
        self.folded.index(conductor).map(|index| self.folded.conductors[index].state)
    }
}
