//! `bench`: how long the built program takes over the examples, start to exit, as rows for
//! docs/performance.md.

use std::path::Path;
use std::process::ExitCode;
use std::time::Instant;

use crate::program;

const TIMES: usize = 9;

/// What is measured: what it is, and the words after the program's name; `SHEET` stands for a
/// file that is thrown away.
const FIGURES: &[(&str, &[&str])] = &[
    ("a plan from a job file", &["plan", "docs/examples/cable.toml", "--json"]),
    ("a printed job sheet", &["plan", "docs/examples/cable.toml", "--pdf", "SHEET"]),
    ("a described object, simulated", &["simulate", "docs/examples/case.toml", "--json"]),
    (
        "a verdict on typed readings",
        &["judge", "docs/examples/cable.toml", "--readings", "docs/examples/cable-readings.csv"],
    ),
];

pub(crate) fn bench(root: &Path) -> ExitCode {
    let Some(program) = program::build(root) else { return ExitCode::FAILURE };
    if let Err(error) = std::env::set_current_dir(root) {
        eprintln!("cannot enter {}: {error}", root.display());
        return ExitCode::FAILURE;
    }
    let folder = std::env::temp_dir();
    let sheet = folder.join(format!("bench-{}.pdf", std::process::id()));
    let sheet = sheet.to_string_lossy();
    println!("| figure | median | longest | command | machine |\n|---|---|---|---|---|");
    for (figure, words) in FIGURES {
        let mut times = Vec::with_capacity(TIMES);
        let called: Vec<&str> =
            words.iter().map(|word| if *word == "SHEET" { &*sheet } else { *word }).collect();
        for _ in 0..TIMES {
            let started = Instant::now();
            match program::run(&program, &called) {
                Ok(output) if output.status.success() => {
                    times.push(started.elapsed().as_secs_f64() * 1e3);
                }
                Ok(output) => {
                    eprintln!("{figure}: {}", String::from_utf8_lossy(&output.stderr));
                    return ExitCode::FAILURE;
                }
                Err(error) => {
                    eprintln!("{figure}: {error}");
                    return ExitCode::FAILURE;
                }
            }
        }
        let (median, longest) = middle_and_end(&mut times);
        let command = words.join(" ");
        let machine = program::machine();
        println!(
            "| {figure} | {median:.0} ms | {longest:.0} ms | `ohmstead {command}` | {machine} |"
        );
    }
    // Nobody misses it when it was never written.
    let _ = std::fs::remove_file(&*sheet);
    ExitCode::SUCCESS
}

fn middle_and_end(times: &mut [f64]) -> (f64, f64) {
    times.sort_by(f64::total_cmp);
    (times[times.len() / 2], times[times.len() - 1])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn median_and_longest() {
        assert_eq!(middle_and_end(&mut [3.0, 1.0, 9.0, 2.0, 4.0]), (3.0, 9.0));
    }
}
