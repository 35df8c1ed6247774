//! What stands open at each state of a whole test, and what a sheet never says.

use judge::Findings;
use quantity::Time;
use session::live::View;
use session::record::Now;
use session::{Event, Record};
use standards::Library;
use store::check::How;
use store::{Broken, KeptFindings, RecordId, Signature};

use super::state::{Section, Sheet, current, view};
use super::{body, stage};
use crate::show::stage::tests::{COURSE, Walk};

const CODE: &str = "ba7816bf8f01cfea";

fn id() -> RecordId {
    serde_json::from_str("\"01900000-0000-7000-8000-000000000001\"").expect("a name")
}

fn sheet(record: Record, view: Option<View>) -> Sheet {
    let stage = view.as_ref().is_some_and(|view| !view.closed && view.is_hazardous());
    Sheet {
        id: id(),
        code: CODE.to_owned(),
        seals: Vec::new(),
        broken: Vec::new(),
        current: current(view.as_ref(), false),
        deeds: None,
        kept: Vec::new(),
        findings: None,
        signatures: Vec::new(),
        who: None,
        is_account: false,
        stage,
        record,
        view,
        unfollowed: None,
    }
}

/// The walk of the stage's own tests, to its end; judged.
fn over(signatures: Vec<Signature>) -> Sheet {
    let mut walk = Walk::new();
    COURSE.iter().for_each(|(_, lines)| walk.work(lines));
    let view = walk.view();
    let findings = judge::judge(&walk.record(), &Library::published());
    let kept = kept(&findings, "first");
    Sheet {
        current: current(Some(&view), signatures.is_empty()),
        kept: vec![kept],
        findings: Some(findings),
        signatures,
        ..sheet(walk.record(), Some(view))
    }
}

fn kept(findings: &Findings, name: &str) -> KeptFindings {
    KeptFindings {
        id: name.to_owned(),
        judged: jiff::Timestamp::UNIX_EPOCH,
        method: findings.method.clone(),
        verdict: "void".to_owned(),
        code: CODE.to_owned(),
        bytes: serde_json::to_vec(findings).expect("plain data"),
    }
}

fn signature(code: &str, findings: &str) -> Signature {
    Signature {
        id: "s".to_owned(),
        signed: jiff::Timestamp::UNIX_EPOCH,
        name: "A. Tester".to_owned(),
        role: "tester".to_owned(),
        remark: None,
        code: code.to_owned(),
        findings: Some(findings.to_owned()),
    }
}

fn page(sheet: &Sheet) -> String {
    body(sheet, None::<&stage::Stage>).into_string()
}

/// Names of the sections that stand open.
fn open(page: &str) -> Vec<&str> {
    let sections = page.split("<section class=\"part\" id=\"").skip(1);
    let is_open = |part: &&str| {
        part.split_once("<details").is_some_and(|(_, rest)| rest.starts_with(" open"))
    };
    sections.filter(is_open).filter_map(|part| Some(part.split_once('"')?.0)).collect()
}

/// Derived: where the next thing to do is done; after A the leads go to B, so the list comes
/// before voltage again.
const OPEN: &[(&str, &str)] = &[
    ("nothing done", "before"),
    ("ready", "before"),
    ("at zero", ""),
    ("rising", ""),
    ("dwelling above the band", ""),
    ("withdrawn", ""),
    ("holding", ""),
    ("link lost", ""),
    ("tripped", ""),
    ("residual read", ""),
    ("through the tool", ""),
    ("grounded, cause missing", "down"),
    ("grounded, to decide", "down"),
    ("grounded, waiting", "before"),
    ("lifted", ""),
    ("grounded again", "before"),
    ("handed over", "before"),
    ("given back", "before"),
    ("closed", "findings"),
];

#[test]
fn the_section_that_is_worked_on_stands_open_and_no_other() {
    let mut walk = Walk::new();
    let mut found = Vec::new();
    for (state, lines) in COURSE {
        walk.work(lines);
        let page = page(&sheet(walk.record(), Some(walk.view())));
        found.push((*state, open(&page).join(" ")));
    }
    let found: Vec<(&str, &str)> = found.iter().map(|(state, open)| (*state, &open[..])).collect();
    assert_eq!(found, OPEN, "while voltage is on the stage stands in the place of section 4");
}

