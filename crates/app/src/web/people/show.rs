//! What stands on the page.

use std::time::Instant;

use maud::{Markup, html};
use store::people::{May, Pass, Person};

use super::super::gate::{Code, Visitor};
use crate::show::records::moment;

/// Letters of a name at most.
pub(crate) const LONGEST_NAME: usize = 64;

/// A name of a person or a device: one line, not empty, not too long.
pub(crate) fn plain(text: &str) -> Option<String> {
    let text = text.trim();
    let fits = !text.is_empty() && text.chars().count() <= LONGEST_NAME;
    (fits && !text.chars().any(char::is_control)).then(|| text.to_owned())
}

/// What one sees who may let others in.
pub(super) struct Whole<'a> {
    pub(super) who: Option<&'a str>,
    pub(super) visitor: &'a Visitor,
    pub(super) accounts: Vec<Person>,
    pub(super) passes: Vec<Pass>,
    pub(super) addresses: Vec<String>,
    pub(super) codes: Vec<Code>,
    /// Records at work, and of what each is.
    pub(super) at_work: Vec<(String, String)>,
}

pub(super) fn whole(all: &Whole<'_>) -> Markup {
    html! {
        h1 { "People" }
        @match all.visitor {
            Visitor::Known(pass) => (this_device(pass)),
            Visitor::Here | Visitor::Stranger => (who_works(all.who)),
        }
        h2 { "Account" }
        @if all.accounts.is_empty() {
            p { "Set an account before another device comes in. In a terminal on this machine:" }
            p { code { "ohmstead people set NAME" } }
        }
        @for account in &all.accounts {
            p { (account.name) ", password of " (moment(account.kept)) }
        }
        h2 #pair { "Pair a device" }
        (pairing(all))
        h2 { "Devices that were let in" }
        (devices(&all.passes))
    }
}

/// What a device sees of itself that may not let others in.
pub(super) fn own(visitor: &Visitor) -> Markup {
    html! {
        h1 { "People" }
        @if let Visitor::Known(pass) = visitor { (this_device(pass)) }
    }
}

fn this_device(pass: &Pass) -> Markup {
    html! {
        h2 { "This device" }
        p { (pass.device) ", let in by " (pass.person) ". It may " (may(pass.may)) ", until "
            (moment(pass.until)) ", and longer when it comes before then." }
        form method="post" action="/logout" { button { "Log this device out" } }
    }
}

fn who_works(who: Option<&str>) -> Markup {
    html! {
        h2 #who-works { "Who works here" }
        p { "The name stands beside what is said and signed at this machine." }
        form .entry method="post" action="/people/who" {
            label for="who-name" { "Name" }
            input #who-name name="name" value=[who] required maxlength=(LONGEST_NAME)
                autocomplete="name";
            p { button { "Keep" } }
        }
    }
}

fn pairing(all: &Whole<'_>) -> Markup {
    html! {
        @if all.addresses.is_empty() {
            p { "Start the program for your network first. It serves this machine alone now, and \
                 no other device reaches it:" }
            p { code { "ohmstead serve --listen 0.0.0.0:4170" } }
        } @else if all.accounts.is_empty() {
            p { "There is no account yet." }
        } @else {
            @for code in &all.codes { (to_type(code, &all.addresses)) }
            form method="post" action="/people/pair" {
                fieldset {
                    legend { "The device may" }
                    @for one in [May::Watch, May::FarEnd, May::Say, May::Exchange] {
                        label .may {
                            input type="radio" name="may" value=(one.key())
                                checked[one == May::Watch];
                            " " (may(one))
                        }
                    }
                }
                (far_end_of(&all.at_work))
                p { button { "Make a code" } }
            }
        }
    }
}

/// Of several tests the one is picked whose far end a device guards.
fn far_end_of(at_work: &[(String, String)]) -> Markup {
    html! {
        @match at_work {
            [] => p .quiet { "For the far end a record must be begun first: a device answers for \
                             one test." },
            [(_, asset)] => p .quiet { "For the far end: of the test of " (asset) "." },
            several => p {
                label for="pair-record" { "For the far end: of which test" }
                select #pair-record name="record" {
                    option value="" { "–" }
                    @for (record, asset) in several {
                        option value=(record) { (asset) ", record " (short(record)) }
                    }
                }
            }
        }
    }
}

/// So much of a record's name tells it from others.
fn short(record: &str) -> String {
    record.chars().take(13).collect()
}

fn to_type(code: &Code, addresses: &[String]) -> Markup {
    let left = code.left(Instant::now()).as_secs();
    let left = if left < 60 { format!("{left} s") } else { format!("{} min", left / 60) };
    if code.may == May::Exchange {
        return of_laptop(code, addresses, &left);
    }
    html! {
        div .to-type {
            p { "On the device, type into the browser:" }
            @for address in addresses { p .address { (address) "pair" } }
            p { "and there this code, once, within " (left) ". The device may then "
                (may(code.may)) (of_record(code.record.as_deref())) "." }
            p .pairing-code { (code.shown()) }
        }
    }
}

/// A laptop has a terminal.
fn of_laptop(code: &Code, addresses: &[String], left: &str) -> Markup {
    html! {
        div .to-type {
            p { "On the laptop, type in a terminal, once, within " (left) ":" }
            @for address in addresses {
                p .address {
                    "ohmstead meet " (address) " --device NAME --code \"" (code.shown()) "\""
                }
            }
            p { "The laptop may then " (may(code.may)) "." }
        }
    }
}

fn devices(passes: &[Pass]) -> Markup {
    html! {
        @if passes.is_empty() { p { "None." } }
        ul .devices {
            @for pass in passes {
                li {
                    p {
                        strong { (pass.device) } ": may " (may(pass.may))
                        (of_record(pass.record.as_deref())) ". Let in by "
                        (pass.person) " " (moment(pass.made)) ", until " (moment(pass.until)) "."
                    }
                    form method="post" action="/people/take-back" {
                        input type="hidden" name="pass" value=(pass.name);
                        button { "Take back" span .hidden { " the pass of " (pass.device) } }
                    }
                }
            }
        }
    }
}

/// For which test, where it is for one.
fn of_record(record: Option<&str>) -> String {
    record.map_or_else(String::new, |record| format!(" of record {}", short(record)))
}

/// What a device may do, after *may*.
pub(crate) const fn may(may: May) -> &'static str {
    match may {
        May::Operate => "do everything, and let others in",
        May::Say => "watch, and write in a test: the recorder",
        May::FarEnd => "watch, and answer for the far end",
        May::Watch => "watch only",
        May::Exchange => "exchange records with this machine, and nothing else: a laptop",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_one_line_of_bounded_length() {
        let check = |text: &str, expected: Option<&str>| {
            assert_eq!(plain(text).as_deref(), expected, "{text:?}");
        };
        check(" Jo Field ", Some("Jo Field"));
        check("Å", Some("Å"));
        check("", None);
        check("  ", None);
        check("a\nb", None);
        check("a\u{7f}b", None);
        check(&"a".repeat(64), Some(&"a".repeat(64)));
        check(&"a".repeat(65), None);
    }
}
