//! The few shapes a chart is made of, written as SVG text with one decimal.

use std::fmt::Write;

/// A picture that grows.
pub(crate) struct Svg {
    body: String,
    /// Paper carries its own colours; a screen gives each name the look of its theme.
    named: bool,
}

/// How a line looks.
#[derive(Clone, Copy)]
pub(crate) struct Pen {
    /// What it is, for a style sheet.
    pub(crate) name: &'static str,
    pub(crate) colour: &'static str,
    pub(crate) width: f64,
    /// Dash pattern; empty for a solid line.
    pub(crate) dash: &'static str,
}

/// Where text hangs on its point.
#[derive(Clone, Copy)]
pub(crate) enum Anchor {
    Start,
    Middle,
    End,
}

impl Svg {
    /// A picture on paper of this size, with the words that stand for it.
    pub(crate) fn paper(width: f64, height: f64, title: &str, description: &str) -> Self {
        let mut body = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" width=\"{width}\" \
             height=\"{height}\" viewBox=\"0 0 {width} {height}\" \
             font-family=\"DejaVu Sans\" font-size=\"9\">\n"
        );
        let _ = writeln!(body, "<title>{}</title>", escaped(title));
        let _ = writeln!(body, "<desc>{}</desc>", escaped(description));
        Self { body, named: false }
    }

    /// A picture on a screen, as wide as its place; the words stand beside it, and a style sheet
    /// says how each named thing looks.
    pub(crate) fn screen(width: f64, height: f64, title: &str, font: f64) -> Self {
        let title = escaped(title);
        let body = format!(
            "<svg role=\"img\" aria-label=\"{title}\" viewBox=\"0 0 {width} {height}\" \
             font-size=\"{font}\">\n"
        );
        Self { body, named: true }
    }

    /// A line through points.
    pub(crate) fn line(&mut self, points: &[(f64, f64)], pen: Pen) {
        if points.is_empty() {
            return;
        }
        if self.named {
            let path = path(&without_level_runs(points));
            let _ = writeln!(self.body, "<path class=\"{}\" d=\"{path}\"/>", pen.name);
            return;
        }
        let path = path(points);
        let dash = match pen.dash {
            "" => String::new(),
            dash => format!(" stroke-dasharray=\"{dash}\""),
        };
        let _ = writeln!(
            self.body,
            "<path d=\"{path}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{}\"{dash}/>",
            pen.colour, pen.width
        );
    }

    /// A filled shape through points.
    pub(crate) fn area(&mut self, points: &[(f64, f64)], name: &str, fill: &str) {
        if points.is_empty() {
            return;
        }
        let look =
            if self.named { format!("class=\"{name}\"") } else { format!("fill=\"{fill}\"") };
        let _ = writeln!(self.body, "<path d=\"{}Z\" {look}/>", path(points));
    }

    /// Round points; on a screen they are one line of no length at each, with round ends.
    pub(crate) fn dots(&mut self, points: &[(f64, f64)], radius: f64, pen: Pen) {
        if self.named && !points.is_empty() {
            let mut path = String::new();
            for (x, y) in points {
                let _ = write!(path, "M{x:.1} {y:.1}h0");
            }
            let _ = writeln!(self.body, "<path class=\"{}-dot\" d=\"{path}\"/>", pen.name);
            return;
        }
        for (x, y) in points {
            let _ = writeln!(
                self.body,
                "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"{radius}\" fill=\"{}\"/>",
                pen.colour
            );
        }
    }

    /// An open ring.
    pub(crate) fn ring(&mut self, (x, y): (f64, f64), radius: f64, pen: Pen) {
        let look = match self.named {
            true => format!("class=\"{}\"", pen.name),
            false => {
                format!("fill=\"none\" stroke=\"{}\" stroke-width=\"{}\"", pen.colour, pen.width)
            }
        };
        let _ = writeln!(self.body, "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"{radius}\" {look}/>");
    }

    /// Words.
    pub(crate) fn text(&mut self, (x, y): (f64, f64), anchor: Anchor, bold: bool, words: &str) {
        let anchor = match anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
            Anchor::End => " text-anchor=\"end\"",
        };
        let weight = if bold { " font-weight=\"bold\"" } else { "" };
        let words = escaped(words);
        let _ =
            writeln!(self.body, "<text x=\"{x:.1}\" y=\"{y:.1}\"{anchor}{weight}>{words}</text>");
    }

    /// The whole picture.
    pub(crate) fn finish(mut self) -> String {
        self.body.push_str("</svg>\n");
        self.body
    }
}

/// A line without the points inside its level parts, which a page need not carry.
fn without_level_runs(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let height = |index: usize| (points[index].1 * 10.0).round();
    let bends = |index: &usize| {
        let (at, last) = (*index, points.len() - 1);
        at == 0 || at == last || height(at) != height(at - 1) || height(at) != height(at + 1)
    };
    (0..points.len()).filter(bends).map(|index| points[index]).collect()
}

fn path(points: &[(f64, f64)]) -> String {
    let mut text = String::new();
    for (index, (x, y)) in points.iter().enumerate() {
        let _ = write!(text, "{}{x:.1} {y:.1}", if index == 0 { "M" } else { "L" });
    }
    text
}

pub(crate) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            _ if character.is_control() => out.push(' '),
            _ => out.push(character),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_level_line_is_its_ends() {
        let line = [(0.0, 5.0), (1.0, 5.01), (2.0, 5.0), (3.0, 9.0), (4.0, 5.0), (5.0, 5.0)];
        let kept = [(0.0, 5.0), (2.0, 5.0), (3.0, 9.0), (4.0, 5.0), (5.0, 5.0)];
        assert_eq!(without_level_runs(&line), kept);
        assert!(without_level_runs(&[]).is_empty());
    }

    #[test]
    fn words_cannot_break_out() {
        let mut svg = Svg::paper(10.0, 10.0, "a<b", "c&\"d\"");
        svg.text((1.0, 2.0), Anchor::Start, false, "</text>\u{0}");
        let text = svg.finish();
        assert!(text.contains("<title>a&lt;b</title>"));
        assert!(text.contains("<desc>c&amp;&quot;d&quot;</desc>"));
        assert!(text.contains(">&lt;/text&gt; </text>"));
    }
}
