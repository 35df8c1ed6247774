//! The person, the window or the other end of a pipe goes away; the machine sleeps.

use std::process::{Command, Stdio};
use std::time::Duration;

use session::Event;
use session::record::ClockNews;

use crate::live::{Live, pass};
use crate::place::{Place, job};
use crate::{hand_first, row, rows_are_kept, say_rows};

fn typed(name: &str) -> (Place, Live) {
    let place = Place::new(name);
    let mut live = Live::start(place.run(&["--from", "keys", "--json"]));
    say_rows(&mut live, 1, 3);
    (place, live)
}

/// It says that it is hazardous still, what to do by hand and how to go on.
fn says_how_to_go_on(place: &Place, said: &str) {
    let id = place.record().id;
    let first = said.lines().find(|line| line.contains("HAZARDOUS until grounded"));
    let first = first.unwrap_or_else(|| panic!("no hazard line in {said}"));
    let goes_on = first.contains("`ohmstead run") && first.contains("takes it up again");
    assert!(first.contains(&id) && goes_on, "{first}");
    let by_hand = said.lines().find(|line| line.contains("Do by hand now"));
    let by_hand = by_hand.unwrap_or_else(|| panic!("nothing to do by hand in {said}"));
    hand_first(by_hand, "dial to zero", "put the solid ground on");
}

#[test]
fn interrupted_ended_or_hung_up_it_keeps_all_and_says_how_to_go_on() {
    for signal in ["INT", "TERM", "HUP"] {
        let (place, live) = typed(&format!("signal-{signal}"));
        live.signal(signal);
        let ended = live.end();
        assert_eq!((ended.status, ended.kept()), (Some(0), 3), "{signal}: {}", ended.err);
        says_how_to_go_on(&place, &ended.err);
        rows_are_kept(&place, 3);
    }
}

#[test]
fn a_pipe_that_ends_leaves_the_record_open_and_says_so() {
    let (place, live) = typed("stdin-ends");
    let ended = live.end();
    assert_eq!((ended.status, ended.kept()), (Some(0), 3), "{}", ended.err);
    says_how_to_go_on(&place, &ended.err);
    rows_are_kept(&place, 3);
}

#[test]
fn without_any_stdin_it_ends_at_once() {
    let place = Place::new("no-stdin");
    let mut shell = Command::new("sh");
    shell.args(["-c", "exec \"$0\" \"$@\" <&-", env!("CARGO_BIN_EXE_ohmstead")]);
    shell.args(["run", &job(), "--from", "keys", "--json", "--db", &place.db()]);
    let ended = Live::start(shell).end();
    assert_eq!(ended.status, Some(0), "{}", ended.err);
    assert_eq!(place.record().rows(), []);
}

#[test]
fn a_reader_that_goes_away_costs_no_reading() {
    for (name, closes) in [("out", ">&-"), ("err", "2>&-"), ("both", ">&- 2>&-")] {
        let place = Place::new(&format!("closed-{name}"));
        let mut shell = Command::new("sh");
        let script = format!("exec \"$0\" \"$@\" {closes}");
        shell.args(["-c", &script, env!("CARGO_BIN_EXE_ohmstead")]);
        shell.args(["run", &job(), "--from", "keys", "--json", "--db", &place.db()]);
        let mut live = Live::start(shell);
        for number in 1..=5 {
            live.say(&row(number));
        }
        assert_eq!(live.end().status, Some(0), "{name}");
        rows_are_kept(&place, 5);
    }
}

/// As `run … | head -1`: the pipe breaks while it runs.
#[test]
fn a_pipe_that_breaks_costs_no_reading() {
    let place = Place::new("broken-pipe");
    let mut command = place.run(&["--from", "keys", "--json"]);
    command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::null());
    let mut child = command.spawn().expect("the program was built for this test");
    let mut stdin = child.stdin.take().expect("piped");
    let mut out = std::io::BufReader::new(child.stdout.take().expect("piped"));
    let mut line = String::new();
    std::io::BufRead::read_line(&mut out, &mut line).expect("its first acknowledgement");
    drop(out);
    for number in 1..=5 {
        std::io::Write::write_all(&mut stdin, (row(number) + "\n").as_bytes()).expect("it listens");
    }
    drop(stdin);
    assert_eq!(child.wait().expect("our child").code(), Some(0));
    rows_are_kept(&place, 5);
}

/// As `run … | less`: the reader is there, and does not read.
#[test]
fn a_reader_that_does_not_read_holds_up_nothing() {
    let place = Place::new("no-reader");
    let mut command = place.run(&["--from", "keys"]);
    command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::null());
    let mut child = command.spawn().expect("the program was built for this test");
    let mut stdin = child.stdin.take().expect("piped");
    // Four times what a pipe holds.
    let remark = format!("remark {}\n", "on and on ".repeat(25));
    std::io::Write::write_all(&mut stdin, remark.repeat(1000).as_bytes()).expect("it listens");
    let all = (0..400).any(|_| {
        pass(Duration::from_millis(50));
        place.events() >= 1001
    });
    child.kill().expect("our child");
    child.wait().expect("our child");
    assert!(all, "only {} events are kept", place.events());
}

/// A window that is closed: the terminal is gone, and the system says so.
#[test]
fn a_window_that_is_closed_costs_no_reading() {
    let place = Place::new("window");
    let line = format!(
        "stty rows 24 cols 80; exec {} run {} --from keys --db {}",
        env!("CARGO_BIN_EXE_ohmstead"),
        job(),
        place.db()
    );
    let mut window = Command::new("script");
    window.args(["--quiet", "--flush", "--return", "--command", &line, "/dev/null"]);
    let mut live = Live::start(window);
    // Typed as keys: of the first conductor, a reading.
    live.until_out("Nothing here switches");
    live.say_all("\t10.001\r10.01\r");
    live.until_out("· 1 readings");
    live.signal("KILL");
    let ended = live.end();
    assert_eq!(ended.status, None);
    let rows = free(&place).record().rows();
    let values: Vec<_> = rows.iter().map(|(_, kv, ua)| (*kv, *ua)).collect();
    assert_eq!(values, [(Some(10.001), Some(10.01))]);
    // And the next one opens on the hazard line.
    let ended = Live::start(place.run(&["--from", "keys", "--json"])).end();
    assert!(ended.err.contains("HAZARDOUS until grounded"), "{}", ended.err);
}

/// Waits until no program goes on with a record there.
fn free(place: &Place) -> &Place {
    for _ in 0..200 {
        let files = std::fs::read_dir(place.path()).expect("ours").flatten();
        if files.map(|one| one.path()).all(|path| path.extension().is_none_or(|end| end != "lock"))
        {
            return place;
        }
        pass(Duration::from_millis(50));
    }
    panic!("the program did not end when its window was closed");
}

/// The machine asleep, as far as a program can tell: it does not run, and time goes on.
#[test]
fn asleep_for_six_seconds_is_told_and_recorded() {
    let (place, mut live) = typed("asleep");
    live.signal("STOP");
    pass(Duration::from_millis(5500));
    live.signal("CONT");
    let told = live.until_err("nothing was recorded");
    hand_first(&told, "Read the needles now", "slept");
    say_rows(&mut live, 4, 6);
    assert_eq!(live.end().status, Some(0));
    rows_are_kept(&place, 6);
    let kept = place.record();
    let stood = |event: &Event| match event {
        Event::Clock(ClockNews::Stood { time }) => (5.0..20.0).contains(&time.seconds()),
        _ => false,
    };
    assert!(kept.has(stood));
}
