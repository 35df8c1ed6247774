//! A whole test in memory: practice set, object and hand in lock-step with a session, from a
//! moment of the past, without a socket and without waiting for a disk.

use std::collections::VecDeque;

use jiff::{SignedDuration, Timestamp};
use plan::Plan;
use plan::course::Descent;
use practice::{Hand, Rig};
use quantity::Time;
use session::Entry;
use session::live::{Metered, Session};
use session::record::{Head, Now, SourceNews};
use session::say::{self, Mode};
use session::state::{ActKind, State};

use super::objects::Ending;
use crate::drive::lock_step::HAND;

/// Between two readings.
const EVERY: Time = Time::from_seconds(5.0);
/// While the voltage moves: the time at a level counts from the last reading below it.
const MOVING: Time = Time::from_seconds(1.0);
/// At the level, where readings at their minute are looked for.
const HOLDING: Time = Time::from_seconds(2.0);

/// Between one deed and the next of a hand that gives up.
const PAUSE: Time = Time::from_seconds(2.0);

/// The dial is down in this time.
const DOWN: Time = Time::from_seconds(10.0);

/// The time of these records is no machine's.
const BOOT: &str = "practice, in memory";

/// A test as it goes on.
pub(super) struct Bench {
    session: Session,
    rig: Rig,
    from: Now,
    events: Vec<Entry>,
    /// Why something that the hand said was not taken.
    refused: Option<String>,
}

impl Bench {
    /// A record begun at that moment.
    pub(super) fn begin(head: &Head, rig: Rig, wall: Timestamp) -> Self {
        let from = Now { monotonic: Time::ZERO, wall };
        let mut session = Session::begin(head, BOOT, from);
        session.expect_leaps();
        session.handle_source(from, SourceNews::Answers { identity: head.source.clone() });
        Self { session, rig, from, events: Vec::new(), refused: None }
    }

    /// Works the plan up to this ending, and gives what was recorded; or the first thing that the
    /// session would not take.
    pub(super) fn work(
        mut self,
        plan: &Plan,
        mut hand: Hand,
        ending: Ending,
    ) -> Result<Vec<Entry>, String> {
        let last = plan.conductors.last().map(String::as_str).unwrap_or_default();
        // The resistance of all comes first, each with a hold of its own.
        let mut holds = if plan.resistance_test.is_some() { 2 } else { 1 };
        let mut held: Option<Time> = None;
        while let Some(next) = hand.next(&self.rig) {
            let mut to = next;
            if !self.session.folded().hazardous().is_empty() {
                to = to.min(self.rig.now() + self.every(plan));
                to = self.rig.trip_before(to).unwrap_or(to);
            }
            let deeds = hand.work(&mut self.rig, to);
            for deed in &deeds {
                self.say(&deed.words);
            }
            self.read();
            let said = |word: &str| deeds.iter().any(|deed| deed.words == say::of(last, word));
            if said("hold") {
                holds -= 1;
                held = (holds == 0).then(|| self.rig.now());
            }
            let grounded = deeds.iter().any(|deed| deed.words.contains(" ground "));
            match (ending, held) {
                (Ending::Grounded, Some(_)) if grounded => break,
                (Ending::Aborted { after_s, why }, Some(since))
                    if (self.rig.now() - since).seconds() >= after_s =>
                {
                    self.give_up(plan, why);
                    break;
                }
                _ => {}
            }
            if self.refused.is_some() {
                break;
            }
        }
        self.session.flush(self.now());
        self.settle();
        match self.refused {
            Some(why) => Err(why),
            None => Ok(self.events),
        }
    }

    fn every(&self, plan: &Plan) -> Time {
        let is = |state| plan.conductors.iter().any(|one| self.session.state(one) == Some(state));
        match () {
            () if is(State::Rising) => MOVING,
            () if is(State::Holding) => HOLDING,
            () => EVERY,
        }
    }

    fn now(&self) -> Now {
        let gone = SignedDuration::try_from_secs_f64(self.rig.now().seconds());
        let wall = self.from.wall.checked_add(gone.unwrap_or_default());
        Now { monotonic: self.rig.now(), wall: wall.unwrap_or(self.from.wall) }
    }

