//! The years before: tests of the invented site from long ago, each worked by the practice set in
//! memory as of its day, judged as of that day, and kept beside what the demo runs live.
//!
//! Nothing of it claims to be measured: every record is of the kind simulated.

mod bench;
mod objects;

use jiff::civil::{Date, Time as OfDay};
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use plan::{Job, Plan};
use practice::{Fault, Habits, Hand, Rig, Skin, Truth};
use session::record::Head;
use session::{Entry, Kind};
use standards::Library;
use store::signatures::{Role, Signing, code_of};
use store::things::{Calibration, ThingKind};
use store::{Filter, RecordId, Store};

use self::bench::Bench;
use self::objects::{AT_WORK, Ail, Ending, OBJECTS, Object, SHEETS, Set, Test};
use crate::output::Trouble;
use crate::show;

/// What may be written of one test.
struct Past<'a> {
    object: &'a Object,
    test: &'a Test,
    on: Date,
    begun: Timestamp,
}

/// A test that was worked.
struct Worked {
    text: String,
    head: Head,
    events: Vec<Entry>,
}

/// Keeps all of it, as far as it is not kept already; gives how many records were made.
pub(super) async fn keep(store: &Store, library: &Library) -> Result<usize, Trouble> {
    let mut all: Vec<Past<'_>> = OBJECTS.iter().flat_map(tests_of).collect();
    all.sort_by_key(|past| past.begun);
    let mut known = Vec::new();
    for object in OBJECTS {
        let filter = Filter { asset: Some(object.id.to_owned()), open: false };
        known.extend(store.list(&filter).await?.into_iter().map(|one| (one.asset, one.begun)));
    }
    let is_known = |past: &Past<'_>| {
        known.iter().any(|(asset, begun)| asset == past.object.id && *begun == past.begun)
    };
    all.retain(|past| !is_known(past));
    for set in Set::ALL {
        certify(store, set).await?;
    }
    let made = all.len();
    for past in all {
        let worked = past.work(library)?;
        past.keep(store, library, worked).await?;
    }
    Ok(made)
}

/// Leaves one record open, its last conductor grounded a while ago; unless one is open.
pub(super) async fn leave_open(
    store: &Store,
    library: &Library,
    now: Timestamp,
) -> Result<(), Trouble> {
    let filter = Filter { asset: Some(AT_WORK.id.to_owned()), open: true };
    if !store.list(&filter).await?.is_empty() {
        return Ok(());
    }
    let begun = now.checked_sub(SignedDuration::from_hours(3)).unwrap_or(now);
    let on = TimeZone::UTC.to_datetime(begun).date();
    let test = Test { ending: Ending::Grounded, ..one_of(&AT_WORK) };
    let past = Past { object: &AT_WORK, test: &test, on, begun };
    let Worked { text, head, events } = past.work(library)?;
    store.keep_job(&text, &head.job, begun).await?;
    let id = store.begin(&head, begun).await?;
    store.append(&id, &events).await?;
    store.let_go(&id);
    Ok(())
}

/// Two sheets that somebody has begun to type; unless some are there.
pub(super) async fn begin_sheets(store: &Store, now: Timestamp) -> Result<(), Trouble> {
    if !store.sheets().await?.is_empty() {
        return Ok(());
    }
    for (hours, asset, given) in SHEETS {
        let wall = now.checked_sub(SignedDuration::from_hours(*hours)).unwrap_or(now);
        store.begin_sheet(asset, given, wall).await?;
    }
    Ok(())
}

fn one_of(object: &Object) -> Test {
    let Some(test) = object.tests.first() else { unreachable!("the table gives it one") };
    Test { ..*test }
}

fn tests_of(object: &Object) -> impl Iterator<Item = Past<'_>> {
    object.tests.iter().filter_map(move |test| {
        let on: Date = test.on.parse().ok()?;
        Some(Past { object, test, on, begun: moment(on, object.seed) })
    })
}

/// In the forenoon of that day, each object at its own minute.
fn moment(on: Date, seed: u64) -> Timestamp {
    let minute = i8::try_from(seed % 60).unwrap_or(0);
    let at = on.to_datetime(OfDay::constant(8, minute, 0, 0));
    TimeZone::UTC.to_timestamp(at).unwrap_or(Timestamp::UNIX_EPOCH)
}

/// The calibrations of a set, with their certificates.
async fn certify(store: &Store, set: Set) -> Result<(), Trouble> {
    for (day, certificate) in set.calibrations() {
        let Ok(date) = day.parse::<Date>() else { continue };
        let calibration = Calibration {
            kind: ThingKind::Set,
            name: set.plate().0.to_owned(),
            date,
            due: date.checked_add(jiff::Span::new().months(MONTHS)).ok(),
            certificate: Some((*certificate).to_owned()),
            note: None,
        };
        store.keep_calibration(&calibration, moment(date, 0)).await?;
    }
    Ok(())
}

/// Each calibration lasts so long.
const MONTHS: i32 = 12;

