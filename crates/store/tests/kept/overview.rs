//! What pages ask of many records: it follows from what is kept, whoever kept it and however it
//! came, and is the same as if it were made anew.

use jiff::civil::date;
use session::record::{Head, Kind};
use store::overview::{Counted, Found, Interval, Life, Search, Waits, Word};
use store::signatures::{Role, Signing, code_of};
use store::{RecordId, Store};

use crate::copied::filled;
use crate::engine::Engine;
use crate::meeting::meet;
use crate::sample::{JOB, closed, head, typed, wall};

const NAME: &str = "G-0417";

async fn life(store: &Store) -> Life {
    store.life(NAME).await.expect("looked up").expect("it is kept")
}

/// How many wait to be judged and to be signed.
async fn wait(store: &Store) -> (usize, usize) {
    let that = |what| async move { store.that_wait(what, 9).await.expect("a list").first.len() };
    (that(Waits::Judge).await, that(Waits::Signature).await)
}

async fn sign(store: &Store, id: &RecordId) {
    let code = code_of(&store.seals(id).await.expect("its seals"));
    let signing = Signing {
        name: "A. Tester",
        role: Role::Tester,
        remark: None,
        code: &code,
        findings: None,
    };
    store.sign(id, &signing, wall(40.0)).await.expect("kept");
}

pub(crate) async fn an_overview_follows_what_is_kept(engine: Engine) {
    let store = Store::open(&engine.at("records.db")).await.expect("opened");
    assert_eq!(store.life(NAME).await.expect("looked up"), None);
    let job = plan::job_file::parse(JOB).expect("a job");
    store.keep_apparatus(&job.asset, wall(0.0)).await.expect("kept");
    let of = life(&store).await;
    assert_eq!((of.class.as_str(), of.item.as_str(), of.tests), ("protective", "glove", 0));
    assert_eq!((of.open, of.last), (false, None));

    let id = store.begin(&head(), wall(1e6)).await.expect("kept");
    assert_eq!(store.open_records().await.expect("a list").len(), 1);
    assert_eq!((life(&store).await.tests, life(&store).await.open), (1, true));
    store.append(&id, &[typed(1.0, 25.0, 7.0)]).await.expect("kept");
    assert_eq!(wait(&store).await, (0, 0));
    store.append(&id, &[closed(2.0)]).await.expect("kept");
    assert_eq!(wait(&store).await, (1, 0));
    assert_eq!(store.open_records().await.expect("a list"), []);
    let last = life(&store).await.last.expect("it is closed");
    // The day is that of the job and not that on which it was begun.
    assert_eq!((last.record, last.on, last.kind), (id.clone(), date(2026, 11, 3), Kind::Simulated));
    assert_eq!((last.verdict, life(&store).await.open), (None, false));

    store.keep_findings(&id, "judge-2", "reject", b"{}", wall(30.0)).await.expect("kept");
    store.keep_findings(&id, "judge-3", "accept", b"{}", wall(31.0)).await.expect("kept");
    assert_eq!(wait(&store).await, (0, 1));
    let verdict = life(&store).await.last.expect("it is closed").verdict;
    assert_eq!(verdict.as_deref(), Some("accept"), "the newest");
    let told = store.last_over(9).await.expect("a list");
    assert_eq!((told.len(), told[0].verdict.as_deref()), (1, Some("accept")));
    assert_eq!(store.tests_of(NAME).await.expect("a list"), told);
    let made = store.last_made_with("HV set 2").await.expect("looked up");
    assert_eq!(made.as_ref(), told.first());
    sign(&store, &id).await;
    assert_eq!(wait(&store).await, (0, 0));
    assert_eq!(store.verify_all().await.expect("gone through"), []);
}

