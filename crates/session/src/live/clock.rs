//! The record's own time, from the two clocks of the machine.

use jiff::{SignedDuration, Timestamp};
use quantity::Time;

use super::folded::Folded;
use crate::record::{ClockNews, Clocks, Moment, Now};

/// The wall clock may wander this far from the even one before it counts as set.
/// Common practice, no source: a clock that is slewed wanders by parts in ten thousand.
const WANDERS: f64 = 2.0;

/// The program was not heard of for longer than this while something was hazardous.
/// Common practice, no source.
const STANDS: Time = Time::from_seconds(5.0);

/// Keeps the record's time.
#[derive(Clone, Copy, Debug)]
pub(super) struct Clock {
    /// What the monotonic clock said, or would have said, when the record was begun.
    zero: Time,
    /// What the wall clock is expected to say when the record was begun.
    wall: Timestamp,
    /// When the session was last called, by the record's time.
    called: Time,
    /// Time is told in leaps, so that a leap is no standing still.
    pub(super) leaps: bool,
}

impl Clock {
    /// Of a record begun now.
    pub(super) const fn begin(now: Now) -> Self {
        Self { zero: now.monotonic, wall: now.wall, called: Time::ZERO, leaps: false }
    }

    /// Of a record taken up again, with how long nobody kept it and whether that was measured.
    pub(super) fn resume(folded: &Folded, boot: &str, now: Now) -> (Self, Time, bool) {
        let (last, wall) = match folded.last {
            Some(moment) => (moment.since_begun, moment.wall),
            None => (Time::ZERO, now.wall),
        };
        let same = folded.clocks.as_ref().filter(|clocks| clocks.boot == boot);
        let since = match same {
            Some(clocks) => folded.clocks_at + (now.monotonic - clocks.monotonic),
            None => last + seconds(now.wall.duration_since(wall)),
        };
        let since = round(since.max(last));
        let expected = if same.is_some() { back(wall, last) } else { back(now.wall, since) };
        let clock =
            Self { zero: now.monotonic - since, wall: expected, called: since, leaps: false };
        (clock, round(since - last), same.is_some())
    }

    pub(super) fn clocks(boot: &str, now: Now) -> Clocks {
        let monotonic = Time::from_seconds(quantity::edge::twelve_digits(now.monotonic.seconds()));
        Clocks { boot: boot.to_owned(), monotonic }
    }

    /// Now, by the record's time.
    pub(super) fn since(&self, now: Now) -> Time {
        round(now.monotonic - self.zero).max(Time::ZERO)
    }

    /// The monotonic clock at a moment of the record.
    pub(super) fn monotonic(&self, since: Time) -> Time {
        self.zero + since
    }

    /// What is to be said of the clocks at this call.
    pub(super) fn look(&mut self, now: Now, hazardous: bool) -> Vec<ClockNews> {
        let mut news = Vec::new();
        let since = self.since(now);
        let stood = since - self.called;
        if hazardous && !self.leaps && stood > STANDS {
            news.push(ClockNews::Stood { time: round(stood) });
        }
        self.called = self.called.max(since);
        let by = seconds(now.wall.duration_since(self.wall)) - since;
        if by.seconds().abs() > WANDERS {
            news.push(ClockNews::Set { by: round(by) });
            self.wall = back(now.wall, since);
        }
        news
    }
}

/// To the microsecond, so that a time is the same once written and read again.
pub(super) fn round(time: Time) -> Time {
    Time::from_seconds((time.seconds() * 1e6).round() / 1e6)
}

fn seconds(duration: SignedDuration) -> Time {
    Time::from_seconds(duration.as_secs_f64())
}

fn back(wall: Timestamp, since: Time) -> Timestamp {
    let by = SignedDuration::from_micros((since.seconds() * 1e6).round() as i64);
    wall.checked_sub(by).unwrap_or(wall)
}

/// When something entered the record: its time never runs back.
pub(super) fn moment(folded: &Folded, since: Time, now: Now) -> Moment {
    let last = folded.last.map_or(Time::ZERO, |last| last.since_begun);
    Moment { since_begun: since.max(last), wall: now.wall }
}
