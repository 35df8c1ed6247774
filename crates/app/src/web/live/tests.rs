//! Pages that look and say, against the program's own server, a real database and real sockets.

use std::net::{Ipv4Addr, SocketAddr};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, Instant};

use futures_util::{SinkExt as _, StreamExt as _};
use quantity::Time;
use serde_json::{Value, json};
use session::record::{Batch, Entry, Head, Moment as At};
use session::{Event, Kind, Record};
use standards::Library;
use store::RecordId;
use store::people::{May, NewPass};
use store::trouble::AppendError;
use tokio::net::{TcpListener, TcpStream};
use tokio::runtime::Runtime;
use tokio::time::timeout;
use tokio_tungstenite::WebSocketStream;
use tokio_tungstenite::tungstenite::Message;
use tokio_tungstenite::tungstenite::client::IntoClientRequest as _;

use crate::drive::answers::{Answer, Refused};
use crate::drive::source::Source;
use crate::drive::trace::{Place, Point, TYPED, Trace, WITHDRAWN};
use crate::output::Trouble;
use crate::web::hub::{Line, Work};
use crate::web::{House, Order, gate, router};

/// Nothing that is to come takes longer, also on a machine that does much else.
const PATIENCE: Duration = Duration::from_secs(60);

/// A name that the machine was told, which does not make anyone to be here.
const AWAY: &str = "bench.test";

/// Ground, lead, checklist and high voltage, as the job of two gloves has them.
const READY: &[&str] =
    &["@left ground 1", "lead left", "check", "@right ground 2", "@left lift 1", "@left energise"];

/// The server, and its database.
struct Bench {
    runtime: Runtime,
    address: SocketAddr,
    house: House,
    folder: PathBuf,
}

impl Bench {
    fn new(pace: Option<f64>) -> Self {
        static NUMBER: AtomicU32 = AtomicU32::new(0);
        let number = NUMBER.fetch_add(1, Ordering::Relaxed);
        let folder = format!("ohmstead-live-{}-{number}", std::process::id());
        Self::at(std::env::temp_dir().join(folder), pace)
    }

    fn at(folder: PathBuf, pace: Option<f64>) -> Self {
        let runtime = Runtime::new().expect("a runtime");
        let db = folder.join("records.db").to_string_lossy().into_owned();
        let (house, address) = runtime.block_on(async {
            let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).await.expect("a port");
            let listen = listener.local_addr().expect("an address");
            let order = Order {
                listen,
                names: vec![AWAY.to_owned()],
                behind_tls: false,
                practice_pace: pace,
                every: None,
                db,
                json: false,
            };
            let house = House::open(&order, &Library::published()).await.expect("opened");
            let router = gate::before(router(house.clone()), house.clone());
            let limits = gate::Limits::default();
            let end = std::future::pending();
            tokio::spawn(gate::serve(listener, router, house.clone(), limits, end));
            (house, listen)
        });
        Self { runtime, address, house, folder }
    }

    fn begin(&self, source: Source) -> Arc<Work> {
        let Head { job, plan, .. } = head(Kind::Test);
        let begun = self.house.hub.begin(job, plan, source);
        let id = self.runtime.block_on(begun).expect("it is begun");
        self.house.hub.at_work(&id).expect("it is at work")
    }

    fn say(&self, work: &Work, line: &str) -> Answer {
        self.say_as(work, line, "")
    }

    fn say_as(&self, work: &Work, line: &str, nonce: &str) -> Answer {
        self.runtime.block_on(work.say(said(line, nonce)))
    }

    /// Every hold point is ticked, and the watch heard.
    fn confirm(&self, work: &Work) {
        for hold in session::hold::of(&work.head().plan) {
            self.say(work, &format!("tick {}", hold.id)).expect("it is taken");
        }
        self.say(work, "here watch").expect("it is taken");
    }

    fn ready(&self, work: &Work) {
        self.confirm(work);
        for line in READY {
            self.say(work, line).unwrap_or_else(|refused| panic!("{line}: {refused}"));
        }
    }

    fn record(&self, id: &RecordId) -> Record {
        self.runtime.block_on(self.house.store.record(id)).expect("it is there").record
    }

    /// The server ends as it does when it is asked to; its database stays.
    fn end(self) -> PathBuf {
        self.house.close();
        self.folder.clone()
    }

    /// A page with this at the end of its address.
    fn page(&self, asked: &str) -> Page<'_> {
        let address = format!("ws://{}/live?{asked}", self.address);
        let socket = self.runtime.block_on(async {
            let stream = TcpStream::connect(self.address).await.expect("it listens");
            tokio_tungstenite::client_async(address, stream).await.expect("a socket").0
        });
        Page { bench: self, socket }
    }

    /// The same on a device elsewhere that was let in by Jo for so much.
    fn page_of(&self, may: May, asked: &str) -> Page<'_> {
        let (token, made) = (gate::secret::token(), jiff::Timestamp::now());
        let until = made + jiff::SignedDuration::from_hours(1);
        let pass = NewPass {
            token: &token,
            person: "Jo",
            device: "tablet",
            may,
            record: None,
            made,
            until,
        };
        let address = format!("ws://{AWAY}/live?{asked}");
        let mut request = address.into_client_request().expect("an address");
        let carried = format!("pass={}", gate::secret::text(&token));
        request.headers_mut().insert("cookie", carried.parse().expect("plain letters"));
        let socket = self.runtime.block_on(async {
            let store = &self.house.store;
            store.set_person("Jo", "no password", made).await.expect("kept");
            store.keep_pass(&pass).await.expect("kept");
            let stream = TcpStream::connect(self.address).await.expect("it listens");
            tokio_tungstenite::client_async(request, stream).await.expect("a socket").0
        });
        Page { bench: self, socket }
    }
}

