//! A factor of a thousand between what a meter gives and what can be: a unit that was set or typed
//! wrong. It is said and recorded; nothing is corrected, for it may be true.

use quantity::edge::twelve_digits;
use quantity::{Band, Current, Voltage};

use super::course::Course;
use super::standing::Standing;
use crate::record::SourceNews;
use crate::state::State;

/// Units differ by this, or by its square.
const UNIT: f64 = 1e3;
/// More than this many times what the set can give, no set gives. Common practice, no source.
const IMPOSSIBLE: f64 = 2.0;
/// A value so many times beyond what is expected lies nearer to a slip than to an expected one:
/// about the root of a thousand (derived).
const APART: f64 = 30.0;
/// And would lie within this many times of it, were it a slip. Common practice, no source.
const NEAR: f64 = 3.0;
/// A level is told apart from its thousandth within this part. Common practice, no source.
const AT_LEVEL: f64 = 0.2;
/// A voltage that falls to its thousandth within this part, while the current stays within that
/// one, is the meter's unit: what breaks down or is cut takes the current with it. Common practice,
/// no source.
const SAME_VOLTAGE: f64 = 0.03;
const SAME_CURRENT: f64 = 0.3;
/// A meter shows it so often on end before it is said. Common practice, no source.
const ON_END: u32 = 3;

/// What was seen so far of one quantity.
#[derive(Clone, Copy, Debug, Default)]
struct Watch {
    on_end: u32,
    /// It was said, and no reading since was as expected.
    said: bool,
    /// A reading was as expected: what is a thousand times off after that is no slip.
    fits: bool,
}

/// How one reading stands to what can be and what is expected.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Looks {
    /// Nothing can be said of it.
    Open,
    /// As expected.
    Fits,
    /// This factor would bring it there.
    Slip { times: f64 },
    /// The same, and it was told apart from what fitted before.
    Fell,
    /// The same, and what it says no set can give.
    Impossible { times: f64 },
}

/// What is watched for slips.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Slips {
    voltage: Watch,
    current: Watch,
    /// Kilovolts of the last reading that fitted, and the microamperes that went on since.
    before: Option<(f64, f64)>,
    /// The voltage fell to a thousandth of that, and the current did not.
    fell: bool,
}

impl Slips {
    /// Takes a reading of this conductor; gives what is to be said of it. Of what was typed each
    /// one is said, for each may be a slip of its own.
    pub(super) fn take(
        &mut self,
        course: &Course,
        one: &Standing,
        voltage: Option<Voltage>,
        current: Option<Current>,
        typed: bool,
    ) -> Vec<SourceNews> {
        let kv = voltage.map(|voltage| twelve_digits(voltage.abs().kilovolts()));
        let ua = current.map(|current| twelve_digits(current.abs().microamperes()));
        let volts = kv.map(|kv| of_voltage(course, one, kv));
        if volts == Some(Looks::Fits) {
            self.before = kv.zip(ua.filter(|ua| *ua > 0.0));
        }
        let amps = ua.map(|ua| of_current(course, one, ua));
        let fell = kv.filter(|_| self.fell).map(|_| Looks::Fell);
        let volts = fell.or(volts);
        let mut said = Vec::new();
        if let Some(times) = volts.and_then(|looks| self.voltage.take(looks, typed)) {
            said.push(SourceNews::Slip { kv, ua: None, times });
        }
        if let Some(times) = amps.and_then(|looks| self.current.take(looks, typed)) {
            said.push(SourceNews::Slip { kv: None, ua, times });
        }
        said
    }

