//! Whether the test can be judged at all.

use jiff::civil::Date;
use jiff::{Span, ToSpan};
use physics::temperature::dew_point;
use plan::Severity;
use plan::job::Reads;
use quantity::{Current, Time, Voltage};
use standards::{tolerance, winding};

use crate::against;
use crate::arrester::no_level;
use crate::context::Context;
use crate::current;
use crate::draft::Draft;
use crate::findings::Outcome;
use crate::linearity::LEAST_LEVELS;
use crate::part::{CLOCK_S, Part, length_s};
use crate::trace::{Row, Stretch, Trace};
use crate::words::seen::SeenLink;
use crate::words::{Id, Link, Missing, Said};

/// A pointer at full scale may be read a little beyond it.
const FULL_SCALE: f64 = 1.005;

/// Findings on one conductor.
pub(crate) fn of_part(context: &Context<'_>, part: &Part<'_>) -> Vec<Draft> {
    let mut found = vec![test_voltage(context, part), hold_time(context, part)];
    found.push(readings_enough(context, part));
    found.push(range(context, part));
    found.extend(current::link(context, part));
    found.extend(against::finding(part));
    found
}

/// Findings on the test as a whole.
pub(crate) fn of_whole(context: &Context<'_>, parts: &[Part<'_>]) -> Vec<Draft> {
    vec![conductors_done(context, parts), calibration(context), weather(context)]
}

fn hold_time(context: &Context<'_>, part: &Part<'_>) -> Draft {
    let plain = |said| Draft::new(Id::HoldTime, Outcome::NotApplicable, said);
    if context.only_resistance {
        return plain(Said::HoldNotAsked);
    }
    if let Some(draft) = no_level(context, Id::HoldTime) {
        return draft;
    }
    let Some(asked) = context.plan.hold else { return plain(Said::HoldUnplanned) };
    let level = context.plan.test.unwrap_or_default();
    let Some((trace, hold)) = part.hold() else {
        return Draft::void(Id::HoldTime, Said::HoldNever { level })
            .value(0.0, "s")
            .limit(asked.seconds());
    };
    let lasted = Time::from_seconds(trace.duration_s(&hold));
    let gaps = part.gaps(&hold);
    let unwatched = Time::from_seconds(length_s(&gaps));
    let held = lasted - unwatched;
    let full = held.seconds() + CLOCK_S >= asked.seconds();
    let draft = match (full, gaps.is_empty()) {
        (true, true) => Draft::new(Id::HoldTime, Outcome::Ok, Said::HoldMet { held, asked }),
        (true, false) => {
            let said = Said::HoldMetThoughUnwatched { held, unwatched, asked };
            Draft::new(Id::HoldTime, Outcome::Ok, said)
        }
        (false, true) => Draft::void(Id::HoldTime, Said::HoldShort { held, asked }),
        (false, false) => Draft::void(Id::HoldTime, Said::HoldUnwatched { held, unwatched, asked }),
    };
    let from = Time::from_seconds(hold.start_s);
    let at = Time::from_seconds;
    let unwatched =
        gaps.iter().map(|gap| Link::NotWatched { from: at(gap.from_s), to: at(gap.to_s) });
    let draft = draft
        .value(held.seconds(), "s")
        .limit(asked.seconds())
        .expanded(CLOCK_S)
        .chain([Link::Counted { from, to: from + lasted }])
        .chain(unwatched)
        .chain([Link::LeastTime { time: asked }]);
    match &context.plan.level {
        Some(level) => draft.source(level.hold_source.as_ref().unwrap_or(&level.source)),
        None => draft,
    }
}

