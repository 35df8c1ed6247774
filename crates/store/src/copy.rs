//! All of one database into another, on whichever engines: what is new is added, nothing that is
//! kept is overwritten, and what is broken stays where it is.
//!
//! It reads one view of what it copies from, whatever is written there meanwhile. Records go in
//! their sealed bytes, as exports do; a copy that was cut off goes on where it was when it is made
//! again.

use async_recursion::async_recursion as built_here;
use serde::Serialize;

use crate::check::Broken;
use crate::db::{Tries, Wire, again, on, viewing, writing};
use crate::export::{EXPORT_FORMAT, Export, ExportedRecord, export_one};
use crate::id::RecordId;
use crate::open::Store;
use crate::overview::follow::Touched;
use crate::things::ThingKind;
use crate::trouble::{CopyError, ImportError, KeepError};

/// Names looked up at once.
const PAGE: i64 = 256;

/// Records and rows that are kept in one transaction; each is durable before the next begins.
const TOGETHER: usize = 32;

/// What was copied. What was there already is not counted.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Copied {
    /// How many records there are to copy from.
    pub records: u64,
    /// How many of them were not there before.
    pub new: u64,
    /// How many events were added, what records begin with among them.
    pub events: u64,
    /// How many findings.
    pub findings: u64,
    /// How many signatures.
    pub signatures: u64,
    /// How many jobs.
    pub jobs: u64,
    /// How many states of apparatus, sets and meters.
    pub things: u64,
    /// How many calibrations.
    pub calibrations: u64,
    /// How many sheets were added or brought to a later state.
    pub sheets: u64,
    /// How many accounts.
    pub people: u64,
    /// How many browsers that were let in.
    pub passes: u64,
    /// How many offices and laptops that were met, and refusals that are remembered.
    pub meetings: u64,
    /// Records that were not copied, and why.
    pub left: Vec<Left>,
}

/// A record that was not copied, or not all of it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Left {
    /// Which.
    pub record: RecordId,
    /// What of it does not hold; nothing where it stands against what is there already.
    pub broken: Vec<Broken>,
    /// What to do.
    pub said: String,
}

impl Store {
    /// Copies everything that is kept here to another database. Says after each lot how many of
    /// how many records were gone through.
    ///
    /// # Errors
    /// One of the two databases failed; what was copied by then is there, and the same call goes
    /// on with the rest.
    pub async fn copy_to(
        &self,
        to: &Self,
        mut told: impl FnMut(u64, u64) + Send,
    ) -> Result<Copied, CopyError> {
        viewing!(&self.db, view => copy_all(&mut view, to, &mut told).await)
    }
}

#[built_here]
async fn copy_all(
    view: &mut dyn Wire,
    to: &Store,
    told: &mut (dyn FnMut(u64, u64) + Send),
) -> Result<Copied, CopyError> {
    let mut copied = Copied::default();
    const COUNT: &str = "SELECT COUNT(*) FROM record";
    let (all,): (i64,) = on!(view, line => sqlx::query_as(COUNT).fetch_one(line).await?);
    copied.records = all.cast_unsigned();
    let (mut after, mut gone_through) = (String::new(), 0);
    loop {
        let page: Vec<(String,)> = on!(view, line => sqlx::query_as(
            "SELECT id FROM record WHERE id > $1 ORDER BY id LIMIT $2",
        )
        .bind(&after)
        .bind(PAGE)
        .fetch_all(line)
        .await?);
        let Some((last,)) = page.last() else { break };
        after.clone_from(last);
        for lot in page.chunks(TOGETHER) {
            let lot: Vec<RecordId> = lot.iter().map(|(id,)| RecordId::of(id.clone())).collect();
            records(view, to, &lot, &mut copied).await?;
            gone_through += lot.len() as u64;
            told(gone_through, copied.records);
        }
    }
    copied.jobs = rows::<Job>(view, to).await?;
    copied.things = rows::<Thing>(view, to).await?;
    copied.calibrations = rows::<Calibration>(view, to).await?;
    copied.people = rows::<Person>(view, to).await?;
    copied.passes = rows::<Pass>(view, to).await?;
    copied.sheets = rows::<Sheet>(view, to).await?;
    copied.meetings = rows::<Office>(view, to).await?
        + rows::<Laptop>(view, to).await?
        + rows::<Refused>(view, to).await?;
    Ok(copied)
}

