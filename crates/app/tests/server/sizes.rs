//! Today, the list of apparatus, a search in it and one apparatus, where very many tests are kept:
//! what the pages say, and how long each takes. `cargo xtask long sizes` and
//! `long sizes-on-a-server` tell it of more tests than a suite has time for; those of a server need
//! PostgreSQL.

use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::time::Instant;

use jiff::Span;
use jiff::civil::Date;

use super::server::Server;
use super::stock::{self, LIKES, LOOKED_AT, NEW, Real, Stock};
use super::{Place, folder};

/// Where nobody says how many: more than are read ahead, so that the pages go as with very many.
const FEW: u64 = 6000;

/// A page is asked for so often after it was asked for once.
const TIMES: usize = 15;

/// Apparatus on one page.
const SHOWN: usize = 200;

fn told(name: &str, usual: u64) -> u64 {
    std::env::var(name).ok().and_then(|number| number.parse().ok()).unwrap_or(usual)
}

fn wait<T>(what: impl Future<Output = T>) -> T {
    tokio::runtime::Runtime::new().expect("a runtime").block_on(what)
}

/// A page, and the milliseconds until all of it was there.
fn get(address: &str, path: &str) -> (String, f64) {
    let begun = Instant::now();
    let mut socket = TcpStream::connect(address).expect("it listens");
    let ask = format!("GET {path} HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n");
    socket.write_all(ask.as_bytes()).expect("sent");
    let mut answer = String::new();
    socket.read_to_string(&mut answer).expect("an answer in UTF-8");
    let took = begun.elapsed().as_secs_f64() * 1000.0;
    let (head, body) = answer.split_once("\r\n\r\n").expect("a head and a body");
    assert!(head.starts_with("HTTP/1.1 200"), "{path}: {head} {body}");
    (body.to_owned(), took)
}

/// Apparatus that lines of a page lead to, in their order.
fn named(body: &str) -> Vec<&str> {
    let links = body.split("href=\"/apparatus/").skip(1);
    links.filter_map(|link| link.split('"').next()).collect()
}

/// What stands under a heading of the page.
fn under<'a>(body: &'a str, heading: &str) -> &'a str {
    let (_, rest) = body.split_once(&format!(">{heading}</h")).expect(heading);
    rest.split("<h2").next().unwrap_or(rest)
}

/// An apparatus as the generator made it: where it stands among all.
struct Expected {
    name: String,
    /// The worst first, as the page of a few has it.
    rank: u8,
    last: Option<Date>,
    /// Passed, and has an interval.
    is_due: bool,
}

impl Expected {
    fn of(name: String, last: Option<(&str, Date)>, has_interval: bool) -> Self {
        let rank = match last.map(|(verdict, _)| verdict) {
            Some("reject") => 0,
            Some("investigate") => 1,
            Some("") => 3,
            None => 4,
            Some("accept") => 5,
            Some(_) => 2,
        };
        let is_due = has_interval && rank == 5;
        Self { name, rank, last: last.map(|(_, day)| day), is_due }
    }
}

/// Everything in order: by the same words as the page says, from the generator alone.
fn expected(stock: Stock, real: &[Real]) -> Vec<Expected> {
    let mut all: Vec<Expected> = (0..stock.apparatus)
        .map(|one| {
            let last = stock.last(one);
            let is_glove = one % 4 == 3 && stock::has_plate(one);
            let last = Some((stock::verdict(last), stock.day(last)));
            Expected::of(stock::name(one), last, is_glove)
        })
        .collect();
    all.extend((0..NEW).map(|one| Expected::of(format!("NEW-{one:06}"), None, false)));
    for name in std::iter::once(LOOKED_AT.to_owned())
        .chain((1..=LIKES).map(|like| format!("REAL-{like:02}")))
    {
        let last = real.iter().filter(|one| one.name == name).max_by_key(|one| one.begun);
        let last = last.map(|one| {
            let day = jiff::tz::TimeZone::UTC.to_datetime(one.begun).date();
            (one.verdict.as_str(), day)
        });
        all.push(Expected::of(name, last, false));
    }
    all.sort_by(|a, b| {
        let key = |one: &Expected| (one.rank, !one.is_due, one.last);
        key(a).cmp(&key(b)).then_with(|| a.name.cmp(&b.name))
    });
    all
}

