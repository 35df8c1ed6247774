//! One apparatus over the years, and many in one order, as readable text.

use std::fmt::Write as _;

use judge::Outcome;
use judge::history::{Apart, History, Series, Standing, Told};

use super::findings::verdict;
use super::{records, wrapped};

/// A terminal of 80 columns.
const WIDTH: usize = 79;

/// One apparatus over the years.
pub(crate) fn text(history: &History) -> String {
    let mut out = String::new();
    let day = history.as_of.map_or_else(|| "never tested".to_owned(), |day| format!("as of {day}"));
    line!(out, "{} · {day}", history.asset);
    if history.tests.is_empty() {
        line!(out, "No closed test of it is kept.");
        return out;
    }
    line!(out);
    line!(out, "Tests");
    history.tests.iter().for_each(|test| told(test, &mut out));
    if !history.compared.is_empty() {
        line!(out);
        line!(out, "Against the test before (beside the verdict, which it does not change)");
    }
    for one in &history.compared {
        let word = match one.outcome {
            Outcome::Ok => "ok",
            Outcome::Warn => "open",
            Outcome::Fail => "FAIL",
            Outcome::NotApplicable => "n/a",
        };
        let phase = one.phase.as_deref().unwrap_or_default();
        line!(out, "  {word:<5} {}", wrapped(&format!("{phase}: {}", one.text), WIDTH, 8));
        for step in &one.chain {
            line!(out, "          {}", wrapped(step, WIDTH, 12));
        }
    }
    if !history.series.is_empty() {
        line!(out);
        line!(out, "Over the years");
    }
    history.series.iter().for_each(|one| series(one, &mut out));
    let apart = [("Among its sisters", &history.sisters), ("Among its likes", &history.likes)];
    for (head, all) in apart.into_iter().filter(|(_, all)| !all.is_empty()) {
        line!(out);
        line!(out, "{head}");
        let (apart, others): (Vec<&Apart>, Vec<&Apart>) =
            all.iter().partition(|one| one.stands_apart);
        for one in &apart {
            line!(out, "  ▲ {}", wrapped(&one.text, WIDTH, 4));
        }
        match others.len() {
            0 => {}
            1 => line!(out, "  · 1 figure does not stand apart"),
            many => line!(out, "  · {many} figures do not stand apart"),
        }
    }
    line!(out);
    for note in &history.notes {
        line!(out, "{}", wrapped(note, WIDTH, 0));
    }
    out
}

fn told(test: &Told, out: &mut String) {
    let day = test.on.map_or_else(|| "day unknown".to_owned(), |day| day.to_string());
    let kind = records::kind(test.kind);
    line!(out, "  {day}  {:<11}  {kind:<11}  {}", verdict(test.verdict), test.record);
}

fn series(series: &Series, out: &mut String) {
    line!(out, "  {}", wrapped(&series.text, WIDTH, 2));
    let unit = series.unit.as_deref().unwrap_or_default();
    for point in &series.points {
        let value = report::digits::with_uncertainty(point.value, Some(point.expanded_u));
        line!(out, "    {}  {value} {unit}", point.on);
    }
    for one in &series.left_out {
        let day = one.on.map_or_else(|| "day unknown".to_owned(), |day| day.to_string());
        line!(out, "    {day}  {}", wrapped(&format!("left out: {}", one.why), WIDTH, 16));
    }
}

/// Many in one order.
pub(crate) fn fleet(standings: &[Standing]) -> String {
    let mut out = String::new();
    if standings.is_empty() {
        line!(out, "No apparatus is kept here. `ohmstead keep JOB.toml` keeps that of a job.");
    }
    for (place, one) in standings.iter().enumerate() {
        let word = one.verdict.map_or("not judged", verdict);
        let day = one.last.map_or_else(|| "never tested".to_owned(), |day| day.to_string());
        line!(out, "{:>3}  {word:<11}  {day:<12}  {}", place + 1, one.asset);
        line!(out, "     {}", wrapped(&one.reason, WIDTH, 5));
    }
    out
}
