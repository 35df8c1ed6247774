//! What is published for electrical protective equipment.

use quantity::{Current, Length, Time, Voltage, VoltageRate};

use crate::Level;
use crate::library::{Cited, Library, Row, Table};
use crate::source::Citation;
use crate::words::{How, ProtectiveClass, ProtectiveItem, Purpose};

/// The proof test of one piece.
#[derive(Clone, Debug, PartialEq)]
pub struct RubberProof {
    /// The rule, as `standards list` names it.
    pub rule: String,
    /// The level.
    pub voltage: Voltage,
    /// Time at it.
    pub hold: Time,
    /// Where the time stands.
    pub hold_source: Citation,
    /// From the cuff to the water line, inside and outside; gloves only.
    pub water_line: Option<Length>,
    /// How far the water line may be off.
    pub water_tolerance: Option<Length>,
    /// How much further away it may be where the air makes the test impractical.
    pub water_more: Option<Length>,
    /// Rate of rise.
    pub rise: Option<Cited<VoltageRate>>,
    /// Where the level stands.
    pub source: Citation,
    /// What other editions say.
    pub alternatives: Vec<Level>,
}

/// Why a piece has no direct-voltage proof test here.
#[derive(Clone, Debug, PartialEq)]
pub struct RubberRefusal {
    /// Why.
    pub reason: RubberReason,
    /// What to use instead, where a text names it.
    pub instead: Option<String>,
    /// Where that stands.
    pub source: Citation,
}

/// Why a piece has no direct-voltage proof test.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RubberReason {
    /// The direct-voltage values do not apply to line hose; another standard tests it.
    LineHose,
    /// The direct-voltage values do not apply to covers; another standard tests them.
    Cover,
    /// No text states a direct voltage equal to the alternating one of a live-line tool.
    LiveLineTool,
    /// No edition has a row for this class.
    NoRow,
}

/// The direct-voltage proof test of a piece, the surest edition first.
///
/// Acceptance and retest take the same voltage, so `purpose` only chooses between editions that
/// say otherwise.
///
/// # Errors
/// Where no direct-voltage proof test is published for the piece.
pub fn proof(
    lib: &Library,
    item: ProtectiveItem,
    class: ProtectiveClass,
    purpose: Purpose,
) -> Result<RubberProof, Box<RubberRefusal>> {
    let refusals = lib.table("osha-1910.137-2007/no-direct-voltage");
    if let Some(row) = refusals.find(&[("item", item.key())]) {
        let instead = Some(row.text("word").to_owned());
        return Err(Box::new(RubberRefusal {
            reason: reason(item),
            instead,
            source: row.source.clone(),
        }));
    }
    let keys = [("item", item.key()), ("class", class.key()), ("purpose", purpose.key())];
    let mut found: Vec<(&Table, &Row, Cited<Voltage>)> = lib
        .family("rubber-proof")
        .filter_map(|table| {
            let row = table.find(&keys)?;
            Some((table, row, row.value("dc_v", Voltage::from_volts)?))
        })
        .collect();
    found.sort_by_key(|(_, _, voltage)| voltage.source.mark);
    let mut found = found.into_iter();
    let Some((table, row, voltage)) = found.next() else {
        let source = refusals.only().source.clone();
        return Err(Box::new(RubberRefusal { reason: RubberReason::NoRow, instead: None, source }));
    };
    let hold = time(lib, item);
    let others = found.map(|(table, _, voltage)| alternative(table, voltage, &hold));
    let glove = item == ProtectiveItem::Glove;
    let length = |column| row.number(column).filter(|_| glove).map(Length::from_millimetres);
    let slack = lib.table("osha-1910.137-2007/water-line").only();
    let slack = |column| slack.number(column).filter(|_| glove).map(Length::from_millimetres);
    Ok(RubberProof {
        rule: table.id.clone(),
        voltage: voltage.value,
        water_line: length("water_line_mm"),
        water_tolerance: slack("tolerance_mm"),
        water_more: slack("more_mm"),
        rise: rise(lib),
        source: voltage.source,
        alternatives: others.collect(),
        hold: hold.value,
        hold_source: hold.source,
    })
}

