//! Accounts, and the browsers that were let in.

use jiff::{Timestamp, ToSpan as _};
use store::Store;
use store::people::{May, NewPass};

use crate::engine::Engine;
use crate::sample::wall;

const TOKEN: [u8; 32] = [7; 32];

fn new<'a>(token: &'a [u8; 32], person: &'a str, until: Timestamp) -> NewPass<'a> {
    NewPass {
        token,
        person,
        device: "tablet",
        may: May::Watch,
        record: None,
        made: wall(0.0),
        until,
    }
}

pub(crate) async fn a_browser_comes_in_until_its_time_is_over_or_it_is_taken_back(engine: Engine) {
    let store = Store::open(&engine.at("records.db")).await.expect("opened");
    store.set_person("Op", "hash", wall(0.0)).await.expect("kept");
    assert_eq!(store.secret_of("Op").await.expect("read").as_deref(), Some("hash"));
    assert_eq!(store.secret_of("Po").await.expect("read"), None);

    let pass = store.keep_pass(&new(&TOKEN, "Op", wall(10.0))).await.expect("kept");
    assert_eq!(store.pass(&TOKEN, wall(9.0)).await.expect("read"), Some(pass.clone()));
    assert_eq!(store.pass(&TOKEN, wall(10.0)).await.expect("read"), None, "its time is over");
    assert_eq!(store.pass(&[8; 32], wall(0.0)).await.expect("read"), None, "another one");
    let later = wall(0.0).checked_add(20.seconds()).expect("a moment");
    store.prolong_pass(&pass.name, later).await.expect("kept");
    assert_eq!(
        store.pass(&TOKEN, wall(10.0)).await.expect("read").map(|one| one.until),
        Some(later)
    );

    assert!(store.take_back_pass(&pass.name).await.expect("taken"));
    assert!(!store.take_back_pass(&pass.name).await.expect("none left"));
    assert!(!store.take_back_pass("no such").await.expect("none of this name"));
    assert_eq!(store.pass(&TOKEN, wall(0.0)).await.expect("read"), None);
}

pub(crate) async fn another_password_takes_back_what_the_old_one_let_in(engine: Engine) {
    let store = Store::open(&engine.at("records.db")).await.expect("opened");
    assert!(store.keep_pass(&new(&TOKEN, "Op", wall(10.0))).await.is_err(), "there is no account");
    assert_eq!(store.set_person("Op", "one", wall(0.0)).await.expect("kept"), 0);
    for number in 0..3 {
        store.keep_pass(&new(&[number; 32], "Op", wall(10.0))).await.expect("kept");
    }
    assert_eq!(store.set_person("Op", "two", wall(1.0)).await.expect("kept"), 3);
    assert_eq!(store.passes(wall(0.0)).await.expect("a list"), []);
    let people = store.people().await.expect("a list");
    assert_eq!((people.len(), people[0].kept), (1, wall(1.0)));

    store.keep_pass(&new(&TOKEN, "Op", wall(10.0))).await.expect("kept");
    assert!(store.forget_person("Op").await.expect("forgotten"));
    assert!(!store.forget_person("Op").await.expect("none left"));
    assert_eq!(store.pass(&TOKEN, wall(0.0)).await.expect("read"), None);
    assert_eq!(store.people().await.expect("a list"), []);
}

pub(crate) async fn those_whose_time_is_over_are_cleared_away(engine: Engine) {
    let store = Store::open(&engine.at("records.db")).await.expect("opened");
    store.set_person("Op", "one", wall(0.0)).await.expect("kept");
    store.keep_pass(&new(&[1; 32], "Op", wall(10.0))).await.expect("kept");
    let later = NewPass { made: wall(11.0), ..new(&[2; 32], "Op", wall(20.0)) };
    store.keep_pass(&later).await.expect("kept");
    assert_eq!(store.passes(wall(0.0)).await.expect("a list").len(), 1);
}
