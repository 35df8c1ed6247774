//! Events changed, cut, swapped and added behind the program's back: each is found and named.

use store::check::How;
use store::signatures::{Role, Signing, code_of};
use store::trouble::ReadError;
use store::{Broken, RecordId, Store};

use crate::engine::Engine;
use crate::sample::{batch, closed, head, remark, typed, wall};

/// How a statement names the chain of the record of eight events, and that of the one beside it.
const CHAIN: &str = "{chain}";
const BESIDE: &str = "{beside}";

/// A record of eight events, event 8 its end, and another one beside it.
async fn kept(engine: &Engine) -> (Store, RecordId, RecordId) {
    let store = Store::open(&engine.at("records.db")).await.expect("opened");
    let other = store.begin(&head(), wall(0.0)).await.expect("kept");
    store.append(&other, &[remark(1.0, "another")]).await.expect("kept");
    let id = store.begin(&head(), wall(100.0)).await.expect("kept");
    for second in 1..=6_u32 {
        let at = f64::from(second);
        store.append(&id, &[typed(at, 50.0, 9.0 - 0.5 * at)]).await.expect("kept");
    }
    store.append(&id, &[batch(10.0, 20), closed(20.0)]).await.expect("kept");
    (store, id, other)
}

/// What a hand with the right tool does to the database.
async fn meddle(engine: &Engine, (id, other): (&RecordId, &RecordId), statements: &[String]) {
    let chain = |of: &RecordId| format!("(SELECT id FROM chain WHERE record = '{of}')");
    let named = |one: &String| one.replace(CHAIN, &chain(id)).replace(BESIDE, &chain(other));
    let statements: Vec<String> = statements.iter().map(named).collect();
    engine.meddle("records.db", &statements).await;
}

/// What is found in the record of eight events after that.
async fn check(statements: &[&str], expected: &[(Option<u64>, How)]) -> Vec<Broken> {
    let engine = Engine::new();
    let (store, id, other) = kept(&engine).await;
    assert_eq!(store.verify(&id).await.expect("gone through"), []);
    let statements: Vec<String> = statements.iter().map(|one| (*one).to_owned()).collect();
    meddle(&engine, (&id, &other), &statements).await;
    let broken = store.verify(&id).await.expect("gone through");
    let found: Vec<_> = broken.iter().map(|one| (one.seq, one.how.clone())).collect();
    assert_eq!(found, expected, "{statements:?}");
    assert!(broken.iter().all(|one| one.record == id.as_str()));
    broken
}

pub(crate) async fn a_changed_reading_is_named_with_its_moment(_: Engine) {
    let changed = |bytes: String, seq: u64| {
        format!("UPDATE event SET bytes = {bytes} WHERE chain = {CHAIN} AND seq = {seq}")
    };
    let kv = changed(Engine::replaced("50.0", "49.0"), 3);
    let broken = check(&[&kv], &[(Some(3), How::Changed)]).await;
    let said = broken[0].to_string();
    assert!(said.contains("event 3 (readings, 2026-11-03T09:00:03Z): it was changed"), "{said}");
    let torn = changed(Engine::bytes("7b"), 3);
    let broken = check(&[&torn], &[(Some(3), How::Changed)]).await;
    assert_eq!(broken[0].seen, None);
    let beginning = changed(Engine::replaced("simulated", "test"), 0);
    let broken = check(&[&beginning], &[(Some(0), How::Changed)]).await;
    assert!(broken[0].to_string().contains("event 0 (beginning)"), "{}", broken[0]);
}

pub(crate) async fn what_was_cut_is_named(_: Engine) {
    let middle = "DELETE FROM event WHERE chain = {chain} AND seq = 4";
    check(&[middle], &[(Some(4), How::Missing { to: 4 })]).await;
    let end = "DELETE FROM event WHERE chain = {chain} AND seq > 6";
    check(&[end], &[(Some(7), How::CutShort { to: 8 })]).await;
    let numbered_anew = "UPDATE event SET seq = seq - 1 WHERE chain = {chain} AND seq > 4";
    let expected = [(Some(4), How::CutOut { count: 1 }), (Some(8), How::CutShort { to: 8 })];
    check(&[middle, numbered_anew], &expected).await;
    // Who also shortens the chain's own account leaves the list behind, and what was printed.
    let account = "UPDATE chain SET seq = 6, seal = (SELECT seal FROM event WHERE chain = {chain} \
                   AND seq = 6) WHERE id = {chain}";
    let listed = |column| (None, How::Listed { column });
    let expected = [listed("closed"), listed("events"), listed("readings")];
    check(&[end, account], &expected).await;
    check(
        &["DELETE FROM event WHERE chain = {chain}", "DELETE FROM chain WHERE id = {chain}"],
        &[(Some(0), How::NoBeginning)],
    )
    .await;
}

