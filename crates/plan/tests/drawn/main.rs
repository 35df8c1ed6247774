//! Jobs drawn from seeds: every plan that runs is held against the plates it was made from, run on
//! an object inside what it says of it, and brought down with an object whose absorption is of
//! another shape than the plan's law.

mod bounds;
mod chance;
mod course;
mod down;
mod sheet;
mod truth;

use std::collections::BTreeMap;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use plan::job::{AssetClass, Method};
use plan::{Job, Plan, Severity};
use quantity::Time;
use standards::Library;

use chance::Chance;

/// Jobs of every day; a long run says how many instead.
const USUAL: u64 = 200;
/// From so many jobs on every class and method must have come up.
const ENOUGH: u64 = 200;

/// What stands against one job.
pub(crate) struct Against(Vec<String>);

impl Against {
    pub(crate) fn say(&mut self, what: String) {
        self.0.push(what);
    }

    pub(crate) fn unless(&mut self, held: bool, what: impl FnOnce() -> String) {
        if !held {
            self.0.push(what());
        }
    }
}

/// What all jobs came to.
#[derive(Default)]
pub(crate) struct Sums {
    jobs: u64,
    broken: Vec<u64>,
    runs: u64,
    classes: BTreeMap<&'static str, u64>,
    methods: BTreeMap<&'static str, u64>,
    /// Refused, by each of the reasons it was refused for.
    refused: BTreeMap<String, u64>,
    readings: u64,
    outside: u64,
    unbounded: u64,
    least_margin: f64,
    worst_residual: f64,
    longest_ground: Time,
}

impl Sums {
    fn new() -> Self {
        Self { least_margin: f64::INFINITY, ..Self::default() }
    }

    pub(crate) fn reading(&mut self, within: bool) {
        self.readings += 1;
        self.outside += u64::from(!within);
    }

    pub(crate) fn margin(&mut self, left: f64) {
        self.least_margin = self.least_margin.min(left);
    }

    pub(crate) fn residual(&mut self, part: f64) {
        self.worst_residual = self.worst_residual.max(part);
    }

    pub(crate) fn ground(&mut self, ground: Time) {
        self.longest_ground = self.longest_ground.max(ground);
    }

    fn add(&mut self, one: Self) {
        let into = |sum: &mut BTreeMap<&'static str, u64>, one: BTreeMap<&'static str, u64>| {
            one.into_iter().for_each(|(name, count)| *sum.entry(name).or_default() += count);
        };
        self.jobs += one.jobs;
        self.broken.extend(one.broken);
        self.runs += one.runs;
        into(&mut self.classes, one.classes);
        into(&mut self.methods, one.methods);
        for (id, count) in one.refused {
            *self.refused.entry(id).or_default() += count;
        }
        self.readings += one.readings;
        self.outside += one.outside;
        self.unbounded += one.unbounded;
        self.margin(one.least_margin);
        self.residual(one.worst_residual);
        self.ground(one.longest_ground);
    }

    /// One line of counts and one of figures, which a long run keeps.
    fn print(&self) {
        let refused = self.jobs - self.runs;
        let mut counts = format!(
            "counts: jobs {} broken {} runs {} refused {refused} readings {} readings_outside {} \
             unbounded {}",
            self.jobs,
            self.broken.len(),
            self.runs,
            self.readings,
            self.outside,
            self.unbounded,
        );
        let by = |counts: &mut String, what: &str, name: &str, count: u64| {
            counts.push_str(&format!(" {what}_{name} {count}"));
        };
        self.classes.iter().for_each(|(name, count)| by(&mut counts, "class", name, *count));
        self.methods.iter().for_each(|(name, count)| by(&mut counts, "method", name, *count));
        self.refused.iter().for_each(|(name, count)| by(&mut counts, "refused", name, *count));
        println!("{counts}");
        println!(
            "figures: least_trip_margin_percent {:.1} worst_residual_percent {:.1} \
             longest_ground_h {:.2}",
            self.least_margin * 100.0,
            self.worst_residual * 100.0,
            self.longest_ground.hours(),
        );
    }

    /// Chance may leave something out of a slice, not of these.
    fn nothing_is_missing(&self) {
        for class in AssetClass::ALL {
            assert!(self.classes.contains_key(class.key()), "no {} was drawn", class.key());
        }
        for method in ["resistance", "withstand", "step", "graded", "ramp", "reference"] {
            assert!(self.methods.contains_key(method), "no {method} course runs");
        }
        assert!(2 * self.runs >= self.jobs, "{} of {} jobs run", self.runs, self.jobs);
        assert!(self.refused.len() >= 5, "refused by {:?} alone", self.refused);
        // A band is of 95 %, and no object lies further out than 95 % of all: more is inside.
        assert!(self.readings > self.jobs, "{} readings", self.readings);
        let outside = self.outside as f64 / self.readings as f64;
        assert!(outside <= 0.05, "{outside} of the readings are outside their bands");
    }
}

