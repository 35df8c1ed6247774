//! Hold points: what must be known before the first voltage, and whether somebody said so in this
//! record.

use maud::{Markup, html};
use plan::Plan;
use plan::course::When;
use plan::ready::Question;
use session::{Entry, Event};

use super::ready::said;
use super::stage::acts::nonce;
use super::state::Sheet;

/// One hold point of a plan.
#[derive(Clone, Copy)]
struct Hold<'a> {
    /// Its names in a record: its number in a list where it has one, its own name, its words.
    number: Option<usize>,
    id: &'a str,
    text: &'a str,
}

/// Every hold point of a plan: lines of the checklist, and questions without an answer.
fn of(plan: &Plan) -> impl Iterator<Item = Hold<'_>> {
    let lines = plan.checklist.iter().filter(|line| line.when <= When::Connecting).enumerate();
    let lines = lines.filter(|(_, line)| line.hold_point);
    let lines =
        lines.map(|(at, line)| Hold { number: Some(at + 1), id: &line.id, text: &line.text });
    let questions =
        plan.ready.open().map(|one| Hold { number: None, id: &one.id, text: &one.text });
    lines.chain(questions)
}

/// The hold points that nobody confirmed in this record, in their words.
fn open<'a>(plan: &'a Plan, events: &[Entry]) -> Vec<&'a str> {
    let is_open = |hold: &Hold<'_>| ticked(events, hold.number, hold.id, hold.text).is_none();
    of(plan).filter(is_open).map(|hold| hold.text).collect()
}

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
    if sheet.view.is_none() {
        return html! {};
    }
    listed(&open(&sheet.record.plan, &sheet.record.events))
}

fn listed(open: &[&str]) -> Markup {
    html! {
        @if !open.is_empty() {
            details .holds {
                summary {
                    span aria-hidden="true" { "◆ " }
                    strong { "Hold points not yet confirmed: " (open.len()) }
                }
                ul { @for text in open { li { (text) } } }
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
        @if let Some(entry) = ticked { p { strong { "✓ as it must be" } " " (said(entry)) } }
        @if sheet.may_tick() {
            (tick(sheet, &format!("question-{number}"), &one.text, ticked.is_none(),
                ["It is as it must be", "It is not"]))
        }
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
    use plan::job_file;
    use standards::Library;

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

    /// Common practice, no source: what nobody answered holds the test until somebody does.
    #[test]
    fn a_hold_point_stands_until_somebody_confirms_it() {
        let example = include_str!("../../../../../docs/examples/cable.toml");
        let job = job_file::parse(example).expect("a job");
        let plan = plan::plan(&job, &Library::published());
        let all = of(&plan).count();
        let questions = plan.ready.open().count();
        assert!(questions > 5 && all > questions, "{all} hold points, {questions} questions");
        assert_eq!(open(&plan, &[]).len(), all);
        let first = plan.ready.open().next().expect("a question");
        let events = [tick(&first.text, true)];
        assert_eq!(open(&plan, &events).len(), all - 1);
        let events = [tick(&first.text, true), tick(&first.id, false)];
        assert_eq!(open(&plan, &events).len(), all);
        let events: Vec<Entry> = of(&plan).map(|hold| tick(hold.text, true)).collect();
        assert!(open(&plan, &events).is_empty());
        assert!(listed(&open(&plan, &events)).into_string().is_empty());
        assert!(listed(&open(&plan, &[])).into_string().contains(&first.text));
    }
}
