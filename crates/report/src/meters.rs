//! What was recorded of the meters, in words: their ranges, how they were checked, a unit in doubt.

use quantity::{Current, Voltage};
use session::act::Act;
use session::meters::{Compared, Scales};
use session::{Event, Record};

use crate::course::wall;
use crate::digits::significant;

/// On which ranges the meters stand from here on.
pub(crate) fn scales(scales: &Scales) -> String {
    let unknown = || "not known".to_owned();
    let kv = scales.voltage_range.map_or_else(unknown, kilovolts);
    let ua = scales.current_range.map_or_else(unknown, microamperes);
    let link = scales.link.as_ref().map_or_else(String::new, |link| format!("; link: {link}"));
    format!("ranges from here on: voltmeter {kv}, ammeter {ua}{link}")
}

/// Each check of a meter, before the first voltage, between or after the last; and of meters that
/// the job names what was not checked.
pub(crate) fn checks(record: &Record) -> Vec<String> {
    let energises = |event: &Event| matches!(event, Event::Did { act: Act::Energise, .. });
    let first = record.events.iter().position(|entry| energises(&entry.what));
    let last = record.events.iter().rposition(|entry| energises(&entry.what));
    let (mut lines, mut before, mut after) = (Vec::new(), false, false);
    for (at, entry) in record.events.iter().enumerate() {
        let Event::Compared(one) = &entry.what else { continue };
        let when = match (first, last) {
            (Some(first), _) if at < first => "before voltage",
            (_, Some(last)) if at > last => "after voltage",
            (None, _) => "without voltage",
            _ => "between",
        };
        before |= when == "before voltage";
        after |= when == "after voltage";
        let at = entry.at.map(|at| format!("{} ", wall(at.wall))).unwrap_or_default();
        let by = entry.by.as_ref().map(|by| format!(" ({by})")).unwrap_or_default();
        lines.push(format!("{at}{when}: {}{by}", compared(one)));
    }
    // Of what was typed in from paper nobody can tell here.
    let live = record.events.iter().any(|entry| entry.at.is_some());
    if live && first.is_some() && !record.job.meters.is_empty() {
        for (done, when) in [(before, "before"), (after, "after")] {
            if !done {
                lines.push(format!("No meter was checked {when} the voltage."));
            }
        }
    }
    lines
}

/// What was read beside the object: by each instrument the least, the most and how often.
pub(crate) fn beside(record: &Record) -> Vec<String> {
    let mut told: Vec<(String, &str, Vec<f64>)> = Vec::new();
    for entry in &record.events {
        let Event::Beside(one) = &entry.what else { continue };
        let values = [
            (one.guard_ua.map(Current::microamperes), "µA"),
            (one.temperature_c.map(|c| c.celsius()), "°C"),
            (one.humidity_percent.map(|share| share.percent()), "%"),
        ];
        for (value, unit) in values.into_iter().filter_map(|(value, unit)| Some((value?, unit))) {
            match told.iter_mut().find(|(from, of, _)| *from == one.from && *of == unit) {
                Some((_, _, all)) => all.push(value),
                None => told.push((one.from.clone(), unit, vec![value])),
            }
        }
    }
    let line = |(from, unit, all): &(String, &str, Vec<f64>)| {
        let least = all.iter().copied().fold(f64::INFINITY, f64::min);
        let most = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let [least, most] = [least, most].map(|value| significant(value, 3));
        format!("{from}: {least} to {most} {unit}, read {} times", all.len())
    };
    told.iter().map(line).collect()
}

/// A meter was checked, with the digits it was told in.
pub(crate) fn compared(compared: &Compared) -> String {
    let (of, known, read) = match compared {
        Compared::Voltage { known, read } => ("voltage", kilovolts(*known), kilovolts(*read)),
        Compared::Current { known, read } => ("current", microamperes(*known), microamperes(*read)),
    };
    format!("meter of {of} checked: {known} known, {read} read")
}

/// A value that is a thousand times off what can be or what is expected.
pub(crate) fn slip(kv: Option<f64>, ua: Option<f64>, times: f64) -> String {
    let kv = kv.map(|kv| format!("{kv} kV"));
    let value = kv.or_else(|| ua.map(|ua| format!("{ua} µA"))).unwrap_or_default();
    format!("UNIT IN DOUBT: {value} read, expected near {times} of it; kept as read")
}

fn kilovolts(value: Voltage) -> String {
    format!("{} kV", value.kilovolts())
}

fn microamperes(value: Current) -> String {
    format!("{} µA", value.microamperes())
}
