//! The course on an object inside what the plan says of it: nothing trips, and what is read is
//! what is expected.

use physics::transient::{Leg, Run, Supply, TestObject};
use plan::course::Step;
use plan::{Job, Plan};
use quantity::{Band, Current, Time};

use crate::{Against, Sums};

/// Looks at each rise.
const LOOKS: u32 = 24;
/// Part of a stretch by which a look stands before a change.
const HAIR: f64 = 1e-9;
/// A band is of a thousand draws, which place its ends to some 4 % of its half width, and below one
/// second the branches of the object are not the law.
const OF_DRAWS: f64 = 0.05;

/// The course on this object, as the set gives it.
pub(crate) fn run(job: &Job, plan: &Plan, object: &TestObject) -> Option<Run> {
    let supply = Supply { bleed: job.set.bleed, ..Supply::default() };
    let leg = |step: &Step| Leg { to: step.level, rise: Some(step.rise), dwell: step.dwell };
    let legs: Vec<Leg> = plan.course.iter().map(leg).collect();
    Run::new(object, &supply, &legs, None, Time::ZERO).ok()
}

/// Step by step.
pub(crate) fn followed(job: &Job, plan: &Plan, run: &Run, sums: &mut Sums, against: &mut Against) {
    let mut begun = Time::ZERO;
    for (number, step) in plan.course.iter().enumerate() {
        let reached = begun + step.rise_time;
        for look in 1..=LOOKS {
            let part = f64::from(look) / f64::from(LOOKS) - HAIR;
            let at = begun + step.rise_time * part;
            below_trip(job, step, run, at, (step.trip, step.trip_margin), sums, against);
        }
        let is_hold = number + 1 == plan.course.len();
        for reading in &step.readings {
            let at = begun + step.rise_time + reading.at * (1.0 - HAIR);
            let trip =
                if is_hold { (plan.trip, plan.trip_margin) } else { (step.trip, step.trip_margin) };
            below_trip(job, step, run, at, trip, sums, against);
            sums.reading(within(&reading.expected, run.sample(at).current));
        }
        begun = reached + step.dwell;
    }
}

/// What flows from the set, its own path with it, against the trip and the margin it is said to
/// have over the most that is expected.
fn below_trip(
    job: &Job,
    step: &Step,
    run: &Run,
    at: Time,
    (trip, margin): (Option<Current>, Option<quantity::Ratio>),
    sums: &mut Sums,
    against: &mut Against,
) {
    let (Some(trip), Some(margin)) = (trip, margin) else {
        against.say("no trip, or no margin of it".to_owned());
        return;
    };
    let sample = run.sample(at);
    let bleed = job.set.bleed.map_or(Current::ZERO, |bleed| step.level / bleed);
    let left = (trip - bleed) / sample.current.max(Current::from_amperes(1e-15));
    sums.margin(left - 1.0);
    let stated = 1.0 + margin.value();
    against.unless(left * (1.0 + OF_DRAWS) >= stated, || {
        format!(
            "{} flows at {at} to {}: the trip of {trip} is {left:.3} times it, said is {stated:.3}",
            sample.supplied, step.level
        )
    });
    against.unless(sample.supplied < trip, || {
        format!("{} trips {trip} at {at}, to {}", sample.supplied, step.level)
    });
}

fn within(band: &Band<Current>, read: Current) -> bool {
    band.low <= read && read <= band.high
}