fn the_list_says_so(address: &str, all: &[Expected]) {
    for from in [0, SHOWN, all.len() / 2] {
        let (body, _) = get(address, &format!("/apparatus?from={from}"));
        let found = named(&body);
        let wanted = all.iter().skip(from).take(SHOWN).map(|one| one.name.as_str());
        assert_eq!(found, wanted.collect::<Vec<_>>(), "from {from}");
        let count =
            format!("{0} of {0}, the worst verdict first, then what is due first", all.len());
        assert!(body.contains(&count), "{count}: {body}");
    }
}

fn searches_say_so(address: &str, stock: Stock, all: &[Expected]) {
    let check = |asked: &str, found: usize| {
        let (body, _) = get(address, &format!("/apparatus?q={asked}"));
        let count = format!("{found} of {}, ", all.len());
        assert!(body.contains(&count), "{asked}, {count}: {body}");
        assert_eq!(named(&body).len(), found.min(SHOWN), "{asked}");
        body
    };
    let body = check("real-00", 1);
    assert!(body.contains("nearest to a limit"), "one with few tests goes by its trends: {body}");
    check("no-such", 0);
    // Signs that mean something to the engine are letters to a person.
    check("%25", 0);
    check("fdr_000", 0);
    check("glv-000003", 1);
    let cables = (0..stock.apparatus).filter(|one| one % 4 < 2 && stock::has_plate(*one)).count();
    let cables = cables + usize::try_from(NEW + LIKES + 1).expect("few");
    check("CABLE", cables);
    check("cable+new-", usize::try_from(NEW).expect("few"));
    let unknown = (0..stock.apparatus).filter(|one| !stock::has_plate(*one)).count();
    check("not+known", unknown);
}

fn today_says_so(address: &str, stock: Stock, real: &[Real], all: &[Expected]) {
    let (body, _) = get(address, "/");
    let mut last: Vec<&Real> = real.iter().collect();
    last.sort_by_key(|one| std::cmp::Reverse(one.begun));
    let shown = under(&body, "Last tests");
    let mut rest = shown;
    for one in last.iter().take(12) {
        let (_, after) = rest.split_once(&format!(">{}</a>", one.name)).expect(&one.name);
        rest = after;
    }
    assert_eq!(shown.matches("href=\"/sheet/").count(), 12);
    let waits = under(&body, "Waits for you");
    assert_eq!(waits.matches("judge it").count(), 25);
    assert_eq!(waits.matches("no signature").count(), 25);
    let unjudged = (0..stock.tests()).filter(|one| stock::verdict(*one).is_empty()).count();
    let judged = (0..stock.tests()).filter(|one| !stock::verdict(*one).is_empty());
    let unsigned = judged.filter(|one| !stock::is_signed(*one)).count() + real.len();
    let more = [unjudged, unsigned].map(|all| (all - 25).min(1000));
    let least = if more.contains(&1000) { "at least " } else { "" };
    let said = format!("And {least}{} before", more[0] + more[1]);
    assert!(waits.contains(&said), "{said}: {waits}");
    // Six months for gloves: 29 CFR 1910.137, from memory, unverified.
    let due = |one: &Expected| one.last?.checked_add(Span::new().months(6)).ok();
    let mut over: Vec<(Date, &Expected)> = all
        .iter()
        .filter(|one| one.is_due)
        .filter_map(|one| Some((due(one)?, one)))
        .filter(|(due, _)| *due < stock.today)
        .collect();
    over.sort_by(|(a, one), (b, other)| {
        b.cmp(a).then_with(|| (one.last, &one.name).cmp(&(other.last, &other.name)))
    });
    let shown = under(&body, "Due");
    let wanted: Vec<&str> = over.iter().take(10).map(|(_, one)| one.name.as_str()).collect();
    assert_eq!(named(shown)[..wanted.len()], wanted, "the last that came to be over first");
    let mut longest: Vec<&Expected> =
        all.iter().filter(|one| one.last.is_some() && !one.is_due).collect();
    longest.sort_by(|a, b| (a.last, a.rank, &a.name).cmp(&(b.last, b.rank, &b.name)));
    let wanted: Vec<&str> = longest.iter().take(5).map(|one| one.name.as_str()).collect();
    assert_eq!(named(under(&body, "Not tested for longest")), wanted);
}

