//! The disk: no room, only to be read, a file that may not grow.

use std::os::unix::fs::PermissionsExt as _;
use std::path::Path;
use std::process::Command;

use crate::live::Live;
use crate::place::{Place, job};
use crate::{hand_first, row, rows_are_kept, say_rows};

/// Something that is done to the machine and undone again.
fn done(words: &[&str]) {
    let status = Command::new(words[0]).args(&words[1..]).status();
    assert!(status.is_ok_and(|status| status.success()), "{words:?}");
}

/// A file system of its own in this folder, of one megabyte.
struct SmallDisk<'a>(&'a Path);

impl<'a> SmallDisk<'a> {
    fn on(place: &'a Place) -> Self {
        let folder = place.path().to_str().expect("a plain path");
        done(&["mount", "-t", "tmpfs", "-o", "size=1m", "none", folder]);
        Self(place.path())
    }

    fn fill(&self) {
        // It is full when no more can be written; what was written by then is the ballast.
        let full = std::fs::write(self.0.join("ballast"), vec![0; 1 << 20]);
        assert!(full.is_err(), "one megabyte is not to fit");
    }

    fn make_room(&self) {
        std::fs::remove_file(self.0.join("ballast")).expect("taken away");
    }

    fn only_to_read(&self) {
        done(&["mount", "-o", "remount,ro", self.0.to_str().expect("a plain path")]);
    }
}

impl Drop for SmallDisk<'_> {
    fn drop(&mut self) {
        // A panic of the test itself is the one to tell.
        let _ = Command::new("umount").arg("--lazy").arg(self.0).status();
    }
}

#[test]
#[ignore = "needs root: it mounts a file system of one megabyte"]
fn what_came_while_the_disk_was_full_is_kept_when_there_is_room() {
    let place = Place::new("full");
    let disk = SmallDisk::on(&place);
    let mut live = Live::start(place.run(&["--from", "keys", "--json"]));
    say_rows(&mut live, 1, 3);
    disk.fill();
    // The journal has some room left in its last page.
    let mut last = 3;
    while !live.was_told("NOT KEPT") {
        last += 1;
        live.say(&row(last));
        live.pause();
        assert!(last < 5000, "it is never full");
    }
    let told = live.line_with("NOT KEPT");
    hand_first(&told, "write the readings on the job sheet by hand", "make room on the disk");
    let kept = live.kept();
    assert!(kept < last, "what was not kept was acknowledged");
    disk.make_room();
    hand_first(&live.until_err("is kept now"), "Go on", "everything that waited");
    live.until_kept(last);
    say_rows(&mut live, last + 1, last + 3);
    let ended = live.end();
    assert_eq!((ended.status, ended.kept()), (Some(0), last + 3), "{}", ended.err);
    rows_are_kept(&place, last + 3);
}

#[test]
#[ignore = "needs root: it mounts a file system of one megabyte"]
fn a_disk_that_stays_full_gives_back_what_it_could_not_keep() {
    let place = Place::new("full-for-good");
    let disk = SmallDisk::on(&place);
    let mut live = Live::start(place.run(&["--from", "keys", "--json"]));
    say_rows(&mut live, 1, 3);
    disk.fill();
    let mut last = 3;
    while !live.was_told("NOT KEPT") {
        last += 1;
        live.say(&row(last));
        live.pause();
        assert!(last < 5000, "it is never full");
    }
    let ended = live.end();
    assert_eq!(ended.status, Some(3), "{}", ended.err);
    let kept = ended.kept();
    for number in kept + 1..=last {
        let printed =
            format!("\n{number},{},{},", crate::kilovolts(number), crate::microamperes(number));
        assert!(ended.err.contains(&printed), "{number} is lost\n{}", ended.err);
    }
    disk.make_room();
    rows_are_kept(&place, kept);
}

#[test]
#[ignore = "needs root: it mounts a file system of one megabyte"]
fn a_disk_that_may_only_be_read_says_how_to_go_on() {
    let place = Place::new("read-only-disk");
    let disk = SmallDisk::on(&place);
    let mut live = Live::start(place.run(&["--from", "keys", "--json"]));
    say_rows(&mut live, 1, 3);
    assert_eq!(live.end().status, Some(0));
    disk.only_to_read();
    let ended = Live::start(place.run(&["--from", "keys", "--json"])).end();
    assert_eq!((ended.status, ended.kept()), (Some(3), 0), "{}", ended.err);
    // The engine opens it to read where it can, and says either.
    hand_first(ended.told("may be written to"), "check that the", "may be written to");
    assert!(ended.err.contains("HAZARDOUS until grounded"), "first of all: {}", ended.err);
    rows_are_kept(&place, 3);
}