/// Copies these records together; where that is refused, each by itself.
async fn records(
    view: &mut dyn Wire,
    to: &Store,
    lot: &[RecordId],
    copied: &mut Copied,
) -> Result<(), CopyError> {
    let mut fresh = Vec::new();
    for id in lot {
        if marks(view, id).await? != viewing!(&to.db, there => marks(&mut there, id).await)? {
            fresh.push(id);
        }
    }
    let mut good = Vec::new();
    for id in fresh {
        match exported(view, id).await? {
            Ok(record) => good.push(record),
            Err(left) => copied.left.push(left),
        }
    }
    if good.is_empty() {
        return Ok(());
    }
    let together = Export { format: EXPORT_FORMAT.to_owned(), records: good };
    match to.take_in(&together).await {
        Ok(imported) => count(copied, &imported),
        Err(ImportError::Database(trouble)) => return Err(trouble.into()),
        Err(_) => {
            for record in together.records {
                let id = record.record.clone();
                let alone = Export { format: EXPORT_FORMAT.to_owned(), records: vec![record] };
                match to.take_in(&alone).await {
                    Ok(imported) => count(copied, &imported),
                    Err(ImportError::Database(trouble)) => return Err(trouble.into()),
                    Err(error) => copied.left.push(Left::of(id, error)),
                }
            }
        }
    }
    Ok(())
}

fn count(copied: &mut Copied, imported: &[crate::Imported]) {
    for one in imported {
        copied.new += u64::from(one.new);
        copied.events += one.added;
        copied.findings += one.findings;
        copied.signatures += one.signatures;
    }
}

/// What tells whether a record is the same on both sides: the end of each chain, and the seals of
/// findings and signatures.
async fn marks(view: &mut dyn Wire, id: &RecordId) -> Result<Vec<(String, Vec<u8>)>, sqlx::Error> {
    let mut marks: Vec<(String, Vec<u8>)> = on!(view, line => sqlx::query_as(
        "SELECT writer, seal FROM chain WHERE record = $1 \
         UNION ALL SELECT id, seal FROM findings WHERE record = $1 \
         UNION ALL SELECT id, seal FROM signature WHERE record = $1",
    )
    .bind(id.as_str())
    .fetch_all(line)
    .await?);
    marks.sort();
    Ok(marks)
}

/// A record as it goes, if all of it holds.
async fn exported(
    view: &mut dyn Wire,
    id: &RecordId,
) -> Result<Result<ExportedRecord, Left>, CopyError> {
    let mut bytes = Vec::new();
    if let Err(error) = export_one(view, id, &mut bytes).await {
        return match error {
            crate::trouble::ExportError::Read(crate::trouble::ReadError::Database(trouble)) => {
                Err(trouble.into())
            }
            error => Ok(Err(Left::said(id.clone(), error.to_string()))),
        };
    }
    let record: ExportedRecord = match serde_json::from_slice(&bytes) {
        Ok(record) => record,
        Err(error) => return Ok(Err(Left::said(id.clone(), error.to_string()))),
    };
    let broken = record.verify();
    if broken.is_empty() {
        return Ok(Ok(record));
    }
    Ok(Err(Left::of(id.clone(), ImportError::Broken { broken })))
}

impl Left {
    fn of(record: RecordId, error: ImportError) -> Self {
        let said = error.to_string();
        match error {
            ImportError::Broken { broken } => {
                let said = format!(
                    "keep the database it stands in, and look with `ohmstead verify --record \
                     {record}` — seals of it do not hold"
                );
                Self { record, broken, said }
            }
            _ => Self::said(record, said),
        }
    }

    fn said(record: RecordId, said: String) -> Self {
        Self { record, broken: Vec::new(), said }
    }
}

/// Rows of one table.
trait Table: Sized {
    /// All of them as they stand.
    async fn all(view: &mut dyn Wire) -> Result<Vec<Self>, sqlx::Error>;

    /// Adds one where it is not there; how many rows that changed.
    async fn add(&self, tx: &mut dyn Wire) -> Result<u64, sqlx::Error>;

    /// The apparatus that it tells of.
    fn apparatus(&self) -> Option<&str> {
        None
    }
}

async fn rows<T: Table>(view: &mut dyn Wire, to: &Store) -> Result<u64, CopyError> {
    let all = T::all(view).await?;
    let mut added = 0;
    for lot in all.chunks(16 * TOGETHER) {
        added += again!(Tries::long(&to.db), add(to, lot))?;
    }
    Ok(added)
}

async fn add<T: Table>(to: &Store, lot: &[T]) -> Result<u64, KeepError> {
    let mut added = 0;
    writing!(&to.db, tx => {
        let mut touched = Touched::default();
        for row in lot {
            let now = row.add(&mut tx).await?;
            if let Some(name) = row.apparatus().filter(|_| now > 0) {
                touched.add_apparatus(name);
            }
            added += now;
        }
        touched.follow(&mut tx).await?;
        tx.commit().await?;
    });
    Ok(added)
}

/// A table whose rows are added by one statement, with its columns and their types in Rust.
macro_rules! table {
    ($name:ident ($($at:tt: $of:ty),*), $all:literal, $add:literal $(, $apparatus:ident)?) => {
        struct $name(($($of,)*));

        impl Table for $name {
            async fn all(view: &mut dyn Wire) -> Result<Vec<Self>, sqlx::Error> {
                let rows: Vec<($($of,)*)> =
                    on!(view, line => sqlx::query_as($all).fetch_all(line).await?);
                Ok(rows.into_iter().map(Self).collect())
            }

            async fn add(&self, tx: &mut dyn Wire) -> Result<u64, sqlx::Error> {
                on!(tx, line => {
                    let add = sqlx::query($add)$(.bind(&self.0.$at))*;
                    Ok(add.execute(line).await?.rows_affected())
                })
            }

            $(fn apparatus(&self) -> Option<&str> {
                $apparatus(&self.0.1, &self.0.2)
            })?
        }
    };
}

