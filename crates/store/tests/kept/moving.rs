//! Records out as files, and in again.

use jiff::SignedDuration;
use store::check::How;
use store::export::Export;
use store::trouble::{ExportError, ImportError};
use store::{Filter, RecordId, Store};

use crate::engine::Engine;
use crate::sample::{batch, closed, head, remark, typed, wall};

async fn sample(store: &Store) -> RecordId {
    let id = store.begin(&head(), wall(0.0)).await.expect("kept");
    let entries = [typed(1.0, 25.0, 7.0), batch(2.0, 300), remark(80.0, "hail, \"hard\"")];
    store.append(&id, &entries).await.expect("kept");
    store.append(&id, &[closed(90.0)]).await.expect("kept");
    store.keep_findings(&id, "judge-2", "accept", b"{\"a\":1}", wall(95.0)).await.expect("kept");
    id
}

async fn exported(store: &Store, id: &RecordId) -> Vec<u8> {
    let mut file = Vec::new();
    store.export_json(std::slice::from_ref(id), &mut file).await.expect("written");
    file
}

pub(crate) async fn a_record_is_the_same_elsewhere_and_comes_in_once(engine: Engine) {
    let here = Store::open(&engine.at("here.db")).await.expect("opened");
    let there = Store::open(&engine.at("there.db")).await.expect("opened");
    let id = sample(&here).await;
    let file = exported(&here, &id).await;
    assert_eq!(Export::parse(&file).expect("an export").verify(), []);
    let first = there.import(&file).await.expect("taken in");
    assert_eq!((first[0].new, first[0].added, first[0].known, first[0].findings), (true, 5, 0, 1));
    let again = there.import(&file).await.expect("taken in");
    assert_eq!((again[0].new, again[0].added, again[0].known, again[0].findings), (false, 0, 5, 0));
    assert_eq!(there.verify_all().await.expect("gone through"), []);
    assert_eq!(exported(&there, &id).await, file, "the same bytes, seals and all");
    let list = |store: Store| async move { store.list(&Filter::default()).await.expect("a list") };
    assert_eq!(list(there).await, list(here).await);
}

pub(crate) async fn no_moment_in_a_file_can_be_changed_unseen(engine: Engine) {
    let store = Store::open(&engine.at("here.db")).await.expect("opened");
    let id = sample(&store).await;
    let whole = Export::parse(&exported(&store, &id).await).expect("an export");
    let check = |change: fn(&mut Export), expected: fn(&How) -> bool| {
        let mut changed = whole.clone();
        change(&mut changed);
        let broken = changed.verify();
        assert!(matches!(&broken[..], [one] if expected(&one.how)), "{broken:?}");
    };
    let begun = |how: &How| *how == How::Listed { column: "begun" };
    let findings = |how: &How| matches!(how, How::Findings { .. });
    check(|file| file.records[0].begun = wall(1.0), begun);
    check(|file| file.records[0].findings[0].judged = wall(96.0), findings);
    // Derived: kept to the microsecond.
    check(|file| file.records[0].findings[0].judged += SignedDuration::from_nanos(1), findings);
    check(|file| file.records[0].findings[0].id.push('0'), findings);
}

pub(crate) async fn what_went_on_since_is_added(engine: Engine) {
    let here = Store::open(&engine.at("here.db")).await.expect("opened");
    let there = Store::open(&engine.at("there.db")).await.expect("opened");
    let id = here.begin(&head(), wall(0.0)).await.expect("kept");
    here.append(&id, &[batch(1.0, 10)]).await.expect("kept");
    there.import(&exported(&here, &id).await).await.expect("taken in");
    here.append(&id, &[batch(5.0, 10), closed(9.0)]).await.expect("kept");
    let file = exported(&here, &id).await;
    let more = there.import(&file).await.expect("taken in");
    assert_eq!((more[0].new, more[0].added, more[0].known), (false, 2, 2));
    assert_eq!(there.verify_all().await.expect("gone through"), []);
    assert_eq!(exported(&there, &id).await, file);
}

pub(crate) async fn two_writers_go_on_with_one_record(engine: Engine) {
    let here = Store::open(&engine.at("here.db")).await.expect("opened");
    let there = Store::open(&engine.at("there.db")).await.expect("opened");
    let id = here.begin(&head(), wall(0.0)).await.expect("kept");
    here.append(&id, &[remark(1.0, "a"), remark(4.0, "d")]).await.expect("kept");
    there.import(&exported(&here, &id).await).await.expect("taken in");
    there.append(&id, &[remark(2.0, "b"), remark(3.0, "c")]).await.expect("kept");
    here.append(&id, &[remark(5.0, "e")]).await.expect("kept");
    here.import(&exported(&there, &id).await).await.expect("taken in");
    let stored = here.record(&id).await.expect("whole");
    let said: Vec<String> = stored
        .record
        .events
        .iter()
        .filter_map(|entry| match &entry.what {
            session::Event::Remark { text } => Some(text.clone()),
            _ => None,
        })
        .collect();
    assert_eq!(said, ["a", "b", "c", "d", "e"], "by their moments, whoever wrote them");
    let writers: Vec<&String> = stored.seals.iter().map(|(writer, _)| writer).collect();
    assert_eq!(writers, [here.writer(), there.writer()]);
    assert_eq!(here.verify_all().await.expect("gone through"), []);
    let file = exported(&here, &id).await;
    assert_eq!(Export::parse(&file).expect("an export").verify(), []);
}

