//! The form and the job file: each field writes one key, and what the form does not know stays.
//!
//! What cannot be read is written as it was typed, in quotes, so that nothing is lost and the
//! reader of job files says at its key what to write instead.

use std::hash::{DefaultHasher, Hash as _, Hasher as _};

use plan::job_file::{CLASS_TABLES, table_of};
use plan::keys::{InputFault, JOB, Key, Kind};
use plan::{Job, Plan};
use standards::Library;
use toml_edit::{Array, ArrayOfTables, DocumentMut, Item, Table, TableLike, Value};

use super::number;

/// Names and values as the browser sends them, in its order.
pub(super) type Posted = Vec<(String, String)>;

/// The table of the job file that other sets at hand stand in.
pub(super) const AT_HAND: &str = "set_at_hand";

/// A job file that is being written.
#[derive(Clone, Debug, Default)]
pub(super) struct Given {
    doc: DocumentMut,
}

/// What can be made of it.
pub(super) struct Made {
    /// The job file that counts: tables of another class left out.
    pub(super) text: String,
    pub(super) job: Result<Job, Vec<InputFault>>,
    /// Keys without which there is no job, not written yet.
    pub(super) asked: Vec<&'static str>,
    /// The plan, as soon as all it hangs on is there.
    pub(super) plan: Option<Plan>,
}

impl Made {
    /// Changes when another record would be begun.
    pub(super) fn sign(&self) -> String {
        let mut hasher = DefaultHasher::new();
        self.text.hash(&mut hasher);
        format!("{:016x}", hasher.finish())
    }
}

