//! The numbers of one conductor: the path that findings take as well, and that a fleet takes alone.
//!
//! Resistance, index and what the absorption leaves need neither words nor the search for a knee,
//! so many tests can be compared in the time that one takes to be judged.

use physics::temperature::{Correction, Model as Rule, correction};
use plan::job::Job;
use quantity::edge::twelve_digits;
use quantity::{Current, Temperature, Time, Voltage};
use session::{Reading, Record, conductors};
use standards::Library;
use standards::tolerance::{self, ReadOn};

use crate::air::Air;
use crate::arrester;
use crate::brought::{Brought, CORRECTED_TO};
use crate::context::Context;
use crate::doubt::Instrument;
use crate::findings::{Figures, ResistanceFigure};
use crate::model::{Model, Told};
use crate::part::Part;
use crate::resistance::Insulation;
use crate::trace::{Stretch, Taken, Trace};

/// Figures of every conductor of a record, as [`judge`](crate::judge) tells them but for the
/// forecast, which is found with the knee.
#[must_use]
pub fn of_record(record: &Record, library: &Library) -> Vec<(String, Figures)> {
    let air = Air::of(record);
    let job = air.fill(&record.job);
    let context = Context::of(record, (&job, &air), library);
    let insulates = !arrester::is_measured(&context);
    let folded = conductors(record);
    let figures = |part: &Part<'_>| {
        let told = part.foremost().filter(|_| insulates);
        let told = told.map(|trace| Told::alone(trace, part.dwells(), &context.instrument));
        let read = part.resistance(context.job).filter(|_| insulates);
        let read = read.filter(|(trace, stretch)| trace.knows_ages(stretch));
        let at_minute = read.as_ref().and_then(|(trace, stretch)| {
            AtMinute::of(trace, stretch, &context.instrument, &context.warmth)
        });
        let numbers = Numbers {
            resistance: at_minute.as_ref().map(AtMinute::figure),
            told: told.unwrap_or_default(),
            ..Numbers::quotients(read)
        };
        numbers.figures()
    };
    let parts = folded.iter().map(|one| Part::of(one, &context));
    parts.map(|part| (part.phase.to_owned(), figures(&part))).collect()
}

/// Figures from what was read and is judged; what was not read stays unknown, and so does what was
/// read at an age that nobody knows.
pub(crate) fn of(
    context: &Context<'_>,
    part: &Part<'_>,
    model: Option<&Model>,
    insulation: Option<&Insulation>,
) -> Figures {
    let read = part.resistance(context.job);
    let read = read.filter(|(trace, stretch)| trace.knows_ages(stretch));
    let insulation = insulation.filter(|_| read.is_some());
    let numbers = Numbers {
        resistance: insulation.map(|found| figure(&found.taken, &found.read, found.at_40.as_ref())),
        told: model.map(Model::told).unwrap_or_default(),
        ..Numbers::quotients(read)
    };
    numbers.figures()
}

/// The numbers of one conductor, before they are rounded to what is kept.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Numbers {
    resistance: Option<ResistanceFigure>,
    polarization_index: Option<f64>,
    absorption_ratio: Option<f64>,
    told: Told,
}

impl Numbers {
    fn quotients(read: Option<(&Trace, Stretch)>) -> Self {
        let Some((trace, stretch)) = read else { return Self::default() };
        let between = |earlier_s, later_s| {
            quotient(trace, &stretch, earlier_s, later_s).map(|(ratio, _)| ratio)
        };
        Self {
            polarization_index: between(60.0, 600.0),
            absorption_ratio: between(30.0, 60.0),
            ..Self::default()
        }
    }

    /// As they are kept: to twelve digits.
    #[must_use]
    pub fn figures(self) -> Figures {
        Figures {
            resistance: self.resistance,
            polarization_index: self.polarization_index.map(twelve_digits),
            absorption_ratio: self.absorption_ratio.map(twelve_digits),
            conduction: self.told.conduction.map(Current::from_amperes),
            exponent_n: self.told.exponent.map(twelve_digits),
            capacitance: self.told.capacitance,
            forecast: None,
        }
    }
}

/// Reckons the numbers of one level after another, for tests of one job or of many alike.
#[derive(Debug)]
pub struct Reckoner {
    instrument: Instrument,
    warmth: Warmth,
    trace: Trace,
}

