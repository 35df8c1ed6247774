//! The report, printed from records and findings that are written by hand.

mod fixture;

use fixture::{
    STAMP, bare, cable_plan, check, check_archive, findings, record, refused_plan, stator_plan,
};
use judge::{Outcome, Verdict};
use report::Composed;
use session::{Kind, Record};

/// Lays out and leaves the file for a person to look at.
fn print(name: &str, record: &Record, verdict: Verdict) -> Composed {
    let composed = report::document::compose(record, &findings(verdict), None, STAMP)
        .expect("a record is printable");
    let pdf = composed.pdf().expect("a report is an archive document");
    let path = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::write(path, &pdf).expect("the target folder can be written");
    check_archive(&pdf, "record.json");
    composed
}

#[test]
fn page_one_answers_the_client() {
    let typed = record(cable_plan(), Kind::Transcribed);
    let pages = print("report.pdf", &typed, Verdict::Investigate).text();
    let answer = ["INVESTIGATE", "▲", "1.6 times", "F-12", "Port works", "2026-11-03"];
    check(&pages[0], &answer);
    check(&pages[0], &["65 kV negative", "15 min", "tested by", "transcribed", "judge-1"]);
    check(&pages[0], &["13.90 ± 0.42 GΩ", "Clean and dry", "from memory, check your copy"]);
}

#[test]
fn the_other_pages_prove_it() {
    let typed = record(cable_plan(), Kind::Transcribed);
    let text = print("report.pdf", &typed, Verdict::Investigate).text()[1..].join(" ");
    check(&text, &["64 kV for 15 min", "expected band", "slope −0.1 µA", "1.420 ± 0.034 µA"]);
    check(
        &text,
        &["20:40", "needle unquiet", "tool laid on", "good for 12 months", "2 % of the range"],
    );
    check(&text, &["record.json", "common practice, no source", "over range", "Set 3"]);
}

/// The head of the findings holds one of each kind; what is open on another conductor is told too.
#[test]
fn every_conductors_open_findings_are_told() {
    let typed = record(cable_plan(), Kind::Transcribed);
    let mut found = findings(Verdict::Investigate);
    let mut other = found.findings[0].clone();
    other.outcome = Outcome::Warn;
    other.text = "The second conductor stands open too.".to_owned();
    found.phases[0].findings.push(other);
    let composed = report::document::compose(&typed, &found, None, STAMP).expect("printable");
    check(&composed.text().join(" "), &["The second conductor stands open too."]);
}

#[test]
fn every_verdict_has_its_word_and_shape() {
    let typed = record(cable_plan(), Kind::Test);
    for (verdict, word, shape) in [
        (Verdict::Accept, "ACCEPT", "●"),
        (Verdict::Investigate, "INVESTIGATE", "▲"),
        (Verdict::Reject, "REJECT", "■"),
        (Verdict::Void, "VOID", "✕"),
    ] {
        let name = format!("report-{}.pdf", word.to_lowercase());
        check(&print(&name, &typed, verdict).text()[0], &[word, shape]);
    }
}

#[test]
fn what_is_simulated_says_so_on_every_page() {
    let simulated = record(stator_plan(), Kind::Simulated);
    let pages = print("report-simulated.pdf", &simulated, Verdict::Accept).text();
    assert!(pages.len() > 2);
    for page in &pages {
        check(page, &["SIMULATED – no apparatus was tested"]);
    }
    let real = print("report-test.pdf", &record(stator_plan(), Kind::Test), Verdict::Accept);
    assert!(!real.text().join(" ").contains("SIMULATED"));
}

#[test]
fn nothing_is_ever_called_safe() {
    for verdict in [Verdict::Accept, Verdict::Investigate, Verdict::Reject, Verdict::Void] {
        let typed = record(cable_plan(), Kind::Test);
        let text = print("report-safe.pdf", &typed, verdict).text().join(" ").to_lowercase();
        assert!(!bare(&text).contains("safe"), "{text}");
    }
}

#[test]
fn the_same_record_gives_the_same_bytes() {
    let typed = record(cable_plan(), Kind::Transcribed);
    let print =
        || report::report(&typed, &findings(Verdict::Reject), None, STAMP).expect("printable");
    assert_eq!(print(), print());
}

#[test]
fn a_record_without_readings_still_prints() {
    let mut empty = record(cable_plan(), Kind::Transcribed);
    empty.events.clear();
    let pages = print("report-empty.pdf", &empty, Verdict::Void).text();
    check(&pages[0], &["VOID"]);
    let refused = record(refused_plan(), Kind::Transcribed);
    let pages = print("report-refused.pdf", &refused, Verdict::Void).text();
    check(&pages[0], &["VOID", "the plan has no level"]);
}
