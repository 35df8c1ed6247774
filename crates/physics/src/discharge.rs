//! The way down: time to a voltage, what a resistor takes, rebound, how long to ground.
//!
//! An onset of growing conduction is left out: above it the object loses charge faster, so that no
//! time, no joules and no rebound here is too small. A whole run of [`crate::transient`] has it.

use std::sync::Arc;

use quantity::{Capacitance, Current, Energy, Resistance, Time, Voltage};

use crate::root;
use crate::transient::{
    Input, Line, Modes, Network, Regime, State, Stretch, TestObject, TransientError, not_negative,
    positive,
};

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

/// A discharge resistor laid on for a time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tool {
    /// Its resistance.
    pub resistance: Resistance,
    /// How long it is on.
    pub time: Time,
}

/// How long to ground.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GroundTime {
    /// The shortest dead short that keeps the later rebound at or below the limit.
    pub time: Time,
    /// The search ended at its bound and the rebound is still above the limit.
    pub reached_bound: bool,
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

/// Energy the tool's resistor takes from the object, absorption included.
///
/// - `object` as it stood before the hold; `held` the hold; `tool` the resistor and its time
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
/// use physics::discharge::{Held, Tool, resistor_energy};
/// use physics::transient::TestObject;
/// use quantity::{Capacitance, Resistance, Time, Voltage};
/// let object = TestObject {
///     capacitance: Capacitance::from_microfarads(0.1),
///     insulation: None,
///     start: Voltage::ZERO,
///     branches: vec![],
///     surface: None,
///     onset: None,
/// };
/// let held = Held { voltage: Voltage::from_kilovolts(10.0), over: Time::from_seconds(60.0) };
/// let tool = Tool { resistance: Resistance::from_kilohms(10.0), time: Time::from_seconds(1.0) };
/// // Derived: all of C·V²/2 = 5 J.
/// let energy = resistor_energy(&object, &held, &tool).expect("a sound case");
/// assert!((energy.joules() - 5.0).abs() < 1e-9);
/// ```
pub fn resistor_energy(
    object: &TestObject,
    held: &Held,
    tool: &Tool,
) -> Result<Energy, TransientError> {
    let (network, charged) = charge(object, held, Some(tool))?;
    let stretch = bleed(&network, &charged, tool);
    let siemens = 1.0 / tool.resistance.ohms();
    Ok(Energy::from_joules(stretch.joules_in(siemens, tool.time.seconds())))
}

/// The highest voltage the object comes back to when it is left open after a hold, a tool and a
/// dead short.
///
/// - `object` as it stood before the hold; `held` the hold; `tool` the resistor, if one is used
/// - `short` how long it is dead-shorted `[s]`; zero for not at all
/// - returns `[V]`; the modes are exact, the peak is sought to about 1e-9 of its value
///
/// # Source
/// Derived: the open object's modes from what the short left on the branches.
///
/// # Errors
/// When a quantity is out of its range.
///
/// ```
/// use physics::discharge::{Held, rebound_peak};
/// use physics::transient::{Branch, TestObject};
/// use quantity::{Capacitance, Resistance, Time, Voltage};
/// let branch = Branch {
///     resistance: Resistance::from_megohms(2000.0),
///     capacitance: Capacitance::from_nanofarads(50.0),
///     start: Voltage::from_kilovolts(25.0),
/// };
/// let object = TestObject {
///     capacitance: Capacitance::from_microfarads(1.0),
///     insulation: None,
///     start: Voltage::ZERO,
///     branches: vec![branch],
///     surface: None,
///     onset: None,
/// };
/// let held = Held { voltage: Voltage::from_kilovolts(25.0), over: Time::ZERO };
/// // Derived: V·e^(−60/100)·50/1050.
/// let peak = rebound_peak(&object, &held, None, Time::from_seconds(60.0)).expect("sound");
/// assert!((peak.volts() - 653.34719).abs() < 1e-4);
/// ```
pub fn rebound_peak(
    object: &TestObject,
    held: &Held,
    tool: Option<&Tool>,
    short: Time,
) -> Result<Voltage, TransientError> {
    not_negative(Input::Short, short.seconds())?;
    let rebound = Rebound::after(object, held, tool)?;
    Ok(Voltage::from_volts(rebound.peak(short.seconds())))
}

