//! Events in: sealed, and durable when the call returns.

use async_recursion::async_recursion as built_here;
use jiff::Timestamp;
use session::record::{Entry, Event, Head, Kind};

use crate::chain::{Chain, Hash, NOTHING_BEFORE, Seal};
use crate::db::{Line, Tries, Wire, again, on, writing};
use crate::hold::HeldElsewhere;
use crate::id::{self, RecordId};
use crate::open::{Store, micros};
use crate::overview::follow::{Begun, Touched, stands_at_first};
use crate::trouble::{AppendError, Trouble};

/// Events that go to a server in one statement.
const TOGETHER: usize = 500;

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

/// What a record begins with, and what stands behind it where it is whole already.
struct First<'a> {
    head: &'a Head,
    /// The head as it is kept.
    bytes: &'a [u8],
    rows: &'a [Written],
}

impl Store {
    /// Begins a record: what it begins with becomes its event 0, durable on return.
    ///
    /// # Errors
    /// Nothing of it is kept.
    #[built_here]
    pub async fn begin(&self, head: &Head, wall: Timestamp) -> Result<RecordId, AppendError> {
        let bytes = written(head)?;
        let id = RecordId::new(wall);
        let first = First { head, bytes: &bytes, rows: &[] };
        let known = again!(Tries::of(&self.db), self.begin_once(&id, wall, &first))?;
        self.known().insert(id.as_str().to_owned(), known);
        // Nobody else knows the name yet, so nobody can hold it.
        let _ = self.holds.take(id.as_str());
        Ok(id)
    }

    /// Keeps a record that is whole already, as one that was written down elsewhere: all of it or
    /// nothing, durable on return.
    ///
    /// # Errors
    /// Nothing of it is kept.
    #[built_here]
    pub async fn keep_record(
        &self,
        head: &Head,
        entries: &[Entry],
        wall: Timestamp,
    ) -> Result<RecordId, AppendError> {
        let rows = entries.iter().map(Written::of).collect::<Result<Vec<_>, _>>()?;
        let bytes = written(head)?;
        let id = RecordId::new(wall);
        let first = First { head, bytes: &bytes, rows: &rows };
        again!(Tries::long(&self.db), self.begin_once(&id, wall, &first))?;
        Ok(id)
    }

    async fn begin_once(
        &self,
        id: &RecordId,
        wall: Timestamp,
        &First { head, bytes, rows }: &First<'_>,
    ) -> Result<Known, AppendError> {
        let chain = Chain { record: id.as_str(), writer: self.writer() };
        let seal = chain.seal(0, &NOTHING_BEFORE, bytes);
        let at = id.given().unwrap_or(wall);
        let Begun { day, made_with } = Begun::of(head, at);
        let known = writing!(&self.db, tx => {
            let begun = sqlx::query(
                "INSERT INTO record (id, writer, kind, asset, begun_us, last_us, closed, events, \
                 readings, day, made_with, stands) \
                 VALUES ($1, $2, $3, $4, $5, $5, 0, 0, 0, $6, $7, $8) ON CONFLICT (id) DO NOTHING",
            )
            .bind(id.as_str())
            .bind(self.writer())
            .bind(kind_key(head.kind))
            .bind(&head.job.asset.id)
            .bind(micros(at))
            .bind(day)
            .bind(&made_with)
            .bind(stands_at_first(head.kind))
            .execute(&mut *tx)
            .await?;
            if begun.rows_affected() == 0 {
                // From a call whose answer was lost.
                return Ok(stands(&mut tx, chain).await?.known);
            }
            let number = insert_chain(&mut tx, chain, &seal).await?;
            insert(&mut tx, number, 0, bytes, &seal).await?;
            let begun = Known { chain: number, seq: 0, seal };
            let known = add(&mut tx, chain, begun, rows, &seals(chain, begun, rows)).await?;
            let mut touched = Touched::apparatus(&head.job.asset.id);
            if rows.iter().any(|row| row.closes) {
                touched.add_record(id.as_str());
            }
            touched.follow(&mut tx).await?;
            tx.commit().await?;
            known
        });
        Ok(known)
    }

