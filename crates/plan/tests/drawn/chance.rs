//! Numbers from a seed.

/// Numbers from a seed (splitmix64; constants as published with it, from memory).
pub(crate) struct Chance(u64);

impl Chance {
    pub(crate) fn of(seed: u64, column: u64) -> Self {
        let mut chance = Self(seed.wrapping_mul(0x2545_F491_4F6C_DD1D) ^ column);
        chance.next();
        chance
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^ (mixed >> 31)
    }

    /// Above 0 and below 1.
    pub(crate) fn unit(&mut self) -> f64 {
        ((self.next() >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    }

    pub(crate) fn happens(&mut self, part: f64) -> bool {
        self.unit() < part
    }

    pub(crate) fn below(&mut self, bound: usize) -> usize {
        ((self.unit() * bound as f64) as usize).min(bound - 1)
    }

    pub(crate) fn one_of<T: Copy>(&mut self, all: &[T]) -> T {
        all[self.below(all.len())]
    }

    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Evenly by the logarithm.
    pub(crate) fn decades(&mut self, low: f64, high: f64) -> f64 {
        low * (high / low).powf(self.unit())
    }

    /// A standard normal number, by the method of Box and Muller (1958).
    pub(crate) fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.unit().ln()).sqrt();
        radius * (std::f64::consts::TAU * self.unit()).cos()
    }
}
