//! The program ended from outside, with no warning, while two browsers say lines.

use std::sync::mpsc::{Sender, channel};
use std::thread;
use std::time::Duration;

use super::sheet::{encoded, post};
use super::{Place, ended};

/// Lines that are answered before it is ended.
const ANSWERED: usize = 40;

/// Begins a record with keys as its source; where its sheet is.
fn begin(address: &str) -> String {
    let sent = |path: &str, form: &str| {
        let (status, place) = post(address, path, form).expect("it answers");
        assert_eq!(status, 303, "{path}");
        place
    };
    let draft = sent("/sheet/new", "");
    let job = encoded(include_str!("../../../../docs/examples/gloves.toml"));
    sent(&format!("{draft}/job-file"), &format!("text={job}"));
    let sheet = sent(&format!("{draft}/begin"), "who=R.+Tester&from=keys");
    assert_ne!(sheet, draft, "a record has begun");
    sheet
}

/// Says lines until nobody answers; those that were answered as kept.
fn say(address: &str, sheet: &str, name: &str, answered: &Sender<()>) -> Vec<String> {
    let mut kept = Vec::new();
    for number in 0.. {
        let remark = format!("{name}-{number}-said");
        let form = format!("line=remark+{remark}&nonce={remark}");
        let Some((303, _)) = post(address, &format!("{sheet}/say"), &form) else { break };
        kept.push(remark);
        let _ = answered.send(());
    }
    kept
}

#[test]
fn what_a_browser_was_told_is_kept_stands_in_the_record_once() {
    let place = Place::new("killed");
    let (mut child, line) = place.serve("127.0.0.1:0", &[]);
    let address = line.split("http://").nth(1).and_then(|rest| rest.split('/').next());
    let address = address.expect("an address");
    let sheet = begin(address);
    let (tell, answered) = channel();
    let kept = thread::scope(|scope| {
        let sayers = [("one", tell.clone()), ("other", tell)].map(|(name, tell)| {
            let sheet = &sheet;
            scope.spawn(move || say(address, sheet, name, &tell))
        });
        for _ in 0..ANSWERED {
            answered.recv_timeout(Duration::from_secs(60)).expect("lines are answered");
        }
        child.kill().expect("it runs");
        child.wait().expect("it ends");
        sayers.map(|sayer| sayer.join().expect("it ended")).concat()
    });
    assert!(kept.len() >= ANSWERED);
    let id = sheet.rsplit('/').next().expect("an id");
    let (status, out, said) =
        ended(&place.run(&["export", "--record", id, "--format", "json"], ""));
    assert_eq!(status, 0, "{said}");
    for remark in &kept {
        assert_eq!(out.matches(remark.as_str()).count(), 1, "{remark}");
    }
    assert_eq!(ended(&place.run(&["verify"], "")).0, 0);
}
