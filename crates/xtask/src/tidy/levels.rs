//! A published level is a row of `crates/standards/data`, never a number in code. Read as: no
//! voltage and no resistance made from a number in the rooms that choose and judge.

use super::Complaint;
use super::source::Source;
use super::tree::Tree;

const ROOMS: &[&str] = &["standards", "plan", "judge"];
const MAKERS: &[&str] = &[
    "Voltage::from_kilovolts(",
    "Voltage::from_volts(",
    "Resistance::from_megohms(",
    "Resistance::from_gigohms(",
];

pub(crate) fn levels(tree: &Tree) -> Vec<Complaint> {
    let mut complaints = Vec::new();
    for room in ROOMS {
        for (path, text) in tree.shipped(room) {
            for (line, code) in Source::new(text).shipped_lines() {
                if is_level(&code) {
                    complaints.push(Complaint {
                        path: path.to_owned(),
                        line,
                        what: "a voltage or a resistance written as a number".to_owned(),
                        remedy: "make it a row in crates/standards/data, with source and mark",
                    });
                }
            }
        }
    }
    complaints
}

fn is_level(code: &str) -> bool {
    let made = MAKERS.iter().any(|maker| {
        let arguments = code.split(maker).skip(1).filter_map(|rest| rest.split(')').next());
        arguments.map(|argument| argument.replace('_', "")).any(|text| text.parse::<f64>().is_ok())
    });
    made || is_constant(code)
}

/// `const FLOOR_KV: f64 = 20.0` is the same in other clothes. `MOST_` and `LEAST_` bound what may
/// be typed, to catch a mistaken unit; they are no levels.
fn is_constant(code: &str) -> bool {
    let Some((head, value)) = code.split_once('=') else { return false };
    let Some((_, name)) = head.split_once("const ") else { return false };
    let name = name.split(':').next().unwrap_or_default().trim();
    let bounds_typing = name.starts_with("MOST_") || name.starts_with("LEAST_");
    !bounds_typing
        && ["_KV", "_V", "_MOHM"].iter().any(|unit| name.ends_with(unit))
        && value.trim_start().starts_with(|first: char| first.is_ascii_digit())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_level_in_code_is_found() {
        let cases = [
            ("let level = Voltage::from_kilovolts(65.0);", 1),
            ("let touch = Voltage::from_volts(50.0);", 1),
            ("let gap = Voltage::from_kilovolts(1_500.0).min(other);", 1),
            ("let doubt = Voltage::from_volts(2.0 * sigma);", 0),
            ("const FLOOR_KV: f64 = 20.0;", 1),
            ("let level = Voltage::from_kilovolts(row.value);", 0),
            ("const MOST_KV: f64 = 2000.0;", 0),
            ("const TRIES: usize = 20;", 0),
            ("// Voltage::from_kilovolts(65.0)", 0),
            ("#[cfg(test)]\nmod tests {\n    f(Voltage::from_kilovolts(65.0));\n}", 0),
        ];
        for (text, expected) in cases {
            let found = |path| levels(&Tree::of(&[(path, text)])).len();
            assert_eq!(found("crates/plan/src/level.rs"), expected, "{text}");
            assert_eq!(found("crates/physics/src/level.rs"), 0, "{text}");
            assert_eq!(found("crates/plan/src/tests.rs"), 0, "{text}");
        }
    }
}