    /// Adds these events to a record, all or none, durable on return.
    ///
    /// The first call for a record that this program did not begin takes the record up where it
    /// stands, unless another program that still runs goes on with it. After a failure the same
    /// call can be made again: events that did get in are found and not added twice.
    ///
    /// # Errors
    /// Nothing more of them is kept than was before.
    #[built_here]
    pub async fn append(&self, id: &RecordId, entries: &[Entry]) -> Result<Seal, AppendError> {
        let rows = entries.iter().map(Written::of).collect::<Result<Vec<_>, _>>()?;
        self.take_hold(id)?;
        self.in_place()?;
        // What the first try finds holds for those after it, so that what it did is found again.
        let mut known = self.known().get(id.as_str()).copied();
        let done = again!(Tries::of(&self.db), self.append_once(id, &rows, &mut known));
        let lost = AppendError::is_lost;
        match (&done, known) {
            (Ok(_), _) if rows.iter().any(|row| row.closes) => self.let_go(id),
            (Ok(known), _) => drop(self.known().insert(id.as_str().to_owned(), *known)),
            (Err(error), Some(known)) if lost(error) => {
                self.known().insert(id.as_str().to_owned(), known);
            }
            (Err(_), _) => {}
        }
        done.map(|known| Seal::of(known.seq, &known.seal))
    }

    async fn append_once(
        &self,
        id: &RecordId,
        rows: &[Written],
        known: &mut Option<Known>,
    ) -> Result<Known, AppendError> {
        let chain = Chain { record: id.as_str(), writer: self.writer() };
        let known = writing!(&self.db, tx => {
            let stands = stands(&mut tx, chain).await?;
            let known = *known.get_or_insert(stands.known);
            let seals = seals(chain, known, rows);
            let done = already(known, &seals, stands.known)?;
            let (more, seals) = (&rows[done..], &seals[done..]);
            if more.is_empty() {
                return Ok(stands.known);
            }
            if stands.closed {
                return Err(AppendError::Closed);
            }
            let known = add(&mut tx, chain, stands.known, more, seals).await?;
            if more.iter().any(|row| row.closes) {
                Touched::record(id.as_str()).follow(&mut tx).await?;
            }
            tx.commit().await?;
            known
        });
        Ok(known)
    }

