//! Inputs together, and what they make of a result.

use std::borrow::Cow;

use super::{Input, Shape, coverage_factor, effective_freedom};

/// Inputs of a result, with what ties them together.
///
/// Two quantities that share a cause (readings of one meter) are best put in by that cause: an
/// input of its own, which enters the model twice. A correlation is for where the cause is unknown.
///
/// # Source
/// JCGM 100:2008, clause 5, F.1.2.
///
/// ```
/// use physics::uncertainty::{Budget, Input, Order};
/// // Derived: 10 kV ± 1 % over 2 µA ± 2 % is 5 GΩ ± √5 %.
/// let budget = Budget::new(vec![
///     Input::normal("voltage", 10e3, 100.0),
///     Input::normal("current", 2e-6, 0.04e-6),
/// ])?;
/// let resistance = budget.evaluate(|x| x[0] / x[1], Order::First)?;
/// assert!((resistance.standard / resistance.value - 5.0_f64.sqrt() / 100.0).abs() < 1e-9);
/// # Ok::<(), physics::uncertainty::BudgetError>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Budget {
    inputs: Vec<Input>,
    /// Places of two inputs, the first before the second, and their correlation.
    ties: Vec<(usize, usize, f64)>,
}

/// Why a budget says nothing.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum BudgetError {
    /// A number of an input is none.
    #[error("{name}: give a value and a standard uncertainty of 0 or more, both finite")]
    Input {
        /// The input.
        name: String,
    },
    /// Less than one degree of freedom.
    #[error("{name}: degrees of freedom are 1 or more, not {freedom}")]
    Freedom {
        /// The input.
        name: String,
        /// As given.
        freedom: f64,
    },
    /// No input at all.
    #[error("a budget has at least one input")]
    Empty,
    /// Two inputs of one name.
    #[error("{name} is there twice: give each input a name of its own")]
    Twice {
        /// The name.
        name: String,
    },
    /// A correlation with an input that is not there.
    #[error("there is no input {name} to correlate: name two different inputs of this budget")]
    Unknown {
        /// The name.
        name: String,
    },
    /// A correlation beyond ±1, or several that cannot be true together.
    #[error("correlations are from -1 to 1 and must be possible together; {0} is not")]
    Correlation(f64),
    /// A rule for independent inputs was asked of correlated ones.
    #[error("{name} is correlated: for {what}, put the shared cause in as an input of its own")]
    Correlated {
        /// One of the two.
        name: String,
        /// What was asked for.
        what: &'static str,
    },
    /// The model gives no number at the inputs' values, or near them.
    #[error("the model gives no number about {name} = {value}: check its range and the input's")]
    Model {
        /// The input that was moved.
        name: String,
        /// Where it stands.
        value: f64,
    },
    /// Fewer draws than quantiles need.
    #[error("{0} draws are too few: take 1000 or more")]
    Draws(usize),
    /// A share that is none.
    #[error("a share is above 0 and below 1, not {0}")]
    Share(f64),
}

/// How far the model is expanded about the inputs' values.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Order {
    /// Straight lines.
    First,
    /// With the most important terms of next order, for symmetric and independent inputs.
    Second,
}

/// What one input does to the result.
#[derive(Clone, Debug, PartialEq)]
pub struct Contribution {
    /// The input's name.
    pub name: Cow<'static, str>,
    /// Its value, in its own unit.
    pub value: f64,
    /// Its standard uncertainty, in its own unit.
    pub standard: f64,
    /// Sensitivity c = ∂f/∂x; 0 of an input without doubt.
    pub sensitivity: f64,
    /// c·u with its sign, in the unit of the result.
    pub part: f64,
}

/// A result with its doubt.
#[derive(Clone, Debug, PartialEq)]
pub struct Evaluated {
    /// The model at the inputs' values.
    pub value: f64,
    /// Combined standard uncertainty, of the order asked for.
    pub standard: f64,
    /// Variance that the terms of second order add; 0 where they were not asked for.
    pub second_order: f64,
    /// Effective degrees of freedom, not truncated.
    pub freedom: f64,
    /// Input by input, in the order of the budget.
    pub contributions: Vec<Contribution>,
}

impl Evaluated {
    /// Expanded uncertainty that holds this share, by Student's t.
    ///
    /// # Source
    /// JCGM 100:2008, G.4.1.
    #[must_use]
    pub fn expanded(&self, share: f64) -> f64 {
        coverage_factor(share, self.freedom.max(1.0)) * self.standard
    }
}