fn test_voltage(context: &Context<'_>, part: &Part<'_>) -> Draft {
    let plain = |said| Draft::new(Id::TestVoltage, Outcome::NotApplicable, said);
    if let Some(issue) = context.plan.issues.iter().find(|issue| issue.severity == Severity::Refuse)
    {
        return plain(Said::LevelRefused { reason: issue.text.clone() });
    }
    if context.only_resistance {
        return resistance_voltage(context, part);
    }
    if let Some(draft) = no_level(context, Id::TestVoltage) {
        return draft;
    }
    let Some(asked) = context.plan.test else { return plain(Said::LevelUnplanned) };
    let Some((trace, hold)) = part.hold() else {
        let highest = Voltage::from_volts(part.main().map_or(0.0, Trace::peak));
        let said = match part.main().and_then(Trace::most).filter(|_| part.tripped()) {
            Some(most) => Said::LevelTripped { highest, most: Current::from_amperes(most), asked },
            None => Said::LevelNever { highest, asked },
        };
        return Draft::void(Id::TestVoltage, said)
            .value(highest.kilovolts(), "kV")
            .limit(asked.kilovolts());
    };
    let tolerance = tolerance::voltage(context.library, context.plan.hold.unwrap_or_default());
    let (low, high) = trace.span(&hold);
    let (low, high) = (Voltage::from_volts(low), Voltage::from_volts(high));
    let below = (asked - low) > (high - asked);
    let worst = if below { low } else { high };
    let side = if below { -1.0 } else { 1.0 };
    let draft = if (worst - asked).abs() <= asked * (tolerance.value.value() + 1e-9) {
        Draft::new(Id::TestVoltage, Outcome::Ok, Said::LevelMet { asked })
    } else {
        let tolerance = tolerance.value;
        Draft::void(Id::TestVoltage, Said::LevelOff { worst, asked, tolerance })
    };
    let draft = draft
        .value(worst.kilovolts(), "kV")
        .limit((asked * (1.0 + side * tolerance.value.value())).kilovolts())
        .chain([Link::Span { low, high }])
        .source(&tolerance.source);
    voltage_doubt(context, trace, &hold, draft)
        .chain([Link::Tolerance { tolerance: tolerance.value }])
}

/// The tolerance bounds the value as read; how well it is known stands beside it (IEC 60060-3
/// keeps the two apart).
fn voltage_doubt(context: &Context<'_>, trace: &Trace, hold: &Stretch, draft: Draft) -> Draft {
    let Some(taken) = trace.last(hold) else { return draft };
    let expanded = Voltage::from_volts(2.0 * context.instrument.volts(&taken));
    draft
        .expanded(expanded.kilovolts())
        .chain([Link::DoubtNotUsed { expanded: format!("{expanded:.2}") }])
        .chain(context.instrument.is_lent().then(|| SeenLink::MeterUnknown.into()))
}

fn resistance_voltage(context: &Context<'_>, part: &Part<'_>) -> Draft {
    let plain = |said| Draft::new(Id::TestVoltage, Outcome::NotApplicable, said);
    let Some((_, stretch)) = part.resistance(context.job) else {
        return plain(Said::LevelUnplanned);
    };
    let level = Voltage::from_volts(stretch.level);
    let (low, high, source) = match (&context.plan.resistance_test, context.job.asset.rated) {
        (_, Some(rated)) if context.job.is_machine() => {
            let asked = winding::resistance_voltage(context.library, rated);
            (asked.value.low, asked.value.high, asked.source)
        }
        (Some(test), _) => (test.voltage, test.voltage, test.source.clone()),
        (None, _) => match (context.plan.test, &context.plan.level) {
            (Some(planned), Some(chosen)) => (planned, planned, chosen.source.clone()),
            _ => return plain(Said::LevelUnplanned),
        },
    };
    let inside = level >= low * (1.0 - part.tolerance) && level <= high * (1.0 + part.tolerance);
    let draft = if inside {
        Draft::new(Id::TestVoltage, Outcome::Ok, Said::ResistanceVoltageMet { level })
    } else {
        let said = Said::ResistanceVoltageOff { level, low, high };
        Draft::new(Id::TestVoltage, Outcome::Warn, said)
    };
    let limit = if level < low { low } else { high };
    draft
        .value(level.kilovolts(), "kV")
        .limit(limit.kilovolts())
        .chain([Link::LevelRead { level }, Link::Between { low, high }])
        .source(&source)
}

