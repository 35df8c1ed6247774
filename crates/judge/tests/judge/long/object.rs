//! What an object draws, by two models: the one that the judge fits, and one that it does not have.

use super::chance::Chance;

/// Absorption after a change of voltage, over its current at one minute.
#[derive(Clone, Copy, Debug)]
pub(super) enum Kernel {
    /// t⁻ⁿ.
    Power { exponent: f64 },
    /// exp(−(t/τ)^β), which no power law and no single branch is.
    Stretched { tau_s: f64, beta: f64 },
}

impl Kernel {
    pub(super) fn drawn(chance: &mut Chance, other: bool) -> Self {
        if other {
            Self::Stretched { tau_s: chance.decades(40.0, 2000.0), beta: chance.between(0.3, 0.7) }
        } else {
            Self::Power { exponent: chance.between(0.6, 1.1) }
        }
    }

    pub(super) fn at(self, age_s: f64) -> f64 {
        match self {
            Self::Power { exponent } => (age_s / 60.0).powf(-exponent),
            Self::Stretched { tau_s, beta } => {
                ((60.0 / tau_s).powf(beta) - (age_s / tau_s).powf(beta)).exp()
            }
        }
    }
}

/// How what lies above an onset grows to its whole at the highest voltage.
#[derive(Clone, Copy, Debug)]
pub(super) enum Growth {
    Hinge,
    Exponential {
        folds: f64,
    },
    /// Towards a voltage at which it has no end, over the highest voltage.
    ToAnEnd {
        end: f64,
    },
}

impl Growth {
    pub(super) fn at(self, part: f64, from: f64) -> f64 {
        if part <= from {
            return 0.0;
        }
        let of = |part: f64| match self {
            Self::Hinge => part - from,
            Self::Exponential { folds } => (folds * (part - from) / (1.0 - from)).exp_m1(),
            Self::ToAnEnd { end } => (part - from) / (end - part),
        };
        of(part) / of(1.0)
    }
}

/// One conductor, in microamperes a kilovolt.
#[derive(Clone, Copy, Debug)]
pub(super) struct Conductor {
    pub(super) conduction: f64,
    /// At one minute.
    pub(super) absorption: f64,
    pub(super) kernel: Kernel,
    /// How much larger conduction is at the highest voltage by hopping: G·sinh(x)/x.
    pub(super) hopping: f64,
    /// Onset over the highest voltage, microamperes there, and how it grows.
    pub(super) above: Option<(f64, f64, Growth)>,
    /// Microamperes a minute of the hold.
    pub(super) drift: f64,
    /// Half the width of the noise, over the current.
    pub(super) noise: f64,
}

impl Conductor {
    /// Microamperes, without noise.
    pub(super) fn at(&self, steps: &[(f64, f64)], t_s: f64, top_kv: f64, held_s: f64) -> f64 {
        let begun = || steps.iter().filter(|(begin, _)| *begin < t_s);
        let kv: f64 = begun().map(|(_, step)| step).sum();
        let absorbed: f64 = begun().map(|(begin, step)| step * self.kernel.at(t_s - begin)).sum();
        let above =
            self.above.map_or(0.0, |(from, top, growth)| top * growth.at(kv / top_kv, from));
        // sinh(x)/x is 1 + x²/6 nearly.
        let x = (6.0 * self.hopping).sqrt() * kv / top_kv;
        let hops = if x > 1e-6 { x.sinh() / x } else { 1.0 };
        let drifted = self.drift * held_s.max(0.0) / 60.0;
        self.conduction * hops * kv + self.absorption * absorbed + above + drifted
    }
}
