//! A whole test as a row of exact stretches.

use quantity::{Current, Time, Voltage};

use super::{Discharge, Leg, Supply, TestObject, TransientError};

/// Voltage and current at one instant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// From the start.
    pub at: Time,
    /// At the terminals of the object.
    pub voltage: Voltage,
    /// Into its high-voltage terminal; negative when it gives charge back.
    pub current: Current,
}

/// What happened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Happening {
    /// The supply came to its current limit.
    LimitReached,
    /// It left its limit and follows its command again.
    LimitLeft,
    /// The object stands above the command: a rectifier cannot take charge back.
    CannotSink,
    /// The command has caught up with the object.
    Resumed,
    /// The trip opened the supply.
    Tripped,
}

/// What happened, and when.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Event {
    /// From the start.
    pub at: Time,
    /// What.
    pub what: Happening,
}

/// A run in outline.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    /// In order of time.
    pub events: Vec<Event>,
    /// When the trip opened the supply, if it did.
    pub tripped_at: Option<Time>,
    /// End of the course, and begin of the discharge.
    pub course_end: Time,
    /// End of everything asked for.
    pub end: Time,
}

/// A test that has been solved; ask it for samples.
#[derive(Clone, Debug)]
pub struct Run;

impl Run {
    /// Solves a test up to its end, or up to `until` where that is later.
    ///
    /// # Errors
    /// When a quantity is out of its range.
    pub fn new(
        object: &TestObject,
        supply: &Supply,
        course: &[Leg],
        discharge: Option<&Discharge>,
        until: Time,
    ) -> Result<Self, TransientError> {
        let _ = (object, supply, course, discharge, until);
        unimplemented!("follows")
    }

    /// Voltage and current just before `at`.
    #[must_use]
    pub fn sample(&self, at: Time) -> Sample {
        let _ = at;
        unimplemented!("follows")
    }

    /// What happened.
    #[must_use]
    pub fn outline(&self) -> Outline {
        unimplemented!("follows")
    }

    /// The object as it stands just before `at`.
    #[must_use]
    pub fn object_at(&self, at: Time) -> TestObject {
        let _ = at;
        unimplemented!("follows")
    }
}

/// Voltage and current of an object at the given times.
///
/// # Errors
/// When a quantity is out of its range.
pub fn simulate(
    object: &TestObject,
    supply: &Supply,
    course: &[Leg],
    discharge: Option<&Discharge>,
    times: &[Time],
) -> Result<Vec<Sample>, TransientError> {
    let _ = (object, supply, course, discharge, times);
    unimplemented!("follows")
}
