//! Objects drawn from a range, and the currents of all of them at once.

use quantity::{Band, Capacitance, Resistance};
use statrs::distribution::{ContinuousCDF, Normal};

use super::instant::Instant;
use super::{CourseError, ObjectRange, RangeOf};

/// Interpolation between exponents is off by no more than this part of the absorption current.
const BETWEEN_NODES: f64 = 1e-9;

/// More nodes than this would cost more than the currents themselves.
const MOST_NODES: usize = 64;

/// Objects drawn from a range, as columns.
pub(super) struct Draws {
    farads: Vec<f64>,
    siemens: Vec<f64>,
    /// C·K·pivot⁻ⁿ.
    absorbing: Vec<f64>,
    /// Ages are told in parts of this, so that e^(−n·ln(age)) bends as little as it can.
    pivot: f64,
    /// Exponents at which absorption is reckoned.
    nodes: Vec<f64>,
    /// For each node its share in each draw.
    shares: Vec<Vec<f64>>,
}

impl Draws {
    /// So many objects, for the instants at which their currents will be asked for.
    pub(super) fn of(
        range: &ObjectRange,
        draws: usize,
        instants: &[Instant],
    ) -> Result<Self, CourseError> {
        let spread = |band, of| LogNormal::of(band).ok_or(CourseError::Band(of));
        let capacitance = spread(range.capacitance.map(Capacitance::farads), RangeOf::Capacitance)?;
        let insulation = spread(range.insulation.map(Resistance::ohms), RangeOf::Insulation)?;
        let strength = spread(range.strength, RangeOf::Strength)?;
        let exponent = spread(range.exponent, RangeOf::Exponent)?;
        let extent = spread(range.extent, RangeOf::Extent)?;
        let extents: Vec<f64> = (0..draws).map(|k| extent.at(normal(k, EXTENT))).collect();
        let column = |of: &dyn Fn(usize) -> f64| (0..draws).map(of).collect::<Vec<f64>>();
        let farads = column(&|k| extents[k] * capacitance.at(normal(k, 0)));
        let siemens = column(&|k| extents[k] / insulation.at(normal(k, 1)));
        let exponents = column(&|k| exponent.at(normal(k, 3)));
        let ages = instants.iter().filter_map(Instant::ages);
        let (youngest, oldest) =
            ages.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1))).unwrap_or((1.0, 1.0));
        let pivot = (youngest * oldest).sqrt();
        let absorbing =
            column(&|k| farads[k] * strength.at(normal(k, 2)) * pivot.powf(-exponents[k]));
        let (nodes, shares) = shared(&exponents, (oldest / pivot).ln())?;
        Ok(Self { farads, siemens, absorbing, pivot, nodes, shares })
    }

    pub(super) fn currents(&self, instant: &Instant, currents: &mut [f64]) {
        currents.fill(0.0);
        for (node, shares) in self.nodes.iter().zip(&self.shares) {
            let absorbed = instant.absorbed(*node, self.pivot);
            for (current, share) in currents.iter_mut().zip(shares) {
                *current += share * absorbed;
            }
        }
        let columns = self.farads.iter().zip(&self.siemens).zip(&self.absorbing);
        for (current, ((farads, siemens), absorbing)) in currents.iter_mut().zip(columns) {
            *current = farads * instant.slope + siemens * instant.volts + absorbing * *current;
        }
    }
}

/// Chebyshev nodes over these exponents, as many as ages of ±`reach` in their logarithm need, and
/// the share of each node in each exponent.
///
/// The N-th derivative of Σ w·e^(−n·s) is at most reach^N times the sum at one end, so on a half
/// width h the interpolation is off by no more than 2·(reach·h/2)^N/N!·e^(2·reach·h) of the sum.
fn shared(exponents: &[f64], reach: f64) -> Result<(Vec<f64>, Vec<Vec<f64>>), CourseError> {
    let low = exponents.iter().copied().fold(f64::INFINITY, f64::min);
    let high = exponents.iter().copied().fold(0.0, f64::max);
    let (middle, half) = (0.5 * (low + high), 0.5 * (high - low));
    let width = half * reach;
    let mut bound = 2.0 * (2.0 * width).exp();
    let enough = (1..=MOST_NODES).find(|&count| {
        bound *= 0.5 * width / count as f64;
        bound <= BETWEEN_NODES
    });
    let count = enough.ok_or(CourseError::Exponents { low, high })?;
    let angle = |j: usize| (2 * j + 1) as f64 * std::f64::consts::PI / (2 * count) as f64;
    let nodes: Vec<f64> = (0..count).map(|j| middle + half * angle(j).cos()).collect();
    // Barycentric.
    let sign = |j: usize| if j.is_multiple_of(2) { 1.0 } else { -1.0 };
    let weights: Vec<f64> = (0..count).map(|j| sign(j) * angle(j).sin()).collect();
    let mut shares = vec![vec![0.0; exponents.len()]; count];
    for (k, exponent) in exponents.iter().enumerate() {
        if let Some(j) = nodes.iter().position(|node| node == exponent) {
            shares[j][k] = 1.0;
            continue;
        }
        let mut sum = 0.0;
        for ((node, weight), shares) in nodes.iter().zip(&weights).zip(&mut shares) {
            shares[k] = weight / (exponent - node);
            sum += shares[k];
        }
        shares.iter_mut().for_each(|shares| shares[k] /= sum);
    }
    Ok((nodes, shares))
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
        let z = Normal::standard().inverse_cdf(0.975);
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

/// Column of the draws of what capacitance and insulation share.
pub(super) const EXTENT: usize = 4;

/// A standard normal number that depends on nothing but its place: draw and column.
///
/// Source: the finaliser of Fast Splittable Pseudorandom Number Generators, OOPSLA 2014, over a
/// counter.
pub(super) fn normal(draw: usize, column: usize) -> f64 {
    let counter = (draw * (EXTENT + 1) + column) as u64 + 1;
    let mut bits = counter.wrapping_mul(0x9e37_79b9_7f4a_7c15);
    bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    bits ^= bits >> 31;
    Normal::standard().inverse_cdf(((bits >> 11) as f64 + 0.5) / (1_u64 << 53) as f64)
}

/// The draws at the ends of the 95 % of them in the middle, and the middle one, by selection.
///
/// Source: JCGM 101:2008, 7.7.2, the probabilistically symmetric interval.
pub(super) fn percentiles(values: &mut [f64]) -> Band<f64> {
    let count = values.len();
    // The integer part of 0.95·M + 1/2, and half of the rest to either side.
    let inside = (95 * count + 50) / 100;
    let low = (count - inside).div_ceil(2) - 1;
    let (middle, high) = (count / 2, low + inside);
    let (below, mid, above) = values.select_nth_unstable_by(middle, f64::total_cmp);
    Band {
        low: *below.select_nth_unstable_by(low, f64::total_cmp).1,
        mid: *mid,
        high: *above.select_nth_unstable_by(high - middle - 1, f64::total_cmp).1,
    }
}
