//! Apparatus in one row each: searched, in order, and what is told of one.

use std::fmt::Write as _;

use async_recursion::async_recursion as built_here;
use jiff::civil::Date;
use session::record::Kind;
use sqlx::AssertSqlSafe;

use super::Judged;
use super::follow::{self, PASSED};
use crate::db::reading;
use crate::id::RecordId;
use crate::open::{Store, moment};
use crate::read::{Line, Summary, kind_of};
use crate::trouble::ReadError;

/// An apparatus in short.
#[derive(Clone, Debug, PartialEq)]
pub struct Life {
    /// The owner's name for it.
    pub name: String,
    /// Its class, in the word that is kept; empty where no plate is.
    pub class: String,
    /// What protective item it is, in the word that is kept; empty where it is none.
    pub item: String,
    /// How many records are of it.
    pub tests: u64,
    /// Whether one of them is not over.
    pub open: bool,
    /// Its last test that is over; one that was practised or simulated only where no other is.
    pub last: Option<LastTest>,
}

/// The last test of an apparatus.
#[derive(Clone, Debug, PartialEq)]
pub struct LastTest {
    /// Its record.
    pub record: RecordId,
    /// Its day, as the job names it, else that on which it was begun.
    pub on: Date,
    /// How it came to be.
    pub kind: Kind,
    /// The newest verdict on it.
    pub verdict: Option<String>,
}

/// What the apparatus that are looked for have in their name or in their class.
#[derive(Clone, Debug, Default)]
pub struct Search {
    /// Each of these words.
    pub words: Vec<Word>,
}

/// One word of a search.
#[derive(Clone, Debug)]
pub struct Word {
    /// In small letters.
    pub text: String,
    /// The classes in whose name it is, in the words that are kept.
    pub classes: Vec<String>,
}

/// How many apparatus were found, and how many records are of them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counted {
    /// Apparatus.
    pub lives: u64,
    /// Records of them.
    pub tests: u64,
}

/// After how many days, about, a protective item that passed is due again.
#[derive(Clone, Debug)]
pub struct Interval {
    /// The item, in the word that is kept.
    pub item: String,
    /// Days.
    pub days: i64,
}

/// Apparatus of one item whose last test passed within some days.
#[derive(Clone, Debug)]
pub struct Found<'a> {
    /// The item, in the word that is kept.
    pub item: &'a str,
    /// From this day on.
    pub from: Date,
    /// Up to this day.
    pub to: Date,
    /// The last tested first.
    pub newest_first: bool,
}

/// Words of a search that are looked at.
const WORDS: usize = 8;

/// A day behind every other.
const NEVER: i64 = 10_000_000;

const COLUMNS: &str =
    "SELECT name, class, item, tests, open, last, last_day, last_kind, verdict FROM life";

type Row = (String, String, String, i64, i64, String, Option<i64>, String, String);

/// What stands in a text in the place of a value.
enum Value<'a> {
    Text(String),
    Word(&'a str),
    Number(i64),
}

/// A text that is put together, with its values.
#[derive(Default)]
struct Asked<'a> {
    text: String,
    values: Vec<Value<'a>>,
}

impl<'a> Asked<'a> {
    fn of(text: &str) -> Self {
        Self { text: text.to_owned(), values: Vec::new() }
    }

    fn say(&mut self, text: &str) -> &mut Self {
        self.text.push_str(text);
        self
    }

    fn with(&mut self, value: Value<'a>) -> &mut Self {
        self.values.push(value);
        // A text takes whatever is written to it.
        let _ = write!(self.text, "${}", self.values.len());
        self
    }

    /// Every word is in the name or in the class.
    fn search(&mut self, search: &'a Search) -> &mut Self {
        for (at, word) in search.words.iter().take(WORDS).enumerate() {
            self.say(if at == 0 { " WHERE (words LIKE " } else { " AND (words LIKE " });
            self.with(Value::Text(pattern(&word.text))).say(" ESCAPE '!'");
            for class in &word.classes {
                self.say(" OR class = ").with(Value::Word(class));
            }
            self.say(")");
        }
        self
    }
}