fn readings_enough(context: &Context<'_>, part: &Part<'_>) -> Draft {
    let count: usize = part.traces.iter().map(|trace| trace.rows.len()).sum();
    let (needed, wanted) = missing(context, part);
    let value = |draft: Draft| {
        draft.value(count as f64, "readings").chain([Link::Rows { count }, Link::EveryReading])
    };
    if count == 0 {
        return value(Draft::void(Id::ReadingsEnough, Said::ReadingsNone));
    }
    if let Some(dead) = current::dead(context, part) {
        return value(dead);
    }
    if !needed.is_empty() {
        let said = Said::ReadingsTooFew { missing: needed };
        return value(Draft::void(Id::ReadingsEnough, said));
    }
    if !wanted.is_empty() {
        let said = Said::ReadingsSome { missing: wanted };
        return value(Draft::new(Id::ReadingsEnough, Outcome::Warn, said));
    }
    value(Draft::new(Id::ReadingsEnough, Outcome::Ok, Said::ReadingsEnough { count }))
}

/// What cannot be done without, and what a criterion would have looked at.
fn missing(context: &Context<'_>, part: &Part<'_>) -> (Vec<Missing>, Vec<Missing>) {
    let (mut needed, mut wanted) = (Vec::new(), Vec::new());
    let without_volts: usize = part.traces.iter().map(|trace| trace.without_volts).sum();
    if without_volts > 0 {
        wanted.push(Missing::Voltages(without_volts));
    }
    if context.only_resistance {
        let one_minute =
            part.resistance(context.job).and_then(|(trace, stretch)| trace.at(&stretch, 60.0));
        if one_minute.is_none() {
            needed.push(Missing::OneMinute);
        }
        return (needed, wanted);
    }
    let Some((trace, hold)) = part.hold() else {
        return (needed, wanted);
    };
    if !context.looks_at_current() {
        return (needed, wanted);
    }
    if trace.at(&hold, 60.0).is_none() && trace.duration_s(&hold) >= 60.0 {
        needed.push(Missing::OneMinute);
    }
    if trace.last(&hold).is_none() {
        needed.push(Missing::End);
    }
    if context.has_steps() {
        let read = part.dwells().iter().filter(|dwell| trace.last(dwell).is_some()).count();
        if read < LEAST_LEVELS {
            wanted.push(Missing::Steps { read, planned: context.plan.course.len() });
        }
    }
    (needed, wanted)
}

fn range(context: &Context<'_>, part: &Part<'_>) -> Draft {
    let least = tolerance::least_of_range(context.library).value;
    range_of(context, part).chain([Link::FullScale { least }])
}

fn range_of(context: &Context<'_>, part: &Part<'_>) -> Draft {
    let plain = |said| Draft::new(Id::Range, Outcome::NotApplicable, said);
    let warn = |said| Draft::new(Id::Range, Outcome::Warn, said);
    let overloads: usize = part.traces.iter().map(|trace| trace.overloads(part.tolerance)).sum();
    // A number above full scale was not read there; while it charges, little rests on it.
    let rests = |draft: Draft| Draft { outcome: Outcome::Fail, voids: true, ..draft };
    if overloads > 0 {
        return warn(Said::RangeOverload { count: overloads });
    }
    let rows = || part.traces.iter().flat_map(|trace| &trace.rows);
    if let Some(over) = rows().filter(|row| !row.rising).find_map(over_range) {
        return rests(over);
    }
    if let Some(over) = rows().find_map(over_range) {
        return over;
    }
    if let Some(coarse) = coarse(context, part) {
        return coarse;
    }
    if rows().all(|row| row.amps_range.is_none()) {
        return plain(Said::RangeUnknown);
    }
    Draft::new(Id::Range, Outcome::Ok, Said::RangeFits)
}

