//! Records out: whole, event by event, or as a list.

use std::collections::VecDeque;

use async_recursion::async_recursion as built_here;
use jiff::Timestamp;
use quantity::Time;
use serde::Serialize;
use serde::de::DeserializeOwned;
use session::record::{Entry, Head, Kind, Record, is_known_format};

use crate::append::{hash, kind_key};
use crate::chain::Seal;
use crate::db::{Wire, on, reading};
use crate::id::{RecordId, is_name};
use crate::open::{Store, moment};
use crate::trouble::ReadError;

/// Events fetched at once.
const PAGE: i64 = 256;

/// Records named when several are meant.
const NAMED: i64 = 6;

/// A record as it is kept.
#[derive(Clone, Debug)]
pub struct Stored {
    /// Its name.
    pub id: RecordId,
    /// The record.
    pub record: Record,
    /// Each writer, and how far that writer's chain has come; who began it stands first.
    pub seals: Vec<(String, Seal)>,
}

/// Which records are asked for.
#[derive(Clone, Debug, Default)]
pub struct Filter {
    /// Of this object alone.
    pub asset: Option<String>,
    /// Of these that are not closed.
    pub open: bool,
}

/// A record in one line.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Summary {
    /// Its name.
    pub id: RecordId,
    /// What was tested.
    pub asset: String,
    /// How it came to be.
    pub kind: Kind,
    /// When it was begun.
    pub begun: Timestamp,
    /// The latest moment that one of its events entered it.
    pub last: Timestamp,
    /// Whether nothing more follows.
    pub closed: bool,
    /// How many events it has, not counting what it begins with.
    pub events: u64,
    /// How many readings.
    pub readings: u64,
}

pub(crate) type Line = (String, String, String, i64, i64, i64, i64, i64);

/// Records in one line each, the newest first.
macro_rules! lines {
    ($which:literal) => {
        concat!(
            "SELECT id, asset, kind, begun_us, last_us, closed, events, readings FROM record ",
            $which,
            " ORDER BY begun_us DESC, id DESC"
        )
    };
}

impl Store {
    /// The whole record.
    ///
    /// # Errors
    /// It is not here, or cannot be read.
    #[built_here]
    pub async fn record(&self, id: &RecordId) -> Result<Stored, ReadError> {
        let head = self.head(id).await?;
        let chains = self.chains(id).await?;
        let seals = chains.iter().map(|row| (row.writer.clone(), row.seal.clone())).collect();
        let mut events = Vec::new();
        self.each_owned(id, chains, |_, entry| events.push(entry)).await?;
        Ok(Stored { id: id.clone(), record: head.with(events), seals })
    }

    /// What a record begins with.
    ///
    /// # Errors
    /// It is not here, or cannot be read.
    #[built_here]
    pub async fn head(&self, id: &RecordId) -> Result<Head, ReadError> {
        let found: Option<(String, Vec<u8>)> = reading!(&self.db, pool => sqlx::query_as(
            "SELECT record.writer, event.bytes FROM record \
             JOIN chain ON chain.record = record.id AND chain.writer = record.writer \
             JOIN event ON event.chain = chain.id AND event.seq = 0 WHERE record.id = $1",
        )
        .bind(id.as_str())
        .fetch_optional(pool)
        .await?);
        let Some((writer, bytes)) = found else { return Err(no_record(id)) };
        read_head(&bytes, id, &writer)
    }

