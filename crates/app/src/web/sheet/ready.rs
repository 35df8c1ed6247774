//! Section 3: before voltage. What has to be looked at, connected, grounded and kept away from,
//! and who said that it was.

use maud::{Markup, html};
use plan::course::{Line, When};
use session::act::Act;
use session::{Entry, Event};

use super::planned::{self, Beside, cited};
use super::state::{Section, Sheet};
use super::{asked, down, hand, holds};
use crate::web::LONGEST_NAME;

pub(super) fn line(sheet: &Sheet) -> String {
    let told: Vec<String> = sheet
        .record
        .plan
        .conductors
        .iter()
        .filter_map(|name| {
            let entry = checked(sheet, name)?;
            let at = entry.at.map(|at| at.wall.strftime("%H:%MZ").to_string());
            let words = [Some(name.clone()), at, entry.by.clone()];
            Some(words.into_iter().flatten().collect::<Vec<_>>().join(" "))
        })
        .collect();
    let (all, ticks) = (lines(sheet).count(), ticks(sheet));
    let ticks = match ticks {
        0 => String::new(),
        count => format!("; {count} of {all} lines ticked"),
    };
    match (told.is_empty(), sheet.view.is_some()) {
        (false, _) => format!("Checked: {}{ticks}", told.join("; ")),
        (true, true) => format!("Not checked{ticks}"),
        (true, false) => "Not recorded: written down elsewhere".to_owned(),
    }
}

pub(super) fn under(sheet: &Sheet) -> Markup {
    let plan = &sheet.record.plan;
    html! {
        @if sheet.view.is_some() && !sheet.is_over() {
            @if !sheet.is_account { (who(sheet)) }
            @let all = lines(sheet).count();
            @if ticks(sheet) < all {
                p {
                    a href="#checklist" { "The checklist" } ": "
                    (ticks(sheet)) " of " (all) " lines ticked."
                }
            }
            @if !sheet.stage { (holds::not_confirmed(sheet)) }
            (hand(sheet, Section::Before))
        }
        h3 #checklist { "Look at each, in this order" }
        ol .checklist data-of="Checklist" data-stage-acts[sheet.may_tick()] {
            @for (index, one) in lines(sheet).enumerate() { (item(sheet, index + 1, one)) }
        }
        (asked::before(&plan.ready, Beside::Record, &|one, number| {
            holds::question(sheet, one, number)
        }))
        (planned::connection(plan))
        (planned::distances(plan))
        @if sheet.view.is_some() {
            h3 { "Each conductor" }
            ul { @for name in &plan.conductors { li { (conductor(sheet, name)) } } }
            (down::register(sheet))
        }
        (asked::after(&plan.ready, sheet.view.as_ref().map(|_| &sheet.record.events[..])))
        @if sheet.view.is_some() && !sheet.is_over() {
            (readings_from(sheet))
            (barrier(sheet))
        }
    }
}

/// The checklist before voltage.
fn lines(sheet: &Sheet) -> impl Iterator<Item = &Line> {
    sheet.record.plan.checklist.iter().filter(|one| one.when <= When::Connecting)
}

/// How many of its lines are ticked.
fn ticks(sheet: &Sheet) -> usize {
    let events = &sheet.record.events;
    let is_ticked = |(at, one): &(usize, &Line)| {
        holds::ticked(events, Some(at + 1), &one.id, &one.text).is_some()
    };
    lines(sheet).enumerate().filter(is_ticked).count()
}

fn item(sheet: &Sheet, number: usize, one: &Line) -> Markup {
    let ticked = holds::ticked(&sheet.record.events, Some(number), &one.id, &one.text);
    html! {
        li data-ticked[ticked.is_some()] data-hold[one.hold_point] {
            div .row {
                div {
                    @if one.hold_point { strong { "Hold point. " } }
                    (one.text) " " span .quiet { (cited(&one.source)) }
                    @if let Some(entry) = ticked {
                        p { strong { "✓ looked at" } " " (said(entry)) }
                    }
                    @if one.hold_point && sheet.view.is_some() {
                        (holds::pass_over(sheet, &number.to_string(), &one.id, ticked.is_some()))
                    }
                }
                @if sheet.may_tick() {
                    (holds::tick(sheet, &number.to_string(), &one.text, ticked.is_none(),
                        ["Looked at", "It was not"]))
                }
            }
        }
    }
}

fn conductor(sheet: &Sheet, name: &str) -> Markup {
    html! {
        strong { (name) } ": "
        @match checked(sheet, name) {
            Some(entry) => { "everything on the list was looked at " (said(entry)) },
            None => "not checked",
        }
    }
}

/// The last time that the checklist was gone through for this conductor.
fn checked<'a>(sheet: &'a Sheet, name: &str) -> Option<&'a Entry> {
    sheet.record.events.iter().rfind(|entry| match &entry.what {
        Event::Did { phase, act: Act::Check, .. } => phase == name,
        _ => false,
    })
}

/// When something was said, and by whom.
pub(super) fn said(entry: &Entry) -> String {
    let at = entry.at.map(|at| report::course::wall(at.wall)).unwrap_or_default();
    match &entry.by {
        Some(by) => format!("{at}, {by}"),
        None => at,
    }
}

/// Whose name stands beside what is said from this browser.
fn who(sheet: &Sheet) -> Markup {
    html! {
        form .who method="post" action="/people/who" {
            input type="hidden" name="back" value={ "/sheet/" (sheet.id) };
            label for="who" { "Who works here; the name stands beside all that is said" }
            div .row {
                input #who name="name" autocomplete="name" required maxlength=(LONGEST_NAME)
                    value=[sheet.who.as_deref()];
                button { "My name" }
            }
        }
    }
}

/// Where readings come from, and the way to another source, also in the middle of a test.
fn readings_from(sheet: &Sheet) -> Markup {
    let now = sheet.view.as_ref().and_then(|view| view.identity.as_deref());
    let begun = sheet.record.source.as_deref();
    html! {
        h3 { "Where the readings come from" }
        p { (now.or(begun).unwrap_or("nobody said so yet")) }
        form .who method="post" action={ "/sheet/" (sheet.id) "/source" } {
            label for="source" {
                "From now on: keys, or a meter at tcp:HOST:PORT or serial:DEVICE. Readings can be "
                "typed beside it"
            }
            div .row {
                input #source name="source" value="keys" required maxlength="200"
                    autocomplete="off";
                button { "Take readings from there" }
            }
        }
    }
}

/// Second screens, and how a device is let in.
fn barrier(sheet: &Sheet) -> Markup {
    let address = format!("/watch/{}", sheet.id);
    let far = format!("/far/{}", sheet.id);
    html! {
        h3 { "Other devices at this test" }
        p {
            "Open " a href=(address) { (address) } " on a second screen and stand it where it is "
            "read from the barrier. "
            @if sheet.record.plan.ready.far_end_every.is_some() {
                "Whoever guards the far end answers at " a href=(far) { (far) } ". "
            }
        }
        p { a .button href="/people#pair" { "Add a device with a code" } }
    }
}
