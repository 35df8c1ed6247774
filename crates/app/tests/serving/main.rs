//! `serve` and `people`, seen through the built program.
#![cfg(unix)]

mod killed;
mod load;
mod sheet;

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::{TcpListener, TcpStream};
use std::path::PathBuf;
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant};

const PROGRAM: &str = env!("CARGO_BIN_EXE_ohmstead");

/// A folder with a database of its own.
struct Place(PathBuf);

impl Place {
    fn new(name: &str) -> Self {
        let folder = std::env::temp_dir().join(format!("serving-{}-{name}", std::process::id()));
        std::fs::create_dir_all(&folder).expect("a folder");
        Self(folder)
    }

    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(PROGRAM);
        command.arg("--db").arg(self.0.join("records.db")).args(arguments);
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        command
    }

    /// Runs it to its end, with this on its pipe.
    fn run(&self, arguments: &[&str], pipe: &str) -> Output {
        let mut child = self.command(arguments).spawn().expect("it starts");
        let mut stdin = child.stdin.take().expect("a pipe");
        // One that does not read it is done without it.
        let _ = stdin.write_all(pipe.as_bytes());
        drop(stdin);
        child.wait_with_output().expect("it ends")
    }

    /// Starts to serve; what it printed first.
    fn serve(&self, listen: &str, arguments: &[&str]) -> (Child, String) {
        let mut all = vec!["serve", "--listen", listen];
        all.extend(arguments);
        let mut child = self.command(&all).spawn().expect("it starts");
        let mut line = String::new();
        let mut out = BufReader::new(child.stdout.take().expect("a pipe"));
        out.read_line(&mut line).expect("a line");
        (child, line)
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        // The system clears what stays.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn ended(output: &Output) -> (i32, String, String) {
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code().unwrap_or(-1), text(&output.stdout), text(&output.stderr))
}

fn ask_to_end(child: &Child) {
    let kill = Command::new("kill").arg(child.id().to_string()).status();
    assert!(kill.expect("kill starts").success());
}

#[test]
fn it_says_where_it_is_to_people_and_to_programs() {
    let place = Place::new("says");
    let (mut child, line) = place.serve("127.0.0.1:0", &[]);
    let address = line.strip_prefix("Ohmstead is at http://127.0.0.1:").expect("where it is");
    assert!(address.contains("/ and keeps records in "), "{line}");
    ask_to_end(&child);
    assert!(child.wait().expect("it ends").success());
    let (mut child, line) = place.serve("127.0.0.1:0", &["--json"]);
    let told: serde_json::Value = serde_json::from_str(&line).expect("JSON");
    let url = told["listening"].as_str().expect("an address");
    assert!(url.starts_with("http://127.0.0.1:") && url.ends_with('/'), "{url}");
    assert_eq!(told["elsewhere"], serde_json::json!([]));
    ask_to_end(&child);
    assert!(child.wait().expect("it ends").success());
}

#[test]
fn it_ends_within_two_seconds_with_a_socket_open() {
    let place = Place::new("ends");
    let (mut child, line) = place.serve("127.0.0.1:0", &[]);
    let address = line.split("http://").nth(1).and_then(|rest| rest.split('/').next());
    let mut socket = TcpStream::connect(address.expect("an address")).expect("it listens");
    // The key is the one of RFC 6455 section 1.3.
    let ask = "GET /live HTTP/1.1\r\nHost: localhost\r\nConnection: Upgrade\r\n\
               Upgrade: websocket\r\nSec-WebSocket-Version: 13\r\n\
               Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n";
    socket.write_all(ask.as_bytes()).expect("sent");
    let mut head = [0; 12];
    socket.read_exact(&mut head).expect("answered");
    assert_eq!(&head, b"HTTP/1.1 101");
    let begun = Instant::now();
    ask_to_end(&child);
    assert!(child.wait().expect("it ends").success());
    assert!(begun.elapsed() < Duration::from_secs(2), "{:?}", begun.elapsed());
}

#[test]
fn a_place_that_is_taken_is_told_with_what_to_do() {
    let place = Place::new("taken");
    let other = TcpListener::bind("127.0.0.1:0").expect("a port");
    let address = other.local_addr().expect("an address").to_string();
    let (status, _, said) = ended(&place.run(&["serve", "--listen", &address], ""));
    assert_eq!(status, 3, "{said}");
    assert!(said.starts_with("End the other program that serves there"), "{said}");
    assert!(said.contains(&address), "{said}");
    assert_eq!(ended(&place.run(&["people", "set", "Jo"], "correct horse battery\n")).0, 0);
    // RFC 5737: an address that is nobody's.
    let (status, _, said) = ended(&place.run(&["serve", "--listen", "203.0.113.7:0"], ""));
    assert_eq!(status, 3, "{said}");
    assert!(said.starts_with("Choose an address of this machine"), "{said}");
    let (status, _, said) = ended(&place.run(&["serve", "--name", "http://a"], ""));
    assert_eq!(status, 2, "{said}");
}

#[test]
fn beyond_this_machine_nothing_is_served_before_there_is_an_account() {
    let place = Place::new("beyond");
    for arguments in [&["serve", "--listen", "0.0.0.0:0"][..], &["serve", "--behind-tls"]] {
        let (status, _, said) = ended(&place.run(arguments, ""));
        assert_eq!(status, 2, "{said}");
        assert!(said.starts_with("Set an account first: ohmstead people set NAME"), "{said}");
    }
    assert_eq!(ended(&place.run(&["people", "set", "Jo"], "correct horse battery\n")).0, 0);
    let (mut child, line) = place.serve("0.0.0.0:0", &[]);
    assert!(line.starts_with("Ohmstead is at http://127.0.0.1:"), "{line}");
    ask_to_end(&child);
    assert!(child.wait().expect("it ends").success());
}

#[test]
fn there_is_one_account_with_a_password_long_enough() {
    let place = Place::new("account");
    let check = |arguments: &[&str], pipe: &str, status: i32, says: &str| {
        let (found, out, err) = ended(&place.run(arguments, pipe));
        assert_eq!(found, status, "{arguments:?} {out}{err}");
        assert!(format!("{out}{err}").contains(says), "{arguments:?} {out}{err}");
    };
    check(&["people", "set", "Jo"], "elevenlette\n", 2, "(this one has 11)");
    check(&["people", "set", "Jo"], "", 2, "(this one has 0)");
    check(&["people", "set", "Jo"], &"a".repeat(3000), 2, "1024 bytes at most");
    check(&["people", "set", "  "], "correct horse battery\n", 2, "Give a name");
    check(&["people", "list"], "", 0, "Nobody can log in yet");
    // Twelve letters, more bytes.
    check(&["people", "set", "Jo"], "åäöåäöåäöåäö\r\n", 0, "Jo can log in now.");
    check(&["people", "set", "Jo"], "correct horse battery", 0, "Jo can log in now.");
    check(&["people", "set", "Mo"], "correct horse battery\n", 2, "Forget the other account first");
    check(&["people", "list"], "", 0, "Jo, password of ");
    check(&["people", "passes"], "", 0, "No device was let in.");
    check(&["people", "forget", "Mo"], "", 2, "there is no account");
    check(&["people", "forget", "Jo"], "", 0, "Jo cannot log in any more");
    check(&["people", "list"], "", 0, "Nobody can log in yet");
}