    /// How far each writer's chain has come; who began it stands first.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn seals(&self, id: &RecordId) -> Result<Vec<(String, Seal)>, ReadError> {
        let rows = self.chains(id).await?;
        Ok(rows.into_iter().map(|row| (row.writer, row.seal)).collect())
    }

    /// Calls for every event with its number, in order of the record's time, then of the writer,
    /// then of the number.
    ///
    /// # Errors
    /// It is not here, or cannot be read.
    pub async fn each_entry(
        &self,
        id: &RecordId,
        mut call: impl FnMut(u64, &Entry),
    ) -> Result<(), ReadError> {
        self.each_owned(id, self.chains(id).await?, |seq, entry| call(seq, &entry)).await
    }

    /// The events of these chains, each as far as it had come when it was looked up.
    async fn each_owned(
        &self,
        id: &RecordId,
        chains: Vec<ChainRow>,
        mut call: impl FnMut(u64, Entry),
    ) -> Result<(), ReadError> {
        let mut sources: Vec<Source> = chains.into_iter().map(Source::of).collect();
        if sources.is_empty() {
            return Err(no_record(id));
        }
        loop {
            for source in &mut sources {
                self.refill(id, source).await?;
            }
            // While no source runs out, the next one is known without asking again.
            while let Some(at) = earliest(&sources) {
                if let Some((seq, entry)) = sources[at].page.pop_front() {
                    call(seq, entry);
                }
                if sources[at].page.is_empty() {
                    break;
                }
            }
            if sources.iter().all(|source| source.page.is_empty() && source.ended) {
                return Ok(());
            }
        }
    }

    #[built_here]
    async fn refill(&self, id: &RecordId, source: &mut Source) -> Result<(), ReadError> {
        if source.ended || !source.page.is_empty() {
            return Ok(());
        }
        let rows: Vec<(i64, Vec<u8>)> = reading!(&self.db, pool => sqlx::query_as(
            "SELECT seq, bytes FROM event WHERE chain = $1 AND seq > $2 AND seq <= $3 \
             ORDER BY seq LIMIT $4",
        )
        .bind(source.chain)
        .bind(source.after)
        .bind(source.end)
        .bind(PAGE)
        .fetch_all(pool)
        .await?);
        source.ended = rows.len() < usize::try_from(PAGE).unwrap_or(usize::MAX);
        for (seq, bytes) in rows {
            source.after = seq;
            let entry = read(&bytes, id, &source.writer, seq.cast_unsigned())?;
            source.page.push_back((seq.cast_unsigned(), entry));
        }
        Ok(())
    }

    #[built_here]
    async fn chains(&self, id: &RecordId) -> Result<Vec<ChainRow>, ReadError> {
        reading!(&self.db, pool => chains(&mut *pool.acquire().await?, id).await)
    }

    /// Records in one line each, the newest first.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn list(&self, filter: &Filter) -> Result<Vec<Summary>, ReadError> {
        const ALL: &str = lines!("WHERE closed = 0 OR $1 = 0");
        // A text of its own, so that the engine goes by the apparatus and not through all.
        const OF_ONE: &str = lines!("WHERE asset = $2 AND (closed = 0 OR $1 = 0)");
        let open = i64::from(filter.open);
        let rows: Vec<Line> = reading!(&self.db, pool => match filter.asset.as_deref() {
            None => sqlx::query_as(ALL).bind(open).fetch_all(pool).await?,
            Some(asset) => sqlx::query_as(OF_ONE).bind(open).bind(asset).fetch_all(pool).await?,
        });
        Ok(rows.into_iter().map(Summary::of).collect())
    }

    /// Records that stand so, the newest first; see the column of that name.
    pub(crate) async fn standing_so(&self, stands: i64) -> Result<Vec<Summary>, ReadError> {
        let rows: Vec<Line> = reading!(&self.db, pool => {
            sqlx::query_as(lines!("WHERE stands = $1")).bind(stands).fetch_all(pool).await?
        });
        Ok(rows.into_iter().map(Summary::of).collect())
    }

    /// Records in which a test goes on, the newest first: neither closed nor written down
    /// elsewhere.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn open_records(&self) -> Result<Vec<Summary>, ReadError> {
        self.standing_so(0).await
    }

    /// The record whose name is this, or alone begins or ends so.
    ///
    /// # Errors
    /// None or several are.
    #[built_here]
    pub async fn resolve(&self, asked: &str) -> Result<RecordId, ReadError> {
        let asked = asked.trim().to_lowercase();
        // A whole name is looked up; a part of one has every name gone through.
        if is_name(&asked) {
            let known: Option<(String,)> = reading!(&self.db, pool => {
                sqlx::query_as("SELECT id FROM record WHERE id = $1")
                    .bind(&asked)
                    .fetch_optional(pool)
                    .await?
            });
            return match known {
                Some((id,)) => Ok(RecordId::of(id)),
                None => Err(ReadError::NoRecord { record: asked }),
            };
        }
        let rows: Vec<(String,)> = reading!(&self.db, pool => sqlx::query_as(
            "SELECT id FROM record WHERE substr(id, 1, CAST($2 AS INTEGER)) = $1 \
             OR substr(id, 37 - CAST($2 AS INTEGER), CAST($2 AS INTEGER)) = $1 \
             ORDER BY id LIMIT $3",
        )
        .bind(&asked)
        .bind(i32::try_from(asked.len()).unwrap_or(i32::MAX))
        .bind(NAMED)
        .fetch_all(pool)
        .await?);
        match &rows[..] {
            _ if asked.is_empty() || asked.len() > 36 => Err(ReadError::NoRecord { record: asked }),
            [] => Err(ReadError::NoRecord { record: asked }),
            [(id,)] => Ok(RecordId::of(id.clone())),
            several => {
                let records = several.iter().map(|(id,)| id.clone()).collect();
                Err(ReadError::Several { asked, records })
            }
        }
    }
}

