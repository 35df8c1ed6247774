//! The view of one moment, and what to do next.

use plan::left::Since;
use quantity::{Band, Current, Time, Voltage};

use super::course::{Course, REBOUND_WATCH, Target};
use super::infer::ABOVE_LEVEL;
use super::meter::Metered;
use super::rules::nothing_left;
use super::standing::{Decision, Left, Standing};
use super::view::{ConductorView, LastRead, Next, StepView, View};
use super::{Folded, Session};
use crate::record::Now;
use crate::register::Ground;
use crate::state::{ActKind, End, State};

/// What arithmetic of moments may add.
const ROUNDING: Time = Time::from_seconds(1e-6);
/// A meter that was heard less than this ago is not silent. Common practice, no source.
const SILENT: Time = Time::from_seconds(2.0);

impl Session {
    /// What a screen needs, now.
    #[must_use]
    pub fn view(&self, now: Now) -> View {
        let at = self.since(now).max(self.folded.last.map_or(Time::ZERO, |m| m.since_begun));
        let focus = self.folded.focus();
        let one = &self.folded.conductors[focus];
        let since = one.energised_at.filter(|_| one.state.in_application()).map(|zero| at - zero);
        let targets = one.targets(&self.course);
        let target = targets.get(one.target).copied();
        let stood = one.reached.zip(since).map(|(reached, since)| since - reached);
        let stood = stood.filter(|_| matches!(one.state, State::Dwelling | State::Holding));
        let due = stood.zip(target).and_then(|(stood, target)| next_reading(target, stood));
        let current = self.current(focus, at).map(|last| since_changed(one, last, at));
        View {
            kind: self.kind,
            conductors: self.conductor_views(at),
            focus,
            lead: self.folded.lead,
            voltage: self.voltage(focus, at).map(|last| since_changed(one, last, at)),
            meter_floor: self.course.meter_floor,
            step: target.map(|target| step_view(target, one.target, targets.len(), stood)),
            next: self.next(focus, at, stood),
            reading_in: due.map(|(left, _)| left),
            expected: expected(one, target, due.map(|(_, band)| band)),
            margin_to_trip: margin(
                target.and_then(|target| target.trip_now(stood.is_some())),
                current.and_then(|current| current.value),
            ),
            current,
            above: self.above(focus, at),
            advised: one.advised.clone().filter(|_| one.state.in_application()),
            ground_left: ground_left(&self.folded, &self.course, focus, at),
            watch_left: watch_left(one, at),
            since_energised: since,
            silent: self.silent(at),
            source_ended: self.folded.source.ended,
            identity: self.folded.source.identity.clone(),
            clock: self.folded.clock,
            readings: self.folded.readings,
            holds: self.folded.holds_ahead(&self.course, focus),
            roles: self.folded.role_views(&self.course, at),
            come_down: self.folded.come_down(&self.course, at),
            closable: self.is_closable(),
            closed: self.folded.closed,
        }
    }

    fn conductor_views(&self, at: Time) -> Vec<ConductorView> {
        (0..self.folded.conductors.len()).map(|index| self.conductor_view(index, at)).collect()
    }

    fn conductor_view(&self, index: usize, at: Time) -> ConductorView {
        let one = &self.folded.conductors[index];
        let read = self.voltage(index, at).filter(|last| last.value.is_some());
        ConductorView {
            name: one.name.clone(),
            state: one.state,
            hazardous: self.folded.is_hazardous(index),
            grounds: self.folded.register.on(&one.name).cloned().collect(),
            end: one.ending.end,
            unexplained: one.is_unexplained(),
            blank: one.blank,
            applications: one.applications,
            last_voltage: read.as_ref().and_then(|last| last.value),
            last_voltage_age: read.map(|last| last.age),
            left: self.left(index, at),
            if_lifted: self.if_lifted(index, at),
            gives_back: one.gives_back,
            ways_on: self.folded.ways_on(&self.course, index, at),
            withdrawable: one.typed.is_some() && !self.folded.closed,
        }
    }

