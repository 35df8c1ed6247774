//! The JSON Schema of what a record is made of: its head, its events, and the export of both.

use serde_json::{Map, Value, json};

/// One entry of a record: an event with its moment and its teller.
pub(super) fn entry() -> Value {
    let mut schema = object(&[
        ("at", or_null(object(&[("t_s", number()), ("wall", moment())]))),
        ("by", or_null(text())),
        ("what", one_of(&[events(), lone(&["closed"])].concat())),
    ]);
    schema["$schema"] = json!(DIALECT);
    schema["title"] = json!("Event of a record");
    schema["description"] = json!(
        "`t_s` of `at` counts from the beginning of the record, every other `t_s` from energising"
    );
    schema
}

/// The event that begins a record.
pub(super) fn head() -> Value {
    let mut schema = object(&[
        ("format", words(&["record-2", "record-3", session::RECORD_FORMAT])),
        ("kind", kinds()),
        ("source", or_null(text())),
        ("job", described("The job as it was, in the keys of the job file")),
        ("plan", described("The plan as it was, as `ohmstead plan --json` prints it")),
    ]);
    schema["$schema"] = json!(DIALECT);
    schema["title"] = json!("Head of a record");
    schema
}

/// An exported file.
pub(super) fn export() -> Value {
    let code = || json!({ "type": "string", "pattern": "^[0-9a-f]{64}$" });
    let event = object(&[("seq", whole()), ("code", code()), ("bytes", text())]);
    let chain =
        object(&[("writer", text()), ("seq", whole()), ("code", code()), ("events", list(event))]);
    let findings = object(&[
        ("id", text()),
        ("judged", moment()),
        ("method", text()),
        ("verdict", text()),
        ("of_code", text()),
        ("code", code()),
        ("bytes", text()),
    ]);
    let signature = object(&[
        ("id", text()),
        ("signed", moment()),
        ("name", text()),
        ("role", words(&["tester", "witness", "approver"])),
        ("remark", or_null(text())),
        ("of_code", text()),
        ("findings", or_null(text())),
        ("code", code()),
    ]);
    let record = object(&[
        ("record", text()),
        ("kind", kinds()),
        ("begun_by", text()),
        ("begun", moment()),
        ("findings", list(findings)),
        ("signatures", list(signature)),
        ("chains", list(chain)),
    ]);
    let mut schema = object(&[
        ("format", json!({ "const": store::export::EXPORT_FORMAT })),
        ("records", list(record)),
    ]);
    schema["$schema"] = json!(DIALECT);
    schema["title"] = json!("Export");
    schema["description"] =
        json!("`bytes` of event 0 are a `record_head`, of every other a `record_event`, as text");
    schema
}

fn kinds() -> Value {
    words(&["test", "practice", "simulated", "transcribed"])
}

const DIALECT: &str = "https://json-schema.org/draft/2020-12/schema";

fn events() -> Vec<Value> {
    let of = |name: &str, fields: &[(&str, Value)]| tagged(name, with_phase(fields));
    let clocks = || object(&[("boot", text()), ("monotonic_s", number())]);
    vec![
        tagged("begun", clocks()),
        of("energised", &[]),
        of("readings", &[("rows", list(reading()))]),
        of("marked", &[("t_s", number()), ("what", happening()), ("note", or_null(text()))]),
        tagged("metered", with_phase(&metered())),
        of(
            "did",
            &[
                ("t_s", or_null(number())),
                ("act", act()),
                ("told", words(&["said", "seen", "confirmed"])),
                ("breaches", list(text())),
            ],
        ),
        of("withdrawn", &[("t_s", number())]),
        tagged("source", source()),
        tagged("clock", clock()),
        tagged(
            "resumed",
            object(&[("gap_s", number()), ("same_boot", flag()), ("clocks", clocks())]),
        ),
        tagged(
            "advised",
            object(&[
                ("phase", text()),
                ("t_s", or_null(number())),
                ("strength", words(&["carry-on", "watch", "hold-here", "come-down"])),
                ("reason", text()),
                ("text", text()),
            ]),
        ),
        tagged("gives-back", gives_back()),
        tagged("ticked", object(&[("phase", or_null(text())), ("line", text()), ("on", flag())])),
        tagged(
            "overridden",
            object(&[
                ("phase", or_null(text())),
                ("line", text()),
                ("what", text()),
                ("reason", text()),
            ]),
        ),
        tagged("role", object(&[("role", roles()), ("news", role_news())])),
        tagged("scaled", scaled()),
        tagged("compared", compared()),
        tagged("beside", beside()),
        tagged("remark", object(&[("text", text())])),
    ]
}

