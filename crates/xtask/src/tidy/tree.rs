//! The texts that the rules read, by path from the root of the workspace.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::{fs, io};

/// Every path of the workspace, and the text of those that a rule may want to read.
#[derive(Default)]
pub(crate) struct Tree {
    texts: BTreeMap<String, String>,
    paths: BTreeSet<String>,
}

const READ: &[&str] = &["rs", "md", "toml", "json", "csv"];

/// Whether the whole file is for tests.
pub(crate) fn is_test(path: &str) -> bool {
    path.ends_with("/tests.rs") || path.contains("/tests/")
}

impl Tree {
    pub(crate) fn read(root: &Path) -> io::Result<Self> {
        let mut tree = Self::default();
        tree.walk(root, "")?;
        Ok(tree)
    }

    fn walk(&mut self, folder: &Path, prefix: &str) -> io::Result<()> {
        for entry in fs::read_dir(folder)? {
            let entry = entry?;
            let Ok(name) = entry.file_name().into_string() else { continue };
            if name == "target" || name == ".git" {
                continue;
            }
            let path = format!("{prefix}{name}");
            self.paths.insert(path.clone());
            if entry.file_type()?.is_dir() {
                self.walk(&entry.path(), &format!("{path}/"))?;
            } else if READ.iter().any(|end| name.ends_with(&format!(".{end}"))) {
                let bytes = fs::read(entry.path())?;
                // Samples of bad input need not be text; no rule speaks of them.
                if let Ok(text) = String::from_utf8(bytes) {
                    self.texts.insert(path, text);
                }
            }
        }
        Ok(())
    }

    pub(crate) fn len(&self) -> usize {
        self.texts.len()
    }

    pub(crate) fn text(&self, path: &str) -> Option<&str> {
        self.texts.get(path).map(String::as_str)
    }

    /// Whether there is a file or a folder of this path.
    pub(crate) fn has(&self, path: &str) -> bool {
        self.paths.contains(path.trim_end_matches('/'))
    }

    /// Paths and texts of files with this ending.
    pub(crate) fn ending<'a>(
        &'a self,
        end: &'a str,
    ) -> impl Iterator<Item = (&'a str, &'a str)> + 'a {
        self.texts
            .iter()
            .filter(move |(path, _)| path.ends_with(end))
            .map(|(path, text)| (path.as_str(), text.as_str()))
    }

    /// Rust files of one crate that end up in the program.
    pub(crate) fn shipped<'a>(
        &'a self,
        name: &str,
    ) -> impl Iterator<Item = (&'a str, &'a str)> + 'a {
        let home = format!("crates/{name}/src/");
        self.ending(".rs").filter(move |(path, _)| path.starts_with(&home) && !is_test(path))
    }

    /// Names of what lies directly in a folder.
    pub(crate) fn children<'a>(&'a self, folder: &str) -> Vec<&'a str> {
        let prefix = format!("{}/", folder.trim_end_matches('/'));
        self.paths
            .iter()
            .filter_map(|path| path.strip_prefix(&prefix))
            .filter(|name| !name.contains('/'))
            .collect()
    }

    /// A tree of samples, with the folders above each.
    #[cfg(test)]
    pub(crate) fn of(samples: &[(&str, &str)]) -> Self {
        let mut tree = Self::default();
        for (path, text) in samples {
            tree.texts.insert((*path).to_owned(), (*text).to_owned());
            for (end, _) in path.match_indices('/') {
                tree.paths.insert(path[..end].to_owned());
            }
            tree.paths.insert((*path).to_owned());
        }
        tree
    }
}
