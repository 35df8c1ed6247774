//! Simulated readings: an object drawn from the plan's own bands, the exact solver, and needles.

use std::fmt::Write as _;

use physics::absorption::PowerLaw;
use physics::transient::{Branch, Leg, Supply, TestObject, simulate};
use plan::course::{ObjectModel, Step};
use plan::{Job, Plan};
use quantity::{Band, Capacitance, Current, Resistance, Time, Voltage};

use super::site::{Example, Fault};

/// A needle is read to this part of its scale: half a small division.
const NEEDLE_PARTS: f64 = 400.0;
/// Excess conduction of a knee, as a part of the current at the level for each 1 % above it.
const KNEE_STEEPNESS: f64 = 0.04;

/// A readings file for the whole plan.
pub(super) fn readings(example: &Example, job: &Job, plan: &Plan) -> String {
    let mut text = String::from("t_s,kv,ua,phase,event,range_kv,range_ua,note\r\n");
    for (index, phase) in plan.conductors.iter().enumerate() {
        let mut draw = Draw(example.seed * 1000 + index as u64);
        let object = Drawn::new(plan, example, index, &mut draw);
        if let Some(test) = &plan.resistance_test {
            let step = Step { level: test.voltage, dwell: test.dwell, ..plan.course[0].clone() };
            let reads = test.readings.iter().map(|reading| reading.at).collect();
            object.apply(&[Applied { step, reads }], job, phase, &mut draw, &mut text);
        }
        let stretches: Vec<Applied> = plan
            .course
            .iter()
            .map(|step| Applied {
                step: step.clone(),
                reads: step.readings.iter().map(|reading| reading.at).collect(),
            })
            .collect();
        object.apply(&stretches, job, phase, &mut draw, &mut text);
    }
    text
}

/// One step with its reading times.
struct Applied {
    step: Step,
    reads: Vec<Time>,
}

/// One conductor as it really is.
struct Drawn {
    capacitance: Capacitance,
    insulation: Resistance,
    absorption: PowerLaw,
    /// Above this voltage conduction grows out of proportion.
    knee: Option<Voltage>,
    /// Into the last step, when it breaks down.
    breakdown: Option<Time>,
}

impl Drawn {
    fn new(plan: &Plan, example: &Example, index: usize, draw: &mut Draw) -> Self {
        let Example { fault, dryness, .. } = *example;
        let model = plan.model.as_ref().expect("a plan that is run has a model");
        let ObjectModel { insulation, absorption_strength, absorption_exponent } = model;
        // Sisters are alike: one object, each conductor a few per cent off it.
        let mut common = Draw(plan.conductors.len() as u64 + 77);
        let of = |band: Band<f64>, common: &mut Draw| band.mid * (1.0 + 0.1 * common.next());
        let ohms = of(insulation.map(|each| each.ohms()), &mut common);
        let strength = of(*absorption_strength, &mut common);
        let wet = match fault {
            Fault::Wet(times) if index == 1 => times,
            _ => 1.0,
        };
        let capacitance = plan.capacitance.unwrap_or(Capacitance::from_nanofarads(1.0));
        Self {
            capacitance: capacitance * (1.0 + 0.02 * draw.next()),
            insulation: Resistance::from_ohms(ohms * dryness / wet * (1.0 + 0.05 * draw.next())),
            absorption: PowerLaw {
                strength: strength * (1.0 + 0.05 * draw.next()),
                exponent: absorption_exponent.mid,
            },
            knee: match (fault, plan.test) {
                (Fault::Knee(part), Some(test)) if index == 2 => Some(test * part),
                _ => None,
            },
            breakdown: match fault {
                Fault::Breakdown(seconds) if index == 1 => Some(Time::from_seconds(seconds)),
                _ => None,
            },
        }
    }

