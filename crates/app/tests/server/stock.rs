//! Very many tests, as the program of the edition before overviews left them, brought forward by
//! the program; and some real ones, for the pages that read what is sealed.
//!
//! The many are rows as they stand in the tables, with a beginning of 1 kB each and nothing that
//! follows it: no page that lists them reads more. Their seals are none, so no page of one of them
//! is asked for. The real ones are written, judged and kept by the program's own functions.

use std::time::Instant;

use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{Span, Timestamp};
use judge::judge;
use plan::Job;
use plan::job::{Asset, AssetClass};
use session::record::{Head, Kind, RECORD_FORMAT};
use session::{Entry, Event, Record};
use sqlx::postgres::PgConnection;
use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection};
use sqlx::{AssertSqlSafe, Connection as _};
use store::Store;

/// Tests of each apparatus.
pub(crate) const EACH: u64 = 20;

/// The apparatus whose page is asked for, and others of its class with one newer test each.
pub(crate) const LOOKED_AT: &str = "REAL-00";
pub(crate) const LIKES: u64 = 30;

/// Plates of what was never tested.
pub(crate) const NEW: u64 = 10;

macro_rules! editions {
    ($engine:literal) => {
        [
            include_str!(concat!("../../../store/migrations/", $engine, "/0001-records.sql")),
            include_str!(concat!(
                "../../../store/migrations/",
                $engine,
                "/0002-sheets-and-people.sql"
            )),
            include_str!(concat!("../../../store/migrations/", $engine, "/0003-far-end.sql")),
            include_str!(concat!("../../../store/migrations/", $engine, "/0004-meetings.sql")),
            include_str!(concat!(
                "../../../store/migrations/",
                $engine,
                "/0005-far-end-of-one-record.sql"
            )),
        ]
    };
}

/// How many there are, and as of which day.
#[derive(Clone, Copy)]
pub(crate) struct Stock {
    pub(crate) apparatus: u64,
    pub(crate) today: Date,
}

/// One of the real tests.
pub(crate) struct Real {
    pub(crate) name: String,
    pub(crate) begun: Timestamp,
    pub(crate) verdict: String,
}

impl Stock {
    pub(crate) fn tests(self) -> u64 {
        self.apparatus * EACH
    }

    /// The first of the many was begun twenty years ago, the last forty days ago.
    fn times(self) -> (i64, i64) {
        let day = |back: Span| {
            let day = self.today.checked_sub(back).expect("within the calendar");
            moment(day, 0).as_microsecond()
        };
        let (first, last) = (day(Span::new().years(20)), day(Span::new().days(40)));
        (first, (last - first) / i64::try_from(self.tests()).expect("few enough"))
    }

    pub(crate) fn day(self, test: u64) -> Date {
        let (first, step) = self.times();
        let at = first + step * i64::try_from(test).expect("few enough");
        let at = Timestamp::from_microsecond(at).expect("within the calendar");
        TimeZone::UTC.to_datetime(at).date()
    }

    /// The last test of an apparatus.
    pub(crate) fn last(self, apparatus: u64) -> u64 {
        apparatus + (EACH - 1) * self.apparatus
    }
}

fn moment(day: Date, hour: i8) -> Timestamp {
    TimeZone::UTC.to_timestamp(day.at(hour, 0, 0, 0)).expect("within the calendar")
}

pub(crate) fn name(apparatus: u64) -> String {
    let kind = match apparatus % 4 {
        2 => "SWG",
        3 => "GLV",
        _ => "FDR",
    };
    format!("{kind}-{apparatus:06}")
}

pub(crate) fn has_plate(apparatus: u64) -> bool {
    apparatus % 20 != 19
}

/// What was found in a test; nothing where it was not judged.
pub(crate) fn verdict(test: u64) -> &'static str {
    match test * 7919 % 100 {
        ..10 => "",
        10..14 => "reject",
        14..22 => "investigate",
        22..25 => "void",
        _ => "accept",
    }
}

pub(crate) fn is_signed(test: u64) -> bool {
    !verdict(test).is_empty() && test * 31 % 10 < 8
}

/// The same in SQL.
const VERDICT: &str = "CASE WHEN i * 7919 % 100 < 14 THEN 'reject' \
     WHEN i * 7919 % 100 < 22 THEN 'investigate' WHEN i * 7919 % 100 < 25 THEN 'void' \
     ELSE 'accept' END";
const JUDGED: &str = "i * 7919 % 100 >= 10";
const SIGNED: &str = "i * 7919 % 100 >= 10 AND i * 31 % 10 < 8";
const WRITER: &str = "00000000-0000-7000-8000-00000000feed";

