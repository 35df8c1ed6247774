//! The keys of the user's own values file.

use plan::keys::{InputFault, Key, Kind, within};
use standards::words::{
    Apparatus, CableDuty, Insulation, ProtectiveClass, ProtectiveItem, Purpose, SwitchgearKind,
    Winding, WindingState,
};

/// One of the words of a kind.
macro_rules! one_of {
    ($words:ident) => {
        Kind::Choice(|| $words::ALL.iter().map(|word| word.key()).collect())
    };
}

fn statuses() -> Vec<&'static str> {
    vec!["confirmed", "replaced"]
}

/// Every key of an own-values file.
pub(crate) const KEYS: &[Key] = &[
    Key::new("value", Kind::Tables, "One value, read in a copy of one's own"),
    Key::new("value.id", Kind::Text, "Edition, table, row and column, joined by `/`").required(),
    Key::new("value.status", Kind::Choice(statuses), "What the copy says of it").required(),
    Key::new("value.value", within(0.0, f64::MAX), "The value, in the unit of its column"),
    Key::new("value.unit", Kind::Text, "The unit of its column, with a value"),
    Key::new("value.edition", Kind::Text, "The edition of the copy").required(),
    Key::new("value.place", Kind::Text, "Clause, table or page in it").required(),
    Key::new("value.by", Kind::Text, "Who read it").required(),
    Key::new("value.on", Kind::Date, "The day it was read, without quotes").required(),
    Key::new("value.reason", Kind::Text, "Why a looser value may stand; papers print it"),
    Key::new("rule", Kind::Tables, "A rule of one's own, before the published ones"),
    Key::new("rule.id", Kind::Text, "Its name; a plan calls it `own-ID`").required(),
    Key::new("rule.title", Kind::Text, "What the procedure is called").required(),
    Key::new("rule.class", one_of!(Apparatus), "Class of apparatus").required(),
    Key::new("rule.purpose", one_of!(Purpose), "Purpose; left out: any"),
    Key::new("rule.insulation", one_of!(Insulation), "Of a cable; left out: any"),
    Key::new("rule.duty", one_of!(CableDuty), "Of a cable; left out: any"),
    Key::new("rule.winding", one_of!(Winding), "Of a machine; left out: any"),
    Key::new("rule.state", one_of!(WindingState), "Of a winding; left out: any"),
    Key::new("rule.kind", one_of!(SwitchgearKind), "Of switchgear; left out: any"),
    Key::new("rule.item", one_of!(ProtectiveItem), "Of rubber goods; left out: any"),
    Key::new("rule.protective_class", one_of!(ProtectiveClass), "Its class"),
    Key::new("rule.from_kv", within(0.0, f64::MAX), "Least rating it is for"),
    Key::new("rule.to_kv", within(0.0, f64::MAX), "Highest rating it is for"),
    Key::new("rule.level_kv", within(0.0, f64::MAX), "The level, the same for every rating"),
    Key::new("rule.factor", within(0.0, f64::MAX), "Or: so many times the rating"),
    Key::new("rule.intercept_kv", within(0.0, f64::MAX), "With a factor: kilovolts beside it"),
    Key::new("rule.hold_s", within(0.0, f64::MAX), "Time at the level"),
    Key::new("rule.edition", Kind::Text, "Its issue").required(),
    Key::new("rule.place", Kind::Text, "Clause or page in it").required(),
    Key::new("rule.by", Kind::Text, "Who wrote it in").required(),
    Key::new("rule.on", Kind::Date, "The day it was written in, without quotes").required(),
    Key::new("rule.reason", Kind::Text, "Why it may be looser than published; papers print it"),
];

/// Whether every key is known and of its kind.
pub(super) fn check(text: &str) -> Result<(), Vec<InputFault>> {
    plan::keys::check(text, KEYS).finish::<serde_json::Value>().map(|_| ())
}
