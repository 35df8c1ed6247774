//! What a length of cable may leak, and the insulation constant it shows.

use physics::fit::{NotSeparable, Point, fit_power_law};
use plan::job::AssetClass;
use quantity::edge::twelve_digits;
use quantity::{Current, Length, Resistance, Temperature};
use standards::library::Cited;
use standards::words::{Insulation as Kind, TestedPart};
use standards::{cable, typical};

use crate::brought::Brought;
use crate::context::Context;
use crate::draft::{Draft, reading};
use crate::findings::Outcome;
use crate::model::Model;
use crate::part::Part;
use crate::resistance::Insulation;
use crate::trace::Taken;
use crate::words::seen::SeenLink;
use crate::words::{Id, Link, More, MoreLink, Said};

/// Findings by length; none for what is no cable.
pub(crate) fn findings(
    context: &Context<'_>,
    part: &Part<'_>,
    insulation: Option<&Insulation>,
    model: Option<&Model>,
) -> Vec<Draft> {
    if context.class() != AssetClass::Cable {
        return Vec::new();
    }
    let allowance = leakage(context, part);
    let constant =
        if allowance.is_some() { None } else { constant(context, part, insulation, model) };
    allowance.into_iter().chain(constant).collect()
}

/// A series lighting circuit by its thousands of feet and its transformers.
fn leakage(context: &Context<'_>, part: &Part<'_>) -> Option<Draft> {
    let described = context.job.asset.cable.as_ref()?;
    described.series_circuit?;
    if context.only_resistance {
        return None;
    }
    let plain = |more| Draft::new(Id::LeakageAllowance, Outcome::NotApplicable, Said::More(more));
    let transformers = described.series_transformers.and_then(|count| u32::try_from(count).ok());
    let (Some(length), Some(transformers)) = (described.length, transformers) else {
        let said = Said::More(More::AllowanceUnknown);
        return Some(Draft::new(Id::LeakageAllowance, Outcome::Warn, said));
    };
    let Some(taken) = part.hold().and_then(|(trace, hold)| trace.last(&hold)) else {
        return Some(plain(More::AllowanceUnread));
    };
    let allowed = cable::series_circuit_leakage(context.library, length, transformers);
    let [_, accuracy, digits] = context.instrument.resistance_inputs(&taken);
    let expanded = 2.0 * accuracy.standard().hypot(digits.standard());
    let limit = allowed.value.amperes();
    let (outcome, said) = if taken.amps + expanded <= limit * (1.0 + 1e-9) {
        (Outcome::Ok, More::AllowanceMet)
    } else if taken.amps - expanded > limit {
        (Outcome::Fail, More::AllowanceOver)
    } else {
        let range = context.instrument.amps_range(&taken);
        let finer = range.and_then(|range| context.instrument.finer_amps_range(taken.amps, range));
        (Outcome::Warn, More::AllowanceOpen { finer: finer.map(Current::from_amperes) })
    };
    let kilofeet = length / Length::from_feet(1000.0);
    Some(
        Draft::new(Id::LeakageAllowance, outcome, Said::More(said))
            .value(Current::from_amperes(taken.amps).microamperes(), "µA")
            .limit(allowed.value.microamperes())
            .expanded(Current::from_amperes(expanded).microamperes())
            .chain(reading(&taken))
            .chain([
                Link::from(MoreLink::AllowanceOf { kilofeet, transformers }),
                Link::MostAllowed { current: allowed.value },
            ])
            .source(&allowed.source),
    )
}

