//! One drawn test from the first ground to the last: a hand raises as the plan says, every reading
//! goes to the adviser, and the hand obeys what is shown.

use std::time::Instant;

use advise::{Adviser, Speaker, Strength};
use jiff::{SignedDuration, Timestamp};
use plan::Plan;
use practice::{Habits, Hand, Rig};
use quantity::{Time, Voltage};
use session::live::{Metered, Session};
use session::record::{Head, Now};
use session::say::{self, Mode};
use session::state::State;
use session::{Entry, Event, Reading};

use super::chance::Chance;
use super::meter::{self, Meters, Read};

/// A person acts this long after something is shown, at least and at most.
const REACTS: (f64, f64) = (0.7, 3.0);
/// A hand that is told to hold waits so long for milder advice, and then goes on.
const PATIENCE: Time = Time::from_seconds(180.0);
/// More readings than this no test takes: meters are then read less often.
const MOST_READINGS: f64 = 5000.0;
/// Between two readings of a hand on a long rise.
const HAND_EVERY: Time = Time::from_seconds(30.0);
/// What was typed is looked at, with what is advised then, for so long before a hand goes on.
const LOOKS_UP: Time = Time::from_seconds(1.5);
/// A slip is seen after this long.
const SEES_SLIP: Time = Time::from_seconds(4.0);
/// No test takes so many strides.
const MOST_STRIDES: u32 = 200_000;
const BOOT: &str = "bench";

/// What came of one test.
pub(super) struct Came {
    /// The strongest that was shown while voltage was on.
    pub(super) strongest: Strength,
    /// The reason of the first of that strength, with where it stood.
    pub(super) why: String,
    pub(super) came_down: bool,
    /// The highest voltage that stood on the faulty conductor.
    pub(super) top: Voltage,
    pub(super) tripped: bool,
    pub(super) readings: u64,
    /// Of each reading, in microseconds.
    pub(super) took: Vec<f32>,
    /// What the session would not take.
    pub(super) refused: Option<String>,
}

/// Something typed that has not reached the record yet.
struct Waiting {
    at: Time,
    what: What,
}

enum What {
    Reading(Reading),
    Withdraw,
}

pub(super) struct Bench<'a> {
    plan: &'a Plan,
    session: Session,
    adviser: Adviser,
    speaker: Speaker,
    rig: Rig,
    hand: Hand,
    read: Read,
    meters: Meters,
    chance: Chance,
    /// How far the mains let the output wander, in parts.
    wander: f64,
    dial_due: Time,
    next_reading: Time,
    waiting: Vec<Waiting>,
    shown: Strength,
    /// When the hand comes down, or holds.
    acts_at: Option<(Time, Strength)>,
    held_since: Option<Time>,
    /// Held at this level long enough.
    ignores: bool,
    /// Until then the hand writes, and looks at what is advised, before it goes on.
    writes_until: Time,
    watched: usize,
    /// Tells every reading.
    traces: bool,
    came: Came,
}

/// What a test is run with.
pub(super) struct Setting {
    pub(super) rig: Rig,
    pub(super) read: Read,
    pub(super) meters: Meters,
    pub(super) chance: Chance,
    /// The conductor whose voltage is followed.
    pub(super) watched: usize,
}

fn noon() -> Timestamp {
    "2026-11-03T12:00:00Z".parse().expect("a moment")
}