/// What was typed in is over from its beginning, and what was practised is no test of the object.
/// Common practice, no source: the last real test decides when the next one is due.
pub(crate) async fn the_last_test_is_a_real_one_typed_in_or_read_live(engine: Engine) {
    let store = Store::open(&engine.at("records.db")).await.expect("opened");
    let steps = [
        (Kind::Practice, "reject", (Kind::Practice, "reject")),
        (Kind::Test, "accept", (Kind::Test, "accept")),
        (Kind::Transcribed, "reject", (Kind::Transcribed, "reject")),
        (Kind::Simulated, "accept", (Kind::Transcribed, "reject")),
    ];
    for (number, (kind, verdict, expected)) in steps.into_iter().enumerate() {
        let begun = wall(100.0 * number as f64);
        let id = store.begin(&Head { kind, ..head() }, begun).await.expect("kept");
        if kind != Kind::Transcribed {
            store.append(&id, &[closed(2.0)]).await.expect("kept");
        }
        store.keep_findings(&id, "m", verdict, b"{}", begun).await.expect("kept");
        let Life { open, last, .. } = life(&store).await;
        let last = last.expect("it was tested");
        assert_eq!((last.kind, last.verdict.as_deref()), (expected.0, Some(expected.1)));
        assert!(!open, "{kind:?} is over");
    }
    let all = store.last_over(9).await.expect("a list");
    assert_eq!(all.len(), 4, "what was typed in is among those that are over");
    assert_eq!(store.verify_all().await.expect("gone through"), []);
}

/// Derived: what is brought elsewhere is looked at there for the first time.
pub(crate) async fn an_overview_is_the_same_wherever_it_came_to(engine: Engine) {
    let here = filled(&engine.at("here.db"), 7).await;
    let all = |store: Store| async move {
        let lives = store.lives(&Search::default(), &[], (0, 99)).await.expect("a list");
        let closed = store.last_over(99).await.expect("a list");
        let [judge, sign] = [Waits::Judge, Waits::Signature].map(|what| store.that_wait(what, 99));
        let waiting = (judge.await.expect("a list"), sign.await.expect("a list"));
        (lives, closed, waiting, store.open_records().await.expect("a list"))
    };
    let copied = Store::open(&engine.at("copied.db")).await.expect("opened");
    here.copy_to(&copied, |_, _| ()).await.expect("copied");
    let met = Store::open(&engine.at("met.db")).await.expect("opened");
    meet(&here, &met, 2000).await;
    let expected = all(here).await;
    assert!(!expected.0.is_empty() && !expected.1.is_empty() && !expected.3.is_empty());
    assert_eq!(all(copied).await, expected);
    assert_eq!(all(met).await, expected);
}

/// However many write of one apparatus at the same moment, each of them is counted.
pub(crate) async fn many_that_write_of_one_apparatus_at_once_are_all_counted(engine: Engine) {
    let place = engine.at("records.db");
    Store::open(&place).await.expect("opened").close().await;
    let mut work = tokio::task::JoinSet::new();
    for program in 0..4 {
        let place = place.clone();
        work.spawn(async move {
            let store = Store::open(&place).await.expect("opened");
            for number in 0..5 {
                let begun = wall(f64::from(10 * program + number));
                let id = store.begin(&head(), begun).await.expect("kept");
                store.append(&id, &[closed(2.0)]).await.expect("kept");
                store.keep_findings(&id, "m", "accept", b"{}", wall(30.0)).await.expect("kept");
            }
            store.close().await;
        });
    }
    while let Some(done) = work.join_next().await {
        done.expect("all of it was kept");
    }
    let store = Store::open(&place).await.expect("opened");
    let of = life(&store).await;
    assert_eq!((of.tests, of.open), (20, false));
    let last = of.last.expect("it is closed");
    let newest = store.last_over(1).await.expect("a list").remove(0);
    assert_eq!((last.record, last.verdict), (newest.record.id, Some("accept".to_owned())));
    assert_eq!(wait(&store).await, (0, 9), "as many as were asked for");
    assert_eq!(store.that_wait(Waits::Signature, 9).await.expect("a list").more, 11);
    assert_eq!(store.verify_all().await.expect("gone through"), []);
}

