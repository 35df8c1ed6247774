//! Conduction through the insulation, as it follows voltage and temperature.

use quantity::{Current, Ratio, Resistance, Temperature, Voltage};

use crate::temperature::{Model, TemperatureError, correction};
use crate::transient::TestObject;

/// Boltzmann's constant in electronvolts for each kelvin. Source: the SI Brochure, 9th edition
/// (2019), k and e, both exact.
const BOLTZMANN_EV: f64 = 8.617_333_262_145_179e-5;

/// Growth is not reckoned further than e to this: a current beyond all supplies is a number still.
const MOST_FOLDS: f64 = 500.0;

/// Where conduction begins to grow faster than the voltage. See [`Conduction::current`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Onset {
    /// V₀, of either polarity; above zero.
    pub from: Voltage,
    /// V_s, above zero: conductance grows e-fold for each of these above the onset.
    pub scale: Voltage,
}

/// Conduction through the insulation at one temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Conduction {
    /// R, the insulation resistance up to the onset; above zero.
    pub resistance: Resistance,
    /// What makes it grow faster than the voltage; `None` where it follows Ohm's law.
    pub onset: Option<Onset>,
}

impl Conduction {
    /// Current through the insulation at a voltage.
    ///
    /// - `at` V, of either polarity `[V]`
    /// - returns `[A]`, with the sign of V; growth ends at e⁵⁰⁰, beyond all supplies
    ///
    /// I = V/R up to the onset, and (V/R)·exp((|V| − V₀)/V_s) above it
    ///
    /// Continuous and odd, its slope jumps at V₀. Near any one voltage it cannot be told from the
    /// law of Poole and Frenkel, ln(I/V) = a + b·√V, with V_s = 2·√V/b.
    ///
    /// # Source
    /// Exponential growth above an onset: common practice, no source. The neighbour: Frenkel, On
    /// pre-breakdown phenomena in insulators and electronic semi-conductors, Physical Review 54
    /// (1938), from memory, unverified.
    ///
    /// ```
    /// use physics::conduction::{Conduction, Onset};
    /// use quantity::{Resistance, Voltage};
    /// let onset =
    ///     Onset { from: Voltage::from_kilovolts(12.0), scale: Voltage::from_kilovolts(2.0) };
    /// let resistance = Resistance::from_megohms(10_000.0);
    /// let through = Conduction { resistance, onset: Some(onset) };
    /// // Derived: 16 kV over 10 GΩ, times e².
    /// let current = through.current(Voltage::from_kilovolts(16.0));
    /// assert!((current.microamperes() - 11.822_489_758_291).abs() < 1e-9);
    /// ```
    #[must_use]
    pub fn current(&self, at: Voltage) -> Current {
        at / self.apparent_resistance(at)
    }

    /// Resistance as it is read at a voltage, voltage over current: what is drawn against voltage
    /// to see whether insulation weakens.
    ///
    /// - `at` V, of either polarity `[V]`
    /// - returns `[Ω]`: R up to the onset, R·exp((V₀ − |V|)/V_s) above it
    ///
    /// # Source
    /// As for [`Conduction::current`].
    ///
    /// ```
    /// use physics::conduction::{Conduction, Onset};
    /// use quantity::{Resistance, Voltage};
    /// let onset =
    ///     Onset { from: Voltage::from_kilovolts(12.0), scale: Voltage::from_kilovolts(2.0) };
    /// let resistance = Resistance::from_megohms(10_000.0);
    /// let through = Conduction { resistance, onset: Some(onset) };
    /// let read = |kv| through.apparent_resistance(Voltage::from_kilovolts(kv)).megohms();
    /// // Derived: all of it up to 12 kV, 1/e² of it at 16 kV.
    /// assert_eq!(read(-12.0), 10_000.0);
    /// assert!((read(16.0) - 1353.352_832_366).abs() < 1e-6);
    /// ```
    #[must_use]
    pub fn apparent_resistance(&self, at: Voltage) -> Resistance {
        let folds = self.onset.map_or(0.0, |onset| folds(&onset, at.volts()));
        self.resistance / folds.exp()
    }

    /// What goes through it beyond V/R.
    pub(crate) fn excess(&self) -> Option<Excess> {
        self.onset.map(|onset| Excess { siemens: 1.0 / self.resistance.ohms(), onset })
    }
}

/// By how many times e conduction has grown.
fn folds(onset: &Onset, volts: f64) -> f64 {
    ((volts.abs() - onset.from.volts()) / onset.scale.volts()).clamp(0.0, MOST_FOLDS)
}

