//! Whether the current grows faster than the voltage, from one level to the next.
//!
//! What is compared is the current over what the model makes of the same instant: its logarithm e.
//! Between two levels, at like age, what the model misses is the same for both and drops out. Of
//! the levels before, the slope of e with ln V is carried on, and what growth in high fields may
//! bend it by is allowed; what is left is held against its noise.

use crate::cells::{Cell, Rest};
use crate::history::History;
use crate::model::{Model, Point};

/// The local exponent of the current may grow by so much for each e-fold of voltage without a
/// knee: hopping that adds a tenth at the top bends it by 0.4 there (derived: sinh(x)/x).
const BENDS: f64 = 0.5;
/// With one level before there is no slope: so far may the exponent lie above one. Common
/// practice, no source.
const UNSEEN: f64 = 0.5;
/// A slope of the levels before is carried on so far and no further: what climbs more steeply with
/// every level alike is no growth in high fields, which adds half to the exponent at the most.
const STEEPEST: f64 = 0.5;
/// Levels before that tell the slope, and the part of the voltage they reach down to.
const BACK: usize = 4;
const DOWN_TO: f64 = 0.5;
/// What wanders from cell to cell goes on for so many of them.
const ALONG: f64 = 3.0;
/// Ages within this factor are alike.
const ALIKE: f64 = 1.6;
/// Ages that differ more cost this part of the current.
const UNLIKE: f64 = 0.03;
/// And parts of a ramp that was held between them this.
const HELD: f64 = 0.01;
/// Younger than this, or than this part of the stay so far, how the voltage rose still counts.
const YOUNGEST_S: f64 = 5.0;
const YOUNGEST_PART: f64 = 0.25;
/// Or than so many halves of the rise, from its middle.
const YOUNGEST_RISES: f64 = 4.0;
/// Of levels before, which are long over, so many halves of their rise are enough.
const KNOWN_RISES: f64 = 2.0;
/// Every level is set and read no better than so, as a part of its current. Common practice, no
/// source.
const SET_TO: f64 = 0.001;
/// Below this rise of ln V two rests are at one level.
const SAME: f64 = 0.008;

/// Beyond this rise of ln V levels have nothing in common.
const FAR: f64 = 3.0;
/// Readings of one age that differ by more than this factor are not all right.
const SLIPPED: f64 = 1.25;

/// Held against one level alone, deviations count for so much.
const ALONE: f64 = 0.5;

/// One age of one rest.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Aged {
    age_s: f64,
    pub(crate) over: f64,
    variance: f64,
    range: f64,
    cells: usize,
}

/// The current grows faster than the voltage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Turn {
    pub(crate) z: f64,
    /// Beyond what the levels before led to expect, as a part.
    pub(crate) excess: f64,
    pub(crate) volts: f64,
    /// Deviations without any allowance, by what is stated of the noise.
    pub(crate) off: f64,
    /// How many readings or cells tell it.
    pub(crate) told_by: usize,
    /// It was told lower down already, and is larger here.
    pub(crate) again: bool,
    /// The rest that the comparison starts from.
    base: usize,
}

impl Turn {
    /// The same when the lowest rest is kept no more.
    pub(crate) fn one_down(self) -> Self {
        Self { base: self.base.saturating_sub(1), ..self }
    }

    /// The one that stands further out.
    pub(crate) fn plainer(one: Option<Self>, other: Option<Self>) -> Option<Self> {
        match (one, other) {
            (Some(one), Some(other)) => Some(if other.z > one.z { other } else { one }),
            (one, other) => one.or(other),
        }
    }
}

/// A turn that was told, so that one higher up can be held against it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct First {
    volts: f64,
    excess: f64,
}

impl First {
    pub(crate) fn of(turn: &Turn) -> Self {
        Self { volts: turn.volts, excess: turn.excess }
    }

