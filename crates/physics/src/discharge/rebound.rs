//! The open object after a dead short: what comes back, and how long to short it.

use quantity::{Time, Voltage};

use super::{Bleeding, Tool};
use crate::exponentials::Exponentials;
use crate::root;
use crate::transient::{
    Input, Modes, Network, State, TestObject, TransientError, not_negative, positive,
};

/// What an open object comes back to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rebound {
    /// The highest voltage at its terminals.
    pub peak: Voltage,
    /// When, from opening; without end where nothing conducts and it rises for ever.
    pub at: Time,
}

/// How long to ground.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GroundTime {
    /// The shortest dead short that keeps the later rebound at or below the limit.
    pub time: Time,
    /// The search ended at its bound and the rebound is still above the limit.
    pub reached_bound: bool,
}

/// The highest voltage the object comes back to when it is left open after a tool and a dead short.
///
/// - `charged` the object as it stands; `tool` the resistor, if one is used
/// - `short` how long it is dead-shorted `[s]`; zero for not at all
/// - returns the peak `[V]` and its time from opening `[s]`; exact but for rounding
///
/// The largest of v = Σ a_k·e^(−λ_k·t) at the zeros of its slope, every one of which is found
///
/// # Source
/// Derived: the open object's modes from what the short left on the branches.
///
/// # Errors
/// When a quantity is out of its range.
///
/// ```
/// use physics::discharge::rebound;
/// use physics::transient::{Branch, TestObject};
/// use quantity::{Capacitance, Resistance, Time, Voltage};
/// let volts = Voltage::from_kilovolts(25.0);
/// let branch = Branch {
///     resistance: Resistance::from_megohms(2000.0),
///     capacitance: Capacitance::from_nanofarads(50.0),
///     start: volts,
/// };
/// let charged = TestObject {
///     capacitance: Capacitance::from_microfarads(1.0),
///     insulation: None,
///     start: volts,
///     branches: vec![branch],
///     surface: None,
///     onset: None,
/// };
/// // Derived: V·e^(−60/100)·50/1050.
/// let back = rebound(&charged, None, Time::from_seconds(60.0)).expect("sound");
/// assert!((back.peak.volts() - 653.34719).abs() < 1e-4);
/// ```
pub fn rebound(
    charged: &TestObject,
    tool: Option<&Tool>,
    short: Time,
) -> Result<Rebound, TransientError> {
    not_negative(Input::Short, short.seconds())?;
    Ok(Left::after(charged, tool)?.rebound(short.seconds()))
}

/// The shortest dead short after which the open object stays at or below `limit`.
///
/// - `charged`, `tool` as for [`rebound`]; every voltage of `charged` of one sign
/// - `limit` the voltage not to be exceeded later `[V]`; `bound` the longest short looked at `[s]`
/// - returns the time, to about 1e-8 of it and on the longer side, and whether the search ended
///   at its bound
///
/// # Source
/// Derived: root of [`rebound`], which falls as the short lasts longer.
///
/// # Errors
/// When a quantity is out of its range.
///
/// ```
/// use physics::discharge::ground_time;
/// use physics::transient::{Branch, TestObject};
/// use quantity::{Capacitance, Resistance, Time, Voltage};
/// let volts = Voltage::from_kilovolts(25.0);
/// let branch = Branch {
///     resistance: Resistance::from_megohms(2000.0),
///     capacitance: Capacitance::from_nanofarads(50.0),
///     start: volts,
/// };
/// let charged = TestObject {
///     capacitance: Capacitance::from_microfarads(1.0),
///     insulation: None,
///     start: volts,
///     branches: vec![branch],
///     surface: None,
///     onset: None,
/// };
/// let limit = Voltage::from_volts(50.0);
/// let ground = ground_time(&charged, None, limit, Time::from_hours(1.0)).expect("sound");
/// // Derived: 100 s·ln(25 kV·(50/1050)/50 V).
/// assert!((ground.time.seconds() - 100.0 * (25e3_f64 / 1050.0).ln()).abs() < 1e-4);
/// assert!(!ground.reached_bound);
/// ```
pub fn ground_time(
    charged: &TestObject,
    tool: Option<&Tool>,
    limit: Voltage,
    bound: Time,
) -> Result<GroundTime, TransientError> {
    positive(Input::ReboundLimit, limit.volts())?;
    positive(Input::GroundBound, bound.seconds())?;
    let left = Left::after(charged, tool)?;
    // In ln(1 + t) a rebound that falls as a power of time is nearly a straight line.
    let excess = |x: f64| (left.rebound(x.exp_m1()).peak / limit).max(f64::MIN_POSITIVE).ln();
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

/// An object after the tool, ready to be asked about shorts of any length.
struct Left {
    network: Network,
    /// Of the open object.
    modes: Modes,
    state: State,
}

impl Left {
    fn after(charged: &TestObject, tool: Option<&Tool>) -> Result<Self, TransientError> {
        charged.validate()?;
        tool.map_or(Ok(()), Tool::validate)?;
        let (network, state) = Network::of(charged);
        let state = match tool {
            Some(tool) => {
                Bleeding::from(&network, &state, tool.resistance).state(tool.time.seconds())
            }
            None => state,
        };
        let modes = Modes::of(&network, 0.0);
        Ok(Self { network, modes, state })
    }

    /// What comes back after a dead short of so many seconds.
    fn rebound(&self, short: f64) -> Rebound {
        let groups = self.network.groups.iter().zip(&self.state.groups);
        let opened = State {
            node: if short > 0.0 { 0.0 } else { self.state.node },
            groups: groups.map(|(group, volts)| volts * (-group.rate * short).exp()).collect(),
        };
        let amplitudes = self.modes.amplitudes(&self.network, &opened);
        let terms = self.modes.iter().map(|mode| mode.rate).zip(amplitudes);
        let volts = Exponentials::new(terms);
        let turns = volts.slope().zeros().into_iter().map(|t| (t, volts.at(t)));
        let ends = [(0.0, opened.node), (f64::INFINITY, volts.lasting())];
        let higher = |a: (f64, f64), b: (f64, f64)| if b.1 > a.1 { b } else { a };
        let (at, peak) = turns.fold(higher(ends[0], ends[1]), higher);
        Rebound { peak: Voltage::from_volts(peak), at: Time::from_seconds(at) }
    }
}
