//! Ripple of the supply, as it stands at the object.

use std::f64::consts::TAU;

use nalgebra::Complex;
use quantity::{Current, Time, Voltage};

use super::modes::Network;
use super::run::Run;

/// Ripple at the object, at one instant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rippled {
    /// How far the voltage at the terminals swings to either side of its mean.
    pub swing: Voltage,
    /// Mean and swing.
    pub crest: Voltage,
    /// What no voltage exceeds however little is drawn: the command and all of its ripple.
    pub ceiling: Voltage,
    /// How far the current into the high-voltage terminal swings to either side of its mean.
    pub current: Current,
    /// Whether the supply gives current all the time. Where it does not, swing, crest and current
    /// are of a supply that could take current back, and what holds is the ceiling alone.
    pub throughout: bool,
}

impl Run {
    /// Ripple at the object, just before `at`.
    ///
    /// - `at` from the start `[s]`
    /// - returns voltages `[V]` and current `[A]`; `None` where the supply has no ripple, where it
    ///   does not follow its command (at its limit, floating, tripped or off), and where conduction
    ///   outgrows Ohm's law
    ///
    /// v̂ = r·V/(1 + R·Y(jω)), î = |Y_object(jω)|·v̂, Y(jω) = G + jωC + Σ jωC_j/(1 + jωR_jC_j)
    ///
    /// It holds while the rectifier conducts throughout, as on a rise: see [`Rippled::throughout`].
    /// On a hold the object takes next to nothing, charges to the crest and keeps it from peak to
    /// peak; its mean is then up to r·V above the command, and the ceiling bounds it. It is one
    /// sine, started long ago; the smoothing inside the set is taken to be part of its r.
    ///
    /// # Source
    /// Kirchhoff's laws at one frequency; derived. Ripple as half of peak to peak over the mean:
    /// IEC 60060-1 (from memory, unverified).
    ///
    /// ```
    /// use physics::transient::{Leg, Ripple, Run, Supply, TestObject};
    /// use quantity::{Capacitance, Ratio, Resistance, Time, Voltage};
    /// let object = TestObject {
    ///     capacitance: Capacitance::from_nanofarads(100.0),
    ///     insulation: None,
    ///     start: Voltage::ZERO,
    ///     branches: vec![],
    ///     surface: None,
    ///     onset: None,
    /// };
    /// let ripple = Ripple { factor: Ratio::from_percent(3.0), frequency_hz: 50.0 };
    /// let supply = Supply {
    ///     series: Resistance::from_ohms(31_830.988_618),
    ///     ripple: Some(ripple),
    ///     ..Supply::default()
    /// };
    /// let to = Voltage::from_kilovolts(10.0);
    /// let hold = Leg { to, rise: None, dwell: Time::from_seconds(60.0) };
    /// let run = Run::new(&object, &supply, &[hold], None, Time::ZERO).expect("a sound case");
    /// let there = run.ripple_at(Time::from_seconds(60.0)).expect("it follows");
    /// // Derived: ωRC = 1, so 300 V over √2; and all of it in the capacitance.
    /// assert!((there.swing.volts() - 212.132_034).abs() < 1e-5);
    /// assert!((there.current.microamperes() - 212.132_034e-6 * 31.415_927e6).abs() < 1e-2);
    /// assert!(!there.throughout);
    /// ```
    #[must_use]
    pub fn ripple_at(&self, at: Time) -> Option<Rippled> {
        let ripple = self.supply.ripple?;
        let (t, stretch) = self.stretch_before(at)?;
        let command = stretch.follows()?.at(t);
        let (object, series) =
            (admittance(&self.network, TAU * ripple.frequency_hz), self.supply.series.ohms());
        let all = object + self.supply.bleed_siemens();
        let swing = ripple.factor.value() * command / (all * series + 1.0).norm();
        let read = stretch.read(t);
        Some(Rippled {
            swing: Voltage::from_volts(swing),
            crest: Voltage::from_volts(read.volts + swing),
            ceiling: Voltage::from_volts(command * (1.0 + ripple.factor.value())),
            current: Current::from_amperes(object.norm() * swing),
            throughout: read.supplied >= all.norm() * swing,
        })
    }
}

/// What the object takes of one volt of so many radians a second.
fn admittance(network: &Network, omega: f64) -> Complex<f64> {
    let own = Complex::new(network.conductance, omega * network.capacitance);
    network.groups.iter().fold(own, |sum, group| {
        let charging = Complex::new(0.0, omega * group.capacitance);
        sum + charging / Complex::new(1.0, omega / group.rate)
    })
}

#[cfg(test)]
mod tests {
    use quantity::{Capacitance, Ratio, Resistance};

    use super::*;
    use crate::transient::{Branch, Leg, Ripple, Supply, TestObject};

    /// 1 µF with a branch of 1 kΩ and 1 µF behind 10 kΩ and a path of 1 MΩ, at 100 Hz.
    fn run(command: f64, per_second: Option<f64>) -> Run {
        let object = TestObject {
            capacitance: Capacitance::from_microfarads(1.0),
            insulation: Some(Resistance::from_megohms(10.0)),
            start: Voltage::ZERO,
            branches: vec![Branch {
                resistance: Resistance::from_kilohms(1.0),
                capacitance: Capacitance::from_microfarads(1.0),
                start: Voltage::ZERO,
            }],
            surface: None,
            onset: None,
        };
        let supply = Supply {
            series: Resistance::from_kilohms(10.0),
            bleed: Some(Resistance::from_megohms(1.0)),
            ripple: Some(Ripple { factor: Ratio::from_percent(3.0), frequency_hz: 100.0 }),
            ..Supply::default()
        };
        let leg = Leg {
            to: Voltage::from_volts(command),
            rise: per_second.map(quantity::VoltageRate::from_volts_per_second),
            dwell: Time::from_seconds(10.0),
        };
        Run::new(&object, &supply, &[leg], None, Time::ZERO).expect("a sound case")
    }

    #[test]
    fn it_is_the_divider_of_the_impedances() {
        // Derived: by impedances in parallel, 1/Y = 1/(1/Z_C + 1/(R_j + 1/jωC_j) + …).
        let omega = TAU * 100.0;
        let capacitor = Complex::new(0.0, -1.0 / (omega * 1e-6));
        let branch = capacitor + 1e3;
        let load = (capacitor.inv() + branch.inv() + 1e-7 + 1e-6).inv();
        let expected = 300.0 * (load / (load + 1e4)).norm();
        let there = run(1e4, None).ripple_at(Time::from_seconds(9.0)).expect("it follows");
        assert!((there.swing.volts() / expected - 1.0).abs() < 1e-12, "{there:?}");
        assert!((there.ceiling.volts() - 10_300.0).abs() < 1e-9);
        let object = (capacitor.inv() + branch.inv() + 1e-7).norm();
        assert!((there.current.amperes() / (expected * object) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_rise_conducts_throughout_and_a_hold_does_not() {
        // Derived: the supply swings by nearly 300 V/10 kΩ = 30 mA at 10 kV; a rise of 20 kV/s
        // takes 40 mA into 2 µF, a hold 11 µA a volt of 1e6.
        let rise = run(1e4, Some(2e4));
        assert!(rise.ripple_at(Time::from_seconds(0.45)).expect("it follows").throughout);
        assert!(!rise.ripple_at(Time::from_seconds(5.0)).expect("it follows").throughout);
        assert_eq!(rise.ripple_at(Time::ZERO), None);
    }
}
