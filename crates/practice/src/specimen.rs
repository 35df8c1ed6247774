//! One conductor over time: solved exactly from one change to the next.
//!
//! What conducts beside the insulation above an onset (a knee, an arrester) is a voltage source
//! behind a resistance, connected while the voltage stands above it. It is laid as a branch whose
//! capacitance holds the onset for far longer than any test, so that each piece stays linear and
//! only the instant of crossing is searched for. Conduction that grows with time is the one thing
//! taken in steps; see [`GROWTH_STEP`].

use physics::transient::{Branch, Discharge, Leg, Run, Supply, TestObject};
use quantity::{Capacitance, Current, Resistance, Time, Voltage, VoltageRate};

use crate::nature::{Bend, Departure};
use crate::truth::{Fault, Truth};

/// A piece is solved this far ahead.
const HORIZON: Time = Time::from_seconds(1e7);
/// Time constant of an onset's source: over one hour it sags by less than 0.4 %.
const SOURCE_HOLDS: Time = Time::from_seconds(1e6);
/// Resistance of an arrester above its onset. Common practice, no source.
const ARRESTER: Resistance = Resistance::from_kilohms(50.0);
/// What a puncture leaves. Common practice, no source.
const CHANNEL: Resistance = Resistance::from_kilohms(10.0);
/// Growing conduction is renewed this often and taken at the middle of the step: with a doubling
/// time of 60 s the current is then off by less than 0.6 %, at the ends of the step.
const GROWTH_STEP: Time = Time::from_seconds(1.0);
/// Conduction that depends on voltage is renewed where the voltage has moved by this part of it
/// while the supply moves, and by the other where it stands.
const MOVED: f64 = 0.005;
const SETTLED: f64 = 1e-4;
/// The shortest stride of a renewal, and the longest.
const STRIDE: (f64, f64) = (0.05, 5.0);
/// Growth ends somewhere; a set has tripped long before.
const MOST_DOUBLINGS: f64 = 20.0;
/// First look for a crossing after a change, and the longest between two looks while the supply
/// moves and while it stands.
const FIRST_LOOK: f64 = 1e-3;
const LOOK_MOVING: f64 = 0.25;
const LOOK_STANDING: f64 = 30.0;
/// Looks lie further and further apart.
const LOOKS_APART: f64 = 1.5;
/// A crossing is placed to this.
const PLACED_TO: f64 = 1e-7;
/// An instant is looked at just after what happened at it.
const JUST_AFTER: Time = Time::from_seconds(1e-6);

/// The supply as it stands: where its command is, and where it is moving to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Feed {
    pub(crate) supply: Supply,
    pub(crate) command: Voltage,
    pub(crate) target: Voltage,
    /// Above zero.
    pub(crate) rate: VoltageRate,
}

impl Feed {
    /// The same some time later.
    fn after(self, gone: Time) -> Self {
        let moved = self.rate * gone;
        let command = if self.target > self.command {
            (self.command + moved).min(self.target)
        } else {
            (self.command - moved).max(self.target)
        };
        Self { command, ..self }
    }
}

/// What is connected to a conductor.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Around {
    pub(crate) feed: Option<Feed>,
    /// Conductance of the set's own path and of the leads, in siemens.
    pub(crate) set: f64,
    pub(crate) tool: Option<Resistance>,
    pub(crate) grounded: bool,
}

/// One conductor.
#[derive(Clone, Debug)]
pub(crate) struct Specimen {
    pub(crate) truth: Truth,
    around: Around,
    /// As it stood at `since`.
    object: TestObject,
    since: Time,
    run: Run,
    now: Time,
    /// Next look, from `now`.
    look: f64,
    above_onset: bool,
    /// Time at or above the voltage that harms.
    stressed: Time,
    punctured: bool,
    growth_step: Time,
    /// Voltage and time for which conduction was last renewed.
    renewed: (Voltage, Time),
}

