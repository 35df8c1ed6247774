//! What is said beyond the criteria of the hold and the minima: forecast, corona, surface, unrest,
//! allowances, and where to look.

use physics::fit::{NoRunaway, RunawayLaw};
use quantity::{Current, Ratio, Resistance, Temperature, Time, Voltage};

use super::time;
use crate::guarded::{End, Ends};
use crate::look::{Cause, Sign};

/// What a finding says.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum More {
    Forecast { low: Voltage, mid: Voltage, high: Voltage, open_above: bool },
    ForecastNone { why: NoRunaway },
    ForecastWithheld { above: Voltage },
    CoronaExcluded { how: Excluded },
    CoronaOpen { above: Voltage },
    CoronaUnasked { above: Voltage },
    Surface { part: Ratio, at: Voltage },
    SurfaceUntold { at: Voltage },
    BlankRunsDiffer { part: Ratio },
    Smooth { excess: Ratio },
    Steady { part: Ratio },
    Restless { part: Ratio },
    AllowanceMet,
    AllowanceOver,
    AllowanceOpen { finer: Option<Current> },
    AllowanceUnknown,
    AllowanceUnread,
    ConstantMet,
    ConstantBelow,
    ConstantCold { coldest: Temperature, for_at: Temperature },
    ConstantNoTemperature { for_at: Temperature },
    ConstantOpen,
    ConstantUntold,
    ConstantNoLength,
    Against,
}

/// What excluded corona.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Excluded {
    BlankRun,
    GuardPair,
}

/// One line of a chain.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum MoreLink {
    Law { law: RunawayLaw, low: Voltage, mid: Voltage, high: Voltage, is_bounded: bool },
    CoversAll,
    Against { count: usize },
    AgainstRule,
    CoronaRule { above: Voltage },
    Guarded { with: Current, without: Current, at: Voltage },
    Ends { ends: Ends },
    BlankRuns { at: Voltage, first: Current, later: Current, expanded: Current, is_told: bool },
    Unrest { amps: Current, of: Current },
    LargestPart { part: Ratio },
    DigitsAndLaw { expanded: String, part: Ratio },
    AllowanceOf { kilofeet: f64, transformers: u32 },
    KneeRule { places: usize, p: f64, below: f64 },
    Conducts { resistance: Resistance, low: Resistance, high: Resistance },
    TypicalLeast { resistance: Resistance, constant: f64, at: Temperature },
    GuardBand,
    GuardedReject,
    Since { age: Time },
}

/// What to do next.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum MoreNext {
    StopBelow(String),
    ExcludeCorona,
    RepeatBlank,
    Sectionalise,
    Steady,
    WriteLength,
    RepeatAllowance,
    HoldLonger,
    Warmer(String),
    HowWarm(String),
    BetterMeter,
    SeeTheMeter,
}

