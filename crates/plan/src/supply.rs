//! Whether this set can run the course: how fast to rise, which ranges, where to set the trip.

use physics::course::{ObjectRange, bands};
use physics::transient::Leg;
use quantity::{Band, Current, Ratio, Time, Voltage, VoltageRate};
use standards::typical::TripFactors;

use crate::PlanIssue;
use crate::arrester::Conducts;
use crate::course::{ExpectedBand, ExpectedReading, RangeChange, Step};
use crate::job::TestSet;
use crate::steps::Stretch;
use crate::words::{Binds, CannotCarry, Say, SetConcern};

/// Draws behind a printed band: they place its ends to some 4 % of its half width.
const DRAWS: usize = 1000;
/// Rounds of slowing down before the set is found too weak.
const ROUNDS: usize = 16;
/// By how much a rise is slowed where a guess cannot be made yet.
const SLOWER: f64 = 0.25;
/// Below this part of what flows, charging no longer decides it.
const HARDLY_CHARGES: f64 = 0.02;
/// Instants that a drawn band has, at least, and of each stretch.
const DRAWN: usize = 208;
const DRAWN_IN_EACH: usize = 16;
/// The first age that is drawn after a level is reached: the model knows of none below.
const FIRST_DRAWN: Time = physics::course::SHORTEST_AGE;
/// Part of a stretch by which an instant stands before a change of slope.
const HAIR: f64 = 1e-9;
/// A whole rise longer than this is worth a word before leaving the shop.
const LONG_RISE: Time = Time::from_minutes(30.0);

/// The course as this set can run it.
pub(crate) struct Fitted {
    pub(crate) course: Vec<Step>,
    pub(crate) band: ExpectedBand,
    pub(crate) trip: Current,
    pub(crate) trip_margin: Ratio,
    pub(crate) voltmeter_range: Option<Voltage>,
    pub(crate) ammeter_range: Option<Current>,
    pub(crate) charging: Current,
}

/// Fits the course to the set; `None` when the set cannot run it, the issues saying why.
pub(crate) fn fit(
    set: &TestSet,
    object: &ObjectRange,
    stretches: &[Stretch],
    preferred: VoltageRate,
    wanted: &Wanted,
    issues: &mut Vec<PlanIssue>,
) -> Option<Fitted> {
    let Wanted { rule, least_of_range, .. } = wanted;
    let test = stretches.last()?.level;
    if let Some(rated) = set.rated.filter(|rated| *rated < test) {
        let current = at_usual_rise(object, stretches, preferred, *rule);
        issues.push(SetConcern::SetTooLow { set: rated, needed: test, current }.say());
        return None;
    }
    say_unknown(set, issues);
    let (voltmeter_range, dial_full) = voltmeter(set, test, issues)?;
    if let Some(range) = voltmeter_range.filter(|range| test < *range * *least_of_range) {
        issues.push(SetConcern::VoltmeterTooCoarse { level: test, range }.say());
    }
    let usable = usable(set, test, wanted);
    let most = usable.map(|(most, _)| most);
    let rate = match slow_enough(object, stretches, preferred, most) {
        Ok(rate) => rate,
        Err(current) => {
            let usual = at_usual_rise(object, stretches, preferred, *rule);
            let why =
                usable.map(|usable| cannot_carry(set, (current, usual), test, usable, wanted));
            issues.extend(why.map(|why| SetConcern::SetCannotCarry(Box::new(why)).say()));
            return None;
        }
    };
    let expected = expect(object, stretches, rate);
    let course: Vec<Step> = stretches
        .iter()
        .zip(&expected)
        .map(|both| step(set, both, rate, dial_full, wanted, issues))
        .collect();
    let hold = expected.last()?;
    if ammeter(set, hold.at_start().high).is_some_and(|range| range < hold.at_start().high) {
        issues.push(SetConcern::AmmeterTooSmall { needed: hold.at_start().high }.say());
    }
    say_slow(&course, rate, rate < preferred, issues);
    let hold_trip = trip(set, hold.at_start().high, test, rule, issues);
    if hold_trip > hold.at_start().high * rule.coarse {
        let expected = hold.at_start().high;
        issues.push(SetConcern::TripCoarse { set_at: hold_trip, expected }.say());
    }
    Some(Fitted {
        trip: hold_trip,
        trip_margin: trip_margin(set, hold_trip, hold.at_start().high, test),
        voltmeter_range,
        ammeter_range: ammeter(set, hold.at_start().high),
        charging: object.whole_capacitance().mid * rate,
        band: drawn(object, stretches, rate),
        course,
    })
}