impl Given {
    /// A text that is TOML; `None` where it is not.
    pub(super) fn read(text: &str) -> Option<Self> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        text.parse().ok().map(|doc| Self { doc })
    }

    /// The job file as far as it is written.
    pub(super) fn text(&self) -> String {
        self.doc.to_string()
    }

    /// What a field shows; empty where the key is left out. `at` counts the meters.
    pub(super) fn shown(&self, key: &Key, at: usize) -> String {
        self.item(key, at).map(|item| as_typed(key, item)).unwrap_or_default()
    }

    /// How many meters there are.
    pub(super) fn meters(&self) -> usize {
        match self.doc.get("meter") {
            Some(Item::ArrayOfTables(list)) => list.len(),
            Some(Item::Value(Value::Array(list))) => list.len(),
            _ => 0,
        }
    }

    /// The names of other sets at hand, in their order; empty where one has none.
    pub(super) fn at_hand(&self) -> Vec<String> {
        let name =
            |set: &Table| set.get("id").and_then(Item::as_str).unwrap_or_default().to_owned();
        match self.doc.get(AT_HAND) {
            Some(Item::ArrayOfTables(list)) => list.iter().map(name).collect(),
            Some(Item::Value(Value::Array(list))) => {
                let tables = list.iter().filter_map(Value::as_inline_table);
                tables.map(|set| name(&set.clone().into_table())).collect()
            }
            _ => Vec::new(),
        }
    }

    /// Takes one of them out again.
    pub(super) fn put_away(&mut self, at: usize) {
        self.as_tables(AT_HAND);
        let list = self.doc.get_mut(AT_HAND).and_then(Item::as_array_of_tables_mut);
        let Some(list) = list.filter(|list| at < list.len()) else { return };
        list.remove(at);
        if list.is_empty() {
            self.doc.remove(AT_HAND);
        }
    }

    /// The name of the set that is planned with; empty where none is written.
    pub(super) fn set_name(&self) -> &str {
        let id = self.doc.get("set").and_then(|set| set.as_table_like()?.get("id")?.as_str());
        id.unwrap_or_default()
    }

    /// The class, where one is written.
    pub(super) fn class(&self) -> Option<&str> {
        self.doc.get("asset")?.as_table_like()?.get("class")?.as_str()
    }

    /// The table that the class has of its own.
    pub(super) fn own_table(&self) -> Option<&'static str> {
        self.class().and_then(table_of)
    }

    /// The owner's name for the object; empty where none is written.
    pub(super) fn asset(&self) -> &str {
        let id = self.doc.get("asset").and_then(|asset| asset.as_table_like()?.get("id")?.as_str());
        id.unwrap_or_default()
    }

    fn item(&self, key: &Key, at: usize) -> Option<&Item> {
        let mut names = key.path.split('.');
        let leaf = names.next_back()?;
        if key.table() == "meter" {
            return match self.doc.get("meter")? {
                Item::ArrayOfTables(list) => list.get(at)?.get(leaf),
                _ => None,
            };
        }
        let mut table: &dyn TableLike = self.doc.as_table();
        for name in names {
            table = table.get(name)?.as_table_like()?;
        }
        table.get(leaf)
    }

    /// Writes what was typed. A key whose field was not sent stays as it is, and so does one whose
    /// field shows what the key says already.
    pub(super) fn take(&mut self, posted: &Posted) {
        for key in JOB.iter().filter(|key| is_value(key) && key.table() != "meter") {
            let Some(typed) = typed(posted, key.path) else { continue };
            if typed == self.shown(key, 0) {
                continue;
            }
            let written = written(key, &typed);
            if let Some(table) = self.table(key.table(), written.is_some()) {
                put(table, key.leaf(), written);
            }
            self.sweep(key.table());
        }
        self.take_meters(posted);
    }

    /// The table at this path, made where it is asked for and nothing else stands there.
    fn table(&mut self, path: &str, make: bool) -> Option<&mut dyn TableLike> {
        let mut table: &mut dyn TableLike = self.doc.as_table_mut();
        for name in path.split('.') {
            if !table.contains_key(name) {
                if !make {
                    return None;
                }
                table.insert(name, Item::Table(Table::new()));
            }
            table = table.get_mut(name)?.as_table_like_mut()?;
        }
        Some(table)
    }

    /// Takes a table out that lost its last key; without it all of it is unknown again.
    fn sweep(&mut self, path: &str) {
        let (outer, leaf) = path.rsplit_once('.').unwrap_or(("", path));
        let outer = if outer.is_empty() {
            Some(self.doc.as_table_mut() as &mut dyn TableLike)
        } else {
            self.table(outer, false)
        };
        let Some(outer) = outer else { return };
        let is_empty = |item: &Item| item.as_table_like().is_some_and(TableLike::is_empty);
        if outer.get(leaf).is_some_and(is_empty) {
            outer.remove(leaf);
        }
    }

    fn take_meters(&mut self, posted: &Posted) {
        let sent = |at: usize| posted.iter().any(|(name, _)| name.starts_with(&meter_name(at, "")));
        if !sent(0) {
            return;
        }
        self.as_tables("meter");
        let keys = || JOB.iter().filter(|key| key.table() == "meter");
        for at in (0..).take_while(|&at| sent(at)) {
            for key in keys() {
                let Some(typed) = typed(posted, &meter_name(at, key.leaf())) else { continue };
                if typed != self.shown(key, at) {
                    self.put_meter(at, key.leaf(), written(key, &typed));
                }
            }
        }
        if let Some(list) = self.doc.get_mut("meter").and_then(Item::as_array_of_tables_mut) {
            list.retain(|one| !one.is_empty());
            if list.is_empty() {
                self.doc.remove("meter");
            }
        }
    }

    /// A list in brackets becomes the same list of tables.
    fn as_tables(&mut self, name: &str) {
        let inline = |item: &Item| item.as_array().is_some_and(is_of_tables);
        if self.doc.get(name).is_some_and(inline)
            && let Some(item) = self.doc.remove(name)
            && let Ok(list) = item.into_array_of_tables()
        {
            self.doc.insert(name, Item::ArrayOfTables(list));
        }
    }

    fn put_meter(&mut self, at: usize, leaf: &str, written: Option<Value>) {
        let list = self.doc.entry("meter").or_insert(Item::ArrayOfTables(ArrayOfTables::new()));
        let Some(list) = list.as_array_of_tables_mut() else { return };
        while list.len() <= at {
            list.push(Table::new());
        }
        if let Some(table) = list.get_mut(at) {
            put(table, leaf, written);
        }
    }

    /// Takes a kept thing over: every key of its table is replaced.
    pub(super) fn fill(&mut self, path: &str, kept: &str) {
        let Ok(kept) = kept.parse::<DocumentMut>() else { return };
        if ["meter", AT_HAND].contains(&path) {
            self.as_tables(path);
            let list = self.doc.entry(path).or_insert(Item::ArrayOfTables(ArrayOfTables::new()));
            if let Some(list) = list.as_array_of_tables_mut() {
                list.push(kept.as_table().clone());
            }
        } else {
            self.doc.insert(path, Item::Table(kept.as_table().clone()));
        }
    }

    /// Sets one text.
    pub(super) fn set(&mut self, path: &str, text: &str) {
        self.take(&vec![(path.to_owned(), text.to_owned())]);
    }

    /// What can be made of it.
    pub(super) fn made(&self, library: &Library) -> Made {
        let doc = self.counting();
        let text = doc.to_string();
        let job = plan::job_file::parse(&text);
        let asked = match &job {
            Ok(_) => Vec::new(),
            Err(faults) => faults.iter().filter_map(missing).collect(),
        };
        let plan = match &job {
            Ok(job) => Some(plan::plan(job, library)),
            // A name decides nothing of the plan; it may wait.
            Err(faults) if faults.len() == asked.len() && asked == ["asset.id"] => {
                let mut named = Self { doc };
                named.set("asset.id", "not named yet");
                plan::job_file::parse(&named.text()).ok().map(|job| plan::plan(&job, library))
            }
            Err(_) => None,
        };
        Made { text, job, asked, plan }
    }

    /// Without tables of another class, and with those that every job has.
    fn counting(&self) -> DocumentMut {
        let mut doc = self.doc.clone();
        for needed in ["asset", "test", "set"] {
            if !doc.contains_key(needed) {
                doc.insert(needed, Item::Table(Table::new()));
            }
        }
        let own = self.own_table();
        if let Some(asset) = doc.get_mut("asset").and_then(Item::as_table_like_mut) {
            for path in CLASS_TABLES {
                let leaf = path.trim_start_matches("asset.");
                if own == Some(path) {
                    if !asset.contains_key(leaf) {
                        asset.insert(leaf, Item::Table(Table::new()));
                    }
                } else if self.class().is_some() {
                    asset.remove(leaf);
                }
            }
        }
        doc
    }
}

