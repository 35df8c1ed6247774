//! Figures without findings are the figures that findings have.

use judge::figures::{Reckoner, of_record};
use plan::job::{AccuracyOf, Method};
use quantity::{Ratio, Temperature};
use standards::words::Insulation;

use crate::support::{Written, cable, library, plan, stator, switchgear};

/// Every number alike, to the last digit; the forecast is found with the knee.
fn check(written: &Written) {
    let found = written.judged();
    let figures = of_record(&written.record(), library());
    assert_eq!(figures.len(), found.phases.len());
    for ((phase, figures), judged) in figures.iter().zip(&found.phases) {
        let mut expected = judged.figures.clone();
        expected.forecast = None;
        assert_eq!((phase, figures), (&judged.phase, &expected));
    }
}

/// Source: derived: one path, so nothing may differ.
#[test]
fn figures_alone_are_those_of_the_findings() {
    let job = stator(13.8, Method::Step);
    let steps = plan(&job, &[10.0, 12.0, 14.0], 60.0);
    let rows = "15 10.0 31.02\n30 10.0 19.00\n60 10.0 12.01\n120 10.0 7.80\n300 10.0 4.63\n\
                600 10.0 3.41\n660 12.0 6.31\n720 14.0 7.13";
    check(&Written::new(job, steps).rows("ABC", rows));
    let mut job = cable(Insulation::Epr, 15.0, &["A", "B"]);
    job.set.accuracy = Some(Ratio::from_percent(1.0));
    job.set.accuracy_of = AccuracyOf::Reading;
    let held = plan(&job, &[55.0], 900.0);
    let rising = "10 18.0 210.0\n20 36.0 208.0\n30 55.0 60.0\n90 55.0 21.0\n150 55.0 14.5\n\
                  330 55.0 9.1\n630 55.0 7.2\n930 55.0 6.5";
    check(&Written::new(job, held).rows("A", rising).rows("B", "60 55.0 7\n900 55.0 5"));
    let job = switchgear(13.8);
    let held = plan(&job, &[27.0], 60.0);
    check(&Written::new(job, held).blank("A", "60 27.0 0.02").rows("A", "60 27.0 2.4"));
}

/// Source: derived from 0.2 µA and 1 µA·(t/60 s)^(−0.8) at 5 kV and 30 °C: 4166.7 MΩ at one minute,
/// half of it at 40 °C; the index is 1.2 over 0.2 + 10^(−0.8).
#[test]
fn one_level_alone_has_the_figures_of_its_record() {
    let mut job = stator(13.8, Method::Resistance);
    job.conditions.object_temperature = Some(Temperature::from_celsius(30.0));
    let held = plan(&job, &[5.0], 600.0);
    let ages = [15.0, 20.0, 30.0, 45.0, 60.0, 90.0, 120.0, 180.0, 240.0, 300.0, 420.0, 600.0];
    let row = |t: f64| format!("{t} 5.00 {:.7}\n", 0.2 + (t / 60.0).powf(-0.8));
    let rows: String = ages.map(row).concat();
    let mut reckoner = Reckoner::of(&job, library());
    let written = Written::new(job, held).rows("ABC", &rows);
    check(&written);
    let alone = reckoner.level(&written.readings()).figures();
    assert_eq!(alone, written.judged().phases[0].figures);
    let resistance = alone.resistance.expect("read at one minute");
    crate::support::close(resistance.value.megohms(), 4_166.666_667, 1e-6);
    let at_40 = resistance.corrected.expect("within the rule");
    crate::support::close(at_40.megohms(), 2_083.333_333, 1e-6);
    let index = alone.polarization_index.expect("read at ten minutes");
    crate::support::close(index, 1.2 / (0.2 + 10f64.powf(-0.8)), 1e-6);
    crate::support::close(alone.exponent_n.expect("it falls"), 0.8, 1e-4);
    // A second level, after it in the same memory, is not mixed with it.
    assert_eq!(reckoner.level(&written.readings()).figures(), alone);
    assert_eq!(reckoner.level(&[]).figures(), judge::Figures::default());
}
