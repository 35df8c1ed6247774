//! Insulation resistance and polarization index against their minima.

use physics::temperature::{Model, correction, factor_to_40};
use physics::uncertainty::{Contribution, Evaluated};
use plan::job::{AssetClass, Machine, Method};
use quantity::{Current, Resistance, Temperature, Time, Voltage, engineering};
use standards::Library;
use standards::library::Cited;
use standards::switchgear::{self, InsulatedBy, factor_to_20};
use standards::typical;
use standards::winding::{self, MinimumQuestion};
use standards::words::{BreakerKind, ThermalClass, Winding};

use crate::brought::{Brought, CORRECTED_TO, Stood};
use crate::context::Context;
use crate::draft::{Draft, reading};
use crate::figures::{self, AtMinute};
use crate::findings::Outcome;
use crate::history::Factor;
use crate::part::Part;
use crate::trace::{Stretch, Taken, Trace};
use crate::words::seen::{Seen, SeenLink};
use crate::words::{Id, Link, Open, Said};

/// A resistance was read at the voltage its minimum is for, if within this part of it.
const VOLTAGE_LIKENESS: f64 = 0.1;

/// The resistance one minute after the level was reached, and what is made of it.
#[derive(Clone, Debug)]
pub(crate) struct Insulation {
    pub(crate) taken: Taken,
    pub(crate) read: Brought,
    /// At 40 °C by the rule of ten kelvins.
    pub(crate) at_40: Option<Brought>,
    /// At 40 °C by the other published rule, where it serves the winding.
    other_at_40: Option<Brought>,
    why_not: Open,
    ambient: bool,
}

impl Insulation {
    /// `None` where it was not read at one minute or no current flowed.
    pub(crate) fn of(context: &Context<'_>, part: &Part<'_>) -> Option<Self> {
        let (trace, stretch) = part.resistance(context.job)?;
        let warmth = &context.warmth;
        let AtMinute { taken, read, at_40 } =
            AtMinute::of(trace, &stretch, &context.instrument, warmth)?;
        let is_machine = context.job.is_machine();
        let other_at_40 = warmth.temperature.filter(|_| is_machine && is_modern(context));
        let other_at_40 = other_at_40.and_then(|temperature| {
            let correction = correction(Model::Thermosetting, temperature, CORRECTED_TO).ok()?;
            Brought::to_40(&context.instrument, &taken, correction, warmth.within_k)
        });
        let why_not = if !is_machine {
            Open::NoRule
        } else if warmth.temperature.is_none() {
            Open::NoTemperature
        } else {
            Open::OutsideCorrection
        };
        Some(Self { taken, read, at_40, other_at_40, why_not, ambient: warmth.ambient })
    }

    /// At 40 °C where it could be brought there.
    fn best(&self) -> &Brought {
        self.at_40.as_ref().unwrap_or(&self.read)
    }

    fn chain(&self, context: &Context<'_>) -> Vec<Link> {
        let mut chain = reading(&self.taken);
        chain.push(Link::ResistanceRead { resistance: self.read.value() });
        match self.at_40.as_ref().and_then(Brought::corrected) {
            Some(corrected) => {
                if self.ambient {
                    chain.push(Link::AmbientTaken);
                    chain.extend(context.air_temperature.clone().map(Link::Air));
                }
                chain.push(corrected);
            }
            None => chain.push(Link::NotCorrected { why: self.why_not }),
        }
        if let Some(other) = self.other_at_40.as_ref() {
            let (resistance, model) = (other.value(), Model::Thermosetting.to_string());
            chain.push(Link::OtherCorrection { resistance, model });
        }
        chain.extend(self.best().parts());
        chain.push(Link::Doubt {
            expanded: format!("{:.2}", self.best().expanded()),
            accuracy_known: context.instrument.amps_accuracy.is_some(),
        });
        chain.extend(lent(context));
        chain
    }

    /// How a minimum at 40 °C stands to it.
    fn against(&self, minimum: Resistance) -> Stood {
        let Some(at_40) = self.at_40.as_ref() else { return self.uncorrected(minimum) };
        let mut stood = at_40.against(minimum);
        let other = self.other_at_40.as_ref().map(|other| other.against(minimum));
        if let Some(other) = other.filter(|other| other.outcome != stood.outcome) {
            stood.links.extend(other.links);
            return Stood { outcome: Outcome::Warn, why: Open::Corrections, ..stood };
        }
        stood
    }

