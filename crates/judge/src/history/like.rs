//! Like with like: which readings of the years may be compared, brought to one temperature and one
//! voltage, and why the others may not.

use jiff::civil::Date;
use physics::temperature::correction;
use plan::job::Polarity;
use quantity::{Temperature, Voltage};
use standards::switchgear;
use standards::words::WindingState;

use super::test::{Factor, Figure, Read, Rule, Spoilt, Test};
use crate::brought::CORRECTED_TO;

/// Voltages that differ by no more than this part are like; beyond it an object need not conduct
/// in proportion. Common practice, no source.
const LIKE_VOLTAGE: f64 = 0.1;
/// Ages of readings that differ by no more than this part are like. Common practice, no source.
const LIKE_AGE: f64 = 0.1;
/// A number that goes by its logarithm and is off by more than this part of itself says no more
/// than its order of size. Common practice, no source.
const COARSE: f64 = 0.5;

/// Why a reading is not compared.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Why {
    Undated,
    Unread,
    NotMeasured,
    Measured,
    Void,
    BrokeDown,
    OtherObject,
    Repaired { on: Date },
    Polarity { was: Polarity },
    Connection,
    Voltage { was: Option<Voltage>, now: Option<Voltage> },
    Age { was_s: f64, now_s: f64 },
    NoTemperature,
    NoRule { was: Temperature, now: Temperature },
    OutsideRule { was: Temperature },
    NoDoubt,
    Coarse,
}

/// What all readings of a series are brought to.
#[derive(Clone, Debug)]
pub(crate) struct Common<'a> {
    pub(crate) test: &'a Test,
    pub(crate) read: &'a Read,
    /// The newest repair.
    pub(crate) repaired: Option<Date>,
    pub(crate) rule: Option<Rule>,
}

/// A reading as it is compared.
#[derive(Clone, Debug)]
pub(crate) struct Brought<'a> {
    pub(crate) test: &'a Test,
    pub(crate) read: &'a Read,
    pub(crate) on: Date,
    pub(crate) value: f64,
    /// Standard uncertainty.
    pub(crate) standard: f64,
    pub(crate) factor: f64,
}

impl<'a> Common<'a> {
    /// By the newest reading that can speak at all.
    pub(crate) fn of(tests: &[&'a Test], phase: &str, figure: Figure) -> Option<Self> {
        let reads = tests.iter().rev().filter_map(|test| Some((*test, test.read(phase, figure)?)));
        let mut fit = reads.filter(|(test, read)| spoilt(test, read).is_none());
        let (test, read) = fit.next()?;
        Some(Self { test, read, repaired: last_repair(tests), rule: test.rule() })
    }

    /// The temperature that readings are brought to; `None` where the figure needs none.
    pub(crate) fn to(&self) -> Option<Temperature> {
        match (self.read.figure, self.rule) {
            (Figure::PolarizationIndex, _) => None,
            (_, Some(Rule::Model(_))) => Some(CORRECTED_TO),
            (_, Some(Rule::Factors)) => Some(switchgear::FACTORS_TO),
            (_, None) => self.test.temperature,
        }
    }

    /// A reading of another day as it is compared, or why it is not.
    pub(crate) fn bring(&self, test: &'a Test) -> Result<Brought<'a>, Why> {
        let read = test.read(&self.read.phase, self.read.figure).ok_or(Why::Unread)?;
        if let Some(why) = spoilt(test, read) {
            return Err(why);
        }
        if test.kin != self.test.kin {
            return Err(Why::OtherObject);
        }
        let before = |repaired: &Date| test.on.is_some_and(|on| on < *repaired);
        if let Some(on) = self.repaired.filter(before) {
            return Err(Why::Repaired { on });
        }
        self.bring_read(test, read)
    }

    /// A reading of another conductor, or of an apparatus of another size, as it is compared.
    pub(crate) fn bring_like(&self, test: &'a Test, read: &'a Read) -> Option<Brought<'a>> {
        if spoilt(test, read).is_some() || !test.kin.is_like(&self.test.kin) {
            return None;
        }
        let mut brought = self.bring_read(test, read).ok()?;
        // Twice as long a cable has half the resistance and twice the current.
        let longer = test.kin.length_m.zip(self.test.kin.length_m);
        let longer = longer.map_or(1.0, |(there, here)| there / here);
        let scale = match read.figure {
            Figure::InsulationResistance => longer,
            Figure::PolarizationIndex => 1.0,
            Figure::Conduction => 1.0 / longer,
        };
        brought.value *= scale;
        brought.standard *= scale;
        Some(brought)
    }

    fn bring_read(&self, test: &'a Test, read: &'a Read) -> Result<Brought<'a>, Why> {
        let on = test.on.ok_or(Why::Undated)?;
        self.is_like(test, read)?;
        let expanded = read.expanded.filter(|one| *one > 0.0).ok_or(Why::NoDoubt)?;
        let standard = expanded / 2.0;
        if read.figure.is_logarithmic() && expanded > read.value * COARSE {
            return Err(Why::Coarse);
        }
        let (value, standard, factor) = self.corrected(test, read, standard)?;
        let scale = match (read.figure, read.volts, self.read.volts) {
            // A resistance is in proportion already; a current is brought there.
            (Figure::Conduction, Some(was), Some(now)) => now / was,
            _ => 1.0,
        };
        Ok(Brought {
            test,
            read,
            on,
            value: value * scale,
            standard: standard * scale,
            factor: factor * scale,
        })
    }

