//! A reading is typed as the needle says it: kilovolts, Enter, current, Enter.

use maud::{Markup, html};
use session::live::View;

use crate::show::stage::Scene;

/// Units of an ammeter's scale, with the places by which its figures are moved to microamperes.
pub(super) const UNITS: &[(&str, i8)] = &[("nA", -3), ("µA", 0), ("mA", 3)];

/// Keys of the keypad, in rows from the top.
const PAD: &[&str] = &["7", "8", "9", "4", "5", "6", "1", "2", "3", ".", "0", "?"];

pub(super) fn reading(id: &str, scene: &Scene, view: &View) -> Markup {
    let range = scene.ammeter_range.as_deref();
    html! {
        form .reading data-reading method="post" action={ "/sheet/" (id) "/say" } {
            h3 { "A reading, as the needle says it" }
            (whose(scene, view))
            div .two {
                label { "Kilovolts"
                    input name="first" type="text" inputmode="decimal" autocomplete="off"
                        data-kv;
                }
                label { "Current"
                    input name="second" type="text" inputmode="decimal" autocomplete="off"
                        data-ua;
                }
                label { "Scale"
                    select name="unit" data-unit {
                        @for (unit, _) in UNITS {
                            option value=(unit) selected[*unit == scene.needle_unit] { (unit) }
                        }
                    }
                }
            }
            p .quiet data-range {
                @if let Some(range) = range { "Planned ammeter range: " (range) ". " }
                "Not read: ?"
            }
            p .stamped data-stamped hidden {
                span data-stamp {} " "
                button type="button" data-shift="5000" { "5 s earlier" }
                button type="button" data-shift="1000" { "1 s earlier" }
                button type="button" data-shift="-1000" { "1 s later" }
            }
            (pad())
            div .ends {
                button { "Into the record" }
                button type="button" data-pad-shown aria-pressed="false" hidden { "Keypad" }
            }
            p .refusal data-refusal role="alert" {}
            ol .said data-said aria-label="What was sent" {}
        }
    }
}

/// Which conductor it is of.
fn whose(scene: &Scene, view: &View) -> Markup {
    let line = |name: &str| session::say::of(name, "").trim_end().to_owned();
    html! {
        @if view.conductors.len() > 1 {
            fieldset .whose {
                legend { "Of conductor" }
                @for one in &view.conductors {
                    label { input type="radio" name="line" value=(line(&one.name))
                        data-name=(one.name) checked[one.name == scene.focus]; " " (one.name) }
                }
            }
        } @else {
            input type="hidden" name="line" value=(line(&scene.focus)) data-name=(scene.focus);
        }
    }
}

/// Keys for gloves.
fn pad() -> Markup {
    html! {
        div .pad data-pad hidden {
            @for key in PAD { button type="button" data-press=(key) { (key) } }
            button type="button" data-press="back" aria-label="Take the last figure back" { "⌫" }
            button .wide type="button" data-press="enter" { "Enter" }
        }
    }
}
