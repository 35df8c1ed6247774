//! A finding before it is put into words.

use quantity::edge::twelve_digits;
use quantity::{Current, Time, Voltage};
use standards::{Citation, Mark};

use crate::findings::{Finding, Outcome};
use crate::trace::Taken;
use crate::words::{self, Id, Link, MoreLink, Said};

/// A finding before it is put into words.
#[derive(Clone, Debug)]
pub(crate) struct Draft {
    pub(crate) id: Id,
    pub(crate) phase: Option<String>,
    pub(crate) value: Option<f64>,
    pub(crate) unit: &'static str,
    pub(crate) limit: Option<f64>,
    pub(crate) expanded: Option<f64>,
    pub(crate) outcome: Outcome,
    pub(crate) voids: bool,
    pub(crate) said: Said,
    pub(crate) chain: Vec<Link>,
    pub(crate) source: Option<Citation>,
    /// Set where no publication stands behind the criterion.
    pub(crate) practice: bool,
}

impl Draft {
    pub(crate) fn new(id: Id, outcome: Outcome, said: Said) -> Self {
        Self {
            id,
            phase: None,
            value: None,
            unit: "",
            limit: None,
            expanded: None,
            outcome,
            voids: false,
            said,
            chain: Vec::new(),
            source: None,
            practice: false,
        }
    }

    pub(crate) fn void(id: Id, said: Said) -> Self {
        Self { voids: true, ..Self::new(id, Outcome::Fail, said) }
    }

    pub(crate) fn value(mut self, value: f64, unit: &'static str) -> Self {
        self.value = Some(value);
        self.unit = unit;
        self
    }

    pub(crate) fn limit(mut self, limit: f64) -> Self {
        self.limit = Some(limit);
        self
    }

    pub(crate) fn expanded(mut self, expanded: f64) -> Self {
        self.expanded = Some(expanded);
        self
    }

    pub(crate) fn chain(mut self, links: impl IntoIterator<Item = Link>) -> Self {
        self.chain.extend(links);
        self
    }

    pub(crate) fn source(mut self, source: &Citation) -> Self {
        self.source = Some(source.clone());
        self
    }

    pub(crate) fn by_practice(mut self) -> Self {
        self.practice = true;
        self
    }

    pub(crate) fn of_phase(mut self, phase: &str) -> Self {
        self.phase = Some(phase.to_owned());
        self
    }

    /// How heavy it is among findings of one kind: void, failed, open, met, not asked.
    pub(crate) fn weight(&self) -> u8 {
        match (self.voids, self.outcome) {
            (true, _) => 4,
            (false, Outcome::Fail) => 3,
            (false, Outcome::Warn) => 2,
            (false, Outcome::Ok) => 1,
            (false, Outcome::NotApplicable) => 0,
        }
    }

    /// The rule by which doubt decided, where a limit was held against a value with its doubt.
    fn rule(&self) -> Option<MoreLink> {
        self.expanded.filter(|_| self.limit.is_some())?;
        match self.id {
            Id::HoldTrend => Some(MoreLink::GuardedReject),
            Id::StepLinearity
            | Id::Imbalance
            | Id::ResistanceMinimum
            | Id::IndexMinimum
            | Id::LeakageAllowance
            | Id::InsulationConstant => Some(MoreLink::GuardBand),
            _ => None,
        }
    }

    /// In words.
    pub(crate) fn finding(&self) -> Finding {
        let mut chain: Vec<String> = self.chain.iter().map(words::line).collect();
        chain.extend(self.rule().map(|rule| words::more::line(&rule)));
        chain.push(words::outcome(self.outcome, self.voids).to_owned());
        let practice = self.practice.then(|| words::COMMON_PRACTICE.to_owned());
        Finding {
            id: self.id.key().to_owned(),
            phase: self.phase.clone(),
            value: self.value.map(twelve_digits),
            unit: self.value.map(|_| self.unit.to_owned()).filter(|unit| !unit.is_empty()),
            limit: self.limit.map(twelve_digits),
            expanded_u: self.expanded.map(twelve_digits),
            outcome: self.outcome,
            text: words::said(&self.said),
            chain,
            source: self.source.as_ref().map(Citation::to_string).or(practice),
            mark: self
                .source
                .as_ref()
                .map(|source| source.mark)
                .or(self.practice.then_some(Mark::Practice)),
            voids: self.voids,
        }
    }
}

/// The reading itself as the head of a chain, and what was taken out of it.
pub(crate) fn reading(taken: &Taken) -> Vec<Link> {
    let mut links = vec![Link::Read {
        after: Time::from_seconds(taken.at_s),
        current: Current::from_amperes(taken.amps),
        voltage: Voltage::from_volts(taken.volts),
        range: taken.row.amps_range.map(Current::from_amperes),
        between: taken.between,
    }];
    if taken.row.leads > 0.0 {
        links.push(Link::LeadsOut { current: Current::from_amperes(taken.row.leads) });
    }
    links
}