/// Current beyond Ohm's law, as the circuit equations see it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Excess {
    siemens: f64,
    onset: Onset,
}

impl Excess {
    /// V₀.
    pub(crate) fn from(&self) -> f64 {
        self.onset.from.volts()
    }

    /// Amperes beyond V/R.
    pub(crate) fn amperes(&self, volts: f64) -> f64 {
        self.siemens * volts * folds(&self.onset, volts).exp_m1()
    }

    /// How these grow with the voltage, in siemens.
    pub(crate) fn slope(&self, volts: f64) -> f64 {
        let folds = folds(&self.onset, volts);
        if folds == 0.0 {
            return 0.0;
        }
        let growing = folds.exp() * volts.abs() / self.onset.scale.volts();
        self.siemens * (folds.exp_m1() + growing)
    }
}

impl TestObject {
    /// Conduction through its insulation; `None` where nothing is conducted.
    #[must_use]
    pub fn conduction(&self) -> Option<Conduction> {
        self.insulation.map(|resistance| Conduction { resistance, onset: self.onset })
    }

    /// The same object with its insulation at another temperature: what to plan or simulate with
    /// when the resistance was read at `from` and the test is at `to`.
    ///
    /// Capacitance, absorption, surface and onset stay as they are: how these follow temperature
    /// has no agreed rule.
    ///
    /// # Errors
    /// As for [`resistance_ratio`].
    pub fn at_temperature(
        &self,
        dependence: Dependence,
        from: Temperature,
        to: Temperature,
    ) -> Result<Self, DependenceError> {
        let ratio = resistance_ratio(dependence, from, to)?;
        let insulation = self.insulation.map(|resistance| resistance * ratio.value());
        Ok(Self { insulation, ..self.clone() })
    }
}

/// How insulation resistance follows temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Dependence {
    /// By one of the rules that readings are brought to 40 °C with.
    Rule(Model),
    /// As conduction that needs an energy to set out: by its activation energy, `[eV]`.
    Activation {
        /// E, above zero.
        ev: f64,
    },
}

/// Why a resistance cannot be brought to another temperature.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum DependenceError {
    /// Outside the range of the rule.
    #[error(transparent)]
    Rule(#[from] TemperatureError),
    /// An activation energy is above 0 and below 10 eV.
    #[error("give the activation energy in electronvolts, above 0 and below 10, not {0}")]
    Activation(f64),
    /// Insulation is not read near absolute zero.
    #[error("give the temperature of the insulation from −100 to 300 °C, not {0}")]
    Temperature(Temperature),
}

/// Insulation resistance at one temperature over that at another.
///
/// - `dependence` how it follows temperature
/// - `from`, `to` temperatures of the insulation `[K]`
/// - returns `[1]`: R(to)/R(from); by a rule valid in the range of its [`Model`], by activation
///   from −100 to 300 °C as far as one process carries the current
///
/// By a rule: as [`correction`]. By activation: exp((E/k)·(1/T_to − 1/T_from))
///
/// # Source
/// Rule: as for [`correction`]. Activation: Arrhenius' law; k by the SI Brochure, 9th edition
/// (2019).
///
/// # Errors
/// When a temperature or the energy is out of its range.
///
/// ```
/// use physics::conduction::{Dependence, resistance_ratio};
/// use quantity::Temperature;
/// // Derived: E = k·ln 2·303.15·313.15/10 halves between 30 and 40 °C.
/// let energy = Dependence::Activation { ev: 0.567_04 };
/// let (from, to) = (Temperature::from_celsius(30.0), Temperature::from_celsius(40.0));
/// let ratio = resistance_ratio(energy, from, to).expect("in range");
/// assert!((ratio.value() - 0.5).abs() < 1e-4);
/// ```
pub fn resistance_ratio(
    dependence: Dependence,
    from: Temperature,
    to: Temperature,
) -> Result<Ratio, DependenceError> {
    let ev = match dependence {
        Dependence::Rule(model) => {
            return Ok(correction(model, from, to)?.factor);
        }
        Dependence::Activation { ev } => ev,
    };
    if !(ev > 0.0 && ev < 10.0) {
        return Err(DependenceError::Activation(ev));
    }
    for at in [from, to] {
        if !(-100.0..=300.0).contains(&at.celsius()) {
            return Err(DependenceError::Temperature(at));
        }
    }
    let inverse = 1.0 / to.kelvins() - 1.0 / from.kelvins();
    Ok(Ratio::from_value((ev / BOLTZMANN_EV * inverse).exp()))
}

