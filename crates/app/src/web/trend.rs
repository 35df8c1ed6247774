//! An object over the years: each figure as a picture with its interval, the same as a table, and
//! what was left out with the reason.

use jiff::civil::Date;
use judge::Outcome;
use judge::history::{Apart, At, Figure, History, Point, Series};
use maud::{Markup, html};
use quantity::engineering;
use report::digits::with_uncertainty;
use report::words;

use super::due::day_count;

/// Width and height of the picture, and what is left around its lines.
const WIDE: f64 = 480.0;
const HIGH: f64 = 190.0;
const LEFT: f64 = 70.0;
const RIGHT: f64 = 86.0;
const TOP: f64 = 14.0;
const FOOT: f64 = 30.0;

/// The whole of it; nothing where there is nothing to compare.
pub(super) fn told(history: &History) -> Markup {
    let compares = history.series.iter().any(|one| one.points.len() > 1);
    if !compares && history.tests.len() < 2 {
        return html! {};
    }
    html! {
        h2 #years { "Over the years" }
        (against_last(history))
        @for figure in Figure::ALL {
            @let all = worst_first(history, figure);
            @if let Some((first, rest)) = all.split_first() {
                h3 { (name(figure)) }
                (one(first))
                @if !rest.is_empty() {
                    details {
                        summary { (others(rest)) }
                        @for series in rest { (one(series)) }
                    }
                }
            }
        }
        (apart("Among its sisters, in the newest test", &history.sisters))
        (apart("Among other apparatus like it", &history.likes))
        @for note in &history.notes { p .quiet { (note) } }
    }
}

const fn name(figure: Figure) -> &'static str {
    match figure {
        Figure::InsulationResistance => "Insulation resistance",
        Figure::PolarizationIndex => "Polarization index",
        Figure::Conduction => "Conduction",
    }
}

fn others(rest: &[&Series]) -> String {
    let phases: Vec<&str> = rest.iter().map(|one| one.phase.as_str()).collect();
    format!("The same of {}", phases.join(", "))
}

/// The newest test against the one before: beside its verdict.
fn against_last(history: &History) -> Markup {
    html! {
        @if !history.compared.is_empty() {
            h3 { "Against the test before" }
            p .quiet { "It stands beside the verdict and does not change it." }
            @for finding in &history.compared {
                details .finding open[finding.outcome == Outcome::Warn] {
                    summary {
                        span .outcome { (words::outcome(finding.outcome)) } " "
                        strong { "compared to last" }
                        @if let Some(phase) = &finding.phase { " · " (phase) }
                        @if let Some(value) = finding.value {
                            " · " span .number {
                                (with_uncertainty(value, finding.expanded_u)) " "
                                (finding.unit.as_deref().unwrap_or("times"))
                            }
                        }
                    }
                    p { (finding.text) }
                    @if !finding.chain.is_empty() {
                        ol { @for step in &finding.chain { li { (step) } } }
                    }
                }
            }
        }
    }
}

/// Series of one figure: the one nearest to its limit, or that changes fastest, first.
fn worst_first(history: &History, figure: Figure) -> Vec<&Series> {
    let mut all: Vec<&Series> = history
        .series
        .iter()
        .filter(|one| one.figure == figure && !one.points.is_empty())
        .collect();
    let rank = |one: &Series| {
        let margin = one.limit.as_ref().map_or(f64::INFINITY, |limit| limit.margin_ratio);
        let trend = one.trend.as_ref().filter(|trend| trend.told && trend.worse);
        (margin, -trend.map_or(0.0, |trend| trend.per_year.value.abs()))
    };
    all.sort_by(|a, b| {
        let (a, b) = (rank(a), rank(b));
        a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
    });
    all
}

fn one(series: &Series) -> Markup {
    html! {
        figure .trend {
            @if series.points.len() > 1 { (picture(series)) }
            figcaption { (series.text) }
        }
        details {
            summary {
                "The same as a table"
                @if !series.left_out.is_empty() { ", and what was left out" }
            }
            (table(series))
            @if !series.left_out.is_empty() {
                ul { @for one in &series.left_out { li {
                    a href={ "/sheet/" (one.record) } {
                        @match one.on { Some(on) => (on), None => "day unknown" }
                    }
                    ": " (one.why)
                } } }
            }
        }
    }
}

fn table(series: &Series) -> Markup {
    let unit = series.unit.as_deref().unwrap_or("as a quotient");
    html! {
        div .scroll tabindex="0" role="region" aria-label="Figures over the years" {
            table {
                thead { tr {
                    th scope="col" { "Day" }
                    th scope="col" .number { "As compared, " (unit) " (k = 2)" }
                    th scope="col" .number { "As read" }
                    th scope="col" .number { "Times" }
                } }
                tbody { @for point in &series.points { tr {
                    th scope="row" { a href={ "/sheet/" (point.record) } { (point.on) } }
                    td .number { (with_uncertainty(point.value, Some(point.expanded_u))) }
                    td .number { (with_uncertainty(point.value_as_read, None)) }
                    td .number { (format!("{:.4}", point.correction_factor)) }
                } } }
            }
        }
    }
}

fn apart(head: &str, all: &[Apart]) -> Markup {
    html! {
        @if !all.is_empty() {
            h3 { (head) }
            ul { @for one in all { li {
                @if one.stands_apart { strong { "▲ " (one.text) } } @else { (one.text) }
            } } }
        }
    }
}

