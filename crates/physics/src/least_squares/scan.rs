//! A look over the ranges of the parameters in which a model bends, the linear ones solved at each
//! place, and down from the best of them.

use super::Parameter;
use super::descent::{self, Landing};
use super::problem::Problem;

/// Places looked at for each parameter that bends.
const PLACES: usize = 300;

/// Ways down that are tried.
const WAYS: usize = 6;

/// Two places are apart when one parameter differs by more than this part of its range.
const APART: f64 = 0.06;

/// Decades to either side of a start without bounds.
const DECADES: f64 = 3.0;

/// Where one parameter is looked for.
#[derive(Clone, Copy)]
enum Range {
    /// Evenly between two values.
    Even(f64, f64),
    /// Decades to either side of a distance from some value, closer together near the middle.
    Decades { from: f64, middle: f64 },
}

impl Range {
    fn of(parameter: &Parameter, middle: f64) -> Self {
        let (low, high) = parameter.bounds;
        let from = match (low.is_finite(), high.is_finite()) {
            (true, true) => return Self::Even(low, high),
            (true, false) => low,
            (false, true) => high,
            (false, false) => 0.0,
        };
        Self::Decades { from, middle: if middle == from { 1.0 } else { middle - from } }
    }

    fn at(self, share: f64) -> f64 {
        match self {
            Self::Even(low, high) => low + (high - low) * share,
            Self::Decades { from, middle } => {
                from + middle * 10.0_f64.powf(DECADES * (2.0 * share - 1.0).powi(3))
            }
        }
    }
}

/// A place looked at.
struct Place {
    squares: f64,
    /// Where in each range it lies.
    shares: Vec<f64>,
    at: Vec<f64>,
}

/// Where the ways down from the best places about `middle` end.
pub(super) fn ways<M>(problem: &Problem<M>, middle: &[f64], round: usize) -> Vec<Landing>
where
    M: Fn(usize, &[f64], &mut [f64]) -> f64,
{
    let mut places = places(problem, middle, round);
    places.sort_by(|a, b| a.squares.total_cmp(&b.squares));
    let mut taken: Vec<Place> = Vec::new();
    for place in places {
        let apart = |other: &Place| {
            place.shares.iter().zip(&other.shares).any(|(a, b)| (a - b).abs() > APART)
        };
        if taken.iter().all(apart) {
            taken.push(place);
        }
        if taken.len() == WAYS {
            break;
        }
    }
    taken.iter().filter_map(|place| descent::down(problem, &place.at)).collect()
}

/// Every place where the model has a value, the linear parameters at their best.
fn places<M>(problem: &Problem<M>, middle: &[f64], round: usize) -> Vec<Place>
where
    M: Fn(usize, &[f64], &mut [f64]) -> f64,
{
    let (bending, linear) = problem.kinds();
    let range = |&j: &usize| Range::of(&problem.parameters[j], middle[j]);
    let ranges: Vec<Range> = bending.iter().map(range).collect();
    let steps = even_steps(bending.len());
    let count = PLACES * bending.len();
    let look = |place: usize| {
        // The first is the middle itself.
        let share = |step: &f64| (0.5 + step * place as f64).fract();
        let shares: Vec<f64> = steps.iter().map(share).collect();
        let mut at = problem.start();
        for ((&j, range), &share) in bending.iter().zip(&ranges).zip(&shares) {
            at[j] = range.at(share);
        }
        let squares = problem.solve(&linear, &mut at)?;
        Some(Place { squares, shares, at })
    };
    // Each round goes on where the one before ended.
    (round * count..(round + 1) * count).filter_map(look).collect()
}

/// Steps of an additive recurrence that fills the unit cube evenly: powers of 1/φ, where φ is the
/// root above one of φ^(d+1) = φ + 1. Common practice, no source.
fn even_steps(dimensions: usize) -> Vec<f64> {
    let mut root = 2.0_f64;
    for _ in 0..64 {
        root = (1.0 + root).powf(1.0 / (dimensions as f64 + 1.0));
    }
    (1..=dimensions as i32).map(|power| root.powi(-power)).collect()
}
