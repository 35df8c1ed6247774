//! In and out again; names; lists.

use store::trouble::{AppendError, ReadError};
use store::{Filter, RecordId, Store};

use crate::engine::Engine;
use crate::sample::{batch, closed, head, remark, typed, wall};

pub(crate) async fn what_goes_in_comes_out(engine: Engine) {
    let place = engine.at("deep/er/records.db");
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

/// Derived: kept at once it is what would have been kept one after the other.
pub(crate) async fn what_is_whole_already_is_kept_at_once(engine: Engine) {
    let store = Store::open(&engine.at("records.db")).await.expect("opened");
    let entries = [typed(1.0, 25.0, 7.0), batch(2.0, 150), remark(40.0, "rain"), closed(50.0)];
    let one_by_one = store.begin(&head(), wall(0.0)).await.expect("kept");
    store.append(&one_by_one, &entries).await.expect("kept");
    let at_once = store.keep_record(&head(), &entries, wall(0.0)).await.expect("kept");
    let line = |list: &[store::Summary], id: &RecordId| {
        let line = list.iter().find(|one| one.id == *id).expect("it is listed").clone();
        store::Summary { id: at_once.clone(), ..line }
    };
    let list = store.list(&Filter::default()).await.expect("a list");
    assert_eq!(line(&list, &at_once), line(&list, &one_by_one));
    let [one, other] = [&at_once, &one_by_one].map(|id| store.record(id));
    assert_eq!(one.await.expect("it is whole").record, other.await.expect("it is whole").record);
    let wait = store.that_wait(store::overview::Waits::Judge, 9).await.expect("a list");
    assert_eq!(wait.first.len(), 2, "both are over");
    assert_eq!(store.verify_all().await.expect("gone through"), []);
    let more = store.append(&at_once, &[remark(60.0, "late")]).await;
    assert!(matches!(more, Err(AppendError::Closed)), "{more:?}");
}

pub(crate) async fn open_records_and_those_of_one_object_are_listed(engine: Engine) {
    let store = Store::open(&engine.at("records.db")).await.expect("opened");
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

pub(crate) async fn a_name_may_be_given_in_part(engine: Engine) {
    let store = Store::open(&engine.at("records.db")).await.expect("opened");
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
    let gone = Store::open(&engine.at("other.db")).await.expect("opened");
    let no_record = gone.append(&first, &[closed(1.0)]).await;
    assert!(matches!(no_record, Err(AppendError::NoRecord { .. })), "{no_record:?}");
    assert!(matches!(gone.record(&first).await, Err(ReadError::NoRecord { .. })));
}

pub(crate) async fn nothing_follows_the_end(engine: Engine) {
    let store = Store::open(&engine.at("records.db")).await.expect("opened");
    let id: RecordId = store.begin(&head(), wall(0.0)).await.expect("kept");
    store.append(&id, &[closed(1.0)]).await.expect("kept");
    let late = store.append(&id, &[remark(2.0, "late")]).await;
    assert!(matches!(late, Err(AppendError::Closed)), "{late:?}");
    assert_eq!(store.record(&id).await.expect("whole").record.events.len(), 1);
}

/// Each opening is a program of its own: they share nothing but the file.
pub(crate) async fn many_that_make_the_same_file_at_once_all_write_to_it(engine: Engine) {
    for round in 0..8 {
        let place = engine.at(&format!("records-{round}.db"));
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
