//! `kill -9` at moments drawn from a seed: every acknowledged reading is in the record with its
//! value, nothing that was kept has changed, the seals hold, the next run opens on the hazard line
//! and goes on in the same record to a sound end.

use std::collections::BTreeSet;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Mutex, OnceLock};
use std::time::Duration;

use instrument::serve::Server;

use crate::device::{Bench, Pair, Sent, lock};
use crate::program::{Running, Said};
use crate::record::{Kept, records, verified};
use crate::script::{CONDUCTORS, Item, Line, by_hand, script};
use crate::{Chance, Place, asked, job_file};

/// Times faster than the clock at which the practice set goes where the program goes by the clock.
const SPEED: f64 = 40.0;

/// Seeds of the practice set inside the program; few, for each is also run to its end.
const SIMS: u64 = 3;

/// Where the readings come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Way {
    /// A pipe.
    Keys,
    /// A practice set on a socket, whose time goes only when told.
    LockStep,
    /// The same by the clock, asked as fast as it answers.
    Clock,
    /// The practice set that ends with the program.
    Sim,
}

/// When it is killed.
#[derive(Clone, Copy, Debug)]
enum Moment {
    /// So long after it was started.
    Starting(Duration),
    /// So long after so many of its events were acknowledged.
    After(u64, Duration),
}

#[derive(Clone, Copy, Debug, Default)]
struct Counts {
    kills: u64,
    /// Kills before the first acknowledgement of that run.
    early: u64,
    readings: u64,
    hazard_lines: u64,
    ends: u64,
}

#[test]
fn killed_at_random_moments_it_keeps_what_it_acknowledged() {
    let (from, count) = (asked("KILLS_SEED", 1), asked("KILLS_COUNT", 24));
    let next = AtomicU64::new(from);
    let (sum, wrong) = (Mutex::new(Counts::default()), Mutex::new(Vec::new()));
    std::thread::scope(|scope| {
        for _ in 0..4 {
            scope.spawn(|| {
                loop {
                    let seed = next.fetch_add(1, Ordering::Relaxed);
                    if seed >= from + count {
                        return;
                    }
                    match Case::new(seed).run() {
                        Ok(counts) => lock(&sum).add(counts),
                        Err(why) => {
                            println!("seed {seed}: {why}\nagain: {}", again(seed));
                            lock(&wrong).push(seed);
                        }
                    }
                }
            });
        }
    });
    let (sum, wrong) = (*lock(&sum), lock(&wrong).clone());
    println!(
        "counts: seeds {count} broken {} kills {} before_first {} readings {} hazard_lines {} \
         ends {}",
        wrong.len(),
        sum.kills,
        sum.early,
        sum.readings,
        sum.hazard_lines,
        sum.ends
    );
    assert!(wrong.is_empty(), "seeds that broke: {wrong:?}");
    // With fewer seeds chance may leave something out.
    if count >= 100 {
        assert!(sum.kills >= count && sum.early > 0 && sum.hazard_lines > 0 && sum.ends > 0);
    }
}

fn again(seed: u64) -> String {
    format!("cargo xtask long kills --unrecorded --seed {seed} --count 1")
}

/// One seed: an object, and programs that are killed over it.
struct Case {
    chance: Chance,
    way: Way,
    seed: u64,
    place: Place,
    bench: Option<Bench>,
    lines: Vec<Line>,
    /// The record as it was after the last run.
    before: Option<Kept>,
    counts: Counts,
}

/// One run that goes on, and what it is sent.
struct Run {
    running: Running,
    server: Option<(Server, Sent)>,
    typed: Vec<Line>,
}

impl Case {
    fn new(seed: u64) -> Self {
        let mut chance = Chance(seed);
        let way = match chance.below(6) {
            0 | 1 => Way::Keys,
            2 | 3 => Way::LockStep,
            4 => Way::Clock,
            _ => Way::Sim,
        };
        let on_wire = matches!(way, Way::LockStep | Way::Clock);
        Self {
            bench: on_wire.then(|| Bench::new(seed)),
            lines: script(&CONDUCTORS),
            place: Place::new(&format!("kill-{seed}")),
            before: None,
            counts: Counts::default(),
            chance,
            way,
            seed,
        }
    }

