//! Section 6: findings. The verdict first, and what it does not say; then the proof.

use axum::extract::{Path, State};
use axum::response::Redirect;
use judge::difference::{Side, between};
use judge::{Finding, Findings, Outcome};
use maud::{Markup, html};
use report::digits::with_uncertainty;
use report::words;
use store::KeptFindings;

use super::planned::cited;
use super::state::{Section, Sheet};
use crate::commands::subject;
use crate::show;
use crate::web::{Fault, House, marks};

pub(super) fn line(sheet: &Sheet) -> String {
    if !sheet.broken.is_empty() {
        return "SEALS DO NOT HOLD".to_owned();
    }
    match (&sheet.findings, sheet.is_over()) {
        (Some(findings), _) => {
            let verdict = findings.verdict;
            let (shape, word) = (words::verdict_shape(verdict), words::verdict(verdict));
            format!("{shape} {word}: {}", findings.because)
        }
        (None, true) => "Not judged".to_owned(),
        (None, false) => "Judged when the record is closed".to_owned(),
    }
}

pub(super) fn under(sheet: &Sheet) -> Markup {
    if !sheet.broken.is_empty() {
        return broken(sheet);
    }
    html! {
        @match &sheet.findings {
            None if sheet.is_over() => p {
                "Judge again: what is kept of the findings cannot be read."
            },
            None => p { "The verdict is made when the record is closed." },
            Some(findings) => (whole(sheet, findings)),
        }
        @if !sheet.stage { (again(sheet)) }
        (seal(sheet))
    }
}

/// Nothing is judged from what was changed.
fn broken(sheet: &Sheet) -> Markup {
    html! {
        p .refused { "▲ SEALS DO NOT HOLD" }
        p {
            strong { "Go by the paper, or by an export or a copy whose seals hold." }
            " What stands on this page is not what was recorded, and nothing is judged from it."
        }
        ul { @for one in &sheet.broken { li { (one) } } }
    }
}

fn whole(sheet: &Sheet, findings: &Findings) -> Markup {
    html! {
        (verdict(findings))
        @if !findings.next.is_empty() {
            h3 { "Next" }
            ul { @for next in &findings.next { li { (next) } } }
        }
        (looser(findings))
        (conductors(sheet, findings))
        (objects(findings))
        h3 { "Each finding, what is open first" }
        @for finding in gravest_first(findings) { (one(finding)) }
        p {
            a href={ (marks::apparatus(&findings.asset)) "#years" } {
                "Against earlier tests of " (findings.asset)
            }
            ", beside this verdict, which they do not change."
        }
        @if let Some(kept) = sheet.kept.last() { (judged(kept, findings)) }
        (earlier(sheet))
    }
}

/// What a user's own file loosens, with its reason: whoever reads the verdict reads this too.
fn looser(findings: &Findings) -> Markup {
    html! {
        @if !findings.looser.is_empty() {
            h3 { "Looser than published" }
            ul { @for one in &findings.looser { li { (one) } } }
        }
    }
}

fn verdict(findings: &Findings) -> Markup {
    let verdict = findings.verdict;
    html! {
        div .verdict data-verdict=(words::verdict(verdict)) {
            p .word {
                span .shape aria-hidden="true" { (words::verdict_shape(verdict)) } " "
                strong { (words::verdict(verdict)) }
            }
            p .because { (findings.because) }
            p { (words::verdict_means(verdict)) }
            p .quiet {
                "It speaks for the readings of that day. It permits nobody to touch or to "
                "energise anything."
            }
        }
    }
}

fn conductors(sheet: &Sheet, findings: &Findings) -> Markup {
    let piece = words::piece(sheet.record.plan.class);
    html! {
        @if !findings.phases.is_empty() {
            div .scroll tabindex="0" role="region" aria-label="Figures" {
                table {
                    thead { tr {
                        th scope="col" { (piece) }
                        th scope="col" { "Figures, with expanded uncertainty (k = 2)" }
                    } }
                    tbody { @for phase in &findings.phases { tr {
                        th scope="row" {
                            (phase.phase) br;
                            (words::verdict_shape(phase.verdict)) " "
                            (words::verdict(phase.verdict))
                        }
                        td {
                            @for figure in report::document::figures(&phase.figures) {
                                div { (figure) }
                            }
                        }
                    } } }
                }
            }
        }
    }
}

/// What the readings say of the object, folded: the figures above are the short of it.
fn objects(findings: &Findings) -> Markup {
    let told = findings.phases.iter().filter_map(|phase| Some((phase, phase.object.as_ref()?)));
    html! {
        @if findings.phases.iter().any(|phase| phase.object.is_some()) {
            details id="object" {
                summary { "What the readings say of the object" }
                @for (phase, object) in told {
                    h4 { (phase.phase) }
                    ul { @for line in object.lines() { li { (line) } } }
                }
            }
        }
    }
}

