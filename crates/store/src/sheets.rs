//! Sheets before their record is begun: a job file as far as it is written.

use async_recursion::async_recursion as built_here;
use jiff::Timestamp;
use serde::Serialize;

use crate::db::{Tries, again, reading, writing};
use crate::id::{self, RecordId};
use crate::open::{Store, micros, moment};
use crate::trouble::{ReadError, SheetError};

/// A sheet as it was typed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Sheet {
    /// Its name here.
    pub id: String,
    /// When it was begun.
    pub begun: Timestamp,
    /// When it was last written.
    pub kept: Timestamp,
    /// The owner's name for the object, as far as it is written; may be empty.
    pub asset: String,
    /// The job file, as far as it is written.
    pub given: String,
    /// The record that it became.
    pub record: Option<RecordId>,
}

type Row = (String, i64, i64, String, String, Option<String>);

impl Store {
    /// Begins a sheet with what is known so far.
    ///
    /// # Errors
    /// The database failed; nothing is kept then.
    #[built_here]
    pub async fn begin_sheet(
        &self,
        asset: &str,
        given: &str,
        wall: Timestamp,
    ) -> Result<String, SheetError> {
        let id = id::fresh(wall);
        again!(Tries::of(&self.db), self.begin_sheet_once(&id, asset, given, wall))?;
        Ok(id)
    }

    async fn begin_sheet_once(
        &self,
        id: &str,
        asset: &str,
        given: &str,
        wall: Timestamp,
    ) -> Result<(), SheetError> {
        writing!(&self.db, tx => {
            sqlx::query(
                "INSERT INTO sheet (id, begun_us, kept_us, asset, given) \
                 VALUES ($1, $2, $2, $3, $4) ON CONFLICT (id) DO NOTHING",
            )
            .bind(id)
            .bind(micros(wall))
            .bind(asset)
            .bind(given)
            .execute(&mut *tx)
            .await?;
            tx.commit().await?;
        });
        Ok(())
    }

    /// Writes a sheet anew.
    ///
    /// # Errors
    /// It is not here, it became a record and stays as it was, or the database failed.
    #[built_here]
    pub async fn write_sheet(
        &self,
        id: &str,
        asset: &str,
        given: &str,
        wall: Timestamp,
    ) -> Result<(), SheetError> {
        again!(Tries::of(&self.db), self.write_sheet_once(id, asset, given, wall))
    }

    async fn write_sheet_once(
        &self,
        id: &str,
        asset: &str,
        given: &str,
        wall: Timestamp,
    ) -> Result<(), SheetError> {
        writing!(&self.db, tx => {
            let written = sqlx::query(
                "UPDATE sheet SET kept_us = $2, asset = $3, given = $4 \
                 WHERE id = $1 AND record IS NULL",
            )
            .bind(id)
            .bind(micros(wall))
            .bind(asset)
            .bind(given)
            .execute(&mut *tx)
            .await?;
            if written.rows_affected() == 0 {
                drop(tx);
                return Err(self.why_not(id).await);
            }
            tx.commit().await?;
        });
        Ok(())
    }

    /// The sheet became this record; from now on it stays as it is.
    ///
    /// # Errors
    /// It is not here, it is another record already, or the database failed.
    #[built_here]
    pub async fn sheet_becomes(&self, id: &str, record: &RecordId) -> Result<(), SheetError> {
        match again!(Tries::of(&self.db), self.becomes_once(id, record)) {
            // From a call whose answer was lost.
            Err(SheetError::Begun { record: already }) if already == *record => Ok(()),
            done => done,
        }
    }

    async fn becomes_once(&self, id: &str, record: &RecordId) -> Result<(), SheetError> {
        writing!(&self.db, tx => {
            let taken = sqlx::query("UPDATE sheet SET record = $2 WHERE id = $1 AND record IS NULL")
                .bind(id)
                .bind(record.as_str())
                .execute(&mut *tx)
                .await?;
            if taken.rows_affected() == 0 {
                drop(tx);
                return Err(self.why_not(id).await);
            }
            tx.commit().await?;
        });
        Ok(())
    }

    /// Takes a sheet out that never became a record.
    ///
    /// # Errors
    /// It is not here, it became a record, or the database failed.
    #[built_here]
    pub async fn drop_sheet(&self, id: &str) -> Result<(), SheetError> {
        writing!(&self.db, tx => {
            let gone = sqlx::query("DELETE FROM sheet WHERE id = $1 AND record IS NULL")
                .bind(id)
                .execute(&mut *tx)
                .await?;
            if gone.rows_affected() == 0 {
                drop(tx);
                return Err(self.why_not(id).await);
            }
            tx.commit().await?;
        });
        Ok(())
    }

    /// One sheet; `None` where none has this name.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn sheet(&self, id: &str) -> Result<Option<Sheet>, ReadError> {
        let row: Option<Row> = reading!(&self.db, pool => sqlx::query_as(
            "SELECT id, begun_us, kept_us, asset, given, record FROM sheet WHERE id = $1",
        )
        .bind(id)
        .fetch_optional(pool)
        .await?);
        Ok(row.map(of))
    }

    /// The sheet that this record was begun from, if it was begun from one.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn sheet_of(&self, record: &RecordId) -> Result<Option<Sheet>, ReadError> {
        let row: Option<Row> = reading!(&self.db, pool => sqlx::query_as(
            "SELECT id, begun_us, kept_us, asset, given, record FROM sheet WHERE record = $1",
        )
        .bind(record.as_str())
        .fetch_optional(pool)
        .await?);
        Ok(row.map(of))
    }

    /// Sheets that are no record yet, the one written last first.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn sheets(&self) -> Result<Vec<Sheet>, ReadError> {
        let rows: Vec<Row> = reading!(&self.db, pool => sqlx::query_as(
            "SELECT id, begun_us, kept_us, asset, given, record FROM sheet \
             WHERE record IS NULL ORDER BY kept_us DESC, id DESC",
        )
        .fetch_all(pool)
        .await?);
        Ok(rows.into_iter().map(of).collect())
    }

    /// Why nothing was changed.
    async fn why_not(&self, id: &str) -> SheetError {
        match self.sheet(id).await {
            Ok(Some(Sheet { record: Some(record), .. })) => SheetError::Begun { record },
            Ok(_) => SheetError::NoSheet { sheet: id.to_owned() },
            Err(error) => SheetError::Read(error),
        }
    }
}

fn of((id, begun, kept, asset, given, record): Row) -> Sheet {
    let record = record.map(RecordId::of);
    Sheet { id, begun: moment(begun), kept: moment(kept), asset, given, record }
}