    /// Whether this one stands higher, and is larger.
    pub(crate) fn is_below(self, turn: &Turn) -> bool {
        (turn.volts / self.volts).ln() > SAME && turn.excess > self.excess
    }
}

/// What a test of levels needs to know of the noise.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Noise {
    /// Of one reading, as a part of its current.
    pub(crate) single: f64,
    /// Of one cell, as a part of its current: what wanders from cell to cell.
    pub(crate) wander: f64,
    /// Of one part of a ramp, as a part of its current, where parts tell.
    pub(crate) of_parts: Option<f64>,
    /// By how much levels scatter more than that.
    pub(crate) levels: f64,
    /// The meter's accuracy, which two ranges do not share.
    pub(crate) accuracy: f64,
}

/// The ages of a rest that are looked at: how the voltage rose counts no more.
fn window(rest: &Rest) -> (f64, f64) {
    let oldest = rest.cells.last().map_or(0.0, |cell| rest.age(cell));
    let half_rise = rest.from_s - rest.mid_s;
    let least = (YOUNGEST_S + half_rise).max(YOUNGEST_RISES * half_rise);
    let least = least.max(YOUNGEST_PART * oldest);
    // After a slow rise the old end of a short stay is all there is.
    (least.min((YOUNGEST_S + half_rise).max(0.75 * oldest)), oldest)
}

/// The rest at these ages, or a little beyond: cells put together so that a few are left.
fn aged(
    rest: &Rest,
    (from_s, to_s): (f64, f64),
    history: &History,
    model: &Model,
    noise: &Noise,
) -> Vec<Aged> {
    const MOST: usize = 10;
    // When a level was reached that was read long after is not known: nor is how old it was then.
    let youngest = YOUNGEST_S.max(KNOWN_RISES * (rest.from_s - rest.mid_s));
    let within = |index: &usize| {
        let age = rest.age(&rest.cells[*index]);
        rest.moving || (age * ALIKE >= from_s && age <= to_s * ALIKE && age >= youngest)
    };
    let mut places: Vec<usize> = (0..rest.cells.len()).filter(within).collect();
    if places.is_empty() {
        // It was left sooner or read later: its last is all there is.
        places.extend(rest.cells.len().checked_sub(1));
    }
    let mut found: Vec<Aged> = Vec::with_capacity(MOST);
    let mut from = 0;
    while from < places.len() {
        let first = rest.age(&rest.cells[places[from]]);
        let within = |place: &&usize| rest.age(&rest.cells[**place]) <= first * 1.3;
        let count = places[from..].iter().take_while(within).count().max(1);
        let group = &places[from..from + count];
        found.extend(together(rest, group, history, model, noise));
        from += count;
    }
    if found.len() > MOST {
        found.drain(..found.len() - MOST);
    }
    found
}

fn together(
    rest: &Rest,
    group: &[usize],
    history: &History,
    model: &Model,
    noise: &Noise,
) -> Option<Aged> {
    // Of readings that lie far apart one may be a slip: the lower half is believed.
    let mut sorted: Vec<f64> = group.iter().map(|place| rest.cells[*place].amps).collect();
    sorted.sort_by(f64::total_cmp);
    let middle = sorted[(sorted.len() - 1) / 2];
    let sound = |cell: &&Cell| cell.amps <= middle * SLIPPED && cell.amps * SLIPPED >= middle;
    let cells = group.iter().map(|place| &rest.cells[*place]).filter(sound);
    let count = cells.clone().count();
    let n = count as f64;
    let mean = |pick: fn(&Cell) -> f64| cells.clone().map(pick).sum::<f64>() / n;
    let (t_s, volts) = (mean(|cell| cell.t_s), mean(|cell| cell.volts));
    let (amps, rate) = (mean(|cell| cell.amps), mean(|cell| cell.rate));
    let expected = model.amps(history, &Point { t_s, volts, rate, amps, sigma: 0.0 });
    let squares =
        cells.clone().map(|cell| (cell.sigma(noise.single * amps) / amps).powi(2)).sum::<f64>();
    let variance = match noise.of_parts.filter(|_| rest.moving) {
        Some(scatter) => {
            scatter.max(cells.clone().map(Cell::digits).sum::<f64>() / amps / n).powi(2)
        }
        None => squares / (n * n) + noise.wander * noise.wander / (n / ALONG).max(1.0),
    };
    let usable = amps > 0.0 && expected > 0.0 && variance.sqrt() < 0.3;
    usable.then(|| Aged {
        age_s: t_s - rest.mid_s,
        over: (amps / expected).ln(),
        variance,
        range: rest.cells[group[0]].range,
        // A part of a ramp is one cell of all its readings.
        cells: if rest.moving { cells.map(|cell| cell.count as usize).sum() } else { count },
    })
}