impl Specimen {
    pub(crate) fn new(truth: Truth) -> Self {
        let object = TestObject {
            capacitance: truth.capacitance,
            insulation: None,
            start: Voltage::ZERO,
            branches: truth.absorption.clone(),
            surface: None,
            onset: None,
        };
        let around = Around::default();
        let run = solved(&object, None, around);
        let mut specimen = Self {
            truth,
            around,
            object,
            since: Time::ZERO,
            run,
            now: Time::ZERO,
            look: FIRST_LOOK,
            above_onset: false,
            stressed: Time::ZERO,
            punctured: false,
            growth_step: GROWTH_STEP,
            renewed: (Voltage::ZERO, Time::ZERO),
        };
        specimen.solve(around);
        specimen
    }

    /// The same with growing conduction renewed at another step.
    #[cfg(test)]
    pub(crate) fn with_growth_step(mut self, step: Time) -> Self {
        self.growth_step = step;
        self
    }

    /// Changes what is connected, now.
    pub(crate) fn connect(&mut self, around: Around) {
        if around != self.around_now() {
            let volts = self.volts_at(self.now);
            self.above_onset = !around.grounded && self.edge().is_some_and(|edge| volts >= edge);
            self.solve(around);
        }
    }

    /// Where it has come to.
    pub(crate) fn now(&self) -> Time {
        self.now
    }

    /// Voltage and current into it, now.
    pub(crate) fn sample(&self) -> (Voltage, Current) {
        let sample = self.run.sample(self.elapsed() + JUST_AFTER);
        if self.around.grounded {
            return (Voltage::ZERO, self.grounded_current());
        }
        (sample.voltage, sample.current)
    }

    /// Conductance of the surface, in siemens.
    pub(crate) fn surface(&self) -> f64 {
        let surface = match self.truth.fault {
            Some(Fault::Dirty { surface }) => surface,
            _ => self.truth.surface,
        };
        1.0 / surface.ohms()
    }

    /// Goes on to `to`, or to where the set trips on the way; says whether it did.
    pub(crate) fn advance(&mut self, to: Time) -> bool {
        if self.trip_at().is_some_and(|trip| trip <= self.now) {
            return true;
        }
        while self.now < to {
            let mut end = to;
            if self.must_look() {
                end = end.min(self.now + Time::from_seconds(self.look));
            }
            if self.grows() {
                end = end.min(self.since + self.growth_step);
            }
            if self.departs() {
                end = end.min(self.now + Time::from_seconds(self.stride()));
            }
            let trip = self.trip_at().filter(|trip| *trip <= end);
            if let Some(trip) = trip {
                end = trip.max(self.now);
            }
            if let Some(changed) = self.first_change(end) {
                self.go(changed);
                self.note_change();
                self.solve(self.around_now());
                continue;
            }
            self.go(end);
            if trip.is_some() {
                return true;
            }
            self.lengthen_look();
            if self.grows() && self.now - self.since >= self.growth_step * (1.0 - 1e-9) {
                self.solve(self.around_now());
            }
            if self.has_departed() {
                let look = self.look;
                self.solve(self.around_now());
                self.look = look;
            }
        }
        false
    }

    /// Whether conduction hangs on voltage or time, beyond what a fault of its own does.
    fn departs(&self) -> bool {
        let bends = matches!(self.truth.fault, Some(Fault::Bend(_)));
        (bends || self.truth.departure != Departure::default()) && !self.around.grounded
    }

    /// How far conduction is followed before it is looked at again.
    fn stride(&self) -> f64 {
        let volts = self.volts_at(self.now).volts().abs();
        let (shortest, longest) = STRIDE;
        match self.around.feed.filter(|_| self.moves()) {
            Some(feed) => (MOVED * volts / feed.rate.volts_per_second()).clamp(shortest, 0.25),
            None => longest,
        }
    }

    /// Whether the supply is on its way.
    fn moves(&self) -> bool {
        self.around.feed.is_some_and(|feed| {
            let takes = (feed.target - feed.command).abs() / feed.rate;
            self.elapsed() < takes
        })
    }

