//! What is asked first, who does what, what comes off and back, and every ground to be set.

use maud::{Markup, html};
use plan::ready::{GroundSpot, Question, Ready, Undo};
use report::grounds::GroundRow;
use session::Entry;
use session::register::Register;

use super::fields;
use super::planned::{Beside, cited};
use crate::show::ready::also;

/// Nothing is confirmed of a plan that no record was begun with.
pub(super) fn plain(_: &Question, _: usize) -> Markup {
    html! {}
}

/// What stands before the connection; `confirmed` is what a record says of a question.
pub(super) fn before(
    ready: &Ready,
    beside: Beside<'_>,
    confirmed: &dyn Fn(&Question, usize) -> Markup,
) -> Markup {
    html! {
        @if !ready.questions.is_empty() {
            h3 { "Asked first" }
            ul .questions data-of="Asked first" {
                @for (at, one) in ready.questions.iter().enumerate() {
                    li data-hold[one.hold_point] {
                        @if one.hold_point { span .quiet { "q" (at + 1) " " } }
                        (question(one, beside))
                        (confirmed(one, at + 1))
                    }
                }
            }
        }
        @if !ready.roles.is_empty() {
            h3 { "Who" }
            ul {
                @for role in &ready.roles {
                    li {
                        strong { (role.name.as_deref().unwrap_or("Nobody named")) } ": "
                        (role.text) (also(&role.also)) " " span .quiet { (cited(&role.source)) }
                    }
                }
            }
        }
        @if !ready.disconnect.is_empty() {
            h3 { "Taken off" }
            (list(&ready.disconnect))
        }
    }
}

/// What stands after the way down; with the events of a record, which ground is on by whose hand.
pub(super) fn after(ready: &Ready, events: Option<&[Entry]>) -> Markup {
    let register = events.map(Register::of);
    html! {
        @if !ready.grounds.is_empty() {
            h3 { "Grounds to be set, and to come off: " (ready.grounds.len()) }
            div .scroll tabindex="0" role="region" aria-label="Grounds" {
                table .steps {
                    thead {
                        tr {
                            th .number scope="col" { "No." }
                            th scope="col" { "What" }
                            th scope="col" { "Where" }
                            @if register.is_some() {
                                th scope="col" { "On, by whom" }
                                th scope="col" { "Off, by whom" }
                            }
                        }
                    }
                    tbody {
                        @for spot in &ready.grounds {
                            tr {
                                td .number { (spot.number) }
                                td { (spot.what) }
                                td { (spot.place) }
                                @if let Some(register) = &register { (stands(register, spot)) }
                            }
                        }
                    }
                }
            }
        }
        @if !ready.restoration.is_empty() {
            h3 { "Put back" }
            (list(&ready.restoration))
        }
    }
}

/// Beside the form an open question leads to the field that answers it.
fn question(one: &Question, beside: Beside<'_>) -> Markup {
    let open = one.hold_point && beside != Beside::Record;
    let field = one.answered_by.as_deref().filter(|_| open).and_then(fields::of);
    html! {
        @if one.hold_point { strong { "Hold point. " } }
        (one.text) " "
        @if let Some(answer) = &one.answer { strong { (answer) ". " } }
        @if let Some(field) = field {
            a href={ "#" (fields::anchor(field.path)) } { "Answer it" } ". "
        }
        span .quiet { (cited(&one.source)) }
    }
}

/// What the record says of the ground with this number, the last time that it was set.
fn stands(register: &Register, spot: &GroundSpot) -> Markup {
    let number = spot.number.to_string();
    let set = register.grounds.iter().rfind(|ground| ground.number == number);
    let row = set.map(GroundRow::from);
    html! {
        @match row {
            None => { td { "not recorded" } td {} },
            Some(row) => {
                td { (row.on) @if !row.place.is_empty() { "; " (row.place) } }
                td {
                    @if !row.off.is_empty() { (row.off) }
                    @else if !row.left.is_empty() { strong { "stays on, with " (row.left) } }
                    @else { strong { "still on" } }
                }
            },
        }
    }
}

fn list(all: &[Undo]) -> Markup {
    html! { ol { @for one in all { li { (one.text) } } } }
}

#[cfg(test)]
mod tests {
    use plan::job_file;
    use standards::Library;

    use super::{Beside, after, before, plain};

    /// Derived: what one cannot answer on the page would stay open for ever.
    #[test]
    fn every_open_question_of_every_class_leads_to_its_field() {
        for class in ["cable", "motor", "generator", "switchgear", "busway", "breaker", "bushing"] {
            let table = match class {
                "switchgear" => "[asset.switchgear]\nkind = \"metal-clad\"\n",
                _ => "",
            };
            let job = format!(
                "[asset]\nid = \"x\"\nclass = \"{class}\"\n{table}[test]\n\
                 purpose = \"maintenance\"\n[set]\n"
            );
            let job = job_file::parse(&job).expect("a job");
            let ready = plan::plan(&job, &Library::published()).ready;
            let open = ready.open().count();
            assert!(open > 5, "{class}");
            let page = before(&ready, Beside::Form("s"), &plain).into_string();
            assert_eq!(page.matches("Answer it</a>").count(), open, "{class}: {page}");
        }
    }

    /// Common practice, no source: an open question holds the test, an answered one does not.
    #[test]
    fn a_question_without_an_answer_is_a_hold_point_on_the_page() {
        let example = include_str!("../../../../../docs/examples/cable.toml");
        let page = |more: &str| {
            let job = job_file::parse(&format!("{example}\n{more}")).expect("a job");
            let ready = plan::plan(&job, &Library::published()).ready;
            before(&ready, Beside::Record, &plain).into_string()
                + &after(&ready, None).into_string()
        };
        let held = "<strong>Hold point. </strong>Surge arresters off";
        assert!(page("").contains(held));
        let told = page("[ready]\narresters_off = true\n[people]\nwatch = \"P2\"");
        assert!(!told.contains(held) && told.contains("<strong>yes. </strong>"), "{told}");
        assert!(told.contains("<strong>P2</strong>: Safety watch"), "{told}");
        assert!(told.contains("<td>A screen</td><td>far end</td>"), "{told}");
    }
}
