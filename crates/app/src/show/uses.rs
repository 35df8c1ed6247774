//! Where a published table is used: which class, kind and purpose, and which question of a plan or
//! a judgement.

use std::collections::BTreeSet;

use standards::library::{Standing, Table};

/// Where a table is used, in a line or two; `None` where it is not listed.
pub(crate) fn used(table: &Table) -> Option<String> {
    let by_family = table.family.as_deref().and_then(|family| of_family(family, table));
    let said = by_family.or_else(|| of_table(&table.id).map(str::to_owned))?;
    let informs = table.standing == Standing::Reference && table.family.is_some();
    Some(if informs { format!("{said}; shown beside what is taken") } else { said })
}

fn of_family(family: &str, table: &Table) -> Option<String> {
    let duties = || {
        words(table, &["insulation", "duty"]).into_iter().map(|word| match word.as_str() {
            one if one.ends_with(" new") => format!("{one} (acceptance, proof)"),
            one => format!("{one} (once in service, whatever the purpose)"),
        })
    };
    let each = |of: &str, columns: &[&str]| format!("{of}: {}", words(table, columns).join(", "));
    Some(match family {
        "cable-level" | "cable-rule" => {
            format!("plan, level of a cable: {}", duties().collect::<Vec<_>>().join(", "))
        }
        "cable-jacket" => "plan, level of a cable with this jacket, any purpose".to_owned(),
        "cable-forbidden" => {
            "plan, refusal of the main insulation of extruded cable, any purpose".to_owned()
        }
        "cable-imbalance" => each("judge, `imbalance` of sister phases", &["insulation"]),
        "winding-level" => {
            each("plan, level of a motor or generator, any purpose", &["winding", "state"])
        }
        "winding-minimum" => each(
            "plan, resistance before the steps; judge, `resistance-minimum`; motor and generator",
            &["winding"],
        ),
        "switchgear-level" => each("plan, level of switchgear, any purpose", &["kind"]),
        "busway-level" => each("plan, level of a bus, any purpose", &["kind"]),
        "apparatus-level" => {
            "plan, level of a switch, or of a breaker in air, oil or gas, any purpose".to_owned()
        }
        "rubber-proof" => each(
            "plan, level of a glove, sleeve, blanket or matting, any purpose; class",
            &["class"],
        ),
        "grounding-time" => "plan, how long the ground stays on".to_owned(),
        _ => return None,
    })
}

/// What the key cells of the rows name, each once, in their order.
fn words(table: &Table, columns: &[&str]) -> Vec<String> {
    let mut known = BTreeSet::new();
    let named = table.rows.iter().map(|row| {
        let cells = columns.iter().map(|column| row.text(column)).filter(|cell| !cell.is_empty());
        cells.collect::<Vec<_>>().join(" ")
    });
    named.filter(|word| known.insert(word.clone())).collect()
}

fn of_table(id: &str) -> Option<&'static str> {
    USES.iter().find(|(_, tables)| tables.contains(&id)).map(|(said, _)| *said)
}

