//! What is asked of one job, and what its answers mean.

use standards::{Library, tolerance};

use super::Question;
use super::answers::{Answers, Coolant};
use super::table::{ASKED, Asked};
use crate::PlanIssue;
use crate::air::Air;
use crate::care::source_of;
use crate::job::{AssetClass, Job};
use crate::words::{ReadyConcern, Say};

/// What one special question comes to.
struct Told {
    id: &'static str,
    /// The key of the job file that answers it.
    by: String,
    text: String,
    answer: Option<String>,
}

/// Every question that concerns the job; a wrong answer is an issue that refuses.
pub(super) fn questions(
    job: &Job,
    air: &Air,
    library: &Library,
    issues: &mut Vec<PlanIssue>,
) -> Vec<Question> {
    let class = job.asset.class;
    let mut told: Vec<Told> = Vec::new();
    told.extend(winding(job, issues));
    told.extend(vault(job, issues));
    for asked in ASKED.iter().filter(|asked| asked.of.contains(&class)) {
        told.push(plain(asked, &job.ready, issues));
    }
    told.extend(connected_cables(job));
    if class != AssetClass::Protective {
        told.push(dew(job, air, library, issues));
        told.extend(weather(job, library, issues));
    }
    told.into_iter().map(|told| question(told, library)).collect()
}

fn question(told: Told, library: &Library) -> Question {
    Question {
        id: told.id.to_owned(),
        text: told.text,
        answered_by: Some(told.by),
        hold_point: told.answer.is_none(),
        answer: told.answer,
        source: source_of(told.id, library),
    }
}

const fn yes_or_no(yes: bool) -> &'static str {
    if yes { "yes" } else { "no" }
}

fn plain(asked: &Asked, said: &Answers, issues: &mut Vec<PlanIssue>) -> Told {
    let answer = (asked.get)(said);
    if answer.is_some_and(|answer| answer != asked.good) {
        let (id, key) = (asked.id, asked.key);
        issues.push(ReadyConcern::Wrong { id, key, why: asked.why, remedy: asked.remedy }.say());
    }
    let answer = answer.map(|answer| yes_or_no(answer).to_owned());
    let by = format!("ready.{}", asked.key);
    Told { id: asked.id, by, text: asked.text.to_owned(), answer }
}

/// What is asked of a winding alone.
fn winding(job: &Job, issues: &mut Vec<PlanIssue>) -> Vec<Told> {
    if !job.is_machine() {
        return Vec::new();
    }
    let machine = job.asset.machine.as_ref();
    let state = machine.and_then(|machine| machine.winding_state);
    if job.ready.coolant == Some(Coolant::Filled) {
        issues.push(ReadyConcern::CoolantFilled.say());
    }
    let coolant = job.ready.coolant.map(|coolant| match coolant {
        Coolant::None => "none",
        Coolant::DrainedAndDried => "drained and dried",
        Coolant::MakersMethod => "by the maker's method",
        Coolant::Filled => "filled",
    });
    let mut told = vec![
        Told {
            id: "winding-state",
            by: "asset.machine.winding_state".to_owned(),
            text: "State of the winding: new, installed, overhauled or in service?".to_owned(),
            answer: state.map(|state| state.key().replace('-', " ")),
        },
        Told {
            id: "coolant",
            by: "ready.coolant".to_owned(),
            text: "Coolant passages drained and dried, or by the maker's method, or none there?"
                .to_owned(),
            answer: coolant.map(str::to_owned),
        },
    ];
    if job.has_phases() {
        let open = machine.and_then(|machine| machine.neutral_open);
        let said = |open| if open { "yes" } else { "no: phase to phase not tested" };
        told.push(Told {
            id: "neutral-open",
            by: "asset.machine.neutral_open".to_owned(),
            text: "Neutral open, so that each phase stands alone?".to_owned(),
            answer: open.map(said).map(str::to_owned),
        });
    }
    told
}

/// Gas in a vault is asked for where there may be a vault.
fn vault(job: &Job, issues: &mut Vec<PlanIssue>) -> Option<Told> {
    let may_be = matches!(
        job.asset.class,
        AssetClass::Cable | AssetClass::Switchgear | AssetClass::Switch | AssetClass::Other
    );
    let said = &job.ready;
    if !may_be {
        return None;
    }
    if said.gas_tested == Some(false) && said.in_vault != Some(false) {
        issues.push(ReadyConcern::GasNotTested.say());
    }
    let answer = match (said.in_vault, said.gas_tested) {
        (Some(false), _) => Some("no vault".to_owned()),
        (_, Some(tested)) => Some(yes_or_no(tested).to_owned()),
        (_, None) => None,
    };
    let text = "Vaults and manholes tested for gas and for oxygen, or none there?".to_owned();
    Some(Told { id: "gas-tested", by: "ready.gas_tested".to_owned(), text, answer })
}

/// Switchgear says in its own table whether its cables are on; the level refuses there.
fn connected_cables(job: &Job) -> Option<Told> {
    let gear = job.asset.switchgear.as_ref();
    let gear = gear.filter(|_| job.asset.class == AssetClass::Switchgear)?;
    let said = |on| if on { "no, they are connected" } else { "yes" };
    Some(Told {
        id: "cables-off",
        by: "asset.switchgear.cables_connected".to_owned(),
        text: "Power cables off?".to_owned(),
        answer: gear.cables_connected.map(said).map(str::to_owned),
    })
}

/// The object's own temperature against the dew point; that of the air does not answer it.
fn dew(job: &Job, air: &Air, library: &Library, issues: &mut Vec<PlanIssue>) -> Told {
    let margin = tolerance::dew_margin_kelvins(library).value;
    let (object, dew_point) = (job.conditions.object_temperature, air.dew_point);
    let pair = object.zip(dew_point);
    if let Some((object, dew_point)) = pair {
        let above = object.celsius() - dew_point.celsius();
        if above <= 0.0 {
            issues.push(ReadyConcern::Wet { object, dew_point }.say());
        } else if above < margin {
            issues.push(ReadyConcern::NearlyWet { object, dew_point, margin }.say());
        }
    }
    Told {
        id: "above-dew-point",
        by: "conditions.object_temperature_c".to_owned(),
        text: format!(
            "Object, measured on it, above the dew point of its air by {margin:.0} K or more?"
        ),
        answer: pair.map(|(object, dew_point)| format!("{object}, dew point {dew_point}")),
    }
}

/// Rain and wind concern a lead in the open; a lead not known to be indoors is asked for.
fn weather(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Vec<Told> {
    let said = &job.ready;
    if said.leads_outdoors == Some(false) {
        return Vec::new();
    }
    if said.rain == Some(true) {
        issues.push(ReadyConcern::Rain.say());
    }
    let most = tolerance::most_wind_metres_per_second(library).value;
    if let Some(wind) = said.wind_m_per_s.filter(|&wind| wind > most) {
        issues.push(ReadyConcern::Wind { wind, most }.say());
    }
    let wind = said.wind_m_per_s.map(|wind| format!("{wind:.1} m/s"));
    vec![
        Told {
            id: "leads-dry",
            by: "ready.rain".to_owned(),
            text: "Rain, snow or fog on open leads and ends?".to_owned(),
            answer: said.rain.map(|rain| yes_or_no(rain).to_owned()),
        },
        Told {
            id: "wind",
            by: "ready.wind_m_per_s".to_owned(),
            text: format!("Wind on open leads at most {most:.0} m/s?"),
            answer: wind,
        },
    ]
}