/// Without single readings that lie far above the others of their level: a slip, or a rise at
/// standing voltage, which is told as one.
fn sound(late: Vec<Aged>) -> Vec<Aged> {
    let mut sorted: Vec<f64> = late.iter().map(|one| one.over).collect();
    sorted.sort_by(f64::total_cmp);
    let Some(middle) = sorted.get(sorted.len().saturating_sub(1) / 2).copied() else { return late };
    let is_sound = |one: &Aged| one.cells > 1 || one.over <= middle + SLIPPED.ln();
    late.into_iter().filter(is_sound).collect()
}

/// When two rests may be held against each other.
#[derive(Clone, Copy, Debug)]
enum Alike {
    /// At like age since the voltage rose.
    ByAge,
    /// Parts of a ramp are, unless it was held between them.
    Parts { held: bool },
}

impl Alike {
    fn of(rests: &[Rest], early: usize, late: usize) -> Self {
        match rests[late].moving {
            true => Self::Parts { held: rests[early..late].iter().any(|rest| !rest.moving) },
            false => Self::ByAge,
        }
    }
}

/// The later rest less the earlier one at like age: the mean, and its variance by each of them.
fn between(late: &[Aged], early: &[Aged], noise: &Noise, alike: Alike) -> Option<(f64, f64, f64)> {
    let mut sums = [0.0; 4];
    for one in late {
        let apart = |other: &&Aged| (one.age_s / other.age_s).ln().abs();
        let other = early.iter().min_by(|a, b| apart(a).total_cmp(&apart(b)))?;
        let unlike = match alike {
            Alike::ByAge if apart(&other) > ALIKE.ln() => UNLIKE,
            Alike::Parts { held: true } => HELD,
            _ => 0.0,
        };
        let extra = unlike * unlike;
        let ranges = if one.range != other.range { noise.accuracy.powi(2) } else { 0.0 };
        let weight = 1.0 / (one.variance + other.variance + extra + ranges);
        sums[0] += weight;
        sums[1] += weight * (one.over - other.over);
        sums[2] += weight * weight * one.variance;
        sums[3] += weight * weight * (other.variance + extra + ranges);
    }
    // Readings that were taken together in one early age count once there.
    let shared =
        if early.len() < late.len() { late.len() as f64 / early.len().max(1) as f64 } else { 1.0 };
    let whole = sums[0] * sums[0];
    let set_to = SET_TO * SET_TO;
    (sums[0] > 0.0)
        .then(|| (sums[1] / sums[0], sums[2] / whole + set_to, shared * sums[3] / whole + set_to))
}

/// Levels down to which the last one is compared; a slow turn shows over several.
const GAPS: [usize; 5] = [1, 2, 4, 8, 12];

