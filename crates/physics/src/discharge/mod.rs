//! The way down: time to a voltage, what a resistor takes, rebound, how long to ground.
//!
//! What is asked of an object is asked of it as it stands when its supply is opened: with the
//! voltages at its terminals and on its branches. [`Held::charge`] makes it so from a hold, which
//! is an upper bound; `Run::object_at` of [`crate::transient`] gives it as a course leaves it.
//! An onset of growing conduction is left out: above it the object loses charge faster, so that no
//! time, no joules and no rebound here is too small. A whole run of [`crate::transient`] has it.

mod rebound;
mod unshaped;

use quantity::{Capacitance, Current, Energy, Resistance, Time, Voltage};

use crate::exponentials::Exponentials;
use crate::transient::{
    Input, Leg, Modes, Network, Run, State, Supply, TestObject, TransientError, not_negative,
    positive,
};

pub use rebound::{GroundTime, Rebound, ground_time, rebound};
pub use unshaped::{Unshaped, ground_time_unshaped};

/// The time an object was held at a voltage.
///
/// The object is taken to have been at the voltage from the first moment. A test that rose in steps
/// charges its absorption less, so what follows from this is an upper bound.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Held {
    /// The voltage.
    pub voltage: Voltage,
    /// For how long.
    pub over: Time,
}

impl Held {
    /// The object as it stands at the end of the hold; `object` as it stood before.
    ///
    /// # Errors
    /// When a quantity is out of its range.
    pub fn charge(&self, object: &TestObject) -> Result<TestObject, TransientError> {
        not_negative(Input::HeldVoltage, self.voltage.volts())?;
        not_negative(Input::HeldTime, self.over.seconds())?;
        let leg = Leg { to: self.voltage, rise: None, dwell: self.over };
        let run = Run::new(object, &Supply::default(), &[leg], None, self.over)?;
        Ok(TestObject { start: self.voltage, ..run.object_at(self.over) })
    }
}

/// A discharge resistor laid on for a time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tool {
    /// Its resistance.
    pub resistance: Resistance,
    /// How long it is on.
    pub time: Time,
}

impl Tool {
    fn validate(&self) -> Result<(), TransientError> {
        positive(Input::Resistor, self.resistance.ohms())?;
        not_negative(Input::Bleed, self.time.seconds())
    }
}

/// What a resistor takes when the same discharge is done again and again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Repeated {
    /// What it holds at the end when nothing cools meanwhile.
    pub without_cooling: Energy,
    /// What it takes in the long run, `[W]`.
    pub average_watts: f64,
}

/// Time for a capacitance to come down from one voltage to another through a resistor.
///
/// - `resistor` `[Ω]`, `capacitance` `[F]`, `from` and `to` `[V]`
/// - returns `[s]`; zero where `to` is not below `from`, without end where `to` is zero.
///   Absorption is left out: it holds the last volts up for longer.
///
/// t = R·C·ln(V₀/V)
///
/// # Source
/// Textbook, exponential discharge.
///
/// ```
/// use physics::discharge::time_to;
/// use quantity::{Capacitance, Resistance, Voltage};
/// // Derived by arithmetic: 1 µF, 50 kΩ, 25 kV to 50 V in 0.310730 s.
/// let time = time_to(
///     Resistance::from_kilohms(50.0),
///     Capacitance::from_microfarads(1.0),
///     Voltage::from_kilovolts(25.0),
///     Voltage::from_volts(50.0),
/// );
/// assert!((time.seconds() - 0.310730).abs() < 1e-6);
/// ```
#[must_use]
pub fn time_to(resistor: Resistance, capacitance: Capacitance, from: Voltage, to: Voltage) -> Time {
    if to >= from {
        return Time::ZERO;
    }
    resistor * capacitance * (from / to.max(Voltage::ZERO)).ln()
}

