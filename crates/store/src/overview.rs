//! Many records, or all that was ever kept of one thing, in one look.

use std::collections::HashMap;

use async_recursion::async_recursion as built_here;
use jiff::Timestamp;
use plan::job::Asset;
use serde::Serialize;

use crate::db::reading;
use crate::findings::KeptFindings;
use crate::id::RecordId;
use crate::open::{Store, moment};
use crate::things::{Thing, ThingKind};
use crate::trouble::ReadError;

/// The newest verdict on a record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Judged {
    /// When the record was judged.
    pub judged: Timestamp,
    /// The verdict in one word.
    pub verdict: String,
}

impl Store {
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
        let of = |(record, judged, verdict): (String, i64, String)| {
            (RecordId::of(record), Judged { judged: moment(judged), verdict })
        };
        Ok(rows.into_iter().map(of).collect())
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
