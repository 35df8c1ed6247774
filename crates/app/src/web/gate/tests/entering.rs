//! Coming in, staying in, and being shown out.

use std::io::Read as _;
use std::sync::Arc;
use std::time::{Duration, Instant};

use jiff::SignedDuration;
use store::RecordId;
use store::people::May;

use super::super::waits::Key;
use super::super::{Gate, Peer};
use super::bench::{AWAY, Answer, Bench, HERE, PASSWORD};
use crate::drive::source::Source;

/// The cookie line of a browser that was let in just now.
fn cookie_of(answer: &Answer) -> String {
    let set = answer.header("set-cookie").unwrap_or_default();
    assert!(set.contains("; HttpOnly") && set.contains("; SameSite=Strict"), "{set}");
    format!("Cookie: {}\r\n", set.split(';').next().unwrap_or_default())
}

fn log_in(bench: &Bench, name: &str, password: &str) -> Answer {
    let form = format!("name={name}&password={}&after=%2Fpeople", password.replace(' ', "+"));
    bench.post(AWAY, "/login", "Origin: http://bench.test\r\n", &form)
}

#[test]
fn the_right_password_lets_in_and_going_out_takes_the_pass_back() {
    let bench = Bench::new();
    bench.account("Jo");
    let answer = log_in(&bench, "Jo", PASSWORD);
    assert_eq!((answer.status, answer.header("location")), (303, Some("/people")));
    assert!(!answer.text.contains("Secure"), "there is no TLS here");
    let cookie = cookie_of(&answer);
    let page = bench.get_with(AWAY, "/people", &cookie);
    assert!(page.status == 200 && page.text.contains("let in by Jo"), "{}", page.text);
    let out = bench.post(AWAY, "/logout", &cookie, "");
    assert_eq!((out.status, out.header("location")), (303, Some("/login")));
    assert_eq!(bench.get_with(AWAY, "/people", &cookie).status, 403);
}

#[test]
fn behind_tls_the_cookie_travels_over_tls_alone() {
    let bench = Bench::behind_tls();
    bench.account("Jo");
    let answer = log_in(&bench, "Jo", PASSWORD);
    let set = answer.header("set-cookie").unwrap_or_default().to_owned();
    assert!(set.starts_with("__Host-pass=") && set.ends_with("; Secure"), "{set}");
    assert_eq!(bench.get_with(AWAY, "/", &cookie_of(&answer)).status, 200);
}

#[test]
fn a_login_leads_nowhere_but_here() {
    let bench = Bench::new();
    bench.account("Jo");
    let form = format!("name=Jo&password={}&after=%2F%2Fevil.test", PASSWORD.replace(' ', "+"));
    let answer = bench.post(AWAY, "/login", "", &form);
    assert_eq!((answer.status, answer.header("location")), (303, Some("/")));
}

#[test]
fn a_wrong_name_and_a_wrong_password_are_told_alike_and_guessing_waits() {
    let bench = Bench::new();
    bench.account("Jo");
    let body = |answer: &Answer| answer.text.split("\r\n\r\n").nth(1).unwrap_or("").to_owned();
    let (name, password) = (log_in(&bench, "Nn", PASSWORD), log_in(&bench, "Jo", "wrong"));
    assert_eq!((name.status, password.status), (403, 403));
    assert_eq!(body(&name), body(&password));
    assert!(body(&name).contains("do not fit"));
    assert_eq!(log_in(&bench, "Jo", "wrong again").status, 403);
    // Some more wrong tries, so that the wait is longer than any machine is slow.
    let mut waits = bench.house.gate.waits();
    for _ in 0..6 {
        waits.wrong(Key::of(bench.address.ip()), Instant::now());
    }
    drop(waits);
    // The right one waits too, unseen.
    let waiting = log_in(&bench, "Jo", PASSWORD);
    assert_eq!(waiting.status, 429);
    let after = waiting.header("retry-after").and_then(|after| after.parse::<u64>().ok());
    // Derived: nine wrong tries, three of them free, so 2⁶ s.
    assert!(after.is_some_and(|after| (40..=64).contains(&after)), "{after:?}");
    assert!(waiting.header("set-cookie").is_none());
    assert_eq!(bench.post(AWAY, "/pair", "", "code=AAAA3333&device=tablet").status, 429);
}