/// Steps of the derivatives, in standard uncertainties of the input: small for slopes, wider for
/// the curvatures of second order, where the last digits of the model count more.
const SLOPE_STEP: f64 = 1.0 / 32.0;
const CURVE_STEP: f64 = 1.0 / 8.0;

impl Budget {
    /// A budget of independent inputs.
    ///
    /// # Errors
    /// When there is no input, a number of one is none, or two have one name.
    pub fn new(inputs: Vec<Input>) -> Result<Self, BudgetError> {
        if inputs.is_empty() {
            return Err(BudgetError::Empty);
        }
        for (place, input) in inputs.iter().enumerate() {
            let name = || input.name().to_owned();
            if !(input.value().is_finite()
                && input.standard() >= 0.0
                && input.standard().is_finite())
            {
                return Err(BudgetError::Input { name: name() });
            }
            if input.freedom().is_nan() || input.freedom() < 1.0 {
                return Err(BudgetError::Freedom { name: name(), freedom: input.freedom() });
            }
            if inputs[..place].iter().any(|other| other.name() == input.name()) {
                return Err(BudgetError::Twice { name: name() });
            }
        }
        Ok(Self { inputs, ties: Vec::new() })
    }

    /// The same with two inputs correlated.
    ///
    /// # Errors
    /// When one is not there, or the number is not from −1 to 1.
    pub fn correlated(mut self, one: &str, other: &str, by: f64) -> Result<Self, BudgetError> {
        let place = |name: &str| {
            let found = self.inputs.iter().position(|input| input.name() == name);
            found.ok_or_else(|| BudgetError::Unknown { name: name.to_owned() })
        };
        let (one, other) = (place(one)?, place(other)?);
        if one == other {
            return Err(BudgetError::Unknown { name: self.inputs[one].name().to_owned() });
        }
        if !(-1.0..=1.0).contains(&by) {
            return Err(BudgetError::Correlation(by));
        }
        self.ties.push((one.min(other), one.max(other), by));
        Ok(self)
    }

    /// The inputs.
    #[must_use]
    pub fn inputs(&self) -> &[Input] {
        &self.inputs
    }

    /// Correlations: places of two inputs, the first before the second, and how much.
    pub(super) fn ties(&self) -> &[(usize, usize, f64)] {
        &self.ties
    }

    pub(super) fn values(&self) -> Vec<f64> {
        self.inputs.iter().map(Input::value).collect()
    }

    /// The result of a model, its combined uncertainty and what each input has in it.
    ///
    /// - `model` from the inputs' values, in the order of the budget, to the result
    /// - `order` how far it is expanded
    ///
    /// u² = Σ (cᵢuᵢ)² + 2 Σ rᵢⱼ cᵢuᵢ cⱼuⱼ; in second order with
    /// Σ Σ (½fᵢⱼ² + fᵢfᵢⱼⱼ)·uᵢ²uⱼ² more, where fᵢᵢ² and fᵢfᵢᵢᵢ count by the kurtosis of the shape.
    /// Slopes are central differences of fourth order over ±u/32 and ±u/16, those of second order
    /// over ±u/8 and ±u/4.
    ///
    /// # Source
    /// JCGM 100:2008, 5.1.2 with its note, 5.1.3 note 2, 5.2.2. The kurtosis: derived, from the
    /// fourth moment; 3 gives the note's terms.
    ///
    /// # Errors
    /// When the model gives no number, or a rule for independent inputs meets correlated ones.
    ///
    /// ```
    /// use physics::uncertainty::{Budget, Input, Order};
    /// // JCGM 100:2008, 5.1.2 note, derived for x² about 0: only the second order sees u = √2.
    /// let budget = Budget::new(vec![Input::normal("x", 0.0, 1.0)])?;
    /// let square = budget.evaluate(|x| x[0] * x[0], Order::Second)?;
    /// assert!((square.standard - 2.0_f64.sqrt()).abs() < 1e-12);
    /// # Ok::<(), physics::uncertainty::BudgetError>(())
    /// ```
    pub fn evaluate(
        &self,
        model: impl Fn(&[f64]) -> f64,
        order: Order,
    ) -> Result<Evaluated, BudgetError> {
        let around = Around::of(self, &model);
        let slopes: Vec<f64> =
            (0..self.inputs.len()).map(|i| around.slope(i)).collect::<Result<_, _>>()?;
        let second_order = match order {
            Order::First => 0.0,
            Order::Second => self.second_order(&around, &slopes)?,
        };
        self.combined(around.model(&around.values), &slopes, second_order)
    }