/// The name of a thing that is an apparatus.
fn named<'a>(kind: &str, name: &'a str) -> Option<&'a str> {
    (ThingKind::of(kind) == Some(ThingKind::Apparatus)).then_some(name)
}

table!(
    Job(0: String, 1: Vec<u8>, 2: i64, 3: String, 4: String, 5: String),
    "SELECT id, digest, kept_us, asset, day, given FROM job ORDER BY id",
    "INSERT INTO job (id, digest, kept_us, asset, day, given) VALUES ($1, $2, $3, $4, $5, $6) \
     ON CONFLICT DO NOTHING"
);
table!(
    Thing(0: String, 1: String, 2: String, 3: i64, 4: String),
    "SELECT id, kind, name, kept_us, bytes FROM thing ORDER BY id",
    "INSERT INTO thing (id, kind, name, kept_us, bytes) VALUES ($1, $2, $3, $4, $5) \
     ON CONFLICT (id) DO NOTHING",
    named
);
table!(
    Calibration(
        0: String, 1: String, 2: String, 3: String, 4: Option<String>, 5: Option<String>,
        6: Option<String>, 7: i64
    ),
    "SELECT id, kind, name, day, due, certificate, note, kept_us FROM calibration ORDER BY id",
    "INSERT INTO calibration (id, kind, name, day, due, certificate, note, kept_us) \
     VALUES ($1, $2, $3, $4, $5, $6, $7, $8) ON CONFLICT (id) DO NOTHING"
);
// An account that is there keeps its password: a copy is no way to come by another one's.
table!(
    Person(0: String, 1: i64, 2: String),
    "SELECT name, kept_us, secret FROM person ORDER BY name",
    "INSERT INTO person (name, kept_us, secret) VALUES ($1, $2, $3) ON CONFLICT (name) DO NOTHING"
);
// A browser that was let in by a password comes in where the account has the same one.
table!(
    Pass(
        0: Vec<u8>, 1: String, 2: String, 3: String, 4: i64, 5: i64, 6: String, 7: Option<String>
    ),
    "SELECT pass.token, pass.person, pass.device, pass.may, pass.made_us, pass.until_us, \
     person.secret, pass.record FROM pass JOIN person ON person.name = pass.person \
     ORDER BY pass.token",
    "INSERT INTO pass (token, person, device, may, made_us, until_us, record) \
     SELECT $1, $2, $3, $4, $5, $6, $8 FROM person WHERE name = $2 AND secret = $7 \
     ON CONFLICT (token) DO NOTHING"
);
// A sheet that became a record stays; one that is still typed follows the later state. A sheet of a
// record that was left waits for it.
table!(
    Sheet(0: String, 1: i64, 2: i64, 3: String, 4: String, 5: Option<String>),
    "SELECT id, begun_us, kept_us, asset, given, record FROM sheet ORDER BY id",
    "INSERT INTO sheet (id, begun_us, kept_us, asset, given, record) \
     SELECT $1, $2, $3, $4, $5, $6 FROM installation \
     WHERE $6 IS NULL OR EXISTS (SELECT 1 FROM record WHERE record.id = $6) \
     ON CONFLICT (id) DO UPDATE SET kept_us = excluded.kept_us, asset = excluded.asset, \
     given = excluded.given, record = excluded.record WHERE sheet.record IS NULL \
     AND (excluded.kept_us > sheet.kept_us OR excluded.record IS NOT NULL)"
);
table!(
    Office(
        0: String, 1: Option<Vec<u8>>, 2: Option<String>, 3: Option<i64>, 4: Option<i64>,
        5: Option<String>
    ),
    "SELECT address, token, writer, tried_us, met_us, told FROM office ORDER BY address",
    "INSERT INTO office (address, token, writer, tried_us, met_us, told) \
     VALUES ($1, $2, $3, $4, $5, $6) ON CONFLICT (address) DO NOTHING"
);
table!(
    Laptop(0: String, 1: String, 2: i64, 3: String),
    "SELECT writer, device, met_us, told FROM laptop ORDER BY writer",
    "INSERT INTO laptop (writer, device, met_us, told) VALUES ($1, $2, $3, $4) \
     ON CONFLICT (writer) DO UPDATE SET device = excluded.device, met_us = excluded.met_us, \
     told = excluded.told WHERE excluded.met_us > laptop.met_us"
);
table!(
    Refused(0: String, 1: i64, 2: String, 3: String),
    "SELECT id, seen_us, giver, told FROM refused ORDER BY id",
    "INSERT INTO refused (id, seen_us, giver, told) VALUES ($1, $2, $3, $4) \
     ON CONFLICT (id) DO NOTHING"
);
