//! Answers as readable text.

/// One line of text into a `String`.
macro_rules! line {
    ($out:expr) => { $out.push('\n') };
    ($out:expr, $($text:tt)*) => {
        writeln!($out, $($text)*).expect("a String takes any text")
    };
}

pub(crate) mod event;
pub(crate) mod findings;
pub(crate) mod history;
pub(crate) mod meeting;
pub(crate) mod meters;
pub(crate) mod plan;
pub(crate) mod ready;
pub(crate) mod records;
pub(crate) mod seals;
pub(crate) mod signed;
pub(crate) mod stage;
pub(crate) mod standards;
pub(crate) mod things;
pub(crate) mod uses;

/// Breaks text into lines of at most `width`, each line but the first behind `indent` spaces.
pub(crate) fn wrapped(text: &str, width: usize, indent: usize) -> String {
    let mut out = String::new();
    let mut column = indent;
    for word in text.split_whitespace() {
        let length = word.chars().count();
        if column > indent && column + 1 + length > width {
            out.push('\n');
            out.push_str(&" ".repeat(indent));
            column = indent;
        } else if column > indent {
            out.push(' ');
            column += 1;
        }
        out.push_str(word);
        column += length;
    }
    out
}