pub(crate) async fn what_changed_places_is_named(_: Engine) {
    let swap = &[
        "UPDATE event SET seq = -1 WHERE chain = {chain} AND seq = 2",
        "UPDATE event SET seq = 2 WHERE chain = {chain} AND seq = 5",
        "UPDATE event SET seq = 5 WHERE chain = {chain} AND seq = -1",
    ];
    let pair = [(Some(2), How::Swapped { with: 5 }), (Some(5), How::Swapped { with: 2 })];
    check(swap, &pair).await;
}

pub(crate) async fn what_was_added_or_came_from_elsewhere_is_named(engine: Engine) {
    let added = "INSERT INTO event SELECT chain, 9, bytes, seal FROM event \
                 WHERE chain = {chain} AND seq = 1";
    let expected = [(Some(9), How::BeyondEnd), (Some(9), How::Changed)];
    let (store, id, other) = kept(&engine).await;
    meddle(&engine, (&id, &other), &[added.to_owned()]).await;
    let broken = store.verify(&id).await.expect("gone through");
    assert_eq!((broken[0].seq, broken[0].how.clone()), expected[0].clone());
    assert_eq!(broken[1].how, How::Foreign { record: id.to_string(), seq: 1 });

    let engine = Engine::new();
    let (store, id, foreign) = kept(&engine).await;
    let bring = "UPDATE event \
                 SET bytes = (SELECT bytes FROM event WHERE chain = {beside} AND seq = 1), \
                 seal = (SELECT seal FROM event WHERE chain = {beside} AND seq = 1) \
                 WHERE chain = {chain} AND seq = 4";
    meddle(&engine, (&id, &foreign), &[bring.to_owned()]).await;
    let broken = store.verify(&id).await.expect("gone through");
    let from = How::Foreign { record: foreign.to_string(), seq: 1 };
    assert_eq!((broken[0].seq, &broken[0].how), (Some(4), &from));
    assert_eq!(store.verify(&foreign).await.expect("gone through"), []);

    let engine = Engine::new();
    let (store, id, other) = kept(&engine).await;
    let stray =
        "INSERT INTO event SELECT 7, 0, bytes, seal FROM event WHERE chain = {chain} AND seq = 0";
    meddle(&engine, (&id, &other), &[stray.to_owned()]).await;
    let broken = store.verify_all().await.expect("gone through");
    assert_eq!(broken.len(), 1, "{broken:?}");
    assert_eq!(broken[0].how, How::NoBeginning);
}

pub(crate) async fn the_list_cannot_hide_an_open_record(_: Engine) {
    let hidden = "UPDATE record SET closed = 0, asset = 'G-9', events = 7";
    let listed = |column| (None, How::Listed { column });
    check(&[hidden], &[listed("asset"), listed("closed"), listed("events")]).await;
    check(&["UPDATE record SET begun_us = begun_us - 1"], &[listed("begun")]).await;
    check(&["UPDATE record SET last_us = last_us + 1"], &[listed("last")]).await;
    check(&["UPDATE record SET stands = 3 - stands"], &[listed("stands")]).await;
    check(&["UPDATE record SET verdict = 'accept'"], &[listed("verdict")]).await;
    check(&["UPDATE record SET day = day + 1"], &[listed("day")]).await;
}

pub(crate) async fn changed_findings_are_named(_: Engine) {
    for change in ["verdict = 'accept'", "judged_us = judged_us - 1", "method = 'judge-1'"] {
        check_findings(change, None).await;
    }
    check_findings("id = 'others'", Some("others")).await;
}

async fn check_findings(change: &str, renamed: Option<&str>) {
    let engine = Engine::new();
    let (store, id, other) = kept(&engine).await;
    let name = store
        .keep_findings(&id, "judge-2", "reject", b"{\"verdict\":\"reject\"}", wall(30.0))
        .await
        .expect("kept");
    assert_eq!(store.verify_all().await.expect("gone through"), []);
    meddle(&engine, (&id, &other), &[format!("UPDATE findings SET {change}")]).await;
    let broken = store.verify_all().await.expect("gone through");
    assert_eq!(broken.len(), 1, "{change}");
    let id = renamed.map_or(name, str::to_owned);
    assert_eq!(broken[0].how, How::Findings { id });
}