/// The system lets no file grow; the nearest to a full disk that needs no rights.
#[test]
fn a_file_that_may_not_grow_is_told_and_what_waited_is_kept_when_it_may() {
    let place = Place::new("no-growth");
    let mut shell = Command::new("sh");
    // The signal would end the program; a full disk sends none.
    shell.args(["-c", "trap '' XFSZ; exec \"$0\" \"$@\"", env!("CARGO_BIN_EXE_ohmstead")]);
    shell.args(["run", &job(), "--from", "keys", "--json", "--db", &place.db()]);
    let mut live = Live::start(shell);
    say_rows(&mut live, 1, 3);
    let id = live.id().to_string();
    done(&["prlimit", "--pid", &id, "--fsize=4096:unlimited"]);
    for number in 4..=9 {
        live.say(&row(number));
    }
    let told = live.until_err("NOT KEPT");
    hand_first(&told, "write the readings on the job sheet by hand", "the disk");
    assert_eq!(live.kept(), 3);
    done(&["prlimit", "--pid", &id, "--fsize=unlimited:unlimited"]);
    hand_first(&live.until_err("is kept now"), "Go on", "everything that waited");
    live.until_kept(9);
    let ended = live.end();
    assert_eq!((ended.status, ended.kept()), (Some(0), 9), "{}", ended.err);
    rows_are_kept(&place, 9);
}

/// What is written to a file that was taken away is nowhere afterwards; the engine says nothing.
#[test]
fn a_database_that_is_taken_away_is_told_and_goes_on_when_it_is_put_back() {
    let place = Place::new("taken-away");
    let mut live = Live::start(place.run(&["--from", "keys", "--json"]));
    say_rows(&mut live, 1, 3);
    let elsewhere = place.path().join("elsewhere.db");
    std::fs::rename(place.db(), &elsewhere).expect("ours");
    for number in 4..=9 {
        live.say(&row(number));
    }
    let told = live.until_err("NOT KEPT");
    hand_first(&told, "write the readings on the job sheet by hand", "it was moved or deleted");
    assert_eq!(live.kept(), 3);
    std::fs::rename(&elsewhere, place.db()).expect("ours");
    hand_first(&live.until_err("is kept now"), "Go on", "everything that waited");
    live.until_kept(9);
    let ended = live.end();
    assert_eq!((ended.status, ended.kept()), (Some(0), 9), "{}", ended.err);
    rows_are_kept(&place, 9);
}

/// The program without the right to write everywhere, where the tests have it.
fn without_rights(command: Command) -> Command {
    use std::os::unix::fs::MetadataExt as _;
    let is_root = std::fs::metadata("/proc/self").is_ok_and(|own| own.uid() == 0);
    if !is_root {
        return command;
    }
    let mut less = Command::new("setpriv");
    less.args(["--bounding-set=-dac_override,-dac_read_search", "--inh-caps=-all"]);
    less.arg(command.get_program()).args(command.get_args());
    less
}

fn may_not_be_written(path: &Path, mode: u32) {
    std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).expect("ours");
}

#[test]
fn a_database_that_may_only_be_read_at_the_start_says_how_to_go_on() {
    let place = Place::new("read-only-file");
    let mut live = Live::start(place.run(&["--from", "keys", "--json"]));
    say_rows(&mut live, 1, 3);
    assert_eq!(live.end().status, Some(0));
    may_not_be_written(Path::new(&place.db()), 0o444);
    let ended = Live::start(without_rights(place.run(&["--from", "keys", "--json"]))).end();
    assert_eq!((ended.status, ended.kept()), (Some(3), 0), "{}", ended.err);
    hand_first(ended.told("may only be read"), "check that the database", "may only be read");
    assert!(ended.err.contains("HAZARDOUS until grounded"), "first of all: {}", ended.err);
    rows_are_kept(&place, 3);
}

#[test]
fn a_folder_that_may_only_be_read_at_the_start_says_how_to_go_on() {
    let place = Place::new("read-only-folder");
    may_not_be_written(place.path(), 0o555);
    let ended = Live::start(without_rights(place.run(&["--from", "keys", "--json"]))).end();
    may_not_be_written(place.path(), 0o755);
    assert_eq!((ended.status, ended.out.as_str()), (Some(3), ""), "{}", ended.err);
    hand_first(&ended.err, "check that the folder", "unable to open");
    assert_eq!(std::fs::read_dir(place.path()).expect("ours").count(), 0, "nothing is half made");
}
