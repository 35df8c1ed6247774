//! Hold points: what must be known before the first voltage, and whether somebody said so in this
//! record.

use maud::{Markup, html};
use plan::ready::Question;
use session::hold::Hold;
use session::{Entry, Event};

use super::air;
use super::ready::said;
use super::stage::acts::nonce;
use super::state::Sheet;
use crate::web::live::FIELD;

/// The tick that stands at a line, which is named by its words, its name or its number.
pub(super) fn ticked<'a>(
    events: &'a [Entry],
    number: Option<usize>,
    id: &str,
    text: &str,
) -> Option<&'a Entry> {
    let is_number = |said: &str| number.is_some_and(|number| said == number.to_string());
    let means = |said: &str| said == text || said == id || is_number(said);
    let last = events.iter().rfind(|entry| match &entry.what {
        Event::Ticked { line, .. } => means(line),
        _ => false,
    });
    last.filter(|entry| matches!(entry.what, Event::Ticked { on: true, .. }))
}

/// What is not confirmed yet, for the hand that would raise the voltage.
pub(super) fn not_confirmed(sheet: &Sheet) -> Markup {
    match &sheet.view {
        Some(view) => listed(&view.holds),
        None => html! {},
    }
}

fn listed(open: &[Hold]) -> Markup {
    html! {
        @if !open.is_empty() {
            details .holds {
                summary {
                    span aria-hidden="true" { "◆ " }
                    strong { "Hold points not yet confirmed: " (open.len()) }
                }
                ul { @for hold in open { li { strong { (hold.number) } " " (hold.text) } } }
            }
        }
    }
}

/// Why a hold point was passed over, and the way to do it; one that is ticked has neither.
pub(super) fn pass_over(sheet: &Sheet, number: &str, name: &str, ticked: bool) -> Markup {
    let over = sheet.record.events.iter().rfind(|entry| match &entry.what {
        Event::Overridden { line, .. } => line == name,
        _ => false,
    });
    let line = format!("override {name} reason");
    html! {
        @if let Some(entry) = over && let Event::Overridden { reason, .. } = &entry.what {
            p { strong { "Passed over: " } (reason) " " (said(entry)) }
        } @else if !ticked && sheet.may_tick() {
            details .act .over id={ "over-" (number) } data-line=(line) {
                summary .button { "Pass over " span .hidden { (number) } }
                form method="post" action={ "/sheet/" (sheet.id) "/say" } {
                    input type="hidden" name="line" value=(line);
                    (nonce())
                    label {
                        "Why it is passed over; it is printed with the report"
                        input id={ "over-why-" (number) } name="first" type="text" required
                            autocomplete="off" maxlength=(FIELD);
                    }
                    button { "Into the record" }
                }
            }
        }
    }
}

/// A question on the sheet of a record: whether somebody at the object answered it, and how to say
/// that it is as it must be.
pub(super) fn question(sheet: &Sheet, one: &Question, number: usize) -> Markup {
    if sheet.view.is_none() || !one.hold_point {
        return html! {};
    }
    let ticked = ticked(&sheet.record.events, None, &one.id, &one.text);
    html! {
        @if one.id == air::QUESTION { (air::beside(&sheet.record.job, &sheet.record.events)) }
        @if let Some(entry) = ticked { p { strong { "✓ as it must be" } " " (said(entry)) } }
        @if sheet.may_tick() {
            (tick(sheet, &format!("question-{number}"), &one.text, ticked.is_none(),
                ["It is as it must be", "It is not"]))
        }
        (pass_over(sheet, &format!("q{number}"), &one.id, ticked.is_some()))
    }
}

/// A statement that a line was looked at, or that it was not after all.
pub(super) fn tick(sheet: &Sheet, id: &str, text: &str, on: bool, words: [&str; 2]) -> Markup {
    let line = format!("{} {text}", if on { "tick" } else { "untick" });
    html! {
        form .act .tick method="post" action={ "/sheet/" (sheet.id) "/say" } data-line=(line) {
            input type="hidden" name="line" value=(line);
            (nonce())
            button id={ "tick-" (id) } { span .said { (words[usize::from(!on)]) } }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tick(line: &str, on: bool) -> Entry {
        Event::Ticked { phase: None, line: line.to_owned(), on }.into()
    }

    #[test]
    fn the_last_word_of_a_line_counts_however_it_is_named() {
        let check = |events: &[Entry], expected: bool| {
            let found = ticked(events, Some(8), "barrier", "Barrier up.").is_some();
            assert_eq!(found, expected, "{events:?}");
        };
        check(&[], false);
        check(&[tick("Barrier up.", true)], true);
        check(&[tick("8", true)], true);
        check(&[tick("barrier", true), tick("8", false)], false);
        check(&[tick("7", true), tick("Somebody watches.", true)], false);
    }

    #[test]
    fn open_hold_points_are_told_by_number_and_none_is_told_where_none_is_open() {
        let hold = |number: &str, text: &str| Hold {
            number: number.to_owned(),
            id: text.to_lowercase(),
            text: text.to_owned(),
            before: session::state::ActKind::Energise,
        };
        assert!(listed(&[]).into_string().is_empty());
        let page = listed(&[hold("8", "Barrier"), hold("q2", "Gas")]).into_string();
        assert!(page.contains("not yet confirmed: 2") && page.contains("q2"), "{page}");
    }
}