fn reason(item: ProtectiveItem) -> RubberReason {
    match item {
        ProtectiveItem::LineHose => RubberReason::LineHose,
        ProtectiveItem::Cover => RubberReason::Cover,
        ProtectiveItem::LiveLineTool => RubberReason::LiveLineTool,
        ProtectiveItem::Glove
        | ProtectiveItem::Sleeve
        | ProtectiveItem::Blanket
        | ProtectiveItem::Matting => RubberReason::NoRow,
    }
}

fn time(lib: &Library, item: ProtectiveItem) -> Cited<Time> {
    let row = lib.table("osha-1910.137-2007/proof-time").find(&[("item", item.key())]);
    row.expect("each item that is not refused has a time; tested")
        .must("hold_s", Time::from_seconds)
}

fn alternative(table: &Table, voltage: Cited<Voltage>, hold: &Cited<Time>) -> Level {
    Level {
        rule: table.id.clone(),
        how: How::Rubber.to_string(),
        voltage: Some(voltage.value),
        hold: Some(hold.value),
        hold_source: Some(hold.source.clone()),
        class: None,
        exact_class: true,
        source: voltage.source,
    }
}

fn rise(lib: &Library) -> Option<Cited<VoltageRate>> {
    let row = lib.table("astm-d120/rise").only();
    row.value("dc_v_per_s", VoltageRate::from_volts_per_second)
}

/// Months after which a piece is due again.
#[must_use]
pub fn retest_months(lib: &Library, item: ProtectiveItem) -> Option<Cited<i32>> {
    ["osha-1910.137-2007/retest", "osha-1910.269-1994/retest"]
        .into_iter()
        .find_map(|table| lib.table(table).find(&[("item", item.key())]))?
        .value("interval_months", |months| months as i32)
}

/// Alternating currents that a glove of a class may take in its alternating-voltage test, the
/// shortest length first. With direct voltage none is a limit.
#[must_use]
pub fn glove_currents(lib: &Library, class: ProtectiveClass) -> Vec<Cited<Current>> {
    ["osha-1910.137-2007/glove-current", "osha-1926.97/glove-current"]
        .into_iter()
        .flat_map(|table| &lib.table(table).rows)
        .filter(|row| row.text("class") == class.key())
        .map(|row| row.must("ac_ma", Current::from_milliamperes))
        .collect()
}

/// How long a piece is soaked before its alternating-voltage test; `None` where none is published.
#[must_use]
pub fn soak(lib: &Library, item: ProtectiveItem) -> Option<Cited<Time>> {
    let row = lib.table("osha-1926.97/soak").find(&[("item", item.key())])?;
    row.value("soak_s", Time::from_seconds)
}

/// One published test of a live-line tool, with alternating voltage.
#[derive(Clone, Debug, PartialEq)]
pub struct ToolTest {
    /// Material and state, as the row names them.
    pub of: String,
    /// For each foot of its length.
    pub each_foot: Voltage,
    /// Time at it.
    pub hold: Time,
    /// Where it stands.
    pub source: Citation,
}

/// What is published for live-line tools: alternating voltage alone.
#[must_use]
pub fn tool_tests(lib: &Library) -> Vec<ToolTest> {
    let one = |row: &Row| {
        let each_foot = row.must("ac_kv_per_ft", Voltage::from_kilovolts);
        ToolTest {
            of: format!("{}, {}", row.text("material"), row.text("state")),
            each_foot: each_foot.value,
            hold: row.must("hold_s", Time::from_seconds).value,
            source: each_foot.source,
        }
    };
    lib.table("osha-1910.269-1994/live-line-tools").rows.iter().map(one).collect()
}

