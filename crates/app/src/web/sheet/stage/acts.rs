//! Statements of what a hand did or an eye saw. Nothing here acts on anything: each one writes a
//! line into the record, and is worded as what is past.

use std::hash::{DefaultHasher, Hash as _, Hasher as _};

use maud::{Markup, html};
use session::live::{Next, View};
use session::say;

use crate::show::stage::{Asks, CLOSE, KEYS, Offer, Offers, WITHDRAW, offers};

/// What can be said now of every conductor, what comes next first.
pub(crate) fn acts(id: &str, view: &View) -> Markup {
    let all = offers(view);
    let several = all.len() > 1;
    html! {
        @for (index, one) in all.iter().enumerate() {
            @if index == 0 {
                div .acts data-of=(one.conductor) data-meant {
                    h3 {
                        @if several { (one.conductor) ": " }
                        "what was done"
                    }
                    (of_one(id, view, one))
                    (withdrawal(id, view, one))
                    (of_the_record(id, view))
                }
            } @else {
                details .acts id=(id(&one.conductor, "of")) data-of=(one.conductor) {
                    summary { (one.conductor) ": what was done" }
                    (of_one(id, view, one))
                    (withdrawal(id, view, one))
                }
            }
        }
    }
}

fn of_one(id: &str, view: &View, one: &Offers) -> Markup {
    html! {
        @for offer in &one.open { (statement(id, view, offer)) }
        @if !one.waits.is_empty() {
            details .waits {
                summary { "What cannot be said yet, and why" }
                ul {
                    @for (statement, remedy) in &one.waits {
                        li { (statement) ": first " (remedy) "." }
                    }
                }
            }
        }
    }
}

fn statement(id: &str, view: &View, offer: &Offer) -> Markup {
    let key = offer.key.to_string();
    let label = html! {
        kbd { (key) } " "
        span .said { (offer.statement) @if offer.seen { " (the readings show it)" } }
    };
    let line = offer.line.as_str();
    let act = Act { id, view, line, key: &key, first: offer.first };
    match &offer.asks {
        Asks::Nothing => act.plain(&label),
        Asks::Kilovolts => act.asking(
            &label,
            "",
            &html! {
                (field(line, "first", "Kilovolts left, or ? where the needle cannot tell", Kind::Number))
            },
        ),
        Asks::Ground { on } => act.asking(
            &label,
            "at",
            &html! {
                (numbered(line, "Number on the ground", on))
                (field(line, "second", "Where, if it is not plain", Kind::Words))
            },
        ),
        Asks::Lifted { on } => act.asking(
            &label,
            "",
            &html! {
                (numbered(line, "Number on the ground that came off", on))
            },
        ),
        Asks::Left { on } => act.asking(
            &label,
            "to",
            &html! {
                (numbered(line, "Number on the ground that stays on", on))
                (field(line, "second", "Who has it now", Kind::Words))
            },
        ),
        Asks::Cause => act.asking(
            &label,
            "",
            &html! {
                (field(line, "first", "Why the voltage ended", Kind::Words))
            },
        ),
    }
}

fn withdrawal(id: &str, view: &View, one: &Offers) -> Markup {
    let can = |name: &str| view.conductors.iter().any(|one| one.name == name && one.withdrawable);
    let line = say::of(&one.conductor, "withdraw");
    html! {
        @if can(&one.conductor) {
            (Act { id, view, line: &line, key: WITHDRAW, first: false }.plain(&html! {
                kbd { (WITHDRAW) } " "
                span .said { "The last typed reading was a slip; it stays, struck through" }
            }))
        }
    }
}

fn of_the_record(id: &str, view: &View) -> Markup {
    let remark = Act { id, view, line: "remark", key: "m", first: false };
    let first = view.next == Next::Close;
    html! {
        @if view.closable && view.conductors.iter().any(|one| one.applications > 0) {
            (Act { id, view, line: "close", key: CLOSE, first }.plain(&html! {
                span .said { "The work is over: the record ends here" }
            }))
        }
        @if !view.closed {
            (remark.asking(&html! { kbd { "m" } " " span .said { "Something was noticed" } }, "",
                &field("remark", "first", "In words", Kind::Words)))
        }
    }
}

