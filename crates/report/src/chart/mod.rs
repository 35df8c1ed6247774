//! The course of one conductor as a picture: voltage above, current below, one time axis.
//!
//! One component draws it on paper and on a screen: a frame (axes, what was planned, the expected
//! band, the trip) whose scales are data, and readings put into it. Lines are told apart by dash,
//! weight and shape as well as by colour, and are named where they end. The colours on paper are of
//! a palette that stays apart for every kind of colour vision (Color Universal Design, 2008); on a
//! screen a style sheet has them.

mod course;
mod frame;
mod readings;
mod scale;
mod svg;
mod twin;
pub(crate) mod years;

use plan::Plan;
use quantity::{Current, Time, Voltage};
use session::Application;

use crate::words;
use course::Course;
use frame::Drawing;
pub(crate) use svg::escaped;

pub use course::Part;
pub use frame::{Frame, Shape, Window};
pub use twin::{Table, planned_table, readings_table};

/// Readings drawn, about: more would lie on each other.
const POINTS: usize = 800;
/// The same on a page, which may carry many pictures.
const WIDE_POINTS: usize = 400;
const NARROW_POINTS: usize = 200;

/// A picture and the words that stand for it.
#[derive(Clone, Debug, PartialEq)]
pub struct Chart {
    /// What it shows, in a few words.
    pub title: String,
    /// The same in sentences, for whoever cannot see it.
    pub sentences: Vec<String>,
    /// The picture.
    pub svg: String,
    /// Where values stand on it.
    pub frame: Frame,
}

/// Draws one application of voltage to one conductor; `None` where fewer than two readings stand.
#[must_use]
pub fn chart(
    plan: &Plan,
    conductor: &str,
    application: &Application,
    shape: Shape,
) -> Option<Chart> {
    let readings = &application.readings;
    if readings.len() < 2 {
        return None;
    }
    let highest = readings.iter().filter_map(|one| one.voltage).fold(Voltage::ZERO, Voltage::max);
    let course = Course::of(plan, Part::of(plan, highest));
    let title = title(plan, conductor, &course);
    let sentences = twin::read(&title, &course, application);
    let times = readings.iter().map(|one| one.at).chain([course.end]);
    let window = Window {
        from: Time::ZERO,
        to: times.fold(Time::ZERO, Time::max),
        is_part: false,
        highest,
        currents: extremes(application),
    };
    let mut drawing = Drawing::new(shape, &course, &window, (&title, &sentences.join(" ")));
    let most = match shape {
        Shape::Paper => POINTS,
        Shape::Wide => WIDE_POINTS,
        Shape::Narrow => NARROW_POINTS,
    };
    let outline = readings::outline(readings, most);
    drawing.voltages(&outline, highest);
    drawing.currents(&outline, readings::last_current(application));
    drawing.late(&course, application);
    drawing.withdrawn(application);
    for (at, what) in &application.marks {
        drawing.mark(*at, *what);
    }
    let (svg, frame) = drawing.finish();
    Some(Chart { title, sentences, svg, frame })
}

/// Draws what is planned for one conductor, without readings; `None` where nothing is.
#[must_use]
pub fn planned(plan: &Plan, conductor: &str, part: Part, shape: Shape) -> Option<Chart> {
    let course = Course::of(plan, part);
    let whole = Window {
        from: Time::ZERO,
        to: course.end,
        is_part: false,
        highest: Voltage::ZERO,
        currents: None,
    };
    framed(plan, conductor, part, shape, &whole)
}

/// Draws what is planned as far as it lies in a window, with room for what was read there; `None`
/// where nothing is planned.
#[must_use]
pub fn framed(
    plan: &Plan,
    conductor: &str,
    part: Part,
    shape: Shape,
    window: &Window,
) -> Option<Chart> {
    let course = Course::of(plan, part);
    course.hold()?;
    let title = title(plan, conductor, &course);
    let sentences = twin::planned(&title, &course);
    let drawing = Drawing::new(shape, &course, window, (&title, &sentences.join(" ")));
    let (svg, frame) = drawing.finish();
    Some(Chart { title, sentences, svg, frame })
}

/// How long one part is planned to take, from energising.
#[must_use]
pub fn planned_time(plan: &Plan, part: Part) -> Time {
    Course::of(plan, part).end
}

fn title(plan: &Plan, conductor: &str, course: &Course<'_>) -> String {
    format!("{} {conductor}, {}", words::piece(plan.class), course.name)
}

/// The lowest and the highest current above zero.
fn extremes(application: &Application) -> Option<(Current, Current)> {
    let read = application.readings.iter().filter_map(|one| one.current);
    let mut above =
        read.filter(|current| *current > Current::ZERO && current.amperes().is_finite());
    let first = above.next()?;
    Some(above.fold((first, first), |(least, most), one| (least.min(one), most.max(one))))
}