/// The name of a field of a meter.
pub(super) fn meter_name(at: usize, leaf: &str) -> String {
    format!("meter.{at}.{leaf}")
}

fn missing(fault: &InputFault) -> Option<&'static str> {
    let is_missing = matches!(fault.fault, plan::keys::FaultKind::Missing { .. });
    JOB.iter().find(|key| is_missing && key.path == fault.key).map(|key| key.path)
}

fn is_value(key: &Key) -> bool {
    !matches!(key.kind, Kind::Table | Kind::Tables)
}

fn is_of_tables(list: &Array) -> bool {
    list.iter().all(Value::is_inline_table)
}

/// What was typed into a field; several boxes of one name with spaces between. `None` where the
/// field was not sent.
fn typed(posted: &Posted, name: &str) -> Option<String> {
    let mut all = posted.iter().filter(|(sent, _)| sent == name).peekable();
    all.peek()?;
    let full = all.map(|(_, value)| value.trim()).filter(|value| !value.is_empty());
    Some(full.collect::<Vec<_>>().join(" "))
}

/// Writes or takes out one key, its remark left where it is.
fn put(table: &mut dyn TableLike, leaf: &str, written: Option<Value>) {
    match (written, table.get_mut(leaf)) {
        (None, _) => drop(table.remove(leaf)),
        (Some(mut value), Some(Item::Value(there))) => {
            *value.decor_mut() = there.decor().clone();
            *there = value;
        }
        (Some(value), _) => drop(table.insert(leaf, Item::Value(value))),
    }
}

/// What a key says, as its field shows it.
fn as_typed(key: &Key, item: &Item) -> String {
    match item {
        Item::Value(Value::Array(list)) if matches!(key.kind, Kind::Texts) => {
            names(&list.iter().map(plain).collect::<Vec<_>>())
        }
        Item::Value(Value::Array(list)) => list.iter().map(plain).collect::<Vec<_>>().join(" "),
        Item::Value(value) => plain(value),
        Item::None => String::new(),
        other => other.to_string().trim().to_owned(),
    }
}

