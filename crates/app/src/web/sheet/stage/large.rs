//! The five things, in their order of size: the state of the object, kilovolts, what to do next
//! with what is advised, current with its margins as lengths, and the time to the next reading.

use maud::{Markup, html};

use crate::show::stage::{Advice, Margin, Scene, Standing, Trip, Urge, WHY};

/// All but the state.
pub(super) fn rest(scene: &Scene) -> Markup {
    html! {
        (standing(scene))
        (kilovolts(scene))
        p .next { span .label { "Next" } " " strong data-live="next" { (scene.next) } }
        div .counsel {
            (advice(scene.advice.as_ref()))
            button type="button" data-more aria-expanded="false" aria-controls="advice-more" {
                kbd { (WHY) } " Why"
            }
            ul #advice-more data-advice-more {
                @for said in scene.advice.iter().flat_map(|advice| &advice.more) {
                    li { (said) }
                }
            }
            p .outlook data-live="outlook" { (scene.outlook) }
        }
        @if let Some(far) = &scene.far_end {
            p .far-end data-is=(far.is.key()) data-live-set="data-is=far_end.is" {
                span .label { "Far end" } " "
                span data-live="far_end.said" { (far.said) } ", "
                span data-live="far_end.next_said" { (far.next_said) }
            }
        }
        (current(scene))
        div .margins {
            (trip(scene.trip.as_ref()))
            (charging(scene.charging.as_ref()))
        }
        (times(scene))
        p .head data-live="head" { (scene.head) }
    }
}

/// What is told at once and stays until it is over.
pub(crate) fn standing(scene: &Scene) -> Markup {
    html! {
        div .standing data-standing role="alert" {
            @for said in &scene.standing { p { (said) } }
        }
    }
}

/// The kilovolts last read; what was not read is a question.
pub(crate) fn kilovolts(scene: &Scene) -> Markup {
    html! {
        p .kv {
            span .large data-live="kilovolts" { (scene.kilovolts.as_deref().unwrap_or("?")) }
            span .unit { "kV" }
            span .age data-live="kilovolts_note" { (scene.kilovolts_note) }
        }
    }
}

/// What is advised: a word, a shape and a colour, and why.
pub(crate) fn advice(advice: Option<&Advice>) -> Markup {
    let urge = advice.map(|advice| advice.urge);
    html! {
        p .advice .shaped data-advice data-urge=[urge.map(Urge::key)]
            data-live-set="data-urge=advice.urge" role="status" {
            svg .shape viewBox="0 0 24 24" aria-hidden="true" {
                text .unknown x="12" y="20" text-anchor="middle" font-size="22" { "?" }
                circle .carry-on cx="12" cy="12" r="8.500" {}
                path .watch d="M12 1.500 22.500 12 12 22.500 1.500 12Z" {}
                path .hold-here d="M3 3h18v18H3Z" {}
                path .come-down d="M1 2h22L12 22.500Z" {}
            }
            strong data-live="advice.word" { (advice.map_or("", |advice| advice.word)) }
            " "
            span .why data-live="advice.why" {
                (advice.map_or("", |advice| advice.why.as_str()))
            }
        }
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
    let said = trip.map_or("Trip setting not known", |trip| trip.said.as_str());
    html! {
        div .trip {
            (length("trip", trip.and_then(|trip| trip.taken)))
            p data-trip { (said) }
        }
    }
}

/// What the set gives stands at the end of the bar; it is told while the voltage rises.
fn charging(margin: Option<&Margin>) -> Markup {
    html! {
        div .charging data-charging-idle[margin.is_none()]
            data-live-set="data-charging-idle=!charging" {
            (length("charging", margin.and_then(|margin| margin.taken)))
            p data-charging-said data-idle=(NOT_RISING) {
                (margin.map_or(NOT_RISING, |margin| margin.said.as_str()))
            }
        }
    }
}

/// What stands beside the bar of charging where nothing rises.
const NOT_RISING: &str = "Charging is told while the voltage rises";

fn length(of: &str, taken: Option<f64>) -> Markup {
    let width = format!("{:.1}", taken.unwrap_or(0.0).clamp(0.0, 1.0) * 100.0);
    html! {
        svg .margin viewBox="0 0 100 8" preserveAspectRatio="none" aria-hidden="true" {
            rect .room x="0" y="1" width="100" height="6" {}
            rect .taken data-taken=(of) x="0" y="1" width=(width) height="6" {}
            path .end d="M99.500 0v8" {}
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
