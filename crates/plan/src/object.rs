//! What is known of the object before its test: capacitance, conduction and absorption as bands.

use physics::capacitance::coaxial;
use physics::course::ObjectRange;
use quantity::{Band, Capacitance, Length, Resistance, Voltage};
use standards::library::Cited;
use standards::words::{GroundFamily, Insulation, System, TemperatureModel, TestedPart, Winding};
use standards::{Citation, Library, Mark, typical, winding};

use crate::PlanIssue;
use crate::job::{AssetClass, Cable, Job};
use crate::words::{AroundConcern, CableConcern, GearConcern, Say};

/// A capacitance that was written down may still be off by this part.
const WRITTEN_CAPACITANCE_DOUBT: f64 = 0.05;
/// Over the conductor screen to over the insulation, where the geometry is not given.
const TYPICAL_DIAMETER_RATIO: f64 = 1.8;
/// The object as it is planned with.
pub(crate) struct Modelled {
    pub(crate) range: ObjectRange,
    pub(crate) permittivity: Band<f64>,
    pub(crate) temperature_model: Option<TemperatureModel>,
    pub(crate) capacitance_from: Citation,
    pub(crate) sources: Vec<Citation>,
}

/// Which insulation system, for typical values.
pub(crate) fn system(job: &Job, library: &Library) -> System {
    match job.asset.class {
        // Oversheaths are of many compounds; of the extruded systems the one that absorbs more.
        AssetClass::Cable if oversheath(job).is_some() => System::EthyleneRubber,
        AssetClass::Cable => {
            let insulation = job.asset.cable.as_ref().and_then(|cable| cable.insulation);
            match insulation {
                Some(Insulation::Epr) => System::EthyleneRubber,
                Some(Insulation::Xlpe | Insulation::TrXlpe | Insulation::Pe) => {
                    System::Polyethylene
                }
                Some(Insulation::Pilc | Insulation::OilFilled) | None => System::Laminated,
            }
        }
        AssetClass::Motor | AssetClass::Generator => {
            let year = job.asset.machine.as_ref().and_then(|machine| machine.built_year);
            if year.is_some_and(|year| year < winding::modern_since(library).value) {
                System::AsphaltMica
            } else {
                System::ResinMica
            }
        }
        AssetClass::Protective => System::Rubber,
        AssetClass::Bushing | AssetClass::Capacitor => System::Laminated,
        AssetClass::Switchgear
        | AssetClass::Insulator
        | AssetClass::Arrester
        | AssetClass::Busway
        | AssetClass::Breaker
        | AssetClass::Switch
        | AssetClass::Other => System::Air,
    }
}

/// The cable whose oversheath is tested, not its main insulation.
fn oversheath(job: &Job) -> Option<&Cable> {
    let cable = job.asset.cable.as_ref().filter(|_| job.asset.class == AssetClass::Cable)?;
    (cable.tested_part == Some(TestedPart::Oversheath)).then_some(cable)
}

/// Whether switchgear is tested with its cables on.
pub(crate) fn cables_on(job: &Job) -> bool {
    let gear = job.asset.switchgear.as_ref().filter(|_| job.asset.class == AssetClass::Switchgear);
    gear.is_some_and(|gear| gear.cables_connected == Some(true))
}

/// Whether the guide for stepped tests of stators speaks of this winding; unknown is read as yes.
pub(crate) fn is_stepped(job: &Job, library: &Library) -> bool {
    let winding = job.asset.machine.as_ref().and_then(|machine| machine.winding);
    let from = winding::stepped_from(library).value;
    winding.is_none_or(|winding| winding == Winding::FormWound)
        && job.asset.rated.is_none_or(|rated| rated >= from)
}

/// Which family of rules for the ground time.
pub(crate) fn ground_family(job: &Job, library: &Library) -> GroundFamily {
    match job.asset.class {
        AssetClass::Cable => GroundFamily::Cable,
        AssetClass::Motor | AssetClass::Generator if is_stepped(job, library) => {
            GroundFamily::Machine
        }
        AssetClass::Motor | AssetClass::Generator => GroundFamily::SmallWinding,
        AssetClass::Switchgear if cables_on(job) => GroundFamily::Cable,
        AssetClass::Switchgear
        | AssetClass::Protective
        | AssetClass::Insulator
        | AssetClass::Arrester
        | AssetClass::Busway
        | AssetClass::Breaker
        | AssetClass::Switch
        | AssetClass::Bushing
        | AssetClass::Capacitor
        | AssetClass::Other => GroundFamily::Other,
    }
}

