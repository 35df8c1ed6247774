//! The set, the object, the tool and the grounds, with everything a hand can move.

mod assembly;

use physics::transient::Supply;
use plan::course::Link;
use plan::job::LowSide;
use quantity::{Current, Resistance, Time, Voltage, VoltageRate};

use crate::draw::Place;
use crate::needle::{Needle, Needles};
use crate::specimen::{Around, Feed, Specimen};
use crate::truth::{Fault, Truth};
pub use assembly::RigError;

/// Resistance in the set's output; no nameplate gives it. Common practice, no source.
const SERIES: Resistance = Resistance::from_kilohms(10.0);
/// Leakage of lead and set to ground. Common practice, no source.
const LEADS: Resistance = Resistance::from_megohms(400_000.0);
/// A hand turns the ammeter up before the needle is at its end. Common practice, no source.
const WITH_ROOM: f64 = 1.05;
/// A loose link makes or breaks this often.
const LOOSE_FOR: Time = Time::from_seconds(2.0);

/// Why a control did not move.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Refused {
    /// Zero start.
    #[error("turn the dial to zero first: the set starts from zero only")]
    DialNotAtZero,
    /// The trip holds.
    #[error("reset the trip first")]
    Tripped,
    /// No such conductor.
    #[error("name a conductor of the plan")]
    NoSuchConductor,
    /// No such range.
    #[error("choose a range that is on the set")]
    NoSuchRange,
    /// A setting outside its scale.
    #[error("set it within its scale")]
    OffScale,
}

/// The set tripped: the supply is off and stays off. Nothing is discharged by it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tripped {
    /// When.
    pub at: Time,
    /// What the voltmeter showed then.
    pub shown: Voltage,
}

/// A set, its object, the discharge tool and the grounds.
#[derive(Clone, Debug)]
pub struct Rig {
    names: Vec<String>,
    /// One for each conductor, and last the lead alone.
    specimens: Vec<Specimen>,
    grounds: Vec<bool>,
    tools: Vec<bool>,
    tool: Resistance,
    lead: usize,
    low_side: LowSide,
    link: Link,
    guard_ring: bool,
    voltmeter: Needle,
    voltmeter_at: usize,
    ammeter: Needle,
    /// `None` while a hand keeps turning it to where it can be read.
    ammeter_at: Option<usize>,
    /// Output at full dial, for each voltmeter range.
    dial_full: Vec<Voltage>,
    dial: Dial,
    bleed: Option<Resistance>,
    /// In the set's output.
    series: Resistance,
    limit: Current,
    trip: Current,
    trip_scale: (Current, Current),
    high_voltage: bool,
    tripped: Option<Time>,
    now: Time,
    place: Place,
}

/// A dial on its way.
#[derive(Clone, Copy, Debug)]
struct Dial {
    from: f64,
    target: f64,
    /// Of the full dial, per second.
    rate: f64,
    since: Time,
}

impl Dial {
    fn at(&self, now: Time) -> f64 {
        let gone = self.rate * (now - self.since).seconds();
        if self.target > self.from {
            (self.from + gone).min(self.target)
        } else {
            (self.from - gone).max(self.target)
        }
    }
}

impl Rig {
    /// Machine time.
    #[must_use]
    pub fn now(&self) -> Time {
        self.now
    }

    /// Goes on to `to`. Where the set trips on the way it stops there and says so; the rest is
    /// asked for again.
    pub fn advance(&mut self, to: Time) -> Option<Tripped> {
        let mut to = to.max(self.now);
        let trips = self.specimens[self.lead].advance(to);
        if trips {
            to = self.specimens[self.lead].now();
        }
        for (index, specimen) in self.specimens.iter_mut().enumerate() {
            if index != self.lead {
                specimen.advance(to);
            }
        }
        self.now = to;
        trips.then(|| {
            let shown = self.needles().voltage.value;
            (self.high_voltage, self.tripped) = (false, Some(to));
            self.connect();
            Tripped { at: to, shown }
        })
    }

    /// When the set will trip, if it does up to `to` with nothing changed before.
    #[must_use]
    pub fn trip_before(&self, to: Time) -> Option<Time> {
        let mut ahead = self.high_voltage.then(|| self.specimens[self.lead].clone())?;
        ahead.advance(to).then(|| ahead.now())
    }

