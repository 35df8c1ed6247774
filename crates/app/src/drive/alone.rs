//! With nobody at hand: when a meter has told all that belongs to this test.

use quantity::Time;
use session::live::View;
use session::state::State;

/// The voltage is waited for so long to come down after the hold, and to come back after it was
/// lost before. Common practice, no source.
const WAIT: Time = Time::from_seconds(60.0);

/// Below this part of the level the voltage has come down. Common practice, no source.
const DOWN: f64 = 0.1;

/// What was seen so far.
#[derive(Debug, Default)]
pub(super) struct Alone {
    /// Whether the hold was served.
    served: bool,
    /// Since when nothing more is expected to happen.
    waiting: Option<Time>,
}

impl Alone {
    /// Whether nothing more is to be waited for, by the monotonic clock.
    pub(super) fn is_over(&mut self, now: Time, view: &View) -> bool {
        let Some(one) = view.conductors.get(view.focus) else { return false };
        let step = view.step.as_ref().filter(|step| step.is_hold && !step.is_resistance);
        let left = step.and_then(|step| step.left);
        self.served |= one.state == State::Holding && left.is_some_and(|left| left <= Time::ZERO);
        let ended = one.state.in_application() && !one.state.is_energised();
        // Whoever told the grounds can tell no more, and readings alone show none.
        let grounded = one.applications > 0 && !one.state.in_application();
        let resistance = view.step.as_ref().is_some_and(|step| step.is_resistance);
        let waits = self.served || ended && is_down(view);
        if !grounded && (resistance || !waits) {
            self.waiting = None;
            return false;
        }
        let since = *self.waiting.get_or_insert(now);
        self.served && ended && is_down(view) || now - since >= WAIT
    }
}

fn is_down(view: &View) -> bool {
    let level = view.step.as_ref().map(|step| step.level);
    let now = view.voltage.as_ref().and_then(|last| last.value);
    level.zip(now).is_some_and(|(level, now)| now < level * DOWN)
}

#[cfg(test)]
mod tests {
    use jiff::Timestamp;
    use quantity::{Current, Voltage};
    use session::Kind;
    use session::live::{Metered, Session};
    use session::record::{Head, Now};
    use session::say::{self, Mode, Said};

    use super::*;

    /// One glove, 3 min at 50 kV (29 CFR 1910.137, class 2, seen in the job's own plan).
    fn session() -> Session {
        let text = include_str!("../../../../docs/examples/gloves.toml");
        let job = plan::job_file::parse(text).expect("the example is well formed");
        let plan = plan::plan(&job, &standards::Library::published());
        let format = session::RECORD_FORMAT.to_owned();
        let head = Head { format, kind: Kind::Test, source: None, job, plan };
        Session::begin(&head, "boot", at(0.0))
    }

    fn at(seconds: f64) -> Now {
        Now { monotonic: Time::from_seconds(seconds), wall: Timestamp::UNIX_EPOCH }
    }

    /// When it is over, if it is within ten minutes: a reading each second by this course.
    fn over(kilovolts: impl Fn(f64) -> f64) -> Option<f64> {
        over_told(&[], kilovolts)
    }

    /// The same where somebody told what was done, at 245 s, and left at 250 s.
    fn over_told(told: &[&str], kilovolts: impl Fn(f64) -> f64) -> Option<f64> {
        let mut session = session();
        let mut alone = Alone::default();
        (0..600).map(f64::from).find(|second| {
            let now = at(*second);
            for line in told.iter().filter(|_| *second == 245.0) {
                let Ok(Said::Act { act, .. }) = say::parse(line, Mode::Typed) else {
                    panic!("{line} is an act");
                };
                // What the readings showed already is refused, and stands all the same.
                let _ = session.handle_act(now, None, Some("left"), act);
            }
            let metered = Metered {
                voltage: Some(Voltage::from_kilovolts(kilovolts(*second))),
                current: Some(Current::from_microamperes(3.0)),
                ..Metered::default()
            };
            session.handle_metered(now, metered);
            session.handle_time(now);
            (told.is_empty() || *second > 250.0) && alone.is_over(now.monotonic, &session.view(now))
        })
    }

    /// The hand told what it did up to the grounds, and then no more (sequence derived from the
    /// table of states); 60 s later nothing more is waited for, unless voltage comes again.
    #[test]
    fn it_ends_when_all_was_told_up_to_the_ground() {
        let course = |t: f64| if (50.0..240.0).contains(&t) { 50.0 } else { 0.0 };
        let told = ["stop", "off", "residual ?", "tool", "ground 1 at cuff"];
        let ended = over_told(&told, course).expect("it ends");
        assert!((309.0..312.0).contains(&ended), "{ended}");
        let again = |t: f64| if t >= 300.0 { 50.0 } else { course(t) };
        let ended = over_told(&told, again).expect("the second hold is served as well");
        assert!(ended > 480.0, "{ended}");
    }

    /// At the level from 50 s on, so the hold is served at 230 s (derived).
    #[test]
    fn it_ends_when_the_hold_is_served_and_the_voltage_is_down() {
        let course = |end: f64| {
            move |t: f64| {
                if t < 50.0 {
                    t
                } else if t < end {
                    50.0
                } else {
                    0.0
                }
            }
        };
        let ended = over(course(240.0)).expect("it ends");
        assert!((240.0..250.0).contains(&ended), "{ended}");
        let stays = over(course(600.0)).expect("a minute after the hold it ends all the same");
        assert!((288.0..295.0).contains(&stays), "{stays}");
        let lost = over(course(100.0)).expect("a minute after the voltage was lost it ends");
        assert!((159.0..168.0).contains(&lost), "{lost}");
        assert_eq!(over(|t| if t < 50.0 { t } else { 0.8 * 50.0 }), None);
        assert_eq!(over(|_| 0.0), None);
    }
}
