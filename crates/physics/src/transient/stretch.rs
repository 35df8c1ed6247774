//! One stretch of time with one regime: the terminals are fed a current, stand behind a
//! resistance, or are held. Its voltage and currents are closed forms.

use std::sync::Arc;

use super::modes::{Group, Mode, Modes, Network, State};
use crate::exponentials::Exponentials;

/// A straight line in time.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Line {
    /// Value at the start of the stretch.
    pub(crate) start: f64,
    /// Change per second.
    pub(crate) slope: f64,
}

impl Line {
    const NIL: Self = Self::constant(0.0);

    pub(crate) const fn constant(start: f64) -> Self {
        Self { start, slope: 0.0 }
    }

    pub(crate) fn at(self, t: f64) -> f64 {
        self.start + self.slope * t
    }

    pub(crate) fn times(self, factor: f64) -> Self {
        Self { start: self.start * factor, slope: self.slope * factor }
    }

    fn plus(self, constant: f64) -> Self {
        Self { start: self.start + constant, slope: self.slope }
    }
}

/// What holds the terminals. `across` are siemens beside the object: the built-in path of the
/// supply, the discharge tool.
#[derive(Clone, Debug)]
pub(crate) enum Regime {
    /// A constant current flows into all that is there; zero is a supply that gives nothing.
    Fed { modes: Arc<Modes>, amperes: f64, across: f64 },
    /// A voltage behind a resistance of so many siemens.
    Behind { modes: Arc<Modes>, series: f64, across: f64, command: Line },
    /// The voltage itself.
    Held { command: Line, across: f64 },
    /// A dead short; its current is what the branches give into it.
    Shorted,
}

/// Voltage and currents at one instant.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Reading {
    /// At the terminals.
    pub(crate) volts: f64,
    /// Into the terminals.
    pub(crate) amperes: f64,
    /// Of these, through the meter.
    pub(crate) metered: f64,
    /// Given by the supply.
    pub(crate) supplied: f64,
}

/// A current as what remains when all modes have died, and its share of what has not died yet.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Flow {
    pub(crate) lasting: Line,
    pub(crate) share: f64,
}

impl Flow {
    pub(crate) fn at(self, t: f64, rest: f64) -> f64 {
        self.lasting.at(t) + self.share * rest
    }
}

/// One dying exponential, and what is fed into it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Term {
    pub(crate) rate: f64,
    /// At the start.
    pub(crate) value: f64,
    /// Fed in per second.
    pub(crate) fed: f64,
}

impl Term {
    fn dying(rate: f64, value: f64) -> Self {
        Self { rate, value, fed: 0.0 }
    }

    /// What is left of the start after `t`, and of what was fed in by then.
    pub(crate) fn at(&self, t: f64) -> f64 {
        let fed = if self.fed == 0.0 {
            0.0
        } else if self.rate == 0.0 {
            self.fed * t
        } else {
            -self.fed * (-self.rate * t).exp_m1() / self.rate
        };
        self.value * (-self.rate * t).exp() + fed
    }

    /// How fast it rises, as what is left of its rise at the start.
    fn slope(&self) -> (f64, f64) {
        (self.rate, self.fed - self.rate * self.value)
    }
}

/// A solved stretch. Times count from its own start.
#[derive(Clone, Debug)]
pub(crate) struct Stretch {
    regime: Regime,
    /// The voltage at the terminals but for its terms.
    pub(super) voltage: Line,
    /// What the modes make of the voltage; where the terminals are held, of each group's.
    terms: Vec<Term>,
    /// Voltage of each group below `voltage`, but for its terms.
    lags: Vec<f64>,
    /// What the currents share in; `None` where it is the same as `terms`.
    rest: Option<Vec<Term>>,
    pub(super) amperes: Flow,
    pub(super) metered: Flow,
    pub(super) supplied: Flow,
}

