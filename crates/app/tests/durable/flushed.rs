//! The program under `strace`: what it acknowledges was on the disk before.

use std::process::Command;
use std::time::Duration;

use crate::program::{PROGRAM, Running, Said};
use crate::script::script;
use crate::trace::{as_often_flushed, deeds, each_flushed};
use crate::{Place, job_file};

/// Longer than a flush takes.
const SETTLED: Duration = Duration::from_millis(50);

/// Starts the program under `strace`, which writes to a file.
fn traced(place: &Place, from: &str) -> Running {
    let mut command = Command::new("strace");
    command.args(["-f", "-y", "-s", "64", "-o", &place.path("trace")]);
    command.args(["-e", "trace=fdatasync,fsync,read,recvfrom,write,writev,pwrite64,pwritev"]);
    command.args([PROGRAM, "run", &job_file(), "--from", from, "--db", &place.db(), "--json"]);
    Running::of(command)
}

fn trace_of(place: &Place, said: &Said) -> String {
    assert!(said.status.is_some_and(|status| status.success()), "{}", said.errors);
    std::fs::read_to_string(place.path("trace")).expect("strace wrote it")
}

#[test]
#[ignore = "needs strace"]
fn the_log_is_on_the_disk_before_each_acknowledgement() {
    let place = Place::new("flushed");
    let mut running = traced(&place, "keys");
    assert!(running.hear_until(1), "the record is begun");
    let lines = script(&["A"]);
    for line in &lines {
        // A program that acknowledges too early still flushes late: let it, before the next line.
        running.hear_for(SETTLED);
        let heard = running.acknowledged();
        assert!(running.tell(&line.words));
        // One at a time, so that nothing else is kept meanwhile.
        assert!(running.hear_until(heard.seq + 1), "{}", line.words);
    }
    let said = running.finish();
    let deeds = deeds(&trace_of(&place, &said));
    let acknowledged = each_flushed(&deeds).unwrap_or_else(|why| panic!("{why}: {deeds:?}"));
    assert_eq!(acknowledged as u64, said.acknowledged.lines);
    assert!(acknowledged > lines.len(), "{acknowledged} acknowledgements");
    place.clear();
}

#[test]
#[ignore = "needs strace"]
fn a_run_in_lock_step_is_flushed_as_often_as_it_acknowledges() {
    let place = Place::new("flushed-sim");
    let said = traced(&place, "sim:1").finish();
    let deeds = deeds(&trace_of(&place, &said));
    let acknowledged = as_often_flushed(&deeds).unwrap_or_else(|why| panic!("{why}"));
    assert_eq!(acknowledged as u64, said.acknowledged.lines);
    assert!(acknowledged > 100, "{acknowledged} acknowledgements");
    place.clear();
}
