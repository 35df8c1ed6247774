//! The state of a whole test: the fold of its events, and nothing else.

use quantity::{Current, Time, Voltage, edge};
use serde::Serialize;

use super::before::{Confirmed, HeardOf, Word};
use super::course::Course;
use super::refusal::ReplayError;
use super::standing::Standing;
use super::view::WayOn;
use crate::act::Act;
use crate::guard::Guard;
use crate::meters::Scales;
use crate::record::{Batch, ClockNews, Clocks, Entry, Event, Moment, Reading, SourceNews, Told};
use crate::register::Register;
use crate::role::Role;
use crate::state::{ActKind, rules};

/// The source of the readings.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub(super) struct Source {
    pub(super) identity: Option<String>,
    #[serde(with = "edge::s")]
    pub(super) lost_at: Option<Time>,
    pub(super) ended: bool,
}

/// Everything that is known, from the events alone: a session that ran and one that was replayed
/// have the same, byte for byte.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Folded {
    pub(super) conductors: Vec<Standing>,
    pub(super) lead: Option<usize>,
    pub(super) acted: usize,
    pub(super) register: Register,
    pub(super) source: Source,
    pub(super) scales: Scales,
    pub(super) clock: Option<ClockNews>,
    pub(super) clocks: Option<Clocks>,
    /// The record's own time when `clocks` was read.
    #[serde(with = "edge::s")]
    pub(super) clocks_at: Time,
    pub(super) last: Option<Moment>,
    pub(super) readings: u64,
    pub(super) closed: bool,
    /// What was said of each hold point of the plan, in its order.
    pub(super) holds: Vec<Confirmed>,
    /// What was heard of each part.
    pub(super) heard: Vec<HeardOf>,
}

impl Folded {
    pub(super) fn new(course: &Course) -> Self {
        Self {
            conductors: course.conductors.iter().map(|name| Standing::new(name)).collect(),
            lead: None,
            acted: 0,
            register: Register::default(),
            source: Source::default(),
            scales: Scales { link: course.link.clone(), ..Scales::default() },
            clock: None,
            clocks: None,
            clocks_at: Time::ZERO,
            last: None,
            readings: 0,
            closed: false,
            holds: course.holds.iter().map(|_| Confirmed::default()).collect(),
            heard: Role::ALL.map(HeardOf::new).to_vec(),
        }
    }

    /// The conductor of this name.
    pub(super) fn index(&self, name: &str) -> Option<usize> {
        self.conductors.iter().position(|one| one.name == name)
    }

    pub(super) fn is_grounded(&self, index: usize) -> bool {
        self.register.is_grounded(&self.conductors[index].name)
    }

    pub(super) fn is_hazardous(&self, index: usize) -> bool {
        self.conductors[index].is_hazardous(self.is_grounded(index))
    }

    /// Names of the conductors that are hazardous.
    #[must_use]
    pub fn hazardous(&self) -> Vec<String> {
        let all = self.conductors.iter().enumerate();
        let hazardous = all.filter(|(index, _)| self.is_hazardous(*index));
        hazardous.map(|(_, one)| one.name.clone()).collect()
    }

    /// The conductor that is worked on: energised, or else hazardous, or else with the lead, or
    /// else the one that something was done to last.
    pub(super) fn focus(&self) -> usize {
        let all = 0..self.conductors.len();
        let energised = all.clone().find(|index| self.conductors[*index].state.is_energised());
        let in_application = || all.clone().find(|i| self.conductors[*i].state.in_application());
        let hazardous = || all.clone().find(|index| self.is_hazardous(*index));
        energised.or_else(in_application).or_else(hazardous).or(self.lead).unwrap_or(self.acted)
    }

