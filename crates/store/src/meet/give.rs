//! What the other store lacks, a bounded batch at a time.

use super::form::{
    Batch, ChainPart, ChainWant, FORM, Part, RecordPart, RecordWant, SheetPart, Want,
};
use async_recursion::async_recursion as built_here;

use crate::append::hash;
use crate::chain::{hex, unhex};
use crate::db::reading;
use crate::export::{ExportedEvent, ExportedFindings, ExportedSignature};
use crate::findings;
use crate::id::RecordId;
use crate::open::{Store, moment};
use crate::signatures;
use crate::things::ThingKind;
use crate::trouble::ReadError;

/// Events read at once.
const PAGE: i64 = 64;

/// What an event takes up beside its bytes.
const BESIDE: usize = 160;

/// A batch while it is filled.
struct Room {
    most: usize,
    taken: usize,
}

impl Room {
    fn take(&mut self, bytes: usize) {
        // A text in JSON is about a quarter longer than it is.
        self.taken += bytes + bytes / 4 + BESIDE;
    }

    const fn is_full(&self) -> bool {
        self.taken >= self.most
    }
}

impl Store {
    /// As much of what is wanted as goes into about so many bytes, one event at least; and what
    /// is left. What is not here is left out.
    ///
    /// # Errors
    /// The database failed, or something in it cannot be read.
    #[built_here]
    pub async fn give(&self, wants: &[Want], most: usize) -> Result<(Batch, Vec<Want>), ReadError> {
        let mut room = Room { most, taken: 0 };
        let (mut parts, mut rest) = (Vec::new(), Vec::new());
        for (at, want) in wants.iter().enumerate() {
            if room.is_full() {
                rest.extend_from_slice(&wants[at..]);
                break;
            }
            match want {
                Want::Record(want) => {
                    let (part, left) = self.give_record(want, &mut room).await?;
                    parts.extend(part.map(Part::Record));
                    rest.extend(left.map(Want::Record));
                }
                Want::Thing(id) => parts.extend(self.give_thing(id, &mut room).await?),
                Want::Calibration(id) => parts.extend(self.give_calibration(id, &mut room).await?),
                Want::Job(digest) => parts.extend(self.give_job(digest, &mut room).await?),
            }
        }
        let batch = Batch { form: FORM.to_owned(), from: self.writer().to_owned(), parts };
        Ok((batch, rest))
    }

    async fn give_record(
        &self,
        want: &RecordWant,
        room: &mut Room,
    ) -> Result<(Option<RecordPart>, Option<RecordWant>), ReadError> {
        let begun_by: Option<(String,)> = reading!(&self.db, pool => {
            sqlx::query_as("SELECT writer FROM record WHERE id = $1")
                .bind(want.record.as_str())
                .fetch_optional(pool)
                .await?
        });
        let Some((begun_by,)) = begun_by else { return Ok((None, None)) };
        let mut part = RecordPart {
            record: want.record.clone(),
            begun_by,
            chains: Vec::new(),
            findings: Vec::new(),
            signatures: Vec::new(),
            sheets: Vec::new(),
        };
        for (at, chain) in want.chains.iter().enumerate() {
            let given = self.give_chain(&want.record, chain, room).await?;
            let last = given.events.last().map(|last| last.seq);
            if !given.events.is_empty() {
                part.chains.push(given);
            }
            let goes_on = last.is_some_and(|last| last < chain.to);
            if goes_on || room.is_full() {
                let mut chains = want.chains[at + 1..].to_vec();
                if goes_on {
                    chains.insert(0, ChainWant { after: last, ..chain.clone() });
                }
                // What was made of it goes when all of it is there.
                let left = RecordWant { chains, ..want.clone() };
                return Ok((Some(part), Some(left)));
            }
        }
        self.give_findings(want, &mut part, room).await?;
        self.give_signatures(want, &mut part, room).await?;
        self.give_sheets(want, &mut part, room).await?;
        Ok((Some(part), None))
    }

