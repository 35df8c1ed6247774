//! What is published for the discharge of capacitors.

use quantity::{Time, Voltage};

use crate::library::{Cited, Library, Table};

/// To which voltage a capacitor is discharged, and within what time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Residual {
    /// The voltage.
    pub voltage: Voltage,
    /// The time.
    pub within: Time,
}

/// What a capacitor's own discharge device must do, by its rated voltage.
#[must_use]
pub fn residual(lib: &Library, rated: Voltage) -> Cited<Residual> {
    let small = lib.table("nec-460/residual");
    let high = lib.table("cal-8-ccr-2893/residual").only();
    let bounded = small.rows.iter().filter(|row| row.number("to_kv").is_some());
    let row = Table::range(bounded, rated).unwrap_or(high);
    let voltage = row.must("residual_v", Voltage::from_volts).value;
    row.must("within_s", Time::from_seconds).map(|within| Residual { voltage, within })
}

#[cfg(test)]
mod tests {
    use super::*;

    // 8 CCR 2893: 50 V within five minutes; NEC 460.6(A), as a secondary text quotes it, one minute
    // up to 600 V.
    #[test]
    fn a_capacitor_comes_to_fifty_volts_within_minutes() {
        for (kilovolts, seconds, id) in [
            (0.48, 60.0, "nec-460/residual"),
            (0.6, 60.0, "nec-460/residual"),
            (4.16, 300.0, "cal-8-ccr-2893/residual"),
            (25.0, 300.0, "cal-8-ccr-2893/residual"),
        ] {
            let found = residual(&Library::published(), Voltage::from_kilovolts(kilovolts));
            assert_eq!(found.value.voltage, Voltage::from_volts(50.0));
            assert_eq!(found.value.within.seconds(), seconds, "{kilovolts} kV");
            assert_eq!(found.source.id, id);
        }
    }

    // Derived, rule of 8 CCR 2893: 1 µF from 25 kV to 50 V in 300 s takes 48.2734 MΩ at the most.
    #[test]
    fn the_largest_bleeder_follows_from_the_rule() {
        let rule = residual(&Library::published(), Voltage::from_kilovolts(25.0)).value;
        let times = (25_000.0 / rule.voltage.volts()).ln();
        let megohms = rule.within.seconds() / (times * 1e-6) / 1e6;
        assert!((megohms - 48.2734).abs() < 1e-4, "{megohms}");
    }
}