/// A finding's text.
pub(crate) fn said(more: &More) -> String {
    match more {
        More::Forecast { low, mid, high, open_above } => format!(
            "A model estimate, not a rating: conduction would run away between {} and \
             {high:.3}{}, most likely near {mid:.3}. It may lower where to stop next time, and \
             never raises it.",
            below(*low),
            if *open_above { " or above" } else { "" }
        ),
        More::ForecastNone { why } => {
            format!("Conduction turns up, and no breakdown voltage is estimated: {why}.")
        }
        More::ForecastWithheld { above } => format!(
            "No breakdown voltage is estimated: above {above:.3} corona of leads and ends looks \
             the same, and it was not excluded."
        ),
        More::CoronaExcluded { how: Excluded::BlankRun } => {
            "Corona of leads and set is excluded: a blank run to the level was taken out.".into()
        }
        More::CoronaExcluded { how: Excluded::GuardPair } => {
            "Corona is excluded: with and without the guard the current is the same.".into()
        }
        More::BlankRunsDiffer { part } => format!(
            "Two blank runs differ by {:.1} % of the current, more than the meters leave open: \
             what leads and set take changed between them, so neither can be taken out for the \
             other.",
            part.percent()
        ),
        More::CoronaOpen { above } => format!(
            "The current turns up above {above:.3} without a guard or a blank run: it may be \
             corona of leads and ends, and not the object."
        ),
        More::CoronaUnasked { above } => format!(
            "Above {above:.3} nothing excludes corona; nothing turned up, so nothing rests on it."
        ),
        More::Surface { part, at } => format!(
            "The guard takes {:.0} % of the current away at {at:.3}: so much flows over surface \
             and ends.",
            part.percent()
        ),
        More::SurfaceUntold { at } => format!(
            "With and without the guard the current differs at {at:.3} by less than its digits \
             can tell."
        ),
        More::Smooth { excess } => format!(
            "Conduction grows smoothly with voltage, by {:.0} % at the highest level, as it does \
             in high fields; no knee is borne out.",
            excess.percent()
        ),
        More::Steady { part } => {
            format!("The current strays by {:.1} % from reading to reading.", part.percent())
        }
        More::Restless { part } => format!(
            "The current strays by {:.1} % from reading to reading, more than its digits: \
             discharges, corona, a loose contact or the supply. Rule these out, then repeat.",
            part.percent()
        ),
        More::Against => "The current was read against the voltage: a meter joined the wrong way \
                          round, one that shows no sign, or a zero that is off. Sizes are judged; \
                          confirm that it read the object's current."
            .into(),
        More::AllowanceMet => "The leakage is within what is allowed for the length.".into(),
        More::AllowanceOver => "The leakage is above what is allowed for the length. Divide the \
                                circuit and test each part."
            .into(),
        More::AllowanceOpen { finer: Some(finer) } => format!(
            "The allowance lies inside the uncertainty of the reading. Repeat on the range of \
             {finer:.3}."
        ),
        More::AllowanceOpen { finer: None } => "The allowance lies inside the uncertainty of the \
                                                reading. No finer range of the set holds it: only \
                                                a more accurate meter can tell."
            .into(),
        More::AllowanceUnknown => "Write length_m and series_transformers into the job: the \
                                   allowance goes by both."
            .into(),
        More::AllowanceUnread => "The leakage at the end of the hold was not read.".into(),
        More::ConstantMet => {
            "Resistance times length is above the least of this insulation.".into()
        }
        More::ConstantBelow => "Resistance times length is below the least of this insulation, \
                                absorption taken out: damp, dirty ends, a bad joint or a weak \
                                spot."
            .into(),
        More::ConstantCold { coldest, for_at } => format!(
            "Resistance times length is above the least of this insulation as read. By its \
             temperature it may have been as cold as {coldest}, and below {for_at} insulation \
             reads more than its constant is for: not enough to tell."
        ),
        More::ConstantNoTemperature { for_at } => format!(
            "Resistance times length is above the least of this insulation as read, but the \
             temperature is not written down: below {for_at} insulation reads more than its \
             constant is for."
        ),
        More::ConstantOpen => "Resistance times length is below the least of this insulation as \
                               read; whether absorption or conduction makes it so is not told. \
                               Hold longer, then read again."
            .into(),
        More::ConstantUntold => "Conduction was not told from absorption well enough for the \
                                 insulation constant."
            .into(),
        More::ConstantNoLength => {
            "The length is not written down, so the insulation constant is not looked at.".into()
        }
    }
}

/// A voltage to stop below, to a tenth of a kilovolt: rounded down, never up to what it warns of.
fn below(low: Voltage) -> String {
    format!("{:.1} kV", (low.kilovolts() * 10.0 + 1e-9).floor() / 10.0)
}

/// A line of a chain.
pub(crate) fn line(link: &MoreLink) -> String {
    match link {
        MoreLink::Law { law, low, mid, high, is_bounded } => format!(
            "Model: {}: {low:.3} to {high:.3}{}, middle {mid:.3} (95 %)",
            law_name(*law),
            if *is_bounded { "" } else { ", where the search ends: no upper end shows" }
        ),
        MoreLink::CoversAll => "Correction: the ends cover every model that the readings do not \
                                refute, two at least; a growth without an end has no voltage"
            .into(),
        MoreLink::CoronaRule { above } => format!(
            "Criterion: above {above:.3} a turn is the object's only with a guard pair or a \
             blank run to the level"
        ),
        MoreLink::Guarded { with, without, at } => {
            format!("Reading: {without:.4} without the guard, {with:.4} with it, at {at:.3}")
        }
        MoreLink::Ends { ends } => format!(
            "Reading: the guard takes {:.1} % away at the near end alone, {:.1} % at the far end \
             alone; {}",
            ends.near.percent(),
            ends.far.percent(),
            match ends.worse {
                Some(End::Near) => "more at the near end, beyond the doubt of both",
                Some(End::Far) => "more at the far end, beyond the doubt of both",
                None => "which is more is not told",
            }
        ),
        MoreLink::BlankRuns { at, first, later, expanded, is_told } => format!(
            "Reading: two blank runs at {at:.3}, first {first:.3}, last {later:.3}; they differ by \
             {} than {expanded:.2}, which the meters leave open (k = 2)",
            if *is_told { "more" } else { "no more" }
        ),
        MoreLink::Unrest { amps, of } => format!(
            "Reading: one reading strays by {amps:.2} (k = 1) from the line between its \
             neighbours, of {of:.3}"
        ),
        MoreLink::LargestPart { part } => {
            format!("Criterion: no more than {:.0} %, or what its digits can hide", part.percent())
        }
        MoreLink::DigitsAndLaw { expanded, part } => format!(
            "Uncertainty: {expanded} (k = 2), from the digits and from {:.1} % that a law of \
             absorption leaves open; one meter on one range",
            part.percent()
        ),
        MoreLink::AllowanceOf { kilofeet, transformers } => format!(
            "Criterion: by {kilofeet:.2} thousand feet of cable and {transformers} transformers"
        ),
        MoreLink::KneeRule { places, p, below } => format!(
            "Criterion: a knee is borne out where noise alone would make one, at any of {places} \
             levels, with a probability below {below}; here {}",
            if *p < 0.001 { "less than 0.001".to_owned() } else { format!("{p:.3}") }
        ),
        MoreLink::Conducts { resistance, low, high } => format!(
            "Correction: {resistance:.4} by conduction alone, absorption taken out; {low:.3} to \
             {high:.3} (k = 2)"
        ),
        MoreLink::TypicalLeast { resistance, constant, at } => format!(
            "Criterion: at least {resistance:.3}, by an insulation constant of {constant:.0} \
             MΩ·1000 ft at {at}"
        ),
        MoreLink::GuardBand => "Rule: met or not met only beyond a guard band of the expanded \
                                uncertainty to either side of the limit; within it open (JCGM \
                                106:2012, 8.3)"
            .into(),
        MoreLink::GuardedReject => "Rule: met as read; not met only beyond a guard band of the \
                                    expanded uncertainty; within it open (JCGM 106:2012, 8.3.3)"
            .into(),
        MoreLink::Against { count } => {
            format!("Reading: {count} currents with the sign against that of the voltage")
        }
        MoreLink::AgainstRule => {
            "Criterion: a current into the object has the sign of its voltage".into()
        }
        MoreLink::Since { age } => format!("Reading: {} at the level", time(*age)),
    }
}

