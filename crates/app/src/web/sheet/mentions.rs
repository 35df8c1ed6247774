//! Keys that a sentence of the plan names, as `[asset.cable] length_m`, found as fields.

use super::fields::{self, Field};

/// A piece of a sentence.
#[derive(Clone, Copy)]
pub(super) enum Part<'a> {
    Plain(&'a str),
    Field(&'static Field),
}

/// The sentence in pieces.
pub(super) fn parts(text: &str) -> Vec<Part<'_>> {
    let mut parts = Vec::new();
    let (mut rest, mut from) = (text, 0);
    while let Some(open) = rest.get(from..).and_then(|text| text.find('[')).map(|at| at + from) {
        match mention(&rest[open..]) {
            Some((field, length)) => {
                parts.extend([Part::Plain(&rest[..open]), Part::Field(field)]);
                (rest, from) = (&rest[open + length..], 0);
            }
            None => from = open + 1,
        }
    }
    parts.push(Part::Plain(rest));
    parts
}

/// The fields that a sentence names.
pub(super) fn fields(text: &str) -> impl Iterator<Item = &'static Field> {
    parts(text).into_iter().filter_map(|part| match part {
        Part::Field(field) => Some(field),
        Part::Plain(_) => None,
    })
}

/// The field whose key the text begins with, and how much of the text names it.
fn mention(text: &str) -> Option<(&'static Field, usize)> {
    let (table, after) = text.strip_prefix('[')?.split_once("] ")?;
    let is_key = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_';
    let end = after.find(|c| !is_key(c)).unwrap_or(after.len());
    let field = fields::of(&format!("{table}.{}", &after[..end]))?;
    Some((field, table.len() + "[] ".len() + end))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_are_found_in_what_the_plan_says() {
        let check = |text: &str, expected: &[&str]| {
            let found: Vec<&str> = fields(text).map(|field| field.path).collect();
            assert_eq!(found, expected, "{text}");
        };
        check(
            "Look, and write [asset.cable] jacket: metallic or nonmetallic.",
            &["asset.cable.jacket"],
        );
        check("Write [set] rated_ma; until then [test] date.", &["set.rated_ma", "test.date"]);
        check("Add [asset.cable] from the nameplate.", &[]);
        check("[x] [test] reason", &["test.reason"]);
        check("nothing", &[]);
    }
}
