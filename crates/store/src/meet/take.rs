//! A batch in: looked at against what is here, then taken in whole.
//!
//! What is here is looked up first and written after, so that the transaction is short; each
//! chain is then moved on only from where it was seen to stand. Where another batch came between,
//! it is looked at again.

use async_recursion::async_recursion as built_here;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::form::{Batch, ChainPart, FORM, Part, RecordPart};
use super::part::{Checked, Here, check};
use super::refused::{Refused, Why};
use crate::append::{count, hash, kind_key};
use crate::db::{reading, writing};
use crate::id::{is_name, number};
use crate::open::{Store, micros};
use crate::overview::follow::{Begun, Touched};
use crate::trouble::{ReadError, Trouble};
use crate::verify::Tally;

/// How often a batch is looked at again.
const TRIES: usize = 8;

/// How much was taken in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Moved {
    /// Records that were not here.
    pub records: u64,
    /// Events, what a record begins with among them.
    pub events: u64,
    /// Events that were here already, the same.
    pub known: u64,
    /// Findings.
    pub findings: u64,
    /// Signatures.
    pub signatures: u64,
    /// Sheets.
    pub sheets: u64,
    /// Apparatus, sets and meters, as they stand since a moment.
    pub things: u64,
    /// Calibrations.
    pub calibrations: u64,
    /// Jobs.
    pub jobs: u64,
}

impl Moved {
    /// Together with more.
    #[must_use]
    pub const fn and(self, more: Self) -> Self {
        Self {
            records: self.records + more.records,
            events: self.events + more.events,
            known: self.known + more.known,
            findings: self.findings + more.findings,
            signatures: self.signatures + more.signatures,
            sheets: self.sheets + more.sheets,
            things: self.things + more.things,
            calibrations: self.calibrations + more.calibrations,
            jobs: self.jobs + more.jobs,
        }
    }
}

/// What became of a batch.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Taken {
    /// What was taken in.
    pub moved: Moved,
    /// What was not, by name.
    pub refused: Vec<Refused>,
}

/// Nothing of a batch was taken in.
#[derive(Debug, thiserror::Error)]
pub enum TakeError {
    /// A later version of this program has made it.
    #[error(
        "bring the same version of this program to both sides — what came is of the form \
         \"{found}\", which is not known here"
    )]
    Form {
        /// Its form.
        found: String,
    },
    /// Others wrote to the same records all the while.
    #[error("meet again in a moment — others write to the same records just now")]
    Busy,
    /// What is here could not be looked up.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// The database failed.
    #[error(transparent)]
    Database(#[from] Trouble),
}

impl From<sqlx::Error> for TakeError {
    fn from(error: sqlx::Error) -> Self {
        Self::Database(error.into())
    }
}

/// One statement with what goes into it.
pub(super) struct Deed {
    asked: &'static str,
    with: Vec<Value>,
    /// It changes a row, or another program came between.
    must: bool,
}

pub(super) enum Value {
    Text(String),
    Maybe(Option<String>),
    Number(i64),
    Bytes(Vec<u8>),
}

/// A batch as it was looked at.
#[derive(Default)]
pub(super) struct Prepared {
    deeds: Vec<Deed>,
    /// What overviews ask is made anew of these.
    pub(super) touched: Touched,
    pub(super) taken: Taken,
    /// Records in which the chain of this very store was moved on.
    own: Vec<crate::id::RecordId>,
}

impl Prepared {
    pub(super) fn deed(&mut self, must: bool, asked: &'static str, with: Vec<Value>) {
        self.deeds.push(Deed { asked, with, must });
    }

    pub(super) fn refuse(&mut self, record: &str, writer: &str, why: Why) {
        let (record, writer) = (record.to_owned(), writer.to_owned());
        self.taken.refused.push(Refused { record, writer, seq: 0, why });
    }
}

pub(super) fn text(text: &str) -> Value {
    Value::Text(text.to_owned())
}

impl Store {
    /// Takes in a batch, durable on return. What is here already and the same is left as it is;
    /// what cannot be is refused by name, and the rest is taken all the same.
    ///
    /// # Errors
    /// Nothing of it is taken in.
    #[built_here]
    pub async fn take(&self, batch: &Batch, wall: Timestamp) -> Result<Taken, TakeError> {
        if batch.form != FORM {
            return Err(TakeError::Form { found: batch.form.clone() });
        }
        self.in_place()?;
        for _ in 0..TRIES {
            let prepared = self.prepare(batch, wall).await?;
            if prepared.deeds.is_empty() || self.carry_out(&prepared).await? {
                prepared.own.iter().for_each(|record| self.let_go(record));
                return Ok(prepared.taken);
            }
        }
        Err(TakeError::Busy)
    }

