//! The user's file against the published values.

use quantity::Voltage;

use super::*;
use crate::cable::{CableQuestion, levels};
use crate::words::{CableDuty, Insulation};

const HEAD: &str = "[[value]]\nid = \"icea-s-94-649/cable-new/extruded:new:15:133/dc_kv\"\n";
const TAIL: &str =
    "edition = \"2021\"\nplace = \"Table E-1\"\nby = \"the test engineer\"\non = 2026-10-01\n";

fn level(own: &OwnValues) -> crate::Level {
    let lib = Library::published().with_own(own);
    let question = CableQuestion {
        insulation: Insulation::Epr,
        rated: Voltage::from_kilovolts(15.0),
        level_percent: Some(133.0),
        duty: CableDuty::New,
        jacket: None,
        separable: None,
        u0: None,
        belted: None,
    };
    let own = levels(&lib, &question).into_iter().next();
    own.expect("there are levels for new cable")
}

#[test]
fn a_replaced_value_stands_first_and_says_whose_it_is() {
    let text = format!("{HEAD}status = \"replaced\"\nvalue = 63.5\nunit = \"kV\"\n{TAIL}");
    let level = level(&OwnValues::parse(&text).expect("it is well written"));
    assert_eq!(level.rule, "icea-s-94-649/cable-new");
    assert_eq!(level.voltage, Some(Voltage::from_kilovolts(63.5)));
    assert_eq!(level.source.mark, Mark::Own);
    assert_eq!(level.source.edition, "2021");
    assert_eq!(level.source.place, "Table E-1, replaced by the test engineer on 2026-10-01");
}

#[test]
fn a_confirmed_value_keeps_its_number() {
    let text = format!("{HEAD}status = \"confirmed\"\n{TAIL}");
    let level = level(&OwnValues::parse(&text).expect("it is well written"));
    assert_eq!(level.voltage, Some(Voltage::from_kilovolts(64.0)));
    assert_eq!(level.source.mark, Mark::Own);
}

#[test]
fn nothing_is_a_file_too() {
    assert_eq!(OwnValues::parse(""), Ok(OwnValues::default()));
}

/// Each bad file ends at this line, with this in the remedy.
#[test]
fn every_fault_names_its_line_and_its_remedy() {
    let id = "icea-s-94-649/cable-new/extruded:new:15:133/dc_kv";
    let entry =
        |id: &str, rest: &str, tail: &str| format!("[[value]]\nid = \"{id}\"\n{rest}{tail}");
    let near = "icea-s-94-649/cable-new/extruded:new:15:133/dc_kw";
    let confirmed = "status = \"confirmed\"\n";
    let replaced = "status = \"replaced\"\n";
    let volts = "value = 64000\nunit = \"V\"\n";
    let kilovolts = "value = 60\nunit = \"kV\"\n";
    for (text, line, remedy) in [
        (entry(near, confirmed, TAIL), 2, "dc_kv"),
        (entry(id, replaced, TAIL), 3, "write value and unit"),
        (entry(id, &format!("{replaced}{volts}"), TAIL), 5, "in \"kV\""),
        (entry(id, &format!("{replaced}value = 63\n"), TAIL), 2, "in \"kV\""),
        (entry(id, &format!("{confirmed}{kilovolts}"), TAIL), 4, "\"replaced\""),
        (entry(id, &format!("{replaced}value = -1\nunit = \"kV\"\n"), TAIL), 4, "0 or more"),
        (entry(id, confirmed, &TAIL.replace("2021", " ")), 4, "write the edition"),
        (entry(id, confirmed, &TAIL.replace("2026-10-01", "07:32:00")), 7, "2026-11-03"),
        (entry(id, "status = \"agreed\"\n", TAIL), 3, "\"confirmed\""),
        (entry(id, confirmed, "colour = \"red\"\n"), 4, "give each"),
        ("value = 3".to_owned(), 1, "give each"),
        (entry(id, confirmed, TAIL).repeat(2), 9, "one entry"),
    ] {
        let errors = OwnValues::parse(&text).expect_err(&text);
        assert_eq!(errors[0].line, line, "{errors:?} in {text}");
        assert!(errors[0].remedy.contains(remedy), "{errors:?}");
    }
}

