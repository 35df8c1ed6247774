//! Events in: sealed, and durable when the call returns.

use jiff::Timestamp;
use session::record::{Entry, Event, Head, Kind};

use crate::chain::{Chain, Hash, NOTHING_BEFORE, Seal};
use crate::db::writing;
use crate::hold::HeldElsewhere;
use crate::id::RecordId;
use crate::open::{Store, micros};
use crate::trouble::AppendError;

/// How far a record had come when this program last wrote to it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Known {
    chain: i64,
    seq: u64,
    seal: Hash,
}

/// One event as it is kept, and what the record's row says of it.
pub(crate) struct Written {
    bytes: Vec<u8>,
    readings: usize,
    at_us: Option<i64>,
    closes: bool,
}

impl Store {
    /// Begins a record: what it begins with becomes its event 0, durable on return.
    ///
    /// # Errors
    /// Nothing of it is kept.
    pub async fn begin(&self, head: &Head, wall: Timestamp) -> Result<RecordId, AppendError> {
        let bytes = written(head)?;
        let id = RecordId::new(wall);
        let chain = Chain { record: id.as_str(), writer: self.writer() };
        let seal = chain.seal(0, &NOTHING_BEFORE, &bytes);
        let known = writing!(&self.db, tx => {
            sqlx::query(
                "INSERT INTO record \
                 (id, writer, kind, asset, begun_us, last_us, closed, events, readings) \
                 VALUES ($1, $2, $3, $4, $5, $5, 0, 0, 0)",
            )
            .bind(id.as_str())
            .bind(self.writer())
            .bind(kind_key(head.kind))
            .bind(&head.job.asset.id)
            .bind(micros(id.given().unwrap_or(wall)))
            .execute(&mut *tx)
            .await?;
            let (number,): (i64,) = sqlx::query_as("SELECT COALESCE(MAX(id), 0) + 1 FROM chain")
                .fetch_one(&mut *tx)
                .await?;
            sqlx::query(
                "INSERT INTO chain (id, record, writer, seq, seal) VALUES ($1, $2, $3, 0, $4)",
            )
            .bind(number)
            .bind(id.as_str())
            .bind(self.writer())
            .bind(&seal[..])
            .execute(&mut *tx)
            .await?;
            sqlx::query("INSERT INTO event (chain, seq, bytes, seal) VALUES ($1, 0, $2, $3)")
                .bind(number)
                .bind(&bytes)
                .bind(&seal[..])
                .execute(&mut *tx)
                .await?;
            tx.commit().await?;
            Known { chain: number, seq: 0, seal }
        });
        self.known().insert(id.as_str().to_owned(), known);
        // Nobody else knows the name yet, so nobody can hold it.
        let _ = self.holds.take(id.as_str());
        Ok(id)
    }

    /// Adds these events to a record, all or none, durable on return.
    ///
    /// The first call for a record that this program did not begin takes the record up where it
    /// stands, unless another program that still runs goes on with it. After a failure the same
    /// call can be made again: events that did get in are found and not added twice.
    ///
    /// # Errors
    /// Nothing more of them is kept than was before.
    pub async fn append(&self, id: &RecordId, entries: &[Entry]) -> Result<Seal, AppendError> {
        let rows = entries.iter().map(Written::of).collect::<Result<Vec<_>, _>>()?;
        let chain = Chain { record: id.as_str(), writer: self.writer() };
        self.take_hold(id)?;
        self.in_place()?;
        let known = writing!(&self.db, tx => {
            let stands = stands(&mut tx, chain).await?;
            let known = self.known().get(id.as_str()).copied().unwrap_or(stands.known);
            let seals = seals(chain, known, &rows);
            let done = already(known, &seals, stands.known)?;
            if stands.closed && done < rows.len() {
                return Err(AppendError::Closed);
            }
            let mut at = stands.known;
            for (row, seal) in rows.iter().zip(&seals).skip(done) {
                at = Known { chain: at.chain, seq: at.seq + 1, seal: *seal };
                sqlx::query("INSERT INTO event (chain, seq, bytes, seal) VALUES ($1, $2, $3, $4)")
                    .bind(at.chain)
                    .bind(at.seq.cast_signed())
                    .bind(&row.bytes)
                    .bind(&seal[..])
                    .execute(&mut *tx)
                    .await?;
            }
            if done < rows.len() {
                sqlx::query("UPDATE chain SET seq = $2, seal = $3 WHERE id = $1")
                    .bind(at.chain)
                    .bind(at.seq.cast_signed())
                    .bind(&at.seal[..])
                    .execute(&mut *tx)
                    .await?;
                let more = &rows[done..];
                sqlx::query(
                    "UPDATE record SET events = events + $2, readings = readings + $3, \
                     last_us = MAX(last_us, COALESCE($4, last_us)), \
                     closed = closed + $5 WHERE id = $1",
                )
                .bind(id.as_str())
                .bind(count(more.len()))
                .bind(count(more.iter().map(|row| row.readings).sum()))
                .bind(more.iter().filter_map(|row| row.at_us).max())
                .bind(count(more.iter().filter(|row| row.closes).count()))
                .execute(&mut *tx)
                .await?;
            }
            tx.commit().await?;
            at
        });
        if rows.iter().any(|row| row.closes) {
            self.let_go(id);
        } else {
            self.known().insert(id.as_str().to_owned(), known);
        }
        Ok(Seal::of(known.seq, &known.seal))
    }

