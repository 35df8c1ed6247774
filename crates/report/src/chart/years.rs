//! One figure of one conductor over the years: what is compared as round points with their doubt,
//! what is not as open rings, the trend in its band, the published limit.

use jiff::Unit;
use jiff::civil::{Date, date};
use judge::history::{At, Figure, LeftOut, Series};
use quantity::engineering;

use super::frame::{AXIS, BAND, GRID};
use super::scale::Scale;
use super::svg::{Anchor, Pen, Svg};

/// A picture and the words that stand for it.
pub(crate) struct Years {
    pub(crate) svg: String,
    pub(crate) description: String,
}

const WIDE: f64 = 520.0;
const HIGH: f64 = 170.0;
const LEFT: f64 = 62.0;
const RIGHT: f64 = 428.0;
const HEAD: f64 = 16.0;
const FOOT: f64 = 146.0;
/// Names at the edge stand this far apart at least.
const APART: f64 = 11.0;
const DAYS_A_YEAR: f64 = 365.25;
/// Years are written at so many places at most.
const MOST_YEARS: usize = 8;

const POINT: Pen = Pen { name: "point", colour: "#000000", width: 1.0, dash: "" };
const ASIDE: Pen = Pen { name: "aside", colour: "#000000", width: 0.9, dash: "" };
const TREND: Pen = Pen { name: "trend", colour: "#0072b2", width: 1.3, dash: "5 2" };
const LIMIT: Pen = Pen { name: "limit", colour: "#d55e00", width: 1.6, dash: "9 3" };

/// `None` where fewer than two readings can be compared.
pub(crate) fn years(series: &Series) -> Option<Years> {
    if series.points.len() < 2 {
        return None;
    }
    let description = described(series);
    let title = format!("{} of {} over the years", name(series.figure), series.phase);
    let mut picture = Picture::of(series, Svg::paper(WIDE, HIGH, &title, &description));
    picture.axes();
    picture.trend();
    picture.limit();
    picture.aside();
    picture.compared();
    picture.names();
    Some(Years { svg: picture.svg.finish(), description })
}

pub(crate) const fn name(figure: Figure) -> &'static str {
    match figure {
        Figure::InsulationResistance => "Insulation resistance",
        Figure::PolarizationIndex => "Polarization index",
        Figure::Conduction => "Conduction",
    }
}

/// The same for whoever cannot see it.
fn described(series: &Series) -> String {
    let point =
        |one: &judge::history::Point| format!("{} {}", one.on, said(series.figure, one.value, 3));
    let points: Vec<String> = series.points.iter().map(point).collect();
    let rings = aside(series).count();
    let rings = match rings {
        0 => String::new(),
        1 => " One reading that is not compared stands as an open ring.".to_owned(),
        many => format!(" {many} readings that are not compared stand as open rings."),
    };
    let limit = series.limit.as_ref().map_or_else(String::new, |limit| {
        format!(" The limit is a line at {}.", said(series.figure, limit.value, 3))
    });
    let compared = points.join("; ");
    format!("Round points, as compared: {compared}.{rings}{limit} {}", series.text)
}

/// A number of the series in its own unit.
fn said(figure: Figure, value: f64, digits: usize) -> String {
    match figure {
        Figure::InsulationResistance => engineering(value * 1e6, "Ω", digits),
        Figure::PolarizationIndex => engineering(value, "", digits),
        Figure::Conduction => engineering(value * 1e-6, "A", digits),
    }
}

/// What is not compared but has a day and a value.
fn aside(series: &Series) -> impl Iterator<Item = (Date, f64)> {
    let of = |one: &LeftOut| Some((one.on?, one.value_as_read?));
    series.left_out.iter().filter_map(of)
}

/// Years since an arbitrary first of January.
fn year(on: Date) -> f64 {
    let days = date(2000, 1, 1).until((Unit::Day, on)).map_or(0, |span| span.get_days());
    2000.0 + f64::from(days) / DAYS_A_YEAR
}

struct Picture<'a> {
    series: &'a Series,
    svg: Svg,
    x: Scale,
    y: Scale,
    /// Heights and names at the right edge.
    named: Vec<(f64, String)>,
}

