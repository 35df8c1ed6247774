//! What the plan says of the course, in the form advice asks for it.

use plan::Plan;
use plan::course::ExpectedReading;
use plan::job::{AccuracyOf, Job, Method};
use plan::left::Remains;
use quantity::{Band, Capacitance, Current, Time, Voltage, VoltageRate};
use session::record::Head;

/// One level to be reached.
#[derive(Clone, Debug)]
pub(crate) struct Level {
    pub(crate) volts: Voltage,
    pub(crate) rise: Option<VoltageRate>,
    /// Trip while rising to it.
    pub(crate) rising_trip: Option<Current>,
    /// Trip while at it.
    pub(crate) trip: Option<Current>,
    pub(crate) stay: Option<Time>,
    /// Highest current while rising to it.
    pub(crate) rising: Option<Band<Current>>,
    readings: Vec<(Time, Band<Current>)>,
    pub(crate) is_resistance: bool,
}

/// What the set can give and how well its meters tell.
#[derive(Clone, Debug)]
pub(crate) struct Set {
    pub(crate) rated_current: Option<Current>,
    pub(crate) accuracy: f64,
    pub(crate) of: AccuracyOf,
    pub(crate) voltmeter_ranges: Vec<Voltage>,
    pub(crate) ammeter_ranges: Vec<Current>,
    pub(crate) ripple: f64,
}

/// The course and what it was planned with.
#[derive(Clone, Debug)]
pub(crate) struct Course {
    pub(crate) conductors: Vec<String>,
    /// The resistance test first, where there is one, then the steps.
    pub(crate) levels: Vec<Level>,
    pub(crate) method: Method,
    pub(crate) capacitance: Option<Band<Capacitance>>,
    pub(crate) model: Option<plan::course::ObjectModel>,
    pub(crate) set: Set,
    pub(crate) remains: Remains,
    pub(crate) is_machine: bool,
    /// The guard is at work all the while, as the job says.
    pub(crate) guarded: bool,
}

impl Course {
    pub(crate) fn of(head: &Head) -> Self {
        let plan = &head.plan;
        let mut conductors = plan.conductors.clone();
        if conductors.is_empty() {
            conductors = head.job.conductors();
        }
        Self {
            conductors,
            levels: levels(plan),
            method: plan.method,
            capacitance: plan.capacitance_band,
            model: plan.model.clone(),
            set: Set::of(&head.job),
            remains: Remains::of(&head.job, plan),
            is_machine: head.job.is_machine(),
            guarded: false,
        }
    }

    /// The highest level.
    pub(crate) fn top(&self) -> Option<Voltage> {
        self.levels.iter().map(|level| level.volts).reduce(Voltage::max)
    }

    /// The level that a voltage is at, or nearest to, from this one on.
    pub(crate) fn level_at(&self, volts: Voltage, from: usize) -> Option<usize> {
        let apart = |index: &usize| (volts / self.levels[*index].volts - 1.0).abs();
        (from..self.levels.len()).min_by(|a, b| apart(a).total_cmp(&apart(b)))
    }

    /// The lowest level above a voltage.
    pub(crate) fn next_above(&self, volts: Voltage) -> Option<&Level> {
        let above = self.levels.iter().filter(|one| !one.is_resistance);
        above
            .filter(|one| one.volts > volts * 1.01)
            .min_by(|a, b| a.volts.volts().total_cmp(&b.volts.volts()))
    }
}

impl Level {
    /// What the plan expects so long after the level was reached; between two of its readings by
    /// the logarithm of time, and nothing before the first.
    pub(crate) fn expected(&self, age: Time) -> Option<Band<Current>> {
        let after = self.readings.iter().position(|(at, _)| *at >= age);
        let (index, at) = match after {
            None => return self.readings.last().map(|(_, band)| *band),
            Some(0) => {
                let (at, band) = self.readings[0];
                return (age >= at).then_some(band);
            }
            Some(index) => (index, age.seconds()),
        };
        let ((t0, from), (t1, to)) = (self.readings[index - 1], self.readings[index]);
        let part = (at / t0.seconds()).ln() / (t1 / t0).ln();
        let between = |a: Current, b: Current| a + (b - a) * part;
        Some(Band {
            low: between(from.low, to.low),
            mid: between(from.mid, to.mid),
            high: between(from.high, to.high),
        })
    }
}

impl Set {
    fn of(job: &Job) -> Self {
        let set = &job.set;
        Self {
            rated_current: set.rated_current,
            accuracy: set.accuracy.map_or(0.0, |accuracy| accuracy.value()),
            of: set.accuracy_of,
            voltmeter_ranges: set.voltmeter_ranges.clone(),
            ammeter_ranges: set.ammeter_ranges.clone(),
            ripple: set.ripple.map_or(0.0, |ripple| ripple.value()),
        }
    }
}

fn levels(plan: &Plan) -> Vec<Level> {
    let last = plan.course.len().saturating_sub(1);
    let resistance = plan.resistance_test.as_ref().map(|test| Level {
        volts: test.voltage,
        rise: None,
        rising_trip: None,
        trip: None,
        stay: Some(test.dwell),
        rising: None,
        readings: test.readings.iter().map(expected).collect(),
        is_resistance: true,
    });
    let steps = plan.course.iter().enumerate().map(|(index, step)| Level {
        volts: step.level,
        rise: Some(step.rise),
        rising_trip: step.trip,
        trip: if index == last { plan.trip.or(step.trip) } else { step.trip },
        stay: Some(if index == last { plan.hold.unwrap_or(step.dwell) } else { step.dwell }),
        rising: Some(step.rising),
        readings: step.readings.iter().map(expected).collect(),
        is_resistance: false,
    });
    resistance.into_iter().chain(steps).collect()
}

fn expected(reading: &ExpectedReading) -> (Time, Band<Current>) {
    (reading.at, reading.expected)
}
