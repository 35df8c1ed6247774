//! Doubt: an interval of what may be met, and a value with its standard uncertainty.

use serde::{Deserialize, Serialize};

/// The 2.5, 50 and 97.5 % points of what may be met.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Band<Q> {
    /// The 2.5 % point.
    pub low: Q,
    /// The median.
    pub mid: Q,
    /// The 97.5 % point.
    pub high: Q,
}

impl<Q: Copy> Band<Q> {
    /// A band of no width: the value is known.
    #[must_use]
    pub const fn certain(value: Q) -> Self {
        Self { low: value, mid: value, high: value }
    }

    /// The same band after `change` on each of its three points.
    #[must_use]
    pub fn map<P>(self, change: impl Fn(Q) -> P) -> Band<P> {
        Band { low: change(self.low), mid: change(self.mid), high: change(self.high) }
    }
}

/// A value with its standard uncertainty (coverage factor 1) and degrees of freedom.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Uncertain<Q> {
    /// Best estimate.
    pub value: Q,
    /// Standard uncertainty, in the unit of the value.
    pub standard: Q,
    /// Effective degrees of freedom; infinite where the uncertainty is taken as known.
    pub freedom: f64,
}

impl<Q: Copy + std::ops::Mul<f64, Output = Q>> Uncertain<Q> {
    /// A value whose standard uncertainty is taken as known.
    #[must_use]
    pub const fn known(value: Q, standard: Q) -> Self {
        Self { value, standard, freedom: f64::INFINITY }
    }

    /// The same after a factor that is known; its doubt grows alike.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        Self { value: self.value * factor, standard: self.standard * factor, ..self }
    }

    /// Expanded uncertainty with coverage factor k = 2.
    #[must_use]
    pub fn expanded(&self) -> Q {
        self.standard * 2.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Voltage;

    #[test]
    fn a_band_maps_point_by_point() {
        let band = Band { low: 1.0, mid: 2.0, high: 3.0 }.map(Voltage::from_kilovolts);
        assert_eq!(band.high, Voltage::from_volts(3000.0));
        assert_eq!(Band::certain(2.0), Band { low: 2.0, mid: 2.0, high: 2.0 });
    }

    #[test]
    fn expanded_uncertainty_is_twice_the_standard() {
        let value = Uncertain::known(Voltage::from_volts(10.0), Voltage::from_volts(0.25));
        assert_eq!(value.expanded(), Voltage::from_volts(0.5));
        // Derived: value and doubt in proportion.
        let half = Uncertain::known(Voltage::from_volts(5.0), Voltage::from_volts(0.125));
        assert_eq!(value.times(0.5), half);
    }
}
