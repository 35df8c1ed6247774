//! Section 4 when it is over: what was read of each conductor, and the course of events.

use maud::{Markup, html};
use quantity::{Time, Voltage};
use report::course::Course;
use report::digits::{clock, significant, span};
use session::state::End;
use session::{Application, Conductor, Happening};

use super::state::Sheet;
use crate::web::chart;

pub(super) fn line(sheet: &Sheet) -> String {
    let conductors = session::conductors(&sheet.record);
    if conductors.iter().all(|one| one.applications.is_empty()) {
        return "No voltage was recorded".to_owned();
    }
    let told = conductors.iter().filter_map(|one| {
        let (last, before) = one.applications.split_last()?;
        let before: String = before.iter().filter_map(cut_short).collect();
        Some(format!("{} {before}{}", one.phase, amount(last, Told::Folded)))
    });
    told.collect::<Vec<_>>().join("; ")
}

pub(super) fn under(sheet: &Sheet) -> Markup {
    let conductors = session::conductors(&sheet.record);
    html! {
        @if conductors.is_empty() { p { "Nothing was read." } }
        @for one in &conductors { (conductor(sheet, one)) }
        (course(sheet))
    }
}

fn conductor(sheet: &Sheet, one: &Conductor) -> Markup {
    html! {
        h3 { (report::words::piece(sheet.record.plan.class)) " " (one.phase) }
        @for application in &one.applications {
            p { (amount(application, Told::Whole)) }
            @if let Some(cause) = &application.cause { p { "Why it ended: “" (cause) "”" } }
            @for breach in &application.breaches {
                p .fault { "Rule not met: " (breach.not_met()) }
            }
            @if application.retold {
                p .fault { "Its readings came sooner than they can have been taken." }
            }
        }
        (chart::figure(&sheet.record, &one.phase))
    }
}

/// What stays worth a word when voltage was put on again after it.
fn cut_short(application: &Application) -> Option<String> {
    let end = application.end.filter(|end| *end != End::Stopped)?;
    Some(format!("{}, then ", ended(end)))
}

/// How much of it is told.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Told {
    Folded,
    Whole,
}

/// How high, how long, how it ended.
fn amount(application: &Application, told: Told) -> String {
    let read = application.readings.iter().filter_map(|one| one.voltage);
    let highest = read.fold(Voltage::ZERO, Voltage::max);
    let count = application.readings.len();
    let mut said = vec![match count {
        0 => "no reading".to_owned(),
        _ => format!("{} kV", significant(highest.kilovolts(), 3)),
    }];
    if told == Told::Whole && count > 0 {
        said.push(format!("{count} readings"));
    }
    if application.blank {
        said.push("leads and set alone".to_owned());
    }
    said.extend(held(application).map(|time| format!("held {}", span(time))));
    let grave = |what: &Happening| {
        matches!(what, Happening::Trip | Happening::Flashover | Happening::Breakdown)
    };
    let mut seen = application.marks.iter().filter(|(_, what)| grave(what));
    said.extend(match (application.end.map(ended), seen.next()) {
        (Some(end), Some((at, _))) => Some(format!("{end} at {}", clock(*at))),
        (Some(end), None) => Some(end.to_owned()),
        (None, Some((at, what))) => {
            Some(format!("{} at {}", report::words::happening(*what), clock(*at)))
        }
        (None, None) => None,
    });
    said.join(", ")
}

/// From the test level being reached to whatever followed; to the last reading where nothing did.
fn held(application: &Application) -> Option<Time> {
    let marks = &application.marks;
    let at = marks.iter().rposition(|(_, what)| *what == Happening::Hold)?;
    let from = marks[at].0;
    let next = marks.get(at + 1).map(|(when, _)| *when);
    let to = next.or_else(|| application.readings.last().map(|one| one.at))?;
    Some(to - from).filter(|time| *time > Time::ZERO)
}

const fn ended(end: End) -> &'static str {
    match end {
        End::Stopped => "brought down by the dial",
        End::Aborted => "ABORTED",
        End::Tripped => "TRIPPED",
        End::FlashedOver => "FLASHED OVER",
        End::BrokeDown => "BROKE DOWN",
    }
}

/// Everything that was said or seen, in order.
fn course(sheet: &Sheet) -> Markup {
    let course = Course::of(&sheet.record);
    html! {
        @if !course.rows.is_empty() {
            details .course id="course" {
                summary {
                    h3 { "Course of events" }
                    span .line { (course.rows.len() + course.left_out) " lines" }
                }
                p .quiet { "Wall times are universal time (Z). The clock runs from energising." }
                div .scroll tabindex="0" role="region" aria-label="Course of events" {
                    table {
                        thead { tr {
                            th scope="col" { "wall time" } th scope="col" { "clock" }
                            th scope="col" { "of" } th scope="col" { "what" }
                            th scope="col" { "by whom" }
                        } }
                        tbody {
                            @for (index, row) in course.rows.iter().enumerate() {
                                @if course.left_out > 0 && index == course.cut_after {
                                    tr { td colspan="5" {
                                        (course.left_out) " more lines stand in the record (JSON)"
                                    } }
                                }
                                tr {
                                    td .number { (row.wall) } td .number { (row.clock) }
                                    td { (row.phase) }
                                    td {
                                        @if row.grave { strong { (row.what) } }
                                        @else { (row.what) }
                                    }
                                    td { (row.by) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}
