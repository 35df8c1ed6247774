//! Rust text as the rules need it: comments and literals blanked out, functions and test modules
//! found by their braces. Every line keeps its number.

/// One Rust file.
pub(crate) struct Source<'a> {
    lines: Vec<&'a str>,
    /// The code, with a space for every letter of a comment or of a text or character literal.
    code: Vec<char>,
    tests: Vec<(usize, usize)>,
}

/// One function with a body.
pub(crate) struct Function {
    pub(crate) name: String,
    pub(crate) first: usize,
    pub(crate) last: usize,
}

impl<'a> Source<'a> {
    pub(crate) fn new(text: &'a str) -> Self {
        let code = blank(text);
        let tests = test_modules(&code);
        Self { lines: text.lines().collect(), code, tests }
    }

    /// The lines as written.
    pub(crate) fn lines(&self) -> &[&'a str] {
        &self.lines
    }

    /// The lines of the code alone, numbered from 1.
    pub(crate) fn code_lines(&self) -> Vec<(usize, String)> {
        let code: String = self.code.iter().collect();
        code.split('\n').map(str::to_owned).enumerate().map(|(at, line)| (at + 1, line)).collect()
    }

    /// Code lines outside test modules.
    pub(crate) fn shipped_lines(&self) -> Vec<(usize, String)> {
        self.code_lines().into_iter().filter(|(line, _)| !self.is_test(*line)).collect()
    }

    /// Whether the line stands in a module that only tests see.
    pub(crate) fn is_test(&self, line: usize) -> bool {
        self.tests.iter().any(|(first, last)| (*first..=*last).contains(&line))
    }

    /// Every function with a body, in order, those of tests included.
    pub(crate) fn functions(&self) -> Vec<Function> {
        let mut found = Vec::new();
        for start in words(&self.code, "fn") {
            let name: String = self.code[start + 2..]
                .iter()
                .skip_while(|letter| letter.is_whitespace())
                .take_while(|letter| is_word(**letter))
                .collect();
            if name.is_empty() {
                continue;
            }
            if let Some(open) = body(&self.code, start) {
                let first = line_of(&self.code, start);
                let last = line_of(&self.code, closing(&self.code, open));
                found.push(Function { name, first, last });
            }
        }
        found
    }

    /// The documentation that stands right above a line, without its slashes.
    pub(crate) fn docs_above(&self, line: usize) -> String {
        let above = self.lines[..line - 1].iter().rev();
        let mut docs: Vec<&str> = above
            .map(|text| text.trim())
            .take_while(|text| {
                text.starts_with("///") || !(text.is_empty() || text.ends_with(['}', '{', ';']))
            })
            .filter_map(|text| text.strip_prefix("///"))
            .collect();
        docs.reverse();
        docs.join("\n")
    }

    /// The documentation of the file itself.
    pub(crate) fn own_docs(&self) -> String {
        let docs = self.lines.iter().map_while(|line| line.trim().strip_prefix("//!"));
        docs.collect::<Vec<_>>().join("\n")
    }
}

fn is_word(letter: char) -> bool {
    letter.is_alphanumeric() || letter == '_'
}

/// Where a whole word begins, each time.
fn words(code: &[char], word: &str) -> Vec<usize> {
    let wanted: Vec<char> = word.chars().collect();
    (0..code.len().saturating_sub(wanted.len()))
        .filter(|&at| {
            code[at..].starts_with(&wanted)
                && !code.get(at + wanted.len()).copied().is_some_and(is_word)
                && !(at > 0 && is_word(code[at - 1]))
        })
        .collect()
}

fn line_of(code: &[char], at: usize) -> usize {
    1 + code[..at].iter().filter(|letter| **letter == '\n').count()
}

/// The brace that opens the body of what begins here, or nothing when it ends without one.
fn body(code: &[char], start: usize) -> Option<usize> {
    let mut depth = 0_i32;
    for (at, letter) in code.iter().enumerate().skip(start) {
        match letter {
            '(' | '[' => depth += 1,
            ')' | ']' => depth -= 1,
            '{' if depth == 0 => return Some(at),
            ';' if depth == 0 => return None,
            _ => {}
        }
        if depth < 0 {
            return None;
        }
    }
    None
}

/// The brace that closes this one, or the end of the text.
fn closing(code: &[char], open: usize) -> usize {
    let mut depth = 0_i32;
    for (at, letter) in code.iter().enumerate().skip(open) {
        match letter {
            '{' => depth += 1,
            '}' => depth -= 1,
            _ => {}
        }
        if depth == 0 {
            return at;
        }
    }
    code.len() - 1
}

