//! *Office*: when this laptop last met which office, and what waits; which laptops met this one;
//! what a person has to look at.

use axum::Router;
use axum::extract::State;
use axum::routing::get;
use maud::{Markup, html};
use store::meet::{Kept, Laptop, Moved, Office, TwoEntries, Waiting};

use super::{Fault, Frame, House, page};
use crate::show::meeting::wrote;
use crate::show::records::moment;

pub(super) fn routes() -> Router<House> {
    Router::new().route("/office", get(office))
}

/// All that the page tells.
struct Whole {
    offices: Vec<(Office, Waiting)>,
    laptops: Vec<Laptop>,
    two: Vec<TwoEntries>,
    refused: Vec<Kept>,
}

async fn office(State(house): State<House>, frame: Frame) -> Result<Markup, Fault> {
    let store = &house.store;
    let mut offices = Vec::new();
    for one in store.offices().await? {
        let waiting = store.waiting(one.met).await?;
        offices.push((one, waiting));
    }
    let whole = Whole {
        offices,
        laptops: store.laptops().await?,
        two: store.two_entries().await?,
        refused: store.refused().await?,
    };
    Ok(page(&frame, "Office", &body(&whole)))
}

fn body(whole: &Whole) -> Markup {
    let has_laptops = !whole.laptops.is_empty();
    html! {
        h1 { "Field and office" }
        @if !whole.refused.is_empty() { (refused(&whole.refused)) }
        @if !whole.two.is_empty() { (two_entries(&whole.two)) }
        @if !whole.offices.is_empty() || !has_laptops {
            section {
                h2 { "The office that this machine meets" }
                @for (office, waiting) in &whole.offices { (met(office, waiting)) }
                @if whole.offices.is_empty() { (none()) }
            }
        }
        @if has_laptops {
            section {
                h2 { "Laptops that met this machine" }
                ul .listed { @for one in &whole.laptops { (laptop(one)) } }
            }
        }
        @if whole.two.is_empty() && whole.refused.is_empty() {
            p .quiet { "No record has two entries, and nothing was refused." }
        }
    }
}

fn none() -> Markup {
    html! {
        p { "It met none yet. In a terminal here, with the code that was made at the office on its \
             page People:" }
        p { code { "ohmstead meet ADDRESS --device NAME --code CODE" } }
        p .quiet { "Until then everything stays on this machine, and every page works." }
    }
}

fn met(office: &Office, waiting: &Waiting) -> Markup {
    html! {
        h3 { (office.address) }
        @match office.met {
            Some(met) => p { "Met " strong { (moment(met)) } "." },
            None => p { strong { "Not met to the end yet." } },
        }
        @if let Some(tried) = office.tried.filter(|tried| office.met.is_none_or(|met| *tried > met)) {
            p { "Tried again " (moment(tried)) " and broken off; what was taken is kept." }
        }
        p {
            @if waiting.is_nothing() { "Nothing waits to be sent." }
            @else { strong { (waits(waiting)) } " to be sent." }
        }
        @if let Some(told) = &office.told {
            p .quiet {
                "That time: sent " (moved(&told.sent)) ", fetched " (moved(&told.fetched)) "."
            }
        }
        p { "To meet it now: " code { "ohmstead meet " (office.address) } }
    }
}

fn laptop(one: &Laptop) -> Markup {
    html! {
        li {
            strong { (one.device) } ", met " (moment(one.met))
            span .quiet {
                " brought " (moved(&one.told.sent)) ", took " (moved(&one.told.fetched))
                @if one.told.refused > 0 { "; " (one.told.refused) " refused" }
            }
        }
    }
}

fn two_entries(all: &[TwoEntries]) -> Markup {
    html! {
        section {
            h2 { "Two wrote in one record" }
            p { "Both entries are kept and shown by their moments. Look whether they are of one \
                 test." }
            ul .listed {
                @for one in all {
                    li {
                        a href={ "/sheet/" (one.record) } { strong { (one.asset) } }
                        " begun " (moment(one.begun))
                        span .quiet { " " (wrote(one)) }
                    }
                }
            }
        }
    }
}

fn refused(all: &[Kept]) -> Markup {
    html! {
        section {
            h2 { "Refused, and not written over" }
            ul .listed {
                @for one in all {
                    li {
                        p { (one.refused) }
                        p .quiet { "seen " (moment(one.seen)) }
                    }
                }
            }
        }
    }
}

fn waits(waiting: &Waiting) -> String {
    let parts = [
        (waiting.records, "record", "records"),
        (waiting.findings, "finding", "findings"),
        (waiting.signatures, "signature", "signatures"),
        (waiting.things, "other thing", "other things"),
    ];
    let parts: Vec<String> = parts
        .into_iter()
        .filter(|(count, ..)| *count > 0)
        .map(|(count, one, more)| format!("{count} {}", if count == 1 { one } else { more }))
        .collect();
    let verb = if parts.len() == 1 && parts[0].starts_with("1 ") { "waits" } else { "wait" };
    format!("{} {verb}", parts.join(", "))
}

fn moved(what: &Moved) -> String {
    format!("{} new records and {} events", what.records, what.events)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_waits_is_told_in_words() {
        let check = |records, findings, expected: &str| {
            let waiting = Waiting { records, findings, ..Waiting::default() };
            assert_eq!(waits(&waiting), expected);
        };
        check(1, 0, "1 record waits");
        check(2, 0, "2 records wait");
        check(1, 3, "1 record, 3 findings wait");
    }
}
