//! Records out as one file, and such a file checked.
//!
//! An event's bytes stand in the file as a text, so that its seal is of the file as it is of the
//! database, and stays the same wherever the record goes.

use std::io::Write;

use async_recursion::async_recursion as built_here;
use serde::{Deserialize, Serialize};

use crate::chain::{Chain, Hash, NOTHING_BEFORE, Seal, Sealed, hex, unhex};
use crate::check::{Broken, Check, How, Link};
use crate::csv;
use crate::db::{Wire, on, viewing};
use crate::findings::{self, Row};
use crate::id::{RecordId, is_name};
use crate::open::{Store, micros, moment};
use crate::read::{ChainRow, chains, no_record};
use crate::signatures;
use crate::trouble::{ExportError, ImportError, ReadError};
use crate::verify::page;

/// Edition of the file's form.
pub const EXPORT_FORMAT: &str = "ohmstead-export-2";

/// Editions that are read; the first has no signatures.
const READ: &[&str] = &["ohmstead-export-1", EXPORT_FORMAT];

/// Records as they are taken from one database to another.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Export {
    /// Edition of this form.
    pub format: String,
    /// The records.
    pub records: Vec<ExportedRecord>,
}

/// One record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ExportedRecord {
    /// Its name.
    pub record: RecordId,
    /// How it came to be, as what it begins with says: for whoever reads the file by eye.
    pub kind: String,
    /// Who began it.
    pub begun_by: String,
    /// When, by the wall clock.
    pub begun: jiff::Timestamp,
    /// Findings that were made of it.
    pub findings: Vec<ExportedFindings>,
    /// Signatures that were given to it.
    #[serde(default)]
    pub signatures: Vec<ExportedSignature>,
    /// The chain of each writer.
    pub chains: Vec<ExportedChain>,
}

/// One writer's events.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ExportedChain {
    /// Who wrote them.
    pub writer: String,
    /// Number of the last.
    pub seq: u64,
    /// Its code, which stands for the whole chain.
    pub code: String,
    /// The events.
    pub events: Vec<ExportedEvent>,
}

/// One event.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ExportedEvent {
    /// Its number.
    pub seq: u64,
    /// Its seal, in hexadecimal.
    pub code: String,
    /// The bytes that were sealed.
    pub bytes: String,
}

/// Findings as they were kept.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ExportedFindings {
    /// Their name.
    pub id: String,
    /// When the record was judged.
    pub judged: jiff::Timestamp,
    /// Edition of the judge's method.
    pub method: String,
    /// The verdict in one word.
    pub verdict: String,
    /// The code that the record had then.
    pub of_code: String,
    /// Their seal.
    pub code: String,
    /// The bytes that were sealed.
    pub bytes: String,
}

/// A signature as it was kept.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ExportedSignature {
    /// Its name.
    pub id: String,
    /// When it was given.
    pub signed: jiff::Timestamp,
    /// By whom.
    pub name: String,
    /// As what.
    pub role: String,
    /// In their own words.
    pub remark: Option<String>,
    /// The code that the record had then.
    pub of_code: String,
    /// The findings that were signed.
    pub findings: Option<String>,
    /// Its seal.
    pub code: String,
}

impl Store {
    /// Writes these records as one file, event by event.
    ///
    /// # Errors
    /// One of them cannot be read, or the file cannot be written.
    #[built_here]
    pub async fn export_json(
        &self,
        ids: &[RecordId],
        to: &mut (dyn Write + Send),
    ) -> Result<(), ExportError> {
        write!(to, "{{\"format\":{},\"records\":[", text(EXPORT_FORMAT))?;
        for (at, id) in ids.iter().enumerate() {
            to.write_all(if at > 0 { b",\n" } else { b"\n" })?;
            viewing!(&self.db, view => export_one(&mut view, id, to).await)?;
        }
        to.write_all(b"\n]}\n")?;
        to.flush()?;
        Ok(())
    }

    /// Writes the readings of a record as a readings file.
    ///
    /// # Errors
    /// It cannot be read, has no such form, or the file cannot be written.
    #[built_here]
    pub async fn export_csv(
        &self,
        id: &RecordId,
        to: &mut (dyn Write + Send),
    ) -> Result<(), ExportError> {
        let stored = self.record(id).await?;
        to.write_all(csv::readings(&stored.record)?.as_bytes())?;
        to.flush()?;
        Ok(())
    }
}

