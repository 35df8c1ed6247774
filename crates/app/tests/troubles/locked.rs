//! The database, held by another program.

use sqlx::Connection as _;
use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection};

use crate::live::Live;
use crate::place::Place;
use crate::{hand_first, row, rows_are_kept, say_rows};

/// Another program that keeps everybody else from writing until this is dropped.
pub(crate) struct Lock {
    runtime: tokio::runtime::Runtime,
    held: Option<SqliteConnection>,
}

impl Lock {
    pub(crate) fn take(place: &Place) -> Self {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
        let runtime = runtime.expect("the machine has room");
        let options = SqliteConnectOptions::new().filename(place.db());
        let held = runtime.block_on(async {
            let mut other = SqliteConnection::connect_with(&options).await.expect("opened");
            sqlx::raw_sql("BEGIN IMMEDIATE").execute(&mut other).await.expect("held");
            other
        });
        Self { runtime, held: Some(held) }
    }
}

impl Drop for Lock {
    fn drop(&mut self) {
        let Some(held) = self.held.take() else { return };
        // Going away lets go of it as well.
        let _ = self.runtime.block_on(held.close());
    }
}

#[test]
fn what_came_while_it_was_locked_is_kept_when_it_is_free() {
    let place = Place::new("locked");
    let mut live = Live::start(place.run(&["--from", "keys", "--json"]));
    say_rows(&mut live, 1, 3);
    let lock = Lock::take(&place);
    for number in 4..=9 {
        live.say(&row(number));
    }
    let told = live.until_err("NOT KEPT");
    hand_first(&told, "write the readings on the job sheet by hand", "it is locked");
    assert_eq!(live.kept(), 3, "nothing was acknowledged that is not kept");
    drop(lock);
    hand_first(&live.until_err("is kept now"), "Go on", "everything that waited");
    live.until_kept(9);
    let ended = live.end();
    assert_eq!((ended.status, ended.kept()), (Some(0), 9), "{}", ended.err);
    rows_are_kept(&place, 9);
}

#[test]
fn what_could_never_be_kept_is_printed() {
    let place = Place::new("locked-for-good");
    let mut live = Live::start(place.run(&["--from", "keys", "--json"]));
    say_rows(&mut live, 1, 3);
    let lock = Lock::take(&place);
    live.say(&row(4));
    live.say(&row(5));
    live.until_err("NOT KEPT");
    let ended = live.end();
    assert_eq!((ended.status, ended.kept()), (Some(3), 3), "{}", ended.err);
    assert!(ended.err.contains("\n4,10.004,10.04,"), "{}", ended.err);
    assert!(ended.err.contains("\n5,10.005,10.05,"), "{}", ended.err);
    let last = ended.err.lines().last().unwrap_or_default();
    hand_first(last, "write the lines above on the job sheet", "in no database");
    drop(lock);
    rows_are_kept(&place, 3);
}

/// Not even reading is possible: what waited must come out all the same.
#[test]
fn what_could_never_be_kept_is_printed_where_nothing_can_be_read_either() {
    let place = Place::new("gone-for-good");
    let mut live = Live::start(place.run(&["--from", "keys", "--json"]));
    say_rows(&mut live, 1, 3);
    let lock = Lock::take(&place);
    live.say(&row(4));
    live.until_err("NOT KEPT");
    let bytes = std::fs::read(place.db()).expect("there");
    std::fs::write(place.db(), vec![b'x'; bytes.len()]).expect("ours");
    let ended = live.end();
    assert_eq!((ended.status, ended.kept()), (Some(3), 3), "{}", ended.err);
    assert!(ended.err.contains("\n4,10.004,10.04,"), "{}", ended.err);
    hand_first(ended.told("lines above"), "write the lines above", "in no database");
    drop(lock);
}

#[test]
fn a_database_that_is_locked_at_the_start_says_how_to_go_on() {
    let place = Place::new("locked-at-the-start");
    let made = place.command(&["keep", &crate::place::job()]).output().expect("it runs");
    assert!(made.status.success(), "{made:?}");
    let lock = Lock::take(&place);
    let ended = Live::start(place.run(&["--from", "keys", "--json"])).end();
    drop(lock);
    assert_eq!((ended.status, ended.out.as_str()), (Some(3), ""), "{}", ended.err);
    hand_first(&ended.err, "end the other program", "it is locked");
    assert!(place.records().is_empty(), "nothing is half begun");
}
