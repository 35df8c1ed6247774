//! Where one conductor stands, folded from what happened to it.

use plan::left::Remains;
use plan::measured::GivesBack;
use quantity::{Current, Time, Voltage, edge};
use serde::Serialize;

use super::course::{AT_LEVEL, Course, REBOUND_WATCH, Target};
use crate::act::Act;
use crate::record::Advised;
use crate::state::{ActKind, End, State};

/// What was decided after an application.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub(super) enum Decision {
    Again,
    End,
}

/// What was read of the voltage left, since the last ground came off.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub(super) enum Left {
    /// So much.
    Read(#[serde(with = "edge::kv")] Voltage),
    /// Below what the meter can tell.
    CannotTell,
}

/// How an application ended, and what was done about it.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub(super) struct Ending {
    pub(super) end: Option<End>,
    pub(super) tripped: bool,
    pub(super) cause: bool,
    pub(super) decision: Option<Decision>,
    pub(super) reset: bool,
    pub(super) zero: bool,
}

/// What was read last.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub(super) struct Latest {
    #[serde(with = "edge::kv")]
    pub(super) voltage: Option<Voltage>,
    #[serde(with = "edge::ua")]
    pub(super) current: Option<Current>,
    pub(super) overload: bool,
    /// Since the record was begun.
    #[serde(with = "edge::s")]
    pub(super) at: Option<Time>,
    /// The same, of the voltage alone.
    #[serde(with = "edge::s")]
    pub(super) voltage_at: Option<Time>,
    /// The same, of the current alone.
    #[serde(with = "edge::s")]
    pub(super) current_at: Option<Time>,
}

/// One conductor.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(super) struct Standing {
    pub(super) name: String,
    pub(super) state: State,
    pub(super) ending: Ending,
    /// Dial at zero and high voltage off, after the voltage came down.
    pub(super) off: bool,
    /// Leads and set alone.
    pub(super) blank: bool,
    pub(super) applications: u32,
    /// The object itself was under voltage once.
    pub(super) charged: bool,
    #[serde(with = "edge::s")]
    pub(super) energised_at: Option<Time>,
    /// Since when the set no longer feeds it: it tripped or was switched off.
    #[serde(with = "edge::s")]
    pub(super) unfed_at: Option<Time>,
    /// Since when the tool is on.
    #[serde(with = "edge::s")]
    pub(super) tool_at: Option<Time>,
    /// Which level is next, or is stood at.
    pub(super) target: usize,
    /// When it was reached, from energising.
    #[serde(with = "edge::s")]
    pub(super) reached: Option<Time>,
    pub(super) resistance_done: bool,
    /// Since when a ground is on.
    #[serde(with = "edge::s")]
    pub(super) grounded_from: Option<Time>,
    /// How long the last grounding lasted.
    #[serde(with = "edge::s")]
    pub(super) ground_lasted: Option<Time>,
    /// Since when no ground is on, after voltage.
    #[serde(with = "edge::s")]
    pub(super) uncovered_at: Option<Time>,
    pub(super) left: Option<Left>,
    /// More than the touch limit was read since the ground came off.
    pub(super) came_back: bool,
    /// A reading that could tell, at the end of the watch.
    pub(super) told_late: bool,
    pub(super) latest: Latest,
    /// Time of the last reading of this application, from energising.
    #[serde(with = "edge::s")]
    pub(super) last_t: Option<Time>,
    /// Time of the last typed reading that can still be withdrawn.
    #[serde(with = "edge::s")]
    pub(super) typed: Option<Time>,
    /// What was read before it, while nothing newer was.
    pub(super) before_typed: Option<Latest>,
    /// What the readings showed and nobody has said yet.
    pub(super) seen: Vec<ActKind>,
    /// The advice that was shown last in this application.
    pub(super) advised: Option<Advised>,
    /// What it gives back, by its own test.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) gives_back: Option<GivesBack>,
    /// The longest ground that its tests asked for beyond the plan's.
    #[serde(rename = "ground_s", with = "edge::s", skip_serializing_if = "Option::is_none")]
    pub(super) ground_asked: Option<Time>,
}

impl Standing {
    pub(super) fn new(name: &str) -> Self {
        Self {
            name: name.to_owned(),
            state: State::Prepared,
            ending: Ending::default(),
            off: false,
            blank: false,
            applications: 0,
            charged: false,
            energised_at: None,
            unfed_at: None,
            tool_at: None,
            target: 0,
            reached: None,
            resistance_done: false,
            grounded_from: None,
            ground_lasted: None,
            uncovered_at: None,
            left: None,
            came_back: false,
            told_late: false,
            latest: Latest::default(),
            last_t: None,
            typed: None,
            before_typed: None,
            seen: Vec::new(),
            advised: None,
            gives_back: None,
            ground_asked: None,
        }
    }

