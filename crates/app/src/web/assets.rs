//! Styles and modules, in the program itself; a new version has a new address.

use std::sync::LazyLock;

use axum::Router;
use axum::extract::Path;
use axum::http::StatusCode;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use axum::routing::get;

use super::House;

/// Each file: its name, its kind, its text.
const FILES: &[(&str, &str, &str)] = &[
    ("screen.css", CSS, STYLES),
    ("start.js", JS, include_str!("assets/start.js")),
    ("live.js", JS, include_str!("assets/live.js")),
    ("scene.js", JS, include_str!("assets/scene.js")),
    ("stage.js", JS, include_str!("assets/stage.js")),
    ("sound.js", JS, include_str!("assets/sound.js")),
    ("sheet.js", JS, include_str!("assets/sheet.js")),
    ("log.js", JS, include_str!("assets/log.js")),
    ("far.js", JS, include_str!("assets/far.js")),
    ("chart.js", JS, include_str!("assets/chart.js")),
    ("mark.svg", "image/svg+xml", include_str!("assets/mark.svg")),
];

/// One file for a page to wait for; a part for each screen.
const STYLES: &str = concat!(
    include_str!("assets/screen.css"),
    include_str!("assets/live.css"),
    include_str!("assets/stage.css"),
    include_str!("assets/sheet.css"),
    include_str!("assets/sections.css"),
    include_str!("assets/chart.css"),
    include_str!("assets/pages.css"),
    include_str!("assets/people.css"),
    include_str!("assets/far.css"),
);

const CSS: &str = "text/css; charset=utf-8";
const JS: &str = "text/javascript; charset=utf-8";

/// All files as one number in hexadecimal: pages of one version never mix with those of another.
static EDITION: LazyLock<String> = LazyLock::new(|| {
    use std::hash::{DefaultHasher, Hash as _, Hasher as _};
    let mut hasher = DefaultHasher::new();
    FILES.hash(&mut hasher);
    format!("{:016x}", hasher.finish())
});

pub(super) fn routes() -> Router<House> {
    Router::new().route("/assets/{edition}/{name}", get(file))
}

/// Where a file is served; modules find each other beside themselves.
pub(super) fn address(name: &str) -> String {
    format!("/assets/{}/{name}", *EDITION)
}

async fn file(Path((edition, name)): Path<(String, String)>) -> Response {
    let Some((_, kind, text)) = FILES.iter().find(|(known, ..)| *known == name) else {
        return StatusCode::NOT_FOUND.into_response();
    };
    // A page of an earlier version gets what there is, and asks again next time.
    let keep = if edition == *EDITION { "public, max-age=31536000, immutable" } else { "no-store" };
    ([(CONTENT_TYPE, *kind), (CACHE_CONTROL, keep)], *text).into_response()
}
