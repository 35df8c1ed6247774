//! What a conductor's readings ask for at one instant.

use physics::absorption::graded_times;
use plan::job::Method;
use plan::left::{Remains, Since};
use quantity::{Band, Current, Ratio, Time, Voltage};
use session::record::Strength;
use session::state::State;

use crate::advice::{Advice, NextStep, Reason, Unread};
use crate::adviser::Taken;
use crate::course::{Course, Level};
use crate::series::Series;
use crate::track::{Heard, Track};
use crate::weigh;

/// A level is left above or below this part of it. Common practice, no source; session and judge
/// count by the same width.
const AT_LEVEL: f64 = 0.03;
/// A voltage is above the plan's highest from this part of it on.
const ABOVE_TOP: f64 = 0.05;
/// A meter is late after so many of its usual times, and not before this; a hand after three of
/// its own.
const LATE_TIMES: f64 = 8.0;
const LATE_LEAST: Time = Time::from_seconds(5.0);
const LATE_HAND: f64 = 3.0;
const HAND: Time = Time::from_seconds(5.0);
/// So long one of two values may be unseen under voltage before it is brought down. Common
/// practice, no source: as long as an interval between two readings of a needle.
const UNSEEN: Time = Time::from_seconds(60.0);
/// The part of a range from which its end is near.
const RANGE_END: f64 = 0.95;
/// Below this part of the highest level a forecast reaches too far.
const LOWEST: f64 = 0.1;
/// The part of what the set gives from which its limit is near.
const NEAR_LIMIT: f64 = 0.9;
/// So long after the next level is reached its current is expected.
const FIRST_READ: Time = Time::from_seconds(30.0);
/// Levels that a forecast of the trip rests on.
const STOOD_AT: usize = 2;
/// Cells that a fit rests on before its band is shown.
const TOLD_BY: usize = 4;

type Weighed = (Strength, Reason);

impl Track {
    /// What is advised at this time from energising.
    pub(crate) fn advice(&self, course: &Course, now: Time) -> Advice {
        let next_step = self.next_step(course, now);
        let mut reasons = self.reasons(course, now, next_step.as_ref());
        reasons.sort_by_key(|(strength, _)| std::cmp::Reverse(*strength));
        let mut reasons = reasons.into_iter();
        let (strength, reason) = reasons.next().unwrap_or((Strength::CarryOn, Reason::AsExpected));
        Advice {
            strength,
            reason,
            others: reasons.map(|(_, reason)| reason).collect(),
            band: self.band(course, now),
            next_step,
            forecast: self.forecast,
            residual: self.residual(&course.remains, now),
            charging_margin: self.charging_margin(course),
            next_dwell: self.next_dwell(course),
        }
    }

    fn reasons(&self, course: &Course, now: Time, next: Option<&NextStep>) -> Vec<Weighed> {
        if self.state.0.in_application() && !self.state.0.is_energised() {
            let left = self.residual(&course.remains, now).map(|left| left.high);
            return vec![(Strength::CarryOn, Reason::ComingDown { left })];
        }
        let Some(last) = &self.last else {
            return vec![(Strength::CarryOn, Reason::NothingRead)];
        };
        let mut found = Vec::new();
        if let (Some(voltage), Some(level)) = (last.voltage, course.top())
            && voltage > level * (1.0 + ABOVE_TOP)
        {
            found.push((Strength::ComeDown, Reason::AboveLevel { voltage, level }));
        }
        found.extend(self.late(last, now));
        found.extend(self.unread(last, now));
        if self.blank || last.blank {
            found.push((Strength::CarryOn, Reason::Blank));
            return found;
        }
        if let Some(series) = &self.series {
            found.extend(of_series(series));
            found.extend(self.of_forecast(course, series, next));
        }
        // A hand that takes a served level down reads less each time; where the voltage sank and
        // then stands, nobody takes it down.
        let comes_down = self.has_served(course, now) && self.held.falls();
        if let Some(by) = self.held.sank.filter(|_| !comes_down) {
            found.push((Strength::HoldHere, Reason::Sagging { by }));
        }
        found.extend(self.of_trip(course, next));
        found.extend(self.of_meter(course, last));
        if self.signs.against {
            found.push((Strength::Watch, Reason::Against));
        }
        found
    }

