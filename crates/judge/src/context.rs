//! What a judgement looks at besides the readings.

use plan::Plan;
use plan::job::{AssetClass, Job};
use session::Record;
use standards::Library;

use crate::air::{Air, AirTold};
use crate::come_down::{self, Advice};
use crate::doubt::Instrument;
use crate::figures::Warmth;
use crate::part::is_resistance_only;
use crate::watch::Watch;

/// What a judgement looks at besides the readings.
#[derive(Debug)]
pub(crate) struct Context<'a> {
    pub(crate) job: &'a Job,
    /// Where the temperature and the humidity of the air come from, where a logger told them.
    pub(crate) air_temperature: Option<AirTold>,
    pub(crate) air_humidity: Option<AirTold>,
    pub(crate) plan: &'a Plan,
    pub(crate) library: &'a Library,
    pub(crate) instrument: Instrument,
    pub(crate) warmth: Warmth,
    pub(crate) watch: Watch,
    /// Advice to come down, as it was shown.
    pub(crate) come_down: Vec<Advice>,
    /// Resistance and index alone were asked for.
    pub(crate) only_resistance: bool,
}

impl<'a> Context<'a> {
    /// `job` is the record's own, with what loggers told of the air where it says nothing.
    pub(crate) fn of(
        record: &'a Record,
        (job, air): (&'a Job, &Air),
        library: &'a Library,
    ) -> Self {
        let typed = &record.job.conditions;
        Self {
            job,
            air_temperature: air.of_temperature(typed, library),
            air_humidity: air.of_humidity(typed, library),
            plan: &record.plan,
            library,
            instrument: Instrument::of(job),
            warmth: Warmth::of(job, library),
            watch: Watch::of(record),
            come_down: come_down::advised(record),
            only_resistance: is_resistance_only(job, &record.plan),
        }
    }

    pub(crate) fn class(&self) -> AssetClass {
        self.job.asset.class
    }

    /// Whether leakage is a criterion: gloves and gear are proved by withstand alone.
    pub(crate) fn looks_at_current(&self) -> bool {
        self.class() == AssetClass::Cable || self.job.is_machine()
    }

    /// Whether the planned course has more than one level.
    pub(crate) fn has_steps(&self) -> bool {
        self.plan.course.len() > 1
    }
}