/// One step, with the trip and the ranges for it.
fn step(
    set: &TestSet,
    (stretch, expected): (&Stretch, &Expected),
    rate: VoltageRate,
    dial_full: Option<Voltage>,
    wanted: &Wanted,
    issues: &mut Vec<PlanIssue>,
) -> Step {
    let (level, most) = (stretch.level, expected.rising.high);
    let trip = trip(set, most, level, &wanted.rule, issues);
    Step {
        level,
        rise: rate,
        rise_time: expected.rise_time,
        dwell: stretch.dwell,
        dial: dial_full.map(|full| Ratio::from_value(level / full)),
        trip: Some(trip),
        trip_margin: Some(trip_margin(set, trip, most, level)),
        rising: expected.rising,
        expected: expected.at_end(),
        rise_range: ammeter(set, most),
        range_change: range_change(set, expected, wanted.range_gap),
        ammeter_range: ammeter(set, expected.at_start().high),
        readings: expected.readings.clone(),
    }
}

/// What is asked of a set beside the course itself.
pub(crate) struct Wanted {
    pub(crate) rule: TripFactors,
    /// From this part of a range on a needle is read.
    pub(crate) least_of_range: f64,
    /// What a hand needs to change a range.
    pub(crate) range_gap: Time,
    /// Volt-amperes that a set draws for each watt it gives.
    pub(crate) demand: f64,
    /// Whether phases are joined that might be tested apart.
    pub(crate) together: bool,
}

impl Wanted {
    /// The most that mains, battery or generator lets a set give at a level.
    pub(crate) fn given_by_supply(&self, set: &TestSet, level: Voltage) -> Option<Current> {
        let watts = set.supply_va? / self.demand;
        Some(Current::from_amperes(watts / level.volts()))
    }

    /// Volt-amperes that a set draws while it gives this much.
    pub(crate) fn drawn(&self, current: Current, level: Voltage) -> f64 {
        current.amperes() * level.volts() * self.demand
    }
}

/// What a larger set would have to give, to rise as it is usual.
fn at_usual_rise(
    object: &ObjectRange,
    stretches: &[Stretch],
    preferred: VoltageRate,
    rule: TripFactors,
) -> Current {
    let rising = expect(object, stretches, preferred);
    let highest = rising.iter().fold(Current::ZERO, |most, one| most.max(one.rising.high));
    round_up(highest * rule.over_expected / rule.of_set)
}

/// Of the set's current, what may flow while rising, and what binds it: the trip stands above it,
/// and mains or generator must give it.
fn usable(set: &TestSet, test: Voltage, wanted: &Wanted) -> Option<(Current, Binds)> {
    let (rule, bleeding) = (&wanted.rule, bleeding(set, test));
    let under = |highest: Current| (highest - bleeding) / rule.over_expected;
    let of_set = set.rated_current.map(|rated| (under(rated * rule.of_set), Binds::Set(rated)));
    let of_trip = set.trip.last().map(|&highest| (under(highest), Binds::Trip(highest)));
    let of_supply = set.supply_va.zip(wanted.given_by_supply(set, test));
    let of_supply = of_supply.map(|(va, gives)| (gives - bleeding, Binds::Supply(va, gives)));
    [of_set, of_trip, of_supply]
        .into_iter()
        .flatten()
        .reduce(|least, other| if other.0 < least.0 { other } else { least })
}

/// Why the set cannot carry what flows at the slowest rise, and what would.
fn cannot_carry(
    set: &TestSet,
    (current, usual): (Current, Current),
    test: Voltage,
    (usable, binds): (Current, Binds),
    wanted: &Wanted,
) -> CannotCarry {
    let (rule, bleeding) = (&wanted.rule, bleeding(set, test));
    let set_at = current * rule.over_expected + bleeding;
    let needed = set_at / rule.of_set;
    let gives_less = set.rated_current.is_some_and(|rated| rated < needed)
        || set.trip.last().is_some_and(|&highest| highest < set_at);
    let drawn = wanted.drawn(current + bleeding, test);
    CannotCarry {
        current,
        usable,
        binds,
        bleeding,
        of_set: gives_less.then_some(needed),
        of_supply: set.supply_va.filter(|va| *va < drawn).map(|_| drawn),
        usual: usual + bleeding / rule.of_set,
        together: wanted.together,
    }
}

