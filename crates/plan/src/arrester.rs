//! A metal-oxide arrester: raised until the reference current flows, and never proved by a level.

use quantity::{Band, Current, Ratio, Time, Voltage, VoltageRate};
use standards::arrester::{self, ArresterReference};
use standards::library::Cited;
use standards::words::ArresterKind;
use standards::{Citation, Library, Mark};

use crate::PlanIssue;
use crate::course::ChosenLevel;
use crate::job::{Arrester, Job};
use crate::level::Taken;
use crate::steps::{Laid, Stretch, hold_readings};
use crate::words::{ArresterConcern, GearConcern, Say, current, kilovolts};

/// What an arrester conducts at a voltage, from the limits that are published for it.
///
/// `I = I_ref · (U / U_ref)^a` through the two points that its limits name: the reference current
/// at the reference voltage, the leakage limit at a part of it. A real one bends more sharply
/// there, so that one that keeps to both leaks less in between.
///
/// # Source
/// Derived from the row of the limits; the power law is the usual form of a varistor's conduction
/// (common practice, no source). Serves from the part where leakage is read to the reference.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Conducts {
    reference: Voltage,
    at: Current,
    part: f64,
    tolerance: f64,
    leaks: Band<Current>,
}

impl Conducts {
    /// The current to expect at a voltage: high, as of one whose reference voltage is as low as it
    /// may be; low, as of one where it is as high. The rise ends at the reference current.
    pub(crate) fn at(&self, voltage: Voltage) -> Band<Current> {
        let of = |leaks: Current, reference: f64| {
            let exponent = (self.at / leaks).ln() / (1.0 / self.part).ln();
            let times = (voltage / (self.reference * reference)).powf(exponent);
            Current::from_amperes((self.at.amperes() * times).min(self.at.amperes()))
        };
        Band {
            low: of(self.leaks.low, 1.0 + self.tolerance),
            mid: of(self.leaks.mid, 1.0),
            high: of(self.leaks.high, 1.0 - self.tolerance),
        }
    }
}

/// What the job and the published rule say of one arrester.
struct Known {
    reference: Voltage,
    leakage: Current,
    how: Cited<ArresterReference>,
}

impl Known {
    fn of(arrester: &Arrester, library: &Library) -> Option<Self> {
        let how = arrester::reference(library);
        let leakage = arrester.leakage_limit.unwrap_or(how.value.leakage);
        Some(Self { reference: arrester.reference?, leakage, how })
    }

    /// The highest voltage that is ever applied: beyond it its reference voltage is off.
    fn most(&self) -> Voltage {
        self.reference * (1.0 + self.how.value.tolerance.value())
    }
}