impl Drop for Bench {
    fn drop(&mut self) {
        self.house.close();
    }
}

/// A browser's end of the socket.
struct Page<'a> {
    bench: &'a Bench,
    socket: WebSocketStream<TcpStream>,
}

/// What a page was sent.
#[derive(Debug)]
enum Sent {
    Words(Value),
    Points(usize, Vec<Point>),
}

impl Page<'_> {
    fn hear(&mut self) -> Sent {
        let next = async { timeout(PATIENCE, self.socket.next()).await };
        match self.bench.runtime.block_on(next).expect("it comes in time") {
            Some(Ok(Message::Text(text))) => {
                Sent::Words(serde_json::from_str(&text).expect("JSON"))
            }
            Some(Ok(Message::Binary(bytes))) => points_of(&bytes),
            other => panic!("{other:?}"),
        }
    }

    /// Hears until these words come.
    fn words(&mut self, wanted: impl Fn(&Value) -> bool) -> Value {
        let begun = Instant::now();
        while begun.elapsed() < PATIENCE {
            if let Sent::Words(words) = self.hear()
                && wanted(&words)
            {
                return words;
            }
        }
        panic!("these words do not come");
    }

    /// Hears until points come.
    fn points(&mut self) -> (usize, Vec<Point>) {
        let begun = Instant::now();
        while begun.elapsed() < PATIENCE {
            if let Sent::Points(first, points) = self.hear() {
                return (first, points);
            }
        }
        panic!("no points come");
    }

    fn say(&mut self, line: &str, nonce: &str) {
        let text = json!({ "say": line, "nonce": nonce, "ago_ms": 0 }).to_string();
        self.bench.runtime.block_on(self.socket.send(Message::text(text))).expect("it is open");
    }

    fn answer(&mut self, nonce: &str) -> Value {
        self.words(|words| words["answer"]["nonce"] == nonce)["answer"].clone()
    }
}

fn said(line: &str, nonce: &str) -> Line {
    let by = Some("R. Tester".to_owned());
    Line { line: line.to_owned(), by, ago: Time::ZERO, nonce: nonce.to_owned() }
}

