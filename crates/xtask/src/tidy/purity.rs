//! No clock, no files, no environment and no network in a pure room. A lint's list of forbidden
//! calls holds for the whole workspace or needs a copy in each crate; here the table decides.

use super::Complaint;
use super::rooms::rooms;
use super::source::Source;
use super::tree::Tree;

/// Names that reach outside, as they stand in code.
const OUTSIDE: &[&str] = &[
    "std::fs",
    "std::env",
    "std::net",
    "std::process",
    "std::thread",
    "std::io::stdin",
    "Instant::now",
    "SystemTime",
    "Zoned::now",
    "Timestamp::now",
    "println!",
    "eprintln!",
];

/// The same when several names of `std` are taken at once.
const GROUPED: &[&str] = &["fs", "env", "net", "process", "thread"];

pub(crate) fn purity(tree: &Tree) -> Vec<Complaint> {
    let mut complaints = Vec::new();
    for room in rooms(tree).iter().filter(|room| room.pure) {
        for (path, text) in tree.shipped(&room.name) {
            for (line, code) in Source::new(text).shipped_lines() {
                if let Some(name) = reaches(&code) {
                    complaints.push(Complaint {
                        path: path.to_owned(),
                        line,
                        what: format!("`{name}` in a pure room"),
                        remedy: "take what it gives as an argument; `app` reads it",
                    });
                }
            }
        }
    }
    complaints
}

/// Threads that end before the call does reach nothing.
const INSIDE: &str = "std::thread::scope";

fn reaches(code: &str) -> Option<&'static str> {
    let code = code.replace(INSIDE, "");
    let plain = OUTSIDE.iter().find(|name| code.contains(**name));
    let group = code.split_once("use std::{").map(|(_, names)| names);
    let in_group = || {
        let mut names = group?.split(|letter: char| !letter.is_alphanumeric() && letter != '_');
        names.find_map(|name| GROUPED.iter().find(|one| **one == name))
    };
    plain.or_else(in_group).copied()
}

#[cfg(test)]
mod tests {
    use super::super::rooms::MAP;
    use super::*;

    const TABLE: &str = "## Rooms and arrows\n| `a` | pure | – |\n| `b` | shell | `a` |\n";

    #[test]
    fn what_reaches_outside_is_found_in_pure_rooms_only() {
        let found = |path: &str, text: &str| {
            purity(&Tree::of(&[(MAP, TABLE), (path, text)])).iter().map(|one| one.line).collect()
        };
        let cases: &[(&str, &str, Vec<usize>)] = &[
            (
                "crates/a/src/lib.rs",
                "fn f() {\n    let at = std::time::Instant::now();\n}",
                vec![2],
            ),
            ("crates/a/src/lib.rs", "use std::{fmt, fs};", vec![1]),
            ("crates/a/src/lib.rs", "use std::env;", vec![1]),
            ("crates/a/src/lib.rs", "use std::thread::scope;", vec![]),
            ("crates/a/src/lib.rs", "use std::thread::sleep;", vec![1]),
            ("crates/a/src/deep/one.rs", "let day = Zoned::now();", vec![1]),
            ("crates/a/src/lib.rs", "// std::fs is for others\nlet a = \"std::fs\";", vec![]),
            ("crates/a/src/lib.rs", "#[cfg(test)]\nmod tests {\n    use std::fs;\n}", vec![]),
            ("crates/b/src/lib.rs", "use std::fs;", vec![]),
        ];
        for (path, text, expected) in cases {
            let lines: Vec<usize> = found(path, text);
            assert_eq!(lines, *expected, "{text}");
        }
    }
}