/// Resistance times length against the least constant of the insulation. One minute's resistance
/// has absorption in it, which only makes it smaller: where it is enough, it is; else conduction
/// alone decides. A typical least from memory opens a question and rejects nothing.
fn constant(
    context: &Context<'_>,
    part: &Part<'_>,
    insulation: Option<&Insulation>,
    model: Option<&Model>,
) -> Option<Draft> {
    let described = context.job.asset.cable.as_ref()?;
    if !matches!(described.tested_part, None | Some(TestedPart::Insulation)) {
        return None;
    }
    let kind = described.insulation?;
    let plain = |more| Draft::new(Id::InsulationConstant, Outcome::NotApplicable, Said::More(more));
    let least = context.plan.model.as_ref().filter(|_| described.length.is_some());
    // As a record keeps it, so that file and record are judged to the same digit.
    let kept = |low: Resistance| Resistance::from_megohms(twelve_digits(low.megohms()));
    let Some(least) = least.map(|model| kept(model.insulation.low)) else {
        return Some(plain(More::ConstantNoLength));
    };
    let asked = Asked {
        published: typical::insulation_constant(context.library, kind),
        spread: typical::constant_spread(context.library).value.low,
        least,
        cold: Cold::of(context, kind),
    };
    let enough = least * asked.cold.times;
    let read = insulation.map(|one| (one.taken, one.read.clone()));
    let end = part.hold().and_then(|(trace, hold)| trace.last(&hold));
    let end = end.filter(|taken| taken.amps > 0.0);
    let end = end.and_then(|taken| Some((taken, Brought::as_read(&context.instrument, &taken)?)));
    // One minute's first: it is what the constant is read at.
    for (enough, outcome, more) in
        [(enough, Outcome::Ok, More::ConstantMet), (least, Outcome::Warn, asked.cold.open())]
    {
        let mut all = read.iter().chain(&end);
        if let Some((taken, read)) = all.find(|(_, read)| read.value() - read.expanded() >= enough)
        {
            return Some(asked.as_read(taken, read, outcome, more));
        }
    }
    // Where not even the last reading is enough, conduction that is not told leaves a question.
    let below = end.as_ref().is_some_and(|(_, end)| end.value() + end.expanded() < enough);
    let untold = if below { Outcome::Warn } else { Outcome::NotApplicable };
    let open = if below { More::ConstantOpen } else { More::ConstantUntold };
    let Some((conducts, standard, in_common)) = model.and_then(conduction) else {
        let Some((taken, end)) = end else { return Some(plain(More::ConstantUntold)) };
        return Some(asked.as_read(&taken, &end, untold, open));
    };
    let doubt = 2.0 * standard.hypot(conducts * in_common);
    let ohms = |siemens: f64| Resistance::from_ohms(siemens.max(f64::MIN_POSITIVE).recip());
    let (low, high) = (ohms(conducts + doubt), ohms(conducts - doubt));
    let value = if conducts > 0.0 { ohms(conducts) } else { low };
    let (outcome, more) = if low >= enough {
        (Outcome::Ok, More::ConstantMet)
    } else if low >= least {
        (Outcome::Warn, asked.cold.open())
    } else if high < least {
        (Outcome::Warn, More::ConstantBelow)
    } else {
        (untold, open)
    };
    let high = if conducts > doubt { high } else { value.max(low) };
    let link = Link::from(MoreLink::Conducts { resistance: value, low, high });
    Some(asked.told(value, outcome, more).chain([link]).chain(asked.last()))
}

/// The least that a constant asks for, and how much more where it may have been colder.
struct Asked {
    published: Cited<f64>,
    spread: f64,
    least: Resistance,
    cold: Cold,
}

impl Asked {
    fn constant(&self, resistance: Resistance) -> f64 {
        self.published.value * self.spread * (resistance / self.least)
    }

    fn told(&self, resistance: Resistance, outcome: Outcome, more: More) -> Draft {
        Draft::new(Id::InsulationConstant, outcome, Said::More(more))
            .value(self.constant(resistance), "MΩ·1000 ft")
            .limit(self.published.value * self.spread)
            .source(&self.published.source)
    }

    fn as_read(&self, taken: &Taken, read: &Brought, outcome: Outcome, more: More) -> Draft {
        let draft = self.told(read.value(), outcome, more).chain(reading(taken));
        let draft = draft.expanded(self.constant(read.expanded()));
        draft.chain([Link::ResistanceRead { resistance: read.value() }]).chain(self.last())
    }