#[test]
fn a_crowd_that_guesses_at_once_is_looked_at_one_by_one() {
    let bench = Bench::new();
    bench.account("Jo");
    let statuses: Vec<u16> = std::thread::scope(|scope| {
        let tries: Vec<_> =
            (0..12).map(|_| scope.spawn(|| log_in(&bench, "Jo", "wrong").status)).collect();
        tries.into_iter().map(|one| one.join().expect("it ends")).collect()
    });
    let looked_at = statuses.iter().filter(|status| **status == 403).count();
    // Three are free; a slow machine may be through with a wait of a second or two before the
    // last one comes.
    assert!((3..=6).contains(&looked_at), "{statuses:?}");
    assert_eq!(statuses.len() - looked_at, statuses.iter().filter(|one| **one == 429).count());
}

#[test]
fn a_try_counts_when_the_one_who_tried_is_gone() {
    let bench = Bench::new();
    let peer = Peer { at: bench.address, local: bench.address, tether: Arc::default() };
    bench.runtime.block_on(async {
        for _ in 0..5 {
            let tried = Gate::try_password(&bench.house, &peer, "wrong".to_owned(), None);
            // It has begun, and nobody waits for it any more.
            let _ = tokio::time::timeout(Duration::ZERO, tried).await;
        }
    });
    let begun = Instant::now();
    while bench.house.gate.wait(&peer, begun).is_none() {
        assert!(begun.elapsed() < Duration::from_secs(20), "they are not counted");
    }
}

#[test]
fn a_pass_ends_by_itself_and_a_longer_one_is_prolonged() {
    let bench = Bench::new();
    let over = bench.pass_for(May::Operate, SignedDuration::from_micros(1));
    assert_eq!(bench.get_with(AWAY, "/", &bench.cookie(&over)).status, 403);
    let short = bench.pass_for(May::Operate, SignedDuration::from_hours(2));
    assert_eq!(bench.get_with(AWAY, "/", &bench.cookie(&short)).status, 200);
    let now = jiff::Timestamp::now();
    let kept = bench.runtime.block_on(bench.house.store.pass(&short.token, now));
    let until = kept.expect("read").expect("it is there").until;
    // Derived: thirty days after it came.
    let left = until.duration_since(now).as_hours();
    assert!((719..=720).contains(&left), "{left} h");
}

#[test]
fn a_tablet_is_paired_once_with_a_code_that_was_made_here() {
    let bench = Bench::new();
    let none = bench.post(HERE, "/people/pair", "", "may=watch");
    assert_eq!(none.status, 422, "there is no account yet");
    bench.account("Jo");
    assert_eq!(bench.post(HERE, "/people/pair", "", "may=operate").status, 422);
    assert_eq!(bench.post(HERE, "/people/pair", "", "may=watch").status, 303);
    let code = {
        let mut pairing = bench.house.gate.pairing();
        pairing.waiting(Instant::now()).first().expect("a code").shown()
    };
    let form = format!("code={}&device=tablet+of+bay+3", code.to_lowercase().replace(' ', "-"));
    assert_eq!(bench.post(AWAY, "/pair", "", "code=33334444&device=x").status, 403);
    let answer = bench.post(AWAY, "/pair", "", &form);
    assert_eq!((answer.status, answer.header("location")), (303, Some("/")));
    let cookie = cookie_of(&answer);
    let own = bench.get_with(AWAY, "/people", &cookie);
    assert!(own.text.contains("tablet of bay 3, let in by Jo. It may watch only"), "{}", own.text);
    assert_eq!(bench.post(AWAY, "/pair", "", &form).status, 403, "it is used up");
}