impl<'a> Bench<'a> {
    pub(super) fn new(head: &'a Head, setting: Setting) -> Self {
        let Setting { rig, read, mut meters, mut chance, watched } = setting;
        let plan = &head.plan;
        let mut session = Session::begin(head, BOOT, Now { monotonic: Time::ZERO, wall: noon() });
        session.expect_leaps();
        let whole = plan.duration.map_or(3600.0, Time::seconds) * plan.conductors.len() as f64
            + plan.resistance_test.as_ref().map_or(0.0, |test| test.dwell.seconds());
        meters.every = meters.every.max(Time::from_seconds(whole / MOST_READINGS));
        let wander = if chance.unit() < 0.5 { chance.decades(1e-4, 1e-3) } else { 0.0 };
        Self {
            plan,
            session,
            adviser: Adviser::new(head),
            speaker: Speaker::new(),
            hand: Hand::new(plan, Habits::default()).expect("a plan with a course"),
            rig,
            read,
            meters,
            wander,
            chance,
            dial_due: Time::ZERO,
            next_reading: Time::ZERO,
            waiting: Vec::new(),
            shown: Strength::CarryOn,
            acts_at: None,
            held_since: None,
            ignores: false,
            writes_until: Time::ZERO,
            watched,
            traces: std::env::var_os("ALARMS_TRACE").is_some(),
            came: Came {
                strongest: Strength::CarryOn,
                why: String::new(),
                came_down: false,
                top: Voltage::ZERO,
                tripped: false,
                readings: 0,
                took: Vec::new(),
                refused: None,
            },
        }
    }

    pub(super) fn work(mut self) -> Came {
        self.settle();
        let mut strides = 0;
        while let Some(next) = self.hand.next(&self.rig) {
            self.stride(next);
            strides += 1;
            assert!(strides < MOST_STRIDES, "the hand does not come to an end");
            if self.came.refused.is_some() {
                break;
            }
        }
        self.came
    }

    /// Goes on to what comes next: a deed, a reading, or something typed late.
    fn stride(&mut self, next: Time) {
        let on = self.rig.is_high_voltage_on();
        let held = self.hand.is_held();
        let mut to = if held { self.rig.now() + Time::from_seconds(0.5) } else { next };
        let reads_now = on && self.next_reading <= self.rig.now();
        if on && !reads_now {
            to = to.min(self.next_reading);
        }
        for waiting in &self.waiting {
            to = to.min(waiting.at);
        }
        if let Some((at, _)) = self.acts_at {
            to = to.min(at);
        }
        to = to.max(self.rig.now());
        if on && (to - self.rig.now()).seconds() > 2.0 {
            to = self.rig.trip_before(to).unwrap_or(to);
        }
        let looks = !held && self.hand.next(&self.rig).is_some_and(|next| next <= to);
        let deeds = self.hand.work(&mut self.rig, to);
        let did = !deeds.is_empty();
        for deed in deeds {
            self.came.tripped |= deed.words.ends_with(" trip");
            self.ignores &= !deed.words.ends_with(" rise");
            self.say(&deed.words);
        }
        let volts = self.rig.true_voltage(&self.plan.conductors[self.watched]);
        self.came.top = self.came.top.max(volts.unwrap_or(Voltage::ZERO));
        self.mains(did);
        self.deliver();
        if self.phase().is_some() && self.rig.is_high_voltage_on() {
            self.take(looks && !did);
            self.act();
        } else {
            (self.acts_at, self.held_since, self.ignores) = (None, None, false);
            self.shown = Strength::CarryOn;
            self.waiting.clear();
            // Meters are read on while the voltage goes down; what is advised then is not counted.
            let at = self.session.focus();
            if self.read == Read::Meters && !self.session.is_closed() {
                let phase = self.plan.conductors[at].as_str();
                let reading = self.meters.read(&self.rig, phase, &mut self.chance);
                self.metered(phase, reading, false);
            }
        }
    }