/// What the engines write each in its own way.
struct Words {
    /// A number as eight hexadecimal letters, and an apparatus as six digits.
    hex: fn(&str) -> String,
    six: fn(&str) -> String,
    bytes: fn(&str) -> String,
    seal: &'static str,
    /// Whole numbers `i` from 0 on, so many.
    series: fn(u64) -> String,
    number: &'static str,
}

const FILE: Words = Words {
    hex: |of| format!("printf('%08x', {of})"),
    six: |of| format!("printf('%06d', {of})"),
    bytes: |of| format!("CAST({of} AS BLOB)"),
    seal: "zeroblob(32)",
    series: |number| {
        format!(
            "(WITH RECURSIVE series (i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM series \
             WHERE i < {number} - 1) SELECT i FROM series)"
        )
    },
    number: "INTEGER",
};

const SERVER: Words = Words {
    hex: |of| format!("lpad(to_hex({of}), 8, '0')"),
    six: |of| format!("lpad(({of})::TEXT, 6, '0')"),
    bytes: |of| format!("convert_to({of}, 'UTF8')"),
    seal: "decode(repeat('00', 32), 'hex')",
    series: |number| format!("generate_series(0::BIGINT, {number} - 1) AS series (i)"),
    number: "BIGINT",
};

/// All that is written by hand, in the order in which it is.
fn statements(stock: Stock, words: &Words) -> Vec<String> {
    let &Words { hex, six, bytes, seal, series, number } = words;
    let (tests, apparatus) = (stock.tests(), stock.apparatus);
    let (first, step) = stock.times();
    let id = |of: &str, kind: u8| format!("{} || '-0000-7000-800{kind}-000000000000'", hex(of));
    let record = id("i", 0);
    let kinds = |of: &str| {
        format!(
            "CASE {of} % 4 WHEN 2 THEN 'SWG-' WHEN 3 THEN 'GLV-' ELSE 'FDR-' END || {}",
            six(of)
        )
    };
    let asset = kinds(&format!("(i % {apparatus})"));
    let beginning = bytes(&format!(
        "'{{\"job\":{{\"test\":{{}},\"set\":{{\"id\":\"Set ' || (i % 30) || '\"}}}},\
         \"more\":\"{}\"}}'",
        "0123456789abcdef".repeat(60)
    ));
    let from = series(tests);
    let plate = |example: &str, class: AssetClass| {
        let asset = Asset { id: "THE NAME".to_owned(), class, ..example_job(example).asset };
        let text = serde_json::to_string(&asset).expect("plain data").replace('\'', "''");
        format!("'{text}'")
    };
    let plates = format!(
        "replace(CASE i % 4 WHEN 2 THEN {} WHEN 3 THEN {} ELSE {} END, 'THE NAME', {})",
        plate("cable", AssetClass::Switchgear),
        plate("gloves", AssetClass::Protective),
        plate("cable", AssetClass::Cable),
        kinds("i"),
    );
    let new = format!("'NEW-' || {}", six("i"));
    let mut all = vec![format!(
        "CREATE TABLE ohmstead_edition (edition {number} PRIMARY KEY, made_us {number} NOT NULL)"
    )];
    for edition in 1..=5 {
        all.push(format!("INSERT INTO ohmstead_edition VALUES ({edition}, 0)"));
    }
    all.extend([
        format!(
            "INSERT INTO record (id, writer, kind, asset, begun_us, last_us, closed, events, \
             readings) SELECT {record}, '{WRITER}', 'test', {asset}, {first} + i * {step}, \
             {first} + i * {step}, 1, 4, 40 FROM {from}"
        ),
        format!(
            "INSERT INTO chain (id, record, writer, seq, seal) \
             SELECT i + 1, {record}, '{WRITER}', 4, {seal} FROM {from}"
        ),
        format!(
            "INSERT INTO event (chain, seq, bytes, seal) \
             SELECT i + 1, 0, {beginning}, {seal} FROM {from}"
        ),
        format!(
            "INSERT INTO findings (id, record, judged_us, method, verdict, code, bytes, seal) \
             SELECT {}, {record}, {first} + i * {step}, 'judge', {VERDICT}, '', {}, {seal} \
             FROM {from} WHERE {JUDGED}",
            id("i", 1),
            bytes("'{}'")
        ),
        format!(
            "INSERT INTO signature (id, record, signed_us, name, role, code, seal) \
             SELECT {}, {record}, {first}, 'A. Tester', 'tester', '', {seal} FROM {from} \
             WHERE {SIGNED}",
            id("i", 2)
        ),
        format!(
            "INSERT INTO thing (id, kind, name, kept_us, bytes) \
             SELECT {}, 'apparatus', {}, {first}, {plates} FROM {} WHERE i % 20 <> 19",
            id("i", 3),
            kinds("i"),
            series(apparatus)
        ),
        format!(
            "INSERT INTO thing (id, kind, name, kept_us, bytes) \
             SELECT {}, 'apparatus', {new}, {first}, replace({}, 'THE NAME', {new}) FROM {}",
            id("i", 4),
            plate("cable", AssetClass::Cable),
            series(NEW)
        ),
    ]);
    all
}

