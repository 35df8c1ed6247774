//! One stretch of time on which conduction outgrows Ohm's law: stepped by a stiff solver.
//!
//! The solver (backward differentiation of changing order) is told what the exact stretches are
//! made of too, but in differences that stay small: each branch by its voltage below the
//! terminals, and behind a resistance the terminals by their voltage below the command. So each
//! has a tolerance of its own, and the current is never the small difference of two voltages.
//! Between its steps the solver's own polynomial is kept, so that a run can be asked for any time.

use diffsol::{
    BdfState, NalgebraLU, NalgebraMat, OdeBuilder, OdeSolverMethod, OdeSolverState,
    OdeSolverStopReason,
};

use super::modes::{Group, Network, State};
use super::stretch::{Line, Reading, Regime};
use crate::conduction::Excess;
use crate::root;

/// What one step may be off, relatively. Whole runs are then off by less than 1e-7 of what they
/// tell: checked against exact stretches below, and against another solver in
/// `tests/nonlinear.rs`.
const TOLERANCE: f64 = 1e-10;

/// More steps than any stretch takes.
const MOST_STEPS: usize = 200_000;

/// The solver's polynomials are at most of degree five: six places keep each as it is.
const PLACES: usize = 6;

/// Where in a step it is kept: both ends, and close to them.
const NODES: [f64; PLACES] = [
    0.0,
    0.095_491_502_812_526_3,
    0.345_491_502_812_526_3,
    0.654_508_497_187_473_7,
    0.904_508_497_187_473_7,
    1.0,
];

/// Weights of the interpolation through [`NODES`].
const WEIGHTS: [f64; PLACES] = [0.5, -1.0, 1.0, -1.0, 1.0, -0.5];

/// The first step is this part of the fastest time constant: of first order, it is off by the
/// square of it.
const FIRST_STEP: f64 = 1e-8;

/// After so many of the slowest time constants nothing changes any more.
const SETTLED: f64 = 200.0;

/// Looks for an event within each step.
const LOOKS: u32 = 8;

/// What holds the terminals while the solver steps. What goes past the meter, by a guarded surface
/// or the path of the supply, is on this side: so the current through the meter is never a small
/// difference.
#[derive(Clone, Copy, Debug)]
enum Hold {
    /// So many amperes flow in, and what `past` siemens take away flows past.
    Fed { amperes: f64, past: f64 },
    /// A voltage behind so many siemens.
    Behind { siemens: f64, source: Line },
}

/// The circuit equations of one stretch.
#[derive(Clone, Debug)]
struct Circuit {
    hold: Hold,
    capacitance: f64,
    /// Of what goes through the meter.
    metered: f64,
    /// Of the guarded surface.
    guarded: f64,
    /// Of what lies beside the object.
    across: f64,
    excess: Excess,
    /// Siemens and rate of each group.
    groups: Vec<(f64, f64)>,
}

/// A stepped stretch. Times count from its own start.
#[derive(Clone, Debug)]
pub(crate) struct Stepped {
    regime: Regime,
    circuit: Circuit,
    /// At least one.
    pieces: Vec<Piece>,
}

/// One step: each unknown at [`NODES`] between its ends.
#[derive(Clone, Debug)]
struct Piece {
    from: f64,
    to: f64,
    unknowns: Vec<[f64; PLACES]>,
}

impl Circuit {
    fn of(network: &Network, excess: Excess, regime: &Regime) -> Self {
        let guarded = network.guarded;
        let (hold, across) = match *regime {
            Regime::Fed { amperes, across, .. } => {
                (Hold::Fed { amperes, past: across + guarded }, across)
            }
            Regime::Behind { series, across, command, .. } => {
                let siemens = series + across + guarded;
                (Hold::Behind { siemens, source: command.times(series / siemens) }, across)
            }
            Regime::Held { .. } | Regime::Shorted => unreachable!("its voltage is known"),
        };
        let group = |group: &Group| (group.capacitance * group.rate, group.rate);
        Self {
            hold,
            capacitance: network.capacitance,
            metered: network.metered,
            guarded,
            across,
            excess,
            groups: network.groups.iter().map(group).collect(),
        }
    }

    /// The unknowns of a state: the terminals, or how far they are below the source; then how far
    /// each group is below the terminals.
    fn unknowns(&self, state: &State) -> Vec<f64> {
        let first = match self.hold {
            Hold::Fed { .. } => state.node,
            Hold::Behind { source, .. } => source.start - state.node,
        };
        let below = state.groups.iter().map(|volts| state.node - volts);
        std::iter::once(first).chain(below).collect()
    }

