//! What the plan says of the course, in the form a running test asks for it.

use plan::course::{ExpectedReading, Step};
use plan::job::Link;
use plan::left::Remains;
use plan::{Job, Plan};
use quantity::{Band, Current, Ratio, Time, Voltage, VoltageRate};

use crate::hold::{self, Hold};
use crate::record::Head;
use crate::role::Role;

/// Part of a level within which it counts as reached. Common practice, no source; the judge
/// counts by the same width.
pub(super) const AT_LEVEL: f64 = 0.03;

/// How long the voltage is watched after the last ground came off before the conductor may be
/// handed back without one. Common practice, no source; a worked object climbs from 3 V to more
/// than 1.3 kV within it (derived, a test of `physics`).
pub(super) const REBOUND_WATCH: Time = Time::from_minutes(10.0);

/// Touch limit and ground time where the plan has no way down, because it refused: nothing is
/// energised then, and what was energised all the same is never let go early.
/// 50 V: 8 CCR 2893, for what stays on a capacitor; the hour: common practice, no source.
const TOUCH_LIMIT_UNPLANNED: Voltage = Voltage::from_volts(50.0);
const GROUND_UNPLANNED: Time = Time::from_hours(1.0);

/// Name of the object where neither plan nor job names a conductor.
const AS_ONE: &str = "object";

/// One level to be reached.
#[derive(Clone, Debug)]
pub(super) struct Target {
    pub(super) level: Voltage,
    pub(super) dial: Option<Ratio>,
    pub(super) rise: Option<VoltageRate>,
    /// While the voltage rises to it: charging takes more than the level does.
    pub(super) rising_trip: Option<Current>,
    /// Once it is reached.
    pub(super) trip: Option<Current>,
    pub(super) ammeter_range: Option<Current>,
    pub(super) stay: Option<Time>,
    pub(super) rising: Option<Band<Current>>,
    pub(super) readings: Vec<(Time, Band<Current>)>,
    pub(super) is_hold: bool,
    pub(super) is_resistance: bool,
}

/// The plan, as far as a running test needs it.
#[derive(Clone, Debug)]
pub(super) struct Course {
    pub(super) conductors: Vec<String>,
    /// The resistance test that comes before the steps, if any.
    pub(super) resistance: Option<Target>,
    /// How long to ground after it, before the steps.
    pub(super) between: Option<Time>,
    pub(super) steps: Vec<Target>,
    pub(super) touch_limit: Voltage,
    pub(super) ground: Time,
    pub(super) tool: Option<Time>,
    pub(super) meter_floor: Option<Voltage>,
    pub(super) rebound: Voltage,
    /// What must be known before a move.
    pub(super) holds: Vec<Hold>,
    /// Where the link is, as the job says.
    pub(super) link: Option<String>,
    /// How many lines the checklist has, and how many questions are asked.
    pub(super) lines: (usize, usize),
    /// Who has a part in it, with the name.
    pub(super) roles: Vec<(Role, Option<String>)>,
    /// How often the far end must be heard while voltage is on.
    pub(super) far_end_every: Option<Time>,
    /// More than this the set does not give.
    pub(super) most_voltage: Voltage,
    /// The same of its current, where the plate says.
    pub(super) most_current: Option<Current>,
    /// What is left on a conductor once nothing feeds it.
    pub(super) remains: Remains,
}

impl Target {
    /// The trip as it is to be set now.
    pub(super) fn trip_now(&self, reached: bool) -> Option<Current> {
        if reached { self.trip } else { self.rising_trip }
    }
}

