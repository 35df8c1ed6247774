//! Where growing conduction would run away: the voltage that laws with an end are produced to.

use nalgebra::{Matrix3, Vector3};

use super::shape::parts;
use super::{EXPONENTS, NotSeparable, Point, Step};

/// How conduction may grow above an onset V₀ towards a voltage V_b at which it has no end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RunawayLaw {
    /// Resistance falls in a straight line to zero: i = G·V·(V_b − V₀)/(V_b − V).
    ResistanceToZero,
    /// The reciprocal of the excess falls to zero: i = G·V + B·(V − V₀)/(V_b − V).
    ReciprocalExcess,
    /// The same of its root: i = G·V + B·((V_b − V)⁻² − (V_b − V₀)⁻²).
    RootOfExcess,
}

impl RunawayLaw {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::ResistanceToZero, Self::ReciprocalExcess, Self::RootOfExcess];

    /// What stands in G's column and in B's, in parts of the highest voltage.
    fn grown(self, volts: f64, from: f64, end: f64) -> [f64; 2] {
        if volts <= from {
            return [volts, 0.0];
        }
        match self {
            Self::ResistanceToZero => [volts * (end - from) / (end - volts), 0.0],
            Self::ReciprocalExcess => [volts, (volts - from) / (end - volts)],
            Self::RootOfExcess => [volts, (end - volts).powi(-2) - (end - from).powi(-2)],
        }
    }
}

/// Where one law ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RunawayEnd {
    /// The law.
    pub law: RunawayLaw,
    /// V_b at 2.5, 50 and 97.5 %, `[V]`.
    pub volts: [f64; 3],
    /// Onset V₀ of the best fit, `[V]`.
    pub from_volts: f64,
    /// Weighted sum of squared residuals at the best.
    pub squares: f64,
    /// Whether the readings speak against every higher end; else the upper one is where the
    /// search stopped.
    pub is_bounded: bool,
}

/// What all laws together say.
#[derive(Clone, Debug, PartialEq)]
pub struct Runaway {
    /// 2.5, 50 and 97.5 %, `[V]`: the ends cover every law that the readings do not refute, and
    /// never fewer than two.
    pub volts: [f64; 3],
    /// The laws it covers, the best one first.
    pub ends: Vec<RunawayEnd>,
    /// Whether every one of these is bounded.
    pub is_bounded: bool,
}

/// Why no end can be told.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum NoRunaway {
    /// The readings cannot be used.
    #[error(transparent)]
    Readings(#[from] NotSeparable),
    /// Conduction turns up, and no law bounds where that would end.
    #[error(
        "the readings do not tell where it would end: at least {0} levels above the turn, read to \
         one digit more, would"
    )]
    NoEnd(usize),
}

/// Ends are looked for from the nearest to the furthest, in parts of the highest voltage above it.
const REACH: (f64, f64) = (0.004, 2.0);
const PLACES: usize = 72;
/// Exponents of the absorption that are tried at every place.
const TRIES: usize = 8;
/// Most onsets that are tried.
const ONSETS: usize = 16;
/// Levels above the turn that tell an end apart.
const WANTED_ABOVE: usize = 3;
/// A law is refuted when the readings are less likely by this than by the best one.
const REFUTED: f64 = 0.05;
/// Half the squares, over their scatter, by which both ends of 95 % lie below the best.
const BOUND: f64 = 1.92;

