//! Records at work in this program: one loop each, and any number of pages that look and say.

mod elsewhere;
mod hazard;
mod told;
mod work;

use std::collections::HashMap;
use std::sync::{Arc, PoisonError, RwLock};
use std::thread::JoinHandle;

use plan::{Job, Plan};
use quantity::Time;
use session::Kind;
use session::record::Head;
use store::{RecordId, Store};
use tokio::runtime::Handle;
use tokio::sync::{Mutex, watch};

use elsewhere::Elsewhere;
pub(crate) use hazard::Hazard;
pub(crate) use told::json;
pub(crate) use work::{Line, Work};

use crate::drive::clock::Clock;
use crate::drive::hosted::{self, Beside, Hosted};
use crate::drive::source::Source;
use crate::drive::wire::{self, Wire};
use crate::output::Trouble;

/// Records at work; a copy is another handle on the same.
#[derive(Clone)]
pub(crate) struct Hub(Arc<Inside>);

struct Inside {
    beside: Beside,
    at_work: RwLock<HashMap<RecordId, Arc<Work>>>,
    taking_up: Mutex<()>,
    threads: RwLock<Vec<JoinHandle<()>>>,
    /// What other programs go on with, or cannot be taken up.
    elsewhere: RwLock<Vec<Elsewhere>>,
    /// True from when every page is to let go.
    closing: watch::Sender<bool>,
}

impl Hub {
    /// None is at work yet.
    pub(crate) fn new(store: Arc<Store>, clock: Clock, every: Option<Time>) -> Self {
        let beside = Beside { store, handle: Handle::current(), clock, every };
        Self(Arc::new(Inside {
            beside,
            at_work: RwLock::default(),
            taking_up: Mutex::default(),
            threads: RwLock::default(),
            elsewhere: RwLock::default(),
            closing: watch::Sender::new(false),
        }))
    }

    /// The record, where it is at work here.
    pub(crate) fn at_work(&self, id: &RecordId) -> Option<Arc<Work>> {
        read(&self.0.at_work).get(id).cloned()
    }

    /// Every record that is at work here.
    pub(crate) fn all_at_work(&self) -> Vec<RecordId> {
        read(&self.0.at_work).keys().cloned().collect()
    }

    /// Begins a record; it is at work then.
    pub(crate) async fn begin(
        &self,
        job: Job,
        plan: Plan,
        source: Source,
    ) -> Result<RecordId, Trouble> {
        if let Some(refused) = crate::drive::refused(&plan) {
            return Err(refused);
        }
        let hub = self.clone();
        blocking(move || {
            let clock = &hub.0.beside.clock;
            let wire = wire(&source, &job, &plan, clock)?;
            let identity = match &wire {
                Some(wire) => wire.identities(),
                None => Some(wire::TYPED.to_owned()),
            };
            let kind = kind(wire.as_ref(), clock);
            let format = session::RECORD_FORMAT.to_owned();
            let head = Head { format, kind, source: identity, job, plan };
            let ended = hub.at_end();
            Ok(hub.works(hosted::begin(&hub.0.beside, head, wire, ended)?).id().clone())
        })
        .await
    }

    /// Goes on with a record that was left open; where it is at work, it stays with its source.
    pub(crate) async fn take_up(&self, id: &RecordId) -> Result<Arc<Work>, Trouble> {
        self.work_on(id, None).await
    }

    /// Readings come from here from now on; what was read before stays.
    pub(crate) async fn turn_to(
        &self,
        id: &RecordId,
        source: Source,
    ) -> Result<Arc<Work>, Trouble> {
        self.work_on(id, Some(source)).await
    }

    async fn work_on(&self, id: &RecordId, source: Option<Source>) -> Result<Arc<Work>, Trouble> {
        let (hub, id) = (self.clone(), id.clone());
        // Two pages that take up the same record at once take up one.
        let _one_by_one = self.0.taking_up.lock().await;
        blocking(move || {
            if let Some(work) = hub.at_work(&id) {
                if let Some(source) = &source {
                    work.desk.turn_to(hub.wire_of(source, work.head())?);
                }
                return Ok(work);
            }
            let (head, _) = hosted::look(&hub.0.beside, &id)?;
            hub.goes_by_this_clock(head.kind)?;
            let wire = hub.wire_of(&source.unwrap_or(Source::Keys), &head)?;
            Ok(hub.works(hosted::take_up(&hub.0.beside, &id, wire, hub.at_end())?))
        })
        .await
    }

