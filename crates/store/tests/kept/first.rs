//! A database of the first edition, brought forward.
//!
//! `first.json` are the rows that the program of the first edition wrote (commit 351c2e1, through
//! its own functions): a job with what it names, a later calibration, a record that was closed and
//! judged, and one that was open.

use serde_json::{Map, Value};
use store::things::ThingKind;
use store::trouble::OpenError;
use store::{Filter, Store};

use crate::engine::Engine;
use crate::sample::remark;

const ROWS: &str = include_str!("first.json");

/// The first edition's tables as it made them, and the rows.
async fn first(engine: &Engine, name: &str) {
    let mut statements: Vec<String> = Engine::FIRST.iter().map(|one| (*one).to_owned()).collect();
    let tables: Map<String, Value> = serde_json::from_str(ROWS).expect("as it was written");
    // Rows that others are named by come first.
    for table in [
        "ohmstead_edition",
        "installation",
        "record",
        "chain",
        "event",
        "findings",
        "job",
        "thing",
        "calibration",
    ] {
        for row in tables[table].as_array().expect("rows") {
            let row = row.as_object().expect("columns");
            let columns: Vec<String> = row.keys().map(|name| format!("\"{name}\"")).collect();
            let values: Vec<String> = row.values().map(literal).collect();
            let (columns, values) = (columns.join(", "), values.join(", "));
            statements.push(format!("INSERT INTO {table} ({columns}) VALUES ({values})"));
        }
    }
    engine.obey(name, &statements).await;
}

fn literal(value: &Value) -> String {
    match value {
        Value::Null => "NULL".to_owned(),
        Value::Number(number) => number.to_string(),
        Value::String(text) => format!("'{}'", text.replace('\'', "''")),
        Value::Object(bytes) => match (bytes.get("text"), bytes.get("hex")) {
            (Some(Value::String(text)), _) => {
                let hex = text.bytes().map(|byte| format!("{byte:02x}")).collect::<String>();
                Engine::bytes(&hex)
            }
            (_, Some(Value::String(hex))) => Engine::bytes(hex),
            other => panic!("{other:?}"),
        },
        other => panic!("{other}"),
    }
}

pub(crate) async fn a_database_of_the_first_edition_is_brought_forward(engine: Engine) {
    first(&engine, "records.db").await;
    let place = engine.at("records.db");
    match Store::open_to_read(&place).await {
        Err(error @ OpenError::Older { found, known, .. }) => {
            assert!(found == 1 && known > 3);
            // Which one, and with what.
            let told = error.to_string();
            assert!(told.contains("keep JOB.toml"), "{told}");
        }
        other => panic!("{other:?}"),
    }
    let store = Store::open(&place).await.expect("brought forward");
    assert_eq!(store.writer(), "01a228ba-71e0-7b1d-85b3-333332cba254");
    assert_eq!(store.verify_all().await.expect("gone through"), []);
    // As the program of the first edition printed them.
    let codes = [
        ("01a1a0a4-8920-74de-b1de-a16c9076be87", 1, "9011 ed99 7e3d 7b86"),
        ("01a1a0a3-2990-73fb-b586-7de72e84af5d", 4, "4a25 64d7 817e b4d4"),
    ];
    let list = store.list(&Filter::default()).await.expect("a list");
    for (line, (id, seq, code)) in list.iter().zip(codes) {
        let seals = store.seals(&line.id).await.expect("its seals");
        assert_eq!((line.id.as_str(), seals[0].1.seq, &seals[0].1.short()[..]), (id, seq, code));
    }
    let [open, closed] = &list[..] else { panic!("two records: {list:?}") };
    assert_eq!((open.closed, closed.closed, closed.readings), (false, true, 21));
    let record = store.record(&closed.id).await.expect("whole").record;
    let said = format!("{:?}", record.events);
    assert!(said.contains("rain"), "{said}");
    let findings = store.findings(&closed.id).await.expect("a list");
    assert_eq!((findings.len(), findings[0].verdict.as_str()), (1, "accept"));
    let calibrations = store.calibrations(ThingKind::Set, "HV set 2").await.expect("a list");
    let days: Vec<String> = calibrations.iter().map(|one| one.date.to_string()).collect();
    assert_eq!(days, ["2025-03-02", "2026-03-02"]);
    assert_eq!(store.jobs().await.expect("a list").len(), 1);
    assert_eq!(store.apparatus().await.expect("a list").len(), 1);
    assert_eq!(store.sets().await.expect("a list").len(), 1);
    // What overviews ask is made of what was there before any.
    let of = store.life(&closed.asset).await.expect("looked up").expect("it is kept");
    assert_eq!((of.tests, of.open, of.item.as_str()), (2, true, "glove"));
    let last = of.last.expect("one is closed");
    assert_eq!((&last.record, last.verdict.as_deref()), (&closed.id, Some("accept")));
    assert_eq!(store.unsigned().await.expect("a list"), std::slice::from_ref(closed));
    assert_eq!(store.open_records().await.expect("a list"), std::slice::from_ref(open));
    assert!(store.last_made_with("HV set 2").await.expect("looked up").is_some());
    // It is gone on with, in the chain that was there.
    let seal = store.append(&open.id, &[remark(2.0, "gone on")]).await.expect("kept");
    assert_eq!(seal.seq, 2);
    assert_eq!(store.verify_all().await.expect("gone through"), []);
}
