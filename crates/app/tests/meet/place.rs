//! A folder with databases, and the program on each of them.

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::path::PathBuf;
use std::process::{Child, Command, Output, Stdio};

const PROGRAM: &str = env!("CARGO_BIN_EXE_ohmstead");

pub(crate) struct Place(PathBuf);

impl Place {
    pub(crate) fn new(name: &str) -> Self {
        let folder = std::env::temp_dir().join(format!("meeting-{}-{name}", std::process::id()));
        std::fs::create_dir_all(&folder).expect("a folder");
        Self(folder)
    }

    pub(crate) fn db(&self, name: &str) -> String {
        self.0.join(format!("{name}.db")).to_string_lossy().into_owned()
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        // The system clears what stays.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn command(db: &str, arguments: &[&str]) -> Command {
    let mut command = Command::new(PROGRAM);
    command.args(["--db", db]).args(arguments);
    command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
    command
}

/// Runs it to its end.
pub(crate) fn ohmstead(db: &str, arguments: &[&str]) -> Output {
    command(db, arguments).output().expect("it starts")
}

/// The same with this on its pipe.
pub(crate) fn pipe(db: &str, arguments: &[&str], text: &str) -> Output {
    let mut child = command(db, arguments).stdin(Stdio::piped()).spawn().expect("it starts");
    let mut stdin = child.stdin.take().expect("a pipe");
    stdin.write_all(text.as_bytes()).expect("it reads");
    drop(stdin);
    child.wait_with_output().expect("it ends")
}

pub(crate) fn ended(output: &Output) -> (i32, String, String) {
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code().unwrap_or(-1), text(&output.stdout), text(&output.stderr))
}

pub(crate) fn json(output: &Output) -> serde_json::Value {
    serde_json::from_slice(&output.stdout).unwrap_or_else(|error| panic!("{error}: {output:?}"))
}

/// Host and port.
pub(crate) fn bare(address: &str) -> String {
    address.trim_start_matches("http://").trim_end_matches('/').to_owned()
}

/// An office that serves.
pub(crate) struct Office {
    pub(crate) address: String,
    pub(crate) db: String,
    child: Child,
}

impl Office {
    pub(crate) fn new(db: &str, more: &[&str]) -> Self {
        let mut arguments = vec!["serve", "--listen", "127.0.0.1:0", "--json"];
        arguments.extend(more);
        let mut child = command(db, &arguments).spawn().expect("it starts");
        let mut line = String::new();
        let mut out = BufReader::new(child.stdout.take().expect("a pipe"));
        out.read_line(&mut line).expect("a line");
        let told: serde_json::Value = serde_json::from_str(&line).expect("JSON");
        let address = told["listening"].as_str().expect("an address").to_owned();
        Self { address, db: db.to_owned(), child }
    }

    pub(crate) fn get(&self, path: &str) -> String {
        self.get_as(&bare(&self.address), path)
    }

    pub(crate) fn get_as(&self, host: &str, path: &str) -> String {
        self.ask(&format!("GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"))
    }

    pub(crate) fn post(&self, path: &str, form: &str) -> String {
        self.ask(&format!(
            "POST {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\
             Content-Type: application/x-www-form-urlencoded\r\nContent-Length: {}\r\n\r\n{form}",
            bare(&self.address),
            form.len()
        ))
    }

    fn ask(&self, request: &str) -> String {
        let mut stream = TcpStream::connect(bare(&self.address)).expect("it listens");
        stream.write_all(request.as_bytes()).expect("sent");
        let mut text = String::new();
        stream.read_to_string(&mut text).expect("answered");
        text
    }

    /// Asks it to end; what it told where errors are told.
    pub(crate) fn end(mut self) -> String {
        let kill = Command::new("kill").arg(self.child.id().to_string()).status();
        assert!(kill.expect("kill starts").success());
        let mut log = String::new();
        let mut told = self.child.stderr.take().expect("a pipe");
        told.read_to_string(&mut log).expect("text");
        log
    }
}

impl Drop for Office {
    fn drop(&mut self) {
        // One that has ended is ended.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
