//! What is published for switchgear.

use quantity::{Length, Resistance, Temperature, Time, Voltage};

use crate::Level;
use crate::level::hold;
use crate::library::{Cited, Library, Table};
use crate::words::{BuswayKind, How, SwitchgearKind};

/// Levels for switchgear, the newest edition first; `voltage` is `None` where none is printed.
#[must_use]
pub fn levels(lib: &Library, kind: SwitchgearKind, rated: Voltage) -> Vec<Level> {
    family(lib, "switchgear-level", &[("kind", kind.key())], rated)
}

/// Levels for metal-enclosed bus; `voltage` is `None` where none is printed.
#[must_use]
pub fn busway_levels(lib: &Library, kind: BuswayKind, rated: Voltage) -> Vec<Level> {
    family(lib, "busway-level", &[("kind", kind.key())], rated)
}

/// Levels for apparatus that has no table of its own and is not inductive: breakers and switches,
/// across no vacuum gap.
#[must_use]
pub fn apparatus_levels(lib: &Library, rated: Voltage) -> Vec<Level> {
    family(lib, "apparatus-level", &[], rated)
}

fn family(lib: &Library, family: &str, keys: &[(&str, &str)], rated: Voltage) -> Vec<Level> {
    let mut found: Vec<(Option<i16>, Level)> = lib
        .tables()
        .filter(|(_, table)| table.family.as_deref() == Some(family))
        .filter_map(|(edition, table)| Some((edition.year, level(lib, table, keys, rated)?)))
        .collect();
    found.sort_by_key(|(year, _)| std::cmp::Reverse(*year));
    found.into_iter().map(|(_, level)| level).collect()
}

fn level(lib: &Library, table: &Table, keys: &[(&str, &str)], rated: Voltage) -> Option<Level> {
    let (row, exact_class) = table.class(table.matching(keys), rated)?;
    let voltage = row.value("dc_kv", Voltage::from_kilovolts);
    let time = hold(lib, table, row, keys);
    let how = How::Switchgear { printed: voltage.is_some() };
    Some(Level {
        rule: table.id.clone(),
        how: how.to_string(),
        voltage: voltage.as_ref().map(|cited| cited.value),
        hold: time.as_ref().map(|(time, _)| *time),
        hold_source: time.map(|(_, source)| source),
        class: row.number("class_kv").map(Voltage::from_kilovolts),
        exact_class,
        source: voltage.map_or_else(|| row.source.clone(), |cited| cited.source),
    })
}

/// How far from a vacuum bottle under test voltage the radiation it may give has fallen to what it
/// may give at its rated voltage: r = r₁·√(test/rated), by the square of the distance.
#[must_use]
pub fn x_ray_distance(lib: &Library) -> Cited<Length> {
    let row = lib.table("ieee-c37.85-2002/x-rays").only();
    let at_test = row.must("at_test_mr_per_h", |limit| limit).value;
    let at_rated = row.must("at_rated_mr_per_h", |limit| limit);
    let times = (at_test / at_rated.value).sqrt();
    let measured = row.must("measured_at_m", Length::from_metres);
    Cited { value: measured.value * times, source: at_rated.source }
}

/// Least resistance of apparatus, and the voltage to read it at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ApparatusMinimum {
    /// Direct voltage of the resistance test.
    pub test: Voltage,
    /// Least resistance.
    pub minimum: Resistance,
}

/// Guide value for the resistance of apparatus other than rotating machines.
#[must_use]
pub fn resistance_minimum(lib: &Library, rated: Voltage) -> Option<Cited<ApparatusMinimum>> {
    let table = lib.table("neta-mts-2019/insulation-resistance");
    let (row, _) = table.class(table.rows.iter(), rated)?;
    let minimum = row.must("least_mohm", Resistance::from_megohms);
    let test = row.must("test_v", Voltage::from_volts).value;
    Some(minimum.map(|minimum| ApparatusMinimum { test, minimum }))
}

/// What insulates an apparatus, where its resistance is brought to another temperature.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum InsulatedBy {
    /// Oil.
    Oil,
    /// Solid material.
    Solid,
}

/// Where the published factors lead, and what the guide values are for.
pub const FACTORS_TO: Temperature = Temperature::from_celsius(20.0);

/// Factor that brings a resistance read at a temperature to 20 °C; `None` outside of the table.
#[must_use]
pub fn factor_to_20(lib: &Library, by: InsulatedBy, at: Temperature) -> Option<Cited<f64>> {
    let column = match by {
        InsulatedBy::Oil => "oil_ratio",
        InsulatedBy::Solid => "solid_ratio",
    };
    // A temperature in kelvins comes back a hair off its degrees.
    let celsius = (at.celsius() * 1e9).round() / 1e9;
    lib.table("neta-mts-2019/temperature-factors").along(celsius, "at_c", column)
}

