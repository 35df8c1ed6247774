//! `simulate`: voltage and current of a described object and supply over time.

use std::ops::Range;
use std::path::PathBuf;
use std::thread;

use clap::Args;
use physics::absorption::{BRANCH_ERROR, PowerLaw};
use physics::conduction::{Dependence, DependenceError, Onset};
use physics::temperature::Model;
use physics::transient::{
    Branch, Discharge, Happening, Leg, Ripple, Rippled, Rows, Run, Supply, Surface, TestObject,
};
use quantity::{Current, Ratio, Time, Voltage, edge};
use serde::Serialize;

use crate::input;
use crate::input::case::{self, Case};
use crate::output::{End, Trouble, print, print_json, write_whole};

/// Rows that one answer may have.
const MOST_ROWS: f64 = 1e6;

/// Even rows at a time: few enough to stay in the processor's own memory.
const BLOCK: usize = 2048;

/// Arguments of `simulate`.
#[derive(Args)]
pub(crate) struct Simulate {
    /// The simulation case
    #[arg(value_name = "CASE.toml")]
    case: PathBuf,
    /// Answer in JSON
    #[arg(long)]
    json: bool,
    /// Write the samples as CSV, and tell on the screen what happened
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
}

#[derive(Serialize)]
struct Answer {
    samples: Vec<Row>,
    events: Vec<Event>,
    #[serde(with = "edge::s")]
    tripped_s: Option<Time>,
    #[serde(with = "edge::s")]
    course_end_s: Time,
    #[serde(with = "edge::s")]
    end_s: Time,
    power_law: Option<Realised>,
}

#[derive(Serialize)]
struct Row {
    #[serde(rename = "t_s", with = "edge::s")]
    at: Time,
    #[serde(rename = "kv", with = "edge::kv")]
    voltage: Voltage,
    #[serde(rename = "ua", with = "edge::ua")]
    current: Current,
    #[serde(rename = "meter_ua", with = "edge::ua")]
    metered: Current,
    #[serde(rename = "supply_ua", with = "edge::ua")]
    supplied: Current,
    ripple: Option<Swing>,
}

/// Ripple at the object.
#[derive(Serialize)]
struct Swing {
    #[serde(rename = "swing_kv", with = "edge::kv")]
    swing: Voltage,
    #[serde(rename = "crest_kv", with = "edge::kv")]
    crest: Voltage,
    #[serde(rename = "ceiling_kv", with = "edge::kv")]
    ceiling: Voltage,
    #[serde(rename = "swing_ua", with = "edge::ua")]
    current: Current,
    conducts_throughout: bool,
}

#[derive(Serialize)]
struct Event {
    #[serde(rename = "t_s", with = "edge::s")]
    at: Time,
    event: &'static str,
}

/// A power law as the branches that stand for it: how far off, and at what ages.
#[derive(Serialize)]
struct Realised {
    #[serde(rename = "from_s", with = "edge::s")]
    from: Time,
    #[serde(rename = "to_s", with = "edge::s")]
    to: Time,
    #[serde(rename = "error_percent", with = "edge::percent")]
    error: Ratio,
}

impl Simulate {
    pub(crate) fn run(&self) -> Result<End, Trouble> {
        let case = input::read_case(&self.case)?;
        let unfit = |detail: String| Trouble::Argument {
            remedy: format!("{}: change the case", self.case.display()),
            detail,
        };
        let run = solve(&case).map_err(unfit)?;
        let count = even_rows(&run, &case.sample).map_err(unfit)?;
        if let Some(path) = &self.csv {
            write_whole(path, table(&case, &run, count).as_bytes())?;
        }
        match (&self.csv, self.json) {
            (_, true) => print_json(&answer(&case, &run, count)),
            (None, false) => print(&table(&case, &run, count)),
            (Some(path), false) => {
                let rows = case.sample.times.len() + count;
                let happened = happened(&case, &run);
                print(&format!("{rows} rows in {}\n{happened}", path.display()));
            }
        }
        Ok(End::Done)
    }
}

