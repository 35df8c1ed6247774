//! Statements of what a hand did or an eye saw. Nothing here acts on anything: each one writes a
//! line into the record, and is worded as what is past.

use std::hash::{BuildHasher as _, DefaultHasher, Hash as _, Hasher as _, RandomState};

use maud::{Markup, html};
use session::live::view::RoleView;
use session::live::{Next, View};
use session::say;

use crate::show::stage::{Asks, CLOSE, KEYS, Offer, Offers, WHY, WITHDRAW, Waits, offers};
use crate::web::live::FIELD;

/// What can be said now of every conductor, what comes next first.
pub(crate) fn acts(record: &str, view: &View) -> Markup {
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
                    (of_one(record, one))
                    (withdrawal(record, view, one))
                    (of_the_record(record, view))
                }
            } @else {
                details .acts id=(id(&one.conductor, "of")) data-of=(one.conductor) {
                    summary { (one.conductor) ": what was done" }
                    (of_one(record, one))
                    (withdrawal(record, view, one))
                }
            }
        }
    }
}

fn of_one(record: &str, one: &Offers) -> Markup {
    html! {
        @for offer in &one.open { (statement(record, offer)) }
        @if !one.waits.is_empty() {
            details .waits {
                summary { "What cannot be said yet, and why" }
                ul {
                    @for Waits { key, statement, remedy } in &one.waits {
                        li data-waits=(key) { (statement) ": not yet, " (remedy) "." }
                    }
                }
            }
        }
    }
}

fn statement(record: &str, offer: &Offer) -> Markup {
    let key = offer.key.to_string();
    let label = html! {
        kbd { (key) } " "
        span .said { (offer.statement) @if offer.seen { " (the readings show it)" } }
    };
    let line = offer.line.as_str();
    let act = Act { record, line, key: &key, first: offer.first };
    let number = |label: &str, on: &[String]| numbered(line, label, on);
    let words = |name: &str, label: &str| field(line, name, label, Kind::Words);
    let left = "Kilovolts left, or ? where the needle cannot tell";
    let (joint, fields) = match &offer.asks {
        Asks::Nothing => return act.plain(&label),
        Asks::Kilovolts => ("", field(line, "first", left, Kind::Number)),
        Asks::Cause => ("", words("first", "Why the voltage ended")),
        Asks::Lifted { on } => ("", number("Number on the ground that came off", on)),
        Asks::Ground { on } => {
            let place = words("second", "Where, if it is not plain");
            ("at", html! { (number("Number on the ground", on)) (place) })
        }
        Asks::Left { on } => {
            let to = words("second", "Who has it now");
            ("to", html! { (number("Number on the ground that stays on", on)) (to) })
        }
    };
    act.asking(&label, joint, &fields)
}

fn withdrawal(record: &str, view: &View, one: &Offers) -> Markup {
    let can = |name: &str| view.conductors.iter().any(|one| one.name == name && one.withdrawable);
    let line = say::of(&one.conductor, "withdraw");
    html! {
        @if can(&one.conductor) {
            (Act { record, line: &line, key: WITHDRAW, first: false }.plain(&html! {
                kbd { (WITHDRAW) } " "
                span .said { "The last typed reading was a slip; it stays, struck through" }
            }))
        }
    }
}

fn of_the_record(record: &str, view: &View) -> Markup {
    let remark = Act { record, line: "remark", key: "m", first: false };
    let noticed = html! { kbd { "m" } " " span .said { "Something was noticed" } };
    let words = field("remark", "first", "In words", Kind::Words);
    let first = view.next == Next::Close;
    let close = Act { record, line: "close", key: CLOSE, first };
    let over =
        html! { kbd { (CLOSE) } " " span .said { "The work is over: the record ends here" } };
    let hear = matches!(view.next, Next::HearFrom { .. });
    let worked = view.conductors.iter().any(|one| one.applications > 0);
    html! {
        @for one in view.roles.iter().filter(|one| one.asked && !view.closed) {
            (was_heard(record, one, hear))
        }
        @if view.closable && worked { (close.plain(&over)) }
        @if !view.closed { (remark.asking(&noticed, "", &words)) }
    }
}