/// Where conduction that grows above an onset would run away, by each of several laws and by all.
///
/// - `points` readings at the levels; `steps` changes of voltage in order of time
/// - returns V_b `[V]`, above the highest voltage read and at most three times that
///
/// Each law of [`RunawayLaw`] beside A·Σ (ΔV_k/ΔV_1)·((t − t_k)/60 s)⁻ⁿ, no coefficient below
/// zero. The likelihood along V_b is that of the best V₀ and n; before the readings every power of
/// ten of V_b less the highest voltage is as likely.
///
/// # Source
/// That the curve of resistance is produced to zero, or that of current to the vertical: IEEE 95,
/// from memory, unverified, and no number is published. Likelihood along one parameter: derived.
///
/// # Errors
/// When the readings cannot be used, or no law has an end that they bound.
///
/// ```
/// use physics::fit::{Point, Step, fit_runaway};
/// // Derived: 10 GΩ up to 10 kV, then a resistance that would be zero at 25 kV.
/// let mut steps = Vec::new();
/// let mut points = Vec::new();
/// for k in 1..=20 {
///     let (at_s, volts) = (60.0 * f64::from(k), 1e3 * f64::from(k));
///     steps.push(Step { at_s: at_s - 60.0, volts: 1e3, over_s: 0.0 });
///     let grown = if volts > 10e3 { 15e3 / (25e3 - volts) } else { 1.0 };
///     let amperes = 1e-10 * volts * grown;
///     points.push(Point { at_s, volts, amperes, sigma: 0.003 * amperes });
/// }
/// let found = fit_runaway(&points, &steps).expect("ten levels above");
/// assert!(found.volts[0] < 25e3 && 25e3 < found.volts[2]);
/// // Onsets are tried between the levels, so that the law itself is met to 2 %.
/// let end = found.ends[0].volts;
/// assert!(end[0] < 25e3 && 25e3 < end[2] && (end[1] - 25e3).abs() < 0.5e3);
/// ```
pub fn fit_runaway(points: &[Point], steps: &[Step]) -> Result<Runaway, NoRunaway> {
    let seen = Seen::of(points, steps)?;
    let freedom = points.len().saturating_sub(5).max(1) as f64;
    let mut profiles: Vec<Profile> =
        RunawayLaw::ALL.into_iter().map(|law| Profile::of(law, &seen)).collect();
    profiles.sort_by(|a, b| a.squares().total_cmp(&b.squares()));
    let best = profiles[0].squares();
    // Scatter beyond the stated uncertainty widens the ends; less of it does not narrow them.
    let variance = (best / freedom).max(1.0);
    let weight = |profile: &Profile| (0.5 * (best - profile.squares()) / variance).exp();
    let stands = |(place, profile): &(usize, &Profile)| *place < 2 || weight(profile) > REFUTED;
    let covered: Vec<&Profile> =
        profiles.iter().enumerate().filter(stands).map(|(_, profile)| profile).collect();
    let ends: Vec<RunawayEnd> =
        covered.iter().map(|profile| profile.end(seen.top, variance)).collect();
    if !ends.iter().any(|end| end.is_bounded) {
        return Err(NoRunaway::NoEnd(WANTED_ABOVE));
    }
    let of = |pick: fn(f64, f64) -> f64, place: usize| {
        ends.iter().map(|end| end.volts[place]).reduce(pick).unwrap_or(f64::NAN)
    };
    let mut together = vec![0.0; PLACES];
    for profile in &covered {
        let share = weight(profile);
        for (sum, part) in together.iter_mut().zip(profile.likelihood(variance)) {
            *sum += share * part;
        }
    }
    let middle = quantile(&together, 0.5) * seen.top;
    let volts = [of(f64::min, 0), middle, of(f64::max, 2)];
    Ok(Runaway { volts, is_bounded: ends.iter().all(|end| end.is_bounded), ends })
}

/// Readings ready for fitting; currents and shapes are times the root of their weight.
struct Seen {
    top: f64,
    /// Voltage in parts of the highest, root of the weight, current.
    rows: Vec<[f64; 3]>,
    /// For each exponent what absorption multiplies, a reading each.
    shapes: Vec<Vec<f64>>,
    onsets: Vec<f64>,
}

impl Seen {
    fn of(points: &[Point], steps: &[Step]) -> Result<Self, NotSeparable> {
        const NEEDED: usize = 6;
        if points.len() < NEEDED {
            return Err(NotSeparable::TooFew { needed: NEEDED, given: points.len() });
        }
        let is_usable = |point: &Point| {
            [point.at_s, point.volts, point.amperes, point.sigma].iter().all(|x| x.is_finite())
                && point.sigma > 0.0
                && point.volts > 0.0
        };
        if let Some(bad) = points.iter().position(|point| !is_usable(point)) {
            return Err(NotSeparable::Unusable(bad));
        }
        let top = points.iter().fold(0.0, |top: f64, point| top.max(point.volts));
        let rows = points
            .iter()
            .map(|point| [point.volts / top, point.sigma.recip(), point.amperes / point.sigma]);
        let step = (EXPONENTS.1 / EXPONENTS.0).ln() / (TRIES - 1) as f64;
        let exponents = (0..TRIES).map(|k| EXPONENTS.0 * (step * k as f64).exp());
        let parts = points.iter().map(|point| parts(steps, point.at_s));
        let parts = parts.collect::<Result<Vec<_>, _>>()?;
        let shapes = exponents.map(|exponent| {
            let each = parts.iter().zip(points);
            each.map(|(parts, point)| {
                parts.iter().map(|part| part.at(exponent).value).sum::<f64>() / point.sigma
            })
            .collect()
        });
        Ok(Self {
            top,
            rows: rows.collect(),
            shapes: shapes.collect(),
            onsets: onsets(points, top),
        })
    }

