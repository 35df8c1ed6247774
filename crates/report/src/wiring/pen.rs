//! The few strokes a circuit is drawn with. Every line says by its class what it is, so that a
//! test can follow the current through the drawing itself.

use std::fmt::Write as _;

use crate::chart::escaped;

/// A place on the drawing.
pub(super) type Spot = (f64, f64);

/// Half of a hop: a line that crosses another without touching it.
const HOP: f64 = 4.0;

/// What a line is.
#[derive(Clone, Copy)]
pub(super) enum Line {
    /// A lead or a wire.
    Wire,
    /// The link between two terminals.
    Link,
    /// The one solid ground.
    Ground,
    /// From a guard ring or a screen to the guard.
    Guard,
    /// The screen round a lead.
    Screen,
    /// The outline of a thing; no current follows it.
    Outline,
    /// A part of the object that is one conductor.
    Metal,
}

impl Line {
    const fn class(self) -> &'static str {
        match self {
            Self::Wire => "wire",
            Self::Link => "link",
            Self::Ground => "ground",
            Self::Guard => "guard",
            Self::Screen => "screen",
            Self::Outline => "outline",
            Self::Metal => "metal",
        }
    }

    const fn width(self) -> f64 {
        match self {
            Self::Link => 3.5,
            Self::Ground | Self::Metal => 2.4,
            Self::Wire | Self::Guard => 1.4,
            Self::Screen | Self::Outline => 1.0,
        }
    }

    const fn dash(self) -> &'static str {
        match self {
            Self::Guard => " stroke-dasharray=\"6 2\"",
            Self::Screen => " stroke-dasharray=\"2 2\"",
            _ => "",
        }
    }
}

/// Where words hang on their point.
#[derive(Clone, Copy)]
pub(super) enum Hang {
    Start,
    Middle,
    End,
}

/// A drawing that grows, in the colour of the words round it.
pub(super) struct Pen {
    body: String,
}

impl Pen {
    /// A sheet of this size, with the words that stand for what is drawn.
    pub(super) fn new((width, height): Spot, letters: f64, title: &str) -> Self {
        let title = escaped(title);
        let body = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" aria-label=\"{title}\" \
             width=\"{width}\" height=\"{height}\" viewBox=\"0 0 {width} {height}\" \
             font-family=\"DejaVu Sans\" font-size=\"{letters}\" fill=\"currentColor\">\n"
        );
        Self { body }
    }

    /// A line through points.
    pub(super) fn line(&mut self, line: Line, points: &[Spot]) {
        self.path(line, &steps(points, &[]), "none");
    }

    /// A line through points that hops over the upright lines at these places.
    pub(super) fn hopping(&mut self, line: Line, points: &[Spot], over: &[f64]) {
        self.path(line, &steps(points, over), "none");
    }

    /// A closed shape.
    pub(super) fn shape(&mut self, line: Line, points: &[Spot]) {
        self.path(line, &format!("{}Z", steps(points, &[])), "none");
    }

    /// A box between two corners.
    pub(super) fn rect(&mut self, line: Line, (x1, y1): Spot, (x2, y2): Spot) {
        self.shape(line, &[(x1, y1), (x2, y1), (x2, y2), (x1, y2)]);
    }

    /// Humps between two points of one height: a winding.
    pub(super) fn coil(&mut self, (x1, y): Spot, x2: f64, humps: u8) {
        let radius = (x2 - x1) / f64::from(humps) / 2.0;
        let mut path = format!("M{x1:.1} {y:.1}");
        for hump in 1..=humps {
            let x = x1 + 2.0 * radius * f64::from(hump);
            let _ = write!(path, "A{radius:.1} {radius:.1} 0 0 1 {x:.1} {y:.1}");
        }
        self.path(Line::Metal, &path, "none");
    }

    /// A ring round a lead, seen from the side.
    pub(super) fn ring(&mut self, (x, y): Spot, (across, up): Spot) {
        let _ = writeln!(
            self.body,
            "<ellipse class=\"ring\" cx=\"{x:.1}\" cy=\"{y:.1}\" rx=\"{across:.1}\" ry=\"{up:.1}\" \
             fill=\"none\" stroke=\"currentColor\" stroke-width=\"1.8\"/>"
        );
    }

    /// A circle of a meter or a source.
    pub(super) fn circle(&mut self, (x, y): Spot, radius: f64) {
        let _ = writeln!(
            self.body,
            "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"{radius:.1}\" fill=\"none\" \
             stroke=\"currentColor\" stroke-width=\"1.4\"/>"
        );
    }

    /// A terminal.
    pub(super) fn terminal(&mut self, (x, y): Spot) {
        let _ = writeln!(
            self.body,
            "<circle class=\"terminal\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"3.2\"/>"
        );
    }

    /// Where lines join.
    pub(super) fn joint(&mut self, (x, y): Spot) {
        let _ =
            writeln!(self.body, "<circle class=\"joint\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"2.4\"/>");
    }

    /// Words.
    pub(super) fn words(&mut self, (x, y): Spot, hang: Hang, bold: bool, words: &str) {
        let hang = match hang {
            Hang::Start => "",
            Hang::Middle => " text-anchor=\"middle\"",
            Hang::End => " text-anchor=\"end\"",
        };
        let bold = if bold { " font-weight=\"bold\"" } else { "" };
        let words = escaped(words);
        let _ = writeln!(self.body, "<text x=\"{x:.1}\" y=\"{y:.1}\"{hang}{bold}>{words}</text>");
    }

    /// The whole drawing.
    pub(super) fn finish(mut self) -> String {
        self.body.push_str("</svg>\n");
        self.body
    }

    fn path(&mut self, line: Line, path: &str, fill: &str) {
        let (class, width, dash) = (line.class(), line.width(), line.dash());
        let _ = writeln!(
            self.body,
            "<path class=\"{class}\" d=\"{path}\" fill=\"{fill}\" stroke=\"currentColor\" \
             stroke-width=\"{width}\"{dash}/>"
        );
    }
}

fn steps(points: &[Spot], over: &[f64]) -> String {
    let mut path = String::new();
    let mut last: Option<Spot> = None;
    for &(x, y) in points {
        let Some((from, level)) = last else {
            let _ = write!(path, "M{x:.1} {y:.1}");
            last = Some((x, y));
            continue;
        };
        if (level - y).abs() < 0.05 {
            hops(&mut path, from, x, y, over);
        }
        let _ = write!(path, "L{x:.1} {y:.1}");
        last = Some((x, y));
    }
    path
}

/// The hops of one level stretch, in the order they are met.
fn hops(path: &mut String, from: f64, to: f64, y: f64, over: &[f64]) {
    let (low, high) = (from.min(to), from.max(to));
    let mut met: Vec<f64> = over.iter().copied().filter(|x| *x > low && *x < high).collect();
    met.sort_by(|a, b| if from < to { a.total_cmp(b) } else { b.total_cmp(a) });
    let (reach, sweep) = if from < to { (HOP, 1) } else { (-HOP, 0) };
    for x in met {
        let _ = write!(
            path,
            "L{:.1} {y:.1}A{HOP:.1} {HOP:.1} 0 0 {sweep} {:.1} {y:.1}",
            x - reach,
            x + reach
        );
    }
}
