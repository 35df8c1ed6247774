//! The meters of a job: where each is, and what it is asked.

use instrument::query;
use instrument::reader::{Question, Questions};
use instrument::{Address, AddressError};
use plan::job::{Meter, Reads};

use crate::output::Trouble;

/// One address, and the meters of the job that answer there.
pub(super) struct Place {
    pub(super) address: Address,
    pub(super) meters: Vec<Meter>,
    pub(super) is_guard: bool,
}

impl Place {
    /// What is at it, in words.
    pub(super) fn name(&self) -> String {
        let of: Vec<&str> = self.meters.iter().map(|one| reads(one.reads)).collect();
        match &of[..] {
            [] => format!("the meter at {}", self.address),
            of => format!("the meter of {} at {}", of.join(" and "), self.address),
        }
    }
}

/// Every address that is to be asked, that of the voltage first.
pub(super) fn places(given: Option<&Address>, meters: &[Meter]) -> Result<Vec<Place>, Trouble> {
    let mut places: Vec<Place> = Vec::new();
    for kind in [Reads::Voltage, Reads::Current, Reads::Guard] {
        let mut of_kind = meters.iter().filter(|one| one.reads == kind);
        let Some(meter) = of_kind.next() else { continue };
        if of_kind.next().is_some() {
            return Err(Trouble::Argument {
                remedy: format!("Leave one [[meter]] that reads {} in the job file", key(kind)),
                detail: "one value cannot come from two meters".to_owned(),
            });
        }
        let own = meter.address.as_deref().map(str::parse).transpose();
        let own = own.map_err(|error: AddressError| Trouble::Argument {
            remedy: format!("Correct the address of [[meter]] that reads {}: {error}", key(kind)),
            detail: "it is no address".to_owned(),
        })?;
        let address = own.or_else(|| given.cloned()).ok_or_else(no_address)?;
        let is_guard = kind == Reads::Guard;
        match places.iter_mut().find(|place| place.address == address) {
            Some(place) if is_guard != place.is_guard => {
                return Err(Trouble::Argument {
                    remedy: "Give the meter of the guard an address of its own".to_owned(),
                    detail: format!("{} is asked for the object's own values", place.address),
                });
            }
            Some(place) => place.meters.push(meter.clone()),
            None => places.push(Place { address, meters: vec![meter.clone()], is_guard }),
        }
    }
    let guard_alone = places.iter().all(|place| place.is_guard);
    match given {
        Some(address) if guard_alone => {
            // Both values come from the one that was named; the guard is read beside it.
            let place = Place { address: address.clone(), meters: Vec::new(), is_guard: false };
            places.insert(0, place);
        }
        Some(address) if places.iter().all(|place| place.address != *address) => {
            return Err(Trouble::Argument {
                remedy: "Write --from meters, or take one address out of the job file".to_owned(),
                detail: format!("every [[meter]] has an address, and {address} is none of them"),
            });
        }
        None if guard_alone => return Err(no_address()),
        _ => {}
    }
    Ok(places)
}

pub(super) fn no_address() -> Trouble {
    Trouble::Argument {
        remedy: "Write the address of each [[meter]] in the job file, or --from tcp:HOST:PORT"
            .to_owned(),
        detail: "nothing says where the readings come from".to_owned(),
    }
}

/// What these meters are asked; without any, both values by the usual queries.
pub(super) fn questions(meters: &[Meter]) -> Result<Questions, Trouble> {
    if meters.is_empty() {
        return Ok(Questions::default());
    }
    let one = |kinds: &[Reads], usual: &str| {
        let found = meters.iter().find(|one| kinds.contains(&one.reads));
        found.map(|meter| question(meter, usual)).transpose()
    };
    let voltage = one(&[Reads::Voltage], query::VOLTAGE)?;
    let current = one(&[Reads::Current, Reads::Guard], query::CURRENT)?;
    Ok(Questions { voltage, current, beside: None })
}

fn question(meter: &Meter, usual: &str) -> Result<Question, Trouble> {
    let in_job = |what: &str, detail: String| Trouble::Argument {
        remedy: format!("Correct the {what} of [[meter]] in the job file"),
        detail,
    };
    let is_voltage = meter.reads == Reads::Voltage;
    if meter.unit.is_some_and(|unit| unit.is_voltage() != is_voltage) {
        let detail = format!("it reads {}, and its unit is another", key(meter.reads));
        return Err(in_job("unit", detail));
    }
    let unit = meter.unit.map_or(1.0, plan::job::MeterUnit::size);
    let query = meter.query.as_deref().unwrap_or(usual);
    let mut question = Question::new(query, meter.ratio.unwrap_or(1.0) * unit)
        .map_err(|error| in_job("query", error.to_string()))?;
    if let Some(offset) = meter.offset {
        question = question.with_offset(offset);
    }
    if let Some(range) = meter.range {
        question = question.on_range(range);
    }
    match &meter.range_query {
        None => Ok(question),
        Some(query) => {
            question.asking_range(query).map_err(|error| in_job("range_query", error.to_string()))
        }
    }
}

