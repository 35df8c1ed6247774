//! Who may come in from another machine: an account, and the browsers that were let in.

use async_recursion::async_recursion as built_here;
use jiff::Timestamp;

use crate::chain::{Hash, digest, hex};
use crate::db::{Tries, again, reading, writing};
use crate::open::{Store, micros, moment};
use crate::trouble::{KeepError, ReadError};

/// An account.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Person {
    /// Their name; it stands beside what they say.
    pub name: String,
    /// Since when the password is this one.
    pub kept: Timestamp,
}

/// What a browser may do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum May {
    /// Everything, letting others in too.
    Operate,
    /// See, and say lines in a test.
    Say,
    /// See, and answer for the far end.
    FarEnd,
    /// See.
    Watch,
    /// Exchange records with this store, and nothing else: another laptop.
    Exchange,
}

impl May {
    /// Each of them.
    pub const ALL: [Self; 5] =
        [Self::Operate, Self::Say, Self::FarEnd, Self::Watch, Self::Exchange];

    /// As it is written in the table and in forms.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Operate => "operate",
            Self::Say => "say",
            Self::FarEnd => "far-end",
            Self::Watch => "watch",
            Self::Exchange => "exchange",
        }
    }

    /// What is written so.
    #[must_use]
    pub fn of_key(key: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|one| one.key() == key)
    }
}

/// A browser that was let in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pass {
    /// What it is called here: the SHA-256 of what the browser carries, in hexadecimal.
    pub name: String,
    /// Whose account.
    pub person: String,
    /// The device, in a person's words.
    pub device: String,
    /// What it may do.
    pub may: May,
    /// The record that it answers for, where it is a device of the far end.
    pub record: Option<String>,
    /// When it was let in.
    pub made: Timestamp,
    /// Until when it may come.
    pub until: Timestamp,
}

/// A browser that is to be let in.
#[derive(Clone, Copy, Debug)]
pub struct NewPass<'a> {
    /// What the browser will carry; it is not kept.
    pub token: &'a [u8; 32],
    /// Whose account.
    pub person: &'a str,
    /// The device, in a person's words.
    pub device: &'a str,
    /// What it may do.
    pub may: May,
    /// The record that it answers for, where it is a device of the far end.
    pub record: Option<&'a str>,
    /// When it is let in.
    pub made: Timestamp,
    /// Until when it may come.
    pub until: Timestamp,
}

type Row = (Vec<u8>, String, String, String, i64, i64, Option<String>);

