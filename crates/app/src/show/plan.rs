//! A plan as readable text, in the order of the work.

use std::fmt::Write as _;

use plan::Plan;
use plan::course::{Descent, GroundBy, Line, RangeChange, Severity, Step, When};
use plan::job::{AssetClass, Method};
pub(crate) use plan::words::connected;
use plan::words::{
    blank_run, distances_not_taken, duration, ends, grounds_not_taken, kilovolts, metres_and_feet,
    not_met, water_line,
};
use quantity::{Band, Current, engineering};
use report::digits::span_up;
use standards::{Citation, Mark};

use super::wrapped;

pub(super) const WIDTH: usize = 100;

/// The whole plan.
pub(crate) fn text(plan: &Plan) -> String {
    let mut out = String::new();
    head(plan, &mut out);
    issues(plan, &mut out);
    instead(plan, &mut out);
    sets(plan, &mut out);
    if !plan.course.is_empty() {
        super::ready::before(&plan.ready, &mut out);
        checklist(plan, &mut out);
        connection(plan, &mut out);
        resistance(plan, &mut out);
        course(plan, &mut out);
        descent(plan, &mut out);
        clearance(plan, &mut out);
        judged(plan, &mut out);
        cautions(plan, &mut out);
        super::ready::after(&plan.ready, &mut out);
    }
    sources(plan, &mut out);
    out
}

fn head(plan: &Plan, out: &mut String) {
    line!(out, "{} · {}", plan.asset, plan.object);
    match (plan.test, plan.hold) {
        (Some(test), Some(hold)) if !plan.is_refused() => {
            let polarity = format!("{:?}", plan.polarity).to_lowercase();
            let (most, hold) = match plan.method {
                Method::Reference => ("At most ", "stop at the reference current".to_owned()),
                _ => ("", format!("hold {}", duration(hold))),
            };
            line!(
                out,
                "{most}{} {polarity}, {}, {hold}, trip {}",
                kilovolts(test),
                count(plan.course.len(), "step"),
                plan.trip.map_or_else(|| "not known".to_owned(), |trip| format!("{trip:.2}")),
            );
        }
        _ => line!(out, "DO NOT RUN THIS TEST"),
    }
    if let Some(level) = &plan.level {
        line!(out, "Level: {}, {}", level.how, cited(&level.source));
        if let Some(hold) = level.hold_source.as_ref().filter(|hold| **hold != level.source) {
            line!(out, "Hold: {}", cited(hold));
        }
        for other in &level.not_taken {
            let value = other.voltage.map_or_else(|| "no value printed".to_owned(), kilovolts);
            line!(out, "  not taken: {} = {value}, {}", other.how, cited(&other.source));
        }
    }
}

fn issues(plan: &Plan, out: &mut String) {
    for issue in &plan.issues {
        let word = severity(issue.severity);
        let said = format!("{} {}", issue.text, issue.remedy);
        line!(out, "{word:<8} {}", wrapped(&said, WIDTH, 9));
    }
}

fn instead(plan: &Plan, out: &mut String) {
    if plan.instead.is_empty() {
        return;
    }
    section("Published tests to take instead", out);
    for one in &plan.instead {
        line!(out, "- {}", wrapped(&format!("{}: {}", one.method, cited(&one.source)), WIDTH, 2));
    }
}

fn checklist(plan: &Plan, out: &mut String) {
    section("Before voltage", out);
    let lines = plan.checklist.iter().filter(|line| line.when <= When::Connecting);
    for (at, item) in lines.enumerate() {
        tick(&format!("{} ", at + 1), item, out);
    }
}

/// A line to be ticked, behind the number that a live test knows it by.
fn tick(number: &str, item: &Line, out: &mut String) {
    let hold = if item.hold_point { "HOLD POINT. " } else { "" };
    let said = format!("{number}{hold}{} ({})", item.text, cited(&item.source));
    line!(out, "[ ] {}", wrapped(&said, WIDTH, 4));
}

