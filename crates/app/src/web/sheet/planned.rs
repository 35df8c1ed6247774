//! Section 2: the plan, as it is to be read before voltage is on.

use maud::{Markup, PreEscaped, html};
use plan::Plan;
use plan::course::{
    Alternative, Descent, EndAt, Link, PlanIssue, ResistanceTest, Severity, Step, When,
};
use plan::words::{distances_not_taken, duration, kilovolts, metres_and_feet, not_met};
use quantity::Length;
use report::digits::span_up;
use standards::{Citation, Mark};

use super::{asked, at_hand, fields, mentions};
use crate::show;
use crate::show::plan::{band, significant};
use crate::web::chart;

/// Where a plan stands: beside the form it is made from, or sealed in a record.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Beside<'a> {
    /// The form of the sheet that has this name.
    Form(&'a str),
    Record,
}

/// What still matters of a plan when it is folded.
pub(super) fn line(plan: &Plan) -> String {
    let (Some(test), Some(hold)) = (plan.test, plan.hold) else {
        return "Refused: do not run this test".to_owned();
    };
    let polarity = polarity(plan);
    let steps = show::plan::count(plan.course.len(), "step");
    let trip = plan.trip.map_or_else(|| "not known".to_owned(), |trip| format!("{trip:.2}"));
    let ground = plan.descent.as_ref().map(|down| span_up(down.ground));
    let ground = ground.map(|ground| format!(", ground {ground}")).unwrap_or_default();
    format!("{} {polarity}, {steps}, hold {}, trip {trip}{ground}", kilovolts(test), duration(hold))
}

/// The plan of a record.
pub(super) fn told(plan: &Plan) -> Markup {
    shown(plan, Beside::Record)
}

/// The whole plan.
pub(super) fn shown(plan: &Plan, beside: Beside<'_>) -> Markup {
    if plan.is_refused() || plan.test.is_none() {
        return refused(plan, beside);
    }
    html! {
        (head(plan))
        (issues(plan, Severity::Warn, beside))
        (instead(plan))
        (level(plan, beside))
        (issues(plan, Severity::Note, beside))
        (at_hand::compared(&plan.sets))
        (chart::planned(plan))
        (asked::before(&plan.ready, beside, &asked::plain))
        (connection(plan))
        @if let Some(test) = &plan.resistance_test { (resistance(test)) }
        (course(plan))
        @if let Some(down) = &plan.descent { (descent(plan, down)) }
        (distances(plan))
        (judged(plan))
        (afterwards(plan))
        (asked::after(&plan.ready, None))
        (sources(plan))
    }
}

/// What must not be run: why, what instead, and what is published.
fn refused(plan: &Plan, beside: Beside<'_>) -> Markup {
    html! {
        p .refused { span aria-hidden="true" { "✕ " } "Do not run this test" }
        (issues(plan, Severity::Refuse, beside))
        @if plan.connection.link == Link::None { (drawing(plan)) }
        (instead(plan))
        (at_hand::compared(&plan.sets))
        (level(plan, beside))
        (issues(plan, Severity::Warn, beside))
        (issues(plan, Severity::Note, beside))
        (sources(plan))
    }
}

/// Published tests to take in place of this one.
fn instead(plan: &Plan) -> Markup {
    html! {
        @if !plan.instead.is_empty() {
            h3 { "Published tests to take instead" }
            ul { @for one in &plan.instead { li { (one.method) ". " (cited(&one.source)) } } }
        }
    }
}

fn polarity(plan: &Plan) -> &'static str {
    match plan.polarity {
        plan::job::Polarity::Negative => "negative",
        plan::job::Polarity::Positive => "positive",
    }
}

