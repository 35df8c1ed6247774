//! What a hand does, one thing at a time.

use quantity::{Capacitance, Current, Time, Voltage, VoltageRate};

use super::Hand;
use crate::rig::Rig;

/// The dial is down in this time. Common practice, no source.
pub(super) const DOWN: Time = Time::from_seconds(10.0);
/// The hand moves on this long after a reading. Common practice, no source.
pub(super) const AFTER_A_READING: Time = Time::from_seconds(1.0);
/// The tool stays on this many times longer than the time to the touch limit; the plan reckons
/// with the same.
pub(super) const TOOL_PATIENCE: f64 = 2.0;
/// And never shorter than this.
pub(super) const SHORTEST_TOOL: Time = Time::from_seconds(10.0);
/// The far end answers in this part of the time that it is given. Common practice, no source.
pub(super) const IN_GOOD_TIME: f64 = 0.8;
/// A collapse of the voltage shows within this.
pub(super) const COLLAPSE: Time = Time::from_seconds(0.05);
/// Below this part of what stood there before, the voltage has collapsed.
const COLLAPSED: f64 = 0.5;
/// A level counts as reached within this of it: the tolerance of a direct test voltage, IEC
/// 60060-1, from memory, unverified.
const REACHED: f64 = 0.97;
/// Looks, a second apart, before a level is given up.
const MOST_TRIES: u32 = 60;

/// One step of an application.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Applied {
    pub(super) level: Voltage,
    pub(super) rise: VoltageRate,
    pub(super) dwell: Time,
    /// From the moment the level is reached.
    pub(super) reads: Vec<Time>,
    pub(super) trip: Option<Current>,
    /// What the rise charges, with what the trip stands above it, where it was not planned with
    /// the trip: a set that trips no higher is raised slower.
    pub(super) charges: Option<Capacitance>,
}

/// An end that is not the planned one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Ended {
    Trip,
    Collapse,
    NotReached,
    Advised,
}

/// One thing to do. Conductors are counted from zero.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Task {
    Pause(Time),
    Ground(usize),
    GroundHere,
    Lead(usize),
    Check(usize),
    Lift(usize),
    /// With the voltmeter turned to what is to come.
    Energise(Voltage),
    Rise(Applied),
    Arrive {
        step: Applied,
        last: bool,
        tries: u32,
    },
    Look,
    Stop,
    DialDown,
    Off {
        said: bool,
    },
    ReadLeft,
    ToolOn,
    Discharged,
    /// Whether the voltage collapsed with the trip; it stood here before.
    SeeCollapse(Voltage),
    Cause(Ended),
    End,
    /// Until the ground of this conductor has been on for its time.
    ServeGround(usize),
    Leave(usize),
    Close,
}

impl Hand {
    /// Does one thing, now. What it then waits for is put before what is left to do.
    pub(super) fn perform(&mut self, task: Task, rig: &mut Rig) {
        match task {
            Task::Pause(time) => self.waiting = Some(rig.now() + time),
            Task::Ground(conductor) => self.ground(conductor, rig),
            Task::GroundHere => {
                self.ground(self.at, rig);
                self.tool(rig, false);
            }
            Task::Lead(conductor) => {
                self.at = conductor;
                rig.lead(Some(&self.conductors[conductor])).expect(OF_THE_PLAN);
                self.say(rig, format!("lead {}", self.conductors[conductor]));
            }
            Task::Check(conductor) => {
                for hold in std::mem::take(&mut self.holds) {
                    self.say(rig, format!("tick {hold}"));
                }
                self.say(rig, format!("check {}", self.conductors[conductor]));
            }
            Task::Lift(conductor) => {
                rig.ground(Some(&self.conductors[conductor]), false).expect(OF_THE_PLAN);
                self.grounded[conductor] = None;
                self.say_of(rig, conductor, &format!("lift {}", conductor + 1));
            }
            Task::Energise(level) => self.energise(level, rig),
            Task::Rise(step) => self.rise(&step, rig),
            Task::Arrive { step, last, tries } => self.arrive(step, last, tries, rig),
            Task::Look => self.look(rig),
            Task::Stop => {
                self.answers_at = None;
                self.say_here(rig, "stop");
            }
            Task::DialDown => turn_dial_down(rig),
            Task::Off { said } => {
                rig.high_voltage_off();
                if said {
                    self.say_here(rig, "off");
                }
            }
            Task::ReadLeft => self.read_left(rig),
            Task::ToolOn => self.tool(rig, true),
            Task::Discharged => self.say_here(rig, "tool"),
            Task::SeeCollapse(stood) => {
                if rig.needles().voltage.value < stood * COLLAPSED {
                    self.say_here(rig, "breakdown");
                }
            }
            Task::Cause(ended) => self.say_cause(ended, rig),
            Task::End => self.say_here(rig, "end"),
            Task::ServeGround(conductor) => {
                let on = self.grounded[conductor].unwrap_or(rig.now());
                self.waiting = Some(on + self.descent.ground + AFTER_A_READING);
            }
            Task::Leave(conductor) => {
                let words = format!("leave {} to {}", conductor + 1, self.habits.grounds_to);
                self.say_of(rig, conductor, &words);
                self.say_of(rig, conductor, "release");
            }
            Task::Close => self.say(rig, "close".to_owned()),
        }
    }

