//! A file shown in a document is the file that the tests read: the block after
//! `<!-- file: PATH -->` is its text, letter for letter.

use super::Complaint;
use super::tree::Tree;

const MARK: &str = "<!-- file: ";

pub(crate) fn examples(tree: &Tree) -> Vec<Complaint> {
    let mut complaints = Vec::new();
    for (path, text) in tree.ending(".md") {
        let lines: Vec<&str> = text.lines().collect();
        for (at, line) in lines.iter().enumerate() {
            let shown = line.strip_prefix(MARK).and_then(|rest| rest.strip_suffix(" -->"));
            let Some(shown) = shown else { continue };
            if tree.text(shown) != Some(&block(&lines[at + 1..])) {
                complaints.push(Complaint {
                    path: path.to_owned(),
                    line: at + 1,
                    what: format!("the block below is not the text of `{shown}`"),
                    remedy: "copy the file into it again",
                });
            }
        }
    }
    complaints
}

/// The text between the next two fences.
fn block(lines: &[&str]) -> String {
    let inside = lines.iter().skip_while(|line| !line.starts_with("```")).skip(1);
    inside.take_while(|line| !line.starts_with("```")).map(|line| format!("{line}\n")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_block_that_is_not_its_file_is_found() {
        let file = ("docs/a.toml", "a = 1\n\nb = 2\n");
        let cases = [
            ("<!-- file: docs/a.toml -->\n```toml\na = 1\n\nb = 2\n```\n", 0),
            ("<!-- file: docs/a.toml -->\n```toml\na = 1\nb = 2\n```\n", 1),
            ("<!-- file: docs/b.toml -->\n```toml\na = 1\n```\n", 1),
            ("```toml\na = 3\n```\n", 0),
        ];
        for (text, expected) in cases {
            let tree = Tree::of(&[file, ("docs/files.md", text)]);
            assert_eq!(examples(&tree).len(), expected, "{text}");
        }
    }
}
