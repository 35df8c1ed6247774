//! What is recorded of the meters, as one line.

use quantity::{Current, Voltage};
use session::meters::{Beside, Compared, Scales};

/// On which ranges the meters stand from now on.
pub(crate) fn scales(scales: &Scales) -> String {
    let kv = scales.voltage_range.map_or_else(unknown, kilovolts);
    let ua = scales.current_range.map_or_else(unknown, microamperes);
    let link = scales.link.as_ref().map_or_else(String::new, |link| format!(", link {link}"));
    format!("meters on ranges {kv} and {ua}{link}")
}

/// A meter was checked.
pub(crate) fn compared(compared: &Compared) -> String {
    match compared {
        Compared::Voltage { known, read } => {
            format!(
                "meter of voltage checked: {} known, {} read",
                kilovolts(*known),
                kilovolts(*read)
            )
        }
        Compared::Current { known, read } => format!(
            "meter of current checked: {} known, {} read",
            microamperes(*known),
            microamperes(*read)
        ),
    }
}

/// What was read beside the object.
pub(crate) fn beside(beside: &Beside) -> String {
    let guard = beside.guard_ua.map(|now| format!("guard {}", microamperes(now)));
    let air = beside.temperature_c.map(|now| format!("air {:.1} °C", now.celsius()));
    let damp = beside.humidity_percent.map(|now| format!("humidity {:.0} %", now.percent()));
    let all: Vec<String> = [guard, air, damp].into_iter().flatten().collect();
    let all = if all.is_empty() { "nothing was read".to_owned() } else { all.join(", ") };
    format!("{}: {all}", beside.from)
}

/// A value that is a thousand times off.
pub(crate) fn slip(kv: Option<f64>, ua: Option<f64>, times: f64) -> String {
    let value = match (kv, ua) {
        (Some(kv), _) => format!("{kv} kV"),
        (None, Some(ua)) => format!("{ua} µA"),
        (None, None) => "a value".to_owned(),
    };
    format!("UNIT? {value} was read; times {times} it would lie where it is expected")
}

fn unknown() -> String {
    "not known".to_owned()
}

fn kilovolts(value: Voltage) -> String {
    format!("{} kV", value.kilovolts())
}

fn microamperes(value: Current) -> String {
    format!("{} µA", value.microamperes())
}