fn connection(plan: &Plan, out: &mut String) {
    section("Connect", out);
    for (number, step) in plan.connection.steps.iter().enumerate() {
        line!(out, "{}. {}", number + 1, wrapped(step, WIDTH, 3));
    }
    line!(out, "{}", wrapped(&connected(plan), WIDTH, 0));
    for meter in &plan.connection.meters {
        line!(out, "{}", wrapped(&meter.text, WIDTH, 0));
    }
    if let (Some(said), Some(run)) = (blank_run(plan), &plan.blank_run) {
        line!(out, "{}", wrapped(&format!("{said} ({})", cited(&run.source)), WIDTH, 0));
    }
    if let Some(line) = water_line(plan) {
        line!(out, "Water line to cuff or edge: {line}.");
    }
    let range = |value: Option<String>| value.unwrap_or_else(|| "not known".to_owned());
    line!(
        out,
        "Ranges: voltmeter {}, ammeter {} for the hold; they change only where it is said.",
        range(plan.voltmeter_range.map(kilovolts)),
        range(plan.ammeter_range.map(|range| format!("{range:.3}"))),
    );
}

fn resistance(plan: &Plan, out: &mut String) {
    let Some(test) = &plan.resistance_test else { return };
    section("Insulation resistance and index, before the steps", out);
    line!(out, "{} for {}, {}", kilovolts(test.voltage), duration(test.dwell), cited(&test.source));
    for reading in &test.readings {
        line!(out, "  at {:<8} {}", duration(reading.at), band(&reading.expected));
    }
    if let Some(minimum) = test.minimum {
        let at = test.minimum_at_celsius.map_or_else(String::new, |c| format!(" at {c:.0} °C"));
        line!(out, "Least resistance at one minute: {minimum:.3}{at}.");
    }
    if let Some(index) = test.index_minimum {
        line!(out, "Least polarization index: {index}.");
    }
    if let Some(ground) = test.ground {
        line!(out, "Then ground for {} before the steps.", span_up(ground));
    }
}

fn course(plan: &Plan, out: &mut String) {
    let title = match plan.conductors.as_slice() {
        [_] => "The test".to_owned(),
        _ => format!("The test, each {} alone", piece(plan.class)),
    };
    section(&title, out);
    line!(out, "Tested: {}", tested(plan));
    line!(
        out,
        "{:>4} {:>9} {:>7} {:>10} {:>9} {:>9}   expected µA low / mid / high",
        "step",
        "kV",
        "dial %",
        "rise kV/s",
        "trip",
        "stay"
    );
    for (number, step) in plan.course.iter().enumerate() {
        course_row(number + 1, step, out);
    }
    for (number, step) in plan.course.iter().enumerate() {
        let hold = number + 1 == plan.course.len();
        if hold {
            let last = if plan.method == Method::Reference { "Last step" } else { "Hold" };
            line!(out, "{last}, read at:");
        } else if step.readings.len() > 1 {
            line!(out, "Step {}, read at:", number + 1);
        } else {
            continue;
        }
        for reading in &step.readings {
            line!(out, "  {:<8} {}", duration(reading.at), band(&reading.expected));
        }
    }
    if !plan.ramp_readings.is_empty() {
        line!(out, "On the way up, read as the needle passes:");
        line!(out, "{:>9} {:>9}   expected µA low / mid / high", "kV", "after");
        for reading in &plan.ramp_readings {
            line!(
                out,
                "{:>9.3} {:>9}   {}",
                reading.level.kilovolts(),
                duration(reading.since_start),
                band(&reading.expected)
            );
        }
    }
    for said in range_changes(plan) {
        line!(out, "{}", wrapped(&said, WIDTH, 0));
    }
    if let (Some(charging), Some(stored)) = (plan.charging, plan.stored_most) {
        line!(out, "Charging current {charging:.2}. Stored at the level: up to {stored:.3}.");
    }
    if let (Some(whole), Some(down)) = (plan.duration, &plan.descent) {
        let limit = down.touch_limit.volts();
        line!(out, "Each takes {} to below {limit:.0} V.", duration(whole));
    }
}