/// The few numbers that a hand sets.
fn head(plan: &Plan) -> Markup {
    let unknown = || "not known".to_owned();
    html! {
        dl .plan-figures {
            @if let Some(test) = plan.test {
                div { dt { "Level, " (polarity(plan)) } dd .large { (kilovolts(test)) } }
            }
            @if let Some(hold) = plan.hold {
                div { dt { "Hold" } dd .large { (duration(hold)) } }
            }
            div { dt { "Steps" } dd .large { (plan.course.len()) } }
            div {
                dt { "Trip for the hold" }
                dd .large { (plan.trip.map_or_else(unknown, |trip| format!("{trip:.2}"))) }
            }
            @if let Some(down) = &plan.descent {
                div { dt { "Solid ground at least" } dd .large { (span_up(down.ground)) } }
            }
            @if let Some(whole) = plan.duration {
                div {
                    dt { "Each " (show::plan::piece(plan.class)) " takes" }
                    dd .large { (duration(whole)) }
                }
            }
        }
        p {
            "Tested one by one: " (plan.conductors.join(", ")) ". "
            "Voltmeter " (plan.voltmeter_range.map_or_else(unknown, kilovolts)) ", ammeter "
            (plan.ammeter_range.map_or_else(unknown, |range| format!("{range:.3}")))
            " for the hold. " (show::plan::range_changes(plan).join(" "))
        }
        @if plan.sets.len() > 1 {
            h3 { "Sets at hand" }
            @for set in &plan.sets {
                p {
                    strong { (set.id) } ": " (if set.fit { "fit" } else { "not fit" })
                    (if set.chosen { ", planned with" } else { "" }) ". " (set.why)
                }
            }
        }
    }
}

fn level(plan: &Plan, beside: Beside<'_>) -> Markup {
    let Some(level) = &plan.level else { return html! {} };
    html! {
        h3 { "Where the level comes from" }
        p {
            (level.how)
            @if let Some(published) = level.published { " = " (kilovolts(published)) }
            @if let Some(cap) = &level.capped_by { ", lowered by the " (cap) }
            ". " (cited(&level.source))
        }
        @if let Some(hold) = level.hold_source.as_ref().filter(|hold| **hold != level.source) {
            p { "Time at it: " (cited(hold)) }
        }
        @if !level.not_taken.is_empty() {
            div .scroll tabindex="0" role="region" aria-label="Not taken" {
                table .steps {
                    caption { "Published for the same question, and not taken" }
                    thead {
                        tr {
                            th scope="col" { "Rule" }
                            th .number scope="col" { "Level" }
                            th .number scope="col" { "Hold" }
                            th scope="col" { "Source" }
                            @if beside != Beside::Record { th scope="col" { "Instead" } }
                        }
                    }
                    tbody { @for other in &level.not_taken { (not_taken(other, beside)) } }
                }
            }
        }
    }
}

fn not_taken(other: &Alternative, beside: Beside<'_>) -> Markup {
    html! {
        tr {
            td { (other.how) br; span .quiet { (other.rule) } }
            td .number {
                (other.voltage.map_or_else(|| "no value printed".to_owned(), kilovolts))
            }
            td .number { (other.hold.map(duration).unwrap_or_default()) }
            td { (cited(&other.source)) }
            @if let Beside::Form(sheet) = beside {
                td {
                    @if other.voltage.is_some() {
                        button form="plates" formaction={ "/sheet/" (sheet) "/kept" }
                            name="kept-rule" value=(other.rule) { "Follow this" }
                    }
                }
            }
        }
    }
}

/// Issues of one weight, what to do about each, the fields that they ask for as links.
fn issues(plan: &Plan, severity: Severity, beside: Beside<'_>) -> Markup {
    let all: Vec<&PlanIssue> =
        plan.issues.iter().filter(|issue| issue.severity == severity).collect();
    if all.is_empty() {
        return html! {};
    }
    html! {
        ul .issues data-severity=(show::plan::severity(severity)) {
            @for issue in all {
                li {
                    strong { (show::plan::severity(severity)) ": " } (words(&issue.text, beside))
                    " " (words(&issue.remedy, beside))
                }
            }
        }
    }
}