/// First peak of current when a resistor is laid across a charged object.
///
/// - `resistor` `[Ω]`, `from` `[V]`
/// - returns `[A]`
///
/// I = V/R
///
/// # Source
/// Ohm's law.
///
/// ```
/// use physics::discharge::peak_current;
/// use quantity::{Resistance, Voltage};
/// // Derived by arithmetic.
/// let peak = peak_current(Resistance::from_kilohms(50.0), Voltage::from_kilovolts(25.0));
/// assert!((peak.amperes() - 0.5).abs() < 1e-12);
/// ```
#[must_use]
pub fn peak_current(resistor: Resistance, from: Voltage) -> Current {
    from / resistor
}

/// Time for an object to come down to a voltage through a resistor, and to stay below it.
///
/// - `charged` the object as it stands; `resistor` `[Ω]`; `to` `[V]`, above 0
/// - returns `[s]`; zero where it never stands above `to`. What absorption gives back is in it.
///
/// The last zero of Σ a_k·e^(−λ_k·t) − V over the modes with the resistor across the terminals
///
/// # Source
/// Kirchhoff's laws; derived.
///
/// # Errors
/// When a quantity is out of its range.
///
/// ```
/// use physics::discharge::time_below;
/// use physics::transient::TestObject;
/// use quantity::{Capacitance, Resistance, Voltage};
/// let charged = TestObject {
///     capacitance: Capacitance::from_microfarads(1.0),
///     insulation: None,
///     start: Voltage::from_kilovolts(25.0),
///     branches: vec![],
///     surface: None,
///     onset: None,
/// };
/// let resistor = Resistance::from_kilohms(50.0);
/// let time = time_below(&charged, resistor, Voltage::from_volts(50.0)).expect("sound");
/// // Derived by arithmetic: without absorption R·C·ln(V₀/V) = 0.310730 s.
/// assert!((time.seconds() - 0.310730).abs() < 1e-6);
/// ```
pub fn time_below(
    charged: &TestObject,
    resistor: Resistance,
    to: Voltage,
) -> Result<Time, TransientError> {
    charged.validate()?;
    positive(Input::Resistor, resistor.ohms())?;
    positive(Input::DownTo, to.volts())?;
    let above = Bleeding::of(charged, resistor).volts().less(to.volts());
    Ok(Time::from_seconds(above.zeros().last().copied().unwrap_or(0.0)))
}

/// First peak of the power in a resistor that is laid across a charged object.
///
/// - `resistor` `[Ω]`, `from` `[V]`
/// - returns `[W]`
///
/// P = V²/R
///
/// # Source
/// Joule's law.
///
/// ```
/// use physics::discharge::peak_watts;
/// use quantity::{Resistance, Voltage};
/// // Derived by arithmetic.
/// let peak = peak_watts(Resistance::from_kilohms(50.0), Voltage::from_kilovolts(25.0));
/// assert!((peak - 12.5e3).abs() < 1e-9);
/// ```
#[must_use]
pub fn peak_watts(resistor: Resistance, from: Voltage) -> f64 {
    from.volts() * peak_current(resistor, from).amperes()
}

/// What a resistor takes when one object after another is discharged through it.
///
/// - `one` the energy of one discharge `[J]`; `discharges` how many follow each other, `every` so
///   long `[s]`, above 0
/// - returns what it holds when none of it is given off between them, `[J]`, which bounds its
///   heat; and the mean power `[W]`, which rules when there is no end of them
///
/// E = n·E₁; P = E₁/T
///
/// # Source
/// Textbook, adiabatic heating; derived.
///
/// ```
/// use physics::discharge::repeated;
/// use quantity::{Energy, Time};
/// // Derived by arithmetic: three conductors of 300 J, one each quarter of an hour.
/// let taken = repeated(Energy::from_joules(300.0), 3, Time::from_minutes(15.0));
/// assert!((taken.without_cooling.joules() - 900.0).abs() < 1e-9);
/// assert!((taken.average_watts - 1.0 / 3.0).abs() < 1e-12);
/// ```
#[must_use]
pub fn repeated(one: Energy, discharges: u32, every: Time) -> Repeated {
    Repeated {
        without_cooling: one * f64::from(discharges),
        average_watts: one.joules() / every.seconds(),
    }
}