fn example_job(example: &str) -> Job {
    let text = match example {
        "cable" => include_str!("../../../../docs/examples/cable.toml"),
        _ => include_str!("../../../../docs/examples/gloves.toml"),
    };
    plan::job_file::parse(text).expect("the example is well formed")
}

macro_rules! obey {
    ($hand:ident, $said:expr) => {
        let said = AssertSqlSafe(String::from($said));
        sqlx::raw_sql(said).execute(&mut $hand).await.expect("it obeys");
    };
}

/// Fills an empty place, and brings it forward; how many seconds the second took.
pub(crate) async fn fill(place: &str, stock: Stock) -> f64 {
    if place.starts_with("postgres") {
        let mut hand = PgConnection::connect(place).await.expect("a server");
        for edition in editions!("postgres") {
            obey!(hand, edition);
        }
        for statement in statements(stock, &SERVER) {
            obey!(hand, statement);
        }
        obey!(hand, "VACUUM ANALYZE");
        let seconds = bring_forward(place).await;
        // What a server does by itself once it has a minute.
        obey!(hand, "VACUUM ANALYZE");
        return seconds;
    }
    let options = SqliteConnectOptions::new().filename(place).create_if_missing(true);
    let mut hand = SqliteConnection::connect_with(&options).await.expect("a file");
    for edition in editions!("sqlite") {
        obey!(hand, edition);
    }
    obey!(hand, "BEGIN");
    for statement in statements(stock, &FILE) {
        obey!(hand, statement);
    }
    obey!(hand, "COMMIT");
    hand.close().await.expect("closed");
    bring_forward(place).await
}

async fn bring_forward(place: &str) -> f64 {
    let begun = Instant::now();
    Store::open(place).await.expect("brought forward").close().await;
    begun.elapsed().as_secs_f64()
}

/// Keeps the real ones: of one apparatus a test each year, of others one.
pub(crate) async fn keep_real(place: &str, stock: Stock) -> Vec<Real> {
    let store = Store::open(place).await.expect("it is there");
    let example = example_record();
    let mut real = Vec::new();
    for year in (0..EACH).rev() {
        let back = Span::new().years(i64::try_from(year).expect("few")).days(2);
        real.push(keep_one(&store, &example, (LOOKED_AT, back), stock).await);
    }
    for like in (1..=LIKES).rev() {
        let back = Span::new().days(i64::try_from(like).expect("few") + 2);
        real.push(keep_one(&store, &example, (&format!("REAL-{like:02}"), back), stock).await);
    }
    for set in 0..30 {
        let kept = store.keep_set(&format!("Set {set}"), &example.job.set, Timestamp::now()).await;
        kept.expect("there is room");
    }
    store.close().await;
    real
}

fn example_record() -> Record {
    let job = example_job("cable");
    let plan = plan::plan(&job, &standards::Library::published());
    let bytes = include_bytes!("../../../../docs/examples/cable-readings.csv");
    let readings = session::readings::parse(bytes).expect("the example is well formed");
    session::transcribe(&job, &plan, &readings)
}

async fn keep_one(
    store: &Store,
    example: &Record,
    (name, back): (&str, Span),
    stock: Stock,
) -> Real {
    let day = stock.today.checked_sub(back).expect("within the calendar");
    let begun = moment(day, 12);
    let mut job = example.job.clone();
    job.asset.id = name.to_owned();
    job.test.date = Some(day);
    job.set.id = Some("Set 1".to_owned());
    store.keep_apparatus(&job.asset, begun).await.expect("there is room");
    let mut events = example.events.clone();
    events.push(Entry::from(Event::Closed));
    let head = Head {
        format: RECORD_FORMAT.to_owned(),
        kind: Kind::Test,
        source: None,
        job,
        plan: example.plan.clone(),
    };
    let id = store.begin(&head, begun).await.expect("there is room");
    store.append(&id, &events).await.expect("there is room");
    let found = judge(&head.with(events), &standards::Library::published());
    let bytes = serde_json::to_vec(&found).expect("plain data");
    let verdict = serde_json::to_value(found.verdict).expect("a word");
    let verdict = verdict.as_str().expect("a word").to_owned();
    let kept = store.keep_findings(&id, &found.method, &verdict, &bytes, begun).await;
    kept.expect("there is room");
    Real { name: name.to_owned(), begun, verdict }
}
