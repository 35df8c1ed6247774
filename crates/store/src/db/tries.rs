//! What is tried again: a transaction that crossed another one, and one whose connection was lost.
//!
//! Only what may be done twice comes here. A transaction that crossed another is gone as a whole;
//! of one whose connection was lost nobody knows whether it got in, so whatever is tried again
//! finds what is there already.

use std::time::Duration;

use crate::db::Db;
use crate::trouble::{
    AppendError, ImportError, KeepError, OpenError, SheetError, SignError, Trouble,
};

/// How often one transaction may cross another.
const CROSSINGS: u32 = 20;

/// How often a lost connection is replaced. The pool waits for a server that starts again; a
/// person is told what to do by hand before long.
const LOSSES: u32 = 1;

/// How long one try may take on a server that says nothing any more, as when a cable is pulled. A
/// file answers in the end.
const SILENCE: Duration = Duration::from_secs(10);

/// The same where much is brought at once.
const LONG_SILENCE: Duration = Duration::from_secs(600);

/// The same where everything that is kept is gone through. It begins anew when it is ended.
const LONGEST_SILENCE: Duration = Duration::from_secs(6 * 3600);

/// Errors that may stand for the database's own trouble.
pub(crate) trait Told {
    fn trouble(&self) -> Option<&Trouble>;
    fn of(trouble: Trouble) -> Self;
}

/// What the tries so far ended in.
pub(crate) struct Tries {
    crossed: u32,
    lost: u32,
    limit: Option<Duration>,
}

impl Tries {
    /// Of something short.
    pub(crate) fn of(db: &Db) -> Self {
        let limit = matches!(db, Db::Pg(_)).then_some(SILENCE);
        Self { crossed: 0, lost: 0, limit }
    }

    /// Of something that may take its time.
    pub(crate) fn long(db: &Db) -> Self {
        let limit = matches!(db, Db::Pg(_)).then_some(LONG_SILENCE);
        Self { crossed: 0, lost: 0, limit }
    }

    /// Of something that goes through everything that is kept.
    pub(crate) fn longest(db: &Db) -> Self {
        let limit = matches!(db, Db::Pg(_)).then_some(LONGEST_SILENCE);
        Self { crossed: 0, lost: 0, limit }
    }

    /// One try, that ends.
    pub(crate) async fn within<T, E: Told>(
        &self,
        once: impl Future<Output = Result<T, E>>,
    ) -> Result<T, E> {
        let Some(limit) = self.limit else { return once.await };
        let ended = tokio::time::timeout(limit, once).await;
        ended.unwrap_or_else(|_| Err(E::of(Trouble::Silent)))
    }

    /// Whether it is to be done again, after a moment of its own.
    pub(crate) async fn again<T, E: Told>(&mut self, done: &Result<T, E>) -> bool {
        let pause = match done.as_ref().err().and_then(Told::trouble) {
            Some(Trouble::Crossed) if self.crossed < CROSSINGS => {
                self.crossed += 1;
                moment(self.crossed)
            }
            Some(Trouble::Away { .. }) if self.lost < LOSSES => {
                self.lost += 1;
                Duration::from_millis(50)
            }
            _ => return false,
        };
        tokio::time::sleep(pause).await;
        true
    }
}

/// The longer the more often, and never the same for two that crossed.
fn moment(times: u32) -> Duration {
    let some = crate::id::number().unsigned_abs() % 1000;
    Duration::from_micros(some * u64::from(times.min(10)))
}

macro_rules! told {
    ($($error:ident),*) => {$(
        impl Told for $error {
            fn trouble(&self) -> Option<&Trouble> {
                match self {
                    Self::Database(trouble) => Some(trouble),
                    _ => None,
                }
            }

            fn of(trouble: Trouble) -> Self {
                Self::Database(trouble)
            }
        }
    )*};
}

told!(AppendError, ImportError, KeepError, OpenError, SheetError, SignError);