/// One record, in one view: what comes in meanwhile belongs to the next export.
#[built_here]
pub(crate) async fn export_one(
    view: &mut dyn Wire,
    id: &RecordId,
    to: &mut (dyn Write + Send),
) -> Result<(), ExportError> {
    let Some((kind, begun_by, begun)) = beginning(view, id).await? else {
        return Err(no_record(id).into());
    };
    write!(
        to,
        "{{\"record\":{},\"kind\":{},\"begun_by\":{},\"begun\":{},\n\"findings\":[",
        text(id.as_str()),
        text(&kind),
        text(&begun_by),
        text(&moment(begun).to_string())
    )?;
    for (at, row) in findings::rows(view, id).await?.into_iter().enumerate() {
        to.write_all(if at > 0 { b",\n" } else { b"\n" })?;
        put(to, &ExportedFindings::of(row, id)?)?;
    }
    to.write_all(b"],\n\"signatures\":[")?;
    for (at, row) in signatures::rows(view, id).await?.into_iter().enumerate() {
        to.write_all(if at > 0 { b",\n" } else { b"\n" })?;
        put(to, &ExportedSignature::of(row))?;
    }
    to.write_all(b"],\n\"chains\":[")?;
    for (at, chain) in chains(view, id).await?.iter().enumerate() {
        to.write_all(if at > 0 { b",\n" } else { b"\n" })?;
        export_chain(view, id, chain, to).await?;
    }
    to.write_all(b"]}")?;
    Ok(())
}

async fn export_chain(
    view: &mut dyn Wire,
    id: &RecordId,
    chain: &ChainRow,
    to: &mut (dyn Write + Send),
) -> Result<(), ExportError> {
    let ChainRow { chain, writer, seal } = chain;
    write!(
        to,
        "{{\"writer\":{},\"seq\":{},\"code\":{},\"events\":[",
        text(writer),
        seal.seq,
        text(&seal.code)
    )?;
    let (mut after, mut first) = (-1, true);
    loop {
        let page = page(view, *chain, after).await?;
        let Some(last) = page.last() else { break };
        after = last.seq.cast_signed();
        for link in page {
            to.write_all(if first { b"\n" } else { b",\n" })?;
            first = false;
            let (seq, code) = (link.seq, hex(&link.seal));
            let bytes = String::from_utf8(link.bytes).map_err(|error| {
                let (record, writer) = (id.to_string(), writer.clone());
                ReadError::Unreadable { record, writer, seq, said: error.to_string() }
            })?;
            put(to, &ExportedEvent { seq, code, bytes })?;
        }
    }
    to.write_all(b"]}")?;
    Ok(())
}

/// Kind, writer and moment of a record's beginning.
async fn beginning(
    view: &mut dyn Wire,
    id: &RecordId,
) -> Result<Option<(String, String, i64)>, ReadError> {
    const LINE: &str = "SELECT kind, writer, begun_us FROM record WHERE id = $1";
    let found = on!(view, line => sqlx::query_as(LINE)
        .bind(id.as_str())
        .fetch_optional(line)
        .await?);
    Ok(found)
}

impl ExportedFindings {
    pub(crate) fn of(row: Row, id: &RecordId) -> Result<Self, ReadError> {
        let Row { id: name, judged_us, method, verdict, code, bytes, seal } = row;
        let bytes = String::from_utf8(bytes).map_err(|error| ReadError::Unreadable {
            record: id.to_string(),
            writer: name.clone(),
            seq: 0,
            said: error.to_string(),
        })?;
        let judged = moment(judged_us);
        let sealed = hex(&crate::append::hash(seal));
        Ok(Self { id: name, judged, method, verdict, of_code: code, code: sealed, bytes })
    }

    /// A code that is none stands for nothing.
    pub(crate) fn seal(&self) -> Hash {
        unhex(&self.code).unwrap_or(NOTHING_BEFORE)
    }

    /// As they are kept.
    pub(crate) fn row(&self) -> Row {
        Row {
            id: self.id.clone(),
            judged_us: micros(self.judged),
            method: self.method.clone(),
            verdict: self.verdict.clone(),
            code: self.of_code.clone(),
            bytes: self.bytes.clone().into_bytes(),
            seal: self.seal().to_vec(),
        }
    }

    pub(crate) fn holds(&self, record: &RecordId) -> bool {
        let judged_us = micros(self.judged);
        let sealed = Sealed {
            record: record.as_str(),
            id: &self.id,
            judged_us,
            code: &self.of_code,
            method: &self.method,
            verdict: &self.verdict,
            bytes: self.bytes.as_bytes(),
        };
        // A moment finer than is kept is none that was sealed.
        self.seal() == sealed.seal() && moment(judged_us) == self.judged
    }
}

impl ExportedSignature {
    pub(crate) fn of(row: signatures::Row) -> Self {
        let signatures::Row { id, signed_us, name, role, remark, code, findings, seal } = row;
        let (signed, sealed) = (moment(signed_us), hex(&crate::append::hash(seal)));
        Self { id, signed, name, role, remark, of_code: code, findings, code: sealed }
    }

    /// As it is kept; a code that is none stands for nothing.
    pub(crate) fn row(&self) -> signatures::Row {
        signatures::Row {
            id: self.id.clone(),
            signed_us: micros(self.signed),
            name: self.name.clone(),
            role: self.role.clone(),
            remark: self.remark.clone(),
            code: self.of_code.clone(),
            findings: self.findings.clone(),
            seal: unhex(&self.code).unwrap_or(NOTHING_BEFORE).to_vec(),
        }
    }