    fn run(mut self) -> Result<Counts, String> {
        // The set inside the program ends with it, so there is nothing to go on with.
        let rounds = if self.way == Way::Sim { 1 } else { 1 + self.chance.below(3) };
        for round in 1..=rounds {
            // It came to its end before it was killed.
            if self.before.as_ref().is_some_and(Kept::is_closed) {
                break;
            }
            let moment = self.moment();
            let told = format!("{:?}, kill {round} of {rounds}, {moment:?}: ", self.way);
            self.killed(moment).map_err(|why| told + &why)?;
        }
        if self.chance.below(2) == 0 {
            let way = self.way;
            self.goes_on().map_err(|why| format!("{way:?}, going on after {rounds}: {why}"))?;
        }
        self.place.clear();
        Ok(self.counts)
    }

    fn moment(&mut self) -> Moment {
        let micros = Duration::from_micros(self.chance.below(3000));
        match (self.chance.below(4), self.way) {
            (0, _) => Moment::Starting(Duration::from_micros(self.chance.below(60_000))),
            (_, Way::Keys) => Moment::After(1 + self.chance.below(80), micros),
            (_, Way::Clock) => Moment::After(1 + self.chance.below(15), micros * 30),
            (_, Way::LockStep | Way::Sim) => Moment::After(1 + self.chance.below(1000), micros),
        }
    }

    /// One run, killed, and all that must hold afterwards.
    fn killed(&mut self, moment: Moment) -> Result<(), String> {
        let mut run = self.start(self.way == Way::Clock, &[]);
        match moment {
            Moment::Starting(time) => drop(run.running.hear_for(time)),
            Moment::After(events, time) => {
                let seq = self.before.as_ref().map_or(0, Kept::seq) + events;
                if self.way == Way::Keys {
                    type_until(&mut run, seq, &mut self.chance);
                }
                run.running.hear_until(seq);
                run.running.hear_for(time);
            }
        }
        let Run { running, server, typed } = run;
        let said = running.kill();
        self.counts.kills += 1;
        self.counts.early += u64::from(said.acknowledged.lines == 0);
        self.kept_all(&said, server, &typed)
    }

    fn start(&mut self, by_the_clock: bool, more: &[&str]) -> Run {
        let server = self.bench.as_ref().map(|bench| bench.serve(by_the_clock.then_some(SPEED)));
        let from = match (&server, self.way) {
            (Some((server, _)), _) => server.address().to_string(),
            (None, Way::Sim) => format!("sim:{}", self.sim()),
            (None, _) => "keys".to_owned(),
        };
        let (job, db) = (job_file(), self.place.db());
        let mut words = vec!["run", &job, "--from", &from, "--db", &db, "--json"];
        if server.is_some() {
            let pace = if by_the_clock { ["real", "0"] } else { ["lockstep", "1"] };
            words.extend(["--pace", pace[0], "--every", pace[1]]);
        }
        words.extend(more);
        let done = self.before.as_ref().map_or(0, |kept| kept.items(0).len());
        let typed = match self.way {
            Way::Keys => self.lines.get(done..).unwrap_or_default().to_vec(),
            _ => Vec::new(),
        };
        Run { running: Running::start(&words), server, typed }
    }

    fn sim(&self) -> u64 {
        1 + self.seed % SIMS
    }

    /// What must hold after a run: nothing kept before has changed, everything acknowledged is
    /// there, in order and as it was sent, the seals hold, and what was hazardous was told.
    fn kept_all(
        &mut self,
        said: &Said,
        server: Option<(Server, Sent)>,
        typed: &[Line],
    ) -> Result<(), String> {
        let db = self.place.db();
        verified(&db)?;
        self.hazard_was_told(said)?;
        let mut all = records(&db)?;
        if all.len() > 1 {
            return Err(format!("{} records of one object", all.len()));
        }
        let acknowledged = said.acknowledged;
        let Some(kept) = all.pop() else {
            return if acknowledged.lines == 0 && self.before.is_none() {
                Ok(())
            } else {
                Err(format!("no record is there, {acknowledged:?}"))
            };
        };
        let known = self.before.as_ref().map_or(&[][..], |before| &before.events);
        if kept.events.get(..known.len()) != Some(known) {
            return Err("what was kept before is not there as it was".to_owned());
        }
        if kept.seq() < acknowledged.seq || kept.readings() < acknowledged.readings {
            let (seq, readings) = (kept.seq(), kept.readings());
            return Err(format!("event {seq} and {readings} readings kept, {acknowledged:?}"));
        }
        let new = kept.items(known.len());
        let old = self.before.as_ref().map_or(0, Kept::readings);
        self.counts.readings += acknowledged.readings.saturating_sub(old);
        match (server, self.way) {
            (Some((_, sent)), _) => begins(&pairs(&new), &sent.pairs(), near)?,
            (None, Way::Sim) => begins(&pairs(&new), whole_run(self.sim()), near)?,
            (None, _) => {
                let sent: Vec<Item> = typed.iter().map(|line| line.means.clone()).collect();
                begins(&new, &sent, same)?;
            }
        }
        self.before = Some(kept);
        Ok(())
    }