impl<'a> Picture<'a> {
    fn of(series: &'a Series, svg: Svg) -> Self {
        let band: &[At] = series.trend.as_ref().map_or(&[], |trend| &trend.band);
        let rings: Vec<(Date, f64)> = aside(series).collect();
        let days = series.points.iter().map(|one| one.on).chain(band.iter().map(|at| at.on));
        let days: Vec<f64> = days.chain(rings.iter().map(|one| one.0)).map(year).collect();
        let first = days.iter().copied().fold(f64::INFINITY, f64::min);
        let last = days.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        // A point on the axis itself would be half a point.
        let room = 0.03 * (last - first).max(0.1);
        let ends = series
            .points
            .iter()
            .flat_map(|one| [one.value, one.value - one.expanded_u, one.value + one.expanded_u]);
        let all = ends
            .chain(series.limit.iter().map(|limit| limit.value))
            .chain(band.iter().map(|at| at.value))
            .chain(rings.iter().map(|one| one.1));
        let logarithmic = series.figure == Figure::InsulationResistance;
        let usable = all.filter(|one| one.is_finite() && (!logarithmic || *one > 0.0));
        let (least, most) = usable.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), one| {
            (one.min(low), one.max(high))
        });
        let y = match logarithmic {
            true => Scale::decades(least, most, FOOT, HEAD),
            false => Scale::between(least.min(0.0), most * 1.05, FOOT, HEAD),
        };
        let x = Scale::between(first - room, last + room, LEFT, RIGHT);
        Self { series, svg, x, y, named: Vec::new() }
    }

    fn place(&self, on: Date, value: f64) -> Option<(f64, f64)> {
        // Below every decade it stands at the foot, where it is seen to be low.
        Some((self.x.place(year(on))?, self.y.place(value).unwrap_or(FOOT)))
    }

    fn axes(&mut self) {
        for tick in self.y.ticks(4) {
            let Some(y) = self.y.place(tick) else { continue };
            self.svg.line(&[(LEFT, y), (RIGHT, y)], GRID);
            let words = said(self.series.figure, tick, 1);
            self.svg.text((LEFT - 4.0, y + 3.0), Anchor::End, false, &words);
        }
        let ticks = self.x.ticks(MOST_YEARS);
        let whole: Vec<f64> = ticks.into_iter().filter(|tick| tick.fract() == 0.0).collect();
        // Within one year its first days are no help, and the days themselves stand there.
        if whole.len() < 2 {
            let days = [self.series.points.first(), self.series.points.last()];
            for on in days.into_iter().flatten().map(|point| point.on) {
                let Some(x) = self.x.place(year(on)) else { continue };
                self.svg.text((x, FOOT + 12.0), Anchor::Middle, false, &on.to_string());
            }
        }
        for tick in whole.iter().filter(|_| whole.len() > 1) {
            let Some(x) = self.x.place(*tick) else { continue };
            self.svg.line(&[(x, FOOT), (x, HEAD)], GRID);
            self.svg.text((x, FOOT + 12.0), Anchor::Middle, false, &format!("{tick:.0}"));
        }
        self.svg.line(&[(LEFT, HEAD), (LEFT, FOOT), (RIGHT, FOOT)], AXIS);
        let title = format!("{} {}", name(self.series.figure), self.series.phase);
        self.svg.text((LEFT + 3.0, HEAD - 5.0), Anchor::Start, true, &title);
    }

    fn trend(&mut self) {
        let band: Vec<At> = self.series.trend.iter().flat_map(|trend| trend.band.clone()).collect();
        let line = |of: fn(&At) -> f64| -> Vec<(f64, f64)> {
            band.iter().filter_map(|at| self.place(at.on, of(at))).collect()
        };
        let (middle, mut edge) = (line(|at| at.value), line(|at| at.high));
        edge.extend(line(|at| at.low).into_iter().rev());
        self.svg.area(&edge, "band", BAND);
        self.svg.line(&middle, TREND);
        let Some(last) = middle.last() else { return };
        // What is not told apart from no change at all is named so.
        let told = self.series.trend.as_ref().is_some_and(|trend| trend.told);
        let name = if told { "trend, 95 %" } else { "no trend told" };
        self.named.push((last.1, name.to_owned()));
    }

    fn limit(&mut self) {
        let Some(limit) = &self.series.limit else { return };
        let Some(y) = self.y.place(limit.value) else { return };
        self.svg.line(&[(LEFT, y), (RIGHT, y)], LIMIT);
        self.named.push((y, format!("limit {}", said(self.series.figure, limit.value, 3))));
    }

    fn aside(&mut self) {
        let places: Vec<(f64, f64)> =
            aside(self.series).filter_map(|(on, value)| self.place(on, value)).collect();
        for place in places {
            self.svg.ring(place, 3.0, ASIDE);
        }
    }

    fn compared(&mut self) {
        let mut places = Vec::new();
        for one in &self.series.points {
            let ends = [one.value - one.expanded_u, one.value + one.expanded_u];
            let ends: Vec<(f64, f64)> =
                ends.into_iter().filter_map(|end| self.place(one.on, end)).collect();
            self.svg.line(&ends, POINT);
            places.extend(self.place(one.on, one.value));
        }
        self.svg.dots(&places, 2.6, POINT);
    }

    /// Names at the right edge, pushed apart where they would lie on each other.
    fn names(&mut self) {
        let mut named = std::mem::take(&mut self.named);
        named.sort_by(|one, other| one.0.total_cmp(&other.0));
        let mut free = f64::NEG_INFINITY;
        for (y, name) in named {
            let y = y.max(free);
            free = y + APART;
            self.svg.text((RIGHT + 6.0, y + 3.0), Anchor::Start, true, &name);
        }
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    /// Invented: three readings a decade apart, one aside, a limit and a trend through them.
    fn series(phase: &str) -> Series {
        let point = |on: &str, value: f64| {
            json!({ "record": "r", "on": on, "value": value, "expanded_u": 0.1 * value,
                    "value_as_read": value, "correction_factor": 1.0 })
        };
        let at = |on: &str, value: f64| {
            let (low, high) = (0.8 * value, 1.2 * value);
            json!({ "on": on, "low": low, "value": value, "high": high })
        };
        let told = json!({
            "figure": "insulation-resistance", "phase": phase, "unit": "MΩ",
            "under": { "at_kv": 5.0, "at_s": 60.0, "polarity": "negative", "to_c": 40.0,
                       "by": null },
            "points": [point("2020-01-01", 10_000.0), point("2022-01-01", 1000.0),
                       point("2024-01-01", 100.0)],
            "left_out": [
                { "record": "r", "on": "2023-01-01", "value_as_read": 300.0, "why": "voltage" },
                { "record": "r", "on": "2021-01-01", "value_as_read": null, "why": "void" }],
            "change": null,
            "trend": { "logarithmic": true, "told": true, "worse": true, "scatter_ratio": 1.0,
                       "per_year": { "low": -70.0, "value": -68.0, "high": -66.0, "unit": "%" },
                       "band": [at("2020-01-01", 10_000.0), at("2024-01-01", 100.0),
                                at("2025-01-01", 31.6)],
                       "text": "" },
            "limit": { "value": 100.0, "source": null, "mark": null, "margin_ratio": 1.0,
                       "reached": null, "why_not": null },
            "text": "It falls.",
        });
        serde_json::from_value(told).expect("a series as it is kept")
    }

    /// The numbers of an attribute, in order.
    fn numbers(svg: &str, with: &str, attribute: &str) -> Vec<f64> {
        let lines = svg.lines().filter(|line| line.starts_with("<circle") && line.contains(with));
        let number = |line: &str| {
            let (_, after) = line.split_once(&format!(" {attribute}=\""))?;
            after.split('"').next()?.parse().ok()
        };
        lines.map(|line| number(line).expect("it has one")).collect()
    }

    #[test]
    fn what_is_compared_is_filled_and_what_is_not_is_hollow() {
        let drawn = years(&series("A")).expect("three can be compared");
        let filled = numbers(&drawn.svg, "fill=\"#000000\"", "cy");
        let hollow = numbers(&drawn.svg, "fill=\"none\"", "cy");
        assert_eq!((filled.len(), hollow.len()), (3, 1));
        // Derived: a decade is as high as the next; half of one is log10 of 3.16.
        assert!((filled[1] - filled[0] - (filled[2] - filled[1])).abs() < 0.11, "{filled:?}");
        let decade = filled[1] - filled[0];
        assert!((hollow[0] - filled[1] - decade * (10.0_f64 / 3.0).log10()).abs() < 0.11);
        // Years stand as far apart as they are.
        let at = numbers(&drawn.svg, "fill=\"#000000\"", "cx");
        assert!((at[1] - at[0] - (at[2] - at[1])).abs() < 0.2, "{at:?}");
    }

    #[test]
    fn its_words_say_what_the_eye_sees() {
        let drawn = years(&series("A<B")).expect("three can be compared");
        for words in ["2020-01-01 10.0 GΩ", "2024-01-01 100 MΩ", "One reading", "line at 100 MΩ"]
        {
            assert!(drawn.description.contains(words), "{words}: {}", drawn.description);
        }
        assert!(drawn.description.ends_with("It falls."));
        for words in [">trend, 95 %<", ">limit 100 MΩ<", ">2022<", ">1 GΩ<", "A&lt;B"] {
            assert!(drawn.svg.contains(words), "{words}: {}", drawn.svg);
        }
        // Their names lie apart although both end at one height.
        let heights = drawn.svg.lines().filter(|line| {
            line.starts_with("<text") && (line.contains("trend") || line.contains("limit"))
        });
        let height = |line: &str| {
            let (_, after) = line.split_once(" y=\"").expect("a place");
            after.split('"').next().and_then(|text| text.parse::<f64>().ok()).expect("a number")
        };
        let heights: Vec<f64> = heights.map(height).collect();
        assert!((heights[1] - heights[0]).abs() >= APART - 0.05, "{heights:?}");
    }

    #[test]
    fn one_reading_is_no_picture() {
        let mut alone = series("A");
        alone.points.truncate(1);
        assert!(years(&alone).is_none());
    }
}
