//! What is asked first, who does what, what comes off and back, and every ground to be set.

use maud::{Markup, html};
use plan::ready::{Question, Ready, Undo};

use super::planned::cited;
use crate::show::ready::also;

/// What stands before the connection.
pub(super) fn before(ready: &Ready) -> Markup {
    html! {
        @if !ready.questions.is_empty() {
            h3 { "Asked first" }
            ul { @for one in &ready.questions { (question(one)) } }
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

/// What stands after the way down.
pub(super) fn after(ready: &Ready) -> Markup {
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
                        }
                    }
                    tbody {
                        @for spot in &ready.grounds {
                            tr {
                                td .number { (spot.number) }
                                td { (spot.what) }
                                td { (spot.place) }
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

fn question(one: &Question) -> Markup {
    html! {
        li data-hold[one.hold_point] {
            @if one.hold_point { strong { "Hold point. " } }
            (one.text) " "
            @if let Some(answer) = &one.answer { strong { (answer) ". " } }
            span .quiet { (cited(&one.source)) }
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

    use super::{after, before};

    /// Common practice, no source: an open question holds the test, an answered one does not.
    #[test]
    fn a_question_without_an_answer_is_a_hold_point_on_the_page() {
        let example = include_str!("../../../../../docs/examples/cable.toml");
        let page = |more: &str| {
            let job = job_file::parse(&format!("{example}\n{more}")).expect("a job");
            let ready = plan::plan(&job, &Library::published()).ready;
            before(&ready).into_string() + &after(&ready).into_string()
        };
        let held = "<strong>Hold point. </strong>Surge arresters off";
        assert!(page("").contains(held));
        let told = page("[ready]\narresters_off = true\n[people]\nwatch = \"P2\"");
        assert!(!told.contains(held) && told.contains("<strong>yes. </strong>"), "{told}");
        assert!(told.contains("<strong>P2</strong>: Safety watch"), "{told}");
        assert!(told.contains("<td>A screen</td><td>far end</td>"), "{told}");
    }
}
