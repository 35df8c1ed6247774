//! Tests of the years, read from the store as a history needs them.
//!
//! What was read of a record once is kept for as long as the program runs, until it is judged anew.

use std::collections::HashMap;
use std::sync::{Arc, LazyLock, Mutex, PoisonError};

use jiff::civil::Date;
use jiff::{Span, Timestamp};
use judge::history::{Due, History, Standing, Test, history};
use judge::{Findings, METHOD};
use plan::job::Asset;
use session::Kind;
use standards::{Library, rubber};
use store::overview::{Judged, Search};
use store::things::Thing;
use store::{Filter, RecordId, Store, Summary};

use crate::commands::subject;
use crate::output::Trouble;
use crate::show::plan::mark;

/// A record as it was read: when it was judged last, and its test; `None` where its seals do not
/// hold, for nothing is told from what was changed.
type Read = (Option<Timestamp>, Option<Arc<Test>>);

static READ: LazyLock<Mutex<HashMap<String, Read>>> = LazyLock::new(Mutex::default);

/// Where more records than these are kept, none is read before somebody asks for it.
pub(crate) const READ_AHEAD: u64 = 5000;

/// Other apparatus of a class that one is held against: those that were tested last.
const LIKES: u32 = 30;

/// What is kept of some apparatus, or of all, as a history and a ranking look things up.
pub(crate) struct Kept {
    /// Of each apparatus, the newest first.
    records: HashMap<String, Vec<Summary>>,
    verdicts: HashMap<RecordId, Judged>,
    things: HashMap<String, Asset>,
}

/// An apparatus over the years, and the records that nothing is told from.
pub(crate) struct Years {
    pub(crate) history: History,
    pub(crate) broken: Vec<RecordId>,
}

impl Kept {
    /// Of all apparatus.
    pub(crate) async fn of(store: &Store) -> Result<Self, Trouble> {
        let mut records: HashMap<String, Vec<Summary>> = HashMap::new();
        for one in store.list(&Filter::default()).await?.into_iter().filter(is_over) {
            records.entry(one.asset.clone()).or_default().push(one);
        }
        let things = store.apparatus().await?.into_iter();
        let things = things.map(|Thing { name, is, .. }| (name, is)).collect();
        Ok(Self { records, verdicts: store.verdicts().await?, things })
    }

    /// Of these apparatus alone.
    pub(crate) async fn about(store: &Store, names: &[&str]) -> Result<Self, Trouble> {
        let mut kept =
            Self { records: HashMap::new(), verdicts: HashMap::new(), things: HashMap::new() };
        for name in names {
            let filter = Filter { asset: Some((*name).to_owned()), open: false };
            let records: Vec<Summary> =
                store.list(&filter).await?.into_iter().filter(is_over).collect();
            if !records.is_empty() {
                kept.records.insert((*name).to_owned(), records);
            }
            kept.verdicts.extend(store.verdicts_of(name).await?);
            let plate = store.apparatus_since(name).await?.into_iter().next();
            kept.things.extend(plate.map(|plate| (plate.name, plate.is)));
        }
        Ok(kept)
    }

    /// Every apparatus that is kept or was tested, by name.
    pub(crate) fn names(&self) -> Vec<&str> {
        let all = self.records.keys().chain(self.things.keys());
        let mut names: Vec<&str> = all.map(String::as_str).collect();
        names.sort_unstable();
        names.dedup();
        names
    }

    /// The tests of one apparatus, and which of its records are not what was sealed.
    async fn tests(
        &self,
        store: &Store,
        asset: &str,
        library: &Library,
    ) -> Result<(Vec<Arc<Test>>, Vec<RecordId>), Trouble> {
        let (mut tests, mut broken) = (Vec::new(), Vec::new());
        for record in self.records.get(asset).into_iter().flatten() {
            match test(store, record, self.judged(record), library).await? {
                Some(test) => tests.push(test),
                None => broken.push(record.id.clone()),
            }
        }
        Ok((tests, broken))
    }

