//! The job sheet, printed from plans that are written by hand.

mod fixture;

use fixture::{
    STAMP, bare, cable_job, cable_plan, check, check_archive, glove_plan, refused_plan, stator_plan,
};
use plan::Plan;
use plan::instead::Instead;
use report::{PageSize, ReportError, Stamp};

/// Lays out, leaves the file for a person to look at, and hands back page count and words.
fn print(name: &str, plan: &Plan, page: PageSize) -> (usize, String) {
    let stamp = Stamp { page, ..STAMP };
    let composed = report::sheet::compose(&cable_job(), plan, stamp).expect("a plan is printable");
    let pdf = composed.pdf().expect("a sheet is an archive document");
    let path = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::write(path, &pdf).expect("the target folder can be written");
    check_archive(&pdf, "plan.json");
    (composed.page_count(), composed.text().join(" "))
}

#[test]
fn a_cable_takes_one_page_with_all_that_is_needed_and_one_with_the_drawing() {
    let (pages, text) = print("cable.pdf", &cable_plan(), PageSize::A4);
    assert_eq!(pages, 2);
    let level = ["65 kV", "negative", "15 min", "1.5 mA", "from memory, check your copy"];
    check(&text, &level);
    check(&text, &["0.27", "0.84", "2.9", "5:20", "leads alone µA", "A µA", "B µA", "C µA"]);
    check(&text, &["1 h 20 min", "50 kΩ", "402 J", "1.6 kV", "3.05 m (10.0 ft)", "64 kV"]);
    check(&text, &["The terminator's limit", "Set 3", "2026-11-03", "common practice"]);
}

#[test]
fn letter_paper_takes_no_more_pages() {
    assert_eq!(print("cable-letter.pdf", &cable_plan(), PageSize::Letter).0, 2);
    assert_eq!(print("glove.pdf", &glove_plan(), PageSize::Letter).0, 2);
}

/// The test stands on the first page; what follows is the drawing, with its words beside it.
#[test]
fn the_drawing_stands_on_a_page_that_follows_with_its_words() {
    let plan = cable_plan();
    let composed = report::sheet::compose(&cable_job(), &plan, STAMP).expect("a plan is printable");
    let pages = composed.text();
    check(&pages[0], &["drawn on the", "leads alone, after", "tested by", "on the last page"]);
    assert!(!pages[0].contains("drawn, and in words"));
    check(&pages[1], &["Connection of F-12, drawn, and in words", "other conductors"]);
    for said in report::wiring::wiring(&plan).sentences {
        check(&pages[1], &[&said]);
    }
    check(&pages[1], &["Published for the same question, and not taken", "64 kV", "Sources:"]);
}

#[test]
fn gloves_take_one_page_beside_the_drawing_and_name_the_water_line() {
    let (pages, text) = print("glove.pdf", &glove_plan(), PageSize::A4);
    assert_eq!(pages, 2);
    check(&text, &["102 mm", "left µA", "right µA", "3 min"]);
}

#[test]
fn a_stator_takes_two_pages_beside_the_drawing_and_breaks_before_the_steps() {
    let plan = stator_plan();
    let composed = report::sheet::compose(&cable_job(), &plan, STAMP).expect("a plan is printable");
    let pages = composed.text();
    assert_eq!(pages.len(), 3, "the last one has the drawing");
    check(&pages[0], &["5 kV", "100 MΩ", "40 °C", "40 min"]);
    check(&pages[1], &["1.40", "29.33", "28:00"]);
    assert!(!pages[0].contains("28:00"));
    print("stator.pdf", &plan, PageSize::A4);
}

/// Where there is place for them, and never at the price of another page or of small letters.
#[test]
fn lines_for_the_register_of_grounds_stand_where_they_fit() {
    let words = ["Register of grounds", "on, time and by whom", "left on, to whom"];
    check(&print("glove.pdf", &glove_plan(), PageSize::A4).1, &words);
    check(&print("stator.pdf", &stator_plan(), PageSize::A4).1, &words);
    let (pages, full) = print("cable.pdf", &cable_plan(), PageSize::A4);
    assert!(pages == 2 && !full.contains("Register of grounds"));
}

#[test]
fn a_refused_plan_prints_the_reason_and_no_level() {
    let mut plan = refused_plan();
    // Even where a level slipped through, it is not printed.
    plan.test = cable_plan().test;
    plan.level = cable_plan().level;
    plan.course = cable_plan().course;
    let source = fixture::cited("iec-60270", "whole standard", standards::Mark::Memory);
    plan.instead = vec![Instead { method: "partial discharge".to_owned(), source }];
    let (pages, text) = print("refused.pdf", &plan, PageSize::A4);
    assert_eq!(pages, 1);
    check(&text, &["Do not run this test", "12 years in service", "very low frequency"]);
    check(&text, &["Published tests to take instead", "partial discharge"]);
    assert!(!bare(&text).contains("65kV") && !text.contains("LEVEL"));
}

#[test]
fn the_same_plan_gives_the_same_bytes() {
    let sheet = || report::job_sheet(&cable_job(), &cable_plan(), STAMP).expect("printable");
    assert_eq!(sheet(), sheet());
}

#[test]
fn a_sheet_without_a_day_says_what_to_write() {
    let (mut job, mut plan) = (cable_job(), cable_plan());
    job.test.date = None;
    plan.date = None;
    let error = report::job_sheet(&job, &plan, Stamp { date: None, ..STAMP }).err();
    assert!(matches!(error, Some(ReportError::NoDay)));
}

#[test]
fn strange_words_do_not_stop_the_sheet() {
    let mut plan = cable_plan();
    plan.asset = "F-12 試験 #strong[x] \u{7} $x$ @a <b>".to_owned();
    plan.object = String::new();
    let (_, text) = print("strange.pdf", &plan, PageSize::A4);
    check(&text, &["\u{fffd}\u{fffd}", "#strong[x]", "$x$", "@a", "<b>"]);
}