/// The course's highest voltage; `None` where there is none, the issues saying why.
pub(crate) fn take(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Option<Taken> {
    let how = arrester::reference(library);
    let arrester = job.asset.arrester.as_ref();
    let refused = match arrester.and_then(|arrester| arrester.kind) {
        None => Some(GearConcern::ArresterKindMissing.say()),
        Some(ArresterKind::GappedSiliconCarbide) => Some(GearConcern::GappedArrester.say()),
        Some(ArresterKind::MetalOxide) if job.test.level.is_some() => {
            Some(ArresterConcern::NoWithstand.say())
        }
        Some(ArresterKind::MetalOxide) => None,
    };
    issues.extend(refused.clone());
    if refused.is_some() {
        return None;
    }
    let Some(known) = arrester.and_then(|arrester| Known::of(arrester, library)) else {
        issues.push(ArresterConcern::ReferenceMissing { how: how.value, source: how.source }.say());
        return None;
    };
    say(job, &known, issues);
    let whole = arrester::rise(library);
    let rise = whole.clone().map(|rise| per(known.reference, rise.whole_rise));
    let hold = whole.value.near.last().map_or(Time::ZERO, |(_, dwell)| *dwell);
    let tolerance = how.value.tolerance;
    let chosen = ChosenLevel {
        rule: how.source.id.clone(),
        how: format!(
            "up to {}, at most {:.0} % above the maker's {}",
            current(how.value.reference),
            tolerance.percent(),
            kilovolts(known.reference)
        ),
        published: None,
        capped_by: None,
        source: how.source.clone(),
        hold_source: Some(whole.source.clone()),
        not_taken: Vec::new(),
    };
    Some(Taken {
        test: known.most(),
        hold,
        chosen,
        water_line: None,
        water_line_most: None,
        rise: Some(rise),
        sources: vec![how.source, makers_figure(), whole.source],
    })
}

fn per(voltage: Voltage, time: Time) -> VoltageRate {
    VoltageRate::from_volts_per_second(voltage.volts() / time.seconds())
}

fn say(job: &Job, known: &Known, issues: &mut Vec<PlanIssue>) {
    let how = known.how.value;
    issues.push(
        ArresterConcern::Measured {
            reference: known.reference,
            most: known.most(),
            leak_at: known.reference * how.part.value(),
            leakage: known.leakage,
            how,
        }
        .say(),
    );
    let published = job.asset.arrester.as_ref().is_none_or(|it| it.leakage_limit.is_none());
    issues.push(ArresterConcern::FromMemory { source: known.how.source.clone(), published }.say());
}

/// Leakage on the way up, then small steps to the reference and at last as far as is allowed.
pub(crate) fn lay(job: &Job, library: &Library) -> Laid {
    let known = job.asset.arrester.as_ref().and_then(|it| Known::of(it, library));
    let Some(known) = known else { return Laid { stretches: Vec::new(), sources: Vec::new() } };
    let how = known.how.value;
    let rise = arrester::rise(library);
    let law = Conducts {
        reference: known.reference,
        at: how.reference,
        part: how.part.value(),
        tolerance: how.tolerance.value(),
        leaks: Band {
            low: rise.value.least.min(known.leakage),
            mid: rise.value.usual.min(known.leakage),
            high: known.leakage,
        },
    };
    let stretch = |level: Voltage, dwell: Time, read_at: Vec<Time>| Stretch {
        level,
        dwell,
        read_at,
        conducts: Some(law),
    };
    let leakage_dwell = rise.value.leakage_dwell;
    let mut stretches = vec![stretch(
        known.reference * how.part.value(),
        leakage_dwell,
        hold_readings(library, leakage_dwell),
    )];
    let top = Ratio::from_value(1.0 + how.tolerance.value());
    let last = rise.value.near.last().map(|(_, dwell)| (top, *dwell));
    for (part, dwell) in rise.value.near.iter().copied().chain(last) {
        stretches.push(stretch(known.reference * part.value(), dwell, vec![dwell]));
    }
    Laid { stretches, sources: vec![rise.source] }
}

/// Where the maker's figure stands.
pub(crate) fn makers_figure() -> Citation {
    Citation {
        id: "own".to_owned(),
        title: "The maker's figure".to_owned(),
        edition: "as given for this job".to_owned(),
        place: "[asset.arrester] reference_kv".to_owned(),
        mark: Mark::Own,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Derived: through 50 µA at 0.75 and 1 mA at 1 the exponent is ln 20/ln(4/3) = 10.413; at
    // 0.9 of the reference 1 mA · 0.9^10.413 = 334 µA, and of one 5 % lower 570 µA.
    #[test]
    fn what_is_expected_passes_through_the_published_limits() {
        let micro = Current::from_microamperes;
        let law = Conducts {
            reference: Voltage::from_kilovolts(24.0),
            at: micro(1000.0),
            part: 0.75,
            tolerance: 0.05,
            leaks: Band { low: micro(1.0), mid: micro(50.0), high: micro(50.0) },
        };
        let at = |part: f64| law.at(Voltage::from_kilovolts(24.0 * part));
        assert!((at(0.75).mid.microamperes() - 50.0).abs() < 1e-9);
        assert!((at(1.0).mid.microamperes() - 1000.0).abs() < 1e-9);
        assert!((at(0.9).mid.microamperes() - 333.8).abs() < 0.1);
        assert!((at(0.9).high.microamperes() - 569.5).abs() < 0.5);
        // However low its reference is, the rise ends at the reference current.
        assert_eq!(at(1.05).high, micro(1000.0));
        assert!(at(1.0).low < at(1.0).mid);
    }
}