/// Tables that no other edition has a like of, by where they are used.
const USES: &[(&str, &[&str])] = &[
    (
        "kept beside the others: no question of a plan or a judgement takes it",
        &[
            "aiee-gaps/spheres",
            "aiee-gaps/density",
            "army-tm-5-6115-585-34/conduct",
            "army-tm-5-6115-585-34/levels-ac",
            "bs-6480/belted-between-cores",
            "doe-hazard-classes/direct-shock",
            "doe-hazard-classes/capacitor-blast",
            "doe-hazard-classes/capacitor-heat",
            "doe-hazard-classes/capacitor-reflex",
            "en-50191-2010/not-dangerous",
            "icea-constants/other-compounds",
            "iec-52/spheres",
            "iec-52/sphere-density",
            "iec-60034-1-2004/new-ac",
            "iec-60034-27-4-2018/correction",
            "iec-60034-27-4-2018/scope",
            "iec-60052-2002/spheres",
            "iec-60055-1/ratio",
            "iec-60060-3-2006/measuring",
            "iec-60287-1-1/other-compounds",
            "iec-ts-60479-1-2005/body-resistance",
            "ieee-400-1980/basis",
            "ieee-c37.20.2/full-rating",
            "osha-1926.97/primary-insulation",
            "practice/ladders",
            "practice/two-slopes",
            "textbook-cables-2013/xlpe-capacitance",
        ],
    ),
    (
        "plan, distances and the air, every class and purpose",
        &[
            "aiee-gaps/needle-points",
            "iec-60052-2002/rods",
            "iec-60060-1-2010/humidity",
            "nfpa-70e-2024/approach-dc",
            "nfpa-70e-older/approach-dc",
            "osha-1910.269-2014/altitude",
            "osha-1910.269-2014/approach-ac",
            "osha-1910.269-2014/approach-parts",
            "osha-1910.269-2014/approach-dc",
            "osha-1910.269-older/approach-ac",
            "practice/weather",
        ],
    ),
    (
        "plan, checklist, cautions and what is asked first, by class",
        &["checklist/lines", "practice/dew-margin", "practice/open-leads", "practice/corona"],
    ),
    (
        "plan, published tests to take instead, where direct voltage is refused or advised against",
        &["instead/methods"],
    ),
    (
        "plan, way down: touch limit, and whether the resistor comes first, every class; own \
         discharge of a capacitor",
        &["cal-8-ccr-2893/residual", "doe-hazard-classes/capacitor-shock"],
    ),
    ("plan, own discharge of a capacitor, any purpose", &["nec-460/residual"]),
    ("plan, way down: what the kilovolt meter can still tell, every class", &["practice/needle"]),
    (
        "plan, level of a small winding, motor and generator, any purpose",
        &["easa-ar100-2020/small", "practice/own-voltage"],
    ),
    (
        "plan, time at the level; the tables that name it",
        &[
            "easa-ar100-2020/hold",
            "neta-mts-2019/switchgear-hold",
            "neta-mts-older/apparatus-hold",
            "ufgs-16302n/cable-hold",
        ],
    ),
    (
        "plan, what detectors in a winding take, motor and generator",
        &["easa-ar100-2020/small-devices"],
    ),
    (
        "plan, refusal or warning for extruded cable in service",
        &["epri-tr-101245/aged-xlpe", "icea-s-94-649/first-years"],
    ),
    (
        "plan and judge, metal-oxide arrester: course, `reference-voltage` and `leakage`, any \
         purpose",
        &["gb-50150/arrester", "practice/arrester", "practice/arrester-steps"],
    ),
    (
        "judge, cable, any purpose: `hold-trend`, `imbalance`, `step-linearity`",
        &[
            "gb-practice/hold-trend",
            "gb-practice/imbalance-waiver",
            "practice/step-linearity",
            "practice/later-reading",
        ],
    ),
    ("judge, `unrest` at constant voltage, every class", &["practice/unrest"]),
    (
        "judge, cable: `insulation-constant` of what was colder than the constant is for",
        &["practice/cold-insulation"],
    ),
    ("judge, where to look: what each sign speaks for, every class", &["practice/signs"]),
    (
        "history: whether a trend says when a limit is reached, every class",
        &["iec-60034-27-4-2018/trend"],
    ),
    (
        "plan, connection, guard and blank run",
        &["gb-practice/guard-both-ends", "practice/blank-run"],
    ),
    (
        "plan, current to expect: capacitance, conduction and absorption of the object",
        &[
            "icea-constants/insulation-constant",
            "iec-60287-1-1/permittivity",
            "practice/cable-capacitance",
            "practice/constant-spread",
            "practice/absorption",
            "practice/resistance",
            "practice/piece-capacitance",
            "practice/machine-capacitance",
            "practice/oversheath",
            "practice/cable-length",
            "practice/permittivity",
            "practice/temperature-model",
        ],
    ),
    (
        "plan, whether a set can run the course: ripple, trip, ranges, supply",
        &[
            "iec-60060-1-2010/ripple",
            "practice/trip",
            "practice/supply",
            "practice/range-change",
            "practice/least-of-range",
        ],
    ),
    (
        "judge, whether the test can be judged: voltage, time, calibration, ranges",
        &["iec-60060-3-2006/voltage-tolerance", "neta-calibration/interval", "practice/counting"],
    ),
    ("plan, level of an oversheath, any purpose", &["iec-60229/oversheath"]),
    (
        "plan, resistance before the steps; judge, resistance and index; motor and generator",
        &[
            "ieee-43-2013/test-voltage",
            "ieee-43-2013/modern-since",
            "ieee-43-2013/index-minimum",
            "ieee-43-2013/index-ceiling",
            "ieee-43-2013/either-suffices",
            "practice/temperature-doubt",
        ],
    ),
    (
        "plan, steps of a form-wound stator, uniform and graded in time, any purpose",
        &[
            "ieee-95-2002/scope",
            "ieee-95-2002/steps",
            "ieee-95-2002/first-step-readings",
            "ieee-95-2002/graded",
        ],
    ),
    (
        "plan, ramp of a winding: its rate and its rows, any purpose",
        &["ieee-95-2002/ramp", "usbr-ramp/rate", "practice/ramp-readings"],
    ),
    ("plan, rise of low-voltage switchgear, any purpose", &["ieee-c37.20.1/rise"]),
    ("plan, distance from a vacuum breaker, any purpose", &["ieee-c37.85-2002/x-rays"]),
    (
        "plan and judge, resistance test of gear and apparatus, any purpose",
        &["neta-mts-2019/insulation-resistance"],
    ),
    (
        "plan, resistance test of gear and apparatus: what a reading is multiplied by, any purpose",
        &["neta-mts-2019/temperature-factors"],
    ),
    (
        "plan, rubber goods, any purpose: rise, time, water line, and what takes no direct voltage",
        &[
            "astm-d120/rise",
            "osha-1910.137-2007/proof-time",
            "osha-1910.137-2007/water-line",
            "osha-1910.137-2007/no-direct-voltage",
        ],
    ),
    (
        "plan, said of gloves beside the level: what their alternating-voltage test asks",
        &["osha-1910.137-2007/glove-current", "osha-1926.97/glove-current", "osha-1926.97/soak"],
    ),
    (
        "plan, said where a live-line tool is refused, any purpose",
        &["osha-1910.269-1994/live-line-tools"],
    ),
    (
        "when a piece of protective equipment is due again",
        &["osha-1910.137-2007/retest", "osha-1910.269-1994/retest"],
    ),
    (
        "plan, steps and readings of a cable, any purpose",
        &["practice/cable-dwell", "ufgs-16302n/steps", "ufgs-16302n/readings"],
    ),
    ("plan, usual rate of rise, every class", &["practice/rise"]),
    (
        "plan, resistance of a low-voltage cable, any purpose",
        &["ufgs-16301n/cable-resistance", "ufgs-16302n/low-voltage-resistance"],
    ),
    (
        "plan, airfield series circuit: new for acceptance and proof, existing for the others",
        &["ufgs-16522n/series-circuit", "ufgs-16522n/leakage"],
    ),
];

