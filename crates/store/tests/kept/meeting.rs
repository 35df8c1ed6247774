//! Two databases meet: what one lacks moves, once, in whatever order; nothing is written over.

use session::Event;
use store::meet::{Between, Part, Taken, Want, Why, between, differing};
use store::signatures::{Role, Signing, code_of};
use store::things::{Calibration, ThingKind};
use store::{Filter, RecordId, Store};

use crate::engine::Engine;
use crate::sample::{JOB, batch, closed, head, remark, typed, wall};

/// A batch of this many bytes holds a few events alone.
pub(crate) const SMALL: usize = 4000;

async fn pair(engine: &Engine) -> (Store, Store) {
    let here = Store::open(&engine.at("here.db")).await.expect("opened");
    let there = Store::open(&engine.at("there.db")).await.expect("opened");
    (here, there)
}

/// A record with everything that may stand beside one.
pub(crate) async fn whole(store: &Store, seconds: f64) -> RecordId {
    let id = store.begin(&head(), wall(seconds)).await.expect("kept");
    let sheet = store.begin_sheet("MR", JOB, wall(seconds)).await.expect("kept");
    store.sheet_becomes(&sheet, &id).await.expect("kept");
    let entries = [typed(1.0, 25.0, 7.0), batch(2.0, 30), remark(80.0, "hail, \"hard\"")];
    store.append(&id, &entries).await.expect("kept");
    store.append(&id, &[closed(90.0)]).await.expect("kept");
    let made = store.keep_findings(&id, "judge-2", "accept", b"{\"a\":1}", wall(95.0)).await;
    let made = made.expect("kept");
    let code = code_of(&store.seals(&id).await.expect("seals"));
    let signing = Signing {
        name: "Jo Field",
        role: Role::Tester,
        remark: None,
        code: &code,
        findings: Some(&made),
    };
    store.sign(&id, &signing, wall(99.0)).await.expect("signed");
    id
}

async fn plan(here: &Store, there: &Store) -> Between {
    let spans =
        differing(&here.spans().await.expect("spans"), &there.spans().await.expect("spans"));
    let mut all = Between::default();
    for span in spans {
        let (ours, theirs) = (standing(here, &span).await, standing(there, &span).await);
        let one = between(&ours.0, &theirs.0);
        all.send.extend(one.send);
        all.fetch.extend(one.fetch);
        all.same += one.same;
        let want = |name: &String| match &span[..1] {
            "t" => Want::Thing(name.clone()),
            "c" => Want::Calibration(name.clone()),
            _ => Want::Job(name.clone()),
        };
        all.send.extend(ours.1.iter().filter(|one| !theirs.1.contains(one)).map(want));
        all.fetch.extend(theirs.1.iter().filter(|one| !ours.1.contains(one)).map(want));
    }
    all
}

async fn standing(store: &Store, span: &str) -> (Vec<store::meet::Standing>, Vec<String>) {
    let (mut records, mut names, mut after) = (Vec::new(), Vec::new(), String::new());
    loop {
        let page = store.standing(span, &after).await.expect("a page");
        records.extend(page.records);
        names.extend(page.names);
        match page.next {
            Some(next) => after = next,
            None => return (records, names),
        }
    }
}

/// Carries everything over, so many bytes at a time.
async fn carry(from: &Store, to: &Store, mut wants: Vec<Want>, most: usize) -> Vec<Taken> {
    let mut all = Vec::new();
    while !wants.is_empty() {
        let (batch, rest) = from.give(&wants, most).await.expect("given");
        // As it goes over a wire.
        let bytes = serde_json::to_vec(&batch).expect("written");
        let batch = serde_json::from_slice(&bytes).expect("read");
        all.push(to.take(&batch, wall(100.0)).await.expect("taken"));
        assert_ne!(rest, wants, "something moved");
        wants = rest;
    }
    all
}

pub(crate) async fn meet(here: &Store, there: &Store, most: usize) -> Vec<Taken> {
    let plan = plan(here, there).await;
    let mut all = carry(here, there, plan.send, most).await;
    all.extend(carry(there, here, plan.fetch, most).await);
    all
}

pub(crate) async fn exported(store: &Store) -> Vec<u8> {
    let mut file = Vec::new();
    let mut ids: Vec<_> = store
        .list(&Filter::default())
        .await
        .expect("a list")
        .into_iter()
        .map(|one| one.id)
        .collect();
    ids.sort();
    store.export_json(&ids, &mut file).await.expect("written");
    file
}

