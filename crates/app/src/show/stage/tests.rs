//! A test walked through from the first ground to the close: what the screen says at each state,
//! and that what it offers is what the session takes.

use std::fmt::Write as _;

use quantity::Time;
use session::live::{Refusal, View};
use session::record::{Head, Kind, Now, SourceNews};
use session::say::{Mode, of as said_of, parse};
use session::state::ActKind;
use session::{Entry, RECORD_FORMAT, Record, Session};

use super::*;

/// A session by a clock of its own; each line takes a second.
#[derive(Clone)]
pub(crate) struct Walk {
    head: Head,
    session: Session,
    events: Vec<Entry>,
    second: f64,
}

impl Walk {
    pub(crate) fn new() -> Self {
        let text = include_str!("../../../../../docs/examples/cable.toml");
        let job = plan::job_file::parse(text).expect("the example is well formed");
        let plan = plan::plan(&job, &standards::Library::published());
        let format = RECORD_FORMAT.to_owned();
        let head = Head { format, kind: Kind::Test, source: None, job, plan };
        let session = Session::begin(&head, "boot", now(0.0));
        Self { head, session, events: Vec::new(), second: 0.0 }
    }

    /// The record so far.
    pub(crate) fn record(&mut self) -> Record {
        self.session.flush(now(self.second));
        while let Some(entry) = self.session.poll_event() {
            self.events.push(entry);
        }
        self.head.clone().with(self.events.clone())
    }

    pub(crate) fn view(&self) -> View {
        self.session.view(now(self.second))
    }

    fn say(&mut self, line: &str) -> Result<(), Refusal> {
        let now = now(self.second);
        let said = parse(line, Mode::Typed).unwrap_or_else(|fault| panic!("{line}: {fault}"));
        self.session.handle_said(now, None, said)
    }

    /// Says these lines, parted by `;`. A number with an `s` lets so much time go by, `silence`
    /// loses the instrument and `back` has it answer again, `holds` ticks every hold point.
    pub(crate) fn work(&mut self, lines: &str) {
        for line in lines.split(';').map(str::trim).filter(|line| !line.is_empty()) {
            self.second += 1.0;
            let waits = line.strip_suffix('s').and_then(|seconds| seconds.parse::<f64>().ok());
            if let Some(seconds) = waits {
                self.second += seconds;
                self.session.handle_time(now(self.second));
            } else if line == "silence" {
                let lost = SourceNews::Lost { why: "pulled out".to_owned() };
                self.session.handle_source(now(self.second), lost);
                self.second += 3.0;
            } else if line == "holds" {
                for hold in session::hold::of(&self.head.plan) {
                    self.say(&format!("tick {}", hold.number)).expect("it is taken");
                }
            } else if line == "back" {
                let gap = Time::from_seconds(4.0);
                self.session.handle_source(now(self.second), SourceNews::Back { gap });
            } else {
                self.say(line).unwrap_or_else(|refusal| panic!("{line}: {refusal}"));
            }
        }
    }
}

fn now(second: f64) -> Now {
    let wall = jiff::Timestamp::UNIX_EPOCH + jiff::SignedDuration::from_secs_f64(second);
    Now { monotonic: Time::from_seconds(second), wall }
}

/// A test from its first line to its last: what is said of a state, and how it is come to.
pub(crate) const COURSE: &[(&str, &str)] = &[
    ("nothing done", ""),
    (
        "ready",
        "@A ground 1; @B ground 2 at far end; @C ground 3; lead A; check A; holds; @A lift 1; \
         here watch far-end",
    ),
    ("at zero", "energise"),
    ("rising", "rise; 5.2 160"),
    ("dwelling above the band", "13.0 150; dwell; 13.1 90; 20s"),
    ("withdrawn", "withdraw"),
    ("holding", "rise; hold; 65.0 12; 30s"),
    ("link lost", "silence"),
    ("tripped", "back; trip"),
    ("residual read", "residual 12.4"),
    ("through the tool", "tool"),
    ("grounded, cause missing", "ground 1"),
    ("grounded, to decide", "cause the set tripped on a loose link"),
    ("grounded, waiting", "end"),
    ("lifted", "@A lift 1; residual 0.02"),
    ("grounded again", "tool; @A ground 1; 12000s"),
    ("handed over", "@A leave 1 to the switching office"),
    ("given back", "@A release; @B lift 2; @C lift 3"),
    ("closed", "close"),
];

