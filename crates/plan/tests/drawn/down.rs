//! The way down of objects whose absorption is of another shape than the plan's law.

use physics::discharge::{Tool, rebound, resistor_energy};
use physics::transient::{Run, TestObject};
use plan::{Job, Plan};

use crate::{Against, Sums};

/// After the tool and the ground, for the times of the plan, what is left stays below the limit
/// that the plan itself names.
pub(crate) fn grounded(plan: &Plan, charged: &TestObject, sums: &mut Sums, against: &mut Against) {
    let Some(down) = &plan.descent else { return };
    let tool = Tool { resistance: down.resistor, time: down.tool_on() };
    let tool = Some(&tool).filter(|_| down.resistor_first);
    let Ok(back) = rebound(charged, tool, down.ground) else {
        against.say("the object is not a sound one".to_owned());
        return;
    };
    // Where a week is not enough the plan says so, and asks for the ground to stay.
    if plan.issues.iter().any(|issue| issue.id == "ground-unbounded") {
        sums.unbounded += 1;
        return;
    }
    sums.residual(back.peak / down.touch_limit);
    sums.ground(down.ground);
    against.unless(back.peak <= down.touch_limit, || {
        let slowest = charged
            .branches
            .iter()
            .map(|branch| branch.time_constant())
            .fold(quantity::Time::ZERO, quantity::Time::max);
        format!(
            "comes back to {} after {} on ground, its slowest branch {slowest}",
            back.peak, down.ground
        )
    });
}

/// The tool takes no more of an object inside what the plan says than the plan says, and than it
/// may.
pub(crate) fn taken_by_tool(job: &Job, plan: &Plan, run: &Run, against: &mut Against) {
    let Some(down) = &plan.descent else { return };
    let charged = run.object_at(run.outline().course_end);
    let tool = Tool { resistance: down.resistor, time: down.tool_on() };
    let Ok(joules) = resistor_energy(&charged, &tool) else {
        against.say("the object is not a sound one".to_owned());
        return;
    };
    let planned = down.resistor_energy;
    against.unless(joules <= planned, || format!("{joules} into a tool, planned are {planned}"));
    let rated = job.discharge_tool.as_ref().and_then(|tool| tool.rated_energy);
    if let Some(rated) = rated {
        against.unless(joules <= rated, || format!("{joules} into a tool of {rated}"));
    }
}
