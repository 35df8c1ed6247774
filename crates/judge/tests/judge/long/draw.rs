//! One record, drawn: what is wrong with it is known before the judge sees it.

use std::fmt::Write as _;

use jiff::civil::date;
use plan::job::{AccuracyOf, Method};
use quantity::{Length, Ratio, Temperature};
use session::Happening;
use standards::words::Insulation;

use super::chance::Chance;
use super::object::{Conductor, Growth, Kernel};
use crate::support::{Written, cable, library, plan as bare_plan, stator};

/// What the draw made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Kind {
    Healthy,
    Wet,
    Dirty,
    Kneed,
    Punctured,
    Imbalanced,
    Drifting,
    Corona,
    BadlyTaken,
}

impl Kind {
    pub(super) const ALL: [Self; 9] = [
        Self::Healthy,
        Self::Wet,
        Self::Dirty,
        Self::Kneed,
        Self::Punctured,
        Self::Imbalanced,
        Self::Drifting,
        Self::Corona,
        Self::BadlyTaken,
    ];

    pub(super) const fn key(self) -> &'static str {
        match self {
            Self::Healthy => "healthy",
            Self::Wet => "wet",
            Self::Dirty => "dirty",
            Self::Kneed => "kneed",
            Self::Punctured => "punctured",
            Self::Imbalanced => "imbalanced",
            Self::Drifting => "drifting",
            Self::Corona => "corona",
            Self::BadlyTaken => "badly-taken",
        }
    }

    /// Whether the object itself is at fault.
    pub(super) const fn is_fault(self) -> bool {
        !matches!(self, Self::Healthy | Self::Corona | Self::BadlyTaken)
    }
}

/// One drawn record.
pub(super) struct Drawn {
    pub(super) kind: Kind,
    /// Made by the model of absorption and conduction that the judge does not have.
    pub(super) other_model: bool,
    pub(super) needle: bool,
    /// Where conduction would have no end, in kilovolts.
    pub(super) ends_kv: Option<f64>,
    pub(super) written: Written,
}

/// Two in five are healthy; the others are as many of each.
fn kind(chance: &mut Chance) -> Kind {
    if chance.unit() < 0.4 { Kind::Healthy } else { Kind::ALL[1 + chance.below(8)] }
}

pub(super) fn drawn(seed: u64) -> Drawn {
    let mut chance = Chance(seed.wrapping_mul(0x2545_F491_4F6C_DD1D));
    let kind = kind(&mut chance);
    let other_model = chance.unit() < 0.5;
    let needle = chance.unit() < 0.5;
    let of_cable = matches!(kind, Kind::Imbalanced | Kind::Drifting) || chance.unit() < 0.5;
    let mut made = Made { chance, kind, other_model, needle, ends_kv: None };
    let written = if of_cable { made.cable() } else { made.winding() };
    Drawn { kind, other_model, needle, ends_kv: made.ends_kv, written }
}

struct Made {
    chance: Chance,
    kind: Kind,
    other_model: bool,
    needle: bool,
    ends_kv: Option<f64>,
}

/// When a level is begun, and by how many kilovolts more.
type Steps = Vec<(f64, f64)>;

impl Made {
    fn sound(&mut self, conduction: f64, absorption: f64) -> Conductor {
        let hopping = if self.other_model { self.chance.between(0.0, 0.1) } else { 0.0 };
        Conductor {
            conduction,
            absorption,
            kernel: Kernel::drawn(&mut self.chance, self.other_model),
            hopping,
            above: None,
            drift: 0.0,
            noise: self.chance.between(0.0, 0.004),
        }
    }

    /// Four tenths to two and a half of the current at the highest voltage, from an onset on.
    fn bent(&mut self, sound: Conductor, top_ua: f64, top_kv: f64) -> Conductor {
        let from = self.chance.between(0.5, 0.82);
        let more = self.chance.decades(0.4, 2.5) * top_ua;
        let growth = match self.chance.below(3) {
            0 => Growth::Hinge,
            1 => Growth::Exponential { folds: self.chance.between(0.5, 2.5) },
            _ => {
                let end = self.chance.between(1.04, 1.35);
                self.ends_kv = Some(end * top_kv);
                Growth::ToAnEnd { end }
            }
        };
        Conductor { above: Some((from, more, growth)), ..sound }
    }

    /// Corona of unguarded leads: quadratic above an onset, and restless.
    fn glowing(&mut self, sound: Conductor, top_ua: f64, top_kv: f64) -> Conductor {
        let from = self.chance.between(26.0 / top_kv, 0.95);
        let more = self.chance.decades(0.3, 2.0) * top_ua;
        let growth = Growth::Exponential { folds: 1.0 };
        let noise = self.chance.between(0.01, 0.1);
        Conductor { above: Some((from, more, growth)), noise, ..sound }
    }

