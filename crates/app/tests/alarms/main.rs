//! The long run of alarms: thousands of drawn tests on the practice set, sound and faulty, of every
//! class that has a course, read by needle and hand or by meters, half of the objects by laws that
//! `advise` does not have. A simulated hand obeys what is shown. Truth is what the draw made.
//! `cargo xtask long alarms` runs it, and docs/alarms.md shows what came of it.

#[path = "../../../judge/tests/judge/long/chance.rs"]
mod chance;
mod job;
mod meter;
mod object;
mod run;

use std::collections::BTreeMap;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use advise::Strength;
use practice::Rig;
use quantity::Current;
use session::Kind as Made;
use session::record::Head;
use standards::Library;

use chance::Chance;
use meter::{Meters, Read};
use object::{Kind, Warned};
use plan::job::Method;
use run::{Bench, Came, Setting};

/// How many where nothing is said: as many as the suite has time for.
const FEW: u64 = 24;
/// From so many tests on the goals are asked of; fewer may miss one by chance.
const MANY: u64 = 1000;

/// Of every hundred healthy ones at most so many are told to come down, or to hold.
const MOST_COME_DOWN: f64 = 1.0;
const MOST_HOLD_HERE: f64 = 5.0;
/// Of every hundred knees that can be seen at least so many are stopped in time.
const LEAST_STOPPED: f64 = 95.0;
/// A knee can be seen where its excess is so many times what the meter repeats to, one step
/// earlier, and steps are no larger than this part of the highest voltage.
const SEEN: f64 = 5.0;
const SMALL_STEP: f64 = 0.05;

fn told(name: &str, usual: u64) -> u64 {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(usual)
}

/// One drawn test and what came of it.
struct Done {
    seed: u64,
    class: &'static str,
    kind: Kind,
    read: Read,
    other_model: bool,
    method: Method,
    came: Came,
    knee: Option<Knee>,
    /// Whether an abrupt failure did not come about.
    spared: Option<bool>,
}

/// What could be had of a knee.
#[derive(Clone, Copy, Debug)]
struct Knee {
    small_steps: bool,
    seen: bool,
    stopped: bool,
    /// The set tripped before anything was advised that a hand obeys.
    tripped_first: bool,
    broke: bool,
    warned: Option<Warned>,
}

impl Knee {
    fn told(self) -> String {
        let Some(warned) = self.warned else { return "; on the first rise".to_owned() };
        format!(
            "; not beyond {:.2} kV, {:.2} µA more than {:.2} there",
            warned.last.kilovolts(),
            warned.excess.microamperes(),
            warned.base.microamperes()
        )
    }
}

impl Done {
    fn letter(&self) -> char {
        match self.came.strongest {
            Strength::CarryOn => 'n',
            Strength::Watch => 'w',
            Strength::HoldHere => 'h',
            Strength::ComeDown => 'c',
        }
    }

    fn line(&self) -> String {
        let Self { seed, class, kind, read, method, came, .. } = self;
        let model = if self.other_model { "other" } else { "own" };
        format!(
            "{seed} {} {class} {method:?} {read:?} {model}: {:?} {}, top {:.2} kV{}{}",
            kind.key(),
            came.strongest,
            came.why,
            came.top.kilovolts(),
            if came.tripped { ", tripped" } else { "" },
            self.knee.map(|knee| knee.told()).unwrap_or_default()
        )
    }
}