    /// Met or not met only where it would be at either end of what the correction serves.
    fn uncorrected(&self, minimum: Resistance) -> Stood {
        let (low, high) = Model::HalvingPerTen.range();
        let at = |temperature| {
            let factor = factor_to_40(Model::HalvingPerTen, temperature)
                .expect("the ends of its range are served");
            // As much as to hold what was read against the minimum at that temperature.
            self.read.against(minimum * (1.0 / factor.value())).outcome
        };
        let outcome = if at(low) == at(high) { at(low) } else { Outcome::Warn };
        Stood { outcome, why: self.why_not, links: Vec::new() }
    }
}

/// Findings on resistance and index; none for objects that have no such criterion.
pub(crate) fn findings(
    context: &Context<'_>,
    part: &Part<'_>,
    insulation: Option<&Insulation>,
) -> Vec<Draft> {
    match context.class() {
        AssetClass::Motor | AssetClass::Generator => machine(context, part, insulation),
        AssetClass::Cable if context.job.test.method == Some(Method::Resistance) => {
            aged(context, part, cable(context, insulation))
        }
        AssetClass::Cable | AssetClass::Protective | AssetClass::Arrester => Vec::new(),
        AssetClass::Switchgear
        | AssetClass::Insulator
        | AssetClass::Busway
        | AssetClass::Breaker
        | AssetClass::Switch
        | AssetClass::Bushing
        | AssetClass::Capacitor
        | AssetClass::Other => aged(context, part, apparatus(context, insulation)),
    }
}

fn aged(context: &Context<'_>, part: &Part<'_>, draft: Option<Draft>) -> Vec<Draft> {
    let mut drafts: Vec<Draft> = draft.into_iter().collect();
    drafts.iter_mut().for_each(|draft| ask_for_ages(context, part, draft));
    drafts
}

/// Where the voltage was on before the first row, nobody knows how old a reading is. Its resistance
/// is then more than that of the age that was asked, so that a minimum is not met by it; not met it
/// is all the more. An index is neither.
fn ask_for_ages(context: &Context<'_>, part: &Part<'_>, draft: &mut Draft) {
    let read = part.resistance(context.job);
    if read.is_none_or(|(trace, stretch)| trace.knows_ages(&stretch)) {
        return;
    }
    let open = match (draft.id, draft.outcome) {
        (Id::ResistanceMinimum, Outcome::Ok) => Said::ResistanceOpen { why: Open::Ages },
        (Id::IndexMinimum, Outcome::Ok | Outcome::Fail) => {
            Said::Seen(Seen::IndexAges { index: draft.value.unwrap_or_default() })
        }
        _ => return,
    };
    draft.outcome = Outcome::Warn;
    draft.said = open;
}

/// A cable against its insulation constant over its length: a typical least, so never a reject.
fn cable(context: &Context<'_>, insulation: Option<&Insulation>) -> Option<Draft> {
    let plain = |said| Draft::new(Id::ResistanceMinimum, Outcome::NotApplicable, said);
    let Some(insulation) = insulation else { return Some(plain(Said::ResistanceUnread)) };
    let kind = context.job.asset.cable.as_ref().and_then(|cable| cable.insulation);
    let Some((kind, model)) = kind.zip(context.plan.model.as_ref()) else {
        return Some(plain(Said::ResistanceNoRule));
    };
    let minimum = model.insulation.low;
    let stood = insulation.read.against(minimum);
    let (outcome, said) = match stood.outcome {
        Outcome::Fail => (Outcome::Warn, Said::ResistanceBelowTypical),
        outcome => (outcome, said_of(outcome, Open::Doubt)),
    };
    let least = Link::LeastOf { resistance: minimum, at: None, after: Time::from_seconds(60.0) };
    Some(
        Draft::new(Id::ResistanceMinimum, outcome, said)
            .value(insulation.read.value().megohms(), "MΩ")
            .limit(minimum.megohms())
            .expanded(insulation.read.expanded().megohms())
            .chain(insulation.chain(context))
            .chain(stood.links)
            .chain([least])
            .source(&typical::insulation_constant(context.library, kind).source),
    )
}

