//! Where session, keeper and person meet: what comes is told to the session, what the session
//! makes of it is kept, and only what is durable is acknowledged.

use std::collections::VecDeque;
use std::sync::mpsc::Receiver;

use instrument::Shown as Digits;
use instrument::reader::Reading;
use jiff::Timestamp;
use quantity::{Current, Time, Voltage};
use session::live::view::View;
use session::live::{Metered, Session};
use session::meters::Beside;
use session::record::{ClockNews, Now, SourceNews};
use session::say::{self, Mode};
use session::{Entry, Event};
use store::trouble::AppendError;

use super::answers::{self as page, Answers, Refused};
use super::books::Page;
use super::clock::Clock;
use super::counsel::{Counsel, Given};
use super::input::Input;
use super::keeper::{Keeper, Kept};
use super::loggers::Logged;
use super::notice::Notice;
use super::trace::Shown;
use super::voice::Voice;
use super::words;

/// A meter is given a second for each of two answers; what took longer was waiting for a machine
/// that stood still.
const STALE: Time = Time::from_seconds(2.5);

/// The guard's current is recorded so often. Common practice, no source: enough for a chart.
const GUARD_EVERY: Time = Time::from_seconds(2.0);

/// One record at work.
pub(crate) struct Desk {
    pub(crate) session: Session,
    pub(crate) clock: Clock,
    pub(crate) voice: Voice,
    counsel: Counsel,
    keeper: Keeper<Page>,
    tally: Tally,
    answers: Answers,
    /// The meters of voltage and of current show overload.
    over: [bool; 2],
    /// They have no value to show.
    blind: [bool; 2],
    /// What was told when the meter was lost, until it is back.
    lost: Option<String>,
    /// The same of each of several meters that is away, by its name.
    away: Vec<(String, String)>,
    /// The unit of a value is in doubt, and what was told of it.
    slip: Option<String>,
    /// The current is read against the voltage.
    against: bool,
    /// Loggers of the air that are away.
    loggers_away: Vec<String>,
    /// When the guard's current was recorded last.
    guard_at: Option<Time>,
    /// Since when questions have no answer.
    quiet: Option<Now>,
    /// Lines that were not taken.
    not_taken: u64,
}

/// What is durable and what waits.
#[derive(Debug, Default)]
struct Tally {
    /// Events handed over since this began.
    handed: u64,
    /// How many of these are durable.
    durable: u64,
    /// Number of the last that is.
    seq: u64,
    /// Readings in each event that waits to be durable.
    waiting: VecDeque<u64>,
    /// Readings that are durable.
    kept: u64,
    /// Since when nothing could be kept, and what was told.
    trouble: Option<(Timestamp, String)>,
    /// What was not taken while there was no room.
    no_room: Option<u64>,
    /// All that was ever refused so.
    refused: u64,
}

/// What is left when a desk ends.
pub(crate) struct Left {
    pub(crate) page: Page,
    /// What could not be kept.
    pub(crate) unkept: Vec<Entry>,
    /// Lines that were not taken.
    pub(crate) not_taken: u64,
    /// Readings and acts that were refused, there being no room.
    pub(crate) refused: u64,
}

impl Desk {
    /// A record at work, of which so many readings are durable already.
    pub(crate) fn new(
        (session, counsel): (Session, Counsel),
        clock: Clock,
        voice: Voice,
        keeper: Keeper<Page>,
        kept: u64,
    ) -> Self {
        let tally = Tally { kept, ..Tally::default() };
        Self {
            session,
            clock,
            voice,
            counsel,
            keeper,
            tally,
            answers: Answers::default(),
            over: [false; 2],
            blind: [false; 2],
            lost: None,
            away: Vec::new(),
            slip: None,
            against: false,
            loggers_away: Vec::new(),
            guard_at: None,
            quiet: None,
            not_taken: 0,
        }
    }

    /// Everything that a screen needs, now.
    pub(crate) fn view(&self) -> View {
        self.session.view(self.clock.now())
    }