    fn has_departed(&self) -> bool {
        if !self.departs() {
            return false;
        }
        let (at, since) = self.renewed;
        let moved = (self.volts_at(self.now) - at).abs();
        let part = if self.moves() { MOVED } else { SETTLED };
        let warmed = self.truth.departure.doubling.is_some()
            && self.now - since >= Time::from_seconds(STRIDE.1) * (1.0 - 1e-9);
        warmed || moved.volts() > part * at.volts().abs().max(1.0)
    }

    fn elapsed(&self) -> Time {
        self.now - self.since
    }

    fn volts_at(&self, at: Time) -> Voltage {
        if self.around.grounded {
            return Voltage::ZERO;
        }
        self.run.sample(at - self.since + JUST_AFTER).voltage
    }

    fn go(&mut self, to: Time) {
        if self.is_stressed() {
            self.stressed = self.stressed + (to - self.now);
        }
        self.now = to;
    }

    /// What is connected, the supply where it has come to.
    fn around_now(&self) -> Around {
        Around { feed: self.around.feed.map(|feed| feed.after(self.elapsed())), ..self.around }
    }

    /// Solves anew from where it stands.
    fn solve(&mut self, around: Around) {
        let stood = self.run.object_at(self.elapsed());
        self.around = around;
        self.object.start = if around.grounded { Voltage::ZERO } else { stood.start };
        let own = self.truth.absorption.len();
        self.object.branches = stood.branches.into_iter().take(own).collect();
        self.renewed = (self.object.start, self.now);
        self.object.insulation = Some(Resistance::from_ohms(1.0 / self.conductance()));
        let onset = self.onset().filter(|_| self.above_onset);
        self.run = solved(&self.object, onset, around);
        (self.since, self.look) = (self.now, FIRST_LOOK);
    }

    /// Everything across the terminals that is a plain resistance, in siemens.
    fn conductance(&self) -> f64 {
        let grown = match self.truth.fault {
            Some(Fault::Wet { times }) => times,
            Some(Fault::Rising { doubling, .. }) => {
                let middle = if self.is_stressed() { self.growth_step * 0.5 } else { Time::ZERO };
                ((self.stressed + middle) / doubling).min(MOST_DOUBLINGS).exp2()
            }
            _ => 1.0,
        };
        let (volts, now) = self.renewed;
        let volts = volts.abs();
        let grown = grown * self.truth.departure.factor(volts, now);
        let bent = match self.truth.fault {
            Some(Fault::Bend(bend)) if volts > Voltage::ZERO => {
                bend.current(volts).amperes() / volts.volts()
            }
            _ => 0.0,
        };
        let tool = self.around.tool.map_or(0.0, |tool| 1.0 / tool.ohms());
        let channel = if self.punctured { 1.0 / CHANNEL.ohms() } else { 0.0 };
        grown / self.truth.insulation.ohms()
            + self.surface()
            + self.around.set
            + tool
            + channel
            + bent
    }

    /// Onset and resistance of what conducts above it.
    fn onset(&self) -> Option<(Voltage, Resistance)> {
        match self.truth.fault? {
            Fault::Knee { onset, slope } => Some((onset, slope)),
            Fault::Arrester { onset } => Some((onset, ARRESTER)),
            _ => None,
        }
    }

    /// The voltage at which something begins to change.
    fn edge(&self) -> Option<Voltage> {
        match self.truth.fault? {
            Fault::Knee { onset, .. } | Fault::Arrester { onset } => Some(onset),
            Fault::Puncture { at, .. } => Some(at),
            Fault::Bend(bend) => bend.breaks,
            Fault::Rising { from, .. } => Some(from),
            Fault::Wet { .. } | Fault::Dirty { .. } | Fault::LooseLink => None,
        }
    }

    fn is_stressed(&self) -> bool {
        let rises = matches!(self.truth.fault, Some(Fault::Rising { .. }));
        (rises || self.endures().is_some()) && self.above_onset && !self.punctured
    }

