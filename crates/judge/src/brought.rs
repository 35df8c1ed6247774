//! A resistance with its budget, as read or brought to 40 °C, and how a minimum stands to it.

use physics::temperature::{Correction, factor_to_40};
use physics::uncertainty::{Budget, Check, Evaluated, Input, Way, propagate};
use quantity::{Current, Resistance, Temperature, Voltage};

use crate::doubt::Instrument;
use crate::findings::Outcome;
use crate::trace::Taken;
use crate::words::{Link, Open};

/// Where a correction leads: to what the least resistances of windings are for.
pub(crate) const CORRECTED_TO: Temperature = standards::winding::MINIMUM_AT;

/// A resistance and all that its doubt is made of. The number is reckoned at once, for many tests
/// need no more; its budget only where it is shown or held against a minimum.
#[derive(Clone, Debug)]
pub(crate) struct Brought {
    /// Voltage, current, and the digits of the current.
    inputs: [Input; 3],
    /// Temperature of the insulation, where it was brought to another.
    warmth: Option<Input>,
    correction: Option<Correction>,
    value: f64,
    standard: f64,
}

/// How a minimum stands to a resistance, and what the doubt that decided it was.
#[derive(Debug)]
pub(crate) struct Stood {
    pub(crate) outcome: Outcome,
    /// Why, where it stands open.
    pub(crate) why: Open,
    pub(crate) links: Vec<Link>,
}

/// What ± twice the standard uncertainty holds of a normal distribution.
const SHARE: f64 = 0.9545;
/// A needle's doubt has one digit that means something; draws beyond these show no more of it.
const CHECK: Check = Check { share: SHARE, digits: 1, most_draws: 300_000, threads: 1 };

impl Brought {
    /// As read; `None` where it is no number.
    pub(crate) fn as_read(instrument: &Instrument, taken: &Taken) -> Option<Self> {
        Self::of(instrument.resistance_inputs(taken), None, None)
    }

    /// Brought to 40 °C; the insulation is within so many kelvins as warm as was read.
    pub(crate) fn to_40(
        instrument: &Instrument,
        taken: &Taken,
        correction: Correction,
        within_k: f64,
    ) -> Option<Self> {
        let inputs = instrument.resistance_inputs(taken);
        let celsius = correction.from.celsius();
        let warmth = Input::rectangular("temperature of the insulation", celsius, within_k);
        Self::of(inputs, Some(warmth), Some(correction))
    }

    fn of(
        inputs: [Input; 3],
        warmth: Option<Input>,
        correction: Option<Correction>,
    ) -> Option<Self> {
        let factor = correction.map_or(1.0, |correction| correction.factor.value());
        let value = inputs[0].value() / inputs[1].value() * factor;
        let mut brought = Self { inputs, warmth, correction, value, standard: 0.0 };
        let parts =
            brought.inputs().zip(brought.slopes()).map(|(one, slope)| one.standard() * slope);
        let variance: f64 = parts.map(|part| part * part).sum();
        brought.standard = variance.sqrt();
        (value + brought.standard).is_finite().then_some(brought)
    }

    fn inputs(&self) -> impl Iterator<Item = &Input> {
        self.inputs.iter().chain(&self.warmth)
    }

    /// How the value goes with each input (JCGM 100:2008, 5.1.2).
    fn slopes(&self) -> [f64; 4] {
        let [volts, amps] = [0, 1].map(|place| self.inputs[place].value());
        let warmth = self.correction.zip(self.warmth.as_ref()).map(|(correction, temperature)| {
            let relative = correction.uncertainty(temperature.standard()).value();
            self.value * relative / temperature.standard()
        });
        let of_amps = -self.value / amps;
        [self.value / volts, of_amps, of_amps, warmth.unwrap_or(0.0)]
    }

    /// The same as a budget; `None` where it is none.
    fn budget(&self) -> Option<(Budget, Evaluated)> {
        let budget = Budget::new(self.inputs().cloned().collect()).ok()?;
        let slopes = self.slopes();
        let found = budget.with_sensitivities(self.value, &slopes[..budget.inputs().len()]).ok()?;
        Some((budget, found))
    }

    pub(crate) fn value(&self) -> Resistance {
        Resistance::from_ohms(self.value)
    }

    /// Expanded uncertainty, k = 2.
    pub(crate) fn expanded(&self) -> Resistance {
        Resistance::from_ohms(2.0 * self.standard)
    }

    /// The correction as a line of a chain.
    pub(crate) fn corrected(&self) -> Option<Link> {
        let Correction { model, from, to, .. } = self.correction?;
        Some(Link::Corrected { resistance: self.value(), to, from, model: model.to_string() })
    }

    /// Each input's part, a line each.
    pub(crate) fn parts(&self) -> Vec<Link> {
        let unit = |place: usize, of: f64| match place {
            0 => format!("{:.3}", Voltage::from_volts(of)),
            1 | 2 => format!("{:.3}", Current::from_amperes(of)),
            _ => format!("{of:.2} K"),
        };
        let Some((_, found)) = self.budget() else { return Vec::new() };
        let each = found.contributions.iter().enumerate();
        each.filter(|(_, input)| input.standard > 0.0)
            .map(|(place, input)| Link::Part {
                input: input.name.to_string(),
                standard: unit(place, input.standard),
                makes: Some(format!("{:.3}", Resistance::from_ohms(input.part.abs()))),
            })
            .collect()
    }