    /// Where one value comes and the other does not: what is not seen may run away.
    fn unread(&self, last: &Taken, now: Time) -> Vec<Weighed> {
        let one = |heard: &Heard, what: Unread| {
            let every = heard.every.or(self.every)?;
            let since = now - heard.last.unwrap_or(Time::ZERO);
            let behind = last.at - heard.last.unwrap_or(Time::ZERO);
            let by_hand = self.every.is_none_or(|every| every >= HAND);
            let after = late_after(every);
            let strength = match what {
                // A standing voltage is often not written again; a current is never left out.
                Unread::Voltage if by_hand => Strength::Watch,
                Unread::Current if by_hand => Strength::HoldHere,
                _ => unseen(since, after),
            };
            (behind > after).then_some((strength, Reason::Unread { what, since }))
        };
        let voltage = one(&self.voltage_heard, Unread::Voltage);
        voltage.into_iter().chain(one(&self.current_heard, Unread::Current)).collect()
    }

    /// Where nothing comes at all. Meters that fall silent leave a conductor under voltage unseen,
    /// which is no milder than one of them silent; a hand that is late reads the needles anyway.
    fn late(&self, last: &Taken, now: Time) -> Option<Weighed> {
        let since = now - last.at;
        let every = self.every?;
        let after = late_after(every);
        let strength = if every < HAND { unseen(since, after) } else { Strength::Watch };
        (since > after).then_some((strength, Reason::Late { since }))
    }

    fn of_forecast(
        &self,
        course: &Course,
        series: &Series,
        next: Option<&NextStep>,
    ) -> Vec<Weighed> {
        let turns = series.turn.is_some_and(|turn| weigh::of_turn(&turn) > weigh::NOTHING);
        let mut found = Vec::new();
        if let Some(above) = self.corona(course).filter(|_| turns) {
            found.push((Strength::Watch, Reason::Corona { above }));
        }
        let Some(forecast) = &self.forecast else { return found };
        let here = self.last.as_ref().and_then(|last| last.voltage);
        let low = forecast.low;
        if let Some(level) = next.map(|next| next.level).filter(|level| *level >= low) {
            // Past the middle of the forecast the next step is more likely than not the last one.
            let sure = series.turn.is_some_and(|turn| weigh::bears_a_forecast(&turn))
                && course
                    .levels
                    .last()
                    .zip(here)
                    .is_some_and(|(top, here)| here > top.volts * LOWEST);
            let strength = match here {
                Some(here) if sure && (here >= low || level >= forecast.mid) => Strength::ComeDown,
                _ => Strength::HoldHere,
            };
            found.push((strength, Reason::ForecastNear { level, low }));
        }
        found
    }

    fn of_trip(&self, course: &Course, next: Option<&NextStep>) -> Option<Weighed> {
        let next = next?;
        let planned = course.next_above(next.level * 0.98)?;
        let trip = planned.trip?;
        let read = self.stood(course) >= STOOD_AT;
        let level = next.level;
        let reason = |current| Reason::TripNear { level, current, trip };
        match next.expected {
            band if read && band.mid >= trip => Some((Strength::HoldHere, reason(band.mid))),
            band if read && band.high >= trip => Some((Strength::Watch, reason(band.high))),
            _ => None,
        }
    }

    /// Levels that were stood at, and parts of a ramp. While a large capacitance charges slowly the
    /// needles stand between two digits for long: that is no level, and what flows charges it.
    fn stood(&self, course: &Course) -> usize {
        let Some(series) = &self.series else { return 0 };
        let at_level = |volts: f64| {
            let volts = Voltage::from_volts(volts);
            course.levels.iter().any(|level| (volts / level.volts - 1.0).abs() <= AT_LEVEL)
        };
        let told = series.rests().iter().filter(|rest| rest.moving || at_level(rest.volts));
        if self.level.is_some() || course.method == Method::Ramp { told.count() } else { 0 }
    }