    /// One reading as it is written down: `kv ua range`.
    fn read(&mut self, kv: f64, ua: f64, noise: f64, range: f64) -> String {
        let read = ua * (1.0 + noise * self.chance.between(-1.0, 1.0));
        // A needle is read to half a division of a hundred; digits show four places.
        let (grain, decimals) = if self.needle {
            (range / 200.0, usize::from(range < 1000.0) + usize::from(range < 100.0))
        } else {
            (range / 10_000.0, if range < 100.0 { 3 } else { 2 })
        };
        let read = (read / grain).round() * grain;
        format!("{kv:.1} {read:.decimals$} {range}")
    }

    fn rows(&mut self, one: &Conductor, steps: &Steps, times: &[f64], hold_from: f64) -> String {
        let top_kv: f64 = steps.iter().map(|(_, step)| step).sum();
        let at = |t: f64| one.at(steps, t, top_kv, t - hold_from);
        let mut text = String::new();
        for &t in times {
            let kv: f64 = steps.iter().filter(|(begin, _)| *begin < t).map(|(_, step)| step).sum();
            let ua = at(t);
            // One range through a level, as its first reading asks.
            let begun = steps.iter().rfind(|(begin, _)| *begin < t).map_or(0.0, |step| step.0);
            let first = times.iter().copied().find(|time| *time > begun).unwrap_or(t);
            let most = at(first).max(ua).max(at(*times.last().unwrap_or(&t)));
            let fits = |range: &f64| *range > most * 1.1;
            let range = [10.0, 100.0, 1000.0].into_iter().find(fits).unwrap_or(5000.0);
            let row = self.read(kv, ua, one.noise, range);
            // Nothing fails to be written to a string.
            let _ = writeln!(text, "{t} {row}");
        }
        text
    }

    fn accuracy(&mut self, written: &mut Written) {
        let of_range = self.chance.unit() < 0.5;
        written.job.set.accuracy = Some(Ratio::from_percent(if of_range { 2.0 } else { 1.0 }));
        written.job.set.accuracy_of =
            if of_range { AccuracyOf::Range } else { AccuracyOf::Reading };
    }

    /// Three phases of 15 kV rubber in five steps of 11 kV, then a quarter of an hour.
    fn cable(&mut self) -> Written {
        const LEVELS: [f64; 5] = [11.0, 22.0, 33.0, 44.0, 55.0];
        let steps: Steps = (0..5).map(|step| (60.0 * f64::from(step), 11.0)).collect();
        let ends = [60.0, 120.0, 180.0, 240.0, 270.0].into_iter();
        let times: Vec<f64> =
            ends.chain((1..=15).map(|minute| 240.0 + 60.0 * f64::from(minute))).collect();
        let mut job = cable(Insulation::Epr, 15.0, &["A", "B", "C"]);
        let length = self.chance.between(200.0, 1500.0);
        job.asset.cable.as_mut().expect("it is one").length = Some(Length::from_metres(length));
        let mut plan = bare_plan(&job, &LEVELS, 900.0);
        plan.model = plan::plan(&job, library()).model;
        let least = plan.model.as_ref().expect("its insulation is known").insulation.low;
        let wet = matches!(self.kind, Kind::Wet | Kind::Dirty);
        // The published constant is a least one; sound cable lies well above it.
        let times_least =
            if wet { self.chance.decades(0.02, 0.5) } else { self.chance.decades(2.5, 30.0) };
        let conduction = 1000.0 / (least.megohms() * times_least);
        let absorption = self.chance.decades(0.02, 0.5);
        let sound = self.sound(conduction, absorption);
        let mut phases = [sound; 3];
        for phase in &mut phases {
            phase.conduction *= self.chance.between(0.9, 1.1);
            phase.absorption *= self.chance.between(0.95, 1.05);
        }
        let which = self.chance.below(3);
        self.spoil(&mut phases, which, &steps);
        let mut written = Written::new(job, plan);
        self.accuracy(&mut written);
        for (name, phase) in ["A", "B", "C"].into_iter().zip(phases) {
            let rows = self.rows(&phase, &steps, &times, 240.0);
            written = written.rows(name, &rows);
        }
        let name = ["A", "B", "C"][which];
        self.punctured_or_badly_taken(written, name, 240.0, 1140.0)
    }

    fn spoil(&mut self, phases: &mut [Conductor], which: usize, steps: &Steps) {
        let (from, to) = (steps.last().map_or(0.0, |step| step.0), 900.0);
        let top_kv: f64 = steps.iter().map(|(_, step)| step).sum();
        let at = |phase: &Conductor, t: f64| phase.at(steps, from + t, top_kv, t);
        let top_ua = at(&phases[which], 60.0);
        match self.kind {
            Kind::Kneed => phases[which] = self.bent(phases[which], top_ua, top_kv),
            Kind::Corona => {
                for phase in phases.iter_mut() {
                    *phase = self.glowing(*phase, top_ua, top_kv);
                }
            }
            Kind::Dirty => {
                let noise = self.chance.between(0.01, 0.05);
                phases.iter_mut().for_each(|phase| phase.noise = noise);
            }
            Kind::Imbalanced => {
                // Above three to one, between its two sisters as they are.
                let least = phases.iter().map(|phase| at(phase, 60.0)).fold(f64::MAX, f64::min);
                let wanted = self.chance.between(3.4, 9.0) * least;
                phases[which].conduction += (wanted - top_ua) / top_kv;
            }
            Kind::Drifting => {
                // At the end a tenth to the double more than at one minute.
                let end = at(&phases[which], to);
                let wanted = self.chance.between(1.1, 2.0) * top_ua;
                phases[which].drift = (wanted - end) / (to / 60.0 - 1.0) * 1.07;
            }
            Kind::Healthy | Kind::Wet | Kind::Punctured | Kind::BadlyTaken => {}
        }
    }

