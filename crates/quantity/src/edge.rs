//! The edge of the program: plain numbers whose names end in their unit.
//!
//! Inside, a value is a quantity; in JSON, TOML and CSV it is a number. Each module here is meant
//! for `#[serde(rename = "test_kv", with = "quantity::edge::kv")]` and serves a quantity, an
//! `Option`, a `Vec` or a `Band` of it alike. An unknown value is `null`.

use serde::de::DeserializeOwned;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::air::{AbsoluteHumidity, Pressure};
use crate::{
    Band, Capacitance, Current, Energy, Length, Ratio, Resistance, Temperature, Time, Voltage,
    VoltageRate,
};

/// What can be written as plain numbers of one unit.
pub trait Shape<Q> {
    /// The same shape in plain numbers.
    type Plain: Serialize + DeserializeOwned;
    /// To plain numbers by a quantity's reader.
    fn plain(&self, read: fn(Q) -> f64) -> Self::Plain;
    /// From plain numbers by a quantity's constructor.
    fn of(plain: Self::Plain, make: fn(f64) -> Q) -> Self;
}

impl<Q: Copy, T: Shape<Q>> Shape<Q> for Option<T> {
    type Plain = Option<T::Plain>;
    fn plain(&self, read: fn(Q) -> f64) -> Self::Plain {
        self.as_ref().map(|inner| inner.plain(read))
    }
    fn of(plain: Self::Plain, make: fn(f64) -> Q) -> Self {
        plain.map(|inner| T::of(inner, make))
    }
}

impl<Q: Copy, T: Shape<Q>> Shape<Q> for Vec<T> {
    type Plain = Vec<T::Plain>;
    fn plain(&self, read: fn(Q) -> f64) -> Self::Plain {
        self.iter().map(|inner| inner.plain(read)).collect()
    }
    fn of(plain: Self::Plain, make: fn(f64) -> Q) -> Self {
        plain.into_iter().map(|inner| T::of(inner, make)).collect()
    }
}

impl<Q: Copy> Shape<Q> for Band<Q> {
    type Plain = Band<f64>;
    fn plain(&self, read: fn(Q) -> f64) -> Self::Plain {
        self.map(|each| twelve_digits(read(each)))
    }
    fn of(plain: Self::Plain, make: fn(f64) -> Q) -> Self {
        plain.map(make)
    }
}

macro_rules! edges {
    ($($(#[$doc:meta])* $unit:ident: $quantity:ident, $read:ident, $from:ident;)*) => {$(
        $(#[$doc])*
        pub mod $unit {
            use super::*;

            /// Writes plain numbers.
            ///
            /// # Errors
            /// Whatever the serializer says.
            pub fn serialize<T, S>(value: &T, serializer: S) -> Result<S::Ok, S::Error>
            where
                T: Shape<$quantity>,
                S: Serializer,
            {
                value.plain($quantity::$read).serialize(serializer)
            }

            /// Reads plain numbers.
            ///
            /// # Errors
            /// Whatever the deserializer says, for example that a number was expected.
            pub fn deserialize<'de, T, D>(deserializer: D) -> Result<T, D::Error>
            where
                T: Shape<$quantity>,
                D: Deserializer<'de>,
            {
                T::Plain::deserialize(deserializer).map(|plain| T::of(plain, $quantity::$from))
            }
        }
    )*};
}

/// Twelve significant digits: what a conversion of units adds beyond them is noise.
#[must_use]
pub fn twelve_digits(value: f64) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return value;
    }
    format!("{value:.11e}").parse().unwrap_or(value)
}

macro_rules! single_numbers {
    ($($quantity:ty),*) => {$(
        impl Shape<$quantity> for $quantity {
            type Plain = f64;
            fn plain(&self, read: fn($quantity) -> f64) -> f64 {
                twelve_digits(read(*self))
            }
            fn of(plain: f64, make: fn(f64) -> $quantity) -> Self {
                make(plain)
            }
        }
    )*};
}

single_numbers!(
    Voltage,
    Current,
    Resistance,
    Capacitance,
    Energy,
    Time,
    Length,
    VoltageRate,
    Ratio,
    Temperature,
    Pressure,
    AbsoluteHumidity
);

edges! {
    /// Kilovolts.
    kv: Voltage, kilovolts, from_kilovolts;
    /// Microamperes.
    ua: Current, microamperes, from_microamperes;
    /// Milliamperes.
    ma: Current, milliamperes, from_milliamperes;
    /// Megohms.
    mohm: Resistance, megohms, from_megohms;
    /// Kilohms.
    kohm: Resistance, kilohms, from_kilohms;
    /// Nanofarads.
    nf: Capacitance, nanofarads, from_nanofarads;
    /// Joules.
    j: Energy, joules, from_joules;
    /// Seconds.
    s: Time, seconds, from_seconds;
    /// Months are left to the calendar; minutes are sixty seconds.
    min: Time, minutes, from_minutes;
    /// Metres.
    m: Length, metres, from_metres;
    /// Millimetres.
    mm: Length, millimetres, from_millimetres;
    /// Kilovolts per second.
    kv_per_s: VoltageRate, kilovolts_per_second, from_kilovolts_per_second;
    /// A plain number.
    ratio: Ratio, value, from_value;
    /// Per cent.
    percent: Ratio, percent, from_percent;
    /// Kilopascals.
    kpa: Pressure, kilopascals, from_kilopascals;
    /// Grams per cubic metre.
    g_per_m3: AbsoluteHumidity, grams_per_cubic_metre, from_grams_per_cubic_metre;
    /// Degrees Celsius.
    c: Temperature, celsius, from_celsius;
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Serialize, Deserialize, PartialEq, Debug)]
    struct Sample {
        #[serde(rename = "test_kv", with = "kv")]
        test: Voltage,
        #[serde(rename = "trip_ma", with = "ma")]
        trip: Option<Current>,
        #[serde(rename = "expected_ua", with = "ua")]
        expected: Option<Band<Current>>,
        #[serde(rename = "read_at_s", with = "s")]
        read_at: Vec<Time>,
    }

    #[test]
    fn shapes_go_out_and_come_back() {
        let sample = Sample {
            test: Voltage::from_kilovolts(65.0),
            trip: None,
            expected: Some(Band::certain(Current::from_microamperes(2.0))),
            read_at: vec![Time::from_seconds(30.0)],
        };
        let text = serde_json::to_string(&sample).expect("plain numbers serialise");
        assert_eq!(
            text,
            r#"{"test_kv":65.0,"trip_ma":null,"expected_ua":{"low":2.0,"mid":2.0,"high":2.0},"read_at_s":[30.0]}"#
        );
        assert_eq!(serde_json::from_str::<Sample>(&text).expect("and come back"), sample);
    }
}
