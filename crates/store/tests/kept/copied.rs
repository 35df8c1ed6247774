//! All of one database in another.

use jiff::civil::date;
use store::copy::Copied;
use store::meet::{Laptop, Refused, Told, Why};
use store::people::{May, NewPass};
use store::signatures::{Role, Signing, code_of};
use store::things::{Calibration, ThingKind};
use store::{Filter, RecordId, Seal, Store};

use crate::engine::Engine;
use crate::sample::{JOB, batch, closed, head, remark, typed, wall};

const TOKEN: [u8; 32] = [7; 32];

/// Something of everything that is kept, in so many records.
pub(crate) async fn filled(place: &str, records: u32) -> Store {
    let store = Store::open(place).await.expect("opened");
    let job = plan::job_file::parse(JOB).expect("a job");
    store.keep_job(JOB, &job, wall(0.0)).await.expect("kept");
    let calibration = Calibration {
        kind: ThingKind::Set,
        name: "HV set 2".to_owned(),
        date: date(2025, 3, 2),
        due: None,
        certificate: Some("C-1".to_owned()),
        note: None,
    };
    store.keep_calibration(&calibration, wall(1.0)).await.expect("kept");
    store.set_person("Op", "hash", wall(2.0)).await.expect("kept");
    let pass = NewPass {
        token: &TOKEN,
        person: "Op",
        device: "tablet",
        may: May::FarEnd,
        record: Some("r"),
        made: wall(3.0),
        until: wall(1e6),
    };
    store.keep_pass(&pass).await.expect("kept");
    store.begin_sheet("typed", "# so far", wall(4.0)).await.expect("kept");
    store.keep_office("http://office", &TOKEN).await.expect("kept");
    let laptop = Laptop {
        writer: "w".to_owned(),
        device: "L-3".to_owned(),
        met: wall(5.0),
        told: Told::default(),
    };
    store.laptop_met(&laptop).await.expect("kept");
    let refused =
        Refused { record: "r".to_owned(), writer: "w".to_owned(), seq: 3, why: Why::Broken };
    store.remember_refused("w", &[refused], wall(6.0)).await.expect("kept");
    for number in 0..records {
        let begun = wall(100.0 * f64::from(number));
        let id = store.begin(&head(), begun).await.expect("kept");
        let entries = [typed(1.0, 25.0, 7.0), batch(2.0, 10), remark(40.0, "hail, \"hard\"")];
        store.append(&id, &entries).await.expect("kept");
        if number % 3 == 0 {
            continue;
        }
        store.append(&id, &[closed(50.0)]).await.expect("kept");
        let findings = store.keep_findings(&id, "judge-2", "accept", b"{}", begun).await;
        let code = code_of(&store.seals(&id).await.expect("its seals"));
        let signing = Signing {
            name: "A. Tester",
            role: Role::Tester,
            remark: None,
            code: &code,
            findings: Some(&findings.expect("kept")),
        };
        store.sign(&id, &signing, begun).await.expect("kept");
        let sheet = store.begin_sheet("G-0417", JOB, begun).await.expect("kept");
        store.sheet_becomes(&sheet, &id).await.expect("kept");
    }
    store
}

/// Everything that a person could ask of it, and its records as they are sealed.
pub(crate) async fn all(store: &Store) -> (String, Vec<u8>) {
    let records = store.list(&Filter::default()).await.expect("a list");
    let ids: Vec<RecordId> = records.iter().map(|one| one.id.clone()).collect();
    let mut file = Vec::new();
    store.export_json(&ids, &mut file).await.expect("written");
    let mut sheets = Vec::new();
    for id in &ids {
        sheets.push(store.sheet_of(id).await.expect("read"));
    }
    let text = format!(
        "{records:#?} {:#?} {:#?} {:#?} {:#?} {:#?} {:#?} {sheets:#?} {:#?} {:?} {:#?} {:#?} \
         {:#?} {:?} {:#?}",
        store.jobs().await.expect("a list"),
        store.apparatus().await.expect("a list"),
        store.sets().await.expect("a list"),
        store.meters().await.expect("a list"),
        store.calibrations(ThingKind::Set, "HV set 2").await.expect("a list"),
        store.sheets().await.expect("a list"),
        store.people().await.expect("a list"),
        store.secret_of("Op").await.expect("read"),
        store.pass(&TOKEN, wall(5.0)).await.expect("read"),
        store.offices().await.expect("a list"),
        store.laptops().await.expect("a list"),
        store.pass_of_office("http://office").await.expect("read"),
        store.refused().await.expect("a list"),
    );
    (text, file)
}

