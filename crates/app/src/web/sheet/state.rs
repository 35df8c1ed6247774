//! What a sheet is made from, and which section is worked on.

use judge::Findings;
use session::live::{ReplayError, Session, View};
use session::record::{Head, Now};
use session::{Event, Record};
use store::signatures::code_of;
use store::{Broken, KeptFindings, RecordId, Seal, Signature};

use crate::commands::subject::{self, Judged};
use crate::show::stage;
use crate::web::aside::aside;
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
}

/// One record as its sheet shows it.
pub(super) struct Sheet {
    pub(super) id: RecordId,
    pub(super) record: Record,
    /// The code of the whole record.
    pub(super) code: String,
    pub(super) seals: Vec<(String, Seal)>,
    /// What does not hold of it; not looked for while voltage is on.
    pub(super) broken: Vec<Broken>,
    /// As it stands now; `None` where it was not recorded while it happened.
    pub(super) view: Option<View>,
    /// Why its events do not lead to that view, where they do not.
    pub(super) unfollowed: Option<ReplayError>,
    /// It is at work here, so that something can be said.
    pub(super) deeds: Option<u64>,
    /// Findings kept of it, the oldest first.
    pub(super) kept: Vec<KeptFindings>,
    /// The newest of these, read.
    pub(super) findings: Option<Findings>,
    pub(super) signatures: Vec<Signature>,
    /// Who works here.
    pub(super) who: Option<String>,
    /// It is the account of this device, and cannot be another.
    pub(super) is_account: bool,
    /// A conductor is hazardous.
    pub(super) stage: bool,
    pub(super) current: Section,
}

impl Sheet {
    pub(super) async fn read(house: &House, frame: &Frame, asked: &str) -> Result<Self, Fault> {
        let (house, frame, asked) = (house.clone(), frame.clone(), asked.to_owned());
        aside(async move { Self::read_here(&house, &frame, &asked).await }).await?
    }

    /// A kept record, judged by the values and the method of today.
    pub(super) async fn judged(house: &House, id: &RecordId) -> Result<Judged, Fault> {
        let (house, id) = (house.clone(), id.clone());
        let judged = aside(async move { subject::judged(&house.store, &id, &house.library).await });
        Ok(judged.await??)
    }

    async fn read_here(house: &House, frame: &Frame, asked: &str) -> Result<Self, Fault> {
        let store = &house.store;
        let id = store.resolve(asked).await?;
        let moment = house.hub.at_work(&id).map(|work| work.moment());
        let stored = store.record(&id).await?;
        let (view, unfollowed) = match &moment {
            Some(moment) => (Some(moment.view.clone()), None),
            None => view(&stored.record, house.clock.now()),
        };
        let stage = view.as_ref().is_some_and(|view| !view.closed && view.is_hazardous());
        let broken = if stage { Vec::new() } else { store.verify(&id).await? };
        let over = view.as_ref().is_none_or(|view| view.closed);
        let code = code_of(&stored.seals);
        let mut kept = store.findings(&id).await?;
        if over && broken.is_empty() && !kept.iter().any(|one| one.code == code) {
            // The first judgement is made when the work is over; every later one is asked for.
            let findings = judge::judge(&stored.record, &house.library);
            subject::keep(store, &id, &findings, house.clock.now().wall).await?;
            kept = store.findings(&id).await?;
        }
        let findings = kept.last().and_then(|last| serde_json::from_slice(&last.bytes).ok());
        let signatures = store.signatures(&id).await?;
        let current = current(view.as_ref(), !kept.is_empty() && signatures.is_empty());
        Ok(Self {
            code,
            record: stored.record,
            seals: stored.seals,
            broken,
            view,
            unfollowed,
            deeds: moment.map(|moment| moment.deeds),
            kept,
            findings,
            signatures,
            who: frame.who.clone(),
            is_account: frame.is_account,
            stage,
            current,
            id,
        })
    }

    pub(super) fn title(&self) -> String {
        format!("{} · {}", self.record.plan.asset, self.current.title())
    }

    pub(super) fn follows(&self) -> Follows<'_> {
        // To those who work on it, what comes after the test is one.
        let section = self.current.min(Section::Findings);
        let (record, section) = (self.id.as_str(), section.key());
        Follows { record, stage: self.stage, section, deeds: self.deeds }
    }

    /// The section that is worked on; of one that is over the verdict stays in sight.
    pub(super) fn is_open(&self, section: Section) -> bool {
        section == self.current || (section == Section::Findings && self.is_over())
    }

    /// Nothing follows any more, or it was written down elsewhere.
    pub(super) fn is_over(&self) -> bool {
        self.view.as_ref().is_none_or(|view| view.closed)
    }

    /// Something can still be ticked: the record is open and nothing is under voltage.
    pub(super) fn may_tick(&self) -> bool {
        self.view.is_some() && !self.is_over() && !self.stage
    }

    /// What a signature says of these findings: whether they are those that stand now.
    pub(super) fn stands(&self, findings: &str) -> bool {
        let now = self.kept.last();
        let signed = self.kept.iter().find(|one| one.id == findings);
        now.zip(signed).is_some_and(|(now, signed)| now.bytes == signed.bytes)
    }
}

/// The section that is worked on.
pub(super) fn current(view: Option<&View>, unsigned: bool) -> Section {
    match view.map(stage::section) {
        Some(stage::Section::Before) => Section::Before,
        Some(stage::Section::Test) => Section::Test,
        Some(stage::Section::Down) => Section::Down,
        Some(stage::Section::Findings) | None if unsigned => Section::Signatures,
        Some(stage::Section::Findings) | None => Section::Findings,
    }
}

/// How a record stands that was recorded while it happened, and the first event that does not fit,
/// if one does not: what follows it is told all the same, and cannot be relied on.
pub(super) fn view(record: &Record, now: Now) -> (Option<View>, Option<ReplayError>) {
    if !record.events.iter().any(|entry| matches!(entry.what, Event::Begun(_))) {
        return (None, None);
    }
    let Record { format, kind, source, job, plan, events } = record;
    let (format, source) = (format.clone(), source.clone());
    let head = Head { format, kind: *kind, source, job: job.clone(), plan: plan.clone() };
    let mut session = Session::replaying(&head);
    let mut unfollowed = None;
    for entry in events {
        unfollowed = unfollowed.or(session.replay(entry).err());
    }
    (Some(session.view(now)), unfollowed)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Derived: the order of the sheet; a record that was written down elsewhere has no view.
    #[test]
    fn what_is_over_waits_for_findings_then_for_a_name() {
        assert_eq!(current(None, false), Section::Findings);
        assert_eq!(current(None, true), Section::Signatures);
    }

    #[test]
    fn sections_are_numbered_in_the_order_of_the_work() {
        let numbers: Vec<usize> = Section::ALL.iter().map(|one| one.number()).collect();
        assert_eq!(numbers, [1, 2, 3, 4, 5, 6, 7]);
    }
}