async fn same_on_both(here: &Store, there: &Store) {
    assert_eq!(here.spans().await.expect("spans"), there.spans().await.expect("spans"));
    assert_eq!(exported(here).await, exported(there).await, "the same bytes, seals and all");
    for store in [here, there] {
        assert_eq!(store.verify_all().await.expect("gone through"), []);
        assert_eq!(store.refused().await.expect("read"), []);
    }
    let list = here.list(&Filter::default()).await.expect("a list");
    assert_eq!(list, there.list(&Filter::default()).await.expect("a list"));
}

pub(crate) async fn two_that_wrote_apart_have_the_same_afterwards_and_nothing_moves_again(
    engine: Engine,
) {
    let (here, there) = pair(&engine).await;
    for at in 0..5 {
        whole(&here, f64::from(at)).await;
        whole(&there, f64::from(at) + 0.5).await;
    }
    let job = plan::job_file::parse(JOB).expect("the example is good");
    here.keep_job(JOB, &job, wall(1.0)).await.expect("kept");
    let calibration = Calibration {
        kind: ThingKind::Meter,
        name: "µA 3".to_owned(),
        date: "2026-02-03".parse().expect("a day"),
        due: None,
        certificate: Some("C 17".to_owned()),
        note: None,
    };
    there.keep_calibration(&calibration, wall(2.0)).await.expect("kept");
    meet(&here, &there, SMALL).await;
    same_on_both(&here, &there).await;
    assert_eq!(plan(&here, &there).await, Between::default());
    let kept = here.calibrations(ThingKind::Meter, "µA 3").await.expect("read");
    assert_eq!(kept, [calibration]);
    let (ours, theirs) = (here.jobs().await.expect("read"), there.jobs().await.expect("read"));
    assert_eq!((ours.len(), &ours), (1, &theirs));
    let record = here.list(&Filter::default()).await.expect("a list").remove(0).id;
    assert!(there.sheet_of(&record).await.expect("read").is_some());
    assert_eq!(there.signatures(&record).await.expect("read").len(), 1);
}

/// Derived: each kept the same of the same thing by itself.
pub(crate) async fn what_two_kept_alike_is_told_once(engine: Engine) {
    let (here, there) = pair(&engine).await;
    let job = plan::job_file::parse(JOB).expect("the example is good");
    let calibration = Calibration {
        kind: ThingKind::Set,
        name: "DC 80".to_owned(),
        date: "2026-02-03".parse().expect("a day"),
        due: None,
        certificate: None,
        note: None,
    };
    for (at, store) in [(1.0, &here), (5.0, &there)] {
        store.keep_job(JOB, &job, wall(at)).await.expect("kept");
        store.keep_calibration(&calibration, wall(at)).await.expect("kept");
    }
    meet(&here, &there, SMALL).await;
    same_on_both(&here, &there).await;
    for store in [&here, &there] {
        let since = store.apparatus_since(&job.asset.id).await.expect("read");
        assert_eq!((since.len(), since[0].kept), (1, wall(1.0)));
        let kept = store.calibrations(ThingKind::Set, "DC 80").await.expect("read");
        assert_eq!(kept, std::slice::from_ref(&calibration));
        assert_eq!(store.jobs().await.expect("read").len(), 1);
    }
}

pub(crate) async fn a_batch_that_comes_twice_is_taken_once(engine: Engine) {
    let (here, there) = pair(&engine).await;
    whole(&here, 0.0).await;
    let (batch, rest) = here.give(&plan(&here, &there).await.send, 1 << 20).await.expect("given");
    assert_eq!(rest, []);
    let first = there.take(&batch, wall(100.0)).await.expect("taken");
    let again = there.take(&batch, wall(101.0)).await.expect("taken");
    // Derived: the beginning, three entries and the end.
    assert_eq!((first.moved.records, first.moved.events, first.moved.known), (1, 5, 0));
    assert_eq!((again.moved.records, again.moved.events, again.moved.known), (0, 0, 5));
    let beside = |taken: &Taken| {
        (taken.moved.findings, taken.moved.signatures, taken.moved.sheets, taken.refused.len())
    };
    assert_eq!((beside(&first), beside(&again)), ((1, 1, 1, 0), (0, 0, 0, 0)));
    same_on_both(&here, &there).await;
}

pub(crate) async fn what_two_wrote_on_one_record_stands_in_two_entries(engine: Engine) {
    let (here, there) = pair(&engine).await;
    let id = here.begin(&head(), wall(0.0)).await.expect("kept");
    here.append(&id, &[remark(1.0, "a")]).await.expect("kept");
    meet(&here, &there, SMALL).await;
    here.append(&id, &[remark(2.0, "b"), remark(4.0, "d")]).await.expect("kept");
    there.append(&id, &[remark(3.0, "c")]).await.expect("kept");
    meet(&here, &there, SMALL).await;
    same_on_both(&here, &there).await;
    let stored = there.record(&id).await.expect("whole");
    let text = |entry: &session::Entry| match &entry.what {
        Event::Remark { text } => Some(text.clone()),
        _ => None,
    };
    let said: Vec<String> = stored.record.events.iter().filter_map(text).collect();
    assert_eq!(said, ["a", "b", "c", "d"]);
    let two = there.two_entries().await.expect("read");
    let wrote = [(here.writer().to_owned(), 3), (there.writer().to_owned(), 1)];
    assert_eq!((two.len(), &two[0].record, &two[0].wrote[..]), (1, &id, &wrote[..]));
}