/// Where the ammeter's range changes, steps that say the same told once.
pub(crate) fn range_changes(plan: &Plan) -> Vec<String> {
    let mut told: Vec<(RangeChange, Vec<usize>)> = Vec::new();
    for (number, step) in plan.course.iter().enumerate() {
        let Some(change) = step.range_change else { continue };
        match told.iter_mut().find(|(known, _)| *known == change) {
            Some((_, steps)) => steps.push(number + 1),
            None => told.push((change, vec![number + 1])),
        }
    }
    let told = told.into_iter().map(|(change, steps)| {
        let steps: Vec<String> = steps.iter().map(ToString::to_string).collect();
        format!(
            "Step {}: rise on {:.3}; at the level change to {:.3}, and leave a gap of {} before \
             the first reading. Never change while reading.",
            steps.join(", "),
            change.from,
            change.to,
            duration(change.gap)
        )
    });
    told.collect()
}

fn sets(plan: &Plan, out: &mut String) {
    if plan.sets.len() < 2 {
        return;
    }
    section("Sets at hand", out);
    for set in &plan.sets {
        let (mark, whose) = (
            if set.fit { "fit" } else { "not fit" },
            if set.chosen { ", planned with" } else { "" },
        );
        line!(out, "{}: {mark}{whose}. {}", set.id, wrapped(&set.why, WIDTH, 0));
    }
}

fn course_row(number: usize, step: &Step, out: &mut String) {
    let dial = step.dial.map_or_else(|| "-".to_owned(), |dial| format!("{:.0}", dial.percent()));
    let trip = step.trip.map_or_else(|| "-".to_owned(), |trip| format!("{trip:.2}"));
    line!(
        out,
        "{number:>4} {:>9.3} {dial:>7} {:>10} {trip:>9} {:>9}   {}",
        step.level.kilovolts(),
        significant(step.rise.kilovolts_per_second()),
        duration(step.dwell),
        band(&step.expected)
    );
}

fn descent(plan: &Plan, out: &mut String) {
    let Some(down) = &plan.descent else { return };
    section("Come down, discharge, ground", out);
    line!(out, "Dial to zero; let the needle fall; set off. Write the residual kilovolts.");
    if let Some(bleed) = down.bleed_to_tenth {
        line!(out, "Through the set's own path: {} to a tenth.", duration(bleed));
    }
    tool(down, out);
    if let Some(floor) = down.meter_floor {
        line!(out, "Below {floor:.2} the kilovolt meter cannot tell. Hazardous until grounded.");
    }
    let by = ground_by(down.ground_by);
    line!(out, "SOLID GROUND ON FOR {} (decided by {by}).", span_up(down.ground));
    for other in grounds_not_taken(plan) {
        let said = format!("not taken: {}; {}", other.text, cited(other.source));
        line!(out, "  {}", wrapped(&said, WIDTH, 4));
    }
    line!(out, "{}", comes_back(down));
}

/// By what the readings will be judged.
fn judged(plan: &Plan, out: &mut String) {
    if plan.judged.is_empty() {
        return;
    }
    section("Judged by", out);
    for one in &plan.judged {
        let said = format!("{}{} ({})", one.text, not_met(one), cited(&one.source));
        line!(out, "- {}", wrapped(&said, WIDTH, 2));
    }
}

fn tool(down: &Descent, out: &mut String) {
    line!(out, "{}", first_on(down));
}

/// What the object comes back to without the solid ground, and after it.
pub(crate) fn comes_back(down: &Descent) -> String {
    let within =
        down.rebound_peak_after.map_or_else(String::new, |at| format!(" within {}", span_up(at)));
    format!(
        "Without it the object would come back to {:.2}{within}; after it, to {:.2}.",
        down.rebound, down.rebound_after_ground
    )
}

/// What is laid on first, and what it takes.
pub(crate) fn first_on(down: &Descent) -> String {
    if !down.resistor_first {
        return "Solid ground at once: the stored energy asks for no resistor first.".to_owned();
    }
    let power = down
        .peak_watts
        .map_or_else(String::new, |watts| format!(" ({})", engineering(watts, "W", 3)));
    let whose = if down.tool_at_hand { "the tool named" } else { "a tool to be brought" };
    format!(
        "Through the resistor first ({:.3}, {whose}): peak {:.2}{power}, {:.3} into it, \
         {} to {:.0} V.",
        down.resistor,
        down.peak,
        down.resistor_energy,
        duration(down.to_limit()),
        down.touch_limit.volts()
    )
}