    pub(crate) fn holds(&self, record: &RecordId) -> bool {
        let row = self.row();
        // A moment finer than is kept is none that was sealed.
        row.holds(record) && moment(row.signed_us) == self.signed
    }
}

/// A text as JSON; it cannot fail.
fn text(text: &str) -> String {
    serde_json::Value::from(text).to_string()
}

fn put(to: &mut (dyn Write + Send), what: &impl Serialize) -> Result<(), ExportError> {
    serde_json::to_writer(to, what).map_err(|error| ExportError::Write(error.into()))
}

impl Export {
    /// Reads an export; its seals are not looked at.
    ///
    /// # Errors
    /// It is cut, no export, or of a later form.
    pub fn parse(bytes: &[u8]) -> Result<Self, ImportError> {
        match serde_json::from_slice::<Self>(bytes) {
            Ok(export) if READ.contains(&export.format.as_str()) => Ok(export),
            Ok(export) => Err(ImportError::Edition { found: export.format }),
            Err(error) if error.is_eof() => Err(ImportError::Cut { line: error.line() }),
            Err(error) => match form_of(bytes) {
                Some(found) if !READ.contains(&found.as_str()) => {
                    Err(ImportError::Edition { found })
                }
                _ => Err(ImportError::NotAnExport { line: error.line(), said: error.to_string() }),
            },
        }
    }

    /// What does not hold in it; nothing where all does.
    #[must_use]
    pub fn verify(&self) -> Vec<Broken> {
        self.records.iter().flat_map(ExportedRecord::verify).collect()
    }

    /// How far the chains of each record have come.
    #[must_use]
    pub fn seals(&self) -> Vec<(RecordId, String, Seal)> {
        let of = |record: &ExportedRecord| {
            let name = record.record.clone();
            let seal = move |chain: &ExportedChain| {
                let seal = Seal { seq: chain.seq, code: chain.code.clone() };
                (name.clone(), chain.writer.clone(), seal)
            };
            record.chains.iter().map(seal).collect::<Vec<_>>()
        };
        self.records.iter().flat_map(of).collect()
    }
}

/// The form that a file names, where that much of it can be read.
fn form_of(bytes: &[u8]) -> Option<String> {
    let value: serde_json::Value = serde_json::from_slice(bytes).ok()?;
    Some(value.get("format")?.as_str()?.to_owned())
}

impl ExportedRecord {
    pub(crate) fn verify(&self) -> Vec<Broken> {
        let id = &self.record;
        let whole = Chain { record: id.as_str(), writer: &self.begun_by };
        let own = self.chains.iter().find(|chain| chain.writer == self.begun_by);
        let beginning = own.and_then(|chain| chain.events.first()).filter(|first| first.seq == 0);
        let Some(beginning) = beginning.filter(|_| is_name(id.as_str())) else {
            return vec![whole.broken(Some(0), How::NoBeginning, None)];
        };
        let after = unhex(&beginning.code).unwrap_or(NOTHING_BEFORE);
        let mut broken = Vec::new();
        for (at, one) in self.chains.iter().enumerate() {
            let chain = Chain { record: id.as_str(), writer: &one.writer };
            if self.chains[..at].iter().any(|before| before.writer == one.writer) {
                broken.push(chain.broken(None, How::NoBeginning, None));
                continue;
            }
            let own = one.writer == self.begun_by;
            let before = if own { NOTHING_BEFORE } else { after };
            let mut check = Check::new(chain, u64::from(!own), before, one.seq);
            for event in &one.events {
                check.link(event.link());
            }
            broken.extend(check.end(&unhex(&one.code).unwrap_or(NOTHING_BEFORE)));
        }
        let says = serde_json::from_str::<serde_json::Value>(&beginning.bytes).ok();
        let kind = says.as_ref().and_then(|head| head.get("kind")?.as_str());
        if broken.is_empty() && kind != Some(&self.kind) {
            broken.push(whole.broken(None, How::Listed { column: "kind" }, None));
        }
        if broken.is_empty() && id.given() != Some(self.begun) {
            broken.push(whole.broken(None, How::Listed { column: "begun" }, None));
        }
        let wrong = self.findings.iter().filter(|one| !one.holds(id));
        broken.extend(
            wrong.map(|one| whole.broken(None, How::Findings { id: one.id.clone() }, None)),
        );
        let wrong = self.signatures.iter().filter(|one| !one.holds(id));
        broken.extend(
            wrong.map(|one| whole.broken(None, How::Signature { id: one.id.clone() }, None)),
        );
        broken
    }
}

impl ExportedEvent {
    pub(crate) fn link(&self) -> Link {
        let seal = unhex(&self.code).unwrap_or(NOTHING_BEFORE);
        Link { seq: self.seq, bytes: self.bytes.clone().into_bytes(), seal }
    }
}