    /// How long it stands at the voltage where it breaks down.
    fn endures(&self) -> Option<Time> {
        match self.truth.fault? {
            Fault::Puncture { after, .. } => Some(after),
            Fault::Bend(Bend { breaks: Some(_), .. }) => Some(Time::ZERO),
            _ => None,
        }
    }

    fn grows(&self) -> bool {
        matches!(self.truth.fault, Some(Fault::Rising { .. })) && self.is_stressed()
    }

    fn must_look(&self) -> bool {
        self.edge().is_some() && !self.around.grounded
    }

    fn lengthen_look(&mut self) {
        let longest = if self.moves() { LOOK_MOVING } else { LOOK_STANDING };
        let longest = if self.grows() { self.growth_step.seconds() } else { longest };
        self.look = (self.look * LOOKS_APART).min(longest);
    }

    /// When within `end` it crosses its edge or breaks down.
    fn first_change(&self, end: Time) -> Option<Time> {
        let edge = self.edge().filter(|_| self.must_look())?;
        let breaks = self
            .endures()
            .filter(|_| self.is_stressed())
            .map(|after| (self.now + (after - self.stressed)).max(self.now));
        let crossed = |at: Time| (self.volts_at(at) >= edge) != self.above_onset;
        let crossing = crossed(end).then(|| {
            let (mut before, mut after) = (self.now, end);
            while (after - before).seconds() > PLACED_TO {
                let middle = before + (after - before) * 0.5;
                if middle <= before || middle >= after {
                    break;
                }
                if crossed(middle) { after = middle } else { before = middle }
            }
            after
        });
        [crossing, breaks.filter(|at| *at <= end)].into_iter().flatten().reduce(Time::min)
    }

    fn note_change(&mut self) {
        let Some(edge) = self.edge() else { return };
        if let Some(after) = self.endures()
            && self.is_stressed()
            && self.stressed >= after * (1.0 - 1e-12)
        {
            self.punctured = true;
            return;
        }
        self.above_onset = self.volts_at(self.now) >= edge;
    }

    /// When the supply of this piece trips, if it does.
    fn trip_at(&self) -> Option<Time> {
        let feed = self.around.feed?;
        if !self.around.grounded {
            return self.run.outline().tripped_at.map(|after| self.since + after);
        }
        let trip =
            feed.supply.trip.filter(|trip| feed.supply.limit.is_none_or(|limit| limit > *trip))?;
        // Onto a ground, the whole command stands across the series resistance.
        let at = trip * feed.supply.series;
        if feed.command >= at {
            return Some(self.since);
        }
        (feed.target > at).then(|| self.since + (at - feed.command) / feed.rate)
    }

    /// What the supply gives into a ground.
    fn grounded_current(&self) -> Current {
        let Some(feed) = self.around.feed else { return Current::ZERO };
        let command = feed.after(self.elapsed()).command;
        let current = command / feed.supply.series;
        feed.supply.limit.map_or(current, |limit| limit.min(current))
    }
}

/// One piece: everything as it stands, to the end of time.
fn solved(object: &TestObject, onset: Option<(Voltage, Resistance)>, around: Around) -> Run {
    let mut object = object.clone();
    object.branches.extend(onset.map(|(start, resistance)| {
        let capacitance = Capacitance::from_farads(SOURCE_HOLDS.seconds() / resistance.ohms());
        Branch { resistance, capacitance, start }
    }));
    let run = if around.grounded {
        let short = Discharge { short: Some(HORIZON), ..Discharge::default() };
        Run::new(&object, &Supply::default(), &[], Some(&short), Time::ZERO)
    } else if let Some(feed) = around.feed {
        let here = Leg { to: feed.command, rise: None, dwell: Time::ZERO };
        let there = Leg { to: feed.target, rise: Some(feed.rate), dwell: Time::ZERO };
        Run::new(&object, &feed.supply, &[here, there], None, HORIZON)
    } else {
        Run::new(&object, &Supply::default(), &[], None, Time::ZERO)
    };
    run.expect("the parts were looked at when the set was put together")
}