fn one_apparatus_says_so(address: &str) {
    let (body, _) = get(address, &format!("/apparatus/{LOOKED_AT}"));
    let tests = under(&body, "Tests, the newest first");
    assert_eq!(tests.matches("data-label=\"Verdict\"").count(), 20);
    assert!(body.contains("Over the years"), "{body}");
    let (sets, _) = get(address, "/sets");
    assert!(under(&sets, "Set 1").contains("REAL-00"), "{sets}");
}

/// How long each page takes when it is asked for first, and after that.
fn figures(address: &str, stock: Stock, tests: u64, brought_forward_s: f64) {
    let pages = [
        ("today", "/".to_owned()),
        ("all", "/apparatus".to_owned()),
        ("few", "/apparatus?q=real-00".to_owned()),
        ("none", "/apparatus?q=no-such".to_owned()),
        ("many", "/apparatus?q=cable".to_owned()),
        ("far", format!("/apparatus?from={}", stock.apparatus / 2)),
        ("one", format!("/apparatus/{LOOKED_AT}")),
    ];
    let mut said = format!("brought_forward_s {brought_forward_s:.1}");
    let mut most: f64 = 0.0;
    for (name, path) in pages {
        let (body, cold) = get(address, &path);
        get(address, &path);
        let mut took: Vec<f64> = (0..TIMES).map(|_| get(address, &path).1).collect();
        took.sort_by(f64::total_cmp);
        let (median, longest) = (took[TIMES / 2], took[TIMES - 1]);
        most = most.max(longest);
        said += &format!(
            " {name}_ms {median:.1} {name}_longest_ms {longest:.1} {name}_first_ms {cold:.1}"
        );
        println!("{path}: {} bytes, {median:.1} ms, longest {longest:.1}, {cold:.1}", body.len());
    }
    let apparatus = stock.apparatus;
    println!("counts: tests {tests} apparatus {apparatus} asked {}", (TIMES + 2) * 7);
    println!("figures: {said} longest_ms {most:.1}");
}

fn very_many(db: String, tests: u64) {
    let today = jiff::tz::TimeZone::UTC.to_datetime(jiff::Timestamp::now()).date();
    let stock = Stock { apparatus: (tests / stock::EACH).max(20), today };
    let brought_forward_s = wait(stock::fill(&db, stock));
    let real = wait(stock::keep_real(&db, stock));
    let office = Place { folder: folder("sizes-away"), db }.serve();
    let address = office.address.as_str();
    // Times first: what a page read before is not read again.
    let tests = stock.tests() + real.len() as u64;
    figures(address, stock, tests, brought_forward_s);
    let all = expected(stock, &real);
    the_list_says_so(address, &all);
    searches_say_so(address, stock, &all);
    today_says_so(address, stock, &real, &all);
    one_apparatus_says_so(address);
}

#[test]
fn very_many_tests_in_a_file() {
    let folder = folder("sizes");
    very_many(folder.join("records.db").to_string_lossy().into_owned(), told("SIZES_TESTS", FEW));
    // The system clears what stays.
    let _ = std::fs::remove_dir_all(folder);
}

#[test]
#[ignore = "needs PostgreSQL"]
fn very_many_tests_on_a_server() {
    let server = Server::start("-c shared_buffers=512MB -c max_wal_size=4GB", None);
    very_many(server.address(""), told("SIZES_TESTS", FEW));
}
