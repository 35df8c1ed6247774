//! Every command with its records on a server, as on a file, seen through the built program; and
//! no word of any of them holds the password.

mod crews;
mod front;
#[path = "../../../store/tests/postgres/server.rs"]
mod server;
#[path = "../serving/sheet.rs"]
mod sheet;
mod sizes;
mod stock;

use std::io::{BufRead as _, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};

use serde_json::Value;
use server::Server;

const SECRET: &str = "s3cret";

/// The program with its records at one place.
struct Place {
    folder: PathBuf,
    db: String,
}

/// An office that serves them.
struct Office {
    /// Host and port.
    address: String,
    child: Child,
}

impl Office {
    fn end(&mut self) {
        // One that has ended is ended.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Drop for Office {
    fn drop(&mut self) {
        self.end();
    }
}

/// A folder of this test, with nothing in it.
fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    if folder.exists() {
        std::fs::remove_dir_all(&folder).expect("an old run's folder is ours to remove");
    }
    std::fs::create_dir_all(&folder).expect("cargo gives a folder for this");
    folder
}

impl Place {
    fn program(&self, words: &[&str]) -> Command {
        let mut program = Command::new(env!("CARGO_BIN_EXE_ohmstead"));
        // The place is named as it would be in a profile, where it is in no list of processes.
        program.args(words).env("OHMSTEAD_DB", &self.db);
        program.current_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("../.."));
        program
    }

    fn serve(&self) -> Office {
        let mut program = self.program(&["serve", "--listen", "127.0.0.1:0", "--json"]);
        let mut child = program.stdout(Stdio::piped()).spawn().expect("it was built");
        let mut line = String::new();
        let mut out = BufReader::new(child.stdout.take().expect("it is piped"));
        out.read_line(&mut line).expect("it says where it is");
        let told: Value = serde_json::from_str(&line).expect("JSON");
        let address = told["listening"].as_str().expect("an address");
        let address = address.trim_start_matches("http://").trim_end_matches('/').to_owned();
        Office { address, child }
    }

    fn run(&self, words: &[&str]) -> Output {
        let output = self.program(words).output().expect("it was built");
        for stream in [&output.stdout, &output.stderr] {
            let text = String::from_utf8_lossy(stream);
            assert!(!text.contains(SECRET), "{words:?}: {text}");
        }
        output
    }

    fn told(&self, words: &[&str], status: i32) -> String {
        let output = self.run(words);
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(status), "{words:?}: {said}");
        String::from_utf8_lossy(&output.stdout).into_owned()
    }

    fn json(&self, words: &[&str]) -> Value {
        let last = self.told(words, 0);
        let last = last.lines().last().unwrap_or_default().to_owned();
        serde_json::from_str(&last)
            .or_else(|_| serde_json::from_str(&self.told(words, 0)))
            .expect("an answer in JSON")
    }

    fn path(&self, name: &str) -> String {
        self.folder.join(name).to_string_lossy().into_owned()
    }
}

#[test]
#[ignore = "needs PostgreSQL"]
fn every_command_does_the_same_on_a_server() {
    let mut server = Server::start("", None);
    let folder = folder("server");
    let address = server.address("").replace("ohmstead@", &format!("ohmstead:{SECRET}@"));
    let place = |database: &str| Place {
        folder: folder.clone(),
        db: address.replace("/postgres", &format!("/{database}")),
    };
    let (here, job) = (place("postgres"), "docs/examples/gloves.toml");

    // Nothing is there yet; help names the variable and not what is in it.
    assert!(here.told(&["list"], 2).is_empty());
    assert!(here.told(&["--help"], 0).contains("OHMSTEAD_DB"));
    here.told(&["keep", job], 0);
    let run = ["run", job, "--from", "sim:7", "--new", "--pace", "lockstep", "--json"];
    let id = here.json(&run)["record"].as_str().expect("the record's name").to_owned();
    for words in [
        &["list"][..],
        &["list", "jobs"],
        &["list", "apparatus"],
        &["list", "sets"],
        &["list", "meters"],
        &["judge", "--record", &id],
        &["history", "G-0417"],
        &["fleet"],
        &["people", "list"],
        &["people", "passes"],
        &["verify"],
        &["verify", "--record", &id],
        &["report", "--record", &id, "-o", &here.path("report.pdf")],
        &["export", "--record", &id, "--format", "csv", "-o", &here.path("readings.csv")],
        &["export", "--all", "--format", "json", "-o", &here.path("export.json")],
        &["import", &here.path("export.json")],
    ] {
        here.told(words, 0);
    }

    // To a file and back: the same list, the same codes.
    let file = Place { folder: folder.clone(), db: here.path("copied.db") };
    here.told(&["copy", "--to", &file.db], 0);
    let again = here.json(&["copy", "--to", &file.db, "--json"]);
    assert_eq!((&again["new"], &again["events"]), (&0.into(), &0.into()));
    here.told(&["backup", "--to", &here.path("backup.db")], 0);
    here.told(&["backup", "--to", &here.path("backup.db")], 2);
    let backup = Place { folder: folder.clone(), db: here.path("backup.db") };
    let restored = Place { folder: folder.clone(), db: here.path("restored.db") };
    restored.told(&["restore", "--from", &backup.db], 0);
    restored.told(&["restore", "--from", &backup.db], 2);
    let export = |place: &Place| place.told(&["export", "--all", "--format", "json"], 0);
    for other in [&file, &backup, &restored] {
        other.told(&["verify"], 0);
        assert_eq!(other.json(&["list", "--json"]), here.json(&["list", "--json"]), "{}", other.db);
        assert_eq!(export(other), export(&here), "{}", other.db);
    }

    // What goes wrong says what to do, with the place and without the password.
    let gone = place("nowhere");
    let output = gone.run(&["list"]);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(3), "{said}");
    assert!(said.contains("check name, password and database"), "{said}");
    server.say("fast");
    let output = here.run(&["list", "--json"]);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(3), "{said}");
    assert!(said.contains("check that the database server runs"), "{said}");
}