pub(crate) async fn long_records_of_two_writers_are_read_in_order(engine: Engine) {
    let here = Store::open(&engine.at("here.db")).await.expect("opened");
    let there = Store::open(&engine.at("there.db")).await.expect("opened");
    let id = here.begin(&head(), wall(0.0)).await.expect("kept");
    there.import(&exported(&here, &id).await).await.expect("taken in");
    // Every third moment is there's, until here has none left.
    let (theirs, ours): (Vec<u32>, Vec<u32>) =
        (0..1500_u32).partition(|at| at % 3 == 0 || *at > 1200);
    let entries = |moments: &[u32]| {
        moments.iter().map(|at| remark(f64::from(*at), &at.to_string())).collect::<Vec<_>>()
    };
    here.append(&id, &entries(&ours)).await.expect("kept");
    there.append(&id, &entries(&theirs)).await.expect("kept");
    here.import(&exported(&there, &id).await).await.expect("taken in");
    let mut times = Vec::new();
    here.each_entry(&id, |_, entry| times.extend(entry.at.map(|at| at.since_begun.seconds())))
        .await
        .expect("read");
    let expected: Vec<f64> = (0..1500_u32).map(f64::from).collect();
    assert_eq!(times, expected);
}

pub(crate) async fn a_file_that_is_cut_or_spoiled_is_refused_whole(engine: Engine) {
    let here = Store::open(&engine.at("here.db")).await.expect("opened");
    let there = Store::open(&engine.at("there.db")).await.expect("opened");
    let id = sample(&here).await;
    let file = exported(&here, &id).await;
    let text = String::from_utf8(file.clone()).expect("JSON");
    for part in [file.len() / 3, file.len() / 2, file.len() - 3] {
        let cut = there.import(&file[..part]).await;
        assert!(matches!(cut, Err(ImportError::Cut { .. })), "{part}: {cut:?}");
    }
    let spoil = async |from: &str, to: &str| {
        assert!(text.contains(from), "{from}");
        let spoiled = text.replacen(from, to, 1);
        there.import(spoiled.as_bytes()).await.expect_err(from)
    };
    match spoil("hail", "snow").await {
        ImportError::Broken { broken } => {
            assert_eq!((broken.len(), broken[0].seq), (1, Some(3)));
            let said = broken[0].to_string();
            assert!(said.contains("event 3 (remark, 2026-11-03T09:01:20Z)"), "{said}");
        }
        other => panic!("{other}"),
    }
    match spoil("\"kind\":\"simulated\"", "\"kind\":\"test\"").await {
        ImportError::Broken { broken } => {
            assert_eq!(broken[0].how, How::Listed { column: "kind" });
        }
        other => panic!("{other}"),
    }
    match spoil("{\\\"a\\\":1}", "{\\\"a\\\":2}").await {
        ImportError::Broken { broken } => {
            assert!(matches!(broken[0].how, How::Findings { .. }), "{broken:?}");
        }
        other => panic!("{other}"),
    }
    let other_form = spoil("ohmstead-export-2", "ohmstead-export-9").await;
    assert!(matches!(other_form, ImportError::Edition { .. }), "{other_form}");
    let no_export = there.import(b"t_s,kv,ua\n").await.expect_err("no export");
    assert!(matches!(no_export, ImportError::NotAnExport { .. }), "{no_export}");
    assert_eq!(there.list(&Filter::default()).await.expect("a list"), [], "nothing was taken in");
}

pub(crate) async fn readings_of_meters_keep_their_digits(engine: Engine) {
    let store = Store::open(&engine.at("records.db")).await.expect("opened");
    let id = store.begin(&head(), wall(0.0)).await.expect("kept");
    store.append(&id, &[batch(2.0, 3)]).await.expect("kept");
    let mut file = Vec::new();
    store.export_csv(&id, &mut file).await.expect("written");
    let text = String::from_utf8(file).expect("text");
    let expected = "t_s,kv,ua,phase,event,range_kv,range_ua,link,note\n\
                    2,50.0,9.000,left,,80,,,\n\
                    2.25,50.0,8.9375,left,,80,,,\n\
                    2.5,50.0,8.875,left,,80,,,\n";
    assert_eq!(text, expected);
    let runs_together = ExportError::RunsTogether { phase: "A".to_owned() };
    assert!(runs_together.to_string().starts_with("export the record as JSON"));
}

/// What comes in while a record is gone through is neither missing nor put in.
pub(crate) async fn a_record_that_goes_on_meanwhile_is_whole(engine: Engine) {
    let store = Store::open(&engine.at("here.db")).await.expect("opened");
    let id = store.begin(&head(), wall(0.0)).await.expect("kept");
    let long: Vec<_> = (0..1500_u32).map(|at| remark(f64::from(at), "before")).collect();
    store.append(&id, &long).await.expect("kept");
    let going_on = async {
        for second in 1500..1540_u32 {
            store.append(&id, &[batch(f64::from(second), 3)]).await.expect("kept");
        }
    };
    let gone_through = async {
        for _ in 0..5 {
            assert_eq!(store.verify_all().await.expect("gone through"), []);
            let file = exported(&store, &id).await;
            assert_eq!(Export::parse(&file).expect("an export").verify(), []);
            let stored = store.record(&id).await.expect("whole");
            assert_eq!(stored.seals[0].1.seq, stored.record.events.len() as u64);
        }
    };
    tokio::join!(going_on, gone_through);
    assert_eq!(store.record(&id).await.expect("whole").record.events.len(), 1540);
}
