//! What is published for metal-oxide surge arresters: a measurement, never a withstand.

use quantity::{Current, Ratio, Time};

use crate::library::{Cited, Library};

/// How a metal-oxide arrester is measured at direct voltage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ArresterReference {
    /// The voltage at this current is its reference voltage.
    pub reference: Current,
    /// How far that voltage may stand off its first value.
    pub tolerance: Ratio,
    /// Part of the reference voltage at which leakage is then read.
    pub part: Ratio,
    /// The most that leaks there.
    pub leakage: Current,
}

/// How a metal-oxide arrester is measured at direct voltage.
#[must_use]
pub fn reference(lib: &Library) -> Cited<ArresterReference> {
    let row = lib.table("gb-50150/arrester").only();
    let reference = row.must("reference_ma", Current::from_milliamperes).value;
    let tolerance = row.must("tolerance_percent", Ratio::from_percent).value;
    let part = row.must("part_percent", Ratio::from_percent).value;
    row.must("leakage_ua", Current::from_microamperes).map(|leakage| ArresterReference {
        reference,
        tolerance,
        part,
        leakage,
    })
}

/// How a metal-oxide arrester is raised.
#[derive(Clone, Debug, PartialEq)]
pub struct ArresterRise {
    /// From zero to its reference voltage.
    pub whole_rise: Time,
    /// How long the leakage stands before it is read.
    pub leakage_dwell: Time,
    /// The least that a sound one usually leaks where leakage is read.
    pub least: Current,
    /// What a sound one usually leaks there.
    pub usual: Current,
    /// Parts of its reference voltage beyond that, and how long each stands.
    pub near: Vec<(Ratio, Time)>,
}

/// How a metal-oxide arrester is raised.
#[must_use]
pub fn rise(lib: &Library) -> Cited<ArresterRise> {
    let row = lib.table("practice/arrester").only();
    let steps = &lib.table("practice/arrester-steps").rows;
    let seconds = |column| row.must(column, Time::from_seconds).value;
    let (leakage_dwell, usual) =
        (seconds("dwell_s"), row.must("mid_ua", Current::from_microamperes).value);
    let least = row.must("low_ua", Current::from_microamperes).value;
    row.must("whole_rise_s", Time::from_seconds).map(|whole_rise| ArresterRise {
        whole_rise,
        leakage_dwell,
        least,
        usual,
        near: steps
            .iter()
            .map(|step| {
                let part = step.must("part_percent", Ratio::from_percent).value;
                (part, step.must("dwell_s", Time::from_seconds).value)
            })
            .collect(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    // DL/T 596 and GB 50150, from memory, unverified.
    #[test]
    fn an_arrester_is_measured_at_one_milliampere_and_at_three_quarters_of_that_voltage() {
        let found = reference(&Library::published());
        assert_eq!(found.value.reference, Current::from_milliamperes(1.0));
        assert_eq!(found.value.part, Ratio::from_percent(75.0));
        assert_eq!(found.value.leakage, Current::from_microamperes(50.0));
        assert_eq!(found.source.mark, crate::Mark::Memory);
    }

    // Common practice, no source: small steps from where leakage is read to the reference.
    #[test]
    fn an_arrester_is_raised_in_small_steps_near_its_knee() {
        let (lib, one) = (Library::published(), Ratio::from_percent(100.0));
        let found = rise(&lib).value;
        let parts: Vec<f64> = found.near.iter().map(|(part, _)| part.percent()).collect();
        assert!(parts.windows(2).all(|two| two[0] < two[1]), "{parts:?}");
        assert!(parts[0] > reference(&lib).value.part.percent());
        assert_eq!(found.near.last().map(|(part, _)| *part), Some(one));
        assert!(found.least < found.usual && found.usual < reference(&lib).value.leakage);
    }
}
