//! Distances to keep at both ends, for the level, and longer in thin or dry air.

use quantity::{Length, Voltage, edge};
use serde::{Deserialize, Serialize};
use standards::{Citation, Library, safety};

use crate::air::{self, Struck};
use crate::course::Plan;
use crate::job::{AssetClass, Job};
use crate::words::{AroundConcern, Say, ac_equivalent_how, end_of};
use crate::{PlanIssue, level};

/// Distances to keep.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Clearance {
    /// Nobody without a task inside this.
    #[serde(rename = "barrier_m", with = "edge::m")]
    pub barrier: Length,
    /// No body or tool inside this.
    #[serde(rename = "restricted_m", with = "edge::m")]
    pub restricted: Length,
    /// Air may strike across this, thinned and dried as it is told to be.
    #[serde(rename = "strike_m", with = "edge::m")]
    pub strike: Length,
    /// Where the first two are published.
    pub source: Citation,
    /// The same at each place that stands at high voltage.
    #[serde(default)]
    pub ends: Vec<End>,
    /// What a table for alternating voltage asks for at the same peak to ground.
    #[serde(default)]
    pub ac_equivalent: Option<AcEquivalent>,
    /// Other published distances, which were not taken.
    #[serde(default)]
    pub alternatives: Vec<OtherDistance>,
}

/// A place that stands at high voltage.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct End {
    /// Which end.
    pub end: EndAt,
    /// What is there.
    pub what: String,
    /// Nobody without a task inside this.
    #[serde(rename = "barrier_m", with = "edge::m")]
    pub barrier: Length,
    /// No body or tool inside this.
    #[serde(rename = "restricted_m", with = "edge::m")]
    pub restricted: Length,
    /// Air may strike across this.
    #[serde(rename = "strike_m", with = "edge::m")]
    pub strike: Length,
}

/// An end of the object, as the set sees it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum EndAt {
    /// The end that the set is at.
    Near,
    /// The other one.
    Far,
}

/// The distance of a table for alternating voltage, taken by the same peak to ground.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct AcEquivalent {
    /// Line to line, rms, with the peak to ground that the level has.
    #[serde(rename = "class_kv", with = "edge::kv")]
    pub class: Voltage,
    /// Minimum approach for that class; none where the table ends below it.
    #[serde(rename = "approach_m", with = "edge::m")]
    pub approach: Option<Length>,
    /// How it was taken, in words.
    pub how: String,
    /// Where it is published.
    pub source: Citation,
}

/// A published distance that was not taken.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct OtherDistance {
    /// What it is for, in words.
    pub how: String,
    /// No body or tool inside this; none where the table does not serve.
    #[serde(rename = "approach_m", with = "edge::m")]
    pub approach: Option<Length>,
    /// Where it is published.
    pub source: Citation,
}

/// Distances for the level, wider in thin or dry air.
pub(crate) fn keep_away(
    plan: &mut Plan,
    job: &Job,
    library: &Library,
    issues: &mut Vec<PlanIssue>,
) {
    let Some(test) = plan.test else { return };
    let Struck { air, gap, sources } = air::around(job, library, test, issues);
    plan.air = air;
    let (Some(approach), Some(strike)) = (safety::approach(library, test), gap) else {
        issues.push(AroundConcern::DistanceUnknown { at: test }.say());
        return;
    };
    let times = in_thin_air(plan, job, library, issues);
    let barrier = wider(approach.value.barrier, times)
        .max(level::gear::barrier_at_least(job, library).unwrap_or(Length::ZERO));
    let restricted = wider(approach.value.restricted, times);
    let strike = wider(strike, 1.0);
    let ac_equivalent = ac_equivalent(library, test, times);
    let longer = ac_equivalent.approach.filter(|&approach| approach > restricted);
    if let Some(other) = longer {
        issues.push(AroundConcern::LongerForAlternating { restricted, other }.say());
    }
    plan.clearance = Some(Clearance {
        barrier,
        restricted,
        strike,
        source: approach.source.clone(),
        ends: ends(job.asset.class)
            .iter()
            .map(|&end| End { end, what: end_of(job, end).to_owned(), barrier, restricted, strike })
            .collect(),
        ac_equivalent: Some(ac_equivalent),
        alternatives: alternatives(library, test, times),
    });
    plan.sources.push(approach.source);
    plan.sources.extend(sources);
}

