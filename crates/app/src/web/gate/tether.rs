//! Sockets that stay open long after they were let in: cut when their pass is taken back.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, Weak};

/// Held by one connection; once it is cut nothing goes in or out.
#[derive(Debug, Default)]
pub(super) struct Tether(AtomicBool);

impl Tether {
    pub(super) fn is_cut(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}

/// Those of open sockets, each with the name of its pass.
#[derive(Debug, Default)]
pub(super) struct Tethers(Mutex<Vec<(Weak<Tether>, String)>>);

impl Tethers {
    pub(super) fn hold(&self, tether: &Arc<Tether>, pass: &str) {
        let mut all = self.all();
        all.retain(|(one, _)| one.strong_count() > 0);
        all.push((Arc::downgrade(tether), pass.to_owned()));
    }

    /// Cuts those whose pass is one of these.
    pub(super) fn cut(&self, is_one: impl Fn(&str) -> bool) {
        for (tether, pass) in self.all().iter() {
            if let Some(tether) = tether.upgrade().filter(|_| is_one(pass)) {
                tether.0.store(true, Ordering::Relaxed);
            }
        }
    }

    pub(super) fn is_empty(&self) -> bool {
        let mut all = self.all();
        all.retain(|(one, _)| one.strong_count() > 0);
        all.is_empty()
    }

    fn all(&self) -> MutexGuard<'_, Vec<(Weak<Tether>, String)>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}
