//! What stands round every screen: the hazard line, who is here, the theme, the fixed line at the
//! foot.

use std::convert::Infallible;

use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use maud::{DOCTYPE, Markup, html};

use super::gate::Visitor;
use super::house::House;
use super::hub::Hazard;
use super::{assets, cookie};
use crate::show::stage::FOOT;

/// What a page has to know of the browser that asks and of all that is hazardous now.
#[derive(Clone, Debug)]
pub(crate) struct Frame {
    pub(crate) theme: Theme,
    /// Who works here; their name stands beside what they say.
    pub(crate) who: Option<String>,
    /// It is the account of this device, and cannot be another.
    pub(crate) is_account: bool,
    /// The device was let in to watch, and no more.
    pub(crate) watches: bool,
    /// The device was let in to answer for the far end: of these records that are at work.
    pub(crate) guards: Option<Vec<String>>,
    /// Every conductor of every record that is hazardous now.
    pub(crate) hazards: Vec<Hazard>,
    /// The screens are those of practice: time goes so many times faster.
    pub(crate) practice_pace: Option<f64>,
}

/// How bright it is where the screen is read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Theme {
    /// Sunlight: the most contrast there is.
    #[default]
    Daylight,
    /// A dim switch-room.
    Dim,
}

impl Theme {
    pub(crate) const fn key(self) -> &'static str {
        match self {
            Self::Daylight => "daylight",
            Self::Dim => "dim",
        }
    }
}

impl FromRequestParts<House> for Frame {
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, house: &House) -> Result<Self, Infallible> {
        let theme = match cookie::sent(&parts.headers, "theme") {
            Some("dim") => Theme::Dim,
            _ => Theme::Daylight,
        };
        let Ok(visitor) = Visitor::from_request_parts(parts, house).await;
        // What is said at a device that was let in is said by its account.
        let person = visitor.person().map(str::to_owned);
        Ok(Self {
            theme,
            is_account: person.is_some(),
            who: person.or_else(|| cookie::who(&parts.headers)),
            watches: !visitor.may_say() && !visitor.may_guard_any(),
            guards: (visitor.may_guard_any() && !visitor.may_say()).then(|| {
                let all = house.hub.all_at_work();
                let all = all.iter().map(ToString::to_string);
                all.filter(|record| visitor.may_guard(record)).collect()
            }),
            hazards: house.hub.hazards(),
            practice_pace: house.practice_pace,
        })
    }
}

/// Which record a page shows, so that the modules can follow it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Follows<'a> {
    /// Its name.
    pub(crate) record: &'a str,
    /// Whether the page is the stage: a conductor is energised or hazardous.
    pub(crate) stage: bool,
    /// The section that is worked on; the page is fetched anew when it changes.
    pub(crate) section: &'a str,
    /// Events that the page shows, readings not counted; nothing where the record is at rest.
    pub(crate) deeds: Option<u64>,
}

/// A whole page.
pub(crate) fn page(frame: &Frame, title: &str, body: &Markup) -> Markup {
    whole(frame, title, &html! { main #main { (body) } })
}

/// A whole page that follows a record.
pub(crate) fn following(frame: &Frame, title: &str, of: Follows<'_>, body: &Markup) -> Markup {
    let Follows { record, stage, section, deeds } = of;
    let main = html! {
        main #main data-record=(record) data-stage=(stage) data-section=(section)
            data-deeds=[deeds] { (body) }
    };
    whole(frame, title, &main)
}

/// A whole page that only shows how a record stands, whatever is done with it.
pub(crate) fn watching(frame: &Frame, title: &str, record: &str, body: &Markup) -> Markup {
    whole(frame, title, &html! { main #main data-record=(record) { (body) } })
}

fn whole(frame: &Frame, title: &str, main: &Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" data-theme=(frame.theme.key()) {
            (head(title))
            body {
                a .skip href="#main" { "To the content" }
                (hazard_line(&frame.hazards))
                @if let Some(times) = frame.practice_pace {
                    p .practice { "PRACTICE: time goes " (times) " times as fast" }
                }
                header .top {
                    a .home href="/" { "Today" }
                    nav aria-label="Other pages" {
                        a href="/apparatus" { "Apparatus" }
                        a href="/sets" { "Sets and meters" }
                        a href="/values" { "Published values" }
                        a href="/people" { "People" }
                        a href="/office" { "Office" }
                    }
                    button type="button" #theme data-theme-now=(frame.theme.key()) {
                        @match frame.theme {
                            Theme::Daylight => "Dim",
                            Theme::Dim => "Daylight",
                        }
                    }
                }
                @if let Some(records) = &frame.guards { (guards(records)) }
                @if frame.watches {
                    p .watches { "This device may watch only. Write and say at another one." }
                }
                (main)
                (foot())
            }
        }
    }
}

/// A page that knows nothing of anyone: for faults.
pub(crate) fn bare(title: &str, body: &Markup) -> Markup {
    plain(Theme::Daylight, false, title, body)
}

/// A page for those who are not let in yet: nothing on it is brought up to date.
pub(crate) fn outside(theme: Theme, title: &str, body: &Markup) -> Markup {
    plain(theme, true, title, body)
}

fn plain(theme: Theme, outside: bool, title: &str, body: &Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" data-theme=(theme.key()) data-outside[outside] {
            (head(title))
            body {
                main #main { (body) }
                (foot())
            }
        }
    }
}

fn head(title: &str) -> Markup {
    html! {
        head {
            meta charset="utf-8";
            meta name="viewport" content="width=device-width, initial-scale=1";
            title { (title) " · Ohmstead" }
            // Painted in pieces, a table would move its columns with each row that comes.
            link rel="expect" href="#whole" blocking="render";
            link rel="stylesheet" href=(assets::address("screen.css"));
            link rel="icon" href=(assets::address("mark.svg"));
            script type="module" src=(assets::address("start.js")) {}
        }
    }
}

/// Every conductor that is hazardous now, on every page of every device.
pub(crate) fn hazard_line(hazards: &[Hazard]) -> Markup {
    html! {
        div #hazards role="region" aria-label="Hazard" data-any[!hazards.is_empty()] {
            @for one in hazards {
                p .hazard {
                    span .shape aria-hidden="true" { "▲" }
                    strong { "HAZARDOUS" } " "
                    a href={ "/sheet/" (one.record) } { (one.asset) " · " (one.conductor) }
                    " " span { (one.said) }
                }
            }
        }
    }
}

/// What a device of the far end is for, and where.
fn guards(records: &[String]) -> Markup {
    html! {
        p .watches {
            "This device answers for the far end"
            @for record in records { " · " a href={ "/far/" (record) } { "answer here" } }
            ". Say and write the rest at another one."
        }
    }
}

fn foot() -> Markup {
    html! {
        footer .fixed-line { (FOOT) }
        // What is waited for counts from its first letter: it stands behind all that is seen.
        span #whole hidden {}
    }
}
