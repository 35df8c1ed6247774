//! The air at the test: as the job says; where it says nothing, as a logger told while the record
//! ran. What was typed stands, and a logger that told otherwise is named.

use std::borrow::Cow;
use std::fmt;

use physics::temperature::dew_point;
use plan::Job;
use plan::job::Conditions;
use quantity::{Ratio, Temperature, Time};
use session::act::Act;
use session::{Event, Record};
use standards::{Library, tolerance};

/// A value that a logger told.
#[derive(Clone, Debug, PartialEq)]
struct Logged<Q> {
    value: Q,
    from: String,
    /// Since the record was begun.
    at: Time,
}

/// What loggers told of the air, nearest in time to when voltage first came on.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Air {
    temperature: Option<Logged<Temperature>>,
    humidity: Option<Logged<Ratio>>,
}

/// Where a value of the air comes from.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum AirTold {
    /// The job says nothing: the logger's is taken.
    Taken { value: String, from: String, at: Time },
    /// The job says another one, which stands.
    Clash { typed: String, value: String, from: String, at: Time },
}

impl Air {
    pub(crate) fn of(record: &Record) -> Self {
        let since = |entry: &session::Entry| entry.at.map(|at| at.since_begun);
        let on = record.events.iter().find_map(|entry| match &entry.what {
            Event::Did { act: Act::Energise, .. } => since(entry),
            _ => None,
        });
        let mut air = Self::default();
        for entry in &record.events {
            let (Event::Beside(one), Some(at)) = (&entry.what, since(entry)) else { continue };
            let far = |at: Time| on.map_or(at, |on| (at - on).abs());
            let nearer = |before: Option<Time>| before.is_none_or(|before| far(at) < far(before));
            let from = || one.from.clone();
            if let Some(value) = one.temperature_c.filter(|value| value.celsius().is_finite())
                && nearer(air.temperature.as_ref().map(|told| told.at))
            {
                air.temperature = Some(Logged { value, from: from(), at });
            }
            if let Some(value) = one.humidity_percent.filter(|value| value.value().is_finite())
                && nearer(air.humidity.as_ref().map(|told| told.at))
            {
                air.humidity = Some(Logged { value, from: from(), at });
            }
        }
        air
    }

    /// The job with what it says nothing of.
    pub(crate) fn fill<'a>(&self, job: &'a Job) -> Cow<'a, Job> {
        let (typed, mut job) = (&job.conditions, Cow::Borrowed(job));
        if let Some(told) = self.temperature.as_ref().filter(|_| typed.temperature.is_none()) {
            job.to_mut().conditions.temperature = Some(told.value);
        }
        if let Some(told) = self.humidity.as_ref().filter(|_| typed.humidity.is_none()) {
            job.to_mut().conditions.humidity = Some(told.value);
        }
        job
    }

    /// Where the temperature of the air comes from, where a logger told it.
    pub(crate) fn of_temperature(&self, typed: &Conditions, library: &Library) -> Option<AirTold> {
        let Logged { value, from, at } = self.temperature.clone()?;
        let Some(said) = typed.temperature else {
            return Some(AirTold::Taken { value: value.to_string(), from, at });
        };
        let within = tolerance::temperature_kelvins(library, tolerance::ReadOn::Air).value;
        let apart = (said.celsius() - value.celsius()).abs() > within;
        let (typed, value) = (said.to_string(), value.to_string());
        apart.then_some(AirTold::Clash { typed, value, from, at })
    }

    /// The same of the humidity: it is another one where it moves the dew point by more than the
    /// margin that an object is kept above it.
    pub(crate) fn of_humidity(&self, typed: &Conditions, library: &Library) -> Option<AirTold> {
        let Logged { value, from, at } = self.humidity.clone()?;
        let percent = |ratio: Ratio| format!("{:.0} % humidity", ratio.percent());
        let Some(said) = typed.humidity else {
            return Some(AirTold::Taken { value: percent(value), from, at });
        };
        let air = typed.temperature.or(self.temperature.as_ref().map(|told| told.value))?;
        let dew = |humidity| dew_point(air, humidity).ok().map(Temperature::celsius);
        let apart = (dew(said)? - dew(value)?).abs() > tolerance::dew_margin_kelvins(library).value;
        apart.then_some(AirTold::Clash { typed: percent(said), value: percent(value), from, at })
    }
}

