//! Which office this store meets, and which laptops met it where it is the office.

use async_recursion::async_recursion as built_here;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::take::Moved;
use crate::db::{reading, writing};
use crate::open::{Store, micros, moment};
use crate::trouble::{KeepError, ReadError};

/// How a meeting ended.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Told {
    /// What the office took in.
    pub sent: Moved,
    /// What the laptop took in.
    pub fetched: Moved,
    /// Records that were the same on both sides before.
    pub same: u64,
    /// Records here in which two wrote.
    pub two_entries: u64,
    /// What either side refused.
    pub refused: u64,
}

/// An office as a laptop knows it. What the laptop carries to be known there stays in the store.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Office {
    /// Where it is.
    pub address: String,
    /// The writer of its database, once they met.
    pub writer: Option<String>,
    /// When it was last asked.
    pub tried: Option<Timestamp>,
    /// When the last meeting that came to its end was begun.
    pub met: Option<Timestamp>,
    /// How that one ended.
    pub told: Option<Told>,
}

/// A laptop as an office knows it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Laptop {
    /// The writer of its database.
    pub writer: String,
    /// What it is called.
    pub device: String,
    /// When it last met this office to the end.
    pub met: Timestamp,
    /// How that ended.
    pub told: Told,
}

impl Store {
    /// Remembers an office and what is carried to be known there.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn keep_office(&self, address: &str, token: &[u8; 32]) -> Result<(), KeepError> {
        writing!(&self.db, tx => {
            sqlx::query(
                "INSERT INTO office (address, token) VALUES ($1, $2) \
                 ON CONFLICT (address) DO UPDATE SET token = $2",
            )
            .bind(address)
            .bind(&token[..])
            .execute(&mut *tx)
            .await?;
            tx.commit().await?;
        });
        Ok(())
    }

    /// What is carried to be known at this office, if it is known there.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn pass_of_office(&self, address: &str) -> Result<Option<[u8; 32]>, ReadError> {
        let row: Option<(Option<Vec<u8>>,)> = reading!(&self.db, pool => {
            sqlx::query_as("SELECT token FROM office WHERE address = $1")
                .bind(address)
                .fetch_optional(pool)
                .await?
        });
        Ok(row.and_then(|(token,)| token?.try_into().ok()))
    }

    /// An office was asked, whatever comes of it.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn office_tried(&self, address: &str, wall: Timestamp) -> Result<(), KeepError> {
        writing!(&self.db, tx => {
            sqlx::query(
                "INSERT INTO office (address, tried_us) VALUES ($1, $2) \
                 ON CONFLICT (address) DO UPDATE SET tried_us = $2",
            )
            .bind(address)
            .bind(micros(wall))
            .execute(&mut *tx)
            .await?;
            tx.commit().await?;
        });
        Ok(())
    }

    /// A meeting came to its end. What was written here since it was begun waits for the next.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn office_met(
        &self,
        address: &str,
        writer: &str,
        begun: Timestamp,
        told: &Told,
    ) -> Result<(), KeepError> {
        let told = written(told)?;
        writing!(&self.db, tx => {
            sqlx::query(
                "UPDATE office SET writer = $2, met_us = $3, told = $4 WHERE address = $1",
            )
            .bind(address)
            .bind(writer)
            .bind(micros(begun))
            .bind(&told)
            .execute(&mut *tx)
            .await?;
            tx.commit().await?;
        });
        Ok(())
    }

    /// Offices that this store met or tried to, the last one first.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn offices(&self) -> Result<Vec<Office>, ReadError> {
        type Row = (String, Option<String>, Option<i64>, Option<i64>, Option<String>);
        let rows: Vec<Row> = reading!(&self.db, pool => sqlx::query_as(
            "SELECT address, writer, tried_us, met_us, told FROM office \
             ORDER BY COALESCE(tried_us, 0) DESC, address",
        )
        .fetch_all(pool)
        .await?);
        let of = |(address, writer, tried, met, told): Row| Office {
            address,
            writer,
            tried: tried.map(moment),
            met: met.map(moment),
            told: told.and_then(|told| serde_json::from_str(&told).ok()),
        };
        Ok(rows.into_iter().map(of).collect())
    }

    /// A laptop met this office to the end.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn laptop_met(&self, laptop: &Laptop) -> Result<(), KeepError> {
        let told = written(&laptop.told)?;
        writing!(&self.db, tx => {
            sqlx::query(
                "INSERT INTO laptop (writer, device, met_us, told) VALUES ($1, $2, $3, $4) \
                 ON CONFLICT (writer) DO UPDATE SET device = $2, met_us = $3, told = $4",
            )
            .bind(&laptop.writer)
            .bind(&laptop.device)
            .bind(micros(laptop.met))
            .bind(&told)
            .execute(&mut *tx)
            .await?;
            tx.commit().await?;
        });
        Ok(())
    }

    /// Laptops that met this office, the last one first.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn laptops(&self) -> Result<Vec<Laptop>, ReadError> {
        let rows: Vec<(String, String, i64, String)> = reading!(&self.db, pool => {
            sqlx::query_as(
                "SELECT writer, device, met_us, told FROM laptop ORDER BY met_us DESC, writer",
            )
            .fetch_all(pool)
            .await?
        });
        let of = |(writer, device, met, told): (String, String, i64, String)| Laptop {
            writer,
            device,
            met: moment(met),
            told: serde_json::from_str(&told).unwrap_or_default(),
        };
        Ok(rows.into_iter().map(of).collect())
    }
}

fn written(told: &Told) -> Result<String, KeepError> {
    serde_json::to_string(told).map_err(|error| KeepError::Unwritable { said: error.to_string() })
}