#[cfg(test)]
mod tests {
    use physics::discharge::{Held, Tool, rebound};

    use super::*;
    use crate::nature::{FieldLaw, Growth, HighField};

    const KILOVOLT: Voltage = Voltage::from_kilovolts(1.0);

    fn truth(fault: Option<Fault>) -> Truth {
        Truth {
            capacitance: Capacitance::from_microfarads(1.0),
            insulation: Resistance::from_megohms(25_000.0),
            surface: Resistance::from_megohms(1e15),
            absorption: [20.0, 200.0, 2000.0]
                .map(|megohms| Branch {
                    resistance: Resistance::from_megohms(megohms),
                    capacitance: Capacitance::from_nanofarads(50.0),
                    start: Voltage::ZERO,
                })
                .to_vec(),
            departure: Departure::default(),
            glow: None,
            fault,
        }
    }

    /// A supply that jumps to its level and has 1 mA.
    fn fed(level: Voltage) -> Around {
        let supply = Supply {
            limit: Some(Current::from_milliamperes(1.0)),
            series: Resistance::from_ohms(1.0),
            trip: None,
            bleed: None,
            ripple: None,
        };
        let rate = VoltageRate::from_kilovolts_per_second(1.0);
        let feed = Feed { supply, command: level, target: level, rate };
        Around { feed: Some(feed), ..Around::default() }
    }

    fn at(specimen: &mut Specimen, seconds: f64) -> (Voltage, Current) {
        assert!(!specimen.advance(Time::from_seconds(seconds)), "no trip is set");
        specimen.sample()
    }

    fn check(found: f64, expected: f64, part: f64) {
        assert!((found / expected - 1.0).abs() < part, "{found}, not {expected}");
    }

    #[test]
    fn it_charges_at_the_limit_and_absorbs() {
        // Derived: matrix exponential by a second program and a circuit simulator; 1 mA into
        // 1 µF with three branches, an ideal clamp at 25 kV. Instants are looked at 1 µs late.
        let mut specimen = Specimen::new(truth(None));
        specimen.connect(fed(KILOVOLT * 25.0));
        for (seconds, volts) in [(1.0, 979.249_426), (10.0, 9_378.532_138), (20.0, 18_497.122_706)]
        {
            check(at(&mut specimen, seconds).0.volts(), volts, 2e-6);
        }
        for (seconds, amperes) in [(60.0, 1.047_106e-5), (600.0, 1.035_560e-6)] {
            check(at(&mut specimen, seconds).1.amperes(), amperes, 2e-6);
        }
    }

    /// Nothing but capacitance, and an insulation that takes next to nothing.
    fn plain() -> Truth {
        let insulation = Resistance::from_megohms(1e12);
        Truth { insulation, absorption: Vec::new(), ..truth(None) }
    }

    #[test]
    fn a_ramp_into_one_microfarad_takes_a_constant_current() {
        // Derived, C·dV/dt: 1 µF at 1 kV a minute is 16.667 µA.
        let mut specimen = Specimen::new(plain());
        let around = fed(Voltage::ZERO);
        let feed = around.feed.map(|feed| Feed {
            target: KILOVOLT * 20.0,
            rate: VoltageRate::from_volts_per_second(1000.0 / 60.0),
            ..feed
        });
        specimen.connect(Around { feed, ..around });
        for minute in [0.5, 5.0, 19.5] {
            check(at(&mut specimen, 60.0 * minute).1.microamperes(), 1000.0 / 60.0, 1e-6);
        }
    }

    #[test]
    fn a_bleeder_brings_it_to_the_touch_limit_in_the_time_its_rule_gives() {
        // Derived from the 300 s of 8 CCR 2893: 1 µF from 25 kV to 50 V takes 48.2734 MΩ at most.
        let mut specimen = Specimen::new(plain());
        specimen.connect(fed(KILOVOLT * 25.0));
        check(at(&mut specimen, 60.0).0.volts(), 25e3, 1e-6);
        specimen.connect(Around { set: 1.0 / 48.2734e6, ..Around::default() });
        check(at(&mut specimen, 360.0).0.volts(), 50.0, 1e-4);
    }

