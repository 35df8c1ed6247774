//! Curves on a page: what is planned, what was read, and a frame that readings are drawn into while
//! they come.
//!
//! Each picture is there twice, for a wide and for a narrow place; the style sheet shows the one
//! that fits. While a test runs `assets/chart.js` draws readings over the frame, on the places that
//! the frame itself names, and fetches another frame when they outgrow it.

use axum::Router;
use axum::extract::{Path, Query, State};
use axum::routing::get;
use maud::{Markup, PreEscaped, html};
use plan::Plan;
use quantity::{Current, Time, Voltage};
use report::chart::{self, Chart, Part, Shape, Table, Window};
use serde::Deserialize;
use session::{Application, Record};

use super::{Fault, House};

const SHAPES: [(Shape, &str); 2] = [(Shape::Wide, "wide"), (Shape::Narrow, "narrow")];
/// Parts of a test to look at: seconds, and what the button says.
const VIEWS: [(&str, &str); 3] =
    [("", "Whole test"), ("600", "Last 10 min"), ("60", "Last minute")];

pub(super) fn routes() -> Router<House> {
    Router::new().route("/sheet/{id}/chart", get(frame))
}

/// The planned course: curves, sentences, and the steps as a table.
pub(crate) fn planned(plan: &Plan) -> Markup {
    let conductor = plan.conductors.first().map_or("", String::as_str);
    let charts = shapes(|shape| chart::planned(plan, conductor, Part::Steps, shape));
    let Some(charts) = charts else { return html! {} };
    html! {
        figure .chart {
            (frames(&charts))
            (twin(&charts))
            (folded("The steps as a table", &chart::planned_table(plan)))
        }
    }
}

/// What was read on one conductor: a picture for each application of voltage.
pub(crate) fn figure(record: &Record, conductor: &str) -> Markup {
    let conductors = session::conductors(record);
    let applications = conductors.iter().find(|one| one.phase == conductor);
    let applications = applications.map(|one| one.applications.as_slice()).unwrap_or_default();
    html! {
        @for application in applications {
            (applied(&record.plan, conductor, application))
        }
    }
}

/// What was read in one application of voltage.
fn applied(plan: &Plan, conductor: &str, application: &Application) -> Markup {
    let charts = shapes(|shape| chart::chart(plan, conductor, application, shape));
    let Some(charts) = charts else { return html! {} };
    html! {
        figure .chart {
            (frames(&charts))
            (twin(&charts))
            (folded("The readings as a table", &chart::readings_table(application)))
        }
    }
}

/// A frame for readings that are still to come; `resistance` where the insulation resistance test
/// comes first and is what is done now.
pub(crate) fn live(record: &str, plan: &Plan, conductor: &str, resistance: bool) -> Markup {
    let part = part(resistance && plan.resistance_test.is_some());
    let charts = shapes(|shape| chart::planned(plan, conductor, part, shape));
    let Some(charts) = charts else { return html! {} };
    let index = plan.conductors.iter().position(|one| one == conductor).unwrap_or(0);
    let resistance_kv = plan.resistance_test.as_ref().map(|test| test.voltage.kilovolts());
    html! {
        figure .chart .live data-chart=(record) data-conductor=(conductor) data-index=(index)
            data-test=(key(part)) data-resistance-kv=[resistance_kv]
            data-planned-s=(chart::planned_time(plan, part).seconds())
            data-read="read" data-expected-now="expected now"
            aria-label={ "Curves of " (conductor) } tabindex="0" {
            div .plot {
                (frames(&charts))
                canvas aria-hidden="true" data-points="0" {}
            }
            div .views role="group" aria-label="Part of the test that is shown" {
                @for (span, said) in VIEWS {
                    button type="button" data-span=(span) aria-pressed=(span.is_empty()) { (said) }
                }
                button type="button" data-move="-1" { "Earlier" }
                button type="button" data-move="1" { "Later" }
            }
            (twin(&charts))
            p .ahead-said data-live="ahead_said" {}
            details .rows {
                summary { "What is expected from now on, as a table" }
                table {
                    thead {
                        tr { @for name in AHEAD { th scope="col" { (name) } } }
                    }
                    tbody data-ahead {}
                }
            }
            (folded("The steps as a table", &chart::planned_table(plan)))
        }
    }
}

/// What the table of the band from now on has, by what was read so far.
const AHEAD: [&str; 4] = ["From now", "At least", "Middle", "At most"];

/// Which part of a plan, and how much of it, is to be framed.
#[derive(Debug, Deserialize)]
struct Asked {
    conductor: String,
    /// `resistance` or `steps`.
    #[serde(default)]
    test: String,
    #[serde(default)]
    from_s: f64,
    /// Without it: to the planned end.
    to_s: Option<f64>,
    /// The highest voltage read.
    #[serde(default)]
    kv: f64,
    /// The lowest and the highest current above zero that were read.
    least_ua: Option<f64>,
    most_ua: Option<f64>,
}

impl Asked {
    fn window(&self, planned: Time) -> Window {
        let to = self.to_s.map_or(planned, Time::from_seconds);
        let current = |ua: Option<f64>| ua.map(Current::from_microamperes);
        Window {
            from: Time::from_seconds(self.from_s),
            to,
            is_part: self.from_s > 0.0 || to < planned,
            highest: Voltage::from_kilovolts(self.kv),
            currents: current(self.least_ua).zip(current(self.most_ua)),
        }
    }

