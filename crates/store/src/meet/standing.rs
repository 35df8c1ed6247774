//! How far this store has come: figures by span, then names.
//!
//! Names begin with the moment they were given, so that a span is about three days of work.

use std::collections::BTreeMap;

use async_recursion::async_recursion as built_here;
use sha2::{Digest as _, Sha256};

use super::form::{ChainStands, Span, Standing, StandingPage};
use crate::append::hash;
use crate::chain::{Hash, hex};
use crate::db::reading;
use crate::id::RecordId;
use crate::open::Store;
use crate::trouble::ReadError;

/// Rows read at once.
const PAGE: i64 = 2000;

/// Letters of a name that tell its span: 20 bits of a moment in milliseconds, 2^28 ms a span.
const LETTERS: usize = 5;

/// The same of a digest, which has no moment.
const OF_DIGEST: usize = 2;

/// After every letter that a name may have.
const BEYOND: &str = "g";

/// Each span as it is added up: figures of its parts combine in any order.
#[derive(Default)]
struct Sums(BTreeMap<String, (u64, Hash)>);

impl Sums {
    fn add(&mut self, span: &str, counts: bool, parts: &[&[u8]]) {
        let mut hasher = Sha256::new();
        for part in parts {
            hasher.update((part.len() as u64).to_be_bytes());
            hasher.update(part);
        }
        let figure: Hash = hasher.finalize().into();
        let (count, sum) = self.0.entry(span.to_owned()).or_default();
        *count += u64::from(counts);
        sum.iter_mut().zip(figure).for_each(|(sum, one)| *sum ^= one);
    }

    fn spans(self) -> Vec<Span> {
        let of =
            |(span, (count, sum)): (String, (u64, Hash))| Span { span, count, digest: hex(&sum) };
        self.0.into_iter().map(of).collect()
    }
}

fn span_of(kind: char, name: &str) -> String {
    let letters = if kind == 'j' { OF_DIGEST } else { LETTERS };
    format!("{kind}{}", name.get(..letters).unwrap_or(name))
}