/// The test of one seed.
fn one(seed: u64, library: &Library) -> Done {
    let mut chance = Chance(seed.wrapping_mul(0x2545_F491_4F6C_DD1D));
    let kind = Kind::drawn(&mut chance);
    let other_model = chance.unit() < 0.5;
    let read = if chance.unit() < 0.5 { Read::Needle } else { Read::Meters };
    // A knee is seen in small steps or on a ramp, if at all: windings have these.
    let of_winding = kind == Kind::Knee && chance.unit() < 0.85;
    let work = std::iter::repeat_with(|| {
        let class = match (of_winding, chance.below(2)) {
            (true, 0) => "motor",
            (true, _) => "generator",
            (false, _) => job::CLASSES[chance.below(job::CLASSES.len())],
        };
        job::drawn(class, of_winding, &mut chance, library)
    });
    // One draw in a few is refused; two hundred on end are not.
    let work = work.take(200).flatten().next().expect("a job that can be run");
    let object = object::drawn(&work.plan, kind, other_model, &mut chance);
    let number = (chance.unit() * 1e9) as u64;
    let rig = Rig::with(&work.job, &work.plan, object.truths.clone(), number);
    let mut rig = rig.expect("sound numbers");
    if let Some(series) = object.series {
        rig.set_series(series).expect("above zero");
    }
    let top = work.plan.test.expect("a plan with a course has a level");
    let mut turned = rig.clone();
    turned.fit_voltmeter(top);
    let gain = turned.voltage_for(top).volts() / top.volts();
    let ripple = work.job.set.ripple.map_or(0.0, |ripple| ripple.value());
    let ranges = work.job.set.ammeter_ranges.clone();
    let meters = Meters::drawn(&mut chance, &ranges, ripple);
    let class = work.class;
    let head = Head {
        format: session::RECORD_FORMAT.to_owned(),
        kind: Made::Simulated,
        source: None,
        job: work.job,
        plan: work.plan,
    };
    let watched = object.which;
    let warned = object::warned(&head.plan, &object.truths[watched], gain);
    let repeats = |at: Current| match read {
        Read::Meters => meters.repeats(at),
        Read::Needle => range(&ranges, at) * (1.0 / 200.0),
    };
    let seen = warned.is_some_and(|one| one.excess >= repeats(one.base + one.excess) * SEEN);
    let setting = Setting { rig, read, meters, chance, watched };
    let came = Bench::new(&head, setting).work();
    let breaks = match object.truths[watched].fault {
        Some(practice::Fault::Bend(bend)) => bend.breaks,
        _ => None,
    };
    let before = warned.is_some_and(|one| came.top <= one.last * 1.004);
    let knee = breaks.map(|breaks| Knee {
        small_steps: warned.is_some_and(|one| one.step <= SMALL_STEP),
        seen,
        stopped: before,
        tripped_first: came.tripped && !came.came_down && before,
        // Between two readings the last of the way is not seen.
        broke: came.tripped && !before && came.top >= breaks * 0.985,
        warned,
    });
    let spared = match object.truths[watched].fault {
        Some(practice::Fault::Puncture { at, .. }) => Some(came.top < at),
        _ => None,
    };
    Done { seed, class, kind, read, other_model, method: head.plan.method, came, knee, spared }
}

/// The smallest range that shows a current.
fn range(ranges: &[Current], at: Current) -> Current {
    let widest = ranges.last().copied().unwrap_or(Current::from_milliamperes(5.0));
    ranges.iter().find(|range| **range >= at).copied().unwrap_or(widest)
}

/// All of these seeds, on as many cores as there are.
fn all(from: u64, count: u64) -> Vec<Done> {
    let library = Library::published();
    let (next, done) = (AtomicU64::new(from), Mutex::new(Vec::new()));
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let seed = next.fetch_add(1, Ordering::Relaxed);
                    if seed >= from + count {
                        return;
                    }
                    let one = one(seed, &library);
                    done.lock().expect("nothing panics while it adds").push(one);
                }
            });
        }
    });
    let mut done = done.into_inner().expect("nothing panics while it adds");
    done.sort_by_key(|one| one.seed);
    done
}

const fn named(strength: Strength) -> &'static str {
    match strength {
        Strength::CarryOn => "carry-on",
        Strength::Watch => "watch",
        Strength::HoldHere => "hold-here",
        Strength::ComeDown => "come-down",
    }
}

/// Counts by name.
#[derive(Default)]
struct Counts(BTreeMap<String, u64>);

impl Counts {
    fn add(&mut self, name: String, one: bool) {
        *self.0.entry(name).or_default() += u64::from(one);
    }

    fn of(&self, name: &str) -> f64 {
        self.0.get(name).copied().unwrap_or(0) as f64
    }