    /// One application of voltage, from energising to grounding.
    fn apply(
        &self,
        stretches: &[Applied],
        job: &Job,
        phase: &str,
        draw: &mut Draw,
        text: &mut String,
    ) {
        let rows = self.moments(stretches);
        let times: Vec<Time> = rows.iter().map(|row| row.at).collect();
        let legs: Vec<Leg> = stretches
            .iter()
            .map(|one| Leg { to: one.step.level, rise: Some(one.step.rise), dwell: one.step.dwell })
            .collect();
        let supply = Supply { limit: job.set.rated_current, ..Supply::default() };
        let samples = simulate(&self.object(&times), &supply, &legs, None, &times)
            .expect("the plan's own course is a valid one");
        let range_kv = job
            .set
            .voltmeter_ranges
            .iter()
            .copied()
            .find(|range| stretches.last().is_some_and(|last| *range >= last.step.level));
        for (row, sample) in rows.iter().zip(samples) {
            let current =
                (sample.current + self.excess(sample.voltage)) * (1.0 + 0.004 * draw.next());
            write_row(text, row, phase, job, (sample.voltage, range_kv), current);
        }
        let end = times.last().copied().unwrap_or(Time::ZERO).seconds().ceil();
        writeln!(text, "{},,,{phase},down,,,\r", end + 1.0).expect("a String takes any text");
        writeln!(text, "{},,,{phase},ground,,,tool then solid ground\r", end + 40.0)
            .expect("a String takes any text");
    }

    fn object(&self, times: &[Time]) -> TestObject {
        let latest = times.last().copied().unwrap_or(Time::from_minutes(10.0)) * 3.0;
        let branches: Vec<Branch> =
            self.absorption.branches(self.capacitance, Time::from_seconds(1.0), latest);
        TestObject {
            capacitance: self.capacitance,
            insulation: Some(self.insulation),
            start: Voltage::ZERO,
            branches,
        }
    }

    fn excess(&self, voltage: Voltage) -> Current {
        let Some(knee) = self.knee.filter(|knee| voltage > *knee) else { return Current::ZERO };
        let above = (voltage / knee - 1.0) * 100.0;
        voltage / self.insulation * (KNEE_STEEPNESS * above)
    }

    /// When the hand reads: twice while first rising, then as planned; never after a breakdown.
    fn moments(&self, stretches: &[Applied]) -> Vec<Moment> {
        let mut rows = Vec::new();
        let mut now = Time::ZERO;
        let mut from = Voltage::ZERO;
        for (index, one) in stretches.iter().enumerate() {
            let rise = (one.step.level - from) / one.step.rise;
            if index == 0 {
                // Two readings of one rise are what the capacitance is found from.
                rows.push(Moment { at: now + rise / 3.0, event: "rise" });
                rows.push(Moment { at: now + rise * (2.0 / 3.0), event: "rise" });
            }
            let last = index + 1 == stretches.len();
            let ends = self.breakdown.filter(|_| last);
            for at in one.reads.iter().filter(|at| ends.is_none_or(|end| **at < end)) {
                let event = if last { "hold" } else { "" };
                rows.push(Moment { at: now + rise + *at, event });
            }
            if let Some(end) = ends {
                rows.push(Moment { at: now + rise + end, event: "breakdown" });
            }
            now = now + rise + one.step.dwell;
            from = one.step.level;
        }
        rows
    }
}

struct Moment {
    at: Time,
    event: &'static str,
}

/// One row, as a hand writes what two needles show.
fn write_row(
    text: &mut String,
    row: &Moment,
    phase: &str,
    job: &Job,
    (voltage, range_kv): (Voltage, Option<Voltage>),
    current: Current,
) {
    let ranges = &job.set.ammeter_ranges;
    let fitting = ranges.iter().find(|range| **range >= current).or_else(|| ranges.last());
    let full_ua = fitting.map_or(1e3, |range| range.microamperes());
    let full_kv = range_kv.map_or(100.0, Voltage::kilovolts);
    let kv = needle(voltage.kilovolts(), full_kv);
    let ua = needle(current.microamperes().min(full_ua), full_ua);
    let at = row.at.seconds().round();
    writeln!(text, "{at},{kv},{ua},{phase},{},{full_kv:.0},{full_ua:.0},\r", row.event)
        .expect("a String takes any text");
}

/// What a needle shows: a whole part of its scale, written with as many digits as that has.
fn needle(value: f64, full: f64) -> String {
    let part = full / NEEDLE_PARTS;
    let decimals = usize::try_from((-part.log10().floor()) as i64).unwrap_or(0);
    format!("{:.decimals$}", (value / part).round() * part)
}

/// A small counter-based generator: the same seed is the same demo.
struct Draw(u64);

impl Draw {
    /// Between −1 and 1.
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^= mixed >> 31;
        (mixed >> 11) as f64 / (1u64 << 52) as f64 - 1.0
    }
}
