//! What stands before voltage, and who is heard while it is on: hold points, and the people of the
//! test.

use std::collections::BTreeMap;

use quantity::{Time, edge};
use serde::Serialize;

use super::course::Course;
use super::folded::Folded;
use super::refusal::Refusal;
use super::view::{ComeDown, RoleView};
use super::{Session, clock};
use crate::hold::{FAR_END_GUARDED, Hold};
use crate::record::{Event, Now};
use crate::role::{Role, RoleNews};
use crate::state::{ActKind, End, State};

/// What was said last of a hold point.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub(super) enum Word {
    Yes,
    No,
    PassedOver,
}

/// What was said of one hold point: of all conductors, and since then of single ones.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub(super) struct Confirmed {
    all: Option<Word>,
    of: BTreeMap<String, Word>,
}

impl Confirmed {
    fn last(&self, conductor: &str) -> Option<Word> {
        self.of.get(conductor).copied().or(self.all)
    }

    fn is_open(&self, conductor: &str) -> bool {
        !matches!(self.last(conductor), Some(Word::Yes | Word::PassedOver))
    }
}

/// What was heard of one part.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(super) struct HeardOf {
    role: Role,
    /// When it said that it is there, since the record was begun.
    #[serde(with = "edge::s")]
    at: Option<Time>,
    /// That word counts for the next energising: voltage neither came nor went since.
    fresh: bool,
    calls: Option<String>,
    silent: bool,
    waived: bool,
}

impl HeardOf {
    pub(super) const fn new(role: Role) -> Self {
        Self { role, at: None, fresh: false, calls: None, silent: false, waived: false }
    }
}

impl Folded {
    /// Takes in what is said of a line; one that is no hold point holds nothing.
    pub(super) fn confirm(&mut self, course: &Course, phase: Option<&str>, line: &str, word: Word) {
        for (hold, said) in course.holds.iter().zip(&mut self.holds) {
            let by_role = hold.id == FAR_END_GUARDED && line == Role::FarEnd.key();
            if !hold.is_meant(line) && !by_role {
                continue;
            }
            match phase {
                Some(conductor) => drop(said.of.insert(conductor.to_owned(), word)),
                None => (said.all, said.of) = (Some(word), BTreeMap::new()),
            }
        }
    }

    /// A part is passed over. An end that is barred instead of guarded has nobody who answers.
    pub(super) fn pass_over(&mut self, line: &str) {
        let line = if line == FAR_END_GUARDED { Role::FarEnd.key() } else { line };
        for one in self.heard.iter_mut().filter(|one| one.role.key() == line) {
            one.waived = true;
            one.silent = false;
        }
    }

    pub(super) fn role(&mut self, course: &Course, role: Role, news: &RoleNews, at: Time) {
        let Some(one) = self.heard.iter_mut().find(|one| one.role == role) else { return };
        match news {
            RoleNews::Here => *one = HeardOf { at: Some(at), fresh: true, ..HeardOf::new(role) },
            RoleNews::Called { text } => one.calls = Some(text.clone()),
            RoleNews::Silent { .. } => one.silent = true,
        }
        if (role, news) == (Role::FarEnd, &RoleNews::Here) {
            self.confirm(course, None, FAR_END_GUARDED, Word::Yes);
        }
    }

    /// Whoever was heard before voltage came, or while it was on, is heard anew before the next.
    pub(super) fn voltage_came_or_went(&mut self, kind: ActKind) {
        if kind == ActKind::Energise || End::of(kind).is_some() {
            self.heard.iter_mut().for_each(|one| one.fresh = false);
        }
    }

