//! What a person says: taken where it is legal, refused with the reason where it is not.

use quantity::edge::twelve_digits;
use quantity::{Current, Time, Voltage};

use super::infer::{Belief, Point};
use super::refusal::Refusal;
use super::standing::Standing;
use super::{Session, clock};
use crate::act::Act;
use crate::guard::Guard;
use crate::meters::{Compared, Scales};
use crate::readings::Row;
use crate::record::{Event, Happening, Now, Reading, Told};
use crate::register::Ground;
use crate::say::{Said, ScalesChange};
use crate::state::{ActKind, State};

impl Session {
    /// Whatever a line says; who reads lines need not know what there is to be said.
    ///
    /// # Errors
    /// Why it cannot be taken; nothing changed then.
    pub fn handle_said(&mut self, now: Now, by: Option<&str>, said: Said) -> Result<(), Refusal> {
        match said {
            Said::Act { phase, act } => self.handle_act(now, by, phase.as_deref(), act),
            Said::Reading { phase, reading } => {
                self.handle_typed(now, by, phase.as_deref(), reading)
            }
            Said::Row { phase, row } => self.handle_row(now, by, phase.as_deref(), row),
            Said::Withdraw { phase } => self.handle_withdraw(now, by, phase.as_deref()),
            Said::Tick { phase, line, on } => {
                self.handle_tick(now, by, phase.as_deref(), &line, on)
            }
            Said::Override { phase, line, reason } => {
                self.handle_override(now, by, phase.as_deref(), &line, &reason)
            }
            Said::Here { roles } => self.handle_here(now, by, &roles),
            Said::Call { role, text } => self.handle_call(now, by, role, &text),
            Said::Scales(change) => self.handle_scales(now, by, change),
            Said::Compared(compared) => self.handle_compared(now, by, compared),
            Said::Remark { text } => self.handle_remark(now, by, &text),
            Said::Close => self.handle_close(now, by),
            Said::Nothing => Ok(()),
        }
    }

    /// An act that a person says was done, or happened.
    ///
    /// Arguments: who says so; the conductor, or `None` for the one with the lead.
    ///
    /// # Errors
    /// Why it cannot be; nothing changed then.
    pub fn handle_act(
        &mut self,
        now: Now,
        by: Option<&str>,
        phase: Option<&str>,
        mut act: Act,
    ) -> Result<(), Refusal> {
        self.look_at_clocks(now);
        let index = self.conductor(phase)?;
        has_words(&act)?;
        if act == Act::Off && self.folded.conductors[index].state.is_energised() {
            // Whoever switches off under voltage is never told to go on: that is an abort.
            act = Act::Abort;
        }
        if let Act::Residual { voltage } = &mut act {
            *voltage = voltage.map(|voltage| as_written(voltage.abs()));
        }
        let kind = act.kind();
        let one = &self.folded.conductors[index];
        let told = if one.seen.contains(&kind) { Told::Confirmed } else { Told::Said };
        let at = self.moment(now).since_begun;
        if told == Told::Said {
            if one.state.after(kind).is_none() {
                let (conductor, state) = (one.name.clone(), one.state);
                let tripped = one.ending.tripped;
                return Err(Refusal::Illegal { conductor, act: kind, state, tripped });
            }
            let guards = self.folded.unmet(&self.course, index, &act, at);
            if !guards.is_empty() {
                let conductor = one.name.clone();
                let open = self.folded.open(&self.course, index, kind);
                let open = open.into_iter().map(|hold| hold.number.clone()).collect();
                let unheard = self.folded.unheard(&self.course, at);
                return Err(Refusal::Unmet { conductor, act: kind, guards, open, unheard });
            }
        }
        let since_energised = match kind {
            ActKind::Energise if told == Told::Said => Some(Time::ZERO),
            // Lines of a pipe bring their own time, and it may be ahead: what is said after them
            // was done after them.
            _ => one.energised_at.map(|zero| {
                let t = clock::round(at - zero);
                one.last_t.filter(|_| one.state.in_application()).map_or(t, |last| t.max(last))
            }),
        };
        self.flush(now);
        self.did(now, by, index, act, since_energised, told);
        Ok(())
    }