/// What thin air lengthens distances by; a height that nobody told is said.
fn in_thin_air(plan: &mut Plan, job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> f64 {
    let Some(altitude) = job.conditions.altitude else {
        let up_to = safety::altitude_without_factor(library).value;
        issues.push(AroundConcern::AltitudeMissing { up_to }.say());
        return 1.0;
    };
    let Some(factor) = safety::altitude_factor(library, altitude) else { return 1.0 };
    if factor.value > 1.0 {
        issues.push(AroundConcern::HighAltitude { factor: factor.value }.say());
        plan.sources.push(factor.source);
    }
    factor.value
}

/// What has two ends that may lie apart: a cable, and a bus.
const fn ends(class: AssetClass) -> &'static [EndAt] {
    match class {
        AssetClass::Cable | AssetClass::Busway | AssetClass::Switchgear => {
            &[EndAt::Near, EndAt::Far]
        }
        AssetClass::Motor
        | AssetClass::Generator
        | AssetClass::Protective
        | AssetClass::Insulator
        | AssetClass::Arrester
        | AssetClass::Breaker
        | AssetClass::Switch
        | AssetClass::Bushing
        | AssetClass::Capacitor
        | AssetClass::Other => &[EndAt::Near],
    }
}

/// Line-to-line rms voltage whose peak to ground is that direct voltage: √3/√2 times it.
fn class_of_same_peak(test: Voltage) -> Voltage {
    test * 1.5_f64.sqrt()
}

fn ac_equivalent(library: &Library, test: Voltage, times: f64) -> AcEquivalent {
    let class = class_of_same_peak(test);
    let found = safety::approach_ac(library, class);
    let source = safety::approach_ac_citation(library);
    AcEquivalent {
        class,
        // The edition has its factor of height act on the electrical part alone.
        approach: found.as_ref().map(|found| {
            let parts = found.value;
            wider(parts.reach + parts.electrical * times, 1.0)
        }),
        how: ac_equivalent_how(test, class, found.as_ref().map(|found| (found.value, times))),
        source: found.map_or(source, |found| found.source),
    }
}

fn alternatives(library: &Library, test: Voltage, times: f64) -> Vec<OtherDistance> {
    let mut others = Vec::new();
    if let Some(older) = safety::approach_older(library, test) {
        others.push(OtherDistance {
            how: "restricted, direct voltage, as earlier editions print it".to_owned(),
            approach: Some(wider(older.value, times)),
            source: older.source,
        });
    }
    if let Some(older) = safety::approach_ac_older(library, class_of_same_peak(test)) {
        others.push(OtherDistance {
            how: "minimum approach, alternating voltage of the same peak to ground, before 2014"
                .to_owned(),
            approach: Some(wider(older.value, times)),
            source: older.source,
        });
    }
    others.push(match safety::approach_dc_lines(library, test) {
        Ok(lines) => OtherDistance {
            how: "minimum approach, direct-voltage lines at the highest transient printed"
                .to_owned(),
            approach: Some(wider(lines.value, times)),
            source: lines.source,
        },
        Err(outside) => {
            let [from, to] = outside.value.map(Voltage::kilovolts);
            let how = format!("direct-voltage lines from {from} to {to} kV: does not serve here");
            OtherDistance { how, approach: None, source: outside.source }
        }
    });
    others
}

