//! What is published to keep people away from charge.

use quantity::air::AbsoluteHumidity;
use quantity::{Energy, Length, Time, Voltage};

use crate::library::{Cited, Library, Row, Table};
use crate::source::Citation;
use crate::words::GroundFamily;

/// How long a ground stays on after a test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GroundRule {
    /// Times the time at voltage.
    pub times_at_voltage: f64,
    /// And at least this long.
    pub at_least: Time,
}

/// Every rule for how long a ground stays on; the longest result rules.
#[must_use]
pub fn grounding_rules(lib: &Library, family: GroundFamily) -> Vec<Cited<GroundRule>> {
    let keys = [("family", family.key())];
    let rule = |row: &Row| Cited {
        value: GroundRule {
            times_at_voltage: row.must("times_ratio", |times| times).value,
            at_least: row.must("at_least_s", Time::from_seconds).value,
        },
        source: row.source_of(&["times_ratio", "at_least_s"]),
    };
    lib.family("grounding-time").flat_map(|table| table.matching(&keys)).map(rule).collect()
}

/// Voltage below which a discharged object is taken to be down.
#[must_use]
pub fn touch_limit(lib: &Library) -> Cited<Voltage> {
    lib.table("cal-8-ccr-2893/residual").only().must("residual_v", Voltage::from_volts)
}

/// Stored energy above which the discharge goes through the resistor first.
#[must_use]
pub fn resistor_first_above(lib: &Library) -> Cited<Energy> {
    lib.table("doe-hazard-classes/capacitor-shock").only().must("energy_j", Energy::from_joules)
}

/// Approach distances.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Approach {
    /// The barrier: unqualified people stay outside of it.
    pub barrier: Length,
    /// Nobody goes nearer without the measures for it.
    pub restricted: Length,
}

/// Approach distances for a direct voltage; `None` above the last row.
#[must_use]
pub fn approach(lib: &Library, voltage: Voltage) -> Option<Cited<Approach>> {
    let table = lib.table("nfpa-70e-2024/approach-dc");
    let kilovolts = voltage.kilovolts();
    let barrier = table.along(kilovolts, "to_kv", "barrier_m")?;
    let restricted = table.along(kilovolts, "to_kv", "restricted_m")?;
    Some(barrier.map(|barrier| Approach {
        barrier: Length::from_metres(barrier),
        restricted: Length::from_metres(restricted.value),
    }))
}

/// The restricted distance as earlier editions print it, where it differs; `None` elsewhere.
#[must_use]
pub fn approach_older(lib: &Library, voltage: Voltage) -> Option<Cited<Length>> {
    let rows = lib.table("nfpa-70e-older/approach-dc").rows.iter();
    Table::range(rows, voltage)?.value("restricted_m", Length::from_metres)
}

/// A minimum approach distance for alternating voltage, in its parts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AcApproach {
    /// What a hand may stray by.
    pub reach: Length,
    /// What air may strike across; thin air lengthens this part alone.
    pub electrical: Length,
}

/// Minimum approach for a line-to-line voltage; `None` above the last row.
#[must_use]
pub fn approach_ac(lib: &Library, class: Voltage) -> Option<Cited<AcApproach>> {
    let parts = lib.table("osha-1910.269-2014/approach-parts");
    let reach = parts.along(class.kilovolts(), "to_kv", "reach_m")?;
    let electrical = parts.along(class.kilovolts(), "to_kv", "electrical_m")?;
    Some(reach.map(|reach| AcApproach {
        reach: Length::from_metres(reach),
        electrical: Length::from_metres(electrical.value),
    }))
}

/// Where the minimum approach for alternating voltage stands.
#[must_use]
pub fn approach_ac_citation(lib: &Library) -> Citation {
    let rows = &lib.table("osha-1910.269-2014/approach-parts").rows;
    rows.last().expect("no embedded table is empty; tested").source.clone()
}

/// The same as the rule printed it before 2014.
#[must_use]
pub fn approach_ac_older(lib: &Library, class: Voltage) -> Option<Cited<Length>> {
    let table = lib.table("osha-1910.269-older/approach-ac");
    let approach = table.along(class.kilovolts(), "to_kv", "approach_m")?;
    Some(approach.map(Length::from_metres))
}

/// Minimum approach to lines at direct voltage, at the highest transient that is printed.
///
/// # Errors
/// With the voltages that the table serves, where it does not serve this one.
pub fn approach_dc_lines(
    lib: &Library,
    voltage: Voltage,
) -> Result<Cited<Length>, Cited<[Voltage; 2]>> {
    let table = lib.table("osha-1910.269-2014/approach-dc");
    let found = table.along(voltage.kilovolts(), "to_kv", "approach_m");
    found.map(|found| found.map(Length::from_metres)).ok_or_else(|| {
        let row = table.only();
        let end = |row: &Row| row.must("to_kv", Voltage::from_kilovolts).value;
        let last = table.rows.last().map_or_else(|| end(row), end);
        Cited { value: [end(row), last], source: row.source.clone() }
    })
}

/// Gap between needle points that a peak voltage strikes across; `None` above the last row.
#[must_use]
pub fn needle_gap(lib: &Library, voltage: Voltage) -> Option<Cited<Length>> {
    let table = lib.table("aiee-gaps/needle-points");
    let gap = table.along(voltage.kilovolts(), "peak_kv", "gap_cm")?;
    Some(gap.map(|centimetres| Length::from_metres(centimetres / 100.0)))
}

/// Factor on distances in thin air; `None` above the last row.
#[must_use]
pub fn altitude_factor(lib: &Library, altitude: Length) -> Option<Cited<f64>> {
    lib.table("osha-1910.269-2014/altitude").along(altitude.metres(), "to_m", "factor")
}

/// Height up to which no distance grows.
#[must_use]
pub fn altitude_without_factor(lib: &Library) -> Cited<Length> {
    lib.table("osha-1910.269-2014/altitude").only().must("to_m", Length::from_metres)
}

/// Humidities over relative density that the factor of humidity is published for.
#[must_use]
pub fn humidity_range(lib: &Library) -> Cited<[AbsoluteHumidity; 2]> {
    let row = lib.table("iec-60060-1-2010/humidity").only();
    let grams = AbsoluteHumidity::from_grams_per_cubic_metre;
    let most = row.must("most_g_per_m3", grams).value;
    row.must("least_g_per_m3", grams).map(|least| [least, most])
}

/// Where the formula of the gap of rods stands, which serves voltages above [`needle_gap`].
#[must_use]
pub fn rod_gap_citation(lib: &Library) -> Citation {
    lib.table("iec-60052-2002/rods").only().source.clone()
}