/// The activation energy that halves resistance over a rise of temperature: what a halving rule
/// says of the process, near one temperature.
///
/// - `from`, `to` temperatures between which it halves, `to` the higher `[K]`
/// - returns E `[eV]`; infinite where both are alike
///
/// E = k·ln 2/(1/T_from − 1/T_to)
///
/// # Source
/// Derived from Arrhenius' law; k by the SI Brochure, 9th edition (2019).
///
/// ```
/// use physics::conduction::activation_of_halving;
/// use quantity::Temperature;
/// let (from, to) = (Temperature::from_celsius(30.0), Temperature::from_celsius(40.0));
/// // Derived: 8.617333e-5 · 0.693147 · 303.15 · 313.15/10.
/// assert!((activation_of_halving(from, to) - 0.567_04).abs() < 1e-5);
/// ```
#[must_use]
pub fn activation_of_halving(from: Temperature, to: Temperature) -> f64 {
    let inverse = 1.0 / from.kelvins() - 1.0 / to.kelvins();
    BOLTZMANN_EV * std::f64::consts::LN_2 / inverse
}

#[cfg(test)]
mod tests {
    use super::*;

    fn weak(scale: f64) -> Conduction {
        let onset = Onset { from: Voltage::from_volts(1e4), scale: Voltage::from_volts(scale) };
        Conduction { resistance: Resistance::from_ohms(1e10), onset: Some(onset) }
    }

    #[test]
    fn continuous_odd_and_growing() {
        for scale in [50.0, 1e3, 1e6] {
            let through = weak(scale);
            let mut before = 0.0;
            for k in 0..=3000 {
                let volts = Voltage::from_volts(10.0 * f64::from(k));
                let amperes = through.current(volts).amperes();
                assert_eq!(through.current(-volts).amperes(), -amperes);
                assert!(amperes >= before && amperes.is_finite(), "{volts} {amperes}");
                before = amperes;
            }
            let edge = |volts| through.current(Voltage::from_volts(volts)).amperes();
            assert!((edge(1e4 + 1e-7) - edge(1e4)).abs() < 1e-6 * 1e-8);
        }
    }

    #[test]
    fn the_slope_is_that_of_the_current() {
        // Derived: a central difference, whose own error is of second order.
        let excess = weak(800.0).excess().expect("an onset");
        for volts in [-14e3, -9e3, 9.9e3, 10.2e3, 17e3] {
            let h = 1e-2;
            let near = (excess.amperes(volts + h) - excess.amperes(volts - h)) / (2.0 * h);
            assert!((excess.slope(volts) - near).abs() <= 1e-8 * near.abs(), "{volts}");
        }
    }

    #[test]
    fn activation_meets_the_thermosetting_rule() {
        // IEEE 43-2013 clause 6.3, from memory, unverified: 4230 K above 40 °C. The rule counts
        // from 273 instead of 273.15 K, which is the difference left.
        let at = Temperature::from_celsius;
        let by = |dependence| {
            resistance_ratio(dependence, at(40.0), at(80.0)).expect("in range").value()
        };
        let activation = Dependence::Activation { ev: 4230.0 * BOLTZMANN_EV };
        let rule = Dependence::Rule(Model::Thermosetting);
        assert!((by(activation) / by(rule) - 1.0).abs() < 2e-3);
    }

    #[test]
    fn there_and_back_is_one() {
        let at = Temperature::from_celsius;
        for dependence in
            [Dependence::Rule(Model::HalvingPerTen), Dependence::Activation { ev: 0.9 }]
        {
            let there = resistance_ratio(dependence, at(20.0), at(75.0)).expect("in range");
            let back = resistance_ratio(dependence, at(75.0), at(20.0)).expect("in range");
            assert!(there.value() < 0.05);
            assert!((there.value() * back.value() - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn nonsense_is_refused() {
        let at = Temperature::from_celsius;
        for ev in [0.0, -1.0, 10.0, f64::NAN] {
            let found = resistance_ratio(Dependence::Activation { ev }, at(20.0), at(40.0));
            assert!(matches!(found, Err(DependenceError::Activation(_))));
        }
        let cold = resistance_ratio(Dependence::Activation { ev: 0.5 }, at(-150.0), at(40.0));
        assert_eq!(cold, Err(DependenceError::Temperature(at(-150.0))));
        let hot = resistance_ratio(Dependence::Rule(Model::Thermosetting), at(40.0), at(99.0));
        assert!(matches!(hot, Err(DependenceError::Rule(_))));
    }
}