/// Energy the tool's resistor takes from the object, absorption included.
///
/// - `charged` the object as it stands; `tool` the resistor and its time
/// - returns `[J]`; exact
///
/// E = ∫ v²/R dt, term by term of the exponentials in v
///
/// # Source
/// Derived.
///
/// # Errors
/// When a quantity is out of its range.
///
/// ```
/// use physics::discharge::{Tool, resistor_energy};
/// use physics::transient::TestObject;
/// use quantity::{Capacitance, Resistance, Time, Voltage};
/// let charged = TestObject {
///     capacitance: Capacitance::from_microfarads(0.1),
///     insulation: None,
///     start: Voltage::from_kilovolts(10.0),
///     branches: vec![],
///     surface: None,
///     onset: None,
/// };
/// let tool =
///     Tool { resistance: Resistance::from_kilohms(10.0), time: Time::from_seconds(1.0) };
/// // Derived: C·V²/2, all of it.
/// let energy = resistor_energy(&charged, &tool).expect("sound");
/// assert!((energy.joules() - 5.0).abs() < 1e-9);
/// ```
pub fn resistor_energy(charged: &TestObject, tool: &Tool) -> Result<Energy, TransientError> {
    charged.validate()?;
    tool.validate()?;
    Ok(Energy::from_joules(Bleeding::of(charged, tool.resistance).joules(tool.time.seconds())))
}

/// An object with a resistor across its terminals: its voltages are modes that die.
struct Bleeding {
    siemens: f64,
    modes: Modes,
    amplitudes: Vec<f64>,
}

impl Bleeding {
    fn of(charged: &TestObject, resistor: Resistance) -> Self {
        let (network, state) = Network::of(charged);
        Self::from(&network, &state, resistor)
    }

    fn from(network: &Network, state: &State, resistor: Resistance) -> Self {
        let siemens = 1.0 / resistor.ohms();
        let modes = Modes::of(network, siemens);
        let amplitudes = modes.amplitudes(network, state);
        Self { siemens, modes, amplitudes }
    }

    fn volts(&self) -> Exponentials {
        let terms = self.modes.iter().zip(&self.amplitudes);
        Exponentials::new(terms.map(|(mode, amplitude)| (mode.rate, *amplitude)))
    }

    fn state(&self, at: f64) -> State {
        let mut state = State { node: 0.0, groups: Vec::new() };
        for (mode, amplitude) in self.modes.iter().zip(&self.amplitudes) {
            let volts = amplitude * (-mode.rate * at).exp();
            state.node += volts;
            state.groups.resize(mode.gains.len(), 0.0);
            for (group, gain) in state.groups.iter_mut().zip(&mode.gains) {
                *group += gain * volts;
            }
        }
        state
    }

