//! One stretch, however it was solved.

use super::modes::{Network, State};
use super::nonlinear::{Stepped, Unsteppable};
use super::stretch::{Line, Reading, Regime, Stretch};
use crate::conduction::Excess;
use crate::root;

/// Looks for an event where the voltage is held and conduction follows it.
const LOOKS: u32 = 256;

/// A solved stretch. Times count from its own start.
#[derive(Clone, Debug)]
pub(crate) enum Solved {
    /// As a closed form: conduction follows Ohm's law.
    Exact(Stretch),
    /// As a closed form too: the voltage is held, and what is conducted beyond Ohm's law with it.
    Held(Stretch, Excess),
    /// By steps.
    Stepped(Stepped),
}

impl Solved {
    /// Solves a stretch on which conduction outgrows Ohm's law, for `span` seconds or to where
    /// `leaves` of a time and what is read goes above zero; that time is given, if there is one.
    pub(crate) fn bent(
        network: &Network,
        excess: Excess,
        state: &State,
        regime: Regime,
        span: f64,
        leaves: impl Fn(f64, &Reading) -> f64,
    ) -> Result<(Self, Option<f64>), Unsteppable> {
        if let Regime::Held { .. } = regime {
            let solved = Self::Held(Stretch::new(network, state, regime), excess);
            let left = root::first_above(|t| leaves(t, &solved.read(t)), looks(span));
            return Ok((solved, left));
        }
        let (stepped, left) = Stepped::new(network, excess, state, &regime, span, leaves)?;
        Ok((Self::Stepped(stepped), left))
    }

    /// Voltage and currents.
    pub(crate) fn read(&self, t: f64) -> Reading {
        match self {
            Self::Exact(stretch) => stretch.read(t),
            Self::Held(stretch, excess) => {
                let read = stretch.read(t);
                let beyond = excess.amperes(read.volts);
                Reading {
                    volts: read.volts,
                    amperes: read.amperes + beyond,
                    metered: read.metered + beyond,
                    supplied: read.supplied + beyond,
                }
            }
            Self::Stepped(stepped) => stepped.read(t),
        }
    }

    /// The command, where the supply follows it and conduction follows Ohm's law.
    pub(super) fn follows(&self) -> Option<Line> {
        match self {
            Self::Exact(stretch) => stretch.follows(),
            Self::Held(..) | Self::Stepped(_) => None,
        }
    }

    /// All voltages.
    pub(crate) fn state(&self, t: f64) -> State {
        match self {
            Self::Exact(stretch) | Self::Held(stretch, _) => stretch.state(t),
            Self::Stepped(stepped) => stepped.state(t),
        }
    }
}

/// When a stretch on which conduction follows Ohm's law comes to an onset, of either polarity.
pub(crate) fn onset_crossed(stretch: &Stretch, onset: f64, span: f64) -> Option<f64> {
    // Beyond rounding, so that it does not end where the one before began.
    let beyond = |t: f64| stretch.volts(t).abs() - onset * (1.0 + 1e-12);
    let until = span.min(stretch.settled());
    // Between two turns of the voltage its size falls, rises, or falls and rises: the end tells.
    let turns = stretch.volts_slope(0.0).zeros_before(until);
    root::first_above(beyond, turns.into_iter().chain([until]))
}

/// Times to look at: close together at first, then evenly; falling and growing currents may cross.
fn looks(span: f64) -> impl Iterator<Item = f64> {
    let early = (0..LOOKS).map(move |k| span * 1e-9 * 1.08_f64.powf(f64::from(k)));
    let first = span / f64::from(LOOKS);
    let even = (1..=LOOKS).map(move |k| first * f64::from(k));
    early.take_while(move |t| *t < first).chain(even)
}