/// Gear and the like against the published value at 20 °C. The plan calls it a guide, for the
/// maker's own stands above it; where none is written down it is all there is, and what is plainly
/// below it is not met.
fn apparatus(context: &Context<'_>, insulation: Option<&Insulation>) -> Option<Draft> {
    let plain = |said| Draft::new(Id::ResistanceMinimum, Outcome::NotApplicable, said);
    let Some(insulation) = insulation else { return Some(plain(Said::ResistanceUnread)) };
    let rated = context.job.asset.rated?;
    let Some(asked) = switchgear::resistance_minimum(context.library, rated) else {
        return Some(plain(Said::ResistanceNoRule));
    };
    let read = Voltage::from_volts(insulation.taken.volts);
    if (read - asked.value.test).abs() > asked.value.test * VOLTAGE_LIKENESS {
        let said = Said::ResistanceOtherVoltage { read, asked: asked.value.test };
        return Some(
            plain(said).value(insulation.read.value().megohms(), "MΩ").source(&asked.source),
        );
    }
    let minimum = asked.value.minimum;
    let brought = ToTwenty::of(context, insulation, minimum);
    let least = Link::LeastOf {
        resistance: minimum,
        at: brought.corrected.then_some(switchgear::FACTORS_TO),
        after: Time::from_seconds(60.0),
    };
    let said = said_of(brought.outcome, brought.why);
    let mut chain = reading(&insulation.taken);
    chain.push(Link::ResistanceRead { resistance: insulation.read.value() });
    chain.extend(brought.links);
    chain.extend(insulation.read.parts());
    chain.push(Link::Doubt {
        expanded: format!("{:.2}", brought.expanded),
        accuracy_known: context.instrument.amps_accuracy.is_some(),
    });
    Some(
        Draft::new(Id::ResistanceMinimum, brought.outcome, said)
            .value(brought.value.megohms(), "MΩ")
            .limit(minimum.megohms())
            .expanded(brought.expanded.megohms())
            .chain(chain)
            .chain(lent(context))
            .chain([least])
            .source(&asked.source),
    )
}

/// That the set's accuracy stands for a meter's of its own.
fn lent(context: &Context<'_>) -> Option<Link> {
    context.instrument.is_lent().then(|| SeenLink::MeterUnknown.into())
}

/// A resistance of gear at 20 °C, and how a minimum stands to it.
struct ToTwenty {
    value: Resistance,
    expanded: Resistance,
    corrected: bool,
    outcome: Outcome,
    why: Open,
    links: Vec<Link>,
}

impl ToTwenty {
    fn of(context: &Context<'_>, insulation: &Insulation, minimum: Resistance) -> Self {
        let breaker = context.job.asset.breaker.as_ref().and_then(|breaker| breaker.kind);
        let by = match breaker {
            Some(BreakerKind::Oil) => InsulatedBy::Oil,
            _ => InsulatedBy::Solid,
        };
        let (library, warmth) = (context.library, &context.warmth);
        let Some(at) = warmth.temperature else {
            return Self::unknown(library, by, insulation, minimum);
        };
        let cited = factor_to_20(library, by, at);
        let Some((factor, cited)) =
            Factor::by(library, by, at, warmth.within_k).zip(cited.as_ref())
        else {
            // Beyond the table no factor is made up, and none can be ruled out.
            return Self::uncorrected(insulation, Outcome::Warn, Open::OutsideFactors);
        };
        let value = insulation.read.value() * factor.value;
        let of_read = insulation.read.expanded() / insulation.read.value();
        let expanded = value * of_read.hypot(2.0 * factor.relative);
        // As much as to hold what was read against the minimum at that temperature, at either end
        // of what the temperature leaves open.
        let against = |side: f64| {
            let factor = factor.value * (1.0 + side * 2.0 * factor.relative);
            insulation.read.against(minimum * (1.0 / factor)).outcome
        };
        let outcome = if against(-1.0) == against(1.0) { against(1.0) } else { Outcome::Warn };
        let mut links = Vec::new();
        if warmth.ambient {
            links.push(Link::AmbientTaken);
            links.extend(context.air_temperature.clone().map(Link::Air));
        }
        let (megohms, source) = (value.megohms(), cited.source.to_string());
        links.push(SeenLink::ToTwenty { megohms, factor: factor.value, source }.into());
        Self { value, expanded, corrected: true, outcome, why: Open::Doubt, links }
    }

    /// Met or not met only where it would be at either end of the table.
    fn unknown(
        library: &Library,
        by: InsulatedBy,
        insulation: &Insulation,
        minimum: Resistance,
    ) -> Self {
        let factor = |celsius: i32| {
            let at = Temperature::from_celsius(f64::from(celsius));
            Some(factor_to_20(library, by, at)?.value)
        };
        let factors: Vec<f64> = (MOST_COLD..=MOST_WARM).filter_map(factor).collect();
        let against = |factor: f64| insulation.read.against(minimum * (1.0 / factor)).outcome;
        let low = against(factors.iter().copied().fold(1.0, f64::min));
        let high = against(factors.iter().copied().fold(1.0, f64::max));
        let outcome = if low == high { low } else { Outcome::Warn };
        Self::uncorrected(insulation, outcome, Open::NoTemperature)
    }