/// A part was heard, by whatever way was agreed on.
fn was_heard(record: &str, one: &RoleView, first: bool) -> Markup {
    let line = format!("here {}", one.role.key());
    let who = one.role.name();
    Act { record, line: &line, key: "#", first }.plain(&html! {
        kbd { "#" } " "
        span .said {
            "The " (who) " was heard: all is as it must be there"
            @if let Some(name) = &one.name { " (" (name) ")" }
        }
    })
}

/// One statement of one record.
struct Act<'a> {
    record: &'a str,
    line: &'a str,
    key: &'a str,
    first: bool,
}

impl Act<'_> {
    /// A button that says the line.
    fn plain(&self, label: &Markup) -> Markup {
        html! {
            form .act method="post" action={ "/sheet/" (self.record) "/say" } data-line=(self.line)
                data-key=(self.key) data-sign=(self.sign(label)) {
                (self.sent())
                button .first[self.first] { (label) }
            }
        }
    }

    /// A line of its own that opens in place, with what has to be written.
    fn asking(&self, label: &Markup, joint: &str, fields: &Markup) -> Markup {
        let (own, sign) = (id(self.line, "act"), self.sign(label));
        html! {
            details .act id=(own) data-line=(self.line) data-key=(self.key) data-sign=(sign) {
                summary .button .first[self.first] { (label) }
                form method="post" action={ "/sheet/" (self.record) "/say" } {
                    (self.sent())
                    @if !joint.is_empty() { input type="hidden" name="joint" value=(joint); }
                    (fields)
                    button { "Into the record" }
                }
            }
        }
    }

    /// What goes with every line. A form that is sent twice is said once.
    fn sent(&self) -> Markup {
        html! {
            input type="hidden" name="line" value=(self.line);
            (nonce())
        }
    }

    /// Changes when it looks otherwise.
    fn sign(&self, label: &Markup) -> String {
        let mut hasher = DefaultHasher::new();
        (&label.0, self.first).hash(&mut hasher);
        format!("{:08x}", hasher.finish() >> 32)
    }
}

/// A word of the form's own.
pub(crate) fn nonce() -> Markup {
    let word = RandomState::new().build_hasher().finish();
    html! { input type="hidden" name="nonce" value=(format!("{word:016x}")); }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Number,
    Words,
}

fn field(line: &str, name: &str, label: &str, kind: Kind) -> Markup {
    let number = kind == Kind::Number;
    let mode = number.then_some("decimal");
    let (own, required) = (id(line, name), name == "first");
    html! {
        label {
            (label)
            input id=(own) name=(name) type="text" autocomplete="off" required[required]
                maxlength=(FIELD)
                inputmode=[mode] data-number[number];
        }
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
    let own = id(line, "first");
    html! {
        label {
            (label)
            input id=(own) name="first" type="text" autocomplete="off" required value=[only]
                maxlength=(FIELD);
        }
        @if on.len() > 1 { p .quiet { "On it: " (on.join(", ")) } }
    }
}

/// Every key, and the way to do without them.
pub(super) fn keys() -> Markup {
    let more = [
        ("0 … 9", "a reading begins: kilovolts, Enter, current, Enter"),
        ("↓ ↑", "in a reading: 1 s earlier, 1 s later; with Shift 5 s"),
        (WHY, "why it is advised, longer; once more folds it"),
        ("*", "the next conductor is meant"),
        ("/ or ?", "this list"),
        ("Esc", "leaves a field"),
        (WITHDRAW, "the last typed reading was a slip"),
        (CLOSE, "the work is over"),
    ];
    html! {
        details .keys #keys data-keys {
            summary { "Keys" }
            label .single {
                input type="checkbox" id="single-keys" checked data-single-keys;
                " Single keys are heard"
            }
            dl {
                @for (key, says) in more { dt { kbd { (key) } } dd { (says) } }
                @for one in KEYS {
                    @let plain = one.asks.is_none().then_some(one.key);
                    dt { kbd { (one.key) } }
                    dd data-plain=[plain] data-words=[plain.map(|_| one.words)] { (one.label) }
                }
            }
        }
    }
}