fn gives_back() -> Value {
    let band = || object(&[("low", number()), ("mid", number()), ("high", number())]);
    let fitted = object(&[
        ("insulation_mohm", band()),
        ("absorption_strength", band()),
        ("absorption_exponent", band()),
    ]);
    let by = words(&["model", "late-charge", "time-at-voltage", "published-minimum"]);
    let told = object(&[
        ("at_voltage_s", number()),
        ("object", or_null(fitted)),
        ("ground_s", number()),
        ("longer_by", or_null(by)),
        ("rebound_kv", number()),
        ("rebound_usual_kv", number()),
        ("rebound_after_ground_kv", number()),
    ]);
    object(&[("phase", text()), ("t_s", number()), ("told", told)])
}

fn reading() -> Value {
    let numbers = ["kv", "ua", "kv_half_digit", "ua_half_digit", "range_kv", "range_ua"];
    let mut fields: Vec<(&str, Value)> = vec![("t_s", number())];
    fields.extend(numbers.map(|name| (name, or_null(number()))));
    fields.extend(["negative", "overload", "blank"].map(|name| (name, flag())));
    fields.extend(["link", "note"].map(|name| (name, or_null(text()))));
    fields.push(("line", or_null(whole())));
    object(&fields)
}

/// A batch of a meter's readings, a column for each quantity.
fn metered() -> Vec<(&'static str, Value)> {
    let numbers = ["kv_half_digit", "ua_half_digit", "range_kv", "range_ua"];
    let mut fields = vec![
        ("t_s", list(number())),
        ("kv", list(or_null(number()))),
        ("ua", list(or_null(number()))),
    ];
    fields.extend(numbers.map(|name| (name, or_null(number()))));
    fields.extend(["negative", "blank", "idle"].map(|name| (name, flag())));
    fields.push(("overload", list(whole())));
    fields.push(("link", or_null(text())));
    fields
}

fn act() -> Value {
    let lone_acts = lone(&[
        "lead",
        "check",
        "blank",
        "energise",
        "rise",
        "dwell",
        "hold",
        "trip",
        "flashover",
        "breakdown",
        "stop",
        "abort",
        "off",
        "tool",
        "again",
        "end",
        "reset",
        "zero",
        "release",
    ]);
    let number_of = ("number", text());
    let told = [
        tagged("residual", object(&[("kv", or_null(number()))])),
        tagged("ground", object(&[number_of.clone(), ("place", or_null(text()))])),
        tagged("lift", object(std::slice::from_ref(&number_of))),
        tagged("leave", object(&[number_of, ("to", text())])),
        tagged("cause", object(&[("text", text())])),
    ];
    one_of(&[lone_acts, told.to_vec()].concat())
}

fn source() -> Value {
    let told = [
        tagged("answers", object(&[("identity", or_null(text()))])),
        tagged("lost", object(&[("why", text())])),
        tagged("back", object(&[("gap_s", number())])),
        tagged("garbled", object(&[("sent", text()), ("count", whole())])),
        tagged("changed", object(&[("identity", text())])),
        tagged("meter-lost", object(&[("meter", text()), ("why", text())])),
        tagged("meter-back", object(&[("meter", text()), ("gap_s", number())])),
        tagged("meter-garbled", object(&[("meter", text()), ("sent", text()), ("count", whole())])),
        tagged("meter-changed", object(&[("meter", text()), ("identity", text())])),
        tagged(
            "slip",
            object(&[("kv", or_null(number())), ("ua", or_null(number())), ("times", number())]),
        ),
    ];
    one_of(&[lone(&["ended"]), told.to_vec()].concat())
}

/// Ranges and link from here on.
fn scaled() -> Value {
    object(&[
        ("range_kv", or_null(number())),
        ("range_ua", or_null(number())),
        ("link", or_null(text())),
    ])
}

/// A meter held against something known.
fn compared() -> Value {
    one_of(&[
        tagged("voltage", object(&[("known_kv", number()), ("read_kv", number())])),
        tagged("current", object(&[("known_ua", number()), ("read_ua", number())])),
    ])
}

/// What was read beside the object.
fn beside() -> Value {
    object(&[
        ("from", text()),
        ("guard_ua", or_null(number())),
        ("temperature_c", or_null(number())),
        ("humidity_percent", or_null(number())),
    ])
}

fn clock() -> Value {
    one_of(&[
        tagged("set", object(&[("by_s", number())])),
        tagged("stood", object(&[("for_s", number())])),
    ])
}

fn roles() -> Value {
    let keys: Vec<&str> = session::role::Role::ALL.iter().map(|one| one.key()).collect();
    words(&keys)
}

