//! Sheets that are typed before their record is begun.

use store::Store;
use store::trouble::SheetError;

use crate::engine::Engine;
use crate::sample::{JOB, head, wall};

pub(crate) async fn a_sheet_is_written_until_it_is_a_record(engine: Engine) {
    let store = Store::open(&engine.at("records.db")).await.expect("opened");
    let id = store.begin_sheet("", "", wall(0.0)).await.expect("kept");
    // A value that cannot be read is kept as it was typed.
    let half = "[asset]\nid = \"G-0417\"\nrated_kv = \"17,x\"\n";
    store.write_sheet(&id, "G-0417", half, wall(5.0)).await.expect("kept");
    let sheet = store.sheet(&id).await.expect("read").expect("it is here");
    assert_eq!((sheet.asset.as_str(), sheet.given.as_str()), ("G-0417", half));
    assert_eq!((sheet.begun, sheet.kept, sheet.record), (wall(0.0), wall(5.0), None));

    store.write_sheet(&id, "G-0417", JOB, wall(6.0)).await.expect("kept");
    let record = store.begin(&head(), wall(7.0)).await.expect("kept");
    assert_eq!(store.sheet_of(&record).await.expect("read"), None);
    store.sheet_becomes(&id, &record).await.expect("kept");
    let sheet = store.sheet_of(&record).await.expect("read").expect("it was begun from it");
    assert_eq!((sheet.id.as_str(), sheet.given.as_str()), (id.as_str(), JOB));

    let other = store.begin(&head(), wall(8.0)).await.expect("kept");
    for refused in [
        store.write_sheet(&id, "", "", wall(9.0)).await,
        store.sheet_becomes(&id, &other).await,
        store.drop_sheet(&id).await,
    ] {
        assert!(matches!(refused, Err(SheetError::Begun { record: at }) if at == record));
    }
    assert_eq!(store.sheet(&id).await.expect("read"), Some(sheet), "it stays as it was");
}

pub(crate) async fn sheets_not_begun_are_listed_the_last_written_first(engine: Engine) {
    let store = Store::open(&engine.at("records.db")).await.expect("opened");
    let first = store.begin_sheet("one", "", wall(0.0)).await.expect("kept");
    let second = store.begin_sheet("two", "", wall(1.0)).await.expect("kept");
    let begun = store.begin_sheet("three", JOB, wall(2.0)).await.expect("kept");
    let record = store.begin(&head(), wall(3.0)).await.expect("kept");
    store.sheet_becomes(&begun, &record).await.expect("kept");
    store.write_sheet(&first, "one", "# later", wall(4.0)).await.expect("kept");
    let names = async || {
        let sheets = store.sheets().await.expect("a list");
        sheets.into_iter().map(|one| one.asset).collect::<Vec<String>>()
    };
    assert_eq!(names().await, ["one", "two"]);
    store.drop_sheet(&second).await.expect("taken out");
    assert_eq!(names().await, ["one"]);
    let gone = store.write_sheet(&second, "two", "", wall(5.0)).await;
    assert!(matches!(gone, Err(SheetError::NoSheet { sheet }) if sheet == second));
    assert_eq!(store.sheet("nothing").await.expect("read"), None);
}
