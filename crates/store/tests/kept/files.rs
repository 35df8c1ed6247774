//! What only a file has: a path, a journal, bytes on this disk.

use sqlx::Connection as _;
use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection, SqliteJournalMode};
use store::meet::Why;
use store::people::{May, NewPass};
use store::trouble::{ImportError, OpenError};
use store::{RecordId, Store};

use crate::folder::Folder;
use crate::meeting::{SMALL, exported as all_exported, meet, whole};
use crate::sample::{head, remark, wall};

async fn exported(store: &Store, id: &RecordId) -> Vec<u8> {
    let mut file = Vec::new();
    store.export_json(std::slice::from_ref(id), &mut file).await.expect("written");
    file
}

#[tokio::test]
async fn a_file_that_was_being_made_when_its_program_ended_holds_nothing_and_is_gone_on_with() {
    let folder = Folder::new();
    let place = folder.file("records.db");
    std::fs::write(&place, "").expect("the folder is ours");
    let read = Store::open_to_read(&place).await;
    assert!(matches!(read, Err(OpenError::NotThere { .. })), "{read:?}");
    let store = Store::open(&place).await.expect("what is missing is made");
    let id = store.begin(&head(), wall(0.0)).await.expect("kept");
    store.close().await;
    let store = Store::open_to_read(&place).await.expect("it is there");
    assert_eq!(store.verify(&id).await.expect("it can be read"), []);
}

/// A file of something else, in either way that such a file may keep its journal.
#[tokio::test]
async fn what_belongs_to_something_else_is_left_as_it_is() {
    for journal in [SqliteJournalMode::Delete, SqliteJournalMode::Wal] {
        let folder = Folder::new();
        let place = folder.file("other.db");
        let options = SqliteConnectOptions::new().filename(&place).create_if_missing(true);
        let options = options.journal_mode(journal);
        let mut hand = SqliteConnection::connect_with(&options).await.expect("made");
        sqlx::raw_sql("CREATE TABLE song (name TEXT)").execute(&mut hand).await.expect("made");
        hand.close().await.expect("closed");
        let before = std::fs::read(&place).expect("it is there");
        for tried in [
            Store::open(&place).await,
            Store::open_existing(&place).await,
            Store::open_to_read(&place).await,
        ] {
            assert!(matches!(tried, Err(OpenError::Foreign { .. })), "{tried:?}");
        }
        assert_eq!(std::fs::read(&place).expect("it is there"), before, "{journal:?}");
        assert_eq!(std::fs::read_dir(folder.path()).expect("it is there").count(), 1);
    }
}

#[tokio::test]
async fn places_that_cannot_be_used_say_what_to_do() {
    let folder = Folder::new();
    let check = async |place: &str, expected: &str| {
        let error = Store::open(place).await.expect_err(place).to_string();
        assert!(error.contains(expected), "{place}: {error}");
    };
    check("", "give another name").await;
    check("other://localhost/records", "or an address as postgres://").await;
    check("postgres:localhost/records", "an address begins with postgres://").await;
    check("postgres://localhost:1/records", "check that the database server runs").await;
    check("postgres://localhost:1/r?sslmode=require", "leave sslmode out").await;
    check("sqlite::memory:", "journal_mode must be wal").await;
    std::fs::write(folder.path().join("notes.txt"), "plain text, and much of it\n".repeat(90))
        .expect("written");
    check(&folder.file("notes.txt"), "damaged or no database").await;
    check(&folder.file("notes.txt/records.db"), "make the folder").await;
    check("file:/tmp/records.db", "write the path alone, /tmp/records.db").await;
    check("file:///tmp/records.db", "write the path alone, /tmp/records.db").await;
    let folder_itself = folder.path().to_string_lossy().into_owned();
    check(&folder_itself, &folder.file("records.db")).await;
    check(&format!("sqlite:{folder_itself}"), "is a folder").await;
    let read = Store::open_to_read(&folder_itself).await;
    assert!(matches!(read, Err(OpenError::IsFolder { .. })), "{read:?}");
    let gone = Store::open_existing(&folder.file("gone.db")).await;
    assert!(matches!(gone, Err(OpenError::NotThere { .. })));
    assert!(!folder.path().join("gone.db").exists());
}