const fn reads(kind: Reads) -> &'static str {
    match kind {
        Reads::Voltage => "voltage",
        Reads::Current => "current",
        Reads::Guard => "the guard",
    }
}

const fn key(kind: Reads) -> &'static str {
    match kind {
        Reads::Voltage => "voltage",
        Reads::Current => "current",
        Reads::Guard => "guard",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn meter(reads: Reads, address: Option<&str>) -> Meter {
        Meter {
            reads,
            query: None,
            ratio: None,
            address: address.map(str::to_owned),
            unit: None,
            offset: None,
            range: None,
            range_query: None,
            accuracy: None,
            accuracy_of: None,
            calibrated: None,
            link: None,
            battery: None,
            surge_gap: None,
            bypass_bolted: None,
        }
    }

    #[test]
    fn the_jobs_own_queries_are_asked_and_only_queries() {
        let asked = |meters: &[Meter]| questions(meters).ok();
        assert_eq!(asked(&[]), Some(Questions::default()));
        let own = Meter {
            query: Some("KV?".to_owned()),
            ratio: Some(1000.0),
            ..meter(Reads::Voltage, None)
        };
        let kv = Question::new("KV?", 1000.0).expect("a query");
        let expected = Questions { voltage: Some(kv), current: None, beside: None };
        assert_eq!(asked(&[own]), Some(expected));
        let acts = Meter { query: Some("OUTP ON".to_owned()), ..meter(Reads::Current, None) };
        assert_eq!(asked(&[acts]), None);
        let unit = Some(plan::job::MeterUnit::Kv);
        assert_eq!(asked(&[Meter { unit, ..meter(Reads::Current, None) }]), None);
    }

    /// Each case: the address given, the meters, and the names of what is asked.
    #[test]
    fn each_meter_is_asked_at_its_own_address_or_at_the_one_given() {
        let check = |given: Option<&str>, meters: &[Meter], expected: Result<&[&str], &str>| {
            let given = given.map(|one| one.parse().expect("an address"));
            match (places(given.as_ref(), meters), expected) {
                (Ok(places), Ok(names)) => {
                    assert_eq!(places.iter().map(Place::name).collect::<Vec<_>>(), names);
                }
                (Err(trouble), Err(part)) => {
                    assert!(trouble.to_string().contains(part), "{trouble}");
                }
                (Ok(places), Err(_)) => {
                    panic!("{:?}", places.iter().map(Place::name).collect::<Vec<_>>())
                }
                (Err(trouble), Ok(_)) => panic!("{trouble}"),
            }
        };
        let (one, two) = ("tcp:h:1", "tcp:h:2");
        let (volts, amps) = (meter(Reads::Voltage, Some(one)), meter(Reads::Current, Some(two)));
        let plain = [meter(Reads::Voltage, None), meter(Reads::Current, None)];
        let guard = meter(Reads::Guard, Some(two));
        check(Some(one), &[], Ok(&["the meter at tcp:h:1"]));
        check(Some(one), &plain, Ok(&["the meter of voltage and current at tcp:h:1"]));
        check(None, &plain, Err("address"));
        check(None, &[], Err("address"));
        let both = ["the meter of voltage at tcp:h:1", "the meter of current at tcp:h:2"];
        check(None, &[amps.clone(), volts.clone()], Ok(&both));
        check(Some(two), &[volts.clone(), plain[1].clone()], Ok(&both));
        check(Some("tcp:h:3"), &[volts.clone(), amps.clone()], Err("--from meters"));
        let beside = ["the meter at tcp:h:1", "the meter of the guard at tcp:h:2"];
        check(Some(one), std::slice::from_ref(&guard), Ok(&beside));
        check(None, &[volts.clone(), amps, guard], Err("of its own"));
        check(None, &[volts.clone(), volts], Err("one [[meter]]"));
        check(None, &[meter(Reads::Voltage, Some("h:1"))], Err("tcp:HOST:PORT"));
    }
}
