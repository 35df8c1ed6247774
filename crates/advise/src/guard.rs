//! Whether corona is excluded: by a guard that is on, by readings with and without it, or by a
//! blank run.

use quantity::Voltage;

use crate::adviser::Taken;

/// What was read that speaks of corona, over all applications of one conductor.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Guarded {
    /// Highest voltage of leads and set alone.
    blank: Option<Voltage>,
    /// Highest voltages with the guard said to be on, and off.
    on: Option<Voltage>,
    off: Option<Voltage>,
}

impl Guarded {
    pub(crate) fn take(&mut self, taken: &Taken, blank: bool) {
        let Some(voltage) = taken.voltage else { return };
        let higher = |seen: Option<Voltage>| Some(seen.map_or(voltage, |seen| seen.max(voltage)));
        if blank {
            self.blank = higher(self.blank);
            return;
        }
        match taken.link.as_deref().and_then(said) {
            Some(true) => self.on = higher(self.on),
            Some(false) => self.off = higher(self.off),
            None => {}
        }
    }

    /// Whether corona above `corona` is excluded at this voltage.
    pub(crate) fn excludes(&self, corona: Voltage, at: Voltage) -> bool {
        let near = |seen: Option<Voltage>| seen.is_some_and(|seen| seen >= at * 0.97);
        let pair = self.on > Some(corona) && self.off > Some(corona);
        near(self.blank) || pair || (near(self.on) && self.off.is_none())
    }
}

/// What a person's words for the link say of the guard.
fn said(link: &str) -> Option<bool> {
    let words = link.to_lowercase();
    let denies = ["no guard", "not guard", "unguard", "without", "guard off", "guard open"];
    if denies.iter().any(|denial| words.contains(denial)) {
        return Some(false);
    }
    words.contains("guard").then_some(true)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn taken(kv: f64, link: Option<&str>) -> Taken {
        let voltage = Some(Voltage::from_kilovolts(kv));
        Taken { voltage, link: link.map(str::to_owned), ..Taken::default() }
    }

    #[test]
    fn a_pair_a_blank_run_or_a_guard_all_along_exclude_corona() {
        let corona = Voltage::from_kilovolts(25.0);
        let check = |rows: &[(f64, Option<&str>, bool)], expected: bool| {
            let mut seen = Guarded::default();
            rows.iter().for_each(|(kv, link, blank)| seen.take(&taken(*kv, *link), *blank));
            assert_eq!(seen.excludes(corona, Voltage::from_kilovolts(30.0)), expected, "{rows:?}");
        };
        check(&[], false);
        check(&[(30.0, None, false)], false);
        check(&[(30.0, None, true)], true);
        check(&[(20.0, None, true)], false);
        check(&[(30.0, Some("guard on"), false)], true);
        check(&[(20.0, Some("guard on"), false)], false);
        check(&[(26.0, Some("guard on"), false), (30.0, Some("no guard"), false)], true);
        check(&[(20.0, Some("guard on"), false), (30.0, Some("no guard"), false)], false);
    }
}
