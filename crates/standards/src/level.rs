//! A level: what one published rule gives for one object.

use quantity::{Time, Voltage};

use crate::library::{Row, Table};
use crate::source::Citation;

/// What one published rule gives for one object.
#[derive(Clone, Debug, PartialEq)]
pub struct Level {
    /// The rule, `<edition>/<table>`, as `standards list` names it.
    pub rule: String,
    /// How the rule makes the level, in a few words.
    pub how: String,
    /// The level; `None` where the edition prints no direct-voltage value.
    pub voltage: Option<Voltage>,
    /// Time at the level.
    pub hold: Option<Time>,
    /// Where the time stands.
    pub hold_source: Option<Citation>,
    /// The class row that was matched.
    pub class: Option<Voltage>,
    /// Whether the rating is that class, not merely below it.
    pub exact_class: bool,
    /// Where the level stands.
    pub source: Citation,
}

/// A row's time at the level: its own, or that of the table its edition keeps times in.
pub(crate) fn hold(
    lib: &crate::Library,
    table: &Table,
    row: &Row,
    keys: &[(&str, &str)],
) -> Option<(Time, Citation)> {
    let own = row.value("hold_s", Time::from_seconds);
    let cited = own.or_else(|| {
        let times = lib.table(table.hold_from.as_deref()?);
        times.find(keys)?.value("hold_s", Time::from_seconds)
    })?;
    Some((cited.value, cited.source))
}