fn plain(value: &Value) -> String {
    match value {
        Value::String(text) => text.value().clone(),
        Value::Float(number) if number.value().is_finite() => number.value().to_string(),
        Value::Integer(number) => number.value().to_string(),
        other => other.clone().decorated("", "").to_string(),
    }
}

/// Names in one line, by the plainest sign that none of them has.
fn names(all: &[String]) -> String {
    let has = |sign: &[char]| all.iter().any(|name| name.contains(sign));
    let sign = match (has(&[',']), has(&[' ', '\t', ';'])) {
        (false, false) => return all.join(" "),
        (false, true) => ", ",
        (true, _) => "; ",
    };
    let end = if all.len() == 1 { sign.trim() } else { "" };
    format!("{}{end}", all.join(sign))
}

fn split_names(typed: &str) -> Vec<&str> {
    let by = if typed.contains(',') && !typed.contains(';') { ',' } else { ';' };
    let parts: Vec<&str> = if typed.contains(by) {
        typed.split(by).map(str::trim).collect()
    } else {
        typed.split_whitespace().collect()
    };
    parts.into_iter().filter(|part| !part.is_empty()).collect()
}

/// The value that a key gets; what cannot be read stays as it was typed.
fn written(key: &Key, typed: &str) -> Option<Value> {
    if typed.is_empty() {
        return None;
    }
    let read = match key.kind {
        Kind::Texts => Some(Value::from_iter(split_names(typed))),
        Kind::Choices(_) => Some(Value::from_iter(typed.split_whitespace())),
        Kind::Flag => typed.parse::<bool>().ok().map(Value::from),
        Kind::Date => typed.parse::<toml_edit::Datetime>().ok().map(Value::from),
        Kind::Number(_) | Kind::OneOf(_) => number::one(typed, key.unit).map(number::value),
        Kind::Whole(_) => number::one(typed, key.unit).map(number::whole_value),
        Kind::Numbers(_) => {
            let all = number::several(typed, key.unit);
            all.map(|all| Value::from_iter(all.into_iter().map(number::value)))
        }
        Kind::Text | Kind::Choice(_) | Kind::Table | Kind::Tables => None,
    };
    Some(read.unwrap_or_else(|| Value::from(typed)))
}

#[cfg(test)]
mod tests {
    use std::path::{Path, PathBuf};

    use super::super::amiss;
    use super::*;

    fn library() -> Library {
        Library::published()
    }

    /// Every job file of the examples and of the bad-input corpus that is a text.
    fn files() -> Vec<(PathBuf, String)> {
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let folders = [root.join("../../docs/examples"), root.join("tests/inputs/jobs")];
        let all = folders.iter().flat_map(|folder| std::fs::read_dir(folder).expect("it is there"));
        let paths = all.map(|one| one.expect("it can be read").path());
        let jobs = paths.filter(|path| path.extension().is_some_and(|end| end == "toml"));
        jobs.filter_map(|path| Some((path.clone(), std::fs::read_to_string(path).ok()?))).collect()
    }

    /// What a browser sends of this form: every field, as it is shown.
    fn sent(given: &Given) -> Posted {
        let mut posted = Posted::new();
        for key in JOB.iter().filter(|key| is_value(key) && key.table() != "meter") {
            posted.push((key.path.to_owned(), given.shown(key, 0)));
        }
        for at in 0..=given.meters() {
            for key in JOB.iter().filter(|key| key.table() == "meter") {
                posted.push((meter_name(at, key.leaf()), given.shown(key, at)));
            }
        }
        posted
    }