fn test_modules(code: &[char]) -> Vec<(usize, usize)> {
    let mark: Vec<char> = "#[cfg(test)]".chars().collect();
    let mut found = Vec::new();
    for at in 0..code.len() {
        if code[at..].starts_with(&mark)
            && let Some(open) = body(code, at + mark.len())
        {
            found.push((line_of(code, at), line_of(code, closing(code, open))));
        }
    }
    found
}

/// The same text with comments and literals blanked; line breaks stay.
fn blank(text: &str) -> Vec<char> {
    let text: Vec<char> = text.chars().collect();
    let mut code = Vec::with_capacity(text.len());
    let mut at = 0;
    while at < text.len() {
        let length = hidden(&text, at);
        for letter in &text[at..at + length] {
            code.push(if *letter == '\n' { '\n' } else { ' ' });
        }
        at += length;
        if length == 0 {
            code.push(text[at]);
            at += 1;
        }
    }
    code
}

/// Length of the comment or literal that begins here; 0 where none does.
fn hidden(text: &[char], at: usize) -> usize {
    let rest = &text[at..];
    let after_word = at > 0 && is_word(text[at - 1]);
    match rest {
        ['/', '/', ..] => rest.iter().position(|letter| *letter == '\n').unwrap_or(rest.len()),
        ['/', '*', ..] => block_comment(rest),
        ['"', ..] => quoted(rest),
        ['r', '"' | '#', ..] if !after_word => raw(rest, 1),
        ['b', 'r', '"' | '#', ..] if !after_word => raw(rest, 2),
        ['\'', '\\', ..] => {
            rest.iter().skip(3).position(|letter| *letter == '\'').map_or(rest.len(), |end| end + 4)
        }
        ['\'', _, '\'', ..] => 3,
        _ => 0,
    }
}

fn block_comment(rest: &[char]) -> usize {
    let (mut depth, mut at) = (0, 0);
    while at < rest.len() {
        match rest[at..] {
            ['/', '*', ..] => (depth, at) = (depth + 1, at + 2),
            ['*', '/', ..] => (depth, at) = (depth - 1, at + 2),
            _ => at += 1,
        }
        if depth == 0 {
            return at;
        }
    }
    rest.len()
}

fn quoted(rest: &[char]) -> usize {
    let mut at = 1;
    while at < rest.len() {
        match rest[at] {
            '\\' => at += 2,
            '"' => return at + 1,
            _ => at += 1,
        }
    }
    rest.len()
}

fn raw(rest: &[char], prefix: usize) -> usize {
    let hashes = rest[prefix..].iter().take_while(|letter| **letter == '#').count();
    if rest.get(prefix + hashes) != Some(&'"') {
        return 0;
    }
    let start = prefix + hashes + 1;
    (start..rest.len())
        .find(|&at| {
            let tail = &rest[at + 1..];
            rest[at] == '"'
                && tail.len() >= hashes
                && tail[..hashes].iter().all(|letter| *letter == '#')
        })
        .map_or(rest.len(), |end| end + 1 + hashes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comments_and_literals_are_blank() {
        let cases = [
            ("a // {\nb", "a     \nb"),
            ("/* { /* } */ */ x", "                x"),
            (r#"f("}\"{", '}', '\'')"#, "f(      ,    ,     )"),
            (r##"r#"{"# y"##, "       y"),
            ("fn f<'a>(x: &'a str)", "fn f<'a>(x: &'a str)"),
            ("let r#fn = 1", "let r#fn = 1"),
        ];
        for (text, expected) in cases {
            assert_eq!(blank(text).into_iter().collect::<String>(), expected);
        }
    }

    #[test]
    fn functions_and_tests_are_found() {
        let text = "\
trait T {
    fn none(&self);
}
/// Doc;
#[must_use]
fn one(
    a: [u8; 3],
) {
    if a { b }
}
type F = fn(u8);
#[cfg(test)]
mod tests {
    fn two() {}
}
";
        let source = Source::new(text);
        let found: Vec<_> =
            source.functions().into_iter().map(|one| (one.name, one.first, one.last)).collect();
        assert_eq!(found, [("one".to_owned(), 6, 10), ("two".to_owned(), 14, 14)]);
        assert_eq!(source.docs_above(6), " Doc;");
        assert!(source.is_test(14) && !source.is_test(9));
    }
}
