//! What was not taken in, and why: told to the other side, and remembered here.

use std::fmt;

use async_recursion::async_recursion as built_here;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::chain::{digest, hex};
use crate::db::reading;
use crate::open::{Store, moment};
use crate::trouble::ReadError;

/// What was not taken in. What is here stays as it is, and the other side keeps its own.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Refused {
    /// Which record; empty where it is of none.
    pub record: String,
    /// Whose chain; else the name of what was refused.
    pub writer: String,
    /// Which event.
    pub seq: u64,
    /// Why.
    pub why: Why,
}

/// Why something is not taken in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Why {
    /// The same writer has another event of this number here.
    Other {
        /// The seal that stands here.
        here: String,
        /// The seal that came.
        there: String,
    },
    /// Another writer began the record of this name here.
    OtherBeginning {
        /// Who began it here.
        here: String,
        /// Who did there.
        there: String,
    },
    /// Its seal is not of its bytes.
    Broken,
    /// Findings or a signature of this name are others here.
    OtherOfName,
    /// This version of the program cannot read it.
    Unreadable {
        /// Why not.
        said: String,
    },
    /// What it follows is not here yet.
    Early,
}

/// Something that was refused once, as it is remembered.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Kept {
    /// When it came first.
    pub seen: Timestamp,
    /// From which database.
    pub from: String,
    /// What.
    pub refused: Refused,
}

impl Refused {
    /// The same refusal has the same name whenever it is told.
    pub(super) fn name(&self) -> String {
        // Plain data always has a written form.
        hex(&digest(&serde_json::to_vec(self).unwrap_or_default()))
    }

    /// The same as the other side sees it.
    #[must_use]
    pub fn from_there(self) -> Self {
        let why = match self.why {
            Why::Other { here, there } => Why::Other { here: there, there: here },
            Why::OtherBeginning { here, there } => Why::OtherBeginning { here: there, there: here },
            why => why,
        };
        Self { why, ..self }
    }

    /// Whether a person has to look at it. What came too early comes again by itself.
    pub(super) fn is_kept(&self) -> bool {
        self.why != Why::Early
    }
}

impl Refused {
    /// What to do now.
    #[must_use]
    pub const fn remedy(&self) -> &'static str {
        match self.why {
            Why::Other { .. } | Why::OtherBeginning { .. } | Why::OtherOfName => {
                "keep both databases and find out which one is right"
            }
            Why::Broken => "check the database it came from with `ohmstead verify`",
            Why::Unreadable { .. } => "bring the same version of this program to both sides",
            Why::Early => "meet again",
        }
    }

    /// Why.
    #[must_use]
    pub fn detail(&self) -> String {
        let Self { record, writer, seq, why } = self;
        let short = |code: &str| code.get(..16).unwrap_or(code).to_owned();
        match why {
            Why::Other { here, there } => format!(
                "event {seq} of writer {writer} in record {record} is another one here ({} here, \
                 {} there)",
                short(here),
                short(there)
            ),
            Why::OtherBeginning { here, there } => {
                format!("record {record} was begun by {here} here and by {there} there")
            }
            Why::Broken => {
                format!("the seal of event {seq} of {writer} in record {record} does not hold")
            }
            Why::OtherOfName => format!("{writer} of record {record} is another one here"),
            Why::Unreadable { said } => {
                format!("{writer} of record {record} cannot be read here: {said}")
            }
            Why::Early => {
                format!("event {seq} of {writer} in record {record} came before what it follows")
            }
        }
    }
}

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} — {}", self.remedy(), self.detail())
    }
}

impl Store {
    /// What was refused here so far, the newest first.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn refused(&self) -> Result<Vec<Kept>, ReadError> {
        let rows: Vec<(i64, String, String)> = reading!(&self.db, pool => sqlx::query_as(
            "SELECT seen_us, giver, told FROM refused ORDER BY seen_us DESC, id LIMIT 200",
        )
        .fetch_all(pool)
        .await?);
        let of = |(seen, from, told): (i64, String, String)| {
            let refused = serde_json::from_str(&told).ok()?;
            Some(Kept { seen: moment(seen), from, refused })
        };
        Ok(rows.into_iter().filter_map(of).collect())
    }
}