/// A word that nobody may read here; the titles of published rules speak of safety.
#[test]
fn no_state_of_a_sheet_says_that_something_is_safe() {
    let mut walk = Walk::new();
    let check = |state: &str, page: &str| {
        let words = page.split(|letter: char| !letter.is_alphabetic());
        let said: Vec<&str> =
            words.filter(|word| ["safe", "safely"].contains(&&word.to_lowercase()[..])).collect();
        assert!(said.is_empty(), "{state}: {said:?}");
    };
    for (state, lines) in COURSE {
        walk.work(lines);
        check(state, &page(&sheet(walk.record(), Some(walk.view()))));
    }
    check("judged", &page(&over(Vec::new())));
    check("signed", &page(&over(vec![signature(CODE, "first")])));
}

#[test]
fn what_is_over_shows_its_verdict_and_waits_for_a_name() {
    let unsigned = over(Vec::new());
    assert_eq!(open(&page(&unsigned)), ["findings", "signatures"]);
    let signed = over(vec![signature(CODE, "first")]);
    assert_eq!((signed.current, open(&page(&signed))), (Section::Findings, vec!["findings"]));
    let elsewhere = sheet(over(Vec::new()).record, None);
    let page = page(&elsewhere);
    assert_eq!(open(&page), ["findings"]);
    assert!(page.contains("written down elsewhere"), "{page}");
}

#[test]
fn nothing_is_read_off_a_record_whose_seals_do_not_hold() {
    let how = How::Changed;
    let (record, writer) = (id().to_string(), "w".to_owned());
    let broken = vec![Broken { record, writer, seq: Some(3), how, seen: None }];
    let page = page(&Sheet { broken, ..over(Vec::new()) });
    assert!(page.contains("SEALS DO NOT HOLD") && page.contains("event 3"), "{page}");
    for hidden in ["class=\"verdict\"", "report.pdf", "I sign"] {
        assert!(!page.contains(hidden), "{hidden} is shown");
    }
}

/// The last ground that is on may be in the very event that does not fit.
#[test]
fn a_record_that_cannot_be_followed_is_never_shown_as_grounded_and_well() {
    let now = Now { monotonic: Time::ZERO, wall: jiff::Timestamp::UNIX_EPOCH };
    let mut record = over(Vec::new()).record;
    assert_eq!(view(&record, now).1, None);
    let did = record.events.iter_mut().find_map(|entry| match &mut entry.what {
        Event::Did { phase, .. } => Some(phase),
        _ => None,
    });
    "nobody's".clone_into(did.expect("something was done"));
    let (view, unfollowed) = view(&record, now);
    assert!(unfollowed.is_some());
    let page = page(&Sheet { unfollowed, ..sheet(record, view) });
    assert!(page.contains("TREAT IT AS HAZARDOUS") && page.contains("nobody's"), "{page}");
}

#[test]
fn a_signature_of_an_earlier_state_is_shown_so() {
    let line = |code: &str, findings: &str| {
        let mut sheet = over(vec![signature(code, findings)]);
        let mut other = sheet.findings.clone().expect("judged");
        other.because = "otherwise".to_owned();
        sheet.kept.insert(0, kept(&other, "before"));
        super::signatures::line(&sheet)
    };
    assert_eq!(line(CODE, "first"), "A. Tester ran the test");
    assert_eq!(line(CODE, "before"), "A. Tester ran the test, OLDER");
    assert_eq!(line("00", "first"), "A. Tester ran the test, OLDER");
}

/// The folded line keeps what cut an application short, when voltage was put on again after it.
#[test]
fn a_flashover_stays_in_the_line_of_the_test() {
    let mut walk = Walk::new();
    walk.work("@A ground 1; @B ground 2; @C ground 3; lead A; check A; holds; @A lift 1");
    walk.work("here watch far-end; energise; rise");
    walk.work("13.0 3; flashover; off; residual ?; tool; ground 1; 12000s; cause a wet end; again");
    walk.work(
        "zero; check A; @A lift 1; residual ?; here watch far-end; energise; rise; 13.0 3; stop",
    );
    let line = super::course::line(&sheet(walk.record(), Some(walk.view())));
    assert_eq!(line, "A FLASHED OVER, then 13.0 kV, brought down by the dial");
}
