//! Which conductor stands apart from its sisters, or from those of like apparatus.
//!
//! # Source
//! Distance from the median in units of 1.4826 times the median absolute deviation, and 3.5 of
//! these as what stands apart: NIST/SEMATECH e-Handbook, 1.3.5.17 (modified Z-score), from memory,
//! unverified. Here the measurement's own doubt joins the deviation, so that three conductors that
//! happen to read alike make no outlier of one that differs by less than the meters can tell.

use quantity::edge::twelve_digits;
use serde::{Deserialize, Serialize};

use super::like::{Brought, Common};
use super::test::{Figure, Test};
use super::words;

/// One conductor among others.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Apart {
    /// Which figure.
    pub figure: Figure,
    /// Which conductor.
    pub phase: String,
    /// Its value.
    pub value: f64,
    /// Unit of the value and the median.
    pub unit: Option<String>,
    /// The middle of all that it is seen among.
    pub median_value: f64,
    /// How many that are.
    pub number: usize,
    /// Their robust spread, as a part of the median.
    pub spread_percent: f64,
    /// How far it is from the median, in robust deviations joined by its own doubt; below zero it
    /// is the lower one.
    pub deviations_number: f64,
    /// Whether that is further than chance allows.
    pub stands_apart: bool,
    /// In words.
    pub text: String,
}

/// What makes the median absolute deviation that of a normal distribution.
const NORMAL: f64 = 1.4826;
/// Beyond so many deviations it stands apart.
const APART: f64 = 3.5;
/// Of fewer it cannot be said which is the odd one.
const LEAST: usize = 3;

/// Each conductor of a test among all of that test.
pub(crate) fn among_sisters(test: &Test) -> Vec<Apart> {
    among(test, &[test], words::among_sisters)
}

/// Each conductor of a test among those of other apparatus like it.
pub(crate) fn among_likes(test: &Test, others: &[&Test]) -> Vec<Apart> {
    among(test, others, words::among_likes)
}

fn among(test: &Test, others: &[&Test], words: fn(&Apart) -> String) -> Vec<Apart> {
    let mut found = Vec::new();
    for read in &test.reads {
        let Some(common) = Common::of(&[test], &read.phase, read.figure) else { continue };
        let Ok(own) = common.bring(test) else { continue };
        let mut values: Vec<f64> = Vec::new();
        for other in others {
            let like = other.reads.iter().filter(|one| one.figure == read.figure);
            let brought = like.filter_map(|one| common.bring_like(other, one));
            values.extend(brought.map(|one| one.value));
        }
        if let Some(apart) = one(&own, &values) {
            found.push(Apart { text: words(&apart), ..apart });
        }
    }
    found
}

fn one(own: &Brought<'_>, values: &[f64]) -> Option<Apart> {
    let figure = own.read.figure;
    let log = figure.is_logarithmic();
    if values.len() < LEAST || log && values.iter().any(|value| *value <= 0.0) {
        return None;
    }
    let scaled = |value: f64| if log { value.ln() } else { value };
    let mut all: Vec<f64> = values.iter().copied().map(scaled).collect();
    let middle = median(&mut all);
    let mut away: Vec<f64> = all.iter().map(|value| (value - middle).abs()).collect();
    let spread = NORMAL * median(&mut away);
    let doubt = own.standard / if log { own.value } else { 1.0 };
    let deviations = (scaled(own.value) - middle) / spread.hypot(doubt);
    let plain = if log { middle.exp() } else { middle };
    let relative = if log { spread } else { spread / plain.abs().max(f64::MIN_POSITIVE) };
    Some(Apart {
        figure,
        phase: own.read.phase.clone(),
        value: twelve_digits(own.value),
        unit: Some(figure.unit().to_owned()).filter(|unit| !unit.is_empty()),
        median_value: twelve_digits(plain),
        number: values.len(),
        spread_percent: twelve_digits(relative * 100.0),
        deviations_number: twelve_digits(deviations),
        stands_apart: deviations.abs() > APART,
        text: String::new(),
    })
}

/// The middle one, or the mean of the two in the middle.
fn median(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    let half = values.len() / 2;
    if values.len() % 2 == 1 { values[half] } else { (values[half - 1] + values[half]) / 2.0 }
}