/// What to expect on one stretch.
struct Expected {
    rise_time: Time,
    rising: Band<Current>,
    readings: Vec<ExpectedReading>,
}

impl Expected {
    fn at_start(&self) -> Band<Current> {
        self.readings.first().map_or(self.rising, |reading| reading.expected)
    }

    fn at_end(&self) -> Band<Current> {
        self.readings.last().map_or(self.rising, |reading| reading.expected)
    }
}

/// The currents to expect, all from the same draws: at the end of each rise and at each reading.
fn expect(object: &ObjectRange, stretches: &[Stretch], rate: VoltageRate) -> Vec<Expected> {
    let mut times = Vec::new();
    let mut levels_reached = Vec::with_capacity(stretches.len());
    for (now, reached, stretch) in instants(stretches, rate) {
        // A hair before the end of the rise, while the object still charges; and before the end
        // of the stay, whose last reading would otherwise fall into the next rise.
        times.push(reached - (reached - now) * HAIR);
        times.extend(stretch.read_at.iter().map(|at| reached + *at * (1.0 - HAIR)));
        levels_reached.push(reached);
    }
    let mut next = banded(object, stretches, rate, &times).into_iter();
    let mut take = |stretch: &Stretch| {
        let insulates = next.next().expect("one band for each time");
        with_own(insulates, stretch.conducts, stretch.level)
    };
    let mut from = Voltage::ZERO;
    stretches
        .iter()
        .zip(levels_reached)
        .map(|(stretch, reached)| {
            let rise_time = (stretch.level - from) / rate;
            from = stretch.level;
            let rising = take(stretch);
            let readings = stretch.read_at.iter().map(|&at| ExpectedReading {
                at,
                since_start: reached + at,
                expected: take(stretch),
            });
            Expected { rise_time, rising, readings: readings.collect() }
        })
        .collect()
}

fn banded(
    object: &ObjectRange,
    stretches: &[Stretch],
    rate: VoltageRate,
    times: &[Time],
) -> Vec<Band<Current>> {
    let leg = |stretch: &Stretch| Leg { to: stretch.level, rise: Some(rate), dwell: stretch.dwell };
    let legs: Vec<Leg> = stretches.iter().map(leg).collect();
    bands(object, &legs, times, DRAWS).expect("bands and course are the plan's own")
}

/// What an object takes that conducts by itself: its law holds its leakage as a whole, so that
/// nothing of an insulation is added to it.
fn with_own(insulates: Band<Current>, law: Option<Conducts>, at: Voltage) -> Band<Current> {
    let Some(own) = law.map(|law| law.at(at)) else { return insulates };
    Band {
        low: insulates.low.max(own.low),
        mid: insulates.mid.max(own.mid),
        high: insulates.high.max(own.high),
    }
}

/// When each stretch begins to rise, and when it has its level.
fn instants(stretches: &[Stretch], rate: VoltageRate) -> Vec<(Time, Time, &Stretch)> {
    let (mut from, mut now) = (Voltage::ZERO, Time::ZERO);
    let each = stretches.iter().map(|stretch| {
        let begun = now;
        let reached = begun + (stretch.level - from) / rate;
        (from, now) = (stretch.level, reached + stretch.dwell);
        (begun, reached, stretch)
    });
    each.collect()
}

/// The band as it is drawn: evenly over each rise, and by equal factors of time over each stay.
fn drawn(object: &ObjectRange, stretches: &[Stretch], rate: VoltageRate) -> ExpectedBand {
    let each = DRAWN.div_ceil(stretches.len()).max(DRAWN_IN_EACH);
    let (rising, staying) = (each / 4, each - each / 4);
    let (mut times, mut held) = (Vec::new(), Vec::new());
    let mut add = |from: Time, span: Time, part: f64, at: (Option<Conducts>, Voltage)| {
        // Off the instants of change, where what is shown is of before and of after.
        times.push(from + span * part.clamp(HAIR, 1.0 - HAIR));
        held.push(at);
    };
    for (begun, reached, stretch) in instants(stretches, rate) {
        for k in 0..rising {
            let part = k as f64 / (rising - 1) as f64;
            let below = (reached - begun) * (1.0 - part);
            add(begun, reached - begun, part, (stretch.conducts, stretch.level - rate * below));
        }
        if stretch.dwell > Time::ZERO {
            let at = (stretch.conducts, stretch.level);
            add(reached, stretch.dwell, 0.0, at);
            let first = FIRST_DRAWN.min(stretch.dwell / 100.0) / stretch.dwell;
            for k in 0..staying {
                add(reached, stretch.dwell, first.powf(1.0 - k as f64 / (staying - 1) as f64), at);
            }
        }
    }
    let bands = banded(object, stretches, rate, &times).into_iter().zip(held);
    let bands: Vec<Band<Current>> =
        bands.map(|(band, (law, at))| with_own(band, law, at)).collect();
    let column = |of: fn(&Band<Current>) -> Current| {
        bands.iter().map(|band| Current::from_amperes(four_digits(of(band).amperes()))).collect()
    };
    ExpectedBand {
        low: column(|band| band.low),
        mid: column(|band| band.mid),
        high: column(|band| band.high),
        since_start: times.iter().map(|at| milliseconds(*at)).collect(),
    }
}

