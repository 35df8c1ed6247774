//! One part of a record that came, against what is here: no database.

use std::collections::HashMap;

use session::record::Head;

use super::form::{ChainPart, RecordPart};
use super::refused::{Refused, Why};
use crate::chain::{Chain, Hash, NOTHING_BEFORE, hex, unhex};
use crate::check::Link;
use crate::id::is_name;

/// What is here of the record.
#[derive(Debug, Default)]
pub(super) struct Here {
    /// Who began it; `None` where it is not here.
    pub(super) begun_by: Option<String>,
    /// How far each writer's chain has come.
    pub(super) chains: HashMap<String, (u64, Hash)>,
    /// Seals of single events, by writer and number.
    pub(super) seals: HashMap<(String, u64), Hash>,
}

impl Here {
    fn seal(&self, writer: &str, seq: u64) -> Option<Hash> {
        let last = self.chains.get(writer).filter(|(last, _)| *last == seq).map(|(_, seal)| *seal);
        last.or_else(|| self.seals.get(&(writer.to_owned(), seq)).copied())
    }
}

/// What of a part can be taken in.
#[derive(Debug, Default)]
pub(super) struct Checked {
    /// What the record begins with, where it is not here yet.
    pub(super) begins: Option<Head>,
    /// Events that are new, chain by chain.
    pub(super) more: Vec<More>,
    /// Events that are here already, the same.
    pub(super) known: u64,
    pub(super) refused: Vec<Refused>,
}

/// New events of one chain.
#[derive(Debug)]
pub(super) struct More {
    pub(super) writer: String,
    /// How far the chain has come here; `None` where it is new.
    pub(super) stands: Option<(u64, Hash)>,
    pub(super) links: Vec<Link>,
}

pub(super) fn check(part: &RecordPart, here: &Here) -> Checked {
    let mut checked = Checked::default();
    let refuse = |writer: &str, seq: u64, why: Why| Refused {
        record: part.record.to_string(),
        writer: writer.to_owned(),
        seq,
        why,
    };
    if !is_name(part.record.as_str()) || part.record.given().is_none() || !is_name(&part.begun_by) {
        checked.refused.push(refuse(&part.begun_by, 0, Why::Broken));
        return checked;
    }
    if let Some(other) = here.begun_by.as_ref().filter(|other| **other != part.begun_by) {
        let why = Why::OtherBeginning { here: other.clone(), there: part.begun_by.clone() };
        checked.refused.push(refuse(&part.begun_by, 0, why));
        return checked;
    }
    let mut beginning = here.seal(&part.begun_by, 0);
    for chain in &part.chains {
        match check_chain(part, chain, here, beginning) {
            Ok((more, known)) => {
                checked.known += known;
                let first = more.links.first().filter(|first| first.seq == 0);
                if let Some(first) = first {
                    match serde_json::from_slice::<Head>(&first.bytes) {
                        Ok(head) => checked.begins = Some(head),
                        Err(error) => {
                            let why = Why::Unreadable { said: error.to_string() };
                            checked.refused.push(refuse(&chain.writer, 0, why));
                            return checked;
                        }
                    }
                    beginning = Some(first.seal);
                }
                if !more.links.is_empty() {
                    checked.more.push(more);
                }
            }
            Err((seq, why)) => checked.refused.push(refuse(&chain.writer, seq, why)),
        }
    }
    checked
}

type No = (u64, Why);

fn check_chain(
    part: &RecordPart,
    given: &ChainPart,
    here: &Here,
    beginning: Option<Hash>,
) -> Result<(More, u64), No> {
    let own = given.writer == part.begun_by;
    let chain = Chain { record: part.record.as_str(), writer: &given.writer };
    if !is_name(&given.writer) {
        return Err((0, Why::Broken));
    }
    let stands = here.chains.get(&given.writer).copied();
    let after = if own { given.after } else { Some(given.after.unwrap_or(0)) };
    let mut before = match after {
        None => NOTHING_BEFORE,
        Some(0) => beginning.ok_or((0, Why::Early))?,
        Some(seq) => here.seal(&given.writer, seq).ok_or((seq, Why::Early))?,
    };
    if let Some(there) = given.before.as_ref().filter(|there| **there != hex(&before)) {
        let why = Why::Other { here: hex(&before), there: there.clone() };
        return Err((after.unwrap_or(0), why));
    }
    let mut more = More { writer: given.writer.clone(), stands, links: Vec::new() };
    let (mut next, mut known) = (after.map_or(0, |after| after + 1), 0);
    for event in &given.events {
        let seal = chain.seal(event.seq, &before, event.bytes.as_bytes());
        if event.seq != next || unhex(&event.code) != Some(seal) {
            return Err((event.seq, Why::Broken));
        }
        if stands.is_some_and(|(last, _)| event.seq <= last) {
            match here.seal(&given.writer, event.seq) {
                Some(kept) if kept == seal => known += 1,
                Some(kept) => {
                    let why = Why::Other { here: hex(&kept), there: event.code.clone() };
                    return Err((event.seq, why));
                }
                None => return Err((event.seq, Why::Early)),
            }
        } else {
            more.links.push(event.link());
        }
        (before, next) = (seal, event.seq + 1);
    }
    Ok((more, known))
}
