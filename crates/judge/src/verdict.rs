//! All findings together, and what they come to.

use plan::{Plan, Severity};
use session::{Record, conductors};
use standards::{Citation, Library};

use crate::air::Air;
use crate::context::Context;
use crate::draft::Draft;
use crate::findings::{Figures, Findings, METHOD, Object, Outcome, Phase, Verdict};
use crate::model::Model;
use crate::part::Part;
use crate::resistance::Insulation;
use crate::words::{self, Id, Next, Said};
use crate::{
    allowance, arrester, can_judge, checks, come_down, conduct, figures, forecast, imbalance,
    leads, linearity, look, looser, object, resistance, trend, unrest, withstood,
};

/// Judges one record by the published values given, as of the day of the test.
///
/// The same record, values and method give the same findings; there is no clock in it. Breakdown
/// of the insulation outranks everything; then comes what makes the test void, then what is
/// plainly not met, then what stands open.
#[must_use]
pub fn judge(record: &Record, library: &Library) -> Findings {
    let air = Air::of(record);
    let job = air.fill(&record.job);
    let context = Context::of(record, (&job, &air), library);
    let folded = conductors(record);
    let parts: Vec<Part<'_>> = folded.iter().map(|one| Part::of(one, &context)).collect();
    let mut judged: Vec<Judged> = parts.iter().map(|part| Judged::of(&context, part)).collect();
    let mut whole = can_judge::of_whole(&context, &parts);
    whole.extend(checks::finding(&context, record));
    whole.extend(conduct::findings(record));
    if let Some(draft) = imbalance::finding(&context, &parts) {
        match judged.iter_mut().find(|one| Some(&one.phase) == draft.phase.as_ref()) {
            Some(conductor) => conductor.drafts.push(draft),
            None => whole.push(draft),
        }
    }
    for conductor in &mut judged {
        conductor.look(&context);
    }
    assemble(&context, judged, &whole)
}

/// One conductor, judged.
struct Judged {
    phase: String,
    drafts: Vec<Draft>,
    figures: Figures,
    object: Option<Object>,
    model: Option<Model>,
}

impl Judged {
    fn of(context: &Context<'_>, part: &Part<'_>) -> Self {
        // What conducts by its nature has no model of an insulation.
        let insulates = !arrester::is_measured(context);
        let model = if insulates { Model::of(part, &context.instrument) } else { None };
        let insulation = if insulates { Insulation::of(context, part) } else { None };
        let mut drafts = withstood::findings(context, part);
        drafts.extend(can_judge::of_part(context, part));
        drafts.extend(arrester::findings(context, part));
        drafts.extend(leads::finding(context, part));
        drafts.extend(trend::finding(context, part));
        drafts.extend(come_down::findings(context, part));
        drafts.extend(linearity::findings(context, model.as_ref()));
        let turns_up = drafts.iter().any(|draft| draft.id == Id::Knee);
        let (found, forecast) = forecast::findings(context, part, model.as_ref(), turns_up);
        drafts.extend(found);
        drafts.extend(unrest::finding(context, part));
        drafts.extend(allowance::findings(context, part, insulation.as_ref(), model.as_ref()));
        drafts.extend(resistance::findings(context, part, insulation.as_ref()));
        drafts.sort_by_key(|draft| draft.id);
        let drafts = drafts.into_iter().map(|draft| draft.of_phase(part.phase)).collect();
        let mut figures = figures::of(context, part, model.as_ref(), insulation.as_ref());
        figures.forecast = forecast;
        let of_index = || Some(resistance::index(context, part)?.0.standard);
        let object = model.as_ref().map(|model| object::of(model, of_index()));
        Self { phase: part.phase.to_owned(), drafts, figures, object, model }
    }

    /// Where to look, once all is known of it and its sisters.
    fn look(&mut self, context: &Context<'_>) {
        if let Some(object) = &mut self.object {
            object.look = look::at(context, &self.drafts, self.model.as_ref());
            object.end = look::end(&self.drafts).filter(|_| !object.look.is_empty());
        }
    }

    /// Worst first: the heavier verdict, then the lower resistance.
    fn rank(&self) -> (u8, f64) {
        let megohms = self.figures.resistance.as_ref().map(|figure| figure.value.megohms());
        (heaviness(verdict(&self.drafts)), -megohms.unwrap_or(f64::INFINITY))
    }
}

const fn heaviness(verdict: Verdict) -> u8 {
    match verdict {
        Verdict::Accept => 0,
        Verdict::Investigate => 1,
        Verdict::Void => 2,
        Verdict::Reject => 3,
    }
}

fn verdict<'a>(drafts: impl IntoIterator<Item = &'a Draft>) -> Verdict {
    let mut found = Verdict::Accept;
    for draft in drafts {
        let broke_down = draft.id == Id::Breakdown && draft.outcome == Outcome::Fail;
        let here = match (draft.voids, draft.outcome) {
            _ if broke_down => return Verdict::Reject,
            (true, _) => Verdict::Void,
            (false, Outcome::Fail) => Verdict::Reject,
            (false, Outcome::Warn) => Verdict::Investigate,
            (false, Outcome::Ok | Outcome::NotApplicable) => Verdict::Accept,
        };
        found = match (found, here) {
            (Verdict::Void, _) | (_, Verdict::Void) => Verdict::Void,
            (one, other) if heaviness(other) > heaviness(one) => other,
            (one, _) => one,
        };
    }
    found
}

