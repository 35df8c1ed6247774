//! Capacitance from geometry, and what a charged object holds.

use std::f64::consts::PI;

use quantity::{Capacitance, Charge, Energy, Length, Voltage};

/// Electric constant ε₀ `[F/m]`. Source: CODATA 2018 adjustment.
const ELECTRIC_CONSTANT: f64 = 8.854_187_812_8e-12;

/// A capacitance cannot be reckoned from these dimensions.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum GeometryError {
    /// The outer diameter must be larger than the inner one, both above zero.
    #[error("diameter over the insulation ({outer}) must exceed that under it ({inner}), above 0")]
    Diameters {
        /// Diameter under the insulation.
        inner: Length,
        /// Diameter over the insulation.
        outer: Length,
    },
    /// A relative permittivity is at least that of empty space.
    #[error("relative permittivity must be at least 1, not {0}")]
    Permittivity(f64),
    /// A length cannot be negative.
    #[error("length must be 0 or more, not {0}")]
    Length(Length),
}

/// Capacitance of a coaxial cable of the given length.
///
/// - `inner` diameter over the conductor screen `[m]`, `outer` diameter over the insulation `[m]`
/// - `permittivity` relative, `[1]`
/// - `length` `[m]`
/// - returns `[F]`; valid for a length that is large against `outer`
///
/// C = 2π·ε₀·εr·l / ln(D/d)
///
/// # Source
/// Gauss's law for a long coaxial pair; textbook.
///
/// # Errors
/// When the dimensions describe no coaxial pair.
///
/// ```
/// use physics::capacitance::coaxial;
/// use quantity::Length;
/// // Textbook problem: radii 0.10 and 0.60 mm, εr 2.6; the answer printed is 81 pF/m.
/// let (inner, outer) = (Length::from_millimetres(0.2), Length::from_millimetres(1.2));
/// let per_metre = coaxial(inner, outer, 2.6, Length::from_metres(1.0)).expect("a cable");
/// assert!((per_metre.farads() - 80.7e-12).abs() < 0.1e-12);
/// ```
pub fn coaxial(
    inner: Length,
    outer: Length,
    permittivity: f64,
    length: Length,
) -> Result<Capacitance, GeometryError> {
    let ratio = outer / inner;
    if !(inner > Length::ZERO && ratio > 1.0 && ratio.is_finite()) {
        return Err(GeometryError::Diameters { inner, outer });
    }
    if !(permittivity >= 1.0 && permittivity.is_finite()) {
        return Err(GeometryError::Permittivity(permittivity));
    }
    let per_metre = 2.0 * PI * ELECTRIC_CONSTANT * permittivity / ratio.ln();
    of_length(Capacitance::from_farads(per_metre * 1e3), length)
}

/// Capacitance of a length of cable whose capacitance per kilometre is known.
///
/// - `per_kilometre` `[F per km]`, `length` `[m]`
/// - returns `[F]`
///
/// C = C′·l
///
/// # Source
/// Definition of a capacitance per length.
///
/// # Errors
/// When the length is negative or no number.
///
/// ```
/// use physics::capacitance::of_length;
/// use quantity::{Capacitance, Length};
/// // 216 nF/km (printed for a 1×95 mm² 12/20 kV cable) over 1.5 km; arithmetic.
/// let cable = of_length(Capacitance::from_nanofarads(216.0), Length::from_kilometres(1.5));
/// assert!((cable.expect("a length").microfarads() - 0.324).abs() < 1e-12);
/// ```
pub fn of_length(per_kilometre: Capacitance, length: Length) -> Result<Capacitance, GeometryError> {
    if !(length >= Length::ZERO && length.is_finite()) {
        return Err(GeometryError::Length(length));
    }
    Ok(per_kilometre * length.kilometres())
}

/// Energy stored in a charged capacitance.
///
/// - `capacitance` `[F]`, `voltage` `[V]`
/// - returns `[J]`
///
/// E = C·V²/2
///
/// # Source
/// Textbook electrostatics.
///
/// ```
/// use physics::capacitance::stored_energy;
/// use quantity::{Capacitance, Voltage};
/// // 1 µF at 25 kV: 312.5 J, exact by arithmetic.
/// let energy =
///     stored_energy(Capacitance::from_microfarads(1.0), Voltage::from_kilovolts(25.0));
/// assert!((energy.joules() - 312.5).abs() < 1e-9);
/// ```
#[must_use]
pub fn stored_energy(capacitance: Capacitance, voltage: Voltage) -> Energy {
    stored_charge(capacitance, voltage) * voltage * 0.5
}

/// Charge on a capacitance.
///
/// - `capacitance` `[F]`, `voltage` `[V]`
/// - returns `[C]`
///
/// Q = C·V
///
/// # Source
/// Definition of capacitance.
///
/// ```
/// use physics::capacitance::stored_charge;
/// use quantity::{Capacitance, Voltage};
/// // 0.324 µF at 48 kV: 15.55 mC, by arithmetic.
/// let charge =
///     stored_charge(Capacitance::from_microfarads(0.324), Voltage::from_kilovolts(48.0));
/// assert!((charge.coulombs() - 15.552e-3).abs() < 1e-12);
/// ```
#[must_use]
pub fn stored_charge(capacitance: Capacitance, voltage: Voltage) -> Charge {
    capacitance * voltage
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check((inner_mm, outer_mm, permittivity, metres): (f64, f64, f64, f64), expected_nf: f64) {
        let inner = Length::from_millimetres(inner_mm);
        let outer = Length::from_millimetres(outer_mm);
        let length = Length::from_metres(metres);
        let found = coaxial(inner, outer, permittivity, length).expect("a cable").nanofarads();
        assert!((found / expected_nf - 1.0).abs() < 5e-5, "{found} nF, not {expected_nf} nF");
    }

    #[test]
    fn coaxial_cables_of_the_problem_books() {
        // Problem book: εr 3.2, radii 2.5 and 9.0 mm; arithmetic gives 138.98 pF/m.
        check((5.0, 18.0, 3.2, 1.0), 138.98e-3);
        // Problem book: εr 4, d 3 cm, D 9.5 cm, 100 m; arithmetic gives 19.305 nF.
        check((30.0, 95.0, 4.0, 100.0), 19.305);
    }

    #[test]
    fn impossible_dimensions_are_named() {
        let (small, large) = (Length::from_millimetres(3.0), Length::from_millimetres(9.0));
        let metre = Length::from_metres(1.0);
        let swapped = coaxial(large, small, 2.5, metre);
        assert_eq!(swapped, Err(GeometryError::Diameters { inner: large, outer: small }));
        assert_eq!(coaxial(small, large, 0.5, metre), Err(GeometryError::Permittivity(0.5)));
        assert_eq!(coaxial(small, large, 2.5, -metre), Err(GeometryError::Length(-metre)));
    }

    #[test]
    fn energy_of_a_cable() {
        // 0.324 µF at 48 kV: 373.2 J, by arithmetic.
        let energy =
            stored_energy(Capacitance::from_microfarads(0.324), Voltage::from_kilovolts(48.0));
        assert!((energy.joules() - 373.248).abs() < 1e-9);
    }
}