    fn joules(&self, until: f64) -> f64 {
        let mut joules = 0.0;
        for (one, a) in self.modes.iter().zip(&self.amplitudes) {
            for (other, b) in self.modes.iter().zip(&self.amplitudes) {
                let rate = one.rate + other.rate;
                joules -= self.siemens * a * b * (-rate * until).exp_m1() / rate;
            }
        }
        joules
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::transient::{Branch, Discharge, simulate};

    fn three_branches(volts: [f64; 3]) -> TestObject {
        let branch = |(megohms, volts): (f64, f64)| Branch {
            resistance: Resistance::from_megohms(megohms),
            capacitance: Capacitance::from_nanofarads(50.0),
            start: Voltage::from_volts(volts),
        };
        TestObject {
            capacitance: Capacitance::from_microfarads(1.0),
            insulation: Some(Resistance::from_megohms(25_000.0)),
            start: Voltage::from_kilovolts(25.0),
            branches: [20.0, 200.0, 2000.0].into_iter().zip(volts).map(branch).collect(),
            surface: None,
            onset: None,
        }
    }

    fn check(what: &str, found: f64, expected: f64) {
        assert!((found / expected - 1.0).abs() < 1e-6, "{what}: {found}, not {expected}");
    }

    #[test]
    fn times_through_a_resistor() {
        // Derived by arithmetic; the last row bleeds 1 µF to 50 V in the 300 s of 8 CCR 2893.
        let table = [
            (50e3, 1e-6, 25e3, 50.0, 0.310_730_4),
            (10e3, 0.1e-6, 10e3, 60.0, 5.115_996e-3),
            (48.273_4e6, 1e-6, 25e3, 50.0, 300.0),
            // 1.5 km of 216 nF/km cable from 48 kV through 1 MΩ, to one per cent and to 50 V.
            (1e6, 0.324e-6, 48e3, 480.0, 1.492_075_1),
            (1e6, 0.324e-6, 48e3, 50.0, 2.224_886_4),
        ];
        for (ohms, farads, from, to, seconds) in table {
            let found = time_to(
                Resistance::from_ohms(ohms),
                Capacitance::from_farads(farads),
                Voltage::from_volts(from),
                Voltage::from_volts(to),
            );
            check("s", found.seconds(), seconds);
        }
        let (low, high) = (Voltage::from_volts(40.0), Voltage::from_volts(50.0));
        let ohm = Resistance::from_ohms(1.0);
        assert_eq!(time_to(ohm, Capacitance::from_farads(1.0), low, high), Time::ZERO);
    }

    const SECOND: Time = Time::from_seconds(1.0);

    fn tool(kilohms: f64, seconds: f64) -> Tool {
        let resistance = Resistance::from_kilohms(kilohms);
        Tool { resistance, time: Time::from_seconds(seconds) }
    }

    #[test]
    fn the_resistor_takes_more_than_the_terminal_capacitance_holds() {
        // Derived: matrix exponential by a second program, 25 kV through 50 kΩ.
        let charged = three_branches([25e3, 25e3, 24_937.7]);
        for (seconds, joules) in [(1.0, 313.367_477), (10.0, 313.383_490)] {
            let energy = resistor_energy(&charged, &tool(50.0, seconds)).expect("sound");
            check("J", energy.joules(), joules);
        }
    }

    #[test]
    fn absorption_holds_the_last_volts_up() {
        // Derived: matrix exponential by a second program: 226.063570 V after 0.25 s, 31.781204 V
        // after 1 s, 4.895151 V after 5 s. Without absorption it is 50 V after 0.31 s.
        let charged = three_branches([25e3, 25e3, 24_937.7]);
        let time = |volts| {
            let to = Voltage::from_volts(volts);
            time_below(&charged, Resistance::from_kilohms(50.0), to).expect("sound").seconds()
        };
        for (volts, seconds) in [(226.063_570, 0.25), (31.781_204, 1.0), (4.895_151, 5.0)] {
            check("s", time(volts), seconds);
        }
        assert!(time(50.0) > 1.2 * 0.310_730, "{}", time(50.0));
        assert!(time(25e3).abs() < 1e-300, "it does not stand above where it starts");
        let backwards = time_below(&charged, Resistance::from_kilohms(50.0), Voltage::ZERO);
        assert!(matches!(backwards, Err(TransientError::NotPositive { .. })));
    }

    #[test]
    fn a_resistor_too_large_lets_absorption_lift_it_again() {
        // Derived: samples of the exact solution, 1 ms apart. A slow branch of 1 MΩ holds 10 kV
        // while the terminals begin at 100 V: they climb, and come down later. The last time
        // counts.
        let branch = |megohms: f64, nanofarads: f64, volts: f64| Branch {
            resistance: Resistance::from_megohms(megohms),
            capacitance: Capacitance::from_nanofarads(nanofarads),
            start: Voltage::from_volts(volts),
        };
        let charged = TestObject {
            capacitance: Capacitance::from_nanofarads(10.0),
            start: Voltage::from_volts(100.0),
            branches: vec![branch(1.0, 100.0, 10e3), branch(0.1, 10.0, 0.0)],
            ..three_branches([0.0; 3])
        };
        let resistor = Resistance::from_megohms(1.0);
        let found = time_below(&charged, resistor, Voltage::from_volts(1000.0)).expect("sound");
        let down =
            Discharge { resistor: Some(resistor), bleed: Some(SECOND), ..Default::default() };
        let times: Vec<Time> = (0..1000).map(|k| Time::from_seconds(1e-3 * f64::from(k))).collect();
        let samples = simulate(&charged, &Supply::default(), &[], Some(&down), &times);
        let samples = samples.expect("sound");
        let above = samples.iter().rposition(|sample| sample.voltage.volts() > 1000.0);
        let last = times[above.expect("it climbs")];
        assert!(samples[0].voltage.volts() < 1000.0);
        assert!(last < found && found < last + Time::from_seconds(1e-3), "{found} after {last}");
    }

    #[test]
    fn three_volts_after_the_tool_become_more_than_a_kilovolt() {
        // Derived: matrix exponential by a second program; the peak at 522.01 s from laying the
        // tool on, which was 10 s earlier.
        let charged = three_branches([25e3, 25e3, 24_937.7]);
        let back = rebound(&charged, Some(&tool(50.0, 10.0)), Time::ZERO).expect("sound");
        check("V", back.peak.volts(), 1360.4477);
        assert!((back.at.seconds() - 512.01).abs() < 0.005, "{}", back.at);
    }

    /// The level was reached at 27.2 s with these voltages on the branches, and held to 600 s.
    fn after_ten_minutes() -> TestObject {
        let object = three_branches([24_098.814_61, 16_507.634_52, 3_141.515_25]);
        let held = Held {
            voltage: Voltage::from_kilovolts(25.0),
            over: Time::from_seconds(600.0 - 27.201_137_066),
        };
        held.charge(&object).expect("sound")
    }

    #[test]
    fn rebound_after_grounding_a_charge_of_ten_minutes() {
        // Derived: matrix exponential by a second program.
        let charged = after_ten_minutes();
        for (short, volts) in [(60.0, 586.1626), (600.0, 2.6355)] {
            let back = rebound(&charged, None, Time::from_seconds(short)).expect("sound");
            // The second is printed with five digits, the time without decimals.
            assert!((back.peak.volts() / volts - 1.0).abs() < 4e-6);
            assert!((back.at.seconds() - 547.0).abs() < 1.0, "{}", back.at);
        }
        let long = rebound(&charged, None, Time::from_seconds(2400.0)).expect("sound");
        assert!(long.peak.volts() < 5e-5);
    }

    #[test]
    fn one_branch_shorted_for_four_times() {
        // Derived exactly: 1 µF, a branch of 2 GΩ and 50 nF at 25 kV; the voltage it comes to
        // when nothing conducts.
        let object = three_branches([25e3; 3]);
        let charged = TestObject { insulation: None, branches: vec![object.branches[2]], ..object };
        let table =
            [(10.0, 1077.1874), (60.0, 653.34719), (240.0, 107.99756), (600.0, 2.950_895_4)];
        for (short, volts) in table {
            let back = rebound(&charged, None, Time::from_seconds(short)).expect("sound");
            assert!((back.peak.volts() / volts - 1.0).abs() < 5e-8);
            assert!(back.at.seconds() == f64::INFINITY);
        }
    }

    #[test]
    fn a_hold_charges_more_than_a_rise_in_steps() {
        // Derived: absorption follows the voltage, so no branch stands higher after the course
        // itself than after a hold of the same time, and all that follows is less.
        let object = TestObject { start: Voltage::ZERO, ..three_branches([0.0; 3]) };
        let volts = Voltage::from_kilovolts;
        let legs = [5.0, 10.0, 15.0, 20.0, 25.0].map(|level| Leg {
            to: volts(level),
            rise: None,
            dwell: Time::from_minutes(3.0),
        });
        let over = Time::from_minutes(15.0);
        let run = Run::new(&object, &Supply::default(), &legs, None, over).expect("sound");
        let stepped = run.object_at(over);
        let held = Held { voltage: volts(25.0), over }.charge(&object).expect("sound");
        for (least, most) in stepped.branches.iter().zip(&held.branches) {
            assert!(least.start <= most.start * (1.0 + 1e-12), "{} {}", least.start, most.start);
        }
        let limit = Voltage::from_volts(50.0);
        let ground = |charged| {
            ground_time(charged, None, limit, Time::from_hours(168.0)).expect("sound").time
        };
        assert!(ground(&stepped) < ground(&held));
    }

    #[test]
    fn the_ground_time_is_just_long_enough() {
        let object = three_branches([0.0; 3]);
        let held = Held { voltage: Voltage::from_kilovolts(25.0), over: Time::from_minutes(15.0) };
        let charged = held.charge(&object).expect("sound");
        let limit = Voltage::from_volts(50.0);
        let week = Time::from_hours(168.0);
        let ground = ground_time(&charged, None, limit, week).expect("sound");
        assert!(!ground.reached_bound);
        let peak = |short| rebound(&charged, None, short).expect("sound").peak;
        let over = peak(ground.time) / limit;
        assert!((0.999_999..=1.0 + 1e-9).contains(&over), "{over}");
        assert!(peak(ground.time * 0.999) > limit);
        // A bound that is too short is said to be so.
        let minute = Time::from_minutes(1.0);
        let cut = ground_time(&charged, None, limit, minute).expect("sound");
        assert_eq!(cut, GroundTime { time: minute, reached_bound: true });
    }

    #[test]
    fn twenty_branches_are_searched_alike() {
        // Time constants a third of a decade apart; held against the search's own definition, and
        // the peak against a fine grid of the exact solution.
        let branch = |k: i32| Branch {
            resistance: Resistance::from_ohms(2e8 * 10_f64.powf(f64::from(k) / 6.0)),
            capacitance: Capacitance::from_farads(2e-9 * 10_f64.powf(f64::from(k) / 6.0)),
            start: Voltage::ZERO,
        };
        let object =
            TestObject { branches: (0..20).map(branch).collect(), ..three_branches([0.0; 3]) };
        let held = Held { voltage: Voltage::from_kilovolts(30.0), over: Time::from_minutes(30.0) };
        let charged = held.charge(&object).expect("sound");
        let limit = Voltage::from_volts(50.0);
        let tool = tool(50.0, 5.0);
        let week = Time::from_hours(168.0);
        let ground = ground_time(&charged, Some(&tool), limit, week).expect("sound");
        let back = rebound(&charged, Some(&tool), ground.time).expect("sound");
        assert!((back.peak / limit - 1.0).abs() < 1e-6);
        let down = Discharge {
            resistor: Some(tool.resistance),
            bleed: Some(tool.time),
            short: Some(ground.time),
            open: Some(week),
        };
        let opened = tool.time + ground.time;
        let times: Vec<Time> =
            (0..2000).map(|k| opened + back.at * (1e-3 * f64::from(k))).collect();
        let samples = simulate(&charged, &Supply::default(), &[], Some(&down), &times);
        let highest =
            samples.expect("sound").iter().map(|one| one.voltage.volts()).fold(0.0, f64::max);
        assert!((highest / back.peak.volts() - 1.0).abs() < 1e-9);
    }
}
