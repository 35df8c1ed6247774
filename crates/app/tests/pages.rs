//! The pages round the sheets, seen through the built program: with nothing kept, and with the
//! invented site of the demo.
#![cfg(unix)]

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

use serde_json::Value;

const PROGRAM: &str = env!("CARGO_BIN_EXE_ohmstead");

/// A folder of one test's own, and the screens of a database in it.
struct Screens {
    folder: PathBuf,
    program: Child,
    address: String,
}

impl Screens {
    fn open(name: &str, prepare: impl FnOnce(&Path)) -> Self {
        let folder = std::env::temp_dir().join(format!("pages-{}-{name}", std::process::id()));
        std::fs::create_dir_all(&folder).expect("a folder");
        prepare(&folder);
        let mut program = Command::new(PROGRAM);
        program.args(["serve", "--listen", "127.0.0.1:0", "--db"]).arg(folder.join("records.db"));
        program.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::null());
        let mut program = program.spawn().expect("it starts");
        let mut line = String::new();
        let out = program.stdout.take().expect("a pipe");
        BufReader::new(out).read_line(&mut line).expect("a line");
        let address = line.split("http://").nth(1).and_then(|rest| rest.split('/').next());
        let address = address.expect("where it is").to_owned();
        Self { folder, program, address }
    }

    /// Status line and body of an answer.
    fn ask(&self, method: &str, path: &str, form: &str) -> (String, String) {
        let (head, body) = self.answer(method, path, form);
        (head.lines().next().unwrap_or_default().to_owned(), body)
    }

    /// Where an answer leads on to.
    fn led_to(&self, path: &str, form: &str) -> String {
        let (head, body) = self.answer("POST", path, form);
        let place = head.lines().find_map(|line| line.strip_prefix("location: "));
        place.unwrap_or_else(|| panic!("{path} leads nowhere: {head} {body}")).to_owned()
    }

    fn answer(&self, method: &str, path: &str, form: &str) -> (String, String) {
        let mut socket = TcpStream::connect(&self.address).expect("it listens");
        let here = &self.address;
        let request = format!(
            "{method} {path} HTTP/1.1\r\nHost: {here}\r\nOrigin: http://{here}\r\n\
             Connection: close\r\nContent-Type: application/x-www-form-urlencoded\r\n\
             Content-Length: {}\r\n\r\n{form}",
            form.len()
        );
        socket.write_all(request.as_bytes()).expect("sent");
        let mut answer = String::new();
        socket.read_to_string(&mut answer).expect("an answer in UTF-8");
        let (head, body) = answer.split_once("\r\n\r\n").expect("a head and a body");
        (head.to_owned(), body.to_owned())
    }

    /// A page that is there.
    fn page(&self, path: &str) -> String {
        let (status, body) = self.ask("GET", path, "");
        assert_eq!(status, "HTTP/1.1 200 OK", "{path}");
        body
    }

    /// What these pages say, in this order.
    fn says(&self, path: &str, parts: &[&str]) {
        let body = self.page(path);
        let mut rest = body.as_str();
        for part in parts {
            let Some((_, after)) = rest.split_once(part) else {
                panic!("{path} does not say {part:?} there: {body}");
            };
            rest = after;
        }
    }
}