    fn volts(&self, t: f64, first: f64) -> f64 {
        match self.hold {
            Hold::Fed { .. } => first,
            Hold::Behind { source, .. } => source.at(t) - first,
        }
    }

    fn reading(&self, t: f64, first: f64) -> Reading {
        let volts = self.volts(t, first);
        let metered = match self.hold {
            Hold::Fed { amperes, past } => amperes - past * volts,
            Hold::Behind { siemens, .. } => siemens * first,
        };
        let amperes = metered + self.guarded * volts;
        let supplied = match self.hold {
            Hold::Fed { amperes, .. } => amperes,
            Hold::Behind { .. } => amperes + self.across * volts,
        };
        Reading { volts, amperes, metered, supplied }
    }

    /// How fast each unknown changes.
    fn rates(&self, t: f64, unknowns: &[f64], rates: &mut [f64]) {
        let read = self.reading(t, unknowns[0]);
        let gone = self.metered * read.volts + self.excess.amperes(read.volts);
        let slope = match self.hold {
            Hold::Fed { .. } => 0.0,
            Hold::Behind { source, .. } => source.slope,
        };
        self.spread(read.metered - gone, slope, unknowns, rates);
    }

    /// The same for a small change of the unknowns.
    fn change(&self, t: f64, unknowns: &[f64], by: &[f64], rates: &mut [f64]) {
        let own = self.metered + self.excess.slope(self.volts(t, unknowns[0]));
        let stays = match self.hold {
            Hold::Fed { past, .. } => -(past + own) * by[0],
            Hold::Behind { siemens, .. } => (siemens + own) * by[0],
        };
        self.spread(stays, 0.0, by, rates);
    }

    /// What `stays` of the current at the terminals does to them and to the groups.
    fn spread(&self, stays: f64, slope: f64, unknowns: &[f64], rates: &mut [f64]) {
        let groups = self.groups.iter().zip(&unknowns[1..]);
        let taken: f64 = groups.map(|((siemens, _), below)| siemens * below).sum();
        let rise = (stays - taken) / self.capacitance;
        rates[0] = match self.hold {
            Hold::Fed { .. } => rise,
            Hold::Behind { .. } => slope - rise,
        };
        for (k, (_, rate)) in self.groups.iter().enumerate() {
            rates[k + 1] = rise - rate * unknowns[k + 1];
        }
    }

    /// No slower than the fastest rate as it starts.
    fn fastest(&self, unknowns: &[f64]) -> f64 {
        let beside = match self.hold {
            Hold::Fed { past, .. } => past,
            Hold::Behind { siemens, .. } => siemens,
        };
        let own = self.metered + self.excess.slope(self.volts(0.0, unknowns[0]));
        let groups = self.groups.iter();
        let all = groups.clone().map(|(siemens, _)| siemens).sum::<f64>() + beside + own;
        groups.fold(all / self.capacitance, |fastest, (_, rate)| fastest.max(*rate))
    }

    /// When all that happens under a command that stands still has happened, to far beyond
    /// rounding.
    fn settled(&self) -> f64 {
        let charge = self.groups.iter().map(|(siemens, rate)| siemens / rate).sum::<f64>();
        let own = self.metered / (self.capacitance + charge);
        let slowest = self.groups.iter().fold(own, |slowest, (_, rate)| slowest.min(*rate));
        SETTLED / slowest
    }

    /// What each unknown may be off however small it is: so much that the current it stands for is
    /// off by a little of what is conducted at the onset, but not by less than rounding makes of
    /// the largest current.
    fn least(&self, unknowns: &[f64], span: f64) -> Vec<f64> {
        let volts = self.excess.from();
        let amperes = (self.metered * volts).max(1e-4 * self.largest(unknowns, span));
        let first = match self.hold {
            Hold::Fed { .. } => volts,
            Hold::Behind { siemens, .. } => (amperes / siemens).min(volts),
        };
        let groups = self.groups.iter().map(|(siemens, _)| (amperes / siemens).min(volts));
        std::iter::once(first).chain(groups).map(|volts| TOLERANCE * volts).collect()
    }

    /// No less than any current of the stretch.
    fn largest(&self, unknowns: &[f64], span: f64) -> f64 {
        let groups = self.groups.iter().zip(&unknowns[1..]);
        let given: f64 = groups.map(|((siemens, _), below)| siemens * below.abs()).sum();
        let volts = self.volts(0.0, unknowns[0]).abs();
        let conducted = |volts: f64| self.metered * volts + self.excess.amperes(volts);
        given
            + match self.hold {
                Hold::Fed { amperes, past } => amperes + past * volts + conducted(volts),
                Hold::Behind { siemens, source } => {
                    let reached = volts.max(source.start.abs()).max(source.at(span).abs());
                    let charging = self.capacitance * source.slope.abs();
                    let first = siemens * unknowns[0].abs();
                    first + charging + conducted(reached).min(siemens * reached)
                }
            }
    }
}