impl Course {
    pub(super) fn of(head: &Head) -> Self {
        let plan = &head.plan;
        let mut conductors = plan.conductors.clone();
        if conductors.is_empty() {
            conductors = head.job.conductors();
        }
        if conductors.is_empty() {
            conductors.push(AS_ONE.to_owned());
        }
        let steps = plan.course.len();
        let descent = plan.descent.as_ref();
        Self {
            conductors,
            resistance: resistance(plan),
            between: plan.resistance_test.as_ref().and_then(|test| test.ground),
            steps: plan
                .course
                .iter()
                .enumerate()
                .map(|(index, step)| target(plan, step, index + 1 == steps))
                .collect(),
            touch_limit: descent.map_or(TOUCH_LIMIT_UNPLANNED, |down| down.touch_limit),
            ground: descent.map_or(GROUND_UNPLANNED, |down| down.ground),
            tool: descent.map(plan::course::Descent::tool_on),
            meter_floor: descent.and_then(|down| down.meter_floor),
            rebound: descent.map_or(Voltage::ZERO, |down| down.rebound),
            holds: hold::of(plan),
            link: link(&head.job),
            lines: (plan.checklist.len(), plan.ready.questions.len()),
            roles: roles(plan),
            far_end_every: plan.ready.far_end_every,
            most_voltage: plan
                .course
                .iter()
                .map(|step| step.level)
                .fold(head.job.set.rated.unwrap_or(Voltage::ZERO), Voltage::max),
            most_current: head.job.set.rated_current,
            remains: Remains::of(&head.job, plan),
        }
    }

    /// The levels of an application, the resistance test first where it is still due.
    pub(super) fn targets(&self, resistance_due: bool) -> Vec<&Target> {
        let first = self.resistance.iter().filter(|_| resistance_due);
        first.chain(&self.steps).collect()
    }

    /// Whether the kilovolt meter can tell this voltage from none, where it matters.
    pub(super) fn can_tell(&self, voltage: Voltage) -> bool {
        self.meter_floor.is_none_or(|floor| voltage.abs() >= floor)
    }

    /// Whether these words are a number, of a line or of a question, that the plan does not have.
    pub(super) fn is_no_line(&self, said: &str) -> bool {
        let (digits, most) = match said.strip_prefix(['q', 'Q']) {
            Some(digits) => (digits, self.lines.1),
            None => (said, self.lines.0),
        };
        let is_number = !digits.is_empty() && digits.bytes().all(|byte| byte.is_ascii_digit());
        let known = digits.parse().is_ok_and(|number: usize| (1..=most).contains(&number));
        is_number && !known
    }

    /// The test level, or the highest there is.
    pub(super) fn highest(&self) -> Voltage {
        let all = self.steps.iter().chain(&self.resistance).map(|target| target.level);
        all.fold(Voltage::ZERO, Voltage::max)
    }
}

/// In the words of a job file, as a person says it while a test runs.
fn link(job: &Job) -> Option<String> {
    let word = match job.connection.link? {
        Link::GuardToGround => "guard-to-ground",
        Link::ReturnToGround => "return-to-ground",
        Link::None => "none",
    };
    Some(word.to_owned())
}

fn roles(plan: &Plan) -> Vec<(Role, Option<String>)> {
    let known = |role: &plan::ready::Role| Some((Role::of_words(&role.id)?, role.name.clone()));
    plan.ready.roles.iter().filter_map(known).collect()
}

fn target(plan: &Plan, step: &Step, is_last: bool) -> Target {
    let mut readings: Vec<(Time, Band<Current>)> = step.readings.iter().map(expected).collect();
    if is_last && readings.is_empty() {
        readings = plan.read_at.iter().map(|at| (*at, step.expected)).collect();
    }
    let stay = if is_last { plan.hold.unwrap_or(step.dwell) } else { step.dwell };
    Target {
        level: step.level,
        dial: step.dial,
        rise: Some(step.rise),
        rising_trip: step.trip,
        trip: if is_last { plan.trip.or(step.trip) } else { step.trip },
        ammeter_range: step.ammeter_range,
        stay: Some(stay),
        rising: Some(step.rising),
        readings,
        is_hold: is_last,
        is_resistance: false,
    }
}

fn resistance(plan: &Plan) -> Option<Target> {
    let test = plan.resistance_test.as_ref()?;
    Some(Target {
        level: test.voltage,
        dial: None,
        rise: None,
        rising_trip: None,
        trip: None,
        ammeter_range: None,
        stay: Some(test.dwell),
        rising: None,
        readings: test.readings.iter().map(expected).collect(),
        is_hold: false,
        is_resistance: true,
    })
}

fn expected(reading: &ExpectedReading) -> (Time, Band<Current>) {
    (reading.at, reading.expected)
}