    /// What may be left on a hazardous conductor.
    fn left(&self, index: usize, at: Time) -> Option<Band<Voltage>> {
        let one = self.folded.conductors.get(index).filter(|_| self.folded.is_hazardous(index))?;
        let newest = self.buffer.newest(index).and_then(|(when, row)| Some((when, row.voltage?)));
        let kept = one.latest.voltage_at.zip(one.latest.voltage);
        let read = newest.or(kept).filter(|(when, _)| Some(*when) >= one.energised_at);
        let from = |moment: Time| read.map_or(moment, |(when, _)| when.max(moment));
        let since = match (one.state, one.unfed_at, one.tool_at) {
            (State::Discharged, unfed, Some(tool)) => Since::Tool {
                off: unfed.map_or(Time::ZERO, |unfed| (tool - from(unfed)).max(Time::ZERO)),
                on: (at - from(tool)).max(Time::ZERO),
            },
            (State::Lifted | State::Checked, ..) => Since::Lifted { grounded: one.ground_lasted },
            (_, Some(unfed), _) => Since::Off { time: (at - from(unfed)).max(Time::ZERO) },
            _ => Since::Fed,
        };
        // Readings from before the ground say nothing of what comes back after it.
        let read = read.filter(|(when, _)| match since {
            Since::Lifted { .. } => one.uncovered_at.is_some_and(|uncovered| *when >= uncovered),
            _ => true,
        });
        one.remains(&self.course).left(read.map(|(_, voltage)| voltage), since)
    }

    fn if_lifted(&self, index: usize, at: Time) -> Option<Voltage> {
        let one = self.folded.conductors.get(index).filter(|one| one.charged)?;
        let from = one.grounded_from.filter(|_| one.state == State::Grounded)?;
        one.remains(&self.course).if_lifted(at - from)
    }

    fn is_closable(&self) -> bool {
        let (unreleased, grounds) = self.keeps_open();
        !self.folded.closed && unreleased.is_empty() && grounds.is_empty()
    }

    fn voltage(&self, index: usize, at: Time) -> Option<LastRead<Voltage>> {
        let told = |reading: &Metered| reading.voltage.is_some() || reading.voltage_overload;
        let newest = self.buffer.newest(index).filter(|(_, reading)| told(reading));
        if let Some((when, reading)) = newest {
            let value = reading.voltage.map(Voltage::abs);
            return Some(LastRead { value, overload: reading.voltage_overload, age: at - when });
        }
        let latest = &self.folded.conductors[index].latest;
        let when = latest.voltage_at.or(latest.at)?;
        Some(LastRead { value: latest.voltage, overload: latest.overload, age: at - when })
    }

    fn current(&self, index: usize, at: Time) -> Option<LastRead<Current>> {
        let told = |reading: &Metered| reading.current.is_some() || reading.current_overload;
        let newest = self.buffer.newest(index).filter(|(_, reading)| told(reading));
        if let Some((when, reading)) = newest {
            let (value, overload) = (reading.current, reading.current_overload);
            return Some(LastRead { value, overload, age: at - when });
        }
        let latest = &self.folded.conductors[index].latest;
        let when = latest.current_at.or(latest.at)?;
        Some(LastRead { value: latest.current, overload: latest.overload, age: at - when })
    }

    /// The highest level of the plan, where the voltage that feeds it was read above that.
    fn above(&self, index: usize, at: Time) -> Option<Voltage> {
        let one = &self.folded.conductors[index];
        let levels = one.targets(&self.course).into_iter().map(|target| target.level);
        let top = levels.reduce(Voltage::max).filter(|_| one.state.is_energised())?;
        let read = self.voltage(index, at)?.value?;
        (read > top * (1.0 + ABOVE_LEVEL)).then_some(top)
    }

    fn silent(&self, at: Time) -> Option<Time> {
        let lost = self.folded.source.lost_at.map(|lost| at - lost);
        let unheard = self.heard.map(|heard| at - heard).filter(|unheard| *unheard > SILENT);
        lost.or(unheard)
    }

    fn next(&self, focus: usize, at: Time, stood: Option<Time>) -> Next {
        if self.folded.closed {
            return Next::Nothing;
        }
        let one = &self.folded.conductors[focus];
        let target = one.target(&self.course);
        match one.state {
            State::Prepared | State::Released => self.next_conductor(),
            State::Checked => self.before_voltage(focus, at),
            _ if self.above(focus, at).is_some() => Next::BringDown,
            state if state.is_energised() && self.is_called_down(at) => Next::BringDown,
            State::AtZero | State::Rising => raise(target),
            State::Dwelling | State::Holding => self.at_level(one, target, stood),
            State::ComingDown if !one.off => Next::SwitchOff,
            State::ComingDown | State::Tripped => Next::ReadResidual,
            State::Residual => Next::LayToolOn { for_at_least: self.course.tool },
            State::Discharged => Next::Ground,
            State::Grounded => self.grounded(focus, at),
            State::Lifted => self.lifted(focus, at),
        }
    }

    fn is_called_down(&self, at: Time) -> bool {
        !self.folded.come_down(&self.course, at).is_empty()
    }