/// Derived: whoever reads a class names all of them where one is unknown.
#[test]
fn every_class_that_can_be_read_is_in_the_list_of_all() {
    let why = serde_json::from_str::<AssetClass>("\"?\"").expect_err("no class").to_string();
    assert_eq!(why.matches('`').count() / 2 - 1, AssetClass::ALL.len(), "{why}");
}

#[test]
fn no_drawn_job_leads_a_hand_beyond_a_plate_a_trip_or_the_touch_limit() {
    let (from, count) = (asked("JOBS_SEED", 1), asked("JOBS_COUNT", USUAL));
    let (next, sums) = (AtomicU64::new(from), Mutex::new(Sums::new()));
    let library = Library::published();
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let seed = next.fetch_add(1, Ordering::Relaxed);
                    if seed >= from + count {
                        return;
                    }
                    let (one, against) = one(seed, &library);
                    if !against.is_empty() {
                        println!("seed {seed}, the job:\n{}", sheet::job(seed));
                        against.iter().take(6).for_each(|what| println!("seed {seed}: {what}"));
                        println!("again: {}", again(seed));
                    }
                    sums.lock().expect("no check panics while it adds").add(one);
                }
            });
        }
    });
    let sums = sums.into_inner().expect("no check panics while it adds");
    sums.print();
    assert!(sums.broken.is_empty(), "seeds that broke: {:?}", sums.broken);
    assert_eq!(sums.jobs, count);
    if count >= ENOUGH {
        sums.nothing_is_missing();
    }
}

/// A number that a long run sets; without one, what every day can afford.
fn asked(name: &str, usual: u64) -> u64 {
    match std::env::var(name) {
        Ok(number) => number.parse().unwrap_or_else(|_| panic!("{name} is no whole number")),
        Err(_) => usual,
    }
}

fn again(seed: u64) -> String {
    format!("cargo xtask long jobs --unrecorded --seed {seed} --count 1")
}

/// The job of one seed, planned, run and brought down.
fn one(seed: u64, library: &Library) -> (Sums, Vec<String>) {
    let text = sheet::job(seed);
    let job = plan::job_file::parse(&text)
        .unwrap_or_else(|faults| panic!("seed {seed} draws a bad file: {faults:?}\n{text}"));
    let plan = plan::plan(&job, library);
    let (mut sums, mut against) = (Sums::new(), Against(Vec::new()));
    sums.jobs = 1;
    *sums.classes.entry(job.asset.class.key()).or_default() += 1;
    if plan.is_refused() {
        refused(&plan, &mut sums, &mut against);
    } else {
        sums.runs = 1;
        *sums.methods.entry(named(plan.method)).or_default() += 1;
        runs(seed, (&job, &plan), library, &mut sums, &mut against);
    }
    sums.broken.extend(Some(seed).filter(|_| !against.0.is_empty()));
    (sums, against.0)
}

/// A refused plan leaves nothing that a hand could set.
fn refused(plan: &Plan, sums: &mut Sums, against: &mut Against) {
    let empty = plan.course.is_empty() && plan.test.is_none() && plan.trip.is_none();
    against.unless(empty && plan.descent.is_none(), || "refused, and something is left".to_owned());
    for issue in plan.issues.iter().filter(|issue| issue.severity == Severity::Refuse) {
        *sums.refused.entry(issue.id.clone()).or_default() += 1;
    }
}

fn runs(
    seed: u64,
    (job, plan): (&Job, &Plan),
    library: &Library,
    sums: &mut Sums,
    against: &mut Against,
) {
    bounds::held(job, plan, library, against);
    let mut chance = Chance::of(seed, 2);
    let Some(object) = truth::inside(plan, &mut chance) else {
        against.say("the plan does not say what the object is like".to_owned());
        return;
    };
    match course::run(job, plan, &object) {
        // An arrester conducts by its own curve, which is none of an insulation: its currents are
        // told by that curve, and an object that insulates says nothing about them.
        Some(_) if plan.method == Method::Reference => {}
        Some(run) => {
            course::followed(job, plan, &run, sums, against);
            down::taken_by_tool(job, plan, &run, against);
        }
        None => against.say("the course cannot be followed".to_owned()),
    }
    let Some(object) = truth::of_another_shape(plan, &mut chance) else { return };
    match course::run(job, plan, &object) {
        Some(run) => {
            let charged = run.object_at(run.outline().course_end);
            down::grounded(plan, &charged, sums, against);
        }
        None => against.say("the course cannot be followed".to_owned()),
    }
}

const fn named(method: Method) -> &'static str {
    match method {
        Method::Resistance => "resistance",
        Method::Withstand => "withstand",
        Method::Step => "step",
        Method::Graded => "graded",
        Method::Ramp => "ramp",
        Method::Reference => "reference",
    }
}