    #[test]
    fn stopping_on_the_way_changes_nothing() {
        let (mut once, mut often) = (Specimen::new(truth(None)), Specimen::new(truth(None)));
        for specimen in [&mut once, &mut often] {
            specimen.connect(fed(KILOVOLT * 25.0));
        }
        for k in 1..=600 {
            often.advance(Time::from_seconds(f64::from(k)));
            let around = often.around_now();
            often.solve(around);
        }
        once.advance(Time::from_seconds(600.0));
        check(often.sample().0.volts(), once.sample().0.volts(), 1e-9);
        check(often.sample().1.amperes(), once.sample().1.amperes(), 1e-6);
    }

    #[test]
    fn lifting_the_ground_brings_the_voltage_back() {
        let level = KILOVOLT * 25.0;
        let mut specimen = Specimen::new(truth(None));
        let ideal = fed(level);
        let supply = Supply { limit: None, ..ideal.feed.expect("fed").supply };
        let feed = ideal.feed.map(|feed| Feed { supply, ..feed });
        specimen.connect(Around { feed, ..ideal });
        at(&mut specimen, 600.0);
        let tool = Resistance::from_kilohms(50.0);
        specimen.connect(Around { tool: Some(tool), ..Around::default() });
        at(&mut specimen, 610.0);
        specimen.connect(Around { grounded: true, ..Around::default() });
        assert_eq!(at(&mut specimen, 670.0).0, Voltage::ZERO);
        specimen.connect(Around::default());
        let peak = (1..4000)
            .map(|second| at(&mut specimen, 670.0 + f64::from(second)).0)
            .fold(Voltage::ZERO, Voltage::max);
        let object = TestObject {
            capacitance: truth(None).capacitance,
            insulation: Some(Resistance::from_ohms(1.0 / specimen.conductance())),
            start: Voltage::ZERO,
            branches: truth(None).absorption,
            surface: None,
            onset: None,
        };
        let held = Held { voltage: level, over: Time::from_minutes(10.0) };
        let tool = Tool { resistance: tool, time: Time::from_seconds(10.0) };
        let charged = held.charge(&object).expect("sound");
        let expected = rebound(&charged, Some(&tool), Time::from_minutes(1.0));
        check(peak.volts(), expected.expect("a sound case").peak.volts(), 1e-5);
        assert!(peak > KILOVOLT * 0.5);
    }

    #[test]
    fn a_knee_conducts_above_its_onset_alone() {
        let slope = Resistance::from_megohms(1000.0);
        let knee = Fault::Knee { onset: KILOVOLT * 10.0, slope };
        let current = |fault, level: f64| {
            let mut specimen = Specimen::new(truth(fault));
            specimen.connect(fed(KILOVOLT * level));
            at(&mut specimen, 600.0).1.microamperes()
        };
        check(current(Some(knee), 9.0), current(None, 9.0), 1e-9);
        // Derived: (14 kV − 10 kV)/1 GΩ is 4 µA more, less the sag of the onset's source.
        check(current(Some(knee), 14.0) - current(None, 14.0), 4.0, 2e-3);
    }

    #[test]
    fn a_puncture_comes_at_its_voltage_and_after_its_time() {
        let at_level = |after: f64| {
            let after = Time::from_seconds(after);
            let mut specimen =
                Specimen::new(truth(Some(Fault::Puncture { at: KILOVOLT * 10.0, after })));
            specimen.connect(fed(KILOVOLT * 20.0));
            specimen
        };
        // Derived: the same object without a fault passes 10 kV at 10.68 s.
        let mut whole = Specimen::new(truth(None));
        whole.connect(fed(KILOVOLT * 20.0));
        let mut crossing = 10.0;
        while at(&mut whole, crossing).0 < KILOVOLT * 10.0 {
            crossing += 1e-3;
        }
        let mut now = at_level(0.0);
        assert!(at(&mut now, crossing - 0.01).0 > KILOVOLT * 9.9);
        // Derived: 1 mA through the channel of 10 kΩ is 10 V, once the branches have given up.
        check(at(&mut now, crossing + 100.0).0.volts(), 10.0, 0.02);
        let mut later = at_level(30.0);
        assert!(at(&mut later, crossing + 29.9).0 > KILOVOLT * 19.0);
        assert!(at(&mut later, crossing + 31.0).0 < KILOVOLT);
    }

