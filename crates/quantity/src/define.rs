//! One macro makes every quantity: a number in SI, named readers and constructors, arithmetic.

use std::fmt;
use std::ops::{Add, Div, Mul, Neg, Sub};

use crate::engineering::engineering;

/// Significant digits where none are asked for.
const USUAL_DIGITS: usize = 4;
/// Fewer are never written: what is read off a screen moves a hand.
const LEAST_DIGITS: usize = 2;

macro_rules! quantities {
    ($($(#[$doc:meta])* $name:ident, $symbol:literal:
        $si_read:ident $si_from:ident
        $(, $read:ident $from:ident $scale:literal)*;)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            /// Nothing of it.
            pub const ZERO: Self = Self(0.0);

            #[doc = concat!("From a number of ", stringify!($si_read), ".")]
            #[must_use]
            pub const fn $si_from(value: f64) -> Self {
                Self(value)
            }

            #[doc = concat!("As a number of ", stringify!($si_read), ".")]
            #[must_use]
            pub const fn $si_read(self) -> f64 {
                self.0
            }

            $(
                #[doc = concat!("From a number of ", stringify!($read), ".")]
                #[must_use]
                pub const fn $from(value: f64) -> Self {
                    Self(value * $scale)
                }

                #[doc = concat!("As a number of ", stringify!($read), ".")]
                #[must_use]
                pub const fn $read(self) -> f64 {
                    self.0 / $scale
                }
            )*

            /// The size without the sign.
            #[must_use]
            pub const fn abs(self) -> Self {
                Self(self.0.abs())
            }

            /// The smaller of two.
            #[must_use]
            pub const fn min(self, other: Self) -> Self {
                Self(self.0.min(other.0))
            }

            /// The larger of two.
            #[must_use]
            pub const fn max(self, other: Self) -> Self {
                Self(self.0.max(other.0))
            }

            /// Whether it is a number at all (neither infinite nor undefined).
            #[must_use]
            pub const fn is_finite(self) -> bool {
                self.0.is_finite()
            }
        }

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }

        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }

        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }

        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }

        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                Self(self.0 / divisor)
            }
        }

        impl Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }

        /// Four significant digits in engineering notation; `{:.6}` asks for six. One digit alone
        /// makes 30 kV of 25.8 kV, so `{:.0}` and `{:.1}`, which elsewhere ask for decimals, get
        /// four as well.
        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                let digits = f.precision().filter(|asked| *asked >= LEAST_DIGITS);
                f.write_str(&engineering(self.0, $symbol, digits.unwrap_or(USUAL_DIGITS)))
            }
        }
    )*};
}

quantities! {
    /// Electric potential difference, in volts.
    Voltage, "V": volts from_volts, kilovolts from_kilovolts 1e3;
    /// Electric current, in amperes.
    Current, "A": amperes from_amperes, milliamperes from_milliamperes 1e-3,
        microamperes from_microamperes 1e-6;
    /// Resistance, in ohms.
    Resistance, "Ω": ohms from_ohms, kilohms from_kilohms 1e3, megohms from_megohms 1e6;
    /// Capacitance, in farads.
    Capacitance, "F": farads from_farads, microfarads from_microfarads 1e-6,
        nanofarads from_nanofarads 1e-9;
    /// Electric charge, in coulombs.
    Charge, "C": coulombs from_coulombs, microcoulombs from_microcoulombs 1e-6;
    /// Energy, in joules.
    Energy, "J": joules from_joules;
    /// A span of time, in seconds.
    Time, "s": seconds from_seconds, minutes from_minutes 60.0, hours from_hours 3600.0;
    /// Length, in metres.
    Length, "m": metres from_metres, millimetres from_millimetres 1e-3,
        kilometres from_kilometres 1e3, feet from_feet 0.3048;
    /// A rate of rise, in volts per second.
    VoltageRate, "V/s": volts_per_second from_volts_per_second,
        kilovolts_per_second from_kilovolts_per_second 1e3;
    /// Pressure, in pascals.
    Pressure, "Pa": pascals from_pascals, kilopascals from_kilopascals 1e3;
    /// Mass of water vapour in a volume of air, in grams per cubic metre: the published formulas
    /// count in grams.
    AbsoluteHumidity, "g/m³": grams_per_cubic_metre from_grams_per_cubic_metre;
    /// A number without a unit.
    Ratio, "": value from_value, percent from_percent 0.01;
}

/// A thermodynamic temperature, in kelvins.
///
/// Not one of the macro's quantities: temperatures are not added to each other.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Temperature(f64);

impl Temperature {
    /// From a number of kelvins.
    #[must_use]
    pub const fn from_kelvins(value: f64) -> Self {
        Self(value)
    }

    /// As a number of kelvins.
    #[must_use]
    pub const fn kelvins(self) -> f64 {
        self.0
    }

    /// From a number of degrees Celsius.
    #[must_use]
    pub const fn from_celsius(value: f64) -> Self {
        Self(value + 273.15)
    }

    /// As a number of degrees Celsius.
    #[must_use]
    pub const fn celsius(self) -> f64 {
        self.0 - 273.15
    }
}

impl fmt::Display for Temperature {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:.1} °C", self.celsius())
    }
}

macro_rules! relations {
    ($($left:ident * $right:ident = $product:ident;)*) => {$(
        impl Mul<$right> for $left {
            type Output = $product;
            fn mul(self, other: $right) -> $product {
                $product(self.0 * other.0)
            }
        }

        impl Mul<$left> for $right {
            type Output = $product;
            fn mul(self, other: $left) -> $product {
                $product(self.0 * other.0)
            }
        }

        impl Div<$left> for $product {
            type Output = $right;
            fn div(self, other: $left) -> $right {
                $right(self.0 / other.0)
            }
        }

        impl Div<$right> for $product {
            type Output = $left;
            fn div(self, other: $right) -> $left {
                $left(self.0 / other.0)
            }
        }
    )*};
}

relations! {
    Current * Resistance = Voltage;
    Capacitance * Voltage = Charge;
    Current * Time = Charge;
    Charge * Voltage = Energy;
    Resistance * Capacitance = Time;
    Capacitance * VoltageRate = Current;
    VoltageRate * Time = Voltage;
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_follow_the_arithmetic() {
        let current = Voltage::from_kilovolts(5.0) / Resistance::from_megohms(500.0);
        assert!((current.microamperes() - 10.0).abs() < 1e-12);
        let charge = Capacitance::from_microfarads(1.0) * Voltage::from_kilovolts(25.0);
        assert!((charge.coulombs() - 0.025).abs() < 1e-15);
        let constant = Resistance::from_megohms(1.0) * Capacitance::from_microfarads(1.0);
        assert!((constant.seconds() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_quantity_prints_in_engineering_notation() {
        assert_eq!(Resistance::from_ohms(8e9).to_string(), "8.000 GΩ");
        assert_eq!(format!("{:.3}", Voltage::from_kilovolts(65.0)), "65.0 kV");
        assert_eq!(Temperature::from_celsius(21.04).to_string(), "21.0 °C");
    }

    // Derived: by one digit 25.75 kV would be 30 kV and 125 µA 100 µA.
    #[test]
    fn no_quantity_is_written_with_one_digit() {
        let low = Voltage::from_kilovolts(25.75);
        for written in [format!("{low:.0}"), format!("{low:.1}"), format!("{low}")] {
            assert_eq!(written, "25.75 kV");
        }
        assert_eq!(format!("{:.0}", Current::from_microamperes(125.0)), "125.0 µA");
        assert_eq!(format!("{low:.2}"), "26 kV");
    }
}