/// The codes of every record, as they would be printed.
async fn codes(store: &Store) -> Vec<Vec<(String, Seal)>> {
    assert_eq!(store.verify_all().await.expect("gone through"), []);
    let mut codes = Vec::new();
    for one in store.list(&Filter::default()).await.expect("a list") {
        codes.push(store.seals(&one.id).await.expect("its seals"));
    }
    codes
}

/// Copies, looks, and copies again.
pub(crate) async fn check(from: &str, to: &str) {
    let here = filled(from, 40).await;
    let there = Store::open(to).await.expect("opened");
    let mut told = Vec::new();
    let copied = here.copy_to(&there, |done, of| told.push((done, of))).await.expect("copied");
    assert_eq!(told.last(), Some(&(40, 40)));
    // By hand: 40 records of 4 events; 26 of these closed, judged, signed, each from a sheet.
    let expected = Copied {
        records: 40,
        new: 40,
        events: 40 * 4 + 26,
        findings: 26,
        signatures: 26,
        jobs: 1,
        things: 2,
        calibrations: 2,
        sheets: 27,
        people: 1,
        passes: 1,
        meetings: 3,
        left: vec![],
    };
    assert_eq!(copied, expected);
    assert_eq!(all(&there).await, all(&here).await);
    assert_eq!(codes(&there).await, codes(&here).await);
    let again = here.copy_to(&there, |_, _| ()).await.expect("copied");
    assert_eq!(again, Copied { records: 40, ..Copied::default() });
    // What went on since, on either side.
    let open = there.open_records().await.expect("a list").remove(0).id;
    there.append(&open, &[remark(60.0, "there")]).await.expect("kept");
    here.append(&open, &[remark(70.0, "here"), closed(80.0)]).await.expect("kept");
    let more = here.copy_to(&there, |_, _| ()).await.expect("copied");
    assert_eq!((more.new, more.events, &more.left[..]), (0, 2, &[][..]));
    let back = there.copy_to(&here, |_, _| ()).await.expect("copied");
    assert_eq!((back.new, back.events, &back.left[..]), (0, 1, &[][..]));
    assert_eq!(codes(&there).await, codes(&here).await);
    assert_eq!(all(&there).await, all(&here).await);
    here.close().await;
    there.close().await;
}

pub(crate) async fn all_of_it_is_the_same_elsewhere(engine: Engine) {
    check(&engine.at("here.db"), &engine.at("there.db")).await;
}

pub(crate) async fn what_is_broken_is_left_and_named(engine: Engine) {
    let here = filled(&engine.at("here.db"), 4).await;
    let there = Store::open(&engine.at("there.db")).await.expect("opened");
    let id = here.list(&Filter::default()).await.expect("a list").remove(1).id;
    let chain = format!("(SELECT id FROM chain WHERE record = '{id}')");
    let changed = Engine::replaced("hail", "snow");
    let statement = format!("UPDATE event SET bytes = {changed} WHERE seq = 3 AND chain = {chain}");
    engine.meddle("here.db", &[statement]).await;
    let copied = here.copy_to(&there, |_, _| ()).await.expect("copied");
    let [left] = &copied.left[..] else { panic!("one is broken: {:?}", copied.left) };
    assert_eq!((&left.record, left.broken.len(), left.broken[0].seq), (&id, 1, Some(3)));
    assert_eq!((copied.new, there.list(&Filter::default()).await.expect("a list").len()), (3, 3));
    assert_eq!(there.verify_all().await.expect("gone through"), []);
    // Its sheet waits for it.
    assert_eq!(there.sheet_of(&id).await.expect("read"), None);
}

