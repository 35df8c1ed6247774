//! What belongs to no record, in: apparatus, sets and meters, calibrations, jobs.

use plan::job::{Asset, Meter, TestSet};

use super::form::Part;
use super::refused::Why;
use super::take::{Prepared, TakeError, Value, text};
use crate::chain::digest;
use crate::db::reading;
use crate::id::is_name;
use crate::open::{Store, micros};
use crate::things::ThingKind;

impl Store {
    pub(super) async fn prepare_thing(
        &self,
        part: &Part,
        prepared: &mut Prepared,
    ) -> Result<(), TakeError> {
        match part {
            Part::Record(_) => Ok(()),
            Part::Thing { id, kind, name, kept, bytes } => {
                if self.is_here("SELECT id FROM thing WHERE id = $1", id).await? {
                    return Ok(());
                }
                if let Err(why) = is_thing(id, *kind, name, bytes) {
                    prepared.refuse("", id, why);
                    return Ok(());
                }
                prepared.taken.moved.things += 1;
                if *kind == ThingKind::Apparatus {
                    prepared.touched.add_apparatus(name);
                }
                prepared.deed(
                    false,
                    "INSERT INTO thing (id, kind, name, kept_us, bytes) \
                     VALUES ($1, $2, $3, $4, $5) ON CONFLICT (id) DO NOTHING",
                    vec![
                        text(id),
                        text(kind.key()),
                        text(name),
                        Value::Number(micros(*kept)),
                        text(bytes),
                    ],
                );
                Ok(())
            }
            Part::Calibration { .. } => self.prepare_calibration(part, prepared).await,
            Part::Job { .. } => self.prepare_job(part, prepared).await,
        }
    }

    async fn prepare_calibration(
        &self,
        part: &Part,
        prepared: &mut Prepared,
    ) -> Result<(), TakeError> {
        let Part::Calibration { id, kind, name, day, due, certificate, note, kept } = part else {
            return Ok(());
        };
        if self.is_here("SELECT id FROM calibration WHERE id = $1", id).await? {
            return Ok(());
        }
        if !is_name(id) || name.trim().is_empty() {
            prepared.refuse("", id, Why::Broken);
            return Ok(());
        }
        prepared.taken.moved.calibrations += 1;
        prepared.deed(
            false,
            "INSERT INTO calibration \
             (id, kind, name, day, due, certificate, note, kept_us) \
             VALUES ($1, $2, $3, $4, $5, $6, $7, $8) ON CONFLICT (id) DO NOTHING",
            vec![
                text(id),
                text(kind.key()),
                text(name),
                text(&day.to_string()),
                Value::Maybe(due.map(|due| due.to_string())),
                Value::Maybe(certificate.clone()),
                Value::Maybe(note.clone()),
                Value::Number(micros(*kept)),
            ],
        );
        Ok(())
    }

    async fn prepare_job(&self, part: &Part, prepared: &mut Prepared) -> Result<(), TakeError> {
        let Part::Job { id, kept, asset, day, given } = part else { return Ok(()) };
        let digest = digest(given.as_bytes()).to_vec();
        let known: Option<(String,)> = reading!(&self.db, pool => {
            sqlx::query_as("SELECT id FROM job WHERE digest = $1")
                .bind(&digest)
                .fetch_optional(pool)
                .await?
        });
        if known.is_some() {
            return Ok(());
        }
        if !is_name(id) {
            prepared.refuse("", id, Why::Broken);
            return Ok(());
        }
        prepared.taken.moved.jobs += 1;
        prepared.deed(
            false,
            "INSERT INTO job (id, digest, kept_us, asset, day, given) \
             VALUES ($1, $2, $3, $4, $5, $6) ON CONFLICT DO NOTHING",
            vec![
                text(id),
                Value::Bytes(digest),
                Value::Number(micros(*kept)),
                text(asset),
                text(day),
                text(given),
            ],
        );
        Ok(())
    }
}

/// What cannot be read would stand in the way of all that is read with it.
fn is_thing(id: &str, kind: ThingKind, name: &str, bytes: &str) -> Result<(), Why> {
    if !is_name(id) || name.trim().is_empty() {
        return Err(Why::Broken);
    }
    let read = match kind {
        ThingKind::Apparatus => serde_json::from_str::<Asset>(bytes).map(drop),
        ThingKind::Set => serde_json::from_str::<TestSet>(bytes).map(drop),
        ThingKind::Meter => serde_json::from_str::<Meter>(bytes).map(drop),
    };
    read.map_err(|error| Why::Unreadable { said: error.to_string() })
}
