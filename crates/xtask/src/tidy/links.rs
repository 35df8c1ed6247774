//! A link, or a path in backticks, leads somewhere.

use super::Complaint;
use super::tree::{Tree, is_test};

pub(crate) fn links(tree: &Tree) -> Vec<Complaint> {
    let mut complaints = Vec::new();
    for (path, text) in tree.ending(".md").filter(|(path, _)| !is_test(path)) {
        let folder = path.rsplit_once('/').map_or("", |(folder, _)| folder);
        for (at, line) in text.lines().enumerate() {
            for target in targets(line) {
                let leads = if target.from_root {
                    tree.has(target.path)
                } else {
                    resolve(folder, target.path).is_some_and(|path| tree.has(&path))
                };
                if !leads {
                    complaints.push(Complaint {
                        path: path.to_owned(),
                        line: at + 1,
                        what: format!("`{}` is not there", target.path),
                        remedy: "name what is there now",
                    });
                }
            }
        }
    }
    complaints
}

struct Target<'a> {
    path: &'a str,
    from_root: bool,
}

fn targets(line: &str) -> Vec<Target<'_>> {
    let links = line.split("](").skip(1).filter_map(|rest| rest.split(')').next());
    let links = links
        .map(|link| link.split('#').next().unwrap_or_default())
        .filter(|link| !link.is_empty() && !link.contains("://"))
        .map(|path| Target { path, from_root: false });
    // A path in backticks is meant from the root; a pattern or a placeholder is no path.
    let quoted = line.split('`').skip(1).step_by(2);
    let quoted = quoted
        .filter(|text| text.starts_with("crates/") || text.starts_with("docs/"))
        .filter(|text| !text.contains(['*', '<', '{', ' ', '…']) && !text.contains("NAME"))
        .map(|path| Target { path, from_root: true });
    links.chain(quoted).collect()
}

/// The path from the root, or nothing when it climbs out.
fn resolve(folder: &str, link: &str) -> Option<String> {
    let mut parts: Vec<&str> = folder.split('/').filter(|part| !part.is_empty()).collect();
    for part in link.split('/') {
        match part {
            "." | "" => {}
            ".." => {
                parts.pop()?;
            }
            name => parts.push(name),
        }
    }
    Some(parts.join("/"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_link_that_leads_nowhere_is_found() {
        let there = ("docs/files.md", "");
        let cases = [
            ("README.md", "[files](docs/files.md#job)", 0),
            ("README.md", "[files](docs/file.md)", 1),
            ("docs/more.md", "[files](files.md), [up](../docs/files.md)", 0),
            ("docs/more.md", "[out](../../files.md)", 1),
            ("README.md", "[far](https://example.org/a) and [here](#a)", 0),
            ("README.md", "![sheet](docs/pictures/sheet.png)", 1),
            ("README.md", "in `docs/files.md`, never in `docs/runs/NAME.json`", 0),
            ("README.md", "in `crates/none/src/lib.rs`", 1),
        ];
        for (path, text, expected) in cases {
            assert_eq!(links(&Tree::of(&[there, (path, text)])).len(), expected, "{text}");
        }
    }
}