    /// How many records of an apparatus are yet to be read.
    pub(crate) fn unread(&self, asset: &str) -> usize {
        let all = READ.lock().unwrap_or_else(PoisonError::into_inner);
        let is_read = |one: &&Summary| all.contains_key(one.id.as_str());
        self.records.get(asset).into_iter().flatten().filter(|one| !is_read(one)).count()
    }

    fn judged(&self, record: &Summary) -> Option<Timestamp> {
        self.verdicts.get(&record.id).map(|one| one.judged)
    }

    /// The newest test of other apparatus of the same class, no more of them than tell what is
    /// usual.
    async fn others(
        &self,
        store: &Store,
        asset: &str,
        library: &Library,
    ) -> Result<Vec<Arc<Test>>, Trouble> {
        let class = self.things.get(asset).and_then(|thing| serde_json::to_value(thing.class).ok());
        let Some(class) = class.as_ref().and_then(serde_json::Value::as_str) else {
            return Ok(Vec::new());
        };
        let mut newest = store.newest_of_class(class, asset, LIKES).await?;
        newest.sort_by(|(one, _), (other, _)| one.asset.cmp(&other.asset));
        let mut others = Vec::new();
        for (record, judged) in newest {
            let judged = judged.map(|one| one.judged);
            others.extend(test(store, &record, judged, library).await?);
        }
        Ok(others)
    }

    /// One apparatus over the years.
    pub(crate) async fn years(
        &self,
        store: &Store,
        asset: &str,
        library: &Library,
    ) -> Result<Years, Trouble> {
        let (tests, broken) = self.tests(store, asset, library).await?;
        let others = self.others(store, asset, library).await?;
        let [tests, others] = [&tests, &others].map(|all| all.iter().map(AsRef::as_ref).collect());
        let [tests, others]: [Vec<&Test>; 2] = [tests, others];
        Ok(Years { history: history(asset, &tests, &others, library), broken })
    }

    /// Where one apparatus stands; likes are not looked at.
    pub(crate) async fn standing(
        &self,
        store: &Store,
        asset: &str,
        library: &Library,
    ) -> Result<Standing, Trouble> {
        let (tests, _) = self.tests(store, asset, library).await?;
        let tests: Vec<&Test> = tests.iter().map(AsRef::as_ref).collect();
        let history = history(asset, &tests, &[], library);
        let due = self.due(&history, library);
        let mut standing = Standing::of(&history, due);
        standing.class = standing.class.or_else(|| Some(self.things.get(asset)?.class));
        Ok(standing)
    }

    /// What did not pass has no next test by an interval: it stays out of use until it is settled.
    fn due(&self, history: &History, library: &Library) -> Option<Due> {
        let item = self.things.get(&history.asset)?.protective.as_ref()?.item;
        let passed = history.tests.last()?.verdict == judge::Verdict::Accept;
        let months = rubber::retest_months(library, item).filter(|_| passed)?;
        let on: Date = history.as_of?;
        let on = on.checked_add(Span::new().months(months.value)).ok()?;
        let why =
            format!("{} months, {}, {}", months.value, months.source, mark(months.source.mark));
        Some(Due { on, why })
    }
}

/// Nothing follows in it: closed, or written down elsewhere.
fn is_over(one: &Summary) -> bool {
    one.closed || one.kind == Kind::Transcribed
}

/// The test of a record, read where it was not read before, or was judged anew since.
async fn test(
    store: &Store,
    record: &Summary,
    judged: Option<Timestamp>,
    library: &Library,
) -> Result<Option<Arc<Test>>, Trouble> {
    let known = {
        let all = READ.lock().unwrap_or_else(PoisonError::into_inner);
        all.get(record.id.as_str()).cloned()
    };
    if let Some((_, test)) = known.filter(|(when, _)| *when == judged) {
        return Ok(test);
    }
    let test = read(store, record, library).await?.map(Arc::new);
    let mut all = READ.lock().unwrap_or_else(PoisonError::into_inner);
    all.insert(record.id.as_str().to_owned(), (judged, test.clone()));
    Ok(test)
}

