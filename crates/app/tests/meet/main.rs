//! Laptops meet their office through the built program and real sockets, which are cut at random.
#![cfg(unix)]

mod cutting;
mod fleet;
mod place;

use std::process::Output;

use fleet::{Fleet, Kept};
use place::{Office, Place, ended, json, ohmstead};

#[test]
fn two_meet_and_say_what_they_did() {
    let place = Place::new("two");
    let fleet = Fleet::new(&place, 1, 3, 7);
    let office = Office::new(&place.db("office"), &[]);
    let laptop = &fleet.laptops[0].db;
    let dry = ohmstead(laptop, &["meet", &office.address, "--dry-run"]);
    let (code, said, _) = ended(&dry);
    assert_eq!(code, 0, "{said}");
    assert!(said.starts_with("Nothing was moved."), "{said}");
    assert!(said.contains("would send  3 records, 15 events, 3 findings, 3 signatures"), "{said}");
    assert_eq!(fleet::records(&office.db), 0, "a dry run moves nothing");
    let met = ohmstead(laptop, &["meet", &office.address]);
    let (code, said, told) = ended(&met);
    assert_eq!(code, 0, "{said}{told}");
    assert!(said.contains("sent        3 new records, 15 events, 3 findings, 3 sig"), "{said}");
    assert!(told.contains("sent 3 of 3 records, 15 of 15 events, 100 %"), "{told}");
    // The office's address is known from now on.
    let again = json(&ohmstead(laptop, &["meet", "--json"]));
    assert_eq!((&again["to_send"]["records"], &again["sent"]["events"]), (&0.into(), &0.into()));
    fleet.all_are_in(&office.db);
}

#[test]
fn an_office_that_is_not_there_is_told_with_its_remedy() {
    let place = Place::new("away");
    let fleet = Fleet::new(&place, 1, 1, 7);
    let laptop = &fleet.laptops[0].db;
    let check = |address: &str, code: i32, part: &str| {
        let (found, said, told) = ended(&ohmstead(laptop, &["meet", address]));
        assert_eq!(found, code, "{address}: {said}{told}");
        assert!(told.contains(part), "{address}: {told}");
    };
    // A port that was free a moment ago.
    let listener = std::net::TcpListener::bind("127.0.0.1:0").expect("a port");
    let free = listener.local_addr().expect("an address").to_string();
    drop(listener);
    check(&free, 3, "check the network and that the office serves");
    check("https://office.example", 2, "tunnel");
    check("office example", 2, "such as 192.168.4.7:4170");
    let (code, _, told) = ended(&ohmstead(laptop, &["meet"]));
    // It was tried, and is remembered.
    assert_eq!(code, 3, "{told}");
}

#[test]
fn a_laptop_from_elsewhere_needs_a_code_of_the_office_once() {
    let place = Place::new("pass");
    let fleet = Fleet::new(&place, 1, 2, 7);
    let laptop = &fleet.laptops[0].db;
    let set = place::pipe(&place.db("office"), &["people", "set", "Op"], "correct horse battery\n");
    assert_eq!(ended(&set).0, 0);
    // By a name that is not this machine's own for itself everyone counts as from elsewhere.
    let office = Office::new(&place.db("office"), &["--name", "office.localhost"]);
    let by_name = office.address.replace("127.0.0.1", "office.localhost");
    if std::net::ToSocketAddrs::to_socket_addrs(&place::bare(&by_name)).is_err() {
        // A machine that does not know this name of RFC 6761 cannot play an office elsewhere.
        return;
    }
    let (code, _, told) = ended(&ohmstead(laptop, &["meet", &by_name]));
    assert_eq!(code, 3, "{told}");
    assert!(told.contains("have a code made at the office"), "{told}");
    let wrong = ohmstead(laptop, &["meet", &by_name, "--code", "AAAA AAAA"]);
    assert!(ended(&wrong).2.contains("check the code"), "{wrong:?}");
    let made = office.post("/people/pair", "may=exchange");
    assert!(made.starts_with("HTTP/1.1 303"), "{made}");
    let page = office.get("/people");
    let code = page.split("--code &quot;").nth(1).and_then(|rest| rest.get(..9));
    let code = code.expect("the command to type").to_owned();
    let paired = ohmstead(laptop, &["meet", &by_name, "--device", "van 3", "--code", &code]);
    assert_eq!(ended(&paired).0, 0, "{paired:?}");
    let again = ohmstead(laptop, &["meet", &by_name]);
    assert_eq!(ended(&again).0, 0, "{again:?}");
    fleet.all_are_in(&office.db);
    let page = office.get("/office");
    assert!(page.contains("van 3") && page.contains("Laptops that met this machine"), "{page}");
    let bytes = std::fs::read(&office.db).expect("a database");
    let token = fleet::token(laptop).expect("what it carries");
    let is_in = |bytes: &[u8]| bytes.windows(32).any(|part| part == token);
    assert!(!is_in(&bytes), "what a laptop carries is nowhere at the office");
}

