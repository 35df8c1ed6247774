//! What is said of an arrester that is measured.

use quantity::{Current, Voltage};
use standards::Citation;
use standards::arrester::ArresterReference;

use super::{Say, current, kilovolts, refuse, warn};
use crate::PlanIssue;

/// A concern about an arrester that is measured.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum ArresterConcern {
    NoWithstand,
    ReferenceMissing {
        how: ArresterReference,
        source: Citation,
    },
    Measured {
        reference: Voltage,
        most: Voltage,
        leak_at: Voltage,
        leakage: Current,
        how: ArresterReference,
    },
    FromMemory {
        source: Citation,
        published: bool,
    },
}

impl Say for ArresterConcern {
    fn say(&self) -> PlanIssue {
        match self {
            Self::NoWithstand => refuse(
                "arrester-is-measured",
                "An arrester conducts: it is measured and never proved by a level, whoever asks."
                    .to_owned(),
                "Take [test] test_kv out, and write the maker's reference voltage as \
                 [asset.arrester] reference_kv."
                    .to_owned(),
            ),
            Self::ReferenceMissing { how, source } => refuse(
                "arrester-reference-missing",
                format!(
                    "The reference voltage of the arrester is not known, and none is published: \
                     it is the maker's. Measured are ({source}; from memory, check your copy) the \
                     voltage at {}, within {:.0} % of it, then at {:.0} % of it no more than \
                     {}.",
                    current(how.reference),
                    how.tolerance.percent(),
                    how.part.percent(),
                    current(how.leakage)
                ),
                "Bring the maker's sheet or the first reading: [asset.arrester] reference_kv, and \
                 leakage_limit_ua where the maker names one. The plate's rated voltage is not it."
                    .to_owned(),
            ),
            Self::Measured { reference, most, leak_at, leakage, how } => warn(
                "arrester-stop-at-current",
                format!(
                    "Current rules, not voltage: write down the kilovolts where {} flow, and \
                     come down at once. It is to be within {:.0} % of {}; never above {}.",
                    current(how.reference),
                    how.tolerance.percent(),
                    kilovolts(*reference),
                    kilovolts(*most)
                ),
                format!(
                    "On the way up stay at {} and read the leakage: no more than {}. \
                     Nothing is withstood; the last step is a bound and no level to reach.",
                    kilovolts(*leak_at),
                    current(*leakage)
                ),
            ),
            Self::FromMemory { source, published } => warn(
                "from-memory",
                format!(
                    "From memory, not checked: reference current, tolerance and the part where \
                     leakage is read{}, {}, {}.",
                    if *published { ", and the most that leaks" } else { "" },
                    source.title,
                    source.edition
                ),
                "Check your own copy and the maker's sheet; the maker's figures rule.".to_owned(),
            ),
        }
    }
}
