//! A corpus of files as people write them: each is read rightly, or refused with its remedy.
//!
//! `inputs/expected.toml` says what becomes of each. A refused file ends in exit status 2, with
//! `FILE:LINE: what to write instead` on stderr, nothing on stdout and no file written.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde::Deserialize;

/// What becomes of the files of one kind.
#[derive(Deserialize)]
struct Expected {
    reads: BTreeSet<String>,
    same: BTreeMap<String, String>,
    faults: BTreeMap<String, Vec<String>>,
}

/// One kind of file, and the command that reads it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum FileKind {
    Jobs,
    Readings,
    Cases,
}

impl FileKind {
    const fn folder(self) -> &'static str {
        match self {
            Self::Jobs => "jobs",
            Self::Readings => "readings",
            Self::Cases => "cases",
        }
    }

    fn expected(self) -> Expected {
        let text = fs::read_to_string(corpus().join("expected.toml")).expect("it is in the tree");
        let mut kinds: BTreeMap<String, Expected> =
            toml::from_str(&text).expect("it is well formed");
        kinds.remove(self.folder()).expect("it names each kind")
    }

    /// Runs the program on one file, asking for an answer and for a file in `out`.
    fn run(self, file: &Path, out: &Path) -> Output {
        let mut command = Command::new(env!("CARGO_BIN_EXE_ohmstead"));
        match self {
            Self::Jobs => command.arg("plan").arg(file).arg("--pdf").arg(out.join("sheet.pdf")),
            Self::Readings => {
                command.arg("report").arg(plain_job()).arg("--readings").arg(file);
                command.arg("-o").arg(out.join("report.pdf"))
            }
            Self::Cases => command.arg("simulate").arg(file).arg("--csv").arg(out.join("out.csv")),
        };
        command.output().expect("the program is built")
    }

    /// What the program answers to a file that it reads.
    fn answer(self, file: &Path) -> String {
        let mut command = Command::new(env!("CARGO_BIN_EXE_ohmstead"));
        match self {
            Self::Jobs => command.arg("plan").arg(file),
            Self::Readings => command.arg("judge").arg(plain_job()).arg("--readings").arg(file),
            Self::Cases => command.arg("simulate").arg(file),
        };
        let output = command.arg("--json").output().expect("the program is built");
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(0), "{}: {said}", file.display());
        String::from_utf8(output.stdout).expect("JSON is UTF-8")
    }
}

fn corpus() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/inputs")
}

fn plain_job() -> PathBuf {
    corpus().join("jobs/plain.toml")
}

/// An empty folder of this test's own.
fn empty_folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    if folder.exists() {
        fs::remove_dir_all(&folder).expect("an old run's folder is ours to remove");
    }
    fs::create_dir_all(&folder).expect("cargo gives a folder for this");
    folder
}

/// Exit status 2, these lines and no more, nothing answered and nothing written.
fn check_refused(kind: FileKind, file: &Path, out: &Path, expected: &[String]) {
    let output = kind.run(file, out);
    let said = String::from_utf8(output.stderr).expect("words are UTF-8");
    let name = file.display().to_string();
    assert_eq!(output.status.code(), Some(2), "{name}: {said}");
    assert!(output.stdout.is_empty(), "{name}: an answer in spite of its faults");
    let written = fs::read_dir(out).expect("the folder is there").count();
    assert_eq!(written, 0, "{name}: something was written");
    let lines: Vec<&str> = said.lines().filter(|line| !line.ends_with(" more")).collect();
    assert_eq!(lines.len(), expected.len(), "{name}:\n{said}");
    for (line, expected) in lines.iter().zip(expected) {
        let begins = format!("{name}:{expected}");
        assert!(line.starts_with(&begins), "said\n{line}\nwhere was expected\n{begins}");
    }
}