    /// The same from a result and its sensitivities, where these are known by a formula.
    ///
    /// # Source
    /// JCGM 100:2008, 5.1.2 and 5.2.2.
    ///
    /// # Errors
    /// When there is not one finite sensitivity an input.
    pub fn with_sensitivities(
        &self,
        value: f64,
        sensitivities: &[f64],
    ) -> Result<Evaluated, BudgetError> {
        let pairs = self.inputs.iter().zip(sensitivities);
        let parts: Vec<f64> = pairs.map(|(input, slope)| input.standard() * slope).collect();
        match self.inputs.get(parts.len()) {
            Some(input) => Err(no_number(input)),
            None => self.combined(value, &parts, 0.0),
        }
    }

    fn combined(
        &self,
        value: f64,
        parts: &[f64],
        second_order: f64,
    ) -> Result<Evaluated, BudgetError> {
        if let Some((input, _)) =
            self.inputs.iter().zip(parts).find(|(_, part)| !(part.is_finite() && value.is_finite()))
        {
            return Err(no_number(input));
        }
        let alone: f64 = parts.iter().map(|part| part * part).sum();
        let tied: f64 = self.ties.iter().map(|(i, j, by)| 2.0 * by * parts[*i] * parts[*j]).sum();
        let variance = alone + tied + second_order;
        // Correlations of exactly 1 may leave a hair below nothing.
        if variance < -1e-12 * alone {
            return Err(BudgetError::Correlation(self.ties.last().map_or(0.0, |tie| tie.2)));
        }
        let freedoms = self.inputs.iter().map(Input::freedom);
        let terms: Vec<(f64, f64)> = parts.iter().copied().zip(freedoms).collect();
        let freedom = effective_freedom(&terms);
        if freedom.is_finite() {
            self.independent("effective degrees of freedom")?;
        }
        let contribution = |(input, part): (&Input, &f64)| Contribution {
            name: input.name.clone(),
            value: input.value(),
            standard: input.standard(),
            sensitivity: if input.standard() > 0.0 { part / input.standard() } else { 0.0 },
            part: *part,
        };
        Ok(Evaluated {
            value,
            standard: variance.max(0.0).sqrt(),
            second_order,
            freedom,
            contributions: self.inputs.iter().zip(parts).map(contribution).collect(),
        })
    }

    fn second_order<F: Fn(&[f64]) -> f64>(
        &self,
        around: &Around<'_, F>,
        slopes: &[f64],
    ) -> Result<f64, BudgetError> {
        self.independent("terms of second order")?;
        let mut variance = 0.0;
        for (i, input) in self.inputs.iter().enumerate() {
            let kurtosis = input.shape().kurtosis();
            let (curve, twist) = around.alone(i);
            variance +=
                0.25 * (kurtosis - 1.0) * curve * curve + kurtosis / 3.0 * slopes[i] * twist;
            for j in (0..self.inputs.len()).filter(|j| *j != i) {
                let (cross, bend) = around.together(i, j);
                variance += 0.5 * cross * cross + slopes[i] * bend;
            }
            if !variance.is_finite() {
                return Err(no_number(input));
            }
        }
        Ok(variance)
    }

    fn independent(&self, what: &'static str) -> Result<(), BudgetError> {
        match self.ties.iter().find(|tie| tie.2 != 0.0) {
            Some(&(one, ..)) => {
                Err(BudgetError::Correlated { name: self.inputs[one].name().to_owned(), what })
            }
            None => Ok(()),
        }
    }
}

fn no_number(input: &Input) -> BudgetError {
    BudgetError::Model { name: input.name().to_owned(), value: input.value() }
}

impl Shape {
    /// Fourth moment over the square of the second.
    ///
    /// Derived: by integration. Of Student's t too the normal one is taken: below five degrees of
    /// freedom it has none.
    fn kurtosis(self) -> f64 {
        match self {
            Self::Normal => 3.0,
            Self::Rectangular => 1.8,
            Self::Triangular => 2.4,
            Self::UShaped => 1.5,
        }
    }
}

/// The model about the inputs' values; every derivative is in standard uncertainties of the input.
struct Around<'a, F> {
    budget: &'a Budget,
    of: &'a F,
    values: Vec<f64>,
}