/// Where things stand in the picture.
struct Place {
    first: f64,
    last: f64,
    low: f64,
    high: f64,
    logarithmic: bool,
}

impl Place {
    fn of(series: &Series, logarithmic: bool) -> Self {
        let band = series.trend.iter().flat_map(|trend| &trend.band);
        let days = series.points.iter().map(|one| one.on).chain(band.clone().map(|at| at.on));
        let days = || days.clone().map(day_count);
        let first = days().fold(f64::MAX, f64::min);
        let last = days().fold(f64::MIN, f64::max).max(first + 1.0);
        let ends = series
            .points
            .iter()
            .flat_map(|one| [one.value, one.value - one.expanded_u, one.value + one.expanded_u]);
        let limit = series.limit.iter().map(|limit| limit.value);
        let line = band.clone().map(|at| at.value);
        let all: Vec<f64> = ends.chain(limit).chain(line).collect();
        let scaled = |value: f64| if logarithmic { value.log10() } else { value };
        let usable = || all.iter().copied().filter(|one| !logarithmic || *one > 0.0).map(scaled);
        let (low, high) = (usable().fold(f64::MAX, f64::min), usable().fold(f64::MIN, f64::max));
        let (low, high) =
            if logarithmic { (low.floor(), high.ceil()) } else { (low.min(0.0), high) };
        let high = if high > low { high } else { low + 1.0 };
        Self { first, last, low, high, logarithmic }
    }

    fn x(&self, on: Date) -> f64 {
        let part = (day_count(on) - self.first) / (self.last - self.first);
        LEFT + part * (WIDE - LEFT - RIGHT)
    }

    /// What is beyond the picture stands at its edge.
    fn y(&self, value: f64) -> f64 {
        let scaled = match self.logarithmic {
            true if value > 0.0 => value.log10(),
            true => self.low,
            false => value,
        };
        let part = (self.high - scaled.clamp(self.low, self.high)) / (self.high - self.low);
        TOP + part * (HIGH - TOP - FOOT)
    }

    /// A line at each decade, or at each end and between.
    fn lines(&self) -> Vec<f64> {
        if self.logarithmic {
            let decades = std::iter::successors(Some(self.low), |decade| Some(decade + 1.0));
            let high = self.high;
            return decades.take_while(|one| *one <= high).map(|one| 10f64.powf(one)).collect();
        }
        [0.0, 0.5, 1.0].map(|part| self.low + part * (self.high - self.low)).into()
    }
}

/// A number of the series in its own unit.
fn said(series: &Series, value: f64, digits: usize) -> String {
    match series.figure {
        Figure::InsulationResistance => engineering(value * 1e6, "Ω", digits),
        Figure::PolarizationIndex => engineering(value, "", digits),
        Figure::Conduction => engineering(value * 1e-6, "A", digits),
    }
}

fn picture(series: &Series) -> Markup {
    // A resistance spans decades, an index and a current do not.
    let place = Place::of(series, series.figure == Figure::InsulationResistance);
    let at = |on: Date, value: f64| format!("{:.1},{:.1}", place.x(on), place.y(value));
    let band: Vec<&At> = series.trend.iter().flat_map(|trend| &trend.band).collect();
    let upper = band.iter().map(|one| at(one.on, one.high));
    let lower = band.iter().rev().map(|one| at(one.on, one.low));
    let interval: Vec<String> = upper.chain(lower).collect();
    let line: Vec<String> = band.iter().map(|one| at(one.on, one.value)).collect();
    html! {
        svg viewBox={ "0 0 " (WIDE) " " (HIGH) } role="img" aria-label=(series.text) {
            @if !interval.is_empty() { polygon .interval points=(interval.join(" ")) {} }
            @for value in place.lines() {
                line .decade x1=(LEFT) x2=(WIDE - RIGHT) y1=(place.y(value)) y2=(place.y(value)) {}
                text x=(LEFT - 8.0) y=(place.y(value) + 4.0) text-anchor="end" {
                    (said(series, value, 1))
                }
            }
            @if let Some(limit) = &series.limit {
                @let y = place.y(limit.value);
                line .limit x1=(LEFT) x2=(WIDE - RIGHT) y1=(y) y2=(y) {}
                text x=(WIDE - RIGHT + 6.0) y=(y + 4.0) { "limit" }
            }
            @if !line.is_empty() { polyline .years points=(line.join(" ")) {} }
            @for point in &series.points { (mark(&place, point)) }
            @if let [first, .., last] = &series.points[..] {
                text x=(place.x(first.on)) y=(HIGH - 8.0) text-anchor="middle" { (first.on) }
                text x=(place.x(last.on)) y=(HIGH - 8.0) text-anchor="middle" { (last.on) }
            }
        }
    }
}

/// A point with what it may be off.
fn mark(place: &Place, point: &Point) -> Markup {
    let x = format!("{:.1}", place.x(point.on));
    let [y, top, foot] = [0.0, point.expanded_u, -point.expanded_u]
        .map(|off| format!("{:.1}", place.y(point.value + off)));
    html! {
        line .doubt x1=(x) x2=(x) y1=(top) y2=(foot) {}
        circle .one-year r="4" cx=(x) cy=(y) {}
    }
}