impl Stretch {
    pub(crate) fn new(network: &Network, state: &State, regime: Regime) -> Self {
        match regime {
            Regime::Fed { ref modes, amperes, across } => {
                let modes = Arc::clone(modes);
                Self::fed(network, state, modes, amperes, across)
            }
            Regime::Behind { ref modes, series, across, command } => {
                let modes = Arc::clone(modes);
                Self::behind(network, state, modes, [series, across], command)
            }
            Regime::Held { command, across } => {
                Self { regime, ..Self::held(network, state, command, across) }
            }
            Regime::Shorted => Self {
                regime,
                supplied: Flow { lasting: Line::NIL, share: 0.0 },
                ..Self::held(network, state, Line::NIL, 0.0)
            },
        }
    }

    /// The voltage is reckoned from the start, so that nothing is lost where a mode hardly dies;
    /// the currents from where it settles, so that nothing is lost when it has.
    fn fed(network: &Network, state: &State, modes: Arc<Modes>, amperes: f64, across: f64) -> Self {
        let g = network.conductance + across;
        let term = |(mode, value): (&Mode, f64)| Term {
            rate: mode.rate,
            value,
            fed: amperes / mode.weight,
        };
        let terms: Vec<Term> =
            modes.iter().zip(modes.amplitudes(network, state)).map(term).collect();
        let below = |term: &Term| {
            let settles = if term.fed == 0.0 { 0.0 } else { term.fed / term.rate };
            Term::dying(term.rate, settles - term.value)
        };
        // Without a conductance past the meter or the terminals no current has a share.
        let shared = across + network.guarded > 0.0;
        let rest = if shared { terms.iter().map(below).collect() } else { Vec::new() };
        // What does not go through `own` siemens goes past by the others, `past`.
        let flow = |own: f64, past: f64| {
            let lasting = if past == 0.0 { amperes } else { amperes * own / g };
            Flow { lasting: Line::constant(lasting), share: past }
        };
        Self {
            voltage: Line::NIL,
            lags: vec![0.0; network.groups.len()],
            terms,
            rest: Some(rest),
            amperes: flow(network.conductance, across),
            metered: flow(network.metered, across + network.guarded),
            supplied: flow(g, 0.0),
            regime: Regime::Fed { modes, amperes, across },
        }
    }

    /// Everything is reckoned as a distance from the line that the object settles on: the current
    /// is then never the small difference of two large voltages.
    fn behind(
        network: &Network,
        state: &State,
        modes: Arc<Modes>,
        [series, across]: [f64; 2],
        command: Line,
    ) -> Self {
        let g = network.conductance + series + across;
        let slope = command.slope * series / g;
        let charging = slope * network.total_capacitance();
        let voltage = Line { start: (series * command.start - charging) / g, slope };
        let lags: Vec<f64> = network.groups.iter().map(|group| slope / group.rate).collect();
        let away = State {
            node: state.node - voltage.start,
            groups: state
                .groups
                .iter()
                .zip(&lags)
                .map(|(volts, lag)| volts - voltage.start + lag)
                .collect(),
        };
        let term = |(mode, volts): (&Mode, f64)| Term::dying(mode.rate, volts);
        let terms = modes.iter().zip(modes.amplitudes(network, &away)).map(term).collect();
        let flow =
            |own: f64, past: f64| Flow { lasting: voltage.times(own).plus(charging), share: -past };
        Self {
            voltage,
            lags,
            terms,
            rest: None,
            amperes: flow(network.conductance, series + across),
            metered: flow(network.metered, series + across + network.guarded),
            supplied: flow(network.conductance + across, series),
            regime: Regime::Behind { modes, series, across, command },
        }
    }

    fn held(network: &Network, state: &State, voltage: Line, across: f64) -> Self {
        let charging = voltage.slope * network.total_capacitance();
        let lags: Vec<f64> =
            network.groups.iter().map(|group| voltage.slope / group.rate).collect();
        let groups = network.groups.iter().zip(&state.groups).zip(&lags);
        let above = |((group, volts), lag): ((&Group, &f64), &f64)| {
            Term::dying(group.rate, volts - voltage.start + lag)
        };
        let terms: Vec<Term> = groups.map(above).collect();
        let given = |(group, term): (&Group, &Term)| {
            Term::dying(term.rate, -group.capacitance * group.rate * term.value)
        };
        let rest = network.groups.iter().zip(&terms).map(given).collect();
        let flow = |own: f64| Flow { lasting: voltage.times(own).plus(charging), share: 1.0 };
        Self {
            voltage,
            lags,
            terms,
            rest: Some(rest),
            amperes: flow(network.conductance),
            metered: flow(network.metered),
            supplied: flow(network.conductance + across),
            regime: Regime::Held { command: voltage, across },
        }
    }

