//! Figures five rows high, to be read from where the set stands.

/// Height of a figure, in rows.
pub(super) const HEIGHT: usize = 5;

/// A number in large figures, row by row; what has no large form is left out.
pub(super) fn large(text: &str) -> [String; HEIGHT] {
    let mut rows: [String; HEIGHT] = Default::default();
    for glyph in text.chars().filter_map(glyph) {
        for (row, bits) in rows.iter_mut().zip(glyph) {
            if !row.is_empty() {
                row.push(' ');
            }
            row.extend(bits.chars().flat_map(|bit| {
                let drawn = if bit == '#' { '█' } else { ' ' };
                [drawn, drawn]
            }));
        }
    }
    rows
}

const fn glyph(letter: char) -> Option<[&'static str; HEIGHT]> {
    Some(match letter {
        '0' => ["###", "# #", "# #", "# #", "###"],
        '1' => [" # ", "## ", " # ", " # ", "###"],
        '2' => ["###", "  #", "###", "#  ", "###"],
        '3' => ["###", "  #", "###", "  #", "###"],
        '4' => ["# #", "# #", "###", "  #", "  #"],
        '5' => ["###", "#  ", "###", "  #", "###"],
        '6' => ["###", "#  ", "###", "# #", "###"],
        '7' => ["###", "  #", "  #", "  #", "  #"],
        '8' => ["###", "# #", "###", "# #", "###"],
        '9' => ["###", "# #", "###", "  #", "###"],
        '.' => [" ", " ", " ", " ", "#"],
        '-' => ["   ", "   ", "###", "   ", "   "],
        '?' => ["###", "  #", " ##", "   ", " # "],
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_of_one_height_and_each_is_its_own() {
        let rows = large("7.5");
        assert_eq!(rows[0], "██████    ██████");
        assert_eq!(rows[4], "    ██ ██ ██████");
        let all: Vec<_> = "0123456789.-?".chars().map(|one| large(&one.to_string())).collect();
        for (at, one) in all.iter().enumerate() {
            let width = one[0].chars().count();
            assert!(one.iter().all(|row| row.chars().count() == width));
            assert!(!all[..at].contains(one), "two figures look the same");
        }
    }
}