impl Store {
    /// Keeps an account with its password hash, in the PHC string format. Where it is here
    /// already it has another password from now on, and whoever was let in by the old one is not
    /// any more; says how many these were.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn set_person(
        &self,
        name: &str,
        secret: &str,
        wall: Timestamp,
    ) -> Result<u64, KeepError> {
        again!(Tries::of(&self.db), self.set_person_once(name, secret, wall))
    }

    async fn set_person_once(
        &self,
        name: &str,
        secret: &str,
        wall: Timestamp,
    ) -> Result<u64, KeepError> {
        let taken = writing!(&self.db, tx => {
            let taken = sqlx::query("DELETE FROM pass WHERE person = $1")
                .bind(name)
                .execute(&mut *tx)
                .await?
                .rows_affected();
            sqlx::query(
                "INSERT INTO person (name, kept_us, secret) VALUES ($1, $2, $3) \
                 ON CONFLICT (name) DO UPDATE SET kept_us = $2, secret = $3",
            )
            .bind(name)
            .bind(micros(wall))
            .bind(secret)
            .execute(&mut *tx)
            .await?;
            tx.commit().await?;
            taken
        });
        Ok(taken)
    }

    /// Accounts, by name.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn people(&self) -> Result<Vec<Person>, ReadError> {
        let mut rows: Vec<(String, i64)> = reading!(&self.db, pool => sqlx::query_as(
                "SELECT name, kept_us FROM person ORDER BY name",
            )
            .fetch_all(pool)
            .await?);
        // Engines differ in what stands before what.
        rows.sort();
        Ok(rows.into_iter().map(|(name, kept)| Person { name, kept: moment(kept) }).collect())
    }

    /// The password hash of an account.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn secret_of(&self, name: &str) -> Result<Option<String>, ReadError> {
        let row: Option<(String,)> = reading!(&self.db, pool => sqlx::query_as(
                "SELECT secret FROM person WHERE name = $1",
            )
            .bind(name)
            .fetch_optional(pool)
            .await?);
        Ok(row.map(|(secret,)| secret))
    }

    /// Takes an account out, and whoever was let in by it; says whether there was one.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn forget_person(&self, name: &str) -> Result<bool, KeepError> {
        let found = writing!(&self.db, tx => {
            let passes = sqlx::query("DELETE FROM pass WHERE person = $1").bind(name);
            passes.execute(&mut *tx).await?;
            let person = sqlx::query("DELETE FROM person WHERE name = $1").bind(name);
            let found = person.execute(&mut *tx).await?.rows_affected();
            tx.commit().await?;
            found
        });
        Ok(found > 0)
    }

    /// Lets a browser in, and clears away those whose time is over.
    ///
    /// # Errors
    /// No such account is here, or the database failed.
    #[built_here]
    pub async fn keep_pass(&self, new: &NewPass<'_>) -> Result<Pass, KeepError> {
        let token = digest(new.token);
        again!(Tries::of(&self.db), self.keep_pass_once(new, &token))?;
        Ok(Pass {
            name: hex(&token),
            person: new.person.to_owned(),
            device: new.device.to_owned(),
            may: new.may,
            record: new.record.map(str::to_owned),
            made: new.made,
            until: new.until,
        })
    }

    async fn keep_pass_once(&self, new: &NewPass<'_>, token: &Hash) -> Result<(), KeepError> {
        writing!(&self.db, tx => {
            sqlx::query("DELETE FROM pass WHERE until_us <= $1")
                .bind(micros(new.made))
                .execute(&mut *tx)
                .await?;
            sqlx::query(
                "INSERT INTO pass (token, person, device, may, made_us, until_us, record) \
                 VALUES ($1, $2, $3, $4, $5, $6, $7) ON CONFLICT (token) DO NOTHING",
            )
            .bind(&token[..])
            .bind(new.person)
            .bind(new.device)
            .bind(new.may.key())
            .bind(micros(new.made))
            .bind(micros(new.until))
            .bind(new.record)
            .execute(&mut *tx)
            .await?;
            tx.commit().await?;
        });
        Ok(())
    }

    /// The pass of a browser that carries this, if it was let in and its time is not over.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn pass(&self, token: &[u8; 32], wall: Timestamp) -> Result<Option<Pass>, ReadError> {
        let row: Option<Row> = reading!(&self.db, pool => sqlx::query_as(
                "SELECT token, person, device, may, made_us, until_us, record FROM pass \
                 WHERE token = $1 AND until_us > $2",
            )
            .bind(&digest(token)[..])
            .bind(micros(wall))
            .fetch_optional(pool)
            .await?);
        Ok(row.and_then(of))
    }

    /// Passes whose time is not over, the newest first.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn passes(&self, wall: Timestamp) -> Result<Vec<Pass>, ReadError> {
        let rows: Vec<Row> = reading!(&self.db, pool => sqlx::query_as(
                "SELECT token, person, device, may, made_us, until_us, record FROM pass \
                 WHERE until_us > $1 ORDER BY made_us DESC, token",
            )
            .bind(micros(wall))
            .fetch_all(pool)
            .await?);
        Ok(rows.into_iter().filter_map(of).collect())
    }

    /// Lets a browser come until a later moment.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn prolong_pass(&self, name: &str, until: Timestamp) -> Result<(), KeepError> {
        let Some(token) = bytes(name) else { return Ok(()) };
        writing!(&self.db, tx => {
            sqlx::query("UPDATE pass SET until_us = $1 WHERE token = $2")
                .bind(micros(until))
                .bind(token)
                .execute(&mut *tx)
                .await?;
            tx.commit().await?;
        });
        Ok(())
    }

    /// Takes a pass back; says whether there was one.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn take_back_pass(&self, name: &str) -> Result<bool, KeepError> {
        let Some(token) = bytes(name) else { return Ok(false) };
        let found = writing!(&self.db, tx => {
            let taken = sqlx::query("DELETE FROM pass WHERE token = $1").bind(token);
            let found = taken.execute(&mut *tx).await?.rows_affected();
            tx.commit().await?;
            found
        });
        Ok(found > 0)
    }
}

/// One that cannot be read lets nobody in.
fn of((token, person, device, may, made, until, record): Row) -> Option<Pass> {
    let token: Hash = token.try_into().ok()?;
    Some(Pass {
        name: hex(&token),
        person,
        device,
        may: May::of_key(&may)?,
        record,
        made: moment(made),
        until: moment(until),
    })
}

fn bytes(name: &str) -> Option<Vec<u8>> {
    let pairs = name.as_bytes().chunks(2).map(|pair| std::str::from_utf8(pair).ok());
    pairs.map(|pair| u8::from_str_radix(pair?, 16).ok()).collect()
}