impl<'a, F: Fn(&[f64]) -> f64> Around<'a, F> {
    fn of(budget: &'a Budget, of: &'a F) -> Self {
        Self { budget, of, values: budget.values() }
    }

    fn model(&self, at: &[f64]) -> f64 {
        (self.of)(at)
    }

    /// With some inputs moved by so many standard uncertainties.
    fn moved(&self, by: &[(usize, f64)]) -> f64 {
        let mut at = self.values.clone();
        for (place, steps) in by {
            at[*place] += steps * self.budget.inputs[*place].standard();
        }
        self.model(&at)
    }

    /// ∂f/∂xᵢ·uᵢ.
    fn slope(&self, i: usize) -> Result<f64, BudgetError> {
        let input = &self.budget.inputs[i];
        if input.standard() == 0.0 {
            return Ok(0.0);
        }
        let odd = |steps: f64| self.moved(&[(i, steps)]) - self.moved(&[(i, -steps)]);
        let slope = (8.0 * odd(SLOPE_STEP) - odd(2.0 * SLOPE_STEP)) / (12.0 * SLOPE_STEP);
        if slope.is_finite() { Ok(slope) } else { Err(no_number(input)) }
    }

    /// Second and third derivative by one input.
    fn alone(&self, i: usize) -> (f64, f64) {
        let h = CURVE_STEP;
        let at = |steps: f64| self.moved(&[(i, steps)]);
        let curve = (at(h) - 2.0 * at(0.0) + at(-h)) / (h * h);
        let twist = (at(2.0 * h) - 2.0 * at(h) + 2.0 * at(-h) - at(-2.0 * h)) / (2.0 * h * h * h);
        (curve, twist)
    }

