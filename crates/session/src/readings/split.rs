//! Text to records of fields, by RFC 4180.

use std::borrow::Cow;

use super::fault::{FaultKind, ReadingsFault};

/// Longest record, in bytes: a remark of several pages.
const RECORD_LIMIT: usize = 16 << 10;

/// The records of a text, one after the other.
pub(super) struct Records<'a> {
    rest: &'a str,
    line: usize,
    delimiter: char,
}

impl<'a> Records<'a> {
    /// From the head of a text; says too whether something else than commas separates the fields.
    pub(super) fn of(text: &'a str) -> (Self, bool) {
        let first =
            text.split(['\n', '\r']).find(|line| !line.trim().is_empty()).unwrap_or_default();
        let delimiter = [';', '\t'].into_iter().find(|&one| first.contains(one)).unwrap_or(',');
        (Self { rest: text, line: 1, delimiter }, delimiter != ',')
    }

    /// The next record that holds anything: its first line, its fields put into `fields`.
    pub(super) fn next(
        &mut self,
        fields: &mut Vec<Cow<'a, str>>,
    ) -> Option<Result<usize, ReadingsFault>> {
        while !self.rest.is_empty() {
            let line = self.line;
            if let Err(fault) = self.record(fields) {
                return Some(Err(fault.at(line)));
            }
            if fields.iter().any(|field| !field.trim().is_empty()) {
                return Some(Ok(line));
            }
        }
        None
    }

    fn record(&mut self, fields: &mut Vec<Cow<'a, str>>) -> Result<(), FaultKind> {
        fields.clear();
        let start = self.rest.len();
        loop {
            let field = if self.rest.starts_with('"') { self.quoted()? } else { self.bare() };
            fields.push(field);
            if start - self.rest.len() > RECORD_LIMIT {
                self.skip_line();
                return Err(FaultKind::LineTooLong { limit: RECORD_LIMIT });
            }
            if let Some(rest) = self.rest.strip_prefix(self.delimiter) {
                self.rest = rest;
            } else if self.end_of_line() {
                return Ok(());
            } else {
                self.skip_line();
                return Err(FaultKind::BadQuote);
            }
        }
    }

    fn bare(&mut self) -> Cow<'a, str> {
        let ends = |c: char| c == self.delimiter || c == '\n' || c == '\r';
        let (field, rest) = self.rest.split_at(self.rest.find(ends).unwrap_or(self.rest.len()));
        self.rest = rest;
        Cow::Borrowed(field)
    }

    fn quoted(&mut self) -> Result<Cow<'a, str>, FaultKind> {
        let body = &self.rest[1..];
        let mut end = 0;
        let mut doubled = false;
        loop {
            let Some(quote) = body[end..].find('"') else {
                self.rest = "";
                return Err(FaultKind::BadQuote);
            };
            end += quote;
            if !body[end + 1..].starts_with('"') {
                break;
            }
            doubled = true;
            end += 2;
        }
        self.line += body[..end].matches('\n').count();
        self.rest = &body[end + 1..];
        let field = &body[..end];
        Ok(if doubled { Cow::Owned(field.replace("\"\"", "\"")) } else { Cow::Borrowed(field) })
    }

    fn end_of_line(&mut self) -> bool {
        let ends = ["\r\n", "\n", "\r"];
        let Some(rest) = ends.iter().find_map(|end| self.rest.strip_prefix(end)) else {
            return self.rest.is_empty();
        };
        self.rest = rest;
        self.line += 1;
        true
    }

    fn skip_line(&mut self) {
        let next = self.rest.find('\n').map_or(self.rest.len(), |end| end + 1);
        self.rest = &self.rest[next..];
        self.line += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(text: &str, expected: &[(usize, &[&str])]) {
        let (mut records, _) = Records::of(text);
        let mut fields = Vec::new();
        let mut found = Vec::new();
        while let Some(line) = records.next(&mut fields) {
            let fields = fields.iter().map(|field| field.to_string()).collect::<Vec<_>>();
            found.push((line.expect("the text is well formed"), fields));
        }
        let expected: Vec<_> = expected
            .iter()
            .map(|(line, fields)| (*line, fields.iter().map(|&one| one.to_owned()).collect()))
            .collect();
        assert_eq!(found, expected, "{text:?}");
    }

    #[test]
    fn records_keep_their_lines() {
        check("a,b\n1,2\n", &[(1, &["a", "b"]), (2, &["1", "2"])]);
        check("a,b\r\n\r\n1,2", &[(1, &["a", "b"]), (3, &["1", "2"])]);
        check("a\rb\r", &[(1, &["a"]), (2, &["b"])]);
        check("a;b\n1,5;\n;\n", &[(1, &["a", "b"]), (2, &["1,5", ""])]);
        check("a\tb\n", &[(1, &["a", "b"])]);
        check("a,\"b\n\"\"c\"\"\"\n1,2", &[(1, &["a", "b\n\"c\""]), (3, &["1", "2"])]);
        check("", &[]);
    }

    #[test]
    fn broken_records_are_named_at_their_first_line() {
        let check = |text: &str, expected: ReadingsFault| {
            let (mut records, _) = Records::of(text);
            let mut fields = Vec::new();
            assert_eq!(records.next(&mut fields), Some(Ok(1)));
            assert_eq!(records.next(&mut fields), Some(Err(expected)));
        };
        check("a\n\"b\nc\n", FaultKind::BadQuote.at(2));
        check("a\n\"b\"c\nd", FaultKind::BadQuote.at(2));
        let long = format!("a\n{}\n", "x".repeat(RECORD_LIMIT + 1));
        check(&long, FaultKind::LineTooLong { limit: RECORD_LIMIT }.at(2));
    }
}
