//! What a program that serves tells of itself while nobody looks: one line of JSON for each thing,
//! where that was asked for. No names of people, no passwords, nothing that is typed.

use std::io::Write as _;
use std::sync::atomic::{AtomicBool, Ordering};

use jiff::Timestamp;
use serde_json::{Map, Value};

static IN_JSON: AtomicBool = AtomicBool::new(false);

/// From now on what happens is told, a line each, where errors are told.
pub(crate) fn in_json() {
    IN_JSON.store(true, Ordering::Relaxed);
}

/// Tells one thing; nothing where no log was asked for.
pub(crate) fn note(event: &str, with: &[(&str, Value)]) {
    if IN_JSON.load(Ordering::Relaxed) {
        let line = line(Timestamp::now(), event, with);
        // Nobody reads it, and what is served goes on.
        let _ = std::io::stderr().lock().write_all(line.as_bytes());
    }
}

/// Tells one thing in words, or as a line of JSON where that was asked for.
pub(crate) fn warn(event: &str, with: &[(&str, Value)], words: &str) {
    if IN_JSON.load(Ordering::Relaxed) {
        note(event, with);
    } else {
        eprintln!("{words}");
    }
}

fn line(at: Timestamp, event: &str, with: &[(&str, Value)]) -> String {
    let mut all = Map::new();
    all.insert("at".to_owned(), at.strftime("%Y-%m-%dT%H:%M:%S%.3fZ").to_string().into());
    all.insert("event".to_owned(), event.into());
    all.extend(with.iter().map(|(name, value)| ((*name).to_owned(), value.clone())));
    format!("{}\n", Value::Object(all))
}

/// A path without the names in it: what a page is, not of which record or device.
pub(crate) fn place(path: &str) -> String {
    let plain = |part: &str| part.len() <= 20 && !part.bytes().any(|byte| byte.is_ascii_digit());
    let parts: Vec<&str> =
        path.split('/').take(5).map(|part| if plain(part) { part } else { "…" }).collect();
    match parts[..] {
        // What stands behind these is a person's own name for a thing.
        ["", first @ ("apparatus" | "sets" | "assets"), ..] if parts.len() > 2 => {
            format!("/{first}/…")
        }
        _ => parts.join("/"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_one_object_with_its_moment_first() {
        let at = "2026-11-03T09:00:00.25Z".parse().expect("a moment");
        let line = line(at, "answered", &[("status", 200.into()), ("path", "/a\nb".into())]);
        assert_eq!(line.lines().count(), 1, "{line}");
        let read: Value = serde_json::from_str(&line).expect("JSON");
        assert_eq!(read["at"], "2026-11-03T09:00:00.250Z");
        assert_eq!((&read["event"], &read["status"]), (&"answered".into(), &200.into()));
    }

    #[test]
    fn a_place_names_no_record_and_no_thing() {
        let check = |path: &str, expected: &str| assert_eq!(place(path), expected);
        check("/", "/");
        check("/sheet/0198f2a0-0000-7000-8000-000000000000/say", "/sheet/…/say");
        check("/apparatus/North%20bus", "/apparatus/…");
        check("/exchange/take", "/exchange/take");
    }
}
