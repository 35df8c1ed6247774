//! A set and its object put together, and what is taken where the nameplate says nothing.

use plan::job::TestSet;
use plan::{Job, Plan};
use quantity::{Capacitance, Current, Resistance, Time, Voltage};

use super::{Dial, LEADS, Refused, Rig, SERIES};
use crate::draw::Place;
use crate::nature::Departure;
use crate::needle::Needle;
use crate::specimen::Specimen;
use crate::truth::{Fault, Truth};

/// Current of a set whose nameplate gives none. Common practice, no source.
const USUAL_CURRENT: Current = Current::from_milliamperes(5.0);
/// Output of a set whose nameplate gives none, over the test level. Common practice, no source.
const SPARE_OUTPUT: f64 = 1.5;
/// Ranges of an ammeter whose nameplate gives none. Common practice, no source.
const USUAL_RANGES_UA: [f64; 4] = [10.0, 100.0, 1000.0, 5000.0];
/// Capacitance of lead and set alone. Common practice, no source.
const LEAD_NANOFARADS: f64 = 0.3;

/// Why a set and an object could not be put together.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum RigError {
    /// Nothing to draw an object from.
    #[error("make a plan that is not refused: this one does not say what the object is like")]
    NoModel,
    /// Not one object for each conductor.
    #[error("give one object for each conductor: {given} for {needed}")]
    Count {
        /// Given.
        given: usize,
        /// Conductors in the plan.
        needed: usize,
    },
    /// A part of an object is no number above zero.
    #[error("give capacitance, resistances and times of conductor {0} as numbers above 0")]
    Part(String),
}

impl Rig {
    /// The set of a job and an object drawn inside the plan's bands.
    ///
    /// What the nameplate leaves out: 5 mA, 1.5 times the test level, one voltmeter range of that,
    /// ammeter ranges of 10, 100, 1000 and 5000 µA, an accuracy of 2 %, no ripple, no built-in
    /// discharge path, a trip up to the set's current.
    ///
    /// # Errors
    /// When the plan does not say what the object is like.
    pub fn new(job: &Job, plan: &Plan, seed: u64) -> Result<Self, RigError> {
        Self::with(job, plan, Truth::drawn(plan, seed)?, seed)
    }

    /// The set of a job and a given object, one for each conductor of the plan.
    ///
    /// # Errors
    /// When there is not one for each, or a part of one is no number above zero.
    pub fn with(job: &Job, plan: &Plan, truths: Vec<Truth>, seed: u64) -> Result<Self, RigError> {
        let (given, needed) = (truths.len(), plan.conductors.len());
        if given != needed {
            return Err(RigError::Count { given, needed });
        }
        for (truth, name) in truths.iter().zip(&plan.conductors) {
            if !truth.is_sound() {
                return Err(RigError::Part(name.clone()));
            }
        }
        let (set, place) = (&job.set, Place::of(seed));
        let rated = rated(set, plan);
        let limit = set.rated_current.unwrap_or(USUAL_CURRENT);
        let volts = or_usual(set.voltmeter_ranges.iter().map(|v| v.volts()), &[rated.volts()]);
        let usual = USUAL_RANGES_UA.map(|ua| ua * 1e-6);
        let amperes = or_usual(set.ammeter_ranges.iter().map(|a| a.amperes()), &usual);
        let dial_full = match set.dial_full.as_slice() {
            [] => vec![rated; volts.len()],
            [one] => vec![*one; volts.len()],
            each => (0..volts.len()).map(|k| *each.get(k).unwrap_or(&rated)).collect(),
        };
        let highest = set.trip.last().copied().unwrap_or(limit);
        let lowest = set.trip.first().copied().unwrap_or(Current::ZERO);
        let tool = job.discharge_tool.as_ref().and_then(|tool| tool.resistance);
        let planned = plan.descent.as_ref().map(|descent| descent.resistor);
        let count = truths.len();
        let specimens = truths.into_iter().chain([lead_alone()]).map(Specimen::new).collect();
        let mut rig = Self {
            names: plan.conductors.clone(),
            specimens,
            grounds: vec![false; count + 1],
            tools: vec![false; count + 1],
            tool: tool.or(planned).unwrap_or(Resistance::from_kilohms(50.0)),
            lead: count,
            low_side: job.connection.low_side,
            link: plan.connection.link,
            guard_ring: false,
            voltmeter_at: volts.len() - 1,
            voltmeter: Needle::new(volts, set, place.at(11)),
            ammeter: Needle::new(amperes, set, place.at(12)),
            ammeter_at: None,
            dial_full,
            dial: Dial { from: 0.0, target: 0.0, rate: 0.1, since: Time::ZERO },
            bleed: set.bleed,
            series: SERIES,
            limit,
            trip: highest,
            trip_scale: (lowest, highest),
            high_voltage: false,
            tripped: None,
            now: Time::ZERO,
            place: place.at(13),
        };
        rig.connect();
        Ok(rig)
    }

    /// The same with a fault in one conductor.
    ///
    /// # Errors
    /// When there is no such conductor, or a figure of the fault is no number above zero.
    pub fn with_fault(mut self, conductor: &str, fault: Fault) -> Result<Self, Refused> {
        let index = self.index(conductor)?;
        let truth = Truth { fault: Some(fault), ..self.specimens[index].truth.clone() };
        if !truth.is_sound() {
            return Err(Refused::OffScale);
        }
        self.specimens[index] = Specimen::new(truth);
        self.connect();
        Ok(self)
    }
}

fn or_usual(given: impl Iterator<Item = f64>, usual: &[f64]) -> Vec<f64> {
    let given: Vec<f64> = given.collect();
    if given.is_empty() { usual.to_vec() } else { given }
}

fn rated(set: &TestSet, plan: &Plan) -> Voltage {
    let widest = set.voltmeter_ranges.last().copied();
    let needed = plan.test.unwrap_or(Voltage::from_kilovolts(1.0)) * SPARE_OUTPUT;
    set.rated.or(widest).unwrap_or(needed)
}

/// Lead and set with nothing at the end.
fn lead_alone() -> Truth {
    Truth {
        capacitance: Capacitance::from_nanofarads(LEAD_NANOFARADS),
        insulation: LEADS * 1e6,
        surface: LEADS * 1e6,
        absorption: Vec::new(),
        departure: Departure::default(),
        glow: None,
        fault: None,
    }
}
