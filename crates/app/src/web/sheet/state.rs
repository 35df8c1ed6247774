//! What a sheet is made from, and which section is worked on.

use session::live::{Next, Session, View};
use session::record::Head;
use session::{Event, Record};
use store::{Broken, KeptFindings, RecordId, Seal};

use crate::web::{Fault, Follows, Frame, House};

/// One part of the sheet, in the order of the work.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Section {
    Object,
    Plan,
    Before,
    Test,
    Down,
    Findings,
    Signatures,
}

impl Section {
    pub(super) const ALL: &'static [Self] = &[
        Self::Object,
        Self::Plan,
        Self::Before,
        Self::Test,
        Self::Down,
        Self::Findings,
        Self::Signatures,
    ];

    /// Counted from one, as it stands in the margin.
    pub(super) const fn number(self) -> usize {
        self as usize + 1
    }

    /// Its name in addresses.
    pub(super) const fn key(self) -> &'static str {
        match self {
            Self::Object => "object",
            Self::Plan => "plan",
            Self::Before => "before",
            Self::Test => "test",
            Self::Down => "down",
            Self::Findings => "findings",
            Self::Signatures => "signatures",
        }
    }

    pub(super) const fn title(self) -> &'static str {
        match self {
            Self::Object => "Object and purpose",
            Self::Plan => "Plan",
            Self::Before => "Before voltage",
            Self::Test => "The test",
            Self::Down => "Down and grounded",
            Self::Findings => "Findings",
            Self::Signatures => "Signatures",
        }
    }

    /// Where the next step of a live test is done.
    pub(super) const fn of(next: &Next) -> Self {
        match next {
            Next::PutGroundOn { .. }
            | Next::MoveLead { .. }
            | Next::Check { .. }
            | Next::TakeGroundOff { .. }
            | Next::ReadBeforeVoltage
            | Next::Energise => Self::Before,
            Next::Raise { .. }
            | Next::Stay { .. }
            | Next::Hold { .. }
            | Next::BringDown
            | Next::SwitchOff => Self::Test,
            Next::ReadResidual
            | Next::LayToolOn { .. }
            | Next::Ground
            | Next::SayCause { .. }
            | Next::Decide
            | Next::ResetTrip
            | Next::SeeDialAtZero
            | Next::WaitGrounded { .. }
            | Next::GroundAgain { .. }
            | Next::WatchRebound { .. }
            | Next::ReadRebound
            | Next::DischargeAgain { .. }
            | Next::SettleGrounds { .. }
            | Next::Release { .. }
            | Next::Close => Self::Down,
            Next::Nothing => Self::Findings,
        }
    }
}

/// One record as its sheet shows it.
pub(super) struct Sheet {
    pub(super) id: RecordId,
    pub(super) record: Record,
    pub(super) seals: Vec<(String, Seal)>,
    /// What does not hold of it.
    pub(super) broken: Vec<Broken>,
    /// As it stands now; `None` where it was not recorded while it happened.
    pub(super) view: Option<View>,
    /// Findings kept of it, the oldest first.
    pub(super) kept: Vec<KeptFindings>,
    /// Who works here.
    pub(super) who: Option<String>,
    /// A conductor is energised or hazardous.
    pub(super) stage: bool,
    pub(super) current: Section,
}

impl Sheet {
    pub(super) async fn read(house: &House, frame: &Frame, asked: &str) -> Result<Self, Fault> {
        let id = house.store.resolve(asked).await?;
        let broken = house.store.verify(&id).await?;
        let stored = house.store.record(&id).await?;
        let kept = house.store.findings(&id).await?;
        let view = view(house, &stored.record);
        let stage = view.as_ref().is_some_and(is_stage);
        let current = current(view.as_ref(), !kept.is_empty());
        Ok(Self {
            id,
            record: stored.record,
            seals: stored.seals,
            broken,
            view,
            kept,
            who: frame.who.clone(),
            stage,
            current,
        })
    }

    pub(super) fn title(&self) -> String {
        format!("{} · {}", self.record.plan.asset, self.current.title())
    }

    pub(super) fn follows(&self) -> Follows<'_> {
        let (record, section) = (self.id.as_str(), self.current.key());
        Follows { record, stage: self.stage, section }
    }

    pub(super) fn is_open(&self, section: Section) -> bool {
        section == self.current
    }

    /// Nothing follows any more, or it was written down elsewhere.
    pub(super) fn is_over(&self) -> bool {
        self.view.as_ref().is_none_or(|view| view.closed)
    }
}

/// Whether the page is the stage.
fn is_stage(view: &View) -> bool {
    view.conductors.iter().any(|one| one.hazardous || one.state.is_energised())
}

/// The section that is worked on.
fn current(view: Option<&View>, judged: bool) -> Section {
    match view {
        Some(view) if is_stage(view) => Section::Test,
        Some(view) if !view.closed => Section::of(&view.next),
        _ if judged => Section::Signatures,
        _ => Section::Findings,
    }
}

/// How a record stands that was recorded while it happened.
fn view(house: &House, record: &Record) -> Option<View> {
    if !record.events.iter().any(|entry| matches!(entry.what, Event::Begun(_))) {
        return None;
    }
    let Record { format, kind, source, job, plan, events } = record;
    let head = Head {
        format: format.clone(),
        kind: *kind,
        source: source.clone(),
        job: job.clone(),
        plan: plan.clone(),
    };
    let mut session = Session::replaying(&head);
    for entry in events {
        // What does not fit was never a move; a broken seal is told apart from this.
        let _ = session.replay(entry);
    }
    Some(session.view(house.clock.now()))
}