    /// A reading that a person typed; its time is `now`, when the first digit was typed.
    ///
    /// # Errors
    /// Why it cannot be taken; nothing changed then.
    pub fn handle_typed(
        &mut self,
        now: Now,
        by: Option<&str>,
        phase: Option<&str>,
        mut reading: Reading,
    ) -> Result<(), Refusal> {
        self.look_at_clocks(now);
        let index = self.conductor(phase)?;
        magnitude(&mut reading);
        let shows_voltage = reading.voltage.is_some_and(|voltage| voltage > self.floor(index));
        if !self.folded.conductors[index].state.in_application() && !shows_voltage {
            let conductor = self.folded.conductors[index].name.clone();
            return Err(Refusal::NotEnergised { conductor });
        }
        if let Some(energised) = self.fed_beside(index) {
            let conductor = self.folded.conductors[index].name.clone();
            return Err(Refusal::OtherEnergised { conductor, energised });
        }
        let at = self.since(now);
        self.energise_if_idle(now, index, at);
        let one = &self.folded.conductors[index];
        let zero = one.energised_at.unwrap_or(at);
        reading.at = clock::round((at - zero).max(Time::ZERO));
        reading.blank = one.blank;
        self.folded.scales.fill_typed(&mut reading);
        self.keep(now, by, index, reading, Belief::Level);
        Ok(())
    }

    /// The conductor that voltage is on, where this one is grounded and nothing was done to it:
    /// what is read then is not read of this one.
    fn fed_beside(&self, index: usize) -> Option<String> {
        let all = &self.folded.conductors;
        if all[index].state.in_application() || !self.folded.is_grounded(index) {
            return None;
        }
        all.iter().find(|one| one.state.is_energised()).map(|one| one.name.clone())
    }

    /// A line that tells its own time from energising, as it comes through a pipe. What it tells
    /// happened already: it is not refused but for a time that runs back.
    ///
    /// # Errors
    /// Why it cannot be taken; nothing changed then.
    pub fn handle_row(
        &mut self,
        now: Now,
        by: Option<&str>,
        phase: Option<&str>,
        row: Row,
    ) -> Result<(), Refusal> {
        self.look_at_clocks(now);
        let index = match (phase.or(row.phase.as_deref()), self.folded.lead) {
            (None, None) => self.open()?,
            (phase, _) => self.conductor(phase)?,
        };
        let mut reading = row.reading;
        magnitude(&mut reading);
        let t = reading.at;
        self.begin_row(now, index, t, reading.blank)?;
        let zero = self.folded.conductors[index].energised_at.unwrap_or(Time::ZERO);
        if let Some(what) = row.event {
            self.happened(now, index, what, reading.voltage, zero + t);
        }
        let empty = reading.voltage.is_none() && reading.current.is_none() && !reading.overload;
        self.folded.scales.fill_typed(&mut reading);
        if !empty {
            self.keep(now, by, index, reading, Belief::One);
        }
        Ok(())
    }

    /// The last typed reading was a slip.
    ///
    /// # Errors
    /// There is none, or it was withdrawn before.
    pub fn handle_withdraw(
        &mut self,
        now: Now,
        by: Option<&str>,
        phase: Option<&str>,
    ) -> Result<(), Refusal> {
        self.look_at_clocks(now);
        let index = self.conductor(phase)?;
        let one = &self.folded.conductors[index];
        let conductor = one.name.clone();
        let Some(at) = one.typed else { return Err(Refusal::NothingToWithdraw { conductor }) };
        self.watcher.slipped();
        self.tell(now, by, Event::Withdrawn { phase: conductor, at });
        Ok(())
    }

    /// A line of the checklist was looked at, or its tick is taken back.
    ///
    /// # Errors
    /// The record is closed, the conductor is none of the plan's, or there are no words.
    pub fn handle_tick(
        &mut self,
        now: Now,
        by: Option<&str>,
        phase: Option<&str>,
        line: &str,
        on: bool,
    ) -> Result<(), Refusal> {
        self.look_at_clocks(now);
        self.open()?;
        let phase = self.named(phase)?;
        let line = line.trim().to_owned();
        if line.is_empty() {
            return Err(Refusal::NoWords);
        }
        if self.course.is_no_line(&line) {
            let known = self.course.holds.iter().map(|hold| hold.number.clone()).collect();
            return Err(Refusal::NoLine { found: line, known });
        }
        self.tell(now, by, Event::Ticked { phase, line, on });
        Ok(())
    }

    /// On which ranges the meters stand from now on, and which link is fitted; what is `None` in
    /// the change stays as it was said before.
    ///
    /// # Errors
    /// The record is closed, or a range is not above zero.
    pub fn handle_scales(
        &mut self,
        now: Now,
        by: Option<&str>,
        change: ScalesChange,
    ) -> Result<(), Refusal> {
        self.look_at_clocks(now);
        self.open()?;
        let mut scales = self.folded.scales.clone();
        match change {
            ScalesChange::Ranges { voltage, current } => {
                scales.voltage_range = voltage.or(scales.voltage_range);
                scales.current_range = current.or(scales.current_range);
            }
            ScalesChange::RangesUnknown => {
                (scales.voltage_range, scales.current_range) = (None, None);
            }
            ScalesChange::Link { link } => scales.link = link,
        }
        self.flush(now);
        self.slips.forget();
        self.tell(now, by, Event::Scaled(scales));
        Ok(())
    }