impl Store {
    /// A figure for everything that is kept, by span.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn spans(&self) -> Result<Vec<Span>, ReadError> {
        let mut sums = Sums::default();
        self.add_chains(&mut sums).await?;
        self.add_beside(&mut sums).await?;
        self.add_things(&mut sums).await?;
        Ok(sums.spans())
    }

    async fn add_chains(&self, sums: &mut Sums) -> Result<(), ReadError> {
        let (mut record, mut writer) = (String::new(), String::new());
        loop {
            let rows: Vec<(String, String, i64, Vec<u8>)> = reading!(&self.db, pool => {
                sqlx::query_as(
                    "SELECT record, writer, seq, seal FROM chain \
                     WHERE (record, writer) > ($1, $2) ORDER BY record, writer LIMIT $3",
                )
                .bind(&record)
                .bind(&writer)
                .bind(PAGE)
                .fetch_all(pool)
                .await?
            });
            for (of, by, seq, seal) in &rows {
                let first = *of != record;
                let parts = [of.as_bytes(), by.as_bytes(), &seq.to_be_bytes(), seal];
                sums.add(&span_of('r', of), first, &parts);
                (record, writer) = (of.clone(), by.clone());
            }
            if !is_full(&rows) {
                return Ok(());
            }
        }
    }

    /// Findings, signatures and sheets, each in the span of its record.
    async fn add_beside(&self, sums: &mut Sums) -> Result<(), ReadError> {
        let asked = [
            "SELECT id, record, seal FROM findings WHERE id > $1 ORDER BY id LIMIT $2",
            "SELECT id, record, seal FROM signature WHERE id > $1 ORDER BY id LIMIT $2",
        ];
        for asked in asked {
            let mut after = String::new();
            loop {
                let rows: Vec<(String, String, Vec<u8>)> = reading!(&self.db, pool => {
                    sqlx::query_as(asked).bind(&after).bind(PAGE).fetch_all(pool).await?
                });
                for (id, record, seal) in &rows {
                    sums.add(&span_of('r', record), false, &[id.as_bytes(), seal]);
                    after.clone_from(id);
                }
                if !is_full(&rows) {
                    break;
                }
            }
        }
        let mut after = String::new();
        loop {
            let rows: Vec<(String, String)> = reading!(&self.db, pool => sqlx::query_as(
                "SELECT id, record FROM sheet WHERE record IS NOT NULL AND id > $1 \
                 ORDER BY id LIMIT $2",
            )
            .bind(&after)
            .bind(PAGE)
            .fetch_all(pool)
            .await?);
            for (id, record) in &rows {
                sums.add(&span_of('r', record), false, &[id.as_bytes(), record.as_bytes()]);
                after.clone_from(id);
            }
            if !is_full(&rows) {
                return Ok(());
            }
        }
    }

    async fn add_things(&self, sums: &mut Sums) -> Result<(), ReadError> {
        for (kind, asked) in [
            ('t', "SELECT id FROM thing WHERE id > $1 ORDER BY id LIMIT $2"),
            ('c', "SELECT id FROM calibration WHERE id > $1 ORDER BY id LIMIT $2"),
        ] {
            let mut after = String::new();
            loop {
                let rows: Vec<(String,)> = reading!(&self.db, pool => {
                    sqlx::query_as(asked).bind(&after).bind(PAGE).fetch_all(pool).await?
                });
                for (id,) in &rows {
                    sums.add(&span_of(kind, id), true, &[id.as_bytes()]);
                    after.clone_from(id);
                }
                if !is_full(&rows) {
                    break;
                }
            }
        }
        let jobs: Vec<(Vec<u8>,)> = reading!(&self.db, pool => {
            sqlx::query_as("SELECT digest FROM job").fetch_all(pool).await?
        });
        for (digest,) in jobs {
            sums.add(&span_of('j', &hex(&hash(digest.clone()))), true, &[&digest]);
        }
        Ok(())
    }

    /// What stands in a span, from after this name on.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn standing(&self, span: &str, after: &str) -> Result<StandingPage, ReadError> {
        let mut letters = span.chars();
        let kind = letters.next();
        let begin = letters.as_str();
        let is_name = |text: &str| {
            text.len() <= 64 && text.bytes().all(|byte| byte.is_ascii_hexdigit() || byte == b'-')
        };
        if !is_name(begin) || !is_name(after) {
            return Ok(StandingPage::default());
        }
        // Nothing of a span comes before its own first letters.
        let after = if after < begin { begin } else { after };
        let to = format!("{begin}{BEYOND}");
        match kind {
            Some('r') => self.records_standing(after, &to).await,
            Some('t') => {
                self.names(
                    "SELECT id FROM thing WHERE id > $1 AND id < $2 \
                                     ORDER BY id LIMIT $3",
                    after,
                    &to,
                )
                .await
            }
            Some('c') => {
                self.names(
                    "SELECT id FROM calibration WHERE id > $1 AND id < $2 \
                                     ORDER BY id LIMIT $3",
                    after,
                    &to,
                )
                .await
            }
            Some('j') => self.jobs_standing(begin).await,
            _ => Ok(StandingPage::default()),
        }
    }

    async fn names(
        &self,
        asked: &'static str,
        after: &str,
        to: &str,
    ) -> Result<StandingPage, ReadError> {
        let rows: Vec<(String,)> = reading!(&self.db, pool => {
            sqlx::query_as(asked).bind(after).bind(to).bind(PAGE).fetch_all(pool).await?
        });
        let next = rows.last().filter(|_| is_full(&rows)).map(|(last,)| last.clone());
        let names = rows.into_iter().map(|(id,)| id).collect();
        Ok(StandingPage { records: Vec::new(), names, next })
    }

    async fn jobs_standing(&self, begin: &str) -> Result<StandingPage, ReadError> {
        let rows: Vec<(Vec<u8>,)> = reading!(&self.db, pool => {
            sqlx::query_as("SELECT digest FROM job ORDER BY digest").fetch_all(pool).await?
        });
        let all = rows.into_iter().map(|(digest,)| hex(&hash(digest)));
        let names = all.filter(|name| name.starts_with(begin)).collect();
        Ok(StandingPage { records: Vec::new(), names, next: None })
    }

    async fn records_standing(&self, after: &str, to: &str) -> Result<StandingPage, ReadError> {
        let rows: Vec<(String, String, String, i64, Vec<u8>)> = reading!(&self.db, pool => {
            sqlx::query_as(
                "SELECT chain.record, record.writer, chain.writer, chain.seq, chain.seal \
                 FROM chain JOIN record ON record.id = chain.record \
                 WHERE chain.record > $1 AND chain.record < $2 \
                 ORDER BY chain.record, chain.writer LIMIT $3",
            )
            .bind(after)
            .bind(to)
            .bind(PAGE)
            .fetch_all(pool)
            .await?
        });
        let full = is_full(&rows);
        let mut records: Vec<Standing> = Vec::new();
        for (record, begun_by, writer, seq, seal) in rows {
            if records.last().is_none_or(|last| last.record.as_str() != record) {
                records.push(Standing {
                    record: RecordId::of(record),
                    begun_by,
                    chains: Vec::new(),
                    findings: Vec::new(),
                    signatures: Vec::new(),
                    sheets: Vec::new(),
                });
            }
            let chain = ChainStands { writer, seq: seq.cast_unsigned(), code: hex(&hash(seal)) };
            if let Some(last) = records.last_mut() {
                last.chains.push(chain);
            }
        }
        // The last of a full page may have more chains; it stands whole on the next one.
        if full && records.len() > 1 {
            records.pop();
        }
        let next = records.last().filter(|_| full).map(|last| last.record.to_string());
        self.stand_beside(&mut records).await?;
        Ok(StandingPage { records, names: Vec::new(), next })
    }

    /// What was made of these records, which stand in order.
    async fn stand_beside(&self, records: &mut [Standing]) -> Result<(), ReadError> {
        let (Some(first), Some(last)) = (records.first(), records.last()) else { return Ok(()) };
        let (first, last) = (first.record.to_string(), last.record.to_string());
        type Into = fn(&mut Standing) -> &mut Vec<String>;
        let asked: [(&'static str, Into); 3] = [
            (
                "SELECT record, id FROM findings WHERE record >= $1 AND record <= $2 \
                 ORDER BY record, id",
                |one| &mut one.findings,
            ),
            (
                "SELECT record, id FROM signature WHERE record >= $1 AND record <= $2 \
                 ORDER BY record, id",
                |one| &mut one.signatures,
            ),
            (
                "SELECT record, id FROM sheet WHERE record >= $1 AND record <= $2 \
                 ORDER BY record, id",
                |one| &mut one.sheets,
            ),
        ];
        for (asked, into) in asked {
            let rows: Vec<(String, String)> = reading!(&self.db, pool => {
                sqlx::query_as(asked).bind(&first).bind(&last).fetch_all(pool).await?
            });
            for (record, id) in rows {
                let at = records.binary_search_by(|one| one.record.as_str().cmp(&record));
                if let Ok(at) = at {
                    into(&mut records[at]).push(id);
                }
            }
        }
        Ok(())
    }
}

fn is_full<T>(rows: &[T]) -> bool {
    i64::try_from(rows.len()).is_ok_and(|rows| rows >= PAGE)
}
