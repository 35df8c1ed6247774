//! Records in from a file: what is new is added, nothing is ever overwritten.

use serde::Serialize;
use session::record::Head;

use crate::append::{count, kind_key};
use crate::check::Link;
use crate::db::writing;
use crate::export::{Export, ExportedChain, ExportedFindings, ExportedRecord, ExportedSignature};
use crate::id::RecordId;
use crate::open::{Store, micros};
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
    pub async fn import(&self, bytes: &[u8]) -> Result<Vec<Imported>, ImportError> {
        let export = Export::parse(bytes)?;
        let broken = export.verify();
        if !broken.is_empty() {
            return Err(ImportError::Broken { broken });
        }
        let imported = writing!(&self.db, tx => {
            let mut imported = Vec::new();
            for record in &export.records {
                imported.push(take_in(&mut tx, record).await?);
            }
            tx.commit().await?;
            imported
        });
        for one in imported.iter().filter(|one| one.added > 0) {
            self.let_go(&one.record);
        }
        Ok(imported)
    }
}

async fn take_in(
    tx: &mut sqlx::SqliteConnection,
    record: &ExportedRecord,
) -> Result<Imported, ImportError> {
    let found: Option<(String,)> = sqlx::query_as("SELECT writer FROM record WHERE id = $1")
        .bind(record.record.as_str())
        .fetch_optional(&mut *tx)
        .await?;
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
    sqlx::query(
        "UPDATE record SET events = events + $2, readings = readings + $3, closed = closed + $4, \
         last_us = CASE WHEN $5 > last_us THEN $5 ELSE last_us END WHERE id = $1",
    )
    .bind(record.record.as_str())
    .bind(tally.events)
    .bind(tally.readings)
    .bind(tally.closed)
    .bind(tally.last_us.unwrap_or(i64::MIN))
    .execute(&mut *tx)
    .await?;
    for findings in &record.findings {
        imported.findings += take_findings(tx, record, findings).await?;
    }
    for signature in &record.signatures {
        imported.signatures += take_signature(tx, record, signature).await?;
    }
    Ok(imported)
}

async fn begin(
    tx: &mut sqlx::SqliteConnection,
    record: &ExportedRecord,
) -> Result<(), ImportError> {
    let own = record.chains.iter().find(|chain| chain.writer == record.begun_by);
    let bytes = own.and_then(|chain| chain.events.first()).map(|first| first.bytes.as_bytes());
    let head: Head = serde_json::from_slice(bytes.unwrap_or_default()).map_err(|error| {
        let (id, writer) = (record.record.to_string(), record.begun_by.clone());
        let said = format!("record {id}, writer {writer}, event 0: {error}");
        ImportError::NotAnExport { line: 1, said }
    })?;
    sqlx::query(
        "INSERT INTO record (id, writer, kind, asset, begun_us, last_us, closed, events, readings) \
         VALUES ($1, $2, $3, $4, $5, $5, 0, 0, 0)",
    )
    .bind(record.record.as_str())
    .bind(&record.begun_by)
    .bind(kind_key(head.kind))
    .bind(&head.job.asset.id)
    .bind(micros(record.begun))
    .execute(&mut *tx)
    .await?;
    Ok(())
}

/// Adds what is new of one chain; how many events were here already, and those that were not.
async fn take_chain(
    tx: &mut sqlx::SqliteConnection,
    record: &ExportedRecord,
    chain: &ExportedChain,
) -> Result<(u64, Vec<Link>), ImportError> {
    let end = chain.events.last().map(|last| last.link().seal);
    let found: Option<(i64, i64)> =
        sqlx::query_as("SELECT id, seq FROM chain WHERE record = $1 AND writer = $2")
            .bind(record.record.as_str())
            .bind(&chain.writer)
            .fetch_optional(&mut *tx)
            .await?;
    let (Some(end), id) = (end, found.map(|(id, _)| id)) else { return Ok((0, Vec::new())) };
    let id = match id {
        Some(id) => id,
        None => {
            let (id,): (i64,) = sqlx::query_as("SELECT COALESCE(MAX(id), 0) + 1 FROM chain")
                .fetch_one(&mut *tx)
                .await?;
            sqlx::query(
                "INSERT INTO chain (id, record, writer, seq, seal) VALUES ($1, $2, $3, $4, $5)",
            )
            .bind(id)
            .bind(record.record.as_str())
            .bind(&chain.writer)
            .bind(chain.seq.cast_signed())
            .bind(&end[..])
            .execute(&mut *tx)
            .await?;
            id
        }
    };
    let stands = found.map_or(-1, |(_, seq)| seq);
    let (mut known, mut more) = (0, Vec::new());
    for event in &chain.events {
        let link = event.link();
        if link.seq.cast_signed() <= stands {
            let here: Option<(Vec<u8>, Vec<u8>)> =
                sqlx::query_as("SELECT bytes, seal FROM event WHERE chain = $1 AND seq = $2")
                    .bind(id)
                    .bind(link.seq.cast_signed())
                    .fetch_optional(&mut *tx)
                    .await?;
            match here {
                Some((bytes, seal)) if bytes == link.bytes && seal == link.seal => known += 1,
                _ => return Err(conflict(record, &chain.writer, link.seq)),
            }
            continue;
        }
        sqlx::query("INSERT INTO event (chain, seq, bytes, seal) VALUES ($1, $2, $3, $4)")
            .bind(id)
            .bind(link.seq.cast_signed())
            .bind(&link.bytes)
            .bind(&link.seal[..])
            .execute(&mut *tx)
            .await?;
        more.push(link);
    }
    if found.is_some() && !more.is_empty() {
        sqlx::query("UPDATE chain SET seq = $2, seal = $3 WHERE id = $1")
            .bind(id)
            .bind(chain.seq.cast_signed())
            .bind(&end[..])
            .execute(&mut *tx)
            .await?;
    }
    Ok((known, more))
}

async fn take_findings(
    tx: &mut sqlx::SqliteConnection,
    record: &ExportedRecord,
    findings: &ExportedFindings,
) -> Result<u64, ImportError> {
    let seal = findings.seal();
    let here: Option<(Vec<u8>,)> = sqlx::query_as("SELECT seal FROM findings WHERE id = $1")
        .bind(&findings.id)
        .fetch_optional(&mut *tx)
        .await?;
    match here {
        Some((kept,)) if kept == seal => return Ok(0),
        Some(_) => {
            let (record, id) = (record.record.to_string(), findings.id.clone());
            return Err(ImportError::FindingsConflict { record, id });
        }
        None => {}
    }
    sqlx::query(
        "INSERT INTO findings (id, record, judged_us, method, verdict, code, bytes, seal) \
         VALUES ($1, $2, $3, $4, $5, $6, $7, $8)",
    )
    .bind(&findings.id)
    .bind(record.record.as_str())
    .bind(micros(findings.judged))
    .bind(&findings.method)
    .bind(&findings.verdict)
    .bind(&findings.of_code)
    .bind(findings.bytes.as_bytes())
    .bind(&seal[..])
    .execute(&mut *tx)
    .await?;
    Ok(1)
}

async fn take_signature(
    tx: &mut sqlx::SqliteConnection,
    record: &ExportedRecord,
    signature: &ExportedSignature,
) -> Result<u64, ImportError> {
    let row = signature.row();
    let here: Option<(Vec<u8>,)> = sqlx::query_as("SELECT seal FROM signature WHERE id = $1")
        .bind(&row.id)
        .fetch_optional(&mut *tx)
        .await?;
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