#[cfg(test)]
mod tests {
    use super::*;
    use standards::Library;

    /// Each name is of a table that is there, and stands once; families need no entry.
    #[test]
    fn the_list_names_tables_that_are_there() {
        let library = Library::published();
        let mut known = BTreeSet::new();
        for id in USES.iter().flat_map(|(_, tables)| *tables) {
            assert!(library.show(id).is_ok(), "{id}");
            assert!(known.insert(id), "{id} stands twice");
        }
        let unlisted: Vec<&str> = library
            .tables()
            .filter(|(_, table)| used(table).is_none())
            .map(|(_, table)| table.id.as_str())
            .collect();
        assert!(unlisted.is_empty(), "say where these are used: {unlisted:?}");
    }

    #[test]
    fn class_kind_and_purpose_are_said() {
        let library = Library::published();
        let said = |id: &str| used(library.show(id).expect("a table")).expect("listed");
        for (id, parts) in [
            ("ufgs-16302n/cable-acceptance", ["extruded new (acceptance, proof)", "laminated new"]),
            (
                "ieee-95-2002/in-service-125-percent",
                ["motor or generator", "form-wound in-service"],
            ),
            ("neta-mts-2019/switchgear", ["metal-clad", "any purpose"]),
            ("neta-mts-older/switchgear", ["interrupter", "shown beside"]),
            ("gb-50150/arrester", ["`reference-voltage`", "any purpose"]),
        ] {
            for part in parts {
                assert!(said(id).contains(part), "{id}: {part}: {}", said(id));
            }
        }
    }
}
