//! What is acknowledged stays, whatever happens to the disk, the file or the program.

use std::path::{Path, PathBuf};

use sqlx::Connection as _;
use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection};
use store::trouble::{AppendError, OpenError, Trouble};
use store::{Filter, RecordId, Store};

use crate::folder::Folder;
use crate::sample::{batch, closed, head, remark, wall};

async fn begun(folder: &Folder) -> (Store, RecordId) {
    let store = Store::open(&folder.file("records.db")).await.expect("opened");
    let id = store.begin(&head(), wall(0.0)).await.expect("kept");
    (store, id)
}

async fn events(store: &Store, id: &RecordId) -> usize {
    assert_eq!(store.verify(id).await.expect("gone through"), []);
    store.record(id).await.expect("whole").record.events.len()
}

/// What a computer that stops at once leaves behind: the files as they are at that moment.
fn snapshot(folder: &Folder, name: &str) -> String {
    for end in ["", "-wal"] {
        let from = folder.file(&format!("records.db{end}"));
        if Path::new(&from).exists() {
            std::fs::copy(from, folder.file(&format!("{name}{end}"))).expect("copied");
        }
    }
    folder.file(name)
}

#[tokio::test]
async fn what_was_acknowledged_is_there_after_a_sudden_end() {
    let folder = Folder::new();
    let (store, id) = begun(&folder).await;
    for number in 0..30_u32 {
        let at = f64::from(number);
        store.append(&id, &[batch(at, 150), remark(at, "and on")]).await.expect("kept");
        if number % 5 != 0 {
            continue;
        }
        let place = snapshot(&folder, &format!("after-{number}.db"));
        let after = Store::open(&place).await.expect("opened");
        let expected = 2 * (usize::try_from(number).expect("few") + 1);
        assert_eq!(events(&after, &id).await, expected);
        after.append(&id, &[remark(at, "taken up again")]).await.expect("kept");
        assert_eq!(events(&after, &id).await, expected + 1);
    }
}

#[tokio::test]
async fn a_journal_that_is_torn_costs_what_was_not_acknowledged_alone() {
    let folder = Folder::new();
    let (store, id) = begun(&folder).await;
    store.append(&id, &[remark(1.0, "kept")]).await.expect("kept");
    let place = snapshot(&folder, "torn.db");
    let journal = format!("{place}-wal");
    let mut bytes = std::fs::read(&journal).expect("there");
    // The beginning of a page that never got to its end.
    bytes.extend(std::iter::repeat_n(0x5a, 1000));
    std::fs::write(&journal, bytes).expect("written");
    let after = Store::open(&place).await.expect("opened");
    assert_eq!(events(&after, &id).await, 1);
}

#[tokio::test]
async fn a_full_disk_keeps_nothing_by_halves_and_goes_on_when_there_is_room() {
    let folder = Folder::new();
    let (store, id) = begun(&folder).await;
    let mut kept = 0;
    for number in 0..20_u32 {
        store.append(&id, &[batch(f64::from(number), 150)]).await.expect("kept");
        kept += 1;
    }
    // The limit is below what the file has already, so it is full as it stands.
    store.limit_pages(Some(1)).await.expect("set");
    let many: Vec<_> = (0..40_u32).map(|number| batch(f64::from(number), 150)).collect();
    for _ in 0..3 {
        match store.append(&id, &many).await {
            Err(error) => {
                let said = error.to_string();
                assert_eq!(
                    said,
                    "write the readings down by hand; make room on the disk — it is full"
                );
            }
            Ok(seal) => panic!("the disk is full: {seal}"),
        }
        assert_eq!(events(&store, &id).await, kept, "nothing of it is there");
    }
    store.limit_pages(None).await.expect("set");
    store.append(&id, &many).await.expect("there is room again");
    assert_eq!(events(&store, &id).await, kept + many.len());
    let list = store.list(&Filter::default()).await.expect("a list");
    assert_eq!(list[0].events, 60);
}