    /// ∂²f/∂xᵢ∂xⱼ and ∂³f/∂xᵢ∂xⱼ².
    fn together(&self, i: usize, j: usize) -> (f64, f64) {
        let h = CURVE_STEP;
        let at = |a: f64, b: f64| self.moved(&[(i, a), (j, b)]);
        let side = |a: f64| at(a, h) - 2.0 * at(a, 0.0) + at(a, -h);
        let cross = (at(h, h) - at(h, -h) - at(-h, h) + at(-h, -h)) / (4.0 * h * h);
        (cross, (side(h) - side(-h)) / (2.0 * h * h * h))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn end_gauge() -> Budget {
        // JCGM 100:2008, H.1; lengths in nm, temperatures in °C.
        Budget::new(vec![
            Input::normal("standard", 50_000_623.0, 25.0).with_freedom(18.0),
            Input::normal("difference", 215.0, 9.7).with_freedom(25.6),
            Input::rectangular("expansion", 11.5e-6, 2e-6),
            Input::normal("temperature", -0.1, 0.41),
            Input::rectangular("expansions apart", 0.0, 1e-6).with_freedom(50.0),
            Input::rectangular("temperatures apart", 0.0, 0.05).with_freedom(2.0),
        ])
        .expect("as published")
    }

    fn length(x: &[f64]) -> f64 {
        let [ls, d, alpha, theta, alphas_apart, thetas_apart] = *x else { return f64::NAN };
        ls + d - ls * (alphas_apart * theta + alpha * thetas_apart)
    }

    fn check(found: f64, expected: f64, within: f64) {
        assert!((found - expected).abs() <= within, "{found}, not {expected}");
    }

    #[test]
    fn the_end_gauge_of_the_guide() {
        // JCGM 100:2008, H.1: table H.1 and H.1.3 to H.1.6.
        let first = end_gauge().evaluate(length, Order::First).expect("a length");
        check(first.value / 1e6, 50.000_838, 1e-9);
        for (contribution, published) in
            first.contributions.iter().zip([25.0, 9.7, 0.0, 0.0, 2.9, 16.6])
        {
            check(contribution.part.abs(), published, 0.05);
        }
        check(first.contributions[4].sensitivity, 5_000_062.3, 1.0);
        check(first.contributions[5].sensitivity, -575.007, 1e-3);
        check(first.standard.powi(2), 1002.0, 5.0);
        check(first.standard, 32.0, 0.5);
        check(first.freedom.floor(), 16.0, 0.0);
        check(coverage_factor(0.99, first.freedom), 2.92, 0.005);
        // The guide multiplies what it has rounded, 32 nm by 2.92.
        check(first.expanded(0.99), 93.0, 0.6);
    }

    #[test]
    fn the_end_gauge_in_second_order() {
        // JCGM 100:2008, H.1.7: terms of 11.7 nm and 1.7 nm, u = 34 nm.
        let second = end_gauge().evaluate(length, Order::Second).expect("a length");
        check(second.standard, 34.0, 0.5);
        // Derived: ls·u(δα)·u(θ) and ls·u(α)·u(δθ), nothing else.
        let (one, other) =
            (50_000_623.0 * 1e-6 * 0.41, 50_000_623.0 * 2e-6 * 0.05 / 3.0_f64.sqrt());
        check(second.second_order, (one * one + other * other) / 3.0, 1e-3);
    }

    #[test]
    fn a_divider_for_direct_voltage() {
        // Derived: in per cent 1.0/2, 0.5/√3, 0.2/√5, 0.3/√3, 0.4/√3; their root sum of squares.
        let budget = Budget::new(vec![
            Input::normal("divider", 0.0, 0.5),
            Input::rectangular("indicator", 0.0, 0.5),
            Input::normal("repeatability", 0.0, 0.2 / 5.0_f64.sqrt()).with_freedom(4.0),
            Input::rectangular("temperature", 0.0, 0.3),
            Input::rectangular("drift", 0.0, 0.4),
        ])
        .expect("a budget");
        let percent = budget.evaluate(|x| x.iter().sum(), Order::First).expect("a sum");
        check(percent.standard, 0.651_665, 5e-7);
        check(2.0 * percent.standard, 1.303_329, 1e-6);
        let same = budget.with_sensitivities(0.0, &[1.0; 5]).expect("five of them");
        check(same.standard, percent.standard, 1e-12);
        check(same.freedom, percent.freedom, 1e-3 * same.freedom);
    }

    #[test]
    fn correlated_inputs_add_up_or_cancel() {
        // JCGM 100:2008, 5.2.2 note 1: with r = 1 the sum is linear.
        let pair = || {
            let inputs = vec![Input::normal("one", 3.0, 0.3), Input::normal("other", 2.0, 0.2)];
            Budget::new(inputs).expect("two")
        };
        for (by, ratio, sum) in [(1.0, 0.0, 0.5), (-1.0, 0.3, 0.1), (0.0, 0.212_132, 0.360_555)] {
            let tied = pair().correlated("other", "one", by).expect("there");
            let found = tied.evaluate(|x| x[0] / x[1], Order::First).expect("a ratio");
            check(found.standard, ratio, 1e-6);
            let found = tied.evaluate(|x| x[0] + x[1], Order::First).expect("a sum");
            check(found.standard, sum, 1e-6);
        }
    }

    #[test]
    fn slopes_are_those_of_calculus_and_curves_of_the_shape() {
        // Derived: d(1/x)/dx = −1/x² even where u is a fifth of x.
        let wide = Budget::new(vec![Input::normal("x", 2.0, 0.4)]).expect("one");
        let found = wide.evaluate(|x| 1.0 / x[0], Order::First).expect("a number");
        check(found.contributions[0].sensitivity, -0.25, 0.25 * 1e-7);
        // Derived: of x² about 0 with limits ±1 the variance is 1/5 − 1/9.
        let within = Budget::new(vec![Input::rectangular("x", 0.0, 1.0)]).expect("one");
        let found = within.evaluate(|x| x[0] * x[0], Order::Second).expect("a number");
        check(found.standard.powi(2), 4.0 / 45.0, 1e-12);
    }

    #[test]
    fn what_is_no_budget_is_refused() {
        let new = |inputs| Budget::new(inputs).expect_err("refused").to_string();
        let told = new(vec![Input::normal("x", f64::NAN, 1.0)]);
        assert_eq!(told, "x: give a value and a standard uncertainty of 0 or more, both finite");
        let told = new(vec![Input::normal("x", 1.0, 1.0).with_freedom(0.0)]);
        assert_eq!(told, "x: degrees of freedom are 1 or more, not 0");
        let told = new(vec![Input::normal("x", 1.0, 1.0), Input::normal("x", 1.0, 1.0)]);
        assert_eq!(told, "x is there twice: give each input a name of its own");
        let one = || Budget::new(vec![Input::normal("x", 0.0, 1.0)]).expect("one");
        assert!(one().correlated("x", "y", 0.5).is_err());
        let told = one().evaluate(|x| 1.0 / x[0], Order::First).expect_err("a pole").to_string();
        assert_eq!(told, "the model gives no number about x = 0: check its range and the input's");
        assert!(one().with_sensitivities(0.0, &[]).is_err());
    }
}
