//! What is said of an arrester, in words.

use quantity::{Current, Time, Voltage};

use crate::words::{Next, time};

/// What a finding on an arrester says.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum ArresterSaid {
    NotProved,
    NoLevel,
    NoHold,
    ReferenceMet { volts: Voltage, at: Current },
    ReferenceOff { volts: Voltage, at: Current, low: Voltage, high: Voltage },
    ReferenceOpen { volts: Voltage, at: Current },
    ReferenceAbove { top: Voltage, most: Current, at: Current },
    ReferenceNever { top: Voltage, most: Current, at: Current },
    ReadTooFar { current: Current },
    LeakageMet { current: Current, level: Voltage },
    LeakageAbove { current: Current, level: Voltage, limit: Current },
    LeakageOpen { current: Current, level: Voltage, limit: Current },
    LeakageUnread { level: Voltage },
}

/// One line of a chain.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum ArresterLink {
    Read { current: Current, voltage: Voltage, at: Time },
    Crossed { volts: Voltage, at: Current },
    Doubt { expanded: Voltage },
    Limits { low: Voltage, high: Voltage, of: Voltage },
    Most { top: Voltage, most: Current },
    LeakDoubt { expanded: Current },
}

/// What to do next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum ArresterNext {
    AskMaker,
    ReadNearer,
    CleanAndReadAgain,
    ReadLeakage,
}

impl ArresterSaid {
    /// A finding's text.
    pub(crate) fn text(&self) -> String {
        match self {
            Self::NotProved => "An arrester is measured; nothing is said of withstand.".into(),
            Self::NoLevel => "The reference current rules, so no level is held against.".into(),
            Self::NoHold => "An arrester is not held at its reference; no hold is asked.".into(),
            Self::ReferenceMet { volts, at } => {
                format!("{at:.3} flow at {volts:.3}, within the limits of the maker's figure.")
            }
            Self::ReferenceOff { volts, at, low, high } => format!(
                "{at:.3} flow at {volts:.3}; from {low:.3} to {high:.3} is allowed. Keep it out \
                 of use and ask the maker."
            ),
            Self::ReferenceOpen { volts, at } => format!(
                "{at:.3} flow at {volts:.3}; its doubt reaches across a limit. Read it again \
                 nearer to that current, on a finer range."
            ),
            Self::ReferenceAbove { top, most, at } => format!(
                "At {top:.3} no more than {most:.3} flowed: {at:.3} lie above the highest voltage \
                 allowed. Look for an open connection, then ask the maker."
            ),
            Self::ReferenceNever { top, most, at } => format!(
                "The current came to {most:.3} at {top:.3}; {at:.3} was not reached. Repeat it."
            ),
            Self::ReadTooFar { current } => format!(
                "The reading nearest to the reference current is {current:.3}: too far from it. \
                 Repeat it, with a reading close to that current."
            ),
            Self::LeakageMet { current, level } => format!("{current:.3} leak at {level:.3}."),
            Self::LeakageAbove { current, level, limit } => format!(
                "{current:.3} leak at {level:.3}; {limit:.3} is the most. Clean and dry the \
                 housing, read it again with a guard; the same again: keep it out of use."
            ),
            Self::LeakageOpen { current, level, limit } => format!(
                "{current:.3} leak at {level:.3}; {limit:.3} is the most and lies inside the \
                 doubt. Read it on a finer range."
            ),
            Self::LeakageUnread { level } => {
                format!("The leakage at {level:.3} was not read. Repeat it and read.")
            }
        }
    }

    /// What to do next, if anything.
    pub(crate) fn next(&self) -> Option<Next> {
        let next = match self {
            Self::NotProved
            | Self::NoLevel
            | Self::NoHold
            | Self::ReferenceMet { .. }
            | Self::LeakageMet { .. } => return None,
            Self::ReferenceOff { .. } | Self::ReferenceAbove { .. } => ArresterNext::AskMaker,
            Self::ReferenceOpen { .. } | Self::ReferenceNever { .. } | Self::ReadTooFar { .. } => {
                ArresterNext::ReadNearer
            }
            Self::LeakageAbove { .. } => ArresterNext::CleanAndReadAgain,
            Self::LeakageOpen { .. } | Self::LeakageUnread { .. } => ArresterNext::ReadLeakage,
        };
        Some(Next::Arrester(next))
    }
}

impl ArresterLink {
    /// The line.
    pub(crate) fn text(&self) -> String {
        match self {
            Self::Read { current, voltage, at } => {
                format!("Reading: {current:.4} at {voltage:.4}, {} after energising", time(*at))
            }
            Self::Crossed { volts, at } => {
                format!("Value: {at:.3} begin to flow at {volts:.4}")
            }
            Self::Doubt { expanded } => {
                format!("Doubt: {expanded:.2} expanded, k = 2: meters, and between readings")
            }
            Self::Limits { low, high, of } => {
                format!("Criterion: from {low:.4} to {high:.4}, about the maker's {of:.4}")
            }
            Self::Most { top, most } => format!("Reading: {most:.4} the most, up to {top:.4}"),
            Self::LeakDoubt { expanded } => {
                format!("Doubt: {expanded:.2} expanded, k = 2, of the ammeter")
            }
        }
    }
}

impl ArresterNext {
    /// The sentence.
    pub(crate) fn text(self) -> String {
        match self {
            Self::AskMaker => "Keep it out of use; ask the maker with these readings.",
            Self::ReadNearer => {
                "Repeat it: read the kilovolts where the reference current flows, in small steps."
            }
            Self::CleanAndReadAgain => {
                "Clean and dry the housing, guard the surface, then read the leakage again."
            }
            Self::ReadLeakage => "Read the leakage again, on a range that shows it well.",
        }
        .to_owned()
    }
}