    /// What is advised at the moment of a view.
    pub(crate) fn given(&mut self, view: &View) -> Option<Given> {
        self.counsel.given(view)
    }

    /// Takes a line of words, or a reading; lines of a pipe have a number.
    pub(crate) fn line(
        &mut self,
        now: Now,
        by: Option<&str>,
        line: &str,
        mode: Mode,
        number: Option<usize>,
    ) {
        let line = line.trim();
        if line.is_empty() || line.starts_with('#') {
            return;
        }
        let Err(refused) = self.take(now, by, line, mode) else { return };
        self.not_taken += 1;
        let said = told(line);
        match refused {
            Refused::NotUnderstood(why) => {
                self.voice.notice(&Notice::NotUnderstood { number, said, why });
            }
            Refused::Refusal(why) => self.voice.notice(&Notice::Refused { number, said, why }),
            // That there is no room was told when there was none any more; a pipe has no pages.
            Refused::NoRoom | Refused::TooLong | Refused::Ended | Refused::NotAcknowledged => {}
        }
    }

    /// Takes what a page says, and answers it once it is durable.
    pub(crate) fn page(&mut self, said: page::Said) {
        let Some(page::Said { at, by, line, nonce, answer }) = self.answers.again(said) else {
            return;
        };
        // What is said is one line, also where a page sends several.
        let flat = line.replace(char::is_control, " ");
        let taken = if flat.len() > page::LONGEST {
            Err(Refused::TooLong)
        } else {
            self.take(at, by.as_deref(), &flat, Mode::Typed)
        };
        match taken {
            Ok(()) => {
                self.answers.taken((&nonce, &line), answer, self.tally.handed);
                self.answers.durable(self.tally.durable, self.tally.seq);
            }
            // A page that went away asks again.
            Err(refused) => drop(answer.send(Err(refused))),
        }
    }

    /// Whether a page waits for an answer.
    pub(crate) fn owes_an_answer(&self) -> bool {
        self.answers.wait()
    }

    fn take(&mut self, now: Now, by: Option<&str>, line: &str, mode: Mode) -> Result<(), Refused> {
        if !self.has_room() {
            return Err(Refused::NoRoom);
        }
        let said = say::parse(line, mode).map_err(Refused::NotUnderstood)?;
        let taken = self.session.handle_said(now, by, said).map_err(Refused::Refusal);
        self.settle();
        taken
    }

    /// Takes what a meter showed.
    pub(crate) fn reading(&mut self, reading: &Reading<Now>) {
        if !self.has_room() {
            return;
        }
        let took = reading.ended.monotonic - reading.asked.monotonic;
        if took > STALE * self.clock.times() {
            return self.unheard(reading.ended, words::late(took));
        }
        if let Some(since) = self.quiet.take() {
            let gap = reading.at.monotonic - since.monotonic;
            self.source(reading.at, SourceNews::Back { gap });
        }
        let (voltage, voltage_half_digit) = value(reading.voltage.as_ref());
        let (current, current_half_digit) = value(reading.current.as_ref());
        let metered = Metered {
            voltage,
            current,
            voltage_overload: matches!(reading.voltage, Some(Digits::Overload { .. })),
            current_overload: matches!(reading.current, Some(Digits::Overload { .. })),
            voltage_half_digit,
            current_half_digit,
            voltage_range: reading.voltage_range,
            current_range: reading.current_range,
            ..Metered::default()
        };
        let over = (self.over, self.blind);
        // What was not read this time shows nothing new.
        if let Some(shown) = &reading.voltage {
            self.over[0] = metered.voltage_overload;
            self.blind[0] = matches!(shown, Digits::NotANumber);
        }
        if let Some(shown) = &reading.current {
            self.over[1] = metered.current_overload;
            self.blind[1] = matches!(shown, Digits::NotANumber);
        }
        self.show(reading.at, &metered);
        let at = self.session.since_begun(reading.at);
        self.counsel.metered(self.session.focus(), at, &metered);
        self.session.handle_metered(reading.at, metered);
        let any = |flags: [bool; 2]| flags.contains(&true);
        if any(self.over) && !any(over.0) {
            self.voice.notice(&Notice::OverRange);
        }
        if any(self.blind) && !any(over.1) {
            self.voice.notice(&Notice::NoValue);
        }
        self.settle();
    }