    /// What the other side refused of ours is remembered here too, as it is seen from here.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn remember_refused(
        &self,
        by: &str,
        refused: &[Refused],
        wall: Timestamp,
    ) -> Result<(), TakeError> {
        let mut prepared = Prepared::default();
        prepared.taken.refused.extend(refused.iter().cloned().map(Refused::from_there));
        remember(&mut prepared, by, wall);
        self.carry_out(&prepared).await.map(|_| ())
    }

    /// All of it, or nothing where another program came between.
    async fn carry_out(&self, prepared: &Prepared) -> Result<bool, TakeError> {
        let done: Result<bool, sqlx::Error> = async {
            writing!(&self.db, tx => {
                for deed in &prepared.deeds {
                    let mut query = sqlx::query(deed.asked);
                    for value in &deed.with {
                        query = match value {
                            Value::Text(text) => query.bind(text),
                            Value::Maybe(text) => query.bind(text),
                            Value::Number(number) => query.bind(*number),
                            Value::Bytes(bytes) => query.bind(bytes),
                        };
                    }
                    let changed = query.execute(&mut *tx).await?.rows_affected();
                    if deed.must && changed == 0 {
                        return Ok(false);
                    }
                }
                prepared.touched.follow(&mut tx).await?;
                tx.commit().await?;
                Ok(true)
            })
        }
        .await;
        match done {
            // Two took the same place at the same moment.
            Err(sqlx::Error::Database(error)) if error.is_unique_violation() => Ok(false),
            Err(error) => match Trouble::from(error) {
                Trouble::Crossed => Ok(false),
                trouble => Err(trouble.into()),
            },
            Ok(done) => Ok(done),
        }
    }

    async fn prepare(&self, batch: &Batch, wall: Timestamp) -> Result<Prepared, TakeError> {
        let mut prepared = Prepared::default();
        for part in &batch.parts {
            match part {
                Part::Record(part) => self.prepare_record(part, &mut prepared).await?,
                Part::Thing { .. } | Part::Calibration { .. } | Part::Job { .. } => {
                    self.prepare_thing(part, &mut prepared).await?;
                }
            }
        }
        remember(&mut prepared, &batch.from, wall);
        Ok(prepared)
    }

    async fn prepare_record(
        &self,
        part: &RecordPart,
        prepared: &mut Prepared,
    ) -> Result<(), TakeError> {
        let here = self.here(part).await?;
        let Checked { begins, more, known, refused } = check(part, &here);
        prepared.taken.moved.known += known;
        prepared.taken.refused.extend(refused);
        let id = part.record.as_str();
        if here.begun_by.is_none() {
            let Some(head) = &begins else { return Ok(()) };
            let Some(begun) = part.record.given() else { return Ok(()) };
            let Begun { day, made_with } = Begun::of(head, begun);
            prepared.deed(
                true,
                "INSERT INTO record (id, writer, kind, asset, begun_us, last_us, closed, events, \
                 readings, day, made_with) \
                 VALUES ($1, $2, $3, $4, $5, $5, 0, 0, 0, $6, $7) ON CONFLICT (id) DO NOTHING",
                vec![
                    text(id),
                    text(&part.begun_by),
                    text(kind_key(head.kind)),
                    text(&head.job.asset.id),
                    Value::Number(micros(begun)),
                    Value::Number(day),
                    Value::Text(made_with),
                ],
            );
            prepared.taken.moved.records += 1;
        } else if part.begun_by != here.begun_by.as_deref().unwrap_or_default() {
            return Ok(());
        }
        prepared.touched.add_record(id);
        let mut tally = Tally::default();
        for chain in &more {
            prepared.taken.moved.events += count(chain.links.len()).cast_unsigned();
            if chain.writer == self.writer() {
                prepared.own.push(part.record.clone());
            }
            chain.links.iter().for_each(|link| tally.take(link));
            move_on(prepared, id, chain);
        }
        if tally.events > 0 {
            prepared.deed(
                true,
                "UPDATE record SET events = events + $2, readings = readings + $3, \
                 closed = closed + $4, \
                 last_us = CASE WHEN $5 > last_us THEN $5 ELSE last_us END WHERE id = $1",
                vec![
                    text(id),
                    Value::Number(tally.events),
                    Value::Number(tally.readings),
                    Value::Number(tally.closed),
                    Value::Number(tally.last_us.unwrap_or(i64::MIN)),
                ],
            );
        }
        self.prepare_beside(part, prepared).await
    }

    /// What is here of the record that a part is of, as far as the part touches it.
    async fn here(&self, part: &RecordPart) -> Result<Here, ReadError> {
        let rows: Vec<(String, String, i64, Vec<u8>)> = reading!(&self.db, pool => {
            sqlx::query_as(
                "SELECT record.writer, chain.writer, chain.seq, chain.seal FROM record \
                 JOIN chain ON chain.record = record.id WHERE record.id = $1",
            )
            .bind(part.record.as_str())
            .fetch_all(pool)
            .await?
        });
        let mut here = Here::default();
        for (begun_by, writer, seq, seal) in rows {
            here.begun_by = Some(begun_by);
            here.chains.insert(writer, (seq.cast_unsigned(), hash(seal)));
        }
        let Some(begun_by) = here.begun_by.clone() else { return Ok(here) };
        self.seals_between(part, &begun_by, 0, 0, &mut here).await?;
        for chain in &part.chains {
            let stands = here.chains.get(&chain.writer).map(|(seq, _)| *seq);
            let from = chain.after.unwrap_or(0);
            if let Some(stands) = stands.filter(|stands| from < *stands) {
                let to = last_of(chain).min(stands);
                self.seals_between(part, &chain.writer, from, to, &mut here).await?;
            }
        }
        Ok(here)
    }

    async fn seals_between(
        &self,
        part: &RecordPart,
        writer: &str,
        from: u64,
        to: u64,
        here: &mut Here,
    ) -> Result<(), ReadError> {
        let rows: Vec<(i64, Vec<u8>)> = reading!(&self.db, pool => sqlx::query_as(
            "SELECT event.seq, event.seal FROM event JOIN chain ON chain.id = event.chain \
             WHERE chain.record = $1 AND chain.writer = $2 AND event.seq >= $3 AND event.seq <= $4",
        )
        .bind(part.record.as_str())
        .bind(writer)
        .bind(from.cast_signed())
        .bind(to.cast_signed())
        .fetch_all(pool)
        .await?);
        for (seq, seal) in rows {
            here.seals.insert((writer.to_owned(), seq.cast_unsigned()), hash(seal));
        }
        Ok(())
    }

    /// Findings, signatures and sheets.
    async fn prepare_beside(
        &self,
        part: &RecordPart,
        prepared: &mut Prepared,
    ) -> Result<(), TakeError> {
        let id = part.record.as_str();
        let mut findings_here = Vec::new();
        for findings in &part.findings {
            let seal = findings.seal();
            let kept = self.kept_seal("SELECT seal FROM findings WHERE id = $1", &findings.id);
            match kept.await? {
                Some(kept) if kept == seal => {}
                Some(_) => prepared.refuse(id, &findings.id, Why::OtherOfName),
                None if !findings.holds(&part.record) || !is_name(&findings.id) => {
                    prepared.refuse(id, &findings.id, Why::Broken);
                }
                None => {
                    findings_here.push(&findings.id);
                    prepared.taken.moved.findings += 1;
                    prepared.deed(
                        false,
                        "INSERT INTO findings \
                         (id, record, judged_us, method, verdict, code, bytes, seal) \
                         VALUES ($1, $2, $3, $4, $5, $6, $7, $8) ON CONFLICT (id) DO NOTHING",
                        vec![
                            text(&findings.id),
                            text(id),
                            Value::Number(micros(findings.judged)),
                            text(&findings.method),
                            text(&findings.verdict),
                            text(&findings.of_code),
                            Value::Bytes(findings.bytes.as_bytes().to_vec()),
                            Value::Bytes(seal.to_vec()),
                        ],
                    );
                }
            }
        }
        self.prepare_signatures(part, &findings_here, prepared).await?;
        for sheet in &part.sheets {
            let asked = "SELECT id FROM sheet WHERE id = $1";
            if self.is_here(asked, &sheet.id).await? {
                continue;
            }
            if !is_name(&sheet.id) {
                prepared.refuse(id, &sheet.id, Why::Broken);
                continue;
            }
            prepared.taken.moved.sheets += 1;
            prepared.deed(
                false,
                "INSERT INTO sheet (id, begun_us, kept_us, asset, given, record) \
                 VALUES ($1, $2, $3, $4, $5, $6) ON CONFLICT (id) DO NOTHING",
                vec![
                    text(&sheet.id),
                    Value::Number(micros(sheet.begun)),
                    Value::Number(micros(sheet.kept)),
                    text(&sheet.asset),
                    text(&sheet.given),
                    text(id),
                ],
            );
        }
        Ok(())
    }

    async fn prepare_signatures(
        &self,
        part: &RecordPart,
        findings_here: &[&String],
        prepared: &mut Prepared,
    ) -> Result<(), TakeError> {
        let id = part.record.as_str();
        for signature in &part.signatures {
            let row = signature.row();
            let kept = self.kept_seal("SELECT seal FROM signature WHERE id = $1", &row.id).await?;
            let of_findings = match &row.findings {
                None => true,
                Some(name) if findings_here.contains(&name) => true,
                Some(name) => self.is_here("SELECT id FROM findings WHERE id = $1", name).await?,
            };
            match kept {
                Some(kept) if kept[..] == row.seal[..] => {}
                Some(_) => prepared.refuse(id, &row.id, Why::OtherOfName),
                None if !signature.holds(&part.record) || !is_name(&row.id) => {
                    prepared.refuse(id, &row.id, Why::Broken);
                }
                None if !of_findings => prepared.refuse(id, &row.id, Why::Early),
                None => {
                    prepared.taken.moved.signatures += 1;
                    prepared.deed(
                        false,
                        "INSERT INTO signature \
                         (id, record, signed_us, name, role, remark, code, findings, seal) \
                         VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9) ON CONFLICT (id) DO NOTHING",
                        vec![
                            text(&row.id),
                            text(id),
                            Value::Number(row.signed_us),
                            text(&row.name),
                            text(&row.role),
                            Value::Maybe(row.remark),
                            text(&row.code),
                            Value::Maybe(row.findings),
                            Value::Bytes(row.seal),
                        ],
                    );
                }
            }
        }
        Ok(())
    }

    async fn kept_seal(
        &self,
        asked: &'static str,
        id: &str,
    ) -> Result<Option<crate::chain::Hash>, ReadError> {
        let row: Option<(Vec<u8>,)> = reading!(&self.db, pool => {
            sqlx::query_as(asked).bind(id).fetch_optional(pool).await?
        });
        Ok(row.map(|(seal,)| hash(seal)))
    }

    pub(super) async fn is_here(&self, asked: &'static str, id: &str) -> Result<bool, ReadError> {
        let row: Option<(String,)> = reading!(&self.db, pool => {
            sqlx::query_as(asked).bind(id).fetch_optional(pool).await?
        });
        Ok(row.is_some())
    }
}