/// Derived: what is said at the far end of one test says nothing of another one.
#[test]
fn a_device_of_the_far_end_answers_for_the_test_it_was_paired_for() {
    let bench = Bench::new();
    bench.account("Jo");
    let pair = |form: &str| bench.post(HERE, "/people/pair", "", form);
    let early = pair("may=far-end");
    assert_eq!(early.status, 422);
    assert!(early.text.contains("Begin the record first"), "{}", early.text);
    let begin = || {
        let text = include_str!("../../../../../../docs/examples/cable.toml");
        let job = plan::job_file::parse(text).expect("the example is well formed");
        let plan = plan::plan(&job, &standards::Library::published());
        let begun = bench.house.hub.begin(job, plan, Source::Keys);
        bench.runtime.block_on(begun).expect("it is begun")
    };
    let (own, other) = (begin(), begin());
    assert_eq!(pair("may=far-end").status, 422, "one of two must be picked");
    assert_eq!(pair("may=far-end&record=0198").status, 422, "no such record is at work");
    assert_eq!(pair(&format!("may=far-end&record={own}")).status, 303);
    let code = {
        let mut pairing = bench.house.gate.pairing();
        pairing.waiting(Instant::now()).first().expect("a code").shown().replace(' ', "")
    };
    let answer = bench.post(AWAY, "/pair", "", &format!("code={code}&device=far+end"));
    let to = format!("/far/{own}");
    assert_eq!((answer.status, answer.header("location")), (303, Some(to.as_str())));
    let cookie = cookie_of(&answer);
    let here = |id: &RecordId| {
        let lines = format!("Origin: http://bench.test\r\n{cookie}");
        bench.post(AWAY, &format!("/far/{id}/here"), &lines, "nonce=n&ago_ms=0").status
    };
    assert_eq!((here(&own), here(&other)), (303, 422));
    let heard = |id: &RecordId| {
        let record = bench.runtime.block_on(bench.house.store.record(id)).expect("it is kept");
        let events = record.record.events.iter();
        events.filter(|entry| matches!(entry.what, session::Event::Role { .. })).count()
    };
    assert_eq!((heard(&own), heard(&other)), (1, 0));
    let page = |id: &RecordId| bench.get_with(AWAY, &format!("/far/{id}"), &cookie).text;
    assert!(page(&own).contains("far-here") && !page(&other).contains("far-here"));
    let today = bench.get_with(AWAY, "/", &cookie).text;
    assert!(today.contains(&format!("href=\"/far/{own}\"")), "{today}");
    assert!(!today.contains(&format!("href=\"/far/{other}\"")), "{today}");
}

#[test]
fn a_socket_ends_with_the_pass_that_opened_it() {
    let bench = Bench::new();
    let pass = bench.pass(May::Say);
    let lines = format!("Origin: http://bench.test\r\n{}", bench.cookie(&pass));
    let (mut stream, answer) = bench.open_socket(AWAY, "/live", &lines);
    assert_eq!(answer.status, 101);
    let taken = bench.post(HERE, "/people/take-back", "", &format!("pass={}", pass.pass.name));
    assert_eq!(taken.status, 303);
    let begun = Instant::now();
    // Words come until it is cut.
    let mut rest = Vec::new();
    let _ = stream.read_to_end(&mut rest);
    assert!(begun.elapsed() < Duration::from_secs(3), "{:?}", begun.elapsed());
    assert_eq!(bench.socket(AWAY, "/live", &lines).status, 403);
}

#[test]
fn a_socket_ends_when_another_program_takes_the_pass_back() {
    let bench = Bench::new();
    let pass = bench.pass(May::Say);
    let lines = format!("Origin: http://bench.test\r\n{}", bench.cookie(&pass));
    let (mut stream, answer) = bench.open_socket(AWAY, "/live", &lines);
    assert_eq!(answer.status, 101);
    let taken = bench.house.store.take_back_pass(&pass.pass.name);
    assert!(bench.runtime.block_on(taken).expect("taken"));
    let begun = Instant::now();
    let mut rest = Vec::new();
    let _ = stream.read_to_end(&mut rest);
    assert!(begun.elapsed() < Duration::from_secs(6), "{:?}", begun.elapsed());
}