    /// What both needles show.
    #[must_use]
    pub fn needles(&self) -> Needles {
        let instant = self.now.seconds().to_bits();
        let (voltage, _) = self.specimens[self.lead].sample();
        let volts = self.voltmeter.show(voltage.volts(), self.voltmeter_at, instant);
        let flows = self.metered().amperes();
        let range = self.ammeter_at.unwrap_or_else(|| self.ammeter.fitting(flows * WITH_ROOM));
        let amperes = self.ammeter.show(flows, range, instant);
        Needles {
            voltage: volts.of(Voltage::from_volts),
            current: amperes.of(Current::from_amperes),
        }
    }

    /// The voltage that truly stands on a conductor; no needle shows it so.
    ///
    /// # Errors
    /// When there is no such conductor.
    pub fn true_voltage(&self, conductor: &str) -> Result<Voltage, Refused> {
        Ok(self.specimens[self.index(conductor)?].sample().0)
    }

    /// What a conductor really is.
    ///
    /// # Errors
    /// When there is no such conductor.
    pub fn truth(&self, conductor: &str) -> Result<&Truth, Refused> {
        Ok(&self.specimens[self.index(conductor)?].truth)
    }

    /// Sends the dial to a part of its travel, at `rate` parts a second.
    ///
    /// # Errors
    /// When that is not from 0 to 1, or the rate is not above 0.
    pub fn dial(&mut self, to: f64, rate: f64) -> Result<(), Refused> {
        if !(0.0..=1.0).contains(&to) || rate.is_nan() || rate <= 0.0 || rate.is_infinite() {
            return Err(Refused::OffScale);
        }
        self.dial = Dial { from: self.dial_at(), target: to, rate, since: self.now };
        self.connect();
        Ok(())
    }

    /// Where the dial is, in parts of its travel.
    #[must_use]
    pub fn dial_at(&self) -> f64 {
        self.dial.at(self.now)
    }

    /// Where the dial goes, in parts of its travel, and how many of them a second.
    #[must_use]
    pub fn dial_course(&self) -> (f64, f64) {
        (self.dial.target, self.dial.rate)
    }

    /// Whether high voltage is switched on.
    #[must_use]
    pub fn is_high_voltage_on(&self) -> bool {
        self.high_voltage
    }

    /// Output at full dial on the voltmeter range in use.
    #[must_use]
    pub fn dial_full(&self) -> Voltage {
        self.dial_full[self.voltmeter_at]
    }

    /// The voltage at which the voltmeter stands on `shown`: what a hand that watches the needle
    /// turns to.
    #[must_use]
    pub fn voltage_for(&self, shown: Voltage) -> Voltage {
        Voltage::from_volts(self.voltmeter.truth_of(shown.volts(), self.voltmeter_at))
    }

    /// Switches high voltage on.
    ///
    /// # Errors
    /// When the set is tripped, or the dial is not at zero.
    pub fn high_voltage_on(&mut self) -> Result<(), Refused> {
        if self.tripped.is_some() {
            return Err(Refused::Tripped);
        }
        if self.dial_at() > 0.0 {
            return Err(Refused::DialNotAtZero);
        }
        self.high_voltage = true;
        self.connect();
        Ok(())
    }

    /// Switches high voltage off. What is charged stays charged.
    pub fn high_voltage_off(&mut self) {
        self.high_voltage = false;
        self.connect();
    }

    /// When the trip opened, if it has not been reset since.
    #[must_use]
    pub fn tripped_at(&self) -> Option<Time> {
        self.tripped
    }

    /// Resets the trip.
    ///
    /// # Errors
    /// When the dial is not at zero.
    pub fn reset_trip(&mut self) -> Result<(), Refused> {
        if self.dial_at() > 0.0 {
            return Err(Refused::DialNotAtZero);
        }
        self.tripped = None;
        Ok(())
    }

    /// Sets the trip.
    ///
    /// # Errors
    /// When the nameplate has no such setting.
    pub fn set_trip(&mut self, at: Current) -> Result<(), Refused> {
        let (lowest, highest) = self.trip_scale;
        if !(at > Current::ZERO && at >= lowest && at <= highest) {
            return Err(Refused::OffScale);
        }
        self.trip = at;
        self.connect();
        Ok(())
    }

    /// Lowest and highest setting of the trip.
    #[must_use]
    pub fn trip_scale(&self) -> (Current, Current) {
        self.trip_scale
    }