    #[test]
    fn a_job_comes_out_of_the_form_as_it_went_in() {
        let mut read = 0;
        for (path, text) in files() {
            let Ok(job) = plan::job_file::parse(&text) else { continue };
            let mut given = Given::read(&text).expect("it was read before");
            let posted = sent(&given);
            let before = given.text();
            given.take(&posted);
            assert_eq!(given.text(), before, "{}: nothing was typed", path.display());
            let mut fresh = Given::default();
            fresh.take(&posted);
            let again = plan::job_file::parse(&fresh.text());
            assert_eq!(again, Ok(job), "{}\n{}", path.display(), fresh.text());
            read += 1;
        }
        assert!(read >= 10, "{read} files were read");
    }

    #[test]
    fn what_cannot_be_read_is_kept_as_it_was_typed() {
        let text = include_str!("../../../../../docs/examples/cable.toml");
        let check = |path: &str, typed: &str, told: &str| {
            let mut given = Given::read(text).expect("the example is good");
            given.set(path, typed);
            let key = JOB.iter().find(|key| key.path == path).expect("a key");
            let given = Given::read(&given.text()).expect("it is kept as a text");
            assert_eq!(given.shown(key, 0), typed);
            let made = given.made(&library());
            assert!(made.plan.is_none(), "{path}: no plan is made without it");
            let faults = made.job.expect_err("it cannot be read");
            assert_eq!(faults.len(), 1, "{faults:?}");
            let said = amiss::said(&faults[0], key, typed);
            assert!(said.starts_with(told), "{said}");
            assert!(!said.contains(path) && !said.contains('`'), "{said}");
        };
        check("asset.rated_kv", "15 x", "Write one number of kV");
        check("asset.rated_kv", "15,000", "Write one number of kV with one decimal sign");
        check("asset.rated_kv", "15000", "Write 15 if you meant 15000 V.");
        check("asset.cable.length_m", "-3", "Write a number above 0 and at most 200000.");
        check("asset.cable.insulation", "wool", "Choose one of these.");
        check("asset.cable.insulation_level_percent", "150", "Choose one of these.");
        check("asset.cable.insulation_diameter_mm", "x", "Write one number of mm");
        check("set.voltmeter_ranges_kv", "20 x", "Write numbers of kV with spaces between");
        check("set.voltmeter_ranges_kv", "40 20 80", "Write the numbers of “Voltmeter");
        check("set.trip_ma", "5", "Write 2 values");
        check("set.calibrated", "03.02.2026", "Write a day of the calendar as 2026-11-03");
        check("set.calibration_interval_months", "1.5", "Write a whole number");
        check("asset.conductors", "A A", "Write each name");
    }

    #[test]
    fn a_typed_value_is_the_one_in_the_job() {
        let text = include_str!("../../../../../docs/examples/cable.toml");
        let check = |path: &str, typed: &str, line: &str| {
            let mut given = Given::read(text).expect("the example is good");
            given.set(path, typed);
            let written = given.text();
            assert!(written.lines().any(|one| one == line), "{line}\n{written}");
            plan::job_file::parse(&written).expect("it is still a job");
        };
        check("asset.cable.length_m", "640,5", "length_m = 640.5");
        // A foot is 0.3048 m by definition.
        check("asset.cable.length_m", "2100 ft", "length_m = 640.08");
        check("set.trip_ma", "0,5 10", "trip_ma = [0.5, 10.0]");
        check("asset.conductors", "red, pale blue", "conductors = [\"red\", \"pale blue\"]");
        check("asset.cable.other_insulations", "pilc pe", "other_insulations = [\"pilc\", \"pe\"]");
        check("asset.cable.separable_connectors", "true", "separable_connectors = true");
        check("test.date", "2026-12-01", "date = 2026-12-01");
        check("set.id", "", "rated_kv = 80.0");
    }

    #[test]
    fn what_the_form_does_not_know_stays() {
        let text = "# ours\n[asset]\nid = \"X\" # tag\nwallpaper = \"blue\"\n";
        let mut given = Given::read(text).expect("it is TOML");
        given.set("asset.id", "Y");
        assert_eq!(given.text(), text.replace('X', "Y"));
    }

    #[test]
    fn an_empty_field_is_a_key_left_out() {
        let text = include_str!("../../../../../docs/examples/gloves.toml");
        let mut given = Given::read(text).expect("the example is good");
        for leaf in ["resistance_kohm", "rated_kv", "rated_j"] {
            given.set(&format!("discharge_tool.{leaf}"), " ");
        }
        let job = plan::job_file::parse(&given.text()).expect("a job");
        assert_eq!(job.discharge_tool, None, "nothing of the tool is known any more");
    }

