//! Uncertainty of a result: a budget of inputs carried to first and second order by JCGM 100, and
//! by draws by JCGM 101.
//!
//! - `input`: one quantity with its standard uncertainty and the shape of what it may be.
//! - `budget`: the inputs together, their correlations, and what they make of a result.
//! - `coverage`: effective degrees of freedom and coverage factors.
//! - `draws`: the distribution of a result itself, with exact quantiles, for any number of threads.
//! - `check`: first order where the draws bear it out, and the draws where they do not.
//! - `uniform`, `quantile`: numbers that depend on nothing but their place, and their shapes.

mod budget;
mod check;
mod coverage;
mod draws;
mod input;
mod quantile;
mod uniform;

pub use budget::{Budget, BudgetError, Contribution, Evaluated, Order};
pub use check::{Check, Propagated, Way, propagate, tolerance_of};
pub use coverage::{coverage_factor, effective_freedom};
pub use draws::{Drawn, Sampling, draw, shortest};
pub use input::{Input, Shape};
