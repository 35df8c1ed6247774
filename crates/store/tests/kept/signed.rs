//! Signatures: what is signed, by whom, and what goes with the record.

use store::export::Export;
use store::signatures::{Role, Signing, code_of};
use store::trouble::{ImportError, SignError};
use store::{RecordId, Store, Summary};

use crate::engine::Engine;
use crate::sample::{closed, head, remark, wall};

const SIGNING: Signing<'static> =
    Signing { name: "A. Tester", role: Role::Tester, remark: None, code: "", findings: None };

async fn over(store: &Store) -> RecordId {
    let id = store.begin(&head(), wall(0.0)).await.expect("kept");
    store.append(&id, &[remark(1.0, "one"), closed(2.0)]).await.expect("kept");
    id
}

async fn code(store: &Store, id: &RecordId) -> String {
    code_of(&store.seals(id).await.expect("its seals"))
}

pub(crate) async fn a_signature_is_of_what_was_before_the_eyes(engine: Engine) {
    let store = Store::open(&engine.at("records.db")).await.expect("opened");
    let id = over(&store).await;
    let findings = store.keep_findings(&id, "judge-2", "accept", b"{}", wall(3.0)).await;
    let (findings, code) = (findings.expect("kept"), code(&store, &id).await);
    let signing = Signing { code: &code, findings: Some(&findings), ..SIGNING };
    let old = store.sign(&id, &Signing { code: "ba78", ..signing }, wall(4.0)).await;
    assert!(matches!(old, Err(SignError::WentOn)));
    let others = store.sign(&id, &Signing { findings: Some("x"), ..signing }, wall(4.0)).await;
    assert!(matches!(others, Err(SignError::NoFindings { .. })));
    let nobody = store.sign(&id, &Signing { name: "  ", ..signing }, wall(4.0)).await;
    assert!(matches!(nobody, Err(SignError::NoName)));
    assert_eq!(store.signatures(&id).await.expect("a list"), []);
    let said = Signing { name: " A. Tester ", remark: Some(" "), ..signing };
    let kept = store.sign(&id, &said, wall(4.0)).await.expect("kept");
    let all = store.signatures(&id).await.expect("a list");
    let [one] = &all[..] else { panic!("one was given: {all:?}") };
    assert_eq!((&one.id, one.name.as_str(), one.role.as_str()), (&kept, "A. Tester", "tester"));
    assert_eq!((&one.remark, &one.code, &one.findings), (&None, &code, &Some(findings)));
    assert_eq!(one.signed, wall(4.0));
}

pub(crate) async fn what_waits_is_told_until_it_is_signed(engine: Engine) {
    let store = Store::open(&engine.at("records.db")).await.expect("opened");
    let open = store.begin(&head(), wall(0.0)).await.expect("kept");
    store.keep_findings(&open, "judge-2", "void", b"{}", wall(3.0)).await.expect("kept");
    let id = over(&store).await;
    let names = |list: Vec<Summary>| list.into_iter().map(|one| one.id).collect::<Vec<_>>();
    let unsigned = || async { names(store.unsigned().await.expect("a list")) };
    let unjudged = || async { names(store.unjudged().await.expect("a list")) };
    assert_eq!((unjudged().await, unsigned().await), (vec![id.clone()], vec![]));
    store.keep_findings(&id, "judge-2", "accept", b"{}", wall(3.0)).await.expect("kept");
    assert_eq!((unjudged().await, unsigned().await), (vec![], vec![id.clone()]));
    let signing = Signing { code: &code(&store, &id).await, ..SIGNING };
    store.sign(&id, &signing, wall(4.0)).await.expect("kept");
    assert_eq!((unjudged().await, unsigned().await), (vec![], vec![]));
}

pub(crate) async fn signatures_go_with_the_record(engine: Engine) {
    let here = Store::open(&engine.at("here.db")).await.expect("opened");
    let there = Store::open(&engine.at("there.db")).await.expect("opened");
    let id = over(&here).await;
    let findings = here.keep_findings(&id, "judge-2", "accept", b"{}", wall(3.0)).await;
    let (findings, code) = (findings.expect("kept"), code(&here, &id).await);
    let signing =
        Signing { code: &code, findings: Some(&findings), remark: Some("dry"), ..SIGNING };
    here.sign(&id, &signing, wall(4.0)).await.expect("kept");
    let file = exported(&here, &id).await;
    assert_eq!(there.import(&file).await.expect("taken in")[0].signatures, 1);
    assert_eq!(there.import(&file).await.expect("taken in")[0].signatures, 0);
    assert_eq!(there.verify_all().await.expect("gone through"), []);
    assert_eq!(exported(&there, &id).await, file, "the same bytes, seals and all");
    let changed = String::from_utf8(file.clone()).expect("text").replace("A. Tester", "B. Tester");
    let refused = there.import(changed.as_bytes()).await;
    assert!(matches!(refused, Err(ImportError::Broken { .. })));
    let mut later = Export::parse(&file).expect("an export");
    later.records[0].signatures[0].signed += jiff::SignedDuration::from_nanos(1);
    assert_eq!(later.verify().len(), 1, "a moment finer than is kept");
}

/// Derived: the form before signatures, by its definition without that key.
pub(crate) async fn an_export_of_the_first_form_comes_in(engine: Engine) {
    let here = Store::open(&engine.at("here.db")).await.expect("opened");
    let there = Store::open(&engine.at("there.db")).await.expect("opened");
    let id = over(&here).await;
    let text = String::from_utf8(exported(&here, &id).await).expect("text");
    let first = text.replace("export-2", "export-1").replace("\"signatures\":[],\n", "");
    assert!(!first.contains("signatures"), "{first}");
    assert!(there.import(first.as_bytes()).await.expect("taken in")[0].new);
}

async fn exported(store: &Store, id: &RecordId) -> Vec<u8> {
    let mut file = Vec::new();
    store.export_json(std::slice::from_ref(id), &mut file).await.expect("written");
    file
}
