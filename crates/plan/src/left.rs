//! What may still be on a conductor after its voltage went off, until the ground is on.
//!
//! Each number errs upwards. A capacitance falls through whatever is connected as V₀·e^(−t/RC);
//! what the absorbed charge feeds back meanwhile can be no more than it would raise the open
//! object to, which the plan knows (superposition: a resistor across the object only lowers it).

use quantity::{Band, Capacitance, Resistance, Time, Voltage};

use crate::course::Plan;
use crate::job::Job;
use crate::measured::GivesBack;

/// What an object, its set and the tool leave on a conductor.
#[derive(Clone, Debug, PartialEq)]
pub struct Remains {
    capacitance: Option<Band<Capacitance>>,
    insulation: Option<Band<Resistance>>,
    /// K of the absorption; what comes back is in proportion to it.
    strength: Option<Band<f64>>,
    /// The set's own discharge path, where it is known to have one.
    bleed: Option<Resistance>,
    tool: Option<Resistance>,
    /// What the open object comes back to, at the most: right after the tool, and after the ground
    /// was on for its time.
    comes_back: Option<Voltage>,
    /// What it usually comes back to, where its own test told.
    comes_back_usual: Option<Voltage>,
    comes_back_after_ground: Voltage,
    ground: Time,
    meter_floor: Voltage,
    highest: Option<Voltage>,
}

/// What was done to a conductor since it was last fed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Since {
    /// The set feeds it: what is read is on it.
    Fed,
    /// Switched off or tripped: only its own leakage and the set's path discharge it, for so long
    /// since then, or since a later reading.
    Off {
        /// For how long.
        time: Time,
    },
    /// The tool lies on it.
    Tool {
        /// How long it was off before, from the last reading on.
        off: Time,
        /// How long the tool has been on, from the last reading on.
        on: Time,
    },
    /// A solid ground is on it.
    Grounded,
    /// Its last ground came off.
    Lifted {
        /// How long the ground had been on; `None` where it never was on for any time.
        grounded: Option<Time>,
    },
}

impl Remains {
    /// Of the object as it was planned with, and the job's set.
    #[must_use]
    pub fn of(job: &Job, plan: &Plan) -> Self {
        let model = plan.model.as_ref();
        let down = plan.descent.as_ref();
        let steps = plan.course.iter().map(|step| step.level);
        let resistance = plan.resistance_test.as_ref().map(|test| test.voltage);
        Self {
            capacitance: plan.capacitance_band,
            insulation: model.map(|model| model.insulation),
            strength: model.map(|model| model.absorption_strength),
            bleed: job.set.bleed,
            tool: down.map(|down| down.resistor),
            comes_back: down.map(|down| down.rebound),
            comes_back_usual: None,
            comes_back_after_ground: down.map_or(Voltage::ZERO, |down| down.rebound_after_ground),
            ground: down.map_or(Time::ZERO, |down| down.ground),
            meter_floor: down.and_then(|down| down.meter_floor).unwrap_or(Voltage::ZERO),
            highest: steps.chain(resistance).reduce(Voltage::max),
        }
    }

    /// The same, of an object that its own test told of.
    ///
    /// What comes back is by the readings; what leaks away is as well, but never faster than was
    /// planned with: under voltage an object may conduct more than once it falls.
    #[must_use]
    pub fn told(&self, found: &GivesBack) -> Self {
        let mut told = self.clone();
        if let Some(object) = &found.object {
            let slowest = |high: Resistance| match self.insulation {
                Some(planned) => high.max(planned.high),
                None => high,
            };
            let Band { low, mid, high } = object.insulation;
            told.insulation = Some(Band { low, mid, high: slowest(high) });
        }
        told.strength = None;
        told.comes_back_usual = Some(found.rebound_usual);
        told.comes_back = Some(found.rebound);
        told.comes_back_after_ground = found.rebound_after_ground;
        told.ground = self.ground.max(found.ground);
        told
    }

