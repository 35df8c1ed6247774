//! The report, printed from records and findings that are written by hand.

mod fixture;

use fixture::{
    STAMP, bare, cable_plan, check, check_archive, findings, live_record, record, refused_plan,
    stator_plan,
};
use judge::{Outcome, Verdict};
use report::{Composed, PageSize, Seal, Stamp};
use session::record::SourceNews;
use session::{Kind, Record};

/// Lays out and leaves the file for a person to look at.
fn print(name: &str, record: &Record, verdict: Verdict) -> Composed {
    let composed = report::document::compose(record, &findings(verdict), None, &[], STAMP)
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
    check(&pages[0], &["65 kV negative", "15 min", "tested by", "transcribed", judge::METHOD]);
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
    let composed = report::document::compose(&typed, &found, None, &[], STAMP).expect("printable");
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

/// At head and foot of every page, in the title and in what the file says of itself; a real test
/// bears none of the words.
#[test]
fn what_is_no_live_test_says_so_on_every_page() {
    let words = [
        (Kind::Simulated, "SIMULATED", "no apparatus was tested"),
        (Kind::Practice, "PRACTICE", "no apparatus was tested"),
        (Kind::Transcribed, "TRANSCRIBED", "typed in from paper or taken from a file"),
    ];
    let bare_test = |kind: Kind, name: &str| {
        let composed = print(name, &record(stator_plan(), kind), Verdict::Accept);
        (composed.text(), composed.pdf().expect("printed before"))
    };
    for (kind, word, what) in words {
        let (pages, pdf) = bare_test(kind, &format!("report-{}.pdf", word.to_lowercase()));
        assert!(pages.len() > 2);
        for page in &pages {
            check(page, &[&format!("{word} – {what}"), &format!("{word} · ohmstead")]);
        }
        let pdf = String::from_utf8_lossy(&pdf);
        let title = format!("{word}: Test report G-1");
        assert!(pdf.contains(&title), "{title} is not in the file's own description");
        assert!(pdf.contains(&format!("<pdf:Keywords>{word}</pdf:Keywords>")));
    }
    let (pages, _) = bare_test(Kind::Test, "report-test.pdf");
    for (_, word, _) in words {
        assert!(!pages.join(" ").contains(word), "{word} stands on a real test");
    }
}

fn seal() -> Seal {
    let code = "3b1f9d02c4a87e650f1133d2ab90ce7788f04521d3c6ba9e0c417f5e2d8a6b94".to_owned();
    Seal {
        record: "01932f6e-7a4b-7c31-9d58-2f0a6c1be7d4".to_owned(),
        events: 412,
        code,
        beside: Vec::new(),
    }
}

fn sealed(name: &str, record: &Record, page: PageSize) -> Vec<String> {
    let stamp = Stamp { page, ..STAMP };
    let found = findings(Verdict::Investigate);
    let composed = report::document::compose(record, &found, Some(&seal()), &[], stamp)
        .expect("a record is printable");
    let pdf = composed.pdf().expect("a report is an archive document");
    let path = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::write(path, &pdf).expect("the target folder can be written");
    check_archive(&pdf, "record.json");
    composed.text()
}

#[test]
fn a_signature_takes_the_place_of_the_lines_to_sign_on() {
    let signed = |older| report::document::Signed {
        name: "A. Tester".to_owned(),
        role: "ran the test".to_owned(),
        signed: "2026-11-03 10:00Z".to_owned(),
        remark: Some("dry".to_owned()),
        older,
    };
    let record = live_record(Kind::Test, true);
    let page = |signed: &[report::document::Signed]| {
        let found = findings(Verdict::Accept);
        let composed = report::document::compose(&record, &found, None, signed, STAMP);
        composed.expect("printable").text().swap_remove(0)
    };
    let lines = "name and signature";
    check(&page(&[]), &[lines]);
    let now = page(&[signed(None)]);
    check(&now, &["A. Tester", "ran the test", "2026-11-03 10:00Z", "dry"]);
    assert!(!now.contains(lines) && !now.contains("OLDER"), "{now}");
    check(&page(&[signed(Some("the record went on since"))]), &["OLDER: the record went on since"]);
}

#[test]
fn a_kept_record_has_its_seal_on_page_one() {
    let pages = sealed("report-sealed.pdf", &live_record(Kind::Test, true), PageSize::A4);
    check(&pages[0], &["3b1f 9d02 c4a8", "412 events", "proves the order alone", "2f0a6c1be7d4"]);
    let without = print("report-unsealed.pdf", &live_record(Kind::Test, true), Verdict::Accept);
    assert!(!bare(&without.text().join(" ")).contains("Seal"));
}

#[test]
fn a_live_record_shows_its_course_grounds_and_departures() {
    let live = live_record(Kind::Simulated, true);
    let pages = sealed("report-live.pdf", &live, PageSize::A4);
    check(&pages[0], &["2026-11-03 09:12:04Z to 2026-11-03 11:42:06Z, closed", "tcp 127.0.0.1"]);
    assert!(!pages[0].contains("STILL OPEN"));
    let text = pages[1..].join(" ");
    check(&text, &["“trip set for a shorter cable” (M. Technician)", "rain begins"]);
    check(&text, &["A, dial raised: the lead was not recorded on this conductor"]);
    check(&text, &["wall clock set back by 1 h", "source lost: no answer in 2 s"]);
    check(&text, &["the substation's crew", "at the far end", "2026-11-03 09:12:06Z"]);
    check(&text, &["TRIP of the set", "voltage left: the meter cannot tell", "1.2 kV left on it"]);
    check(&text, &["seen in the readings", "record closed", "decided: voltage again"]);
}

#[test]
fn an_open_record_says_first_that_it_is_hazardous() {
    for (page, name) in [(PageSize::A4, "open.pdf"), (PageSize::Letter, "open-letter.pdf")] {
        let pages = sealed(name, &live_record(Kind::Test, false), page);
        check(&pages[0], &["RECORD STILL OPEN – HAZARDOUS", "Treat A as energised", "not closed"]);
        assert!(pages[0].find("HAZARDOUS") < pages[0].find("INVESTIGATE"));
    }
    let mut grounded = live_record(Kind::Test, true);
    grounded.events.pop();
    let pages = print("report-not-closed.pdf", &grounded, Verdict::Accept).text();
    check(&pages[0], &["RECORD STILL OPEN", "Grounds and release are not all settled"]);
    let typed = print("report.pdf", &record(cable_plan(), Kind::Transcribed), Verdict::Accept);
    assert!(!typed.text()[0].contains("STILL OPEN"));
}

/// A source that goes on sending rubbish must not fill a book.
#[test]
fn a_long_course_of_events_is_cut_in_the_middle() {
    let mut live = live_record(Kind::Test, true);
    let garbled = live.events[0].clone();
    for count in 0..2000 {
        let mut entry = garbled.clone();
        let sent = "\u{7f}?".to_owned();
        entry.what = session::Event::Source(SourceNews::Garbled { sent, count });
        live.events.insert(1, entry);
    }
    let composed = print("report-long.pdf", &live, Verdict::Accept);
    assert!(composed.page_count() < 25, "{} pages", composed.page_count());
    check(&composed.text().join(" "), &["more lines stand in record.json alone", "record closed"]);
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
