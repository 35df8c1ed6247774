//! Objects drawn from a range, and the currents of all of them at once.

use quantity::{Band, Capacitance, Resistance};

use super::{CourseError, Instant, ObjectRange, RangeOf};
use crate::special::normal_quantile;

/// Nodes in the exponent between which its currents are interpolated.
const NODES: usize = 16;

/// Objects drawn from a range, as columns.
pub(super) struct Draws {
    /// C, 1/R and C·K.
    rows: Vec<[f64; 3]>,
    /// Exponents at which absorption is reckoned.
    nodes: Vec<f64>,
    /// For each draw the share of each node in it.
    shares: Vec<[f64; NODES]>,
}

impl Draws {
    pub(super) fn of(range: &ObjectRange, draws: usize) -> Result<Self, CourseError> {
        let capacitance = LogNormal::of(range.capacitance.map(Capacitance::farads))
            .ok_or(CourseError::Band(RangeOf::Capacitance))?;
        let insulation = LogNormal::of(range.insulation.map(Resistance::ohms))
            .ok_or(CourseError::Band(RangeOf::Insulation))?;
        let strength = LogNormal::of(range.strength).ok_or(CourseError::Band(RangeOf::Strength))?;
        let exponent = LogNormal::of(range.exponent).ok_or(CourseError::Band(RangeOf::Exponent))?;
        let rows = (0..draws).map(|draw| {
            let farads = capacitance.at(normal(draw, 0));
            [farads, 1.0 / insulation.at(normal(draw, 1)), farads * strength.at(normal(draw, 2))]
        });
        let rows = rows.collect();
        let exponents: Vec<f64> = (0..draws).map(|k| exponent.at(normal(k, 3))).collect();
        let low = exponents.iter().copied().fold(f64::INFINITY, f64::min);
        let high = exponents.iter().copied().fold(0.0, f64::max);
        let (middle, half) = (0.5 * (low + high), 0.5 * (high - low));
        let angle = |j: usize| (2 * j + 1) as f64 * std::f64::consts::PI / (2 * NODES) as f64;
        let nodes: Vec<f64> = (0..NODES).map(|j| middle + half * angle(j).cos()).collect();
        let share = |&exponent: &f64| {
            let mut shares = [0.0; NODES];
            if let Some(j) = nodes.iter().position(|node| *node == exponent) {
                shares[j] = 1.0;
                return shares;
            }
            for (j, share) in shares.iter_mut().enumerate() {
                let sign = if j % 2 == 0 { 1.0 } else { -1.0 };
                *share = sign * angle(j).sin() / (exponent - nodes[j]);
            }
            let sum: f64 = shares.iter().sum();
            shares.map(|share| share / sum)
        };
        let shares = exponents.iter().map(share).collect();
        Ok(Self { rows, nodes, shares })
    }

    pub(super) fn currents(&self, instant: &Instant, currents: &mut [f64]) {
        let mut absorbed = [0.0; NODES];
        for (value, node) in absorbed.iter_mut().zip(&self.nodes) {
            *value = instant.absorbed(*node);
        }
        for ((current, row), shares) in currents.iter_mut().zip(&self.rows).zip(&self.shares) {
            let between: f64 = shares.iter().zip(&absorbed).map(|(a, b)| a * b).sum();
            let [farads, siemens, absorbing] = row;
            *current = farads * instant.slope + siemens * instant.volts + absorbing * between;
        }
    }
}

/// Two halves of log-normal distributions that meet at the median.
pub(super) struct LogNormal {
    mid: f64,
    below: f64,
    above: f64,
}

impl LogNormal {
    pub(super) fn of(band: Band<f64>) -> Option<Self> {
        let rising = 0.0 < band.low && band.low <= band.mid && band.mid <= band.high;
        let z = normal_quantile(0.975);
        (rising && band.high.is_finite()).then(|| Self {
            mid: band.mid,
            below: (band.mid / band.low).ln() / z,
            above: (band.high / band.mid).ln() / z,
        })
    }

    pub(super) fn at(&self, z: f64) -> f64 {
        self.mid * (z * if z < 0.0 { self.below } else { self.above }).exp()
    }
}

/// A standard normal number that depends on nothing but its place: draw and column.
///
/// Source: the finaliser of Fast Splittable Pseudorandom Number Generators, OOPSLA 2014, over a
/// counter.
pub(super) fn normal(draw: usize, column: usize) -> f64 {
    let counter = (draw * 4 + column) as u64 + 1;
    let mut bits = counter.wrapping_mul(0x9e37_79b9_7f4a_7c15);
    bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    bits ^= bits >> 31;
    normal_quantile(((bits >> 11) as f64 + 0.5) / (1_u64 << 53) as f64)
}

/// The draws at the 2.5, 50 and 97.5 % places.
pub(super) fn percentiles(values: &mut [f64]) -> Band<f64> {
    let last = (values.len() - 1) as f64;
    let mut at = |share: f64| {
        let place = (share * last).round() as usize;
        *values.select_nth_unstable_by(place, f64::total_cmp).1
    };
    Band { low: at(0.025), mid: at(0.5), high: at(0.975) }
}
