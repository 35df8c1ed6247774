//! From random bits to a value of some shape, by the inverse of its distribution.

use std::f64::consts::PI;
use std::sync::LazyLock;

use super::coverage::quantile_of_t;
use super::uniform::bits;
use super::{Input, Shape};

/// Pieces of the lower half, alike in width; the first few are cut finer.
const PIECES: usize = 512;
const CUT_FINER: usize = 16;
/// Halvings from there towards the end, each in so many pieces. What lies beyond, one draw in 10⁷,
/// is reckoned by the inverse itself.
const OCTAVES: usize = 20;
const PER_OCTAVE: usize = 16;
/// Terms of the polynomial of a piece.
const TERMS: usize = 5;

/// The inverse of a symmetric distribution about 0, by polynomials.
///
/// Of 64 bits it makes the value below which the share (bits + ½)/2⁶⁴ lies. From the inverse itself
/// it is off by less than 1e-9 standard deviations, or parts of the value where that is larger.
///
/// Derived: Chebyshev interpolation, whose error falls as ρ⁻⁵; a piece is at least 16 of its widths
/// from the end of the distribution, so that ρ > 64.
#[derive(Clone, Debug)]
pub(super) struct Table {
    shape: Shape,
    freedom: f64,
    even: Box<[[f64; TERMS]; PIECES]>,
    fine: Vec<[f64; TERMS]>,
}

static NORMAL: LazyLock<Table> = LazyLock::new(|| Table::of(Shape::Normal, f64::INFINITY));

impl Table {
    fn of(shape: Shape, freedom: f64) -> Self {
        let inverse = |share| inverse(shape, freedom, share);
        let width = 0.5 / PIECES as f64;
        let even = std::array::from_fn(|piece| {
            // Nobody asks for the first few, which have pieces of their own.
            let from = piece.max(1) as f64 * width;
            polynomial(from, width, inverse)
        });
        let fine = (0..OCTAVES * PER_OCTAVE).map(|piece| {
            let (octave, part) = (piece / PER_OCTAVE, piece % PER_OCTAVE);
            let from = width * CUT_FINER as f64 * 0.5_f64.powi(octave as i32 + 1);
            let width = from / PER_OCTAVE as f64;
            polynomial(from + part as f64 * width, width, inverse)
        });
        Self { shape, freedom, even: Box::new(even), fine: fine.collect() }
    }

    /// The value at these bits.
    #[inline(always)]
    fn at(&self, bits: u64) -> f64 {
        let above = bits & TOP;
        // The distance from the nearer end, below half of all.
        let place = if above == 0 { bits } else { !bits };
        let piece = (place >> 54) as usize;
        let below = if piece >= CUT_FINER {
            along(&self.even[piece % PIECES], place << 10)
        } else {
            self.near_the_end(place)
        };
        f64::from_bits(below.to_bits() ^ above)
    }

    #[cold]
    #[inline(never)]
    fn near_the_end(&self, place: u64) -> f64 {
        let halvings = place.leading_zeros() as usize - FIRST_HALVING;
        if halvings >= OCTAVES {
            return inverse(self.shape, self.freedom, (place as f64 + 0.5) / TWO_TO_64);
        }
        let rest = place << (halvings + FIRST_HALVING) << 1;
        let piece = halvings * PER_OCTAVE + (rest >> 60) as usize;
        along(&self.fine[piece], rest << 4)
    }
}

const TOP: u64 = 1 << 63;
const TWO_TO_64: f64 = 18_446_744_073_709_551_616.0;
/// Zeros at the head of the highest place that has finer pieces.
const FIRST_HALVING: usize = 6;

/// A polynomial at a part of its piece, given as 64 bits.
#[inline]
fn along(terms: &[f64; TERMS], part: u64) -> f64 {
    let x = f64::from_bits((part >> 12) | 1.0_f64.to_bits()) - 1.5;
    terms[0] + x * (terms[1] + x * (terms[2] + x * (terms[3] + x * terms[4])))
}

/// Through the function at the Chebyshev nodes of a piece, in its part less one half.
fn polynomial(from: f64, width: f64, of: impl Fn(f64) -> f64) -> [f64; TERMS] {
    let node = |k: usize| 0.5 * (PI * (k as f64 + 0.5) / TERMS as f64).cos();
    let nodes: [f64; TERMS] = std::array::from_fn(node);
    let mut differences = nodes.map(|x| of(from + (x + 0.5) * width));
    for order in 1..TERMS {
        for k in (order..TERMS).rev() {
            let step = nodes[k] - nodes[k - order];
            differences[k] = (differences[k] - differences[k - 1]) / step;
        }
    }
    // Newton's form, multiplied out from the inside.
    let mut terms = [0.0; TERMS];
    for k in (0..TERMS).rev() {
        for power in (1..TERMS).rev() {
            terms[power] = terms[power - 1] - nodes[k] * terms[power];
        }
        terms[0] = differences[k] - nodes[k] * terms[0];
    }
    terms
}

