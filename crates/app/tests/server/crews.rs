//! Crews that each type two readings a second into one office, and four pages for each of them that
//! follow, while the server with the records ends without warning and comes back, and ends again
//! and its standby takes over: every reading that was acknowledged stands in the record once.

use std::collections::HashMap;
use std::net::TcpStream;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::channel;
use std::thread;
use std::time::{Duration, Instant};

use serde_json::Value;
use tokio_tungstenite::tungstenite::{self, Message};

use super::Place;
use super::front::Front;
use super::server::Server;
use super::sheet::{energised, post};

const JOB: &str = include_str!("../../../../docs/examples/gloves.toml");

/// Between two readings of a crew.
const EVERY: Duration = Duration::from_millis(500);
const PAGES_OF_A_CREW: usize = 4;

/// A page that hears nothing for so long has lost its test.
const SILENT: Duration = Duration::from_secs(20);

/// The server is away for so long before it is started again, or its standby is told to take over.
const AWAY: Duration = Duration::from_secs(2);

/// Of one that follows another: it looks for it again soon.
const FOLLOWS: &str = "-c wal_retrieve_retry_interval=100ms";
/// Of one that is followed: a commit is answered when the standby has it on its disk too.
const FOLLOWED: &str = "set -c shared_buffers=32MB -c max_connections=300 \
                        -c synchronous_standby_names=*";

/// One reading that was acknowledged.
struct Kept {
    tenths_of_a_nanoampere: u64,
    sent: Instant,
    answered: Instant,
    /// How often it was sent beyond the first time.
    again: u64,
}

/// Lets so much time go by.
fn wait(time: Duration) {
    let (_held, nothing) = channel::<()>();
    let _ = nothing.recv_timeout(time);
}

/// Types readings, each when the one before is acknowledged and half a second has gone by.
fn type_readings(address: &str, id: &str, until: Instant) -> Vec<Kept> {
    let mut all = Vec::new();
    let mut due = Instant::now();
    while due < until {
        wait(due.saturating_duration_since(Instant::now()));
        let number = 50_000 + all.len() as u64;
        let form = format!("line=49.8+{}.{:04}&nonce={number}", number / 10_000, number % 10_000);
        let (sent, mut again) = (Instant::now(), 0);
        // A page sends what was not answered once more, in the same words.
        while post(address, &format!("/sheet/{id}/say"), &form).is_none_or(|(code, _)| code != 303)
        {
            again += 1;
            assert!(sent.elapsed() < SILENT * 3, "{form} is never taken");
            wait(Duration::from_millis(200));
        }
        let answered = Instant::now();
        all.push(Kept { tenths_of_a_nanoampere: number, sent, answered, again });
        due = (due + EVERY).max(answered);
    }
    all
}

/// What a page heard: how many words, and the longest silence between two.
struct Heard {
    words: u64,
    silence: Duration,
}

fn follow(address: &str, id: &str, ended: &AtomicBool) -> Heard {
    let socket = TcpStream::connect(address).expect("it listens");
    socket.set_read_timeout(Some(SILENT)).expect("a socket");
    let ask = format!("ws://localhost/live?record={id}");
    let (mut page, _) = tungstenite::client(ask, socket).expect("it lets pages follow");
    let mut heard = Heard { words: 0, silence: Duration::ZERO };
    let mut last = Instant::now();
    while !ended.load(Ordering::Relaxed) {
        if let Message::Text(_) = page.read().expect("a page hears of its test all the time") {
            heard.words += 1;
            heard.silence = heard.silence.max(last.elapsed());
            last = Instant::now();
        }
    }
    heard
}

/// When the server was gone, and from when on it answered again.
struct Gap {
    from: Instant,
    to: Instant,
}

/// What happens to the server while crews type.
fn happen(seconds: u64, first: &mut Server, second: &mut Server, front: &Front) -> [Gap; 2] {
    let third = Duration::from_secs(seconds) / 3;
    wait(third);
    let from = Instant::now();
    first.say("immediate");
    wait(AWAY);
    first.say("start");
    let restarted = Gap { from, to: Instant::now() };
    wait(third.saturating_sub(from.elapsed()));
    let from = Instant::now();
    first.say("immediate");
    wait(AWAY);
    second.say("promote");
    front.turn_to(second.port);
    [restarted, Gap { from, to: Instant::now() }]
}

/// How often each reading stands in a record.
fn standing(place: &Place, id: &str) -> HashMap<u64, u64> {
    let text = place.told(&["export", "--record", id, "--format", "csv"], 0);
    let mut standing = HashMap::new();
    for row in text.lines().skip(1) {
        let microamperes = row.split(',').nth(2).and_then(|text| text.parse::<f64>().ok());
        if let Some(microamperes) = microamperes {
            let tenths = (microamperes * 1e4).round();
            *standing.entry(tenths as u64).or_default() += 1;
        }
    }
    standing
}

fn told(name: &str, usual: u64) -> u64 {
    std::env::var(name).ok().and_then(|told| told.parse().ok()).unwrap_or(usual)
}

