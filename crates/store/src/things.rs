//! Jobs, apparatus, sets and meters, and when these were calibrated.

use async_recursion::async_recursion as built_here;
use jiff::Timestamp;
use jiff::ToSpan as _;
use jiff::civil::Date;
use plan::Job;
use plan::job::{Asset, Meter, Reads, TestSet};
use serde::{Deserialize, Serialize};

use crate::chain::digest;
use crate::db::{Tries, again, reading, writing};
use crate::id;
use crate::open::{Store, micros, moment};
use crate::overview::follow::Touched;
use crate::trouble::{KeepError, ReadError};

/// What a thing is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ThingKind {
    /// What is tested.
    Apparatus,
    /// A test set.
    Set,
    /// A meter.
    Meter,
}

impl ThingKind {
    pub(crate) const fn key(self) -> &'static str {
        match self {
            Self::Apparatus => "apparatus",
            Self::Set => "set",
            Self::Meter => "meter",
        }
    }

    pub(crate) fn of(key: &str) -> Option<Self> {
        [Self::Apparatus, Self::Set, Self::Meter].into_iter().find(|one| one.key() == key)
    }
}

/// A thing as it stands.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Thing<T> {
    /// The owner's name for it.
    pub name: String,
    /// Since when it is kept so.
    pub kept: Timestamp,
    /// What is known of it.
    pub is: T,
}

/// A job as it was given.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct KeptJob {
    /// Its name here.
    pub id: String,
    /// What it tests.
    pub asset: String,
    /// The day of the test, if the job names one.
    pub date: Option<Date>,
    /// When it was kept.
    pub kept: Timestamp,
    /// The job file, as it was given.
    pub text: String,
}

/// A calibration.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Calibration {
    /// Of a set or of a meter.
    pub kind: ThingKind,
    /// The owner's name for it.
    pub name: String,
    /// The day it was made.
    pub date: Date,
    /// The day until which it holds, if that was said.
    pub due: Option<Date>,
    /// The certificate.
    pub certificate: Option<String>,
    /// A remark.
    pub note: Option<String>,
}

type JobRow = (String, String, String, i64, String);
type CalibrationRow = (String, Option<String>, Option<String>, Option<String>);
type NamedCalibration = (String, String, String, Option<String>, Option<String>, Option<String>);

impl Store {
    /// Keeps a job as it was given, and with it its apparatus, its set and its meters, with the
    /// calibrations that it names. The same text is kept once.
    ///
    /// # Errors
    /// The database failed; the same call can be made again, whatever of it is kept by then.
    #[built_here]
    pub async fn keep_job(
        &self,
        text: &str,
        job: &Job,
        wall: Timestamp,
    ) -> Result<String, KeepError> {
        let day = job.test.date.map(|date| date.to_string()).unwrap_or_default();
        self.keep_apparatus(&job.asset, wall).await?;
        if let Some(name) = job.set.id.as_deref() {
            self.keep_set(name, &job.set, wall).await?;
        }
        for meter in &job.meters {
            self.keep_meter(&meter_name(job, meter), meter, wall).await?;
        }
        again!(Tries::of(&self.db), self.keep_text(text, &job.asset.id, &day, wall))
    }

    async fn keep_text(
        &self,
        text: &str,
        asset: &str,
        day: &str,
        wall: Timestamp,
    ) -> Result<String, KeepError> {
        let kept: (String,) = writing!(&self.db, tx => {
            sqlx::query(
                "INSERT INTO job (id, digest, kept_us, asset, day, given) \
                 VALUES ($1, $2, $3, $4, $5, $6) ON CONFLICT (digest) DO NOTHING",
            )
            .bind(id::fresh(wall))
            .bind(&digest(text.as_bytes())[..])
            .bind(micros(wall))
            .bind(asset)
            .bind(day)
            .bind(text)
            .execute(&mut *tx)
            .await?;
            let kept = sqlx::query_as("SELECT id FROM job WHERE digest = $1")
                .bind(&digest(text.as_bytes())[..])
                .fetch_one(&mut *tx)
                .await?;
            tx.commit().await?;
            kept
        });
        Ok(kept.0)
    }

