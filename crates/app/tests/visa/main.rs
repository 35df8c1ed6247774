//! A conversation with a general-purpose simulator of instruments, pyvisa-sim: two bench meters at
//! two addresses, none of them ours. Every value in the record is one that it was set to, times the
//! ratio of its meter. And with a logger that a general library, pymodbus, plays.
#![cfg(unix)]

use std::fs;
use std::io::{BufRead as _, BufReader};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use session::record::{Batch, SourceNews};
use session::{Event, Record};

#[path = "../troubles/live.rs"]
#[expect(dead_code, reason = "other tests use more of it")]
mod live;
#[path = "../troubles/stored.rs"]
mod stored;

use live::{Live, pass};

/// The simulator with its two meters; it ends with this.
struct Bench {
    child: Child,
    ports: Vec<String>,
}

impl Bench {
    /// Starts a peer of this folder, which says so many ports.
    fn start(words: &[&str], ports: usize) -> Self {
        let here = Path::new(env!("CARGO_MANIFEST_DIR"));
        let mut command = Command::new("python3");
        command.args(words).current_dir(here.join("tests/visa"));
        command.env("PYTHONPATH", here.join("../../target/visa"));
        command.stdin(Stdio::piped()).stdout(Stdio::piped());
        let mut child = command.spawn().expect("python3 is there");
        let mut line = String::new();
        let mut out = BufReader::new(child.stdout.take().expect("piped"));
        out.read_line(&mut line).expect("it says its ports");
        let said: Vec<String> = line.split_whitespace().map(str::to_owned).collect();
        assert_eq!(said.len(), ports, "the peer did not start: see what python3 said above");
        Self { child, ports: said }
    }

    fn of_meters() -> Self {
        Self::start(&["peer.py", "meters.yaml"], 2)
    }
}

