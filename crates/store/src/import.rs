//! Records in from a file: what is new is added, nothing is ever overwritten.

use async_recursion::async_recursion as built_here;
use serde::Serialize;
use session::record::Head;

use crate::append::{self, count, kind_key};
use crate::chain::Hash;
use crate::check::Link;
use crate::db::{Tries, Wire, again, on, writing};
use crate::export::{
    Export, ExportedChain, ExportedEvent, ExportedFindings, ExportedRecord, ExportedSignature,
};
use crate::findings;
use crate::id::{self, RecordId};
use crate::open::{Store, micros};
use crate::overview::follow::{Begun, Touched};
use crate::signatures;
use crate::trouble::ImportError;
use crate::verify::Tally;

/// What an import did with one record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Imported {
    /// Which.
    pub record: RecordId,
    /// Whether it was not here before.
    pub new: bool,
    /// How many events were added, what it begins with among them.
    pub added: u64,
    /// How many were here already, the same.
    pub known: u64,
    /// How many findings were added.
    pub findings: u64,
    /// How many signatures were added.
    pub signatures: u64,
}

impl Store {
    /// Takes in every record of an export: all of them, or none. What is here already and the
    /// same is left as it is.
    ///
    /// # Errors
    /// It is no export, a seal in it does not hold, or something else is here already in the
    /// place of one of its events; nothing is taken in then.
    #[built_here]
    pub async fn import(&self, bytes: &[u8]) -> Result<Vec<Imported>, ImportError> {
        let export = Export::parse(bytes)?;
        let broken = export.verify();
        if !broken.is_empty() {
            return Err(ImportError::Broken { broken });
        }
        self.take_in(&export).await
    }

    /// The same of one whose seals hold.
    pub(crate) async fn take_in(&self, export: &Export) -> Result<Vec<Imported>, ImportError> {
        let imported = again!(Tries::long(&self.db), self.take_all_in(export))?;
        for one in imported.iter().filter(|one| one.added > 0) {
            self.let_go(&one.record);
        }
        Ok(imported)
    }

    async fn take_all_in(&self, export: &Export) -> Result<Vec<Imported>, ImportError> {
        let mut imported = Vec::new();
        writing!(&self.db, tx => {
            let mut touched = Touched::default();
            for record in &export.records {
                imported.push(take_in(&mut tx, record).await?);
                touched.add_record(record.record.as_str());
            }
            touched.follow(&mut tx).await?;
            tx.commit().await?;
        });
        Ok(imported)
    }
}

async fn take_in(tx: &mut dyn Wire, record: &ExportedRecord) -> Result<Imported, ImportError> {
    const BEGUN_BY: &str = "SELECT writer FROM record WHERE id = $1";
    let found: Option<(String,)> = on!(tx, line => sqlx::query_as(BEGUN_BY)
        .bind(record.record.as_str())
        .fetch_optional(line)
        .await?);
    let new = match found {
        None => {
            begin(tx, record).await?;
            true
        }
        Some((writer,)) if writer == record.begun_by => false,
        Some(_) => return Err(conflict(record, &record.begun_by, 0)),
    };
    let mut imported = Imported {
        record: record.record.clone(),
        new,
        added: 0,
        known: 0,
        findings: 0,
        signatures: 0,
    };
    let mut tally = Tally::default();
    for chain in &record.chains {
        let (known, more) = take_chain(tx, record, chain).await?;
        imported.known += known;
        imported.added += count(more.len()).cast_unsigned();
        more.iter().for_each(|link| tally.take(link));
    }
    if imported.added > 0 {
        on!(tx, line => sqlx::query(
            "UPDATE record SET events = events + $2, readings = readings + $3, \
             closed = closed + $4, last_us = CASE WHEN $5 > last_us THEN $5 ELSE last_us END \
             WHERE id = $1",
        )
        .bind(record.record.as_str())
        .bind(tally.events)
        .bind(tally.readings)
        .bind(tally.closed)
        .bind(tally.last_us.unwrap_or(i64::MIN))
        .execute(line)
        .await.map(drop)?);
    }
    for findings in &record.findings {
        imported.findings += take_findings(tx, record, findings).await?;
    }
    for signature in &record.signatures {
        imported.signatures += take_signature(tx, record, signature).await?;
    }
    Ok(imported)
}

async fn begin(tx: &mut dyn Wire, record: &ExportedRecord) -> Result<(), ImportError> {
    let own = record.chains.iter().find(|chain| chain.writer == record.begun_by);
    let bytes = own.and_then(|chain| chain.events.first()).map(|first| first.bytes.as_bytes());
    let head: Head = serde_json::from_slice(bytes.unwrap_or_default()).map_err(|error| {
        let (id, writer) = (record.record.to_string(), record.begun_by.clone());
        let said = format!("record {id}, writer {writer}, event 0: {error}");
        ImportError::NotAnExport { line: 1, said }
    })?;
    let Begun { day, made_with } = Begun::of(&head, record.begun);
    on!(tx, line => sqlx::query(
        "INSERT INTO record (id, writer, kind, asset, begun_us, last_us, closed, events, \
         readings, day, made_with) VALUES ($1, $2, $3, $4, $5, $5, 0, 0, 0, $6, $7)",
    )
    .bind(record.record.as_str())
    .bind(&record.begun_by)
    .bind(kind_key(head.kind))
    .bind(&head.job.asset.id)
    .bind(micros(record.begun))
    .bind(day)
    .bind(&made_with)
    .execute(line)
    .await.map(drop)?);
    Ok(())
}