pub(crate) async fn a_changed_signature_is_named(_: Engine) {
    for change in [
        "signed_us = signed_us - 1",
        "name = 'somebody else'",
        "role = 'approver'",
        "remark = 'seen by me'",
        "remark = NULL",
        "code = 'ba78'",
        "findings = NULL",
    ] {
        check_signature(change, None).await;
    }
    check_signature(&format!("seal = {}", Engine::bytes(&"00".repeat(32))), None).await;
    check_signature("id = 'another'", Some("another")).await;
}

async fn check_signature(change: &str, renamed: Option<&str>) {
    let engine = Engine::new();
    let (store, id, other) = kept(&engine).await;
    let name = signed(&store, &id).await;
    assert_eq!(store.verify_all().await.expect("gone through"), []);
    meddle(&engine, (&id, &other), &[format!("UPDATE signature SET {change}")]).await;
    let broken = store.verify(&id).await.expect("gone through");
    let expected = How::Signature { id: renamed.map_or(name, str::to_owned) };
    assert!(matches!(&broken[..], [one] if one.how == expected), "{change}: {broken:?}");
    assert_eq!(store.verify(&other).await.expect("gone through"), []);
}

/// A signature that was given to one record is none of another.
pub(crate) async fn a_signature_that_was_moved_is_named_where_it_lies(engine: Engine) {
    let (store, id, other) = kept(&engine).await;
    let name = signed(&store, &id).await;
    let moved = [format!("UPDATE signature SET record = '{other}'")];
    meddle(&engine, (&id, &other), &moved).await;
    // The list still says that it is signed, and nothing here signs it.
    let broken = store.verify(&id).await.expect("gone through");
    let listed = How::Listed { column: "stands" };
    assert!(matches!(&broken[..], [one] if one.how == listed), "{broken:?}");
    let broken = store.verify(&other).await.expect("gone through");
    assert!(matches!(&broken[..], [one] if one.how == How::Signature { id: name }), "{broken:?}");
}

async fn signed(store: &Store, id: &RecordId) -> String {
    let findings = store.keep_findings(id, "judge-2", "accept", b"{}", wall(30.0)).await;
    let code = code_of(&store.seals(id).await.expect("its seals"));
    let signing = Signing {
        name: "A. Tester",
        role: Role::Tester,
        remark: Some("rain"),
        code: &code,
        findings: Some(&findings.expect("kept")),
    };
    store.sign(id, &signing, wall(40.0)).await.expect("kept")
}

pub(crate) async fn nothing_is_changed_or_taken_out_while_the_guards_stand(engine: Engine) {
    let (store, id, _) = kept(&engine).await;
    signed(&store, &id).await;
    let refused = [
        ("UPDATE event SET bytes = seal WHERE seq = 1", "an event is never changed"),
        ("DELETE FROM event WHERE seq = 8", "an event is never taken out"),
        ("UPDATE chain SET seq = 0 WHERE seq = 8", "a chain only grows"),
        ("DELETE FROM chain", "a chain is never taken out"),
        ("DELETE FROM record", "a record is never taken out"),
        ("UPDATE findings SET verdict = 'reject'", "findings are never changed"),
        ("DELETE FROM findings", "findings are never taken out"),
        ("UPDATE signature SET name = 'B'", "a signature is never changed"),
        ("DELETE FROM signature", "a signature is never taken out"),
    ];
    for (statement, why) in refused {
        let said = engine.refused("records.db", statement).await;
        assert!(said.contains(why), "{statement}: {said}");
    }
    assert_eq!(store.verify_all().await.expect("gone through"), []);
}

pub(crate) async fn a_printed_code_is_found_at_its_event(engine: Engine) {
    let store = Store::open(&engine.at("records.db")).await.expect("opened");
    let id = store.begin(&head(), wall(0.0)).await.expect("kept");
    let early = store.append(&id, &[remark(1.0, "one")]).await.expect("kept");
    let late = store.append(&id, &[remark(2.0, "two")]).await.expect("kept");
    let writer = store.writer().to_owned();
    for (code, seq, went_on) in [
        (early.code.clone(), 1, true),
        (early.short().to_uppercase(), 1, true),
        (late.short(), 2, false),
    ] {
        let coded = store.verify_code(&id, &code).await.expect("gone through");
        assert_eq!(coded.found, Some((writer.clone(), seq)), "{code}");
        assert_eq!((coded.went_on, coded.broken.len()), (went_on, 0));
    }
    let none = store.verify_code(&id, &"0".repeat(16)).await.expect("gone through");
    assert_eq!(none.found, None);
    for bad in ["", "ba78", "not a code at all", &"0".repeat(65)] {
        let said = store.verify_code(&id, bad).await;
        assert!(matches!(said, Err(ReadError::Code { .. })), "{bad}");
    }
}
