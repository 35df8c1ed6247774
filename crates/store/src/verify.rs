//! Whether what is kept is what was sealed.
//!
//! A chain that is still open shows that its events are in order and none among them was changed
//! or taken out; that nobody began the chain anew is shown only by a code that was printed.

use async_recursion::async_recursion as built_here;
use serde::Serialize;
use session::record::{Head, Kind, is_known_format};

use crate::append::{hash, kind_key};
use crate::chain::{Chain, Hash, NOTHING_BEFORE, hex, unhex};
use crate::check::{Broken, Check, How, Link};
use crate::db::{Wire, on, reading, viewing};
use crate::findings::{self, KeptFindings};
use crate::id::RecordId;
use crate::open::{Store, micros, moment};
use crate::overview::follow::Begun;
use crate::read::{ChainRow, chains, no_record};
use crate::signatures;
use crate::trouble::ReadError;

/// Events fetched at once.
const PAGE: i64 = 256;

/// Letters of a code that are enough to compare.
const LEAST_LETTERS: usize = 16;

/// What a printed code stands for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Coded {
    /// Whose chain has it and at which event; `None` where no event of the record has it.
    pub found: Option<(String, u64)>,
    /// Whether the record went on after it.
    pub went_on: bool,
    /// What does not hold all the same.
    pub broken: Vec<Broken>,
}

impl Store {
    /// What does not hold of this record; nothing where all does.
    ///
    /// # Errors
    /// It is not here, or the database failed.
    #[built_here]
    pub async fn verify(&self, id: &RecordId) -> Result<Vec<Broken>, ReadError> {
        self.go_through(id, |_, _, _| ()).await
    }

    /// What does not hold of any record, and what belongs to none.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn verify_all(&self) -> Result<Vec<Broken>, ReadError> {
        let ids: Vec<(String,)> = reading!(&self.db, pool => sqlx::query_as(
            "SELECT id FROM record UNION SELECT record FROM chain ORDER BY 1",
        )
        .fetch_all(pool)
        .await?);
        let mut broken = Vec::new();
        for (id,) in ids {
            broken.extend(self.verify(&RecordId::of(id)).await?);
        }
        let stray: Vec<(i64,)> = reading!(&self.db, pool => sqlx::query_as(
            "SELECT seq FROM event WHERE chain NOT IN (SELECT id FROM chain) ORDER BY seq LIMIT 32",
        )
        .fetch_all(pool)
        .await?);
        let nobody = Chain { record: "", writer: "" };
        broken.extend(
            stray
                .iter()
                .map(|(seq,)| nobody.broken(Some(seq.cast_unsigned()), How::NoBeginning, None)),
        );
        Ok(broken)
    }

    /// Where a printed code, whole or its first letters, stands in this record.
    ///
    /// # Errors
    /// The code is too short or no code, the record is not here, or the database failed.
    #[built_here]
    pub async fn verify_code(&self, id: &RecordId, code: &str) -> Result<Coded, ReadError> {
        let plain: String = code.chars().filter(|letter| !letter.is_whitespace()).collect();
        let plain = plain.to_lowercase();
        let is_code = plain.chars().all(|letter| letter.is_ascii_hexdigit());
        if !is_code || !(LEAST_LETTERS..=64).contains(&plain.len()) {
            return Err(ReadError::Code { given: code.to_owned() });
        }
        let (mut found, mut went_on) = (None, false);
        let broken = self
            .go_through(id, |writer, seq, seal| {
                went_on |= found.as_ref().is_some_and(|(whose, _)| whose == writer);
                if found.is_none() && hex(seal).starts_with(&plain) {
                    found = Some((writer.to_owned(), seq));
                }
            })
            .await?;
        Ok(Coded { found, went_on, broken })
    }

    /// What a record begins with and its newest findings, where all of it holds; `None` where it
    /// does not. It is read once for all of these, which counts where there are many.
    ///
    /// # Errors
    /// It is not here, or the database failed.
    #[built_here]
    pub async fn held(&self, id: &RecordId) -> Result<Option<Held>, ReadError> {
        let gone = viewing!(&self.db, view => gone_through(&mut view, id, |_, _, _| ()).await)?;
        let Gone { broken, head, findings } = gone;
        if !broken.is_empty() {
            return Ok(None);
        }
        let head = match head.filter(|head| is_known_format(&head.format)) {
            Some(head) => head,
            // Says why it cannot be read.
            None => self.head(id).await?,
        };
        Ok(Some(Held { head, findings: findings.map(KeptFindings::of) }))
    }

    async fn go_through(
        &self,
        id: &RecordId,
        each: impl FnMut(&str, u64, &Hash),
    ) -> Result<Vec<Broken>, ReadError> {
        viewing!(&self.db, view => Ok(gone_through(&mut view, id, each).await?.broken))
    }
}

