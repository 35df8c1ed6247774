//! A folder of one test alone, gone when it ends.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

static NEXT: AtomicU64 = AtomicU64::new(0);

pub(crate) struct Folder(PathBuf);

impl Folder {
    pub(crate) fn new() -> Self {
        let number = NEXT.fetch_add(1, Ordering::Relaxed);
        let name = format!("store-{}-{number}", std::process::id());
        let path = std::env::temp_dir().join(name);
        std::fs::create_dir_all(&path).expect("the folder for temporary files takes one more");
        Self(path)
    }

    pub(crate) fn path(&self) -> &Path {
        &self.0
    }

    pub(crate) fn file(&self, name: &str) -> String {
        self.0.join(name).to_string_lossy().into_owned()
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // The system clears what stays.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}
