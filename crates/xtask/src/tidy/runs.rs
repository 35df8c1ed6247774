//! A table that comes from a long run stands under `<!-- run: NAME -->`, and that run is kept with
//! at least one entry from a clean checkout.

use super::Complaint;
use super::tree::Tree;

const MARK: &str = "<!-- run: ";

pub(crate) fn runs(tree: &Tree) -> Vec<Complaint> {
    let mut complaints = Vec::new();
    for (path, text) in tree.ending(".md").filter(|(path, _)| path.starts_with("docs/")) {
        let marks = text.lines().enumerate().filter_map(|(at, line)| {
            let name = line.trim().strip_prefix(MARK)?.strip_suffix(" -->")?;
            Some((at + 1, name))
        });
        for (line, name) in marks {
            let run = tree.text(&format!("docs/runs/{name}.json"));
            if !run.is_some_and(|text| text.contains("\"dirty\": false")) {
                complaints.push(Complaint {
                    path: path.to_owned(),
                    line,
                    what: format!("no clean run of `{name}` stands behind this table"),
                    remedy: "commit, then `cargo xtask long` with that name",
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
    fn a_table_without_a_clean_run_is_found() {
        let page = ("docs/performance.md", "<!-- run: inputs -->\n| a | b |\n");
        let clean = ("docs/runs/inputs.json", "[\n  {\"dirty\": false}\n]\n");
        let dirty = ("docs/runs/inputs.json", "[\n  {\"dirty\": true}\n]\n");
        let cases: &[(&[(&str, &str)], usize)] =
            &[(&[page, clean], 0), (&[page, dirty], 1), (&[page], 1), (&[clean], 0)];
        for (samples, expected) in cases {
            assert_eq!(runs(&Tree::of(samples)).len(), *expected);
        }
    }
}