/// The shortest dead short after which the open object stays at or below `limit`.
///
/// - `object`, `held`, `tool` as for [`rebound_peak`]
/// - `limit` the voltage not to be exceeded later `[V]`; `bound` the longest short looked at `[s]`
/// - returns the time, to about 1e-8 of it and on the longer side, and whether the search ended
///   at its bound
///
/// # Source
/// Derived: root of [`rebound_peak`], which falls as the short lasts longer.
///
/// # Errors
/// When a quantity is out of its range.
///
/// ```
/// use physics::discharge::{Held, ground_time};
/// use physics::transient::{Branch, TestObject};
/// use quantity::{Capacitance, Resistance, Time, Voltage};
/// let branch = Branch {
///     resistance: Resistance::from_megohms(2000.0),
///     capacitance: Capacitance::from_nanofarads(50.0),
///     start: Voltage::from_kilovolts(25.0),
/// };
/// let object = TestObject {
///     capacitance: Capacitance::from_microfarads(1.0),
///     insulation: None,
///     start: Voltage::ZERO,
///     branches: vec![branch],
///     surface: None,
///     onset: None,
/// };
/// let held = Held { voltage: Voltage::from_kilovolts(25.0), over: Time::ZERO };
/// let limit = Voltage::from_volts(50.0);
/// let ground = ground_time(&object, &held, None, limit, Time::from_hours(1.0)).expect("sound");
/// // Derived: 100 s·ln(25 kV·(50/1050)/50 V).
/// assert!((ground.time.seconds() - 100.0 * (25e3_f64 / 1050.0).ln()).abs() < 1e-4);
/// assert!(!ground.reached_bound);
/// ```
pub fn ground_time(
    object: &TestObject,
    held: &Held,
    tool: Option<&Tool>,
    limit: Voltage,
    bound: Time,
) -> Result<GroundTime, TransientError> {
    positive(Input::ReboundLimit, limit.volts())?;
    positive(Input::GroundBound, bound.seconds())?;
    let rebound = Rebound::after(object, held, tool)?;
    // In ln(1 + t) a rebound that falls as a power of time is nearly a straight line.
    let excess = |x: f64| (rebound.peak(x.exp_m1()) / limit.volts()).max(f64::MIN_POSITIVE).ln();
    let longest = bound.seconds().ln_1p();
    if excess(0.0) <= 0.0 {
        return Ok(GroundTime { time: Time::ZERO, reached_bound: false });
    }
    if excess(longest) > 0.0 {
        return Ok(GroundTime { time: bound, reached_bound: true });
    }
    let x = root::between(excess, 0.0, longest, 1e-10);
    Ok(GroundTime { time: Time::from_seconds(x.exp_m1()), reached_bound: false })
}

/// The object at the end of its hold.
fn charge(
    object: &TestObject,
    held: &Held,
    tool: Option<&Tool>,
) -> Result<(Network, State), TransientError> {
    object.validate()?;
    not_negative(Input::HeldVoltage, held.voltage.volts())?;
    not_negative(Input::HeldTime, held.over.seconds())?;
    if let Some(tool) = tool {
        positive(Input::Resistor, tool.resistance.ohms())?;
        not_negative(Input::Bleed, tool.time.seconds())?;
    }
    let (network, state) = Network::of(object);
    let level = Line { start: held.voltage.volts(), slope: 0.0 };
    let regime = Regime::Held { command: level, across: 0.0 };
    let charged = Stretch::new(&network, &state, regime).state(held.over.seconds());
    Ok((network, charged))
}

