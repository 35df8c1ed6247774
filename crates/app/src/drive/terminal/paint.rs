//! Rows of styled text onto a terminal, redrawing only the rows that changed.

use std::io::{Result, Write};

use crossterm::style::{Attribute, Color, Print, ResetColor, SetAttribute, SetForegroundColor};
use crossterm::terminal::{BeginSynchronizedUpdate, Clear, ClearType, EndSynchronizedUpdate};
use crossterm::{cursor, queue};

use crate::show::stage::{Row, Tone};

/// What stands on the terminal now.
pub(super) struct Painter<W> {
    out: W,
    colour: bool,
    shown: Vec<Row>,
    size: (u16, u16),
}

impl<W: Write> Painter<W> {
    pub(super) fn new(out: W, colour: bool) -> Self {
        Self { out, colour, shown: Vec::new(), size: (0, 0) }
    }

    /// Shows these rows from the top; the cursor stays hidden.
    pub(super) fn show(&mut self, size: (u16, u16), rows: Vec<Row>) -> Result<()> {
        let fresh = size != self.size;
        let changed = |at: usize, row: &Row| fresh || self.shown.get(at) != Some(row);
        let due: Vec<usize> = rows
            .iter()
            .enumerate()
            .filter(|(at, row)| changed(*at, row))
            .map(|(at, _)| at)
            .collect();
        let shorter = rows.len() < self.shown.len();
        if due.is_empty() && !shorter {
            return Ok(());
        }
        queue!(self.out, BeginSynchronizedUpdate)?;
        if fresh {
            queue!(self.out, Clear(ClearType::All))?;
        }
        for at in due {
            self.row(at, &rows[at])?;
        }
        if shorter {
            queue!(
                self.out,
                cursor::MoveTo(0, line(rows.len())),
                Clear(ClearType::FromCursorDown)
            )?;
        }
        queue!(self.out, EndSynchronizedUpdate)?;
        self.out.flush()?;
        self.shown = rows;
        self.size = size;
        Ok(())
    }

    fn row(&mut self, at: usize, row: &Row) -> Result<()> {
        queue!(self.out, cursor::MoveTo(0, line(at)))?;
        for part in &row.parts {
            match part.tone {
                Tone::Plain => {}
                Tone::Strong => queue!(self.out, SetAttribute(Attribute::Bold))?,
                Tone::Hazard | Tone::Grounded => {
                    if self.colour {
                        queue!(self.out, SetForegroundColor(colour(part.tone)))?;
                    }
                    queue!(self.out, SetAttribute(Attribute::Bold))?;
                    queue!(self.out, SetAttribute(Attribute::Reverse))?;
                }
            }
            queue!(self.out, Print(&part.text), SetAttribute(Attribute::Reset), ResetColor)?;
        }
        queue!(self.out, Clear(ClearType::UntilNewLine))
    }
}

/// Two colours that stay apart for every kind of colour sight (Okabe and Ito, 2008: vermilion and
/// blue; the figures are from memory, unverified).
const fn colour(tone: Tone) -> Color {
    match tone {
        Tone::Hazard => Color::Rgb { r: 213, g: 94, b: 0 },
        Tone::Grounded | Tone::Plain | Tone::Strong => Color::Rgb { r: 0, g: 114, b: 178 },
    }
}

fn line(at: usize) -> u16 {
    u16::try_from(at).unwrap_or(u16::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(painter: &mut Painter<Vec<u8>>, rows: &[&str]) -> String {
        painter.out.clear();
        let rows = rows.iter().map(|text| Row::plain(*text)).collect();
        painter.show((80, 24), rows).expect("a vector takes any bytes");
        String::from_utf8(painter.out.clone()).expect("text")
    }

    #[test]
    fn only_what_changed_is_drawn_again() {
        let mut painter = Painter::new(Vec::new(), false);
        let first = shown(&mut painter, &["one", "two", "three"]);
        assert!(first.contains("one") && first.contains("three"));
        assert_eq!(shown(&mut painter, &["one", "two", "three"]), "");
        let next = shown(&mut painter, &["one", "TWO", "three"]);
        assert!(next.contains("TWO") && !next.contains("one") && !next.contains("three"), "{next}");
        let less = shown(&mut painter, &["one"]);
        assert!(!less.contains("one") && less.contains("\u{1b}[J"), "{less:?}");
    }

    #[test]
    fn without_colour_no_colour_is_sent() {
        let mut painter = Painter::new(Vec::new(), false);
        let rows = vec![Row::of(Tone::Hazard, "HAZARDOUS")];
        painter.show((80, 24), rows).expect("a vector takes any bytes");
        let sent = String::from_utf8(painter.out).expect("text");
        assert!(sent.contains("HAZARDOUS") && !sent.contains("38;2"), "{sent:?}");
    }
}