impl Drop for Screens {
    fn drop(&mut self) {
        // What cannot be ended or cleared ends and clears by the system.
        let _ = self.program.kill();
        let _ = self.program.wait();
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

#[test]
fn with_nothing_kept_each_page_says_what_to_do_first() {
    let screens = Screens::open("empty", |_| {});
    screens.says("/", &["New sheet", "Begin a sheet", "Nothing is kept here yet"]);
    screens.says("/apparatus", &["Begin a sheet", "No apparatus is kept here yet"]);
    screens.says("/sets", &["Begin a sheet and give its set a name", "New sheet"]);
    screens.says("/values", &["check your copy", "Your own values", "None.", "used in 0 records"]);
    let (status, body) = screens.ask("GET", "/apparatus/no%2Fsuch", "");
    assert_eq!(status, "HTTP/1.1 404 Not Found");
    assert!(body.contains("there is no apparatus no/such here"), "{body}");
}

/// A text as a form carries it.
fn encoded(text: &str) -> String {
    text.bytes().map(|byte| format!("%{byte:02X}")).collect()
}

#[test]
fn a_record_begins_once_and_with_the_plan_that_was_seen() {
    let screens = Screens::open("begin", |_| {});
    let sheet = screens.led_to("/sheet/new", "");
    let job = include_str!("../../../docs/examples/gloves.toml");
    screens.led_to(&format!("{sheet}/job-file"), &format!("text={}", encoded(job)));
    let seen = || {
        let page = screens.page(&sheet);
        let (_, after) = page.split_once("name=\"seen\" value=\"").expect("it can begin");
        after.split('"').next().expect("a sign").to_owned()
    };
    let begin = format!("{sheet}/begin");
    let said = |who: &str, seen: &str| format!("who={who}&from=keys&seen={seen}");
    let refused = |form: &str, says: &str| {
        let (status, body) = screens.ask("POST", &begin, form);
        assert_eq!(status, "HTTP/1.1 200 OK", "{form}");
        assert!(body.contains(says) && body.contains("Nothing was begun"), "{form}: {body}");
    };
    let before = seen();
    refused(&said("", &before), "Write who works at the set");
    screens.led_to(&format!("{sheet}/plate"), "asset.id=Gloves+of+another+pair");
    refused(&said("Jo", &before), "Look at the plan once more");
    let record = screens.led_to(&begin, &said("Jo", &seen()));
    assert_ne!(record, sheet);
    screens.says(&record, &["Gloves of another pair"]);
    // Pressed twice, it is one; and what it began from is not written any more.
    assert_eq!(screens.led_to(&begin, &said("Jo", &before)), record);
    let (status, _) = screens.ask("POST", &format!("{sheet}/plate"), "asset.id=late");
    assert_eq!(status, "HTTP/1.1 422 Unprocessable Entity");
    let (_, listed) = screens.ask("GET", "/", "");
    assert_eq!(listed.matches("href=\"/sheet/").count(), 2, "one record, and a new sheet");
}

/// Everything that the demo keeps is invented and simulated; days are those of its own table.
#[test]
fn the_invented_site_has_something_on_every_page() {
    let mut kept = 0;
    let screens = Screens::open("demo", |folder| {
        let demo = || {
            let mut demo = Command::new(PROGRAM);
            demo.args(["demo", "--no-serve", "--json", "--dir"]).arg(folder);
            assert!(demo.output().expect("it runs").status.success());
            let mut list = Command::new(PROGRAM);
            list.args(["list", "--json", "--db"]).arg(folder.join("records.db"));
            let listed = list.output().expect("it runs").stdout;
            let listed: Vec<Value> = serde_json::from_slice(&listed).expect("a list");
            assert!(listed.iter().all(|one| one["kind"] == "simulated"), "nothing was measured");
            listed.len()
        };
        kept = demo();
        assert_eq!(demo(), kept, "what is there already is not made again");
    });
    assert!(kept > 50, "{kept}");
    screens.says(
        "/",
        &[
            "Open",
            "FDR-8",
            "L3: grounded",
            "Sheets being written",
            "FDR-3",
            "Waits for you",
            "Due",
            "Not tested for longest",
            "FDR-6",
            "Last tests",
        ],
    );
    // The worst first, and among what passed what is due first.
    screens.says(
        "/apparatus",
        &[
            "FDR-3",
            "REJECT",
            "PM-5",
            "INVESTIGATE",
            "FDR-2",
            "VOID",
            "no closed test",
            "SLV-3",
            "ACCEPT",
            "2026-10-07",
            "BLK-1",
            "2026-12-02",
            "FDR-6",
            "no interval known",
        ],
    );
    screens.says("/apparatus?q=generator", &["1 of 21", "GEN-1"]);
    screens.says(
        "/apparatus/FDR-5",
        &[
            "Test again",
            "2026-05-19",
            "SIMULATED",
            "ACCEPT",
            "2023-05-16",
            "REJECT",
            "Over the years",
            "It stands beside the verdict and does not change it",
            "left out",
            "1640 m",
            "Years in service; 0 is new: 32 → 35",
        ],
    );
    screens.says("/apparatus/SLV-3", &["by 2026-10-07", "12 months, 29 CFR 1910.137"]);
    screens.says("/apparatus/SWG-B", &["2023-02-14", "VOID"]);
    screens.says("/values/osha-1910.137-2007", &["Used in", "from memory, check your copy"]);
    screens.says("/values/same/cable-level", &["IEEE", "UFGS"]);
    calibrate(&screens);
}

fn calibrate(screens: &Screens) {
    screens.says("/sets", &["Set 1", "holds until 2026-12-08", "Used last for", "TH-0219"]);
    let post = |form: &str| screens.ask("POST", "/sets/calibrations", form);
    let sound = "kind=set&name=Set+1&date=2026-12-01&due=2027-12-01&certificate=TH-0301&note=";
    assert_eq!(post(sound).0, "HTTP/1.1 303 See Other");
    screens.says("/sets", &["Set 1", "holds until 2027-12-01", "TH-0301", "TH-0219"]);
    let check = |form: &str, status: &str, says: &str| {
        let (found, body) = post(form);
        assert_eq!(found, format!("HTTP/1.1 {status}"), "{form}");
        assert!(body.contains(says), "{form}: {body}");
    };
    let (refused, none) = ("422 Unprocessable Entity", "404 Not Found");
    check("kind=set&name=Set+1&date=1.12.2026", refused, "write the day as 2026-11-03");
    check("kind=set&name=Set+1&date=2026-12-01&due=2025-12-01", refused, "correct the days");
    check("kind=set&name=Set+9&date=2026-12-01", none, "there is no set or meter Set 9");
}