    fn of_meter(&self, course: &Course, last: &Taken) -> Vec<Weighed> {
        let mut found = Vec::new();
        if last.overload {
            found.push((Strength::Watch, Reason::OverRange));
        }
        if let (Some(current), Some(range)) = (last.current, last.current_range)
            && current >= range * RANGE_END
        {
            let part = Ratio::from_value(current / range);
            found.push((Strength::Watch, Reason::RangeEnd { part, range }));
        }
        if let Some(margin) = self.charging_margin(course)
            && margin < 1.0 - NEAR_LIMIT
        {
            let part = Ratio::from_value(1.0 - margin);
            found.push((Strength::Watch, Reason::ChargingLimit { part }));
        }
        if let (Some(level), Some(voltage)) = (self.stood_at(course), last.voltage)
            && (voltage / level.volts - 1.0).abs() > AT_LEVEL
        {
            found.push((Strength::Watch, Reason::OffStep { voltage, level: level.volts }));
        }
        if let (Some(current), Some(band)) = (last.current, self.planned(course, last.at))
            && current > band.high
        {
            found.push((Strength::Watch, Reason::AboveBand { current, high: band.high }));
        }
        found
    }

    /// Whether the level was stood at for its time: what goes on sinking then is brought down by
    /// the hand.
    fn has_served(&self, course: &Course, now: Time) -> bool {
        let stay = self.stood_at(course).and_then(|level| level.stay);
        self.level.zip(stay).is_some_and(|((_, reached), stay)| now - reached >= stay)
    }

    /// The level that is stood at.
    fn stood_at<'a>(&self, course: &'a Course) -> Option<&'a Level> {
        let stands = matches!(self.state.0, State::Dwelling | State::Holding);
        course.levels.get(self.level.filter(|_| stands)?.0)
    }

    /// What the plan expects at this time.
    fn planned(&self, course: &Course, at: Time) -> Option<Band<Current>> {
        let (_, reached) = self.level?;
        self.stood_at(course)?.expected(at - reached)
    }

    /// What the readings so far lead to expect, and before these can what the plan does.
    fn band(&self, course: &Course, now: Time) -> Option<Band<Current>> {
        let planned = self.planned(course, now);
        let Some(series) = self.series.as_ref().filter(|series| series.model.told) else {
            return planned;
        };
        let Some((_, volts)) = series.history.rest() else { return planned };
        let cells: usize = series.rests().iter().map(|rest| rest.cells.len()).sum();
        if cells < TOLD_BY {
            return planned;
        }
        let (amps, standard) = series.expected(now.seconds(), volts, 0.0);
        Some(around(amps, standard.hypot(series.noise().single * amps)))
    }

    fn next_step(&self, course: &Course, now: Time) -> Option<NextStep> {
        let voltage = self.last.as_ref()?.voltage.filter(|_| self.state.0.is_energised())?;
        let level = course.next_above(voltage)?;
        let series = self.series.as_ref().filter(|series| series.model.told);
        let stay = level.stay.unwrap_or(FIRST_READ).min(FIRST_READ);
        let expected = match series.and_then(|series| Some((series, series.history.rest()?))) {
            Some((series, (_, volts))) => {
                let rise_s = level.rise_time.seconds().max(1.0);
                let to = level.volts.volts();
                let (amps, standard) =
                    series.after_step(now.seconds(), (volts, to), rise_s, stay.seconds());
                around(amps, standard)
            }
            None => level.expected(stay).or(level.expected(Time::from_minutes(1.0)))?,
        };
        let trip_margin = level.trip.map(|trip| 1.0 - expected.high / trip);
        Some(NextStep { level: level.volts, expected, trip_margin })
    }

    fn charging_margin(&self, course: &Course) -> Option<f64> {
        let current = self.last.as_ref()?.current.filter(|_| self.state.0 == State::Rising)?;
        Some((1.0 - current / course.set.rated_current?).clamp(0.0, 1.0))
    }

    /// How long the next step is best stayed at, from how the first one absorbed.
    fn next_dwell(&self, course: &Course) -> Option<Time> {
        let series = self.series.as_ref().filter(|series| series.model.told)?;
        let (index, _) = self.level.filter(|_| course.method == Method::Graded)?;
        let steps: Vec<&Level> = course.levels.iter().filter(|one| !one.is_resistance).collect();
        let at = index.checked_sub(course.levels.len() - steps.len())?;
        let (first, second) = (steps.first()?, steps.get(1)?);
        let increment = (second.volts - first.volts) / first.volts;
        let dwell = self.first_dwell.or(first.stay)?;
        if increment <= 0.0 || dwell <= Time::ZERO || at + 1 >= steps.len() {
            return None;
        }
        let times = graded_times(series.model.exponent().max(0.1), dwell, increment, at + 2);
        times.last().copied()
    }

    /// The same advice, with what is left by the conductor's own test.
    pub(crate) fn by_its_test(&self, advice: &mut Advice, remains: &Remains, now: Time) {
        advice.residual = self.residual(remains, now);
        if let Reason::ComingDown { left } = &mut advice.reason {
            *left = advice.residual.map(|left| left.high);
        }
    }

    /// What may be on the conductor now.
    fn residual(&self, remains: &Remains, now: Time) -> Option<Band<Voltage>> {
        if !self.state.0.in_application() {
            return None;
        }
        let read = self.last.as_ref().and_then(|last| Some((last.at, last.voltage?)));
        let from = |moment: Time| read.map_or(moment, |(when, _)| when.max(moment));
        let since = match (self.unfed, self.tool) {
            _ if self.grounded => Since::Grounded,
            (unfed, Some(tool)) => Since::Tool {
                off: unfed.map_or(Time::ZERO, |unfed| (tool - from(unfed)).max(Time::ZERO)),
                on: (now - from(tool)).max(Time::ZERO),
            },
            (Some(unfed), None) => Since::Off { time: (now - from(unfed)).max(Time::ZERO) },
            _ => Since::Fed,
        };
        remains.left(read.map(|(_, voltage)| voltage), since)
    }
}

