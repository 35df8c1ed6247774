//! Section 5: down and grounded. How it ended, what was left, what discharged it, and which ground
//! is on what, since when, handed to whom.

use maud::{Markup, html};
use plan::course::{Descent, GroundBy};
use plan::measured::GivesBack;
use quantity::Time;
use report::digits::{kilovolts, span, span_up};
use session::act::Act;
use session::record::Moment;
use session::{Entry, Event};

use super::hand;
use super::ready::said;
use super::state::{Section, Sheet};

/// What was done to one conductor after the last voltage on it.
#[derive(Default)]
struct Way<'a> {
    energised: bool,
    residuals: Vec<(&'a Entry, String)>,
    tool: Option<&'a Entry>,
    ground: Option<&'a Entry>,
    /// The moment at which the last ground came off.
    off: Option<Moment>,
    /// The longest ground that its own tests asked for, and what lengthened it.
    longer: Option<(Time, GroundBy)>,
    released: Option<&'a Entry>,
    grounds: Vec<&'a str>,
}

pub(super) fn line(sheet: &Sheet) -> String {
    if sheet.view.is_none() {
        return "Not recorded: written down elsewhere".to_owned();
    }
    let told: Vec<String> = sheet
        .record
        .plan
        .conductors
        .iter()
        .filter_map(|name| {
            let way = Way::of(sheet, name);
            way.energised.then(|| format!("{name} {}", way.line(sheet)))
        })
        .collect();
    if told.is_empty() { "Nothing was energised".to_owned() } else { told.join("; ") }
}

pub(super) fn under(sheet: &Sheet) -> Markup {
    let named = sheet.record.plan.conductors.iter().map(|name| (name, Way::of(sheet, name)));
    html! {
        (hand(sheet, Section::Down))
        @if sheet.view.is_none() {
            p {
                "Grounds and discharge of a test that was written down elsewhere are not in its "
                "record."
            }
        }
        @for (name, way) in named.filter(|(_, way)| way.energised) {
            (conductor(sheet, name, &way))
        }
        @if sheet.view.is_some() { (register(sheet)) }
    }
}

fn conductor(sheet: &Sheet, name: &str, way: &Way<'_>) -> Markup {
    let planned = sheet.record.plan.descent.as_ref();
    html! {
        h3 { (report::words::piece(sheet.record.plan.class)) " " (name) }
        dl .way {
            div { dt { "Voltage left" } dd {
                @for (entry, left) in &way.residuals {
                    div { (left) " " span .quiet { (said(entry)) } }
                }
                @if way.residuals.is_empty() { "not read" }
            } }
            div { dt { "Tool" } dd {
                @match way.tool {
                    Some(entry) => { "laid on " (said(entry)) },
                    None => "not recorded",
                }
            } }
            div { dt { "Solid ground" } dd {
                @match way.ground { Some(entry) => { "on " (said(entry)) }, None => "not recorded" }
            } }
            @if let Some(time) = way.lasted(sheet) {
                div { dt { "Was on for" } dd .number { (span(time)) } }
            }
            @if let Some(down) = planned {
                @let (ground, by) = way.is_to_be_on(down);
                div { dt { "Is to be on for" } dd .number {
                    (span_up(ground)) " " span .quiet { (report::words::ground_by(by)) }
                } }
            }
            div { dt { "Handed back" } dd {
                @match way.released { Some(entry) => (said(entry)), None => "not yet" }
            } }
        }
    }
}

/// Every ground that was put on in this test.
pub(super) fn register(sheet: &Sheet) -> Markup {
    let rows = report::grounds::ground_rows(&sheet.record).unwrap_or_default();
    html! {
        h3 { "Grounds" }
        @if rows.is_empty() { p { "No ground was recorded." } } @else {
            div .scroll tabindex="0" role="region" aria-label="Grounds" {
                table {
                    thead { tr {
                        th scope="col" { "number" } th scope="col" { "place" }
                        th scope="col" { "of" } th scope="col" { "on, by whom" }
                        th scope="col" { "off, by whom" } th scope="col" { "stays on, with whom" }
                    } }
                    tbody { @for row in &rows { tr {
                        th scope="row" { (row.number) } td { (row.place) } td { (row.phase) }
                        td { (row.on) }
                        td { @if row.off.is_empty() { strong { "still on" } } @else { (row.off) } }
                        td { (row.left) }
                    } } }
                }
            }
        }
    }
}