/// An account that is there keeps its password, and whoever came in by another one does not.
pub(crate) async fn an_account_is_not_taken_over(engine: Engine) {
    let here = filled(&engine.at("here.db"), 0).await;
    let there = Store::open(&engine.at("there.db")).await.expect("opened");
    there.set_person("Op", "another", wall(0.0)).await.expect("kept");
    let copied = here.copy_to(&there, |_, _| ()).await.expect("copied");
    assert_eq!((copied.people, copied.passes), (0, 0));
    assert_eq!(there.secret_of("Op").await.expect("read").as_deref(), Some("another"));
    assert_eq!(there.pass(&TOKEN, wall(5.0)).await.expect("read"), None);
}

/// A backup is made while others write: it holds what was kept when it began, whole.
pub(crate) async fn a_backup_is_made_while_others_write(engine: Engine) {
    let here = filled(&engine.at("here.db"), 30).await;
    let folder = std::env::temp_dir().join(format!("backup-{}", crate::engine::Engine::NAME));
    let folder = folder.join(std::process::id().to_string());
    std::fs::create_dir_all(&folder).expect("made");
    let file = folder.join("backup.db");
    let id = here.open_records().await.expect("a list").remove(0).id;
    let other = Store::open(&engine.at("here.db")).await.expect("opened");
    let (begun, _) = tokio::join!(here.backup(&file, |_, _| ()), async {
        let mine = other.begin(&head(), wall(5000.0)).await.expect("kept");
        for at in 0..40_u32 {
            let at = f64::from(at);
            other.append(&mine, &[batch(at, 5)]).await.expect("kept");
            here.append(&id, &[remark(100.0 + at, "and on")]).await.expect("kept");
        }
    });
    let backup = begun.expect("made");
    assert_eq!((&backup.broken[..], &backup.left[..]), (&[][..], &[][..]));
    assert!((30..=31).contains(&backup.records), "{}", backup.records);
    let again = here.backup(&file, |_, _| ()).await.expect_err("it is there already");
    assert!(again.to_string().starts_with("give the backup another name"), "{again}");

    let place = file.to_string_lossy().into_owned();
    let kept = Store::open_to_read(&place).await.expect("a database like any other");
    assert_ne!(kept.writer(), here.writer(), "it does not take the place of the other");
    let restored = Store::open(&engine.at("restored.db")).await.expect("opened");
    let copied = kept.copy_to(&restored, |_, _| ()).await.expect("copied");
    assert_eq!((copied.new, &copied.left[..]), (backup.records, &[][..]));
    assert_eq!(codes(&restored).await, codes(&kept).await);
    assert_eq!(all(&restored).await, all(&kept).await);
    // Each is what the other one had at that moment: the same beginning, event by event.
    let (then, now) = (kept.record(&id).await.expect("whole"), here.record(&id).await);
    let (then, now) = (then.record.events, now.expect("whole").record.events);
    assert!(then.len() >= 3 && now.starts_with(&then), "{} of {}", then.len(), now.len());
    // Whoever goes on with it does so under a name of its own, and both come together.
    restored.append(&id, &[remark(500.0, "restored")]).await.expect("kept");
    let merged = restored.copy_to(&here, |_, _| ()).await.expect("copied");
    assert_eq!((merged.events, &merged.left[..]), (1, &[][..]));
    assert_eq!(here.verify_all().await.expect("gone through"), []);
    kept.close().await;
    // The system clears what stays.
    let _ = std::fs::remove_dir_all(folder);
}
