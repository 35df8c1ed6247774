//! One record at work: readings, events and time come in, advice comes out.

use plan::left::Remains;
use plan::measured::GivesBack;
use plan::{Job, Plan};
use quantity::{Current, Time, Voltage};
use session::record::{Advised, Batch, Event, Head, Strength};
use session::role::{Role, RoleNews};
use session::state::ActKind;
use session::{Entry, Reading};

use crate::advice::{Advice, Reason};
use crate::course::Course;
use crate::told;
use crate::track::Track;

/// One reading of one conductor, as a meter or a hand gave it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Taken {
    /// From energising.
    pub at: Time,
    /// At the object, as a magnitude; `None` where it was not read or was over range.
    pub voltage: Option<Voltage>,
    /// Into the object, with the sign of the voltage; `None` where it was not read or was over
    /// range.
    pub current: Option<Current>,
    /// Half the last digit of the voltage.
    pub voltage_half_digit: Option<Voltage>,
    /// Half the last digit of the current.
    pub current_half_digit: Option<Current>,
    /// Voltmeter range in use, if known.
    pub voltage_range: Option<Voltage>,
    /// Ammeter range in use, if known.
    pub current_range: Option<Current>,
    /// Whether a meter showed overload.
    pub overload: bool,
    /// Whether it is of leads and set alone.
    pub blank: bool,
    /// Which link was fitted, in words.
    pub link: Option<String>,
}

/// What every conductor of one record asks for while it runs.
#[derive(Clone, Debug)]
pub struct Adviser {
    course: Course,
    tracks: Vec<(String, Track)>,
    /// Who calls for the voltage to come down, or is silent, and as what that is told.
    people: Vec<(Role, Reason)>,
    /// Conductors whose voltage is brought down, and when, from energising; what their tests tell
    /// was not asked for yet.
    ended: Vec<(String, Time)>,
    /// Conductors that were brought down in the application at hand.
    down: Vec<String>,
    /// What is left on those whose own test told of it.
    told: Vec<(String, Remains)>,
    job: Job,
    plan: Plan,
}

/// Readings that came before the voltage was known to be on, for each conductor.
const BEFORE: usize = 64;

impl Adviser {
    /// For a record that begins so.
    #[must_use]
    pub fn new(head: &Head) -> Self {
        let course = Course::of(head);
        let tracks = course.conductors.iter().map(|name| (name.clone(), Track::default()));
        Self {
            tracks: tracks.collect(),
            course,
            people: Vec::new(),
            ended: Vec::new(),
            down: Vec::new(),
            told: Vec::new(),
            job: head.job.clone(),
            plan: head.plan.clone(),
        }
    }

    /// Takes a reading in, at its time from energising.
    pub fn reading(&mut self, phase: &str, taken: &Taken) {
        let (course, track) = self.parts(phase);
        track.reading(course, taken);
    }

    /// Takes a reading of a meter in, at this time since the record was begun; those from before
    /// the voltage was known to be on count once it is.
    pub fn metered(&mut self, phase: &str, since_begun: Time, mut taken: Taken) {
        let (course, track) = self.parts(phase);
        match track.energised_at() {
            Some(zero) => {
                taken.at = since_begun - zero;
                track.reading(course, &taken);
            }
            None => {
                taken.at = since_begun;
                track.keep(taken, BEFORE);
            }
        }
    }

    /// Takes in an event that is no batch of readings from meters: those come one by one.
    pub fn event(&mut self, entry: &Entry) {
        let at = entry.at.map(|moment| moment.since_begun);
        match &entry.what {
            Event::Did { phase, since_energised, act, told, .. } => {
                let (course, track) = self.parts(phase);
                track.did(course, at, *since_energised, act, *told);
                self.ends(phase, act.kind(), *since_energised);
            }
            Event::GivesBack { phase, told, .. } => {
                self.ended.retain(|(name, _)| name != phase);
                self.told.retain(|(name, _)| name != phase);
                self.told.push((phase.clone(), self.course.remains.told(told)));
            }
            Event::Energised { phase } => {
                let (course, track) = self.parts(phase);
                track.begin(course, Time::ZERO, Time::ZERO);
            }
            Event::Readings { phase, rows } => {
                for row in rows {
                    self.reading(phase, &of_row(row));
                }
            }
            Event::Withdrawn { phase, at } => {
                let (course, track) = self.parts(phase);
                track.withdraw(course, *at);
            }
            Event::Role { role, news } => self.heard(*role, news),
            Event::Overridden { line, .. } if line.starts_with(Role::FarEnd.key()) => {
                self.people.retain(|(_, why)| !matches!(why, Reason::FarEndSilent { .. }));
            }
            _ => {}
        }
    }

