//! The model of each set, as its file gives it, with its derivatives.

/// What a model gives at the predictors `x`, with its slope by each parameter.
pub(crate) type Model = fn(x: &[f64], b: &[f64], slopes: &mut [f64]) -> f64;

/// Name, model, and which parameters it is linear in.
pub(crate) const SETS: [(&str, Model, &[usize]); 27] = [
    ("Bennett5", bennett5, &[0]),
    ("BoxBOD", saturation, &[0]),
    ("Chwirut1", chwirut, &[]),
    ("Chwirut2", chwirut, &[]),
    ("DanWood", power, &[0]),
    ("ENSO", enso, &[0, 1, 2, 4, 5, 7, 8]),
    ("Eckerle4", eckerle4, &[0]),
    ("Gauss1", gauss, &[0, 2, 5]),
    ("Gauss2", gauss, &[0, 2, 5]),
    ("Gauss3", gauss, &[0, 2, 5]),
    ("Hahn1", cubics, &[0, 1, 2, 3]),
    ("Kirby2", quadratics, &[0, 1, 2]),
    ("Lanczos1", lanczos, &[0, 2, 4]),
    ("Lanczos2", lanczos, &[0, 2, 4]),
    ("Lanczos3", lanczos, &[0, 2, 4]),
    ("MGH09", mgh09, &[0]),
    ("MGH10", mgh10, &[0]),
    ("MGH17", mgh17, &[0, 1, 2]),
    ("Misra1a", saturation, &[0]),
    ("Misra1b", misra1b, &[0]),
    ("Misra1c", misra1c, &[0]),
    ("Misra1d", misra1d, &[0]),
    ("Nelson", nelson, &[0, 1]),
    ("Rat42", rat42, &[0]),
    ("Rat43", rat43, &[0]),
    ("Roszman1", roszman1, &[0, 1]),
    ("Thurber", cubics, &[0, 1, 2, 3]),
];

/// b1·(b2 + x)^(−1/b3)
fn bennett5(x: &[f64], b: &[f64], slopes: &mut [f64]) -> f64 {
    let base = b[1] + x[0];
    let power = base.powf(-1.0 / b[2]);
    slopes[0] = power;
    slopes[1] = -b[0] / b[2] * power / base;
    slopes[2] = b[0] * power * base.ln() / (b[2] * b[2]);
    b[0] * power
}

/// b1·(1 − e^(−b2·x))
fn saturation(x: &[f64], b: &[f64], slopes: &mut [f64]) -> f64 {
    let risen = -(-b[1] * x[0]).exp_m1();
    slopes[0] = risen;
    slopes[1] = b[0] * x[0] * (-b[1] * x[0]).exp();
    b[0] * risen
}

/// e^(−b1·x)/(b2 + b3·x)
fn chwirut(x: &[f64], b: &[f64], slopes: &mut [f64]) -> f64 {
    let below = b[1] + b[2] * x[0];
    let value = (-b[0] * x[0]).exp() / below;
    slopes[0] = -x[0] * value;
    slopes[1] = -value / below;
    slopes[2] = -x[0] * value / below;
    value
}

/// b1·x^b2
fn power(x: &[f64], b: &[f64], slopes: &mut [f64]) -> f64 {
    slopes[0] = x[0].powf(b[1]);
    slopes[1] = b[0] * slopes[0] * x[0].ln();
    b[0] * slopes[0]
}

/// b1 + a cycle of a year, and two whose periods are b4 and b7
fn enso(x: &[f64], b: &[f64], slopes: &mut [f64]) -> f64 {
    let turn = std::f64::consts::TAU * x[0];
    let (year, first, second) = (turn / 12.0, turn / b[3], turn / b[6]);
    slopes[0] = 1.0;
    slopes[1] = year.cos();
    slopes[2] = year.sin();
    slopes[4] = first.cos();
    slopes[5] = first.sin();
    slopes[3] = (b[4] * slopes[5] - b[5] * slopes[4]) * first / b[3];
    slopes[7] = second.cos();
    slopes[8] = second.sin();
    slopes[6] = (b[7] * slopes[8] - b[8] * slopes[7]) * second / b[6];
    b[0] + [1, 2, 4, 5, 7, 8].map(|k| b[k] * slopes[k]).iter().sum::<f64>()
}

/// (b1/b2)·e^(−½((x − b3)/b2)²)
fn eckerle4(x: &[f64], b: &[f64], slopes: &mut [f64]) -> f64 {
    let off = (x[0] - b[2]) / b[1];
    let bell = (-0.5 * off * off).exp() / b[1];
    slopes[0] = bell;
    slopes[1] = b[0] * bell * (off * off - 1.0) / b[1];
    slopes[2] = b[0] * bell * off / b[1];
    b[0] * bell
}

/// b1·e^(−b2·x) + b3·e^(−((x − b4)/b5)²) + b6·e^(−((x − b7)/b8)²)
fn gauss(x: &[f64], b: &[f64], slopes: &mut [f64]) -> f64 {
    slopes[0] = (-b[1] * x[0]).exp();
    slopes[1] = -b[0] * x[0] * slopes[0];
    let mut sum = b[0] * slopes[0];
    for k in [2, 5] {
        let off = (x[0] - b[k + 1]) / b[k + 2];
        let bell = (-off * off).exp();
        slopes[k] = bell;
        slopes[k + 1] = 2.0 * b[k] * bell * off / b[k + 2];
        slopes[k + 2] = 2.0 * b[k] * bell * off * off / b[k + 2];
        sum += b[k] * bell;
    }
    sum
}