    fn is_like(&self, test: &Test, read: &Read) -> Result<(), Why> {
        if test.is_real() != self.test.is_real() {
            return Err(if test.is_real() { Why::Measured } else { Why::NotMeasured });
        }
        if test.polarity != self.test.polarity {
            return Err(Why::Polarity { was: test.polarity });
        }
        if test.connection != self.test.connection {
            return Err(Why::Connection);
        }
        if !alike(read.volts, self.read.volts, LIKE_VOLTAGE) {
            let [was, now] = [read.volts, self.read.volts].map(|one| one.map(Voltage::from_volts));
            return Err(Why::Voltage { was, now });
        }
        match (read.at_s, self.read.at_s) {
            (Some(was_s), Some(now_s)) if !alike(Some(was_s), Some(now_s), LIKE_AGE) => {
                Err(Why::Age { was_s, now_s })
            }
            _ => Ok(()),
        }
    }

    /// Value, standard uncertainty and factor at the common temperature.
    fn corrected(&self, test: &Test, read: &Read, standard: f64) -> Result<(f64, f64, f64), Why> {
        if read.figure == Figure::PolarizationIndex {
            return Ok((read.value, standard, 1.0));
        }
        let was = test.temperature.ok_or(Why::NoTemperature)?;
        let now = self.test.temperature.ok_or(Why::NoTemperature)?;
        match self.rule {
            // Without a rule only what was as warm, as far as thermometers tell, is like.
            None => {
                let apart = (was.celsius() - now.celsius()).abs();
                let within = test.within_k.max(self.test.within_k);
                let like = apart <= within + 1e-9;
                like.then_some((read.value, standard, 1.0)).ok_or(Why::NoRule { was, now })
            }
            Some(Rule::Model(model)) => {
                let rule = correction(model, was, CORRECTED_TO);
                let rule = rule.map_err(|_| Why::OutsideRule { was })?;
                let relative = rule.uncertainty(test.within_k / 3f64.sqrt()).value();
                Ok(by_factor(read, standard, rule.factor.value(), relative))
            }
            Some(Rule::Factors) => {
                let Factor { value, relative } = test.factor.ok_or(Why::OutsideRule { was })?;
                Ok(by_factor(read, standard, value, relative))
            }
        }
    }
}

/// The day of the first test after the newest repair. A winding keeps its state, so that only the
/// test at which it became repaired counts.
fn last_repair(tests: &[&Test]) -> Option<Date> {
    let repaired = |place: &usize| {
        let state = |test: &Test| test.winding_state == Some(WindingState::Repaired);
        let before = place.checked_sub(1).map(|before| state(tests[before]));
        tests[*place].after_repair || (state(tests[*place]) && before == Some(false))
    };
    (0..tests.len()).rev().find(repaired).and_then(|place| tests[place].on)
}

/// Value, standard uncertainty and factor; of a resistance the factor, of a current its inverse
/// (JCGM 100:2008, 5.1.2, uncorrelated).
fn by_factor(read: &Read, standard: f64, factor: f64, relative: f64) -> (f64, f64, f64) {
    let factor = if read.figure == Figure::Conduction { 1.0 / factor } else { factor };
    let value = read.value * factor;
    (value, (standard * factor).hypot(value * relative), factor)
}

/// Why a reading cannot speak for the object at all.
fn spoilt(test: &Test, read: &Read) -> Option<Why> {
    match read.spoilt {
        Some(Spoilt::BrokeDown) => Some(Why::BrokeDown),
        Some(Spoilt::Void) => Some(Why::Void),
        None if test.void => Some(Why::Void),
        None if test.on.is_none() => Some(Why::Undated),
        None => None,
    }
}

fn alike(one: Option<f64>, other: Option<f64>, part: f64) -> bool {
    match (one, other) {
        (Some(one), Some(other)) => (one - other).abs() <= other.abs() * part * (1.0 + 1e-9),
        (None, None) => true,
        _ => false,
    }
}
