//! What overviews ask follows from what is kept: it is made anew in the transaction that wrote it.
//!
//! Who writes takes the row of the apparatus first, by a statement that changes it, and only then
//! looks at its records: another one who writes of the same apparatus waits at that row, and what
//! it looks at afterwards has in it what the first one wrote. Rows are taken in the order of their
//! names, after everything else; the record's own row is changed again after that, so two that
//! write of one record may still wait for each other. The server ends one of them, and it is done
//! again.

use std::collections::BTreeSet;

use jiff::Timestamp;
use jiff::civil::Date;
use serde::Deserialize;
use session::record::{Head, Kind};

use crate::append::kind_key;
use crate::db::{Line, Wire, on};
use crate::open::moment;
use crate::things::ThingKind;

/// Records and apparatus that a transaction wrote of.
#[derive(Default)]
pub(crate) struct Touched {
    records: BTreeSet<String>,
    apparatus: BTreeSet<String>,
}

/// What a record's row says of what it begins with, beside kind and apparatus.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Begun {
    pub(crate) day: i64,
    pub(crate) made_with: String,
}

impl Begun {
    pub(crate) fn of(head: &Head, begun: Timestamp) -> Self {
        let day = head.job.test.date.unwrap_or_else(|| utc(begun));
        Self { day: number(day), made_with: head.job.set.id.clone().unwrap_or_default() }
    }

    /// The same from the bytes of event 0, of which nothing else is looked at; what cannot be read
    /// there is not known here.
    pub(super) fn read(bytes: Option<&[u8]>, begun_us: i64) -> Self {
        #[derive(Default, Deserialize)]
        #[serde(default)]
        struct Job {
            test: Test,
            set: Set,
        }
        #[derive(Default, Deserialize)]
        #[serde(default)]
        struct Test {
            date: Option<Date>,
        }
        #[derive(Default, Deserialize)]
        #[serde(default)]
        struct Set {
            id: Option<String>,
        }
        #[derive(Default, Deserialize)]
        struct First {
            job: Job,
        }
        let First { job } = serde_json::from_slice(bytes.unwrap_or_default()).unwrap_or_default();
        let day = job.test.date.unwrap_or_else(|| utc(moment(begun_us)));
        Self { day: number(day), made_with: job.set.id.unwrap_or_default() }
    }
}

/// How a record that has nothing but its beginning stands.
pub(crate) fn stands_at_first(kind: Kind) -> i64 {
    i64::from(kind == Kind::Transcribed)
}

fn utc(at: Timestamp) -> Date {
    jiff::tz::TimeZone::UTC.to_datetime(at).date()
}

/// Days since 1970-01-01.
pub(super) fn number(day: Date) -> i64 {
    let since = Date::constant(1970, 1, 1).until((jiff::Unit::Day, day));
    since.map_or(0, |since| i64::from(since.get_days()))
}

/// The day of that number; one outside the calendar is put at its end.
pub(super) fn day(number: i64) -> Date {
    let span = jiff::Span::new().try_days(number);
    let day = span.and_then(|span| Date::constant(1970, 1, 1).checked_add(span));
    day.unwrap_or(Date::MAX)
}

impl Touched {
    pub(crate) fn record(id: &str) -> Self {
        let mut touched = Self::default();
        touched.records.insert(id.to_owned());
        touched
    }

    pub(crate) fn apparatus(name: &str) -> Self {
        let mut touched = Self::default();
        touched.add_apparatus(name);
        touched
    }

    pub(crate) fn add_record(&mut self, id: &str) {
        self.records.insert(id.to_owned());
    }

    pub(crate) fn add_apparatus(&mut self, name: &str) {
        self.apparatus.insert(name.to_owned());
    }

    /// Makes anew what follows from them; the last thing before the transaction is ended.
    pub(crate) async fn follow(&self, tx: &mut dyn Wire) -> Result<(), sqlx::Error> {
        let mut names = self.apparatus.clone();
        for id in &self.records {
            const OF: &str = "SELECT asset FROM record WHERE id = $1";
            let of: Option<(String,)> =
                on!(tx, line => sqlx::query_as(OF).bind(id).fetch_optional(line).await?);
            names.extend(of.map(|(name,)| name));
        }
        for name in &names {
            take(tx, name).await?;
        }
        for id in &self.records {
            settle(tx, id).await?;
        }
        for name in &names {
            recount(tx, name).await?;
        }
        Ok(())
    }
}

