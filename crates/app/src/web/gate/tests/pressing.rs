//! Too much at once, too large, too slow, and the end with sockets open.

use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::time::{Duration, Instant};

use super::bench::{AWAY, Bench, HERE};
use crate::web::gate::Limits;

#[test]
fn what_is_larger_than_any_form_is_refused_unread() {
    let bench = Bench::new();
    let head = format!(
        "POST /people/who HTTP/1.1\r\nHost: {HERE}\r\nConnection: close\r\n\
         Content-Type: application/x-www-form-urlencoded\r\n"
    );
    let told = bench.ask(&format!("{head}Content-Length: 2000000\r\n\r\n"));
    assert_eq!(told.status, 413, "{}", told.text);
    assert!(told.text.contains("<h1>Send less"), "{}", told.text);
    // One who does not tell how much it will be.
    let part = format!("10000\r\n{}\r\n", "a".repeat(0x1_0000));
    let untold = bench.ask(&format!("{head}Transfer-Encoding: chunked\r\n\r\n{}", part.repeat(17)));
    assert!([413, 0].contains(&untold.status), "{}", untold.text);
    // A stranger has less to say.
    let form = format!("name=Jo&password={}", "a".repeat(9000));
    assert_eq!(bench.post(AWAY, "/login", "", &form).status, 413);
    assert_eq!(bench.get(HERE, "/").status, 200, "it goes on");
}

#[test]
fn a_head_without_end_is_let_go() {
    let bench = Bench::new();
    let answer = bench.ask(&format!(
        "GET / HTTP/1.1\r\nHost: {HERE}\r\nX-Long: {}\r\n\r\n",
        "a".repeat(1_000_000)
    ));
    // The other end may be gone before the answer is read.
    assert!([431, 0].contains(&answer.status), "{}", answer.text);
    let many: String = (0..200).map(|number| format!("X-{number}: a\r\n")).collect();
    assert_eq!(bench.get_with(HERE, "/", &many).status, 431);
}

#[test]
fn one_who_is_slow_to_say_what_is_wanted_is_let_go() {
    let head = Duration::from_millis(300);
    let bench = Bench::with(false, Limits { head, ..Limits::default() });
    let begun = Instant::now();
    let mut slow = bench.connect();
    slow.write_all(b"GET / HTTP/1.1\r\nHost: local").expect("sent");
    let mut rest = Vec::new();
    let _ = slow.read_to_end(&mut rest);
    assert!(begun.elapsed() >= head && begun.elapsed() < Duration::from_secs(5));
    // One who was answered and asks for nothing more is let go as well.
    let mut idle = bench.connect();
    idle.write_all(format!("GET /login HTTP/1.1\r\nHost: {HERE}\r\n\r\n").as_bytes())
        .expect("sent");
    let mut answer = Vec::new();
    let _ = idle.read_to_end(&mut answer);
    assert!(answer.starts_with(b"HTTP/1.1 200"));
}

#[test]
fn more_connections_than_there_is_room_for_are_dropped_and_the_rest_served() {
    let bench = Bench::with(false, Limits { room: 3, ..Limits::default() });
    let mut held: Vec<TcpStream> = (0..3).map(|_| bench.connect()).collect();
    // Each is answered, so each has its place by then.
    for stream in &mut held {
        let ask = format!("GET /login HTTP/1.1\r\nHost: {AWAY}\r\n\r\n");
        stream.write_all(ask.as_bytes()).expect("sent");
        let mut some = [0; 12];
        stream.read_exact(&mut some).expect("answered");
        assert_eq!(&some, b"HTTP/1.1 200");
    }
    assert_eq!(bench.get(HERE, "/").text, "", "there is no room");
    held.clear();
    let begun = Instant::now();
    while bench.get(HERE, "/").status != 200 {
        assert!(begun.elapsed() < Duration::from_secs(5), "there is room again");
    }
}

#[test]
fn it_ends_soon_with_sockets_and_idle_connections_open() {
    let mut bench = Bench::new();
    let (mut socket, answer) = bench.open_socket(HERE, "/live", "");
    assert_eq!(answer.status, 101);
    let idle = bench.connect();
    let took = bench.end();
    assert!(took < Duration::from_millis(1500), "{took:?}");
    assert!(TcpStream::connect(bench.address).is_err(), "nobody listens any more");
    let mut rest = Vec::new();
    let _ = socket.read_to_end(&mut rest);
    drop(idle);
}