    /// A meter was checked against something known.
    ///
    /// # Errors
    /// The record is closed.
    pub fn handle_compared(
        &mut self,
        now: Now,
        by: Option<&str>,
        compared: Compared,
    ) -> Result<(), Refusal> {
        self.look_at_clocks(now);
        self.open()?;
        self.tell(now, by, Event::Compared(compared));
        Ok(())
    }

    /// A remark.
    ///
    /// # Errors
    /// The record is closed, or there are no words.
    pub fn handle_remark(&mut self, now: Now, by: Option<&str>, text: &str) -> Result<(), Refusal> {
        self.look_at_clocks(now);
        self.open()?;
        let text = text.trim().to_owned();
        if text.is_empty() {
            return Err(Refusal::NoWords);
        }
        self.tell(now, by, Event::Remark { text });
        Ok(())
    }

    /// What keeps the record from being closed: conductors, and grounds with the conductor each is
    /// on.
    pub(super) fn keeps_open(&self) -> (Vec<String>, Vec<(String, String)>) {
        let free = |one: &Standing| one.state == State::Released || one.applications == 0;
        let all = self.folded.conductors.iter();
        let unreleased = all.filter(|one| !free(one)).map(|one| one.name.clone()).collect();
        let on = self.folded.register.grounds.iter().filter(|ground| !Ground::is_settled(ground));
        let grounds = on.map(|ground| (ground.number.clone(), ground.phase.clone())).collect();
        (unreleased, grounds)
    }

    /// The record is closed; nothing follows.
    ///
    /// # Errors
    /// A conductor is not released, or a ground is on and not handed over.
    pub fn handle_close(&mut self, now: Now, by: Option<&str>) -> Result<(), Refusal> {
        self.look_at_clocks(now);
        self.open()?;
        let (unreleased, grounds) = self.keeps_open();
        if !unreleased.is_empty() || !grounds.is_empty() {
            return Err(Refusal::CannotClose { unreleased, grounds });
        }
        self.flush(now);
        self.tell(now, by, Event::Closed);
        Ok(())
    }

    /// The rules that an act of this conductor does not meet now; `State` first where the act is
    /// not legal at all.
    #[must_use]
    pub fn missing(&self, now: Now, conductor: &str, act: &Act) -> Vec<Guard> {
        let Some(index) = self.folded.index(conductor) else { return Vec::new() };
        if self.folded.closed {
            return vec![Guard::RecordOpen];
        }
        if self.folded.conductors[index].seen.contains(&act.kind()) {
            return Vec::new();
        }
        let at = self.moment(now).since_begun;
        let mut missing = Vec::new();
        if self.folded.conductors[index].state.after(act.kind()).is_none() {
            missing.push(Guard::State);
        }
        missing.extend(self.folded.unmet(&self.course, index, act, at));
        missing
    }

    /// The conductor in focus, where the record is open.
    fn open(&self) -> Result<usize, Refusal> {
        if self.folded.closed { Err(Refusal::Closed) } else { Ok(self.folded.focus()) }
    }

    /// The conductor that was named, as the plan writes it, where the record is open.
    pub(super) fn named(&self, phase: Option<&str>) -> Result<Option<String>, Refusal> {
        self.open()?;
        let index = phase.map(|name| self.conductor(Some(name))).transpose()?;
        Ok(index.map(|index| self.folded.conductors[index].name.clone()))
    }

    fn conductor(&self, phase: Option<&str>) -> Result<usize, Refusal> {
        self.open()?;
        let all = &self.folded.conductors;
        match phase {
            None if all.len() == 1 => Ok(0),
            None => self.folded.lead.ok_or(Refusal::NoConductor),
            Some(name) => {
                let same = |one: &super::standing::Standing| one.name.eq_ignore_ascii_case(name);
                let exact = self.folded.index(name);
                exact.or_else(|| all.iter().position(same)).ok_or_else(|| {
                    Refusal::UnknownConductor {
                        found: name.to_owned(),
                        known: all.iter().map(|one| one.name.clone()).collect(),
                    }
                })
            }
        }
    }

    fn energise_if_idle(&mut self, now: Now, index: usize, at: Time) {
        if !self.folded.conductors[index].state.in_application() {
            self.see(now, index, ActKind::Energise, at);
        }
    }

    /// Keeps a typed reading and follows what it shows.
    fn keep(&mut self, now: Now, by: Option<&str>, index: usize, reading: Reading, belief: Belief) {
        let one = &self.folded.conductors[index];
        let zero = one.energised_at.unwrap_or(Time::ZERO);
        let phase = one.name.clone();
        let read = (reading.voltage, reading.current);
        let point = reading.voltage.map(|voltage| Point { at: zero + reading.at, voltage });
        self.flush(now);
        self.tell(now, by, Event::Readings { phase, rows: vec![reading] });
        let fell = self.slips.fell(read.0, read.1);
        if let Some(point) = point.filter(|_| !fell) {
            self.infer(now, index, point, belief);
        }
        self.look_for_slips(now, index, read, Some(by));
    }