fn head(kind: Kind) -> Head {
    let text = include_str!("../../../../../docs/examples/gloves.toml");
    let job = plan::job_file::parse(text).expect("the example is well formed");
    let plan = plan::plan(&job, &Library::published());
    Head { format: session::RECORD_FORMAT.to_owned(), kind, source: None, job, plan }
}

fn points_of(bytes: &[u8]) -> Sent {
    let u32_at = |at: usize| u32::from_le_bytes(bytes[at..at + 4].try_into().expect("four"));
    let u16_at = |at: usize| u16::from_le_bytes(bytes[at..at + 2].try_into().expect("two"));
    let count = u32_at(4) as usize;
    assert_eq!(bytes.len(), 8 + count * 24);
    let points = (0..count).map(|point| 8 + point * 24).map(|at| Point {
        t_s: f64::from_le_bytes(bytes[at..at + 8].try_into().expect("eight")),
        kv: f32::from_bits(u32_at(at + 8)),
        ua: f32::from_bits(u32_at(at + 12)),
        conductor: u16_at(at + 16),
        application: u16_at(at + 18),
        flags: u32_at(at + 20),
    });
    Sent::Points(u32_at(0) as usize, points.collect())
}

/// All points, as bytes.
fn all(trace: &Trace) -> Vec<u8> {
    let mut bytes = Vec::new();
    let pieces = trace.news(&mut Place::default(), usize::MAX);
    pieces.iter().flat_map(|(_, points)| points).for_each(|point| point.write(&mut bytes));
    bytes
}

fn remarks(record: &Record) -> Vec<&str> {
    let remarks = record.events.iter().filter_map(|entry| match &entry.what {
        Event::Remark { text } => Some(text.as_str()),
        _ => None,
    });
    remarks.collect()
}

#[test]
fn two_who_say_at_once_are_both_answered_each_in_their_own_order() {
    let bench = Bench::new(None);
    let work = bench.begin(Source::Keys);
    let sayer = |name: &'static str| {
        let work = Arc::clone(&work);
        bench.runtime.spawn(async move {
            let mut seqs = Vec::new();
            for number in 0..50 {
                let line = format!("remark {name} {number}");
                seqs.push(work.say(said(&line, &format!("{name}{number}"))).await);
            }
            seqs.into_iter().collect::<Result<Vec<u64>, _>>().expect("every one is kept")
        })
    };
    let (one, other) = (sayer("one"), sayer("other"));
    let mut seqs = bench.runtime.block_on(one).expect("it ended");
    assert!(seqs.is_sorted());
    seqs.extend(bench.runtime.block_on(other).expect("it ended"));
    let record = bench.record(work.id());
    for seq in &seqs {
        let at = usize::try_from(*seq).expect("few") - 1;
        assert!(matches!(record.events[at].what, Event::Remark { .. }), "{seq}");
    }
    seqs.sort_unstable();
    seqs.dedup();
    assert_eq!(seqs.len(), 100, "each line has a number of its own");
    let remarks = remarks(&record);
    assert_eq!(remarks.len(), 100);
    for name in ["one", "other"] {
        let of: Vec<&str> = remarks.iter().copied().filter(|text| text.starts_with(name)).collect();
        assert_eq!(of, (0..50).map(|number| format!("{name} {number}")).collect::<Vec<_>>());
    }
}

/// A sheet is fetched anew when more was done than it shows, and reads that where it is kept.
#[test]
fn what_a_page_is_told_was_done_stands_in_the_record_already() {
    let bench = Bench::new(None);
    let work = bench.begin(Source::Keys);
    let sayer = Arc::clone(&work);
    let saying = bench.runtime.spawn(async move {
        for number in 0..100 {
            sayer.say(said(&format!("remark {number}"), "")).await.expect("it is kept");
        }
    });
    let mut told = 0;
    while told < 100 {
        told = work.moment().deeds;
        let stands = bench.record(work.id()).events.len() as u64;
        assert!(stands >= told, "{told} were told, {stands} stand");
    }
    bench.runtime.block_on(saying).expect("it ended");
}