#[test]
fn two_entries_are_shown_and_one_chain_with_two_ends_is_refused_by_name() {
    let place = Place::new("entries");
    let fleet = Fleet::new(&place, 1, 1, 7);
    let office = Office::new(&place.db("office"), &[]);
    let (laptop, id) = (&fleet.laptops[0].db, fleet.laptops[0].kept[0].id.clone());
    let open = fleet::open_record(laptop);
    let meet = |db: &str| ohmstead(db, &["meet", &office.address]);
    assert_eq!(ended(&meet(laptop)).0, 0);
    fleet::remark(&office.db, &open, "at the office");
    fleet::remark(laptop, &open, "in the field");
    let copy = place.db("copy");
    std::fs::copy(laptop, &copy).expect("copied");
    let said = ended(&meet(laptop)).1;
    assert!(said.contains("TWO ENTRIES in 1 of the records here"), "{said}");
    for db in [laptop, &office.db] {
        assert_eq!(fleet::remarks(db, &open), ["at the office", "in the field"], "{db}");
        assert_eq!(ended(&ohmstead(db, &["verify"])).0, 0, "{db}");
    }
    let page = office.get("/office");
    assert!(page.contains("Two wrote in one record") && page.contains(&open), "{page}");
    // The laptop's database as it was goes on otherwise.
    fleet::remark(&copy, &open, "from the copy");
    let before = fleet::remarks(&office.db, &open);
    fleet::remark(laptop, &open, "from the laptop");
    assert_eq!(ended(&meet(laptop)).0, 0);
    let (code, said, _) = ended(&meet(&copy));
    assert_eq!(code, 1, "{said}");
    assert!(said.contains("REFUSED") && said.contains(&open), "{said}");
    let after = fleet::remarks(&office.db, &open);
    assert!(after.len() == before.len() + 1 && !after.contains(&"from the copy".to_owned()));
    let page = office.get("/office");
    assert!(page.contains("Refused, and not written over"), "{page}");
    assert!(fleet::remarks(&copy, &open).contains(&"from the copy".to_owned()), "not lost");
    assert!(fleet::code(&office.db, &id).is_some());
}

/// A test that goes on in the field is not gone on with at the office because it came there.
#[test]
fn what_a_laptop_left_open_is_left_to_it() {
    let place = Place::new("open");
    let fleet = Fleet::new(&place, 1, 1, 7);
    let (laptop, db) = (&fleet.laptops[0].db, place.db("office"));
    let open = fleet::open_record(laptop);
    let office = Office::new(&db, &[]);
    assert_eq!(ended(&ohmstead(laptop, &["meet", &office.address])).0, 0);
    drop(office);
    let office = Office::new(&db, &[]);
    assert!(office.get("/").contains(&open), "it is told as open");
    drop(office);
    assert_eq!(fleet::size(&db, &open), (0, 1), "nothing was written in it");
    let before = fleet::records(&db);
    let run = place::pipe(&db, &["run", fleet::JOB_FILE, "--from", "keys"], "remark here\n");
    assert_eq!(fleet::size(&db, &open), (0, 1), "{run:?}");
    assert_eq!(fleet::records(&db), before + 1, "the office begins a record of its own: {run:?}");
}