/// One statement of one record.
struct Act<'a> {
    id: &'a str,
    view: &'a View,
    line: &'a str,
    key: &'a str,
    first: bool,
}

impl Act<'_> {
    /// A button that says the line.
    fn plain(&self, label: &Markup) -> Markup {
        html! {
            form .act method="post" action={ "/sheet/" (self.id) "/say" } data-line=(self.line)
                data-key=(self.key) data-sign=(self.sign(label)) {
                (self.sent())
                button .first[self.first] { (label) }
            }
        }
    }

    /// A line of its own that opens in place, with what has to be written.
    fn asking(&self, label: &Markup, joint: &str, fields: &Markup) -> Markup {
        html! {
            details .act id=(id(self.line, "act")) data-line=(self.line) data-key=(self.key) data-sign=(self.sign(label)) {
                summary .button .first[self.first] { (label) }
                form method="post" action={ "/sheet/" (self.id) "/say" } {
                    (self.sent())
                    @if !joint.is_empty() { input type="hidden" name="joint" value=(joint); }
                    (fields)
                    button { "Into the record" }
                }
            }
        }
    }

    /// What goes with every line. The same statement from the same state of the record is the same
    /// line sent again.
    fn sent(&self) -> Markup {
        let mut hasher = DefaultHasher::new();
        (self.line, self.view.readings).hash(&mut hasher);
        for one in &self.view.conductors {
            (&one.state, one.applications, one.grounds.len()).hash(&mut hasher);
        }
        let nonce = format!("{:016x}", hasher.finish());
        html! {
            input type="hidden" name="line" value=(self.line);
            input type="hidden" name="nonce" value=(nonce);
        }
    }

    /// Changes when it looks otherwise.
    fn sign(&self, label: &Markup) -> String {
        let mut hasher = DefaultHasher::new();
        (&label.0, self.first).hash(&mut hasher);
        format!("{:08x}", hasher.finish() >> 32)
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Number,
    Words,
}

fn field(line: &str, name: &str, label: &str, kind: Kind) -> Markup {
    let mode = (kind == Kind::Number).then_some("decimal");
    html! {
        label { (label) input id=(id(line, name)) name=(name) type="text" autocomplete="off" required[name == "first"]
                inputmode=[mode]; }
    }
}

/// A name of its own, so that what is typed stays in its field.
fn id(line: &str, name: &str) -> String {
    let mut hasher = DefaultHasher::new();
    line.hash(&mut hasher);
    format!("{name}-{:08x}", hasher.finish() >> 32)
}

/// The number of a ground; those that are on are at hand.
fn numbered(line: &str, label: &str, on: &[String]) -> Markup {
    let only = match on {
        [only] => Some(only),
        _ => None,
    };
    html! {
        label { (label) input id=(id(line, "first")) name="first" type="text" autocomplete="off" required
                value=[only]; }
        @if on.len() > 1 { p .quiet { "On it: " (on.join(", ")) } }
    }
}

/// Every key, and the way to do without them.
pub(super) fn keys() -> Markup {
    let more = [
        ("0 … 9", "a reading begins: kilovolts, Enter, current, Enter"),
        ("↓ ↑", "in a reading: 1 s earlier, 1 s later; with Shift 5 s"),
        ("*", "the next conductor is meant"),
        ("/ or ?", "this list"),
        ("Esc", "leaves a field"),
        (WITHDRAW, "the last typed reading was a slip"),
    ];
    html! {
        details .keys #keys data-keys {
            summary { "Keys" }
            label .single {
                input type="checkbox" id="single-keys" checked data-single-keys; " Single keys are heard"
            }
            dl {
                @for (key, says) in more { dt { kbd { (key) } } dd { (says) } }
                @for one in KEYS { dt { kbd { (one.key) } } dd { (one.label) } }
            }
        }
    }
}