/// Whether so few records are kept that all of them may be read and held.
pub(crate) async fn are_few(store: &Store) -> bool {
    let counted = store.count_lives(&Search::default()).await;
    counted.is_ok_and(|counted| counted.tests <= READ_AHEAD)
}

/// Reads every record once, where there are few, so that the first page that asks for all does not
/// wait.
pub(crate) async fn read_all(store: Arc<Store>, library: Library) {
    if !are_few(&store).await {
        return;
    }
    // A page that needs one reads it itself, and tells what is wrong.
    let Ok(kept) = Kept::of(&store).await else { return };
    for record in kept.records.values().flatten() {
        let _ = test(&store, record, kept.judged(record), &library).await;
    }
}

/// The same with every processor there is, for whoever waits for the whole of it.
pub(crate) async fn read_all_at_once(store: &Arc<Store>, library: &Library) -> Result<(), Trouble> {
    let kept = Arc::new(Kept::of(store).await?);
    let workers = std::thread::available_parallelism().map_or(1, usize::from);
    let mut work = tokio::task::JoinSet::new();
    for first in 0..workers {
        let (kept, store, library) = (Arc::clone(&kept), Arc::clone(store), library.clone());
        work.spawn(async move {
            let own = kept.records.values().flatten().skip(first).step_by(workers);
            for record in own {
                // What is wrong with one is told when it is looked at.
                let _ = test(&store, record, kept.judged(record), &library).await;
            }
        });
    }
    while work.join_next().await.is_some() {}
    Ok(())
}

/// The test of a kept record against those before it: what came later is not looked at, so that the
/// same record has the same report.
pub(crate) async fn up_to(
    store: &Store,
    judged: &subject::Judged,
    library: &Library,
) -> Result<Option<History>, Trouble> {
    let Some(seal) = &judged.seal else { return Ok(None) };
    let asset = &judged.record.job.asset.id;
    let kept = Kept::about(store, &[asset]).await?;
    let (tests, _) = kept.tests(store, asset, library).await?;
    let Some(own) = tests.iter().find(|test| test.record() == seal.record) else {
        return Ok(None);
    };
    let before = |test: &&Test| test.record() == own.record() || test.on() < own.on();
    let tests: Vec<&Test> = tests.iter().map(AsRef::as_ref).filter(before).collect();
    Ok(Some(history(asset, &tests, &[], library)))
}

/// What a history takes from one record: by its newest findings where these are of the method of
/// today, else judged now and not kept. `None` where the seals do not hold.
async fn read(store: &Store, one: &Summary, library: &Library) -> Result<Option<Test>, Trouble> {
    let Some(held) = store.held(&one.id).await? else { return Ok(None) };
    let begun = jiff::tz::TimeZone::UTC.to_datetime(one.begun).date();
    let kept = held.findings;
    let kept = kept.and_then(|kept| serde_json::from_slice::<Findings>(&kept.bytes).ok());
    let stands = kept.as_ref().map(|kept| (kept.verdict, kept.method.clone()));
    let (job, plan, findings) = match kept.filter(|kept| kept.method == METHOD) {
        Some(findings) => (held.head.job, held.head.plan, findings),
        None => {
            let record = store.record(&one.id).await?.record;
            let findings = judge::judge(&record, library);
            (record.job, record.plan, findings)
        }
    };
    let how = (one.kind, Some(begun));
    let test = Test::of(one.id.as_str(), how, (&job, &plan), &findings, library);
    Ok(Some(match stands {
        Some((verdict, method)) => test.with_verdict(verdict, &method),
        None => test,
    }))
}