/// Takes the row of an apparatus, and makes it where there is none.
async fn take(tx: &mut dyn Wire, name: &str) -> Result<(), sqlx::Error> {
    on!(tx, line => sqlx::query(
        "INSERT INTO life \
         (name, words, class, item, tests, open, last, last_kind, verdict, badness) \
         VALUES ($1, $2, '', '', 0, 0, '', '', '', 0) \
         ON CONFLICT (name) DO UPDATE SET words = excluded.words",
    )
    .bind(name)
    .bind(name.to_lowercase())
    .execute(line)
    .await.map(drop)?);
    Ok(())
}

/// What findings and signatures make of a record's row.
async fn settle(tx: &mut dyn Wire, id: &str) -> Result<(), sqlx::Error> {
    on!(tx, line => sqlx::query(SETTLE_ONE)
        .bind(id)
        .bind(kind_key(Kind::Transcribed))
        .execute(line)
        .await.map(drop)?);
    Ok(())
}

/// The newest verdict and how it stands, as a query gives them of a row of `record`.
macro_rules! settled {
    () => {
        "COALESCE((SELECT findings.verdict FROM findings WHERE findings.record = record.id \
         ORDER BY findings.judged_us DESC, findings.id DESC LIMIT 1), '')"
    };
    (stands) => {
        "CASE WHEN closed = 0 AND kind <> $2 THEN 0 \
         WHEN NOT EXISTS (SELECT 1 FROM findings WHERE findings.record = record.id) THEN 1 \
         WHEN NOT EXISTS (SELECT 1 FROM signature WHERE signature.record = record.id) THEN 2 \
         ELSE 3 END"
    };
}

const SETTLE_ONE: &str = concat!(
    "UPDATE record SET verdict = ",
    settled!(),
    ", stands = ",
    settled!(stands),
    " WHERE id = $1"
);

/// What the records and the plate of an apparatus make of its row, which was taken before.
pub(super) async fn recount(tx: &mut dyn Wire, name: &str) -> Result<(), sqlx::Error> {
    const COUNT: &str = "SELECT COUNT(*), COUNT(CASE WHEN stands = 0 THEN 1 END) FROM record \
                         WHERE asset = $1";
    let (tests, open): (i64, i64) =
        on!(tx, line => sqlx::query_as(COUNT).bind(name).fetch_one(line).await?);
    // What was practised or simulated says nothing of the object where it was really tested.
    const LAST: &str = "SELECT id, day, kind, verdict FROM record WHERE asset = $1 AND stands > 0 \
                        ORDER BY CASE WHEN kind IN ($2, $3) THEN 0 ELSE 1 END, begun_us DESC, \
                        id DESC LIMIT 1";
    let last: Option<(String, i64, String, String)> = on!(tx, line => sqlx::query_as(LAST)
        .bind(name)
        .bind(kind_key(Kind::Test))
        .bind(kind_key(Kind::Transcribed))
        .fetch_optional(line)
        .await?);
    const PLATE: &str = "SELECT bytes FROM thing WHERE kind = $1 AND name = $2 \
                         ORDER BY kept_us DESC, id DESC LIMIT 1";
    let plate: Option<(String,)> = on!(tx, line => sqlx::query_as(PLATE)
        .bind(ThingKind::Apparatus.key())
        .bind(name)
        .fetch_optional(line)
        .await?);
    let Plate { class, protective } =
        plate.and_then(|(bytes,)| serde_json::from_str(&bytes).ok()).unwrap_or_default();
    let (last, last_day, last_kind, verdict) = match last {
        Some((id, day, kind, verdict)) => (id, Some(day), kind, verdict),
        None => Default::default(),
    };
    let badness = badness(&last, &verdict);
    on!(tx, line => sqlx::query(
        "UPDATE life SET class = $2, item = $3, tests = $4, open = $5, last = $6, \
         last_day = $7, last_kind = $8, verdict = $9, badness = $10 WHERE name = $1",
    )
    .bind(name)
    .bind(class)
    .bind(protective.map(|one| one.item).unwrap_or_default())
    .bind(tests)
    .bind(open)
    .bind(last)
    .bind(last_day)
    .bind(last_kind)
    .bind(verdict)
    .bind(badness)
    .execute(line)
    .await.map(drop)?);
    Ok(())
}

/// What passed in its last test stands behind everything else.
pub(super) const PASSED: i64 = 5;

/// Where an apparatus stands by its last test, the worst first; what was never judged stands
/// between, and before what was never tested.
fn badness(last: &str, verdict: &str) -> i64 {
    match verdict {
        _ if last.is_empty() => 4,
        "reject" => 0,
        "investigate" => 1,
        "" => 3,
        "accept" => PASSED,
        _ => 2,
    }
}

