//! The natural modes of an object: why the simulation is exact.
//!
//! With a conductance g across its terminals the object answers to itself only in modes e^(−λt)
//! at which its admittance is nil:
//!
//! F(λ) = g − λC − Σ λ·C_j·d_j / (d_j − λ) = 0, with d_j = 1/(R_j·C_j)
//!
//! F falls between any two neighbouring d_j, so there is exactly one root in each gap; it is the
//! eigenvalue of the arrow-shaped matrix that the circuit equations make. Each root is sought as a
//! distance from the nearer d_j. That keeps every d_j − λ, and with it every amplitude and every
//! current, to full relative precision however far apart the time constants lie; a general
//! eigenvalue routine would lose the slow modes behind a small series resistance.

use super::{Branch, TestObject};
use crate::conduction::Excess;
use crate::root;

/// Rates closer than this, relatively, are one rate: their branches move as one.
const SAME_RATE: f64 = 1e-10;

/// An object as its circuit equations see it.
#[derive(Clone, Debug)]
pub(crate) struct Network {
    /// C, at the terminals.
    pub(crate) capacitance: f64,
    /// G, the insulation and the surface.
    pub(crate) conductance: f64,
    /// The part of G whose current goes through the meter.
    pub(crate) metered: f64,
    /// The rest: the surface where a guard takes its current past the meter.
    pub(crate) guarded: f64,
    /// What the insulation conducts beyond Ohm's law, above an onset.
    pub(crate) excess: Option<Excess>,
    /// Branches, slowest first, those of one rate merged.
    pub(crate) groups: Vec<Group>,
    /// For each branch of the object its group and its voltage above the group's, to begin with.
    offsets: Vec<(usize, f64)>,
    branches: Vec<Branch>,
}

/// Branches of one rate, as one.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Group {
    /// C_j.
    pub(crate) capacitance: f64,
    /// d_j = 1/(R_j·C_j).
    pub(crate) rate: f64,
}

/// Voltages at one instant: at the terminals and on each group.
#[derive(Clone, Debug)]
pub(crate) struct State {
    /// At the terminals.
    pub(crate) node: f64,
    /// On each group's capacitance.
    pub(crate) groups: Vec<f64>,
}

impl Network {
    /// The circuit of an object, and where it stands to begin with.
    pub(crate) fn of(object: &TestObject) -> (Self, State) {
        let rate = |branch: &Branch| 1.0 / branch.time_constant().seconds();
        let mut order: Vec<usize> = (0..object.branches.len()).collect();
        order.sort_by(|&a, &b| rate(&object.branches[a]).total_cmp(&rate(&object.branches[b])));
        let mut groups: Vec<Group> = Vec::new();
        let mut charges: Vec<f64> = Vec::new();
        let mut home = vec![0; object.branches.len()];
        for k in order {
            let branch = &object.branches[k];
            let (capacitance, rate) = (branch.capacitance.farads(), rate(branch));
            match groups.last_mut() {
                Some(last) if rate <= last.rate * (1.0 + SAME_RATE) => {
                    last.capacitance += capacitance;
                }
                _ => {
                    groups.push(Group { capacitance, rate });
                    charges.push(0.0);
                }
            }
            home[k] = groups.len() - 1;
            charges[home[k]] += capacitance * branch.start.volts();
        }
        let volts: Vec<f64> =
            charges.iter().zip(&groups).map(|(charge, group)| charge / group.capacitance).collect();
        let offset =
            |(k, branch): (usize, &Branch)| (home[k], branch.start.volts() - volts[home[k]]);
        let insulation = object.insulation.map_or(0.0, |insulation| 1.0 / insulation.ohms());
        let surface = |guarded| {
            let there = object.surface.filter(|surface| surface.guarded == guarded);
            there.map_or(0.0, |surface| 1.0 / surface.resistance.ohms())
        };
        let (metered, guarded) = (insulation + surface(false), surface(true));
        let network = Self {
            capacitance: object.capacitance.farads(),
            conductance: metered + guarded,
            metered,
            guarded,
            excess: object.conduction().and_then(|through| through.excess()),
            groups,
            offsets: object.branches.iter().enumerate().map(offset).collect(),
            branches: object.branches.clone(),
        };
        (network, State { node: object.start.volts(), groups: volts })
    }

    /// C and all C_j.
    pub(crate) fn total_capacitance(&self) -> f64 {
        self.capacitance + self.groups.iter().map(|group| group.capacitance).sum::<f64>()
    }

    /// The branches of the object as they stand at `at` seconds after the start.
    pub(crate) fn branches_at(&self, state: &State, at: f64) -> Vec<Branch> {
        let placed = self.offsets.iter().zip(&self.branches).map(|(&(group, offset), branch)| {
            // Branches of one rate keep their differences, and these die at that rate.
            let above = offset * (-self.groups[group].rate * at).exp();
            let start = quantity::Voltage::from_volts(state.groups[group] + above);
            Branch { start, ..*branch }
        });
        placed.collect()
    }
}

/// The modes of a network with a conductance across its terminals.
#[derive(Clone, Debug)]
pub(crate) struct Modes {
    list: Vec<Mode>,
}

/// One mode.
#[derive(Clone, Debug)]
pub(crate) struct Mode {
    /// λ.
    pub(crate) rate: f64,
    /// C + Σ C_j·gain_j²: what a charge at the terminals is divided by.
    pub(crate) weight: f64,
    /// Voltage on each group over that at the terminals, d_j / (d_j − λ).
    pub(crate) gains: Vec<f64>,
}

