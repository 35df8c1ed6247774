//! Each rule as a question to the state.

use quantity::Time;

use super::course::{Course, REBOUND_WATCH};
use super::folded::Folded;
use super::standing::{Decision, Left, Standing};
use crate::act::Act;
use crate::guard::Guard;
use crate::state::{ActKind, End, State};

/// Whether this rule of this act is met now; `at` since the record was begun. Where the act is not
/// given yet, its words are left to be looked at when they are said.
pub(super) fn met(
    all: &Folded,
    course: &Course,
    index: usize,
    (kind, act): (ActKind, Option<&Act>),
    at: Time,
    guard: Guard,
) -> bool {
    let one = &all.conductors[index];
    let needs_cause = one.ending.end.is_some_and(End::needs_cause);
    match guard {
        Guard::State => one.state.after(kind).is_some(),
        Guard::OneEnergised => {
            others(all, index).all(|other| !all.conductors[other].is_energised())
        }
        Guard::OthersGrounded => others_grounded(all, index, kind),
        Guard::LeadHere => all.lead == Some(index),
        Guard::BothGrounded => {
            let rests = |which| all.is_grounded(which) && !all.is_hazardous(which);
            rests(index) && all.lead.is_none_or(rests)
        }
        Guard::OwnGroundOff => one.blank || !all.is_grounded(index),
        Guard::NoResidual => {
            // Leads and set alone: the object stays grounded beside them.
            let apart = one.blank && all.is_grounded(index);
            !one.charged || apart || nothing_left(one, course)
        }
        Guard::ToolFirst => one.state != State::Checked || !all.is_hazardous(index),
        Guard::OffFirst => one.state != State::ComingDown || one.off,
        Guard::CauseTyped => !needs_cause || one.ending.cause,
        Guard::Decided => decided(one, needs_cause, kind),
        Guard::TripReset => !one.ending.tripped || one.ending.reset,
        Guard::DialAtZero => !needs_cause || one.ending.zero,
        Guard::GroundTime => !one.charged || ground_time(one, course, at),
        Guard::ReboundWatched => {
            one.state != State::Lifted || !one.charged || rebound_watched(one, at)
        }
        Guard::InRegister => act.is_none_or(|act| in_register(all, one, act)),
        Guard::RegisterClosed => {
            all.register.on(&one.name).all(crate::register::Ground::is_settled)
        }
        Guard::AllReleased => {
            all.conductors.iter().all(|one| one.state == State::Released || one.applications == 0)
        }
        Guard::RecordOpen => !all.closed,
        Guard::HoldPoints => all.open(course, index, kind).is_empty(),
        Guard::Heard => all.unheard(course, at).is_empty(),
    }
}

fn others(all: &Folded, index: usize) -> impl Iterator<Item = usize> {
    (0..all.conductors.len()).filter(move |other| *other != index)
}

fn others_grounded(all: &Folded, index: usize, act: ActKind) -> bool {
    others(all, index).all(|other| {
        if act == ActKind::Lift {
            !all.conductors[other].state.in_application()
        } else {
            all.is_grounded(other)
        }
    })
}

fn decided(one: &Standing, needs_cause: bool, act: ActKind) -> bool {
    let decision = one.ending.decision;
    match act {
        ActKind::Reset | ActKind::Zero => decision == Some(Decision::Again),
        ActKind::Check if needs_cause => decision == Some(Decision::Again),
        ActKind::Check => decision != Some(Decision::End),
        _ => !needs_cause || decision.is_some(),
    }
}

/// Read since the ground came off; where the meter cannot tell, the ground was on for its time.
pub(super) fn nothing_left(one: &Standing, course: &Course) -> bool {
    match one.left {
        None => false,
        Some(Left::Read(voltage)) => voltage <= course.touch_limit,
        Some(Left::CannotTell) => one.ground_lasted.is_some_and(|time| time >= course.ground),
    }
}

fn ground_time(one: &Standing, course: &Course, at: Time) -> bool {
    let time = one.grounded_from.map(|from| at - from).or(one.ground_lasted);
    time.is_some_and(|time| time >= course.ground)
}

fn rebound_watched(one: &Standing, at: Time) -> bool {
    let long = one.uncovered_at.is_some_and(|since| at - since >= REBOUND_WATCH);
    long && one.told_late && !one.came_back
}

fn in_register(all: &Folded, one: &Standing, act: &Act) -> bool {
    match act {
        Act::Ground { number, .. } => all.register.on_now(number).is_none_or(|ground| {
            // Once more after the tool: it is seen to be on.
            ground.phase == one.name && one.state == State::Discharged
        }),
        Act::Lift { number } | Act::Leave { number, .. } => {
            all.register.on_now(number).is_some_and(|ground| ground.phase == one.name)
        }
        _ => true,
    }
}