const fn law_name(law: RunawayLaw) -> &'static str {
    match law {
        RunawayLaw::ResistanceToZero => "resistance falls in a straight line to zero",
        RunawayLaw::ReciprocalExcess => "the reciprocal of the excess falls to zero",
        RunawayLaw::RootOfExcess => "the reciprocal root of the excess falls to zero",
    }
}

/// What a finding asks for, if it is not met.
pub(crate) fn next_of(more: &More) -> Option<MoreNext> {
    Some(match more {
        More::Forecast { low, .. } => MoreNext::StopBelow(below(*low)),
        More::ForecastWithheld { .. } | More::CoronaOpen { .. } => MoreNext::ExcludeCorona,
        More::BlankRunsDiffer { .. } => MoreNext::RepeatBlank,
        More::Restless { .. } => MoreNext::Steady,
        More::Against => MoreNext::SeeTheMeter,
        More::AllowanceOver | More::ConstantBelow => MoreNext::Sectionalise,
        More::AllowanceOpen { finer: Some(_) } => MoreNext::RepeatAllowance,
        More::AllowanceOpen { finer: None } => MoreNext::BetterMeter,
        More::ConstantOpen => MoreNext::HoldLonger,
        More::ConstantCold { for_at, .. } => MoreNext::Warmer(for_at.to_string()),
        More::ConstantNoTemperature { for_at } => MoreNext::HowWarm(for_at.to_string()),
        More::AllowanceUnknown | More::ConstantNoLength => MoreNext::WriteLength,
        More::ForecastNone { .. }
        | More::CoronaExcluded { .. }
        | More::CoronaUnasked { .. }
        | More::Surface { .. }
        | More::SurfaceUntold { .. }
        | More::Smooth { .. }
        | More::Steady { .. }
        | More::AllowanceMet
        | More::AllowanceUnread
        | More::ConstantMet
        | More::ConstantUntold => return None,
    })
}

