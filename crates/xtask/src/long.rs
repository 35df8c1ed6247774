//! `long NAME`: runs too long for every day. Each adds one entry to docs/runs/NAME.json that says
//! how to have it again; a table in docs stands on entries from a clean checkout only.

mod alarms;
mod crews;
mod entry;
mod faults;
mod inputs;
mod jobs;
mod kills;
mod letters;
mod load;
mod meet;
mod of_test;
mod sizes;
mod stream;
mod verdicts;

use std::path::Path;
use std::process::ExitCode;

use entry::Entry;

/// A long run.
struct Run {
    name: &'static str,
    /// How many where nobody says it.
    usual: u64,
    run: fn(&Path, Asked) -> Option<Outcome>,
}

const RUNS: &[Run] = &[
    Run { name: "alarms", usual: 3000, run: alarms::alarms },
    Run { name: "crews", usual: 600, run: crews::crews },
    Run { name: "faults", usual: 520, run: faults::faults },
    Run { name: "inputs", usual: 2000, run: inputs::inputs },
    Run { name: "jobs", usual: 4000, run: jobs::jobs },
    Run { name: "kills", usual: 1000, run: kills::kills },
    Run { name: "load", usual: 60, run: load::load },
    Run { name: "meet", usual: 30, run: meet::meet },
    Run { name: "sizes", usual: 100_000, run: sizes::in_a_file },
    Run { name: "sizes-on-a-server", usual: 1_000_000, run: sizes::on_a_server },
    Run { name: "stream", usual: 28_800, run: stream::stream },
    Run { name: "verdicts", usual: 4000, run: verdicts::verdicts },
];

/// What a run is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Asked {
    seed: u64,
    count: u64,
}

pub(crate) fn long(root: &Path, name: &str, rest: &[&str]) -> ExitCode {
    let Some(known) = RUNS.iter().find(|known| known.name == name) else {
        let names: Vec<&str> = RUNS.iter().map(|known| known.name).collect();
        eprintln!("write one of: {} — there is no long run {name:?}", names.join(", "));
        return ExitCode::from(2);
    };
    let (unrecorded, rest) = match rest {
        ["--unrecorded", rest @ ..] => (true, rest),
        rest => (false, rest),
    };
    let Some(asked) = asked(rest, known.usual) else {
        eprintln!("write --seed N and --count N, each a whole number — got {}", rest.join(" "));
        return ExitCode::from(2);
    };
    let Some(outcome) = (known.run)(root, asked) else { return ExitCode::FAILURE };
    // A slice, as every change is checked by: it must end well and is not worth keeping.
    if unrecorded {
        return if outcome.well { ExitCode::SUCCESS } else { ExitCode::FAILURE };
    }
    let words = format!("cargo xtask long {name} --seed {} --count {}", asked.seed, asked.count);
    match entry::append(root, name, &Entry::here(root, words, asked.seed, &outcome)) {
        Ok(path) => println!("added to {}", path.display()),
        Err(error) => {
            eprintln!("cannot add to docs/runs/{name}.json: {error}");
            return ExitCode::FAILURE;
        }
    }
    let page = match name {
        "alarms" => Some((alarms::PAGE, alarms::write_page(root))),
        "faults" => Some((faults::PAGE, faults::write_page(root))),
        "verdicts" => Some((verdicts::PAGE, verdicts::write_page(root))),
        _ => None,
    };
    if let Some((page, Err(error))) = page {
        eprintln!("cannot write {page}: {error}");
        return ExitCode::FAILURE;
    }
    if outcome.well { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// How a run ended: whole numbers and figures, by name.
struct Outcome {
    well: bool,
    counts: Vec<(String, u64)>,
    figures: Vec<(String, f64)>,
}

fn asked(rest: &[&str], usual: u64) -> Option<Asked> {
    let mut asked = Asked { seed: 1, count: usual };
    for pair in rest.chunks(2) {
        match pair {
            ["--seed", number] => asked.seed = number.parse().ok()?,
            ["--count", number] => asked.count = number.parse().ok()?,
            _ => return None,
        }
    }
    Some(asked)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn seed_and_count_are_read() {
        let cases: &[(&[&str], Option<Asked>)] = &[
            (&[], Some(Asked { seed: 1, count: 2000 })),
            (&["--count", "10", "--seed", "7"], Some(Asked { seed: 7, count: 10 })),
            (&["--seed"], None),
            (&["--seed", "x"], None),
            (&["--sed", "1"], None),
        ];
        for (rest, expected) in cases {
            assert_eq!(asked(rest, 2000), *expected);
        }
    }
}
