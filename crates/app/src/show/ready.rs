//! What is asked first, who does what, what is put back, and where the grounds are.

use std::fmt::Write as _;

use plan::ready::Ready;

use super::plan::{WIDTH, cited, section};
use super::wrapped;

/// What stands before the checklist.
pub(super) fn before(ready: &Ready, out: &mut String) {
    if !ready.questions.is_empty() {
        section("Asked first", out);
    }
    for (at, question) in ready.questions.iter().enumerate() {
        let source = cited(&question.source);
        let (mark, said) = match &question.answer {
            Some(answer) => ("[x]", format!("{} {answer}. ({source})", question.text)),
            None => ("[ ]", format!("q{} HOLD POINT. {} ({source})", at + 1, question.text)),
        };
        line!(out, "{mark} {}", wrapped(&said, WIDTH, 4));
    }
    if !ready.roles.is_empty() {
        section("Who", out);
    }
    for role in &ready.roles {
        let name = role.name.as_deref().unwrap_or("________");
        let also = also(&role.also);
        let said = format!("{name}: {}{also} ({})", role.text, cited(&role.source));
        line!(out, "- {}", wrapped(&said, WIDTH, 2));
    }
    if !ready.disconnect.is_empty() {
        section("Taken off", out);
    }
    for one in &ready.disconnect {
        line!(out, "[ ] {}", wrapped(&one.text, WIDTH, 4));
    }
}

/// Which other parts the same person may have.
pub(crate) fn also(parts: &[String]) -> String {
    if parts.is_empty() {
        return String::new();
    }
    format!(" May also be {}.", parts.join(", "))
}

/// What stands after the way down.
pub(super) fn after(ready: &Ready, out: &mut String) {
    if !ready.grounds.is_empty() {
        section("Grounds", out);
        line!(out, "Number each; as many come off as went on: {}.", ready.grounds.len());
        line!(out, "{:>3}  {:<28} {:<28} on      off     by", "no.", "what", "where");
    }
    for spot in &ready.grounds {
        line!(
            out,
            "{:>3}  {:<28} {:<28} ______  ______  ______",
            spot.number,
            spot.what,
            spot.place
        );
    }
    if !ready.restoration.is_empty() {
        section("Put back", out);
    }
    for one in &ready.restoration {
        line!(out, "[ ] {}", wrapped(&one.text, WIDTH, 4));
    }
}

#[cfg(test)]
mod tests {
    use plan::{Plan, job_file};

    use crate::show::plan::text;

    fn planned(more: &str) -> Plan {
        let example = include_str!("../../../../docs/examples/cable.toml");
        let job = job_file::parse(&format!("{example}\n{more}")).expect("a job");
        plan::plan(&job, &standards::Library::published())
    }

    /// Common practice, no source: all of these are read before voltage, or after it.
    #[test]
    fn the_text_says_what_is_asked_who_stands_where_and_what_comes_back() {
        let open = text(&planned(""));
        for said in [
            "Asked first",
            "HOLD POINT. Surge arresters off",
            "Who",
            "________: Far-end guard",
            "Taken off",
            "Grounds",
            "A screen",
            "Put back",
            "Permit returned",
        ] {
            assert!(open.contains(said), "{said}\n{open}");
        }
        let told = text(&planned("[ready]\narresters_off = true\n[people]\nwatch = \"P2\""));
        assert!(!told.contains("HOLD POINT. Surge arresters off"), "{told}");
        assert!(told.contains("none there? yes."), "{told}");
        assert!(told.contains("P2: Safety watch"), "{told}");
    }
}