impl Modes {
    /// The modes with `added` siemens beside the object's own.
    pub(crate) fn of(network: &Network, added: f64) -> Self {
        let g = network.conductance + added;
        let mut list = Vec::with_capacity(network.groups.len() + 1);
        for gap in 0..=network.groups.len() {
            let (origin, distance) = root_in_gap(network, g, gap);
            let gains: Vec<f64> = network
                .groups
                .iter()
                .map(|group| group.rate / (group.rate - origin - distance))
                .collect();
            let weight = network.capacitance
                + network
                    .groups
                    .iter()
                    .zip(&gains)
                    .map(|(j, r)| j.capacitance * r * r)
                    .sum::<f64>();
            list.push(Mode { rate: origin + distance, weight, gains });
        }
        Self { list }
    }

    /// All modes, slowest first.
    pub(crate) fn iter(&self) -> std::slice::Iter<'_, Mode> {
        self.list.iter()
    }

    /// How much of each mode is in a state, as voltage at the terminals.
    pub(crate) fn amplitudes(&self, network: &Network, state: &State) -> Vec<f64> {
        let amplitude = |mode: &Mode| {
            let branches = network.groups.iter().zip(&mode.gains).zip(&state.groups);
            let charge = branches.map(|((group, gain), volts)| group.capacitance * gain * volts);
            (network.capacitance * state.node + charge.sum::<f64>()) / mode.weight
        };
        self.list.iter().map(amplitude).collect()
    }
}

/// F at `origin + distance`, with d_j − λ kept exact near `origin`.
fn admittance(network: &Network, g: f64, origin: f64, distance: f64) -> f64 {
    let rate = origin + distance;
    network.groups.iter().fold(g - rate * network.capacitance, |sum, group| {
        sum - rate * group.capacitance * group.rate / (group.rate - origin - distance)
    })
}

/// The root in the given gap between the rates, as the nearer rate and the distance from it.
fn root_in_gap(network: &Network, g: f64, gap: usize) -> (f64, f64) {
    let low = if gap == 0 { 0.0 } else { network.groups[gap - 1].rate };
    if gap == 0 && g == 0.0 {
        return (0.0, 0.0);
    }
    let (origin, sign, reach) = match network.groups.get(gap) {
        Some(high) => {
            let half = 0.5 * (high.rate - low);
            if admittance(network, g, low, half) > 0.0 {
                (high.rate, -1.0, half)
            } else {
                (low, 1.0, half)
            }
        }
        None => {
            let mut reach = low.max(g / network.capacitance);
            while admittance(network, g, low, reach) > 0.0 {
                reach *= 2.0;
            }
            (low, 1.0, reach)
        }
    };
    // Seen from the origin: F has the sign `sign` close by, and the other one at `reach`.
    let f = |distance: f64| sign * admittance(network, g, origin, sign * distance);
    let (mut near, mut far) = (reach * 1e-20, reach);
    while f(near) <= 0.0 && near > f64::MIN_POSITIVE {
        (near, far) = (near * 1e-20, near);
    }
    while far > 1.5 * near {
        let middle = (near * far).sqrt();
        if f(middle) > 0.0 { near = middle } else { far = middle }
    }
    (origin, sign * root::between(f, near, far, 0.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use quantity::{Capacitance, Resistance, Voltage};

    fn object(branches: &[(f64, f64)]) -> TestObject {
        TestObject {
            capacitance: Capacitance::from_microfarads(1.0),
            insulation: None,
            start: Voltage::ZERO,
            branches: branches
                .iter()
                .map(|&(megohms, nanofarads)| Branch {
                    resistance: Resistance::from_megohms(megohms),
                    capacitance: Capacitance::from_nanofarads(nanofarads),
                    start: Voltage::ZERO,
                })
                .collect(),
            surface: None,
            onset: None,
        }
    }

    #[test]
    fn one_branch_left_open_recovers_at_the_series_capacitance() {
        // Derived: C 1 µF, branch 2 GΩ 50 nF: rate 1/(R·C·Cj/(C + Cj)) = 1/95.238095 s.
        let (network, _) = Network::of(&object(&[(2000.0, 50.0)]));
        let rates: Vec<f64> = Modes::of(&network, 0.0).iter().map(|mode| mode.rate).collect();
        assert_eq!(rates[0], 0.0);
        assert!((1.0 / rates[1] - 2e9 * 50e-9 / 1.05).abs() < 1e-12 * 95.0);
    }

    #[test]
    fn a_stiff_network_keeps_its_slow_modes() {
        // Derived: the current balance at the terminals, v·(1/s − λC) = (v_j − v)/R with s = 1 mΩ
        // and λ = 0.01/s, so v_j/v = 1 + 2e12 − 20.
        let (network, _) = Network::of(&object(&[(2000.0, 50.0)]));
        let modes = Modes::of(&network, 1e3);
        let gain = modes.iter().next().expect("two modes").gains[0];
        assert!((gain - 1_999_999_999_981.0).abs() < 1e-2, "{gain}");
    }

    #[test]
    fn equal_rates_move_as_one() {
        let mut twins = object(&[(100.0, 10.0), (50.0, 20.0), (1.0, 1.0)]);
        twins.branches[0].start = Voltage::from_volts(90.0);
        twins.branches[1].start = Voltage::from_volts(30.0);
        let (network, state) = Network::of(&twins);
        assert_eq!(network.groups.len(), 2);
        // Derived: (10·90 + 20·30)/30 nF.
        assert!((state.groups[0] - 50.0).abs() < 1e-9);
        let back = network.branches_at(&state, 0.0);
        assert!((back[0].start.volts() - 90.0).abs() < 1e-9);
    }
}