    /// Hold points that are open before this move of a conductor. A ground that comes off
    /// otherwise than on the way to voltage is held up by none.
    pub(super) fn open<'a>(&self, course: &'a Course, index: usize, act: ActKind) -> Vec<&'a Hold> {
        let one = &self.conductors[index];
        let to_voltage = one.state == State::Checked && self.lead == Some(index);
        if act == ActKind::Lift && !to_voltage {
            return Vec::new();
        }
        let all = course.holds.iter().zip(&self.holds);
        let open = all.filter(|(hold, said)| hold.stands_before(act) && said.is_open(&one.name));
        open.map(|(hold, _)| hold).collect()
    }

    /// What is not confirmed of a conductor that was not handed back.
    pub(super) fn holds_ahead(&self, course: &Course, index: usize) -> Vec<Hold> {
        let one = &self.conductors[index];
        if self.closed || one.state == State::Released {
            return Vec::new();
        }
        self.open(course, index, ActKind::Energise).into_iter().cloned().collect()
    }

    /// Who must be heard before voltage and was not, or calls.
    pub(super) fn unheard(&self, course: &Course, at: Time) -> Vec<Role> {
        let missing = |one: &&HeardOf| {
            let old = match (every(course, one.role), one.at) {
                (Some(every), Some(heard)) => at - heard > every,
                _ => false,
            };
            let asked = is_asked(course, one.role) && !one.waived;
            one.calls.is_some() || (asked && (!one.fresh || old))
        };
        self.heard.iter().filter(missing).map(|one| one.role).collect()
    }

    /// Since when voltage is on something.
    fn energised_since(&self) -> Option<Time> {
        let fed = self.conductors.iter().find(|one| one.state.is_energised())?;
        fed.energised_at
    }

    /// Who is to be heard by when, while voltage is on; one that is silent already is not waited
    /// for.
    pub(super) fn due(&self, course: &Course) -> Option<(Role, Time)> {
        let since = self.energised_since()?;
        let asked = |one: &&HeardOf| is_asked(course, one.role) && !one.waived && !one.silent;
        let due =
            |one: &HeardOf| Some((one.role, one.at.unwrap_or(since) + every(course, one.role)?));
        self.heard.iter().filter(asked).find_map(due)
    }

    /// Why the voltage is to come down, apart from the readings; nothing where none is on.
    pub(super) fn come_down(&self, course: &Course, at: Time) -> Vec<ComeDown> {
        let Some(since) = self.energised_since() else { return Vec::new() };
        let calls = self
            .heard
            .iter()
            .filter_map(|one| Some(ComeDown::Called { role: one.role, text: one.calls.clone()? }));
        let silent = self.heard.iter().filter(|one| one.silent && one.calls.is_none());
        let silent = silent
            .map(|one| ComeDown::Silent { role: one.role, time: at - one.at.unwrap_or(since) });
        let fed = self.conductors.iter().find(|one| one.state.is_energised());
        let name = fed.map_or("", |one| &one.name);
        let taken_back = course.holds.iter().zip(&self.holds);
        let taken_back = taken_back.filter(|(_, said)| said.last(name) == Some(Word::No));
        let taken_back = taken_back.map(|(hold, _)| ComeDown::HoldPoint {
            number: hold.number.clone(),
            text: hold.text.clone(),
        });
        calls.chain(silent).chain(taken_back).collect()
    }

    /// Everybody of the plan, and whoever was heard beside them.
    pub(super) fn role_views(&self, course: &Course, at: Time) -> Vec<RoleView> {
        let on = self.energised_since();
        let view = |one: &HeardOf| {
            let planned = course.roles.iter().find(|(role, _)| *role == one.role);
            let is_known = planned.is_some() || one.at.is_some() || one.calls.is_some();
            let asked = is_asked(course, one.role) && !one.waived;
            let due = on.zip(every(course, one.role)).filter(|_| asked);
            is_known.then(|| RoleView {
                role: one.role,
                name: planned.and_then(|(_, name)| name.clone()),
                asked,
                heard: one.at.map(|heard| at - heard),
                due_in: due
                    .map(|(since, every)| (one.at.unwrap_or(since) + every - at).max(Time::ZERO)),
                silent: one.silent && on.is_some(),
                calls: one.calls.clone(),
                waived: one.waived,
            })
        };
        self.heard.iter().filter_map(view).collect()
    }
}

fn is_asked(course: &Course, role: Role) -> bool {
    role.is_asked() && course.roles.iter().any(|(planned, _)| *planned == role)
}

/// How often a part must be heard while voltage is on.
fn every(course: &Course, role: Role) -> Option<Time> {
    course.far_end_every.filter(|_| role == Role::FarEnd)
}

impl Session {
    /// Parts were heard: each is at its place, and all is as it must be there.
    ///
    /// # Errors
    /// The record is closed.
    pub fn handle_here(
        &mut self,
        now: Now,
        by: Option<&str>,
        roles: &[Role],
    ) -> Result<(), Refusal> {
        self.look_at_clocks(now);
        if self.folded.closed {
            return Err(Refusal::Closed);
        }
        for role in roles {
            self.tell(now, by, Event::Role { role: *role, news: RoleNews::Here });
        }
        Ok(())
    }

    /// Somebody calls for the voltage to come down.
    ///
    /// # Errors
    /// The record is closed.
    pub fn handle_call(
        &mut self,
        now: Now,
        by: Option<&str>,
        role: Role,
        text: &str,
    ) -> Result<(), Refusal> {
        self.look_at_clocks(now);
        if self.folded.closed {
            return Err(Refusal::Closed);
        }
        let news = RoleNews::Called { text: text.trim().to_owned() };
        self.tell(now, by, Event::Role { role, news });
        Ok(())
    }

    /// A hold point, or the word of a part, is passed over for a reason.
    ///
    /// # Errors
    /// The record is closed, the conductor is none of the plan's, there is no reason, or nothing
    /// of this name stands before voltage.
    pub fn handle_override(
        &mut self,
        now: Now,
        by: Option<&str>,
        phase: Option<&str>,
        line: &str,
        reason: &str,
    ) -> Result<(), Refusal> {
        self.look_at_clocks(now);
        let phase = self.named(phase)?;
        let reason = reason.trim().to_owned();
        if reason.is_empty() {
            return Err(Refusal::NoWords);
        }
        let role = Role::of_words(line).filter(|role| role.is_asked());
        let hold = self.course.holds.iter().find(|hold| hold.is_meant(line));
        let (line, what) = match (hold, role) {
            (Some(hold), _) => (hold.id.clone(), hold.text.clone()),
            (None, Some(role)) => (role.key().to_owned(), format!("{} heard", role.name())),
            (None, None) => {
                let known = self.course.holds.iter().map(|hold| hold.number.clone()).collect();
                return Err(Refusal::NoHold { found: line.to_owned(), known });
            }
        };
        self.tell(now, by, Event::Overridden { phase, line, what, reason });
        Ok(())
    }

    /// Writes down, once, that somebody was not heard in time.
    pub(super) fn look_for_silence(&mut self, now: Now) {
        let at = self.since(now);
        let Some((role, due)) = self.folded.due(&self.course) else { return };
        if self.folded.closed || at < clock::round(due) {
            return;
        }
        let since = self.folded.role_views(&self.course, at);
        let heard = since.into_iter().find(|one| one.role == role).and_then(|one| one.heard);
        let every = every(&self.course, role).unwrap_or(Time::ZERO);
        let time = clock::round(heard.unwrap_or(at - due + every));
        self.tell(now, None, Event::Role { role, news: RoleNews::Silent { time } });
    }
}
