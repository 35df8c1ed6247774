//! Where the rows of a log begin, and what stands between its fields.

use super::cells::is_of_row;
use super::mapping::{Asked, Delimiter};

/// So many lines are looked at; a log says what it is in its first ones.
pub const LOOKED_AT: usize = 200;

/// Rows that are shown before a log is taken.
const SHOWN: usize = 3;

/// The shape of a log.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Layout {
    /// What stands between fields.
    pub delimiter: Delimiter,
    /// Lines before the first row.
    pub skip: usize,
    /// Names of the columns, as many as there are; empty where nothing names them.
    pub names: Vec<String>,
    /// The first rows, as fields.
    pub first: Vec<Vec<String>>,
    /// The rows that were looked at, as fields.
    pub(super) rows: Vec<Vec<String>>,
}

impl Layout {
    /// How many columns a row has.
    #[must_use]
    pub fn width(&self) -> usize {
        self.rows.first().map_or(0, Vec::len)
    }

    /// What stands in one column of the rows that were looked at.
    pub(super) fn column(&self, place: usize) -> impl Iterator<Item = &str> {
        self.rows.iter().filter_map(move |row| row.get(place)).map(String::as_str)
    }
}

/// The shape of a text; `None` where no delimiter gives rows of at least three fields.
pub(super) fn find(text: &str, asked: &Asked) -> Option<Layout> {
    let lines: Vec<&str> = text.lines().take(LOOKED_AT).collect();
    let candidates: Vec<Delimiter> =
        asked.delimiter.map_or_else(|| Delimiter::ALL.to_vec(), |one| vec![one]);
    candidates.into_iter().find_map(|delimiter| of(&lines, delimiter, asked.skip))
}

/// The shape of lines parted so.
fn of(lines: &[&str], delimiter: Delimiter, skip: Option<usize>) -> Option<Layout> {
    let split: Vec<Vec<String>> = lines.iter().map(|line| fields(line, delimiter)).collect();
    let is_row = |row: &&Vec<String>| {
        row.len() >= 3 && row.iter().filter(|cell| is_of_row(cell)).count() * 3 >= row.len() * 2
    };
    let last = split.iter().rposition(|row| !is_blank(row)).unwrap_or(0);
    let is_whole = lines.len() < LOOKED_AT;
    let begins = |at: usize| {
        let row = &split[at];
        let mut next = split[at..].iter().enumerate().filter(|(_, next)| !is_blank(next)).take(3);
        // A last line that is short was cut; that is told with its line.
        let fits = |(index, next): (usize, &Vec<String>)| {
            let is_last = at + index == last && index > 0 && is_whole;
            next.len() == row.len() || (is_last && next.len() < row.len())
        };
        is_row(&row) && !is_blank(row) && next.all(fits)
    };
    let skip = match skip {
        Some(skip) => skip,
        None => (0..split.len()).find(|at| begins(*at))?,
    };
    let rows: Vec<Vec<String>> =
        split.get(skip..)?.iter().filter(|row| !is_blank(row)).cloned().collect();
    let width = rows.first().filter(|row| row.len() >= 3)?.len();
    let names = names(&split[..skip], width);
    let first = rows.iter().take(SHOWN).cloned().collect();
    Some(Layout { delimiter, skip, names, first, rows })
}

/// The names above the rows; where the line right above them holds units alone, the line before it
/// has the names, and both are read together.
fn names(above: &[Vec<String>], width: usize) -> Vec<String> {
    let mut lines = above.iter().rev().filter(|line| !is_blank(line));
    let Some(last) = lines.next().filter(|line| line.len() == width) else { return Vec::new() };
    let is_unit = |cell: &String| cell.chars().count() <= 5 && !cell.contains(' ');
    let before = lines.next().filter(|line| line.len() == width && last.iter().all(is_unit));
    let short = |cell: &String| cell.chars().count() <= 3;
    match before {
        Some(before) if last.iter().filter(|cell| short(cell)).count() * 2 > width => {
            before.iter().zip(last).map(|(name, unit)| format!("{name} {unit}")).collect()
        }
        _ => last.clone(),
    }
}

fn is_blank(row: &[String]) -> bool {
    row.iter().all(String::is_empty)
}

/// The fields of a line. Blanks at its ends part nothing; quotes keep a delimiter inside.
pub(super) fn fields(line: &str, delimiter: Delimiter) -> Vec<String> {
    let plain = |field: &str| field.trim().trim_matches('"').trim().to_owned();
    let sign = match delimiter {
        Delimiter::Blanks => return line.split_whitespace().map(plain).collect(),
        Delimiter::Tab => '\t',
        Delimiter::Semicolon => ';',
        Delimiter::Comma => ',',
    };
    let mut fields = Vec::new();
    let (mut from, mut quoted) = (0, false);
    for (at, letter) in line.char_indices() {
        if letter == '"' {
            quoted = !quoted;
        } else if letter == sign && !quoted {
            fields.push(plain(&line[from..at]));
            from = at + letter.len_utf8();
        }
    }
    fields.push(plain(&line[from..]));
    // An empty field at the end is one delimiter too many.
    if fields.len() > 1 && fields.last().is_some_and(String::is_empty) {
        fields.pop();
    }
    fields
}
