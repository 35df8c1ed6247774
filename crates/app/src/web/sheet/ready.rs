//! Section 3: before voltage. What has to be looked at, connected, grounded and kept away from,
//! and who said that it was.

use maud::{Markup, html};
use plan::course::{Line, When};
use session::act::Act;
use session::{Entry, Event};

use super::planned::{self, cited};
use super::stage::acts::nonce;
use super::state::{Section, Sheet};
use super::{down, hand};
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
            (hand(sheet, Section::Before))
        }
        h3 #checklist { "Look at each, in this order" }
        ol .checklist data-of="Checklist" data-stage-acts[may_tick(sheet)] {
            @for (index, one) in lines(sheet).enumerate() { (item(sheet, index + 1, one)) }
        }
        (super::asked::before(&plan.ready))
        (planned::connection(plan))
        (planned::distances(plan))
        @if sheet.view.is_some() {
            h3 { "Each conductor" }
            ul { @for name in &plan.conductors { li { (conductor(sheet, name)) } } }
            (down::register(sheet))
        }
        (super::asked::after(&plan.ready))
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
    lines(sheet).enumerate().filter(|(at, one)| ticked(events, at + 1, one).is_some()).count()
}

/// Something can still be ticked: the record is open and nothing is under voltage.
fn may_tick(sheet: &Sheet) -> bool {
    sheet.view.is_some() && !sheet.is_over() && !sheet.stage
}

fn item(sheet: &Sheet, number: usize, one: &Line) -> Markup {
    let ticked = ticked(&sheet.record.events, number, one);
    html! {
        li data-ticked[ticked.is_some()] {
            div .row {
                div {
                    @if one.hold_point { strong { "Hold point. " } }
                    (one.text) " " span .quiet { (cited(&one.source)) }
                    @if let Some(entry) = ticked {
                        p { strong { "✓ looked at" } " " (said(entry)) }
                    }
                }
                @if may_tick(sheet) { (tick(sheet, number, one, ticked.is_none())) }
            }
        }
    }
}

/// A statement that a line was looked at, or that it was not after all.
fn tick(sheet: &Sheet, number: usize, one: &Line, on: bool) -> Markup {
    let line = format!("{} {}", if on { "tick" } else { "untick" }, one.text);
    html! {
        form .act .tick method="post" action={ "/sheet/" (sheet.id) "/say" } data-line=(line) {
            input type="hidden" name="line" value=(line);
            (nonce())
            button id={ "tick-" (number) } {
                @if on { span .said { "Looked at" } } @else { span .said { "It was not" } }
            }
        }
    }
}

/// The tick that stands at this line, which is named by its words, its name or its number.
fn ticked<'a>(events: &'a [Entry], number: usize, one: &Line) -> Option<&'a Entry> {
    let means = |said: &str| said == one.text || said == one.id || said == number.to_string();
    let last = events.iter().rfind(|entry| match &entry.what {
        Event::Ticked { line, .. } => means(line),
        _ => false,
    });
    last.filter(|entry| matches!(entry.what, Event::Ticked { on: true, .. }))
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

/// The second screen.
fn barrier(sheet: &Sheet) -> Markup {
    let address = format!("/watch/{}", sheet.id);
    html! {
        h3 { "The colleague at the barrier" }
        p {
            "Open " a href=(address) { (address) } " on a second screen and stand it where it is "
            "read from the barrier. A tablet is let in with a code from " a href="/people" {
            "People" } "."
        }
    }
}

#[cfg(test)]
mod tests {
    use plan::course::{Line, When};
    use session::{Entry, Event};
    use standards::{Citation, Mark};

    use super::ticked;

    fn tick(line: &str, on: bool) -> Entry {
        Event::Ticked { phase: None, line: line.to_owned(), on }.into()
    }

    #[test]
    fn the_last_word_of_a_line_counts_however_it_is_named() {
        let (title, edition, place) = (String::new(), String::new(), String::new());
        let id = "x/y".to_owned();
        let source = Citation { id, title, edition, place, mark: Mark::Practice };
        let one = Line {
            id: "barrier".to_owned(),
            text: "Barrier up.".to_owned(),
            when: When::Before,
            source,
            hold_point: false,
        };
        let check = |events: &[Entry], expected: bool| {
            assert_eq!(ticked(events, 8, &one).is_some(), expected, "{events:?}");
        };
        check(&[], false);
        check(&[tick("Barrier up.", true)], true);
        check(&[tick("8", true)], true);
        check(&[tick("barrier", true), tick("8", false)], false);
        check(&[tick("7", true), tick("Somebody watches.", true)], false);
    }
}
