//! A record at work: begun, its checklist gone through, and taken up by what is served.

use std::path::Path;

use browser::{Asked, Fault, Served, call_with, confirms};
use serde_json::Value;

/// A glove: one piece, one rise, one hold.
pub(crate) const GLOVE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/jobs/glove.toml");

/// What is served, and the record that is at work in it.
pub(crate) struct AtWork {
    pub(crate) served: Served,
    pub(crate) record: String,
}

impl AtWork {
    /// Serves a record of a real test that was left open before voltage.
    pub(crate) fn start() -> Result<Self, Fault> {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR"));
        let db = folder.join(format!("left-open-{}.db", fresh()));
        let place = db.display().to_string();
        let words = ["run", GLOVE, "--from", "keys", "--by", "first technician", "--db", &place];
        let ready = confirms(GLOVE)? + "@1 ground 1 at cuff\nlead 1\ncheck\nlift 1\n";
        let told = call_with(words, &ready)?;
        let served = Served::start(Asked { copy_of: Some(&db), ..Asked::default() })?;
        std::fs::remove_file(&db)?;
        let records = listed(&served)?;
        let record = records[0]["id"].as_str().map(str::to_owned);
        let record = record.unwrap_or_else(|| {
            panic!("no record was begun: {}", String::from_utf8_lossy(&told.stderr))
        });
        Ok(Self { served, record })
    }

    /// Its sheet.
    pub(crate) fn sheet(&self) -> String {
        format!("/sheet/{}", self.record)
    }

    /// The second screen.
    pub(crate) fn watch(&self) -> String {
        format!("/watch/{}", self.record)
    }

    /// Every reading in the record by its time: seconds from energising, kilovolts, microamperes.
    pub(crate) fn readings(&self) -> Result<Vec<[f64; 3]>, Fault> {
        readings(&self.served, &self.record)
    }
}

/// Every reading of a record by its time: seconds from energising, kilovolts, microamperes.
pub(crate) fn readings(served: &Served, record: &str) -> Result<Vec<[f64; 3]>, Fault> {
    let csv = served.call(&["export", "--record", record, "--format", "csv"])?;
    assert!(csv.status.success(), "{}", String::from_utf8_lossy(&csv.stderr));
    let csv = String::from_utf8_lossy(&csv.stdout).into_owned();
    let mut lines = csv.lines().filter(|line| !line.starts_with('#'));
    let head: Vec<&str> = lines.next().unwrap_or_default().split(',').collect();
    let column = |name: &str| head.iter().position(|one| one.starts_with(name));
    let (Some(t), Some(kv), Some(ua)) = (column("t_s"), column("kv"), column("ua")) else {
        panic!("no time, kilovolts and microamperes in {csv}");
    };
    let number = |line: &str, at: usize| line.split(',').nth(at)?.parse().ok();
    Ok(lines
        .filter_map(|line| Some([number(line, t)?, number(line, kv)?, number(line, ua)?]))
        .collect())
}

fn listed(served: &Served) -> Result<Value, Fault> {
    let list = served.call(&["list", "records", "--json"])?;
    Ok(serde_json::from_slice(&list.stdout).expect("a list is JSON"))
}

/// No two are alike in one run of the tests.
fn fresh() -> u32 {
    use std::sync::atomic::{AtomicU32, Ordering};
    static COUNT: AtomicU32 = AtomicU32::new(0);
    COUNT.fetch_add(1, Ordering::Relaxed)
}