    fn last(&self) -> [Link; 2] {
        let (constant, at) = (self.published.value * self.spread, self.cold.for_at);
        let least = MoreLink::TypicalLeast { resistance: self.least, constant, at };
        [self.cold.link(), least.into()]
    }
}

/// How cold the insulation may have been, beside the temperature that its constant is for.
struct Cold {
    for_at: Temperature,
    /// What was read of it, less what that may be off by; none where nobody wrote it down.
    coldest: Option<Temperature>,
    /// So many times the least is asked; without end where nobody knows how cold it was.
    times: f64,
}

impl Cold {
    /// No factor of the insulation itself is held, only an upper end of what cold may add: what is
    /// enough by that is enough. Read warmer than the constant is for, it is asked as it stands:
    /// warmth only makes a resistance smaller.
    fn of(context: &Context<'_>, kind: Kind) -> Self {
        let warmth = &context.warmth;
        let for_at = typical::constant_at(context.library, kind).value;
        let coldest =
            warmth.temperature.map(|at| Temperature::from_celsius(at.celsius() - warmth.within_k));
        let most = typical::colder_by_ten(context.library, kind).value;
        let times = coldest.map_or(f64::INFINITY, |coldest| {
            let colder_k = for_at.celsius() - coldest.celsius();
            if colder_k > 0.0 { most.powf(colder_k / 10.0) } else { 1.0 }
        });
        Self { for_at, coldest, times }
    }

    /// What is said where the least is met as read, and more is asked.
    fn open(&self) -> More {
        match self.coldest {
            Some(coldest) => More::ConstantCold { coldest, for_at: self.for_at },
            None => More::ConstantNoTemperature { for_at: self.for_at },
        }
    }

    fn link(&self) -> Link {
        let (for_at, times) = (self.for_at, self.times);
        let link = match self.coldest.filter(|_| times > 1.0) {
            Some(coldest) => SeenLink::ConstantColder { for_at, coldest, times },
            None => SeenLink::ConstantUncorrected { for_at },
        };
        link.into()
    }
}

/// Conductance, its random doubt, and what both meters err in common as a part of it: by the whole
/// course, else by the longest level alone.
fn conduction(model: &Model) -> Option<(f64, f64, f64)> {
    let found = match &model.object.conductance {
        Ok(found) => (found.value, found.standard),
        Err(_) => by_the_hold(model)?,
    };
    Some((found.0, found.1, model.in_common))
}

/// What earlier changes of voltage still draw falls as well, and is taken for absorption. Where
/// nothing falls beyond the digits, all that flows at the end is conduction.
fn by_the_hold(model: &Model) -> Option<(f64, f64)> {
    let [reached_s, last_s] = model.held_s;
    let held = model.points.iter().filter(|one| one.at_s > reached_s && one.at_s <= last_s);
    let held: Vec<&Point> = held.collect();
    let last = held.last()?;
    let ages: Vec<f64> = held.iter().map(|one| one.at_s - reached_s).collect();
    let amperes: Vec<f64> = held.iter().map(|one| one.amperes).collect();
    let weights: Vec<f64> = held.iter().map(|one| one.sigma.powi(-2)).collect();
    let all = (last.amperes / last.volts, last.sigma / last.volts);
    match fit_power_law(&ages, &amperes, &weights) {
        Ok(fit) => {
            let standard = fit.covariance[0][0].sqrt();
            Some((fit.conduction / last.volts, standard / last.volts))
        }
        Err(NotSeparable::Flat | NotSeparable::WithinNoise | NotSeparable::NotFalling) => Some(all),
        // What falls as steeply as this is gone by the end.
        Err(NotSeparable::ExponentAtBound(bound)) if bound > 1.0 => Some(all),
        Err(_) => None,
    }
}