/// Every finding of every conductor and of the test as a whole, what is open first.
fn gravest_first(findings: &Findings) -> Vec<&Finding> {
    let shared = findings.findings.iter().filter(|one| one.phase.is_none());
    let mut all: Vec<&Finding> =
        findings.phases.iter().flat_map(|phase| &phase.findings).chain(shared).collect();
    all.sort_by_key(|one| (!one.voids, weight(one.outcome)));
    all
}

const fn weight(outcome: Outcome) -> u8 {
    match outcome {
        Outcome::Fail => 0,
        Outcome::Warn => 1,
        Outcome::Ok => 2,
        Outcome::NotApplicable => 3,
    }
}

fn one(finding: &Finding) -> Markup {
    let unit = finding.unit.as_deref().unwrap_or_default();
    let number =
        |value: f64, doubt: Option<f64>| format!("{} {unit}", with_uncertainty(value, doubt));
    let open = finding.voids || weight(finding.outcome) < 2;
    html! {
        details .finding data-outcome=(weight(finding.outcome)) open[open] {
            summary {
                span .outcome {
                    (words::outcome(finding.outcome))
                    @if finding.voids { ", voids the test" }
                }
                " "
                strong { (finding.id.replace('-', " ")) }
                @if let Some(phase) = &finding.phase { " · " (phase) }
                @if let Some(value) = finding.value {
                    " · " span .number { (number(value, finding.expanded_u)) }
                }
                @if let Some(limit) = finding.limit {
                    " · limit " span .number { (number(limit, None)) }
                }
            }
            p { (finding.text) }
            @if !finding.chain.is_empty() { ol { @for step in &finding.chain { li { (step) } } } }
            @if let Some(source) = &finding.source {
                p .quiet {
                    "By " (source)
                    @if let Some(mark) = finding.mark { "; " (words::mark(mark)) }
                }
            }
        }
    }
}

fn judged(kept: &KeptFindings, findings: &Findings) -> Markup {
    html! {
        p {
            "Judged " (show::records::moment(kept.judged)) " by method " (kept.method)
            @if let Some(day) = findings.as_of { ", as of " (day) } "."
        }
        details id="judged-by" {
            summary { "Published values that the verdict rests on" }
            ul { @for source in &findings.sources { li { (cited(source)) } } }
        }
    }
}

/// What was found before, beside what is found now.
fn earlier(sheet: &Sheet) -> Markup {
    let Some((now, before)) = sheet.kept.split_last() else { return html! {} };
    html! {
        @if !before.is_empty() {
            h3 { "Judged before" }
            ul { @for one in before.iter().rev() { li {
                (show::records::moment(one.judged)) ", method " (one.method) ": "
                strong { (one.verdict.to_uppercase()) }
                @if one.code != now.code { " (of a record that went on since)" }
                (differences(one, now))
            } } }
        }
    }
}

fn differences(before: &KeptFindings, now: &KeptFindings) -> Markup {
    let read = |one: &KeptFindings| serde_json::from_slice::<Findings>(&one.bytes).ok();
    let (Some(before), Some(now)) = (read(before), read(now)) else {
        return html! { ": cannot be read any more" };
    };
    let told = differing(&before, &now);
    html! {
        @if told.is_empty() { ": nothing came out otherwise" } @else {
            ul { @for one in &told { li { (one) } } }
        }
    }
}

/// What came out otherwise, a line each.
fn differing(before: &Findings, now: &Findings) -> Vec<String> {
    let found = between(before, now);
    let mut told = Vec::new();
    if let Some((was, is)) = found.verdict {
        told.push(format!("verdict {}, now {}", words::verdict(was), words::verdict(is)));
    }
    for one in &found.findings {
        let of = one.phase.as_ref().map(|phase| format!(" of {phase}")).unwrap_or_default();
        let name = format!("{}{of}", one.id.replace('-', " "));
        told.push(match (&one.was, &one.now) {
            (Some(was), Some(is)) if was.outcome == is.outcome => {
                format!("{name}: {}, now {}", number(was), number(is))
            }
            (Some(was), Some(is)) => {
                let (was, is) = (words::outcome(was.outcome), words::outcome(is.outcome));
                format!("{name}: {was}, now {is}")
            }
            (None, Some(is)) => format!("{name}: now {}", words::outcome(is.outcome)),
            (_, None) => format!("{name}: not found any more"),
        });
    }
    told
}