#[test]
fn a_line_that_is_sent_again_is_answered_again_and_said_once() {
    let bench = Bench::new(None);
    let work = bench.begin(Source::Keys);
    let first = bench.say_as(&work, "remark rain began", "a").expect("it is kept");
    assert_eq!(bench.say_as(&work, "remark rain began", "a"), Ok(first));
    // Gone back to, a page sends its word with another line; and one without a word is always new.
    bench.say_as(&work, "remark rain ended", "a").expect("it is kept");
    bench.say(&work, "remark dry").expect("it is kept");
    bench.say(&work, "remark dry").expect("it is kept");
    let record = bench.record(work.id());
    assert_eq!(remarks(&record), ["rain began", "rain ended", "dry", "dry"]);
    let refused = bench.say_as(&work, "close the lid", "b");
    assert!(matches!(refused, Err(Refused::NotUnderstood(_))), "{refused:?}");
    let long = format!("remark {}", "x".repeat(1000));
    assert_eq!(bench.say(&work, &long), Err(Refused::TooLong));
    bench.say(&work, "close").expect("nothing was energised");
    assert!(bench.say(&work, "remark late").is_err());
}

#[test]
fn a_line_that_is_too_long_is_answered_and_the_link_stays() {
    let bench = Bench::new(None);
    let work = bench.begin(Source::Keys);
    let mut page = bench.page(&format!("record={}", work.id()));
    // The longest that a field takes, in letters of two, three and four bytes, or written as six.
    for (nonce, letter) in [("a", "x"), ("b", "é"), ("c", "千"), ("d", "𐄷"), ("e", "\u{1}")] {
        page.say(&format!("remark {}", letter.repeat(super::FIELD - 7)), nonce);
        let answer = page.answer(nonce);
        assert!(answer["refused"].as_str().is_some_and(|why| why.contains("shorter")), "{answer}");
    }
    page.say("remark dry", "f");
    assert_eq!(page.answer("f")["kept"], 2);
    assert_eq!(remarks(&bench.record(work.id())), ["dry"]);
}

#[test]
fn what_was_left_hazardous_is_taken_up_and_told_at_once() {
    let bench = Bench::new(None);
    let work = bench.begin(Source::Keys);
    bench.ready(&work);
    bench.say(&work, "@left 10 0.5").expect("it is kept");
    let id = work.id().clone();
    let folder = bench.end();
    let bench = Bench::at(folder.clone(), None);
    let hazards = bench.house.hub.hazards();
    assert_eq!(bench.house.hub.hazards_told(), crate::web::hub::json(&hazards));
    assert_eq!(hazards.len(), 1, "{hazards:?}");
    assert_eq!((hazards[0].record.as_str(), hazards[0].conductor.as_str()), (id.as_str(), "left"));
    assert!(hazards[0].said.contains("10.00 kV"), "{}", hazards[0].said);
    let work = bench.house.hub.at_work(&id).expect("it is at work again");
    bench.say(&work, "@left 20 0.6").expect("it goes on");

    // Meanwhile another program shows it and lets it be.
    let beside = Bench::at(folder, None);
    assert!(beside.house.hub.at_work(&id).is_none());
    let hazards = beside.house.hub.hazards();
    assert!(hazards[0].said.contains("20.00 kV"), "{hazards:?}");
    let taken = beside.runtime.block_on(beside.house.hub.take_up(&id));
    assert!(matches!(taken, Err(Trouble::Append(AppendError::Held))));
    let record = bench.record(&id);
    let resumed = record.events.iter().filter(|one| matches!(one.what, Event::Resumed { .. }));
    assert_eq!(resumed.count(), 1);
}

#[test]
fn the_points_shown_are_those_of_the_record() {
    let bench = Bench::new(Some(120.0));
    let work = bench.begin(Source::Sim { seed: 3 });
    let mut moments = work.listen();
    let until = async {
        while moments.borrow_and_update().view.readings < 400 {
            moments.changed().await.expect("it is at work");
        }
    };
    let until = async { timeout(PATIENCE, until).await };
    bench.runtime.block_on(until).expect("readings come");
    assert_eq!(work.head().kind, Kind::Practice);
    bench.house.close();
    let record = bench.record(work.id());
    let mut kept = Trace::new(&record.plan.conductors, String::new());
    record.events.iter().for_each(|entry| kept.take(entry));
    let shown = work.points().read();
    assert!(shown.len() >= 400);
    assert!(all(&shown) == all(&kept), "to the last bit: {} and {}", shown.len(), kept.len());
}

