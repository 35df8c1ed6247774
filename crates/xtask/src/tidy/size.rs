//! How long a line, a function, a file, a front door and a README may be.

use super::Complaint;
use super::source::Source;
use super::tree::{Tree, is_test};

const LINE: usize = 100;
const FUNCTION: usize = 70;
const FILE: usize = 600;
const NAMES: usize = 14;
const README: usize = 40;

/// Tables of words and keys are read down, not through; their length is their content's.
const TABLES: &[&str] = &["words.rs", "keys.rs"];

pub(crate) fn size(tree: &Tree) -> Vec<Complaint> {
    tree.ending(".rs").flat_map(|(path, text)| of_file(path, text)).collect()
}

fn of_file(path: &str, text: &str) -> Vec<Complaint> {
    let source = Source::new(text);
    let complain = |line, what, remedy| Complaint { path: path.to_owned(), line, what, remedy };
    let mut complaints = Vec::new();
    for (at, line) in source.lines().iter().enumerate() {
        let length = line.chars().count();
        let raw = ["r#\"", "r\""].iter().any(|start| line.trim_start().starts_with(start));
        if length > LINE && !raw {
            complaints.push(complain(
                at + 1,
                format!("line of {length} letters, {LINE} at most"),
                "break it",
            ));
        }
    }
    let name = path.rsplit('/').next().unwrap_or_default();
    if TABLES.contains(&name) || path.contains("/words/") || is_test(path) {
        return complaints;
    }
    for function in source.functions().iter().filter(|one| !source.is_test(one.first)) {
        let length = function.last - function.first + 1;
        if length > FUNCTION {
            complaints.push(complain(
                function.first,
                format!("`{}` has {length} lines, {FUNCTION} at most", function.name),
                "give a part of it a name",
            ));
        }
    }
    let length = source.shipped_lines().len();
    if length > FILE {
        complaints.push(complain(
            1,
            format!("{length} lines without its tests, {FILE} at most"),
            "part it by what each half is asked",
        ));
    }
    complaints
}

pub(crate) fn front_doors(tree: &Tree) -> Vec<Complaint> {
    let doors = tree.ending("/src/lib.rs").filter(|(path, _)| path.starts_with("crates/"));
    doors
        .filter_map(|(path, text)| {
            let names = visible_names(text);
            (names > NAMES).then(|| Complaint {
                path: path.to_owned(),
                line: 1,
                what: format!("{names} names at the front door, {NAMES} at most"),
                remedy: "leave the rest behind a `pub mod`",
            })
        })
        .collect()
}

/// Names that `lib.rs` gives itself; a module is a door of its own and is not counted.
fn visible_names(text: &str) -> usize {
    let code: String =
        Source::new(text).shipped_lines().into_iter().map(|(_, line)| line + "\n").collect();
    code.split("pub ")
        .skip(1)
        .map(|item| match item.split_once(' ') {
            Some(("use", names)) => names.split(';').next().map_or(0, used_names),
            Some(("fn" | "struct" | "enum" | "trait" | "const" | "type", _)) => 1,
            _ => 0,
        })
        .sum()
}

fn used_names(names: &str) -> usize {
    let ends_open = names.split(['{', '}', ',']).map(str::trim).filter(|name| !name.is_empty());
    ends_open.filter(|name| !name.ends_with("::")).count()
}

pub(crate) fn crate_readmes(tree: &Tree) -> Vec<Complaint> {
    let mut complaints = Vec::new();
    for name in tree.children("crates") {
        let path = format!("crates/{name}/README.md");
        let complain = |what, remedy| Complaint { path: path.clone(), line: 1, what, remedy };
        let Some(text) = tree.text(&path) else {
            complaints.push(complain(
                format!("`{name}` has no README"),
                "say what is here, what never is, and where to start reading",
            ));
            continue;
        };
        let lines = text.lines().count();
        if lines > README {
            complaints.push(complain(format!("{lines} lines, {README} at most"), "shorten it"));
        }
        let roots = [format!("crates/{name}/src/lib.rs"), format!("crates/{name}/src/main.rs")];
        let included = roots
            .iter()
            .filter_map(|root| tree.text(root))
            .any(|text| text.contains("#![doc = include_str!(\"../README.md\")]"));
        if !included {
            complaints.push(complain(
                "it is not the crate's documentation".to_owned(),
                "include it at the top of lib.rs or main.rs",
            ));
        }
    }
    complaints
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(path: &str, text: &str, expected: &[&str]) {
        let found: Vec<String> = of_file(path, text).into_iter().map(|one| one.what).collect();
        assert_eq!(found, expected);
    }

    #[test]
    fn too_long_is_found() {
        let line = format!("let a = {};", "1".repeat(100));
        check("a.rs", &line, &["line of 109 letters, 100 at most"]);
        check("a.rs", &format!("r#\"{line}\"#"), &[]);
        let function = format!("fn f() {{\n{}}}\n", "    a();\n".repeat(69));
        check("a.rs", &function, &["`f` has 71 lines, 70 at most"]);
        check("words.rs", &function, &[]);
        check("a.rs", &format!("#[cfg(test)]\nmod tests {{\n{function}}}\n"), &[]);
        check("a.rs", &"use a;\n".repeat(600), &["601 lines without its tests, 600 at most"]);
        check("a/tests/a.rs", &"use a;\n".repeat(599), &[]);
    }

    #[test]
    fn names_at_the_front_door_are_counted() {
        let cases = [
            ("pub use a::{B, C};\npub use d::E;\npub mod f;\n", 3),
            ("pub use a::{\n    B, C,\n    d::{E, F},\n};\npub fn g() {}\n", 5),
            ("//! pub use a::B;\nmod b;\n", 0),
        ];
        for (text, expected) in cases {
            assert_eq!(visible_names(text), expected, "{text}");
        }
        let many: String = (0..15).map(|at| format!("pub use a::B{at};\n")).collect();
        assert_eq!(front_doors(&Tree::of(&[("crates/a/src/lib.rs", &many)])).len(), 1);
    }

    #[test]
    fn each_crate_has_a_short_readme() {
        let root = ("crates/a/src/lib.rs", "#![doc = include_str!(\"../README.md\")]\n");
        let long = "a\n".repeat(41);
        let cases: &[(&[(&str, &str)], usize)] = &[
            (&[root, ("crates/a/README.md", "# a\n")], 0),
            (&[root], 1),
            (&[root, ("crates/a/README.md", &long)], 1),
            (&[("crates/a/src/lib.rs", ""), ("crates/a/README.md", "# a\n")], 1),
        ];
        for (samples, expected) in cases {
            assert_eq!(crate_readmes(&Tree::of(samples)).len(), *expected);
        }
    }
}
