//! One stretch of time with one regime: the terminals are fed a current, stand behind a
//! resistance, or are held. Its voltage and current are closed forms.

use std::sync::Arc;

use super::modes::{Modes, Network, State};

/// A straight line in time.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Line {
    /// Value at the start of the stretch.
    pub(crate) start: f64,
    /// Change per second.
    pub(crate) slope: f64,
}

impl Line {
    pub(crate) fn at(self, t: f64) -> f64 {
        self.start + self.slope * t
    }
}

/// What holds the terminals.
#[derive(Clone, Debug)]
pub(crate) enum Regime {
    /// A constant current flows in; zero is an open terminal.
    Fed(Arc<Modes>, f64),
    /// A voltage behind a resistance of so many siemens.
    Behind(Arc<Modes>, f64, Line),
    /// The voltage itself.
    Held(Line),
    /// A dead short; its current is what the branches give into it.
    Shorted,
}

/// A solved stretch. Times count from its own start.
#[derive(Clone, Debug)]
pub(crate) struct Stretch {
    regime: Regime,
    /// What remains when all modes have died.
    voltage: Line,
    current: Line,
    /// Voltage of each group below `voltage`, after all modes have died.
    lags: Vec<f64>,
    terms: Vec<Term>,
}

/// One dying exponential: a mode, or where the terminals are held a group.
#[derive(Clone, Copy, Debug)]
struct Term {
    rate: f64,
    /// Voltage at the terminals, or on the group where these are held.
    volts: f64,
    amperes: f64,
    /// Rise per second at the terminals by the current fed in.
    fed: f64,
}

impl Term {
    /// What is left of the start after `t`, and what was fed in by then.
    fn volts_at(&self, t: f64) -> f64 {
        let fed = if self.fed == 0.0 {
            0.0
        } else if self.rate == 0.0 {
            self.fed * t
        } else {
            -self.fed * (-self.rate * t).exp_m1() / self.rate
        };
        self.volts * (-self.rate * t).exp() + fed
    }
}

impl Stretch {
    pub(crate) fn new(network: &Network, state: &State, regime: Regime) -> Self {
        match regime {
            Regime::Fed(ref modes, current) => {
                let terms = modes
                    .iter()
                    .zip(modes.amplitudes(network, state))
                    .map(|(mode, volts)| Term {
                        rate: mode.rate,
                        volts,
                        amperes: 0.0,
                        fed: current / mode.weight,
                    })
                    .collect();
                let (voltage, current) =
                    (Line { start: 0.0, slope: 0.0 }, Line { start: current, slope: 0.0 });
                let lags = vec![0.0; network.groups.len()];
                Self { regime, voltage, current, lags, terms }
            }
            Regime::Behind(ref modes, siemens, command) => {
                let modes = Arc::clone(modes);
                Self::behind(network, state, &modes, siemens, command)
            }
            Regime::Held(voltage) => Self::held(network, state, voltage, regime),
            Regime::Shorted => {
                Self::held(network, state, Line { start: 0.0, slope: 0.0 }, Regime::Shorted)
            }
        }
    }

    /// Everything is reckoned as a distance from the line that the object settles on: the current
    /// is then never the small difference of two large voltages.
    fn behind(
        network: &Network,
        state: &State,
        modes: &Arc<Modes>,
        siemens: f64,
        command: Line,
    ) -> Self {
        let g = network.conductance + siemens;
        let slope = command.slope * siemens / g;
        let charging = slope * network.total_capacitance();
        let voltage = Line { start: (siemens * command.start - charging) / g, slope };
        let current = Line {
            start: network.conductance * voltage.start + charging,
            slope: network.conductance * slope,
        };
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
        let terms = modes
            .iter()
            .zip(modes.amplitudes(network, &away))
            .map(|(mode, volts)| Term {
                rate: mode.rate,
                volts,
                amperes: -siemens * volts,
                fed: 0.0,
            })
            .collect();
        let regime = Regime::Behind(Arc::clone(modes), siemens, command);
        Self { regime, voltage, current, lags, terms }
    }

    fn held(network: &Network, state: &State, voltage: Line, regime: Regime) -> Self {
        let charging = voltage.slope * network.total_capacitance();
        let current = Line {
            start: network.conductance * voltage.start + charging,
            slope: network.conductance * voltage.slope,
        };
        let lags: Vec<f64> =
            network.groups.iter().map(|group| voltage.slope / group.rate).collect();
        let groups = network.groups.iter().zip(&state.groups).zip(&lags);
        let terms = groups
            .map(|((group, volts), lag)| {
                let above = volts - voltage.start + lag;
                let siemens = group.capacitance * group.rate;
                Term { rate: group.rate, volts: above, amperes: -siemens * above, fed: 0.0 }
            })
            .collect();
        Self { regime, voltage, current, lags, terms }
    }

    /// Voltage at the terminals.
    pub(crate) fn volts(&self, t: f64) -> f64 {
        match self.regime {
            Regime::Held(line) => line.at(t),
            Regime::Shorted => 0.0,
            Regime::Fed(..) | Regime::Behind(..) => {
                self.voltage.at(t) + self.terms.iter().map(|term| term.volts_at(t)).sum::<f64>()
            }
        }
    }

    /// Current into the terminals.
    pub(crate) fn amperes(&self, t: f64) -> f64 {
        self.amperes_and_size(t).0
    }

    /// The same, and the sum of the sizes it is made of: what its rounding is relative to.
    pub(crate) fn amperes_and_size(&self, t: f64) -> (f64, f64) {
        let lasting = self.current.at(t);
        self.terms.iter().fold((lasting, lasting.abs()), |(sum, size), term| {
            let part = term.amperes * (-term.rate * t).exp();
            (sum + part, size + part.abs())
        })
    }

    /// The rate of the term that dies first.
    pub(crate) fn fastest_rate(&self) -> f64 {
        self.terms.iter().fold(0.0, |fastest: f64, term| fastest.max(term.rate))
    }

    /// All voltages.
    pub(crate) fn state(&self, t: f64) -> State {
        let groups = match &self.regime {
            Regime::Held(_) | Regime::Shorted => {
                let groups = self.terms.iter().zip(&self.lags);
                groups.map(|(term, lag)| self.voltage.at(t) - lag + term.volts_at(t)).collect()
            }
            Regime::Fed(modes, _) | Regime::Behind(modes, ..) => {
                let volts: Vec<f64> = self.terms.iter().map(|term| term.volts_at(t)).collect();
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

    /// Energy taken by a resistance of so many siemens across the terminals up to `t`; for a
    /// stretch whose voltage is dying modes alone.
    pub(crate) fn joules_in(&self, siemens: f64, t: f64) -> f64 {
        let mut sum = 0.0;
        for a in &self.terms {
            for b in &self.terms {
                let rate = a.rate + b.rate;
                sum -= siemens * a.volts * b.volts * (-rate * t).exp_m1() / rate;
            }
        }
        sum
    }
}
