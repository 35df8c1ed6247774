//! One run with one fault in it.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use session::act::Act;
use session::record::SourceNews;
use session::{Event, Record};

use crate::live::{Live, pass};
use crate::meter::{CURRENT, Mood, RANGE, Sham, VOLTAGE};
use crate::stored;

/// A kind of fault, and the words that tell it.
pub(crate) struct Kind {
    pub(crate) name: &'static str,
    told: &'static str,
}

const fn kind(name: &'static str, told: &'static str) -> Kind {
    Kind { name, told }
}

pub(crate) const KINDS: &[Kind] = &[
    kind("overload", "OVER RANGE"),
    kind("no-value", "it has no value"),
    kind("garbage", "no number"),
    kind("unit-behind-it", "no number"),
    kind("two-values", "no number"),
    kind("cut-line", "LINK LOST"),
    kind("silence", "LINK LOST"),
    kind("late-answer", "LINK LOST"),
    kind("unplugged", "LINK LOST"),
    kind("another-meter", "another instrument"),
    kind("unit-slip", "UNIT?"),
    kind("other-range", ""),
    kind("one-of-two", "METER LOST"),
];

/// What came of it.
pub(crate) struct Found {
    pub(crate) kind: &'static str,
    pub(crate) seen: bool,
    pub(crate) recorded: bool,
    /// Values in the record that were never sent, or stand out of their order.
    pub(crate) invented: usize,
    /// Of two meters, the other one was read all the while.
    pub(crate) others_went_on: bool,
    /// From the end of the fault to the next value in the record.
    pub(crate) back_ms: f64,
    /// What the program said.
    pub(crate) said: String,
}

/// A small generator of numbers that are the same for the same seed.
struct Dice(u64);

impl Dice {
    fn below(&mut self, bound: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963);
        (self.0 >> 33) % bound
    }
}

/// A run whose fault, and when it comes and how long it lasts, follow from the seed.
pub(crate) fn one(seed: u64) -> Found {
    let kind = &KINDS[usize::try_from((seed - 1) % KINDS.len() as u64).expect("small")];
    let mut dice = Dice(seed);
    for _ in 0..4 {
        dice.below(2);
    }
    let about = if dice.below(2) == 0 { VOLTAGE } else { CURRENT };
    let about = if kind.name == "other-range" { VOLTAGE } else { about };
    let sham = Sham::new(about);
    let second = (kind.name == "one-of-two").then(|| Sham::new(CURRENT));
    let place = Place::new(seed, &sham, second.as_ref());
    let mut live = Live::start(place.command());
    // Well beyond the readings by which the program sees that there is voltage.
    live.until_kept(90 + dice.below(20));
    let hurt = second.as_ref().unwrap_or(&sham);
    let begun = Instant::now();
    hurt.is(mood(kind.name, about, &mut dice));
    if kind.name == "other-range" {
        hurt.goes_to_range(100_000.0);
    }
    if kind.name == "another-meter" {
        hurt.becomes("Workshop,Bench meter,8,1.0");
    }
    let early = kind.name == "another-meter";
    // Who answers late about the current still answers about the voltage.
    let one_question = kind.name == "late-answer" && about == CURRENT;
    let told = match (early, one_question) {
        (true, _) => "LINK LOST",
        (_, true) => "METER LOST",
        _ => kind.told,
    };
    if !told.is_empty() {
        live.until_err(told);
    }
    pass(Duration::from_millis(20 + dice.below(200)));
    let lasted = begun.elapsed();
    hurt.is(Mood::Well);
    if early {
        live.until_err(kind.told);
    }
    // Once what was on its way is kept, well readings follow.
    let before = live.kept();
    live.until_kept(before + 60);
    live.signal("INT");
    let ended = live.end();
    let record = place.record();
    let rows = rows(&record);
    let sent = sham.sent();
    let of_second = second.as_ref().map_or_else(|| sent[1].clone(), |one| one.sent()[1].clone());
    let read = |which: usize| -> Vec<(f64, f64)> {
        rows.iter()
            .filter_map(|row| Some((row.0, if which == 0 { row.1 } else { row.2 }?)))
            .collect()
    };
    let invented = invented(&read(0), &sent[0]) + invented(&read(1), &of_second);
    let which = usize::from(second.is_some() || about == CURRENT);
    Found {
        kind: kind.name,
        seen: ended.status == Some(0) && if told.is_empty() { breaks(&record) } else { true },
        recorded: is_recorded(kind.name, about, &record),
        invented,
        others_went_on: second.is_none() || longest_gap(&read(0)) < 0.9,
        back_ms: (longest_gap(&read(which)) - lasted.as_secs_f64()).max(0.0) * 1e3,
        said: ended.err,
    }
}