/// Each of these would make a plan that has no sense, or none at all.
#[test]
fn a_value_that_cannot_be_is_refused() {
    let entry = |id: &str, value: &str, unit: &str| {
        let unit = if unit.is_empty() { String::new() } else { format!("unit = {unit:?}\n") };
        format!(
            "[[value]]\nid = \"{id}\"\nstatus = \"replaced\"\nvalue = {value}\n{unit}{TAIL}\
             reason = \"a test\"\n"
        )
    };
    let rise = "practice/rise/resin-mica/rise_v_per_s";
    let low = "practice/resistance/resin-mica/low_mohm";
    let part = "practice/trip/only/over_expected_ratio";
    let level = "icea-s-94-649/cable-new/extruded:new:15:133/dc_kv";
    for (text, line, remedy) in [
        (entry(rise, "0", "V/s"), 4, "its unit"),
        (entry(level, "64000", "kV"), 4, "its unit"),
        (entry(low, "1e5", "MΩ"), 2, "rising order"),
        (entry(part, "1.3", "%"), 5, "leave the unit out"),
    ] {
        let errors = OwnValues::parse(&text).expect_err(&text);
        assert_eq!(errors[0].line, line, "{errors:?}");
        assert!(errors[0].remedy.contains(remedy), "{errors:?}");
    }
    assert!(OwnValues::parse(&entry(part, "1.3", "")).is_ok());
}

#[test]
fn every_value_that_is_listed_can_be_confirmed() {
    let ids: Vec<String> = Library::published().value_ids().collect();
    let entry = |id| format!("[[value]]\nid = \"{id}\"\nstatus = \"confirmed\"\n{TAIL}");
    let own = OwnValues::parse(&ids.iter().map(entry).collect::<String>());
    let own = own.expect("each id is of a value");
    assert_eq!(own.values().len(), ids.len());
    let sources = Library::published().with_own(&own);
    let marks = ids.iter().map(|id| sources.cell(id).map(|(cell, _)| cell.source.mark));
    assert!(marks.into_iter().all(|mark| mark == Some(Mark::Own)));
}

/// Names of values, each with which way of it is looser.
type Named = Vec<(String, Looser)>;

/// Every number of the library times this, in a file of their own, with this behind each.
fn all_times(factor: f64, reason: &str) -> (Named, Result<OwnValues, Vec<OwnError>>) {
    let library = Library::published();
    let mut ids = Vec::new();
    let mut text = String::new();
    for id in library.value_ids() {
        let Some((cell, column)) = library.cell(&id) else { continue };
        let Some(number) = cell.number.filter(|number| *number > 0.0) else { continue };
        let unit = &column.unit;
        let unit = if unit.is_empty() { "".to_owned() } else { format!("unit = {unit:?}\n") };
        let value = number * factor;
        text.push_str(&format!(
            "[[value]]\nid = {id:?}\nstatus = \"replaced\"\nvalue = {value:?}\n{unit}{TAIL}{reason}"
        ));
        ids.push((id, column.looser));
    }
    (ids, OwnValues::parse(&text))
}

/// Derived: whichever way a table says is looser, one of the two ways is, and asks for a reason.
#[test]
fn no_value_of_the_library_can_be_loosened_silently() {
    let refused = |factor: f64| -> (Named, Vec<String>) {
        let (ids, parsed) = all_times(factor, "");
        let errors = parsed.expect_err("some of them are looser");
        assert!(errors.iter().all(|error| error.remedy.contains("reason =")), "{:?}", errors[0]);
        let lines: Vec<usize> = errors.iter().map(|error| error.line).collect();
        // The entries stand in order, and every error is at the value of its own.
        let mut at = 1;
        let library = Library::published();
        let mut found = Vec::new();
        for (id, _) in &ids {
            let unit = library.cell(id).is_some_and(|(_, column)| !column.unit.is_empty());
            if lines.contains(&(at + 3)) {
                found.push(id.clone());
            }
            at += 8 + usize::from(unit);
        }
        assert_eq!(found.len(), lines.len());
        (ids, found)
    };
    let ((ids, up), (_, down)) = (refused(1.01), refused(0.99));
    assert!(ids.len() > 500, "{} values are no library", ids.len());
    for (id, looser) in &ids {
        let ways = (up.contains(id), down.contains(id));
        let expected = match looser {
            Looser::Higher => (true, false),
            Looser::Lower => (false, true),
            Looser::Either => (true, true),
        };
        assert_eq!(ways, expected, "{id}");
        // Common practice, no source: more volts strain more, and less time or distance cares less.
        let column = id.rsplit('/').next().unwrap_or_default();
        if ["dc_kv", "dc_v", "slope_ratio", "intercept_kv", "residual_v"].contains(&column) {
            assert!(ways.0, "{id}");
        }
        if ["hold_s", "at_least_s", "barrier_m", "restricted_m", "least_mohm"].contains(&column) {
            assert!(ways.1, "{id}");
        }
    }
}

