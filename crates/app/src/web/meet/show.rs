//! What stands on the page.

use maud::{Markup, html};
use store::meet::{Kept, Laptop, Office, TwoEntries, Waiting};

use super::Now;
use crate::meet::Progress;
use crate::show::meeting::{counted, moved, wrote};
use crate::show::records::moment;
use crate::web::LONGEST_NAME;

/// All that the page tells.
pub(super) struct Whole {
    pub(super) offices: Vec<(Office, Waiting)>,
    pub(super) laptops: Vec<Laptop>,
    pub(super) two: Vec<TwoEntries>,
    pub(super) refused: Vec<Kept>,
    pub(super) now: Now,
    /// Whoever looks may have this machine meet an office.
    pub(super) may_meet: bool,
}

pub(super) fn body(whole: &Whole) -> Markup {
    let is_office = !whole.laptops.is_empty();
    html! {
        h1 { "Field and office" }
        (under_way(&whole.now))
        @if !whole.refused.is_empty() { (refused(&whole.refused)) }
        @if !whole.two.is_empty() { (two_entries(&whole.two)) }
        @if !whole.offices.is_empty() || !is_office {
            section {
                h2 { "The office that this machine meets" }
                @for (office, waiting) in &whole.offices { (met(office, waiting, whole)) }
                @if whole.offices.is_empty() {
                    p { "It met none yet. Until then everything stays here, and every page works." }
                }
            }
        }
        @if is_office {
            section {
                h2 { "Laptops that met this machine" }
                ul .listed { @for one in &whole.laptops { (laptop(one)) } }
            }
        }
        @if whole.may_meet && !is_office { (another(whole.offices.is_empty())) }
        @if whole.two.is_empty() && whole.refused.is_empty() {
            p .quiet { "No record has two entries, and nothing was refused." }
        }
    }
}

fn under_way(now: &Now) -> Markup {
    html! {
        @match now {
            Now::Nothing => {}
            Now::Failed { said } => p .refusal role="alert" { (said) },
            Now::Under { office, progress } => {
                p role="status" {
                    strong { "Meeting " (office) }
                    @match progress {
                        None => ": asking what either side lacks.",
                        Some(progress) => { ": " (so_far(*progress)) }
                    }
                }
            }
        }
    }
}

fn so_far(progress: Progress) -> String {
    let Progress { sends, records, of_records, events, of_events } = progress;
    let deed = if sends { "sent" } else { "fetched" };
    format!("{deed} {records} of {of_records} records, {events} of {of_events} events.")
}

fn met(office: &Office, waiting: &Waiting, whole: &Whole) -> Markup {
    let broken_off = office.tried.filter(|tried| office.met.is_none_or(|met| *tried > met));
    let idle = !matches!(whole.now, Now::Under { .. });
    html! {
        h3 { (office.address) }
        @match office.met {
            Some(met) => p { "Met " strong { (moment(met)) } "." },
            None => p { strong { "Not met to the end yet." } },
        }
        @if let Some(tried) = broken_off.filter(|_| idle) {
            p { "Tried " (moment(tried)) " and broken off; what was taken is kept." }
        }
        p {
            @if waiting.is_nothing() { "Nothing was written here since." }
            @else { strong { (waits(waiting)) } " written here since: it waits to be sent." }
        }
        @if let Some(told) = &office.told {
            p .quiet {
                "That time: sent " (moved(&told.sent)) "; fetched " (moved(&told.fetched)) "."
            }
        }
        @if whole.may_meet && idle {
            form method="post" action="/office/meet" {
                input type="hidden" name="address" value=(office.address);
                p { button .first { "Meet it now" span .hidden { ": " (office.address) } } }
            }
        }
    }
}

/// An office that does not know this machine yet.
fn another(first: bool) -> Markup {
    let form = html! {
        form .entry method="post" action="/office/meet" {
            label for="office" { "Address of the office, as a browser there calls it" }
            input #office name="address" required autocomplete="off" autocapitalize="none"
                spellcheck="false" maxlength="128";
            label for="office-code" { "Code that was made there, on the page People" }
            input #office-code .pairing-code name="code" autocomplete="one-time-code"
                autocapitalize="characters" spellcheck="false" maxlength="16";
            label for="office-device" { "A name for this machine, such as: van 3" }
            input #office-device name="device" autocomplete="off" maxlength=(LONGEST_NAME);
            p { button { "Meet it" } }
        }
    };
    html! {
        @if first { h2 { "Meet an office" } (form) } @else {
            details { summary { "Meet another office" } (form) }
        }
    }
}

fn laptop(one: &Laptop) -> Markup {
    html! {
        li {
            p { strong { (one.device) } ", met " (moment(one.met)) }
            p .quiet {
                "brought " (moved(&one.told.sent)) "; took " (moved(&one.told.fetched))
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
                        p { strong { (sentence(one.refused.remedy())) } }
                        p { (sentence(&one.refused.detail())) }
                        p .quiet {
                            @if !one.refused.record.is_empty() {
                                a href={ "/sheet/" (one.refused.record) } {
                                    "The record as it is here"
                                }
                                ", "
                            }
                            "seen " (moment(one.seen))
                        }
                    }
                }
            }
        }
    }
}

/// With a large first letter and a full stop.
fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
    format!("{first}{}.", letters.as_str())
}

fn waits(waiting: &Waiting) -> String {
    counted(&[
        (waiting.records, "record", "records"),
        (waiting.findings, "finding", "findings"),
        (waiting.signatures, "signature", "signatures"),
        (waiting.things, "other thing", "other things"),
    ])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sentence_begins_large_and_ends() {
        assert_eq!(sentence("event 2 is another one"), "Event 2 is another one.");
        assert_eq!(sentence(""), ".");
    }

    #[test]
    fn what_waits_is_told_in_words() {
        let check = |records, findings, expected: &str| {
            let waiting = Waiting { records, findings, ..Waiting::default() };
            assert_eq!(waits(&waiting), expected);
        };
        check(1, 0, "1 record");
        check(2, 1, "2 records, 1 finding");
    }
}
