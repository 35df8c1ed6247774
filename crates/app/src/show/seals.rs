//! Whether seals hold, as readable text.

use std::fmt::Write as _;

use serde::Serialize;
use store::{Broken, Seal};

use super::wrapped;

const WIDTH: usize = 100;

/// What `verify` found.
#[derive(Debug, Serialize)]
pub(crate) struct Checked {
    /// Whether every seal holds, and the code asked for is there.
    pub(crate) holds: bool,
    /// How far each chain has come.
    seals: Vec<Sealed>,
    broken: Vec<Broken>,
    code: Option<Code>,
}

/// One chain.
#[derive(Debug, Serialize)]
pub(crate) struct Sealed {
    record: String,
    writer: String,
    /// Of the last event.
    seq: u64,
    code: String,
    #[serde(skip)]
    short: String,
}

impl Sealed {
    pub(crate) fn of(record: String, writer: String, seal: &Seal) -> Self {
        Self { record, writer, seq: seal.seq, code: seal.code.clone(), short: seal.short() }
    }
}

/// A printed code that was looked for.
#[derive(Debug, Serialize)]
pub(crate) struct Code {
    pub(crate) given: String,
    pub(crate) found: Option<Place>,
    /// Whether the record went on after it.
    pub(crate) went_on: bool,
}

/// Where a code stands.
#[derive(Debug, Serialize)]
pub(crate) struct Place {
    /// Whose chain has it.
    pub(crate) writer: String,
    /// At which event.
    pub(crate) seq: u64,
}

impl Checked {
    pub(crate) fn of(seals: Vec<Sealed>, broken: Vec<Broken>, code: Option<Code>) -> Self {
        let there = code.as_ref().is_none_or(|code| code.found.is_some());
        Self { holds: broken.is_empty() && there, seals, broken, code }
    }
}

/// What holds and what does not; what does not stands first.
pub(crate) fn text(checked: &Checked) -> String {
    let mut out = String::new();
    if !checked.broken.is_empty() {
        let said = "Put the file aside as it is and change nothing in it; go by the paper, or by \
                    an export or a copy whose seals hold. These do not hold:";
        line!(out, "{}", wrapped(said, WIDTH, 0));
        for one in &checked.broken {
            line!(out, "- {}", wrapped(&one.to_string(), WIDTH, 2));
        }
    }
    if let Some(code) = &checked.code {
        line!(out, "{}", wrapped(&about_code(code), WIDTH, 0));
    }
    if checked.broken.is_empty() {
        line!(out, "{}", held(&checked.seals));
        for one in &checked.seals {
            line!(out, "{}  to event {}  code {}", one.record, one.seq, one.short);
        }
        let several = checked.seals.windows(2).any(|two| two[0].record == two[1].record);
        if several {
            let said = "TWO ENTRIES: where a record stands twice, two databases wrote in it. Look \
                        whether it is one test.";
            line!(out, "{}", wrapped(said, WIDTH, 0));
        }
        let said = "A seal shows that what stands here is in order and as it was written. Whether \
                    it is the whole record is shown by a code on paper: give that with --code.";
        if checked.code.is_none() && !checked.seals.is_empty() {
            line!(out, "{}", wrapped(said, WIDTH, 0));
        }
    }
    out
}

fn held(seals: &[Sealed]) -> String {
    match seals.len() {
        0 => "No record is kept here.".to_owned(),
        1 => "Every seal holds.".to_owned(),
        more => format!("Every seal of {more} chains holds."),
    }
}

fn about_code(code: &Code) -> String {
    match (&code.found, code.went_on) {
        (Some(Place { seq, .. }), false) => {
            format!("The code stands at event {seq}, the last: the record is the one on the paper.")
        }
        (Some(Place { seq, .. }), true) => format!(
            "The code stands at event {seq}: up to there the record is the one on the paper; it \
             went on after that."
        ),
        (None, _) => format!(
            "Go by the paper and find out why: no event of this record has the code {}. It is of \
             another record, or the record is no longer the one that was printed.",
            code.given
        ),
    }
}