impl<'a> Way<'a> {
    fn of(sheet: &'a Sheet, name: &str) -> Self {
        let mut way = Self::default();
        for entry in &sheet.record.events {
            match &entry.what {
                Event::Did { phase, act, .. } if phase == name => way.did(entry, act),
                Event::GivesBack { phase, told, .. } if phase == name => way.asks(told),
                _ => {}
            }
        }
        way
    }

    fn did(&mut self, entry: &'a Entry, act: &'a Act) {
        match act {
            Act::Energise => {
                let grounds = std::mem::take(&mut self.grounds);
                let longer = self.longer;
                *self = Self { energised: true, grounds, longer, ..Self::default() };
            }
            Act::Residual { voltage } if self.energised => {
                let left =
                    voltage.map_or_else(|| "below what the meter can tell".to_owned(), kilovolts);
                self.residuals.push((entry, left));
            }
            Act::Tool => (self.tool, self.ground, self.off) = (Some(entry), None, None),
            Act::Ground { number, .. } => {
                if self.ground.is_none() {
                    self.ground = Some(entry);
                }
                self.grounds.push(number);
            }
            Act::Lift { number } => {
                self.grounds.retain(|one| one != number);
                if self.grounds.is_empty() {
                    self.off = entry.at;
                }
            }
            Act::Release => self.released = Some(entry),
            _ => {}
        }
    }

    fn asks(&mut self, told: &GivesBack) {
        let Some(by) = told.longer_by else { return };
        if self.longer.is_none_or(|(ground, _)| told.ground > ground) {
            self.longer = Some((told.ground, by));
        }
    }

    /// As planned, or longer where its own test asked for it: what the screens count to.
    fn is_to_be_on(&self, planned: &Descent) -> (Time, GroundBy) {
        let longer = self.longer.filter(|(ground, _)| *ground > planned.ground);
        longer.unwrap_or((planned.ground, planned.ground_by))
    }

    /// How long the solid ground was on; nothing while it still is.
    fn lasted(&self, sheet: &Sheet) -> Option<Time> {
        if self.off.is_none() && !sheet.is_over() {
            return None;
        }
        let from = self.ground?.at?.since_begun;
        let last = sheet.record.events.iter().rev().find_map(|entry| entry.at);
        Some(self.off.or(last)?.since_begun - from)
    }

    fn line(&self, sheet: &Sheet) -> String {
        let since = self.ground.and_then(|entry| entry.at).map(|at| at.wall.strftime("%H:%M:%SZ"));
        let mut said = vec![match (self.lasted(sheet), since) {
            (Some(time), _) => format!("grounded for {}", span(time)),
            (None, Some(since)) => format!("grounded since {since}"),
            (None, None) => "NO GROUND RECORDED".to_owned(),
        }];
        if self.released.is_some() {
            said.push("handed back".to_owned());
        }
        said.join(", ")
    }
}

#[cfg(test)]
mod tests {
    use quantity::Voltage;

    use super::*;

    #[test]
    fn the_ground_is_to_be_on_as_long_as_the_longest_of_its_tests_asks() {
        let text = include_str!("../../../../../docs/examples/cable.toml");
        let job = plan::job_file::parse(text).expect("it is well formed");
        let made = plan::plan(&job, &standards::Library::published());
        let planned = made.descent.expect("a cable has a way down");
        let asked = |minutes: f64| GivesBack {
            at_voltage: Time::from_minutes(20.0),
            object: None,
            ground: planned.ground + Time::from_minutes(minutes),
            longer_by: Some(GroundBy::TimeAtVoltage),
            rebound: Voltage::ZERO,
            rebound_usual: Voltage::ZERO,
            rebound_after_ground: Voltage::ZERO,
        };
        let mut way = Way::default();
        assert_eq!(way.is_to_be_on(&planned), (planned.ground, planned.ground_by));
        for (minutes, longest) in [(-5.0, 0.0), (30.0, 30.0), (10.0, 30.0)] {
            way.asks(&asked(minutes));
            let expected = planned.ground + Time::from_minutes(longest);
            assert_eq!(way.is_to_be_on(&planned).0, expected, "{minutes}");
        }
    }
}
