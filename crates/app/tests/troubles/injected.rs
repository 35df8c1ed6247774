//! The system refuses what the program asks of the disk: `strace` stands between them.

use std::process::{Child, Command, Stdio};

use crate::live::Live;
use crate::place::Place;
use crate::{hand_first, row, rows_are_kept, say_rows};

/// The system refuses these calls of a program that runs, until this is dropped.
struct Refused(Child);

impl Refused {
    /// Only the database writes at a place and waits for the disk.
    fn from(live: &Live, place: &Place, calls: &str, error: &str) -> Self {
        let id = live.id().to_string();
        let mut strace = Command::new("strace");
        strace.args(["-f", "-p", &id, "-e", &format!("trace={calls}")]);
        strace.args(["-e", &format!("inject={calls}:error={error}")]);
        let log = place.path().join("strace.txt");
        strace.args(["-o", log.to_str().expect("a plain path")]);
        let mut child = strace.stderr(Stdio::piped()).spawn().expect("strace is there");
        let mut said = std::io::BufReader::new(child.stderr.take().expect("piped"));
        let mut line = String::new();
        // It says so when it stands between them.
        std::io::BufRead::read_line(&mut said, &mut line).expect("it says something");
        assert!(line.contains("attached"), "strace cannot stand between: {line}");
        Self(child)
    }
}

impl Drop for Refused {
    fn drop(&mut self) {
        let id = self.0.id().to_string();
        // On this signal it goes away and leaves the program as it is.
        let _ = Command::new("kill").args(["-INT", &id]).status();
        let _ = self.0.wait();
    }
}

/// Refuses these calls in the middle of a run and lets them through again.
fn check(name: &str, calls: &str, error: &str, detail: &str) {
    let place = Place::new(name);
    let mut live = Live::start(place.run(&["--from", "keys", "--json"]));
    say_rows(&mut live, 1, 3);
    let refused = Refused::from(&live, &place, calls, error);
    for number in 4..=9 {
        live.say(&row(number));
    }
    let told = live.until_err("NOT KEPT");
    hand_first(&told, "write the readings on the job sheet by hand", detail);
    assert_eq!(live.kept(), 3, "{error}: nothing was acknowledged that is not kept");
    drop(refused);
    hand_first(&live.until_err("is kept now"), "Go on", "everything that waited");
    live.until_kept(9);
    let ended = live.end();
    assert_eq!((ended.status, ended.kept()), (Some(0), 9), "{error}: {}", ended.err);
    rows_are_kept(&place, 9);
}

#[test]
#[ignore = "needs strace, and the right to stand between"]
fn a_disk_that_becomes_read_only_in_the_middle_is_told_and_tried_again() {
    check("becomes-read-only", "pwrite64", "EROFS", "the disk failed");
}

#[test]
#[ignore = "needs strace, and the right to stand between"]
fn a_disk_that_is_full_in_the_middle_is_told_and_tried_again() {
    check("becomes-full", "pwrite64", "ENOSPC", "make room on the disk");
}

#[test]
#[ignore = "needs strace, and the right to stand between"]
fn a_disk_that_fails_when_it_is_to_make_sure_is_told_and_tried_again() {
    check("does-not-sync", "fdatasync,fsync", "EIO", "the disk failed");
}