    fn ground(&mut self, conductor: usize, rig: &mut Rig) {
        let name = self.conductors[conductor].clone();
        rig.ground(Some(&name), true).expect(OF_THE_PLAN);
        self.grounded[conductor] = Some(rig.now());
        self.say_of(rig, conductor, &format!("ground {} at {name}", conductor + 1));
    }

    fn tool(&mut self, rig: &mut Rig, on: bool) {
        rig.tool(Some(&self.conductors[self.at]), on).expect(OF_THE_PLAN);
    }

    fn energise(&mut self, level: Voltage, rig: &mut Rig) {
        if rig.dial_at() > 0.0 {
            turn_dial_down(rig);
            self.tasks.push_front(Task::Energise(level));
            self.waiting = Some(rig.now() + DOWN);
            return;
        }
        rig.fit_voltmeter(level);
        rig.reset_trip().expect("the dial is at zero");
        rig.high_voltage_on().expect("the dial is at zero and the trip reset");
        self.stood = Voltage::ZERO;
        if let Some(heard) = self.heard.clone() {
            self.say(rig, heard);
        }
        self.say_here(rig, "energise");
        self.answers_at = self.far_end_every.map(|every| rig.now() + every * IN_GOOD_TIME);
    }

    /// Sends the dial on its way and looks twice while it moves: two readings of one rise are what
    /// the capacitance is found from.
    fn rise(&mut self, step: &Applied, rig: &mut Rig) {
        let (lowest, highest) = rig.trip_scale();
        let trip = step.trip.unwrap_or(highest).max(lowest).min(highest);
        rig.set_trip(trip).expect("within its scale");
        let full = rig.dial_full();
        let to = (rig.voltage_for(step.level) / full).clamp(0.0, 1.0);
        let slower = step.charges.filter(|_| step.trip.is_some_and(|wanted| wanted > highest));
        let most = slower.map_or(f64::INFINITY, |charges| highest.amperes() / charges.farads());
        let rate = step.rise.volts_per_second().min(most / 2.0) / full.volts();
        let third = (to - rig.dial_at()).abs() / rate / 3.0;
        rig.dial(to, rate).expect("the plan rises at a rate above zero");
        let pause = || Task::Pause(Time::from_seconds(third));
        for task in [pause(), Task::Look, pause(), Task::Look, pause()] {
            self.tasks.push_front(task);
        }
        self.say_here(rig, "rise");
    }

    fn arrive(&mut self, step: Applied, last: bool, tries: u32, rig: &mut Rig) {
        if self.has_collapsed(rig) {
            self.break_off(Ended::Collapse, rig);
        } else if rig.needles().voltage.value >= step.level * REACHED {
            self.say_here(rig, if last { "hold" } else { "dwell" });
        } else if tries < MOST_TRIES {
            self.tasks.push_front(Task::Arrive { step, last, tries: tries + 1 });
            self.waiting = Some(rig.now() + AFTER_A_READING);
        } else {
            self.break_off(Ended::NotReached, rig);
        }
    }

    /// Reads, and minds the voltmeter.
    fn look(&mut self, rig: &mut Rig) {
        if self.has_collapsed(rig) {
            self.break_off(Ended::Collapse, rig);
        }
    }

    /// Whether the voltmeter stands far below where it stood in this application.
    fn has_collapsed(&mut self, rig: &Rig) -> bool {
        let shown = rig.needles().voltage.value;
        self.stood = self.stood.max(shown);
        shown < self.stood * COLLAPSED
    }

    /// Switches off at once, from where the voltage stands.
    fn break_off(&mut self, ended: Ended, rig: &mut Rig) {
        rig.high_voltage_off();
        self.give_up();
        self.say_here(rig, if ended == Ended::Collapse { "breakdown" } else { "abort" });
        self.come_down(Some(ended));
    }

    /// The voltage left, as it is read; below what the voltmeter can tell it is not a number.
    fn read_left(&mut self, rig: &Rig) {
        let shown = rig.needles().voltage;
        let floor = self.descent.meter_floor.unwrap_or(shown.resolution * 2.0);
        if shown.value < floor.max(shown.resolution) {
            self.say_here(rig, "residual ?");
            return;
        }
        let decimals = (-shown.resolution.kilovolts().log10().floor()).max(0.0) as usize;
        let words = format!("residual {:.decimals$}", shown.value.kilovolts());
        self.say_here(rig, &words);
    }

    fn say_cause(&mut self, ended: Ended, rig: &Rig) {
        let seen = match ended {
            Ended::Trip => "set tripped; seen on the needles, not yet looked for on the object",
            Ended::Collapse => "voltage collapsed with the dial up; not yet looked for",
            Ended::NotReached => "level not reached with the dial up; not yet looked for",
            Ended::Advised => "came down before the end; not yet looked for",
        };
        self.say_here(rig, &format!("cause {seen}"));
    }
}

const OF_THE_PLAN: &str = "the conductor is one of the plan the rig was put together from";

fn turn_dial_down(rig: &mut Rig) {
    turn_dial(rig, (0.0, 1.0 / DOWN.seconds()));
}

pub(super) fn turn_dial(rig: &mut Rig, (to, rate): (f64, f64)) {
    rig.dial(to, rate).expect("it is on the dial");
}