    /// Takes what the meter of the guard showed; it is kept beside the readings, every few seconds.
    pub(crate) fn guard(&mut self, name: &str, reading: &Reading<Now>) {
        let Some(Digits::Value { value, .. }) = reading.current else { return };
        let at = reading.at.monotonic;
        let due = self.guard_at.is_none_or(|last| at - last >= GUARD_EVERY);
        if due && self.has_room() {
            self.guard_at = Some(at);
            let beside =
                Beside { from: name.to_owned(), guard_ua: Some(value), ..Beside::default() };
            self.session.handle_beside(reading.at, beside);
            self.settle();
        }
    }

    /// Takes what a logger of the air told; that one is away is told once, until it is back.
    pub(crate) fn logged(&mut self, now: Now, logged: Logged) {
        let Logged { name, told } = logged;
        let beside = match told {
            Ok(beside) => {
                self.loggers_away.retain(|away| *away != name);
                beside
            }
            Err(_) if self.loggers_away.contains(&name) => return,
            Err(why) => {
                self.loggers_away.push(name.clone());
                self.voice.notice(&Notice::LoggerLost { logger: name.clone(), why });
                Beside { from: name, ..Beside::default() }
            }
        };
        if self.has_room() {
            self.session.handle_beside(now, beside);
            self.settle();
        }
    }

    /// Shows pages at once what will be in an event soon.
    fn show(&mut self, now: Now, metered: &Metered) {
        let Voice::Pages(pages) = &mut self.voice else { return };
        if !self.session.is_closed() {
            pages.shown(Shown {
                at: self.session.since_begun(now),
                conductor: self.session.focus(),
                kv: metered.voltage.map(Voltage::kilovolts),
                ua: metered.current.map(Current::microamperes),
                overload: metered.voltage_overload || metered.current_overload,
            });
        }
    }

    /// Readings come from elsewhere from now on: what the meter was lost with is past.
    pub(crate) fn turn_to(&mut self, now: Now, news: SourceNews) {
        (self.over, self.blind) = ([false; 2], [false; 2]);
        (self.lost, self.quiet, self.slip) = (None, None, None);
        self.away.clear();
        self.source(now, news);
    }

    /// Takes news of the source.
    pub(crate) fn source(&mut self, now: Now, news: SourceNews) {
        self.session.handle_source(now, news.clone());
        let notice = match news {
            SourceNews::Answers { .. } | SourceNews::Ended => None,
            SourceNews::Lost { why } => {
                let notice = Notice::Lost { why };
                self.lost = Some(notice.to_string());
                Some(notice)
            }
            SourceNews::Back { gap } => {
                self.lost = None;
                Some(Notice::Back { gap })
            }
            SourceNews::Garbled { sent, .. } => Some(Notice::Garbled { sent }),
            SourceNews::Changed { identity } => Some(Notice::Changed { identity }),
            SourceNews::MeterLost { meter, why } => {
                let notice = Notice::MeterLost { meter: meter.clone(), why };
                self.away.retain(|(name, _)| *name != meter);
                self.away.push((meter, notice.to_string()));
                Some(notice)
            }
            SourceNews::MeterBack { meter, gap } => {
                self.away.retain(|(name, _)| *name != meter);
                Some(Notice::MeterBack { meter, gap })
            }
            SourceNews::MeterGarbled { meter, sent, .. } => {
                Some(Notice::MeterGarbled { meter, sent })
            }
            SourceNews::MeterChanged { meter, identity } => {
                Some(Notice::MeterChanged { meter, identity })
            }
            // The session itself finds it, and it is told with its event.
            SourceNews::Slip { .. } => None,
        };
        if let Some(notice) = notice {
            self.voice.notice(&notice);
        }
        self.settle();
    }