    /// What may be on the conductor now: 2.5 %, middle and 97.5 %.
    ///
    /// - `read` the voltage that was read last, before all that `since` tells `[V]`; without one
    ///   the highest planned level
    /// - returns `[V]`; `None` where nothing was read and nothing is planned
    ///
    /// v = V₀·e^(−t/RC), with the doubts of R and C added as squares of their effects on ln v
    ///
    /// # Source
    /// Textbook, exponential discharge; JCGM 100:2008, 5.1.2, first order; the bound for the
    /// absorbed charge derived, by superposition.
    #[must_use]
    pub fn left(&self, read: Option<Voltage>, since: Since) -> Option<Band<Voltage>> {
        match since {
            Since::Grounded => Some(Band::certain(Voltage::ZERO)),
            Since::Lifted { grounded } => self.lifted(read, grounded),
            Since::Fed => self.begin(read),
            Since::Off { time } => Some(self.fallen(self.begin(read)?, time, Time::ZERO)),
            Since::Tool { off, on } => Some(self.fallen(self.begin(read)?, off, on)),
        }
    }

    /// What the conductor would come back to if its ground came off now, at the most.
    #[must_use]
    pub fn if_lifted(&self, grounded: Time) -> Option<Voltage> {
        match grounded >= self.ground {
            true => self.comes_back.map(|_| self.comes_back_after_ground),
            false => self.comes_back,
        }
    }

    /// What was read, and no lower than the meter can tell; or the highest level there is.
    fn begin(&self, read: Option<Voltage>) -> Option<Band<Voltage>> {
        let Some(read) = read.map(Voltage::abs) else {
            let highest = self.highest?;
            return Some(Band { low: Voltage::ZERO, mid: highest, high: highest });
        };
        let told = read >= self.meter_floor;
        let low = if told { read } else { Voltage::ZERO };
        Some(Band { low, mid: read, high: read.max(self.meter_floor) })
    }

    fn fallen(&self, from: Band<Voltage>, off: Time, on: Time) -> Band<Voltage> {
        let exponent = self.exponent(self.bleed, off);
        let tool = match self.tool {
            Some(tool) if on > Time::ZERO => self.exponent(Some(tool), on),
            _ => Band::certain(0.0),
        };
        let sum = Band {
            low: exponent.low + tool.low,
            mid: exponent.mid + tool.mid,
            high: exponent.high + tool.high,
        };
        let fed = self.fed_back(off + on);
        let add = |volts: Voltage, fed: Voltage| (volts + fed).min(from.high);
        Band {
            low: from.low * (-sum.high).exp(),
            mid: add(from.mid * (-sum.mid).exp(), fed.mid),
            high: add(from.high * (-sum.low).exp(), fed.high),
        }
    }

    /// t/RC through the object's own leakage and, where there is one, a path beside it.
    fn exponent(&self, path: Option<Resistance>, time: Time) -> Band<f64> {
        // Without an object to reckon with nothing is taken to fall.
        let Some(capacitance) = self.capacitance else { return Band::certain(0.0) };
        let of = |leak: Option<Resistance>, capacitance: Capacitance| {
            let siemens = leak.iter().chain(&path).map(|r| 1.0 / r.ohms()).sum::<f64>();
            time.seconds() * siemens / capacitance.farads()
        };
        let leak = |pick: fn(&Band<Resistance>) -> Resistance| self.insulation.as_ref().map(pick);
        let usual = leak(|band| band.mid);
        let mid = of(usual, capacitance.mid);
        let slower = (mid - of(usual, capacitance.high))
            .hypot(mid - of(leak(|band| band.high), capacitance.mid));
        let faster = (of(usual, capacitance.low) - mid)
            .hypot(of(leak(|band| band.low), capacitance.mid) - mid);
        Band { low: (mid - slower).max(0.0), mid, high: mid + faster }
    }

    /// What the absorbed charge may hold up; nothing at the moment the voltage goes.
    fn fed_back(&self, time: Time) -> Band<Voltage> {
        match self.comes_back.filter(|_| time > Time::ZERO) {
            Some(most) => Band { low: Voltage::ZERO, mid: self.usual(most), high: most },
            None => Band::certain(Voltage::ZERO),
        }
    }

    /// From the most that comes back to what usually does.
    fn usual(&self, most: Voltage) -> Voltage {
        if let (Some(usual), Some(whole)) = (self.comes_back_usual, self.comes_back)
            && whole > Voltage::ZERO
        {
            return most * (usual / whole);
        }
        match self.strength {
            Some(strength) if strength.high > 0.0 => most * (strength.mid / strength.high),
            _ => most,
        }
    }

