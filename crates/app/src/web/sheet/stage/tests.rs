//! What stands on the stage, at each state of a whole test.

use crate::show::stage::tests::{COURSE, Walk};
use crate::show::stage::{About, Scene};

use super::{Stage, acts};

/// The text between a tag that begins so and its end, for each such tag.
fn all<'a>(page: &'a str, tag: &str, end: &str) -> Vec<&'a str> {
    let after = page.split(tag).skip(1);
    after.filter_map(|rest| rest.split_once('>')?.1.split_once(end).map(|(text, _)| text)).collect()
}

fn words(markup: &str) -> String {
    let mut out = String::new();
    let mut inside = false;
    for letter in markup.chars() {
        match letter {
            '<' => inside = true,
            '>' => inside = false,
            other if !inside => out.push(other),
            _ => {}
        }
    }
    out
}

/// Words that would tell somebody, or a machine, to do something at the set; a button that bears
/// one would look as if it could.
const COMMANDS: &[&str] = &[
    "abort",
    "activate",
    "arm",
    "confirm",
    "cut",
    "de-energise",
    "disable",
    "discharge",
    "energise",
    "enable",
    "emergency",
    "execute",
    "go",
    "ground",
    "lower",
    "off",
    "on",
    "open",
    "raise",
    "reset",
    "run",
    "set",
    "start",
    "stop",
    "switch",
    "trip",
    "turn",
];

#[test]
fn every_statement_has_its_key_and_none_is_a_command() {
    let mut walk = Walk::new();
    let mut seen = 0;
    for (state, lines) in COURSE {
        walk.work(lines);
        let page = acts::acts("0198", &walk.view()).0;
        let buttons = all(&page, "<button", "</button>");
        for label in buttons.iter().chain(&all(&page, "<summary", "</summary>")) {
            let said = words(label);
            let first = said.split_whitespace().next().unwrap_or_default();
            if !label.contains("<kbd>") {
                let known = ["Into the record", "What cannot be said yet, and why"];
                let of_conductor = said.ends_with(": what was done");
                assert!(known.contains(&said.as_str()) || of_conductor, "{state}: {said}");
                continue;
            }
            let statement = said.trim_start().split_once(' ').map_or("", |(_, rest)| rest);
            let begins = statement.split_whitespace().next().unwrap_or_default().to_lowercase();
            assert!(!first.is_empty() && !statement.is_empty(), "{state}: {label}");
            assert!(!COMMANDS.contains(&begins.as_str()), "{state}: {statement}");
            assert!(!statement.ends_with('!'), "{statement}");
            seen += 1;
        }
        let forms = page.matches("<form").count();
        assert_eq!(page.matches("name=\"line\"").count(), forms, "{state}");
        assert_eq!(page.matches("name=\"nonce\"").count(), forms, "{state}");
    }
    assert!(seen > 100, "{seen}");
}

/// State, kilovolts, what is next, current, time: in this order; nothing that slides or switches.
#[test]
fn five_things_stand_in_their_order() {
    let mut walk = Walk::new();
    for (state, lines) in COURSE {
        walk.work(lines);
        let view = walk.view();
        let scene = Scene::of(&view, &About { asset: "F3", ..About::default() });
        let page = Stage { id: "0198".to_owned(), scene, view, hazards: Vec::new() }
            .show(&maud::html! {}, None)
            .0;
        let mut from = 0;
        for name in ["state_word", "kilovolts", "next", "current"] {
            let wanted = format!("data-live=\"{name}\"");
            let at = page[from..].find(&wanted);
            from += at.unwrap_or_else(|| panic!("{state}: {name} is missing or out of order"));
        }
        assert!(page[from..].contains("data-reading-in"), "{state}");
        for never in ["type=\"range\"", "role=\"switch\"", "style=", "onclick", "safe"] {
            assert!(!page.to_lowercase().contains(never), "{state}: {never}");
        }
        let rests = page.split(" id=\"").skip(1);
        let ids: Vec<&str> = rests.filter_map(|rest| rest.split('"').next()).collect();
        let mut once = ids.clone();
        once.sort_unstable();
        once.dedup();
        assert_eq!(ids.len(), once.len(), "{state}: a name stands twice in {ids:?}");
    }
}