    /// Lets time go on.
    pub(crate) fn time(&mut self) {
        let now = self.clock.now();
        self.session.handle_time(now);
        self.settle();
        self.counsel.tell(&mut self.session, now);
        self.settle();
        let against = self.counsel.reads_against(&self.session);
        if against && !self.against {
            self.voice.notice(&Notice::Against);
        }
        self.against = against;
    }

    /// Nothing that can be taken came; it is told once.
    fn unheard(&mut self, now: Now, why: String) {
        if self.lost.is_none() && self.quiet.is_none() {
            self.quiet = Some(now);
            self.source(now, SourceNews::Lost { why });
        }
    }

    /// Hears what became of events.
    pub(crate) fn kept(&mut self, kept: Kept<AppendError>) {
        self.keeper.hear(&kept);
        let room = !self.keeper.is_full();
        self.tally.hear(kept, room, self.clock.now().wall, &mut self.voice);
        self.answers.durable(self.tally.durable, self.tally.seq);
    }

    /// What needs a hand until it is put right.
    pub(crate) fn standing(&self) -> Vec<String> {
        let no_room = self.tally.no_room.map(|_| self.no_room().to_string());
        let trouble = self.tally.trouble.as_ref().map(|(_, said)| said.clone());
        let over = self.over.contains(&true).then(|| Notice::OverRange.to_string());
        let blind = self.blind.contains(&true).then(|| Notice::NoValue.to_string());
        let away = self.away.iter().map(|(_, said)| said.clone());
        let slip = self.slip.clone().filter(|_| self.session.slip_stands());
        let against = self.against.then(|| Notice::Against.to_string());
        let wire = self.lost.clone().into_iter().chain(away).chain(slip).chain(against);
        let wire = wire.chain(over).chain(blind);
        no_room.into_iter().chain(trouble).chain(wire).collect()
    }

    /// Events that wait to be durable.
    pub(crate) fn waiting(&self) -> usize {
        self.keeper.waiting()
    }

    /// Whether something could not be kept just now.
    pub(crate) fn in_trouble(&self) -> bool {
        self.tally.trouble.is_some()
    }

    /// Ends: what was read and waits for its batch is handed over, everything is kept that can
    /// be, and acknowledged.
    pub(crate) fn finish(mut self, inputs: &Receiver<Input>) -> Left {
        let now = self.clock.now();
        self.session.handle_time(now);
        self.session.flush(now);
        self.settle();
        let Self { keeper, mut tally, mut voice, mut answers, not_taken, .. } = self;
        let (page, unkept) = keeper.finish();
        for input in inputs.try_iter() {
            if let Input::Kept(kept) = input {
                tally.hear(kept, true, now.wall, &mut voice);
                answers.durable(tally.durable, tally.seq);
            }
        }
        Left { page, unkept, not_taken, refused: tally.refused }
    }

    /// Hands over what the session made of all that.
    fn settle(&mut self) {
        let mut events = Vec::new();
        while let Some(entry) = self.session.poll_event() {
            self.counsel.event(&entry);
            self.voice.event(&entry);
            if let Event::Clock(news) = entry.what {
                self.voice.notice(&match news {
                    ClockNews::Set { by } => Notice::ClockSet { by },
                    ClockNews::Stood { time } => Notice::Stood { time },
                });
            }
            if let Event::Source(SourceNews::Slip { kv, ua, times }) = entry.what {
                let notice = Notice::Slip { kv, ua, times };
                self.slip = Some(notice.to_string());
                self.voice.notice(&notice);
            }
            self.tally.waiting.push_back(readings(&entry.what));
            self.tally.handed += 1;
            events.push(entry);
        }
        if let Voice::Pages(pages) = &mut self.voice {
            pages.settle(&self.session);
        }
        self.keeper.keep(events);
    }