/// What an overview tells of a plate, in the words in which the plate is kept.
#[derive(Default, Deserialize)]
struct Plate {
    class: String,
    protective: Option<Protective>,
}

#[derive(Deserialize)]
struct Protective {
    item: String,
}

/// Records looked at together where a database is brought forward.
const TOGETHER: i64 = 256;

/// Says of these records what they begin with, and how they stand.
async fn say(tx: &mut dyn Wire, lot: Vec<(String, Begun)>) -> Result<(), sqlx::Error> {
    const ONE: &str = concat!(
        "UPDATE record SET day = $3, made_with = $4, verdict = ",
        settled!(),
        ", stands = ",
        settled!(stands),
        " WHERE id = $1"
    );
    // Each statement goes to a server and back: many records go together.
    const MANY: &str = concat!(
        "UPDATE record SET day = one.day, made_with = one.made_with, verdict = ",
        settled!(),
        ", stands = ",
        settled!(stands),
        " FROM UNNEST($1, $3, $4) AS one (id, day, made_with) WHERE record.id = one.id"
    );
    let transcribed = kind_key(Kind::Transcribed);
    match tx.line() {
        Line::Lite(line) => {
            for (id, Begun { day, made_with }) in lot {
                let one = sqlx::query(ONE).bind(id).bind(transcribed).bind(day).bind(made_with);
                one.execute(&mut *line).await?;
            }
        }
        Line::Pg(line) => {
            let (ids, begun): (Vec<String>, Vec<Begun>) = lot.into_iter().unzip();
            let (days, sets): (Vec<i64>, Vec<String>) =
                begun.into_iter().map(|one| (one.day, one.made_with)).unzip();
            let many = sqlx::query(MANY).bind(ids).bind(transcribed).bind(days).bind(sets);
            many.execute(line).await?;
        }
    }
    Ok(())
}

/// Makes all of it, of a database that was kept without.
pub(crate) async fn fill(tx: &mut dyn Wire) -> Result<(), sqlx::Error> {
    let mut after = String::new();
    loop {
        type Row = (String, i64, Option<Vec<u8>>);
        let rows: Vec<Row> = on!(tx, line => sqlx::query_as(
            "SELECT record.id, record.begun_us, event.bytes FROM record \
             LEFT JOIN chain ON chain.record = record.id AND chain.writer = record.writer \
             LEFT JOIN event ON event.chain = chain.id AND event.seq = 0 \
             WHERE record.id > $1 ORDER BY record.id LIMIT $2",
        )
        .bind(&after)
        .bind(TOGETHER)
        .fetch_all(line)
        .await?);
        let Some((last, ..)) = rows.last() else { break };
        after.clone_from(last);
        let lot = rows.into_iter().map(|(id, begun_us, bytes)| {
            let begun = Begun::read(bytes.as_deref(), begun_us);
            (id, begun)
        });
        say(tx, lot.collect()).await?;
    }
    let names: Vec<(String,)> = on!(tx, line => sqlx::query_as(
        "SELECT asset FROM record UNION SELECT name FROM thing WHERE kind = $1",
    )
    .bind(ThingKind::Apparatus.key())
    .fetch_all(line)
    .await?);
    for (name,) in names {
        take(tx, &name).await?;
        recount(tx, &name).await?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    // Derived: 1970-01-01 is day 0; 2000-03-01 is day 11017, after 30 years of 365 days, 7 leap
    // days, and 31 + 29 days.
    #[test]
    fn days_are_counted_from_the_first_of_1970_and_back() {
        let check = |text: &str, expected: i64| {
            let date: Date = text.parse().expect("a day");
            assert_eq!((number(date), day(expected)), (expected, date), "{text}");
        };
        check("1970-01-01", 0);
        check("1969-12-31", -1);
        check("2000-03-01", 30 * 365 + 7 + 31 + 29);
        assert_eq!(day(i64::MAX), Date::MAX);
    }

    #[test]
    fn a_beginning_that_cannot_be_read_is_of_the_day_on_which_it_was_begun() {
        let begun = |bytes: Option<&[u8]>| Begun::read(bytes, 86_400_000_000);
        let unknown = Begun { day: 1, made_with: String::new() };
        assert_eq!(begun(None), unknown);
        assert_eq!(begun(Some(b"{\"job\":")), unknown);
        let known = br#"{"job":{"test":{"date":"1970-01-03"},"set":{"id":"Set 2"}},"plan":{}}"#;
        assert_eq!(begun(Some(known)), Begun { day: 2, made_with: "Set 2".to_owned() });
    }
}
