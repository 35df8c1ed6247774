//! Many records, or all that was ever kept of one thing, in one look.

pub(crate) mod follow;
mod lives;

use std::collections::HashMap;

use async_recursion::async_recursion as built_here;
use jiff::Timestamp;
use jiff::civil::Date;
use plan::job::Asset;
use serde::Serialize;

use crate::db::reading;
use crate::findings::KeptFindings;
use crate::id::RecordId;
use crate::open::{Store, moment};
use crate::read::{Line, Summary};
use crate::things::{Thing, ThingKind};
use crate::trouble::ReadError;

pub use lives::{Counted, Found, Interval, LastTest, Life, Search, Word};

/// The newest verdict on a record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Judged {
    /// When the record was judged.
    pub judged: Timestamp,
    /// The verdict in one word.
    pub verdict: String,
}

impl Judged {
    fn of((record, judged, verdict): (String, i64, String)) -> (RecordId, Self) {
        (RecordId::of(record), Self { judged: moment(judged), verdict })
    }
}

/// A record in one line, with its day and what was found.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Told {
    /// The record.
    #[serde(flatten)]
    pub record: Summary,
    /// The day of the test as its job names it, else that on which it was begun.
    pub day: Date,
    /// The newest verdict on it.
    pub verdict: Option<String>,
}

/// What a record that is over waits for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Waits {
    /// To be judged.
    Judge,
    /// To be signed.
    Signature,
}

impl Waits {
    pub(crate) const fn stands(self) -> i64 {
        match self {
            Self::Judge => 1,
            Self::Signature => 2,
        }
    }
}

/// Records that wait, as far as they were asked for.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Waiting {
    /// The newest.
    pub first: Vec<Told>,
    /// How many wait beside them; counted no further than [`COUNTED`].
    pub more: u64,
}

/// Nobody needs to know how many more than these wait.
pub const COUNTED: u64 = 1000;

/// The columns of a record that are told, as every query here names them.
macro_rules! told {
    ($rest:literal) => {
        concat!(
            "SELECT id, asset, kind, begun_us, last_us, closed, events, readings, day, verdict \
             FROM record ",
            $rest
        )
    };
}

type ToldRow = (String, String, String, i64, i64, i64, i64, i64, i64, String);

impl Told {
    fn of(row: ToldRow) -> Self {
        let (id, asset, kind, begun, last, closed, events, readings, day, verdict) = row;
        let line: Line = (id, asset, kind, begun, last, closed, events, readings);
        let verdict = Some(verdict).filter(|word| !word.is_empty());
        Self { record: Summary::of(line), day: follow::day(day), verdict }
    }
}