/// Derived: with a typed reason both ways can be written, and the reason stands with the value.
#[test]
fn with_a_reason_any_value_can_be_loosened_and_the_reason_stands_with_it() {
    for factor in [1.01, 0.99] {
        let (ids, parsed) = all_times(factor, "reason = \"the owner answers for it\"\n");
        let own = parsed.expect("each gives its reason");
        let library = Library::published().with_own(&own);
        let loosened = own.values().iter().filter(|value| value.effect == Effect::Loosens);
        let mut count = 0;
        for value in loosened {
            count += 1;
            let (cell, _) = library.cell(&value.id).expect("it is of the library");
            assert!(cell.source.place.contains("reason: the owner answers for it"), "{}", value.id);
            let (_, row, _) = library.place(&value.id).expect("it is of the library");
            for cell in &row.cells {
                assert!(cell.source.place.contains("the owner answers"), "{}", value.id);
            }
        }
        assert!(count > 0 && count <= ids.len());
    }
}

const RULE: &str = "[[rule]]\nid = \"cable-7\"\ntitle = \"Cable procedure 7\"\nclass = \"cable\"\n\
    edition = \"issue 3\"\nplace = \"section 4\"\nby = \"the test engineer\"\non = 2026-10-01\n";

/// Derived from the published column: extruded, new, 15 kV, 100 % takes 55 kV or more in every
/// edition held, with separable connectors 53 kV (UFGS-16302N, pages 40 and 41), 0.8 of that under
/// some jackets. 40 kV for an hour is no looser than any; 70 kV is.
#[test]
fn a_rule_tightens_silently_and_loosens_by_its_reason() {
    let of =
        "insulation = \"epr\"\nduty = \"new\"\nfrom_kv = 15.0\nto_kv = 15.0\nhold_s = 3600.0\n";
    let rule = |level: &str, reason: &str| format!("{RULE}{of}level_kv = {level}\n{reason}");
    let tight = OwnValues::parse(&rule("40.0", "")).expect("it is no looser");
    assert_eq!(tight.rules()[0].effect, Effect::Tightens, "{:?}", tight.rules()[0].against);
    let errors = OwnValues::parse(&rule("70.0", "")).expect_err("it is looser");
    assert_eq!(errors[0].line, 2);
    assert!(errors[0].remedy.contains("reason ="), "{errors:?}");
    assert!(errors[0].text.contains("own rule 70.000 kV"), "{errors:?}");
    assert!(OwnValues::parse(&rule("70.0", "reason = \" \"\n")).is_err());
    let loose = OwnValues::parse(&rule("70.0", "reason = \"the maker agreed\"\n"));
    let loose = loose.expect("it gives its reason");
    assert_eq!(loose.rules()[0].effect, Effect::Loosens);
    let library = Library::published().with_own(&loose);
    let table = library.show("own-cable-7/level").expect("it is an edition of its own");
    assert_eq!(table.rows[0].source.mark, Mark::Own);
    assert!(table.place.contains("reason: the maker agreed"), "{}", table.place);
    // The same level for a shorter time is looser too.
    let shorter = rule("40.0", "").replace("3600.0", "30.0");
    assert!(OwnValues::parse(&shorter).is_err());
}

/// Where nothing is published any level is looser than none.
#[test]
fn a_rule_for_what_has_no_published_level_asks_for_a_reason() {
    let text = RULE.replace("\"cable\"", "\"insulator\"") + "level_kv = 10.0\nhold_s = 60.0\n";
    let errors = OwnValues::parse(&text).expect_err("it gives no reason");
    assert!(errors[0].text.contains("no level is published"), "{errors:?}");
}

#[test]
fn a_bad_rule_names_its_line_and_its_remedy() {
    for (text, line, remedy) in [
        (RULE.to_owned(), 2, "level_kv alone"),
        (format!("{RULE}level_kv = 9.0\nfactor = 2.0\n"), 9, "level_kv alone"),
        (format!("{RULE}level_kv = -9.0\n"), 9, "0 or more"),
        (format!("{RULE}level_kv = 9.0\nwinding = \"field\"\n"), 2, "take out winding"),
        (format!("{RULE}level_kv = 9.0\nfrom_kv = 9.0\nto_kv = 5.0\n"), 10, "lower rating"),
        (RULE.replace("cable-7", "Cable 7") + "level_kv = 9.0\n", 2, "small letters"),
        (RULE.replace("issue 3", " ") + "level_kv = 9.0\n", 5, "write title"),
        (RULE.replace("\"cable\"", "\"wire\"") + "level_kv = 9.0\n", 4, "a [[rule]]"),
    ] {
        let errors = OwnValues::parse(&text).expect_err(&text);
        assert_eq!(errors[0].line, line, "{errors:?} in {text}");
        assert!(errors[0].remedy.contains(remedy), "{errors:?}");
    }
}