fn solve(case: &Case) -> Result<Run, String> {
    let supply = Supply {
        limit: case.supply.limit,
        series: case.supply.series_resistance,
        trip: case.supply.trip,
        bleed: case.supply.bleed,
        ripple: case
            .supply
            .ripple
            .zip(case.supply.ripple_hz)
            .map(|(factor, frequency_hz)| Ripple { factor, frequency_hz }),
    };
    let course: Vec<Leg> = case
        .course
        .iter()
        .map(|leg| Leg { to: leg.to, rise: leg.rise, dwell: leg.dwell })
        .collect();
    let discharge = case.discharge.map(|discharge| Discharge {
        resistor: discharge.resistor,
        bleed: discharge.bleed,
        short: discharge.short,
        open: discharge.open,
    });
    let until = case.sample.times.iter().copied().fold(Time::ZERO, Time::max);
    let until = until.max(case.sample.until.unwrap_or(Time::ZERO));
    let object = object(&case.object).map_err(|error| error.to_string())?;
    Run::new(&object, &supply, &course, discharge.as_ref(), until)
        .map_err(|error| error.to_string())
}

fn object(object: &case::Object) -> Result<TestObject, DependenceError> {
    let given = object.absorption.iter().map(|branch| Branch {
        resistance: branch.resistance,
        capacitance: branch.capacitance,
        start: branch.start,
    });
    let law = object.power_law.map(|law| {
        let (strength, exponent) = (law.strength, law.exponent);
        PowerLaw { strength, exponent }.branches(object.capacitance, law.from, law.to)
    });
    let as_read = TestObject {
        capacitance: object.capacitance,
        insulation: object.insulation_resistance,
        start: object.start,
        branches: given.chain(law.into_iter().flatten()).collect(),
        surface: object.surface.map(|resistance| Surface { resistance, guarded: object.guarded }),
        onset: object.onset.map(|onset| Onset { from: onset.from, scale: onset.scale }),
    };
    let Some(at) = object.temperature else { return Ok(as_read) };
    let halving = Dependence::Rule(Model::HalvingPerTen);
    let dependence = at.activation_ev.map_or(halving, |ev| Dependence::Activation { ev });
    as_read.at_temperature(dependence, at.read, at.test)
}

/// How many rows at even steps.
fn even_rows(run: &Run, wanted: &case::Sample) -> Result<usize, String> {
    let Some(every) = wanted.every else { return Ok(0) };
    let until = wanted.until.unwrap_or(run.outline().end);
    // The last row may fall short of the end by the rounding of the division.
    let steps = (until / every * (1.0 + 1e-12)).floor();
    if steps >= MOST_ROWS {
        let least = until.seconds() / MOST_ROWS;
        return Err(format!("sample.every_s must be above {least}: {MOST_ROWS} rows at most"));
    }
    Ok(steps as usize + 1)
}

/// Gives the columns of the even rows `which` to `take`, a block at a time.
fn even(run: &Run, every: Time, which: Range<usize>, mut take: impl FnMut(&Rows)) {
    for first in which.clone().step_by(BLOCK) {
        let block = first..which.end.min(first + BLOCK);
        take(&run.rows(every, block).expect("a step above 0, as the keys of a case have it"));
    }
}

fn answer(case: &Case, run: &Run, count: usize) -> Answer {
    let mut at = case.sample.times.clone();
    if let Some(every) = case.sample.every {
        let times = |rows: &Rows| at.extend(rows.at_s.iter().copied().map(Time::from_seconds));
        even(run, every, 0..count, times);
    }
    let row = |&at: &Time| {
        let sample = run.sample(at);
        Row {
            at,
            voltage: sample.voltage,
            current: sample.current,
            metered: sample.metered,
            supplied: sample.supplied,
            ripple: run.ripple_at(at).map(swing),
        }
    };
    let outline = run.outline();
    let events = outline.events.iter();
    Answer {
        samples: at.iter().map(row).collect(),
        events: events.map(|event| Event { at: event.at, event: id(event.what) }).collect(),
        tripped_s: outline.tripped_at,
        course_end_s: outline.course_end,
        end_s: outline.end,
        power_law: case.object.power_law.map(|law| Realised {
            from: law.from,
            to: law.to,
            error: Ratio::from_value(BRANCH_ERROR),
        }),
    }
}