#[test]
fn a_meter_comes_and_goes_in_the_middle_of_a_record() {
    let bench = Bench::new(Some(60.0));
    let work = bench.begin(Source::Keys);
    let turned = |source: Source| {
        bench.runtime.block_on(bench.house.hub.turn_to(work.id(), source)).map(drop)
    };
    let mut moments = work.listen();
    turned(Source::Sim { seed: 3 }).unwrap_or_else(|why| panic!("{why}"));
    let until = async {
        while moments.borrow_and_update().view.readings == 0 {
            moments.changed().await.expect("it is at work");
        }
    };
    let until = async { timeout(PATIENCE, until).await };
    bench.runtime.block_on(until).expect("readings come");
    turned(Source::Keys).unwrap_or_else(|why| panic!("{why}"));
    bench.say(&work, "remark read by eye").expect("it is kept");
    bench.say(&work, "remark still by eye").expect("it is kept");
    let moment = work.moment();
    assert_eq!((moment.view.silent, moment.standing.len()), (None, 0), "nothing was lost");
    assert_eq!(moment.view.identity.as_deref(), Some(crate::drive::wire::TYPED));
    let csv = Source::Csv("readings.csv".into());
    assert!(matches!(turned(csv), Err(Trouble::Argument { .. })));

    // A simulated set never enters a real record.
    let real = Bench::new(None);
    let work = real.begin(Source::Keys);
    let turned = real.house.hub.turn_to(work.id(), Source::Sim { seed: 3 });
    assert!(matches!(real.runtime.block_on(turned), Err(Trouble::Argument { .. })));
}

#[test]
fn a_page_hears_words_points_and_answers_and_comes_back_where_it_was() {
    let bench = Bench::new(None);
    let work = bench.begin(Source::Keys);
    let mut page = bench.page(&format!("record={}", work.id()));
    let epoch = page.words(|words| words["epoch"].is_string())["epoch"].clone();
    let epoch = epoch.as_str().expect("a word").to_owned();
    bench.confirm(&work);
    for (number, line) in READY.iter().enumerate() {
        page.say(line, &format!("ready{number}"));
    }
    page.say("@left 10 0.5", "one");
    let seq = page.answer("one")["kept"].as_u64().expect("it is kept");
    assert_eq!(seq, bench.record(work.id()).events.len() as u64);
    page.say("@left nonsense", "two");
    let refused = page.answer("two");
    assert!(refused["refused"].as_str().is_some_and(|why| why.contains("nonsense")), "{refused}");
    let words = page.words(|words| words["scene"]["kilovolts"] == "10.00");
    assert_eq!(words["hazards"][0]["conductor"], "left");
    assert_eq!(words["scene"]["stage"], true);

    bench.say(&work, "@left 20 0.6").expect("it is kept");
    bench.say(&work, "@left withdraw").expect("it is kept");
    let mut back = bench.page(&format!("record={}&epoch={epoch}&from=1", work.id()));
    let told = back.words(|words| words["epoch"].is_string());
    assert_eq!((&told["from"], &told["all"]), (&json!(1), &json!(2)));
    let (first, points) = back.points();
    assert_eq!((first, points.len()), (1, 1), "what it had is not sent again");
    assert_eq!((points[0].kv, points[0].flags), (20.0, TYPED | WITHDRAWN));

    // One that was there all the time is told that the point has changed.
    loop {
        let (first, points) = page.points();
        if first == 1 && points[0].flags & WITHDRAWN != 0 {
            break;
        }
    }
    let mut other = bench.page(&format!("record={}&epoch=other&from=1", work.id()));
    let (first, points) = other.points();
    assert_eq!((first, points.len()), (0, 2), "another holding is sent whole");
}