    /// Least squares for a law, an onset and an end, over all exponents.
    fn squares(&self, law: RunawayLaw, from: f64, end: f64) -> f64 {
        let grown: Vec<[f64; 2]> = self
            .rows
            .iter()
            .map(|[volts, root, _]| law.grown(*volts, from, end).map(|part| part * root))
            .collect();
        let of = |shape: &Vec<f64>| {
            let mut normal = Matrix3::zeros();
            let mut right = Vector3::zeros();
            let mut whole = 0.0;
            for ((row, grown), shape) in self.rows.iter().zip(&grown).zip(shape) {
                let columns = Vector3::new(grown[0], grown[1], *shape);
                normal += columns * columns.transpose();
                right += columns * row[2];
                whole += row[2] * row[2];
            }
            left(&normal, &right, whole)
        };
        self.shapes.iter().map(of).fold(f64::INFINITY, f64::min)
    }
}

/// Levels below the highest, and halfway between them, in parts of the highest.
fn onsets(points: &[Point], top: f64) -> Vec<f64> {
    let mut levels: Vec<f64> = points.iter().map(|point| point.volts / top).collect();
    levels.sort_by(f64::total_cmp);
    levels.dedup_by(|above, below| *above - *below < 0.02);
    let mut onsets: Vec<f64> = Vec::new();
    for pair in levels.windows(2) {
        onsets.extend([pair[0], 0.5 * (pair[0] + pair[1])]);
    }
    // One level above the onset alone fits any law.
    onsets.truncate(onsets.len().saturating_sub(2).max(1));
    let every = onsets.len().div_ceil(ONSETS).max(1);
    onsets.into_iter().rev().step_by(every).collect()
}

/// What three columns leave of the squares, no coefficient below zero.
fn left(normal: &Matrix3<f64>, right: &Vector3<f64>, whole: f64) -> f64 {
    // Mostly all of them are above zero, and then that is the least.
    if let Some(solved) = normal.cholesky().map(|lower| lower.solve(right))
        && solved.iter().all(|term| *term >= 0.0)
    {
        return (whole - solved.dot(right)).max(0.0);
    }
    let mut best = whole;
    for used in 1..7_usize {
        let free = |k: usize| used >> k & 1 == 1;
        let mut part = *normal;
        let mut of = *right;
        for k in (0..3).filter(|&k| !free(k)) {
            part.set_row(k, &nalgebra::RowVector3::zeros());
            part.set_column(k, &Vector3::zeros());
            part[(k, k)] = 1.0;
            of[k] = 0.0;
        }
        let Some(solved) = part.cholesky().map(|lower| lower.solve(&of)) else { continue };
        if solved.iter().all(|term| *term >= 0.0) {
            best = best.min(whole - solved.dot(&of));
        }
    }
    best.max(0.0)
}

/// One law's least squares along its end.
struct Profile {
    law: RunawayLaw,
    squares: Vec<f64>,
    from: f64,
}

/// An end, in parts of the highest voltage.
fn place(k: f64) -> f64 {
    let (low, high) = (REACH.0.ln(), REACH.1.ln());
    1.0 + (low + (high - low) * k / (PLACES - 1) as f64).exp()
}

impl Profile {
    fn of(law: RunawayLaw, seen: &Seen) -> Self {
        let mut best = (f64::INFINITY, seen.onsets.first().copied().unwrap_or(0.0));
        let mut least = |k: usize| {
            let end = place(k as f64);
            let each = seen.onsets.iter().map(|&from| (seen.squares(law, from, end), from));
            let here = each.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or(best);
            if here.0 < best.0 {
                best = here;
            }
            here.0
        };
        let squares = (0..PLACES).map(&mut least).collect();
        Self { law, squares, from: best.1 }
    }

    fn squares(&self) -> f64 {
        self.squares.iter().copied().fold(f64::INFINITY, f64::min)
    }

    /// Relative, one at its highest.
    fn likelihood(&self, variance: f64) -> Vec<f64> {
        let least = self.squares();
        self.squares.iter().map(|squares| (0.5 * (least - squares) / variance).exp()).collect()
    }