    /// The command, where the supply follows it.
    pub(super) fn follows(&self) -> Option<Line> {
        match self.regime {
            Regime::Behind { command, .. } | Regime::Held { command, .. } => Some(command),
            Regime::Fed { .. } | Regime::Shorted => None,
        }
    }

    /// What the modes make of the voltage at the terminals.
    pub(super) fn node_terms(&self) -> &[Term] {
        match self.regime {
            Regime::Held { .. } | Regime::Shorted => &[],
            Regime::Fed { .. } | Regime::Behind { .. } => &self.terms,
        }
    }

    /// What the currents share in, where it is not the same as that.
    pub(super) fn own_rest(&self) -> Option<&[Term]> {
        self.rest.as_deref()
    }

    fn rest(&self) -> &[Term] {
        self.rest.as_ref().unwrap_or(&self.terms)
    }

    /// Voltage at the terminals.
    pub(crate) fn volts(&self, t: f64) -> f64 {
        self.voltage.at(t) + self.node_terms().iter().map(|term| term.at(t)).sum::<f64>()
    }

    /// Voltage and currents.
    pub(crate) fn read(&self, t: f64) -> Reading {
        let rest = self.rest().iter().map(|term| term.at(t)).sum::<f64>();
        Reading {
            volts: self.volts(t),
            amperes: self.amperes.at(t, rest),
            metered: self.metered.at(t, rest),
            supplied: self.supplied.at(t, rest),
        }
    }

    /// What the supply gives, and the sum of the sizes it is made of: what its rounding is
    /// relative to.
    pub(crate) fn supplied_and_size(&self, t: f64) -> (f64, f64) {
        let Flow { lasting, share } = self.supplied;
        let lasting = lasting.at(t);
        self.rest().iter().fold((lasting, lasting.abs()), |(sum, size), term| {
            let part = share * term.at(t);
            (sum + part, size + part.abs())
        })
    }

    /// How much faster than `pace` the terminals rise, as a sum of dying exponentials.
    pub(crate) fn volts_slope(&self, pace: f64) -> Exponentials {
        let slope = Exponentials::new(self.node_terms().iter().map(Term::slope));
        slope.less(pace - self.voltage.slope)
    }

    /// How fast the current of the supply rises, as such a sum.
    pub(crate) fn supplied_slope(&self) -> Exponentials {
        let Flow { lasting, share } = self.supplied;
        let slope = |term: &Term| {
            let (rate, rise) = term.slope();
            (rate, share * rise)
        };
        Exponentials::new(self.rest().iter().map(slope)).less(-lasting.slope)
    }

    /// When all its exponentials have died, to far beyond rounding.
    pub(crate) fn settled(&self) -> f64 {
        let slowest = self.terms.iter().map(|term| term.rate).filter(|rate| *rate > 0.0);
        1e3 / slowest.fold(f64::INFINITY, f64::min)
    }

    /// All voltages.
    pub(crate) fn state(&self, t: f64) -> State {
        let groups = match &self.regime {
            Regime::Held { .. } | Regime::Shorted => {
                let groups = self.terms.iter().zip(&self.lags);
                groups.map(|(term, lag)| self.voltage.at(t) - lag + term.at(t)).collect()
            }
            Regime::Fed { modes, .. } | Regime::Behind { modes, .. } => {
                let volts: Vec<f64> = self.terms.iter().map(|term| term.at(t)).collect();
                let group = |(j, lag): (usize, &f64)| {
                    let shares =
                        modes.iter().zip(&volts).map(|(mode, volts)| mode.gains[j] * volts);
                    self.voltage.at(t) - lag + shares.sum::<f64>()
                };
                self.lags.iter().enumerate().map(group).collect()
            }
        };
        State { node: self.volts(t), groups }
    }
}
