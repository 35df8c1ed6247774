//! Jobs, apparatus, sets and meters, calibrations, findings.

use jiff::civil::date;
use store::Store;
use store::things::{Calibration, ThingKind};
use store::trouble::KeepError;

use crate::engine::Engine;
use crate::sample::{JOB, head, remark, wall};

pub(crate) async fn a_job_is_kept_once_with_what_it_names(engine: Engine) {
    let store = Store::open(&engine.at("records.db")).await.expect("opened");
    let meter = "\n[[meter]]\nreads = \"voltage\"\nratio = 10000.0\ncalibrated = 2026-03-03\n";
    let text = format!("{JOB}{meter}");
    let job = plan::job_file::parse(&text).expect("a job");
    let first = store.keep_job(&text, &job, wall(0.0)).await.expect("kept");
    let again = store.keep_job(&text, &job, wall(1.0)).await.expect("kept");
    assert_eq!(first, again);
    let jobs = store.jobs().await.expect("a list");
    assert_eq!((jobs.len(), jobs[0].text.as_str()), (1, text.as_str()));
    assert_eq!((jobs[0].asset.as_str(), jobs[0].date), ("G-0417", Some(date(2026, 11, 3))));
    let apparatus = store.apparatus().await.expect("a list");
    assert_eq!((apparatus.len(), &apparatus[0].is), (1, &job.asset));
    let sets = store.sets().await.expect("a list");
    assert_eq!((sets[0].name.as_str(), &sets[0].is), ("HV set 2", &job.set));
    let meters = store.meters().await.expect("a list");
    assert_eq!(meters[0].name, "voltage at HV set 2");
    let of_meter = store.calibrations(ThingKind::Meter, &meters[0].name).await.expect("a list");
    assert_eq!((of_meter.len(), of_meter[0].date), (1, date(2026, 3, 3)));
    let of_set = store.calibrations(ThingKind::Set, "HV set 2").await.expect("a list");
    assert_eq!(of_set.len(), 1);
    // Derived: twelve months after 2026-03-02.
    assert_eq!((of_set[0].date, of_set[0].due), (date(2026, 3, 2), Some(date(2027, 3, 2))));

    let mut other = job;
    other.asset.conductors = vec!["left".to_owned()];
    store.keep_apparatus(&other.asset, wall(2.0)).await.expect("kept");
    let apparatus = store.apparatus().await.expect("a list");
    assert_eq!((apparatus.len(), &apparatus[0].is), (1, &other.asset), "as it stands now");
}

pub(crate) async fn a_calibration_is_that_of_the_day(engine: Engine) {
    let store = Store::open(&engine.at("records.db")).await.expect("opened");
    let of = |year, certificate: &str| Calibration {
        kind: ThingKind::Set,
        name: "HV set 2".to_owned(),
        date: date(year, 3, 2),
        due: Some(date(year + 1, 3, 2)),
        certificate: Some(certificate.to_owned()),
        note: None,
    };
    for one in [of(2026, "C-2"), of(2024, "C-0"), of(2025, "C-1"), of(2025, "C-1")] {
        store.keep_calibration(&one, wall(0.0)).await.expect("kept");
    }
    let all = store.calibrations(ThingKind::Set, "HV set 2").await.expect("a list");
    assert_eq!(all, [of(2024, "C-0"), of(2025, "C-1"), of(2026, "C-2")]);
    for (day, expected) in [
        (date(2024, 3, 1), None),
        (date(2024, 3, 2), Some(of(2024, "C-0"))),
        (date(2026, 3, 1), Some(of(2025, "C-1"))),
        (date(2030, 1, 1), Some(of(2026, "C-2"))),
    ] {
        let found = store.calibration_as_of(ThingKind::Set, "HV set 2", day).await;
        assert_eq!(found.expect("looked up"), expected, "{day}");
    }
    let backwards = Calibration { due: Some(date(2023, 1, 1)), ..of(2024, "C") };
    let refused = store.keep_calibration(&backwards, wall(0.0)).await;
    assert!(matches!(refused, Err(KeepError::DueBefore { .. })));
    let nameless = Calibration { name: " ".to_owned(), ..of(2024, "C") };
    let refused = store.keep_calibration(&nameless, wall(0.0)).await;
    assert!(matches!(refused, Err(KeepError::NoName { .. })));
}

pub(crate) async fn judging_again_stands_beside_what_was_judged(engine: Engine) {
    let store = Store::open(&engine.at("records.db")).await.expect("opened");
    let id = store.begin(&head(), wall(0.0)).await.expect("kept");
    let seal = store.append(&id, &[remark(1.0, "one")]).await.expect("kept");
    let keep = async |method: &str, verdict: &str, at: f64| {
        store.keep_findings(&id, method, verdict, verdict.as_bytes(), wall(at)).await.expect("kept")
    };
    let first = keep("judge-2", "accept", 10.0).await;
    let same = keep("judge-2", "accept", 20.0).await;
    assert_eq!(first, same, "the same findings of the same events are kept once");
    keep("judge-3", "investigate", 30.0).await;
    store.append(&id, &[remark(40.0, "two")]).await.expect("kept");
    keep("judge-2", "accept", 50.0).await;
    let kept = store.findings(&id).await.expect("a list");
    let verdicts: Vec<&str> = kept.iter().map(|one| one.verdict.as_str()).collect();
    assert_eq!(verdicts, ["accept", "investigate", "accept"]);
    assert_eq!((kept[0].code.as_str(), &kept[0].bytes[..]), (seal.code.as_str(), &b"accept"[..]));
    assert_ne!(kept[2].code, kept[0].code);
}