    /// Sets the current limit.
    ///
    /// # Errors
    /// When it is not above zero and finite.
    pub fn set_limit(&mut self, at: Current) -> Result<(), Refused> {
        if !(at > Current::ZERO && at.is_finite()) {
            return Err(Refused::OffScale);
        }
        self.limit = at;
        self.connect();
        Ok(())
    }

    /// Puts this resistance in the set's output: a weak supply sags as it gives current.
    ///
    /// # Errors
    /// When it is not above zero and finite.
    pub fn set_series(&mut self, series: Resistance) -> Result<(), Refused> {
        if !(series > Resistance::ZERO && series.is_finite()) {
            return Err(Refused::OffScale);
        }
        self.series = series;
        self.connect();
        Ok(())
    }

    /// Turns the voltmeter to this range; on many sets the output turns with it.
    ///
    /// # Errors
    /// When there is no such range.
    pub fn voltmeter_range(&mut self, full: Voltage) -> Result<(), Refused> {
        self.voltmeter_at = self.voltmeter.find(full.volts()).ok_or(Refused::NoSuchRange)?;
        self.connect();
        Ok(())
    }

    /// Turns the voltmeter to the smallest range that shows this and whose output reaches it.
    pub fn fit_voltmeter(&mut self, level: Voltage) {
        let fits = |index: &usize| self.dial_full[*index] >= level;
        let smallest = self.voltmeter.fitting(level.volts());
        let last = self.dial_full.len() - 1;
        self.voltmeter_at = (smallest..=last).find(fits).unwrap_or(last);
        self.connect();
    }

    /// Turns the ammeter to this range and leaves it there; until then a hand keeps turning it to
    /// the smallest range that shows what flows.
    ///
    /// # Errors
    /// When there is no such range.
    pub fn ammeter_range(&mut self, full: Current) -> Result<(), Refused> {
        let range = self.ammeter.find(full.amperes()).ok_or(Refused::NoSuchRange)?;
        self.ammeter_at = Some(range);
        Ok(())
    }

    /// Ties guard or return to ground.
    pub fn set_link(&mut self, link: Link) {
        self.link = link;
    }

    /// Fits or takes off the guard ring that catches what creeps over the surface.
    pub fn set_guard_ring(&mut self, on: bool) {
        self.guard_ring = on;
    }

    /// Moves the lead to a conductor; `None` holds it clear of all.
    ///
    /// # Errors
    /// When there is no such conductor.
    pub fn lead(&mut self, conductor: Option<&str>) -> Result<(), Refused> {
        self.lead = conductor.map_or(Ok(self.names.len()), |name| self.index(name))?;
        self.connect();
        Ok(())
    }

    /// Puts a solid ground on a conductor or takes it off; `None` is the lead held clear.
    ///
    /// # Errors
    /// When there is no such conductor.
    pub fn ground(&mut self, conductor: Option<&str>, on: bool) -> Result<(), Refused> {
        let index = conductor.map_or(Ok(self.names.len()), |name| self.index(name))?;
        self.grounds[index] = on;
        self.connect();
        Ok(())
    }

    /// Lays the discharge tool on a conductor or takes it off; `None` is the lead held clear.
    ///
    /// # Errors
    /// When there is no such conductor.
    pub fn tool(&mut self, conductor: Option<&str>, on: bool) -> Result<(), Refused> {
        let index = conductor.map_or(Ok(self.names.len()), |name| self.index(name))?;
        self.tools[index] = on;
        self.connect();
        Ok(())
    }

    fn index(&self, conductor: &str) -> Result<usize, Refused> {
        self.names.iter().position(|name| name == conductor).ok_or(Refused::NoSuchConductor)
    }

    /// Tells each conductor what is connected to it.
    fn connect(&mut self) {
        let full = self.dial_full();
        let feed = self.high_voltage.then(|| Feed {
            supply: Supply {
                limit: Some(self.limit),
                series: self.series,
                trip: Some(self.trip),
                bleed: None,
                ripple: None,
            },
            command: full * self.dial_at(),
            target: full * self.dial.target,
            rate: VoltageRate::from_volts_per_second(full.volts() * self.dial.rate),
        });
        for (index, specimen) in self.specimens.iter_mut().enumerate() {
            let led = index == self.lead;
            let set = 1.0 / LEADS.ohms() + self.bleed.map_or(0.0, |bleed| 1.0 / bleed.ohms());
            specimen.connect(Around {
                feed: feed.filter(|_| led),
                set: if led { set } else { 0.0 },
                tool: self.tools[index].then_some(self.tool),
                grounded: self.grounds[index],
            });
        }
    }

