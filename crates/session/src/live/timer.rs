//! When the session wants to be told the time next, and what for.

use quantity::Time;

use super::course::REBOUND_WATCH;
use super::{Session, clock};
use crate::state::State;

/// Why time is to be told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Timer {
    /// What meters gave is to be kept.
    Batch,
    /// A planned reading is due.
    ReadingDue,
    /// A step's time is over.
    StepOver,
    /// The hold's time is over.
    HoldOver,
    /// The ground has been on for its time.
    GroundTime,
    /// The rebound was watched for its time.
    ReboundWatch,
    /// Somebody who guards an end is to be heard by now.
    RoleDue,
}

impl Session {
    /// When to call `handle_time` at the latest, by the monotonic clock, and why.
    #[must_use]
    pub fn poll_timeout(&self) -> Option<(Time, Timer)> {
        let clock = self.clock.as_ref()?;
        let batch = self.buffer.due().map(|due| (due, Timer::Batch));
        let ahead = self.timers().into_iter().filter(|(at, _)| *at > self.told);
        let earliest = batch.into_iter().chain(ahead).min_by(|one, other| {
            one.0.seconds().total_cmp(&other.0.seconds()).then(one.1.cmp(&other.1))
        });
        earliest.map(|(at, timer)| (clock.monotonic(at), timer))
    }

    /// Every timer but that of the batch, past ones included; since the record was begun.
    fn timers(&self) -> Vec<(Time, Timer)> {
        let mut timers = Vec::new();
        let due = self.folded.due(&self.course);
        timers.extend(due.map(|(_, at)| (clock::round(at), Timer::RoleDue)));
        for one in &self.folded.conductors {
            if let (true, Some(from)) =
                (one.charged && one.state == State::Grounded, one.grounded_from)
            {
                timers.push((clock::round(from + one.ground(&self.course)), Timer::GroundTime));
            }
            if let (State::Lifted, Some(from)) = (one.state, one.uncovered_at) {
                timers.push((clock::round(from + REBOUND_WATCH), Timer::ReboundWatch));
            }
            let (Some(zero), Some(reached)) = (one.energised_at, one.reached) else { continue };
            if !matches!(one.state, State::Dwelling | State::Holding) {
                continue;
            }
            let Some(target) = one.target(&self.course) else { continue };
            let level_at = zero + reached;
            if let Some(stay) = target.stay {
                let hold = target.is_hold;
                let timer = if hold { Timer::HoldOver } else { Timer::StepOver };
                timers.push((clock::round(level_at + stay), timer));
            }
            let due = target.readings.iter().map(|(at, _)| clock::round(level_at + *at));
            timers.extend(due.map(|at| (at, Timer::ReadingDue)));
        }
        timers
    }
}