/// The value below which `share` lies, above 0 and at most one half, with standard deviation 1; of
/// Student's t the scale is 1.
///
/// Source: JCGM 101:2008, 6.4.2.4, 6.4.5.4, 6.4.6.4; their inverses derived.
fn inverse(shape: Shape, freedom: f64, share: f64) -> f64 {
    let of_half_width = match shape {
        Shape::Normal => return quantile_of_t(share, freedom),
        Shape::Rectangular => 2.0 * share - 1.0,
        Shape::Triangular => (2.0 * share).sqrt() - 1.0,
        Shape::UShaped => -(PI * share).cos(),
    };
    of_half_width / shape.standard_of_half_width()
}

/// How draws of one input are made.
pub(super) enum Maker {
    Rectangular,
    Normal,
    Curved(Box<Table>),
}

impl Maker {
    pub(super) fn of(input: &Input) -> Self {
        match input.shape() {
            Shape::Rectangular => Self::Rectangular,
            Shape::Normal if input.freedom().is_infinite() => Self::Normal,
            shape => Self::Curved(Box::new(Table::of(shape, input.freedom()))),
        }
    }

    /// Puts value + standard·shape into one column of rows; `first` is the place of the first
    /// row's bits.
    pub(super) fn fill(
        &self,
        rows: &mut [f64],
        (column, wide): (usize, usize),
        first: u64,
        (value, standard): (f64, f64),
    ) {
        match self {
            Self::Rectangular => {
                let scale =
                    standard / Shape::Rectangular.standard_of_half_width() * 2.0 / TWO_TO_64;
                each(rows, (column, wide), first, |bits| {
                    value + scale * (((bits ^ TOP) as i64) as f64 + 0.5)
                });
            }
            Self::Normal => {
                let table = &*NORMAL;
                each(rows, (column, wide), first, |bits| value + standard * table.at(bits));
            }
            Self::Curved(table) => {
                each(rows, (column, wide), first, |bits| value + standard * table.at(bits));
            }
        }
    }
}

#[inline(always)]
fn each(rows: &mut [f64], (column, wide): (usize, usize), first: u64, of: impl Fn(u64) -> f64) {
    let mut place = first;
    for row in rows.chunks_exact_mut(wide) {
        row[column] = of(bits(place));
        place = place.wrapping_add(wide as u64);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Off from the inverse itself, in standard deviations or parts of the value.
    fn worst(shape: Shape, freedom: f64) -> f64 {
        let table = Table::of(shape, freedom);
        // Evenly through the half, then evenly in its logarithm.
        let even = (1..4000_u64).map(|k| k * (TOP / 4000) + k);
        let towards_the_end = (0..500).map(|k| 2.0_f64.powf(63.0 - f64::from(k) * 0.1) as u64 - 1);
        even.chain(towards_the_end)
            .map(|place| {
                let exact = inverse(shape, freedom, (place as f64 + 0.5) / TWO_TO_64);
                let (below, above) = (table.at(place), table.at(!place));
                assert_eq!(below, -above);
                (below - exact).abs() / exact.abs().max(1.0)
            })
            .fold(0.0, f64::max)
    }

    #[test]
    fn the_polynomials_follow_the_inverse() {
        // The inverse is that of statrs.
        for (shape, freedom) in [
            (Shape::Normal, f64::INFINITY),
            (Shape::Normal, 2.0),
            (Shape::Normal, 9.0),
            (Shape::Triangular, f64::INFINITY),
            (Shape::UShaped, f64::INFINITY),
        ] {
            let off = worst(shape, freedom);
            assert!(off < 1e-9, "{shape:?} with {freedom}: off by {off:e}");
        }
    }

    #[test]
    fn every_maker_puts_the_same_share_at_the_same_place() {
        // The first place holds the share 0.883310808; scipy.stats 1.17 ppf of uniform, triang,
        // arcsine, norm and t.
        for (input, expected) in [
            (Input::rectangular("x", 5.0, 1.0), 1.327_827_590),
            (Input::triangular("x", 5.0, 1.0), 1.266_159_568),
            (Input::u_shaped("x", 5.0, 1.0), 1.320_246_233),
            (Input::normal("x", 5.0, 1.0), 1.191_701_312),
            (Input::normal("x", 5.0, 1.0).with_freedom(4.0), 1.402_613_694),
        ] {
            let mut found = [0.0];
            Maker::of(&input).fill(&mut found, (0, 1), 0, (5.0, 2.0));
            assert!((found[0] - 5.0 - 2.0 * expected).abs() < 4e-9, "{input:?}: {found:?}");
        }
    }
}