    /// Takes in one event.
    pub(super) fn apply(&mut self, course: &Course, entry: &Entry) -> Result<(), ReplayError> {
        let at = self.check(entry)?;
        self.last = entry.at;
        match &entry.what {
            Event::Begun(clocks) | Event::Resumed { clocks, .. } => {
                self.clocks = Some(clocks.clone());
                self.clocks_at = at;
            }
            Event::Did { phase, since_energised, act, told, .. } => {
                let index = self.known(phase)?;
                self.did(course, entry, index, act, *since_energised, *told);
            }
            Event::Metered(batch) => {
                let index = self.known(&batch.phase)?;
                self.metered(index, batch, at);
            }
            Event::Readings { phase, rows } => {
                let index = self.known(phase)?;
                rows.iter().for_each(|row| self.reading(index, row, at));
            }
            Event::Withdrawn { phase, .. } => {
                let index = self.known(phase)?;
                let one = &mut self.conductors[index];
                one.typed = None;
                if let Some(before) = one.before_typed.take() {
                    one.latest = before;
                }
                self.readings = self.readings.saturating_sub(1);
            }
            Event::Source(news) => self.news(news, at),
            Event::Clock(news) => self.clock = Some(*news),
            Event::Advised(advised) => {
                let index = self.known(&advised.phase)?;
                self.conductors[index].advised = Some(advised.clone());
            }
            Event::GivesBack { phase, told, .. } => {
                let index = self.known(phase)?;
                self.conductors[index].take_gives_back(*told);
            }
            Event::Ticked { phase, line, on } => {
                let word = if *on { Word::Yes } else { Word::No };
                self.confirm(course, phase.as_deref(), line, word);
            }
            Event::Overridden { phase, line, .. } => {
                self.confirm(course, phase.as_deref(), line, Word::PassedOver);
                self.pass_over(line);
            }
            Event::Role { role, news } => self.role(course, *role, news, at),
            Event::Scaled(scales) => self.scales.clone_from(scales),
            Event::Remark { .. } | Event::Compared(_) | Event::Beside(_) => {}
            Event::Closed => self.closed = true,
            Event::Energised { .. } | Event::Marked { .. } => return Err(ReplayError::Transcribed),
        }
        Ok(())
    }

    fn check(&self, entry: &Entry) -> Result<Time, ReplayError> {
        let at = entry.at.ok_or(ReplayError::NoMoment)?.since_begun;
        if self.closed {
            return Err(ReplayError::AfterClose);
        }
        match self.last {
            Some(last) if at < last.since_begun => Err(ReplayError::TimeBack),
            _ => Ok(at),
        }
    }

    fn known(&self, phase: &str) -> Result<usize, ReplayError> {
        self.index(phase).ok_or_else(|| ReplayError::UnknownConductor { found: phase.to_owned() })
    }

    fn did(
        &mut self,
        course: &Course,
        entry: &Entry,
        index: usize,
        act: &Act,
        t: Option<Time>,
        told: Told,
    ) {
        let Some(at) = entry.at.map(|at| at.since_begun) else { return };
        self.acted = index;
        let kind = act.kind();
        match told {
            Told::Confirmed => return self.conductors[index].confirm(kind, t),
            Told::Seen => self.conductors[index].note_seen(kind),
            Told::Said => self.conductors[index].seen.clear(),
        }
        self.conductors[index].apply(course, act, at, t);
        self.voltage_came_or_went(kind);
        match act {
            Act::Lead => self.lead = Some(index),
            Act::Ground { .. } | Act::Lift { .. } | Act::Leave { .. } => {
                let name = self.conductors[index].name.clone();
                let before = self.register.is_grounded(&name);
                self.register.apply(entry, &name, act);
                let after = self.register.is_grounded(&name);
                if after || before {
                    self.grounds_changed(index, before, after, at);
                }
            }
            _ => {}
        }
    }

    fn grounds_changed(&mut self, index: usize, before: bool, after: bool, at: Time) {
        let put_on_after_tool = after && !self.conductors[index].state.in_application();
        if before != after || put_on_after_tool {
            self.conductors[index].grounds_changed(after, at);
        }
    }