    /// Whether the voltage fell to its thousandth while the current goes on: nothing is made of
    /// such a voltage. Each reading comes here before it is taken.
    pub(super) fn fell(&mut self, voltage: Option<Voltage>, current: Option<Current>) -> bool {
        let (Some(kv), Some((kv_before, ua_before))) = (voltage, self.before) else {
            self.fell &= voltage.is_none();
            return self.fell;
        };
        let same = |ratio: f64, part: f64| (ratio - 1.0).abs() <= part;
        let thousandth = same(kv.abs().kilovolts() * UNIT / kv_before, SAME_VOLTAGE);
        let ua = current.map(|current| current.abs().microamperes());
        let goes_on = ua.map_or(self.fell, |ua| same(ua / ua_before, SAME_CURRENT));
        self.fell = thousandth && goes_on;
        if self.fell {
            self.before = Some((kv_before, ua.unwrap_or(ua_before)));
        }
        self.fell
    }

    /// Another meter, range or unit: what was seen before says nothing any more.
    pub(super) fn forget(&mut self) {
        *self = Self::default();
    }

    /// Whether a slip was said and stands.
    pub(super) const fn stands(&self) -> bool {
        self.voltage.said || self.current.said
    }
}

impl Watch {
    fn take(&mut self, looks: Looks, typed: bool) -> Option<f64> {
        let times = match looks {
            Looks::Fits => {
                *self = Self { fits: true, ..Self::default() };
                return None;
            }
            Looks::Slip { .. } if self.fits && !typed => return None,
            Looks::Slip { times } | Looks::Impossible { times } => times,
            Looks::Fell => UNIT,
            Looks::Open => {
                self.on_end = 0;
                return None;
            }
        };
        self.on_end += 1;
        let due = typed || (!self.said && self.on_end >= ON_END);
        if !due {
            return None;
        }
        self.said |= !typed;
        Some(times)
    }
}

/// By what it must be multiplied to be no more than `most`, where a unit can do that.
fn too_much(value: f64, most: f64) -> Option<f64> {
    if most <= 0.0 || value <= most * IMPOSSIBLE {
        return None;
    }
    [1.0 / UNIT, 1.0 / (UNIT * UNIT)].into_iter().find(|times| value * times <= most)
}

fn of_voltage(course: &Course, one: &Standing, kv: f64) -> Looks {
    let most = course.most_voltage.kilovolts();
    if let Some(times) = too_much(kv, most) {
        return Looks::Impossible { times };
    }
    let stands = matches!(one.state, State::Dwelling | State::Holding);
    let level = one.target(course).filter(|_| stands).map(|target| target.level.kilovolts());
    let near = |kv: f64| level.is_some_and(|level| (kv / level - 1.0).abs() <= AT_LEVEL);
    if kv > most / APART && kv <= most * IMPOSSIBLE {
        Looks::Fits
    } else if kv > 0.0 && near(kv * UNIT) {
        Looks::Slip { times: UNIT }
    } else {
        Looks::Open
    }
}

fn of_current(course: &Course, one: &Standing, ua: f64) -> Looks {
    if one.blank {
        return Looks::Open;
    }
    let most = course.most_current.map_or(0.0, Current::microamperes);
    if let Some(times) = too_much(ua, most) {
        return Looks::Impossible { times };
    }
    let Some((low, high)) = expected(course, one).filter(|(low, _)| *low > 0.0) else {
        return Looks::Open;
    };
    let near = |ua: f64| ua >= low / NEAR && ua <= high * NEAR;
    if near(ua) {
        Looks::Fits
    } else if ua > high * APART && near(ua / UNIT) {
        Looks::Slip { times: 1.0 / UNIT }
    } else if ua > 0.0 && ua < low / APART && near(ua * UNIT) {
        Looks::Slip { times: UNIT }
    } else {
        Looks::Open
    }
}

/// The lowest and the highest current that the plan expects at the level that is stood at.
fn expected(course: &Course, one: &Standing) -> Option<(f64, f64)> {
    if !matches!(one.state, State::Dwelling | State::Holding) {
        return None;
    }
    let bands = one.target(course)?.readings.iter().map(|(_, band)| *band);
    let ends = |band: Band<Current>| (band.low.microamperes(), band.high.microamperes());
    bands.map(ends).reduce(|one, other| (one.0.min(other.0), one.1.max(other.1)))
}
