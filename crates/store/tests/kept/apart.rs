//! Two programs on one database: what each of them is told.

use store::trouble::AppendError;
use store::{RecordId, Store};

use crate::engine::Engine;
use crate::sample::{head, remark, wall};

async fn begun(engine: &Engine) -> (Store, RecordId) {
    let store = Store::open(&engine.at("records.db")).await.expect("opened");
    let id = store.begin(&head(), wall(0.0)).await.expect("kept");
    (store, id)
}

async fn events(store: &Store, id: &RecordId) -> usize {
    assert_eq!(store.verify(id).await.expect("gone through"), []);
    store.record(id).await.expect("whole").record.events.len()
}

pub(crate) async fn a_second_program_is_not_mixed_in_where_locks_do_not_reach(engine: Engine) {
    let (first, id) = begun(&engine).await;
    first.append(&id, &[remark(1.0, "first")]).await.expect("kept");
    engine.unlock();
    let second = Store::open(&engine.at("records.db")).await.expect("opened");
    // The second one takes the record up where it stands; from then on it is the one that writes.
    second.append(&id, &[remark(2.0, "second")]).await.expect("kept");
    match first.append(&id, &[remark(3.0, "first again")]).await {
        Err(AppendError::OtherProgram { found, known }) => assert_eq!((found, known), (2, 1)),
        other => panic!("{other:?}"),
    }
    second.append(&id, &[remark(4.0, "second again")]).await.expect("kept");
    assert_eq!(events(&second, &id).await, 3);
}

pub(crate) async fn what_got_in_before_its_answer_was_lost_is_not_added_twice(engine: Engine) {
    let (first, id) = begun(&engine).await;
    first.append(&id, &[remark(1.0, "a")]).await.expect("kept");
    engine.unlock();
    // Another connection does what this one would have done, and this one never hears of it.
    let unheard = Store::open(&engine.at("records.db")).await.expect("opened");
    let seal = unheard.append(&id, &[remark(2.0, "b")]).await.expect("kept");
    let retried = first.append(&id, &[remark(2.0, "b")]).await.expect("found");
    assert_eq!(retried, seal);
    unheard.append(&id, &[remark(3.0, "c")]).await.expect("kept");
    let more = first.append(&id, &[remark(3.0, "c"), remark(4.0, "d")]).await.expect("kept");
    assert_eq!((more.seq, events(&first, &id).await), (4, 4));
}
