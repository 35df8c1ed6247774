//! Each folder of published values says what it is a copy of.

use super::Complaint;
use super::tree::Tree;

const DATA: &str = "crates/standards/data";

pub(crate) fn editions(tree: &Tree) -> Vec<Complaint> {
    tree.children(DATA)
        .into_iter()
        .filter(|name| !name.contains('.'))
        .map(|name| format!("{DATA}/{name}/source.toml"))
        .filter(|path| !tree.has(path))
        .map(|path| Complaint {
            path,
            line: 1,
            what: "published values without their source".to_owned(),
            remedy: "name body, number, edition and how each value was come by",
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_edition_without_a_source_is_found() {
        let good = ("crates/standards/data/one-1-2013/source.toml", "");
        let bad = ("crates/standards/data/two-2-2020/minimum.csv", "");
        assert!(editions(&Tree::of(&[good])).is_empty());
        let found = editions(&Tree::of(&[good, bad]));
        assert_eq!(found[0].path, "crates/standards/data/two-2-2020/source.toml");
        assert_eq!(found.len(), 1);
    }
}
