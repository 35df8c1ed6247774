//! `test`: every suite, one closing line each. What the machine lacks is named with its remedy,
//! and no test is passed over in silence: the number run must equal the number listed.

use std::path::Path;
use std::process::ExitCode;

use crate::program;
use crate::run::{capture, cargo, has, is_root, succeeds};

/// What a missing program means.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Gaps {
    /// It is named, and the run may still end well.
    Named,
    /// It is named, and the run ends with status 3.
    Refused,
}

/// A group of tests that needs the same things of the machine.
struct Suite {
    name: &'static str,
    /// Which of the workspace's tests, as cargo's own arguments.
    chosen: &'static [&'static str],
    /// Whether its tests are the ignored ones among these.
    ignored: bool,
    /// More of the runner's own words: which of them, and whether one after the other.
    words: &'static [&'static str],
    needs: &'static [Need],
}

/// What tests need of the machine.
#[derive(Clone, Copy)]
enum Need {
    /// A program on the path, and the package that brings it.
    Program { name: &'static str, package: &'static str },
    /// A file in the workspace's own target folder, and the command that brings it.
    File { name: &'static str, path: &'static str, remedy: &'static str },
    /// A program that its package puts beside the path, in a folder of its version.
    Beside { name: &'static str, folder: &'static str, package: &'static str },
    /// The right to mount a small disk and to stand between a program and the system.
    Root,
}

const fn program(name: &'static str, package: &'static str) -> Need {
    Need::Program { name, package }
}

const CHECKER: Need = Need::File {
    name: "axe.min.js",
    path: "target/checker/axe_playwright_python/axe.min.js",
    remedy: "python3 -m pip install --no-deps --target target/checker axe-playwright-python==0.1.8",
};

const SIMULATOR: Need = Need::File {
    name: "pyvisa-sim",
    path: "target/visa/pyvisa_sim/__init__.py",
    remedy: "python3 -m pip install --target target/visa pyvisa==1.16.2 pyvisa-sim==0.7.1 \
             pymodbus==3.16.1",
};

const SCREENS: &[Need] =
    &[program("chromium", "chromium"), program("chromedriver", "chromium-driver"), CHECKER];
const SERVER: Need =
    Need::Beside { name: "initdb", folder: "/usr/lib/postgresql", package: "postgresql" };

/// Everything but the tests in Chromium, and these. Both together would be a third set of features,
/// and so a third build of most crates.
const ALL: &[&[&str]] = &[REST, BROWSER];
/// One of these by itself is chosen among all of them for the same reason.
const REST: &[&str] = &["--workspace", "--exclude", "browser"];
const BROWSER: &[&str] = &["-p", "browser"];

const SUITES: &[Suite] = &[
    Suite { name: "unit", chosen: REST, ignored: false, words: &[], needs: &[] },
    Suite { name: "figures", chosen: BROWSER, ignored: false, words: &[], needs: &[] },
    Suite {
        name: "paper",
        chosen: &["--workspace", "--exclude", "browser", "--test", "paper"],
        ignored: true,
        words: &[],
        needs: &[program("pdftotext", "poppler-utils"), program("qpdf", "qpdf")],
    },
    Suite {
        name: "durable",
        chosen: &["--workspace", "--exclude", "browser", "--test", "durable"],
        ignored: true,
        words: &[],
        needs: &[program("strace", "strace")],
    },
    Suite {
        name: "troubles",
        chosen: &["--workspace", "--exclude", "browser", "--test", "troubles"],
        ignored: true,
        words: &[],
        needs: &[program("strace", "strace"), Need::Root],
    },
    Suite {
        name: "visa",
        chosen: &["--workspace", "--exclude", "browser", "--test", "visa"],
        ignored: true,
        words: &[],
        needs: &[program("python3", "python3"), SIMULATOR],
    },
    Suite {
        name: "disk",
        chosen: &["--workspace", "--exclude", "browser", "--test", "kept"],
        ignored: true,
        words: &[],
        needs: &[Need::Root],
    },
    Suite {
        name: "postgres",
        chosen: &["--workspace", "--exclude", "browser", "--test", "postgres"],
        ignored: true,
        words: &[],
        needs: &[SERVER],
    },
    // What these measure is time.
    Suite {
        name: "server",
        chosen: &["--workspace", "--exclude", "browser", "--test", "server"],
        ignored: true,
        words: &[],
        needs: &[SERVER],
    },
    Suite {
        name: "browser",
        chosen: BROWSER,
        ignored: true,
        words: &["--test-threads=1", "--skip=unhurried::"],
        needs: SCREENS,
    },
    Suite {
        name: "tour",
        chosen: BROWSER,
        ignored: true,
        words: &["--test-threads=2", "unhurried::"],
        needs: SCREENS,
    },
];

impl Need {
    const fn name(self) -> &'static str {
        match self {
            Self::Program { name, .. } | Self::File { name, .. } | Self::Beside { name, .. } => {
                name
            }
            Self::Root => "root",
        }
    }

    fn is_met(self, root: &Path) -> bool {
        match self {
            Self::Program { name, .. } => has(name),
            Self::Beside { name, folder, .. } => has(name) || is_beside(name, folder),
            Self::File { path, .. } => root.join(path).is_file(),
            Self::Root => is_root(),
        }
    }
}

/// Whether one of the versions in a folder has a program of this name.
fn is_beside(name: &str, folder: &str) -> bool {
    let versions = std::fs::read_dir(folder).into_iter().flatten().flatten();
    versions.map(|version| version.path().join("bin").join(name)).any(|file| file.is_file())
}

/// What brings all that is missing, in one line.
fn remedy(lacks: &[Need]) -> String {
    let mut install = Vec::new();
    let mut others = Vec::new();
    for need in lacks {
        match need {
            Need::Program { package, .. } | Need::Beside { package, .. } => {
                if install.is_empty() {
                    install.push("sudo apt-get install");
                }
                install.push(package);
            }
            Need::File { remedy, .. } => others.push((*remedy).to_owned()),
            Need::Root => others.push("run it as root".to_owned()),
        }
    }
    let first = (!install.is_empty()).then(|| install.join(" "));
    first.into_iter().chain(others).collect::<Vec<_>>().join(", and ")
}

/// How one suite ended.
enum End {
    Ran(Tally),
    Lacks { needs: Vec<Need>, tests: usize },
    Broken(String),
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Tally {
    passed: usize,
    failed: usize,
}

pub(crate) fn test(root: &Path, gaps: Gaps) -> ExitCode {
    for chosen in ALL {
        let words = [&["test", "--release", "--no-run"], *chosen].concat();
        if !succeeds(cargo(root, &words)) {
            return ExitCode::FAILURE;
        }
    }
    let Some(built) = program::build(root) else { return ExitCode::FAILURE };
    let mut ends: Vec<(&str, End)> =
        SUITES.iter().map(|suite| (suite.name, run(root, &built, suite))).collect();
    if let Some(stray) = stray(root) {
        ends.push(("strays", End::Broken(stray)));
    }
    println!();
    for (name, end) in &ends {
        println!("{}", line(name, end));
    }
    let total = total(&ends);
    println!("{} passed, {} failed", total.passed, total.failed);
    ExitCode::from(status(&ends, gaps))
}

fn run(root: &Path, built: &Path, suite: &Suite) -> End {
    let Some(listed) = listed(root, suite.chosen, suite.ignored, suite.words) else {
        return End::Broken("its tests do not build or cannot be listed".to_owned());
    };
    let needs: Vec<Need> = suite.needs.iter().copied().filter(|one| !one.is_met(root)).collect();
    if !needs.is_empty() {
        return End::Lacks { needs, tests: listed };
    }
    let mut words = vec!["test", "--release", "--no-fail-fast"];
    words.extend(suite.chosen);
    words.push("--");
    if suite.ignored {
        words.push("--ignored");
    }
    words.extend(suite.words);
    let mut command = cargo(root, &words);
    command.env("OHMSTEAD_BIN", built);
    let ended = capture(command, true);
    let tally = tally(&ended.lines);
    verdict(tally, listed, ended.well)
}

/// A run counts only when it ran what it listed and cargo agrees with the count of failures.
fn verdict(tally: Tally, listed: usize, well: bool) -> End {
    let ran = tally.passed + tally.failed;
    if ran != listed {
        return End::Broken(format!("{listed} tests are listed, {ran} ran"));
    }
    if well != (tally.failed == 0) {
        return End::Broken(format!("{} failed, yet cargo says otherwise", tally.failed));
    }
    End::Ran(tally)
}

/// How many tests there are to run, ignored ones alone or left out.
fn listed(root: &Path, chosen: &[&str], ignored: bool, which: &[&str]) -> Option<usize> {
    let count = |more: &[&str]| {
        let mut words = vec!["test", "--release", "--quiet"];
        words.extend(chosen);
        words.extend(["--", "--list"]);
        words.extend(which);
        words.extend(more);
        let ended = capture(cargo(root, &words), false);
        ended.well.then(|| count_listed(&ended.lines))
    };
    let of_ignored = count(&["--ignored"])?;
    if ignored { Some(of_ignored) } else { Some(count(&[])? - of_ignored) }
}

/// An ignored test that no suite runs would never run at all.
fn stray(root: &Path) -> Option<String> {
    let mut all = 0;
    for chosen in ALL {
        all += listed(root, chosen, true, &[])?;
    }
    let mut known = 0;
    for suite in SUITES.iter().filter(|suite| suite.ignored) {
        known += listed(root, suite.chosen, true, suite.words)?;
    }
    (all != known)
        .then(|| format!("{all} tests are ignored, {known} belong to a suite: give the others one"))
}

fn count_listed(lines: &[String]) -> usize {
    lines.iter().filter(|line| line.ends_with(": test")).count()
}

fn tally(lines: &[String]) -> Tally {
    let results = lines.iter().filter(|line| line.starts_with("test result:"));
    results.fold(Tally::default(), |sum, line| Tally {
        passed: sum.passed + before(line, " passed"),
        failed: sum.failed + before(line, " failed"),
    })
}

/// The whole number that stands right before a word.
fn before(line: &str, word: &str) -> usize {
    let Some((head, _)) = line.split_once(word) else { return 0 };
    let digits = head.rsplit(|letter: char| !letter.is_ascii_digit()).next().unwrap_or("");
    digits.parse().unwrap_or(0)
}

fn line(name: &str, end: &End) -> String {
    match end {
        End::Ran(tally) => format!("{name:<8} {} passed, {} failed", tally.passed, tally.failed),
        End::Lacks { needs, tests } => {
            let missing = needs.iter().map(|need| need.name()).collect::<Vec<_>>().join(", ");
            let remedy = remedy(needs);
            format!("{name:<8} NOT RUN  {missing} missing (tests: {tests}): {remedy}")
        }
        End::Broken(why) => format!("{name:<8} BROKEN  {why}"),
    }
}

fn total(ends: &[(&str, End)]) -> Tally {
    ends.iter().fold(Tally::default(), |sum, (_, end)| match end {
        End::Ran(one) => Tally { passed: sum.passed + one.passed, failed: sum.failed + one.failed },
        End::Lacks { .. } | End::Broken(_) => sum,
    })
}

/// 0 done, 1 a test failed or a count is wrong, 3 something is missing that was not to be.
fn status(ends: &[(&str, End)], gaps: Gaps) -> u8 {
    let failed = ends.iter().any(|(_, end)| match end {
        End::Ran(tally) => tally.failed > 0,
        End::Lacks { .. } => false,
        End::Broken(_) => true,
    });
    let lacks = ends.iter().any(|(_, end)| matches!(end, End::Lacks { .. }));
    match (failed, lacks && gaps == Gaps::Refused) {
        (true, _) => 1,
        (false, true) => 3,
        (false, false) => 0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(text: &str) -> Vec<String> {
        text.lines().map(str::to_owned).collect()
    }

    #[test]
    fn results_of_several_targets_are_added() {
        let text = "running 3 tests\ntest a ... ok\n\
            test result: ok. 3 passed; 0 failed; 1 ignored; 0 measured; 0 filtered out\n\
            test result: FAILED. 4 passed; 12 failed; 0 ignored; 0 measured; 0 filtered out\n";
        assert_eq!(tally(&lines(text)), Tally { passed: 7, failed: 12 });
    }

    #[test]
    fn only_tests_are_counted_in_a_list() {
        let text = "spread::tests::order: test\nfit: benchmark\n\n2 tests, 1 benchmark\n\
            crates/quantity/src/engineering.rs - engineering (line 8): test\n";
        assert_eq!(count_listed(&lines(text)), 2);
    }

    #[test]
    fn a_test_that_did_not_run_breaks_the_suite() {
        let tally = Tally { passed: 5, failed: 0 };
        assert!(matches!(verdict(tally, 5, true), End::Ran(_)));
        assert!(matches!(verdict(tally, 6, true), End::Broken(_)));
        assert!(matches!(verdict(tally, 5, false), End::Broken(_)));
    }

    #[test]
    fn status_and_words() {
        let ran = |failed| ("unit", End::Ran(Tally { passed: 5, failed }));
        let lacks = || ("paper", End::Lacks { needs: vec![program("qpdf", "qpdf")], tests: 2 });
        let cases = [
            (vec![ran(0)], Gaps::Refused, 0),
            (vec![ran(1)], Gaps::Named, 1),
            (vec![ran(0), lacks()], Gaps::Named, 0),
            (vec![ran(0), lacks()], Gaps::Refused, 3),
            (vec![ran(1), lacks()], Gaps::Refused, 1),
            (vec![("unit", End::Broken(String::new()))], Gaps::Named, 1),
        ];
        for (ends, gaps, expected) in &cases {
            assert_eq!(status(ends, *gaps), *expected);
        }
        let (name, end) = lacks();
        assert_eq!(
            line(name, &end),
            "paper    NOT RUN  qpdf missing (tests: 2): sudo apt-get install qpdf"
        );
        let strace = program("strace", "strace");
        let cases: &[(&[Need], &str)] = &[
            (&[Need::Root], "root missing (tests: 1): run it as root"),
            (
                &[strace, program("x", "y"), Need::Root],
                "strace, x, root missing (tests: 1): \
                 sudo apt-get install strace y, and run it as root",
            ),
            (
                &[Need::File { name: "z.js", path: "target/z.js", remedy: "fetch it" }],
                "z.js missing (tests: 1): fetch it",
            ),
        ];
        for (needs, expected) in cases {
            let said = line("a", &End::Lacks { needs: needs.to_vec(), tests: 1 });
            assert!(said.ends_with(expected), "{said}");
        }
    }
}