    fn uncorrected(insulation: &Insulation, outcome: Outcome, why: Open) -> Self {
        let (value, expanded) = (insulation.read.value(), insulation.read.expanded());
        let links = vec![Link::NotCorrected { why }];
        Self { value, expanded, corrected: false, outcome, why, links }
    }
}

/// Degrees Celsius between which factors are looked for.
const MOST_COLD: i32 = -40;
const MOST_WARM: i32 = 150;

fn said_of(outcome: Outcome, why: Open) -> Said {
    match outcome {
        Outcome::Ok => Said::ResistanceMet,
        Outcome::Fail => Said::ResistanceBelow,
        Outcome::Warn => Said::ResistanceOpen { why },
        Outcome::NotApplicable => Said::ResistanceUnread,
    }
}

fn machine(context: &Context<'_>, part: &Part<'_>, insulation: Option<&Insulation>) -> Vec<Draft> {
    let mut resistance = machine_resistance(context, insulation);
    let mut index = machine_index(context, part, insulation);
    let all = [&mut resistance, &mut index];
    all.into_iter().for_each(|draft| ask_for_ages(context, part, draft));
    either_suffices(context, &mut resistance, &mut index);
    vec![resistance, index]
}

fn question(context: &Context<'_>, built_year: Option<i16>) -> Option<MinimumQuestion> {
    let machine = context.job.asset.machine.as_ref();
    Some(MinimumQuestion {
        winding: machine.and_then(|machine| machine.winding).unwrap_or(Winding::FormWound),
        built_year,
        rated: context.job.asset.rated?,
    })
}

/// A winding whose year asks for no less than a modern one is one, or is not known to be older.
fn is_modern(context: &Context<'_>) -> bool {
    let built = context.job.asset.machine.as_ref().and_then(|machine| machine.built_year);
    let minima = |built| {
        question(context, built).map(|asked| winding::resistance_minimum(context.library, &asked))
    };
    minima(built) == minima(None)
}

fn machine_resistance(context: &Context<'_>, insulation: Option<&Insulation>) -> Draft {
    let plain = |said| Draft::new(Id::ResistanceMinimum, Outcome::NotApplicable, said);
    let Some(insulation) = insulation else { return plain(Said::ResistanceUnread) };
    let built = context.job.asset.machine.as_ref().and_then(|machine| machine.built_year);
    let minima: Vec<Cited<Resistance>> = question(context, built)
        .map(|asked| winding::resistance_minimum(context.library, &asked))
        .unwrap_or_default();
    let Some(minimum) = minima.first() else { return plain(Said::ResistanceNoRule) };
    let Stood { outcome, why, links } = insulation.against(minimum.value);
    let best = insulation.best();
    let older = minima[1..].iter().map(|older| Link::OlderEdition {
        resistance: older.value,
        source: older.source.to_string(),
    });
    Draft::new(Id::ResistanceMinimum, outcome, said_of(outcome, why))
        .value(best.value().megohms(), "MΩ")
        .limit(minimum.value.megohms())
        .expanded(best.expanded().megohms())
        .chain(insulation.chain(context))
        .chain(links)
        .chain([Link::LeastOf {
            resistance: minimum.value,
            at: Some(CORRECTED_TO),
            after: Time::from_seconds(60.0),
        }])
        .chain(older)
        .source(&minimum.source)
}

/// Resistance at ten minutes over that at one minute, with its budget.
pub(crate) fn index(context: &Context<'_>, part: &Part<'_>) -> Option<(Evaluated, [Taken; 2])> {
    let (trace, stretch) = part.resistance(context.job)?;
    quotient(context, trace, &stretch, 60.0, 600.0)
}

/// Resistance at the later time over that at the earlier.
fn quotient(
    context: &Context<'_>,
    trace: &Trace,
    stretch: &Stretch,
    earlier_s: f64,
    later_s: f64,
) -> Option<(Evaluated, [Taken; 2])> {
    let (_, [earlier, later]) = figures::quotient(trace, stretch, earlier_s, later_s)?;
    let found = context.instrument.quotient(&earlier, &later, later.volts / earlier.volts)?;
    Some((found, [earlier, later]))
}

