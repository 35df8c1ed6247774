//! Findings as they were made: sealed bytes, never overwritten.

use async_recursion::async_recursion as built_here;
use jiff::Timestamp;
use serde::Serialize;

use crate::chain::Sealed;
use crate::db::{Tries, Wire, again, on, reading, writing};
use crate::id::{self, RecordId};
use crate::open::{Store, micros, moment};
use crate::overview::follow::Touched;
use crate::trouble::{KeepError, ReadError};

/// Findings of a record, as they were kept.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct KeptFindings {
    /// Their name.
    pub id: String,
    /// When the record was judged.
    pub judged: Timestamp,
    /// Edition of the judge's method.
    pub method: String,
    /// The verdict in one word.
    pub verdict: String,
    /// The code that the record had then.
    pub code: String,
    /// The findings, as they were written.
    #[serde(skip)]
    pub bytes: Vec<u8>,
}

/// The same with its seal.
#[derive(Clone, Debug)]
pub(crate) struct Row {
    pub(crate) id: String,
    pub(crate) judged_us: i64,
    pub(crate) method: String,
    pub(crate) verdict: String,
    pub(crate) code: String,
    pub(crate) bytes: Vec<u8>,
    pub(crate) seal: Vec<u8>,
}

impl Store {
    /// Keeps findings of a record beside those that were made of it before; the same ones of the
    /// same events are kept once.
    ///
    /// # Errors
    /// The record is not here, or the database failed; nothing is kept then.
    #[built_here]
    pub async fn keep_findings(
        &self,
        record: &RecordId,
        method: &str,
        verdict: &str,
        bytes: &[u8],
        wall: Timestamp,
    ) -> Result<String, KeepError> {
        let seals = self.seals(record).await?;
        if seals.is_empty() {
            return Err(KeepError::NoRecord { record: record.to_string() });
        }
        let codes: Vec<&str> = seals.iter().map(|(_, seal)| seal.code.as_str()).collect();
        let code = codes.join(" ");
        let is_same = |one: &Row| {
            let kept = (&one.code[..], &one.method[..], &one.verdict[..], &one.bytes[..]);
            kept == (&code, method, verdict, bytes) && one.holds(record)
        };
        if let Some(same) = self.findings_rows(record).await?.into_iter().find(is_same) {
            return Ok(same.id);
        }
        let (id, judged_us) = (id::fresh(wall), micros(wall));
        let name = record.as_str();
        let seal = Sealed { record: name, id: &id, judged_us, code: &code, method, verdict, bytes };
        let seal = seal.seal();
        let row = Row {
            id,
            judged_us,
            method: method.to_owned(),
            verdict: verdict.to_owned(),
            code,
            bytes: bytes.to_owned(),
            seal: seal.to_vec(),
        };
        again!(Tries::of(&self.db), self.keep_row(record, &row))?;
        Ok(row.id)
    }

    async fn keep_row(&self, record: &RecordId, row: &Row) -> Result<(), KeepError> {
        writing!(&self.db, tx => {
            insert(&mut tx, record, row).await?;
            Touched::record(record.as_str()).follow(&mut tx).await?;
            tx.commit().await?;
        });
        Ok(())
    }

    /// Findings that were kept of a record, in the order they were made.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn findings(&self, record: &RecordId) -> Result<Vec<KeptFindings>, ReadError> {
        let rows = self.findings_rows(record).await?;
        Ok(rows.into_iter().map(KeptFindings::of).collect())
    }

    async fn findings_rows(&self, record: &RecordId) -> Result<Vec<Row>, ReadError> {
        reading!(&self.db, pool => rows(&mut *pool.acquire().await?, record).await)
    }
}

/// Findings of this name may be there from a call whose answer was lost.
pub(crate) async fn insert(
    wire: &mut dyn Wire,
    record: &RecordId,
    row: &Row,
) -> Result<(), sqlx::Error> {
    on!(wire, line => sqlx::query(
        "INSERT INTO findings (id, record, judged_us, method, verdict, code, bytes, seal) \
         VALUES ($1, $2, $3, $4, $5, $6, $7, $8) ON CONFLICT (id) DO NOTHING",
    )
    .bind(&row.id)
    .bind(record.as_str())
    .bind(row.judged_us)
    .bind(&row.method)
    .bind(&row.verdict)
    .bind(&row.code)
    .bind(&row.bytes)
    .bind(&row.seal)
    .execute(line)
    .await.map(drop)?);
    Ok(())
}

/// Findings of a record with their seals, in the order they were made.
pub(crate) async fn rows(wire: &mut dyn Wire, record: &RecordId) -> Result<Vec<Row>, ReadError> {
    let rows: Vec<Columns> = on!(wire, line => sqlx::query_as(
        "SELECT id, judged_us, method, verdict, code, bytes, seal FROM findings \
         WHERE record = $1 ORDER BY judged_us, id",
    )
    .bind(record.as_str())
    .fetch_all(line)
    .await?);
    let of = |(id, judged_us, method, verdict, code, bytes, seal): Columns| Row {
        id,
        judged_us,
        method,
        verdict,
        code,
        bytes,
        seal,
    };
    Ok(rows.into_iter().map(of).collect())
}

type Columns = (String, i64, String, String, String, Vec<u8>, Vec<u8>);

impl Row {
    /// Whether it is what was sealed.
    pub(crate) fn holds(&self, record: &RecordId) -> bool {
        let Self { id, judged_us, method, verdict, code, bytes, seal } = self;
        let (record, judged_us) = (record.as_str(), *judged_us);
        let sealed = Sealed { record, id, judged_us, code, method, verdict, bytes };
        sealed.seal()[..] == seal[..]
    }
}

impl KeptFindings {
    pub(crate) fn of(row: Row) -> Self {
        let Row { id, judged_us, method, verdict, code, bytes, .. } = row;
        Self { id, judged: moment(judged_us), method, verdict, code, bytes }
    }
}