/// What to do next, as a sentence.
pub(crate) fn next(next: &MoreNext) -> String {
    match next {
        MoreNext::StopBelow(low) => format!(
            "Stop below {low} next time, and no higher than the plan says; the estimate raises \
             nothing."
        ),
        MoreNext::ExcludeCorona => "Take a blank run to the level, or read with and without the \
                                    guard, then repeat the upper steps."
            .into(),
        MoreNext::RepeatBlank => {
            "Find what changed between the blank runs: damp, dirt, a lead that \
                                  moved, corona at an end. Then repeat the blank run, and the \
                                  readings after it."
                .into()
        }
        MoreNext::Sectionalise => "Clean the ends and repeat. If it stays, open the circuit in \
                                   the middle, ground and test each half, and go on with the one \
                                   that repeats it."
            .into(),
        MoreNext::Steady => "Tighten and clean the connections, screen the leads, watch the \
                             supply, then repeat the hold."
            .into(),
        MoreNext::WriteLength => "Write the length of the circuit, and what hangs on it, into \
                                  the job."
            .into(),
        MoreNext::HoldLonger => "Repeat the reading at a lower level, held until it no longer \
                                 falls."
            .into(),
        MoreNext::BetterMeter => "Read the current again with a more accurate meter.".into(),
        MoreNext::Warmer(at) => format!(
            "Take the temperature on the cable itself, not of the air; if it is below {at}, read \
             the resistance again when the cable is warmer."
        ),
        MoreNext::HowWarm(at) => format!(
            "Write the temperature of the cable down; if it is below {at}, read the resistance \
             again when the cable is warmer."
        ),
        MoreNext::SeeTheMeter => "See how the leads of the meter of current are joined and what \
                                  it reads with nothing applied; put its `ratio` below zero where \
                                  it stays so."
            .into(),
        MoreNext::RepeatAllowance => "Read the leakage again, on a finer range.".into(),
    }
}

/// One place to look, with what speaks for and against it.
pub(crate) fn look(cause: Cause, percent: f64, signs: &[(Sign, bool)]) -> String {
    let name = match cause {
        Cause::Punctured => "punctured insulation",
        Cause::WeakSpot => "a weak spot in the insulation, not yet punctured",
        Cause::WetVolume => "moisture in the insulation",
        Cause::WetSurface => "dew or damp on surface and ends",
        Cause::DirtySurface => "dirt on surface and ends",
        Cause::Corona => "corona at leads and ends",
    };
    let told: Vec<&str> = signs.iter().map(|(sign, seen)| sign_words(*sign, *seen)).collect();
    format!("Where to look: {name}, likelihood {percent:.0} %; evidence: {}.", told.join("; "))
}

const fn sign_words(sign: Sign, seen: bool) -> &'static str {
    match (sign, seen) {
        (Sign::Broke, true) => "breakdown, or a trip that nobody explained",
        (Sign::Broke, false) => "no breakdown and no trip",
        (Sign::Conducts, true) => "conduction rules, little absorption",
        (Sign::Conducts, false) => "absorption shows as in sound insulation",
        (Sign::TurnsUp, true) => "conduction turns up with voltage",
        (Sign::TurnsUp, false) => "conduction in proportion to voltage",
        (Sign::Rises, true) => "the current rose through the hold",
        (Sign::Rises, false) => "the current did not rise through the hold",
        (Sign::Restless, true) => "a restless current",
        (Sign::Restless, false) => "a steady current",
        (Sign::GuardTakesMost, true) => "the guard takes most of it away",
        (Sign::GuardTakesMost, false) => "the guard takes little of it away",
        (Sign::OneAlone, true) => "this conductor alone",
        (Sign::OneAlone, false) => "its sisters take as much",
        (Sign::DampAir, true) => "damp air",
        (Sign::DampAir, false) => "dry air",
        (Sign::HighVoltage, true) => "unguarded above the corona voltage",
        (Sign::HighVoltage, false) => "below the voltage of corona, or corona excluded",
    }
}

/// Where the guard found more, one end at a time.
pub(crate) fn at_end(end: End) -> String {
    let (here, there) = match end {
        End::Near => ("near", "far"),
        End::Far => ("far", "near"),
    };
    format!(
        "Look at the {here} end first: guarded alone it takes more away than the {there} end. It \
         tells of the surface there, not of what lies between the ends."
    )
}

/// How far the look can tell where along the object.
pub(crate) const WHICH_END: &str = "Which end or joint cannot be told from one place of reading: \
    guard or clean one end at a time and read again; then divide the object where it opens.";

#[cfg(test)]
mod tests {
    use super::*;

    // Derived: what warns of 25.75 kV says no number above it, and no two ends alike.
    #[test]
    fn what_to_stop_below_is_never_above_what_it_warns_of() {
        let of = Voltage::from_kilovolts;
        let (low, mid, high) = (of(25.75), of(27.99), of(28.53));
        let forecast = More::Forecast { low, mid, high, open_above: false };
        assert!(said(&forecast).contains("between 25.7 kV and 28.5 kV"), "{}", said(&forecast));
        let Some(MoreNext::StopBelow(stop)) = next_of(&forecast) else { panic!("no advice") };
        assert_eq!(stop, "25.7 kV");
        for (volts, written) in [(25_000.0, "25.0 kV"), (29_999.0, "29.9 kV"), (8049.0, "8.0 kV")] {
            assert_eq!(below(Voltage::from_volts(volts)), written);
        }
        let above = of(25.0);
        for more in [More::CoronaUnasked { above }, More::CoronaOpen { above }] {
            assert!(said(&more).contains("bove 25.0 kV"), "{}", said(&more));
        }
    }
}
