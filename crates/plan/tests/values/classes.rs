//! `docs/classes.md`: class by kind by purpose, with edition, level and mark, or the refusal.
//!
//! The page is made by planning one object of each kind. With `OHMSTEAD_WRITE=1` it is written;
//! without, it is compared.

use std::fmt::Write as _;
use std::path::Path;
use std::sync::LazyLock;

use plan::{Plan, Severity};
use standards::words::{
    Insulation, ProtectiveClass, ProtectiveItem, Purpose, SwitchgearKind, Winding, WindingState,
};

use crate::jobs::{SET, gloves, plan_of};
use crate::vectors;

/// Every class that a job can name. A job of another class would not be read.
pub(crate) const CLASSES: &[&str] = &[
    "cable",
    "motor",
    "generator",
    "switchgear",
    "busway",
    "breaker",
    "switch",
    "insulator",
    "bushing",
    "arrester",
    "protective",
    "capacitor",
    "other",
];

/// One kind of a class: its name, its rating, and its table in the job.
struct Kind {
    name: String,
    kv: f64,
    table: String,
}

fn kind(name: &str, kv: f64, table: &str) -> Kind {
    Kind { name: name.to_owned(), kv, table: table.to_owned() }
}

fn kinds(class: &str) -> Vec<Kind> {
    match class {
        "cable" => cables(),
        "motor" | "generator" => windings(),
        "switchgear" => SwitchgearKind::ALL
            .iter()
            .map(|gear| {
                let kv = if *gear == SwitchgearKind::LowVoltage { 0.48 } else { 15.0 };
                let table = format!("kind = \"{}\"\ncables_connected = false\n", gear.key());
                kind(gear.key(), kv, &format!("{table}capacitance_nf = 1.0\n"))
            })
            .collect(),
        "busway" => plates(&["non-segregated", "low-voltage"]),
        "breaker" => plates(&["air", "oil", "sf6", "vacuum"]),
        "arrester" => {
            let mut all = plates(&["metal-oxide", "gapped-silicon-carbide"]);
            all[0].name = "metal-oxide, maker's figure unknown".to_owned();
            let known = format!("{}reference_kv = 25.0\n", all[0].table);
            all.insert(0, kind("metal-oxide, maker's figure known", 17.0, &known));
            all
        }
        "other" => vec![kind(
            "by a written rule",
            15.0,
            "capacitance_nf = 1.0\nrule_title = \"The owner's procedure\"\n\
             rule_edition = \"issue 2\"\nrule_place = \"4.1\"\nrule_kv = 10.0\nhold_s = 60.0\n",
        )],
        _ => vec![kind("any", 15.0, "capacitance_nf = 1.0\n")],
    }
}

/// Kinds that the plate alone names.
fn plates(names: &[&str]) -> Vec<Kind> {
    let one = |name: &&str| {
        let kv = if *name == "low-voltage" { 0.635 } else { 15.0 };
        kind(name, kv, &format!("kind = \"{name}\"\ncapacitance_nf = 1.0\n"))
    };
    names.iter().map(one).collect()
}