fn four_digits(value: f64) -> f64 {
    if value == 0.0 {
        return value;
    }
    let unit = 10f64.powf(value.abs().log10().floor() - 3.0);
    (value / unit).round() * unit
}

fn milliseconds(time: Time) -> Time {
    Time::from_seconds((time.seconds() * 1e3).round() / 1e3)
}

/// What to expect on the one rise of a ramp, at each of these voltages.
pub(crate) fn on_the_way(
    object: &ObjectRange,
    stretches: &[Stretch],
    rate: VoltageRate,
    levels: &[Voltage],
) -> Vec<Band<Current>> {
    let times: Vec<Time> = levels.iter().map(|level| *level / rate * (1.0 - HAIR)).collect();
    banded(object, stretches, rate, &times)
}

/// What to expect of one stretch by itself, reached without delay.
pub(crate) fn expected_alone(
    object: &ObjectRange,
    stretch: &Stretch,
) -> (Vec<ExpectedReading>, ExpectedBand) {
    let rate = VoltageRate::from_kilovolts_per_second(1.0);
    let alone = std::slice::from_ref(stretch);
    (expect(object, alone, rate).remove(0).readings, drawn(object, alone, rate))
}

/// What the set's own discharge path takes at a level. The ammeter may leave it out, the trip often
/// does not: a trip set without it would open on a sound object.
pub(crate) fn bleeding(set: &TestSet, level: Voltage) -> Current {
    set.bleed.map_or(Current::ZERO, |bleed| level / bleed)
}

/// The highest trip: what is known of the set's current and of the trip's own scale.
fn ceiling(set: &TestSet, rule: &TripFactors) -> Option<Current> {
    let of_set = set.rated_current.map(|rated| rated * rule.of_set);
    [of_set, set.trip.last().copied()].into_iter().flatten().reduce(Current::min)
}

/// The preferred rate, or as much slower as the set needs; else what flows at a rise so slow that
/// a slower one would change nothing.
fn slow_enough(
    object: &ObjectRange,
    stretches: &[Stretch],
    preferred: VoltageRate,
    usable: Option<Current>,
) -> Result<VoltageRate, Current> {
    let Some(usable) = usable else { return Ok(preferred) };
    let mut rate = preferred;
    let mut highest = Current::ZERO;
    for _ in 0..ROUNDS {
        highest = expect(object, stretches, rate)
            .iter()
            .fold(Current::ZERO, |most, expected| most.max(expected.rising.high));
        if highest <= usable {
            return Ok(rate);
        }
        let charging = object.whole_capacitance().high * rate;
        if charging <= highest * HARDLY_CHARGES {
            break;
        }
        let left_for_charging = usable - (highest - charging).max(Current::ZERO);
        // What is absorbed flows slower too: while it leaves nothing, the next round tells more.
        let slower = if left_for_charging > usable.max(Current::ZERO) * 0.05 {
            (left_for_charging / charging).min(0.98)
        } else {
            SLOWER
        };
        rate = round_down(rate * slower);
    }
    Err(highest)
}

/// Two digits, never more than the value: what a hand can follow on a dial.
fn round_down(rate: VoltageRate) -> VoltageRate {
    let volts = rate.volts_per_second();
    let unit = 10f64.powf(volts.log10().floor() - 1.0);
    VoltageRate::from_volts_per_second((volts / unit).floor() * unit)
}

