//! A thousand readings a second from a meter on a socket, and a page that follows over its own: how
//! late each reading is on the page with the advice that has heard of it, what that costs, and that
//! nothing grows. Beside it the adviser alone, fed the same.

use std::collections::HashMap;
use std::net::{Ipv4Addr, TcpListener, TcpStream};
use std::process::Child;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use advise::{Adviser, Taken};
use instrument::serve::serve_tcp;
use quantity::{Current, Time, Voltage};
use serde_json::Value;
use session::act::Act;
use session::record::{Head, Told};
use session::{Event, Kind};
use tokio_tungstenite::tungstenite::{self, Message};

use super::Place;
use super::sheet::{self, encoded};

const JOB: &str = include_str!("../../../../docs/examples/gloves.toml");

/// Between two readings, seconds.
const EVERY: &str = "0.001";
const A_SECOND: u64 = 1000;

/// Kilovolts by hundredths and microamperes by hundredths round the level; each pair comes again
/// only after so many readings, the two numbers having no common part.
const KILOVOLTS: u64 = 179;
const MICROAMPERES: u64 = 8;

/// What was answered last for each pair that a page can show.
type Answered = Arc<Mutex<HashMap<(String, String), Instant>>>;

fn kilovolts(count: u64) -> String {
    // Up and down by a step that visits each once.
    format!(
        "{}.{:02}",
        49 + (count * 61 % KILOVOLTS + 11) / 100,
        (count * 61 % KILOVOLTS + 11) % 100
    )
}

fn microamperes(count: u64) -> String {
    format!("5.0{}", count * 3 % MICROAMPERES)
}

/// Two answers for each count, the second of which ends it.
fn meter(answered: Answered) -> impl FnMut(&str) -> Option<String> {
    let mut count = 0;
    move |line| match line {
        "*IDN?" => Some("TEST,COUNTING METER,1,1".to_owned()),
        "SYST:ERR?" => Some("0,\"No error\"".to_owned()),
        "MEAS:VOLT:DC?" => Some(format!("{}E+03", kilovolts(count))),
        "MEAS:CURR:DC?" => {
            let pair = (kilovolts(count), microamperes(count));
            let answer = format!("{}E-06", pair.1);
            answered.lock().unwrap_or_else(PoisonError::into_inner).insert(pair, Instant::now());
            count += 1;
            Some(answer)
        }
        _ => None,
    }
}

/// A record whose first conductor is at the level, and whose readings come from here on; its id.
fn begun(place: &Place, address: &str, meter: &str) -> String {
    let job = place.0.join("job.toml");
    std::fs::write(&job, JOB).expect("a folder of our own");
    let plan = place.run(&["plan", &job.display().to_string(), "--json"], "");
    let plan = serde_json::from_slice(&plan.stdout).expect("a plan is JSON");
    let from = format!("from=meter&address={}", encoded(meter));
    sheet::energised(address, (JOB, &plan), &from)
}

/// What a page heard.
#[derive(Default)]
struct Heard {
    /// From each answer of the meter to the words that show it `[ms]`.
    delays: Vec<f64>,
    /// How many of these words had advice and its band.
    advised: usize,
    readings: u64,
    points: u64,
}

/// Follows a record as a page does.
fn follow(address: &str, id: &str, answered: &Answered, time: Duration) -> Heard {
    let socket = TcpStream::connect(address).expect("it listens");
    socket.set_nodelay(true).expect("a socket");
    socket.set_read_timeout(Some(Duration::from_secs(20))).expect("a socket");
    let ask = format!("ws://localhost/live?record={id}");
    let (mut page, _) = tungstenite::client(ask, socket).expect("it lets pages follow");
    let started = Instant::now();
    let mut heard = Heard::default();
    while started.elapsed() < time {
        let message = page.read().expect("it goes on");
        let now = Instant::now();
        match message {
            Message::Binary(bytes) => {
                let count = bytes.get(4..8).and_then(|four| four.try_into().ok());
                heard.points += u64::from(u32::from_le_bytes(count.unwrap_or_default()));
            }
            Message::Text(text) => words(&text, now, answered, &mut heard),
            _ => {}
        }
    }
    heard
}

fn words(text: &str, now: Instant, answered: &Answered, heard: &mut Heard) {
    let told: Value = serde_json::from_str(text).expect("words are JSON");
    let scene = &told["scene"];
    let head = scene["head"].as_str().unwrap_or_default();
    let readings = head.rsplit(" · ").next().and_then(|last| last.strip_suffix(" readings"));
    heard.readings = readings.and_then(|count| count.parse().ok()).unwrap_or(heard.readings);
    let (Some(kv), Some(ua)) = (scene["kilovolts"].as_str(), scene["current"].as_str()) else {
        return;
    };
    let ua = ua.trim_end_matches(" µA").to_owned();
    let map = answered.lock().unwrap_or_else(PoisonError::into_inner);
    let Some(left) = map.get(&(kv.to_owned(), ua)) else { return };
    heard.delays.push(now.saturating_duration_since(*left).as_secs_f64() * 1e3);
    heard.advised += usize::from(scene["advice"]["more"][0].is_string());
}

/// Clock ticks of the processor that a program has used, and MiB that it holds.
fn used(program: &Child) -> (f64, f64) {
    let read = |what: &str| {
        std::fs::read_to_string(format!("/proc/{}/{what}", program.id())).unwrap_or_default()
    };
    let stat = read("stat");
    let fields: Vec<&str> = stat.rsplit(')').next().unwrap_or_default().split(' ').collect();
    let ticks = |at: usize| fields.get(at).and_then(|ticks| ticks.parse().ok()).unwrap_or(0.0);
    let status = read("status");
    let resident = status.lines().find_map(|line| line.strip_prefix("VmRSS:"));
    let kib = resident.and_then(|line| line.split_whitespace().next()?.parse::<f64>().ok());
    // proc(5): user and system time are fields 14 and 15, the third stands first here.
    (ticks(12) + ticks(13), kib.unwrap_or(f64::NAN) / 1024.0)
}

