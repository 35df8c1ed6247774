//! The five things, in their order of size: the state of the object, kilovolts, what to do next,
//! current with the margin to the trip as a length, and the time to the next reading.

use maud::{Markup, html};

use crate::show::stage::{Scene, Standing, Trip};

/// All but the state.
pub(super) fn rest(scene: &Scene) -> Markup {
    html! {
        div .standing data-standing role="alert" {
            @for said in &scene.standing { p { (said) } }
        }
        p .kv {
            span .large data-live="kilovolts" { (scene.kilovolts.as_deref().unwrap_or("?")) }
            span .unit { "kV" }
            span .age data-live="kilovolts_note" { (scene.kilovolts_note) }
        }
        p .next { span .label { "Next" } " " strong data-live="next" { (scene.next) } }
        @let strength = scene.advice.as_ref().map(|advice| advice.strength.key());
        p .advice data-advice data-strength=[strength] role="status" {
            @if let Some(advice) = &scene.advice {
                (advice.word) ": " (advice.why)
            }
        }
        @if let Some(far) = &scene.far_end {
            p .far-end data-is=(far.is.key()) data-live-set="data-is=far_end.is" {
                span .label { "Far end" } " "
                span data-live="far_end.said" { (far.said) } ", "
                span data-live="far_end.next_said" { (far.next_said) }
            }
        }
        (current(scene))
        (trip(scene.trip.as_ref()))
        (times(scene))
        p .head data-live="head" { (scene.head) }
    }
}

/// The state of the object: a word, a shape and a colour.
pub(crate) fn state(scene: &Scene) -> Markup {
    html! {
        p .state .shaped data-state data-is=(scene.state.key()) {
            (shape())
            strong .word data-live="state_word" data-lost=(Standing::LinkLost.word()) {
                (scene.state_word)
            }
            " " span .of data-live="of" { (scene.of) }
        }
    }
}

/// All three shapes; the state beside them says which one is seen.
pub(super) fn shape() -> Markup {
    html! {
        svg .shape viewBox="0 0 24 24" aria-hidden="true" {
            circle .off cx="12" cy="12" r="9" {}
            path .hazard-shape d="M12 2 23 22H1Z" {}
            path .ground-shape d="M12 2v11M3 13h18M7 17.500h10M10.500 22h3" {}
        }
    }
}

fn current(scene: &Scene) -> Markup {
    let lies = scene.expected.as_ref().map(|expected| expected.lies.key());
    html! {
        p .current data-lies=[lies] {
            span .label { "Current" } " "
            strong data-live="current" { (scene.current.as_deref().unwrap_or("not read")) }
            " " span data-expected {
                @if let Some(expected) = &scene.expected {
                    (expected.said) " " (expected.band)
                }
            }
        }
    }
}

/// The trip stands at the end of the bar; what is empty is left.
fn trip(trip: Option<&Trip>) -> Markup {
    let taken = trip.and_then(|trip| trip.taken).unwrap_or(0.0).clamp(0.0, 1.0) * 100.0;
    html! {
        div .trip {
            svg .margin viewBox="0 0 100 8" preserveAspectRatio="none" aria-hidden="true" {
                rect .room x="0" y="1" width="100" height="6" {}
                rect .taken data-taken x="0" y="1" width=(format!("{taken:.1}")) height="6" {}
                path .end d="M99.500 0v8" {}
            }
            p data-trip { (trip.map_or("Trip setting not known", |trip| trip.said.as_str())) }
        }
    }
}

fn times(scene: &Scene) -> Markup {
    let wait = scene.wait.as_ref();
    html! {
        p .times {
            span .label { "Next reading" } " "
            strong .number data-reading-in {
                (scene.reading_in.as_ref().map_or("—", |time| time.left.as_str()))
            }
            " " span .label data-wait-what { (wait.map_or("", |wait| wait.what)) } " "
            strong .number data-wait { (wait.map_or("", |wait| wait.time.left.as_str())) }
        }
    }
}