    /// Goes on with a record before anything is added to it: this program can write, and no other
    /// one goes on with it from now on.
    ///
    /// # Errors
    /// Another program that still runs goes on with it, or nothing can be written.
    #[built_here]
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

async fn stands(tx: &mut dyn Wire, chain: Chain<'_>) -> Result<Stands, AppendError> {
    let found: Option<(i64, i64, Vec<u8>, i64)> = on!(tx, line => sqlx::query_as(
        "SELECT chain.id, chain.seq, chain.seal, record.closed FROM chain \
         JOIN record ON record.id = chain.record WHERE chain.record = $1 AND chain.writer = $2",
    )
    .bind(chain.record)
    .bind(chain.writer)
    .fetch_optional(line)
    .await?);
    if let Some((id, seq, seal, closed)) = found {
        let known = Known { chain: id, seq: seq.cast_unsigned(), seal: hash(seal) };
        return Ok(Stands { known, closed: closed > 0 });
    }
    join(tx, chain).await
}

/// A chain of this writer on a record that another one began; it follows what the record begins
/// with.
async fn join(tx: &mut dyn Wire, chain: Chain<'_>) -> Result<Stands, AppendError> {
    let begun: Option<(Vec<u8>, i64)> = on!(tx, line => sqlx::query_as(
        "SELECT event.seal, record.closed FROM record \
         JOIN chain ON chain.record = record.id AND chain.writer = record.writer \
         JOIN event ON event.chain = chain.id AND event.seq = 0 WHERE record.id = $1",
    )
    .bind(chain.record)
    .fetch_optional(line)
    .await?);
    let Some((seal, closed)) = begun else {
        return Err(AppendError::NoRecord { record: chain.record.to_owned() });
    };
    let id = insert_chain(tx, chain, &seal).await?;
    Ok(Stands { known: Known { chain: id, seq: 0, seal: hash(seal) }, closed: closed > 0 })
}

/// A chain that has come to its event 0, or stands behind that of another writer.
async fn insert_chain(
    tx: &mut dyn Wire,
    chain: Chain<'_>,
    seal: &[u8],
) -> Result<i64, sqlx::Error> {
    // Many programs make chains at once, and none knows the numbers of the others.
    let number = id::number();
    on!(tx, line => sqlx::query(
        "INSERT INTO chain (id, record, writer, seq, seal) VALUES ($1, $2, $3, 0, $4)",
    )
    .bind(number)
    .bind(chain.record)
    .bind(chain.writer)
    .bind(seal)
    .execute(line)
    .await.map(drop)?);
    Ok(number)
}

/// Leads a chain from where it stood to where it will. Whoever read it before and finds it
/// elsewhere now has crossed another program, wherever that one runs.
pub(crate) async fn advance(
    tx: &mut dyn Wire,
    chain: i64,
    (seq, seal): (i64, &[u8]),
    to: (i64, &[u8]),
) -> Result<(), Trouble> {
    let moved = on!(tx, line => sqlx::query(
        "UPDATE chain SET seq = $2, seal = $3 WHERE id = $1 AND seq = $4 AND seal = $5",
    )
    .bind(chain)
    .bind(to.0)
    .bind(to.1)
    .bind(seq)
    .bind(seal)
    .execute(line)
    .await?
    .rows_affected());
    if moved == 1 { Ok(()) } else { Err(Trouble::Crossed) }
}

/// One event of a chain.
pub(crate) async fn insert(
    tx: &mut dyn Wire,
    chain: i64,
    seq: i64,
    bytes: &[u8],
    seal: &[u8],
) -> Result<(), sqlx::Error> {
    on!(tx, line => sqlx::query(
        "INSERT INTO event (chain, seq, bytes, seal) VALUES ($1, $2, $3, $4)",
    )
    .bind(chain)
    .bind(seq)
    .bind(bytes)
    .bind(seal)
    .execute(line)
    .await.map(drop)?);
    Ok(())
}

/// Events of a chain, each with its number, its bytes and its seal.
pub(crate) async fn insert_all(
    tx: &mut dyn Wire,
    chain: i64,
    events: &[(i64, &[u8], &[u8])],
) -> Result<(), sqlx::Error> {
    match (tx.line(), events) {
        // Each statement goes to a server and back: many events go together.
        (Line::Pg(line), [_, _, ..]) => {
            for lot in events.chunks(TOGETHER) {
                sqlx::query(
                    "INSERT INTO event (chain, seq, bytes, seal) \
                     SELECT $1, seq, bytes, seal FROM UNNEST($2, $3, $4) AS one (seq, bytes, seal)",
                )
                .bind(chain)
                .bind(lot.iter().map(|(seq, ..)| *seq).collect::<Vec<_>>())
                .bind(lot.iter().map(|(_, bytes, _)| *bytes).collect::<Vec<_>>())
                .bind(lot.iter().map(|(.., seal)| *seal).collect::<Vec<_>>())
                .execute(&mut *line)
                .await?;
            }
        }
        (Line::Lite(_) | Line::Pg(_), _) => {
            for (seq, bytes, seal) in events {
                insert(tx, chain, *seq, bytes, seal).await?;
            }
        }
    }
    Ok(())
}

/// Adds events to a chain that stands there, and gives where it stands then.
async fn add(
    tx: &mut dyn Wire,
    chain: Chain<'_>,
    stands: Known,
    more: &[Written],
    seals: &[Hash],
) -> Result<Known, AppendError> {
    let Some(last) = seals.last() else { return Ok(stands) };
    let Known { chain: number, seq, seal } = stands;
    let end = seq.cast_signed() + count(more.len());
    advance(tx, number, (seq.cast_signed(), &seal), (end, last)).await?;
    let events = (seq.cast_signed() + 1..).zip(more.iter().zip(seals));
    let events = events.map(|(at, (row, seal))| (at, &row.bytes[..], &seal[..]));
    insert_all(tx, number, &events.collect::<Vec<_>>()).await?;
    sum_up(tx, chain.record, more).await?;
    Ok(Known { chain: number, seq: end.cast_unsigned(), seal: *last })
}

/// What the record's row says of events that were added.
async fn sum_up(tx: &mut dyn Wire, id: &str, more: &[Written]) -> Result<(), sqlx::Error> {
    on!(tx, line => sqlx::query(
        "UPDATE record SET events = events + $2, readings = readings + $3, \
         last_us = CASE WHEN $4 > last_us THEN $4 ELSE last_us END, \
         closed = closed + $5 WHERE id = $1",
    )
    .bind(id)
    .bind(count(more.len()))
    .bind(count(more.iter().map(|row| row.readings).sum()))
    .bind(more.iter().filter_map(|row| row.at_us).max())
    .bind(count(more.iter().filter(|row| row.closes).count()))
    .execute(line)
    .await.map(drop)?);
    Ok(())
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