impl Store {
    /// The last records that are over, the newest first.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn last_over(&self, at_most: u32) -> Result<Vec<Told>, ReadError> {
        let rows: Vec<ToldRow> = reading!(&self.db, pool => sqlx::query_as(
            told!("WHERE stands > 0 ORDER BY begun_us DESC, id DESC LIMIT $1"),
        )
        .bind(i64::from(at_most))
        .fetch_all(pool)
        .await?);
        Ok(rows.into_iter().map(Told::of).collect())
    }

    /// Records that wait for this, the newest first.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn that_wait(&self, what: Waits, at_most: u32) -> Result<Waiting, ReadError> {
        let rows: Vec<ToldRow> = reading!(&self.db, pool => sqlx::query_as(
            told!("WHERE stands = $1 ORDER BY begun_us DESC, id DESC LIMIT $2"),
        )
        .bind(what.stands())
        .bind(i64::from(at_most))
        .fetch_all(pool)
        .await?);
        let (shown, limit) = (rows.len() as u64, i64::from(at_most) + COUNTED.cast_signed());
        let counted = if shown < u64::from(at_most) {
            shown
        } else {
            let (all,): (i64,) = reading!(&self.db, pool => sqlx::query_as(
                "SELECT COUNT(*) FROM (SELECT id FROM record WHERE stands = $1 LIMIT $2) AS these",
            )
            .bind(what.stands())
            .bind(limit)
            .fetch_one(pool)
            .await?);
            all.cast_unsigned()
        };
        let more = counted.saturating_sub(shown);
        Ok(Waiting { first: rows.into_iter().map(Told::of).collect(), more })
    }

    /// Every record of one apparatus, the newest first.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn tests_of(&self, name: &str) -> Result<Vec<Told>, ReadError> {
        let rows: Vec<ToldRow> = reading!(&self.db, pool => sqlx::query_as(
            told!("WHERE asset = $1 ORDER BY begun_us DESC, id DESC"),
        )
        .bind(name)
        .fetch_all(pool)
        .await?);
        Ok(rows.into_iter().map(Told::of).collect())
    }

    /// The newest record that was made with a set of this name.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn last_made_with(&self, set: &str) -> Result<Option<Told>, ReadError> {
        let row: Option<ToldRow> = reading!(&self.db, pool => sqlx::query_as(
            told!("WHERE made_with = $1 ORDER BY begun_us DESC, id DESC LIMIT 1"),
        )
        .bind(set)
        .fetch_optional(pool)
        .await?);
        Ok(row.map(Told::of))
    }

    /// The newest records, whether they are over or not.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn newest(&self, at_most: u32) -> Result<Vec<Told>, ReadError> {
        let rows: Vec<ToldRow> = reading!(&self.db, pool => sqlx::query_as(
            told!("ORDER BY begun_us DESC, id DESC LIMIT $1"),
        )
        .bind(i64::from(at_most))
        .fetch_all(pool)
        .await?);
        Ok(rows.into_iter().map(Told::of).collect())
    }

    /// The newest verdict on each record of one apparatus that was judged.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn verdicts_of(&self, name: &str) -> Result<HashMap<RecordId, Judged>, ReadError> {
        let rows: Vec<(String, i64, String)> = reading!(&self.db, pool => sqlx::query_as(
            "SELECT findings.record, findings.judged_us, findings.verdict FROM record \
             JOIN findings ON findings.record = record.id WHERE record.asset = $1 \
             ORDER BY findings.judged_us, findings.id",
        )
        .bind(name)
        .fetch_all(pool)
        .await?);
        Ok(rows.into_iter().map(Judged::of).collect())
    }

    /// The newest verdict on each record that was judged.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn verdicts(&self) -> Result<HashMap<RecordId, Judged>, ReadError> {
        let rows: Vec<(String, i64, String)> = reading!(&self.db, pool => sqlx::query_as(
            "SELECT record, judged_us, verdict FROM findings ORDER BY judged_us, id",
        )
        .fetch_all(pool)
        .await?);
        Ok(rows.into_iter().map(Judged::of).collect())
    }

    /// The newest findings of a record; `None` where it was never judged.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn newest_findings(&self, id: &RecordId) -> Result<Option<KeptFindings>, ReadError> {
        Ok(self.findings(id).await?.pop())
    }

    /// What was ever kept of an apparatus, as it stands now first.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn apparatus_since(&self, name: &str) -> Result<Vec<Thing<Asset>>, ReadError> {
        let kind = ThingKind::Apparatus;
        let rows: Vec<(i64, String)> = reading!(&self.db, pool => sqlx::query_as(
            "SELECT kept_us, bytes FROM thing WHERE kind = $1 AND name = $2 \
             ORDER BY kept_us DESC, id DESC",
        )
        .bind(kind.key())
        .bind(name)
        .fetch_all(pool)
        .await?);
        let mut all: Vec<Thing<Asset>> = Vec::new();
        for (kept, bytes) in rows {
            let is = serde_json::from_str(&bytes).map_err(|error| ReadError::Thing {
                kind,
                name: name.to_owned(),
                said: error.to_string(),
            })?;
            let since = Thing { name: name.to_owned(), kept: moment(kept), is };
            // Two laptops that kept the same told nothing new: it stands so since the first.
            match all.last_mut() {
                Some(last) if last.is == since.is => last.kept = since.kept,
                _ => all.push(since),
            }
        }
        Ok(all)
    }
}