pub(crate) async fn apparatus_are_found_by_name_and_class_in_their_order(engine: Engine) {
    let store = Store::open(&engine.at("records.db")).await.expect("opened");
    let asset = plan::job_file::parse(JOB).expect("a job").asset;
    for (number, (name, verdict)) in [
        ("Old good", Some("accept")),
        ("New good", Some("accept")),
        ("Bad 50%", Some("reject")),
        ("Doubtful_1", Some("investigate")),
        ("Of no use", Some("void")),
        ("ÜBER Tage", None),
    ]
    .into_iter()
    .enumerate()
    {
        let mut head = head();
        head.job.asset.id = name.to_owned();
        head.job.test.date = Some(date(2020 + number as i16, 5, 14));
        store.keep_apparatus(&head.job.asset, wall(0.0)).await.expect("kept");
        let id = store.begin(&head, wall(number as f64)).await.expect("kept");
        store.append(&id, &[closed(2.0)]).await.expect("kept");
        if let Some(verdict) = verdict {
            store.keep_findings(&id, "m", verdict, b"{}", wall(30.0)).await.expect("kept");
        }
    }
    let never = plan::job::Asset { id: "Never tested".to_owned(), ..asset };
    store.keep_apparatus(&never, wall(0.0)).await.expect("kept");
    let check = async |words: &[(&str, bool)], expected: &[&str]| {
        let of = |(text, class): &(&str, bool)| Word {
            text: (*text).to_owned(),
            classes: if *class { vec!["protective".to_owned()] } else { Vec::new() },
        };
        let search = Search { words: words.iter().map(of).collect() };
        let lives = store.lives(&search, &[], (0, 99)).await.expect("a list");
        let names: Vec<&str> = lives.iter().map(|life| life.name.as_str()).collect();
        assert_eq!(names, expected, "{words:?}");
        let counted = store.count_lives(&search).await.expect("counted");
        let tests = lives.iter().map(|life| life.tests).sum();
        assert_eq!(counted, Counted { lives: expected.len() as u64, tests }, "{words:?}");
    };
    let all =
        ["Bad 50%", "Doubtful_1", "Of no use", "ÜBER Tage", "Never tested", "Old good", "New good"];
    check(&[], &all).await;
    check(&[("good", false)], &["Old good", "New good"]).await;
    check(&[("über", false)], &["ÜBER Tage"]).await;
    check(&[("0%", false)], &["Bad 50%"]).await;
    check(&[("_", false)], &["Doubtful_1"]).await;
    check(&[("tage%", false)], &[]).await;
    check(&[("glove", true)], &all).await;
    check(&[("glove", true), ("new", false)], &["New good"]).await;

    let part = store.lives(&Search::default(), &[], (1, 2)).await.expect("a list");
    let names: Vec<&str> = part.iter().map(|life| life.name.as_str()).collect();
    assert_eq!(names, ["Doubtful_1", "Of no use"]);
    let longest = store.tested_longest_ago(&[], 2).await.expect("a list");
    assert_eq!([&longest[0].name, &longest[1].name], ["Old good", "New good"]);
    let gloves = [Interval { item: "glove".to_owned(), days: 180 }];
    let longest = store.tested_longest_ago(&gloves, 1).await.expect("a list");
    assert_eq!(longest[0].name, "Bad 50%", "what passed and has an interval is not among them");
    let (from, to) = (date(2020, 5, 14), date(2021, 5, 13));
    let found = Found { item: "glove", from, to, newest_first: true };
    let passed = store.passed(&found, 9).await.expect("a list");
    assert_eq!((passed.len(), passed[0].name.as_str()), (1, "Old good"));
    let likes = store.newest_of_class("protective", "New good", 2).await.expect("a list");
    let names: Vec<&str> = likes.iter().map(|(record, _)| record.asset.as_str()).collect();
    assert_eq!(names, ["ÜBER Tage", "Of no use"], "the last tested first");
    assert!(likes[0].1.is_none() && likes[1].1.is_some());
}