    async fn give_chain(
        &self,
        record: &RecordId,
        want: &ChainWant,
        room: &mut Room,
    ) -> Result<ChainPart, ReadError> {
        let mut part = ChainPart {
            writer: want.writer.clone(),
            after: want.after,
            before: self.seal_of(record, &want.writer, want.after).await?,
            events: Vec::new(),
        };
        let mut after = want.after.map_or(-1, u64::cast_signed);
        while !room.is_full() {
            let rows: Vec<(i64, Vec<u8>, Vec<u8>)> = reading!(&self.db, pool => sqlx::query_as(
                "SELECT event.seq, event.bytes, event.seal FROM event \
                 JOIN chain ON chain.id = event.chain \
                 WHERE chain.record = $1 AND chain.writer = $2 \
                 AND event.seq > $3 AND event.seq <= $4 ORDER BY event.seq LIMIT $5",
            )
            .bind(record.as_str())
            .bind(&want.writer)
            .bind(after)
            .bind(want.to.cast_signed())
            .bind(PAGE)
            .fetch_all(pool)
            .await?);
            if rows.is_empty() {
                break;
            }
            for (seq, bytes, seal) in rows {
                if room.is_full() {
                    break;
                }
                after = seq;
                room.take(bytes.len());
                let seq = seq.cast_unsigned();
                let bytes = String::from_utf8(bytes).map_err(|error| ReadError::Unreadable {
                    record: record.to_string(),
                    writer: want.writer.clone(),
                    seq,
                    said: error.to_string(),
                })?;
                part.events.push(ExportedEvent { seq, code: hex(&hash(seal)), bytes });
            }
        }
        Ok(part)
    }

    /// The seal of an event. What a second writer's chain follows is the beginning.
    async fn seal_of(
        &self,
        record: &RecordId,
        writer: &str,
        seq: Option<u64>,
    ) -> Result<Option<String>, ReadError> {
        let Some(seq) = seq else { return Ok(None) };
        let row: Option<(Vec<u8>,)> = reading!(&self.db, pool => sqlx::query_as(
            "SELECT event.seal FROM event JOIN chain ON chain.id = event.chain \
             JOIN record ON record.id = chain.record \
             WHERE chain.record = $1 AND event.seq = $3 AND chain.writer = \
             CASE WHEN event.seq = 0 THEN record.writer ELSE $2 END",
        )
        .bind(record.as_str())
        .bind(writer)
        .bind(seq.cast_signed())
        .fetch_optional(pool)
        .await?);
        Ok(row.map(|(seal,)| hex(&hash(seal))))
    }

    async fn give_findings(
        &self,
        want: &RecordWant,
        part: &mut RecordPart,
        room: &mut Room,
    ) -> Result<(), ReadError> {
        if want.findings.is_empty() {
            return Ok(());
        }
        type Columns = (String, i64, String, String, String, Vec<u8>, Vec<u8>);
        let rows: Vec<Columns> = reading!(&self.db, pool => sqlx::query_as(
            "SELECT id, judged_us, method, verdict, code, bytes, seal FROM findings \
             WHERE record = $1 ORDER BY judged_us, id",
        )
        .bind(want.record.as_str())
        .fetch_all(pool)
        .await?);
        for (id, judged_us, method, verdict, code, bytes, seal) in rows {
            if want.findings.contains(&id) {
                room.take(bytes.len());
                let row = findings::Row { id, judged_us, method, verdict, code, bytes, seal };
                part.findings.push(ExportedFindings::of(row, &want.record)?);
            }
        }
        Ok(())
    }