    /// Changes when every page is to let go.
    pub(crate) fn closing(&self) -> watch::Receiver<bool> {
        self.0.closing.subscribe()
    }

    /// Tells every page to let go.
    pub(crate) fn let_pages_go(&self) {
        self.0.closing.send_replace(true);
    }

    /// Brings every record to rest; nothing that was acknowledged is lost.
    pub(crate) fn close(&self) {
        read(&self.0.at_work).values().for_each(|work| work.desk.leave());
        let mut threads = self.0.threads.write().unwrap_or_else(PoisonError::into_inner);
        for thread in threads.drain(..) {
            // One that panicked has nothing left to lose.
            let _ = thread.join();
        }
    }

    /// A real test is never timed by a clock that goes faster.
    fn goes_by_this_clock(&self, kind: Kind) -> Result<(), Trouble> {
        if self.0.beside.clock.times() <= 1.0 || matches!(kind, Kind::Practice | Kind::Simulated) {
            return Ok(());
        }
        Err(Trouble::Argument {
            remedy: "Start `ohmstead serve` without --practice-pace to go on with it".to_owned(),
            detail: "this program's clock goes faster, and the record is of a real test".to_owned(),
        })
    }

    /// A source for a record that is there: simulated readings never enter a real one.
    fn wire_of(&self, source: &Source, head: &Head) -> Result<Option<Wire>, Trouble> {
        let wire = wire(source, &head.job, &head.plan, &self.0.beside.clock)?;
        let simulated = wire.as_ref().is_some_and(Wire::is_simulated);
        let fits = match head.kind {
            Kind::Practice => true,
            Kind::Simulated => simulated || wire.is_none(),
            Kind::Test | Kind::Transcribed => !simulated,
        };
        if fits {
            return Ok(wire);
        }
        Err(Trouble::Argument {
            remedy: "Choose another source, or type the readings".to_owned(),
            detail: "real and simulated readings never stand in one record".to_owned(),
        })
    }

    fn works(&self, hosted: Hosted) -> Arc<Work> {
        let Hosted { id, head, points, moments, desk, thread } = hosted;
        let clock = self.0.beside.clock.clone();
        let work = Arc::new(Work {
            id: id.clone(),
            head,
            points,
            moments,
            desk,
            clock,
            told: std::sync::Mutex::default(),
        });
        let mut at_work = self.0.at_work.write().unwrap_or_else(PoisonError::into_inner);
        at_work.insert(id, Arc::clone(&work));
        drop(at_work);
        let mut threads = self.0.threads.write().unwrap_or_else(PoisonError::into_inner);
        threads.retain(|thread| !thread.is_finished());
        threads.push(thread);
        drop(threads);
        work
    }

    fn at_end(&self) -> impl FnOnce(&RecordId) + Send + 'static {
        let inside = Arc::downgrade(&self.0);
        move |id| {
            let Some(inside) = inside.upgrade() else { return };
            inside.at_work.write().unwrap_or_else(PoisonError::into_inner).remove(id);
        }
    }
}

/// What waits for a meter or the database waits in a thread of its own.
async fn blocking<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, Trouble> + Send + 'static,
) -> Result<T, Trouble> {
    let done = tokio::task::spawn_blocking(work).await;
    done.map_err(|error| Trouble::System(std::io::Error::other(error)))?
}

fn wire(source: &Source, job: &Job, plan: &Plan, clock: &Clock) -> Result<Option<Wire>, Trouble> {
    match source {
        Source::Keys => Ok(None),
        Source::Wire(address) => Wire::open(Some(address), job).map(Some),
        Source::Meters => Wire::open(None, job).map(Some),
        Source::Sim { seed } => {
            Wire::of_practice_by_the_clock(job, plan, *seed, clock.times()).map(Some)
        }
        Source::Csv(_) => Err(Trouble::Argument {
            remedy: "Take the file in with `ohmstead run JOB.toml --from csv:FILE`".to_owned(),
            detail: "a file of readings is no source of a test that happens now".to_owned(),
        }),
    }
}

/// Nothing typed makes a simulation, only what the instrument says of itself.
fn kind(wire: Option<&Wire>, clock: &Clock) -> Kind {
    if clock.times() > 1.0 {
        Kind::Practice
    } else if wire.is_some_and(Wire::is_simulated) {
        Kind::Simulated
    } else {
        Kind::Test
    }
}

fn read<T>(lock: &RwLock<T>) -> std::sync::RwLockReadGuard<'_, T> {
    lock.read().unwrap_or_else(PoisonError::into_inner)
}
