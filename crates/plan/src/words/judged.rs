//! What is said of the criteria that the readings are held against.

use quantity::{Current, Ratio, Resistance, Temperature, Time, Voltage};

use super::{duration, kilovolts, upward};
use crate::judged::{Judged, NotMet};

/// One criterion with its numbers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Criterion {
    NoBreakdown,
    Held { hold: Time, within: Ratio },
    Trend { earlier: Time, later: Option<Time>, most: f64 },
    Linear { most: f64 },
    Imbalance { most: f64, below: Option<Current> },
    LeastResistance { least: Resistance, at: Temperature },
    LeastByConstant { least: Resistance, at: Temperature },
    LeastIndex { least: f64, ceiling: Resistance, class_known: bool },
    Either { up_to_mva: f64, rated_mva: Option<f64> },
    Leakage { most: Current, kilofeet: f64, transformers: u32 },
    Reference { at: Current, reference: Voltage, tolerance: Ratio },
    ArresterLeakage { most: Current, at: Voltage },
}

/// What follows where a criterion is not met, behind its words.
#[must_use]
pub fn not_met(of: &Judged) -> &'static str {
    match of.not_met {
        Some(NotMet::Reject) => " Not met: reject.",
        Some(NotMet::Investigate) => " Not met: investigate.",
        Some(NotMet::Void) => " Not met: void.",
        None => "",
    }
}

/// A figure without zeros that say nothing.
pub(super) fn plain(value: f64) -> String {
    let digits = format!("{value:.3}");
    digits.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// A current that must not be passed: downwards to a tenth of a microampere.
fn at_most(current: Current) -> String {
    format!("{} µA", plain((current.microamperes() * 10.0 + 1e-6).floor() / 10.0))
}

fn at_least(resistance: Resistance) -> String {
    let megohms = upward(resistance.megohms(), 3);
    if megohms < 1000.0 {
        format!("{} MΩ", plain(megohms))
    } else {
        format!("{} GΩ", plain(megohms / 1e3))
    }
}

/// The criterion as it is printed.
pub(crate) fn criterion(of: &Criterion) -> String {
    match of {
        Criterion::NoBreakdown => "No breakdown and no flashover.".to_owned(),
        Criterion::Held { hold, within } => format!(
            "The level stands for {}, within {} %.",
            duration(*hold),
            plain(within.percent())
        ),
        Criterion::Trend { earlier, later, most } => {
            let later = later.map_or_else(|| "the end of the hold".to_owned(), duration);
            let times = if (most - 1.0).abs() < 1e-9 {
                String::new()
            } else {
                format!("{} times ", plain(*most))
            };
            format!("Current at {later} no more than {times}that at {}.", duration(*earlier))
        }
        Criterion::Linear { most } => format!(
            "Current at the highest step, absorption taken out, at most {:.0} % above proportion; \
             no knee.",
            (most - 1.0) * 100.0
        ),
        Criterion::Imbalance { most, below } => {
            let waived = below.map_or_else(String::new, |below| {
                format!(" Not looked at while all are below {}.", at_most(below))
            });
            format!(
                "Largest current of the conductors at most {} times the smallest.{waived}",
                plain(*most)
            )
        }
        Criterion::LeastResistance { least, at } => format!(
            "Resistance at 1 min, brought to {:.0} °C: at least {}.",
            at.celsius(),
            at_least(*least)
        ),
        Criterion::LeastByConstant { least, at } => format!(
            "Resistance, read at {at} or warmer: at least {}; colder, more.",
            at_least(*least)
        ),
        Criterion::LeastIndex { least, ceiling, class_known } => {
            let class = if *class_known {
                ""
            } else {
                " The thermal class is not known: the strictest, which can be met and not failed."
            };
            format!(
                "Polarization index: at least {}; says nothing above {} at 1 min.{class}",
                plain(*least),
                at_least(*ceiling)
            )
        }
        Criterion::Either { up_to_mva, rated_mva } => match rated_mva {
            Some(mva) if mva <= up_to_mva => format!(
                "Rated {} MVA: one of resistance and index is enough, up to {} MVA.",
                plain(*mva),
                plain(*up_to_mva)
            ),
            Some(mva) => format!(
                "Rated {} MVA, above {} MVA: resistance and index must both be met.",
                plain(*mva),
                plain(*up_to_mva)
            ),
            None => format!(
                "One of resistance and index is enough up to {} MVA; the rating is not known.",
                plain(*up_to_mva)
            ),
        },
        Criterion::Leakage { most, kilofeet, transformers } => format!(
            "Leakage at the end of the hold at most {}, for {} thousand feet and {transformers} \
             transformers.",
            at_most(*most),
            plain(*kilofeet)
        ),
        Criterion::Reference { at, reference, tolerance } => format!(
            "Voltage at {} within {} % of {}.",
            super::current(*at),
            plain(tolerance.percent()),
            kilovolts(*reference)
        ),
        Criterion::ArresterLeakage { most, at } => {
            format!("Leakage at {} at most {}.", kilovolts(*at), at_most(*most))
        }
    }
}
