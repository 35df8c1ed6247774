//! A reading is typed as the needle says it: kilovolts, Enter, current, Enter.

use maud::{Markup, html};
use session::live::View;

use super::acts::nonce;
use crate::show::stage::Scene;
use crate::web::live::{FIELD, UNITS};

/// Keys of the keypad, in rows from the top.
const PAD: &[&str] = &["7", "8", "9", "4", "5", "6", "1", "2", "3", ".", "0", "?"];

pub(super) fn reading(id: &str, scene: &Scene, view: &View) -> Markup {
    let range = scene.ammeter_range.as_deref();
    html! {
        form .reading data-reading method="post" action={ "/sheet/" (id) "/say" } {
            h3 { "A reading, as the needle says it" }
            (nonce())
            div .ends {
                (whose(scene, view))
                button type="button" data-pad-shown aria-pressed="false" { "Keypad" }
            }
            div .fields {
                label { "Kilovolts"
                    input name="first" id="reading-kv" type="text" inputmode="decimal"
                        autocomplete="off" required data-number data-kv maxlength=(FIELD);
                }
                label { "Current"
                    input name="second" id="reading-current" type="text" inputmode="decimal"
                        autocomplete="off" required data-number data-ua maxlength=(FIELD);
                }
                label { "Scale"
                    select name="unit" id="reading-unit" data-unit {
                        @for (unit, places) in UNITS {
                            option value=(unit) data-places=(places)
                                selected[*unit == scene.needle_unit] { (unit) }
                        }
                    }
                }
                button { "Into the record" }
            }
            p .quiet {
                "Planned ammeter range: "
                span data-live="ammeter_range" { (range.unwrap_or("not known")) }
                ". What was not read: ?"
            }
            p .stamped data-stamped data-idle {
                span { "Read " span data-stamp { "0" } " s ago" }
                button type="button" data-shift="5000" { "5 s earlier" }
                button type="button" data-shift="1000" { "1 s earlier" }
                button type="button" data-shift="-1000" { "1 s later" }
            }
            (pad())
        }
    }
}

/// What became of what was said on this page.
pub(super) fn said() -> Markup {
    html! {
        div .told {
            p .not-taken data-refusal role="alert" {}
            ol .said data-said data-sent="sent …" data-kept="kept" data-refused="not taken"
                data-unknown="not acknowledged" aria-label="What was sent" {}
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
        div .pad data-pad {
            @for key in PAD { button type="button" data-press=(key) { (key) } }
            button type="button" data-press="back" aria-label="Take the last figure back" { "⌫" }
            button .wide type="button" data-press="enter" { "Enter" }
        }
    }
}
