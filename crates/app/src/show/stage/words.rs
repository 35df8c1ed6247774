//! The words of the scene.

use session::live::View;
use session::state::ActKind;

use super::{Lies, Standing, Strength};

impl Standing {
    /// The largest word on the screen.
    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::NotEnergised => "NOT ENERGISED YET",
            Self::Hazardous => "HAZARDOUS",
            Self::LinkLost => "HAZARDOUS, LINK LOST",
            Self::NoGround => "NO GROUND ON",
            Self::Grounded => "GROUNDED",
        }
    }

    /// The shape beside it.
    pub(crate) const fn shape(self) -> &'static str {
        match self {
            Self::NotEnergised | Self::NoGround => "○",
            Self::Hazardous | Self::LinkLost => "▲",
            Self::Grounded => "⏚",
        }
    }

    /// As an attribute.
    pub(crate) const fn key(self) -> &'static str {
        match self {
            Self::NotEnergised => "not-energised",
            Self::Hazardous => "hazardous",
            Self::LinkLost => "link-lost",
            Self::NoGround => "no-ground",
            Self::Grounded => "grounded",
        }
    }
}

impl Lies {
    /// How a current lies to what is expected.
    pub(crate) const fn said(self) -> &'static str {
        match self {
            Self::Inside => "= inside the expected",
            Self::Above => "▲ ABOVE the expected",
            Self::Below => "▼ below the expected",
            Self::Unknown => "· expected",
        }
    }

    /// As an attribute.
    pub(crate) const fn key(self) -> &'static str {
        match self {
            Self::Inside => "inside",
            Self::Above => "above",
            Self::Below => "below",
            Self::Unknown => "unknown",
        }
    }
}

/// The word for how strongly something is advised.
pub(crate) const fn word(strength: Strength) -> &'static str {
    match strength {
        Strength::CarryOn => "Carry on",
        Strength::Watch => "Watch",
        Strength::HoldHere => "Hold here",
        Strength::ComeDown => "Come down",
    }
}

/// What a hand did or an eye saw, as a statement of what is past.
pub(crate) const fn statement(act: ActKind) -> &'static str {
    match act {
        ActKind::Lead => "The lead was moved to it",
        ActKind::Check => "Everything on the checklist was looked at",
        ActKind::Blank => "The lead was taken off it: lead and set are read alone",
        ActKind::Energise => "High voltage was switched on at the set, dial at zero",
        ActKind::Rise => "The dial was taken upwards, the voltage rises",
        ActKind::Dwell => "The level of this step was reached",
        ActKind::Hold => "The test level was reached",
        ActKind::Trip => "The set tripped",
        ActKind::Flashover => "It flashed over outside, along the surface",
        ActKind::Breakdown => "The insulation broke down",
        ActKind::Stop => "The dial was taken downwards, the voltage falls",
        ActKind::Abort => "High voltage was cut at once, from where it stood",
        ActKind::Off => "The dial was brought to zero and high voltage was switched off at the set",
        ActKind::Residual => "The voltage left on it was read",
        ActKind::Tool => "The discharge tool was laid on",
        ActKind::Ground => "A solid ground was put on",
        ActKind::Lift => "A ground was taken off",
        ActKind::Leave => "A ground stays on and was handed over",
        ActKind::Cause => "It was found out why the voltage ended",
        ActKind::Again => "It was decided to apply voltage again",
        ActKind::End => "It was decided that no voltage follows",
        ActKind::Reset => "The trip was reset at the set",
        ActKind::Zero => "The dial was seen at zero",
        ActKind::Release => "It was handed back",
    }
}

/// What is being waited for, at this moment.
pub(super) fn waited_for(view: &View) -> Option<(&'static str, quantity::Time)> {
    let stay = view.step.as_ref().and_then(|step| {
        let what = if step.is_hold { "Hold left" } else { "Step left" };
        Some((what, step.left?))
    });
    let ground = view.ground_left.map(|left| ("Ground stays on", left));
    let watch = view.watch_left.map(|left| ("Watch left", left));
    stay.or(ground).or(watch)
}