/// Polynomial over polynomial, the lower one with 1 in front.
fn rational(x: f64, b: &[f64], above: usize, slopes: &mut [f64]) -> f64 {
    let power = |k: usize| x.powi(i32::try_from(k).expect("a small power"));
    let over: f64 = (0..above).map(|k| b[k] * power(k)).sum();
    let below: f64 = 1.0 + (above..b.len()).map(|k| b[k] * power(k - above + 1)).sum::<f64>();
    for (k, slope) in slopes.iter_mut().enumerate() {
        *slope = if k < above {
            power(k) / below
        } else {
            -over * power(k - above + 1) / (below * below)
        };
    }
    over / below
}

fn cubics(x: &[f64], b: &[f64], slopes: &mut [f64]) -> f64 {
    rational(x[0], b, 4, slopes)
}

fn quadratics(x: &[f64], b: &[f64], slopes: &mut [f64]) -> f64 {
    rational(x[0], b, 3, slopes)
}

/// b1·e^(−b2·x) + b3·e^(−b4·x) + b5·e^(−b6·x)
fn lanczos(x: &[f64], b: &[f64], slopes: &mut [f64]) -> f64 {
    let mut sum = 0.0;
    for k in [0, 2, 4] {
        slopes[k] = (-b[k + 1] * x[0]).exp();
        slopes[k + 1] = -b[k] * x[0] * slopes[k];
        sum += b[k] * slopes[k];
    }
    sum
}

/// b1·(x² + b2·x)/(x² + b3·x + b4)
fn mgh09(x: &[f64], b: &[f64], slopes: &mut [f64]) -> f64 {
    let x = x[0];
    let (over, below) = (x * (x + b[1]), x * (x + b[2]) + b[3]);
    slopes[0] = over / below;
    slopes[1] = b[0] * x / below;
    slopes[2] = -b[0] * slopes[0] * x / below;
    slopes[3] = -b[0] * slopes[0] / below;
    b[0] * slopes[0]
}

/// b1·e^(b2/(x + b3))
fn mgh10(x: &[f64], b: &[f64], slopes: &mut [f64]) -> f64 {
    let from = x[0] + b[2];
    slopes[0] = (b[1] / from).exp();
    slopes[1] = b[0] * slopes[0] / from;
    slopes[2] = -slopes[1] * b[1] / from;
    b[0] * slopes[0]
}

/// b1 + b2·e^(−b4·x) + b3·e^(−b5·x)
fn mgh17(x: &[f64], b: &[f64], slopes: &mut [f64]) -> f64 {
    slopes[0] = 1.0;
    for k in [1, 2] {
        slopes[k] = (-b[k + 2] * x[0]).exp();
        slopes[k + 2] = -b[k] * x[0] * slopes[k];
    }
    b[0] + b[1] * slopes[1] + b[2] * slopes[2]
}

/// b1·(1 − (1 + b2·x/2)⁻²)
fn misra1b(x: &[f64], b: &[f64], slopes: &mut [f64]) -> f64 {
    let base = 1.0 + 0.5 * b[1] * x[0];
    slopes[0] = 1.0 - base.powi(-2);
    slopes[1] = b[0] * x[0] * base.powi(-3);
    b[0] * slopes[0]
}

/// b1·(1 − (1 + 2·b2·x)^(−½))
fn misra1c(x: &[f64], b: &[f64], slopes: &mut [f64]) -> f64 {
    let base = 1.0 + 2.0 * b[1] * x[0];
    slopes[0] = 1.0 - base.powf(-0.5);
    slopes[1] = b[0] * x[0] * base.powf(-1.5);
    b[0] * slopes[0]
}

/// b1·b2·x/(1 + b2·x)
fn misra1d(x: &[f64], b: &[f64], slopes: &mut [f64]) -> f64 {
    let base = 1.0 + b[1] * x[0];
    slopes[0] = b[1] * x[0] / base;
    slopes[1] = b[0] * x[0] / (base * base);
    b[0] * slopes[0]
}

/// b1 − b2·x1·e^(−b3·x2), for the logarithm of the response
fn nelson(x: &[f64], b: &[f64], slopes: &mut [f64]) -> f64 {
    slopes[0] = 1.0;
    slopes[1] = -x[0] * (-b[2] * x[1]).exp();
    slopes[2] = -b[1] * x[1] * slopes[1];
    b[0] + b[1] * slopes[1]
}

/// b1/(1 + e^(b2 − b3·x))
fn rat42(x: &[f64], b: &[f64], slopes: &mut [f64]) -> f64 {
    let grown = (b[1] - b[2] * x[0]).exp();
    slopes[0] = 1.0 / (1.0 + grown);
    slopes[1] = -b[0] * grown * slopes[0] * slopes[0];
    slopes[2] = -x[0] * slopes[1];
    b[0] * slopes[0]
}

/// b1/(1 + e^(b2 − b3·x))^(1/b4)
fn rat43(x: &[f64], b: &[f64], slopes: &mut [f64]) -> f64 {
    let grown = (b[1] - b[2] * x[0]).exp();
    slopes[0] = (1.0 + grown).powf(-1.0 / b[3]);
    slopes[1] = -b[0] * slopes[0] * grown / (b[3] * (1.0 + grown));
    slopes[2] = -x[0] * slopes[1];
    slopes[3] = b[0] * slopes[0] * grown.ln_1p() / (b[3] * b[3]);
    b[0] * slopes[0]
}

/// b1 − b2·x − arctan(b3/(x − b4))/π
fn roszman1(x: &[f64], b: &[f64], slopes: &mut [f64]) -> f64 {
    let (from, pi) = (x[0] - b[3], std::f64::consts::PI);
    let below = pi * (from * from + b[2] * b[2]);
    slopes[0] = 1.0;
    slopes[1] = -x[0];
    slopes[2] = -from / below;
    slopes[3] = -b[2] / below;
    b[0] - b[1] * x[0] - (b[2] / from).atan() / pi
}