    #[test]
    fn growing_conduction_is_as_in_finer_steps_and_as_its_law_says() {
        let from = KILOVOLT * 10.0;
        let rising = Fault::Rising { from, doubling: Time::from_seconds(60.0) };
        let current = |step: f64, seconds: f64| {
            let step = Time::from_seconds(step);
            let mut specimen = Specimen::new(truth(Some(rising))).with_growth_step(step);
            specimen.connect(fed(KILOVOLT * 10.5));
            at(&mut specimen, seconds).1.amperes()
        };
        let coarse = current(GROWTH_STEP.seconds(), 320.0);
        check(coarse, current(0.05, 320.0), 0.006);
        // Derived: 10.5 kV/25 GΩ doubles every 60 s; absorption is some 0.7 µA beside it.
        let grown = current(0.05, 380.0) - current(0.05, 320.0);
        check(grown, 10.5e3 / 25e9 * (2f64.powf(369.0 / 60.0) - 2f64.powf(309.0 / 60.0)), 0.05);
    }

    #[test]
    fn an_arrester_holds_the_voltage_to_its_onset() {
        let onset = KILOVOLT * 12.0;
        let mut specimen = Specimen::new(truth(Some(Fault::Arrester { onset })));
        specimen.connect(fed(KILOVOLT * 20.0));
        // Derived: 1 mA through 50 kΩ is 50 V above the onset.
        check(at(&mut specimen, 100.0).0.volts(), 12_050.0, 1e-3);
        specimen.connect(Around::default());
        let left = at(&mut specimen, 101.0).0;
        assert!(left < onset && left > onset * 0.98, "{left}");
    }

    #[test]
    fn a_bend_draws_by_its_law_and_breaks_where_it_ends() {
        let bend = Bend {
            onset: KILOVOLT * 12.0,
            at: KILOVOLT * 20.0,
            current: Current::from_microamperes(100.0),
            growth: Growth::Even,
            breaks: Some(KILOVOLT * 20.0),
        };
        let plain = |fault| Truth { absorption: Vec::new(), ..truth(fault) };
        let current = |level: f64| {
            let mut specimen = Specimen::new(plain(Some(Fault::Bend(bend))));
            specimen.connect(fed(KILOVOLT * level));
            at(&mut specimen, 100.0)
        };
        // Derived: half the way is 50 µA; the insulation of 25 GΩ draws 0.64 µA beside it.
        check(current(16.0).1.microamperes(), 50.64, 1e-3);
        check(current(11.0).1.microamperes(), 0.44, 1e-3);
        // Derived: what is left is a channel of 10 kΩ, over which 1 mA is 10 V.
        check(current(21.0).0.volts(), 10.0, 0.01);
    }

    #[test]
    fn conduction_follows_voltage_and_warmth() {
        let field = HighField { at: KILOVOLT * 20.0, more: 0.5, law: FieldLaw::Square };
        let doubling = Some(Time::from_hours(1.0));
        let mut truth = truth(None);
        truth.absorption.clear();
        truth.departure = Departure { field: Some(field), doubling };
        let mut specimen = Specimen::new(truth);
        specimen.connect(fed(KILOVOLT * 10.0));
        // Derived: 0.4 µA by 25 GΩ, an eighth more by the square, twice that after an hour.
        check(at(&mut specimen, 60.0).1.microamperes(), 0.45 * (1.0_f64 / 60.0).exp2(), 2e-3);
        check(at(&mut specimen, 3600.0).1.microamperes(), 0.9, 2e-3);
    }
}