fn cables() -> Vec<Kind> {
    let mut all = Vec::new();
    for insulation in Insulation::ALL {
        for (age, years) in [("new", 0), ("2 years", 2), ("20 years", 20)] {
            let table = format!(
                "insulation = \"{}\"\ninsulation_level_percent = 100\nlength_m = 300.0\n\
                 in_service_years = {years}\nseparable_connectors = false\n\
                 jacket = \"metallic\"\nterminator_dc_kv = 150.0\n",
                insulation.key()
            );
            all.push(kind(&format!("{}, {age}", insulation.key()), 15.0, &table));
            for percent in ["133", "173"] {
                if age == "new" {
                    let table = table.replace("percent = 100", &format!("percent = {percent}"));
                    let name = format!("{}, {percent} %, {age}", insulation.key());
                    all.push(kind(&name, 15.0, &table));
                }
            }
        }
    }
    let new = "insulation = \"xlpe\"\ninsulation_level_percent = 100\nlength_m = 300.0\n\
               in_service_years = 0\nseparable_connectors = false\njacket = \"metallic\"\n\
               terminator_dc_kv = 150.0\n";
    for (name, keys) in [
        ("xlpe, new, to be spliced to old", "joins_old = \"to-be-spliced\"\n"),
        ("xlpe, new, spliced to old", "joins_old = \"spliced\"\n"),
        ("xlpe, new, repaired", "after_repair = true\n"),
        ("mixed, xlpe and pilc, new", "other_insulations = [\"pilc\"]\n"),
        (
            "oversheath, screens lifted",
            "tested_part = \"oversheath\"\noversheath_mm = 2.5\nscreens_lifted = true\n\
             limiters_off = true\n",
        ),
        ("airfield, high intensity", "series_circuit = \"high-intensity\"\n"),
        ("airfield, medium intensity", "series_circuit = \"medium-intensity\"\n"),
        ("airfield, rated 600 V", "series_circuit = \"to-600-v\"\n"),
    ] {
        all.push(kind(name, 15.0, &format!("{new}{keys}")));
    }
    all
}

fn windings() -> Vec<Kind> {
    let mut all = Vec::new();
    for winding in Winding::ALL {
        for state in WindingState::ALL {
            let kv = match winding {
                Winding::FormWound => 13.8,
                Winding::RandomWound => 0.46,
                _ => 0.25,
            };
            let table = format!(
                "winding = \"{}\"\nwinding_state = \"{}\"\nthermal_class = \"F\"\n\
                 built_year = 1998\nrated_mva = 6.5\ncapacitance_nf = 50.0\nneutral_open = true\n",
                winding.key(),
                state.key()
            );
            all.push(kind(&format!("{}, {}", winding.key(), state.key()), kv, &table));
        }
    }
    all
}

fn job(class: &str, of: &Kind, purpose: Purpose) -> String {
    let part = if matches!(class, "motor" | "generator") { "machine" } else { class };
    format!(
        "[asset]\nid = \"X\"\nclass = \"{class}\"\nrated_kv = {:?}\n[asset.{part}]\n{}\
         [test]\ndate = 2026-11-03\npurpose = \"{}\"\n{SET}",
        of.kv,
        of.table,
        purpose.key()
    )
}

/// What the plan answers, as the cells of a row behind class, kind and purpose.
fn answer(plan: &Plan) -> String {
    if let Some(refused) = plan.issues.iter().find(|issue| issue.severity == Severity::Refuse) {
        let instead: Vec<String> = plan.instead.iter().map(|one| one.source.to_string()).collect();
        let read = if instead.is_empty() {
            "decision [0004](decisions/0004-what-refuses-and-what-warns.md)".to_owned()
        } else {
            instead.join("; ")
        };
        return format!("refused: {} | – | – | {read} | {} |", refused.text, others(plan));
    }
    let Some(level) = &plan.level else {
        return "no overvoltage: resistance alone | – | – | – | – |".to_owned();
    };
    let source = &level.source;
    let kilovolts = plan.test.map_or(0.0, |test| test.kilovolts());
    let hold = plan.hold.map_or(0.0, |hold| hold.seconds());
    format!(
        "`{}`: {} | {kilovolts:.4} kV, {hold} s | {} | {source} | {} |",
        level.rule,
        level.how,
        source.mark.key(),
        others(plan)
    )
}

/// The editions that answer too and were not taken, each with its level.
fn others(plan: &Plan) -> String {
    let not_taken = plan.level.iter().flat_map(|level| &level.not_taken);
    let each = not_taken.map(|other| match other.voltage {
        Some(voltage) => format!("`{}`: {:.4} kV", other.rule, voltage.kilovolts()),
        None => format!("`{}`: no value printed", other.rule),
    });
    let all: Vec<String> = each.collect();
    if all.is_empty() { "–".to_owned() } else { all.join("; ") }
}