fn assemble(context: &Context<'_>, judged: Vec<Judged>, whole: &[Draft]) -> Findings {
    let worst_part = judged
        .iter()
        .max_by(|one, other| {
            let (one, other) = (one.rank(), other.rank());
            one.0.cmp(&other.0).then(one.1.total_cmp(&other.1))
        })
        .map(|part| part.figures.clone());
    let everything = || judged.iter().flat_map(|part| &part.drafts).chain(whole);
    let worst = worst_of_each(everything());
    let refused = refusal(context.plan);
    let verdict = match (verdict(everything()), refused) {
        _ if judged.is_empty() => Verdict::Void,
        (Verdict::Accept, Some(_)) => Verdict::Investigate,
        (verdict, _) => verdict,
    };
    let mut sources: Vec<Citation> =
        everything().filter_map(|draft| draft.source.clone()).collect();
    let looser = looser::told(context.plan, &sources, context.library);
    // The level is held against a tolerance of its own, and rests on what printed it.
    let level = context.plan.level.iter();
    sources.extend(
        level.flat_map(|level| {
            std::iter::once(level.source.clone()).chain(level.hold_source.clone())
        }),
    );
    sources.sort();
    sources.dedup();
    Findings {
        method: METHOD.to_owned(),
        as_of: context.job.test.date,
        asset: context.job.asset.id.clone(),
        verdict,
        because: because(verdict, &worst, refused, judged.is_empty()),
        next: next(verdict, &worst),
        findings: worst.iter().map(|draft| draft.finding()).collect(),
        figures: worst_part.unwrap_or_default(),
        phases: judged.iter().map(phase).collect(),
        looser,
        sources,
    }
}

fn phase(judged: &Judged) -> Phase {
    Phase {
        phase: judged.phase.clone(),
        verdict: verdict(&judged.drafts),
        findings: judged.drafts.iter().map(Draft::finding).collect(),
        figures: judged.figures.clone(),
        object: judged.object.clone(),
    }
}

/// Of each kind of finding the heaviest, in the order of reading.
fn worst_of_each<'a>(drafts: impl Iterator<Item = &'a Draft>) -> Vec<&'a Draft> {
    let mut worst: Vec<&Draft> = Vec::new();
    for draft in drafts {
        match worst.iter_mut().find(|one| one.id == draft.id) {
            Some(one) if draft.weight() > one.weight() => *one = draft,
            Some(_) => {}
            None => worst.push(draft),
        }
    }
    worst.sort_by_key(|draft| draft.id);
    worst
}

fn refusal(plan: &Plan) -> Option<&str> {
    plan.issues
        .iter()
        .find(|issue| issue.severity == Severity::Refuse)
        .map(|issue| issue.text.as_str())
}

/// The findings that made the verdict, the first one leading.
fn decisive<'a>(verdict: Verdict, worst: &[&'a Draft]) -> Vec<&'a Draft> {
    let decides = |draft: &&&Draft| match verdict {
        Verdict::Accept => false,
        Verdict::Investigate => draft.weight() == 2,
        Verdict::Void => draft.voids,
        Verdict::Reject => !draft.voids && draft.outcome == Outcome::Fail,
    };
    worst.iter().filter(decides).copied().collect()
}

fn because(
    verdict: Verdict,
    worst: &[&Draft],
    refused: Option<&str>,
    nothing_read: bool,
) -> String {
    if nothing_read {
        return words::NOTHING_READ.to_owned();
    }
    match (decisive(verdict, worst).first(), refused) {
        (Some(draft), _) => match &draft.phase {
            Some(phase) => format!("{phase}: {}", words::said(&draft.said)),
            None => words::said(&draft.said),
        },
        (None, Some(reason)) => words::refused(reason),
        (None, None) => words::ALL_MET.to_owned(),
    }
}

/// What the decisive findings ask for, then what every other open one does.
fn next(verdict: Verdict, worst: &[&Draft]) -> Vec<String> {
    // What broke down is not put under voltage again to learn more.
    let broken: Vec<_> = worst
        .iter()
        .filter(|draft| draft.id == Id::Breakdown && draft.outcome == Outcome::Fail)
        .filter_map(|draft| draft.phase.as_ref())
        .collect();
    let repeats = |draft: &&Draft| {
        matches!(draft.id, Id::TestVoltage | Id::HoldTime | Id::Trip)
            && draft.phase.as_ref().is_some_and(|phase| broken.contains(&phase))
    };
    let worst: Vec<&Draft> = worst.iter().filter(|draft| !repeats(draft)).copied().collect();
    let worst = worst.as_slice();
    let open = worst.iter().filter(|draft| draft.weight() >= 2).copied();
    let mut steps: Vec<Next> = Vec::new();
    // What endangers a person comes before what concerns the object.
    let hazard = worst.iter().filter(|draft| draft.id == Id::Grounding);
    steps.extend(hazard.filter_map(|draft| words::next_of(&draft.said)));
    for draft in decisive(verdict, worst).into_iter().chain(open) {
        steps.extend(words::next_of(&draft.said).filter(|next| !steps.contains(next)));
    }
    // Some ask for something although no criterion stands against them.
    let silent = |said: &Said| {
        matches!(
            said,
            Said::LevelRefused { .. } | Said::ConductorsUnnamed | Said::RulesNotMet { .. }
        )
    };
    let asking = worst.iter().filter(|draft| silent(&draft.said));
    steps.extend(asking.filter_map(|draft| words::next_of(&draft.said)));
    steps.push(Next::KeepGround);
    steps.push(Next::ThisTestOnly);
    steps.iter().map(words::next).collect()
}
