//! Who put their name to what: a record as it stood, with the findings that were made of it.
//!
//! A signature is never changed or taken out. It is of the codes that the record had and of one
//! set of findings; a record that went on since, or was judged anew, is seen beside it.

use async_recursion::async_recursion as built_here;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::chain::{Hash, Seal, SealedName};
use crate::db::{Tries, Wire, again, on, reading, writing};
use crate::id::{self, RecordId};
use crate::open::{Store, micros, moment};
use crate::overview::Waits;
use crate::overview::follow::Touched;
use crate::read::Summary;
use crate::trouble::{ReadError, SignError};

/// As what somebody signs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// Ran the test.
    Tester,
    /// Saw it.
    Witness,
    /// Answers for the verdict.
    Approver,
}

impl Role {
    /// Every one, in the order in which a sheet is signed.
    pub const ALL: &'static [Self] = &[Self::Tester, Self::Witness, Self::Approver];

    /// The word as it is kept.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Tester => "tester",
            Self::Witness => "witness",
            Self::Approver => "approver",
        }
    }

    /// The role of this word.
    #[must_use]
    pub fn of(key: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|one| one.key() == key)
    }
}

/// What somebody puts their name to.
#[derive(Clone, Copy, Debug)]
pub struct Signing<'a> {
    /// Who.
    pub name: &'a str,
    /// As what.
    pub role: Role,
    /// In their own words.
    pub remark: Option<&'a str>,
    /// The code of the record as it was before their eyes; see [`code_of`].
    pub code: &'a str,
    /// The findings that were before their eyes.
    pub findings: Option<&'a str>,
}

/// A signature as it is kept.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Signature {
    /// Its name.
    pub id: String,
    /// When it was given.
    pub signed: Timestamp,
    /// By whom.
    pub name: String,
    /// As what, in the word that was sealed.
    pub role: String,
    /// In their own words.
    pub remark: Option<String>,
    /// The code that the record had.
    pub code: String,
    /// The findings that were signed.
    pub findings: Option<String>,
}

/// The code of a whole record: that of each writer's chain, who began it first.
#[must_use]
pub fn code_of(seals: &[(String, Seal)]) -> String {
    let codes: Vec<&str> = seals.iter().map(|(_, seal)| seal.code.as_str()).collect();
    codes.join(" ")
}

/// A signature with its seal.
#[derive(Clone, Debug)]
pub(crate) struct Row {
    pub(crate) id: String,
    pub(crate) signed_us: i64,
    pub(crate) name: String,
    pub(crate) role: String,
    pub(crate) remark: Option<String>,
    pub(crate) code: String,
    pub(crate) findings: Option<String>,
    pub(crate) seal: Vec<u8>,
}

impl Store {
    /// Keeps a signature beside those that were given before.
    ///
    /// # Errors
    /// It has no name, the record is not here, is not the one that was looked at any more or has
    /// no such findings, or the database failed; nothing is kept then.
    #[built_here]
    pub async fn sign(
        &self,
        record: &RecordId,
        signing: &Signing<'_>,
        wall: Timestamp,
    ) -> Result<String, SignError> {
        let Signing { name, role, remark, code, findings } = *signing;
        let (name, remark) = (name.trim(), remark.map(str::trim).filter(|one| !one.is_empty()));
        if name.is_empty() {
            return Err(SignError::NoName);
        }
        let seals = self.seals(record).await?;
        if seals.is_empty() {
            return Err(SignError::NoRecord { record: record.to_string() });
        }
        if code_of(&seals) != code {
            return Err(SignError::WentOn);
        }
        if let Some(id) = findings {
            let kept = self.findings(record).await?;
            if !kept.iter().any(|one| one.id == id) {
                return Err(SignError::NoFindings { id: id.to_owned() });
            }
        }
        let row = Row {
            id: id::fresh(wall),
            signed_us: micros(wall),
            name: name.to_owned(),
            role: role.key().to_owned(),
            remark: remark.map(str::to_owned),
            code: code.to_owned(),
            findings: findings.map(str::to_owned),
            seal: Vec::new(),
        };
        let row = Row { seal: row.seal(record).to_vec(), ..row };
        again!(Tries::of(&self.db), self.keep_signature(record, &row))?;
        Ok(row.id)
    }

    async fn keep_signature(&self, record: &RecordId, row: &Row) -> Result<(), SignError> {
        writing!(&self.db, tx => {
            insert(&mut tx, record, row).await?;
            Touched::record(record.as_str()).follow(&mut tx).await?;
            tx.commit().await?;
        });
        Ok(())
    }

    /// Signatures that were given to a record, the oldest first.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn signatures(&self, record: &RecordId) -> Result<Vec<Signature>, ReadError> {
        let rows = reading!(&self.db, pool => rows(&mut *pool.acquire().await?, record).await)?;
        Ok(rows.into_iter().map(Signature::of).collect())
    }

    /// Records that were judged and wait for a signature, the newest first.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn unsigned(&self) -> Result<Vec<Summary>, ReadError> {
        self.standing_so(Waits::Signature.stands()).await
    }

    /// Records that are over and wait to be judged, the newest first.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn unjudged(&self) -> Result<Vec<Summary>, ReadError> {
        self.standing_so(Waits::Judge.stands()).await
    }
}

/// Signatures of a record with their seals, the oldest first.
pub(crate) async fn rows(wire: &mut dyn Wire, record: &RecordId) -> Result<Vec<Row>, ReadError> {
    let rows: Vec<Columns> = on!(wire, line => sqlx::query_as(
        "SELECT id, signed_us, name, role, remark, code, findings, seal FROM signature \
         WHERE record = $1 ORDER BY signed_us, id",
    )
    .bind(record.as_str())
    .fetch_all(line)
    .await?);
    let of = |(id, signed_us, name, role, remark, code, findings, seal): Columns| Row {
        id,
        signed_us,
        name,
        role,
        remark,
        code,
        findings,
        seal,
    };
    Ok(rows.into_iter().map(of).collect())
}

type Columns = (String, i64, String, String, Option<String>, String, Option<String>, Vec<u8>);

/// One of this name may be there from a call whose answer was lost.
pub(crate) async fn insert(
    wire: &mut dyn Wire,
    record: &RecordId,
    row: &Row,
) -> Result<(), sqlx::Error> {
    on!(wire, line => sqlx::query(
        "INSERT INTO signature \
         (id, record, signed_us, name, role, remark, code, findings, seal) \
         VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9) ON CONFLICT (id) DO NOTHING",
    )
    .bind(&row.id)
    .bind(record.as_str())
    .bind(row.signed_us)
    .bind(&row.name)
    .bind(&row.role)
    .bind(&row.remark)
    .bind(&row.code)
    .bind(&row.findings)
    .bind(&row.seal)
    .execute(line)
    .await.map(drop)?);
    Ok(())
}

impl Row {
    /// The seal over every column but itself.
    pub(crate) fn seal(&self, record: &RecordId) -> Hash {
        let Self { id, signed_us, name, role, remark, code, findings, .. } = self;
        SealedName {
            record: record.as_str(),
            id,
            signed_us: *signed_us,
            name,
            role,
            remark: remark.as_deref(),
            code,
            findings: findings.as_deref(),
        }
        .seal()
    }

    /// Whether it is what was sealed.
    pub(crate) fn holds(&self, record: &RecordId) -> bool {
        self.seal(record)[..] == self.seal[..]
    }
}

impl Signature {
    fn of(row: Row) -> Self {
        let Row { id, signed_us, name, role, remark, code, findings, .. } = row;
        Self { id, signed: moment(signed_us), name, role, remark, code, findings }
    }
}
