//! Findings as readable text: the verdict first, then why, then the proof.

use std::fmt::Write as _;

use judge::difference::{Difference, Side};
use judge::{Figures, Finding, Findings, Outcome, Verdict};

use super::plan::{cited, mark};
use super::wrapped;

/// A terminal of 80 columns, so that no word is broken.
const WIDTH: usize = 79;

/// All findings.
pub(crate) fn text(findings: &Findings) -> String {
    let mut out = String::new();
    let day = findings.as_of.map_or_else(|| "day not given".to_owned(), |day| day.to_string());
    line!(out, "{} · {} · {day}", verdict(findings.verdict), findings.asset);
    line!(out, "{}", wrapped(&findings.because, WIDTH, 0));
    for next in &findings.next {
        line!(out, "→ {}", wrapped(next, WIDTH, 2));
    }
    if !findings.looser.is_empty() {
        line!(out);
        line!(out, "Looser than published");
    }
    for one in &findings.looser {
        line!(out, "- {}", wrapped(one, WIDTH, 2));
    }
    for phase in &findings.phases {
        line!(out);
        line!(out, "Conductor {}: {}", phase.phase, verdict(phase.verdict));
        figures(&phase.figures, &mut out);
        if let Some(object) = &phase.object {
            line!(out, "  What the readings say of the object:");
            for one in object.lines() {
                line!(out, "  - {}", wrapped(&one, WIDTH, 4));
            }
        }
        for one in &phase.findings {
            finding(one, &mut out);
        }
    }
    let shared: Vec<_> = findings.findings.iter().filter(|one| one.phase.is_none()).collect();
    if !shared.is_empty() {
        line!(out);
        line!(out, "The test as a whole");
        for one in shared {
            finding(one, &mut out);
        }
    }
    line!(out);
    line!(out, "Method {}. Published values used:", findings.method);
    for source in &findings.sources {
        line!(out, "- {}", wrapped(&cited(source), WIDTH, 2));
    }
    out
}

/// What came out otherwise, a line each.
pub(crate) fn difference(before: &Findings, now: &Findings, found: &Difference) -> String {
    let mut out = String::new();
    line!(out, "Method {}, now {}; what was found before stays kept.", before.method, now.method);
    if found.is_none() {
        line!(out, "Nothing came out otherwise.");
    }
    if let Some((was, is)) = found.verdict {
        line!(out, "  verdict: {}, now {}", verdict(was), verdict(is));
    }
    for one in &found.findings {
        let of = one.phase.as_ref().map(|phase| format!(" of {phase}")).unwrap_or_default();
        let side = |side: &Option<Side>, none: &str| match side {
            None => none.to_owned(),
            Some(side) => {
                let unit = side.unit.as_deref().unwrap_or_default();
                let number = side.value.map(|value| format!(" at {value:.6} {unit}"));
                let limit = side.limit.map(|limit| format!(", limit {limit:.6} {unit}"));
                let (number, limit) = (number.unwrap_or_default(), limit.unwrap_or_default());
                format!("{}{}{limit}", outcome(side.outcome), number.trim_end())
            }
        };
        let (was, is) = (side(&one.was, "not found"), side(&one.now, "not found any more"));
        line!(out, "  {}", wrapped(&format!("{}{of}: {was}; now {is}", one.id), WIDTH, 4));
    }
    line!(out);
    out
}

const fn outcome(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Ok => "ok",
        Outcome::Warn => "open",
        Outcome::Fail => "FAIL",
        Outcome::NotApplicable => "n/a",
    }
}

/// A verdict in capitals, for the head of a page.
pub(crate) fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Accept => "ACCEPT",
        Verdict::Investigate => "INVESTIGATE",
        Verdict::Reject => "REJECT",
        Verdict::Void => "VOID",
    }
}

fn finding(finding: &Finding, out: &mut String) {
    let word = if finding.voids { "VOID" } else { outcome(finding.outcome) };
    line!(out, "  {word:<5} {}", wrapped(&format!("{}: {}", finding.id, finding.text), WIDTH, 8));
    for step in &finding.chain {
        line!(out, "          {}", wrapped(step, WIDTH, 12));
    }
    if let Some(source) = &finding.source {
        // Common practice is named as the source itself.
        let sure = finding.mark.map(mark).filter(|sure| !source.ends_with(sure));
        let sure = sure.map_or_else(String::new, |sure| format!("; {sure}"));
        line!(out, "          by {}", wrapped(&format!("{source}{sure}"), WIDTH, 12));
    }
}

fn figures(figures: &Figures, out: &mut String) {
    let mut said = Vec::new();
    if let Some(resistance) = &figures.resistance {
        said.push(format!(
            "{:.4} ± {:.2} at {:.3}, {:.0} s",
            resistance.value,
            resistance.expanded,
            resistance.at_voltage,
            resistance.at_time.seconds()
        ));
        if let (Some(corrected), Some(to)) = (resistance.corrected, resistance.corrected_to) {
            said.push(format!("{corrected:.4} corrected to {to}"));
        }
    }
    if let Some(index) = figures.polarization_index {
        said.push(format!("polarization index {index:.2}"));
    }
    if let Some(ratio) = figures.absorption_ratio {
        said.push(format!("60 s / 30 s {ratio:.2}"));
    }
    if let Some(conduction) = figures.conduction {
        said.push(format!("conduction {conduction:.3}"));
    }
    if let Some(exponent) = figures.exponent_n {
        said.push(format!("exponent {exponent:.2}"));
    }
    if let Some(capacitance) = figures.capacitance {
        said.push(format!("capacitance {capacitance:.3}"));
    }
    if !said.is_empty() {
        line!(out, "  {}", wrapped(&said.join(" · "), WIDTH, 2));
    }
}
