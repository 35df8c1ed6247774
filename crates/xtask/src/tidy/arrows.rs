//! Which crate may use which: the manifests against the table.

use super::Complaint;
use super::rooms::{MAP, rooms};
use super::tree::Tree;

pub(crate) fn arrows(tree: &Tree) -> Vec<Complaint> {
    let rooms = rooms(tree);
    let crates: Vec<&str> = tree
        .children("crates")
        .into_iter()
        .filter(|name| tree.has(&format!("crates/{name}/Cargo.toml")))
        .collect();
    let mut complaints = Vec::new();
    for name in &crates {
        let path = format!("crates/{name}/Cargo.toml");
        let Some(room) = rooms.iter().find(|room| room.name == *name) else {
            complaints.push(Complaint {
                path,
                line: 1,
                what: format!("`{name}` has no row under \"Rooms and arrows\" in {MAP}"),
                remedy: "give it one, with what it may use",
            });
            continue;
        };
        for (line, used) in dependencies(tree.text(&path).unwrap_or_default()) {
            if crates.contains(&used) && !room.may_use.iter().any(|one| one == used) {
                complaints.push(Complaint {
                    path: path.clone(),
                    line,
                    what: format!("`{name}` uses `{used}`, which the table does not allow"),
                    remedy: "move the code to the room it belongs to, or argue the arrow there",
                });
            }
        }
    }
    for room in rooms.iter().filter(|room| !crates.contains(&room.name.as_str())) {
        complaints.push(Complaint {
            path: MAP.to_owned(),
            line: 1,
            what: format!("the table has a row for `{}`, and there is no such crate", room.name),
            remedy: "take the row out",
        });
    }
    complaints
}

/// Names in every table of dependencies, those of tests and builds too, with their lines.
fn dependencies(manifest: &str) -> Vec<(usize, &str)> {
    let mut found = Vec::new();
    let mut inside = false;
    for (at, line) in manifest.lines().enumerate() {
        let line = line.trim();
        if let Some(heading) = line.strip_prefix('[') {
            let heading = heading.trim_end_matches(']');
            inside = heading.ends_with("dependencies");
            if let Some((_, name)) = heading.split_once("dependencies.") {
                found.push((at + 1, name));
            }
        } else if inside && !line.starts_with('#') {
            let name = line.split(['.', '=', ' ']).next().unwrap_or_default();
            if !name.is_empty() {
                found.push((at + 1, name));
            }
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    const TABLE: &str = "## Rooms and arrows\n| `a` | pure | – |\n| `b` | pure | `a` |\n";

    fn check(manifests: &[(&str, &str)], expected: &[&str]) {
        let mut samples = vec![(MAP, TABLE)];
        samples.extend(manifests);
        let found: Vec<String> =
            arrows(&Tree::of(&samples)).iter().map(|one| one.what.clone()).collect();
        assert_eq!(found, expected);
    }

    #[test]
    fn an_arrow_the_table_lacks_is_found() {
        let a = ("crates/a/Cargo.toml", "[package]\nname = \"a\"\n[dependencies]\nserde = \"1\"\n");
        let b = ("crates/b/Cargo.toml", "[dependencies]\na.workspace = true\n");
        check(&[a, b], &[]);
        let back = "`a` uses `b`, which the table does not allow";
        for manifest in [
            "[dependencies]\nb.workspace = true\n",
            "[dev-dependencies]\nb = { path = \"../b\" }\n",
            "[target.'cfg(unix)'.dependencies]\nb = { path = \"../b\" }\n",
            "[build-dependencies.b]\npath = \"../b\"\n",
        ] {
            check(&[("crates/a/Cargo.toml", manifest), b], &[back]);
        }
    }

    #[test]
    fn table_and_crates_must_be_the_same() {
        let a = ("crates/a/Cargo.toml", "");
        let c = ("crates/c/Cargo.toml", "");
        check(
            &[a, c],
            &[
                "`c` has no row under \"Rooms and arrows\" in ARCHITECTURE.md",
                "the table has a row for `b`, and there is no such crate",
            ],
        );
    }
}