    /// So many lines are left that nobody took.
    pub(crate) fn leaves(&mut self, lines: usize) {
        self.not_taken += lines as u64;
    }

    /// Whether the disk is merely slower than what comes: whoever can wait, should.
    pub(crate) fn is_behind(&self) -> bool {
        self.keeper.is_full() && !self.in_trouble()
    }

    /// Whether more can be taken; where not, it is told and counted.
    fn has_room(&mut self) -> bool {
        if !self.keeper.is_full() {
            return true;
        }
        self.tally.refused += 1;
        match &mut self.tally.no_room {
            Some(not_taken) => *not_taken += 1,
            None => {
                self.tally.no_room = Some(1);
                self.voice.notice(&self.no_room());
            }
        }
        false
    }

    fn no_room(&self) -> Notice {
        Notice::NoRoom { events: self.keeper.waiting() }
    }
}

impl Tally {
    fn hear(&mut self, kept: Kept<AppendError>, room: bool, wall: Timestamp, voice: &mut Voice) {
        match kept {
            Kept::Durable { seq, events } => {
                self.kept += self.waiting.drain(..events).sum::<u64>();
                self.durable += events as u64;
                self.seq = seq;
                voice.kept((seq, events), self.kept);
                if self.waiting.is_empty() && self.trouble.take().is_some() {
                    voice.notice(&Notice::KeptAgain);
                }
                if let Some(not_taken) = self.no_room.take_if(|_| room) {
                    voice.notice(&Notice::RoomAgain { not_taken });
                }
            }
            Kept::Waiting(error) => {
                let since = self.trouble.as_ref().map_or(wall, |(since, _)| *since);
                let said = Notice::NotKept { since, error }.to_string();
                if self.trouble.as_ref().is_none_or(|(_, before)| *before != said) {
                    voice.say(&said);
                }
                self.trouble = Some((since, said));
            }
        }
    }
}

fn value<Q: Copy>(shown: Option<&Digits<Q>>) -> (Option<Q>, Option<Q>) {
    match shown {
        Some(Digits::Value { value, half_digit }) => (Some(*value), Some(*half_digit)),
        _ => (None, None),
    }
}

/// How many readings an event holds.
pub(crate) fn readings(event: &Event) -> u64 {
    match event {
        Event::Metered(batch) => batch.t_s.len() as u64,
        Event::Readings { rows, .. } => rows.len() as u64,
        _ => 0,
    }
}

