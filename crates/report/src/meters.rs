//! What was recorded of the meters, in words: their ranges, how they were checked, a unit in doubt.

use quantity::{Current, Voltage};
use session::meters::{Compared, Scales};

/// On which ranges the meters stand from here on.
pub(crate) fn scales(scales: &Scales) -> String {
    let unknown = || "not known".to_owned();
    let kv = scales.voltage_range.map_or_else(unknown, kilovolts);
    let ua = scales.current_range.map_or_else(unknown, microamperes);
    let link = scales.link.as_ref().map_or_else(String::new, |link| format!("; link: {link}"));
    format!("ranges from here on: voltmeter {kv}, ammeter {ua}{link}")
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