fn mood(kind: &str, about: &str, dice: &mut Dice) -> Mood {
    let plain = |text: &str| Mood::Sends(text.as_bytes().to_vec());
    match kind {
        "overload" => plain(["9.9E37\n", "-9.9E+37\n", "+9.90000000E+37\n"][pick(dice, 3)]),
        "no-value" => plain(["9.91E37\n", "+9.910000E+37\n"][pick(dice, 2)]),
        "garbage" => {
            let long = 1 + dice.below(40);
            let mut bytes: Vec<u8> = (0..long).map(|_| byte(dice)).collect();
            bytes.extend(b"?\n");
            Mood::Sends(bytes)
        }
        "unit-behind-it" => plain(["10000 V\n", "10.0kV\n", "5.0uA\n", "5E-6 A\n"][pick(dice, 4)]),
        "two-values" => plain(["+1.0E4,+5.0E-6\n", "1,234\n", "7;8\n"][pick(dice, 3)]),
        "cut-line" => Mood::Unplugged(b"1000"[..1 + pick(dice, 3)].to_vec()),
        "silence" => Mood::Silent,
        "late-answer" => Mood::Late,
        "unplugged" | "another-meter" => Mood::Unplugged(Vec::new()),
        // Ten kilovolts as ten thousand, five microamperes as five hundred milliamperes.
        "unit-slip" => Mood::Times(if about == VOLTAGE { 1e3 } else { 1e5 }),
        "one-of-two" => {
            if dice.below(2) == 0 {
                Mood::Silent
            } else {
                Mood::Unplugged(Vec::new())
            }
        }
        _ => Mood::Well,
    }
}

fn pick(dice: &mut Dice, of: u64) -> usize {
    usize::try_from(dice.below(of)).expect("small")
}

/// Any byte but the end of a line.
fn byte(dice: &mut Dice) -> u8 {
    let drawn = u8::try_from(dice.below(256)).expect("a byte");
    if drawn == b'\n' { b'~' } else { drawn }
}

/// Values that were never sent, or that come before one they were sent after.
fn invented(read: &[(f64, f64)], sent: &[f64]) -> usize {
    let mut sent = sent.iter();
    let same = |one: f64, other: f64| (one - other).abs() <= 1e-9 * other.abs();
    read.iter().filter(|(_, value)| !sent.any(|one| same(*value, *one))).count()
}

/// The longest time between two values on end.
fn longest_gap(read: &[(f64, f64)]) -> f64 {
    read.windows(2).map(|two| two[1].0 - two[0].0).fold(0.0, f64::max)
}

