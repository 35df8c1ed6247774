//! The test against earlier ones of the same object: a part of the report, beside the verdict.

use judge::history::{Figure, History, Series};
use serde::Serialize;

use crate::chart::years::{name, years};
use crate::digits::with_uncertainty;
use crate::words;

/// What is printed of it.
#[derive(Serialize)]
pub(crate) struct Years {
    /// Each conductor against the test before: its name, the outcome, what is said.
    compared: Vec<(String, &'static str, String)>,
    /// Resistance over the years, a picture for each conductor.
    charts: Vec<Picture>,
    rows: Vec<Row>,
    /// Conductors that stand apart.
    apart: Vec<String>,
    /// Tests that were left out of one figure or more: the day and why.
    left_out: Vec<String>,
    notes: Vec<String>,
}

/// A picture, its words, and the name of its file.
#[derive(Serialize)]
struct Picture {
    file: String,
    description: String,
}

/// One figure of one conductor.
#[derive(Serialize)]
struct Row {
    figure: &'static str,
    phase: String,
    points: Vec<String>,
    text: String,
}

impl Years {
    /// With the files of its pictures; `None` where the test is the first.
    pub(crate) fn of(history: &History) -> Option<(Self, Vec<(String, String)>)> {
        if history.tests.len() < 2 {
            return None;
        }
        let compared = history.compared.iter().map(|one| {
            let phase = one.phase.clone().unwrap_or_default();
            (phase, words::outcome(one.outcome), one.text.clone())
        });
        let with_points = history.series.iter().filter(|one| one.points.len() > 1);
        let apart = history.sisters.iter().chain(&history.likes);
        let mut left_out: Vec<String> = Vec::new();
        let all = history.series.iter();
        let all = all.flat_map(|series| series.left_out.iter().map(move |one| (series, one)));
        for (series, one) in all {
            let day = one.on.map_or_else(|| "day unknown".to_owned(), |day| day.to_string());
            let figure = series.figure.key().replace('-', " ");
            let line = format!("{day}, {figure} of {}: {}", series.phase, one.why);
            left_out.push(line);
        }
        let (charts, files) = pictures(history);
        let years = Self {
            compared: compared.collect(),
            charts,
            rows: with_points.map(row).collect(),
            apart: apart.filter(|one| one.stands_apart).map(|one| one.text.clone()).collect(),
            left_out,
            notes: history.notes.clone(),
        };
        Some((years, files))
    }
}

/// Of each conductor whose resistance was read more than once.
fn pictures(history: &History) -> (Vec<Picture>, Vec<(String, String)>) {
    let read = |one: &&Series| one.figure == Figure::InsulationResistance;
    let drawn = history.series.iter().filter(read).filter_map(years).enumerate();
    let file = |(place, drawn): (usize, crate::chart::years::Years)| {
        let file = format!("years-{place}.svg");
        (Picture { file: file.clone(), description: drawn.description }, (file, drawn.svg))
    };
    drawn.map(file).unzip()
}

fn row(series: &Series) -> Row {
    let unit = series.unit.as_deref().unwrap_or_default();
    let point = |one: &judge::history::Point| {
        let value = with_uncertainty(one.value, Some(one.expanded_u));
        format!("{}: {value} {unit}", one.on).trim_end().to_owned()
    };
    Row {
        figure: name(series.figure),
        phase: series.phase.clone(),
        points: series.points.iter().map(point).collect(),
        text: series.text.clone(),
    }
}