    /// The model of the budget at other inputs.
    fn at(&self, x: &[f64]) -> f64 {
        let read = x[0] / (x[1] + x[2]);
        let Some(correction) = self.correction else { return read };
        // Beyond the ends of the model the last factor that it serves.
        let (low, high) = correction.model.range();
        let celsius = x[3].clamp(low.celsius(), high.celsius());
        let factor = factor_to_40(correction.model, Temperature::from_celsius(celsius));
        read * factor.map_or(f64::NAN, |factor| factor.value())
    }

    /// The least and the most it can be: every input at its limit.
    fn limits(&self) -> [f64; 2] {
        [-1.0, 1.0].map(|side| {
            let to = |input: &Input| side * input.standard() * 3f64.sqrt();
            let signs = self.slopes().map(|slope| slope.signum());
            let x: Vec<f64> =
                self.inputs().zip(signs).map(|(one, sign)| one.value() + sign * to(one)).collect();
            self.at(&x)
        })
    }

    /// How a minimum stands to it.
    ///
    /// Twice the standard uncertainty decides, unless the minimum is one that the resistance can
    /// come to: then the interval is the one that draws bear out (JCGM 101:2008, 8).
    pub(crate) fn against(&self, minimum: Resistance) -> Stood {
        let (value, expanded) = (self.value, 2.0 * self.standard);
        let mut ends = [value - expanded, value + expanded];
        let mut links = Vec::new();
        let [least, most] = self.limits();
        if (least..=most).contains(&minimum.ohms())
            && let Some((budget, _)) = self.budget()
            && let Ok(drawn) = propagate(&budget, |x| self.at(x), &CHECK)
            && drawn.way == Way::Draws
        {
            ends = [drawn.low, drawn.high];
            let [low, high] = ends.map(Resistance::from_ohms);
            links.push(Link::ByDraws { low, high, draws: drawn.draws });
        }
        let outcome = if ends[0] >= minimum.ohms() {
            Outcome::Ok
        } else if ends[1] < minimum.ohms() {
            Outcome::Fail
        } else {
            Outcome::Warn
        };
        Stood { outcome, why: Open::Doubt, links }
    }
}

#[cfg(test)]
mod tests {
    use physics::temperature::{Model, correction};

    use super::*;

    /// 5 kV and 1 µA without doubt, brought from 20 °C within so many kelvins: 1250 MΩ.
    fn brought(within_k: f64) -> Brought {
        let from = Temperature::from_celsius(20.0);
        let correction = correction(Model::HalvingPerTen, from, CORRECTED_TO).expect("served");
        let inputs = [
            Input::rectangular("volts", 5000.0, 0.0),
            Input::rectangular("amperes", 1e-6, 0.0),
            Input::rectangular("digits", 0.0, 0.0),
        ];
        let warmth = Input::rectangular("temperature", 20.0, within_k);
        Brought::of(inputs, Some(warmth), Some(correction)).expect("a number")
    }

    #[test]
    fn the_number_is_that_of_its_budget() {
        // Derived: the law of propagation, once as a sum here and once by the budget.
        let found = brought(2.0);
        let (_, by_budget) = found.budget().expect("a budget");
        assert_eq!((found.value, found.standard), (by_budget.value, by_budget.standard));
    }

    #[test]
    fn the_doubt_of_the_temperature_is_in_it() {
        // Derived: ln 2/10 a kelvin, and within 2 K u = 2/√3 K: 8.004 %, twice of 1250 MΩ.
        let found = brought(2.0);
        assert!((found.value().megohms() - 1250.0).abs() < 1e-6);
        assert!((found.expanded().megohms() - 200.10).abs() < 0.01);
        assert_eq!(found.parts().len(), 1);
    }

    /// Source: JCGM 101:2008, 8, from memory, unverified: draws validate the straight lines.
    #[test]
    fn where_straight_lines_do_not_serve_the_draws_decide() {
        // Derived: within 10 K, 95.45 % of the factor lie from 2^-0.9545 to 2^0.9545: 645 to
        // 2422 MΩ. To either side of 1250 MΩ it would be 250 to 2250 MΩ.
        let wide = brought(10.0);
        for (minimum, expected, links) in [
            (635.0, Outcome::Ok, 1),
            (660.0, Outcome::Warn, 1),
            (2390.0, Outcome::Warn, 1),
            (2450.0, Outcome::Fail, 1),
            // Beyond what it can come to, twice the standard uncertainty.
            (600.0, Outcome::Warn, 0),
            (2600.0, Outcome::Fail, 0),
        ] {
            let stood = wide.against(Resistance::from_megohms(minimum));
            assert_eq!((stood.outcome, stood.links.len()), (expected, links), "{minimum} MΩ");
        }
    }
}