    /// Takes in an event of a record that is taken up again, batches and all.
    pub fn replay(&mut self, entry: &Entry) {
        if let Event::Metered(batch) = &entry.what {
            if !batch.idle {
                rows(batch).for_each(|taken| self.reading(&batch.phase, &taken));
            }
        } else {
            self.event(entry);
        }
    }

    /// What is advised of a conductor now, at this time from its energising.
    #[must_use]
    pub fn at(&self, phase: &str, since_energised: Time) -> Advice {
        let track = self.tracks.iter().find(|(name, _)| name == phase);
        match track {
            Some((_, track)) => {
                let mut advice = track.advice(&self.course, since_energised);
                if let Some((_, remains)) = self.told.iter().find(|(name, _)| name == phase) {
                    track.by_its_test(&mut advice, remains, since_energised);
                }
                if track.is_energised() { self.with_people(advice) } else { advice }
            }
            None => Track::default().advice(&self.course, since_energised),
        }
    }

    /// When this conductor was energised last, since the record was begun; `None` before.
    #[must_use]
    pub fn energised_at(&self, phase: &str) -> Option<Time> {
        self.tracks.iter().find(|(name, _)| name == phase)?.1.energised_at()
    }

    /// Whether the voltage is on and the current is read with a sign against it.
    #[must_use]
    pub fn reads_against(&self, phase: &str) -> bool {
        let track = self.tracks.iter().find(|(name, _)| name == phase);
        track.is_some_and(|(_, track)| track.is_energised() && track.signs.against)
    }

    /// The same advice as it enters the record.
    #[must_use]
    pub fn advised(phase: &str, since_energised: Option<Time>, advice: &Advice) -> Advised {
        Advised {
            phase: phase.to_owned(),
            since_energised,
            strength: advice.strength,
            reason: advice.reason.key().to_owned(),
            text: advice.text(),
        }
    }

    /// What a conductor gives back by its own test, and when it was brought down, from energising:
    /// once for each application, where that is told otherwise than planned.
    pub fn gives_back(&mut self, phase: &str) -> Option<(Time, GivesBack)> {
        let place = self.ended.iter().position(|(name, _)| name == phase)?;
        let (_, ended) = self.ended.swap_remove(place);
        let (_, track) = self.tracks.iter().find(|(name, _)| name == phase)?;
        Some((ended, told::back(track, &self.course, (&self.job, &self.plan), ended)?))
    }

    /// Voltage goes on, so that what was told of the last time is past; or it is brought down.
    fn ends(&mut self, phase: &str, kind: ActKind, since_energised: Option<Time>) {
        if kind == ActKind::Energise {
            self.ended.retain(|(name, _)| name != phase);
            self.told.retain(|(name, _)| name != phase);
            self.down.retain(|name| name != phase);
            return;
        }
        let brought_down = matches!(
            kind,
            ActKind::Stop
                | ActKind::Trip
                | ActKind::Abort
                | ActKind::Flashover
                | ActKind::Breakdown
                | ActKind::Off
        );
        let Some(time) = since_energised.filter(|_| brought_down) else { return };
        if !self.down.iter().any(|name| name == phase) {
            self.down.push(phase.to_owned());
            self.ended.push((phase.to_owned(), time));
        }
    }

    /// The last word of a part counts.
    fn heard(&mut self, role: Role, news: &RoleNews) {
        self.people.retain(|(who, _)| *who != role);
        let reason = match news {
            RoleNews::Here => return,
            RoleNews::Called { text } => Reason::Called { role, text: text.clone() },
            RoleNews::Silent { time } => Reason::FarEndSilent { time: *time },
        };
        self.people.push((role, reason));
    }