/// A sentence of the plan; beside the form, a key it names is the field that writes it.
pub(super) fn words(text: &str, beside: Beside<'_>) -> Markup {
    if beside == Beside::Record {
        return html! { (text) };
    }
    html! {
        @for part in mentions::parts(text) {
            @match part {
                mentions::Part::Plain(text) => (text),
                mentions::Part::Field(field) => {
                    a href={ "#" (fields::anchor(field.path)) } { (field.label) }
                }
            }
        }
    }
}

pub(super) fn connection(plan: &Plan) -> Markup {
    html! {
        h3 { "Connect" }
        ol { @for step in &plan.connection.steps { li { (step) } } }
        p { (show::plan::connected(plan)) }
        (drawing(plan))
        @for meter in &plan.connection.meters { p { (meter.text) } }
        @if let (Some(said), Some(run)) = (plan::words::blank_run(plan), &plan.blank_run) {
            p { (said) " " (cited(&run.source)) }
        }
        @if let Some(line) = plan::words::water_line(plan) {
            p { "Water line to cuff or edge: " (line) "." }
        }
        (cautions(plan, When::Connecting))
    }
}

/// The connection drawn, and the same in words.
fn drawing(plan: &Plan) -> Markup {
    let drawn = report::wiring::wiring(plan);
    html! {
        figure .wiring {
            div .scroll tabindex="0" role="region" aria-label=(drawn.title) {
                (PreEscaped(&drawn.svg))
            }
            figcaption {
                details {
                    summary { "The drawing in words" }
                    ul { @for said in &drawn.sentences { li { (said) } } }
                }
            }
        }
    }
}

fn resistance(test: &ResistanceTest) -> Markup {
    html! {
        h3 { "First: insulation resistance and index" }
        p {
            (kilovolts(test.voltage)) " for " (duration(test.dwell)) ". " (cited(&test.source))
        }
        (readings("Insulation resistance, read at", &test.readings))
        p {
            @if let Some(minimum) = test.minimum {
                "Least resistance at one minute " (format!("{minimum:.3}"))
                @if let Some(at) = test.minimum_at_celsius { (format!(" at {at:.0} °C")) }
                ". "
            }
            @if let Some(index) = test.index_minimum {
                "Least polarization index " (index) ". "
            }
            @if let Some(ground) = test.ground {
                "Then ground for " (span_up(ground)) " before the steps."
            }
        }
    }
}

fn course(plan: &Plan) -> Markup {
    html! {
        h3 { "Steps" }
        div .scroll tabindex="0" role="region" aria-label="Steps" {
            table .steps {
                thead {
                    tr {
                        th .number scope="col" { "Step" }
                        th .number scope="col" { "kV" }
                        th .number scope="col" { "Dial %" }
                        th .number scope="col" { "Rise kV/s" }
                        th .number scope="col" { "Stay" }
                        th .number scope="col" { "Trip" }
                        th .number scope="col" { "Ammeter" }
                        th .number scope="col" { "Expect low / mid / high" }
                    }
                }
                tbody { @for (at, one) in plan.course.iter().enumerate() { (step(at + 1, one)) } }
            }
        }
        @for (at, one) in plan.course.iter().enumerate() {
            @let is_hold = at + 1 == plan.course.len();
            @if is_hold || one.readings.len() > 1 {
                @let name = if is_hold { "Hold".to_owned() } else { format!("Step {}", at + 1) };
                (readings(&format!("{name}, read at"), &one.readings))
            }
        }
        (ramp(plan))
        @if let (Some(charging), Some(stored)) = (plan.charging, plan.stored_most) {
            p {
                (format!("Charging current {charging:.2}. Stored at the level: up to {stored:.3}."))
            }
        }
        (capacitance(plan))
        (cautions(plan, When::Energised))
    }
}

