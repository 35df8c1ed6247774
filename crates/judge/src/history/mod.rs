//! One apparatus over the years: like with like, the trend with its interval, what changed since
//! last time, what stands apart from its sisters.
//!
//! A history is a layer above findings. It is made from several of them and changes none: a verdict
//! stands on its record alone. There is no clock in it; it is told as of its newest test.

mod apart;
mod change;
mod compared;
mod fleet;
mod like;
mod series;
mod test;
mod trend;
mod words;

use jiff::civil::Date;
use plan::job::AssetClass;
use serde::{Deserialize, Serialize};
use session::Kind;
use standards::Library;

use crate::findings::{Finding, METHOD, Verdict};

pub use apart::Apart;
pub use fleet::{Due, Fastest, Nearest, Standing, rank};
pub use series::{Change, LeftOut, Limit, Point, Series, Under};
pub(crate) use test::Factor;
pub use test::{Figure, Test};
pub use trend::{At, PerYear, Reached, Trend};

/// An apparatus over the years.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct History {
    /// The owner's identifier.
    pub asset: String,
    /// Its class.
    pub class: Option<AssetClass>,
    /// The day of its newest test, which the history is told as of.
    pub as_of: Option<Date>,
    /// Edition of the method that compares.
    pub method: String,
    /// Every test, the oldest first.
    pub tests: Vec<Told>,
    /// Each figure of each conductor over the years.
    pub series: Vec<Series>,
    /// The newest test against the one before, a finding for each conductor.
    pub compared: Vec<Finding>,
    /// Each conductor of the newest test among the conductors of that test.
    pub sisters: Vec<Apart>,
    /// The same among all conductors of other apparatus like it.
    pub likes: Vec<Apart>,
    /// What every line of it rests on.
    pub notes: Vec<String>,
}

/// One test in short.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Told {
    /// The record's name.
    pub record: String,
    /// The day it was made.
    pub on: Option<Date>,
    /// How its record came to be.
    pub kind: Kind,
    /// What was found.
    pub verdict: Verdict,
    /// By which edition of the method.
    pub method: String,
}

/// The history of one apparatus from its tests, in any order.
///
/// - `tests` its own; `others` the newest test of each other apparatus that may be like it
#[must_use]
pub fn history(asset: &str, tests: &[&Test], others: &[&Test], library: &Library) -> History {
    let mut tests = tests.to_vec();
    tests.sort_by(|one, other| one.order().cmp(&other.order()));
    let series = series::of(&tests, library);
    let newest = tests.last().copied();
    History {
        asset: asset.to_owned(),
        class: newest.map(|test| test.class),
        as_of: newest.and_then(|test| test.on),
        method: METHOD.to_owned(),
        tests: tests.iter().map(|test| test.told()).collect(),
        compared: compared::findings(&tests, &series),
        sisters: newest.map_or_else(Vec::new, apart::among_sisters),
        likes: newest.map_or_else(Vec::new, |test| apart::among_likes(test, others)),
        notes: words::notes(&series),
        series,
    }
}

impl History {
    /// In words, a line each, what matters first.
    #[must_use]
    pub fn lines(&self) -> Vec<String> {
        let compared = self.compared.iter().map(|one| match &one.phase {
            Some(phase) => format!("{phase}: {}", one.text),
            None => one.text.clone(),
        });
        let trends = self.series.iter().map(|series| series.text.clone());
        let apart = self.sisters.iter().chain(&self.likes);
        let apart = apart.filter(|one| one.stands_apart).map(|one| one.text.clone());
        compared.chain(trends).chain(apart).collect()
    }
}