impl Reckoner {
    /// For tests with the set, the meters and the temperature of a job.
    #[must_use]
    pub fn of(job: &Job, library: &Library) -> Self {
        let (instrument, warmth) = (Instrument::of(job), Warmth::of(job, library));
        Self { instrument, warmth, trace: Trace::default() }
    }

    /// Numbers of one level that was reached at once, from its readings in order of time.
    pub fn level(&mut self, readings: &[Reading]) -> Numbers {
        self.trace.refill(readings);
        let trace = &self.trace;
        let Some(first) = trace.rows.first() else { return Numbers::default() };
        let stretch = Stretch { level: first.volts, start_s: 0.0, rows: 0..trace.rows.len() };
        let at_minute = AtMinute::of(trace, &stretch, &self.instrument, &self.warmth);
        Numbers {
            resistance: at_minute.as_ref().map(AtMinute::figure),
            told: Told::alone(trace, vec![stretch.clone()], &self.instrument),
            ..Numbers::quotients(Some((trace, stretch)))
        }
    }
}

/// How warm the insulation was, and how a resistance is brought to 40 °C from there.
#[derive(Clone, Debug)]
pub(crate) struct Warmth {
    pub(crate) temperature: Option<Temperature>,
    /// Of the air, where none was taken on the object.
    pub(crate) ambient: bool,
    pub(crate) within_k: f64,
    /// By the rule of ten kelvins, for a winding within its range.
    correction: Option<Correction>,
}

impl Warmth {
    pub(crate) fn of(job: &Job, library: &Library) -> Self {
        let conditions = &job.conditions;
        let temperature = conditions.object_temperature.or(conditions.temperature);
        let ambient = conditions.object_temperature.is_none();
        let read_on = if ambient { ReadOn::Air } else { ReadOn::Object };
        let from = temperature.filter(|_| job.is_machine());
        Self {
            temperature,
            ambient,
            within_k: tolerance::temperature_kelvins(library, read_on).value,
            correction: from
                .and_then(|from| correction(Rule::HalvingPerTen, from, CORRECTED_TO).ok()),
        }
    }
}

/// The resistance one minute after the level was reached, as read and at 40 °C.
pub(crate) struct AtMinute {
    pub(crate) taken: Taken,
    pub(crate) read: Brought,
    pub(crate) at_40: Option<Brought>,
}

impl AtMinute {
    /// `None` where it was not read at one minute or no current flowed.
    pub(crate) fn of(
        trace: &Trace,
        stretch: &Stretch,
        instrument: &Instrument,
        warmth: &Warmth,
    ) -> Option<Self> {
        let taken = trace.at(stretch, 60.0).filter(|taken| taken.amps > 0.0)?;
        let read = Brought::as_read(instrument, &taken)?;
        let at_40 = warmth
            .correction
            .and_then(|correction| Brought::to_40(instrument, &taken, correction, warmth.within_k));
        Some(Self { taken, read, at_40 })
    }

    fn figure(&self) -> ResistanceFigure {
        figure(&self.taken, &self.read, self.at_40.as_ref())
    }
}

fn figure(taken: &Taken, read: &Brought, at_40: Option<&Brought>) -> ResistanceFigure {
    ResistanceFigure {
        value: read.value(),
        at_voltage: Voltage::from_volts(taken.volts),
        at_time: Time::from_seconds(taken.at_s),
        expanded: read.expanded(),
        corrected: at_40.map(Brought::value),
        corrected_to: at_40.map(|_| CORRECTED_TO),
    }
}

/// Resistance at the later time over that at the earlier, with the two readings.
pub(crate) fn quotient(
    trace: &Trace,
    stretch: &Stretch,
    earlier_s: f64,
    later_s: f64,
) -> Option<(f64, [Taken; 2])> {
    let earlier = trace.at(stretch, earlier_s).filter(|taken| taken.amps > 0.0)?;
    let later = trace.at(stretch, later_s).filter(|taken| taken.amps > 0.0)?;
    let ratio = earlier.amps / later.amps * (later.volts / earlier.volts);
    ratio.is_finite().then_some((ratio, [earlier, later]))
}
