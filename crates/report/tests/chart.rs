//! The curves, compared with the text of a picture that a person has looked at.

mod fixture;

use fixture::{cable_plan, record, stator_plan};
use plan::Plan;
use quantity::{Current, Time, Voltage};
use report::chart::{Chart, Shape};
use session::{Application, Conductor, Happening, Kind, Reading};

fn chart(plan: &Plan, conductor: &str, application: &Application) -> Option<Chart> {
    report::chart::chart(plan, conductor, application, Shape::Paper)
}

fn conductors(kind: Kind) -> Vec<Conductor> {
    session::conductors(&record(cable_plan(), kind))
}

#[test]
fn the_picture_is_the_one_that_was_looked_at() {
    let conductor = &conductors(Kind::Test)[1];
    let drawn = chart(&cable_plan(), &conductor.phase, &conductor.applications[0]);
    let svg = drawn.expect("twenty readings make a chart").svg;
    let fresh = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join("chart.svg");
    std::fs::write(&fresh, &svg).expect("the target folder can be written");
    let golden = include_str!("golden/chart.svg");
    assert!(
        svg == golden,
        "the picture changed: look at {} and, if it is right, copy it over tests/golden/chart.svg",
        fresh.display()
    );
}

#[test]
fn what_a_logarithm_cannot_hold_has_a_shape_of_its_own() {
    let reading = |at, current: Option<f64>, overload| Reading {
        at: Time::from_seconds(at),
        voltage: Some(Voltage::from_kilovolts(10.0)),
        current: current.map(Current::from_microamperes),
        overload,
        ..Reading::default()
    };
    let draw = |odd: Reading| {
        let readings = vec![reading(10.0, Some(5.0), false), odd, reading(30.0, Some(4.0), false)];
        let application = Application { readings, ..Application::default() };
        chart(&cable_plan(), "A", &application).expect("three readings make a chart").svg
    };
    let lines = |svg: &str| svg.matches("<path").count();
    let plain = lines(&draw(reading(20.0, Some(3.0), false)));
    assert_eq!(lines(&draw(reading(20.0, None, true))), plain + 2, "a cross");
    assert_eq!(lines(&draw(reading(20.0, None, false))), plain + 1, "a tick");
    assert_eq!(lines(&draw(reading(20.0, Some(-0.2), false))), plain + 1, "a triangle");
}

#[test]
fn a_breakdown_is_named_where_it_happened() {
    let mut application = conductors(Kind::Test).remove(0).applications.remove(0);
    application.marks.push((Time::from_seconds(700.0), Happening::Breakdown));
    let drawn = chart(&cable_plan(), "A", &application).expect("enough readings");
    assert!(drawn.svg.contains(">BREAKDOWN</text>"));
    assert!(drawn.sentences.concat().contains("BREAKDOWN at 11:40"));
}

#[test]
fn the_insulation_resistance_test_is_drawn_against_its_own_plan() {
    let plan = stator_plan();
    let test = plan.resistance_test.as_ref().expect("the stator has one");
    let read = |one: &plan::course::ExpectedReading| Reading {
        at: one.since_start,
        voltage: Some(test.voltage),
        current: Some(one.expected.mid),
        ..Reading::default()
    };
    let readings = test.readings.iter().map(read).collect();
    let application = Application { readings, ..Application::default() };
    let drawn = chart(&plan, "A", &application).expect("eleven readings make a chart");
    assert_eq!(drawn.title, "Phase A, insulation resistance");
    assert!(!drawn.svg.contains("trip"), "that test has no trip of its own");
    assert!(drawn.svg.contains("planned 5 kV"));
}

#[test]
fn one_reading_is_no_curve() {
    let application = Application { readings: vec![Reading::default()], ..Application::default() };
    assert_eq!(chart(&cable_plan(), "A", &application), None);
}