    fn before_voltage(&self, focus: usize, at: Time) -> Next {
        let one = &self.folded.conductors[focus];
        let all = &self.folded.conductors;
        if self.folded.lead != Some(focus) {
            return self.move_lead(focus);
        }
        let mut others = all.iter().enumerate().filter(|(index, _)| *index != focus);
        let bare = others.find(|(index, _)| !self.folded.is_grounded(*index));
        if let Some((_, bare)) = bare {
            return Next::PutGroundOn { conductor: bare.name.clone() };
        }
        let open = self.folded.open(&self.course, focus, ActKind::Energise);
        if !open.is_empty() {
            let numbers = open.into_iter().map(|hold| hold.number.clone()).collect();
            return Next::TickHolds { numbers };
        }
        let numbers = numbers(self.folded.register.on(&one.name));
        if !numbers.is_empty() && !one.blank {
            if let Some(left) = self.unreadable_for(focus, at) {
                return Next::WaitGrounded { left };
            }
            return Next::TakeGroundOff { conductor: one.name.clone(), numbers };
        }
        let limit = self.course.touch_limit;
        match one.left {
            _ if !one.charged || (one.blank && !numbers.is_empty()) => self.last_before(at),
            None => Next::ReadBeforeVoltage,
            Some(Left::Read(voltage)) if voltage > limit => Next::DischargeAgain { voltage },
            Some(Left::CannotTell) if !nothing_left(one, &self.course) => {
                Next::GroundAgain { time: one.ground(&self.course) }
            }
            Some(_) => self.last_before(at),
        }
    }

    /// Everybody is heard as the last thing before voltage.
    fn last_before(&self, at: Time) -> Next {
        let roles = self.folded.unheard(&self.course, at);
        if roles.is_empty() { Next::Energise } else { Next::HearFrom { roles } }
    }

    /// How much longer the ground must be on before voltage is put on again, where no reading of
    /// the meter could show that nothing is left.
    fn unreadable_for(&self, focus: usize, at: Time) -> Option<Time> {
        let one = &self.folded.conductors[focus];
        if !one.charged || self.course.can_tell(self.course.touch_limit) {
            return None;
        }
        let left = one.grounded_from? + one.ground(&self.course) - at;
        Some(left).filter(|left| *left > Time::ZERO)
    }

    fn move_lead(&self, to: usize) -> Next {
        let conductor = self.folded.conductors[to].name.clone();
        if self.folded.is_grounded(to) {
            Next::MoveLead { conductor }
        } else {
            Next::PutGroundOn { conductor }
        }
    }

    fn at_level(&self, one: &Standing, target: Option<&Target>, stood: Option<Time>) -> Next {
        let Some(target) = target else { return Next::BringDown };
        let stay = target.stay.unwrap_or(Time::ZERO);
        let left = stay - stood.unwrap_or(Time::ZERO);
        if left > Time::ZERO {
            let holds = one.state == State::Holding;
            return if holds { Next::Hold { left } } else { Next::Stay { left } };
        }
        let following = one.targets(&self.course).get(one.target + 1).copied();
        match following {
            Some(_) if one.state == State::Dwelling && !target.is_resistance => raise(following),
            _ => Next::BringDown,
        }
    }

    fn grounded(&self, focus: usize, at: Time) -> Next {
        let one = &self.folded.conductors[focus];
        let ending = &one.ending;
        if let Some(end) = ending.end.filter(|end| end.needs_cause()) {
            match (ending.cause, ending.decision) {
                (false, _) => return Next::SayCause { end },
                (true, None) => return Next::Decide,
                (true, Some(Decision::Again)) if ending.tripped && !ending.reset => {
                    return Next::ResetTrip;
                }
                (true, Some(Decision::Again)) if !ending.zero => return Next::SeeDialAtZero,
                (true, Some(Decision::Again)) => {
                    return Next::Check { conductor: one.name.clone() };
                }
                (true, Some(Decision::End)) => {}
            }
        }
        let done = self.is_done(one);
        if !done {
            let between = self.course.between.zip(one.grounded_from);
            let left = between.map(|(time, from)| from + time - at);
            if let Some(left) = left.filter(|left| one.charged && *left > Time::ZERO) {
                return Next::WaitGrounded { left };
            }
            return Next::Check { conductor: one.name.clone() };
        }
        let next = self.next_conductor();
        if matches!(next, Next::MoveLead { .. } | Next::PutGroundOn { .. } | Next::Check { .. }) {
            return next;
        }
        self.settle(focus, at)
    }

    /// Whether this conductor has nothing more to do under voltage.
    fn is_done(&self, one: &Standing) -> bool {
        let more_due = self.course.resistance.is_some() && one.target == 0 && one.applications < 2;
        let resistance_alone =
            more_due && one.resistance_done && one.ending.end == Some(End::Stopped);
        let ended = one.ending.decision == Some(Decision::End);
        ended || (one.charged && !resistance_alone)
    }