    fn take(&mut self, done: &Done) {
        let level = named(done.came.strongest);
        let model = if done.other_model { "other" } else { "own" };
        let read = if done.read == Read::Needle { "needle" } else { "meters" };
        self.add(format!("kind_{}_{read}_{model}_{level}", done.kind.key()), true);
        if done.kind == Kind::Healthy {
            self.add(format!("class_{}_{level}", done.class), true);
            self.add("healthy".into(), true);
            self.add("healthy_come_down".into(), done.came.strongest == Strength::ComeDown);
            self.add("healthy_hold_here".into(), done.came.strongest == Strength::HoldHere);
        }
        *self.0.entry("readings".into()).or_default() += done.came.readings;
        self.add("refused".into(), done.came.refused.is_some());
        if let Some(spared) = done.spared {
            self.add("puncture".into(), true);
            self.add("puncture_spared".into(), spared);
        }
        let Some(knee) = done.knee else { return };
        let group = match (knee.small_steps, knee.seen) {
            _ if knee.tripped_first => "knee_tripped",
            (true, true) => "knee_seen",
            (true, false) => "knee_faint",
            (false, _) => "knee_coarse",
        };
        self.add(group.to_owned(), true);
        self.add(format!("{group}_stopped"), knee.stopped);
        self.add(format!("{group}_broke"), knee.broke);
    }
}

/// A part of them lies below.
fn quantile(sorted: &[f32], part: f64) -> f32 {
    let index = (part * sorted.len() as f64) as usize;
    sorted.get(index.min(sorted.len().saturating_sub(1))).copied().unwrap_or(0.0)
}

/// Source: derived: every test is drawn by `object`, whose truth is known beforehand. The goals are
/// this project's own.
#[test]
fn alarms_on_drawn_tests() {
    let (seed, count) = (told("ALARMS_SEED", 1), told("ALARMS_COUNT", FEW));
    let done = all(seed, count);
    let mut counts = Counts::default();
    done.iter().for_each(|one| counts.take(one));
    let mut refused = 0;
    for one in &done {
        let false_alarm = one.kind == Kind::Healthy && one.came.strongest >= Strength::HoldHere;
        let missed = one.knee.is_some_and(|knee| knee.small_steps && knee.seen && !knee.stopped);
        if let Some(why) = &one.came.refused {
            refused += 1;
            if refused > 5 {
                continue;
            }
            println!("refused: {} — {why}", one.line());
        } else if std::env::var_os("ALARMS_TELL").is_some() || false_alarm || missed {
            println!("{}: {}", if missed { "missed" } else { "alarm" }, one.line());
        }
    }
    let mut took: Vec<f32> = done.iter().flat_map(|one| one.came.took.iter().copied()).collect();
    took.sort_by(f32::total_cmp);
    let percent = |part: f64, whole: f64| 100.0 * part / whole.max(1.0);
    let down = percent(counts.of("healthy_come_down"), counts.of("healthy"));
    let hold = percent(counts.of("healthy_hold_here"), counts.of("healthy"));
    let stopped = percent(counts.of("knee_seen_stopped"), counts.of("knee_seen"));
    let told: Vec<String> =
        counts.0.iter().map(|(name, count)| format!("{name} {count}")).collect();
    println!("counts: tests {count} {}", told.join(" "));
    println!("letters: {}", done.iter().map(Done::letter).collect::<String>());
    println!(
        "figures: healthy_come_down_percent {down:.3} healthy_hold_here_percent {hold:.3} \
         knees_stopped_percent {stopped:.3} reading_us_p50 {:.1} reading_us_p99 {:.1}",
        quantile(&took, 0.5),
        quantile(&took, 0.99)
    );
    assert_eq!(counts.of("refused"), 0.0, "the session did not take what a hand said");
    if count >= MANY {
        assert!(down <= MOST_COME_DOWN, "{down} % of the healthy were told to come down");
        assert!(hold <= MOST_HOLD_HERE, "{hold} % of the healthy were told to hold");
        assert!(stopped >= LEAST_STOPPED, "{stopped} % of the knees were stopped in time");
    }
}