    fn phase(&self) -> Option<&'a str> {
        let plan = self.plan;
        let on = |name: &&String| self.session.state(name).is_some_and(State::is_energised);
        plan.conductors.iter().find(on).map(String::as_str)
    }

    fn now(&self) -> Now {
        let gone = SignedDuration::try_from_secs_f64(self.rig.now().seconds());
        let wall = noon().checked_add(gone.unwrap_or_default()).unwrap_or_else(|_| noon());
        Now { monotonic: self.rig.now(), wall }
    }

    /// The mains move the output a little while the dial stands.
    fn mains(&mut self, did: bool) {
        let Some(phase) = self.phase() else { return };
        let stands = matches!(self.session.state(phase), Some(State::Dwelling | State::Holding));
        if self.wander == 0.0 || !stands || did || self.hand.is_held() {
            self.dial_due = self.rig.now() + Time::from_seconds(6.0);
            return;
        }
        if self.rig.now() >= self.dial_due {
            let (target, _) = self.rig.dial_course();
            let to = (target * (1.0 + self.wander * self.chance.between(-1.0, 1.0))).min(1.0);
            let rate = (to - self.rig.dial_at()).abs() / 5.0;
            if rate > 0.0 {
                self.rig.dial(to, rate).expect("on the dial");
            }
            self.dial_due = self.rig.now() + Time::from_seconds(self.chance.between(8.0, 25.0));
        }
    }

    fn say(&mut self, words: &str) {
        let (now, session) = (self.now(), &mut self.session);
        let taken = match say::parse(words, Mode::Typed) {
            Ok(said) => session.handle_said(now, None, said),
            Err(fault) => {
                self.came.refused.get_or_insert(format!("{words}: {fault}"));
                return;
            }
        };
        if let Err(why) = taken {
            self.came.refused.get_or_insert(format!("{words}: {why}"));
        }
        self.settle();
    }

    /// What the session made of it goes to the adviser, as the desk does it.
    fn settle(&mut self) {
        let entries: Vec<Entry> = std::iter::from_fn(|| self.session.poll_event()).collect();
        for entry in &entries {
            if !matches!(entry.what, Event::Metered(_)) {
                self.adviser.event(entry);
            }
        }
    }

    /// Takes a reading where one is due.
    fn take(&mut self, looks: bool) {
        let now = self.rig.now();
        match self.read {
            Read::Meters if now >= self.next_reading => {
                self.next_reading = now + self.meters.every;
                let Some(phase) = self.phase() else { return };
                let reading = self.meters.read(&self.rig, phase, &mut self.chance);
                self.metered(phase, reading, true);
            }
            Read::Needle if self.can_write() && (looks || now >= self.next_reading) => {
                self.next_reading = now + HAND_EVERY;
                let typed = meter::typed(&self.rig.needles(), &mut self.chance);
                let at = now + typed.late;
                self.writes_until = at + LOOKS_UP;
                self.waiting.push(Waiting { at, what: What::Reading(typed.reading) });
                if let Some(right) = typed.right {
                    let seen = at + SEES_SLIP;
                    self.waiting.push(Waiting { at: seen, what: What::Withdraw });
                    let again = seen + Time::from_seconds(3.0);
                    self.waiting.push(Waiting { at: again, what: What::Reading(right) });
                }
            }
            _ => {}
        }
    }

    /// A hand writes one thing at a time, and nothing while it turns the dial for seconds.
    fn can_write(&self) -> bool {
        let Some(phase) = self.phase() else { return false };
        let brief = self.plan.course.iter().all(|step| step.rise_time < HAND_EVERY);
        let turns = self.session.state(phase) == Some(State::Rising) && brief;
        self.rig.now() >= self.writes_until && !turns
    }

    fn metered(&mut self, phase: &str, reading: Metered, counts: bool) {
        let (now, since) = (self.now(), self.session.since_begun(self.now()));
        let taken = advise::Taken {
            at: Time::ZERO,
            voltage: reading.voltage,
            current: reading.current,
            voltage_half_digit: reading.voltage_half_digit,
            current_half_digit: reading.current_half_digit,
            voltage_range: reading.voltage_range,
            current_range: reading.current_range,
            overload: reading.current_overload,
            blank: false,
            link: None,
        };
        self.session.handle_metered(now, reading);
        self.session.handle_time(now);
        self.settle();
        let begun = Instant::now();
        self.adviser.metered(phase, since, taken);
        if counts {
            self.look(phase, begun);
        }
    }

    /// What was typed comes in.
    fn deliver(&mut self) {
        let at = self.rig.now();
        let Some(phase) = self.phase() else { return };
        while let Some(index) = self.waiting.iter().position(|waiting| waiting.at <= at) {
            let Waiting { what, .. } = self.waiting.remove(index);
            let now = self.now();
            let taken = match what {
                What::Reading(reading) => {
                    self.session.handle_typed(now, None, Some(phase), reading)
                }
                What::Withdraw => self.session.handle_withdraw(now, None, Some(phase)),
            };
            if let Err(why) = taken {
                self.came.refused.get_or_insert(format!("typed: {why}"));
            }
            let begun = Instant::now();
            self.settle();
            self.look(phase, begun);
        }
    }

    /// What is advised now, and shown.
    fn look(&mut self, phase: &str, begun: Instant) {
        let since_begun = self.session.since_begun(self.now());
        let since = self.adviser.energised_at(phase).map(|zero| since_begun - zero);
        let advice = self.adviser.at(phase, since.unwrap_or(Time::ZERO));
        let said = self.speaker.say(since_begun, phase, since, &advice);
        if self.traces {
            println!(
                "trace {phase} {:.1} s {:.3} kV {:.4} µA {:?} {}{}",
                since.map_or(0.0, Time::seconds),
                self.rig.needles().voltage.value.kilovolts(),
                self.rig.metered().microamperes(),
                advice.strength,
                advice.text(),
                if self.hand.is_held() { " (held)" } else { "" }
            );
        }
        self.came.took.push(begun.elapsed().as_secs_f32() * 1e6);
        self.came.readings += 1;
        let Some(said) = said else { return };
        self.shown = said.strength;
        if said.strength > self.came.strongest {
            self.came.strongest = said.strength;
            let at = since.map_or(0.0, Time::seconds);
            self.came.why = format!("{} at {at:.0} s of {phase}: {}", said.reason, said.text);
        }
    }

    /// The hand obeys, after a moment.
    fn act(&mut self) {
        let now = self.rig.now();
        let Some(phase) = self.phase() else { return };
        let state = self.session.state(phase);
        self.decide(now, state == Some(State::Holding));
        if self.held_since.is_some_and(|since| now - since >= PATIENCE) {
            (self.held_since, self.ignores) = (None, true);
        }
        match self.acts_at {
            Some((at, Strength::ComeDown)) if at <= now => {
                (self.acts_at, self.held_since, self.came.came_down) = (None, None, true);
                self.hand.come_down_now(&mut self.rig);
                return;
            }
            Some((at, _)) if at <= now => (self.acts_at, self.held_since) = (None, Some(now)),
            _ => {}
        }
        let writes = state == Some(State::Dwelling) && now < self.writes_until;
        match self.held_since.is_some() || writes {
            true => self.hand.hold_here(&mut self.rig),
            false => self.hand.go_on(&mut self.rig),
        }
    }

    /// What is shown becomes what will be done.
    fn decide(&mut self, now: Time, at_the_last: bool) {
        let wait = Time::from_seconds(self.chance.between(REACTS.0, REACTS.1));
        match self.shown {
            Strength::ComeDown => {
                let at = self.acts_at.map_or(now + wait, |(at, _)| at);
                self.acts_at = Some((at, Strength::ComeDown));
            }
            // At the last level there is nothing to raise.
            Strength::HoldHere => {
                let stays = self.held_since.is_some() || self.ignores || at_the_last;
                if self.acts_at.is_none() && !stays {
                    self.acts_at = Some((now + wait, Strength::HoldHere));
                }
            }
            Strength::CarryOn | Strength::Watch => {
                // Who has begun to come down does not stop on the way.
                self.acts_at = self.acts_at.filter(|(_, what)| *what == Strength::ComeDown);
                (self.held_since, self.ignores) = (None, false);
            }
        }
    }
}
