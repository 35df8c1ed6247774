//! Where to look: what may be behind a finding, as likelihoods with their evidence.
//!
//! Each sign that was or was not seen weighs for or against each cause by how often it comes with
//! it; the weights are rows of common practice. Signs count as independent, so that a likelihood
//! says an order, no more. It changes no verdict.

use quantity::edge::twelve_digits;
use standards::typical::{self, CauseWeights};

use crate::context::Context;
use crate::draft::Draft;
use crate::findings::{Look, Outcome};
use crate::model::Model;
use crate::words::{Id, Link, More, MoreLink, Said, more};

/// What may be behind a finding.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Cause {
    Punctured,
    WeakSpot,
    WetVolume,
    WetSurface,
    DirtySurface,
    Corona,
}

impl Cause {
    const ALL: [Self; 6] = [
        Self::Punctured,
        Self::WeakSpot,
        Self::WetVolume,
        Self::WetSurface,
        Self::DirtySurface,
        Self::Corona,
    ];

    const fn key(self) -> &'static str {
        match self {
            Self::Punctured => "punctured",
            Self::WeakSpot => "weak-spot",
            Self::WetVolume => "wet-volume",
            Self::WetSurface => "wet-surface",
            Self::DirtySurface => "dirty-surface",
            Self::Corona => "corona",
        }
    }

    const fn of(self, weights: &CauseWeights) -> f64 {
        match self {
            Self::Punctured => weights.punctured,
            Self::WeakSpot => weights.weak_spot,
            Self::WetVolume => weights.wet_volume,
            Self::WetSurface => weights.wet_surface,
            Self::DirtySurface => weights.dirty_surface,
            Self::Corona => weights.corona,
        }
    }
}

/// What speaks for or against a cause.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Sign {
    Broke,
    Conducts,
    TurnsUp,
    Rises,
    Restless,
    GuardTakesMost,
    OneAlone,
    DampAir,
    HighVoltage,
}

impl Sign {
    const ALL: [Self; 9] = [
        Self::Broke,
        Self::Conducts,
        Self::TurnsUp,
        Self::Rises,
        Self::Restless,
        Self::GuardTakesMost,
        Self::OneAlone,
        Self::DampAir,
        Self::HighVoltage,
    ];

    const fn key(self) -> &'static str {
        match self {
            Self::Broke => "broke",
            Self::Conducts => "conducts",
            Self::TurnsUp => "turns-up",
            Self::Rises => "rises",
            Self::Restless => "restless",
            Self::GuardTakesMost => "guard-takes-most",
            Self::OneAlone => "one-alone",
            Self::DampAir => "damp-air",
            Self::HighVoltage => "high-voltage",
        }
    }
}

/// Least part of the current at the last reading that conduction makes, for it to rule.
const RULES: f64 = 0.8;
/// From this part on the guard takes most of it.
const MOST: f64 = 0.5;
/// Relative humidity from which air is damp.
const DAMP: f64 = 0.75;
/// Causes less likely than this, in per cent, are not listed.
const LISTED: f64 = 5.0;

/// The causes, most likely first; none where nothing stands open or failed that has a cause in the
/// object.
pub(crate) fn at(context: &Context<'_>, drafts: &[Draft], model: Option<&Model>) -> Vec<Look> {
    if !drafts.iter().any(asks) {
        return Vec::new();
    }
    let seen: Vec<(Sign, bool)> = Sign::ALL
        .into_iter()
        .filter_map(|sign| Some((sign, seen(sign, context, drafts, model)?)))
        .collect();
    // Where nothing speaks for a cause but the air and the voltage, their order would be chance.
    let speaks =
        |(sign, seen): &(Sign, bool)| *seen && !matches!(sign, Sign::DampAir | Sign::HighVoltage);
    if !seen.iter().any(speaks) {
        return Vec::new();
    }
    let weights: Vec<(bool, CauseWeights)> = seen
        .iter()
        .map(|(sign, seen)| (*seen, typical::cause_weights(context.library, sign.key()).value))
        .collect();
    let likely = |cause: Cause| {
        let of = |(seen, weights): &(bool, CauseWeights)| {
            let often = cause.of(weights);
            if *seen { often } else { 1.0 - often }
        };
        weights.iter().map(of).product::<f64>()
    };
    let whole: f64 = Cause::ALL.into_iter().map(likely).sum();
    let mut found: Vec<(Cause, f64)> =
        Cause::ALL.into_iter().map(|cause| (cause, 100.0 * likely(cause) / whole)).collect();
    // Of equals not the worst first.
    found.reverse();
    found.sort_by(|a, b| b.1.total_cmp(&a.1));
    let listed = found.into_iter().filter(|(_, percent)| *percent >= LISTED);
    let look = |(cause, percent): (Cause, f64)| Look {
        cause: cause.key().to_owned(),
        likelihood_percent: twelve_digits(percent.round()),
        text: more::look(cause, percent, &seen),
    };
    listed.map(look).collect()
}

/// Which end to look at first, where the guard told them apart.
pub(crate) fn end(drafts: &[Draft]) -> Option<String> {
    let surface = drafts.iter().find(|draft| draft.id == Id::Surface)?;
    surface.chain.iter().find_map(|link| match link {
        Link::More(link) => match **link {
            MoreLink::Ends { ends } => Some(more::at_end(ends.worse?)),
            _ => None,
        },
        _ => None,
    })
}

/// Findings that something in the object can be behind.
fn asks(draft: &Draft) -> bool {
    let of_object = matches!(
        draft.id,
        Id::Breakdown
            | Id::Flashover
            | Id::Trip
            | Id::HoldTrend
            | Id::StepLinearity
            | Id::Knee
            | Id::Imbalance
            | Id::ResistanceMinimum
            | Id::IndexMinimum
            | Id::LeakageAllowance
            | Id::InsulationConstant
            | Id::Unrest
            | Id::Corona
    );
    of_object && matches!(draft.outcome, Outcome::Warn | Outcome::Fail)
}

fn seen(
    sign: Sign,
    context: &Context<'_>,
    drafts: &[Draft],
    model: Option<&Model>,
) -> Option<bool> {
    let of = |id: Id| drafts.iter().find(|draft| draft.id == id);
    let open = |id: Id| {
        let draft = of(id).filter(|draft| draft.outcome != Outcome::NotApplicable)?;
        Some(matches!(draft.outcome, Outcome::Warn | Outcome::Fail))
    };
    match sign {
        Sign::Broke => {
            let tripped = open(Id::Trip).unwrap_or(false);
            Some(tripped || open(Id::Breakdown)?)
        }
        Sign::Conducts => {
            let model = model?;
            let last = model.points.last()?;
            let conduction = model.conduction()? * last.volts / model.top_volts;
            Some(conduction > RULES * last.amperes)
        }
        Sign::TurnsUp => open(Id::StepLinearity),
        Sign::Rises => open(Id::HoldTrend),
        Sign::Restless => open(Id::Unrest),
        Sign::GuardTakesMost => match of(Id::Surface)?.said {
            Said::More(More::Surface { part, .. }) => Some(part.value() > MOST),
            Said::More(More::SurfaceUntold { .. }) => Some(false),
            _ => None,
        },
        Sign::OneAlone => open(Id::Imbalance),
        Sign::DampAir => Some(context.job.conditions.humidity?.value() > DAMP),
        Sign::HighVoltage => {
            let corona = of(Id::Corona);
            Some(corona.is_some_and(|draft| draft.outcome != Outcome::Ok))
        }
    }
}