    /// What truly flows through the ammeter, so connected; no needle shows it so.
    #[must_use]
    pub fn metered(&self) -> Current {
        let specimen = &self.specimens[self.lead];
        let (voltage, supplied) = specimen.sample();
        if self.low_side == LowSide::Grounded && self.link == Link::GuardToGround {
            // The object's current comes back by the ground, and so by the guard.
            return Current::ZERO;
        }
        let through = |siemens: f64| Current::from_amperes(voltage.volts() * siemens);
        // The set's own path and the tool lie ahead of the meter.
        let mut current = supplied - self.bleed.map_or(Current::ZERO, |bleed| voltage / bleed);
        if self.tools[self.lead] {
            current = current - voltage / self.tool;
        }
        if self.link == Link::GuardToGround {
            current = current - voltage / LEADS;
        }
        if self.guard_ring {
            current = current - through(specimen.surface());
        } else if let Some(glow) = specimen.truth.glow {
            current = current + glow.current(voltage, self.place.at(self.now.seconds().to_bits()));
        }
        match specimen.truth.fault {
            Some(Fault::LooseLink) => current * self.contact(),
            _ => current,
        }
    }

    /// What a loose link lets through: all, nothing, or something between.
    fn contact(&self) -> f64 {
        let drawn = self.place.at((self.now / LOOSE_FOR).floor() as u64);
        let at_this_instant = drawn.at(self.now.seconds().to_bits()).even();
        match drawn.even() {
            open if open < -0.4 => 0.0,
            noisy if noisy < 0.2 => 0.5 + 0.5 * at_this_instant,
            _ => 1.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use plan::job::AccuracyOf;
    use quantity::{Capacitance, Ratio};
    use standards::Library;

    use super::*;

    /// A set without error or ripple at an object without absorption: 100 nF, 10 GΩ, and a surface
    /// of 50 GΩ.
    fn rig(low_side: LowSide, fault: Option<Fault>) -> Rig {
        let text = include_str!("../../../../docs/examples/cable.toml");
        let mut job = plan::job_file::parse(text).expect("the example is sound");
        job.connection.low_side = low_side;
        job.set.accuracy = Some(Ratio::ZERO);
        job.set.accuracy_of = AccuracyOf::Reading;
        job.set.ripple = None;
        job.set.bleed = Some(Resistance::from_megohms(1000.0));
        let plan = plan::plan(&job, &Library::published());
        let truth = Truth {
            capacitance: Capacitance::from_nanofarads(100.0),
            insulation: Resistance::from_megohms(10_000.0),
            surface: Resistance::from_megohms(50_000.0),
            absorption: Vec::new(),
            departure: crate::nature::Departure::default(),
            glow: None,
            fault,
        };
        let mut rig = Rig::with(&job, &plan, vec![truth; 3], 1).expect("sound");
        rig.lead(Some("A")).expect("of the plan");
        rig
    }

    fn seconds(seconds: f64) -> Time {
        Time::from_seconds(seconds)
    }

    /// On, and to a part of the dial in a second.
    fn raise(rig: &mut Rig, part: f64) {
        rig.high_voltage_on().expect("the dial is at zero");
        rig.dial(part, part).expect("on the dial");
    }

    fn volts(rig: &Rig) -> f64 {
        rig.true_voltage("A").expect("of the plan").volts()
    }

    fn check(found: f64, expected: f64, part: f64) {
        assert!((found / expected - 1.0).abs() < part, "{found}, not {expected}");
    }

    #[test]
    fn at_the_limit_the_voltage_rises_by_current_over_capacitance() {
        let mut rig = rig(LowSide::Grounded, None);
        rig.set_limit(Current::from_milliamperes(0.1)).expect("on the scale");
        raise(&mut rig, 0.5);
        rig.advance(seconds(5.0));
        // Derived: 0.1 mA into 100 nF is 1 kV/s, less what 0.89 GΩ conducts: τ = 89.3 s.
        let parallel = 1.0 / (1.0 / 1e9 + 1.0 / 400e9 + 1.0 / 10e9 + 1.0 / 50e9);
        let constant = parallel * 100e-9;
        check(volts(&rig), 1e-4 * parallel * -(-5.0_f64 / constant).exp_m1(), 1e-3);
    }

    #[test]
    fn a_supply_cannot_sink_and_the_bleed_brings_it_down() {
        let mut rig = rig(LowSide::Grounded, None);
        raise(&mut rig, 0.5);
        rig.advance(seconds(10.0));
        check(volts(&rig), 40e3, 1e-4);
        rig.dial(0.0, 1.0).expect("on the dial");
        rig.advance(seconds(10.5));
        check(volts(&rig), 40e3, 0.01);
        rig.high_voltage_off();
        rig.advance(seconds(110.0));
        // Derived: e^(−100/τ), with the same τ of 89.0 s.
        let siemens: f64 = 1.0 / 1e9 + 1.0 / 400e9 + 1.0 / 10e9 + 1.0 / 50e9;
        check(volts(&rig), 40e3 * (-100.0 * siemens / 100e-9).exp(), 1e-3);
        // Derived: the lead gone, insulation and surface alone: τ = 833 s.
        let stood = volts(&rig);
        rig.lead(None).expect("clear of all");
        rig.advance(seconds(210.0));
        check(volts(&rig), stood * (-100.0_f64 / (1e10 / 1.2 * 100e-9)).exp(), 1e-6);
    }

    #[test]
    fn zero_start_and_trip_hold_and_a_trip_discharges_nothing() {
        let mut rig = rig(LowSide::Grounded, None);
        rig.dial(0.5, 0.5).expect("on the dial");
        rig.advance(seconds(2.0));
        assert_eq!(rig.high_voltage_on(), Err(Refused::DialNotAtZero));
        assert_eq!(volts(&rig), 0.0);
        rig.dial(0.0, 1.0).expect("on the dial");
        rig.advance(seconds(3.0));
        rig.set_trip(Current::from_milliamperes(0.5)).expect("on the scale");
        rig.high_voltage_on().expect("the dial is at zero");
        // Derived: 4 kV/s into 100 nF is 0.4 mA; conduction lifts it to the trip at 89.6 kV only.
        // At 6 kV/s it is 0.6 mA, above the trip from the start.
        rig.dial(0.5, 0.05).expect("on the dial");
        assert_eq!(rig.advance(seconds(8.0)), None);
        let stood = volts(&rig);
        check(stood, 20e3, 1e-3);
        rig.dial(1.0, 0.075).expect("on the dial");
        let tripped = rig.advance(seconds(20.0)).expect("it trips");
        assert!(tripped.at < seconds(8.1) && rig.tripped_at() == Some(tripped.at));
        assert!(!rig.high_voltage);
        check(volts(&rig), stood, 5e-3);
        assert_eq!(rig.reset_trip(), Err(Refused::DialNotAtZero));
        assert_eq!(rig.advance(seconds(20.0)), None);
        assert!(volts(&rig) > 0.85 * stood, "a trip discharges nothing");
        assert_eq!(rig.high_voltage_on(), Err(Refused::Tripped));
        rig.dial(0.0, 1.0).expect("on the dial");
        rig.advance(seconds(21.0));
        assert_eq!(rig.high_voltage_on(), Err(Refused::Tripped));
        assert_eq!(rig.reset_trip(), Ok(()));
        assert_eq!(rig.high_voltage_on(), Ok(()));
    }

    #[test]
    fn voltage_onto_a_ground_trips() {
        let mut rig = rig(LowSide::Grounded, None);
        rig.ground(Some("A"), true).expect("of the plan");
        rig.set_trip(Current::from_milliamperes(1.0)).expect("on the scale");
        raise(&mut rig, 0.1);
        let tripped = rig.advance(seconds(5.0)).expect("it trips");
        // Derived: 1 mA through the set's own 10 kΩ is 10 V, commanded after 1.25 ms at 8 kV/s.
        check(tripped.at.seconds(), 1.25e-3, 1e-6);
        assert_eq!(rig.needles().voltage.value, Voltage::ZERO);
    }

    #[test]
    fn what_the_ammeter_reads_hangs_on_the_links() {
        // Derived at 40 kV: insulation 4 µA, surface 0.8 µA, leads 0.1 µA; the bleed is never read.
        for (low_side, link, ring, expected) in [
            (LowSide::Grounded, Link::ReturnToGround, false, 4.9),
            (LowSide::Grounded, Link::ReturnToGround, true, 4.1),
            (LowSide::Grounded, Link::GuardToGround, false, 0.0),
            (LowSide::Isolated, Link::GuardToGround, false, 4.8),
            (LowSide::Isolated, Link::GuardToGround, true, 4.0),
            (LowSide::Isolated, Link::ReturnToGround, false, 4.9),
        ] {
            let mut rig = rig(low_side, None);
            rig.set_link(link);
            rig.set_guard_ring(ring);
            raise(&mut rig, 0.5);
            rig.advance(seconds(20.0));
            let shown = rig.needles().current;
            let found = shown.value.microamperes();
            // One resolution of the range of 10 µA.
            assert!((found - expected).abs() <= 0.025, "{found}, not {expected}");
        }
    }

    #[test]
    fn each_fault_shows_in_its_own_figures() {
        let read = |fault: Option<Fault>, ring: bool| {
            let mut rig = rig(LowSide::Grounded, fault);
            rig.set_guard_ring(ring);
            raise(&mut rig, 0.5);
            rig.advance(seconds(60.0));
            rig.needles().current.value.microamperes()
        };
        let near = |found: f64, expected: f64| {
            assert!((found - expected).abs() <= 0.02 * expected + 0.05, "{found}, not {expected}");
        };
        // Derived: insulation 4 µA, surface 0.8 µA, leads 0.1 µA.
        near(read(None, false), 4.9);
        near(read(Some(Fault::Wet { times: 10.0 }), true), 40.1);
        let dirty = Fault::Dirty { surface: Resistance::from_megohms(2000.0) };
        near(read(Some(dirty), false), 24.1);
        near(read(Some(dirty), true), 4.1);
    }

    #[test]
    fn a_loose_link_makes_and_breaks() {
        let mut rig = rig(LowSide::Grounded, Some(Fault::LooseLink));
        raise(&mut rig, 0.5);
        let mut reads = Vec::new();
        for k in 0..100 {
            rig.advance(seconds(20.0 + f64::from(k)));
            rig.ammeter_range(Current::from_microamperes(10.0)).expect("on the set");
            reads.push(rig.needles().current.value.microamperes());
        }
        let within = |low, high| reads.iter().filter(|read| (low..high).contains(*read)).count();
        assert!(within(-0.1, 0.1) > 10, "at times there is nothing");
        assert!(within(4.7, 5.1) > 20, "at times there is all of it");
        assert!(within(0.2, 4.6) > 10, "at times there is something between");
    }

    #[test]
    fn the_range_switch_moves_the_output_where_the_nameplate_says_so() {
        let mut rig = rig(LowSide::Grounded, None);
        raise(&mut rig, 0.25);
        rig.advance(seconds(10.0));
        check(volts(&rig), 20e3, 1e-4);
        // A trap: the switch to the smaller range takes the output with it.
        rig.voltmeter_range(Voltage::from_kilovolts(40.0)).expect("on the set");
        assert_eq!(rig.dial_full(), Voltage::from_kilovolts(40.0));
        rig.advance(seconds(1000.0));
        check(volts(&rig), 10e3, 1e-4);
        assert_eq!(rig.voltmeter_range(Voltage::from_kilovolts(33.0)), Err(Refused::NoSuchRange));
    }

    #[test]
    fn an_object_that_is_no_object_is_refused() {
        let sound = rig(LowSide::Grounded, None).truth("A").expect("of the plan").clone();
        let text = include_str!("../../../../docs/examples/cable.toml");
        let job = plan::job_file::parse(text).expect("the example is sound");
        let plan = plan::plan(&job, &Library::published());
        let broken = Truth { capacitance: Capacitance::ZERO, ..sound.clone() };
        let truths = vec![sound.clone(), broken, sound.clone()];
        let refused = Rig::with(&job, &plan, truths, 1).map(|_| ());
        assert_eq!(refused, Err(RigError::Part("B".to_owned())));
        let refused = Rig::with(&job, &plan, vec![sound], 1).map(|_| ());
        assert_eq!(refused, Err(RigError::Count { given: 1, needed: 3 }));
    }
}