/// A record of which all holds.
#[derive(Clone, Debug)]
pub struct Held {
    /// What it begins with.
    pub head: Head,
    /// Its newest findings.
    pub findings: Option<KeptFindings>,
}

/// What going through a record brought.
struct Gone {
    broken: Vec<Broken>,
    head: Option<Head>,
    findings: Option<findings::Row>,
}

/// Goes through every chain of a record. All of it in one view: what another program adds
/// meanwhile must not look like something that was put in.
async fn gone_through(
    view: &mut dyn Wire,
    id: &RecordId,
    mut each: impl FnMut(&str, u64, &Hash),
) -> Result<Gone, ReadError> {
    let chains = chains_alone(view, id).await?;
    let line = line(view, id).await?;
    if chains.is_empty() && line.is_none() {
        return Err(no_record(id));
    }
    let begun_by = line.as_ref().map_or("", |line| line.writer.as_str());
    let whole = Chain { record: id.as_str(), writer: begun_by };
    let mut broken = Vec::new();
    let mut tally = Tally::default();
    let mut beginning = None;
    for row in &chains {
        let chain = Chain { record: id.as_str(), writer: &row.writer };
        let own = row.writer == begun_by;
        let before = if own { Some(NOTHING_BEFORE) } else { beginning };
        let Some(before) = before else {
            broken.push(chain.broken(None, How::NoBeginning, None));
            continue;
        };
        let mut check = Check::new(chain, u64::from(!own), before, row.seal.seq);
        let mut after = if own { -1 } else { 0 };
        loop {
            let page = page(view, row.chain, after).await?;
            let Some(last) = page.last() else { break };
            after = last.seq.cast_signed();
            for link in page {
                each(&row.writer, link.seq, &link.seal);
                tally.take(&link);
                if own && link.seq == 0 {
                    beginning = Some(link.seal);
                }
                check.link(link);
            }
        }
        broken.extend(check.end(&unhex(&row.seal.code).unwrap_or(NOTHING_BEFORE)));
    }
    if beginning.is_none() && chains.iter().all(|row| row.writer != begun_by) {
        broken.push(whole.broken(Some(0), How::NoBeginning, None));
    }
    name_foreign(view, &mut broken, &chains).await?;
    if let Some(line) = line.as_ref().filter(|_| broken.is_empty()) {
        let wrong = tally.differs(line, id);
        broken.extend(
            wrong.into_iter().map(|column| whole.broken(None, How::Listed { column }, None)),
        );
    }
    let mut kept = findings::rows(view, id).await?;
    let wrong = kept.iter().filter(|one| !one.holds(id));
    broken.extend(wrong.map(|one| whole.broken(None, How::Findings { id: one.id.clone() }, None)));
    let signatures = signatures::rows(view, id).await?;
    let wrong = signatures.iter().filter(|one| !one.holds(id));
    broken.extend(wrong.map(|one| whole.broken(None, How::Signature { id: one.id.clone() }, None)));
    if let Some(line) = line.as_ref().filter(|_| broken.is_empty()) {
        let wrong = tally.stands_otherwise(line, id, &kept, !signatures.is_empty());
        broken.extend(
            wrong.into_iter().map(|column| whole.broken(None, How::Listed { column }, None)),
        );
    }
    Ok(Gone { broken, head: tally.head, findings: kept.pop() })
}

/// Chains of a record whose line in the list may be gone.
async fn chains_alone(view: &mut dyn Wire, id: &RecordId) -> Result<Vec<ChainRow>, ReadError> {
    let chains = chains(view, id).await?;
    if !chains.is_empty() {
        return Ok(chains);
    }
    let rows: Vec<(i64, String, i64, Vec<u8>)> = on!(view, line => sqlx::query_as(
        "SELECT id, writer, seq, seal FROM chain WHERE record = $1 ORDER BY writer",
    )
    .bind(id.as_str())
    .fetch_all(line)
    .await?);
    Ok(rows.into_iter().map(ChainRow::of).collect())
}

/// The next events of a chain.
pub(crate) async fn page(
    view: &mut dyn Wire,
    chain: i64,
    after: i64,
) -> Result<Vec<Link>, ReadError> {
    let rows: Vec<(i64, Vec<u8>, Vec<u8>)> = on!(view, line => sqlx::query_as(
        "SELECT seq, bytes, seal FROM event WHERE chain = $1 AND seq > $2 ORDER BY seq LIMIT $3",
    )
    .bind(chain)
    .bind(after)
    .bind(PAGE)
    .fetch_all(line)
    .await?);
    let link = |(seq, bytes, seal): (i64, Vec<u8>, Vec<u8>)| Link {
        seq: seq.cast_unsigned(),
        bytes,
        seal: hash(seal),
    };
    Ok(rows.into_iter().map(link).collect())
}