    /// Sees to it that a row has an application that it belongs to.
    fn begin_row(&mut self, now: Now, index: usize, t: Time, blank: bool) -> Result<(), Refusal> {
        let one = &self.folded.conductors[index];
        let back = one.last_t.filter(|last| t < *last && one.state.in_application());
        let anew = !one.state.in_application() || back.is_some();
        if let Some(last) = back {
            let may_restart = self.folded.is_grounded(index) || one.blank != blank;
            if !may_restart {
                let (at_s, since_s) = (t.seconds().to_string(), last.seconds().to_string());
                return Err(Refusal::TimeBack { at_s, since_s });
            }
        }
        if anew {
            if blank && !one.blank {
                self.see(now, index, ActKind::Blank, Time::ZERO);
            }
            let at = self.moment(now).since_begun - t;
            self.see(now, index, ActKind::Energise, at);
        }
        Ok(())
    }

    /// What a row says happened, at this time since the record was begun.
    fn happened(
        &mut self,
        now: Now,
        index: usize,
        what: Happening,
        voltage: Option<Voltage>,
        at: Time,
    ) {
        let one = &self.folded.conductors[index];
        let state = one.state;
        let kind = match what {
            Happening::Rise if state != State::Rising => ActKind::Rise,
            Happening::Hold if matches!(state, State::Dwelling | State::Holding) => return,
            Happening::Hold => self.level_kind(index, voltage),
            Happening::Trip => ActKind::Trip,
            Happening::Flashover => ActKind::Flashover,
            Happening::Breakdown => ActKind::Breakdown,
            Happening::Down if state.is_energised() => ActKind::Stop,
            Happening::Ground => {
                let number = format!("unnumbered {}", one.name);
                let act = Act::Ground { number, place: None };
                let t = one.energised_at.map(|zero| clock::round(at - zero));
                self.flush(now);
                self.did(now, None, index, act, t, Told::Seen);
                return;
            }
            Happening::Rise | Happening::Down | Happening::Blank => return,
        };
        if matches!(kind, ActKind::Dwell | ActKind::Hold) && state == State::AtZero {
            // Who writes only what was read at the level came up to it nevertheless.
            self.see(now, index, ActKind::Rise, at);
        }
        self.see(now, index, kind, at);
    }

    /// Whether a `hold` is that of a step or of the test level.
    fn level_kind(&self, index: usize, voltage: Option<Voltage>) -> ActKind {
        let one = &self.folded.conductors[index];
        let targets = one.targets(&self.course);
        let at = |level: Voltage| {
            voltage.is_some_and(|v| (v / level - 1.0).abs() <= super::course::AT_LEVEL)
        };
        let step = targets.iter().any(|target| !target.is_hold && at(target.level));
        if step { ActKind::Dwell } else { ActKind::Hold }
    }
}

impl Scales {
    /// Puts ranges and link beside a typed reading that does not tell its own.
    fn fill_typed(&self, reading: &mut Reading) {
        reading.voltage_range = reading.voltage_range.or(self.voltage_range);
        reading.current_range = reading.current_range.or(self.current_range);
        if reading.link.is_none() {
            reading.link.clone_from(&self.link);
        }
    }
}

/// Words that carry a meaning must be there.
fn has_words(act: &Act) -> Result<(), Refusal> {
    let words = match act {
        Act::Cause { text } => text,
        Act::Ground { number, .. } | Act::Lift { number } => number,
        Act::Leave { number, to } if !number.trim().is_empty() => to,
        Act::Leave { number, .. } => number,
        _ => return Ok(()),
    };
    if words.trim().is_empty() { Err(Refusal::NoWords) } else { Ok(()) }
}

/// Readings that are wholly negative are of negative polarity; magnitudes are kept.
fn magnitude(reading: &mut Reading) {
    reading.voltage = reading.voltage.map(as_written);
    reading.current = reading
        .current
        .map(|current| Current::from_microamperes(twelve_digits(current.microamperes())));
    let negative = reading.voltage.is_some_and(|voltage| voltage < Voltage::ZERO);
    if negative {
        reading.voltage = reading.voltage.map(Voltage::abs);
        reading.current = reading.current.map(|current| -current);
        reading.negative = true;
    }
}

/// As it will be read again: a value is written in kilovolts with twelve digits.
fn as_written(voltage: Voltage) -> Voltage {
    Voltage::from_kilovolts(twelve_digits(voltage.kilovolts()))
}
