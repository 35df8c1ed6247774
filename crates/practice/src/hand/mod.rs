//! The hand: works a whole plan on a set, conductor by conductor, and says what it does.

mod task;

use std::collections::VecDeque;

use plan::Plan;
use plan::course::{Descent, ResistanceTest, Step, When};
use quantity::{Capacitance, Current, Time, Voltage, VoltageRate};
use standards::{Library, typical};

use crate::rig::{Rig, Tripped};
use task::{Applied, Ended, Task, turn_dial};

/// Something the hand did, in the words a person would type.
#[derive(Clone, Debug, PartialEq)]
pub struct Deed {
    /// Machine time.
    pub at: Time,
    /// The words.
    pub words: String,
}

/// How the hand works where the plan leaves it free.
#[derive(Clone, Debug, PartialEq)]
pub struct Habits {
    /// Between one deed and the next.
    pub pause: Time,
    /// To whom the grounds are left.
    pub grounds_to: String,
}

impl Default for Habits {
    /// Two seconds; the owner of the object.
    fn default() -> Self {
        Self { pause: Time::from_seconds(2.0), grounds_to: "owner of the object".to_owned() }
    }
}

/// Why a plan cannot be worked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum HandError {
    /// The plan says: do not run this.
    #[error("do not run this plan: it is refused; correct the job by its remedies first")]
    Refused,
    /// The plan has no way down.
    #[error("plan the way down first: tool, ground and its time are missing")]
    NoDescent,
}

/// A part of the work, up to the next grounding.
#[derive(Clone, Debug, PartialEq)]
enum Chapter {
    /// Grounds on everything.
    Prepare,
    /// Voltage on one conductor.
    Apply { conductor: usize, steps: Vec<Applied>, again: bool },
    /// Grounds handed over, conductors released.
    Finish,
}

/// A hand at its work.
#[derive(Clone, Debug)]
pub struct Hand {
    conductors: Vec<String>,
    descent: Descent,
    habits: Habits,
    chapters: VecDeque<Chapter>,
    tasks: VecDeque<Task>,
    waiting: Option<Time>,
    /// The conductor that has the lead.
    at: usize,
    /// When the ground of each conductor went on.
    grounded: Vec<Option<Time>>,
    /// Hold points that are not ticked yet, by name.
    holds: Vec<String>,
    /// Who is heard before voltage, as a line.
    heard: Option<String>,
    /// How often the far end answers while voltage is on.
    far_end_every: Option<Time>,
    /// When it answers next.
    answers_at: Option<Time>,
    /// The highest the voltmeter was seen at in this application.
    stood: Voltage,
    done: bool,
    deeds: Vec<Deed>,
    held: Option<Held>,
}

/// A hand that stays where it is.
#[derive(Clone, Copy, Debug)]
struct Held {
    since: Time,
    /// Where the dial was going, and how fast.
    dial: (f64, f64),
}

impl Hand {
    /// A hand that will work this plan.
    ///
    /// # Errors
    /// When the plan is refused or has no way down.
    pub fn new(plan: &Plan, habits: Habits) -> Result<Self, HandError> {
        let first = plan.course.first().filter(|_| !plan.is_refused());
        let first = first.ok_or(HandError::Refused)?;
        let descent = plan.descent.clone().ok_or(HandError::NoDescent)?;
        let all = 0..plan.conductors.len();
        let mut chapters = VecDeque::from([Chapter::Prepare]);
        // The resistance of all first: while one is tested the others' grounds serve their time.
        if let Some(test) = &plan.resistance_test {
            let steps = vec![resistance(plan, test, first)];
            chapters.extend(all.clone().map(|conductor| Chapter::Apply {
                conductor,
                steps: steps.clone(),
                again: false,
            }));
        }
        let steps: Vec<Applied> = plan.course.iter().map(applied).collect();
        let again = plan.resistance_test.is_some();
        chapters.extend(all.map(|conductor| Chapter::Apply {
            conductor,
            steps: steps.clone(),
            again,
        }));
        chapters.push_back(Chapter::Finish);
        Ok(Self {
            grounded: vec![None; plan.conductors.len()],
            holds: holds(plan),
            heard: heard(plan),
            far_end_every: plan.ready.far_end_every,
            answers_at: None,
            conductors: plan.conductors.clone(),
            descent,
            habits,
            chapters,
            tasks: VecDeque::new(),
            waiting: None,
            at: 0,
            stood: Voltage::ZERO,
            done: false,
            deeds: Vec::new(),
            held: None,
        })
    }