    fn end(&self, top: f64, variance: f64) -> RunawayEnd {
        let likelihood = self.likelihood(variance);
        let last = likelihood.last().copied().unwrap_or(1.0);
        RunawayEnd {
            law: self.law,
            volts: [0.025, 0.5, 0.975].map(|share| quantile(&likelihood, share) * top),
            from_volts: self.from * top,
            squares: self.squares(),
            is_bounded: last < (-BOUND).exp(),
        }
    }
}

/// Where this share of the whole lies below, between two places by a straight line.
fn quantile(likelihood: &[f64], share: f64) -> f64 {
    let pieces: Vec<f64> = likelihood.windows(2).map(|two| 0.5 * (two[0] + two[1])).collect();
    let wanted = share * pieces.iter().sum::<f64>();
    let mut below = 0.0;
    for (k, piece) in pieces.iter().enumerate() {
        if below + piece >= wanted && *piece > 0.0 {
            return place(k as f64 + (wanted - below) / piece);
        }
        below += piece;
    }
    place((PLACES - 1) as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// About normal, by the sum of twelve; always the same for a seed.
    struct Noise(u64);

    impl Noise {
        fn next(&mut self) -> f64 {
            let mut sum = -6.0;
            for _ in 0..12 {
                self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
                sum += (self.0 >> 11) as f64 / (1_u64 << 53) as f64;
            }
            sum
        }
    }

    const TOP: f64 = 29e3;

    /// Ten minutes at 10 kV, then steps of 1 kV a minute, half a per cent off.
    fn course(law: RunawayLaw, end: f64, seed: u64) -> (Vec<Point>, Vec<Step>) {
        let mut noise = Noise(seed * 7919 + 13);
        let mut steps = vec![Step { at_s: 0.0, volts: 10e3, over_s: 0.0 }];
        steps.extend((0..19).map(|k| Step {
            at_s: 600.0 + 60.0 * f64::from(k),
            volts: 1e3,
            over_s: 0.0,
        }));
        let ages = [19.0, 60.0, 190.0, 600.0].into_iter();
        let ages = ages.chain((1..=19).map(|k| 600.0 + 60.0 * f64::from(k)));
        let points = ages
            .map(|at_s: f64| {
                let before = steps.iter().filter(|step| step.at_s < at_s);
                let volts: f64 = before.clone().map(|step| step.volts).sum();
                let absorbed: f64 = before
                    .map(|step| step.volts * 2e-10 * ((at_s - step.at_s) / 60.0).powf(-0.8))
                    .sum();
                let [straight, excess] = law.grown(volts / TOP, 18e3 / TOP, end / TOP);
                let amperes = 1e-10 * TOP * (straight + 0.4 * excess) + absorbed;
                let sigma = 0.005 * amperes;
                Point { at_s, volts, amperes: amperes + sigma * noise.next(), sigma }
            })
            .collect();
        (points, steps)
    }

    #[test]
    fn the_ends_hold_what_made_the_readings() {
        // Derived: of 40 draws of each law, 95 % at least lie between the ends, which cover other
        // laws as well; 34 allow for chance, more than three standard deviations of that count.
        for law in RunawayLaw::ALL {
            let mut held = 0;
            for seed in 0..40 {
                let end = 31e3 + 200.0 * seed as f64;
                let (points, steps) = course(law, end, seed);
                if let Ok(found) = fit_runaway(&points, &steps) {
                    assert!(found.ends.len() >= 2 && found.volts[0] > TOP);
                    assert!(found.volts.is_sorted(), "{:?}", found.volts);
                    held += i32::from(found.volts[0] <= end && end <= found.volts[2]);
                } else {
                    held += 1;
                }
            }
            assert!(held >= 34, "{law:?}: {held} of 40");
        }
    }

    #[test]
    fn a_straight_line_has_no_end() {
        for seed in 0..10 {
            let (points, steps) = course(RunawayLaw::ReciprocalExcess, 1e9, seed);
            let found = fit_runaway(&points, &steps);
            assert_eq!(found, Err(NoRunaway::NoEnd(WANTED_ABOVE)), "{seed}");
        }
        let (points, steps) = course(RunawayLaw::ReciprocalExcess, 33e3, 1);
        let few = fit_runaway(&points[..3], &steps);
        assert!(matches!(few, Err(NoRunaway::Readings(NotSeparable::TooFew { .. }))));
    }
}