#[tokio::test]
async fn another_event_in_the_same_place_is_a_conflict() {
    let folder = Folder::new();
    let here = Store::open(&folder.file("here.db")).await.expect("opened");
    let id = here.begin(&head(), wall(0.0)).await.expect("kept");
    here.append(&id, &[remark(1.0, "one")]).await.expect("kept");
    // The database is copied and both copies go on, each by itself, under one name.
    here.close().await;
    std::fs::copy(folder.file("here.db"), folder.file("copy.db")).expect("copied");
    let here = Store::open(&folder.file("here.db")).await.expect("opened");
    let copy = Store::open(&folder.file("copy.db")).await.expect("opened");
    here.append(&id, &[remark(2.0, "two")]).await.expect("kept");
    copy.append(&id, &[remark(2.0, "other")]).await.expect("kept");
    let before = exported(&here, &id).await;
    match here.import(&exported(&copy, &id).await).await {
        Err(ImportError::Conflict { record, seq, .. }) => {
            assert_eq!((record.as_str(), seq), (id.as_str(), 2));
        }
        other => panic!("{other:?}"),
    }
    assert_eq!(exported(&here, &id).await, before);
}

#[tokio::test]
async fn what_a_browser_carries_is_in_no_file() {
    let folder = Folder::new();
    let place = folder.file("records.db");
    let store = Store::open(&place).await.expect("opened");
    store.set_person("Op", "hash", wall(0.0)).await.expect("kept");
    let token = *b"0123456789abcdefghijklmnopqrstuv";
    let new = NewPass {
        token: &token,
        person: "Op",
        device: "tablet",
        may: May::Watch,
        record: None,
        made: wall(0.0),
        until: wall(10.0),
    };
    let pass = store.keep_pass(&new).await.expect("kept");
    store.close().await;
    let bytes = std::fs::read(&place).expect("the file");
    let has = |what: &[u8]| bytes.windows(what.len()).any(|found| found == what);
    assert!(!has(&token), "the token itself is kept");
    assert!(has(b"tablet"), "the pass is there");
    // SHA-256 of these 32 bytes, by `printf 0123456789abcdefghijklmnopqrstuv | sha256sum`.
    assert_eq!(pass.name, "73337f479fe170d73e53e247f3052e4243cc9c2a0ffa621853d9385c619efb77");
}

/// A laptop whose database was put back from a copy, and went on from there.
#[tokio::test]
async fn one_writer_with_two_ends_is_refused_by_name_and_nothing_is_lost() {
    let folder = Folder::new();
    let here = Store::open(&folder.file("here.db")).await.expect("opened");
    let office = Store::open(&folder.file("office.db")).await.expect("opened");
    let id = here.begin(&head(), wall(0.0)).await.expect("kept");
    here.append(&id, &[remark(1.0, "a")]).await.expect("kept");
    here.close().await;
    std::fs::copy(folder.file("here.db"), folder.file("copy.db")).expect("copied");
    let here = Store::open(&folder.file("here.db")).await.expect("opened");
    let copy = Store::open(&folder.file("copy.db")).await.expect("opened");
    here.append(&id, &[remark(2.0, "the one")]).await.expect("kept");
    copy.append(&id, &[remark(2.0, "the other"), remark(3.0, "more")]).await.expect("kept");
    let other = whole(&copy, 7.0).await;
    meet(&here, &office, SMALL).await;
    let before = all_exported(&office).await;
    let taken = meet(&copy, &office, 1 << 20).await;
    let refused: Vec<_> = taken.iter().flat_map(|taken| &taken.refused).collect();
    assert_eq!(refused.len(), 1);
    assert_eq!((&refused[0].record[..], refused[0].seq), (id.as_str(), 2));
    assert!(matches!(refused[0].why, Why::Other { .. }), "{refused:?}");
    let kept = office.refused().await.expect("read");
    assert_eq!((kept.len(), &kept[0].refused), (1, refused[0]));
    meet(&copy, &office, SMALL).await;
    assert_eq!(office.refused().await.expect("read").len(), 1, "told once");
    // The other record came all the same, and the one in doubt is as it was.
    assert!(office.record(&other).await.is_ok());
    let only = Store::open(&folder.file("only.db")).await.expect("opened");
    only.import(&before).await.expect("taken in");
    assert_eq!(
        only.seals(&id).await.expect("seals"),
        office.seals(&id).await.expect("seals"),
        "as it was"
    );
    assert_eq!(office.verify_all().await.expect("gone through"), []);
    assert_eq!(copy.verify_all().await.expect("gone through"), []);
}