    /// Works the rig up to `to` and tells what was done on the way, in order.
    pub fn work(&mut self, rig: &mut Rig, to: Time) -> Vec<Deed> {
        loop {
            let wake = self.waiting.map_or(rig.now(), |until| until.max(rig.now()));
            if let Some(at) =
                self.answers_at.filter(|at| *at <= to && (*at < wake || self.held.is_some()))
            {
                match rig.advance(at.max(rig.now())) {
                    Some(tripped) => self.notice(tripped),
                    None => self.far_end_answers(rig),
                }
                continue;
            }
            if self.done || self.held.is_some() || wake > to {
                if let Some(tripped) = rig.advance(to) {
                    self.notice(tripped);
                    continue;
                }
                break;
            }
            if let Some(tripped) = rig.advance(wake) {
                self.notice(tripped);
                continue;
            }
            self.waiting = None;
            match self.tasks.pop_front() {
                Some(task) => self.perform(task, rig),
                None => self.turn_page(),
            }
        }
        std::mem::take(&mut self.deeds)
    }

    /// When it next does or reads something; `None` when it has done everything.
    #[must_use]
    pub fn next(&self, rig: &Rig) -> Option<Time> {
        let next = self.waiting.unwrap_or(rig.now());
        (!self.done).then(|| self.answers_at.map_or(next, |answers| answers.min(next)))
    }

    /// Stays here: the dial stands, and nothing is done until [`Self::go_on`] or
    /// [`Self::come_down_now`]. What is read meanwhile is not its matter.
    pub fn hold_here(&mut self, rig: &mut Rig) {
        if self.held.is_none() {
            self.held = Some(Held { since: rig.now(), dial: rig.dial_course() });
            turn_dial(rig, (rig.dial_at(), 1.0));
        }
    }

    /// Whether it stays where it is.
    #[must_use]
    pub fn is_held(&self) -> bool {
        self.held.is_some()
    }

    /// Goes on where it stayed; what was still to be waited for is waited for.
    pub fn go_on(&mut self, rig: &mut Rig) {
        if let Some(held) = self.held.take() {
            self.waiting = self.waiting.map(|until| until + (rig.now() - held.since));
            turn_dial(rig, held.dial);
        }
    }

    /// Leaves everything else of this conductor out, and takes the voltage off in the order of the
    /// way down. Without voltage on a conductor it does nothing.
    pub fn come_down_now(&mut self, rig: &mut Rig) {
        self.held = None;
        if self.grounded[self.at].is_some() || !rig.is_high_voltage_on() {
            return;
        }
        self.give_up();
        self.say_here(rig, "stop");
        self.come_down(Some(Ended::Advised));
    }

    /// Whether everything is done.
    #[must_use]
    pub fn is_done(&self) -> bool {
        self.done
    }

    fn say(&mut self, rig: &Rig, words: String) {
        self.deeds.push(Deed { at: rig.now(), words });
    }

    /// The far end is heard well before it is due.
    fn far_end_answers(&mut self, rig: &Rig) {
        self.say(rig, "here far-end".to_owned());
        self.answers_at = self.far_end_every.map(|every| rig.now() + every * task::IN_GOOD_TIME);
    }

    /// Says it of the conductor that has the lead.
    fn say_here(&mut self, rig: &Rig, words: &str) {
        self.say_of(rig, self.at, words);
    }

    fn say_of(&mut self, rig: &Rig, conductor: usize, words: &str) {
        let name = &self.conductors[conductor];
        let mark = if name.contains(char::is_whitespace) { "\"" } else { "" };
        let words = format!("@{mark}{name}{mark} {words}");
        self.say(rig, words);
    }

    /// The next chapter, as tasks.
    fn turn_page(&mut self) {
        match self.chapters.pop_front() {
            None => self.done = true,
            Some(Chapter::Prepare) => {
                for conductor in 0..self.conductors.len() {
                    self.push([Task::Ground(conductor), Task::Pause(self.habits.pause)]);
                }
            }
            Some(Chapter::Apply { conductor, steps, again }) => {
                self.apply(conductor, steps, again);
            }
            Some(Chapter::Finish) => {
                for conductor in 0..self.conductors.len() {
                    self.push([
                        Task::ServeGround(conductor),
                        Task::Leave(conductor),
                        Task::Pause(self.habits.pause),
                    ]);
                }
                self.push([Task::Close]);
            }
        }
    }

    fn push<const N: usize>(&mut self, tasks: [Task; N]) {
        self.tasks.extend(tasks);
    }

