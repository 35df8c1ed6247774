//! What a browser without a script does to a sheet.

use std::fmt::Write as _;
use std::io::{Read as _, Write as _};
use std::net::TcpStream;

use serde_json::Value;

/// Sends a form, as a browser without a script does; the status, and where it leads. Nothing where
/// the other end is gone.
pub(crate) fn post(address: &str, path: &str, form: &str) -> Option<(u16, String)> {
    let mut socket = TcpStream::connect(address).ok()?;
    let length = form.len();
    let ask = format!(
        "POST {path} HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\nContent-Length: {length}\
         \r\nContent-Type: application/x-www-form-urlencoded\r\n\r\n{form}"
    );
    socket.write_all(ask.as_bytes()).ok()?;
    let mut answer = String::new();
    socket.read_to_string(&mut answer).ok()?;
    let status = answer.split(' ').nth(1)?.parse().ok()?;
    let place = answer.lines().find_map(|line| line.strip_prefix("location: "));
    Some((status, place.unwrap_or_default().to_owned()))
}

pub(crate) fn encoded(text: &str) -> String {
    text.bytes().fold(String::new(), |mut all, byte| {
        let _ = write!(all, "%{byte:02X}");
        all
    })
}

/// Sends a form that must be taken; where it leads.
fn sent(address: &str, path: &str, form: &str) -> String {
    let (status, place) = post(address, path, form).expect("it answers");
    assert_eq!(status, 303, "{path} {form}");
    place
}

/// Begins a record of this job with its plan, and brings its first conductor to the level; its id.
pub(crate) fn energised(address: &str, (job, plan): (&str, &Value), from: &str) -> String {
    let draft = sent(address, "/sheet/new", "");
    sent(address, &format!("{draft}/job-file"), &format!("text={}", encoded(job)));
    let sheet = sent(address, &format!("{draft}/begin"), &format!("who=R.+Tester&{from}"));
    assert_ne!(sheet, draft, "a record has begun");
    let mut nonce = 0;
    let mut say = |line: &str| {
        nonce += 1;
        let form = format!("line={}&nonce=first-{nonce}", encoded(line));
        sent(address, &format!("{sheet}/say"), &form);
    };
    let first = ["@left ground 1 at cuff", "@right ground 2 at cuff", "lead left", "check left"];
    first.iter().for_each(|line| say(line));
    let lines = plan["checklist"].as_array().into_iter().flatten();
    let lines = lines.filter(|line| line["when"] == "before" || line["when"] == "connecting");
    let questions = plan["ready"]["questions"].as_array().into_iter().flatten();
    for hold in lines.chain(questions).filter(|one| one["hold_point"] == true) {
        say(&format!("tick {}", hold["id"].as_str().expect("an id")));
    }
    for line in ["@left lift 1", "here watch", "@left energise", "@left rise", "@left hold"] {
        say(line);
    }
    sheet.rsplit('/').next().expect("an id").to_owned()
}
