//! In and out again; names; lists.

use sqlx::Connection as _;
use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection, SqliteJournalMode};
use store::trouble::{AppendError, OpenError, ReadError};
use store::{Filter, RecordId, Store};

use crate::folder::Folder;
use crate::sample::{batch, closed, head, remark, typed, wall};

#[tokio::test]
async fn what_goes_in_comes_out() {
    let folder = Folder::new();
    let place = folder.file("deep/er/records.db");
    let store = Store::open(&place).await.expect("it is made, with its folder");
    let id = store.begin(&head(), wall(0.0)).await.expect("kept");
    let entries = [typed(1.0, 25.0, 7.0), batch(2.0, 150), remark(40.0, "rain")];
    let seal = store.append(&id, &entries).await.expect("kept");
    assert_eq!(seal.seq, 3);
    let after = store.append(&id, &[closed(50.0)]).await.expect("kept");
    assert_eq!(after.seq, 4);
    assert_ne!(after.code, seal.code);
    store.close().await;

    let store = Store::open_to_read(&place).await.expect("it is there");
    let stored = store.record(&id).await.expect("it is whole");
    let mut expected = entries.to_vec();
    expected.push(closed(50.0));
    assert_eq!(stored.record, head().with(expected));
    assert_eq!(stored.seals, [(store.writer().to_owned(), after)]);
    let list = store.list(&Filter::default()).await.expect("a list");
    let [line] = &list[..] else { panic!("one record: {list:?}") };
    assert_eq!((line.events, line.readings, line.closed), (4, 151, true));
    assert_eq!((line.asset.as_str(), line.begun, line.last), ("G-0417", wall(0.0), wall(50.0)));
    assert_eq!(line.kind, head().kind);
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

#[tokio::test]
async fn open_records_and_those_of_one_object_are_listed() {
    let folder = Folder::new();
    let store = Store::open(&folder.file("records.db")).await.expect("opened");
    let first = store.begin(&head(), wall(0.0)).await.expect("kept");
    let mut other = head();
    other.job.asset.id = "G-0500".to_owned();
    let second = store.begin(&other, wall(10.0)).await.expect("kept");
    store.append(&first, &[closed(1.0)]).await.expect("kept");
    let names = |list: Vec<store::Summary>| list.into_iter().map(|one| one.id).collect::<Vec<_>>();
    let all = store.list(&Filter::default()).await.expect("a list");
    assert_eq!(names(all), [second.clone(), first.clone()], "the newest first");
    assert_eq!(names(store.open_records().await.expect("a list")), [second]);
    let of = Filter { asset: Some("G-0417".to_owned()), open: false };
    assert_eq!(names(store.list(&of).await.expect("a list")), [first]);
}

#[tokio::test]
async fn a_name_may_be_given_in_part() {
    let folder = Folder::new();
    let store = Store::open(&folder.file("records.db")).await.expect("opened");
    let first = store.begin(&head(), wall(0.0)).await.expect("kept");
    let second = store.begin(&head(), wall(0.0)).await.expect("kept");
    for id in [&first, &second] {
        let text = id.as_str();
        for part in [text, &text[..30], &text[24..], &text.to_uppercase()] {
            assert_eq!(&store.resolve(part).await.expect("one"), id, "{part}");
        }
    }
    match store.resolve(&first.as_str()[..8]).await {
        Err(ReadError::Several { records, .. }) => assert_eq!(records.len(), 2),
        other => panic!("both begin so: {other:?}"),
    }
    for none in ["", "zz", &"0".repeat(40)] {
        assert!(matches!(store.resolve(none).await, Err(ReadError::NoRecord { .. })), "{none}");
    }
    let gone = Store::open(&folder.file("other.db")).await.expect("opened");
    let no_record = gone.append(&first, &[closed(1.0)]).await;
    assert!(matches!(no_record, Err(AppendError::NoRecord { .. })), "{no_record:?}");
    assert!(matches!(gone.record(&first).await, Err(ReadError::NoRecord { .. })));
}

#[tokio::test]
async fn nothing_follows_the_end() {
    let folder = Folder::new();
    let store = Store::open(&folder.file("records.db")).await.expect("opened");
    let id: RecordId = store.begin(&head(), wall(0.0)).await.expect("kept");
    store.append(&id, &[closed(1.0)]).await.expect("kept");
    let late = store.append(&id, &[remark(2.0, "late")]).await;
    assert!(matches!(late, Err(AppendError::Closed)), "{late:?}");
    assert_eq!(store.record(&id).await.expect("whole").record.events.len(), 1);
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

/// Each opening is a program of its own: they share nothing but the file.
#[tokio::test(flavor = "multi_thread", worker_threads = 8)]
async fn many_that_make_the_same_file_at_once_all_write_to_it() {
    for _ in 0..8 {
        let folder = Folder::new();
        let place = folder.file("records.db");
        let started: Vec<_> = (0..8)
            .map(|at| {
                let place = place.clone();
                tokio::spawn(async move {
                    let store = Store::open(&place).await.expect("opened");
                    store.begin(&head(), wall(f64::from(at))).await.expect("kept");
                    store.close().await;
                })
            })
            .collect();
        for one in started {
            one.await.expect("each of them writes");
        }
        let store = Store::open_to_read(&place).await.expect("it is there");
        assert_eq!(store.list(&Filter::default()).await.expect("a list").len(), 8);
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
    check("postgres://localhost/records", "give a file for the database").await;
    check("mysql://localhost/records", "give a file for the database").await;
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
