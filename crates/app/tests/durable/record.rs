//! What the database holds, as the program itself gives it out.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::Value;

use crate::device::Pair;
use crate::program::call;
use crate::script::Item;

/// One record as `export` gives it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Kept {
    pub(crate) id: String,
    /// The bytes of each event, what it begins with first.
    pub(crate) events: Vec<String>,
}

/// The records, the newest last; none where there is no database yet.
pub(crate) fn records(db: &str) -> Result<Vec<Kept>, String> {
    let Some(listed) = answer_if_any(&["list", "--json", "--db", db])? else {
        return Ok(Vec::new());
    };
    let listed: Value = serde_json::from_str(&listed).map_err(|error| error.to_string())?;
    let mut ids: Vec<String> = listed
        .as_array()
        .ok_or("`list` gives no list")?
        .iter()
        .filter_map(|one| one["id"].as_str().map(str::to_owned))
        .collect();
    ids.reverse();
    ids.into_iter()
        .map(|id| {
            let words = ["export", "--record", &id, "--format", "json", "--db", db];
            let export: Value =
                serde_json::from_str(&answer(&words)?).map_err(|error| error.to_string())?;
            let chains = &export["records"][0]["chains"];
            let events = chains[0]["events"].as_array().ok_or("an export without events")?;
            let mut bytes = Vec::new();
            for (at, event) in events.iter().enumerate() {
                if event["seq"].as_u64() != Some(at as u64) {
                    return Err(format!("event {at} is missing: {event}"));
                }
                bytes.push(event["bytes"].as_str().ok_or("an event without bytes")?.to_owned());
            }
            Ok(Kept { id, events: bytes })
        })
        .collect()
}

/// `verify` of everything; what it said where something does not hold.
pub(crate) fn verified(db: &str) -> Result<(), String> {
    answer_if_any(&["verify", "--db", db]).map(drop)
}

fn answer(words: &[&str]) -> Result<String, String> {
    answer_if_any(words)?.ok_or_else(|| format!("{words:?}: the database is gone"))
}

/// `None` where nothing was kept yet.
fn answer_if_any(words: &[&str]) -> Result<Option<String>, String> {
    let output = call(words);
    let said = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    let (answer, error) = (said(&output.stdout), said(&output.stderr));
    match output.status.code() {
        Some(0) => Ok(Some(answer)),
        Some(2) if error.starts_with("check the name of the database") => Ok(None),
        _ => Err(format!("{words:?} ended in {}: {answer}{error}", output.status)),
    }
}

impl Kept {
    /// Number of the last event.
    pub(crate) fn seq(&self) -> u64 {
        self.events.len() as u64 - 1
    }

    /// Whether nothing can follow.
    pub(crate) fn is_closed(&self) -> bool {
        self.events.last().is_some_and(|bytes| parsed(bytes)["what"] == "closed")
    }

    /// What was read and said in the events from this one on; not what the program saw by itself.
    pub(crate) fn items(&self, from: usize) -> Vec<Item> {
        self.events.iter().skip(from.max(1)).flat_map(|bytes| items(&parsed(bytes))).collect()
    }

    pub(crate) fn readings(&self) -> u64 {
        let all = self.items(0);
        all.iter().filter(|item| matches!(item, Item::Reading { .. })).count() as u64
    }

    /// Conductors that are hazardous after the last event, by a rule of its own: from energising
    /// until a ground, and again while all of its grounds are off.
    pub(crate) fn hazardous(&self) -> BTreeSet<String> {
        let mut all: BTreeMap<String, Ground> = BTreeMap::new();
        for bytes in self.events.iter().skip(1) {
            let event = parsed(bytes);
            let did = &event["what"]["did"];
            let (Some(phase), Some((act, data))) = (did["phase"].as_str(), act(did)) else {
                continue;
            };
            let one = all.entry(phase.to_owned()).or_default();
            let number = data["number"].as_str().unwrap_or_default().to_owned();
            match act.as_str() {
                "energise" => (one.charged, one.since_ground) = (true, true),
                "ground" => {
                    one.since_ground = false;
                    one.on.insert(number);
                }
                "lift" => drop(one.on.remove(&number)),
                "release" => one.released = true,
                _ => {}
            }
        }
        let hazardous = all.into_iter().filter(|(_, one)| one.is_hazardous());
        hazardous.map(|(phase, _)| phase).collect()
    }
}

/// What is known of one conductor.
#[derive(Debug, Default)]
struct Ground {
    charged: bool,
    since_ground: bool,
    released: bool,
    on: BTreeSet<String>,
}

impl Ground {
    fn is_hazardous(&self) -> bool {
        self.since_ground || (self.charged && self.on.is_empty() && !self.released)
    }
}

fn parsed(bytes: &str) -> Value {
    serde_json::from_str(bytes).expect("what is kept is JSON")
}

/// The act of an event, and what belongs to it.
fn act(did: &Value) -> Option<(String, Value)> {
    match &did["act"] {
        Value::String(act) => Some((act.clone(), Value::Null)),
        Value::Object(act) => act.iter().next().map(|(act, data)| (act.clone(), data.clone())),
        _ => None,
    }
}

fn items(event: &Value) -> Vec<Item> {
    let what = &event["what"];
    let phase = |of: &Value| of["phase"].as_str().unwrap_or_default().to_owned();
    if let Some(rows) = what["readings"]["rows"].as_array() {
        let phase = phase(&what["readings"]);
        let pair = |row: &Value| -> Pair { (row["kv"].as_f64(), row["ua"].as_f64()) };
        return rows
            .iter()
            .map(|row| Item::Reading { phase: phase.clone(), pair: pair(row) })
            .collect();
    }
    if let (Some(kv), Some(ua)) =
        (what["metered"]["kv"].as_array(), what["metered"]["ua"].as_array())
    {
        let phase = phase(&what["metered"]);
        let sign = if what["metered"]["negative"] == true { -1.0 } else { 1.0 };
        let signed = |value: &Value| value.as_f64().map(|value| value * sign);
        return kv
            .iter()
            .zip(ua)
            .map(|(kv, ua)| Item::Reading { phase: phase.clone(), pair: (signed(kv), signed(ua)) })
            .collect();
    }
    let before = what["ticked"]["line"].as_str().or(what["role"]["role"].as_str());
    if let Some(before) = before {
        return vec![Item::Before { what: before.to_owned() }];
    }
    let did = &what["did"];
    match act(did) {
        Some((act, _)) if did["told"] != "seen" => vec![Item::Act { phase: phase(did), act }],
        _ => Vec::new(),
    }
}