#[test]
fn what_another_program_does_and_what_cannot_be_read_is_on_the_hazard_line() {
    let bench = Bench::new(None);
    let work = bench.begin(Source::Keys);
    let beside = Bench::at(bench.folder.clone(), None);
    let mut page = beside.page("");
    page.words(|words| words["hazards"] == json!([]));
    bench.ready(&work);
    page.words(|words| words["hazards"][0]["conductor"] == "left");

    // An event of a conductor that the plan has not.
    let store = &bench.house.store;
    let now = bench.house.clock.now();
    let id = bench.runtime.block_on(store.begin(&head(Kind::Test), now.wall)).expect("begun");
    let clocks = json!({ "begun": { "boot": "b", "monotonic_s": 0.0 } });
    let begun = serde_json::from_value(clocks).expect("well formed");
    let batch = Batch { phase: "nobody".to_owned(), ..Batch::default() };
    let entries = [entry(0.0, begun), entry(1.0, Event::Metered(batch))];
    bench.runtime.block_on(store.append(&id, &entries)).expect("kept");
    page.words(|words| {
        let hazards = words["hazards"].as_array().into_iter().flatten();
        let said = hazards.filter(|one| one["record"] == id.as_str()).map(|one| &one["said"]);
        said.filter_map(Value::as_str).any(|said| said.starts_with("see the object itself"))
    });
}

/// A second is a minute here: what was typed half a second ago was read thirty seconds ago.
#[test]
fn a_reading_is_of_when_it_was_typed_and_what_is_off_stays_on_the_hazard_line() {
    let bench = Bench::new(Some(60.0));
    let work = bench.begin(Source::Keys);
    bench.ready(&work);
    let pause = async { tokio::time::sleep(Duration::from_secs(1)).await };
    bench.runtime.block_on(pause);
    let ago = Time::from_seconds(0.5);
    let typed = Line { ago, ..said("@left 10 0.5", "") };
    bench.runtime.block_on(work.say(typed)).expect("it is kept");
    bench.say(&work, "remark now").expect("it is kept");
    let at = bench.record(work.id()).events.into_iter().rev().filter_map(|entry| entry.at);
    let at: Vec<f64> = at.take(2).map(|at| at.since_begun.seconds()).collect();
    assert!(at[0] - at[1] >= 30.0, "{at:?}");
    for line in ["@left stop", "@left off"] {
        bench.say(&work, line).expect("it is kept");
    }
    let hazards = bench.house.hub.hazards();
    let said =
        hazards.first().map(|one| one.said.as_str()).expect("it is hazardous until grounded");
    assert!(said.contains("may be left"), "{said}");
}

#[test]
fn a_real_test_is_never_timed_by_a_clock_that_goes_faster() {
    let bench = Bench::new(None);
    let work = bench.begin(Source::Keys);
    bench.ready(&work);
    let id = work.id().clone();
    let folder = bench.end();
    let paced = Bench::at(folder, Some(60.0));
    assert!(paced.house.hub.at_work(&id).is_none());
    let taken = paced.runtime.block_on(paced.house.hub.take_up(&id));
    assert!(matches!(taken, Err(Trouble::Argument { .. })));
    assert_eq!(paced.house.hub.hazards().len(), 1, "it is told all the same");
}

#[test]
fn a_device_that_may_watch_only_says_nothing_and_another_says_it_as_its_account() {
    let bench = Bench::new(None);
    let work = bench.begin(Source::Keys);
    let asked = format!("record={}", work.id());
    let mut watches = bench.page_of(May::Watch, &asked);
    watches.say("remark of a passer-by", "w");
    let answer = watches.answer("w");
    assert!(answer["refused"].as_str().is_some_and(|why| why.contains("may only watch")));
    let mut says = bench.page_of(May::Say, &asked);
    says.say("remark of a hand", "s");
    assert!(says.answer("s")["kept"].is_u64());
    let record = bench.record(work.id());
    assert_eq!(remarks(&record), ["of a hand"]);
    assert_eq!(record.events.last().and_then(|last| last.by.as_deref()), Some("Jo"));
}