/// Models the object; `None` where not even a wide band can be given, the issues saying why.
pub(crate) fn model(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Option<Modelled> {
    let system = system(job, library);
    let capacitance = capacitance(job, library, issues)?;
    let absorption = typical::absorption(library, system);
    let insulation = match (&job.asset.cable, job.asset.class) {
        (Some(cable), _) if oversheath(job).is_some() => {
            let kilometres = length(cable, library).kilometres();
            typical::oversheath_resistance(library)
                .map(|band| band.map(|each| each * (1.0 / kilometres)))
        }
        (Some(cable), AssetClass::Cable) => cable_resistance(cable, library)?,
        _ => typical::resistance(library, system),
    };
    let extent = extent(job, library, issues);
    let permittivity = permittivity(job, library, system);
    let temperature = Some(typical::temperature_model(library, system))
        .filter(|model| model.value != TemperatureModel::None);
    let mut sources = vec![
        capacitance.source.clone(),
        absorption.source.clone(),
        insulation.source.clone(),
        permittivity.source.clone(),
    ];
    sources.extend(temperature.as_ref().map(|model| model.source.clone()));
    sources.extend(extent.as_ref().map(|extent| extent.source.clone()));
    Some(Modelled {
        range: ObjectRange {
            capacitance: capacitance.value,
            insulation: insulation.value,
            strength: absorption.value.strength,
            exponent: absorption.value.exponent,
            extent: extent.map_or(Band::certain(1.0), |extent| extent.value),
        },
        permittivity: permittivity.value,
        temperature_model: temperature.map(|model| model.value),
        capacitance_from: capacitance.source,
        sources,
    })
}

/// As written, else typical of the cable's insulation or of the system.
fn permittivity(job: &Job, library: &Library, system: System) -> Cited<Band<f64>> {
    let cable = job.asset.cable.as_ref().filter(|_| job.asset.class == AssetClass::Cable);
    let cable = cable.filter(|_| oversheath(job).is_none());
    let typical = match cable.and_then(|cable| cable.insulation) {
        Some(insulation) => typical::permittivity(library, insulation),
        None => typical::system_permittivity(library, system),
    };
    match cable.and_then(|cable| cable.relative_permittivity) {
        Some(written) => typical.map(|_| Band::certain(written)),
        None => typical,
    }
}

fn capacitance(
    job: &Job,
    library: &Library,
    issues: &mut Vec<PlanIssue>,
) -> Option<Cited<Band<Capacitance>>> {
    let rated = job.asset.rated.unwrap_or(Voltage::ZERO);
    if let Some(cable) = oversheath(job) {
        let kilometres = length(cable, library).kilometres();
        issues.push(AroundConcern::CapacitanceTypical.say());
        let each = typical::oversheath_capacitance(library);
        return Some(each.map(|band| band.map(|each| each * kilometres)));
    }
    let written = match job.asset.class {
        AssetClass::Cable => {
            let cable = job.asset.cable.as_ref()?;
            return cable_capacitance(cable, rated, library, issues);
        }
        AssetClass::Motor | AssetClass::Generator => {
            job.asset.machine.as_ref().and_then(|machine| machine.capacitance)
        }
        _ => plate(job),
    };
    if let Some(written) = written {
        return Some(from_the_job(written));
    }
    let typical = if job.is_machine() {
        Some(typical::machine_capacitance(library, rated))
    } else {
        typical::piece_capacitance(library, system(job, library))
    };
    issues.push(match typical {
        Some(_) => AroundConcern::CapacitanceTypical.say(),
        None => GearConcern::CapacitanceMissing { class: job.asset.class }.say(),
    });
    typical
}

/// The capacitance that the plate of a class without a formula gives.
fn plate(job: &Job) -> Option<Capacitance> {
    let asset = &job.asset;
    match asset.class {
        AssetClass::Switchgear => asset.switchgear.as_ref()?.capacitance,
        AssetClass::Busway => asset.busway.as_ref()?.capacitance,
        AssetClass::Breaker => asset.breaker.as_ref()?.capacitance,
        AssetClass::Switch => asset.switch.as_ref()?.capacitance,
        AssetClass::Insulator => asset.insulator.as_ref()?.capacitance,
        AssetClass::Bushing => asset.bushing.as_ref()?.capacitance,
        AssetClass::Arrester => asset.arrester.as_ref()?.capacitance,
        AssetClass::Capacitor => asset.capacitor.as_ref()?.capacitance,
        AssetClass::Other => asset.other.as_ref()?.capacitance,
        AssetClass::Cable | AssetClass::Motor | AssetClass::Generator | AssetClass::Protective => {
            None
        }
    }
}

fn cable_capacitance(
    cable: &Cable,
    rated: Voltage,
    library: &Library,
    issues: &mut Vec<PlanIssue>,
) -> Option<Cited<Band<Capacitance>>> {
    let per_kilometre = capacitance_per_kilometre(cable, rated, library, issues)?;
    let kilometres = length(cable, library).kilometres();
    Some(per_kilometre.map(|band| band.map(|each| each * kilometres)))
}

/// The length of a cable, or one in the middle of what there is.
fn length(cable: &Cable, library: &Library) -> Length {
    cable.length.unwrap_or_else(|| typical::cable_length(library).value.mid)
}

/// A length that is not known, in parts of [`length`]: capacitance and conductance grow with it
/// alike, so it is drawn once for both.
fn extent(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Option<Cited<Band<f64>>> {
    let cable = job.asset.cable.as_ref().filter(|_| job.asset.class == AssetClass::Cable)?;
    if cable.length.is_some() {
        return None;
    }
    let typical = typical::cable_length(library);
    let Band { low, mid, high } = typical.value;
    issues.push(CableConcern::LengthMissing { shortest: low, longest: high }.say());
    Some(typical.map(|lengths| lengths.map(|each| each / mid)))
}

/// Of one kilometre: as written, from the geometry, or typical.
fn capacitance_per_kilometre(
    cable: &Cable,
    rated: Voltage,
    library: &Library,
    issues: &mut Vec<PlanIssue>,
) -> Option<Cited<Band<Capacitance>>> {
    if let Some(written) = cable.capacitance_nf_per_km {
        return Some(from_the_job(Capacitance::from_nanofarads(written)));
    }
    let insulation = cable.insulation?;
    if let (Some(inner), Some(outer)) = (cable.conductor_diameter, cable.insulation_diameter) {
        let kilometre = Length::from_kilometres(1.0);
        let of = |permittivity| coaxial(inner, outer, permittivity, kilometre).ok();
        if let Some(permittivity) = cable.relative_permittivity {
            return of(permittivity).map(from_the_job);
        }
        let typical = typical::permittivity(library, insulation);
        let Band { low, mid, high } = typical.value;
        let value = Band { low: of(low)?, mid: of(mid)?, high: of(high)? };
        return Some(Cited { value, source: typical.source });
    }
    issues.push(AroundConcern::CapacitanceTypical.say());
    Some(typical::cable_capacitance_per_km(library, insulation, rated))
}

/// R = K · log10(D/d) / length, the published K being a least value and service far above it.
fn cable_resistance(cable: &Cable, library: &Library) -> Option<Cited<Band<Resistance>>> {
    let constant = typical::insulation_constant(library, cable.insulation?);
    let spread = typical::constant_spread(library).value;
    let ratio = match (cable.conductor_diameter, cable.insulation_diameter) {
        (Some(inner), Some(outer)) if outer > inner => outer / inner,
        _ => TYPICAL_DIAMETER_RATIO,
    };
    let kilofeet = length(cable, library) / Length::from_feet(1000.0);
    let least = Resistance::from_megohms(constant.value * ratio.log10() / kilofeet);
    Some(Cited { value: spread.map(|times| least * times), source: constant.source })
}

fn from_the_job(written: Capacitance) -> Cited<Band<Capacitance>> {
    let value = Band {
        low: written * (1.0 - WRITTEN_CAPACITANCE_DOUBT),
        mid: written,
        high: written * (1.0 + WRITTEN_CAPACITANCE_DOUBT),
    };
    let source = Citation {
        id: "job".to_owned(),
        title: "The job file".to_owned(),
        edition: "as given for this job".to_owned(),
        place: "capacitance".to_owned(),
        mark: Mark::Own,
    };
    Cited { value, source }
}