    /// What it gives back, by its own test; a ground is never asked to be shorter than before.
    pub(super) fn take_gives_back(&mut self, found: GivesBack) {
        self.ground_asked = Some(self.ground_asked.map_or(found.ground, |t| t.max(found.ground)));
        self.gives_back = Some(found);
    }

    /// How long a solid ground stays on it: as planned, or longer. What is refused before is the
    /// planned time; the rest is shown and counted.
    pub(super) fn ground(&self, course: &Course) -> Time {
        self.ground_asked.map_or(course.ground, |asked| asked.max(course.ground))
    }

    /// What is left on it once nothing feeds it, by the plan or by its own test.
    pub(super) fn remains(&self, course: &Course) -> Remains {
        match &self.gives_back {
            Some(found) => {
                course.remains.told(&GivesBack { ground: self.ground(course), ..*found })
            }
            None => course.remains.clone(),
        }
    }

    /// Whether the resistance test comes first in the application at hand, or in the next one.
    pub(super) fn targets<'a>(&self, course: &'a Course) -> Vec<&'a Target> {
        course.targets(!self.resistance_done)
    }

    /// The level that is next, or is stood at.
    pub(super) fn target<'a>(&self, course: &'a Course) -> Option<&'a Target> {
        self.targets(course).get(self.target).copied()
    }

    /// Whether its end asks for a cause and has none.
    pub(super) fn is_unexplained(&self) -> bool {
        self.ending.end.is_some_and(End::needs_cause) && !self.ending.cause
    }

    /// Whether the level at hand was stayed at for its time, at `t` from energising.
    pub(super) fn served(&self, course: &Course, t: Time) -> bool {
        let stay = self.target(course).and_then(|target| target.stay);
        match (self.reached, stay) {
            (Some(reached), Some(stay)) => t - reached >= stay - SHORT_BY,
            _ => false,
        }
    }

    /// Takes in an act; `at` since the record was begun, `t` from energising.
    pub(super) fn apply(&mut self, course: &Course, act: &Act, at: Time, t: Option<Time>) {
        let kind = act.kind();
        let from = self.state;
        self.state = from.after(kind).unwrap_or_else(|| shown(kind).unwrap_or(from));
        if matches!(kind, ActKind::Off | ActKind::Trip | ActKind::Abort) {
            self.unfed_at = self.unfed_at.or(Some(at));
        }
        match act {
            Act::Blank => self.blank = true,
            Act::Check => self.blank = false,
            Act::Energise => self.begin(at, t.unwrap_or(Time::ZERO)),
            Act::Rise => self.rise(course, from),
            Act::Dwell | Act::Hold => self.reach(course, kind, t),
            Act::Stop | Act::Abort | Act::Trip | Act::Flashover | Act::Breakdown => {
                self.end(course, kind, t);
            }
            Act::Off => self.off = true,
            Act::Residual { voltage } => self.read_left(course, *voltage, at),
            Act::Tool => {
                self.uncover(None);
                self.tool_at = Some(at);
                // Ground time counts from here on, whatever was on before.
                self.grounded_from = None;
            }
            Act::Cause { .. } => self.ending.cause = true,
            Act::Again => self.ending.decision = Some(Decision::Again),
            Act::End => self.ending.decision = Some(Decision::End),
            Act::Reset => self.ending.reset = true,
            Act::Zero => self.ending.zero = true,
            Act::Lead
            | Act::Ground { .. }
            | Act::Lift { .. }
            | Act::Leave { .. }
            | Act::Release => {}
        }
    }

    fn begin(&mut self, at: Time, since: Time) {
        self.ending = Ending::default();
        self.off = false;
        self.advised = None;
        self.gives_back = None;
        self.applications += 1;
        self.charged |= !self.blank;
        self.energised_at = Some(at - since);
        self.unfed_at = None;
        self.tool_at = None;
        self.target = 0;
        self.reached = None;
        self.last_t = None;
        self.typed = None;
        self.before_typed = None;
        if self.latest.at < self.energised_at {
            self.latest = Latest::default();
        }
        self.uncover(None);
    }

    /// A reading says that the lead was on the object after all.
    pub(super) fn on_object(&mut self) {
        if self.blank && self.state.in_application() {
            self.charged = true;
        }
        self.blank = false;
    }

    fn rise(&mut self, course: &Course, from: State) {
        let stood = matches!(from, State::Dwelling | State::Holding);
        if stood && self.target + 1 < self.targets(course).len() {
            self.target += 1;
        }
        self.reached = None;
    }

    /// A level is reached: the one that the last voltage is at, of those not yet left. Where that
    /// cannot be told, a dwell is at the next level, and a hold at the last one; but the
    /// resistance test comes before the steps and may be held too.
    fn reach(&mut self, course: &Course, kind: ActKind, t: Option<Time>) {
        let targets = self.targets(course);
        let at = |index: &usize| {
            let level = targets[*index].level;
            self.latest.voltage.is_some_and(|v| (v / level - 1.0).abs() <= 2.0 * AT_LEVEL)
        };
        let found = (self.target..targets.len()).find(at);
        let at_resistance = targets.get(self.target).is_some_and(|next| next.is_resistance);
        let otherwise = match kind {
            ActKind::Hold if !at_resistance => targets.len().saturating_sub(1),
            _ => self.target,
        };
        self.target = found.unwrap_or(otherwise);
        self.reached = t;
    }

    fn end(&mut self, course: &Course, kind: ActKind, t: Option<Time>) {
        self.ending.tripped |= kind == ActKind::Trip;
        let stopped = kind == ActKind::Stop;
        let beyond = self.target > 0 && self.reached.is_some();
        if stopped && !self.blank && t.is_some_and(|t| beyond || self.served(course, t)) {
            self.resistance_done = true;
            self.target = 0;
        }
        self.ending.end = self.ending.end.max(End::of(kind));
    }

    fn read_left(&mut self, course: &Course, voltage: Option<Voltage>, at: Time) {
        let told = voltage.filter(|voltage| course.can_tell(*voltage));
        self.left = Some(told.map_or(Left::CannotTell, |voltage| Left::Read(voltage.abs())));
        if let Some(voltage) = voltage {
            self.latest.voltage = Some(voltage.abs());
            self.latest.voltage_at = Some(at);
            self.latest.at = Some(at);
            self.before_typed = None;
        }
        let Some(uncovered) = self.uncovered_at else { return };
        if told.is_some_and(|voltage| voltage.abs() > course.touch_limit) {
            self.came_back = true;
        } else if told.is_some() && at - uncovered >= REBOUND_WATCH {
            self.told_late = true;
        }
    }

    /// The last ground came off at this moment, or nothing of the kind is true any more.
    fn uncover(&mut self, at: Option<Time>) {
        self.uncovered_at = at;
        self.left = None;
        self.came_back = false;
        self.told_late = false;
    }

    /// What the register says after a ground went on or came off.
    pub(super) fn grounds_changed(&mut self, grounded: bool, at: Time) {
        if grounded {
            let by_tool = self.state == State::Grounded;
            if self.grounded_from.is_none() {
                self.grounded_from = Some(at);
            }
            if by_tool {
                self.uncover(None);
                self.blank = false;
            }
            return;
        }
        self.ground_lasted = self.grounded_from.take().map(|from| at - from);
        if self.charged {
            self.uncover(Some(at));
        }
        if self.state == State::Grounded {
            self.state = State::Lifted;
        }
    }

    pub(super) const fn is_energised(&self) -> bool {
        self.state.is_energised()
    }

    /// From energising until tool and solid ground, and again while its grounds are off.
    pub(super) fn is_hazardous(&self, grounded: bool) -> bool {
        self.state.in_application()
            || self.state == State::Lifted
            || (self.state == State::Checked && self.charged && !grounded)
    }

    /// What the readings showed now also stands in somebody's words. A level is seen from 3 % below
    /// it, and a slow rise takes its time from there: its time counts from the words on.
    pub(super) fn confirm(&mut self, kind: ActKind, t: Option<Time>) {
        self.seen.retain(|seen| *seen != kind);
        if matches!(kind, ActKind::Dwell | ActKind::Hold) && self.reached.is_some() {
            self.reached = t.or(self.reached);
        }
    }

    pub(super) fn note_seen(&mut self, kind: ActKind) {
        if kind == ActKind::Energise {
            self.seen.clear();
        }
        let level = |one: &ActKind| matches!(one, ActKind::Rise | ActKind::Dwell | ActKind::Hold);
        if level(&kind) {
            // A rise that was seen after a dwell is another rise.
            let rise_after_dwell = kind == ActKind::Rise && self.seen.iter().any(level);
            if rise_after_dwell {
                self.seen.retain(|one| !level(one));
            }
        }
        self.seen.retain(|one| *one != kind);
        self.seen.push(kind);
    }
}

/// A time short by less than this is a time met: clocks are read to the second.
const SHORT_BY: Time = Time::from_seconds(1.0);

/// Where what was seen leads from anywhere: readings are not refused.
const fn shown(kind: ActKind) -> Option<State> {
    match kind {
        ActKind::Energise => Some(State::AtZero),
        ActKind::Rise => Some(State::Rising),
        ActKind::Dwell => Some(State::Dwelling),
        ActKind::Hold => Some(State::Holding),
        ActKind::Trip => Some(State::Tripped),
        ActKind::Stop | ActKind::Abort | ActKind::Flashover | ActKind::Breakdown => {
            Some(State::ComingDown)
        }
        _ => None,
    }
}