/// Rounded up to the centimetre: a distance is never shortened by rounding.
fn wider(length: Length, times: f64) -> Length {
    Length::from_metres((length.metres() * times * 100.0 - 1e-6).ceil() / 100.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Derived: 53 kV · √3/√2 = 64.91 kV has the same peak to ground, for which 29 CFR 1910.269
    /// Table R-6 of 2014 asks 1.00 m (from memory, unverified).
    #[test]
    fn the_alternating_class_has_the_same_peak_to_ground() {
        let library = Library::published();
        let test = Voltage::from_kilovolts(53.0);
        let found = ac_equivalent(&library, test, 1.0);
        assert!((found.class.kilovolts() - 64.911).abs() < 1e-3);
        let peak_to_ground = found.class.kilovolts() / 3f64.sqrt() * 2f64.sqrt();
        assert!((peak_to_ground - 53.0).abs() < 1e-9);
        assert_eq!(found.approach, Some(Length::from_metres(1.0)));
        assert!(found.how.contains("64.9"), "{}", found.how);
        // Table R-5 gives 1.20 at 3000 m, on the electrical part: 0.61 + 1.2 · 0.39 = 1.078 m.
        let high = ac_equivalent(&library, test, 1.2).approach.expect("held").metres();
        assert!((high - 1.08).abs() < 1e-9, "{high}");
        assert_eq!(ac_equivalent(&library, Voltage::from_kilovolts(60.0), 1.0).approach, None);
    }

    /// The table of direct-voltage lines begins at 250 kV: 29 CFR 1910.269 Table R-8 (from memory,
    /// unverified; that it is there was read).
    #[test]
    fn the_table_of_lines_does_not_serve_below_its_first_voltage() {
        let library = Library::published();
        let lines = |kilovolts: f64| {
            let mut others = alternatives(&library, Voltage::from_kilovolts(kilovolts), 1.0);
            others.pop().expect("always told")
        };
        assert_eq!(lines(53.0).approach, None);
        assert!(lines(53.0).how.contains("from 250 to 750 kV"));
        assert_eq!(lines(250.0).approach, Some(Length::from_metres(1.28)));
        assert_eq!(lines(300.0).approach, Some(Length::from_metres(1.95)));
        assert_eq!(lines(751.0).approach, None);
    }

    /// Editions differ from 45.1 to 75 kV, 3 ft 6 in and 3 ft 2 in, and both are shown; from
    /// memory, unverified.
    #[test]
    fn the_older_edition_is_shown_beside_the_newer() {
        let library = Library::published();
        let older = |kilovolts: f64| {
            let others = alternatives(&library, Voltage::from_kilovolts(kilovolts), 1.0);
            let older = others.into_iter().find(|one| one.how.contains("earlier editions"));
            older.and_then(|one| one.approach).map(Length::metres)
        };
        assert_eq!([older(45.0), older(75.1)], [None, None]);
        let found = older(53.0).expect("editions differ");
        assert!((found - 38.0 * 0.0254).abs() < 0.006, "{found}");
    }

    /// A barrier is no minimum approach distance: it lies outside all of them, at every voltage and
    /// height. Values of NFPA 70E 130.4(E)(b) and 29 CFR 1910.269, from memory, unverified.
    #[test]
    fn the_barrier_lies_outside_every_other_distance() {
        let library = Library::published();
        let mut checked = 0;
        for times in [1.0, 1.2, 1.44] {
            for tenth in 1..=8000 {
                let test = Voltage::from_kilovolts(f64::from(tenth) / 10.0);
                let approach = safety::approach(&library, test).expect("held to 800 kV").value;
                let barrier = wider(approach.barrier, times);
                let all = alternatives(&library, test, times).into_iter().map(|one| one.approach);
                let equivalent = ac_equivalent(&library, test, times).approach;
                let inside = [Some(wider(approach.restricted, times)), equivalent];
                for other in all.chain(inside).flatten() {
                    assert!(barrier > other, "{test:.1}: {barrier:?} {other:?}");
                    checked += 1;
                }
            }
        }
        assert!(checked > 30_000, "{checked}");
    }
}