/// Looks at the last rest beside those before; `before` is what was found when it was looked at
/// last, so that what grows over several levels is held against where it began.
pub(crate) fn look(
    rests: &[Rest],
    history: &History,
    model: &Model,
    noise: &Noise,
    before: Option<Turn>,
) -> Option<Turn> {
    let last = rests.len().checked_sub(1)?;
    let now = &rests[last];
    let ages = window(now);
    if ages.0 > ages.1 && !now.moving {
        return None;
    }
    let aged = |index: usize| aged(&rests[index], ages, history, model, noise);
    let late: Vec<Aged> =
        aged(last).into_iter().filter(|one| now.moving || one.age_s >= ages.0).collect();
    let late = if now.moving { late } else { sound(late) };
    if late.is_empty() {
        return None;
    }
    let rises = |from: usize| (now.volts / rests[from].volts).ln();
    let like = |from: &usize| rests[*from].moving == now.moving;
    let below = |from: &usize| rises(*from) > SAME && rises(*from) < FAR;
    let lower = || (0..last).rev().filter(like).filter(below);
    let from = before.map(|turn| turn.base);
    let from = from.filter(|base| *base < last && like(base) && rises(*base) > SAME);
    let bases = GAPS.iter().filter_map(|gap| lower().nth(gap - 1)).chain(from);
    let mut found: Vec<Turn> = bases
        .filter_map(|base| {
            // What earlier levels told of the same turn counts with it.
            let earlier = before.filter(|turn| turn.base == base).map_or(0, |turn| turn.told_by);
            Levels { rests, late: &late, base, earlier, noise }.compare(&aged, rises(base))
        })
        .collect();
    found.sort_by(|a, b| b.z.total_cmp(&a.z));
    found.dedup_by_key(|turn| turn.base);
    // One level before may have been read wrong; a turn stands against two.
    match found[..] {
        [_, second, ..] => Some(second),
        [alone] => Some(Turn { z: ALONE * alone.z, ..alone }),
        [] => None,
    }
}

/// The last rest beside one of those before.
struct Levels<'a> {
    rests: &'a [Rest],
    late: &'a [Aged],
    base: usize,
    /// Readings of levels before that told the same.
    earlier: usize,
    noise: &'a Noise,
}

impl Levels<'_> {
    fn compare(&self, aged: &impl Fn(usize) -> Vec<Aged>, s: f64) -> Option<Turn> {
        let Self { rests, late, base, noise, .. } = *self;
        let now = rests.last()?;
        let middle = aged(base);
        let (rise, mine, early) =
            between(late, &middle, noise, Alike::of(rests, base, rests.len() - 1))?;
        let volts = rests[base].volts;
        let back = (base.saturating_sub(BACK)..base).find(|at| {
            let one = &rests[*at];
            let apart = (volts / one.volts).ln() > SAME;
            one.moving == now.moving && one.volts >= DOWN_TO * volts && apart
        });
        let sloped = back.and_then(|back| {
            let (rise, _, under) =
                between(&middle, &aged(back), noise, Alike::of(rests, back, base))?;
            Some((rise, under, (volts / rests[back].volts).ln()))
        });
        let (expected, variance, allowed) = match sloped {
            Some((rise, under, span)) => {
                let part = s / span;
                // A falling slope is what a law misses of the first levels, and does not go on.
                let carried = if rise > 0.0 { part } else { 0.0 };
                let (expected, most) = ((rise * part).max(0.0), STEEPEST * s);
                // At the most that is carried on, its own noise adds nothing.
                let carried = if expected > most { 0.0 } else { carried };
                let variance = mine + (1.0 + carried).powi(2) * early + carried * carried * under;
                (expected.min(most), variance, BENDS * s * 0.5 * (s + span))
            }
            None => (0.0, mine + early, UNSEEN * s),
        };
        let excess = rise - expected;
        let standard = variance.sqrt();
        let z = (excess - allowed) / (standard * noise.levels);
        let off = excess.abs() / standard;
        let told_by = late.iter().map(|one| one.cells).sum::<usize>() + self.earlier;
        Some(Turn {
            z,
            off,
            excess: excess.exp_m1(),
            volts: now.volts,
            told_by,
            again: false,
            base,
        })
    }
}