/// The number of a finding, and what it was held against.
fn number(side: &Side) -> String {
    let unit = side.unit.as_deref().unwrap_or_default();
    let value = side.value.map_or_else(|| "no number".to_owned(), |v| with_uncertainty(v, None));
    let limit = side.limit.map(|limit| format!(", limit {}", with_uncertainty(limit, None)));
    format!("{value}{} {unit}", limit.unwrap_or_default()).trim_end().to_owned()
}

fn again(sheet: &Sheet) -> Markup {
    let label = if sheet.is_over() { "Judge again" } else { "Judge it as far as it goes" };
    html! {
        form method="post" action={ "/sheet/" (sheet.id) "/judge" } {
            button { (label) }
            p .quiet {
                "By the method and the published values of today. What was found before stays."
            }
        }
    }
}

/// Checked when the page was opened.
fn seal(sheet: &Sheet) -> Markup {
    html! {
        h3 { "Seal" }
        @if sheet.stage { p { "Looked at when the voltage is off." } } @else {
            @for (writer, seal) in &sheet.seals {
                p {
                    @if sheet.seals.len() > 1 { (whose(writer)) ", " (seal.seq) " events: " }
                    span .number { (seal.short()) } ", to event " (seal.seq)
                    ": looked at now, every event is in order and as it was written."
                }
            }
        }
    }
}

/// A database by the end of its name, where several wrote in one record.
fn whose(writer: &str) -> String {
    format!("Database …{}", writer.get(writer.len().saturating_sub(6)..).unwrap_or(writer))
}

/// Judges a record anew and keeps what is found beside what was found before.
pub(super) async fn judge_again(
    State(house): State<House>,
    Path(id): Path<String>,
) -> Result<Redirect, Fault> {
    let id = house.store.resolve(&id).await?;
    let judged = Sheet::judged(&house, &id).await?;
    subject::keep(&house.store, &id, &judged.findings, house.clock.now().wall).await?;
    Ok(Redirect::to(&format!("/sheet/{id}#{}", Section::Findings.key())))
}

#[cfg(test)]
mod tests {
    use judge::Verdict;

    use super::*;

    fn findings(verdict: Verdict, outcomes: &[(&str, Outcome)]) -> Findings {
        let finding = |(id, outcome): &(&str, Outcome)| {
            serde_json::json!({
                "id": id, "phase": null, "value": null, "unit": null, "limit": null,
                "expanded_u": null, "outcome": outcome, "text": "", "chain": [], "source": null,
                "mark": null,
            })
        };
        let all: Vec<_> = outcomes.iter().map(finding).collect();
        serde_json::from_value(serde_json::json!({
            "method": "m", "as_of": null, "asset": "a", "verdict": verdict, "because": "b",
            "next": [], "findings": all, "phases": [], "sources": [],
            "resistance": null, "polarization_index": null, "absorption_ratio": null,
            "conduction_ua": null, "exponent_n": null, "capacitance_nf": null, "forecast_kv": null,
        }))
        .expect("findings as they are kept")
    }

    #[test]
    fn what_came_out_otherwise_is_told_and_nothing_else() {
        let first = findings(
            Verdict::Accept,
            &[("level", Outcome::Ok), ("hold", Outcome::Ok), ("trend", Outcome::Ok)],
        );
        let second = findings(
            Verdict::Investigate,
            &[("level", Outcome::Ok), ("hold", Outcome::Warn), ("new", Outcome::Ok)],
        );
        assert_eq!(differing(&first, &first), Vec::<String>::new());
        assert_eq!(
            differing(&first, &second),
            [
                "verdict ACCEPT, now INVESTIGATE",
                "hold: ● met, now ▲ open",
                "new: now ● met",
                "trend: not found any more",
            ]
        );
    }

    #[test]
    fn what_is_open_stands_first() {
        let all = findings(
            Verdict::Reject,
            &[("a", Outcome::Ok), ("b", Outcome::Warn), ("c", Outcome::Fail)],
        );
        let order: Vec<&str> = gravest_first(&all).iter().map(|one| one.id.as_str()).collect();
        assert_eq!(order, ["c", "b", "a"]);
    }

    /// No verdict may be read as leave to touch anything.
    #[test]
    fn a_verdict_says_what_it_does_not_say() {
        for verdict_of in [Verdict::Accept, Verdict::Investigate, Verdict::Reject, Verdict::Void] {
            let shown = verdict(&findings(verdict_of, &[])).into_string().to_lowercase();
            assert!(shown.contains("permits nobody to touch"), "{shown}");
            assert!(!shown.contains("safe"), "{shown}");
        }
    }
}
