//! What is published for metal-oxide surge arresters: a measurement, never a withstand.

use quantity::{Current, Ratio};

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
}