fn bleed(network: &Network, charged: &State, tool: &Tool) -> Stretch {
    let siemens = 1.0 / tool.resistance.ohms();
    let modes = Arc::new(Modes::of(network, siemens));
    Stretch::new(network, charged, Regime::Fed { modes, amperes: 0.0, across: siemens })
}

/// An object after its hold and the tool, ready to be asked about shorts of any length.
struct Rebound {
    network: Network,
    modes: Modes,
    bled: State,
    /// Times after opening, rising, at which a peak is looked for.
    grid: Vec<f64>,
    /// What is left of each mode at each of them.
    left: Vec<Vec<f64>>,
}

impl Rebound {
    fn after(
        object: &TestObject,
        held: &Held,
        tool: Option<&Tool>,
    ) -> Result<Self, TransientError> {
        let (network, charged) = charge(object, held, tool)?;
        let bled = match tool {
            Some(tool) => bleed(&network, &charged, tool).state(tool.time.seconds()),
            None => charged,
        };
        let modes = Modes::of(&network, 0.0);
        let rates: Vec<f64> = modes.iter().map(|mode| mode.rate).collect();
        let mut grid = vec![0.0];
        if let [_, second, ..] = rates[..] {
            // By the end all but the slowest mode have died, and that one alone only falls.
            let fastest = rates[rates.len() - 1];
            let mut t = 1e-2 / fastest;
            while t < 40.0 / second {
                grid.push(t);
                t *= 1.3;
            }
            grid.push(t);
        }
        let left =
            grid.iter().map(|t| rates.iter().map(|rate| (-rate * t).exp()).collect()).collect();
        Ok(Self { network, modes, bled, grid, left })
    }