#[test]
fn words_of_a_record_that_nobody_works_on_are_told_no_more_unless_it_is_closed() {
    let bench = Bench::new(None);
    let (open, closed) = (bench.begin(Source::Keys), bench.begin(Source::Keys));
    bench.ready(&open);
    let mut page = bench.page(&format!("record={}", open.id()));
    page.words(|words| words["scene"]["stage"] == true);
    let mut over = bench.page(&format!("record={}", closed.id()));
    over.words(|words| words["scene"]["section"] == "before");
    bench.say(&closed, "close").expect("nothing was energised");
    bench.house.hub.close();
    page.words(|words| words["hazards"].is_array() && words["scene"].is_null());
    for _ in 0..3 {
        over.words(|words| words["scene"]["section"] == "findings");
    }
}

#[test]
fn a_page_without_a_record_hears_the_hazard_line_and_that_it_is_there() {
    let bench = Bench::new(None);
    let mut page = bench.page("");
    let words = page.words(|_| true);
    assert_eq!(words, json!({ "hazards": [] }));
    let begun = Instant::now();
    page.words(|_| true);
    assert!(begun.elapsed() < Duration::from_secs(2), "a link is lost after two");
    let work = bench.begin(Source::Keys);
    bench.ready(&work);
    page.words(|words| words["hazards"][0]["conductor"] == "left");
}

/// 200 000 readings are kept already, and the page reads nothing for a while.
#[test]
fn a_slow_page_gets_every_point_and_then_the_newest_words() {
    const BATCHES: usize = 800;
    const ROWS: usize = 250;
    let bench = Bench::new(None);
    let store = &bench.house.store;
    let now = bench.house.clock.now();
    let id = bench.runtime.block_on(store.begin(&head(Kind::Test), now.wall)).expect("begun");
    let clocks = json!({ "boot": "b", "monotonic_s": 0.0 });
    let begun = serde_json::from_value(json!({ "begun": clocks })).expect("well formed");
    let mut entries: Vec<Entry> = vec![entry(0.0, begun)];
    entries.extend((0..BATCHES).map(|batch| {
        #[expect(clippy::cast_precision_loss, reason = "far below 2^52")]
        let t_s: Vec<f64> = (0..ROWS).map(|row| (batch * ROWS + row) as f64 / 50.0).collect();
        let at = t_s[ROWS - 1];
        let (kv, ua) = (vec![Some(0.0); ROWS], vec![None; ROWS]);
        let phase = "left".to_owned();
        entry(at, Event::Metered(Batch { phase, t_s, kv, ua, idle: true, ..Batch::default() }))
    }));
    bench.runtime.block_on(store.append(&id, &entries)).expect("kept");
    store.let_go(&id);
    let taken_up = bench.house.hub.take_up(&id);
    let work = bench.runtime.block_on(taken_up).unwrap_or_else(|why| panic!("{why}"));
    let mut page = bench.page(&format!("record={id}"));
    let mut last = 0;
    for number in 0..30 {
        last = bench.say(&work, &format!("remark {number}")).expect("kept while it is slow");
    }
    let (mut next, mut words) = (0, 0);
    loop {
        match page.hear() {
            Sent::Points(first, points) => {
                assert_eq!(first, next, "in order, none missing, none twice");
                next += points.len();
            }
            Sent::Words(told) if told["scene"].is_object() => {
                words += 1;
                if told["kept"] == last && next == BATCHES * ROWS {
                    break;
                }
            }
            Sent::Words(_) => {}
        }
    }
    assert!(words < 60, "words that nobody reads do not pile up: {words}");
}

fn entry(at: f64, what: Event) -> Entry {
    let since_begun = Time::from_seconds(at);
    let at = Some(At { since_begun, wall: jiff::Timestamp::UNIX_EPOCH });
    Entry { at, by: None, what }
}