    /// Resistance and index at 5 kV, then ten minutes at 10 kV and steps of 1 kV to 29 kV.
    fn winding(&mut self) -> Written {
        let mut job = stator(13.8, Method::Step);
        job.asset.conductors = vec!["ABC".into()];
        let celsius = self.chance.between(18.0, 40.0);
        job.conditions.object_temperature = Some(Temperature::from_celsius(celsius));
        let levels: Vec<f64> = (10..=29).map(f64::from).collect();
        let plan = bare_plan(&job, &levels, 60.0);
        // At 40 °C by the rule of ten kelvins; the published least is 100 MΩ.
        let wet = matches!(self.kind, Kind::Wet | Kind::Dirty);
        let at_40 =
            if wet { self.chance.decades(2.0, 50.0) } else { self.chance.decades(250.0, 8000.0) };
        let whole = 1000.0 / (at_40 * 2f64.powf((40.0 - celsius) / 10.0));
        let share =
            if wet { self.chance.between(0.75, 0.97) } else { self.chance.between(0.05, 0.4) };
        let sound = self.sound(whole * share, whole * (1.0 - share));
        let mut phases = [sound];
        let begins = (0..19).map(|step| (600.0 + 60.0 * f64::from(step), 1.0));
        let steps: Steps = std::iter::once((0.0, 10.0)).chain(begins).collect();
        self.spoil(&mut phases, 0, &steps);
        let mut written = Written::new(job, plan);
        self.accuracy(&mut written);
        let low = Conductor { above: None, hopping: 0.0, ..phases[0] };
        let ages = [15.0, 30.0, 60.0, 120.0, 300.0, 600.0];
        let read = self.rows(&low, &vec![(0.0, 5.0)], &ages, f64::INFINITY);
        written = written.rows("ABC", &read).marked("ABC", 610.0, Happening::Ground);
        let first = [19.0, 60.0, 190.0, 600.0].into_iter();
        let times: Vec<f64> =
            first.chain((1..=19).map(|minute| 600.0 + 60.0 * f64::from(minute))).collect();
        // Without a blank run corona is not excluded, and no end is forecast.
        if self.kind != Kind::Corona && self.chance.unit() < 0.5 {
            written = written.blank("ABC", "60 15.0 0.00 10\n120 29.0 0.00 10");
        }
        let stepped = self.rows(&phases[0], &steps, &times, f64::INFINITY);
        written = written.rows("ABC", &stepped);
        self.punctured_or_badly_taken(written, "ABC", 1680.0, 1740.0)
    }

    fn punctured_or_badly_taken(
        &mut self,
        written: Written,
        name: &str,
        from: f64,
        to: f64,
    ) -> Written {
        match self.kind {
            Kind::Punctured => self.punctured(written, name, from, to),
            Kind::BadlyTaken => self.badly_taken(written, name, to),
            _ => written,
        }
    }

    /// Told of, or a trip that nobody explains, or only a voltage that is gone.
    fn punctured(&mut self, written: Written, name: &str, from: f64, to: f64) -> Written {
        let at = self.chance.between(from + 1.0, to - 1.0).round();
        match self.chance.below(3) {
            0 => written.marked(name, at, Happening::Breakdown),
            1 => written.marked(name, at, Happening::Trip),
            _ => written.collapsed(name, at),
        }
    }

    /// One of the ways in which a test cannot be judged.
    fn badly_taken(&mut self, mut written: Written, name: &str, to: f64) -> Written {
        match self.chance.below(8) {
            0 => written = written.cut_after(to - 40.0),
            1 => written = written.level_off(self.chance.between(0.88, 0.93)),
            2 => written.job.set.calibrated = Some(date(2025, 9, 1)),
            3 => written = written.on_range(1.0),
            4 => written = written.without_last_conductor(),
            5 => written = written.dead(None),
            6 => written = written.dead(Some(name)),
            _ => {
                written.job.conditions.humidity = Some(Ratio::from_percent(96.0));
                written.job.conditions.temperature = Some(Temperature::from_celsius(24.0));
                written.job.conditions.object_temperature =
                    Some(Temperature::from_celsius(self.chance.between(12.0, 20.0)));
            }
        }
        written
    }
}
