//! The practice set as a device behind a wire, in lock-step or by the clock.

use std::time::Instant;

use instrument::serve::Device;
use plan::{Job, Plan};
use practice::{FaultKind, Habits, Hand, Rig, Skin};
use quantity::Time;

use super::Pace;
use crate::output::Trouble;

/// What a practice set is to be like.
#[derive(Clone, Debug, Default)]
pub(crate) struct Wish {
    /// What its objects are drawn by.
    pub(crate) seed: u64,
    /// What is wrong with one of them.
    pub(crate) fault: Option<FaultWish>,
}

/// A fault, and in which conductor.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct FaultWish {
    kind: FaultKind,
    conductor: Option<String>,
}

impl std::str::FromStr for FaultWish {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let (name, conductor) = match text.split_once(':') {
            Some((name, conductor)) => (name, Some(conductor.to_owned())),
            None => (text, None),
        };
        let known = || {
            let names: Vec<&str> = FaultKind::ALL.iter().map(|one| one.key()).collect();
            format!("write one of {}, and :CONDUCTOR where it matters", names.join(", "))
        };
        let kind = FaultKind::ALL.iter().find(|one| one.key() == name).ok_or_else(known)?;
        Ok(Self { kind: *kind, conductor })
    }
}

/// Set, object and hand for this plan.
pub(crate) fn skin(job: &Job, plan: &Plan, wish: &Wish) -> Result<Skin, Trouble> {
    let cannot = |error: &dyn std::fmt::Display| Trouble::Argument {
        remedy: "Complete the job file: the practice set needs the test set and the object"
            .to_owned(),
        detail: error.to_string(),
    };
    let mut rig = Rig::new(job, plan, wish.seed).map_err(|error| cannot(&error))?;
    if let Some(FaultWish { kind, conductor }) = &wish.fault {
        let first = plan.conductors.first().cloned().unwrap_or_default();
        let conductor = conductor.clone().unwrap_or(first);
        let no_conductor = |error: &dyn std::fmt::Display| Trouble::Argument {
            remedy: format!(
                "Write --fault NAME:CONDUCTOR with one of {}",
                plan.conductors.join(", ")
            ),
            detail: error.to_string(),
        };
        let truth = rig.truth(&conductor).map_err(|error| no_conductor(&error))?;
        let test = plan.test.or(plan.resistance_test.as_ref().map(|test| test.voltage));
        let fault = kind.plain(truth, test.unwrap_or_else(|| rig.dial_full()));
        rig = rig.with_fault(&conductor, fault).map_err(|error| no_conductor(&error))?;
    }
    let hand = Hand::new(plan, Habits::default()).map_err(|error| cannot(&error))?;
    Ok(Skin::new(rig, hand))
}

/// The set behind a wire: in lock-step its time goes on only when a client says so, otherwise by
/// itself, so many times as fast as the clock.
pub(crate) fn device(mut skin: Skin, pace: Pace, times: f64) -> impl Device {
    let mut since = Instant::now();
    move |line: &str| {
        if pace == Pace::Real {
            let now = Instant::now();
            skin.advance_by(Time::from_seconds((now - since).as_secs_f64() * times));
            since = now;
        }
        skin.answer(line)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_is_named_with_its_conductor_or_without() {
        let check = |text: &str, expected: Option<(FaultKind, Option<&str>)>| {
            let expected = expected.map(|(kind, conductor)| FaultWish {
                kind,
                conductor: conductor.map(str::to_owned),
            });
            assert_eq!(text.parse().ok(), expected, "{text}");
        };
        check("knee", Some((FaultKind::Knee, None)));
        check("puncture:B", Some((FaultKind::Puncture, Some("B"))));
        check("", None);
        check("Knee", None);
    }
}