#[tokio::test]
async fn a_file_that_may_only_be_read_says_so() {
    let folder = Folder::new();
    let (store, id) = begun(&folder).await;
    store.append(&id, &[remark(1.0, "kept")]).await.expect("kept");
    store.close().await;
    for place in
        [folder.file("records.db"), format!("sqlite:{}?mode=ro", folder.file("records.db"))]
    {
        let reader = Store::open_to_read(&place).await.expect("it can be read");
        assert_eq!(events(&reader, &id).await, 1);
        match reader.append(&id, &[remark(2.0, "no")]).await {
            Err(AppendError::Database(trouble)) => assert_eq!(trouble, Trouble::ReadOnly),
            other => panic!("{other:?}"),
        }
    }
    let place = format!("sqlite:{}?mode=ro", folder.file("records.db"));
    let store = Store::open(&place).await.expect("opened, as it is there");
    let refused = store.begin(&head(), wall(9.0)).await;
    assert!(matches!(refused, Err(AppendError::Database(Trouble::ReadOnly))), "{refused:?}");
}

#[tokio::test]
async fn a_locked_database_says_so_and_goes_on_when_it_is_free() {
    let folder = Folder::new();
    let (store, id) = begun(&folder).await;
    let options = SqliteConnectOptions::new().filename(folder.file("records.db"));
    let mut other = SqliteConnection::connect_with(&options).await.expect("opened");
    sqlx::raw_sql("BEGIN EXCLUSIVE").execute(&mut other).await.expect("held");
    match store.append(&id, &[remark(1.0, "later")]).await {
        Err(AppendError::Database(trouble)) => {
            assert_eq!(trouble, Trouble::Locked);
            assert!(trouble.may_pass());
        }
        other => panic!("it is locked: {other:?}"),
    }
    sqlx::raw_sql("ROLLBACK").execute(&mut other).await.expect("let go");
    store.append(&id, &[remark(1.0, "later")]).await.expect("kept");
    assert_eq!(events(&store, &id).await, 1);
}

#[tokio::test]
async fn a_second_program_is_refused_while_the_first_one_runs() {
    let folder = Folder::new();
    let (first, id) = begun(&folder).await;
    let second = Store::open(&folder.file("records.db")).await.expect("opened");
    assert_eq!(second.writer(), first.writer());
    let refused = second.append(&id, &[remark(0.0, "second")]).await;
    assert!(matches!(refused, Err(AppendError::Held)), "from its beginning on: {refused:?}");
    first.append(&id, &[remark(1.0, "first")]).await.expect("kept");
    for _ in 0..2 {
        let refused = second.append(&id, &[remark(2.0, "second")]).await;
        assert!(matches!(refused, Err(AppendError::Held)), "{refused:?}");
    }
    let other = second.begin(&head(), wall(3.0)).await.expect("a record of its own");
    second.append(&other, &[remark(4.0, "second")]).await.expect("kept");
    first.append(&id, &[remark(5.0, "first again")]).await.expect("kept");
    first.close().await;
    second.append(&id, &[remark(6.0, "taken up")]).await.expect("kept");
    assert_eq!(events(&second, &id).await, 3);
    second.append(&id, &[closed(7.0)]).await.expect("kept");
    second.let_go(&other);
    assert_eq!(locks(&folder), Vec::<PathBuf>::new(), "nothing is left behind");
}

fn locks(folder: &Folder) -> Vec<PathBuf> {
    let files = std::fs::read_dir(folder.path()).expect("there").flatten().map(|one| one.path());
    files.filter(|path| path.extension().is_some_and(|end| end == "lock")).collect()
}