    fn say(&mut self, words: &str) {
        let (now, by, session) = (self.now(), Some(HAND), &mut self.session);
        let taken = match say::parse(words, Mode::Typed) {
            Ok(said) => session.handle_said(now, by, said),
            Err(fault) => return self.refuse(words, &fault.to_string()),
        };
        match taken {
            Ok(()) => self.settle(),
            Err(why) => self.refuse(words, &why.to_string()),
        }
    }

    fn refuse(&mut self, words: &str, why: &str) {
        self.refused.get_or_insert(format!("{words}: {why}"));
    }

    /// What both needles show now.
    fn read(&mut self) {
        let needles = self.rig.needles();
        let (kv, ua, now) = (needles.voltage, needles.current, self.now());
        self.session.handle_metered(
            now,
            Metered {
                voltage: (!kv.over).then_some(kv.value),
                current: (!ua.over).then_some(ua.value),
                voltage_overload: kv.over,
                current_overload: ua.over,
                voltage_half_digit: Some(kv.resolution / 2.0),
                current_half_digit: Some(ua.resolution / 2.0),
                ..Metered::default()
            },
        );
        self.session.handle_time(now);
        self.settle();
    }

    fn settle(&mut self) {
        self.events.extend(std::iter::from_fn(|| self.session.poll_event()));
    }

    /// Time goes on by so much.
    fn wait(&mut self, time: Time) {
        let until = self.rig.now() + time;
        while self.rig.now() < until {
            let charged = !self.session.folded().hazardous().is_empty();
            let to = if charged { until.min(self.rig.now() + EVERY) } else { until };
            self.rig.advance(to);
            self.read();
        }
    }

    /// The hand switches off at once and brings everything to rest.
    fn give_up(&mut self, plan: &Plan, why: &str) {
        let (Some(descent), Some(at)) = (&plan.descent, plan.conductors.last()) else { return };
        let index = plan.conductors.len();
        let mut deeds = VecDeque::new();
        self.rig.high_voltage_off();
        self.say(&say::of(at, ActKind::Abort.key()));
        self.say(&say::of(at, ActKind::Off.key()));
        if self.rig.dial(0.0, 1.0 / DOWN.seconds()).is_err() {
            self.refuse("dial", "zero is not on it");
        }
        self.wait(descent.bleed_to_tenth.unwrap_or(PAUSE).max(DOWN));
        self.residual(at, descent);
        self.wait(PAUSE);
        let on = self.rig.tool(Some(at), true);
        self.wait((descent.to_limit() * 2.0).max(DOWN));
        deeds.push_back(say::of(at, ActKind::Tool.key()));
        deeds.push_back(say::of(at, &format!("ground {index} at {at}")));
        let ground = self.rig.ground(Some(at), true).and(self.rig.tool(Some(at), false));
        if on.and(ground).is_err() {
            self.refuse("tool and ground", "no such conductor");
        }
        deeds.push_back(say::of(at, &format!("cause {why}")));
        deeds.push_back(say::of(at, ActKind::End.key()));
        for words in deeds {
            self.say(&words);
            self.wait(PAUSE);
        }
        self.wait(descent.ground + PAUSE);
        for (index, name) in plan.conductors.iter().enumerate() {
            self.say(&say::of(name, &format!("leave {} to owner of the object", index + 1)));
            self.say(&say::of(name, ActKind::Release.key()));
        }
        self.say("close");
    }

    /// The voltage left, as it is read; below what the voltmeter can tell it is not a number.
    fn residual(&mut self, at: &str, descent: &Descent) {
        let shown = self.rig.needles().voltage;
        let floor = descent.meter_floor.unwrap_or(shown.resolution * 2.0);
        let words = if shown.value < floor.max(shown.resolution) {
            "residual ?".to_owned()
        } else {
            format!("residual {:.1}", shown.value.kilovolts())
        };
        self.say(&say::of(at, &words));
    }
}