    fn metered(&mut self, index: usize, batch: &Batch, at: Time) {
        let one = &mut self.conductors[index];
        let Some(last) = batch.t_s.last() else { return };
        self.readings += batch.t_s.len() as u64;
        let zero = one.energised_at.filter(|_| !batch.idle).unwrap_or(Time::ZERO);
        let last = Time::from_seconds(*last);
        if !batch.idle {
            one.last_t = Some(last);
        }
        one.latest.at = Some((zero + last).min(at));
        one.before_typed = None;
        let newest = |column: &[Option<f64>]| column.iter().rev().find_map(|value| *value);
        if let Some(kv) = newest(&batch.kv) {
            one.latest.voltage = Some(Voltage::from_kilovolts(kv.abs()));
            one.latest.voltage_at = one.latest.at;
        }
        if let Some(ua) = newest(&batch.ua) {
            one.latest.current = Some(Current::from_microamperes(ua));
            one.latest.current_at = one.latest.at;
        }
        one.latest.overload = batch.overload.last() == Some(&(batch.t_s.len() - 1));
    }

    fn reading(&mut self, index: usize, row: &Reading, at: Time) {
        let one = &mut self.conductors[index];
        self.readings += 1;
        one.last_t = Some(row.at);
        one.typed = Some(row.at);
        if !row.blank {
            one.on_object();
        }
        one.before_typed = Some(one.latest.clone());
        one.latest.at = Some(at);
        if let Some(voltage) = row.voltage {
            one.latest.voltage = Some(voltage.abs());
            one.latest.voltage_at = Some(at);
        }
        if row.current.is_some() {
            one.latest.current = row.current;
            one.latest.current_at = Some(at);
        }
        one.latest.overload = row.overload;
    }

    fn news(&mut self, news: &SourceNews, at: Time) {
        match news {
            SourceNews::Answers { identity } => {
                self.source.identity.clone_from(identity);
                self.source.lost_at = None;
                self.source.ended = false;
            }
            SourceNews::Lost { .. } => {
                self.source.lost_at = self.source.lost_at.or(Some(at));
            }
            SourceNews::Back { .. } => self.source.lost_at = None,
            SourceNews::Changed { identity } => self.source.identity = Some(identity.clone()),
            SourceNews::Garbled { .. }
            | SourceNews::MeterLost { .. }
            | SourceNews::MeterBack { .. }
            | SourceNews::MeterGarbled { .. }
            | SourceNews::MeterChanged { .. }
            | SourceNews::Slip { .. } => {}
            SourceNews::Ended => self.source.ended = true,
        }
    }

    /// The rules of an act that are not met, the most important one first.
    pub(super) fn unmet(&self, course: &Course, index: usize, act: &Act, at: Time) -> Vec<Guard> {
        self.unmet_of(course, index, (act.kind(), Some(act)), at)
    }

    fn unmet_of(
        &self,
        course: &Course,
        index: usize,
        act: (ActKind, Option<&Act>),
        at: Time,
    ) -> Vec<Guard> {
        let met = |guard: &Guard| super::rules::met(self, course, index, act, at, *guard);
        rules(act.0).iter().copied().filter(|guard| !met(guard)).collect()
    }

    /// Every act that can be said of this conductor from where it stands, with the rules that keep
    /// it from being taken now.
    pub(super) fn ways_on(&self, course: &Course, index: usize, at: Time) -> Vec<WayOn> {
        let one = &self.conductors[index];
        let way = |act: &ActKind| {
            let seen = one.seen.contains(act);
            let unmet = || self.unmet_of(course, index, (*act, None), at);
            (seen || one.state.after(*act).is_some()).then(|| WayOn {
                act: *act,
                seen,
                unmet: if seen { Vec::new() } else { unmet() },
            })
        };
        if self.closed { Vec::new() } else { ActKind::ALL.iter().filter_map(way).collect() }
    }
}