    /// Jobs, the newest first.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn jobs(&self) -> Result<Vec<KeptJob>, ReadError> {
        let rows: Vec<JobRow> = reading!(&self.db, pool => sqlx::query_as(
                "SELECT id, asset, day, kept_us, given FROM job ORDER BY kept_us DESC, id DESC",
            )
            .fetch_all(pool)
            .await?);
        let of = |(id, asset, day, kept, text): JobRow| KeptJob {
            id,
            asset,
            date: day.parse().ok(),
            kept: moment(kept),
            text,
        };
        Ok(rows.into_iter().map(of).collect())
    }

    /// Keeps what is known of an apparatus; where something of it changed, what was kept before
    /// stays beside it.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn keep_apparatus(&self, asset: &Asset, wall: Timestamp) -> Result<(), KeepError> {
        self.keep_thing(ThingKind::Apparatus, &asset.id, asset, wall).await
    }

    /// The same of a test set, with the calibration that its nameplate names.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn keep_set(
        &self,
        name: &str,
        set: &TestSet,
        wall: Timestamp,
    ) -> Result<(), KeepError> {
        self.keep_thing(ThingKind::Set, name, set, wall).await?;
        let due = |date: Date| {
            let months = set.calibration_interval_months?;
            date.checked_add(i64::from(months).months()).ok()
        };
        match set.calibrated {
            Some(date) => {
                let kind = ThingKind::Set;
                self.keep_calibration(&plain(kind, name, date, due(date)), wall).await
            }
            None => Ok(()),
        }
    }

    /// The same of a meter.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn keep_meter(
        &self,
        name: &str,
        meter: &Meter,
        wall: Timestamp,
    ) -> Result<(), KeepError> {
        self.keep_thing(ThingKind::Meter, name, meter, wall).await?;
        match meter.calibrated {
            Some(date) => {
                self.keep_calibration(&plain(ThingKind::Meter, name, date, None), wall).await
            }
            None => Ok(()),
        }
    }

    /// Apparatus as it stands, by name.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn apparatus(&self) -> Result<Vec<Thing<Asset>>, ReadError> {
        self.things(ThingKind::Apparatus).await
    }

    /// Test sets as they stand, by name.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn sets(&self) -> Result<Vec<Thing<TestSet>>, ReadError> {
        self.things(ThingKind::Set).await
    }

    /// Meters as they stand, by name.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn meters(&self) -> Result<Vec<Thing<Meter>>, ReadError> {
        self.things(ThingKind::Meter).await
    }

    /// Keeps a calibration beside those before it; the same one is kept once.
    ///
    /// # Errors
    /// It has no name, it ends before it begins, or the database failed.
    #[built_here]
    pub async fn keep_calibration(
        &self,
        calibration: &Calibration,
        wall: Timestamp,
    ) -> Result<(), KeepError> {
        if calibration.name.trim().is_empty() {
            return Err(KeepError::NoName { kind: calibration.kind });
        }
        if let Some(due) = calibration.due.filter(|due| *due < calibration.date) {
            return Err(KeepError::DueBefore { date: calibration.date, due });
        }
        let before = self.calibrations(calibration.kind, &calibration.name).await?;
        if before.contains(calibration) {
            return Ok(());
        }
        let id = id::fresh(wall);
        again!(Tries::of(&self.db), self.keep_one(&id, calibration, wall))
    }

    async fn keep_one(
        &self,
        id: &str,
        calibration: &Calibration,
        wall: Timestamp,
    ) -> Result<(), KeepError> {
        writing!(&self.db, tx => {
            sqlx::query(
                "INSERT INTO calibration \
                 (id, kind, name, day, due, certificate, note, kept_us) \
                 VALUES ($1, $2, $3, $4, $5, $6, $7, $8) ON CONFLICT (id) DO NOTHING",
            )
            .bind(id)
            .bind(calibration.kind.key())
            .bind(&calibration.name)
            .bind(calibration.date.to_string())
            .bind(calibration.due.map(|due| due.to_string()))
            .bind(&calibration.certificate)
            .bind(&calibration.note)
            .bind(micros(wall))
            .execute(&mut *tx)
            .await?;
            tx.commit().await?;
        });
        Ok(())
    }

    /// Every calibration of a set or meter, the earliest first.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn calibrations(
        &self,
        kind: ThingKind,
        name: &str,
    ) -> Result<Vec<Calibration>, ReadError> {
        let rows: Vec<CalibrationRow> = reading!(&self.db, pool => sqlx::query_as(
            "SELECT day, due, certificate, note FROM calibration \
             WHERE kind = $1 AND name = $2 ORDER BY day, kept_us, id",
        )
        .bind(kind.key())
        .bind(name)
        .fetch_all(pool)
        .await?);
        let of = |(day, due, certificate, note): CalibrationRow| {
            let due = due.and_then(|due| due.parse().ok());
            let name = name.to_owned();
            Some(Calibration { kind, name, date: day.parse().ok()?, due, certificate, note })
        };
        // Two laptops that kept the same one brought it twice.
        let mut all: Vec<Calibration> = Vec::new();
        for one in rows.into_iter().filter_map(of) {
            if !all.contains(&one) {
                all.push(one);
            }
        }
        Ok(all)
    }

    /// Every calibration of every set and meter, the earliest first.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn every_calibration(&self) -> Result<Vec<Calibration>, ReadError> {
        let rows: Vec<NamedCalibration> = reading!(&self.db, pool => sqlx::query_as(
            "SELECT kind, name, day, due, certificate, note FROM calibration \
             ORDER BY day, kept_us, id",
        )
        .fetch_all(pool)
        .await?);
        let of = |(kind, name, day, due, certificate, note): NamedCalibration| {
            let (kind, date) = (ThingKind::of(&kind)?, day.parse().ok()?);
            let due = due.and_then(|due| due.parse().ok());
            Some(Calibration { kind, name, date, due, certificate, note })
        };
        Ok(rows.into_iter().filter_map(of).collect())
    }

    /// The calibration that a set or meter had on this day: the last one made until then.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn calibration_as_of(
        &self,
        kind: ThingKind,
        name: &str,
        day: Date,
    ) -> Result<Option<Calibration>, ReadError> {
        let all = self.calibrations(kind, name).await?;
        Ok(all.into_iter().rev().find(|one| one.date <= day))
    }

    async fn keep_thing(
        &self,
        kind: ThingKind,
        name: &str,
        is: &impl Serialize,
        wall: Timestamp,
    ) -> Result<(), KeepError> {
        if name.trim().is_empty() {
            return Err(KeepError::NoName { kind });
        }
        let bytes = serde_json::to_string(is)
            .map_err(|error| KeepError::Unwritable { said: error.to_string() })?;
        again!(Tries::of(&self.db), self.keep_newest(kind, name, &bytes, wall))
    }

    /// Keeps it where it is not how the thing stands already.
    async fn keep_newest(
        &self,
        kind: ThingKind,
        name: &str,
        bytes: &str,
        wall: Timestamp,
    ) -> Result<(), KeepError> {
        writing!(&self.db, tx => {
            let newest: Option<(String,)> = sqlx::query_as(
                "SELECT bytes FROM thing WHERE kind = $1 AND name = $2 \
                 ORDER BY kept_us DESC, id DESC LIMIT 1",
            )
            .bind(kind.key())
            .bind(name)
            .fetch_optional(&mut *tx)
            .await?;
            if newest.is_some_and(|(newest,)| newest == bytes) {
                return Ok(());
            }
            sqlx::query(
                "INSERT INTO thing (id, kind, name, kept_us, bytes) VALUES ($1, $2, $3, $4, $5)",
            )
            .bind(id::fresh(wall))
            .bind(kind.key())
            .bind(name)
            .bind(micros(wall))
            .bind(bytes)
            .execute(&mut *tx)
            .await?;
            if kind == ThingKind::Apparatus {
                Touched::apparatus(name).follow(&mut tx).await?;
            }
            tx.commit().await?;
        });
        Ok(())
    }

    async fn things<T: serde::de::DeserializeOwned>(
        &self,
        kind: ThingKind,
    ) -> Result<Vec<Thing<T>>, ReadError> {
        let mut rows: Vec<(String, i64, String)> = reading!(&self.db, pool => sqlx::query_as(
            "SELECT name, kept_us, bytes FROM thing WHERE kind = $1 \
             ORDER BY name, kept_us DESC, id DESC",
        )
        .bind(kind.key())
        .fetch_all(pool)
        .await?);
        // Engines differ in what stands before what.
        rows.sort_by(|(one, ..), (other, ..)| one.cmp(other));
        let mut things: Vec<Thing<T>> = Vec::new();
        for (name, kept, bytes) in rows {
            // The newest of each name stands first.
            if things.last().is_some_and(|last| last.name == name) {
                continue;
            }
            let is = serde_json::from_str(&bytes).map_err(|error| ReadError::Thing {
                kind,
                name: name.clone(),
                said: error.to_string(),
            })?;
            things.push(Thing { name, kept: moment(kept), is });
        }
        Ok(things)
    }
}

fn plain(kind: ThingKind, name: &str, date: Date, due: Option<Date>) -> Calibration {
    let name = name.to_owned();
    Calibration { kind, name, date, due, certificate: None, note: None }
}

/// A job names no meters, only what they read and on which set.
fn meter_name(job: &Job, meter: &Meter) -> String {
    let reads = match meter.reads {
        Reads::Voltage => "voltage",
        Reads::Current => "current",
        Reads::Guard => "guard",
    };
    match (job.set.id.as_deref(), meter.query.as_deref()) {
        (Some(set), Some(query)) => format!("{reads} at {set}, {query}"),
        (Some(set), None) => format!("{reads} at {set}"),
        (None, Some(query)) => format!("{reads}, {query}"),
        (None, None) => reads.to_owned(),
    }
}