/// How heavy an issue is, in one word.
pub(crate) const fn severity(severity: Severity) -> &'static str {
    match severity {
        Severity::Refuse => "REFUSED",
        Severity::Warn => "Look",
        Severity::Note => "Note",
    }
}

/// What decided how long the ground stays.
pub(crate) const fn ground_by(by: GroundBy) -> &'static str {
    match by {
        GroundBy::Model => "what the object will give back",
        GroundBy::LateCharge => "charge that may come back late",
        GroundBy::TimeAtVoltage => "the time at voltage, by the published rule",
        GroundBy::PublishedMinimum => "the published minimum",
    }
}

/// What is tested; phases that are joined are said so.
fn tested(plan: &Plan) -> String {
    match plan.conductors.as_slice() {
        [one] if one == "ABC" => "A, B and C joined".to_owned(),
        all => all.join(", "),
    }
}

/// What one of the tested things is called.
pub(crate) const fn piece(class: AssetClass) -> &'static str {
    match class {
        AssetClass::Protective => "piece",
        _ => "conductor",
    }
}

fn clearance(plan: &Plan, out: &mut String) {
    let Some(clear) = &plan.clearance else { return };
    section("Distances", out);
    let both = metres_and_feet;
    line!(
        out,
        "Barrier {}, restricted {}, air may strike across {}. {}",
        both(clear.barrier),
        both(clear.restricted),
        both(clear.strike),
        cited(&clear.source)
    );
    line!(out, "The barrier is no minimum approach distance: nobody works between the two.");
    for end in ends(plan) {
        line!(out, "- {}", wrapped(&end, WIDTH, 2));
    }
    for other in distances_not_taken(plan) {
        let said = format!("not taken: {}; {}", other.text, cited(other.source));
        line!(out, "  {}", wrapped(&said, WIDTH, 4));
    }
    if let Some(air) = air(plan) {
        line!(out, "{}", wrapped(&air, WIDTH, 0));
    }
}

/// The air with where its correction is published; `None` where nothing of it can be said.
fn air(plan: &Plan) -> Option<String> {
    let source =
        plan.air.source.as_ref().map_or_else(String::new, |source| format!(" {}", cited(source)));
    Some(format!("Air: {}.{source}", plan::words::air(&plan.air)?))
}

fn cautions(plan: &Plan, out: &mut String) {
    section("Cautions", out);
    for caution in &plan.cautions {
        let said = match caution.mark {
            Mark::Practice => format!("{} ({})", caution.text, mark(caution.mark)),
            _ => format!("{} ({}; {})", caution.text, caution.source, mark(caution.mark)),
        };
        line!(out, "! {}", wrapped(&said, WIDTH, 2));
    }
    for item in plan.checklist.iter().filter(|line| line.when > When::Connecting) {
        tick("", item, out);
    }
}

fn sources(plan: &Plan, out: &mut String) {
    section("Published values used", out);
    let mut said: Vec<String> = plan.sources.iter().map(cited).collect();
    said.dedup();
    for source in said {
        line!(out, "- {}", wrapped(&source, WIDTH, 2));
    }
}

pub(super) fn section(title: &str, out: &mut String) {
    line!(out);
    line!(out, "{title}");
    line!(out, "{}", "─".repeat(title.chars().count()));
}

/// A citation with its mark, in one line.
pub(crate) fn cited(source: &Citation) -> String {
    match source.mark {
        Mark::Practice => mark(source.mark).to_owned(),
        _ => format!("{source}; {}", mark(source.mark)),
    }
}

/// How sure we are, in words.
pub(crate) fn mark(mark: Mark) -> &'static str {
    match mark {
        Mark::Own => "from your own copy",
        Mark::Seen => "seen",
        Mark::Practice => "common practice, no source",
        Mark::Memory => "from memory, check your copy",
    }
}

/// So many of them.
pub(crate) fn count(number: usize, of: &str) -> String {
    format!("{number} {of}{}", if number == 1 { "" } else { "s" })
}

/// Lowest, middle and highest to expect.
pub(crate) fn band(band: &Band<Current>) -> String {
    let each = |current: Current| significant(current.microamperes());
    format!("{} / {} / {} µA", each(band.low), each(band.mid), each(band.high))
}

/// Three digits.
pub(crate) fn significant(value: f64) -> String {
    engineering(value, "", 3)
}