impl Past<'_> {
    /// The job file of that day.
    fn job_text(&self) -> String {
        let Self { object, test, on, .. } = self;
        let years = (on.year() - object.since).max(0).to_string();
        let plate = object.plate.replace("{years}", &years);
        let method = test.method.map(|method| format!("method = \"{method}\"\n"));
        let day = on.to_string();
        let calibrated = test.set.calibrations().iter().rev().find(|(made, _)| **made <= *day);
        let calibrated = calibrated.map(|(made, _)| format!("calibrated = {made}\n"));
        format!(
            "[site]\nname = \"{SITE}\"\nclient = \"{CLIENT}\"\n\n[asset]\nid = \"{id}\"\n{plate}\n\
             [test]\ndate = {on}\npurpose = \"{purpose}\"\n{method}\n\
             [connection]\nlow_side = \"{low_side}\"\n{set}{calibrated}\
             calibration_interval_months = {MONTHS}\n\n\
             [discharge_tool]\nresistance_kohm = 100.0\nrated_kv = 100.0\nrated_j = 2000.0\n\n\
             [conditions]\ntemperature_c = {c:.1}\nobject_temperature_c = {c:.1}\n\
             humidity_percent = 50.0\naltitude_m = 240.0\n",
            id = object.id,
            purpose = test.purpose,
            method = method.unwrap_or_default(),
            low_side = object.low_side,
            set = test.set.plate().1,
            calibrated = calibrated.unwrap_or_default(),
            c = test.object_c,
        )
    }

    /// Plans it and works it.
    fn work(&self, library: &Library) -> Result<Worked, Trouble> {
        let text = self.job_text();
        let job =
            plan::job_file::parse(&text).map_err(|faults| self.trouble(&format!("{faults:?}")))?;
        let plan = plan::plan(&job, library);
        let hand = Hand::new(&plan, Habits::default());
        let hand = hand.map_err(|error| {
            let why = plan.issues.first().map(|issue| issue.text.clone()).unwrap_or_default();
            self.trouble(&format!("{error}: {why}"))
        })?;
        let rig = self.rig(&job, &plan).map_err(|error| self.trouble(&error))?;
        let identity = Skin::new(rig.clone(), hand.clone()).answer("*IDN?");
        let head = Head {
            format: session::RECORD_FORMAT.to_owned(),
            kind: Kind::Simulated,
            source: identity,
            job,
            plan,
        };
        let bench = Bench::begin(&head, rig, self.begun);
        let events = bench.work(&head.plan, hand, self.test.ending);
        let events = events.map_err(|why| self.trouble(&why))?;
        Ok(Worked { text, head, events })
    }

    /// The set and the object as it was on that day.
    fn rig(&self, job: &Job, plan: &Plan) -> Result<Rig, String> {
        let said = |error: &dyn std::fmt::Display| error.to_string();
        let mut truths = Truth::drawn(plan, self.object.seed).map_err(|error| said(&error))?;
        for truth in &mut truths {
            truth.insulation = truth.insulation * self.test.dry;
            truth.surface = truth.surface * self.test.dry;
        }
        let rig = Rig::with(job, plan, truths, self.object.seed).map_err(|error| said(&error))?;
        let Some(ail) = self.test.ail else { return Ok(rig) };
        let (Ail::Plain(_, conductor) | Ail::Moist(_, conductor)) = ail;
        let truth = rig.truth(conductor).map_err(|error| said(&error))?;
        let test = plan.test.or(plan.resistance_test.as_ref().map(|test| test.voltage));
        let fault = match ail {
            Ail::Plain(kind, _) => kind.plain(truth, test.unwrap_or_else(|| rig.dial_full())),
            Ail::Moist(times, _) => Fault::Wet { times },
        };
        rig.with_fault(conductor, fault).map_err(|error| said(&error))
    }

    /// Keeps job, record and findings, each at its moment.
    async fn keep(&self, store: &Store, library: &Library, worked: Worked) -> Result<(), Trouble> {
        let Worked { text, head, events } = worked;
        store.keep_job(&text, &head.job, self.begun).await?;
        let id = store.begin(&head, self.begun).await?;
        store.append(&id, &events).await?;
        let over = events.iter().filter_map(|entry| entry.at).map(|at| at.wall).max();
        let over = over.unwrap_or(self.begun);
        let findings = judge::judge(&head.with(events), library);
        let bytes = serde_json::to_vec(&findings).expect("findings are plain data");
        let verdict = show::findings::verdict(findings.verdict).to_lowercase();
        let judged = over.checked_add(SignedDuration::from_mins(10)).unwrap_or(over);
        let kept = store.keep_findings(&id, &findings.method, &verdict, &bytes, judged).await?;
        self.sign(store, &id, &kept, judged).await
    }

    /// By who ran it the same day, and by who answers for the verdict two days later.
    async fn sign(
        &self,
        store: &Store,
        id: &RecordId,
        findings: &str,
        judged: Timestamp,
    ) -> Result<(), Trouble> {
        if !self.test.signed {
            return Ok(());
        }
        let code = code_of(&store.seals(id).await?);
        for (name, role, hours) in SIGN {
            let wall = judged.checked_add(SignedDuration::from_hours(*hours)).unwrap_or(judged);
            let findings = Some(findings);
            let signing = Signing { name, role: *role, remark: None, code: &code, findings };
            let signed = store.sign(id, &signing, wall).await;
            signed.map_err(|error| self.trouble(&error.to_string()))?;
        }
        Ok(())
    }

    fn trouble(&self, why: &str) -> Trouble {
        Trouble::Live {
            job: format!("{} of {}", self.object.id, self.on).into(),
            said: why.to_owned(),
        }
    }
}

const SITE: &str = "Tarnhollow pumping station";
const CLIENT: &str = "Tarnhollow Water";

/// Who signs, as what, and how many hours after the verdict. Nobody is called so.
const SIGN: &[(&str, Role, i64)] =
    &[("O. Fennimark", Role::Tester, 1), ("Q. Astravane", Role::Approver, 49)];