    /// One application of voltage, from the lead to the ground.
    fn apply(&mut self, conductor: usize, steps: Vec<Applied>, again: bool) {
        let pause = Task::Pause(self.habits.pause);
        let top = steps.iter().fold(Voltage::ZERO, |top, step| top.max(step.level));
        if again {
            self.push([Task::ServeGround(conductor)]);
        }
        self.push([Task::Lead(conductor), pause.clone()]);
        self.push([Task::Check(conductor), pause.clone()]);
        self.push([Task::Lift(conductor), pause.clone()]);
        if again {
            self.push([Task::ReadLeft, pause.clone()]);
        }
        self.push([Task::Energise(top), pause.clone()]);
        let count = steps.len();
        for (index, step) in steps.into_iter().enumerate() {
            let last = index + 1 == count;
            let (dwell, reads) = (step.dwell, step.reads.clone());
            self.push([Task::Rise(step.clone()), Task::Arrive { step, last, tries: 0 }]);
            let mut stood = Time::ZERO;
            for read in reads {
                self.push([Task::Pause(read - stood), Task::Look]);
                stood = read;
            }
            // A hand moves on after the last reading, not at it.
            let rest = (dwell - stood).max(Time::ZERO) + task::AFTER_A_READING;
            self.push([Task::Pause(rest), Task::Look]);
        }
        self.push([Task::Stop]);
        self.come_down(None);
    }

    /// From the dial on its way down to the solid ground, and what is then typed.
    fn come_down(&mut self, ended: Option<Ended>) {
        let pause = Task::Pause(self.habits.pause);
        self.push([Task::DialDown, Task::Pause(task::DOWN)]);
        self.push([Task::Off { said: ended != Some(Ended::Trip) }]);
        self.push([Task::Pause(self.descent.bleed_to_tenth.unwrap_or(self.habits.pause))]);
        self.push([Task::ReadLeft, pause.clone(), Task::ToolOn]);
        let on_tool = (self.descent.to_limit() * task::TOOL_PATIENCE).max(task::SHORTEST_TOOL);
        self.push([Task::Pause(on_tool), Task::Discharged, Task::GroundHere, pause.clone()]);
        if let Some(ended) = ended {
            self.push([Task::Cause(ended), pause.clone(), Task::End, pause]);
        }
    }

    /// The set tripped: everything else of this conductor is left out.
    fn notice(&mut self, tripped: Tripped) {
        self.held = None;
        let words = format!("@{} trip", self.conductors[self.at]);
        self.deeds.push(Deed { at: tripped.at, words });
        self.give_up();
        self.push([Task::Pause(task::COLLAPSE), Task::SeeCollapse(tripped.shown)]);
        self.come_down(Some(Ended::Trip));
    }

    /// Leaves out what was still to be done with this conductor.
    fn give_up(&mut self) {
        self.answers_at = None;
        self.tasks.clear();
        self.waiting = None;
        let at = self.at;
        self.chapters.retain(
            |chapter| !matches!(chapter, Chapter::Apply { conductor, .. } if *conductor == at),
        );
    }
}

/// Hold points of a plan, by name.
fn holds(plan: &Plan) -> Vec<String> {
    let lines = plan.checklist.iter().filter(|line| line.when <= When::Connecting);
    let lines = lines.filter(|line| line.hold_point).map(|line| line.id.clone());
    lines.chain(plan.ready.open().map(|question| question.id.clone())).collect()
}

/// Whoever is heard before voltage.
fn heard(plan: &Plan) -> Option<String> {
    let roles = plan.ready.roles.iter().map(|role| role.id.as_str());
    let asked: Vec<&str> = roles.filter(|id| ["watch", "far-end"].contains(id)).collect();
    (!asked.is_empty()).then(|| format!("here {}", asked.join(" ")))
}

fn applied(step: &Step) -> Applied {
    Applied {
        level: step.level,
        rise: step.rise,
        dwell: step.dwell,
        reads: step.readings.iter().map(|reading| reading.at).collect(),
        trip: step.trip,
        charges: None,
    }
}

/// The longest a hand takes to the voltage of a resistance test: the index compares the first
/// minute with the tenth, and a slow rise would spend the absorption before the first reading.
const PROMPT: Time = Time::from_seconds(10.0);

/// The resistance test as one step, raised promptly also where the course is a slow ramp.
///
/// The first step's trip is for the rise of the course: for a quicker one the trip stands above
/// what that charges as well, by the published factor.
fn resistance(plan: &Plan, test: &ResistanceTest, first: &Step) -> Applied {
    let rise = first.rise.max(test.voltage / PROMPT);
    let over = typical::trip_factors(&Library::published()).value.over_expected;
    let capacitance = plan.capacitance_band.map(|band| band.high * over);
    let charges = capacitance.filter(|_| rise > first.rise);
    let flows = test.readings.first().map_or(Current::ZERO, |reading| reading.expected.high * over);
    let more = charges.map_or(Current::ZERO, |charges| charging(charges, rise) + flows);
    Applied {
        level: test.voltage,
        rise,
        dwell: test.dwell,
        reads: test.readings.iter().map(|reading| reading.at).collect(),
        trip: first.trip.map(|trip| trip + more),
        charges,
    }
}

/// C·dV/dt.
fn charging(capacitance: Capacitance, rise: VoltageRate) -> Current {
    Current::from_amperes(capacitance.farads() * rise.volts_per_second())
}