/// The most that may flow through primary insulation other than rubber, at 60 Hz.
#[must_use]
pub fn primary_leakage(lib: &Library, phase_to_phase: Voltage) -> Cited<Current> {
    let row = lib.table("osha-1926.97/primary-insulation").only();
    let each = row.must("largest_ua_per_kv", Current::from_microamperes);
    each.map(|current| current * phase_to_phase.kilovolts())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ask(
        item: ProtectiveItem,
        class: ProtectiveClass,
    ) -> Result<RubberProof, Box<RubberRefusal>> {
        proof(&Library::published(), item, class, Purpose::Proof)
    }

    // 29 CFR 1910.137, rev. 2007: class 2 gloves, 50 kV, 3 min, 76 ± 13 mm, 25 mm more in bad air.
    #[test]
    fn class_2_gloves() {
        let proof = ask(ProtectiveItem::Glove, ProtectiveClass::Class2).expect("gloves are tested");
        assert_eq!(proof.voltage, Voltage::from_kilovolts(50.0));
        assert_eq!(proof.hold, Time::from_minutes(3.0));
        let millimetres = |length: Option<Length>| length.map(|l| l.millimetres().round());
        assert_eq!(millimetres(proof.water_line), Some(76.0));
        assert_eq!(millimetres(proof.water_tolerance), Some(13.0));
        assert_eq!(millimetres(proof.water_more), Some(25.0));
        assert_eq!(proof.source.mark, crate::Mark::Seen);
        assert_eq!(proof.alternatives.len(), 1);
    }

    // 29 CFR 1910.137, rev. 2007; class 00 from memory, unverified.
    #[test]
    fn proof_voltages_by_class() {
        let kilovolts = [10.0, 20.0, 40.0, 50.0, 60.0, 70.0];
        for (class, expected) in ProtectiveClass::ALL.iter().zip(kilovolts) {
            let proof = ask(ProtectiveItem::Sleeve, *class).expect("sleeves are tested");
            assert_eq!(proof.voltage, Voltage::from_kilovolts(expected));
            assert_eq!(proof.water_line, None);
        }
    }

    // 29 CFR 1910.137, rev. 2007: matting stands one minute.
    #[test]
    fn matting_stands_a_shorter_time() {
        let proof = ask(ProtectiveItem::Matting, ProtectiveClass::Class2).expect("it is tested");
        assert_eq!(proof.hold, Time::from_minutes(1.0));
    }

    // 29 CFR 1910.137, rev. 2007: the direct voltages do not apply to line hose and covers.
    #[test]
    fn what_has_no_direct_voltage_test_is_refused() {
        for (item, reason) in [
            (ProtectiveItem::LineHose, RubberReason::LineHose),
            (ProtectiveItem::Cover, RubberReason::Cover),
            (ProtectiveItem::LiveLineTool, RubberReason::LiveLineTool),
        ] {
            let refusal = ask(item, ProtectiveClass::Class2).expect_err("it is refused");
            assert_eq!(refusal.reason, reason);
            assert!(refusal.instead.is_some_and(|instead| !instead.is_empty()));
        }
    }

    // 29 CFR 1910.137 Table I-6, as a public secondary text quotes it.
    #[test]
    fn retests_come_due() {
        let months = |item| retest_months(&Library::published(), item).map(|cited| cited.value);
        assert_eq!(months(ProtectiveItem::Glove), Some(6));
        assert_eq!(months(ProtectiveItem::Blanket), Some(12));
        assert_eq!(months(ProtectiveItem::LiveLineTool), Some(24));
        assert_eq!(months(ProtectiveItem::Cover), None);
    }

    // 29 CFR 1910.137, rev. 2007, class 0; the columns of the others and class 00 from memory.
    #[test]
    fn currents_of_gloves_are_milliamperes_of_alternating_current() {
        let of = |class| -> Vec<f64> {
            let found = glove_currents(&Library::published(), class);
            found.iter().map(|one| (one.value.milliamperes() * 1e9).round() / 1e9).collect()
        };
        assert_eq!(of(ProtectiveClass::Class00), [6.0, 12.0, 14.0, 16.0]);
        assert_eq!(of(ProtectiveClass::Class0), [8.0, 12.0, 14.0, 16.0]);
        assert_eq!(of(ProtectiveClass::Class2), [16.0, 18.0, 20.0]);
        assert_eq!(of(ProtectiveClass::Class4), [22.0, 24.0]);
        let marks = |class| glove_currents(&Library::published(), class)[0].source.mark;
        assert_eq!(marks(ProtectiveClass::Class0), crate::Mark::Seen);
        assert_eq!(marks(ProtectiveClass::Class2), crate::Mark::Memory);
    }

    // 29 CFR 1926.97, its opening: gloves soak for sixteen hours before the alternating test.
    #[test]
    fn gloves_soak_before_their_alternating_test() {
        let hours = |item| soak(&Library::published(), item).map(|it| it.value.seconds() / 3600.0);
        assert_eq!(hours(ProtectiveItem::Glove), Some(16.0));
        assert_eq!(hours(ProtectiveItem::Blanket), None);
    }
}