fn told(view: &View) -> String {
    let standing = ["write by hand".to_owned()];
    let about = About { asset: "F3", record: "0198a-b-c", kept: 7, ..About::default() };
    let scene = Scene::of(view, &About { standing: &standing, ..about });
    let mut out = String::new();
    let or = |text: Option<&str>| text.unwrap_or("-").to_owned();
    let mut line = |key: &str, text: String| writeln!(out, "    {key:<9} {text}").expect("text");
    line("state", format!("{} {} | {}", scene.shape, scene.state_word, scene.of));
    line("kV", format!("{} | {}", or(scene.kilovolts.as_deref()), scene.kilovolts_note));
    line("next", scene.next.clone());
    let band = scene.expected.as_ref().map(|one| format!("{} {}", one.said, one.band));
    line("current", format!("{} {}", or(scene.current.as_deref()), or(band.as_deref())));
    line("trip", or(scene.trip.as_ref().map(|trip| trip.said.as_str())));
    let wait = scene.wait.as_ref().map(|wait| format!("{} {}", wait.what, wait.time.left));
    let due = scene.reading_in.as_ref().map(|time| time.left.as_str());
    line("times", format!("reading {} | {}", or(due), or(wait.as_deref())));
    let advice = scene.advice.as_ref().map(|one| format!("{}: {}", one.word, one.why));
    line("advice", or(advice.as_deref()));
    line("outlook", or(Some(scene.outlook.as_str()).filter(|outlook| !outlook.is_empty())));
    line("section", format!("{:?}, stage {}", scene.section, scene.stage));
    line("needle", format!("{} on {}", scene.needle_unit, or(scene.ammeter_range.as_deref())));
    for one in &scene.conductors {
        line("conductor", one.text.clone());
    }
    for one in offers(view).iter().take(1) {
        for offer in &one.open {
            let mark = if offer.first { "›" } else { " " };
            let seen = if offer.seen { " (seen)" } else { "" };
            line(&one.conductor, format!("{mark} {} {}{seen}", offer.key, offer.statement));
        }
        for Waits { key, statement, remedy } in &one.waits {
            line(&one.conductor, format!("  {key} {statement}: not yet, {remedy}"));
        }
    }
    out
}

#[test]
fn what_is_said_at_each_state() {
    let mut walk = Walk::new();
    let mut found = String::new();
    for (state, lines) in COURSE {
        walk.work(lines);
        write!(found, "{state}\n{}", told(&walk.view())).expect("text");
    }
    let expected = include_str!("tests.txt");
    let differs = found.lines().zip(expected.lines()).find(|(found, wanted)| found != wanted);
    assert!(
        found == expected,
        "the words changed, first at {differs:?}; if they are right, write this into \
         src/show/stage/tests.txt:\n{found}"
    );
    assert!(!found.to_lowercase().contains("safe"));
}

/// Every statement that is offered is taken, and every one that is not offered is refused.
#[test]
fn what_is_offered_is_what_is_taken() {
    let mut walk = Walk::new();
    let mut asked = 0;
    for (state, lines) in COURSE {
        walk.work(lines);
        let view = walk.view();
        for one in offers(&view) {
            for act in ActKind::ALL {
                let offer = one.open.iter().find(|offer| offer.act == *act);
                let on = view.conductors.iter().find(|two| two.name == one.conductor);
                let number = on.and_then(|on| Some(on.grounds.first()?.number.clone()));
                let number = number.unwrap_or_else(|| "9".to_owned());
                let words = match act {
                    ActKind::Residual => "residual 0.01".to_owned(),
                    ActKind::Ground => "ground 9".to_owned(),
                    ActKind::Lift => format!("lift {number}"),
                    ActKind::Leave => format!("leave {number} to somebody"),
                    ActKind::Cause => "cause it was seen".to_owned(),
                    other => other.key().to_owned(),
                };
                // That voltage is off is said where it was cut: cutting it is what is offered.
                if *act == ActKind::Off && one.open.iter().any(|two| two.act == ActKind::Abort) {
                    asked += 1;
                    continue;
                }
                let taken = walk.clone().say(&said_of(&one.conductor, &words));
                let offered = offer.is_some();
                let whose = &one.conductor;
                assert_eq!(offered, taken.is_ok(), "{state}: {words} of {whose}: {taken:?}");
                asked += 1;
            }
        }
    }
    assert_eq!(asked, COURSE.len() * 3 * ActKind::ALL.len());
}

/// What comes next can be said, unless it is to wait, to read or to close.
#[test]
fn what_comes_next_stands_first() {
    let mut walk = Walk::new();
    for (state, lines) in COURSE {
        walk.work(lines);
        let view = walk.view();
        let first = offers(&view).into_iter().next().and_then(|one| one.open.into_iter().next());
        let first = first.filter(|offer| offer.first).map(|offer| offer.act.key());
        let expected = match *state {
            "nothing done" => Some("ground"),
            "ready" => Some("energise"),
            "at zero" => Some("rise"),
            "rising" => Some("dwell"),
            "tripped" => Some("residual"),
            "residual read" => Some("tool"),
            "through the tool" => Some("ground"),
            "grounded, cause missing" => Some("cause"),
            "grounded, to decide" => Some("again"),
            "grounded, waiting" | "grounded again" | "handed over" => Some("lead"),
            "given back" => Some("ground"),
            _ => None,
        };
        assert_eq!(first, expected, "{state}: {}", view.next);
    }
}
