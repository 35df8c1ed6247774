//! Four numbers at a time, in a form that compilers turn into vector instructions.

/// Numbers that go side by side.
pub(super) const LANES: usize = 4;

/// Four numbers.
pub(super) type Four = [f64; LANES];

/// Up to four numbers, and `rest` in place of those that are missing.
#[inline]
pub(super) fn four(numbers: &[f64], rest: f64) -> Four {
    numbers
        .try_into()
        .unwrap_or_else(|_| std::array::from_fn(|lane| numbers.get(lane).copied().unwrap_or(rest)))
}

/// A sum of products, in as many strands as there are lanes.
#[derive(Clone, Copy, Default)]
pub(super) struct Strands(Four);

impl Strands {
    #[inline(always)]
    pub(super) fn add(&mut self, a: &Four, b: &Four) {
        for ((strand, a), b) in self.0.iter_mut().zip(a).zip(b) {
            *strand += a * b;
        }
    }

    #[inline(always)]
    pub(super) fn sum(self) -> f64 {
        let [a, b, c, d] = self.0;
        (a + c) + (b + d)
    }
}

/// e^x, for x from −700 to 700 and held at these ends, to within 1e-15 of itself.
///
/// x = k·ln 2 + r, |r| ≤ ln 2/2: Taylor's polynomial of degree 12 leaves 2e-16 of e^r.
#[inline(always)]
pub(super) fn exp(x: Four) -> Four {
    /// Added to a number, leaves its nearest whole number in the lowest bits.
    const WHOLE: f64 = 6_755_399_441_055_744.0;
    /// ln 2 in two parts, the first with so few digits that k times it is exact.
    const LN_2: (f64, f64) = (6.931_471_803_691_238e-1, 1.908_214_929_270_587_7e-10);
    const TAYLOR: [f64; 13] = [
        1.0,
        1.0,
        1.0 / 2.0,
        1.0 / 6.0,
        1.0 / 24.0,
        1.0 / 120.0,
        1.0 / 720.0,
        1.0 / 5_040.0,
        1.0 / 40_320.0,
        1.0 / 362_880.0,
        1.0 / 3_628_800.0,
        1.0 / 39_916_800.0,
        1.0 / 479_001_600.0,
    ];
    let mut found = [0.0; LANES];
    for (found, x) in found.iter_mut().zip(x) {
        let x = x.clamp(-700.0, 700.0);
        let shifted = x * std::f64::consts::LOG2_E + WHOLE;
        let whole = shifted - WHOLE;
        let r = (x - whole * LN_2.0) - whole * LN_2.1;
        let [a, b, c, d, e, f, g, h, i, j, k, l, m] = TAYLOR;
        // Pairs first: a long chain would wait for itself.
        let (r2, r4) = (r * r, (r * r) * (r * r));
        let low = (a + b * r) + (c + d * r) * r2;
        let middle = (e + f * r) + (g + h * r) * r2;
        let high = ((i + j * r) + (k + l * r) * r2) + m * r4;
        let power = f64::from_bits(shifted.to_bits().wrapping_add(1023) << 52);
        *found = (low + r4 * (middle + r4 * high)) * power;
    }
    found
}

/// ln x, for x from 1e-300 to 1e300, to within 1e-15 of itself or of one, whichever is more.
///
/// x = 2^k·m, m from √½ to √2; with s = (m − 1)/(m + 1), ln m = 2·(s + s³/3 + s⁵/5 …), of which
/// what follows s²¹ is below 1e-17.
#[inline(always)]
pub(super) fn ln(x: Four) -> Four {
    const ROOT_HALF: u64 = std::f64::consts::FRAC_1_SQRT_2.to_bits();
    /// A power of two whose lowest bits count ones.
    const ONES: f64 = 4_503_599_627_370_496.0;
    /// Keeps the power of two above zero.
    const SHIFT: u64 = 2048;
    let mut found = [0.0; LANES];
    for (found, x) in found.iter_mut().zip(x) {
        let bits = x.to_bits();
        let power = bits.wrapping_sub(ROOT_HALF).wrapping_add(SHIFT << 52) >> 52;
        let k = f64::from_bits(ONES.to_bits() | power) - ONES - 2048.0;
        let m = f64::from_bits(bits.wrapping_sub(power.wrapping_sub(SHIFT) << 52));
        let s = (m - 1.0) / (m + 1.0);
        let (s2, s4) = (s * s, (s * s) * (s * s));
        let even = 1.0
            + s4 * (1.0 / 5.0
                + s4 * (1.0 / 9.0 + s4 * (1.0 / 13.0 + s4 * (1.0 / 17.0 + s4 / 21.0))));
        let odd = 1.0 / 3.0 + s4 * (1.0 / 7.0 + s4 * (1.0 / 11.0 + s4 * (1.0 / 15.0 + s4 / 19.0)));
        *found = k * std::f64::consts::LN_2 + 2.0 * s * (even + s2 * odd);
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exp_and_ln_keep_to_their_bounds() {
        // The standard library's, right to less than one unit in the last place.
        for k in -700_000..=700_000_i32 {
            let x = f64::from(k) * 1e-3;
            let off = exp([x; LANES])[0] / x.exp() - 1.0;
            assert!(off.abs() < 1e-15, "{x}: {off}");
        }
        for k in -300_000..=300_000_i32 {
            let x = 10_f64.powf(f64::from(k) * 1e-3);
            let off = ln([x; LANES])[0] - x.ln();
            assert!(off.abs() < 1e-15 * x.ln().abs().max(1.0), "{x}: {off}");
        }
        for (x, held) in [(-1e4, -700.0_f64), (1e4, 700.0)] {
            assert!((exp([x; LANES])[3] / held.exp() - 1.0).abs() < 1e-15);
        }
    }
}