/// Ticks of a second; 100 on every Linux that this is run on (`getconf CLK_TCK`).
const TICKS: f64 = 100.0;

/// How long the adviser alone takes for one reading, and for what it advises then `[µs]`.
fn alone(readings: u64) -> [Vec<f64>; 2] {
    let job = plan::job_file::parse(JOB).expect("the example is well formed");
    let plan = plan::plan(&job, &standards::Library::published());
    let format = session::RECORD_FORMAT.to_owned();
    let mut adviser = Adviser::new(&Head { format, kind: Kind::Test, source: None, job, plan });
    adviser.event(&Event::Energised { phase: "left".to_owned() }.into());
    let mut held = false;
    let mut took = [Vec::new(), Vec::new()];
    for count in 0..readings {
        let at = Time::from_seconds(count as f64 / A_SECOND as f64);
        let ua: f64 = microamperes(count).parse().expect("a number");
        let taken = Taken {
            at,
            voltage: Some(Voltage::from_kilovolts(50.0)),
            current: Some(Current::from_microamperes(ua)),
            voltage_half_digit: Some(Voltage::from_kilovolts(0.005)),
            current_half_digit: Some(Current::from_microamperes(0.005)),
            ..Taken::default()
        };
        if count > 0 && !held {
            // What is fitted is fitted at a level: it is stood at from the second reading on.
            held = true;
            for act in [Act::Rise, Act::Hold] {
                let phase = "left".to_owned();
                let (since_energised, told, breaches) = (Some(at), Told::Said, Vec::new());
                let did = Event::Did { phase, since_energised, act, told, breaches };
                adviser.event(&did.into());
            }
        }
        let begun = Instant::now();
        adviser.reading("left", &taken);
        took[0].push(begun.elapsed().as_secs_f64() * 1e6);
        let begun = Instant::now();
        let advice = adviser.at("left", at);
        took[1].push(begun.elapsed().as_secs_f64() * 1e6);
        assert!(
            count < 30 * A_SECOND || advice.band.is_some(),
            "no band after {count} readings at a level"
        );
    }
    took.each_mut().iter_mut().for_each(|all| all.sort_by(f64::total_cmp));
    took
}

/// Of sorted numbers the one that this part of a thousand lies below.
fn below(sorted: &[f64], part: usize) -> f64 {
    let at = (sorted.len() * part / 1000).min(sorted.len().saturating_sub(1));
    sorted.get(at).copied().unwrap_or(f64::NAN)
}

#[test]
fn advice_keeps_up_with_a_thousand_readings_a_second() {
    let seconds = std::env::var("LOAD_S").ok().and_then(|told| told.parse().ok()).unwrap_or(4);
    let place = Place::new("load");
    let answered = Answered::default();
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).expect("a port is free");
    let server = serve_tcp(listener, meter(Arc::clone(&answered))).expect("it is bound");
    let (mut child, line) = place.serve("127.0.0.1:0", &["--every", EVERY]);
    let address = line.split("http://").nth(1).and_then(|rest| rest.split('/').next());
    let address = address.expect("an address");
    let id = begun(&place, address, &server.address().to_string());
    // What it holds at first grows to the size that a record at work has.
    let first = follow(address, &id, &answered, Duration::from_secs(seconds).mul_f64(0.25));
    let ((ticks, mib), begun) = (used(&child), Instant::now());
    let mut heard = follow(address, &id, &answered, Duration::from_secs(seconds));
    let took = begun.elapsed().as_secs_f64();
    let (ticks_after, mib_after) = used(&child);
    child.kill().expect("it runs");
    child.wait().expect("it ends");

    heard.delays.sort_by(f64::total_cmp);
    let came = heard.readings - first.readings;
    let words = heard.delays.len();
    let [reading, advice] = alone(seconds.clamp(60, 600) * A_SECOND);
    println!("counts: seconds {seconds} readings {came} points {} words {words}", heard.points);
    println!(
        "figures: readings_per_s {:.1} page_ms_half {:.2} page_ms_99 {:.2} page_ms_longest {:.2} \
         mib_before {mib:.2} mib_after {mib_after:.2} cpu_percent {:.1} reading_us_half {:.2} \
         reading_us_99 {:.2} reading_us_longest {:.1} advice_us_half {:.2} advice_us_99 {:.2} \
         advice_us_longest {:.1}",
        came as f64 / took,
        below(&heard.delays, 500),
        below(&heard.delays, 990),
        below(&heard.delays, 1000),
        (ticks_after - ticks) / TICKS / took * 100.0,
        below(&reading, 500),
        below(&reading, 990),
        below(&reading, 1000),
        below(&advice, 500),
        below(&advice, 990),
        below(&advice, 1000),
    );
    // A machine that does other work answers later and asks less often; what is wanted is in
    // docs/performance.md, and here that it goes on at all, with every word advised.
    assert!(came > 0 && words > 0, "{came} readings, {words} words");
    assert_eq!(heard.advised, words, "words without advice");
    assert!(mib_after - mib < 32.0, "it grew from {mib} to {mib_after} MiB");
    for all in [&reading, &advice] {
        assert!(below(all, 990) < 1000.0, "{} µs", below(all, 990));
    }
}
