//! The words of the scene.

use advise::Reason;
use quantity::{Band, Current, Voltage};
use session::live::View;
use session::state::ActKind;

use super::{Lies, Standing, Urge};

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
    /// Where a current lies to its band.
    pub(crate) fn of(band: Band<Current>, current: Option<Current>) -> Self {
        match current {
            None => Self::Unknown,
            Some(value) if value > band.high => Self::Above,
            Some(value) if value < band.low => Self::Below,
            Some(_) => Self::Inside,
        }
    }

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

impl Urge {
    /// What to do, in the largest words of advice.
    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::Unknown => "No advice",
            Self::CarryOn => "Carry on",
            Self::Watch => "Watch",
            Self::HoldHere => "Hold here",
            Self::ComeDown => "Come down",
        }
    }

    /// The shape beside it.
    pub(crate) const fn shape(self) -> &'static str {
        match self {
            Self::Unknown => "?",
            Self::CarryOn => "○",
            Self::Watch => "◆",
            Self::HoldHere => "■",
            Self::ComeDown => "▼",
        }
    }

    /// As an attribute.
    pub(crate) const fn key(self) -> &'static str {
        match self {
            Self::Unknown => "unknown",
            Self::CarryOn => "carry-on",
            Self::Watch => "watch",
            Self::HoldHere => "hold-here",
            Self::ComeDown => "come-down",
        }
    }
}

/// What is tested where this is the reason.
pub(super) const fn how(reason: &Reason) -> Option<&'static str> {
    Some(match reason {
        Reason::Rising { .. } => {
            "Tested: a rise against the noise of the meter and against absorption, which only \
             falls; the error of the test is spent over the whole application, not per reading"
        }
        Reason::Jump { .. } => {
            "Tested: the step between readings against the noise of the meter before it"
        }
        Reason::Unrest { .. } => {
            "Tested: the scatter now against the scatter before, trend and absorption taken out"
        }
        Reason::TurnsUp { .. } => {
            "Tested: the current at this level against what the levels before lead to expect"
        }
        Reason::AboveBand { .. } => {
            "Tested: against the band alone, which is wide where little is known of the object; \
             alone it asks to watch, no more"
        }
        Reason::TripNear { .. } => {
            "Reckoned: the upper end of what the next step may bring, against the trip as set"
        }
        Reason::ForecastNear { .. } => {
            "Reckoned by a model from this test alone: an estimate and no rating. It may lower \
             where to stop and never raises it"
        }
        Reason::ChargingLimit { .. } => {
            "Reckoned: the current while the voltage rises, against what the set gives"
        }
        Reason::Sagging { .. } => {
            "Tested: two readings in a row below what was held, with more current"
        }
        Reason::Corona { .. } => {
            "Air at the ends carries current that is not in the insulation: a guard, or leads and \
             set alone, tell them apart"
        }
        _ => return None,
    })
}

/// Upwards, to the tenth of a kilovolt; below that to ten volts.
pub(crate) fn up(voltage: Voltage) -> String {
    let volts = voltage.volts();
    // A millionth of the last digit is what arithmetic may add.
    // Nothing at all has no sign.
    let whole = |per: f64| ((volts / per - 1e-6).ceil() + 0.0).max(0.0) * per;
    match volts > 100.0 {
        true => format!("{:.1} kV", whole(100.0) / 1000.0),
        false => format!("{:.0} V", whole(10.0)),
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
