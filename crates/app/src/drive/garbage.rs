//! Answers of a meter that are none: the first is recorded as it comes, and then how many more
//! came, at most once a minute, so that a meter that sends nothing else does not fill the disk.

use quantity::Time;
use session::record::SourceNews;

/// Common practice, no source: no record grows much by it, and a course shows when it began.
const APART: Time = Time::from_seconds(60.0);

/// What came and stands in no event yet.
#[derive(Debug, Default)]
pub(super) struct Garbage {
    told: Option<Time>,
    sent: String,
    count: u64,
}

impl Garbage {
    /// One more came.
    pub(super) fn take(&mut self, sent: String) {
        self.sent = sent;
        self.count += 1;
    }

    /// Whether some came that no event tells yet.
    pub(super) fn waits(&self) -> bool {
        self.count > 0
    }

    /// What is to be recorded by now, by the monotonic clock.
    pub(super) fn due(&mut self, now: Time) -> Option<SourceNews> {
        if self.told.is_some_and(|told| now - told < APART) {
            return None;
        }
        self.rest(now)
    }

    /// What is still to be recorded.
    pub(super) fn rest(&mut self, now: Time) -> Option<SourceNews> {
        if self.count == 0 {
            return None;
        }
        self.told = Some(now);
        let (sent, count) = (std::mem::take(&mut self.sent), std::mem::take(&mut self.count));
        Some(SourceNews::Garbled { sent, count })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Five a second for ten minutes: one event a minute and the last (derived), none uncounted.
    #[test]
    fn a_meter_that_sends_nothing_else_makes_few_events_and_each_answer_counts() {
        let mut garbage = Garbage::default();
        let mut told = Vec::new();
        for answer in 0..3000_u32 {
            let now = Time::from_seconds(f64::from(answer) / 5.0);
            garbage.take("?".to_owned());
            told.extend(garbage.due(now));
        }
        told.extend(garbage.rest(Time::from_minutes(10.0)));
        let counts: Vec<u64> = told
            .iter()
            .map(|news| match news {
                SourceNews::Garbled { count, .. } => *count,
                other => panic!("{other:?}"),
            })
            .collect();
        assert_eq!(counts[0], 1, "the first at once");
        assert_eq!((counts.len(), counts.iter().sum::<u64>()), (11, 3000));
        assert_eq!(garbage.rest(Time::from_minutes(11.0)), None);
    }
}
