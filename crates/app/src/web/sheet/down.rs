//! down.

use maud::{Markup, html};

use super::state::Sheet;

pub(super) fn line(_: &Sheet) -> String {
    String::new()
}

pub(super) fn under(_: &Sheet) -> Markup {
    html! {}
}