/// What is read on the way up of a ramp.
fn ramp(plan: &Plan) -> Markup {
    html! {
        @if !plan.ramp_readings.is_empty() {
            div .scroll tabindex="0" role="region" aria-label="On the way up" {
                table .steps {
                    caption { "On the way up, read as the needle passes" }
                    thead {
                        tr {
                            th .number scope="col" { "kV" }
                            th .number scope="col" { "After" }
                            th .number scope="col" { "Expect low / mid / high" }
                        }
                    }
                    tbody {
                        @for one in &plan.ramp_readings {
                            tr {
                                td .number { (kilovolts(one.level).trim_end_matches(" kV")) }
                                td .number { (duration(one.since_start)) }
                                td .number { (band(&one.expected)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// By what the readings will be judged.
fn judged(plan: &Plan) -> Markup {
    html! {
        @if !plan.judged.is_empty() {
            h3 { "Judged by" }
            ul {
                @for one in &plan.judged {
                    li { (one.text) (not_met(one)) " " (cited(&one.source)) }
                }
            }
        }
    }
}

fn step(number: usize, step: &Step) -> Markup {
    let dash = || "–".to_owned();
    html! {
        tr {
            td .number { (number) }
            td .number { (kilovolts(step.level).trim_end_matches(" kV")) }
            td .number { (step.dial.map_or_else(dash, |dial| format!("{:.0}", dial.percent()))) }
            td .number { (significant(step.rise.kilovolts_per_second())) }
            td .number { (duration(step.dwell)) }
            td .number { (step.trip.map_or_else(dash, |trip| format!("{trip:.2}"))) }
            td .number {
                (step.ammeter_range.map_or_else(dash, |range| format!("{range:.3}")))
            }
            td .number { (band(&step.expected)) }
        }
    }
}

fn readings(caption: &str, all: &[plan::course::ExpectedReading]) -> Markup {
    html! {
        h4 { (caption) }
        dl .readings {
            @for one in all { div { dt { (duration(one.at)) } dd { (band(&one.expected)) } } }
        }
    }
}

fn capacitance(plan: &Plan) -> Markup {
    let (Some(c), Some(band)) = (plan.capacitance, plan.capacitance_band) else {
        return html! {};
    };
    html! {
        p {
            (format!("Planned with {c:.3}, from {:.3} to {:.3}. ", band.low, band.high))
            @if let Some(from) = &plan.capacitance_from { (cited(from)) }
        }
    }
}

fn descent(plan: &Plan, down: &Descent) -> Markup {
    html! {
        h3 { "Down, discharge, ground" }
        ol {
            li {
                "Dial to zero; let the needle fall; set off. Write the residual kilovolts."
                @if let Some(bleed) = down.bleed_to_tenth {
                    " Through the set's own path: " (duration(bleed)) " to a tenth."
                }
                @if let Some(floor) = down.meter_floor {
                    (format!(" Below {floor:.2} the kilovolt meter cannot tell."))
                }
            }
            li { (show::plan::first_on(down)) }
            li {
                strong { "Solid ground on for " (span_up(down.ground)) }
                ", decided by " (show::plan::ground_by(down.ground_by)) ". "
                (show::plan::comes_back(down))
            }
        }
        p { "Hazardous until grounded." }
        (cautions(plan, When::ComingDown))
    }
}

pub(super) fn distances(plan: &Plan) -> Markup {
    let Some(clear) = &plan.clearance else { return html! {} };
    html! {
        h3 { "Distances" }
        @if clear.ends.is_empty() {
            (figures(clear.barrier, clear.restricted, clear.strike))
        }
        @for end in &clear.ends {
            h4 { (end_name(end.end)) ": " (end.what) }
            (figures(end.barrier, end.restricted, end.strike))
        }
        p {
            (cited(&clear.source))
            " The barrier is no minimum approach distance: nobody works between the two."
        }
        (other_distances(plan))
        @if let Some(air) = plan::words::air(&plan.air) {
            p { "Air: " (air) ". " @if let Some(source) = &plan.air.source { (cited(source)) } }
        }
        (cautions(plan, When::Before))
    }
}

fn figures(barrier: Length, restricted: Length, strike: Length) -> Markup {
    html! {
        dl .plan-figures {
            div { dt { "Barrier" } dd { (metres_and_feet(barrier)) } }
            div { dt { "No body or tool inside" } dd { (metres_and_feet(restricted)) } }
            div { dt { "Air may strike across" } dd { (metres_and_feet(strike)) } }
        }
    }
}

const fn end_name(end: EndAt) -> &'static str {
    match end {
        EndAt::Near => "Near end",
        EndAt::Far => "Far end",
    }
}

fn other_distances(plan: &Plan) -> Markup {
    let others = distances_not_taken(plan);
    html! {
        @if !others.is_empty() {
            details {
                summary { "Other distances, not taken (" (others.len()) ")" }
                ul { @for other in others { li { (other.text) ". " (cited(other.source)) } } }
            }
        }
    }
}

fn afterwards(plan: &Plan) -> Markup {
    let after = cautions(plan, When::After);
    html! { (after) }
}

/// The cautions that belong here.
fn cautions(plan: &Plan, when: When) -> Markup {
    html! {
        @for one in plan.cautions.iter().filter(|one| one.when == when) {
            p .caution {
                span aria-hidden="true" { "▲ " } strong { "Caution: " } (one.text) " "
                span .quiet {
                    "(" @if one.mark != Mark::Practice { (one.source) "; " }
                    (show::plan::mark(one.mark)) ")"
                }
            }
        }
    }
}

fn sources(plan: &Plan) -> Markup {
    html! {
        details .sources {
            summary { h3 { "Published values used (" (plan.sources.len()) ")" } }
            ul { @for source in &plan.sources { li { (cited(source)) } } }
        }
    }
}

/// A source with its mark in words, and the way to where the value stands and is used.
pub(super) fn cited(source: &Citation) -> Markup {
    let Some((edition, rule)) = source.id.split_once('/') else {
        return html! { span .cited { (show::plan::cited(source)) } };
    };
    html! {
        a .cited data-mark=(source.mark.key()) href={ "/values/" (edition) "#" (rule) } {
            (show::plan::cited(source))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cable(connection: &str) -> Plan {
        let text = include_str!("../../../../../docs/examples/cable.toml");
        let text = text.replace("[connection]", &format!("[connection]\n{connection}"));
        let job = plan::job_file::parse(&text).expect("the example is a job");
        plan::plan(&job, &standards::Library::published())
    }

    #[test]
    fn the_drawing_stands_in_the_plan_with_its_words_and_every_end() {
        for rings in ["", "guard = \"both-ends\"\nmeter_at = \"high-voltage-end\""] {
            let plan = cable(rings);
            let page = told(&plan).into_string();
            assert!(page.contains("<svg") && page.contains(">LINK<"), "{rings}");
            assert_eq!(page.contains("guard rings"), !rings.is_empty());
            for said in report::wiring::wiring(&plan).sentences {
                assert!(page.contains(&html! { (said) }.into_string()), "`{said}` is not said");
            }
            for end in ["Near end: ", "Far end: "] {
                assert!(page.contains(end), "{end}");
            }
            for one in &plan.judged {
                assert!(page.contains(&html! { (one.text) }.into_string()), "{}", one.id);
            }
            assert_eq!(page.contains("Blank run"), plan.blank_run.is_some(), "{rings}");
            assert!(!page.contains("style="), "a strict page takes no look from its markup");
        }
    }
    #[test]
    fn what_is_read_on_the_way_up_of_a_ramp_stands_on_the_page() {
        let text = include_str!("../../../tests/vectors/stator-staircase.toml");
        let job = plan::job_file::parse(&text.replace("\"step\"", "\"ramp\""));
        let plan = plan::plan(&job.expect("a job"), &standards::Library::published());
        assert!(!plan.ramp_readings.is_empty(), "{:?}", plan.issues);
        let page = told(&plan).into_string();
        for one in &plan.ramp_readings {
            let row = html! {
                td .number { (duration(one.since_start)) }
                td .number { (band(&one.expected)) }
            };
            assert!(page.contains(&row.into_string()), "{:.1}", one.level);
        }
    }
}
