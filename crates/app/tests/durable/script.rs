//! What a person types through a pipe: acts and readings of a whole test.

use crate::device::Pair;

/// One line, and what the record must say of it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Line {
    pub(crate) words: String,
    pub(crate) means: Item,
}

/// One thing that was sent to the program.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Item {
    /// An act, and of which conductor.
    Act { phase: String, act: String },
    /// A hold point that was ticked, or who was heard.
    Before {
        /// Its name.
        what: String,
    },
    /// A reading.
    Reading { phase: String, pair: Pair },
}

/// The conductors of the job.
pub(crate) const CONDUCTORS: [&str; 3] = ["A", "B", "C"];

/// The whole test of some of the conductors, up to the last ground.
pub(crate) fn script(tested: &[&str]) -> Vec<Line> {
    let mut lines = Vec::new();
    for (at, phase) in CONDUCTORS.iter().enumerate() {
        lines.push(act(phase, "ground", &format!("@{phase} ground {} at {phase}", at + 1)));
    }
    lines.extend(holds().into_iter().map(|hold| before(&format!("tick {hold}"), hold)));
    for (at, phase) in CONDUCTORS.iter().enumerate().filter(|(_, one)| tested.contains(one)) {
        let number = at + 1;
        let mut t = 0.0;
        let mut read = |lines: &mut Vec<Line>, levels: &[f64]| {
            for kv in levels {
                lines.push(reading(phase, t, *kv, 0.1 * kv + 0.01 * t));
                t += 5.0;
            }
        };
        for (word, line) in [
            ("lead", format!("lead {phase}")),
            ("check", format!("check {phase}")),
            ("lift", format!("@{phase} lift {number}")),
        ] {
            lines.push(act(phase, word, &line));
        }
        for role in ["watch", "far-end"] {
            lines.push(before(&format!("here {role}"), role.to_owned()));
        }
        for (word, line) in
            [("energise", format!("@{phase} energise")), ("rise", format!("@{phase} rise"))]
        {
            lines.push(act(phase, word, &line));
        }
        read(&mut lines, &[0.0, 4.2, 8.4, 12.61]);
        lines.push(act(phase, "dwell", &format!("@{phase} dwell")));
        read(&mut lines, &[13.0, 13.01, 12.99]);
        lines.push(act(phase, "rise", &format!("@{phase} rise")));
        read(&mut lines, &[20.1, 40.2]);
        lines.push(act(phase, "stop", &format!("@{phase} stop")));
        read(&mut lines, &[25.25, 9.3, 1.125]);
        for (word, line) in [
            ("off", format!("@{phase} off")),
            ("residual", format!("@{phase} residual 0.02")),
            ("tool", format!("@{phase} tool")),
            ("ground", format!("@{phase} ground {number} at {phase}")),
        ] {
            lines.push(act(phase, word, &line));
        }
    }
    lines
}

/// What a hand does with a conductor that the hazard line shows in this state, to ground it.
pub(crate) fn by_hand(phase: &str, state: &str) -> Vec<Line> {
    let all = ["abort", "off", "residual", "tool", "ground", "cause", "end"];
    let from = match state {
        "energised at zero" | "rising" | "dwelling" | "holding" => 0,
        "tripped" | "coming down" => 1,
        "lifted for a check" | "checked" => 2,
        "residual read" => 3,
        "discharged through tool" => 4,
        state => panic!("{phase} is {state}: that is not hazardous"),
    };
    // Only what ended against the plan has to be explained.
    let to = if state == "lifted for a check" || state == "checked" { 5 } else { all.len() };
    let line = |word: &&str| match *word {
        "residual" => act(phase, word, &format!("@{phase} residual ?")),
        "ground" => act(phase, word, &format!("@{phase} ground 9{phase} at {phase}")),
        "cause" => act(phase, word, &format!("@{phase} cause the computer stopped")),
        word => act(phase, word, &format!("@{phase} {word}")),
    };
    all[from..to].iter().map(line).collect()
}

/// The hold points of the job, by name.
pub(crate) fn holds() -> Vec<String> {
    let text = std::fs::read_to_string(crate::job_file()).expect("it is there");
    let job = plan::job_file::parse(&text).expect("it is well formed");
    let plan = plan::plan(&job, &standards::Library::published());
    session::hold::of(&plan).into_iter().map(|hold| hold.id).collect()
}

fn before(words: &str, what: String) -> Line {
    Line { words: words.to_owned(), means: Item::Before { what } }
}

fn act(phase: &str, act: &str, words: &str) -> Line {
    let means = Item::Act { phase: phase.to_owned(), act: act.to_owned() };
    Line { words: words.to_owned(), means }
}

fn reading(phase: &str, t: f64, kv: f64, ua: f64) -> Line {
    // As many digits as a person writes; what is sent is what is written.
    let ua = (ua * 1e3).round() / 1e3;
    let means = Item::Reading { phase: phase.to_owned(), pair: (Some(kv), Some(ua)) };
    Line { words: format!("@{phase} {t} {kv} {ua}"), means }
}
