//! The curves, compared with the text of a picture that a person has looked at.

mod fixture;

use fixture::{cable_plan, record, stator_plan};
use plan::Plan;
use quantity::{Current, Time, Voltage};
use report::chart::{Chart, Part, Shape, Window, framed, planned, readings_table};
use session::record::Moment;
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

/// Where a page puts a value by a scale that it was handed.
fn handed(scale: &serde_json::Value, value: f64) -> f64 {
    let number = |key: &str| scale[key].as_f64().expect("a scale is numbers");
    let at = if scale["logarithmic"] == true { value.log10() } else { value };
    let share = (at - number("from")) / (number("to") - number("from"));
    number("start") + share * (number("end") - number("start"))
}

#[test]
fn a_reading_lands_where_the_frame_says() {
    let conductor = &conductors(Kind::Test)[1];
    let application = &conductor.applications[0];
    for shape in [Shape::Paper, Shape::Wide, Shape::Narrow] {
        let drawn = report::chart::chart(&cable_plan(), "B", application, shape);
        let drawn = drawn.expect("twenty readings make a chart");
        let frame = serde_json::to_value(&drawn.frame).expect("a frame is numbers under names");
        for one in &application.readings {
            let (voltage, current) = (one.voltage.expect("read"), one.current.expect("read"));
            let x = handed(&frame["time_s"], one.at.seconds());
            let kv = handed(&frame["kv"], voltage.kilovolts());
            let ua = handed(&frame["ua"], current.microamperes());
            for y in [kv, ua] {
                let dot = match shape {
                    Shape::Paper => format!("<circle cx=\"{x:.1}\" cy=\"{y:.1}\""),
                    Shape::Wide | Shape::Narrow => format!("M{x:.1} {y:.1}h0"),
                };
                assert!(drawn.svg.contains(&dot), "{shape:?}: no {dot}");
            }
            assert_eq!(drawn.frame.voltage(one.at, voltage), Some((x, kv)));
            assert_eq!(drawn.frame.current(one.at, current), Some((x, ua)));
        }
    }
}

#[test]
fn a_part_of_the_test_is_cut_at_its_edges() {
    let window = Window {
        from: Time::from_minutes(5.0),
        to: Time::from_minutes(15.0),
        is_part: true,
        highest: Voltage::from_kilovolts(70.0),
        currents: Some((Current::from_microamperes(0.02), Current::from_microamperes(9.0))),
    };
    let drawn = framed(&cable_plan(), "A", Part::Steps, Shape::Wide, &window);
    let drawn = drawn.expect("steps are planned");
    let frame = serde_json::to_value(&drawn.frame).expect("a frame is numbers under names");
    let edge = |key: &str| frame["time_s"][key].as_f64().expect("a number");
    let line = drawn.svg.split("class=\"planned\" d=\"").nth(1).expect("a planned line");
    let places: Vec<f64> = line
        .split('"')
        .next()
        .expect("an end of it")
        .split(['M', 'L'])
        .filter_map(|place| place.split(' ').next()?.parse().ok())
        .collect();
    assert!(places.len() > 2, "{line}");
    assert!(places.iter().all(|x| (edge("start")..=edge("end")).contains(x)), "{places:?}");
    assert!(drawn.svg.contains(">10:00</text>"), "times are written as a clock shows them");
    // What was read has its place: 70 kV below the head, 0.02 µA above the foot.
    assert!(frame["kv"]["to"].as_f64().expect("a number") >= 70.0);
    assert!(frame["ua"]["from"].as_f64().expect("a number") <= 0.02_f64.log10());
}

#[test]
fn late_and_withdrawn_readings_have_shapes_of_their_own() {
    let plan = cable_plan();
    let reading = |at: f64| Reading {
        at: Time::from_seconds(at),
        voltage: plan.test,
        current: Some(Current::from_microamperes(5.0)),
        ..Reading::default()
    };
    // Planned each minute: half of that late, and a second of the clock, is not late.
    let began = Some(Moment { since_begun: Time::ZERO, wall: jiff::Timestamp::UNIX_EPOCH });
    let draw = |gap: f64, withdrawn: Vec<Reading>| {
        let readings = [400.0, 460.0, 460.0 + gap].map(reading).to_vec();
        let application = Application { readings, withdrawn, began, ..Application::default() };
        let drawn = report::chart::chart(&plan, "A", &application, Shape::Wide);
        drawn.expect("three readings make a chart")
    };
    let on_time = draw(91.0, Vec::new());
    assert!(!on_time.svg.contains("class=\"late\""));
    let late = draw(92.0, Vec::new());
    assert_eq!(late.svg.matches("class=\"late\"").count(), 1);
    assert!(late.sentences.concat().contains("1 came late"));
    let struck = draw(60.0, vec![reading(430.0)]);
    // A ring and a stroke in each panel.
    assert_eq!(struck.svg.matches("class=\"withdrawn\"").count(), 4);
    assert!(struck.sentences.concat().contains("1 withdrawn"));
}

#[test]
fn the_words_say_where_the_last_current_lies() {
    let said = |microamperes: f64| {
        let reading = |at| Reading {
            at: Time::from_seconds(at),
            voltage: Some(Voltage::from_kilovolts(65.0)),
            current: Some(Current::from_microamperes(microamperes)),
            ..Reading::default()
        };
        let readings = vec![reading(500.0), reading(560.0)];
        let application = Application { readings, ..Application::default() };
        chart(&cable_plan(), "A", &application).expect("two readings make a chart").sentences
    };
    // The fixture expects 4.2 µA, from a 3.1th of it to 3.4 times as much.
    assert!(said(1.0).concat().contains("below what is expected then (1.4 to 14 µA)"));
    assert!(said(4.0).concat().contains("within what is expected"));
    assert!(said(20.0).concat().contains("above what is expected"));
}

#[test]
fn a_spike_is_drawn_however_many_readings_there_are() {
    let reading = |index: u32| Reading {
        at: Time::from_seconds(f64::from(index) / 10.0),
        voltage: Some(Voltage::from_kilovolts(65.0)),
        current: Some(Current::from_microamperes(match index {
            7001 => 900.0,
            11_999 => 5.0,
            _ => 6.0,
        })),
        ..Reading::default()
    };
    let readings = (0..12_000).map(reading).collect();
    let application = Application { readings, ..Application::default() };
    let drawn = chart(&cable_plan(), "A", &application).expect("enough readings");
    let spike = drawn.frame.current(Time::from_seconds(700.1), Current::from_microamperes(900.0));
    let (x, y) = spike.expect("it has a place");
    assert!(drawn.svg.contains(&format!("L{x:.1} {y:.1}")), "the spike is missing");
    // What a picture is named by is not what was left after it was made smaller.
    let narrow = report::chart::chart(&cable_plan(), "A", &application, Shape::Narrow);
    assert!(narrow.expect("enough readings").svg.contains(">read 5.00 µA</text>"));
    let table = readings_table(&application);
    assert!(table.rows.len() < 400 && table.of == 12_000);
}

#[test]
fn what_is_planned_is_told_in_words() {
    let drawn = planned(&cable_plan(), "A", Part::Steps, Shape::Narrow).expect("steps are planned");
    assert_eq!(
        drawn.sentences.join(" "),
        "Conductor A, test, as planned: to 65 kV, held for 15 min; 20:40 from energising to the \
         end of it. At the end 1.4 to 14 µA is expected. The trip of the hold is 1.5 mA."
    );
    assert_eq!(planned(&fixture::refused_plan(), "A", Part::Steps, Shape::Wide), None);
}