/// The text anywhere, with the signs of a pattern taken as they stand.
fn pattern(text: &str) -> String {
    let mut pattern = String::from("%");
    for letter in text.chars() {
        if matches!(letter, '%' | '_' | '!') {
            pattern.push('!');
        }
        pattern.push(letter);
    }
    pattern.push('%');
    pattern
}

/// Gives a text with its values to whichever engine it is.
macro_rules! asked {
    ($db:expr, $asked:expr, $fetch:ident) => {
        reading!($db, pool => {
            let mut query = sqlx::query_as(AssertSqlSafe($asked.text.clone()));
            for value in &$asked.values {
                query = match value {
                    Value::Text(text) => query.bind(text),
                    Value::Word(text) => query.bind(*text),
                    Value::Number(number) => query.bind(*number),
                };
            }
            query.$fetch(pool).await?
        })
    };
}

impl Store {
    /// How many apparatus are found so; all of them where nothing is looked for.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn count_lives(&self, search: &Search) -> Result<Counted, ReadError> {
        let mut asked =
            Asked::of("SELECT COUNT(*), CAST(COALESCE(SUM(tests), 0) AS BIGINT) FROM life");
        asked.search(search);
        let (lives, tests): (i64, i64) = asked!(&self.db, asked, fetch_one);
        Ok(Counted { lives: lives.cast_unsigned(), tests: tests.cast_unsigned() })
    }

    /// Apparatus that are found so: the worst verdict first, among what passed what is due first,
    /// then what was tested longest ago. Of these so many are left out, and no more given than
    /// that.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn lives(
        &self,
        search: &Search,
        intervals: &[Interval],
        (from, at_most): (u64, u32),
    ) -> Result<Vec<Life>, ReadError> {
        let part = |asked: &mut Asked<'_>| {
            asked.say(", last_day, name LIMIT ").with(Value::Number(i64::from(at_most)));
            asked.say(" OFFSET ").with(Value::Number(from.cast_signed()));
        };
        // What did not pass is in the order of an index, and mostly all that is looked at.
        let mut asked = Asked::of(COLUMNS);
        asked.search(search).say(if search.words.is_empty() { " WHERE " } else { " AND " });
        asked.say("badness < ").with(Value::Number(PASSED)).say(" ORDER BY badness");
        part(&mut asked);
        let rows: Vec<Row> = asked!(&self.db, asked, fetch_all);
        if rows.len() == at_most as usize {
            return Ok(rows.into_iter().map(Life::of).collect());
        }
        let mut asked = Asked::of(COLUMNS);
        asked.search(search).say(" ORDER BY badness");
        if !intervals.is_empty() {
            asked.say(", CASE WHEN item = '' OR badness < ").with(Value::Number(PASSED));
            asked.say(" THEN ").with(Value::Number(NEVER));
            for Interval { item, days } in intervals {
                asked.say(" WHEN item = ").with(Value::Word(item));
                asked.say(" THEN last_day + ").with(Value::Number(*days));
            }
            asked.say(" ELSE ").with(Value::Number(NEVER)).say(" END");
        }
        part(&mut asked);
        let rows: Vec<Row> = asked!(&self.db, asked, fetch_all);
        Ok(rows.into_iter().map(Life::of).collect())
    }

    /// One apparatus; `None` where nothing is kept of it.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn life(&self, name: &str) -> Result<Option<Life>, ReadError> {
        let mut asked = Asked::of(COLUMNS);
        asked.say(" WHERE name = ").with(Value::Word(name));
        let row: Option<Row> = asked!(&self.db, asked, fetch_optional);
        Ok(row.map(Life::of))
    }

    /// Apparatus that were tested, longest ago first; but for what passed and is one of these
    /// items.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn tested_longest_ago(
        &self,
        but: &[Interval],
        at_most: u32,
    ) -> Result<Vec<Life>, ReadError> {
        let mut asked = Asked::of(COLUMNS);
        asked.say(" WHERE last_day IS NOT NULL");
        for one in but {
            asked.say(" AND NOT (verdict = 'accept' AND item = ").with(Value::Word(&one.item));
            asked.say(")");
        }
        asked.say(" ORDER BY last_day, badness, name LIMIT ");
        asked.with(Value::Number(i64::from(at_most)));
        let rows: Vec<Row> = asked!(&self.db, asked, fetch_all);
        Ok(rows.into_iter().map(Life::of).collect())
    }

    /// Apparatus of one item whose last test passed within some days.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn passed(&self, found: &Found<'_>, at_most: u32) -> Result<Vec<Life>, ReadError> {
        let mut asked = Asked::of(COLUMNS);
        asked.say(" WHERE verdict = 'accept' AND item = ").with(Value::Word(found.item));
        asked.say(" AND last_day >= ").with(Value::Number(follow::number(found.from)));
        asked.say(" AND last_day <= ").with(Value::Number(follow::number(found.to)));
        asked.say(if found.newest_first {
            " ORDER BY last_day DESC"
        } else {
            " ORDER BY last_day"
        });
        asked.say(", name LIMIT ").with(Value::Number(i64::from(at_most)));
        let rows: Vec<Row> = asked!(&self.db, asked, fetch_all);
        Ok(rows.into_iter().map(Life::of).collect())
    }

    /// The last test of each other apparatus of a class, the last tested first,
    /// and when it was judged last.
    ///
    /// # Errors
    /// The database failed.
    #[built_here]
    pub async fn newest_of_class(
        &self,
        class: &str,
        but: &str,
        at_most: u32,
    ) -> Result<Vec<(Summary, Option<Judged>)>, ReadError> {
        type Newest = (String, String, String, i64, i64, i64, i64, i64, Option<i64>, String);
        let rows: Vec<Newest> = reading!(&self.db, pool => sqlx::query_as(
            "SELECT record.id, record.asset, record.kind, record.begun_us, record.last_us, \
             record.closed, record.events, record.readings, \
             (SELECT MAX(judged_us) FROM findings WHERE findings.record = record.id), \
             record.verdict FROM life JOIN record ON record.id = life.last \
             WHERE life.class = $1 AND life.name <> $2 AND life.last_day IS NOT NULL \
             ORDER BY life.last_day DESC, life.name LIMIT $3",
        )
        .bind(class)
        .bind(but)
        .bind(i64::from(at_most))
        .fetch_all(pool)
        .await?);
        let of = |row: Newest| {
            let (id, asset, kind, begun, last, closed, events, readings, judged, verdict) = row;
            let line: Line = (id, asset, kind, begun, last, closed, events, readings);
            let judged = judged.map(|judged| Judged { judged: moment(judged), verdict });
            (Summary::of(line), judged)
        };
        Ok(rows.into_iter().map(of).collect())
    }
}

impl Life {
    fn of(row: Row) -> Self {
        let (name, class, item, tests, open, last, last_day, last_kind, verdict) = row;
        let last = last_day.map(|day| LastTest {
            record: RecordId::of(last),
            on: follow::day(day),
            kind: kind_of(&last_kind),
            verdict: Some(verdict).filter(|word| !word.is_empty()),
        });
        Self { name, class, item, tests: tests.cast_unsigned(), open: open > 0, last }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_signs_of_a_pattern_are_looked_for_as_they_stand() {
        let check = |text: &str, expected: &str| assert_eq!(pattern(text), expected, "{text}");
        check("fdr-3", "%fdr-3%");
        check("50%_a!", "%50!%!_a!!%");
    }
}
