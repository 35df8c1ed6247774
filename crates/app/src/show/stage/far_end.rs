//! The other end of the object, as a screen tells of it.

use plan::words::{clock, duration};
use quantity::Time;
use serde::Serialize;
use session::live::View;
use session::live::view::RoleView;
use session::role::Role;

use super::Countdown;
use super::of::countdown;

/// The other end, where the plan has somebody guard it or somebody answered from there.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct FarEnd {
    /// Who guards it, and what was heard.
    pub(crate) said: String,
    /// The same as an attribute.
    pub(crate) is: Heard,
    /// Until it must be heard again.
    pub(crate) next: Option<Countdown>,
    /// The same in words; what else is to be said where nothing is due.
    pub(crate) next_said: String,
}

/// How the other end stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Heard {
    /// Not heard for the voltage that comes next.
    NotYet,
    /// Heard.
    Here,
    /// Was to be heard while voltage is on, and was not.
    Silent,
    /// Calls for the voltage to come down.
    Calls,
    /// Passed over for a reason.
    PassedOver,
}

impl Heard {
    /// As an attribute.
    pub(crate) const fn key(self) -> &'static str {
        match self {
            Self::NotYet => "not-yet",
            Self::Here => "here",
            Self::Silent => "silent",
            Self::Calls => "calls",
            Self::PassedOver => "passed-over",
        }
    }
}

impl FarEnd {
    pub(super) fn of(view: &View) -> Option<Self> {
        let role = view.roles.iter().find(|one| one.role == Role::FarEnd)?;
        let is = heard(role);
        let next = role.due_in.map(countdown);
        let next_said = match (is, role.due_in) {
            (Heard::PassedOver, _) => "nobody answers from here".to_owned(),
            (_, Some(due)) if due <= Time::ZERO => "answer is due now".to_owned(),
            (_, Some(due)) => format!("next answer within {}", clock(due)),
            (_, None) if view.is_hazardous() => "stay; nobody comes near".to_owned(),
            (_, None) => "answer before each energising".to_owned(),
        };
        Some(Self { said: said(role, is), is, next, next_said })
    }
}

fn heard(role: &RoleView) -> Heard {
    match role {
        RoleView { calls: Some(_), .. } => Heard::Calls,
        RoleView { silent: true, .. } => Heard::Silent,
        RoleView { waived: true, .. } => Heard::PassedOver,
        RoleView { heard: Some(_), .. } => Heard::Here,
        RoleView { heard: None, .. } => Heard::NotYet,
    }
}

fn said(role: &RoleView, is: Heard) -> String {
    let who = role.name.as_deref().unwrap_or(role.role.name());
    let ago = role.heard.map_or_else(
        || "never".to_owned(),
        |ago| match ago {
            ago if ago < Time::from_seconds(120.0) => format!("{:.0} s ago", ago.seconds()),
            ago => format!("{} ago", duration(ago)),
        },
    );
    match is {
        Heard::NotYet => format!("{who}: not heard yet"),
        Heard::Here => format!("{who}: heard {ago}"),
        Heard::Silent => format!("{who}: SILENT, heard {ago}"),
        Heard::Calls => match role.calls.as_deref() {
            Some(text) if !text.is_empty() => format!("{who} CALLS: {text}"),
            _ => format!("{who} CALLS: come down"),
        },
        Heard::PassedOver => format!("{who}: passed over for a reason"),
    }
}