    /// People come before readings: whoever is near the object cannot be read off a needle.
    fn with_people(&self, mut advice: Advice) -> Advice {
        for (_, reason) in &self.people {
            let before = std::mem::replace(&mut advice.reason, reason.clone());
            advice.others.insert(0, before);
            advice.strength = Strength::ComeDown;
        }
        advice
    }

    fn parts(&mut self, phase: &str) -> (&Course, &mut Track) {
        let found = self.tracks.iter().position(|(name, _)| name == phase);
        let index = found.unwrap_or_else(|| {
            self.tracks.push((phase.to_owned(), Track::default()));
            self.tracks.len() - 1
        });
        (&self.course, &mut self.tracks[index].1)
    }
}

fn of_row(row: &Reading) -> Taken {
    Taken {
        at: row.at,
        voltage: row.voltage.map(Voltage::abs),
        current: row.current,
        voltage_half_digit: row.voltage_half_digit,
        current_half_digit: row.current_half_digit,
        voltage_range: row.voltage_range,
        current_range: row.current_range,
        overload: row.overload,
        blank: row.blank,
        link: row.link.clone(),
    }
}

fn rows(batch: &Batch) -> impl Iterator<Item = Taken> + '_ {
    let at = |column: &[Option<f64>], row: usize| column.get(row).copied().flatten();
    batch.t_s.iter().enumerate().map(move |(row, t_s)| Taken {
        at: Time::from_seconds(*t_s),
        voltage: at(&batch.kv, row).map(|kv| Voltage::from_kilovolts(kv).abs()),
        current: at(&batch.ua, row).map(Current::from_microamperes),
        voltage_half_digit: batch.voltage_half_digit,
        current_half_digit: batch.current_half_digit,
        voltage_range: batch.voltage_range,
        current_range: batch.current_range,
        overload: batch.overload.contains(&row),
        blank: batch.blank,
        link: batch.link.clone(),
    })
}

#[cfg(test)]
mod tests {
    use session::act::Act;
    use session::record::{Kind, Moment, Told};

    use super::*;

    fn entry(second: f64, what: Event) -> Entry {
        let at = Moment { since_begun: Time::from_seconds(second), wall: Default::default() };
        Entry { at: Some(at), by: None, what }
    }

    fn did(second: f64, act: Act) -> Entry {
        let since_energised = Some(Time::from_seconds(second));
        let (phase, told) = ("A".to_owned(), Told::Said);
        entry(second, Event::Did { phase, since_energised, act, told, breaches: Vec::new() })
    }

    /// Derived from decision 0016: the last word of each part counts, while voltage is on.
    #[test]
    fn people_come_before_readings_until_they_are_heard_again() {
        let example = include_str!("../../../docs/examples/cable.toml");
        let job = plan::job_file::parse(example).expect("the example is a good job file");
        let plan = plan::plan(&job, &standards::Library::published());
        let format = session::RECORD_FORMAT.to_owned();
        let head = Head { format, kind: Kind::Test, source: None, job, plan };
        let mut adviser = Adviser::new(&head);
        adviser.event(&did(0.0, Act::Check));
        adviser.event(&did(0.0, Act::Energise));
        let told = |adviser: &Adviser| {
            let advice = adviser.at("A", Time::from_seconds(400.0));
            (advice.strength == Strength::ComeDown, advice.reason.key())
        };
        let role = |role, news| entry(310.0, Event::Role { role, news });
        assert!(!told(&adviser).0);
        let time = Time::from_seconds(300.0);
        adviser.event(&role(Role::FarEnd, RoleNews::Silent { time }));
        assert_eq!(told(&adviser), (true, "far-end-silent"));
        let text = adviser.at("A", time).text();
        assert_eq!(text, "Come down: the far-end guard was not heard for 5 min");
        adviser.event(&role(Role::Watch, RoleNews::Called { text: "a van".to_owned() }));
        assert_eq!(told(&adviser), (true, "called"));
        adviser.event(&role(Role::Watch, RoleNews::Here));
        adviser.event(&role(Role::FarEnd, RoleNews::Here));
        assert!(!told(&adviser).0, "{:?}", told(&adviser));
        adviser.event(&role(Role::FarEnd, RoleNews::Silent { time }));
        adviser.event(&did(320.0, Act::Stop));
        assert!(!told(&adviser).0, "it comes down already: {:?}", told(&adviser));
    }
}