    /// Whether every number of it is one that a reading can have.
    fn is_sound(&self) -> bool {
        let numbers = [self.to_s, self.least_ua, self.most_ua].into_iter().flatten();
        let mut numbers = numbers.chain([self.from_s, self.kv]);
        numbers.all(|one| (0.0..1e9).contains(&one)) && self.to_s.is_none_or(|to| to > self.from_s)
    }
}

async fn frame(
    State(house): State<House>,
    Path(id): Path<String>,
    Query(asked): Query<Asked>,
) -> Result<Markup, Fault> {
    if !asked.is_sound() {
        return Err(Fault::Refused {
            remedy: "Load the page again".to_owned(),
            detail: "no chart has such an axis".to_owned(),
        });
    }
    let id = house.store.resolve(&id).await?;
    let plan = house.store.head(&id).await?.plan;
    let part = part(asked.test == key(Part::Resistance));
    let window = asked.window(chart::planned_time(&plan, part));
    let charts = shapes(|shape| chart::framed(&plan, &asked.conductor, part, shape, &window));
    Ok(charts.map_or_else(|| html! {}, |charts| frames(&charts)))
}

const fn part(resistance: bool) -> Part {
    if resistance { Part::Resistance } else { Part::Steps }
}

const fn key(part: Part) -> &'static str {
    match part {
        Part::Resistance => "resistance",
        Part::Steps => "steps",
    }
}

/// The same chart for every shape of place, or none.
fn shapes(draw: impl Fn(Shape) -> Option<Chart>) -> Option<Vec<(&'static str, Chart)>> {
    SHAPES.into_iter().map(|(shape, name)| Some((name, draw(shape)?))).collect()
}

fn frames(charts: &[(&str, Chart)]) -> Markup {
    html! {
        div .frames {
            @for (name, chart) in charts {
                div class=(name) data-frame=(as_json(chart)) { (PreEscaped(&chart.svg)) }
            }
        }
    }
}

fn as_json(chart: &Chart) -> String {
    serde_json::to_string(&chart.frame).expect("a frame is numbers under names")
}

fn twin(charts: &[(&str, Chart)]) -> Markup {
    let sentences = charts.first().map(|(_, chart)| chart.sentences.join(" "));
    html! { figcaption { (sentences.unwrap_or_default()) } }
}

fn folded(summary: &str, table: &Table) -> Markup {
    html! {
        details .rows {
            summary { (summary) }
            @if table.rows.len() < table.of {
                p { (table.rows.len()) " of " (table.of) " are listed, evenly spaced." }
            }
            div .scroll tabindex="0" role="region" aria-label=(summary) {
                table {
                    thead { tr { @for name in &table.head { th scope="col" { (name) } } } }
                    tbody {
                        @for row in &table.rows {
                            tr { @for cell in row { td { (cell) } } }
                        }
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cable_plan() -> Plan {
        let text = include_str!("../../../../docs/examples/cable.toml");
        let job = plan::job_file::parse(text).expect("the example is a job");
        plan::plan(&job, &standards::Library::published())
    }

    #[test]
    fn the_style_sheet_knows_every_line() {
        let css = include_str!("assets/chart.css");
        let page = live("record", &cable_plan(), "A", false).into_string();
        let svg = page.split("<svg").skip(1).filter_map(|rest| rest.split("</svg>").next());
        let names: Vec<&str> = svg
            .flat_map(|svg| svg.split("class=\"").skip(1))
            .filter_map(|rest| rest.split('"').next())
            .collect();
        assert!(names.contains(&"band") && names.contains(&"trip"), "{names:?}");
        for name in names {
            assert!(css.contains(&format!(".{name} ")), "no look for .{name}");
        }
        assert!(!page.contains("style="), "a strict page takes no look from its markup");
    }

    #[test]
    fn the_frame_is_there_for_both_shapes_with_its_numbers() {
        let page = live("record", &cable_plan(), "B", false).into_string();
        assert_eq!(page.matches("data-frame=").count(), 2);
        assert!(page.contains("data-index=\"1\""));
        let charts = shapes(|shape| chart::planned(&cable_plan(), "B", Part::Steps, shape));
        for (_, one) in charts.expect("steps are planned") {
            let frame: serde_json::Value =
                serde_json::from_str(&as_json(&one)).expect("it is JSON");
            assert!(frame["time_s"]["to"].as_f64().is_some_and(|to| to > 900.0), "{frame}");
        }
    }

    #[test]
    fn an_axis_that_no_chart_has_is_refused() {
        let asked = |from_s: f64, to_s: Option<f64>, kv: f64| Asked {
            conductor: "A".to_owned(),
            test: "steps".to_owned(),
            from_s,
            to_s,
            kv,
            least_ua: None,
            most_ua: None,
        };
        assert!(asked(0.0, None, 0.0).is_sound());
        assert!(asked(60.0, Some(120.0), 70.0).is_sound());
        for unsound in [
            asked(-1.0, None, 0.0),
            asked(60.0, Some(60.0), 0.0),
            asked(0.0, Some(f64::INFINITY), 0.0),
            asked(0.0, None, f64::NAN),
        ] {
            assert!(!unsound.is_sound(), "{unsound:?}");
        }
    }
}
