//! Our side of `bench/peers`: one case by name, told on standard input when to answer and when to
//! take its time. Each case calls what the rooms of the program call.

mod air;
mod band;
mod budgets;
mod descent;
mod draws;
mod exponentials;
mod nonlinear;
mod power_law;
mod staircase;
mod weibull;

use std::env;
use std::hint::black_box;
use std::io::{self, BufRead, Write};
use std::time::Instant;

use serde_json::Value;

/// One case: a call, and the same call with what it gives told.
struct Case {
    call: Box<dyn FnMut()>,
    answer: Box<dyn FnMut() -> Value>,
}

/// What is timed for at least so long.
const LEAST_SECONDS: f64 = 0.05;

/// Makes a case from the words after its name.
type Make = fn(&[String]) -> Case;

/// Every case by its name.
const CASES: &[(&str, Make)] = &[
    ("air", air::case),
    ("band", band::case),
    ("budgets", budgets::case),
    ("descent", descent::case),
    ("draws", draws::case),
    ("exponentials", exponentials::case),
    ("nonlinear", nonlinear::case),
    ("power-law", power_law::case),
    ("staircase", staircase::case),
    ("weibull", weibull::case),
];

fn main() -> io::Result<()> {
    let words: Vec<String> = env::args().skip(1).filter(|word| word != "--bench").collect();
    let Some((_, make)) = words.first().and_then(|name| CASES.iter().find(|case| case.0 == name))
    else {
        let names: Vec<&str> = CASES.iter().map(|case| case.0).collect();
        println!("run by bench/peers/run; cases: {}", names.join(", "));
        return Ok(());
    };
    let mut case = make(&words[1..]);
    for line in io::stdin().lock().lines() {
        let told = match line?.as_str() {
            "answer" => (case.answer)(),
            _ => seconds(&mut case.call).into(),
        };
        println!("{told}");
        io::stdout().flush()?;
    }
    Ok(())
}

/// Of one call, from as many as fill [`LEAST_SECONDS`].
fn seconds(call: &mut dyn FnMut()) -> f64 {
    call();
    let mut times = 1_u32;
    loop {
        let began = Instant::now();
        for _ in 0..times {
            black_box(&mut *call)();
        }
        let took = began.elapsed().as_secs_f64();
        if took >= LEAST_SECONDS {
            return took / f64::from(times);
        }
        times = times.saturating_mul(2);
    }
}
