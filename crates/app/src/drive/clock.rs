//! Both clocks of the machine; the loop asks here and nowhere else.

use jiff::{SignedDuration, Timestamp};
use quantity::Time;
use session::record::Now;

/// Where the moments of a run come from.
#[derive(Clone, Debug)]
pub(crate) struct Clock {
    boot: String,
    pace: Pace,
}

#[derive(Clone, Debug)]
enum Pace {
    /// The machine's own clocks.
    Real,
    /// So many times as fast, from where the machine's clocks stood.
    Paced { from: Now, times: f64 },
    /// Moments that move only when told to, from where the machine's clocks stood.
    LockStep { from: Now, gone: Time },
}

impl Clock {
    /// The machine's own clocks.
    pub(crate) fn real() -> Self {
        Self { boot: boot(), pace: Pace::Real }
    }

    /// A clock that goes so many times as fast as the machine's, for practice.
    ///
    /// It names a boot of its own, as [`Clock::lock_step`] does.
    pub(crate) fn paced(times: f64) -> Self {
        let from = machine();
        let boot = format!("paced {} {}", boot(), from.wall.as_nanosecond());
        Self { boot, pace: Pace::Paced { from, times } }
    }

    /// A clock that moves only by [`Clock::advance`].
    ///
    /// It names a boot of its own: its monotonic time is not the machine's, so nothing may be
    /// measured between the two.
    pub(crate) fn lock_step() -> Self {
        let from = machine();
        let boot = format!("lock-step {} {}", boot(), from.wall.as_nanosecond());
        Self { boot, pace: Pace::LockStep { from, gone: Time::from_seconds(0.0) } }
    }

    /// What tells one start of the machine from the next.
    pub(crate) fn boot(&self) -> &str {
        &self.boot
    }

    /// This moment.
    pub(crate) fn now(&self) -> Now {
        match &self.pace {
            Pace::Real => machine(),
            Pace::Paced { from, times } => {
                let gone = (machine().monotonic - from.monotonic) * *times;
                Now { monotonic: from.monotonic + gone, wall: later(from.wall, gone) }
            }
            Pace::LockStep { from, gone } => {
                Now { monotonic: from.monotonic + *gone, wall: later(from.wall, *gone) }
            }
        }
    }

    /// How many times as fast as the machine's it goes.
    pub(crate) fn times(&self) -> f64 {
        if let Pace::Paced { times, .. } = self.pace { times } else { 1.0 }
    }

    /// The moment that was so long ago, by the machine's clock.
    pub(crate) fn ago(&self, ago: Time) -> Now {
        let Now { monotonic, wall } = self.now();
        let by = ago.max(Time::ZERO) * self.times();
        Now { monotonic: monotonic - by, wall: later(wall, -by) }
    }

    /// Moves a lock-step clock; the machine's own clocks move by themselves.
    pub(crate) fn advance(&mut self, by: Time) {
        if let Pace::LockStep { gone, .. } = &mut self.pace {
            *gone = *gone + by;
        }
    }

    /// The wall clock of the machine is set by this much, by someone else.
    #[cfg(test)]
    pub(super) fn set_wall(&mut self, by: Time) {
        if let Pace::LockStep { from, .. } = &mut self.pace {
            from.wall = later(from.wall, by);
        }
    }
}

fn later(wall: Timestamp, by: Time) -> Timestamp {
    let by = SignedDuration::try_from_secs_f64(by.seconds()).unwrap_or(SignedDuration::ZERO);
    wall.checked_add(by).unwrap_or(wall)
}

fn machine() -> Now {
    Now { monotonic: monotonic(), wall: Timestamp::now() }
}

/// Since the machine was started, its sleep included.
#[cfg(target_os = "linux")]
fn monotonic() -> Time {
    use rustix::time::{ClockId, clock_gettime};
    let at = clock_gettime(ClockId::Boottime);
    #[expect(clippy::cast_precision_loss, reason = "seconds of uptime stay far below 2^52")]
    let seconds = at.tv_sec as f64 + at.tv_nsec as f64 * 1e-9;
    Time::from_seconds(seconds)
}

/// Since the first call; a machine's sleep may be missing, and no two runs of the program share a
/// boot (see [`boot`]).
#[cfg(not(target_os = "linux"))]
fn monotonic() -> Time {
    use std::sync::OnceLock;
    use std::time::Instant;
    static FIRST: OnceLock<Instant> = OnceLock::new();
    Time::from_seconds(FIRST.get_or_init(Instant::now).elapsed().as_secs_f64())
}

/// The kernel's name for this start of the machine; where there is none, one that no other run has.
fn boot() -> String {
    let named = std::fs::read_to_string("/proc/sys/kernel/random/boot_id");
    let named = named.map(|name| name.trim().to_owned()).unwrap_or_default();
    if named.is_empty() {
        format!("run {} {}", std::process::id(), Timestamp::now().as_nanosecond())
    } else {
        named
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_machine_never_runs_back_and_keeps_its_boot() {
        let clock = Clock::real();
        let (one, two) = (clock.now(), clock.now());
        assert!(one.monotonic <= two.monotonic);
        assert_eq!(clock.boot(), Clock::real().boot());
    }

    /// What a hand did a second ago is a minute ago where time goes sixty times as fast.
    #[test]
    fn what_was_a_while_ago_was_so_by_the_clock_that_is_gone_by() {
        for (clock, expected) in [(Clock::real(), 1.0), (Clock::paced(60.0), 60.0)] {
            let (then, now) = (clock.ago(Time::from_seconds(1.0)), clock.now());
            let gone = (now.monotonic - then.monotonic).seconds();
            // The machine may have stood still between the two.
            assert!((expected..11.0 * expected).contains(&(gone + 1e-6)), "{gone} s");
            let wall = now.wall.duration_since(then.wall).as_secs_f64();
            assert!((wall - gone).abs() < 1.0, "{wall} s and {gone} s");
            let ahead = clock.ago(Time::from_seconds(-5.0));
            assert!(ahead.monotonic <= clock.now().monotonic, "nothing is said before it happens");
        }
    }

    #[test]
    fn lock_step_moves_both_clocks_by_what_it_is_told_and_by_nothing_else() {
        let mut clock = Clock::lock_step();
        let before = clock.now();
        assert_eq!(clock.now(), before);
        clock.advance(Time::from_seconds(3600.0));
        let after = clock.now();
        assert!(
            (after.monotonic - before.monotonic - Time::from_seconds(3600.0)).seconds().abs()
                < 1e-6
        );
        assert_eq!(after.wall.duration_since(before.wall).as_secs(), 3600);
        assert_ne!(clock.boot(), Clock::real().boot());
    }
}
