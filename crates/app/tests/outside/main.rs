//! What the outside may rely on: commands, exit statuses, files and the keys of every answer, seen
//! through the built program alone.

mod findings;
mod plans;
mod program;
mod simulation;
mod years;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use serde_json::Value;

/// Runs the program with no terminal and nothing to read.
fn ohmstead(words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_ohmstead"))
        .args(words)
        .stdin(Stdio::null())
        .output()
        .expect("the program was built for this test")
}

fn said(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).expect("errors are UTF-8")
}

/// The answer in JSON of a command that ends in `status`.
fn answer(words: &[&str], status: i32) -> Value {
    let output = ohmstead(words);
    assert_eq!(output.status.code(), Some(status), "{words:?}: {}", said(&output));
    serde_json::from_slice(&output.stdout).expect("one JSON value and nothing else")
}

/// A job that lies beside this file.
fn job(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/outside").join(name);
    path.to_str().expect("a plain path").to_owned()
}

/// An empty folder of one test's own.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("outside").join(name);
        if path.exists() {
            fs::remove_dir_all(&path).expect("an old run's folder is ours to remove");
        }
        fs::create_dir_all(&path).expect("cargo gives a folder for this");
        Self(path)
    }

    fn path(&self, name: &str) -> String {
        self.0.join(name).to_str().expect("a plain path").to_owned()
    }

    fn write(&self, name: &str, text: &str) -> String {
        let path = self.path(name);
        fs::write(&path, text).expect("the folder is ours");
        path
    }

    /// A job beside this file with one text put for another.
    fn changed(&self, name: &str, from: &str, to: &str) -> String {
        let text = fs::read_to_string(job(name)).expect("it is in the tree");
        assert!(text.contains(from), "{name} has no {from}");
        self.write(name, &text.replacen(from, to, 1))
    }

    fn files(&self) -> Vec<String> {
        let entries = fs::read_dir(&self.0).expect("it is there");
        let name = |entry: std::io::Result<fs::DirEntry>| {
            entry.expect("it is there").file_name().to_string_lossy().into_owned()
        };
        let mut names: Vec<String> = entries.map(name).collect();
        names.sort();
        names
    }
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

fn close(value: &Value, expected: f64, relative: f64) {
    let value = number(value);
    assert!((value - expected).abs() <= relative * expected.abs(), "{value} is not {expected}");
}

fn list(value: &Value) -> &Vec<Value> {
    value.as_array().unwrap_or_else(|| panic!("{value} is no list"))
}

fn text(value: &Value) -> &str {
    value.as_str().unwrap_or_else(|| panic!("{value} is no text"))
}

/// Every one of these keys is there, `null` or not.
fn has(value: &Value, keys: &str) {
    let object = value.as_object().unwrap_or_else(|| panic!("{value} is no object"));
    for key in keys.split_whitespace() {
        assert!(object.contains_key(key), "no {key} in {value:#}");
    }
}

/// The same, where the object is not `null` as a whole.
fn has_or_null(value: &Value, keys: &str) {
    if !value.is_null() {
        has(value, keys);
    }
}

fn is_one_of(value: &Value, words: &str) {
    assert!(words.split_whitespace().any(|word| value == word), "{value} is none of {words}");
}

/// Units that a key may end in.
const UNITS: &str = "kv kv_per_s v ua ma w s j nf mohm kohm m mm percent c kj va mva nf_per_km cm \
    min h pf um kpa g_per_m3 percent_per_km";

/// Numbers that have no unit, or whose unit stands beside them.
const BARE: &str = "value limit expanded_u polarization_index absorption_ratio exponent_n \
    absorption_strength absorption_exponent index_minimum relative_density humidity_factor \
    kt kt_expanded_u relative_permittivity number value_as_read median_value correction_factor \
    margin_ratio scatter_ratio deviations_number per_year band times_at_voltage";

fn ends_in_unit(key: &str) -> bool {
    UNITS.split_whitespace().any(|unit| key == unit || key.ends_with(&format!("_{unit}")))
}

/// Walks an answer: numbers stand under keys that end in their unit, and no text is a number.
fn check_units(value: &Value, key: &str) {
    match value {
        Value::Object(fields) => {
            for (name, field) in fields {
                let is_band = ["low", "mid", "high"].contains(&name.as_str());
                check_units(field, if is_band { key } else { name });
            }
        }
        Value::Array(items) => items.iter().for_each(|item| check_units(item, key)),
        Value::Number(_) => {
            let bare = BARE.split_whitespace().any(|bare| bare == key);
            assert!(bare || ends_in_unit(key), "{key} = {value} does not end in its unit");
        }
        Value::String(found) => {
            let is_number = found.parse::<f64>().is_ok();
            assert!(!(is_number && ends_in_unit(key)), "{key} = {value} is a number as text");
        }
        Value::Null | Value::Bool(_) => {}
    }
}