#[test]
fn a_page_meets_the_office_as_the_command_does() {
    let place = Place::new("page");
    let fleet = Fleet::new(&place, 1, 3, 7);
    let office = Office::new(&place.db("office"), &[]);
    let laptop = Office::new(&fleet.laptops[0].db, &[]);
    let first = laptop.get("/office");
    assert!(first.contains("It met none yet") && first.contains("Meet an office"), "{first}");
    let bad = laptop.post("/office/meet", "address=office%20x");
    assert!(bad.starts_with("HTTP/1.1 422"), "{bad}");
    let form = format!("address={}", place::bare(&office.address));
    let begun = laptop.post("/office/meet", &form);
    assert!(begun.starts_with("HTTP/1.1 303"), "{begun}");
    let begun = std::time::Instant::now();
    let ended = loop {
        let page = laptop.get("/office");
        // While it is under way the page is fetched anew by itself.
        assert_eq!(page.contains("refresh: 1\r\n"), page.contains("<strong>Meeting "), "{page}");
        if page.contains("Nothing was written here since") {
            break page;
        }
        assert!(begun.elapsed().as_secs() < 30, "{page}");
    };
    assert!(ended.contains("sent 3 new records, 15 events") && ended.contains("Meet it now"));
    fleet.all_are_in(&office.db);
    let gone = laptop.post("/office/meet", "address=127.0.0.1:1");
    assert!(gone.starts_with("HTTP/1.1 303"), "{gone}");
    let begun = std::time::Instant::now();
    while !laptop.get("/office").contains("check the network and that the office serves") {
        assert!(begun.elapsed().as_secs() < 30);
    }
}

#[test]
fn who_watches_over_the_machine_is_answered_without_a_login() {
    let place = Place::new("health");
    let office = Office::new(&place.db("office"), &["--log", "json"]);
    let healthy = office.get("/healthz");
    assert!(healthy.starts_with("HTTP/1.1 200") && healthy.ends_with("ok\n"), "{healthy}");
    let ready = office.get("/readyz");
    assert!(ready.starts_with("HTTP/1.1 200") && ready.ends_with("ready\n"), "{ready}");
    let figures = office.get("/metrics");
    for name in ["ohmstead_answers_total{status=\"2xx\"} 2", "ohmstead_records_at_work 0"] {
        assert!(figures.contains(name), "{name}: {figures}");
    }
    let away = office.get_as("office.example", "/metrics");
    assert!(away.starts_with("HTTP/1.1 421"), "{away}");
    let log = office.end();
    let lines: Vec<serde_json::Value> =
        log.lines().filter_map(|line| serde_json::from_str(line).ok()).collect();
    assert_eq!(lines.len(), log.lines().count(), "{log}");
    assert!(lines.iter().any(|line| line["path"] == "/readyz" && line["status"] == 200), "{log}");
}

/// Derived: whatever is cut wherever, every event that a laptop had is at the office once, under
/// the code it had, and both sides have the same. How many laptops and tests is told by
/// `cargo xtask long meet`.
#[test]
fn cut_at_random_points_nothing_is_lost_and_nothing_doubled() {
    let number = |name: &str, usual: u64| {
        std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(usual)
    };
    let (laptops, tests) = (number("MEET_LAPTOPS", 3), number("MEET_TESTS", 20));
    let seed = number("MEET_SEED", 1);
    let place = Place::new("cut");
    let fleet = Fleet::new(&place, laptops, tests, seed);
    let server = std::env::var("MEET_DB").ok();
    let office = Office::new(&server.unwrap_or_else(|| place.db("office")), &[]);
    // Each of the first two fetches everything; a whole fleet of copies would be of no more use.
    let fetch = |at: usize| if at < 2 { "all" } else { "mine" };
    let begun = std::time::Instant::now();
    let (cuts, runs) = fleet.meet_at_once(&office, seed, fetch);
    let at_once = begun.elapsed().as_secs_f64();
    let begun = std::time::Instant::now();
    let last: Vec<Output> = fleet
        .laptops
        .iter()
        .enumerate()
        .map(|(at, one)| ohmstead(&one.db, &["meet", &office.address, "--fetch", fetch(at)]))
        .collect();
    assert!(last.iter().all(|one| one.status.success()), "{last:?}");
    let again = begun.elapsed().as_secs_f64();
    fleet.all_are_in(&office.db);
    for one in fleet.laptops.iter().take(2) {
        fleet.all_are_in(&one.db);
    }
    let records = laptops * tests;
    println!("counts: laptops {laptops} tests {records} cuts {cuts} runs {runs}");
    println!("figures: at_once_s {at_once:.2} again_s {again:.2}");
    assert!(cuts >= laptops, "{cuts} cuts");
    let _: Vec<&Kept> = fleet.laptops.iter().flat_map(|one| &one.kept).collect();
}
