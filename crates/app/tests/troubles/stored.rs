//! Records as they are kept, read back beside the program.

use session::Record;
use store::{Filter, Store};

/// Each with its name, the newest first; the seals of all hold.
pub(crate) fn records(db: &str) -> Vec<(String, Record)> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    runtime.expect("a runtime for one test").block_on(async {
        let store = Store::open_to_read(db).await.expect("it can be read");
        let mut records = Vec::new();
        for one in store.list(&Filter::default()).await.expect("a list") {
            assert_eq!(store.verify(&one.id).await.expect("gone through"), []);
            let record = store.record(&one.id).await.expect("whole").record;
            records.push((one.id.to_string(), record));
        }
        store.close().await;
        records
    })
}
