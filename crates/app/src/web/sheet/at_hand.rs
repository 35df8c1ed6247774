//! Other sets at hand: kept ones that are held against the same course, and which of them can run
//! it.

use maud::{Markup, html};
use plan::sets::SetFit;

use super::form::Given;

/// The sets that a draft names beside the one it is planned with, and the kept ones to add.
pub(super) fn picked(id: &str, given: &Given, kept: &[(String, String)]) -> Markup {
    let named = given.at_hand();
    let own = given.set_name();
    let left: Vec<&(String, String)> =
        kept.iter().filter(|(name, _)| *name != own && !named.contains(name)).collect();
    let to = format!("/sheet/{id}/kept");
    html! {
        @if !named.is_empty() || !left.is_empty() {
            h4 { "Other sets at hand" }
            p .hint { "Held against the same course; the plan says which of them can run it." }
        }
        @if !named.is_empty() {
            // The key for Enter takes the first button of a form, which must not be the next one.
            button .hidden tabindex="-1" aria-hidden="true" { "Show the plan" }
            ul .at-hand {
                @for (at, name) in named.iter().enumerate() {
                    li {
                        @if name.is_empty() { "set " (at + 1) ", without a name" } @else { (name) }
                        " "
                        button formaction=(to) name="put-away" value=(at) {
                            "Is not at hand" span .hidden { ": " (name) }
                        }
                    }
                }
            }
        }
        @if !left.is_empty() {
            div .pick {
                div {
                    label for="kept-at-hand" { "Another set as it is kept" }
                    select id="kept-at-hand" name="kept-at-hand" {
                        option value="" { "–" }
                        @for (name, day) in left {
                            option value=(name) { (name) ", as kept on " (day) }
                        }
                    }
                }
                button formaction=(to) { "Is at hand" }
            }
        }
    }
}

/// Every set against the course; nothing where there is but the one.
pub(super) fn compared(sets: &[SetFit]) -> Markup {
    html! {
        @if sets.len() > 1 {
            h3 { "Sets at hand" }
            ul .sets {
                @for set in sets {
                    li {
                        strong {
                            (set.id) ": " @if set.fit { "can run it" } @else { "cannot run it" }
                            @if set.chosen { ", planned with" }
                        }
                        ". " (set.why)
                    }
                }
            }
        }
    }
}
