//! Rows of text with a tone, cut to a width.

/// How a part of a row is drawn; each differs without colour too.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Tone {
    /// As it is.
    Plain,
    /// Bold.
    Strong,
    /// Bold and reversed; vermilion where there is colour.
    Hazard,
    /// Bold and reversed; blue where there is colour.
    Grounded,
}

/// A stretch of one tone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Part {
    /// How it is drawn.
    pub(crate) tone: Tone,
    /// The text.
    pub(crate) text: String,
}

/// One row of the screen.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Row {
    /// From the left.
    pub(crate) parts: Vec<Part>,
}

impl Row {
    /// A row of one tone.
    pub(crate) fn of(tone: Tone, text: impl Into<String>) -> Self {
        Self { parts: vec![Part { tone, text: text.into() }] }
    }

    /// A plain row.
    pub(crate) fn plain(text: impl Into<String>) -> Self {
        Self::of(Tone::Plain, text)
    }

    /// This row and one more part.
    pub(crate) fn and(mut self, tone: Tone, text: impl Into<String>) -> Self {
        self.parts.push(Part { tone, text: text.into() });
        self
    }

    /// The row without what would stand beyond the last column; `…` says that something did.
    pub(crate) fn cut(mut self, width: usize) -> Self {
        let length: usize = self.parts.iter().map(|part| part.text.chars().count()).sum();
        if length <= width {
            return self;
        }
        let mut left = width.saturating_sub(1);
        for part in &mut self.parts {
            let kept: String = part.text.chars().take(left).collect();
            left -= kept.chars().count();
            part.text = kept;
        }
        self.parts.retain(|part| !part.text.is_empty());
        if let Some(last) = self.parts.last_mut().filter(|_| width > 0) {
            last.text.push('…');
        }
        self
    }

    /// The text alone.
    #[cfg(test)]
    pub(crate) fn text(&self) -> String {
        self.parts.iter().map(|part| part.text.as_str()).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_that_is_too_long_says_so() {
        let row = || Row::of(Tone::Hazard, "HAZARDOUS").and(Tone::Plain, " until grounded");
        let check = |width, expected: &str| assert_eq!(row().cut(width).text(), expected);
        check(80, "HAZARDOUS until grounded");
        check(24, "HAZARDOUS until grounded");
        check(12, "HAZARDOUS u…");
        check(9, "HAZARDOU…");
        check(0, "");
    }
}