/// A real disk without room: a file system of one megabyte in memory.
#[tokio::test]
#[ignore = "needs root: it mounts a file system of one megabyte"]
async fn a_small_disk_that_fills_up_loses_nothing_acknowledged() {
    let folder = Folder::new();
    let disk = folder.path().to_owned();
    let mount = |words: &[&str]| {
        let done = std::process::Command::new(words[0]).args(&words[1..]).arg(&disk).status();
        assert!(done.is_ok_and(|status| status.success()), "{words:?}");
    };
    mount(&["mount", "-t", "tmpfs", "-o", "size=1m", "none"]);
    let (store, id) = begun(&folder).await;
    std::fs::write(folder.path().join("ballast"), vec![0; 200_000]).expect("there is room");
    let mut kept = 0;
    let trouble = loop {
        match store.append(&id, &[batch(f64::from(kept), 150)]).await {
            Ok(_) => kept += 1,
            Err(trouble) => break trouble,
        }
        assert!(kept < 1000, "it never fills up");
    };
    assert!(matches!(trouble, AppendError::Database(Trouble::Full)), "{trouble:?}");
    assert_eq!(events(&store, &id).await, usize::try_from(kept).expect("few"));
    std::fs::remove_file(folder.path().join("ballast")).expect("taken away");
    store.append(&id, &[batch(f64::from(kept), 150)]).await.expect("there is room again");
    store.close().await;
    mount(&["mount", "-o", "remount,ro"]);
    match Store::open(&folder.file("records.db")).await {
        Err(OpenError::Database(trouble)) => assert!(trouble.may_pass(), "{trouble}"),
        Err(other) => panic!("{other}"),
        Ok(store) => {
            let refused = store.append(&id, &[remark(0.0, "no")]).await;
            let read_only = AppendError::Database(Trouble::ReadOnly).to_string();
            assert_eq!(refused.expect_err("it may only be read").to_string(), read_only);
            store.close().await;
        }
    }
    let reader = Store::open_to_read(&folder.file("records.db")).await.expect("it can be read");
    assert_eq!(events(&reader, &id).await, usize::try_from(kept).expect("few") + 1);
    reader.close().await;
    mount(&["umount"]);
}

#[tokio::test]
async fn a_database_of_a_later_version_or_of_something_else_is_left_alone() {
    let folder = Folder::new();
    let (store, _) = begun(&folder).await;
    store.close().await;
    let options = SqliteConnectOptions::new().filename(folder.file("records.db"));
    let mut hand = SqliteConnection::connect_with(&options).await.expect("opened");
    let later = "INSERT INTO ohmstead_edition (edition, made_us) VALUES (99, 0)";
    sqlx::raw_sql(later).execute(&mut hand).await.expect("done");
    hand.close().await.expect("closed");
    for opened in [
        Store::open(&folder.file("records.db")).await,
        Store::open_to_read(&folder.file("records.db")).await,
    ] {
        match opened {
            Err(OpenError::Newer { found, known }) => assert_eq!((found, known), (99, 6)),
            other => panic!("{other:?}"),
        }
    }
    let options = SqliteConnectOptions::new().filename(folder.file("other.db"));
    let mut hand = SqliteConnection::connect_with(&options.create_if_missing(true)).await;
    let hand = hand.as_mut().expect("made");
    sqlx::raw_sql("CREATE TABLE stock (item TEXT)").execute(hand).await.expect("done");
    let other = Store::open(&folder.file("other.db")).await;
    assert!(matches!(other, Err(OpenError::Foreign { .. })), "{other:?}");
}

/// An hour of twenty-eight batches a second in small: the file grows, an append does not slow.
#[tokio::test]
async fn a_hundred_thousand_events_stay_quick_to_add_to() {
    let folder = Folder::new();
    let (store, id) = begun(&folder).await;
    let thousand: Vec<_> = (0..1000_u32).map(|at| remark(f64::from(at), "on and on")).collect();
    let mut times = Vec::new();
    for _ in 0..100 {
        let started = std::time::Instant::now();
        store.append(&id, &thousand).await.expect("kept");
        times.push(started.elapsed());
    }
    let (early, late): (std::time::Duration, std::time::Duration) =
        (times[..30].iter().sum(), times[70..].iter().sum());
    assert!(late < 5 * early, "the first thirty took {early:?}, the last thirty {late:?}");
    let mut seen = 0_u64;
    store.each_entry(&id, |_, _| seen += 1).await.expect("read");
    assert_eq!(seen, 100_000);
    assert_eq!(store.verify(&id).await.expect("gone through"), []);
}