fn last_of(chain: &ChainPart) -> u64 {
    chain.events.last().map_or(chain.after.unwrap_or(0), |last| last.seq)
}

/// New events of one chain, and the chain moved on from where it was seen to stand.
fn move_on(prepared: &mut Prepared, id: &str, more: &super::part::More) {
    let Some(last) = more.links.last() else { return };
    let (seq, seal) = (Value::Number(last.seq.cast_signed()), Value::Bytes(last.seal.to_vec()));
    match more.stands {
        None => prepared.deed(
            true,
            "INSERT INTO chain (id, record, writer, seq, seal) VALUES ($5, $1, $2, $3, $4) \
             ON CONFLICT (record, writer) DO NOTHING",
            vec![text(id), text(&more.writer), seq, seal, Value::Number(number())],
        ),
        Some((stood, from)) => prepared.deed(
            true,
            "UPDATE chain SET seq = $3, seal = $4 \
             WHERE record = $1 AND writer = $2 AND seq = $5 AND seal = $6",
            vec![
                text(id),
                text(&more.writer),
                seq,
                seal,
                Value::Number(stood.cast_signed()),
                Value::Bytes(from.to_vec()),
            ],
        ),
    }
    for link in &more.links {
        prepared.deed(
            true,
            "INSERT INTO event (chain, seq, bytes, seal) \
             SELECT id, $3, $4, $5 FROM chain WHERE record = $1 AND writer = $2",
            vec![
                text(id),
                text(&more.writer),
                Value::Number(link.seq.cast_signed()),
                Value::Bytes(link.bytes.clone()),
                Value::Bytes(link.seal.to_vec()),
            ],
        );
    }
}

/// What was refused is remembered once.
fn remember(prepared: &mut Prepared, from: &str, wall: Timestamp) {
    let kept: Vec<Refused> =
        prepared.taken.refused.iter().filter(|one| one.is_kept()).cloned().collect();
    for one in kept {
        // Plain data always has a written form.
        let told = serde_json::to_string(&one).unwrap_or_default();
        prepared.deed(
            false,
            "INSERT INTO refused (id, seen_us, giver, told) VALUES ($1, $2, $3, $4) \
             ON CONFLICT (id) DO NOTHING",
            vec![Value::Text(one.name()), Value::Number(micros(wall)), text(from), text(&told)],
        );
    }
}