fn role_news() -> Value {
    let told = [
        tagged("called", object(&[("text", text())])),
        tagged("silent", object(&[("for_s", number())])),
    ];
    one_of(&[lone(&["here"]), told.to_vec()].concat())
}

fn happening() -> Value {
    let keys: Vec<&str> = session::Happening::ALL.iter().map(|one| one.key()).collect();
    words(&keys)
}

fn with_phase(fields: &[(&str, Value)]) -> Value {
    object(&[&[("phase", text())], fields].concat())
}

/// Words that stand for themselves.
fn lone(names: &[&str]) -> Vec<Value> {
    vec![words(names)]
}

/// One word that says what its value is of.
fn tagged(name: &str, value: Value) -> Value {
    object(&[(name, value)])
}

/// Exactly these keys, every one of them there.
fn object(fields: &[(&str, Value)]) -> Value {
    let names: Vec<&str> = fields.iter().map(|(name, _)| *name).collect();
    let properties: Map<String, Value> =
        fields.iter().map(|(name, value)| ((*name).to_owned(), value.clone())).collect();
    json!({
        "type": "object",
        "properties": properties,
        "required": names,
        "additionalProperties": false,
    })
}

fn described(what: &str) -> Value {
    json!({ "type": "object", "description": what })
}

fn one_of(kinds: &[Value]) -> Value {
    json!({ "anyOf": kinds })
}

fn or_null(value: Value) -> Value {
    one_of(&[value, json!({ "type": "null" })])
}

fn list(each: Value) -> Value {
    json!({ "type": "array", "items": each })
}

fn words(words: &[&str]) -> Value {
    json!({ "enum": words })
}

fn text() -> Value {
    json!({ "type": "string" })
}

fn moment() -> Value {
    json!({ "type": "string", "format": "date-time" })
}

fn number() -> Value {
    json!({ "type": "number" })
}

fn whole() -> Value {
    json!({ "type": "integer", "minimum": 0 })
}

