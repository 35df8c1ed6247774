//! What a person should look at: records in which two wrote, and what waits to be sent.

use async_recursion::async_recursion as built_here;
use jiff::Timestamp;
use serde::Serialize;

use crate::db::reading;
use crate::id::RecordId;
use crate::open::{Store, micros, moment};
use crate::trouble::ReadError;

/// Records named at most.
const MOST: i64 = 200;

/// A record in which more than one wrote: kept as two entries, shown as two.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TwoEntries {
    /// Which.
    pub record: RecordId,
    /// What was tested.
    pub asset: String,
    /// When it was begun.
    pub begun: Timestamp,
    /// Each writer and how many events it wrote, not counting what the record begins with; who
    /// began it stands first.
    pub wrote: Vec<(String, u64)>,
}

/// What was written here since a moment.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Waiting {
    /// Records begun or gone on with.
    pub records: u64,
    /// Findings made.
    pub findings: u64,
    /// Signatures given.
    pub signatures: u64,
    /// Jobs, things and calibrations kept.
    pub things: u64,
}

impl Waiting {
    /// Whether nothing waits.
    #[must_use]
    pub fn is_nothing(&self) -> bool {
        *self == Self::default()
    }
}

impl Store {
    /// Whether it can be read, and written to.
    ///
    /// # Errors
    /// Why not.
    #[built_here]
    pub async fn ready(&self) -> Result<(), ReadError> {
        let _: (i64,) = reading!(&self.db, pool => {
            sqlx::query_as("SELECT COUNT(*) FROM installation").fetch_one(pool).await?
        });
        self.in_place()?;
        Ok(self.db.try_to_write().await?)
    }

    /// Whether this store wrote in a record; one that only came here is for others to go on with.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn wrote(&self, id: &RecordId) -> Result<bool, ReadError> {
        let (chains,): (i64,) = reading!(&self.db, pool => {
            sqlx::query_as("SELECT COUNT(*) FROM chain WHERE record = $1 AND writer = $2")
                .bind(id.as_str())
                .bind(self.writer())
                .fetch_one(pool)
                .await?
        });
        Ok(chains > 0)
    }

    /// Records in which more than one wrote, the newest first, up to two hundred.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn two_entries(&self) -> Result<Vec<TwoEntries>, ReadError> {
        type Row = (String, String, i64, String, String, i64);
        let rows: Vec<Row> = reading!(&self.db, pool => sqlx::query_as(
            "SELECT record.id, record.asset, record.begun_us, record.writer, chain.writer, \
             chain.seq FROM (SELECT record FROM chain GROUP BY record HAVING COUNT(*) > 1 \
             ORDER BY record DESC LIMIT $1) AS several \
             JOIN record ON record.id = several.record JOIN chain ON chain.record = record.id \
             ORDER BY record.id DESC, \
             CASE WHEN chain.writer = record.writer THEN 0 ELSE 1 END, chain.writer",
        )
        .bind(MOST)
        .fetch_all(pool)
        .await?);
        let mut all: Vec<TwoEntries> = Vec::new();
        for (record, asset, begun, _, writer, seq) in rows {
            if all.last().is_none_or(|last| last.record.as_str() != record) {
                let (record, begun) = (RecordId::of(record), moment(begun));
                all.push(TwoEntries { record, asset, begun, wrote: Vec::new() });
            }
            if let Some(last) = all.last_mut() {
                last.wrote.push((writer, seq.cast_unsigned()));
            }
        }
        Ok(all)
    }

    /// What was written here since this moment, up to another one; all of it where there is none.
    /// Moments of practice, whose time runs ahead, are not among it.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn waiting(
        &self,
        since: Option<Timestamp>,
        now: Timestamp,
    ) -> Result<Waiting, ReadError> {
        let (since, now) = (since.map_or(i64::MIN, micros), micros(now));
        let asked = [
            "SELECT COUNT(*) FROM record WHERE last_us > $1 AND last_us <= $2",
            "SELECT COUNT(*) FROM findings WHERE judged_us > $1 AND judged_us <= $2",
            "SELECT COUNT(*) FROM signature WHERE signed_us > $1 AND signed_us <= $2",
            "SELECT COUNT(*) FROM thing WHERE kept_us > $1 AND kept_us <= $2",
            "SELECT COUNT(*) FROM calibration WHERE kept_us > $1 AND kept_us <= $2",
            "SELECT COUNT(*) FROM job WHERE kept_us > $1 AND kept_us <= $2",
        ];
        let mut counts = [0_u64; 6];
        for (count, asked) in counts.iter_mut().zip(asked) {
            let (found,): (i64,) = reading!(&self.db, pool => {
                sqlx::query_as(asked).bind(since).bind(now).fetch_one(pool).await?
            });
            *count = found.cast_unsigned();
        }
        let [records, findings, signatures, things, calibrations, jobs] = counts;
        Ok(Waiting { records, findings, signatures, things: things + calibrations + jobs })
    }
}