impl fmt::Display for AirTold {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let after = |at: &Time| plan::words::duration(*at);
        match self {
            Self::Taken { value, from, at } => write!(
                f,
                "Reading: {value}, measured by {from} {} after the record was begun; the job says \
                 none",
                after(at)
            ),
            Self::Clash { typed, value, from, at } => write!(
                f,
                "Clash: {from} told {value} {} after the record was begun, the job says {typed}, \
                 which stands; look which is right",
                after(at)
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use jiff::Timestamp;
    use session::Entry;
    use session::meters::Beside;
    use session::record::{Kind, Moment, Told};

    use super::*;

    fn job(conditions: &str) -> Job {
        let text = include_str!("../../../docs/examples/cable.toml");
        let before = text.split("[conditions]").next().expect("it has them");
        let text = format!("{before}[conditions]\n{conditions}altitude_m = 120.0\n");
        plan::job_file::parse(&text).expect("it is well formed")
    }

    fn entry(second: f64, what: Event) -> Entry {
        let since_begun = Time::from_seconds(second);
        let at = Some(Moment { since_begun, wall: Timestamp::UNIX_EPOCH });
        Entry { at, by: None, what }
    }

    fn told(second: f64, celsius: f64, percent: f64) -> Entry {
        entry(
            second,
            Event::Beside(Beside {
                from: "the logger in the yard".to_owned(),
                guard_ua: None,
                temperature_c: Some(Temperature::from_celsius(celsius)),
                humidity_percent: Some(Ratio::from_percent(percent)),
            }),
        )
    }

    /// Voltage comes on at 600 s; the logger tells before it, just after it, and late.
    fn record(conditions: &str) -> Record {
        let job = job(conditions);
        let plan = plan::plan(&job, &Library::published());
        let energise = Event::Did {
            phase: "A".to_owned(),
            since_energised: None,
            act: Act::Energise,
            told: Told::Said,
            breaches: Vec::new(),
        };
        let events = vec![
            told(10.0, 5.0, 30.0),
            entry(600.0, energise),
            told(620.0, 12.0, 80.0),
            told(4000.0, 30.0, 20.0),
        ];
        let format = session::RECORD_FORMAT.to_owned();
        Record { format, kind: Kind::Test, source: None, job, plan, events }
    }

    #[test]
    fn what_the_job_does_not_say_a_logger_told() {
        let (record, library) = (record(""), Library::published());
        let air = Air::of(&record);
        let filled = air.fill(&record.job);
        let conditions = &filled.conditions;
        assert_eq!(conditions.temperature, Some(Temperature::from_celsius(12.0)));
        assert_eq!(conditions.humidity, Some(Ratio::from_percent(80.0)));
        assert_eq!(conditions.object_temperature, None, "the air is not the object");
        let said = air.of_temperature(&record.job.conditions, &library).expect("taken").to_string();
        assert!(said.contains("measured by the logger in the yard 10.3 min"), "{said}");
        // And it is in the findings.
        let findings = crate::judge(&record, &library);
        let weather = findings.findings.iter().find(|one| one.id == "weather").expect("weather");
        assert!(weather.text.contains("80 % humidity"), "{}", weather.text);
        assert!(weather.chain.iter().any(|line| line.contains("measured by")), "{weather:?}");
    }

    #[test]
    fn what_was_typed_stands_and_a_clash_is_told() {
        let typed = "temperature_c = 35.0\nhumidity_percent = 40.0\n";
        let (record, library) = (record(typed), Library::published());
        let air = Air::of(&record);
        assert!(matches!(air.fill(&record.job), Cow::Borrowed(_)));
        let findings = crate::judge(&record, &library);
        let weather = findings.findings.iter().find(|one| one.id == "weather").expect("weather");
        assert!(weather.text.contains("40 % humidity"), "{}", weather.text);
        let clash: Vec<&String> =
            weather.chain.iter().filter(|line| line.starts_with("Clash")).collect();
        assert_eq!(clash.len(), 2, "{weather:?}");
        assert!(clash[0].contains("35.0 °C") || clash[0].contains("35 °C"), "{clash:?}");
        // What agrees is no clash.
        let same = "temperature_c = 12.4\nhumidity_percent = 78.0\n";
        let record = self::record(same);
        let air = Air::of(&record);
        assert_eq!(air.of_temperature(&record.job.conditions, &library), None);
        assert_eq!(air.of_humidity(&record.job.conditions, &library), None);
    }
}