/// A reading above the full scale that was written down beside it.
fn over_range(row: &Row) -> Option<Draft> {
    let warn = |said| Draft::new(Id::Range, Outcome::Warn, said);
    let amps = row.amps.map(|amps| amps + row.leads);
    let over = |reading: f64, range: Option<f64>| range.filter(|full| reading > full * FULL_SCALE);
    if let (Some(amps), Some(range)) = (amps, amps.and_then(|amps| over(amps, row.amps_range))) {
        let (reading, range) = (Current::from_amperes(amps), Current::from_amperes(range));
        let said = Said::RangeOver { reading, range };
        return Some(warn(said).value(reading.microamperes(), "µA").limit(range.microamperes()));
    }
    let range = Voltage::from_volts(over(row.volts, row.volts_range)?);
    let reading = Voltage::from_volts(row.volts);
    let said = Said::RangeOverVolts { reading, range };
    Some(warn(said).value(reading.kilovolts(), "kV").limit(range.kilovolts()))
}

/// A reading that a verdict rests on, low on its range while a finer one would have held it.
fn coarse(context: &Context<'_>, part: &Part<'_>) -> Option<Draft> {
    if !context.looks_at_current() && !context.only_resistance {
        return None;
    }
    let least = tolerance::least_of_range(context.library);
    let trace = part.foremost()?;
    // One range through a hold keeps its readings comparable, so the largest of them counts.
    let dwell = part.dwells().last()?.clone();
    let rows = dwell.rows.clone().filter(|&row| trace.rows[row].amps.is_some());
    let at = rows.max_by(|&one, &other| {
        let amps = |row: usize| trace.rows[row].amps.unwrap_or_default();
        amps(one).total_cmp(&amps(other))
    })?;
    let largest = &trace.rows[at];
    let (amps, range) = (largest.amps?, largest.amps_range?);
    if amps >= range * least.value.value() {
        return None;
    }
    let finer = context.instrument.finer_amps_range(amps, range)?;
    let said = Said::RangeCoarse {
        reading: Current::from_amperes(amps),
        range: Current::from_amperes(range),
        finer: Current::from_amperes(finer),
    };
    let limit = Current::from_amperes(range * least.value.value());
    let coarse = Draft::new(Id::Range, Outcome::Warn, said.clone());
    // A current below what the meter can be off by on this range was not measured.
    let taken = trace.last(&Stretch { rows: at..at + 1, ..dwell });
    let is_lost = taken.is_some_and(|taken| {
        let [_, accuracy, digits] = context.instrument.resistance_inputs(&taken);
        2.0 * accuracy.standard().hypot(digits.standard()) >= taken.amps
    });
    Some(
        if is_lost { Draft::void(Id::Range, said) } else { coarse }
            .value(Current::from_amperes(amps).microamperes(), "µA")
            .limit(limit.microamperes())
            .source(&least.source),
    )
}

fn conductors_done(context: &Context<'_>, parts: &[Part<'_>]) -> Draft {
    let planned = &context.plan.conductors;
    let same = |one: &str, other: &str| one.trim().eq_ignore_ascii_case(other.trim());
    let done = |name: &str| parts.iter().any(|part| same(part.phase, name) && part.was_tested());
    let names: Vec<String> = planned.iter().filter(|name| !done(name)).cloned().collect();
    let value = |draft: Draft| {
        let tested = planned.len() - names.len();
        draft
            .value(tested as f64, "conductors")
            .limit(planned.len() as f64)
            .chain([Link::Conductors { tested, planned: planned.len() }])
    };
    if names.is_empty() {
        let said = Said::ConductorsDone { count: planned.len() };
        return value(Draft::new(Id::ConductorsDone, Outcome::Ok, said));
    }
    if is_joined_winding(context, parts) {
        return Draft::new(Id::ConductorsDone, Outcome::Ok, Said::ConductorsAsOne)
            .value(1.0, "conductors");
    }
    if let Some(draft) = other_names(context, parts) {
        return draft;
    }
    value(Draft::void(Id::ConductorsDone, Said::ConductorsMissing { names: names.clone() }))
}