fn swing(ripple: Rippled) -> Swing {
    Swing {
        swing: ripple.swing,
        crest: ripple.crest,
        ceiling: ripple.ceiling,
        current: ripple.current,
        conducts_throughout: ripple.throughout,
    }
}

const fn id(what: Happening) -> &'static str {
    match what {
        Happening::LimitReached => "limit-reached",
        Happening::LimitLeft => "limit-left",
        Happening::CannotSink => "cannot-sink",
        Happening::Resumed => "resumed",
        Happening::Tripped => "tripped",
    }
}

/// What happened, a line each.
fn happened(case: &Case, run: &Run) -> String {
    let mut text = String::new();
    for event in &run.outline().events {
        let what = match event.what {
            Happening::LimitReached => "at the current limit",
            Happening::LimitLeft => "the limit is left, the command followed",
            Happening::CannotSink => "above the command, which cannot take charge back",
            Happening::Resumed => "the command has caught up",
            Happening::Tripped => "TRIPPED, the supply is open",
        };
        text.push_str(&format!("{} s: {what}\n", edge::twelve_digits(event.at.seconds())));
    }
    if let Some(law) = case.object.power_law {
        let (from, to) = (law.from.seconds(), law.to.seconds());
        let percent = BRANCH_ERROR * 100.0;
        text.push_str(&format!(
            "The power law stands as branches: to {percent} % from {from} to {to} s after a step\n"
        ));
    }
    text
}

/// The rows as CSV, every number with the digits that read back the same. The later half of the
/// even ones is written by a second thread.
fn table(case: &Case, run: &Run, count: usize) -> String {
    // Without a guard the meter reads what goes in.
    let meter = case.object.guarded;
    let mut given = Lines::default();
    given.text.push_str(if meter { "t_s,kv,ua,meter_ua\r\n" } else { "t_s,kv,ua\r\n" });
    for &at in &case.sample.times {
        let sample = run.sample(at);
        let metered = meter.then_some(sample.metered.amperes());
        given.add([at.seconds(), sample.voltage.volts(), sample.current.amperes()], metered);
    }
    let mut text = given.text;
    let Some(every) = case.sample.every else { return text };
    let lines = |which: Range<usize>| {
        let mut lines = Lines::default();
        lines.text.reserve(which.len() * if meter { 72 } else { 54 });
        even(run, every, which, |rows| {
            for k in 0..rows.at_s.len() {
                let metered = meter.then_some(rows.metered_amperes[k]);
                lines.add([rows.at_s[k], rows.volts[k], rows.amperes[k]], metered);
            }
        });
        lines.text
    };
    let late = thread::scope(|scope| {
        let late = scope.spawn(|| lines(count / 2..count));
        text.push_str(&lines(0..count / 2));
        late.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))
    });
    text.push_str(&late);
    text
}

/// Lines of the table. Writing the numbers takes longer than finding them: a voltage that stands,
/// as it does through a dwell, is copied from the line before.
#[derive(Default)]
struct Lines {
    text: String,
    digits: dtoa::Buffer,
    kv: Option<f64>,
    kv_stands: Range<usize>,
}

impl Lines {
    fn add(&mut self, [at, volts, amperes]: [f64; 3], metered: Option<f64>) {
        self.number(at);
        self.text.push(',');
        self.kilovolts(volts / 1e3);
        for amperes in [Some(amperes), metered].into_iter().flatten() {
            self.text.push(',');
            self.number(amperes * 1e6);
        }
        self.text.push_str("\r\n");
    }

    fn kilovolts(&mut self, kv: f64) {
        let from = self.text.len();
        if self.kv == Some(kv) {
            self.text.extend_from_within(self.kv_stands.clone());
        } else {
            self.number(kv);
            self.kv = Some(kv);
        }
        self.kv_stands = from..self.text.len();
    }

    fn number(&mut self, value: f64) {
        self.text.push_str(self.digits.format(value));
    }
}