/// The chains of a record, that of who began it first.
pub(crate) async fn chains(wire: &mut dyn Wire, id: &RecordId) -> Result<Vec<ChainRow>, ReadError> {
    let rows: Vec<(i64, String, i64, Vec<u8>)> = on!(wire, line => sqlx::query_as(
        "SELECT chain.id, chain.writer, chain.seq, chain.seal FROM chain \
         JOIN record ON record.id = chain.record WHERE chain.record = $1 \
         ORDER BY CASE WHEN chain.writer = record.writer THEN 0 ELSE 1 END, chain.writer",
    )
    .bind(id.as_str())
    .fetch_all(line)
    .await?);
    Ok(rows.into_iter().map(ChainRow::of).collect())
}

/// One chain of a record.
pub(crate) struct ChainRow {
    pub(crate) chain: i64,
    pub(crate) writer: String,
    pub(crate) seal: Seal,
}

impl ChainRow {
    pub(crate) fn of((chain, writer, seq, seal): (i64, String, i64, Vec<u8>)) -> Self {
        Self { chain, writer, seal: Seal::of(seq.cast_unsigned(), &hash(seal)) }
    }
}

/// One writer's events as they are read, a page at a time.
struct Source {
    chain: i64,
    writer: String,
    after: i64,
    end: i64,
    page: VecDeque<(u64, Entry)>,
    ended: bool,
}

impl Source {
    fn of(row: ChainRow) -> Self {
        let ChainRow { chain, writer, seal } = row;
        let end = seal.seq.cast_signed();
        Self { chain, writer, after: 0, end, page: VecDeque::new(), ended: false }
    }
}

/// Which source has the next event; none while one of them still has to be asked.
fn earliest(sources: &[Source]) -> Option<usize> {
    if sources.iter().any(|source| source.page.is_empty() && !source.ended) {
        return None;
    }
    let time = |source: &Source| {
        let (_, entry) = source.page.front()?;
        Some(entry.at.map_or(Time::ZERO, |at| at.since_begun).seconds())
    };
    let with_time = sources.iter().enumerate().filter_map(|(at, one)| Some((at, time(one)?)));
    with_time
        .min_by(|(at, one), (beside, other)| {
            one.total_cmp(other).then_with(|| sources[*at].writer.cmp(&sources[*beside].writer))
        })
        .map(|(at, _)| at)
}

impl Summary {
    pub(crate) fn of(line: Line) -> Self {
        let (id, asset, kind, begun, last, closed, events, readings) = line;
        Self {
            id: RecordId::of(id),
            asset,
            kind: kind_of(&kind),
            begun: moment(begun),
            last: moment(last),
            closed: closed > 0,
            events: events.cast_unsigned(),
            readings: readings.cast_unsigned(),
        }
    }
}

/// A kind that nobody knows is shown as what proves least.
pub(crate) fn kind_of(key: &str) -> Kind {
    let kinds = [Kind::Test, Kind::Practice, Kind::Simulated, Kind::Transcribed];
    kinds.into_iter().find(|one| kind_key(*one) == key).unwrap_or(Kind::Practice)
}

pub(crate) fn no_record(id: &RecordId) -> ReadError {
    ReadError::NoRecord { record: id.to_string() }
}

/// The form's name alone, to tell a later form from a damaged one.
#[derive(serde::Deserialize)]
struct Form {
    format: String,
}

pub(crate) fn read_head(bytes: &[u8], id: &RecordId, writer: &str) -> Result<Head, ReadError> {
    let form: Form = read(bytes, id, writer, 0)?;
    if !is_known_format(&form.format) {
        return Err(ReadError::Edition { found: form.format });
    }
    read(bytes, id, writer, 0)
}

pub(crate) fn read<T: DeserializeOwned>(
    bytes: &[u8],
    id: &RecordId,
    writer: &str,
    seq: u64,
) -> Result<T, ReadError> {
    serde_json::from_slice(bytes).map_err(|error| ReadError::Unreadable {
        record: id.to_string(),
        writer: writer.to_owned(),
        seq,
        said: error.to_string(),
    })
}