fn check_kind(kind: FileKind) {
    let folder = corpus().join(kind.folder());
    let out = empty_folder(&format!("inputs-{}", kind.folder()));
    let expected = kind.expected();
    let names: BTreeSet<String> = fs::read_dir(&folder)
        .expect("it is in the tree")
        .map(|entry| entry.expect("it can be listed").file_name().to_string_lossy().into_owned())
        .collect();
    let named: BTreeSet<String> = expected
        .reads
        .iter()
        .chain(expected.same.keys())
        .chain(expected.faults.keys())
        .cloned()
        .collect();
    assert_eq!(names, named, "files and expectations differ");
    for (name, faults) in &expected.faults {
        check_refused(kind, &folder.join(name), &out, faults);
    }
    let answers: BTreeMap<&String, String> =
        expected.reads.iter().map(|name| (name, kind.answer(&folder.join(name)))).collect();
    for (name, other) in &expected.same {
        let other = answers.get(other).expect("the other file is one that reads");
        assert_eq!(&kind.answer(&folder.join(name)), other, "{name}");
    }
}

#[test]
fn jobs() {
    check_kind(FileKind::Jobs);
}

#[test]
fn readings() {
    check_kind(FileKind::Readings);
}

#[test]
fn cases() {
    check_kind(FileKind::Cases);
}

#[test]
fn the_corpus_is_no_handful() {
    let kinds = [FileKind::Jobs, FileKind::Readings, FileKind::Cases];
    let files = kinds.map(|kind| {
        let expected = kind.expected();
        expected.reads.len() + expected.same.len() + expected.faults.len()
    });
    assert!(files.iter().sum::<usize>() >= 60, "{files:?}");
}

/// Files too large or too odd to keep in the tree.
#[test]
fn made_files() {
    let folder = empty_folder("inputs-made");
    let out = empty_folder("inputs-made-out");
    let refused = |kind, name: &str, bytes: &[u8], expected: &str| {
        let file = folder.join(name);
        fs::write(&file, bytes).expect("cargo's folder takes files");
        check_refused(kind, &file, &out, &[expected.to_owned()]);
        fs::remove_file(&file).expect("it was just written");
    };
    let every_byte: Vec<u8> = (0..=255).cycle().take(5000).collect();
    let binary = "1: save the file as plain text (UTF-8)";
    refused(FileKind::Jobs, "binary.toml", &every_byte, binary);
    refused(FileKind::Readings, "binary.csv", &every_byte, binary);
    refused(FileKind::Cases, "binary.toml", &every_byte, binary);
    let mut hundred_mb = b"t_s,kv,ua\n".to_vec();
    hundred_mb.extend(b"0,5,1\n".repeat((100 << 20) / 6));
    let large = "1: give a file of at most 64 MB";
    refused(FileKind::Readings, "hundred-megabytes.csv", &hundred_mb, large);
    let large = "1: give a file of at most 1 MB";
    refused(FileKind::Jobs, "hundred-megabytes.toml", &hundred_mb, large);
    let rows = [b"t_s,kv,ua\n".as_slice(), &b"0,5,1\n".repeat(500_001)].concat();
    refused(FileKind::Readings, "rows.csv", &rows, "500002: split the file by phase");
    let one_line = [b"t_s,kv,ua\n".as_slice(), &b"1".repeat(10 << 20)].concat();
    refused(FileKind::Readings, "one-line.csv", &one_line, "2: write one reading a line");
    let open = [b"t_s,kv,ua\n0,5,\"".as_slice(), &b"1\n".repeat(10 << 20)].concat();
    refused(FileKind::Readings, "open-quote.csv", &open, "2: close the quotes");
}

#[test]
fn what_is_no_file() {
    let out = empty_folder("inputs-no-file");
    let expected = ["1: check the name of the file".to_owned()];
    for kind in [FileKind::Jobs, FileKind::Readings, FileKind::Cases] {
        check_refused(kind, &corpus().join("not-there.toml"), &out, &expected);
        check_refused(kind, &corpus(), &out, &expected);
    }
}
