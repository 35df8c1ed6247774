//! One live test: the only place where wire, keys, clocks and disk meet the session.
//!
//! Everything that comes goes through one queue to the [`desk`]: to the session, whose events go
//! to the [`keeper`], and only when they are durable are they acknowledged. [`live`] goes by the
//! machine's clocks, [`lock_step`] by the practice set's.

mod alone;
pub(crate) mod answers;
mod books;
pub(crate) mod clock;
pub(crate) mod counsel;
mod desk;
mod ears;
mod ending;
mod garbage;
pub(crate) mod hosted;
mod input;
mod keeper;
mod live;
pub(crate) mod lock_step;
mod loggers;
mod meters;
mod notice;
mod opening;
pub(crate) mod pages;
mod pairing;
mod pen;
pub(crate) mod practice_set;
mod screen;
pub(crate) mod source;
mod terminal;
pub(crate) mod trace;
mod voice;
pub(crate) mod wire;
mod words;

use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::Duration;

use judge::Verdict;
use plan::{Job, Plan, Severity};
use quantity::Time;
use session::record::{Head, SourceNews};
use session::say::Mode;
use session::{Kind, Record};
use standards::Library;

use crate::output::{End, Trouble, print};
use books::{Books, Page};
use clock::Clock;
use desk::Desk;
use input::Input;
use keeper::Keeper;
use opening::Opening;
pub(crate) use opening::TakeUp;
use practice_set::Wish;
use screen::Screen;
use source::Source;
use voice::Voice;
use wire::Wire;

/// How fast time goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum Pace {
    /// By the clock
    Real,
    /// As fast as the machine can, set and record together; against the practice set alone
    Lockstep,
}

/// What is to be run, and how.
pub(crate) struct Order {
    pub(crate) job: Job,
    pub(crate) plan: Plan,
    /// Where readings come from.
    pub(crate) source: Source,
    pub(crate) by: Option<String>,
    pub(crate) pace: Option<Pace>,
    pub(crate) every: Option<Time>,
    /// With nobody at hand, a meter that stays away this long does not come back.
    pub(crate) patience: Time,
    pub(crate) wish: Wish,
    pub(crate) take_up: TakeUp,
    pub(crate) json: bool,
    pub(crate) gate: bool,
    pub(crate) db: String,
}

impl Order {
    /// Whether lines that are not taken are somebody's mistake: those of a practice hand that met
    /// a record left by another run are not.
    fn is_typed(&self) -> bool {
        matches!(self.source, Source::Keys)
    }
}

/// Keeps a record that is whole already, judges it, and tells it.
pub(crate) fn transcribed(
    db: &str,
    record: &Record,
    library: &Library,
    json: bool,
) -> Result<Verdict, Trouble> {
    let books = Books::open(db)?;
    let Record { format, kind, source, job, plan, events } = record.clone();
    let head = Head { format, kind, source, job, plan };
    let id = books.begin(&head, Clock::real().now().wall)?;
    let seq = books.append(&id, &events)?;
    if json {
        let readings = events.iter().map(|entry| desk::readings(&entry.what)).sum();
        Voice::json().kept((seq, events.len()), readings);
    }
    let verdict = ending::judged(&books, &id, record, library, json);
    if json {
        print(&ending::last_line(&id, verdict));
    }
    Ok(verdict)
}

/// Waits until the system, or Ctrl+C, asks the program to end.
pub(crate) fn until_asked_to_end() {
    let (send, inputs) = channel();
    input::wishes_to_end(send);
    // The other end is dropped only when nobody can ask any more.
    let _ = inputs.recv();
}

/// Why nothing is begun of a plan that is refused, and what to do instead.
pub(crate) fn refused(plan: &Plan) -> Option<Trouble> {
    if !plan.is_refused() {
        return None;
    }
    let refusals = plan.issues.iter().filter(|one| one.severity == Severity::Refuse);
    let (remedies, texts): (Vec<&str>, Vec<&str>) =
        refusals.map(|one| (one.remedy.as_str(), one.text.as_str())).unzip();
    Some(Trouble::Argument {
        remedy: format!("DO NOT RUN THIS TEST; nothing was begun. {}", remedies.join(" ")),
        detail: texts.join(" "),
    })
}

/// Runs a live test to its end, judges what was recorded, and tells it.
pub(crate) fn run(order: Order, library: &Library) -> Result<End, Trouble> {
    let books = Books::open(&order.db).inspect_err(|_| tell_what_can_be_read(&order))?;
    let opening = Opening::look(&books, &order.plan.asset, &order.take_up)?;
    let told = opening.tell(Clock::real().now(), order.json);
    let pace = pace(&order)?;
    let wire = wire(&order, pace)?;
    if let (Some(wire), Pace::Lockstep) = (&wire, pace)
        && !wire.is_simulated()
    {
        return Err(Trouble::Argument {
            remedy: "Leave --pace lockstep out".to_owned(),
            detail: "what answers is no practice set; its time goes by the clock".to_owned(),
        });
    }
    let kind = kind(&order, wire.as_ref());
    let (send, inputs) = channel();
    let (mut desk, attended) = open(&order, books, opening, (kind, pace), wire.as_ref(), &send)?;
    if attended {
        // The screen covers what was printed.
        told.iter().for_each(|said| desk.voice.say(said));
    }
    listen(&order, attended, &send, &desk.clock);
    if let Some(wire) = &wire {
        desk.source(desk.clock.now(), SourceNews::Answers { identity: wire.identities() });
    }
    work(&order, &mut desk, wire, pace, attended, &inputs, send);
    ending::end(desk, &inputs, &order, library)
}