impl Stepped {
    /// Steps through a stretch from a state, for `span` seconds or to where `leaves` of a time and
    /// what is read goes above zero; that time is given, if there is one.
    pub(crate) fn new(
        network: &Network,
        excess: Excess,
        state: &State,
        regime: &Regime,
        span: f64,
        leaves: impl Fn(f64, &Reading) -> f64,
    ) -> Result<(Self, Option<f64>), Unsteppable> {
        let circuit = Circuit::of(network, excess, regime);
        let unknowns = circuit.unknowns(state);
        let mut stepped = Self { regime: regime.clone(), circuit, pieces: Vec::new() };
        let left = stepped.step(&unknowns, span, leaves)?;
        Ok((stepped, left))
    }

    fn step(
        &mut self,
        unknowns: &[f64],
        span: f64,
        leaves: impl Fn(f64, &Reading) -> f64,
    ) -> Result<Option<f64>, Unsteppable> {
        let circuit = self.circuit.clone();
        let span = if span.is_finite() { span } else { circuit.settled() };
        let never = |_| Unsteppable { after: 0.0 };
        let mut problem = OdeBuilder::<NalgebraMat<f64>>::new()
            .rtol(TOLERANCE)
            .atol(circuit.least(unknowns, span))
            .h0(span.min(FIRST_STEP / circuit.fastest(unknowns)))
            .rhs_implicit(
                |x, _, t, y| circuit.rates(t, x, y),
                |x, _, t, by, y| circuit.change(t, x, by, y),
            )
            .init(|_, _, y| y.copy_from_slice(unknowns), unknowns.len())
            .build()
            .map_err(never)?;
        // Rates may be as fast as a milliohm and a nanofarad, and failures add up over all steps.
        problem.ode_options.min_timestep = f64::MIN_POSITIVE;
        problem.ode_options.max_nonlinear_solver_failures = MOST_STEPS;
        let state = BdfState::new_without_initialise(&problem).map_err(never)?;
        let mut solver = problem.bdf_solver::<NalgebraLU<f64>>(state).map_err(never)?;
        solver.set_stop_time(span).map_err(never)?;
        let mut from = 0.0;
        for _ in 0..MOST_STEPS {
            let lost = |_| Unsteppable { after: from };
            let stopped = solver.step().map_err(lost)?;
            let to = solver.state().t;
            let mut piece = Piece { from, to, unknowns: vec![[0.0; PLACES]; unknowns.len()] };
            for (place, node) in NODES.iter().enumerate() {
                let at = (from + node * (to - from)).min(to);
                let there = solver.interpolate(at).map_err(lost)?;
                for (k, kept) in piece.unknowns.iter_mut().enumerate() {
                    kept[place] = there[k];
                }
            }
            let left = self.left_in(&piece, &leaves);
            self.pieces.push(piece);
            if left.is_some() {
                return Ok(left);
            }
            if matches!(stopped, OdeSolverStopReason::TstopReached) {
                return Ok(None);
            }
            from = to;
        }
        Err(Unsteppable { after: from })
    }

    /// When within a piece `leaves` goes above zero.
    fn left_in(&self, piece: &Piece, leaves: impl Fn(f64, &Reading) -> f64) -> Option<f64> {
        let at = |t: f64| leaves(t, &self.circuit.reading(t, piece.at(0, t)));
        let look = |k: u32| piece.from + (piece.to - piece.from) * f64::from(k) / f64::from(LOOKS);
        let after = (1..=LOOKS).find(|&k| at(look(k)) > 0.0)?;
        Some(root::onset(at, look(after - 1), look(after)))
    }

    /// Voltage and currents.
    pub(crate) fn read(&self, t: f64) -> Reading {
        self.circuit.reading(t, self.piece_at(t).at(0, t))
    }

    /// All voltages.
    pub(crate) fn state(&self, t: f64) -> State {
        let (node, piece) = (self.read(t).volts, self.piece_at(t));
        let groups = (1..piece.unknowns.len()).map(|k| node - piece.at(k, t)).collect();
        State { node, groups }
    }

    /// What holds the terminals from its end on, the command standing still.
    pub(crate) fn then(&self) -> Regime {
        let mut regime = self.regime.clone();
        if let Regime::Behind { command, .. } = &mut regime {
            *command = Line::constant(command.at(self.pieces.last().map_or(0.0, |last| last.to)));
        }
        regime
    }

