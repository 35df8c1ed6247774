//! `tidy`: the house rules that no lint knows. Each rule is one file here, reads the same tree of
//! texts, and says file, line and remedy.

mod arrows;
mod editions;
mod examples;
mod formulas;
mod levels;
mod links;
mod purity;
mod rooms;
mod runs;
mod size;
mod source;
mod tree;

use std::fmt;
use std::path::Path;
use std::process::ExitCode;

use tree::Tree;

/// What is wrong, where, and what to do.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Complaint {
    path: String,
    line: usize,
    what: String,
    remedy: &'static str,
}

impl fmt::Display for Complaint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}: {}; {}", self.path, self.line, self.what, self.remedy)
    }
}

const RULES: &[fn(&Tree) -> Vec<Complaint>] = &[
    arrows::arrows,
    purity::purity,
    size::size,
    size::front_doors,
    size::crate_readmes,
    formulas::sources,
    formulas::bare_allow,
    levels::levels,
    editions::editions,
    examples::examples,
    links::links,
    runs::runs,
];

pub(crate) fn tidy(root: &Path) -> ExitCode {
    let tree = match Tree::read(root) {
        Ok(tree) => tree,
        Err(error) => {
            eprintln!("cannot read the workspace at {}: {error}", root.display());
            return ExitCode::FAILURE;
        }
    };
    let mut complaints: Vec<Complaint> = RULES.iter().flat_map(|rule| rule(&tree)).collect();
    complaints.sort();
    for complaint in &complaints {
        eprintln!("{complaint}");
    }
    match complaints.len() {
        0 => {
            println!("tidy: {} files, nothing to say", tree.len());
            ExitCode::SUCCESS
        }
        many => {
            eprintln!("tidy: {many} to put right");
            ExitCode::FAILURE
        }
    }
}
