//! A formula says where it comes from, and no lint is switched off without a reason.

use super::Complaint;
use super::source::Source;
use super::tree::Tree;

/// Every free public function of `physics`, unless the head of its file gives one source for all.
pub(crate) fn sources(tree: &Tree) -> Vec<Complaint> {
    let mut complaints = Vec::new();
    for (path, text) in tree.shipped("physics") {
        let source = Source::new(text);
        if has_source(&source.own_docs()) {
            continue;
        }
        let free = |line: usize| {
            ["pub fn ", "pub const fn "]
                .iter()
                .any(|start| source.lines()[line - 1].starts_with(start))
        };
        for function in source.functions().iter().filter(|one| free(one.first)) {
            if !has_source(&source.docs_above(function.first)) {
                complaints.push(Complaint {
                    path: path.to_owned(),
                    line: function.first,
                    what: format!("`{}` names no source", function.name),
                    remedy: "write one under `# Source`, or that it is practice or from memory",
                });
            }
        }
    }
    complaints
}

/// Whether something stands under the heading.
fn has_source(docs: &str) -> bool {
    let mut lines = docs.lines().map(str::trim).skip_while(|line| *line != "# Source");
    lines.next().is_some()
        && lines.find(|line| !line.is_empty()).is_some_and(|line| !line.starts_with('#'))
}

pub(crate) fn bare_allow(tree: &Tree) -> Vec<Complaint> {
    let mut complaints = Vec::new();
    for (path, text) in tree.ending(".rs") {
        for (line, code) in Source::new(text).code_lines() {
            if code.contains("#[allow(") || code.contains("#![allow(") {
                complaints.push(Complaint {
                    path: path.to_owned(),
                    line,
                    what: "a bare `allow`".to_owned(),
                    remedy: "use `#[expect(…, reason = \"…\")]`",
                });
            }
        }
    }
    complaints
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_formula_without_a_source_is_found() {
        let cases = [
            ("/// Energy.\npub fn energy() {}\n", 1),
            ("/// Energy.\n///\n/// # Source\npub fn energy() {}\n", 1),
            ("/// Energy.\n///\n/// # Source\n///\n/// Derived.\n#[must_use]\npub fn e() {}\n", 0),
            ("//! Energy.\n//!\n//! # Source\n//! Derived.\n\npub fn energy() {}\n", 0),
            ("fn own() {}\npub(crate) fn ours() {}\n", 0),
        ];
        for (text, expected) in cases {
            let tree = Tree::of(&[("crates/physics/src/energy.rs", text)]);
            assert_eq!(sources(&tree).len(), expected, "{text}");
            let elsewhere = Tree::of(&[("crates/plan/src/energy.rs", text)]);
            assert!(sources(&elsewhere).is_empty());
        }
    }

    #[test]
    fn a_bare_allow_is_found() {
        let cases = [
            ("#[allow(dead_code)]\nfn f() {}\n", 1),
            ("#[expect(dead_code, reason = \"r\")]\nfn f() {}\n", 0),
            ("// never #[allow(x)]\n", 0),
        ];
        for (text, expected) in cases {
            assert_eq!(bare_allow(&Tree::of(&[("a.rs", text)])).len(), expected, "{text}");
        }
    }
}