/// Shortest and longest time from zero to the level; `None` for gear of which none is published.
#[must_use]
pub fn rise_within(lib: &Library, kind: SwitchgearKind) -> Option<Cited<[Time; 2]>> {
    let row = lib.table("ieee-c37.20.1/rise").find(&[("kind", kind.key())])?;
    let least = row.must("least_s", Time::from_seconds).value;
    Some(row.must("most_s", Time::from_seconds).map(|most| [least, most]))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// NETA MTS-2019, Table 100.14, from memory, unverified: one at the temperature it leads to.
    #[test]
    fn factors_lead_to_where_they_are_one() {
        for by in [InsulatedBy::Oil, InsulatedBy::Solid] {
            let at = factor_to_20(&Library::published(), by, FACTORS_TO).expect("in the table");
            assert!((at.value - 1.0).abs() < 1e-12, "{at:?}");
        }
    }

    /// Rule and kilovolts of every level, newest edition first.
    fn check(kind: SwitchgearKind, kilovolts: f64, expected: &[(&str, Option<f64>)]) {
        let found = levels(&Library::published(), kind, Voltage::from_kilovolts(kilovolts));
        let found: Vec<(&str, Option<f64>)> = found
            .iter()
            .map(|level| (level.rule.as_str(), level.voltage.map(|v| v.kilovolts())))
            .collect();
        assert_eq!(found, expected);
    }

    // ANSI/NETA MTS-2019 Table 100.2.
    #[test]
    fn metal_clad_gear_by_class() {
        let table = "neta-mts-2019/switchgear";
        check(SwitchgearKind::MetalClad, 15.0, &[(table, Some(37.5))]);
        check(SwitchgearKind::MetalClad, 13.8, &[(table, Some(37.5))]);
        check(SwitchgearKind::MetalClad, 4.16, &[(table, Some(20.0))]);
        check(SwitchgearKind::MetalClad, 27.0, &[(table, None)]);
        check(SwitchgearKind::MetalClad, 40.0, &[]);
        // 12.47 kV is a system of the 15 kV class; 12 kV is a rating of another system of classes.
        check(SwitchgearKind::MetalClad, 12.47, &[(table, Some(37.5))]);
        check(SwitchgearKind::MetalClad, 12.0, &[]);
        check(SwitchgearKind::LowVoltage, 0.48, &[(table, Some(2.3))]);
        let level = &levels(
            &Library::published(),
            SwitchgearKind::MetalClad,
            Voltage::from_kilovolts(15.0),
        )[0];
        assert_eq!(level.hold.map(|hold| hold.seconds()), Some(60.0));
    }

    // The 2019 edition as a copy that is hard to read; older editions from memory, unverified.
    #[test]
    fn editions_that_differ_on_interrupter_gear_both_stand() {
        check(
            SwitchgearKind::MetalEnclosedInterrupter,
            15.0,
            &[("neta-mts-2019/switchgear", None), ("neta-mts-older/switchgear", Some(37.0))],
        );
    }

    // ANSI/NETA MTS-2019 Table 100.1.
    #[test]
    fn guide_values_for_resistance() {
        for (rated, test, minimum) in [
            (0.24, 500.0, 25.0),
            (13.8, 2500.0, 5000.0),
            (15.0, 2500.0, 5000.0),
            (69.0, 5000.0, 100_000.0),
        ] {
            let found = resistance_minimum(&Library::published(), Voltage::from_kilovolts(rated));
            let found = found.map(|f| (f.value.test.volts(), f.value.minimum.megohms()));
            assert_eq!(found, Some((test, minimum)), "{rated} kV");
        }
    }

    // NETA Table 100.14, from memory, unverified; between two rows by a straight line.
    #[test]
    fn resistances_are_brought_to_twenty_degrees() {
        let lib = Library::published();
        let at = |by, celsius| {
            let found = factor_to_20(&lib, by, Temperature::from_celsius(celsius));
            found.map(|cited| (cited.value * 1e6).round() / 1e6)
        };
        for (celsius, oil, solid) in
            [(0.0, 0.25, 0.4), (20.0, 1.0, 1.0), (22.5, 1.2, 1.15), (40.0, 3.95, 2.5)]
        {
            assert_eq!(at(InsulatedBy::Oil, celsius), Some(oil));
            assert_eq!(at(InsulatedBy::Solid, celsius), Some(solid));
        }
        assert_eq!(at(InsulatedBy::Solid, -5.0), None);
        assert_eq!(at(InsulatedBy::Solid, 80.0), None);
        // Derived: to 40 °C the factor at 30 °C is a quotient of two.
        let to_40 = at(InsulatedBy::Solid, 30.0).zip(at(InsulatedBy::Solid, 40.0));
        assert!(to_40.is_some_and(|(here, base)| (here / base - 0.64).abs() < 1e-9));
    }

    // An extract of the standard of low-voltage switchgear: from zero within 5 to 10 s.
    #[test]
    fn low_voltage_gear_is_raised_within_ten_seconds() {
        let lib = Library::published();
        let found = rise_within(&lib, SwitchgearKind::LowVoltage).expect("it is published");
        assert_eq!(found.value.map(|time| time.seconds()), [5.0, 10.0]);
        assert_eq!(rise_within(&lib, SwitchgearKind::MetalClad), None);
    }
}