    /// Highest voltage at the terminals after a dead short of so many seconds.
    fn peak(&self, short: f64) -> f64 {
        let groups = self.network.groups.iter().zip(&self.bled.groups);
        let opened = State {
            node: if short > 0.0 { 0.0 } else { self.bled.node },
            groups: groups.map(|(group, volts)| volts * (-group.rate * short).exp()).collect(),
        };
        let amplitudes = self.modes.amplitudes(&self.network, &opened);
        let on_grid = |left: &Vec<f64>| amplitudes.iter().zip(left).map(|(a, l)| a * l).sum();
        let (best, highest) = self.left.iter().map(on_grid).enumerate().fold(
            (0, f64::NEG_INFINITY),
            |best, here: (usize, f64)| {
                if here.1 > best.1 { here } else { best }
            },
        );
        let volts = |t: f64| {
            let modes = self.modes.iter().zip(&amplitudes);
            modes.map(|(mode, amplitude)| amplitude * (-mode.rate * t).exp()).sum::<f64>()
        };
        let low = self.grid[best.saturating_sub(1)];
        let high = self.grid[(best + 1).min(self.grid.len() - 1)];
        highest.max(volts(root::peak(volts, low, high)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::transient::Branch;

    fn three_branches(volts: [f64; 3]) -> TestObject {
        let branch = |(megohms, volts): (f64, f64)| Branch {
            resistance: Resistance::from_megohms(megohms),
            capacitance: Capacitance::from_nanofarads(50.0),
            start: Voltage::from_volts(volts),
        };
        TestObject {
            capacitance: Capacitance::from_microfarads(1.0),
            insulation: Some(Resistance::from_megohms(25_000.0)),
            start: Voltage::ZERO,
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

    #[test]
    fn the_resistor_takes_more_than_the_terminal_capacitance_holds() {
        // Derived: matrix exponential by a second program, 25 kV through 50 kΩ.
        let object = three_branches([25e3, 25e3, 24_937.7]);
        let held = Held { voltage: Voltage::from_kilovolts(25.0), over: Time::ZERO };
        for (seconds, joules) in [(1.0, 313.367_477), (10.0, 313.383_490)] {
            let tool = Tool {
                resistance: Resistance::from_kilohms(50.0),
                time: Time::from_seconds(seconds),
            };
            let energy = resistor_energy(&object, &held, &tool).expect("sound");
            check("J", energy.joules(), joules);
        }
    }

    #[test]
    fn three_volts_after_the_tool_become_more_than_a_kilovolt() {
        // Derived: matrix exponential by a second program.
        let object = three_branches([25e3, 25e3, 24_937.7]);
        let held = Held { voltage: Voltage::from_kilovolts(25.0), over: Time::ZERO };
        let tool =
            Tool { resistance: Resistance::from_kilohms(50.0), time: Time::from_seconds(10.0) };
        let peak = rebound_peak(&object, &held, Some(&tool), Time::ZERO).expect("sound");
        check("V", peak.volts(), 1360.4477);
    }

    #[test]
    fn rebound_after_grounding_a_charge_of_ten_minutes() {
        // Derived: matrix exponential by a second program; the level was reached at 27.2 s with
        // these voltages on the branches, and held to 600 s.
        let object = three_branches([24_098.814_61, 16_507.634_52, 3_141.515_25]);
        let held = Held {
            voltage: Voltage::from_kilovolts(25.0),
            over: Time::from_seconds(600.0 - 27.201_137_066),
        };
        for (short, volts) in [(60.0, 586.1626), (600.0, 2.6355)] {
            let peak = rebound_peak(&object, &held, None, Time::from_seconds(short));
            // The second is printed with five digits.
            assert!((peak.expect("sound").volts() / volts - 1.0).abs() < 4e-6);
        }
        let long = rebound_peak(&object, &held, None, Time::from_seconds(2400.0));
        assert!(long.expect("sound").volts() < 5e-5);
    }

    #[test]
    fn the_ground_time_is_just_long_enough() {
        let object = three_branches([0.0; 3]);
        let held = Held { voltage: Voltage::from_kilovolts(25.0), over: Time::from_minutes(15.0) };
        let limit = Voltage::from_volts(50.0);
        let week = Time::from_hours(168.0);
        let ground = ground_time(&object, &held, None, limit, week).expect("sound");
        assert!(!ground.reached_bound);
        let peak = |short| rebound_peak(&object, &held, None, short).expect("sound");
        let over = peak(ground.time) / limit;
        assert!((0.999_999..=1.0 + 1e-9).contains(&over), "{over}");
        assert!(peak(ground.time * 0.999) > limit);
        // A bound that is too short is said to be so.
        let minute = Time::from_minutes(1.0);
        let cut = ground_time(&object, &held, None, limit, minute).expect("sound");
        assert_eq!(cut, GroundTime { time: minute, reached_bound: true });
    }

    #[test]
    fn twenty_branches_are_searched_alike() {
        // Time constants a third of a decade apart; held against the search's own definition.
        let branch = |k: i32| Branch {
            resistance: Resistance::from_ohms(2e8 * 10_f64.powf(f64::from(k) / 6.0)),
            capacitance: Capacitance::from_farads(2e-9 * 10_f64.powf(f64::from(k) / 6.0)),
            start: Voltage::ZERO,
        };
        let object =
            TestObject { branches: (0..20).map(branch).collect(), ..three_branches([0.0; 3]) };
        let held = Held { voltage: Voltage::from_kilovolts(30.0), over: Time::from_minutes(30.0) };
        let limit = Voltage::from_volts(50.0);
        let tool =
            Tool { resistance: Resistance::from_kilohms(50.0), time: Time::from_seconds(5.0) };
        let week = Time::from_hours(168.0);
        let ground = ground_time(&object, &held, Some(&tool), limit, week).expect("sound");
        let peak = rebound_peak(&object, &held, Some(&tool), ground.time).expect("sound");
        assert!((peak / limit - 1.0).abs() < 1e-6);
    }
}