fn flag() -> Value {
    json!({ "type": "boolean" })
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::{entry, export, head};

    /// Whether a value meets a schema, of the words that are used here.
    fn meets(value: &Value, schema: &Value) -> bool {
        let all = |found: Option<&Value>, check: &dyn Fn(&Value) -> bool| found.is_none_or(check);
        let is = |kind: &Value| match kind.as_str() {
            Some("object") => value.is_object(),
            Some("array") => value.is_array(),
            Some("string") => value.is_string(),
            Some("number") => value.is_number(),
            Some("integer") => value.is_u64(),
            Some("boolean") => value.is_boolean(),
            Some("null") => value.is_null(),
            _ => panic!("{kind} is no type"),
        };
        let list = |value: &Value| value.as_array().cloned().unwrap_or_default();
        let known = |name: &String| schema["properties"].get(name);
        all(schema.get("type"), &is)
            && all(schema.get("const"), &|only| value == only)
            && all(schema.get("enum"), &|words| list(words).contains(value))
            && all(schema.get("anyOf"), &|kinds| list(kinds).iter().any(|one| meets(value, one)))
            && all(schema.get("items"), &|each| list(value).iter().all(|one| meets(one, each)))
            && all(schema.get("required"), &|names| {
                list(names).iter().all(|name| value.get(name.as_str().unwrap_or("")).is_some())
            })
            && all(schema.get("properties"), &|_| {
                value.as_object().is_some_and(|fields| {
                    fields
                        .iter()
                        .all(|(name, one)| known(name).is_some_and(|kind| meets(one, kind)))
                })
            })
    }

    #[test]
    fn what_import_reads_meets_the_schema_of_an_export() {
        let code = "ba7816bf8f01cfea".repeat(4);
        let at = "2026-11-03T08:41:12Z";
        let given = json!({ "format": store::export::EXPORT_FORMAT, "records": [{
            "record": "r", "kind": "test", "begun_by": "w", "begun": at,
            "findings": [{ "id": "f", "judged": at, "method": "m", "verdict": "accept",
                "of_code": code, "code": code, "bytes": "{}" }],
            "signatures": [{ "id": "s", "signed": at, "name": "n", "role": "tester",
                "remark": null, "of_code": code, "findings": "f", "code": code }],
            "chains": [{ "writer": "w", "seq": 0, "code": code,
                "events": [{ "seq": 0, "code": code, "bytes": "{}" }] }],
        }] });
        let bytes = serde_json::to_vec(&given).expect("plain data");
        store::Export::parse(&bytes).expect("an export as it is written");
        assert!(meets(&given, &export()), "{given:#}");
    }

    /// What is recorded of several meters, their ranges and checks, and of loggers.
    fn of_meters() -> Vec<Value> {
        vec![
            json!({ "source": { "meter-lost": { "meter": "m", "why": "w" } } }),
            json!({ "source": { "meter-back": { "meter": "m", "gap_s": 1.5 } } }),
            json!({ "source": { "meter-garbled": { "meter": "m", "sent": "?", "count": 1 } } }),
            json!({ "source": { "meter-changed": { "meter": "m", "identity": "i" } } }),
            json!({ "source": { "slip": { "kv": 30000.0, "ua": null, "times": 0.001 } } }),
            json!({ "scaled": { "range_kv": 40.0, "range_ua": null, "link": null } }),
            json!({ "compared": { "voltage": { "known_kv": 10.0, "read_kv": 9.98 } } }),
            json!({ "compared": { "current": { "known_ua": 0.0, "read_ua": 0.02 } } }),
            json!({ "beside": { "from": "m", "guard_ua": 1.5, "temperature_c": null,
                "humidity_percent": null } }),
        ]
    }

    #[test]
    fn what_is_written_meets_the_schema() {
        let at = json!({ "t_s": 1.5, "wall": "2026-11-03T08:41:12Z" });
        let clocks = json!({ "boot": "b", "monotonic_s": 9.0 });
        let did = |act: Value| {
            json!({ "did": {
                "phase": "A", "t_s": null, "act": act, "told": "seen", "breaches": ["state"],
            } })
        };
        let row = json!({ "phase": "A", "rows": [{
            "t_s": 1.0, "kv": null, "ua": 2.0, "kv_half_digit": null, "ua_half_digit": 0.5,
        }] });
        let batch = json!({ "metered": {
            "phase": "A", "t_s": [1.0], "kv": [null], "ua": [2.0], "kv_half_digit": 0.05,
            "ua_half_digit": null, "negative": false, "overload": [0], "blank": false,
            "idle": false, "range_kv": 20.0, "range_ua": null, "link": null,
        } });
        let events = [
            json!({ "begun": clocks }),
            json!({ "energised": { "phase": "A" } }),
            json!({ "readings": row }),
            json!({ "marked": { "phase": "A", "t_s": 1.0, "what": "hold", "note": null } }),
            batch,
            did(json!("energise")),
            did(json!({ "residual": { "kv": null } })),
            did(json!({ "ground": { "number": "3", "place": "far end" } })),
            did(json!({ "leave": { "number": "3", "to": "the shift" } })),
            json!({ "withdrawn": { "phase": "A", "t_s": 1.0 } }),
            json!({ "source": { "garbled": { "sent": "?", "count": 2 } } }),
            json!({ "source": "ended" }),
            json!({ "clock": { "set": { "by_s": -3600.0 } } }),
            json!({ "resumed": { "gap_s": 4.0, "same_boot": true, "clocks": clocks } }),
            json!({ "advised": {
                "phase": "A", "t_s": 61.5, "strength": "watch", "reason": "above-band",
                "text": "current above what the plan expects",
            } }),
            json!({ "gives-back": { "phase": "A", "t_s": 1261.5, "told": {
                "at_voltage_s": 1261.5, "object": null, "ground_s": 5100.0,
                "longer_by": "time-at-voltage", "rebound_kv": 0.24, "rebound_usual_kv": 0.1,
                "rebound_after_ground_kv": 0.01,
            } } }),
            json!({ "ticked": { "phase": null, "line": "barrier closed", "on": true } }),
            json!({ "overridden": {
                "phase": null, "line": "barrier", "what": "Barrier up.", "reason": "a wall",
            } }),
            json!({ "role": { "role": "far-end", "news": "here" } }),
            json!({ "role": { "role": "watch", "news": { "called": { "text": "rain" } } } }),
            json!({ "role": { "role": "far-end", "news": { "silent": { "for_s": 300.0 } } } }),
            json!({ "remark": { "text": "rain" } }),
            json!("closed"),
        ];
        for what in events.into_iter().chain(of_meters()) {
            let given = json!({ "at": at, "by": null, "what": what });
            let read: session::Entry = serde_json::from_value(given).expect("it is well formed");
            let written = serde_json::to_value(&read).expect("plain data");
            assert!(meets(&written, &entry()), "{written:#}");
            for broken in [json!({ "extra": 1 }), json!(7), json!("open")] {
                let mut broken_entry = written.clone();
                broken_entry["what"] = broken;
                assert!(!meets(&broken_entry, &entry()), "{broken_entry:#}");
            }
        }
        let begins = json!({
            "format": session::RECORD_FORMAT, "kind": "simulated", "source": null, "job": {},
            "plan": {},
        });
        assert!(meets(&begins, &head()));
        let mut other = begins;
        other["format"] = json!("record-0");
        assert!(!meets(&other, &head()));
    }
}
