//! What can be said of each conductor now: statements of what a hand did or an eye saw, the one
//! that comes next first.

use session::live::view::{ConductorView, WayOn};
use session::live::{Next, View};
use session::say;
use session::state::{ActKind, State};

use super::keys::{KEYS, Key};
use super::words::statement;

/// What can be said of one conductor.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Offers {
    /// Which.
    pub(crate) conductor: String,
    /// What can be said now, what comes next first.
    pub(crate) open: Vec<Offer>,
    /// What its state allows and a rule does not.
    pub(crate) waits: Vec<Waits>,
}

/// A statement that cannot be made yet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Waits {
    /// Its key.
    pub(crate) key: char,
    /// The statement.
    pub(crate) statement: &'static str,
    /// What to do first.
    pub(crate) remedy: &'static str,
}

/// One statement that can be made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Offer {
    /// The act.
    pub(crate) act: ActKind,
    /// Its key.
    pub(crate) key: char,
    /// How the line begins that says it.
    pub(crate) line: String,
    /// The statement.
    pub(crate) statement: &'static str,
    /// It is what comes next.
    pub(crate) first: bool,
    /// The readings showed it already.
    pub(crate) seen: bool,
    /// What else has to be written.
    pub(crate) asks: Asks,
}

/// What has to be written beside a statement.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Asks {
    /// Nothing.
    Nothing,
    /// Kilovolts, or `?`.
    Kilovolts,
    /// The number of a ground and where it was put; those that are on it already may be meant.
    Ground {
        /// Numbers.
        on: Vec<String>,
    },
    /// Which ground came off.
    Lifted {
        /// Numbers of those that are on.
        on: Vec<String>,
    },
    /// Which ground stays, and who has it now.
    Left {
        /// Numbers of those that are on.
        on: Vec<String>,
    },
    /// The reason.
    Cause,
}

/// What can be said now, the conductor that the next thing to do is of first, then the one in the
/// large words.
pub(crate) fn offers(view: &View) -> Vec<Offers> {
    let named = view.next.of().map(|(_, name)| name);
    let next = following(view);
    let mut all: Vec<(usize, Offers)> = view
        .conductors
        .iter()
        .enumerate()
        .map(|(index, one)| {
            let meant = named.map_or(index == view.focus, |name| one.name == name);
            let rank = if meant { 0 } else { 1 + usize::from(index != view.focus) };
            (rank, of(one, if meant { next } else { &[] }))
        })
        .collect();
    all.sort_by_key(|(rank, _)| *rank);
    all.into_iter().map(|(_, offers)| offers).collect()
}

fn of(one: &ConductorView, next: &[ActKind]) -> Offers {
    let can = |way: &&WayOn| way.unmet.is_empty() && possible(one, way.act);
    let mut open: Vec<Offer> =
        one.ways_on.iter().filter(can).filter_map(|way| offer(one, way, next)).collect();
    let place = |offer: &Offer| KEYS.iter().position(|key| key.key == offer.key);
    open.sort_by_key(|offer| (!offer.first, place(offer)));
    let waits = one.ways_on.iter().filter_map(|way| {
        let remedy = way.unmet.first()?.remedy();
        let key = KEYS.iter().find(|key| key.words == way.act.key())?.key;
        Some(Waits { key, statement: statement(way.act), remedy })
    });
    Offers { conductor: one.name.clone(), waits: waits.collect(), open }
}

/// A ground that is not on can be neither taken off nor handed over.
fn possible(one: &ConductorView, act: ActKind) -> bool {
    !matches!(act, ActKind::Lift | ActKind::Leave) || !one.grounds.is_empty()
}

fn offer(one: &ConductorView, way: &WayOn, next: &[ActKind]) -> Option<Offer> {
    let Key { key, words, .. } = KEYS.iter().find(|key| key.words == way.act.key())?;
    let on = || one.grounds.iter().map(|ground| ground.number.clone()).collect();
    let asks = match way.act {
        ActKind::Residual => Asks::Kilovolts,
        ActKind::Ground => Asks::Ground { on: on() },
        ActKind::Lift => Asks::Lifted { on: on() },
        ActKind::Leave => Asks::Left { on: on() },
        ActKind::Cause => Asks::Cause,
        _ => Asks::Nothing,
    };
    Some(Offer {
        act: way.act,
        key: *key,
        line: say::of(&one.name, words),
        statement: statement(way.act),
        first: next.contains(&way.act),
        seen: way.seen,
        asks,
    })
}

/// The acts that do what comes next; none where it is to wait or to read.
fn following(view: &View) -> &'static [ActKind] {
    let state = view.conductors.get(view.focus).map(|one| one.state);
    let is_hold = view.step.as_ref().is_some_and(|step| step.is_hold);
    match &view.next {
        Next::PutGroundOn { .. } | Next::Ground => &[ActKind::Ground],
        Next::MoveLead { .. } => &[ActKind::Lead],
        Next::Check { .. } => &[ActKind::Check],
        Next::TakeGroundOff { .. } => &[ActKind::Lift],
        Next::ReadBeforeVoltage | Next::ReadResidual | Next::ReadRebound => &[ActKind::Residual],
        Next::Energise => &[ActKind::Energise],
        Next::Raise { .. } if state != Some(State::Rising) => &[ActKind::Rise],
        Next::Raise { .. } if is_hold => &[ActKind::Hold],
        Next::Raise { .. } => &[ActKind::Dwell],
        Next::BringDown => &[ActKind::Stop],
        Next::SwitchOff => &[ActKind::Off],
        Next::LayToolOn { .. } | Next::GroundAgain { .. } | Next::DischargeAgain { .. } => {
            &[ActKind::Tool]
        }
        Next::SayCause { .. } => &[ActKind::Cause],
        Next::Decide => &[ActKind::Again, ActKind::End],
        Next::ResetTrip => &[ActKind::Reset],
        Next::SeeDialAtZero => &[ActKind::Zero],
        Next::SettleGrounds { .. } => &[ActKind::Leave],
        Next::Release { .. } => &[ActKind::Release],
        Next::Stay { .. }
        | Next::Hold { .. }
        | Next::WaitGrounded { .. }
        | Next::TickHolds { .. }
        | Next::HearFrom { .. }
        | Next::WatchRebound { .. }
        | Next::Close
        | Next::Nothing => &[],
    }
}