fn is_recorded(kind: &str, about: &str, record: &Record) -> bool {
    let has = |is: &dyn Fn(&Event) -> bool| record.events.iter().any(|entry| is(&entry.what));
    let news = |is: &dyn Fn(&SourceNews) -> bool| {
        has(&|event| if let Event::Source(news) = event { is(news) } else { false })
    };
    let lost = || news(&|one| matches!(one, SourceNews::Lost { .. }));
    let back = || news(&|one| matches!(one, SourceNews::Back { .. }));
    let batch = |is: &dyn Fn(&session::record::Batch) -> bool| {
        has(&|event| if let Event::Metered(batch) = event { is(batch) } else { false })
    };
    match kind {
        "overload" => batch(&|batch| !batch.overload.is_empty()),
        "no-value" => batch(&|batch| batch.kv.contains(&None) || batch.ua.contains(&None)),
        "garbage" | "unit-behind-it" | "two-values" => {
            news(&|one| matches!(one, SourceNews::Garbled { .. }))
        }
        "another-meter" => lost() && news(&|one| matches!(one, SourceNews::Changed { .. })),
        "unit-slip" => news(&|one| matches!(one, SourceNews::Slip { .. })),
        "other-range" => {
            let on = |volts: f64| {
                batch(&|batch| {
                    batch.voltage_range.is_some_and(|range| (range.volts() - volts).abs() < 1e-6)
                })
            };
            on(20_000.0) && on(100_000.0)
        }
        "one-of-two" => {
            let is_second = |meter: &str| meter.contains("current");
            news(&|one| matches!(one, SourceNews::MeterLost { meter, .. } if is_second(meter)))
                && news(&|one| matches!(one, SourceNews::MeterBack { .. }))
        }
        // One question without an answer is told as the value that is missing.
        "late-answer" if about == CURRENT => {
            news(&|one| matches!(one, SourceNews::MeterLost { .. }))
                && news(&|one| matches!(one, SourceNews::MeterBack { .. }))
        }
        _ => lost() && back(),
    }
}

/// Whether the picture of the record has a gap where the range changed, told in its words too.
fn breaks(record: &Record) -> bool {
    let conductors = session::conductors(record);
    let application = conductors.iter().flat_map(|one| &one.applications).next();
    let Some(application) = application else { return false };
    let shape = report::chart::Shape::Paper;
    let chart = report::chart::chart(&record.plan, "left", application, shape);
    chart.is_some_and(|chart| chart.sentences.iter().any(|one| one.starts_with("Another range")))
}

/// Seconds since the record was begun, kilovolts and microamperes of each row.
fn rows(record: &Record) -> Vec<(f64, Option<f64>, Option<f64>)> {
    let mut zero = 0.0;
    let mut rows = Vec::new();
    for entry in &record.events {
        match &entry.what {
            Event::Did { act: Act::Energise, since_energised, .. } => {
                let at = entry.at.map_or(0.0, |at| at.since_begun.seconds());
                zero = at - since_energised.map_or(0.0, |since| since.seconds());
            }
            Event::Metered(batch) => {
                let from = if batch.idle { 0.0 } else { zero };
                let sign = if batch.negative { -1.0 } else { 1.0 };
                let columns = batch.t_s.iter().zip(&batch.kv).zip(&batch.ua);
                rows.extend(columns.map(|((t, kv), ua)| {
                    (from + t, kv.map(|kv| kv * sign), ua.map(|ua| ua * sign))
                }));
            }
            _ => {}
        }
    }
    rows
}

/// A folder with the job and the database of one run.
struct Place {
    folder: PathBuf,
    from: String,
}

impl Place {
    fn new(seed: u64, sham: &Sham, second: Option<&Sham>) -> Self {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("faults").join(seed.to_string());
        if folder.exists() {
            fs::remove_dir_all(&folder).expect("an old run's folder is ours to remove");
        }
        fs::create_dir_all(&folder).expect("cargo gives a folder for this");
        let example = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/examples/gloves.toml");
        let mut job = fs::read_to_string(example).expect("the example is there");
        let meter = |reads: &str, query: &str, at: &Sham| {
            let address = at.address();
            format!(
                "\n[[meter]]\nreads = \"{reads}\"\nquery = \"{query}\"\naddress = \"{address}\"\n"
            )
        };
        job += &meter("voltage", VOLTAGE, sham);
        job += &format!("range_query = \"{RANGE}\"\n");
        job += &meter("current", CURRENT, second.unwrap_or(sham));
        fs::write(folder.join("job.toml"), job).expect("it can be written");
        Self { folder, from: "meters".to_owned() }
    }

    fn db(&self) -> String {
        self.folder.join("records.db").to_str().expect("a plain path").to_owned()
    }

    fn command(&self) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_ohmstead"));
        let job = self.folder.join("job.toml");
        command.arg("run").arg(job).args(["--from", &self.from, "--every", "0.02", "--json"]);
        command.args(["--db", &self.db()]);
        command
    }

    /// The record; its seals hold.
    fn record(&self) -> Record {
        stored::records(&self.db()).remove(0).1
    }
}
