//! `simulate`: voltage and current of a described object and supply over time.

use std::fmt::Write as _;
use std::path::PathBuf;

use clap::Args;
use physics::transient::{self, Branch, Discharge, Leg, Sample, Supply, TestObject};
use quantity::edge;
use serde::Serialize;

use crate::input;
use crate::input::case::Case;
use crate::output::{End, Trouble, print, print_json, write_whole};

/// Arguments of `simulate`.
#[derive(Args)]
pub(crate) struct Simulate {
    /// The simulation case
    #[arg(value_name = "CASE.toml")]
    case: PathBuf,
    /// Answer in JSON
    #[arg(long)]
    json: bool,
    /// Write the samples as CSV
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
}

#[derive(Serialize)]
struct Answer {
    samples: Vec<Row>,
}

#[derive(Serialize)]
struct Row {
    #[serde(rename = "t_s", with = "edge::s")]
    at: quantity::Time,
    #[serde(rename = "kv", with = "edge::kv")]
    voltage: quantity::Voltage,
    #[serde(rename = "ua", with = "edge::ua")]
    current: quantity::Current,
}

impl Simulate {
    pub(crate) fn run(&self) -> Result<End, Trouble> {
        let case = input::read_case(&self.case)?;
        let samples = solve(&case).map_err(|error| Trouble::Argument {
            remedy: format!("{}: change the case", self.case.display()),
            detail: error.to_string(),
        })?;
        if let Some(path) = &self.csv {
            write_whole(path, table(&samples).as_bytes())?;
        }
        if self.json {
            let row = |sample: &Sample| Row {
                at: sample.at,
                voltage: sample.voltage,
                current: sample.current,
            };
            print_json(&Answer { samples: samples.iter().map(row).collect() });
        } else {
            print(&table(&samples));
        }
        Ok(End::Done)
    }
}

fn solve(case: &Case) -> Result<Vec<Sample>, transient::TransientError> {
    let object = TestObject {
        capacitance: case.object.capacitance,
        insulation: case.object.insulation_resistance,
        start: case.object.start,
        branches: case
            .object
            .absorption
            .iter()
            .map(|branch| Branch {
                resistance: branch.resistance,
                capacitance: branch.capacitance,
                start: branch.start,
            })
            .collect(),
        surface: None,
        onset: None,
    };
    let supply = Supply {
        limit: case.supply.limit,
        series: case.supply.series_resistance,
        trip: case.supply.trip,
        bleed: None,
        ripple: None,
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
    transient::simulate(&object, &supply, &course, discharge.as_ref(), &case.sample.times)
}

fn table(samples: &[Sample]) -> String {
    let mut text = String::from("t_s,kv,ua\r\n");
    for sample in samples {
        let (at, kv) = (sample.at.seconds(), sample.voltage.kilovolts());
        let ua = sample.current.microamperes();
        writeln!(text, "{at},{kv:.9},{ua:.9}\r").expect("a String takes any text");
    }
    text
}