/// Where the job names no conductor, the plan's names only stand for the class: readings that use
/// other names are counted, and readings without any are one test of the whole.
fn other_names(context: &Context<'_>, parts: &[Part<'_>]) -> Option<Draft> {
    let planned = &context.plan.conductors;
    let tested: Vec<&Part<'_>> = parts.iter().filter(|part| part.was_tested()).collect();
    let ours = |part: &&Part<'_>| planned.iter().any(|name| name == part.phase);
    if !context.job.asset.conductors.is_empty() || tested.iter().any(ours) || tested.is_empty() {
        return None;
    }
    let (count, of) = (tested.len(), planned.len());
    let draft = if count == 1 {
        Draft::new(Id::ConductorsDone, Outcome::NotApplicable, Said::ConductorsUnnamed)
    } else if count >= of {
        Draft::new(Id::ConductorsDone, Outcome::Ok, Said::ConductorsDone { count })
    } else {
        Draft::void(Id::ConductorsDone, Said::ConductorsFewer { tested: count, planned: of })
    };
    let counted = Link::Conductors { tested: count, planned: of };
    Some(draft.value(count as f64, "conductors").limit(of as f64).chain([counted]))
}

/// A winding whose neutral is not said to be open is usually tested with its phases joined; the
/// names A, B, C are then only the default.
fn is_joined_winding(context: &Context<'_>, parts: &[Part<'_>]) -> bool {
    let open = context.job.asset.machine.as_ref().and_then(|machine| machine.neutral_open);
    let named = !context.job.asset.conductors.is_empty();
    let tested = parts.iter().filter(|part| part.was_tested()).count();
    context.job.is_machine() && !named && open != Some(true) && tested == 1
}

fn calibration(context: &Context<'_>) -> Draft {
    let warn = |said| Draft::new(Id::Calibration, Outcome::Warn, said);
    let Some(test) = context.job.test.date else { return warn(Said::TestDateUnknown) };
    let set = &context.job.set;
    let usual = tolerance::calibration_months(context.library);
    let months = set.calibration_interval_months.unwrap_or(usual.value);
    // The set's own needles count unless separate meters read both.
    let apart = |what| context.job.meters.iter().any(|meter| meter.reads == what);
    let needles = !(apart(Reads::Voltage) && apart(Reads::Current));
    let mut days: Vec<Option<Date>> =
        context.job.meters.iter().map(|meter| meter.calibrated).collect();
    if needles {
        days.push(set.calibrated);
    }
    if days.iter().any(Option::is_none) {
        return warn(Said::CalibrationUnknown);
    }
    let Some(oldest) = days.iter().flatten().min().copied() else {
        return warn(Said::CalibrationUnknown);
    };
    if let Some(&calibrated) = days.iter().flatten().find(|day| **day > test) {
        return warn(Said::CalibrationLater { calibrated });
    }
    let span: Span = months.months();
    let until = oldest.saturating_add(span);
    let assumed = set.calibration_interval_months.is_none();
    let draft = if test <= until {
        Draft::new(Id::Calibration, Outcome::Ok, Said::CalibrationHeld { until })
    } else {
        Draft::void(Id::Calibration, Said::CalibrationLapsed { until, test })
    };
    let draft = draft
        .chain([Link::CalibratedOn { calibrated: oldest, months, assumed }, Link::InsideInterval]);
    if assumed { draft.source(&usual.source) } else { draft }
}

fn weather(context: &Context<'_>) -> Draft {
    let plain = |said| Draft::new(Id::Weather, Outcome::NotApplicable, said);
    let conditions = &context.job.conditions;
    let told = || [&context.air_temperature, &context.air_humidity].into_iter().flatten();
    let told = || told().cloned().map(Link::Air);
    let (Some(air), Some(humidity)) = (conditions.temperature, conditions.humidity) else {
        return plain(Said::WeatherUnknown).chain(told());
    };
    let Ok(dew_point) = dew_point(air, humidity) else {
        return plain(Said::WeatherUnknown).chain(told());
    };
    let object = conditions.object_temperature.unwrap_or(air);
    let draft = if object.kelvins() > dew_point.kelvins() {
        Draft::new(Id::Weather, Outcome::Ok, Said::WeatherNoted { air, humidity })
    } else {
        Draft::void(Id::Weather, Said::Condensation { object, dew_point })
    };
    draft
        .value(object.celsius(), "°C")
        .limit(dew_point.celsius())
        .chain([Link::Dew { object, dew_point }].into_iter().chain(told()))
        .by_practice()
}
