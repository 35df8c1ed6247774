//! `long NAME`: runs too long for every day. Each adds one entry to docs/runs/NAME.json that says
//! how to have it again; a table in docs stands on entries from a clean checkout only.

mod entry;
mod inputs;

use std::path::Path;
use std::process::ExitCode;

use entry::Entry;

/// What a run is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Asked {
    seed: u64,
    count: u64,
}

pub(crate) fn long(root: &Path, name: &str, rest: &[&str]) -> ExitCode {
    let run = match name {
        "inputs" => inputs::inputs,
        _ => {
            eprintln!("write one of: inputs — there is no long run {name:?}");
            return ExitCode::from(2);
        }
    };
    let (unrecorded, rest) = match rest {
        ["--unrecorded", rest @ ..] => (true, rest),
        rest => (false, rest),
    };
    let Some(asked) = asked(rest) else {
        eprintln!("write --seed N and --count N, each a whole number — got {}", rest.join(" "));
        return ExitCode::from(2);
    };
    let Some(outcome) = run(root, asked) else { return ExitCode::FAILURE };
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
    if outcome.well { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

/// How a run ended: whole numbers and figures, by name.
struct Outcome {
    well: bool,
    counts: Vec<(&'static str, u64)>,
    figures: Vec<(&'static str, f64)>,
}

fn asked(rest: &[&str]) -> Option<Asked> {
    let mut asked = Asked { seed: 1, count: 2000 };
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
            assert_eq!(asked(rest), *expected);
        }
    }
}