    /// The piece a time lies in; beyond the last step nothing changes any more.
    fn piece_at(&self, t: f64) -> &Piece {
        let after = self.pieces.partition_point(|piece| piece.to < t);
        &self.pieces[after.min(self.pieces.len() - 1)]
    }
}

impl Piece {
    /// An unknown at a time within the piece, by the polynomial through its places.
    fn at(&self, unknown: usize, t: f64) -> f64 {
        let values = &self.unknowns[unknown];
        let x = ((t - self.from) / (self.to - self.from)).clamp(0.0, 1.0);
        let (mut sum, mut weights) = (0.0, 0.0);
        for ((node, weight), value) in NODES.iter().zip(WEIGHTS).zip(values) {
            let apart = x - node;
            if apart == 0.0 {
                return *value;
            }
            sum += weight / apart * value;
            weights += weight / apart;
        }
        sum / weights
    }
}

/// A stretch that the solver cannot follow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Unsteppable {
    /// From its start.
    pub(crate) after: f64,
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use quantity::{Capacitance, Resistance, Voltage};

    use super::*;
    use crate::conduction::{Conduction, Onset};
    use crate::transient::stretch::Stretch;
    use crate::transient::{Branch, Modes, Surface, TestObject};

    fn object() -> TestObject {
        let branch = |(megohms, nanofarads): (f64, f64)| Branch {
            resistance: Resistance::from_megohms(megohms),
            capacitance: Capacitance::from_nanofarads(nanofarads),
            start: Voltage::ZERO,
        };
        TestObject {
            capacitance: Capacitance::from_microfarads(1.0),
            insulation: Some(Resistance::from_megohms(25_000.0)),
            start: Voltage::ZERO,
            branches: [(20.0, 50.0), (200.0, 50.0), (2e3, 50.0), (1e6, 100.0)].map(branch).to_vec(),
            surface: Some(Surface { resistance: Resistance::from_megohms(3e3), guarded: true }),
            onset: None,
        }
    }

    /// Conduction that keeps to Ohm's law at all voltages here.
    fn straight() -> Excess {
        let onset =
            Onset { from: Voltage::from_kilovolts(30.0), scale: Voltage::from_kilovolts(1.0) };
        let resistance = Resistance::from_megohms(25_000.0);
        Conduction { resistance, onset: Some(onset) }.excess().expect("an onset")
    }

    /// Steps beside the exact stretch: the worst relative differences of voltage and currents.
    fn worst(regime: &Regime, from: f64, span: f64) -> [f64; 4] {
        let (network, mut state) = Network::of(&object());
        state.node = from;
        let exact = Stretch::new(&network, &state, regime.clone());
        let (stepped, left) = Stepped::new(&network, straight(), &state, regime, span, |_, _| -1.0)
            .expect("it is linear");
        assert_eq!(left, None);
        let mut worst = [0.0_f64; 4];
        for k in 0..=4000 {
            let t = span * 10.0_f64.powf((f64::from(k) - 4000.0) / 500.0);
            let parts = |read: Reading| [read.volts, read.amperes, read.metered, read.supplied];
            let pairs = parts(stepped.read(t)).into_iter().zip(parts(exact.read(t)));
            for (worst, (found, expected)) in worst.iter_mut().zip(pairs) {
                *worst = worst.max((found - expected).abs() / expected.abs().max(1e-12));
            }
        }
        worst
    }

    #[test]
    fn where_it_is_linear_steps_agree_with_the_exact_stretch() {
        let (network, _) = Network::of(&object());
        let fed = |amperes: f64, across: f64| {
            let modes = Arc::new(Modes::of(&network, across));
            Regime::Fed { modes, amperes, across }
        };
        let behind = |series: f64, across: f64, start: f64, slope: f64| {
            let modes = Arc::new(Modes::of(&network, series + across));
            Regime::Behind { modes, series, across, command: Line { start, slope } }
        };
        for (what, regime, from, span) in [
            ("fed", fed(1e-3, 1e-8), 1e3, 20.0),
            ("left open", fed(0.0, 0.0), 20e3, 1e4),
            ("on a tool", fed(0.0, 1e-6), 20e3, 60.0),
            ("held", behind(5e-6, 1e-8, 20e3, 0.0), 1e3, 600.0),
            ("rising", behind(5e-6, 0.0, 5e3, 200.0), 5e3, 100.0),
            ("behind a milliohm", behind(1e3, 1e-8, 20e3, 0.0), 1e3, 600.0),
        ] {
            let worst = worst(&regime, from, span);
            println!("{what}: {:?}", worst.map(|off| format!("{off:.1e}")));
            assert!(worst.iter().all(|off| *off < 1e-7), "{what}: {worst:?}");
        }
    }
}
