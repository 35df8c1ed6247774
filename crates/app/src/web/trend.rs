//! One figure of an object over the years, like only with like: a small picture, and the same in
//! words.

use jiff::civil::Date;
use maud::{Markup, html};
use quantity::engineering;

use super::apparatus::Test;
use super::due::day_count;
use crate::show::records;

/// What can be compared from one test to the next.
#[derive(Clone, Debug, PartialEq)]
struct Point {
    on: Date,
    value: f64,
    /// Only what was found under the same heading is like.
    under: String,
    unit: &'static str,
}

/// Width and height of the picture, and what is left around its lines.
const WIDE: f64 = 480.0;
const HIGH: f64 = 170.0;
const LEFT: f64 = 70.0;
const RIGHT: f64 = 86.0;
const TOP: f64 = 14.0;
const FOOT: f64 = 30.0;

/// The picture and its words; nothing where there is nothing to compare.
pub(super) fn told(tests: &[Test]) -> Markup {
    let mut points: Vec<Point> = tests.iter().filter_map(point).collect();
    points.sort_by_key(|point| point.on);
    let Some(under) = points.last().map(|last| last.under.clone()) else { return html! {} };
    let others = tests.len() - points.iter().filter(|one| one.under == under).count();
    points.retain(|point| point.under == under);
    if points.len() < 2 {
        return html! {};
    }
    html! {
        h2 { "Over the years" }
        figure .trend {
            (picture(&points, &under))
            figcaption { (words(&points, &under, others)) }
        }
    }
}

/// The corrected resistance where there is one, or what leaked at the test level.
fn point(test: &Test) -> Option<Point> {
    let figures = &test.findings.as_ref()?.figures;
    let kind = records::kind(test.kind);
    let resistance = figures.resistance.as_ref();
    let corrected = resistance.and_then(|one| Some((one, one.corrected?, one.corrected_to?)));
    if let Some((one, corrected, to)) = corrected {
        let under = format!(
            "insulation resistance at 1 min, at {:.1} kV, corrected to {:.0} °C, {kind}",
            one.at_voltage.kilovolts(),
            to.celsius()
        );
        return Some(Point { on: test.on, value: corrected.ohms(), under, unit: "Ω" });
    }
    let (leaks, level) = (figures.conduction?.amperes(), test.level?);
    let under =
        format!("leakage at {:.1} kV, not corrected for temperature, {kind}", level.kilovolts());
    (leaks > 0.0).then_some(Point { on: test.on, value: leaks, under, unit: "A" })
}

fn said(point: &Point) -> String {
    engineering(point.value, point.unit, 3)
}

fn words(points: &[Point], under: &str, others: usize) -> String {
    let mut text = format!("Of the worst conductor, {under}: ");
    let each: Vec<String> =
        points.iter().map(|point| format!("{} on {}", said(point), point.on)).collect();
    text += &each.join(", ");
    if let [first, .., last] = points {
        text += &format!(". The last is {:.2} times the first.", last.value / first.value);
    }
    match others {
        0 => {}
        1 => text += " One other test is not compared: it has no such figure, or another level.",
        many => {
            text += &format!(
                " {many} other tests are not compared: they have no such figure, or another level."
            );
        }
    }
    text
}

/// The decades that hold all of these.
fn decades(points: &[Point]) -> (f64, f64) {
    let logs = || points.iter().map(|point| point.value.log10());
    let (low, high) = (logs().fold(f64::MAX, f64::min), logs().fold(f64::MIN, f64::max));
    let (low, high) = (low.floor(), high.ceil());
    (low, if high > low { high } else { low + 1.0 })
}

/// A line at each decade.
fn lines(low: f64, high: f64) -> impl Iterator<Item = f64> {
    std::iter::successors(Some(low), |decade| Some(decade + 1.0))
        .take_while(move |decade| *decade <= high)
        .map(|decade| 10f64.powf(decade))
}

fn picture(points: &[Point], under: &str) -> Markup {
    let (low, high) = decades(points);
    let unit = points.first().map_or("", |point| point.unit);
    let first = points.first().map_or(0.0, |point| day_count(point.on));
    let last = points.last().map_or(1.0, |point| day_count(point.on)).max(first + 1.0);
    let x = |on: Date| LEFT + (day_count(on) - first) / (last - first) * (WIDE - LEFT - RIGHT);
    let y = |value: f64| TOP + (high - value.log10()) / (high - low) * (HIGH - TOP - FOOT);
    let line: Vec<String> =
        points.iter().map(|point| format!("{:.1},{:.1}", x(point.on), y(point.value))).collect();
    html! {
        svg viewBox={ "0 0 " (WIDE) " " (HIGH) } role="img" aria-label=(under) {
            @for value in lines(low, high) {
                line .decade x1=(LEFT) x2=(WIDE - RIGHT) y1=(y(value)) y2=(y(value)) {}
                text x=(LEFT - 8.0) y=(y(value) + 4.0) text-anchor="end" {
                    (engineering(value, unit, 1))
                }
            }
            polyline .years points=(line.join(" ")) {}
            @for point in points {
                circle .one-year r="4" cx=(format!("{:.1}", x(point.on)))
                    cy=(format!("{:.1}", y(point.value))) {}
            }
            @if let (Some(begin), Some(end)) = (points.first(), points.last()) {
                text x=(x(begin.on)) y=(HIGH - 8.0) text-anchor="middle" { (begin.on) }
                text x=(x(end.on)) y=(HIGH - 8.0) text-anchor="middle" { (end.on) }
                text x=(x(end.on) + 10.0) y=(y(end.value) + 4.0) { (said(end)) }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_picture_shows_stands_beside_it_in_words_and_what_it_leaves_out() {
        let point = |on: &str, value: f64| Point {
            on: on.parse().expect("a day"),
            value,
            under: "leakage at 46.0 kV".to_owned(),
            unit: "A",
        };
        let points = [point("2020-05-12", 20e-6), point("2023-06-06", 41e-6)];
        assert_eq!(
            words(&points, "leakage at 46.0 kV", 1),
            "Of the worst conductor, leakage at 46.0 kV: 20.0 µA on 2020-05-12, 41.0 µA on \
             2023-06-06. The last is 2.05 times the first. One other test is not compared: it has \
             no such figure, or another level."
        );
        // Derived: 20 and 41 µA lie between 10^-5 and 10^-4 A.
        assert_eq!(decades(&points), (-5.0, -4.0));
        assert_eq!(decades(&[point("2020-05-12", 1e-5)]), (-5.0, -4.0));
    }
}