impl Drop for Bench {
    fn drop(&mut self) {
        // It may have ended by itself.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The two meters as the job file has them.
fn meters(bench: &Bench) -> String {
    format!(
        "\n[[meter]]\nreads = \"voltage\"\naddress = \"tcp:127.0.0.1:{}\"\nratio = 10000.0\n\
             range_query = \"VOLT:DC:RANG?\"\n\n[[meter]]\nreads = \"current\"\n\
             address = \"tcp:127.0.0.1:{}\"\nquery = \"READ?\"\nunit = \"ua\"\n",
        bench.ports[0], bench.ports[1]
    )
}

/// A folder with the job of the two meters and the database.
struct Place(PathBuf);

impl Place {
    fn new(name: &str, bench: &Bench) -> Self {
        Self::with(name, &meters(bench))
    }

    /// With the example of the gloves, and this at its end.
    fn with(name: &str, more: &str) -> Self {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("visa").join(name);
        if folder.exists() {
            fs::remove_dir_all(&folder).expect("an old run's folder is ours to remove");
        }
        fs::create_dir_all(&folder).expect("cargo gives a folder for this");
        let example = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/examples/gloves.toml");
        let mut job = fs::read_to_string(example).expect("the example is there");
        job += more;
        fs::write(folder.join("job.toml"), job).expect("it can be written");
        Self(folder)
    }

    fn db(&self) -> String {
        self.0.join("records.db").to_str().expect("a plain path").to_owned()
    }

    fn run(&self, from: &str) -> Live {
        let mut command = Command::new(env!("CARGO_BIN_EXE_ohmstead"));
        command.arg("run").arg(self.0.join("job.toml"));
        command.args(["--from", from, "--every", "0.05", "--json", "--db", &self.db()]);
        Live::start(command)
    }

    fn record(&self) -> Record {
        stored::records(&self.db()).remove(0).1
    }
}

fn batches(record: &Record) -> impl Iterator<Item = &Batch> {
    record.events.iter().filter_map(|entry| match &entry.what {
        Event::Metered(batch) => Some(batch),
        _ => None,
    })
}

#[test]
#[ignore = "needs python3 with pyvisa-sim"]
fn two_meters_of_a_general_simulator_are_read_side_by_side() {
    let bench = Bench::of_meters();
    let place = Place::new("side-by-side", &bench);
    let mut live = place.run("meters");
    live.until_err("OVER RANGE");
    live.until_kept(80);
    live.signal("INT");
    let ended = live.end();
    assert_eq!(ended.status, Some(0), "{}", ended.err);
    let record = place.record();
    let source = record.source.clone().expect("both said who they are");
    let who = "Northgate Workshop,Bench voltmeter,4711,2.0 + \
               Northgate Workshop,Bench ammeter,4712,2.0";
    assert_eq!(source, who);
    // As the simulator was set: a ten-thousandth of the object's volts, and microamperes.
    let stands = |value: f64, from: f64, step: f64| {
        let steps = (value - from) / step;
        steps > -1e-6 && (steps - steps.round()).abs() < 1e-5
    };
    let (mut both, mut rows) = (0, 0);
    for batch in batches(&record) {
        for (kv, ua) in batch.kv.iter().zip(&batch.ua) {
            rows += 1;
            both += usize::from(kv.is_some() && ua.is_some());
            if let Some(kv) = kv {
                let rises = *kv < 20.0 && stands(*kv, 0.0, 5.0);
                assert!(rises || stands(*kv, 20.0, 0.001), "{kv} kV was never set");
            }
            if let Some(ua) = ua {
                assert!(stands(*ua, 5.0, 0.01), "{ua} µA was never set");
            }
        }
        if batch.kv.iter().any(Option::is_some) {
            let range = batch.voltage_range.map(|range| range.kilovolts());
            assert!(range.is_some_and(|range| (range - 100.0).abs() < 1e-9), "{range:?}");
        }
    }
    assert_eq!(batches(&record).map(|batch| batch.overload.len()).sum::<usize>(), 3);
    assert!(both * 10 >= rows * 8, "{both} of {rows} rows have both values");
    let lost = |event: &Event| matches!(event, Event::Source(SourceNews::MeterLost { .. }));
    assert!(!record.events.iter().any(|entry| lost(&entry.what)), "{}", ended.err);
}

/// The simulator goes in the middle of a test: both meters are told by name, and the record ends
/// with what was read.
#[test]
#[ignore = "needs python3 with pyvisa-sim"]
fn a_simulator_that_goes_is_told_meter_by_meter() {
    let bench = Bench::of_meters();
    let place = Place::new("goes", &bench);
    let mut live = place.run("meters");
    live.until_kept(40);
    drop(bench);
    // Whichever is asked first is lost first.
    let told = [(); 2].map(|()| live.until_err("METER LOST: read the needle"));
    for meter in ["voltage", "current"] {
        let name = format!("the meter of {meter} at tcp:");
        assert!(told.iter().any(|line| line.contains(&name)), "{meter}: {told:?}");
    }
    pass(Duration::from_millis(100));
    live.signal("INT");
    let ended = live.end();
    assert_eq!(ended.status, Some(0), "{}", ended.err);
    let lost = place
        .record()
        .events
        .into_iter()
        .filter(|entry| matches!(entry.what, Event::Source(SourceNews::MeterLost { .. })));
    assert_eq!(lost.count(), 2);
}

/// Temperature below zero, humidity, and a register that it does not have: two are kept, the third
/// is told and kept as nothing.
#[test]
#[ignore = "needs python3 with pyvisa-sim"]
fn a_logger_of_a_general_library_is_read() {
    let bench = Bench::start(&["logger.py"], 1);
    let address = format!("127.0.0.1:{}", bench.ports[0]);
    let begun = Instant::now();
    while TcpStream::connect(&address).is_err() {
        assert!(begun.elapsed() < Duration::from_secs(20), "it does not listen");
        pass(Duration::from_millis(50));
    }
    let logger = |reads: &str, register: u16| {
        format!(
            "\n[[logger]]\nreads = \"{reads}\"\naddress = \"tcp:{address}\"\n\
             register = {register}\ninput = true\n"
        )
    };
    let more = [logger("temperature", 0), logger("humidity", 1), logger("humidity", 5)].concat();
    let place = Place::with("logger", &more);
    let mut live = place.run("keys");
    let told = live.until_err("Read the air yourself");
    assert!(told.contains("refuses with code 2"), "{told}");
    live.say("0 0 0");
    live.until_kept(1);
    let ended = live.end();
    assert_eq!(ended.status, Some(0), "{}", ended.err);
    let record = place.record();
    let beside: Vec<_> = record
        .events
        .iter()
        .filter_map(|entry| if let Event::Beside(one) = &entry.what { Some(one) } else { None })
        .collect();
    let celsius = beside.iter().find_map(|one| one.temperature_c).map(|c| c.celsius());
    let percent = beside.iter().find_map(|one| one.humidity_percent).map(|share| share.percent());
    // Tenths, as `logger.py` holds them: -57 and 475.
    assert!(celsius.is_some_and(|c| (c + 5.7).abs() < 1e-9), "{celsius:?}");
    assert!(percent.is_some_and(|percent| (percent - 47.5).abs() < 1e-9), "{percent:?}");
}
