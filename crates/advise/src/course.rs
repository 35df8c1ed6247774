//! What the plan says of the course, in the form advice asks for it.

use std::sync::LazyLock;

use plan::Plan;
use plan::course::ExpectedReading;
use plan::job::{Guard, Job, Method};
use plan::left::Remains;
use quantity::{Band, Current, Time, Voltage};
use session::record::Head;

use crate::model::Four;

/// One level to be reached.
#[derive(Clone, Debug)]
pub(crate) struct Level {
    pub(crate) volts: Voltage,
    /// How long the rise to it takes.
    pub(crate) rise_time: Time,
    /// Trip while at it.
    pub(crate) trip: Option<Current>,
    pub(crate) stay: Option<Time>,
    readings: Vec<(Time, Band<Current>)>,
    pub(crate) is_resistance: bool,
}

/// What the set can give and how well its meters tell.
#[derive(Clone, Debug)]
pub(crate) struct Set {
    pub(crate) rated_current: Option<Current>,
    pub(crate) accuracy: f64,
    voltmeter_ranges: Vec<Voltage>,
    ammeter_ranges: Vec<Current>,
}

/// The course and what it was planned with.
#[derive(Clone, Debug)]
pub(crate) struct Course {
    pub(crate) conductors: Vec<String>,
    /// The resistance test first, where there is one, then the steps.
    pub(crate) levels: Vec<Level>,
    pub(crate) method: Method,
    /// The slowest planned rise, in volts a second.
    pub(crate) pace: f64,
    /// What the object is taken for before any reading, and how far that may be off.
    pub(crate) prior: (Four, Four),
    pub(crate) set: Set,
    pub(crate) remains: Remains,
    pub(crate) is_machine: bool,
    /// A guard takes away what flows past the object, or nothing can glow, as the job says.
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
            pace: pace(plan),
            prior: prior(plan),
            set: Set::of(&head.job),
            remains: Remains::of(&head.job, plan),
            is_machine: head.job.is_machine(),
            guarded: guarded(&head.job),
        }
    }

    /// The highest level.
    pub(crate) fn top(&self) -> Option<Voltage> {
        self.levels.iter().map(|level| level.volts).reduce(Voltage::max)
    }

    /// The lowest level.
    pub(crate) fn lowest(&self) -> Voltage {
        self.levels.iter().map(|level| level.volts).reduce(Voltage::min).unwrap_or(Voltage::ZERO)
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
    /// What an eye cannot tell apart on the smallest range that holds this current.
    pub(crate) fn eye_amps(&self, range: Option<Current>, current: Current) -> Current {
        range.or(smallest(&self.ammeter_ranges, current)).map_or(Current::ZERO, |r| r * EYE)
    }

    /// The same of a voltage.
    pub(crate) fn eye_volts(&self, range: Option<Voltage>, voltage: Voltage) -> Voltage {
        range.or(smallest(&self.voltmeter_ranges, voltage)).map_or(Voltage::ZERO, |r| r * EYE)
    }

    fn of(job: &Job) -> Self {
        let set = &job.set;
        Self {
            rated_current: set.rated_current,
            accuracy: set.accuracy.map_or(0.0, |accuracy| accuracy.value()),
            voltmeter_ranges: set.voltmeter_ranges.clone(),
            ammeter_ranges: set.ammeter_ranges.clone(),
        }
    }
}

/// A needle is read to this part of its range, as the judge takes it.
const EYE: f64 = 0.005;

fn smallest<Q: Copy + PartialOrd>(ranges: &[Q], reading: Q) -> Option<Q> {
    let holds = ranges.iter().copied().filter(|range| *range >= reading);
    holds.reduce(|least, range| if range < least { range } else { least })
}

/// Above this corona is met in the open, as it is published or practised.
pub(crate) fn corona_above() -> Voltage {
    static ABOVE: LazyLock<Voltage> = LazyLock::new(|| {
        standards::tolerance::corona_above(&standards::Library::published()).value
    });
    *ABOVE
}

fn guarded(job: &Job) -> bool {
    let guard = job.connection.guard;
    matches!(guard, Some(Guard::NearEnd | Guard::BothEnds))
        || job.connection.corona_suppressed == Some(true)
}

/// Where no rise is planned: a level in a minute.
fn pace(plan: &Plan) -> f64 {
    let planned = plan.course.iter().map(|step| step.rise.kilovolts_per_second() * 1000.0);
    let slowest = planned.filter(|pace| *pace > 0.0).reduce(f64::min);
    let test = plan.test.map_or(1000.0, Voltage::volts);
    slowest.unwrap_or(test / 60.0)
}

/// Where nothing is planned with: a tenth of a gigaohm to a thousand, by the logarithm.
const UNPLANNED: (Four, Four) = ([-23.0, -20.0, 0.8, -18.0], [4.0, 4.0, 0.4, 4.0]);
/// A band is not taken for narrower than this, as a logarithm.
const LEAST_DOUBT: f64 = 0.5;
/// Between the ends of a band lie so many standard deviations.
const ENDS: f64 = 3.92;

/// Logarithms of the bands that the plan was made with, and what they stand for.
fn prior(plan: &Plan) -> (Four, Four) {
    let (mut at, mut doubt) = UNPLANNED;
    let spread = |low: f64, high: f64| ((high / low).ln() / ENDS).max(LEAST_DOUBT);
    if let Some(band) = plan.capacitance_band {
        let [low, mid, high] = [band.low, band.mid, band.high].map(|farads| farads.farads());
        (at[3], doubt[3]) = (mid.ln(), spread(low, high));
        if let Some(model) = &plan.model {
            let strength = model.absorption_strength;
            at[1] = (mid * strength.mid).ln();
            doubt[1] = spread(low, high).hypot(spread(strength.low, strength.high));
        }
    }
    if let Some(model) = &plan.model {
        let ohms = model.insulation.map(|resistance| resistance.ohms());
        // Of a sound and dry object conduction lies far below the least.
        (at[0], doubt[0]) = (-ohms.mid.ln(), 2.0 * spread(ohms.low, ohms.high));
        let exponent = model.absorption_exponent;
        at[2] = exponent.mid;
        doubt[2] = ((exponent.high - exponent.low) / ENDS).max(0.2);
    }
    let sound = at.iter().chain(&doubt).all(|value| value.is_finite());
    if sound { (at, doubt) } else { UNPLANNED }
}

fn levels(plan: &Plan) -> Vec<Level> {
    let last = plan.course.len().saturating_sub(1);
    let resistance = plan.resistance_test.as_ref().map(|test| Level {
        volts: test.voltage,
        rise_time: Time::ZERO,
        trip: None,
        stay: Some(test.dwell),
        readings: test.readings.iter().map(expected).collect(),
        is_resistance: true,
    });
    let steps = plan.course.iter().enumerate().map(|(index, step)| Level {
        volts: step.level,
        rise_time: step.rise_time,
        trip: if index == last { plan.trip.or(step.trip) } else { step.trip },
        stay: Some(if index == last { plan.hold.unwrap_or(step.dwell) } else { step.dwell }),
        readings: step.readings.iter().map(expected).collect(),
        is_resistance: false,
    });
    resistance.into_iter().chain(steps).collect()
}

fn expected(reading: &ExpectedReading) -> (Time, Band<Current>) {
    (reading.at, reading.expected)
}