#[test]
#[ignore = "needs PostgreSQL"]
fn what_is_acknowledged_stands_there_once_whatever_becomes_of_the_server() {
    let (crews, seconds) = (told("CREWS", 50), told("CREWS_S", 20));
    let mut first = Server::start("", None);
    let mut second = Server::start(FOLLOWS, Some(first.port));
    for line in [FOLLOWED, "fast", "start"] {
        first.say(line);
    }
    let front = Front::new(first.port);
    let db = format!("postgres://ohmstead@{}/postgres", front.address);
    let place = Place { folder: super::folder("crews"), db };
    let mut office = place.serve();
    let address = office.address.clone();
    let plan = place.told(&["plan", "docs/examples/gloves.toml", "--json"], 0);
    let plan: Value = serde_json::from_str(&plan).expect("a plan is JSON");
    let ids: Vec<String> =
        (0..crews).map(|_| energised(&address, (JOB, &plan), "from=keys")).collect();

    let (ended, begun) = (AtomicBool::new(false), Instant::now());
    let until = begun + Duration::from_secs(seconds);
    let (kept, heard, gaps) = thread::scope(|scope| {
        let (address, ended) = (address.as_str(), &ended);
        let pages: Vec<_> = (0..PAGES_OF_A_CREW)
            .flat_map(|_| &ids)
            .map(|id| scope.spawn(move || follow(address, id, ended)))
            .collect();
        let typing: Vec<_> =
            ids.iter().map(|id| scope.spawn(move || type_readings(address, id, until))).collect();
        let gaps = happen(seconds, &mut first, &mut second, &front);
        let kept: Vec<Vec<Kept>> =
            typing.into_iter().map(|crew| crew.join().expect("a crew goes on")).collect();
        ended.store(true, Ordering::Relaxed);
        let heard: Vec<Heard> =
            pages.into_iter().map(|page| page.join().expect("a page goes on")).collect();
        (kept, heard, gaps)
    });
    office.end();

    let (mut lost, mut doubled) = (0, 0);
    for (id, kept) in ids.iter().zip(&kept) {
        let standing = standing(&place, id);
        for one in kept {
            match standing.get(&one.tenths_of_a_nanoampere) {
                Some(1) => {}
                None => lost += 1,
                Some(_) => doubled += 1,
            }
        }
    }
    println!("counts: {} lost {lost} doubled {doubled}", counts(&kept, &heard));
    print_figures(&kept, &gaps, begun.elapsed(), &heard);
    assert_eq!((lost, doubled), (0, 0), "acknowledged readings that are lost, or stand twice");
    assert!(kept.iter().all(|crew| !crew.is_empty()) && heard.iter().all(|page| page.words > 0));
    place.told(&["verify"], 0);
}

fn counts(kept: &[Vec<Kept>], heard: &[Heard]) -> String {
    let again: u64 = kept.iter().flatten().map(|one| one.again).sum();
    let words: u64 = heard.iter().map(|page| page.words).sum();
    let (crews, pages, acknowledged) = (kept.len(), heard.len(), kept.iter().flatten().count());
    format!(
        "crews {crews} pages {pages} acknowledged {acknowledged} sent_again {again} words {words}"
    )
}

fn print_figures(kept: &[Vec<Kept>], gaps: &[Gap; 2], took: Duration, heard: &[Heard]) {
    let all: Vec<&Kept> = kept.iter().flatten().collect();
    let ms = |one: &Kept| (one.answered - one.sent).as_secs_f64() * 1e3;
    // A reading that was on its way when the server went, or came before it was back, waits for it.
    let waited = |one: &Kept, gap: &Gap| {
        one.sent < gap.to + Duration::from_secs(1) && one.answered > gap.from
    };
    let of_gap = |gap: &Gap| {
        let waits = all.iter().filter(|one| waited(one, gap)).map(|one| ms(one));
        waits.fold(0.0, f64::max) / 1e3
    };
    let mut usual: Vec<f64> = all
        .iter()
        .filter(|one| !gaps.iter().any(|gap| waited(one, gap)))
        .map(|one| ms(one))
        .collect();
    usual.sort_by(f64::total_cmp);
    let below = |part: usize| {
        let at = (usual.len() * part / 1000).min(usual.len().saturating_sub(1));
        usual.get(at).copied().unwrap_or(f64::NAN)
    };
    let silence = heard.iter().map(|page| page.silence).max().unwrap_or_default();
    println!(
        "figures: readings_per_s {:.1} ack_ms_half {:.2} ack_ms_99 {:.2} ack_ms_longest {:.2} \
         restart_away_s {:.2} restart_wait_s {:.2} standby_away_s {:.2} standby_wait_s {:.2} \
         page_silence_s {:.2}",
        all.len() as f64 / took.as_secs_f64(),
        below(500),
        below(990),
        below(1000),
        (gaps[0].to - gaps[0].from).as_secs_f64(),
        of_gap(&gaps[0]),
        (gaps[1].to - gaps[1].from).as_secs_f64(),
        of_gap(&gaps[1]),
        silence.as_secs_f64(),
    );
}