    /// A run that came as far as to say something opened on what the one before left hazardous.
    fn hazard_was_told(&mut self, said: &Said) -> Result<(), String> {
        let hazardous = self.before.as_ref().map(Kept::hazardous).unwrap_or_default();
        let told = said.others.first().filter(|line| line["open"].is_string());
        if hazardous.is_empty() {
            return told.map_or(Ok(()), |line| Err(format!("{line} where nothing is hazardous")));
        }
        if told.is_none() && said.acknowledged.lines == 0 && said.status.is_none() {
            return Ok(());
        }
        let names = told.and_then(|line| line["hazardous"].as_array().cloned());
        let names: Option<BTreeSet<String>> = names
            .map(|names| names.iter().filter_map(|one| one.as_str().map(str::to_owned)).collect());
        if names.as_ref() != Some(&hazardous) {
            return Err(format!("{hazardous:?} hazardous, told {names:?}: {}", said.errors));
        }
        if !said.errors.starts_with("▲ HAZARDOUS until grounded: MR-F3") {
            return Err(format!("it does not begin with the hazard line: {}", said.errors));
        }
        self.counts.hazard_lines += 1;
        Ok(())
    }

    /// A last run, to its own end: the rest of the script, or the rest of what the set's hand
    /// does; and where something stays hazardous, a person grounds it.
    fn goes_on(&mut self) -> Result<(), String> {
        let closed = self.before.as_ref().is_some_and(Kept::is_closed);
        if self.way != Way::Sim && !closed {
            let mut run = self.start(false, &[]);
            for line in &run.typed {
                run.running.tell(&line.words);
            }
            let Run { running, server, typed } = run;
            let said = running.finish();
            self.ended_well(&said)?;
            self.kept_all(&said, server, &typed)?;
        }
        let kept = self.before.clone().filter(|kept| !kept.hazardous().is_empty());
        let Some(kept) = kept else {
            self.counts.ends += 1;
            return Ok(());
        };
        if self.way == Way::Keys {
            return Err(format!("{:?} hazardous after the whole script", kept.hazardous()));
        }
        self.grounded_by_hand(&kept)
    }

    /// A person takes the record up, reads its hazard line, and does by hand what it says.
    fn grounded_by_hand(&mut self, kept: &Kept) -> Result<(), String> {
        let states = self.states(kept)?;
        let lines: Vec<Line> =
            states.iter().flat_map(|(phase, state)| by_hand(phase, state)).collect();
        let (job, db) = (job_file(), self.place.db());
        let words = ["run", &job, "--from", "keys", "--resume", &kept.id, "--db", &db, "--json"];
        let mut running = Running::start(&words);
        for line in &lines {
            running.tell(&line.words);
        }
        let said = running.finish();
        self.ended_well(&said)?;
        verified(&db)?;
        let after = records(&db)?.pop().filter(|after| after.id == kept.id);
        let after = after.ok_or("the record is gone")?;
        let sent: Vec<Item> = lines.iter().map(|line| line.means.clone()).collect();
        begins(&sent, &after.items(kept.events.len()), same)?;
        if !after.hazardous().is_empty() {
            return Err(format!("still hazardous, {states:?}: {}", said.errors));
        }
        self.counts.ends += 1;
        Ok(())
    }

    /// What the hazard line says of each conductor, from a run that is given nothing to do.
    fn states(&mut self, kept: &Kept) -> Result<Vec<(String, String)>, String> {
        let (job, db) = (job_file(), self.place.db());
        let words = ["run", &job, "--from", "keys", "--resume", &kept.id, "--db", &db, "--json"];
        let said = Running::start(&words).finish();
        self.ended_well(&said)?;
        let before = self.before.replace(kept.clone());
        self.hazard_was_told(&said)?;
        self.before = before;
        // A line of it reads `  A rising, last read 12.600 kV, no ground on`.
        let line = |line: &str| {
            let (conductor, _) = line.strip_prefix("  ")?.split_once(',')?;
            let (name, state) = conductor.split_once(' ')?;
            CONDUCTORS.contains(&name).then(|| (name.to_owned(), state.to_owned()))
        };
        let mut states: Vec<(String, String)> = Vec::new();
        for (name, state) in said.errors.lines().filter_map(line) {
            // The line at the end of the run says it once more.
            if states.iter().all(|(known, _)| *known != name) {
                states.push((name, state));
            }
        }
        let named: BTreeSet<String> = states.iter().map(|(name, _)| name.clone()).collect();
        if named == kept.hazardous() {
            return Ok(states);
        }
        Err(format!("{:?} hazardous, the line names {states:?}", kept.hazardous()))
    }