/// So long after a reading the next one is late, where they come so often.
fn late_after(every: Time) -> Time {
    let after = if every < HAND { every * LATE_TIMES } else { every * LATE_HAND };
    after.max(LATE_LEAST)
}

/// How strongly it counts that what meters read is not seen for so long, late after this time.
fn unseen(since: Time, after: Time) -> Strength {
    if since > UNSEEN.max(after) { Strength::ComeDown } else { Strength::HoldHere }
}

/// What the tests of the current say.
fn of_series(series: &Series) -> Vec<Weighed> {
    let mut found = Vec::new();
    if let Some(rise) = series.rising()
        && let Some(strength) = strength(weigh::of_rise(&rise))
    {
        let doubles_in = (rise.doubles_s < 3600.0).then(|| Time::from_seconds(rise.doubles_s));
        let reason = match rise.jump {
            Some((from, to)) => {
                Reason::Jump { from: Current::from_amperes(from), to: Current::from_amperes(to) }
            }
            None => Reason::Rising { by: Ratio::from_value(rise.by), doubles_in },
        };
        found.push((strength, reason));
    }
    if let Some(turn) = series.turn
        && let Some(strength) = strength(weigh::of_turn(&turn))
    {
        let excess = Ratio::from_value(turn.excess);
        found.push((strength, Reason::TurnsUp { excess, at: Voltage::from_volts(turn.volts) }));
    }
    if let Some(strength) = strength(weigh::of_unrest(&series.unrest)) {
        found.push((strength, Reason::Unrest { part: Ratio::from_value(series.unrest.part) }));
    }
    found
}

const fn strength(weight: weigh::Weight) -> Option<Strength> {
    match weight {
        weigh::NOTHING => None,
        weigh::WATCH => Some(Strength::Watch),
        weigh::HOLD => Some(Strength::HoldHere),
        _ => Some(Strength::ComeDown),
    }
}

/// A value and the ends two standard deviations away.
fn around(amps: f64, standard: f64) -> Band<Current> {
    let of = Current::from_amperes;
    Band {
        low: of((amps - 2.0 * standard).max(0.0)),
        mid: of(amps),
        high: of(amps + 2.0 * standard),
    }
}
