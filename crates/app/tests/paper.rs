//! The papers as a reader gets them: text, pages, standards and attachment, by outside programs.

use std::path::{Path, PathBuf};
use std::process::Command;

fn run(program: &str, arguments: &[&str]) -> String {
    let output = Command::new(program).args(arguments).output();
    let output = output.unwrap_or_else(|error| panic!("{program}: {error}"));
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{program} {arguments:?}: {said}");
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// The demo's workspace, made once for each test in a folder of its own.
struct Workspace(PathBuf);

impl Workspace {
    fn new(name: &str) -> Self {
        let folder = std::env::temp_dir().join(format!("ohmstead-{name}-{}", std::process::id()));
        let dir = folder.to_str().expect("a plain path");
        run(env!("CARGO_BIN_EXE_ohmstead"), &["demo", "--dir", dir, "--no-serve"]);
        Self(folder)
    }

    fn papers(&self, folder: &str) -> Vec<PathBuf> {
        let entries = std::fs::read_dir(self.0.join(folder)).expect("the demo made it");
        let mut papers: Vec<PathBuf> =
            entries.map(|entry| entry.expect("a readable entry").path()).collect();
        papers.sort();
        assert!(!papers.is_empty(), "{folder} is empty");
        papers
    }
}

impl Drop for Workspace {
    fn drop(&mut self) {
        // A folder left behind in the temporary one is untidy, not wrong.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn text_of(paper: &Path) -> String {
    run("pdftotext", &["-layout", paper.to_str().expect("a plain path"), "-"])
}

fn pages_of(paper: &Path) -> usize {
    run("qpdf", &["--show-npages", paper.to_str().expect("a plain path")])
        .trim()
        .parse()
        .expect("a number of pages")
}

fn named<'a>(papers: &'a [PathBuf], part: &str) -> &'a Path {
    let name = |paper: &&PathBuf| paper.to_string_lossy().contains(part);
    papers.iter().find(name).unwrap_or_else(|| panic!("no paper of {part}"))
}

#[test]
#[ignore = "needs pdftotext and qpdf"]
fn a_job_sheet_fits_one_page_and_says_what_a_hand_needs() {
    let demo = Workspace::new("sheets");
    let sheets = demo.papers("sheets");
    // The test itself stands on one page. Where something is taken off and grounded, the work
    // record follows: it is written on by others, elsewhere, and does not shrink the first page.
    for (part, pages) in [("epr-cable", 2), ("metal-clad", 2), ("gloves", 2), ("refused", 1)] {
        assert_eq!(pages_of(named(&sheets, part)), pages, "{part}");
    }
    let cable = text_of(named(&sheets, "epr-cable"));
    for words in ["65", "13", "26", "39", "52", "negative", "15 min", "trip", "ground", "kV"] {
        assert!(cable.contains(words), "`{words}` is not on the cable's sheet:\n{cable}");
    }
    let memory = text_of(named(&sheets, "paper-cable"));
    assert!(memory.to_lowercase().contains("from memory"), "{memory}");
    let refused = text_of(named(&sheets, "refused"));
    assert!(refused.contains("Do not run this test"), "{refused}");
    assert!(refused.contains("very low frequency"), "{refused}");
}

#[test]
#[ignore = "needs pdftotext and qpdf"]
fn a_report_is_whole_marked_simulated_and_carries_its_record() {
    let demo = Workspace::new("reports");
    for report in demo.papers("reports") {
        let path = report.to_str().expect("a plain path");
        run("qpdf", &["--check", path]);
        let record = run("qpdf", &["--show-attachment=record.json", path]);
        let record: serde_json::Value = serde_json::from_str(&record).expect("a record in JSON");
        assert_eq!(record["kind"], "simulated");
        let text = text_of(&report);
        assert!(text.contains("SIMULATED"), "{path}:\n{text}");
        let lower = text.to_lowercase();
        assert!(!lower.contains(" is safe") && !lower.contains("safe to touch"), "{path}");
        let bytes = std::fs::read(&report).expect("the report is there");
        let holds = |words: &str| bytes.windows(words.len()).any(|part| part == words.as_bytes());
        assert!(holds("pdfaid:part") && holds("pdfuaid:part"), "{path} names no standard");
    }
}