fn machine_index(context: &Context<'_>, part: &Part<'_>, insulation: Option<&Insulation>) -> Draft {
    let ceiling = winding::index_ceiling(context.library);
    if let Some(insulation) = insulation {
        let best = insulation.best().value();
        if best > ceiling.value {
            let said = Said::IndexNotMeaningful { resistance: best };
            return Draft::new(Id::IndexNotMeaningful, Outcome::NotApplicable, said)
                .value(best.megohms(), "MΩ")
                .limit(ceiling.value.megohms())
                .chain(insulation.chain(context))
                .source(&ceiling.source);
        }
    }
    let Some((found, taken)) = index(context, part) else {
        return Draft::new(Id::IndexMinimum, Outcome::NotApplicable, Said::IndexUnread);
    };
    let (index, expanded) = (found.value, 2.0 * found.standard);
    let mut chain: Vec<Link> = taken.iter().flat_map(reading).collect();
    chain.extend(found.contributions.iter().filter(|input| input.standard > 0.0).map(part_of));
    chain.push(Link::Doubt { expanded: engineering(expanded, "", 2), accuracy_known: true });
    let draft = |outcome, said| {
        Draft::new(Id::IndexMinimum, outcome, said)
            .value(index, "")
            .expanded(expanded)
            .chain(chain.clone())
    };
    let class = context.job.asset.machine.as_ref().and_then(|m: &Machine| m.thermal_class);
    let Some(minimum) = index_minimum(context, class) else {
        return draft(Outcome::NotApplicable, Said::IndexNoRule { index });
    };
    let (outcome, said) = if index - expanded >= minimum.value {
        (Outcome::Ok, Said::IndexMet { index })
    } else if class.is_none() {
        (Outcome::Warn, Said::IndexNoRule { index })
    } else if index + expanded < minimum.value {
        (Outcome::Fail, Said::IndexBelow { index })
    } else {
        (Outcome::Warn, Said::IndexOpen { index })
    };
    draft(outcome, said)
        .limit(minimum.value)
        .chain([Link::LeastIndex { index: minimum.value }])
        .source(&minimum.source)
}

/// One input of an index, a current, and its part.
fn part_of(input: &Contribution) -> Link {
    Link::Part {
        input: input.name.to_string(),
        standard: format!("{:.3}", Current::from_amperes(input.standard)),
        makes: (input.part != 0.0).then(|| engineering(input.part.abs(), "", 2)),
    }
}

/// The minimum of the class; of an unknown class the strictest, which can be met but not failed.
fn index_minimum(context: &Context<'_>, class: Option<ThermalClass>) -> Option<Cited<f64>> {
    let of = |class: &ThermalClass| winding::index_minimum(context.library, *class);
    match &class {
        Some(class) => of(class),
        None => ThermalClass::ALL
            .iter()
            .filter_map(of)
            .max_by(|one, other| one.value.total_cmp(&other.value)),
    }
}

/// Up to a rating one of the two is enough; beyond it both must be met. Of an unknown rating it
/// cannot be said.
fn either_suffices(context: &Context<'_>, resistance: &mut Draft, index: &mut Draft) {
    let is_open = |draft: &Draft| matches!(draft.outcome, Outcome::Fail | Outcome::Warn);
    let rule = winding::either_suffices_up_to_mva(context.library);
    let rated = context.job.asset.machine.as_ref().and_then(|machine| machine.rated_mva);
    let value = index.value.unwrap_or_default();
    let below = |draft: &Draft| draft.outcome == Outcome::Fail;
    let (index_below, resistance_below) = (below(index), below(resistance));
    let (lame, other_suffices) = match (resistance.outcome, index.outcome) {
        (Outcome::Ok, _) if is_open(index) => {
            (index, Said::IndexOtherSuffices { index: value, below: index_below })
        }
        (_, Outcome::Ok) if is_open(resistance) => {
            (resistance, Said::ResistanceOtherSuffices { below: resistance_below })
        }
        _ => return,
    };
    match rated {
        Some(mva) if mva <= rule.value => {
            lame.outcome = Outcome::NotApplicable;
            lame.said = other_suffices;
        }
        Some(_) => return,
        None if lame.outcome == Outcome::Fail => {
            lame.outcome = Outcome::Warn;
            lame.said = Said::ResistanceOpen { why: Open::Rating };
        }
        None => {}
    }
    lame.chain.push(Link::EitherSuffices { up_to_mva: rule.value });
}