/// A line as it is told of: as much as shows which one it was.
fn told(line: &str) -> String {
    const SHOWN: usize = 120;
    match line.char_indices().nth(SHOWN) {
        Some((end, _)) => format!("{}…", &line[..end]),
        None => line.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use instrument::reader::Reading;
    use session::Kind;
    use session::record::Head;
    use store::RecordId;

    use super::super::books::Books;
    use super::*;

    /// A desk on a database of its own; what is told goes to the test's output.
    fn desk(name: &str) -> (Desk, Receiver<Input>, RecordId) {
        let folder = std::env::temp_dir().join(format!("ohmstead-{name}-{}", std::process::id()));
        std::fs::create_dir_all(&folder).expect("a folder for this test");
        let books = Books::open(&folder.join("records.db").to_string_lossy()).expect("it opens");
        let text = include_str!("../../../../docs/examples/gloves.toml");
        let job = plan::job_file::parse(text).expect("the example is well formed");
        let plan = plan::plan(&job, &standards::Library::published());
        let format = session::RECORD_FORMAT.to_owned();
        let head = Head { format, kind: Kind::Test, source: None, job, plan };
        let clock = Clock::lock_step();
        let id = books.begin(&head, clock.now().wall).expect("it is begun");
        let session = Session::begin(&head, clock.boot(), clock.now());
        let (send, inputs) = std::sync::mpsc::channel();
        let keeper = Keeper::start(Page { books, id: id.clone() }, move |kept| {
            let _ = send.send(Input::Kept(kept));
        });
        let counsel = Counsel::new(&head, &session);
        (Desk::new((session, counsel), clock, Voice::json(), keeper, 0), inputs, id)
    }

    /// A second with a reading of 30 kV in it.
    fn second(desk: &mut Desk) {
        desk.clock.advance(Time::from_seconds(1.0));
        desk.reading(&reading(desk.clock.now(), desk.clock.now()));
        desk.time();
    }

    /// 30 kV, asked for and answered at these moments.
    fn reading(asked: Now, ended: Now) -> Reading<Now> {
        let (value, half_digit) = (Voltage::from_kilovolts(30.0), Voltage::from_volts(50.0));
        let voltage = Some(Digits::Value { value, half_digit });
        let (voltage_range, current_range) = (None, None);
        Reading { asked, at: ended, voltage, current: None, voltage_range, current_range, ended }
    }

    /// What is in the database afterwards: readings, and news of the clocks.
    fn ends_with(desk: Desk, inputs: &Receiver<Input>, id: &RecordId) -> (u64, Vec<ClockNews>) {
        let Left { page, unkept, .. } = desk.finish(inputs);
        assert!(unkept.is_empty());
        let events = page.books.record(id).expect("it is there").record.events;
        let news = events.iter().filter_map(|entry| match entry.what {
            Event::Clock(news) => Some(news),
            _ => None,
        });
        (events.iter().map(|entry| readings(&entry.what)).sum(), news.collect())
    }

    #[test]
    fn a_clock_set_back_an_hour_is_told_and_moves_no_reading() {
        let (mut desk, inputs, id) = desk("set-back");
        (0..5).for_each(|_| second(&mut desk));
        desk.clock.set_wall(Time::from_seconds(-3600.0));
        (0..5).for_each(|_| second(&mut desk));
        assert!(desk.view().is_hazardous());
        let (readings, news) = ends_with(desk, &inputs, &id);
        assert_eq!(readings, 10);
        let [ClockNews::Set { by }] = news[..] else { panic!("{news:?}") };
        assert!((by.seconds() + 3600.0).abs() < 1.0, "{by:?}");
        let told = Notice::ClockSet { by }.to_string();
        assert!(told.starts_with("Go on") && told.contains("back"), "{told}");
    }

    #[test]
    fn a_computer_that_slept_says_so_and_what_to_do() {
        let (mut desk, inputs, id) = desk("slept");
        (0..5).for_each(|_| second(&mut desk));
        desk.clock.advance(Time::from_seconds(600.0));
        (0..5).for_each(|_| second(&mut desk));
        assert!(desk.view().is_hazardous());
        let (readings, news) = ends_with(desk, &inputs, &id);
        assert_eq!(readings, 10);
        let [ClockNews::Stood { time }] = news[..] else { panic!("{news:?}") };
        assert!((600.0..602.0).contains(&time.seconds()), "{time:?}");
        let told = Notice::Stood { time }.to_string();
        assert!(told.starts_with("Read the needles now"), "{told}");
    }

    /// The computer slept while an answer was on its way.
    #[test]
    fn an_answer_from_before_a_sleep_is_no_reading() {
        let (mut desk, inputs, id) = desk("stale");
        (0..5).for_each(|_| second(&mut desk));
        let asked = desk.clock.now();
        desk.clock.advance(Time::from_seconds(600.0));
        desk.reading(&reading(asked, desk.clock.now()));
        let told = desk.standing().join("\n");
        assert!(told.starts_with("LINK LOST: read the set's own needles"), "{told}");
        assert!(told.contains("came 10 min after its question"), "{told}");
        second(&mut desk);
        assert_eq!(desk.standing(), [""; 0]);
        let (readings, news) = ends_with(desk, &inputs, &id);
        assert_eq!(readings, 6);
        assert!(matches!(news[..], [ClockNews::Stood { .. }]), "{news:?}");
    }
}