    /// The way to the next conductor that was not energised yet, or to the end.
    fn next_conductor(&self) -> Next {
        let all = &self.folded.conductors;
        let waits = |one: &&Standing| one.applications == 0 && one.state != State::Released;
        if let Some(next) = all.iter().find(waits) {
            let index = self.folded.index(&next.name).unwrap_or(0);
            if self.folded.lead != Some(index) {
                return self.move_lead(index);
            }
            return Next::Check { conductor: next.name.clone() };
        }
        let open = all.iter().position(|one| one.state == State::Grounded);
        match open {
            Some(index) => self.settle(index, self.told),
            None => Next::Close,
        }
    }

    fn settle(&self, index: usize, at: Time) -> Next {
        let one = &self.folded.conductors[index];
        if let Some(left) = ground_left(&self.folded, &self.course, index, at) {
            return Next::WaitGrounded { left };
        }
        let open = self.folded.register.on(&one.name).filter(|ground| !ground.is_settled());
        let numbers = numbers(open);
        let conductor = one.name.clone();
        if numbers.is_empty() {
            Next::Release { conductor }
        } else {
            Next::SettleGrounds { conductor, numbers }
        }
    }

    fn lifted(&self, focus: usize, at: Time) -> Next {
        let one = &self.folded.conductors[focus];
        match one.left {
            Some(Left::Read(voltage)) if one.came_back => Next::DischargeAgain { voltage },
            _ => match watch_left(one, at) {
                Some(left) => Next::WatchRebound { left },
                None if one.told_late => Next::Release { conductor: one.name.clone() },
                None => Next::ReadRebound,
            },
        }
    }
}

/// What was read before the tool was laid on, or before the ground came off, is no figure of now.
fn since_changed<T>(one: &Standing, last: LastRead<T>, at: Time) -> LastRead<T> {
    let stands = |changed: Time| at - changed + ROUNDING >= last.age;
    let stands = [one.tool_at, one.uncovered_at].into_iter().flatten().all(stands);
    LastRead { value: last.value.filter(|_| stands), ..last }
}

fn raise(target: Option<&Target>) -> Next {
    target.map_or(Next::BringDown, |target| Next::Raise {
        level: target.level,
        dial: target.dial,
        rise: target.rise,
    })
}

fn numbers<'a>(grounds: impl Iterator<Item = &'a Ground>) -> Vec<String> {
    grounds.map(|ground| ground.number.clone()).collect()
}

fn step_view(target: &Target, index: usize, of: usize, stood: Option<Time>) -> StepView {
    let left = target.stay.zip(stood).map(|(stay, stood)| (stay - stood).max(Time::ZERO));
    StepView {
        number: index + 1,
        of,
        level: target.level,
        dial: target.dial,
        rise: target.rise,
        trip: target.trip_now(stood.is_some()),
        ammeter_range: target.ammeter_range,
        stay: target.stay,
        left,
        is_hold: target.is_hold,
        is_resistance: target.is_resistance,
    }
}

fn next_reading(target: &Target, stood: Time) -> Option<(Time, Band<Current>)> {
    let ahead = target.readings.iter().find(|(at, _)| *at > stood)?;
    Some((ahead.0 - stood, ahead.1))
}

fn expected(
    one: &Standing,
    target: Option<&Target>,
    due: Option<Band<Current>>,
) -> Option<Band<Current>> {
    match one.state {
        State::AtZero | State::Rising => target.and_then(|target| target.rising),
        State::Dwelling | State::Holding => {
            due.or_else(|| target.and_then(|t| t.readings.last().map(|(_, band)| *band)))
        }
        _ => None,
    }
}

/// What is left to the trip setting, as a part of it.
fn margin(trip: Option<Current>, current: Option<Current>) -> Option<f64> {
    let trip = trip.filter(|trip| *trip > Current::ZERO)?;
    Some((1.0 - current?.abs() / trip).clamp(0.0, 1.0))
}

fn ground_left(all: &Folded, course: &Course, index: usize, at: Time) -> Option<Time> {
    let one = &all.conductors[index];
    let from = one.grounded_from.filter(|_| one.charged && one.state == State::Grounded)?;
    Some(from + one.ground(course) - at).filter(|left| *left > Time::ZERO)
}

fn watch_left(one: &Standing, at: Time) -> Option<Time> {
    let from = one.uncovered_at.filter(|_| one.state == State::Lifted)?;
    Some(from + REBOUND_WATCH - at).filter(|left| *left > Time::ZERO)
}