    /// Goes on with a record before anything is added to it: this program can write, and no other
    /// one goes on with it from now on.
    ///
    /// # Errors
    /// Another program that still runs goes on with it, or nothing can be written.
    pub async fn hold(&self, id: &RecordId) -> Result<(), AppendError> {
        self.take_hold(id)?;
        self.in_place()?;
        Ok(self.db.try_to_write().await?)
    }

    fn take_hold(&self, id: &RecordId) -> Result<(), AppendError> {
        self.holds.take(id.as_str()).map_err(|HeldElsewhere| AppendError::Held)
    }

    /// Leaves a record to other programs; the next [`Store::append`] takes it up where it then
    /// stands.
    pub fn let_go(&self, id: &RecordId) {
        self.known().remove(id.as_str());
        self.holds.release(id.as_str());
    }
}

impl Written {
    pub(crate) fn of(entry: &Entry) -> Result<Self, AppendError> {
        Ok(Self {
            bytes: written(entry)?,
            readings: readings(&entry.what),
            at_us: entry.at.map(|at| micros(at.wall)),
            closes: matches!(entry.what, Event::Closed),
        })
    }
}

/// How many readings an event holds.
pub(crate) fn readings(event: &Event) -> usize {
    match event {
        Event::Readings { rows, .. } => rows.len(),
        Event::Metered(batch) => batch.t_s.len(),
        _ => 0,
    }
}

fn written(what: &impl serde::Serialize) -> Result<Vec<u8>, AppendError> {
    serde_json::to_vec(what).map_err(|error| AppendError::Unwritable { said: error.to_string() })
}

/// Where a chain stands in the database.
struct Stands {
    known: Known,
    closed: bool,
}

async fn stands(tx: &mut sqlx::SqliteConnection, chain: Chain<'_>) -> Result<Stands, AppendError> {
    let found: Option<(i64, i64, Vec<u8>, i64)> = sqlx::query_as(
        "SELECT chain.id, chain.seq, chain.seal, record.closed FROM chain \
         JOIN record ON record.id = chain.record WHERE chain.record = $1 AND chain.writer = $2",
    )
    .bind(chain.record)
    .bind(chain.writer)
    .fetch_optional(&mut *tx)
    .await?;
    if let Some((id, seq, seal, closed)) = found {
        let known = Known { chain: id, seq: seq.cast_unsigned(), seal: hash(seal) };
        return Ok(Stands { known, closed: closed > 0 });
    }
    join(tx, chain).await
}

/// A chain of this writer on a record that another one began; it follows what the record begins
/// with.
async fn join(tx: &mut sqlx::SqliteConnection, chain: Chain<'_>) -> Result<Stands, AppendError> {
    let begun: Option<(Vec<u8>, i64)> = sqlx::query_as(
        "SELECT event.seal, record.closed FROM record \
         JOIN chain ON chain.record = record.id AND chain.writer = record.writer \
         JOIN event ON event.chain = chain.id AND event.seq = 0 WHERE record.id = $1",
    )
    .bind(chain.record)
    .fetch_optional(&mut *tx)
    .await?;
    let Some((seal, closed)) = begun else {
        return Err(AppendError::NoRecord { record: chain.record.to_owned() });
    };
    let (id,): (i64,) =
        sqlx::query_as("SELECT COALESCE(MAX(id), 0) + 1 FROM chain").fetch_one(&mut *tx).await?;
    sqlx::query("INSERT INTO chain (id, record, writer, seq, seal) VALUES ($1, $2, $3, 0, $4)")
        .bind(id)
        .bind(chain.record)
        .bind(chain.writer)
        .bind(&seal)
        .execute(&mut *tx)
        .await?;
    Ok(Stands { known: Known { chain: id, seq: 0, seal: hash(seal) }, closed: closed > 0 })
}

fn seals(chain: Chain<'_>, known: Known, rows: &[Written]) -> Vec<Hash> {
    let mut before = (known.seq, known.seal);
    rows.iter()
        .map(|row| {
            before = (before.0 + 1, chain.seal(before.0 + 1, &before.1, &row.bytes));
            before.1
        })
        .collect()
}

/// How many of the new events are in the database already, from a call whose answer was lost.
fn already(known: Known, seals: &[Hash], stands: Known) -> Result<usize, AppendError> {
    let others = AppendError::OtherProgram { found: stands.seq, known: known.seq };
    let Some(done) = stands.seq.checked_sub(known.seq).and_then(|more| usize::try_from(more).ok())
    else {
        return Err(others);
    };
    let expected = match done {
        0 => Some(&known.seal),
        _ => seals.get(done - 1),
    };
    if expected == Some(&stands.seal) { Ok(done) } else { Err(others) }
}

pub(crate) fn count(number: usize) -> i64 {
    i64::try_from(number).unwrap_or(i64::MAX)
}

/// The column holds 32 bytes; the table says so.
pub(crate) fn hash(column: Vec<u8>) -> Hash {
    column.try_into().unwrap_or([0; 32])
}

/// The word for a kind, as it stands in a record.
pub(crate) const fn kind_key(kind: Kind) -> &'static str {
    match kind {
        Kind::Test => "test",
        Kind::Practice => "practice",
        Kind::Simulated => "simulated",
        Kind::Transcribed => "transcribed",
    }
}