    async fn give_signatures(
        &self,
        want: &RecordWant,
        part: &mut RecordPart,
        room: &mut Room,
    ) -> Result<(), ReadError> {
        if want.signatures.is_empty() {
            return Ok(());
        }
        type Columns =
            (String, i64, String, String, Option<String>, String, Option<String>, Vec<u8>);
        let rows: Vec<Columns> = reading!(&self.db, pool => sqlx::query_as(
            "SELECT id, signed_us, name, role, remark, code, findings, seal FROM signature \
             WHERE record = $1 ORDER BY signed_us, id",
        )
        .bind(want.record.as_str())
        .fetch_all(pool)
        .await?);
        for (id, signed_us, name, role, remark, code, findings, seal) in rows {
            if want.signatures.contains(&id) {
                room.take(BESIDE);
                let row =
                    signatures::Row { id, signed_us, name, role, remark, code, findings, seal };
                part.signatures.push(ExportedSignature::of(row));
            }
        }
        Ok(())
    }

    async fn give_sheets(
        &self,
        want: &RecordWant,
        part: &mut RecordPart,
        room: &mut Room,
    ) -> Result<(), ReadError> {
        if want.sheets.is_empty() {
            return Ok(());
        }
        let rows: Vec<(String, i64, i64, String, String)> = reading!(&self.db, pool => {
            sqlx::query_as(
                "SELECT id, begun_us, kept_us, asset, given FROM sheet WHERE record = $1 \
                 ORDER BY id",
            )
            .bind(want.record.as_str())
            .fetch_all(pool)
            .await?
        });
        for (id, begun, kept, asset, given) in rows {
            if want.sheets.contains(&id) {
                room.take(given.len());
                let (begun, kept) = (moment(begun), moment(kept));
                part.sheets.push(SheetPart { id, begun, kept, asset, given });
            }
        }
        Ok(())
    }

    async fn give_thing(&self, id: &str, room: &mut Room) -> Result<Option<Part>, ReadError> {
        let row: Option<(String, String, i64, String)> = reading!(&self.db, pool => {
            sqlx::query_as("SELECT kind, name, kept_us, bytes FROM thing WHERE id = $1")
                .bind(id)
                .fetch_optional(pool)
                .await?
        });
        let Some((kind, name, kept, bytes)) = row else { return Ok(None) };
        let Some(kind) = ThingKind::of(&kind) else { return Ok(None) };
        room.take(bytes.len());
        Ok(Some(Part::Thing { id: id.to_owned(), kind, name, kept: moment(kept), bytes }))
    }

    async fn give_calibration(&self, id: &str, room: &mut Room) -> Result<Option<Part>, ReadError> {
        type Columns =
            (String, String, String, Option<String>, Option<String>, Option<String>, i64);
        let row: Option<Columns> = reading!(&self.db, pool => sqlx::query_as(
            "SELECT kind, name, day, due, certificate, note, kept_us FROM calibration \
             WHERE id = $1",
        )
        .bind(id)
        .fetch_optional(pool)
        .await?);
        let Some((kind, name, day, due, certificate, note, kept)) = row else { return Ok(None) };
        let (Some(kind), Ok(day)) = (ThingKind::of(&kind), day.parse()) else { return Ok(None) };
        room.take(BESIDE);
        let (id, kept) = (id.to_owned(), moment(kept));
        let due = due.and_then(|due| due.parse().ok());
        Ok(Some(Part::Calibration { id, kind, name, day, due, certificate, note, kept }))
    }

    async fn give_job(&self, digest: &str, room: &mut Room) -> Result<Option<Part>, ReadError> {
        let Some(digest) = unhex(digest) else { return Ok(None) };
        let row: Option<(String, i64, String, String, String)> = reading!(&self.db, pool => {
            sqlx::query_as("SELECT id, kept_us, asset, day, given FROM job WHERE digest = $1")
                .bind(&digest[..])
                .fetch_optional(pool)
                .await?
        });
        let Some((id, kept, asset, day, given)) = row else { return Ok(None) };
        room.take(given.len());
        Ok(Some(Part::Job { id, kept: moment(kept), asset, day, given }))
    }
}