    fn lifted(&self, read: Option<Voltage>, grounded: Option<Time>) -> Option<Band<Voltage>> {
        let most = self.if_lifted(grounded.unwrap_or(Time::ZERO)).or(self.highest)?;
        // What was read can be more than the model's most, and is not less for being read.
        let read = read.map_or(Voltage::ZERO, Voltage::abs);
        let told = if read >= self.meter_floor { read } else { Voltage::ZERO };
        Some(Band { low: Voltage::ZERO, mid: self.usual(most).max(told), high: most.max(told) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The object of the worked netlist: 1 µF, 25 GΩ, branches of 50 nF, at 25 kV; its rebound
    /// after 10 s through 50 kΩ peaks at 1360.4477 V (matrix exponential by a second program).
    fn netlist() -> Remains {
        Remains {
            capacitance: Some(Band::certain(Capacitance::from_microfarads(1.0))),
            insulation: Some(Band::certain(Resistance::from_megohms(25_000.0))),
            strength: None,
            bleed: None,
            tool: Some(Resistance::from_kilohms(50.0)),
            comes_back: Some(Voltage::from_volts(1360.4477)),
            comes_back_usual: None,
            comes_back_after_ground: Voltage::from_volts(2.6355),
            ground: Time::from_seconds(600.0),
            meter_floor: Voltage::from_volts(500.0),
            highest: Some(Voltage::from_kilovolts(25.0)),
        }
    }

    fn kilovolts(kv: f64) -> Option<Voltage> {
        Some(Voltage::from_kilovolts(kv))
    }

    fn check(remains: &Remains, since: Since, expected: (f64, f64)) {
        let left = remains.left(kilovolts(25.0), since).expect("a voltage was read");
        let close =
            |found: Voltage, volts: f64| (found.volts() - volts).abs() < 1e-3 * (1.0 + volts);
        assert!(close(left.low, expected.0), "{since:?}: low {:?}", left.low);
        assert!(close(left.high, expected.1), "{since:?}: high {:?}", left.high);
        assert!(left.low <= left.mid && left.mid <= left.high, "{left:?}");
    }

    #[test]
    fn a_capacitance_falls_by_its_time_constant() {
        let seconds = Time::from_seconds;
        let bled = Remains {
            bleed: Some(Resistance::from_megohms(100.0)),
            insulation: None,
            comes_back: None,
            ..netlist()
        };
        // Derived by arithmetic: 25 kV·e^(−t/100 s).
        check(&bled, Since::Off { time: seconds(100.0) }, (9196.986, 9196.986));
        check(&bled, Since::Off { time: seconds(230.258_509) }, (2500.0, 2500.0));
        // Nothing but 25 GΩ: 25 kV·e^(−600/25 000).
        let alone = Remains { comes_back: None, ..netlist() };
        check(&alone, Since::Off { time: seconds(600.0) }, (24_407.14, 24_407.14));
        // 100 s off, then the tool for 0.05 s: one time constant more, and the leakage beside it.
        check(&alone, Since::Tool { off: seconds(0.0), on: seconds(0.05) }, (9196.967, 9196.967));
    }

    #[test]
    fn the_upper_end_is_never_below_the_worked_discharge() {
        // Derived: matrix exponential by a second program, 25 kV through 50 kΩ, with absorption;
        // then left open after 10 s.
        let table =
            [(0.05, 9_214.960_614), (0.25, 226.063_57), (1.0, 31.781_204), (10.0, 2.891_507)];
        for (on, volts) in table {
            let since = Since::Tool { off: Time::ZERO, on: Time::from_seconds(on) };
            let left = netlist().left(kilovolts(25.0), since).expect("a voltage was read");
            assert!(left.high.volts() >= volts, "{on} s: {:?}", left.high);
            assert!(left.low.volts() <= volts, "{on} s: {:?}", left.low);
        }
        let open = [376.472_845, 1_010.988_564, 1360.4477];
        let lifted = netlist().left(None, Since::Lifted { grounded: None }).expect("planned");
        assert!(open.iter().all(|volts| lifted.high.volts() >= *volts));
    }

    #[test]
    fn the_doubts_of_the_object_widen_what_is_left() {
        let doubtful = Remains {
            capacitance: Some(
                Band { low: 0.5, mid: 1.0, high: 2.0 }.map(Capacitance::from_microfarads),
            ),
            insulation: None,
            bleed: Some(Resistance::from_megohms(100.0)),
            comes_back: None,
            ..netlist()
        };
        // Derived by arithmetic: one doubt alone moves each end by its own effect.
        let since = Since::Off { time: Time::from_seconds(200.0) };
        check(&doubtful, since, (25e3 * (-4.0_f64).exp(), 25e3 * (-1.0_f64).exp()));
    }

    #[test]
    fn a_reading_lowers_it_only_to_what_the_meter_can_tell() {
        let high = |read, since| netlist().left(read, since).expect("known").high.volts();
        let off = Since::Off { time: Time::ZERO };
        assert!((high(kilovolts(0.1), off) - 500.0).abs() < 1e-9);
        assert!((high(kilovolts(3.0), off) - 3000.0).abs() < 1e-9);
        // Nothing was read: the highest level there is.
        assert!((high(None, off) - 25e3).abs() < 1e-9);
        assert!((high(kilovolts(3.0), Since::Fed) - 3000.0).abs() < 1e-9);
        assert!(high(kilovolts(25.0), Since::Grounded).abs() < 1e-9);
    }

    #[test]
    fn a_ground_that_was_on_too_short_counts_for_nothing() {
        let most =
            |seconds| netlist().if_lifted(Time::from_seconds(seconds)).expect("planned").volts();
        assert!((most(599.0) - 1360.4477).abs() < 1e-9);
        assert!((most(600.0) - 2.6355).abs() < 1e-9);
        let lifted = Since::Lifted { grounded: Some(Time::from_seconds(600.0)) };
        let read = netlist().left(kilovolts(1.2), lifted).expect("known");
        assert!((read.high.volts() - 1200.0).abs() < 1e-9, "more was read than the model knows");
    }

    #[test]
    fn it_is_never_more_than_there_was_and_where_nothing_is_known_all_of_it() {
        // What comes back in a millisecond cannot lift it above the 25 kV that were read.
        check(
            &Remains { insulation: None, ..netlist() },
            Since::Off { time: Time::from_seconds(1e-3) },
            (25e3, 25e3),
        );
        let unknown = Remains { comes_back: None, ..netlist() };
        let lifted = unknown.left(None, Since::Lifted { grounded: None }).expect("planned");
        assert!((lifted.high.volts() - 25e3).abs() < 1e-9, "the highest level there is");
    }

    /// Its own test tells what comes back, and how it conducts; but it never falls faster than was
    /// planned with: 25 GΩ there, 5 GΩ as read under voltage.
    #[test]
    fn a_test_tells_what_comes_back_and_hastens_no_fall() {
        let megohms = |low, mid, high| Band { low, mid, high }.map(Resistance::from_megohms);
        let found = GivesBack {
            at_voltage: Time::from_minutes(20.0),
            object: Some(crate::measured::Fitted {
                insulation: megohms(4000.0, 5000.0, 6000.0),
                absorption_strength: Band::certain(0.01),
                absorption_exponent: Band::certain(0.8),
            }),
            ground: Time::from_seconds(300.0),
            longer_by: None,
            rebound: Voltage::from_volts(700.0),
            rebound_usual: Voltage::from_volts(350.0),
            rebound_after_ground: Voltage::from_volts(1.0),
        };
        let told = netlist().told(&found);
        let since = Since::Off { time: Time::from_seconds(6000.0) };
        let [plan, now] = [netlist(), told.clone()]
            .map(|one| one.left(kilovolts(25.0), since).expect("a voltage was read"));
        assert!(now.mid < plan.mid, "{now:?} {plan:?}");
        // Derived: 25 kV·e^(−6000/25 000), and what comes back at the most.
        let most = 25e3 * (-0.24_f64).exp() + 700.0;
        assert!((now.high.volts() - most).abs() < 1e-6, "{now:?}");
        let lifted = told.left(None, Since::Lifted { grounded: None }).expect("told");
        assert!((lifted.high.volts() - 700.0).abs() < 1e-9);
        assert!((lifted.mid.volts() - 350.0).abs() < 1e-9);
        // The ground is as long as was planned, at the least.
        let most = |seconds| told.if_lifted(Time::from_seconds(seconds)).expect("told").volts();
        assert!((most(599.0) - 700.0).abs() < 1e-9 && (most(600.0) - 1.0).abs() < 1e-9);
    }

    #[test]
    fn without_an_object_to_reckon_with_nothing_falls() {
        let unknown =
            Remains { capacitance: None, insulation: None, comes_back: None, ..netlist() };
        let since = Since::Tool { off: Time::from_hours(1.0), on: Time::from_hours(1.0) };
        check(&unknown, since, (25e3, 25e3));
    }
}