pub(crate) async fn what_was_changed_on_the_way_is_refused_by_name(engine: Engine) {
    let (here, there) = pair(&engine).await;
    let id = whole(&here, 0.0).await;
    let (batch, _) = here.give(&plan(&here, &there).await.send, 1 << 20).await.expect("given");
    type Change = fn(&mut store::meet::RecordPart);
    let changes: [Change; 5] = [
        |part| part.chains[0].events[2].bytes.push(' '),
        |part| part.chains[0].events.swap(1, 2),
        |part| drop(part.chains[0].events.remove(1)),
        |part| part.chains[0].events[0].code.replace_range(0..1, "g"),
        |part| part.begun_by.replace_range(0..1, "f"),
    ];
    for (at, change) in changes.into_iter().enumerate() {
        let mut changed = batch.clone();
        for part in &mut changed.parts {
            if let Part::Record(part) = part {
                change(part);
                part.findings.clear();
                part.signatures.clear();
            }
        }
        let taken = there.take(&changed, wall(100.0)).await.expect("looked at");
        assert!(!taken.refused.is_empty(), "{at}");
        assert_eq!((taken.moved.records, taken.moved.events), (0, 0), "{at}: {taken:?}");
        assert!(there.record(&id).await.is_err(), "{at}");
    }
    for beside in 0..2 {
        let mut changed = batch.clone();
        for part in &mut changed.parts {
            let Part::Record(part) = part else { continue };
            match beside {
                0 => part.findings[0].verdict = "reject".to_owned(),
                _ => part.signatures[0].name = "Somebody else".to_owned(),
            }
        }
        let other = Store::open(&engine.at(&format!("other-{beside}.db"))).await.expect("opened");
        let taken = other.take(&changed, wall(100.0)).await.expect("looked at");
        assert!(taken.refused.iter().any(|one| one.why == Why::Broken), "{taken:?}");
        assert_eq!(other.verify_all().await.expect("gone through"), []);
    }
    // Afterwards the true one is taken all the same.
    let taken = there.take(&batch, wall(100.0)).await.expect("taken");
    assert_eq!((taken.moved.events, taken.refused.len()), (5, 0));
}

pub(crate) async fn what_comes_before_what_it_follows_is_told_and_taken_when_it_comes_again(
    engine: Engine,
) {
    let (here, there) = pair(&engine).await;
    let id = whole(&here, 0.0).await;
    let wants = plan(&here, &there).await.send;
    let mut batches = Vec::new();
    let mut rest = wants;
    while !rest.is_empty() {
        let (batch, more) = here.give(&rest, 1).await.expect("given");
        batches.push(batch);
        rest = more;
    }
    assert!(batches.len() > 2, "{}", batches.len());
    // The last first, until all is in: each round brings one more, and nothing is remembered.
    let mut rounds = 0;
    while there.spans().await.expect("spans") != here.spans().await.expect("spans") {
        for batch in batches.iter().rev() {
            let taken = there.take(batch, wall(100.0)).await.expect("looked at");
            assert!(taken.refused.iter().all(|one| one.why == Why::Early), "{taken:?}");
        }
        rounds += 1;
        assert!(rounds <= batches.len(), "it comes to an end");
    }
    assert!(there.record(&id).await.is_ok());
    same_on_both(&here, &there).await;
}

pub(crate) async fn the_same_batches_at_once_are_taken_once(engine: Engine) {
    let (here, there) = pair(&engine).await;
    for at in 0..4 {
        whole(&here, f64::from(at)).await;
    }
    let (batch, _) = here.give(&plan(&here, &there).await.send, 1 << 20).await.expect("given");
    let there = std::sync::Arc::new(there);
    let takes = (0..6).map(|_| {
        let (there, batch) = (there.clone(), batch.clone());
        tokio::spawn(async move { there.take(&batch, wall(100.0)).await.expect("taken") })
    });
    let mut events = 0;
    for take in takes.collect::<Vec<_>>() {
        events += take.await.expect("it ends").moved.events;
    }
    // Derived: five events of each of four records.
    assert_eq!(events, 20);
    same_on_both(&here, &there).await;
}