    #[test]
    fn another_class_keeps_what_was_typed_for_the_first() {
        let text = include_str!("../../../../../docs/examples/cable.toml");
        let mut given = Given::read(text).expect("the example is good");
        given.set("asset.class", "motor");
        let made = given.made(&library());
        let job = made.job.expect("a job");
        assert!(job.asset.cable.is_none() && job.asset.machine.is_some());
        given.set("asset.class", "cable");
        assert_eq!(given.made(&library()).job, plan::job_file::parse(text));
    }

    #[test]
    fn the_plan_waits_for_all_but_the_name() {
        let mut given = Given::default();
        let asked = |given: &Given| given.made(&library()).asked;
        assert_eq!(asked(&given), ["asset.id", "asset.class", "test.purpose"]);
        given.set("asset.class", "cable");
        given.set("asset.rated_kv", "15");
        assert!(given.made(&library()).plan.is_none());
        given.set("test.purpose", "acceptance");
        let made = given.made(&library());
        assert_eq!(made.asked, ["asset.id"]);
        assert!(made.plan.is_some_and(|plan| plan.is_refused()), "its insulation is not known");
        given.set("asset.cable.insulation", "epr");
        given.set("asset.cable.in_service_years", "0");
        let made = given.made(&library());
        assert!(made.job.is_err(), "it cannot begin without a name");
        assert!(made.plan.is_some_and(|plan| !plan.is_refused()));
    }

    /// Derived: a list in brackets is the same list; what is taken out leaves no empty list.
    #[test]
    fn sets_at_hand_come_and_go() {
        let text = include_str!("../../../../../docs/examples/cable.toml");
        let mut given = Given::read(text).expect("the example is good");
        assert_eq!((given.set_name(), given.at_hand().len()), ("HV set 2", 0));
        given.fill(AT_HAND, "id = \"small\"\nrated_kv = 40.0\nrated_ma = 5.0\n");
        given.fill(AT_HAND, "id = \"large\"\nrated_kv = 120.0\nrated_ma = 5.0\n");
        assert_eq!(given.at_hand(), ["small", "large"]);
        let made = given.made(&library());
        let plan = made.plan.expect("a plan");
        // Common practice, no source: 65 kV is beyond a set of 40 kV.
        let fit: Vec<(&str, bool)> =
            plan.sets.iter().map(|set| (set.id.as_str(), set.fit)).collect();
        assert_eq!(fit, [("HV set 2", true), ("small", false), ("large", true)]);
        given.put_away(0);
        given.put_away(7);
        assert_eq!(given.at_hand(), ["large"]);
        given.put_away(0);
        assert_eq!(given.text(), text);
        let inline = format!("set_at_hand = [{{ id = \"x\" }}, {{ id = \"y\" }}]\n{text}");
        let mut given = Given::read(&inline).expect("it is TOML");
        assert_eq!(given.at_hand(), ["x", "y"]);
        given.put_away(0);
        assert_eq!(given.at_hand(), ["y"]);
    }

    #[test]
    fn meters_come_and_go() {
        let post = |given: &mut Given, at: usize, reads: &str, ratio: &str| {
            let name = |leaf: &str| meter_name(at, leaf);
            given.take(&vec![
                (name("reads"), reads.to_owned()),
                (name("query"), String::new()),
                (name("ratio"), ratio.to_owned()),
            ]);
        };
        let mut given = Given::default();
        post(&mut given, 0, "", "");
        assert_eq!(given.text(), "");
        post(&mut given, 0, "voltage", "10000");
        given.take(&vec![
            (meter_name(0, "reads"), "voltage".to_owned()),
            (meter_name(1, "reads"), "current".to_owned()),
        ]);
        assert_eq!(given.meters(), 2);
        post(&mut given, 0, "", "");
        let left = "[[meter]]\nreads = \"current\"\n";
        assert_eq!((given.meters(), given.text().trim_start()), (1, left));
    }
}