    fn ended_well(&self, said: &Said) -> Result<(), String> {
        if !said.status.is_some_and(|status| status.success()) {
            return Err(format!("it ended in {:?}: {}", said.status, said.errors));
        }
        let last = said.others.last().filter(|line| line["verdict"].is_string());
        let record = last.and_then(|line| line["record"].as_str());
        let known = self.before.as_ref().map(|kept| kept.id.as_str());
        if record.is_none() || known.is_some_and(|id| record != Some(id)) {
            return Err(format!("it ended on {last:?}, the record is {known:?}"));
        }
        Ok(())
    }
}

impl Counts {
    fn add(&mut self, more: Self) {
        self.kills += more.kills;
        self.early += more.early;
        self.readings += more.readings;
        self.hazard_lines += more.hazard_lines;
        self.ends += more.ends;
    }
}

/// Types at a pace of its own until so much is acknowledged or nothing is left to type.
fn type_until(run: &mut Run, seq: u64, chance: &mut Chance) {
    // Some people paste it all.
    let pasted = chance.below(3) == 0;
    for line in &run.typed {
        if run.running.acknowledged().seq >= seq || !run.running.tell(&line.words) {
            return;
        }
        if !pasted {
            run.running.hear_for(Duration::from_micros(chance.below(4000)));
        }
    }
    // With nothing left to type it ends by itself, unless it is killed before.
    run.running.end_of_lines();
}

fn pairs(items: &[Item]) -> Vec<Pair> {
    let pair = |item: &Item| match item {
        Item::Reading { pair, .. } => Some(*pair),
        Item::Act { .. } | Item::Before { .. } => None,
    };
    items.iter().filter_map(pair).collect()
}

/// The readings of a run of the program's own practice set that nobody killed.
fn whole_run(sim: u64) -> &'static [Pair] {
    static RUNS: [OnceLock<Vec<Pair>>; SIMS as usize] = [const { OnceLock::new() }; SIMS as usize];
    RUNS[sim as usize - 1].get_or_init(|| {
        let place = Place::new(&format!("whole-{sim}"));
        let (job, db, from) = (job_file(), place.db(), format!("sim:{sim}"));
        let words = ["run", &job, "--from", &from, "--db", &db, "--json"];
        let said = Running::start(&words).finish();
        assert!(said.status.is_some_and(|status| status.success()), "{}", said.errors);
        let kept = records(&db).expect("it ended well").pop().expect("one record");
        place.clear();
        pairs(&kept.items(0))
    })
}

/// Whether what is there is the beginning of what was sent.
fn begins<T: std::fmt::Debug>(
    there: &[T],
    sent: &[T],
    same: fn(&T, &T) -> bool,
) -> Result<(), String> {
    if there.len() > sent.len() {
        return Err(format!("{} were sent, {} are there", sent.len(), there.len()));
    }
    match there.iter().zip(sent).position(|(there, sent)| !same(there, sent)) {
        None => Ok(()),
        Some(at) => Err(format!("number {at} is {:?}, {:?} was sent", there[at], sent[at])),
    }
}

fn same(one: &Item, other: &Item) -> bool {
    match (one, other) {
        (Item::Reading { phase, pair }, Item::Reading { phase: of, pair: sent }) => {
            phase == of && near(pair, sent)
        }
        (one, other) => one == other,
    }
}

/// Equal but for the twelfth digit, where units are changed.
fn near(one: &Pair, other: &Pair) -> bool {
    let near = |one: Option<f64>, other: Option<f64>| match (one, other) {
        (Some(one), Some(other)) => (one - other).abs() <= 1e-9 * other.abs().max(1.0),
        (one, other) => one == other,
    };
    near(one.0, other.0) && near(one.1, other.1)
}

#[test]
fn what_is_lost_swapped_or_made_up_is_found() {
    let sent: Vec<Pair> = (0..5).map(|at| (Some(f64::from(at)), Some(0.5))).collect();
    let check = |there: &[Pair], expected: bool| {
        assert_eq!(begins(there, &sent, near).is_ok(), expected, "{there:?}");
    };
    check(&[], true);
    check(&sent[..3], true);
    check(&sent, true);
    check(&sent[1..], false);
    check(&[sent[0], sent[2]], false);
    check(&[sent[0], sent[0]], false);
    check(&[(Some(0.0), None)], false);
    check(&[sent.clone(), vec![sent[0]]].concat(), false);
}