/// A trip above the upper band, within what is known of the set, at a figure a scale shows.
fn trip(
    set: &TestSet,
    highest: Current,
    level: Voltage,
    rule: &TripFactors,
    issues: &mut Vec<PlanIssue>,
) -> Current {
    let needed = highest * rule.over_expected + bleeding(set, level);
    let set_at = round_up(needed.max(set.trip.first().copied().unwrap_or(Current::ZERO)));
    let Some(ceiling) = ceiling(set, rule) else { return set_at };
    if needed > ceiling {
        let concern = SetConcern::TripAboveScale { needed, highest: ceiling }.say();
        if !issues.contains(&concern) {
            issues.push(concern);
        }
    }
    set_at.min(ceiling)
}

/// How far a trip stands above the most that is expected, the set's own path told off first.
fn trip_margin(set: &TestSet, trip: Current, most: Current, level: Voltage) -> Ratio {
    Ratio::from_value((trip - bleeding(set, level)) / most - 1.0)
}

fn round_up(current: Current) -> Current {
    let amperes = current.amperes();
    let unit = 10f64.powf(amperes.log10().floor() - 1.0);
    Current::from_amperes((amperes / unit - 1e-9).ceil() * unit)
}

/// The smallest voltmeter range that shows the level, and the output at full dial on it.
fn voltmeter(
    set: &TestSet,
    test: Voltage,
    issues: &mut Vec<PlanIssue>,
) -> Option<(Option<Voltage>, Option<Voltage>)> {
    if set.voltmeter_ranges.is_empty() {
        return Some((None, set.dial_full.first().copied().filter(|full| *full >= test)));
    }
    let output = |index: usize| match set.dial_full.as_slice() {
        [one] => Some(*one),
        each => each.get(index).copied(),
    };
    let fits = |&(index, range): &(usize, &Voltage)| {
        *range >= test && output(index).is_none_or(|full| full >= test)
    };
    match set.voltmeter_ranges.iter().enumerate().find(fits) {
        Some((index, range)) => Some((Some(*range), output(index))),
        None => {
            issues.push(SetConcern::VoltmeterTooSmall { needed: test }.say());
            None
        }
    }
}

/// The smallest ammeter range that shows a current, else the largest there is.
fn ammeter(set: &TestSet, highest: Current) -> Option<Current> {
    let ranges = &set.ammeter_ranges;
    ranges.iter().find(|range| **range >= highest).or_else(|| ranges.last()).copied()
}

/// A change to the range of the readings, where the rise needs another: at the level, before the
/// first reading, so that no range changes while something is read.
fn range_change(set: &TestSet, expected: &Expected, gap: Time) -> Option<RangeChange> {
    let from = ammeter(set, expected.rising.high)?;
    let to = ammeter(set, expected.at_start().high).filter(|to| *to != from)?;
    let first = expected.readings.first()?.at;
    Some(RangeChange { from, to, gap: gap.min(first) })
}

fn say_unknown(set: &TestSet, issues: &mut Vec<PlanIssue>) {
    let unknown = [
        ("rated_kv", set.rated.is_none()),
        ("rated_ma", set.rated_current.is_none()),
        ("voltmeter_ranges_kv", set.voltmeter_ranges.is_empty()),
        ("ammeter_ranges_ua", set.ammeter_ranges.is_empty()),
        ("trip_ma", set.trip.is_empty()),
    ];
    for (key, _) in unknown.into_iter().filter(|(_, missing)| *missing) {
        issues.push(SetConcern::SetUnknown { key }.say());
    }
}

/// A long rise, and whether the set is what makes it so: a ramp is slow by its rule.
fn say_slow(course: &[Step], rate: VoltageRate, by_set: bool, issues: &mut Vec<PlanIssue>) {
    let whole = course.iter().fold(Time::ZERO, |sum, step| sum + step.rise_time);
    if whole > LONG_RISE {
        issues.push(SetConcern::SlowRise { rate, time: whole, by_set }.say());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_rounded_to_what_a_hand_can_set() {
        let rate = round_down(VoltageRate::from_volts_per_second(437.0));
        assert!((rate.volts_per_second() - 430.0).abs() < 1e-9);
        let trip = round_up(Current::from_milliamperes(0.611));
        assert!((trip.milliamperes() - 0.62).abs() < 1e-12);
        let round = round_up(Current::from_milliamperes(0.62));
        assert!((round.milliamperes() - 0.62).abs() < 1e-12);
    }
}