/// Adds what is new of one chain; how many events were here already, and those that were not.
async fn take_chain(
    tx: &mut dyn Wire,
    record: &ExportedRecord,
    chain: &ExportedChain,
) -> Result<(u64, Vec<Link>), ImportError> {
    let Some(end) = chain.events.last().map(|last| last.link().seal) else {
        return Ok((0, Vec::new()));
    };
    const FOUND: &str = "SELECT id, seq, seal FROM chain WHERE record = $1 AND writer = $2";
    let found: Option<(i64, i64, Vec<u8>)> = on!(tx, line => sqlx::query_as(FOUND)
        .bind(record.record.as_str())
        .bind(&chain.writer)
        .fetch_optional(line)
        .await?);
    let stands = found.as_ref().map_or(-1, |(_, seq, _)| *seq);
    let more: Vec<Link> = chain.events.iter().map(ExportedEvent::link).collect();
    let (here, more): (Vec<Link>, Vec<Link>) =
        more.into_iter().partition(|link| link.seq.cast_signed() <= stands);
    let id = match found {
        None => new_chain(tx, record, chain, &end).await?,
        Some((id, seq, seal)) => {
            are_here(tx, id, &here, record, chain).await?;
            if !more.is_empty() {
                let to = (chain.seq.cast_signed(), &end[..]);
                append::advance(tx, id, (seq, &seal), to).await?;
            }
            id
        }
    };
    let events = more.iter().map(|link| (link.seq.cast_signed(), &link.bytes[..], &link.seal[..]));
    append::insert_all(tx, id, &events.collect::<Vec<_>>()).await?;
    Ok((count(here.len()).cast_unsigned(), more))
}

async fn new_chain(
    tx: &mut dyn Wire,
    record: &ExportedRecord,
    chain: &ExportedChain,
    end: &Hash,
) -> Result<i64, ImportError> {
    let id = id::number();
    on!(tx, line => sqlx::query(
        "INSERT INTO chain (id, record, writer, seq, seal) VALUES ($1, $2, $3, $4, $5)",
    )
    .bind(id)
    .bind(record.record.as_str())
    .bind(&chain.writer)
    .bind(chain.seq.cast_signed())
    .bind(&end[..])
    .execute(line)
    .await.map(drop)?);
    Ok(id)
}

/// Whether these are here, each the same.
async fn are_here(
    tx: &mut dyn Wire,
    id: i64,
    links: &[Link],
    record: &ExportedRecord,
    chain: &ExportedChain,
) -> Result<(), ImportError> {
    const EVENT: &str = "SELECT bytes, seal FROM event WHERE chain = $1 AND seq = $2";
    for link in links {
        let here: Option<(Vec<u8>, Vec<u8>)> = on!(tx, line => sqlx::query_as(EVENT)
            .bind(id)
            .bind(link.seq.cast_signed())
            .fetch_optional(line)
            .await?);
        match here {
            Some((bytes, seal)) if bytes == link.bytes && seal == link.seal => {}
            _ => return Err(conflict(record, &chain.writer, link.seq)),
        }
    }
    Ok(())
}

async fn take_findings(
    tx: &mut dyn Wire,
    record: &ExportedRecord,
    findings: &ExportedFindings,
) -> Result<u64, ImportError> {
    const HERE: &str = "SELECT seal FROM findings WHERE id = $1";
    let row = findings.row();
    let here: Option<(Vec<u8>,)> =
        on!(tx, line => sqlx::query_as(HERE).bind(&row.id).fetch_optional(line).await?);
    match here {
        Some((kept,)) if kept == row.seal => return Ok(0),
        Some(_) => {
            let record = record.record.to_string();
            return Err(ImportError::FindingsConflict { record, id: row.id });
        }
        None => {}
    }
    findings::insert(tx, &record.record, &row).await?;
    Ok(1)
}

async fn take_signature(
    tx: &mut dyn Wire,
    record: &ExportedRecord,
    signature: &ExportedSignature,
) -> Result<u64, ImportError> {
    const HERE: &str = "SELECT seal FROM signature WHERE id = $1";
    let row = signature.row();
    let here: Option<(Vec<u8>,)> =
        on!(tx, line => sqlx::query_as(HERE).bind(&row.id).fetch_optional(line).await?);
    match here {
        Some((kept,)) if kept == row.seal => return Ok(0),
        Some(_) => {
            let record = record.record.to_string();
            return Err(ImportError::SignatureConflict { record, id: row.id });
        }
        None => {}
    }
    signatures::insert(tx, &record.record, &row).await?;
    Ok(1)
}

fn conflict(record: &ExportedRecord, writer: &str, seq: u64) -> ImportError {
    let (record, writer) = (record.record.to_string(), writer.to_owned());
    ImportError::Conflict { record, writer, seq }
}
