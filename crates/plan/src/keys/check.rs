//! A TOML text held against a table of keys: plain values, or everything that is wrong.

use std::collections::BTreeMap;

use serde::de::DeserializeOwned;
use serde_json::{Map, Value};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::fault::{FaultKind, InputFault};
use super::{Key, Kind};
use super::{slips, value};

/// A text that was held against a table of keys.
#[derive(Debug)]
pub struct Checked {
    values: Value,
    lines: BTreeMap<String, usize>,
    faults: Vec<InputFault>,
}

/// Holds a TOML text against a table of keys.
#[must_use]
pub fn check(text: &str, keys: &'static [Key]) -> Checked {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let (root, errors) = DeTable::parse_recoverable(text);
    let mut walk = Walk { text, keys, lines: BTreeMap::new(), faults: Vec::new() };
    let values = walk.table("", root.get_ref(), 1);
    let Walk { lines, mut faults, .. } = walk;
    if !errors.is_empty() {
        let broken = slips::explain(text, &errors);
        faults.retain(|one| {
            !matches!(one.fault, FaultKind::Missing { .. })
                && broken.iter().all(|other| other.line != one.line)
                && !broken.iter().any(|other| {
                    other.line < one.line && slips::makes_nonsense_of_the_rest(other, text)
                })
        });
        faults.extend(broken);
    }
    Checked { values: Value::Object(values), lines, faults }
}

impl Checked {
    /// The number at this path, if one was written.
    #[must_use]
    pub fn number(&self, path: &str) -> Option<f64> {
        self.at(path)?.as_f64()
    }

    /// The text at this path, if one was written.
    #[must_use]
    pub fn text(&self, path: &str) -> Option<&str> {
        self.at(path)?.as_str()
    }

    /// How many items the list at this path has, if one was written.
    #[must_use]
    pub fn count(&self, path: &str) -> Option<usize> {
        self.at(path)?.as_array().map(Vec::len)
    }

    /// What was written under a name in each table of a list.
    pub fn each(&self, list: &str, name: &str) -> Vec<Option<String>> {
        let tables = self.at(list).and_then(Value::as_array).into_iter().flatten();
        tables.map(|one| one.get(name)?.as_str().map(str::to_owned)).collect()
    }

    /// Whether something was written at this path.
    #[must_use]
    pub fn has(&self, path: &str) -> bool {
        self.lines.contains_key(path)
    }

    /// Adds a fault at a path that was written, or at its table where it was not.
    pub fn fault(&mut self, path: &str, fault: FaultKind) {
        let at = std::iter::successors(Some(path), |path| Some(path.rsplit_once('.')?.0));
        let line = at.filter_map(|path| self.lines.get(path)).next().copied().unwrap_or(1);
        self.faults.push(InputFault { line, key: path.to_owned(), fault });
    }

    /// The typed value.
    ///
    /// # Errors
    /// Every fault found, in the order of lines.
    pub fn finish<T: DeserializeOwned>(mut self) -> Result<T, Vec<InputFault>> {
        if self.faults.is_empty() {
            match serde_json::from_value(self.values) {
                Ok(value) => return Ok(value),
                Err(error) => self.faults.push(InputFault {
                    line: 1,
                    key: String::new(),
                    fault: FaultKind::NotToml { detail: error.to_string() },
                }),
            }
        }
        self.faults.sort_by_key(|fault| fault.line);
        Err(self.faults)
    }

    fn at(&self, path: &str) -> Option<&Value> {
        path.split('.').try_fold(&self.values, |value, name| value.get(name))
    }
}

struct Walk<'a> {
    text: &'a str,
    keys: &'static [Key],
    lines: BTreeMap<String, usize>,
    faults: Vec<InputFault>,
}

impl Walk<'_> {
    fn table(&mut self, path: &str, table: &DeTable<'_>, line: usize) -> Map<String, Value> {
        let mut values = Map::new();
        for (name, item) in table {
            let line = line_at(self.text, name.span().start);
            let full = join(path, name.get_ref());
            self.lines.entry(full.clone()).or_insert(line);
            let Some(key) = self.keys.iter().find(|key| key.path == full) else {
                let fault = slips::unknown(self.keys, path, name.get_ref());
                self.complain(line, &full, fault);
                continue;
            };
            if let Some(value) = self.item(key, item, line) {
                values.insert(name.get_ref().to_string(), value);
            }
        }
        for key in self.keys.iter().filter(|key| key.required && key.table() == path) {
            if !table.keys().any(|name| name.get_ref() == key.leaf()) {
                self.complain(line, key.path, FaultKind::Missing { doc: key.doc });
            }
        }
        values
    }

    fn item(
        &mut self,
        key: &'static Key,
        item: &Spanned<DeValue<'_>>,
        line: usize,
    ) -> Option<Value> {
        match (key.kind, item.get_ref()) {
            (Kind::Table, DeValue::Table(table)) => {
                Some(Value::Object(self.table(key.path, table, line)))
            }
            (Kind::Tables, DeValue::Array(list))
                if list.iter().all(|one| one.get_ref().is_table()) =>
            {
                let mut values = Vec::new();
                for one in list {
                    let line = line_at(self.text, one.span().start);
                    if let DeValue::Table(table) = one.get_ref() {
                        values.push(Value::Object(self.table(key.path, table, line)));
                    }
                }
                Some(Value::Array(values))
            }
            (_, value) => match value::read(key, value) {
                Ok(value) => Some(value),
                Err(fault) => {
                    self.complain(line, key.path, fault);
                    None
                }
            },
        }
    }

    fn complain(&mut self, line: usize, key: &str, fault: FaultKind) {
        self.faults.push(InputFault { line, key: key.to_owned(), fault });
    }
}

fn join(table: &str, name: &str) -> String {
    if table.is_empty() { name.to_owned() } else { format!("{table}.{name}") }
}

/// The line that a byte stands in, counted from one.
pub(crate) fn line_at(text: &str, offset: usize) -> usize {
    let before = text.as_bytes().iter().take(offset);
    1 + before.filter(|&&byte| byte == b'\n').count()
}