/// The rows of a kind: purposes that get one answer stand in one row.
fn rows(name: &str, class: &str, plans: &[(&str, Plan)], out: &mut String) {
    let mut answers: Vec<(String, Vec<&str>)> = Vec::new();
    for (purpose, plan) in plans {
        let answer = answer(plan);
        match answers.iter_mut().find(|(known, _)| *known == answer) {
            Some((_, purposes)) => purposes.push(purpose),
            None => answers.push((answer, vec![purpose])),
        }
    }
    for (answer, purposes) in answers {
        let _ = writeln!(out, "| {class} | {name} | {} | {answer}", purposes.join(", "));
    }
}

const HEAD: &str = "# Which level for which class\n\n\
    Made from the published values by the tests of `plan`, which plan one object of each kind: \
    change the\ndata, then run them with `OHMSTEAD_WRITE=1`. The edition that is \
    taken stands here, the\nothers that answer in the last column. \
    Cables, windings above 1 kV and gear are planned at \
    one usual rating. What is marked\n\
    `memory` was not read in the text itself: check your copy. Beside a refusal stand the \
    published tests\nto read about instead, or the decision that it follows.\n\n";

const COLUMNS: &str = "\
    | class | kind | purpose | rule | level | mark | edition and place | other editions |\n\
    |---|---|---|---|---|---|---|---|\n";

/// Made once: both tests look at it, and it plans every kind for every purpose.
static PAGE: LazyLock<String> = LazyLock::new(page);

fn page() -> String {
    let mut out = HEAD.to_owned();
    let _ = write!(
        out,
        "{} published values are held, one by one, against a list that was typed once more \
         from the\nsources, with source and mark in each line: \
         `crates/plan/tests/values/vectors.txt`.\n\n",
        vectors::count()
    );
    out += COLUMNS;
    for class in CLASSES {
        if *class == "protective" {
            for item in ProtectiveItem::ALL {
                for of_class in ProtectiveClass::ALL {
                    let of = |purpose: &Purpose| {
                        let text = gloves(item.key(), of_class.key());
                        let text = text.replace("\"proof\"", &format!("\"{}\"", purpose.key()));
                        (purpose.key(), plan_of(&text))
                    };
                    let plans: Vec<_> = Purpose::ALL.iter().map(of).collect();
                    let name = format!("{}, class {}", item.key(), of_class.key());
                    rows(&name, class, &plans, &mut out);
                }
            }
            continue;
        }
        for kind in kinds(class) {
            let of = |purpose: &Purpose| (purpose.key(), plan_of(&job(class, &kind, *purpose)));
            let plans: Vec<_> = Purpose::ALL.iter().map(of).collect();
            rows(&kind.name, class, &plans, &mut out);
        }
    }
    out
}

#[test]
fn the_table_of_classes_is_the_one_in_the_docs() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/classes.md");
    let page = &*PAGE;
    if std::env::var_os("OHMSTEAD_WRITE").is_some() {
        std::fs::write(&path, page).expect("the docs can be written");
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    for (line, (now, kept)) in page.lines().zip(kept.lines()).enumerate() {
        assert_eq!(now, kept, "line {}: run this test with OHMSTEAD_WRITE=1", line + 1);
    }
    assert_eq!(page.lines().count(), kept.lines().count(), "run with OHMSTEAD_WRITE=1");
}

/// Each class has rows for all four purposes, and no row is without a source.
#[test]
fn no_class_is_missing_and_no_row_is_without_a_source() {
    let page = &*PAGE;
    let rows: Vec<Vec<&str>> = page
        .lines()
        .skip_while(|line| !line.starts_with("|---"))
        .skip(1)
        .map(|line| line.trim_matches('|').split('|').map(str::trim).collect())
        .collect();
    for class in CLASSES {
        let of = || rows.iter().filter(|cells| cells[0] == *class);
        for purpose in Purpose::ALL {
            let named = of().any(|cells| cells[2].split(", ").any(|one| one == purpose.key()));
            assert!(named, "{class} for {}", purpose.key());
        }
    }
    for cells in &rows {
        assert_eq!(cells.len(), 8, "{cells:?}");
        assert!(cells[6].len() > 5, "{cells:?}");
        assert!(cells[5] != "–" || cells[3].starts_with("refused") || cells[3].starts_with("no "));
    }
}