/// Where nothing can be written, what was left hazardous may still be read, and comes first.
fn tell_what_can_be_read(order: &Order) {
    // Why it is not opened to write is told anyway.
    let Ok(books) = Books::open_to_read(&order.db) else { return };
    if let Ok(opening) = Opening::look(&books, &order.plan.asset, &order.take_up) {
        opening.tell(Clock::real().now(), order.json);
    }
}

fn work(
    order: &Order,
    desk: &mut Desk,
    wire: Option<Wire>,
    pace: Pace,
    attended: bool,
    inputs: &Receiver<Input>,
    send: Sender<Input>,
) {
    match (wire, pace) {
        (Some(wire), Pace::Lockstep) => {
            desk.session.expect_leaps();
            lock_step::work(desk, wire, inputs, order.every.unwrap_or(Time::from_seconds(1.0)));
        }
        (wire, _) => {
            let by = order.by.clone();
            let mode = match order.source {
                Source::Keys if !attended => Mode::Piped,
                _ => Mode::Typed,
            };
            let every = order.every.map_or(Duration::from_millis(200), |every| {
                Duration::try_from_secs_f64(every.seconds()).unwrap_or_default()
            });
            let loggers = order.job.loggers.clone();
            live::Live { desk, by, mode, attended, loggers, patience: order.patience }
                .work(wire, every, inputs, send);
        }
    }
}

fn pace(order: &Order) -> Result<Pace, Trouble> {
    match (&order.source, order.pace) {
        (Source::Sim { .. }, pace) => Ok(pace.unwrap_or(Pace::Lockstep)),
        (Source::Wire(_) | Source::Meters, pace) => Ok(pace.unwrap_or(Pace::Real)),
        (Source::Keys | Source::Csv(_), None | Some(Pace::Real)) => Ok(Pace::Real),
        (Source::Keys | Source::Csv(_), Some(Pace::Lockstep)) => Err(Trouble::Argument {
            remedy: "Leave --pace lockstep out".to_owned(),
            detail: "only the practice set can go in lock-step".to_owned(),
        }),
    }
}

fn wire(order: &Order, pace: Pace) -> Result<Option<Wire>, Trouble> {
    match &order.source {
        Source::Keys | Source::Csv(_) => Ok(None),
        Source::Wire(address) => Wire::open(Some(address), &order.job).map(Some),
        Source::Meters => Wire::open(None, &order.job).map(Some),
        Source::Sim { .. } => {
            Wire::of_practice(&order.job, &order.plan, &order.wish, pace, 1.0).map(Some)
        }
    }
}

/// Nothing typed makes a simulation, only what the instrument says of itself.
fn kind(order: &Order, wire: Option<&Wire>) -> Kind {
    match (&order.source, wire) {
        (_, Some(wire)) if wire.is_simulated() => Kind::Simulated,
        _ => Kind::Test,
    }
}

/// The desk with its record, begun or taken up; and whether a person sits at it.
fn open(
    order: &Order,
    books: Books,
    opening: Opening,
    (kind, pace): (Kind, Pace),
    wire: Option<&Wire>,
    send: &Sender<Input>,
) -> Result<(Desk, bool), Trouble> {
    let clock = if pace == Pace::Real { Clock::real() } else { Clock::lock_step() };
    let now = clock.now();
    // The practice set of an earlier program ended with it, and its object as well.
    let gone = matches!(order.source, Source::Sim { .. });
    let (id, session, counsel, kept) = match opening.taken_up(&books, kind, gone, wire.is_some())? {
        Some(found) => {
            let mut session = found.session;
            session.resume(clock.boot(), now);
            (found.summary.id, session, found.counsel, found.summary.readings)
        }
        None => {
            let head = Head {
                format: session::RECORD_FORMAT.to_owned(),
                kind,
                source: wire.and_then(Wire::identities).or_else(|| typed(order)),
                job: order.job.clone(),
                plan: order.plan.clone(),
            };
            let id = books.begin(&head, now.wall)?;
            let session = session::live::Session::begin(&head, clock.boot(), now);
            let counsel = counsel::Counsel::new(&head, &session);
            (id, session, counsel, 0)
        }
    };
    // In lock-step a whole test takes a second: nobody reads a screen meanwhile.
    let attended = terminal::attended() && !order.json && pace == Pace::Real;
    let voice = if order.json {
        Voice::json()
    } else if attended {
        let screen = Screen::open(&order.plan.asset, id.as_str()).map_err(Trouble::System)?;
        Voice::Screen(Box::new(screen))
    } else {
        Voice::text()
    };
    let told = send.clone();
    let keeper = Keeper::start(Page { books, id: id.clone() }, move |kept| {
        // Once the loop has ended nobody has to hear; what was kept is in the database.
        let _ = told.send(Input::Kept(kept));
    });
    let mut desk = Desk::new((session, counsel), clock, voice, keeper, kept);
    desk.voice.begins(&id, &order.plan.asset, kind);
    desk.time();
    Ok((desk, attended))
}

fn typed(order: &Order) -> Option<String> {
    (order.source == Source::Keys).then(|| wire::TYPED.to_owned())
}

/// Starts what sends keys, lines and wishes to end.
fn listen(order: &Order, attended: bool, send: &Sender<Input>, clock: &Clock) {
    input::wishes_to_end(send.clone());
    if attended {
        let clock = clock.clone();
        terminal::listen(send.clone(), move |event| {
            event.map_or(Input::LinesEnded, |event| Input::Key(clock.now(), event))
        });
    } else if !std::io::IsTerminal::is_terminal(&std::io::stdin()) || order.source == Source::Keys {
        input::lines(send.clone(), clock.clone());
    }
}
