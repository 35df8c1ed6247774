//! The sources of one document: each stands once in a list, and is pointed to by its number.

use serde::Serialize;
use standards::{Citation, Mark};

use crate::words;

/// Sources in the order they were first pointed to.
#[derive(Default)]
pub(crate) struct Sources(Vec<(String, Mark)>);

/// One line of the list.
#[derive(Serialize)]
pub(crate) struct SourceRow {
    number: usize,
    text: String,
    mark: &'static str,
}

impl Sources {
    /// The number of this source.
    pub(crate) fn refer(&mut self, source: &Citation) -> usize {
        self.refer_to(cite(source), source.mark)
    }

    /// The number of a source that is one line already.
    pub(crate) fn refer_to(&mut self, text: String, mark: Mark) -> usize {
        let known = self.0.iter().position(|entry| entry.0 == text && entry.1 == mark);
        known.unwrap_or_else(|| {
            self.0.push((text, mark));
            self.0.len() - 1
        }) + 1
    }

    /// The list.
    pub(crate) fn rows(self) -> Vec<SourceRow> {
        let row = |(index, (text, mark)): (usize, (String, Mark))| SourceRow {
            number: index + 1,
            text,
            mark: words::mark(mark),
        };
        self.0.into_iter().enumerate().map(row).collect()
    }
}

/// Title, edition and place in one line; what the title says already is not said again.
pub(crate) fn cite(source: &Citation) -> String {
    source.parts().fold(String::new(), |text, part| match text.is_empty() {
        true => part.to_owned(),
        false if text.contains(part) => text,
        false => format!("{text}, {part}"),
    })
}

/// Body and number alone.
pub(crate) fn named(line: &str) -> &str {
    let end = line.find([',', '(']).unwrap_or(line.len());
    line[..end].trim()
}

/// A source in the few letters that stand beside a line: `29 CFR 1926.963`, `IEEE 510, from
/// memory`, `common practice`.
pub(crate) fn short(line: &str, mark: Mark) -> String {
    let name = named(line);
    match mark {
        Mark::Practice => "common practice".to_owned(),
        Mark::Memory => format!("{name}, from memory"),
        Mark::Own => format!("{name}, your copy"),
        Mark::Seen => name.to_owned(),
    }
}

/// The sources of a sheet, each once, in the few letters that serve there.
#[derive(Default)]
pub(crate) struct ShortSources(Vec<String>);

impl ShortSources {
    /// The number of a source that is one line.
    pub(crate) fn refer(&mut self, line: &str, mark: Mark) -> usize {
        let name = short(line, mark);
        let known = self.0.iter().position(|one| *one == name);
        known.unwrap_or_else(|| {
            self.0.push(name);
            self.0.len() - 1
        }) + 1
    }

    /// The names, in the order of their numbers.
    pub(crate) fn names(self) -> Vec<String> {
        self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn source(place: &str, mark: Mark) -> Citation {
        Citation {
            id: "x".to_owned(),
            title: "Body 43-2013".to_owned(),
            edition: "2013".to_owned(),
            place: place.to_owned(),
            mark,
        }
    }

    #[test]
    fn a_source_stands_once() {
        let mut sources = Sources::default();
        let numbers = [
            sources.refer(&source("clause 5", Mark::Memory)),
            sources.refer(&source("clause 6", Mark::Seen)),
            sources.refer(&source("clause 5", Mark::Memory)),
        ];
        assert_eq!(numbers, [1, 2, 1]);
        let rows = sources.rows();
        assert_eq!(rows.len(), 2);
        assert_eq!(rows[0].text, "Body 43-2013, clause 5");
        assert_eq!(rows[0].mark, "from memory, check your copy");
    }

    #[test]
    fn a_short_source_keeps_its_mark() {
        let check = |line, mark, expected: &str| assert_eq!(short(line, mark), expected);
        check("29 CFR 1926.963, testing, current, (c)", Mark::Seen, "29 CFR 1926.963");
        check("IEEE 510, 1983, general guides", Mark::Memory, "IEEE 510, from memory");
        check("A (also B, C), edition 2", Mark::Seen, "A");
        check("Common practice, no edition, x", Mark::Practice, "common practice");
        check("", Mark::Seen, "");
    }
}