async fn line(view: &mut dyn Wire, id: &RecordId) -> Result<Option<Line>, ReadError> {
    let row: Option<LineRow> = on!(view, line => sqlx::query_as(
        "SELECT writer, kind, asset, begun_us, last_us, closed, events, readings, day, made_with, \
         verdict, stands FROM record WHERE id = $1",
    )
    .bind(id.as_str())
    .fetch_optional(line)
    .await?);
    let of = |(
        writer,
        kind,
        asset,
        begun_us,
        last_us,
        closed,
        events,
        readings,
        day,
        with,
        verdict,
        stands,
    ): LineRow| Line {
        writer,
        kind,
        asset,
        begun_us,
        last_us,
        closed,
        events,
        readings,
        begun: Begun { day, made_with: with },
        verdict,
        stands,
    };
    Ok(row.map(of))
}

/// A changed event whose seal stands elsewhere too was taken from there.
async fn name_foreign(
    view: &mut dyn Wire,
    broken: &mut [Broken],
    chains: &[ChainRow],
) -> Result<(), ReadError> {
    for one in broken.iter_mut().filter(|one| one.how == How::Changed) {
        let Some(row) = chains.iter().find(|row| row.writer == one.writer) else { continue };
        let elsewhere: Option<(String, i64)> = on!(view, line => sqlx::query_as(
            "SELECT chain.record, event.seq FROM event JOIN chain ON chain.id = event.chain \
             WHERE event.seal = (SELECT seal FROM event WHERE chain = $1 AND seq = $2) \
             AND NOT (event.chain = $1 AND event.seq = $2) ORDER BY event.seq LIMIT 1",
        )
        .bind(row.chain)
        .bind(one.seq.unwrap_or(0).cast_signed())
        .fetch_optional(line)
        .await?);
        if let Some((record, seq)) = elsewhere {
            one.how = How::Foreign { record, seq: seq.cast_unsigned() };
        }
    }
    Ok(())
}

type LineRow = (String, String, String, i64, i64, i64, i64, i64, i64, String, String, i64);

/// What the list says of a record.
struct Line {
    writer: String,
    kind: String,
    asset: String,
    begun_us: i64,
    last_us: i64,
    closed: i64,
    events: i64,
    readings: i64,
    begun: Begun,
    verdict: String,
    stands: i64,
}

/// The same, made from the events.
#[derive(Default)]
pub(crate) struct Tally {
    head: Option<Head>,
    pub(crate) closed: i64,
    pub(crate) events: i64,
    pub(crate) readings: i64,
    pub(crate) last_us: Option<i64>,
}

impl Tally {
    pub(crate) fn take(&mut self, link: &Link) {
        if link.seq == 0 {
            self.head = serde_json::from_slice(&link.bytes).ok();
            return;
        }
        self.events += 1;
        let Ok(entry) = serde_json::from_slice::<session::Entry>(&link.bytes) else { return };
        self.readings += crate::append::count(crate::append::readings(&entry.what));
        self.closed += i64::from(matches!(entry.what, session::Event::Closed));
        if let Some(at) = entry.at {
            self.last_us = Some(self.last_us.unwrap_or(i64::MIN).max(micros(at.wall)));
        }
    }

    fn differs(&self, line: &Line, id: &RecordId) -> Vec<&'static str> {
        let begun_us = id.given().map_or(line.begun_us, micros);
        let last_us = self.last_us.unwrap_or(begun_us).max(begun_us);
        let head = self.head.as_ref();
        let columns = [
            ("kind", head.is_none_or(|head| kind_key(head.kind) == line.kind)),
            ("asset", head.is_none_or(|head| head.job.asset.id == line.asset)),
            ("begun", begun_us == line.begun_us),
            ("last", last_us == line.last_us),
            ("closed", self.closed == line.closed),
            ("events", self.events == line.events),
            ("readings", self.readings == line.readings),
        ];
        columns.into_iter().filter(|(_, agrees)| !agrees).map(|(column, _)| column).collect()
    }

    /// What the list says for overviews, where all that it follows from holds.
    fn stands_otherwise(
        &self,
        line: &Line,
        id: &RecordId,
        kept: &[findings::Row],
        is_signed: bool,
    ) -> Vec<&'static str> {
        let Some(head) = &self.head else { return Vec::new() };
        let begun = Begun::of(head, id.given().unwrap_or_else(|| moment(line.begun_us)));
        let newest = kept.last().map_or("", |one| one.verdict.as_str());
        let stands = match (self.closed > 0 || head.kind == Kind::Transcribed, kept.is_empty()) {
            (false, _) => 0,
            (true, true) => 1,
            (true, false) => 2 + i64::from(is_signed),
        };
        let columns = [
            ("day", begun.day == line.begun.day),
            ("made_with", begun.made_with == line.begun.made_with),
            ("verdict", newest == line.verdict),
            ("stands", stands == line.stands),
        ];
        columns.into_iter().filter(|(_, agrees)| !agrees).map(|(column, _)| column).collect()
    }
}
