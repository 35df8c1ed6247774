//! One input of a budget.

use std::borrow::Cow;

/// What an input may be, about its value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// Bell-shaped; Student's t where its degrees of freedom are finite.
    Normal,
    /// Anywhere within limits alike: accuracy, half a digit.
    Rectangular,
    /// Within limits, likelier in the middle: the sum of two like rectangles.
    Triangular,
    /// Within limits, likelier at the ends: what swings as a sine does.
    UShaped,
}

/// One input of a budget: its value, how well it is known, and the shape of what it may be.
///
/// A shape with limits has the half-width a: its standard uncertainty is a/√3 (rectangular),
/// a/√6 (triangular) or a/√2 (U-shaped).
///
/// # Source
/// JCGM 100:2008, 4.3.7 and 4.3.9; JCGM 101:2008, 6.4.2, 6.4.5 and 6.4.6.
///
/// ```
/// use physics::uncertainty::Input;
/// // JCGM 100:2008, 4.3.7 note: half-width 0.5 %, a/√3 = 0.28868 %.
/// let indicator = Input::rectangular("indicator", 25.0, 0.5);
/// assert!((indicator.standard() - 0.288_68).abs() < 5e-6);
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Input {
    pub(super) name: Cow<'static, str>,
    value: f64,
    standard: f64,
    freedom: f64,
    shape: Shape,
}

impl Input {
    /// A bell-shaped input from its standard uncertainty.
    #[must_use]
    pub fn normal(name: impl Into<Cow<'static, str>>, value: f64, standard: f64) -> Self {
        let name = name.into();
        Self { name, value, standard, freedom: f64::INFINITY, shape: Shape::Normal }
    }

    /// An input that is within `half_width` of its value, anywhere alike.
    #[must_use]
    pub fn rectangular(name: impl Into<Cow<'static, str>>, value: f64, half_width: f64) -> Self {
        Self::within(Shape::Rectangular, name.into(), value, half_width)
    }

    /// An input that is within `half_width` of its value, likelier near it.
    #[must_use]
    pub fn triangular(name: impl Into<Cow<'static, str>>, value: f64, half_width: f64) -> Self {
        Self::within(Shape::Triangular, name.into(), value, half_width)
    }

    /// An input that is within `half_width` of its value, likelier at either end.
    #[must_use]
    pub fn u_shaped(name: impl Into<Cow<'static, str>>, value: f64, half_width: f64) -> Self {
        Self::within(Shape::UShaped, name.into(), value, half_width)
    }

    /// The mean of readings that scatter, with s/√n and n − 1 degrees of freedom.
    ///
    /// Fewer than two readings show no scatter: their uncertainty is not a number, and a budget
    /// that holds it says so.
    ///
    /// # Source
    /// JCGM 100:2008, 4.2.
    #[must_use]
    pub fn mean_of(name: impl Into<Cow<'static, str>>, readings: &[f64]) -> Self {
        let count = readings.len() as f64;
        let mean = readings.iter().sum::<f64>() / count;
        let squares: f64 = readings.iter().map(|reading| (reading - mean).powi(2)).sum();
        let standard = (squares / (count - 1.0) / count).sqrt();
        Self::normal(name, mean, standard).with_freedom(count - 1.0)
    }

    fn within(shape: Shape, name: Cow<'static, str>, value: f64, half_width: f64) -> Self {
        let standard = half_width * shape.standard_of_half_width();
        Self { name, value, standard, freedom: f64::INFINITY, shape }
    }

    /// The same with so many degrees of freedom.
    ///
    /// A normal input is then drawn from Student's t (JCGM 101:2008, 6.4.9.7). Of the others only
    /// the effective degrees of freedom of the result change.
    #[must_use]
    pub fn with_freedom(self, freedom: f64) -> Self {
        Self { freedom, ..self }
    }

    /// What it is called.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Best estimate, in its own unit.
    #[must_use]
    pub const fn value(&self) -> f64 {
        self.value
    }

    /// Standard uncertainty, in its own unit.
    #[must_use]
    pub const fn standard(&self) -> f64 {
        self.standard
    }

    /// Degrees of freedom; infinite where the uncertainty is taken as known.
    #[must_use]
    pub const fn freedom(&self) -> f64 {
        self.freedom
    }

    /// The shape of what it may be.
    #[must_use]
    pub const fn shape(&self) -> Shape {
        self.shape
    }
}

impl Shape {
    /// Standard deviation of the shape with limits at −1 and 1; 1 where there are none.
    pub(super) fn standard_of_half_width(self) -> f64 {
        match self {
            Self::Normal => 1.0,
            Self::Rectangular => 1.0 / 3.0_f64.sqrt(),
            Self::Triangular => 1.0 / 6.0_f64.sqrt(),
            Self::UShaped => 1.0 / 2.0_f64.sqrt(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_mean_of_readings_has_their_scatter() {
        // Derived: 9, 10, 11 have s = 1, so 1/√3 with two degrees of freedom.
        let input = Input::mean_of("three", &[9.0, 10.0, 11.0]);
        assert_eq!((input.value(), input.freedom()), (10.0, 2.0));
        assert!((input.standard() - 1.0 / 3.0_f64.sqrt()).abs() < 1e-15);
        assert!(Input::mean_of("one", &[9.0]).standard().is_nan());
    }
}
