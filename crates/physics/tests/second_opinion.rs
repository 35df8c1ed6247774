//! The exact solution against the circuit equations taken in small steps, with nothing in common
//! but the equations: limit, series resistance, branches, a command that falls, discharge, short,
//! a guarded surface and a built-in path.

use physics::transient::{Branch, Discharge, Leg, Supply, Surface, TestObject, simulate};
use quantity::{Capacitance, Current, Resistance, Time, Voltage, VoltageRate};

/// Everything in SI units: C, G, (R_j, C_j), limit, series resistance, (to, rate, dwell),
/// discharge resistor and its time, short, open; siemens of a guarded surface and of the built-in
/// path.
struct Case {
    farads: f64,
    siemens: f64,
    branches: Vec<(f64, f64)>,
    limit: f64,
    series: f64,
    legs: Vec<(f64, Option<f64>, f64)>,
    resistor: f64,
    phases: [f64; 3],
    surface: f64,
    bleed: f64,
}

impl Case {
    /// Command at `t`, or the phase of the discharge: 0 resistor, 1 short, 2 open.
    fn at(&self, t: f64) -> Result<f64, usize> {
        let (mut now, mut level) = (0.0, 0.0);
        for &(to, rate, dwell) in &self.legs {
            let takes = rate.map_or(0.0, |rate| f64::abs(to - level) / rate);
            if t < now + takes {
                return Ok(level + (to - level) * (t - now) / takes);
            }
            now += takes + dwell;
            level = to;
            if t < now {
                return Ok(level);
            }
        }
        let mut phase = 0;
        while phase < 2 && t >= now + self.phases[phase] {
            now += self.phases[phase];
            phase += 1;
        }
        Err(phase)
    }

    fn current(&self, t: f64, v: &[f64]) -> f64 {
        match self.at(t) {
            Ok(command) => {
                let supplied = ((command - v[0]) / self.series).clamp(0.0, self.limit);
                supplied - self.bleed * v[0]
            }
            Err(0) => -v[0] / self.resistor - self.bleed * v[0],
            Err(1) => self.branches.iter().zip(&v[1..]).map(|((ohms, _), vj)| -vj / ohms).sum(),
            Err(_) => 0.0,
        }
    }

    fn slopes(&self, t: f64, v: &[f64]) -> Vec<f64> {
        let shorted = self.at(t) == Err(1);
        let node = if shorted { 0.0 } else { v[0] };
        let given: f64 =
            self.branches.iter().zip(&v[1..]).map(|((ohms, _), vj)| (node - vj) / ohms).sum();
        let charging = self.current(t, v) - (self.siemens + self.surface) * node - given;
        let mut slopes = vec![if shorted { 0.0 } else { charging / self.farads }];
        slopes.extend(
            self.branches
                .iter()
                .zip(&v[1..])
                .map(|((ohms, farads), vj)| (node - vj) / (ohms * farads)),
        );
        slopes
    }

    /// Fourth-order Runge–Kutta; one row of time, voltage, current and metered current for each of
    /// `times`, each of them a whole number of steps and no instant of change.
    fn walk(&self, step: f64, times: &[f64]) -> Vec<[f64; 4]> {
        let mut v = vec![0.0; 1 + self.branches.len()];
        let moved = |v: &[f64], slopes: &[f64], by: f64| -> Vec<f64> {
            v.iter().zip(slopes).map(|(v, s)| v + by * s).collect()
        };
        let mut rows = Vec::new();
        let last = (times[times.len() - 1] / step).round() as u32;
        for k in 0..=last {
            let t = f64::from(k) * step;
            if self.at(t) == Err(1) {
                v[0] = 0.0;
            }
            if times.iter().any(|time| (time - t).abs() < 0.5 * step) {
                let current = self.current(t, &v);
                rows.push([t, v[0], current, current - self.surface * v[0]]);
            }
            let half = t + 0.5 * step;
            let a = self.slopes(t, &v);
            let b = self.slopes(half, &moved(&v, &a, 0.5 * step));
            let c = self.slopes(half, &moved(&v, &b, 0.5 * step));
            // A hair before the end of the step, so that a change there does not reach back.
            let d = self.slopes(t + step * (1.0 - 1e-9), &moved(&v, &c, step));
            for (j, v) in v.iter_mut().enumerate() {
                *v += step / 6.0 * (a[j] + 2.0 * b[j] + 2.0 * c[j] + d[j]);
            }
        }
        rows
    }

    fn exact(&self, times: &[f64]) -> Vec<[f64; 4]> {
        let object = TestObject {
            capacitance: Capacitance::from_farads(self.farads),
            insulation: Some(Resistance::from_ohms(1.0 / self.siemens)),
            start: Voltage::ZERO,
            branches: self
                .branches
                .iter()
                .map(|&(ohms, farads)| Branch {
                    resistance: Resistance::from_ohms(ohms),
                    capacitance: Capacitance::from_farads(farads),
                    start: Voltage::ZERO,
                })
                .collect(),
            surface: (self.surface > 0.0).then(|| Surface {
                resistance: Resistance::from_ohms(1.0 / self.surface),
                guarded: true,
            }),
            onset: None,
        };
        let supply = Supply {
            limit: Some(Current::from_amperes(self.limit)),
            series: Resistance::from_ohms(self.series),
            trip: None,
            bleed: (self.bleed > 0.0).then(|| Resistance::from_ohms(1.0 / self.bleed)),
            ripple: None,
        };
        let leg = |&(to, rate, dwell): &(f64, Option<f64>, f64)| Leg {
            to: Voltage::from_volts(to),
            rise: rate.map(VoltageRate::from_volts_per_second),
            dwell: Time::from_seconds(dwell),
        };
        let course: Vec<Leg> = self.legs.iter().map(leg).collect();
        let discharge = Discharge {
            resistor: Some(Resistance::from_ohms(self.resistor)),
            bleed: Some(Time::from_seconds(self.phases[0])),
            short: Some(Time::from_seconds(self.phases[1])),
            open: Some(Time::from_seconds(self.phases[2])),
        };
        let at: Vec<Time> = times.iter().copied().map(Time::from_seconds).collect();
        simulate(&object, &supply, &course, Some(&discharge), &at)
            .expect("a sound case")
            .iter()
            .map(|s| {
                let amperes = [s.current.amperes(), s.metered.amperes()];
                [s.at.seconds(), s.voltage.volts(), amperes[0], amperes[1]]
            })
            .collect()
    }
}

fn check(case: &Case, step: f64, times: &[f64]) {
    let walked = case.walk(step, times);
    assert_eq!(walked.len(), times.len());
    for (exact, walked) in case.exact(times).iter().zip(&walked) {
        for k in 1..4 {
            // Small steps are a little off at each kink of the limit.
            let slack = 2e-6 * walked[k].abs() + [0.0, 1e-4, 1e-13, 1e-13][k];
            assert!((exact[k] - walked[k]).abs() <= slack, "{exact:?} {walked:?}");
        }
    }
}

#[test]
fn a_ramp_a_hold_and_the_way_down() {
    let case = Case {
        farads: 100e-9,
        siemens: 1e-10,
        branches: vec![(100e6, 10e-9), (1e9, 20e-9)],
        limit: 5e-3,
        series: 200e3,
        legs: vec![(10e3, Some(1e3), 60.0)],
        resistor: 100e3,
        phases: [1.0, 60.0, 600.0],
        surface: 0.0,
        bleed: 0.0,
    };
    check(&case, 5e-4, &[0.5, 5.0, 9.5, 12.0, 40.0, 69.5, 70.02, 70.5, 75.0, 120.0, 140.0, 200.0]);
}

#[test]
fn a_jump_at_the_limit_and_a_command_that_falls() {
    let case = Case {
        farads: 1e-6,
        siemens: 4e-11,
        branches: vec![(20e6, 50e-9), (200e6, 50e-9), (2e9, 50e-9)],
        limit: 1e-3,
        series: 200e3,
        legs: vec![
            (20e3, None, 40.0),
            // Faster than the limit lets it, then down: the object floats above the command.
            (25e3, Some(2e3), 20.0),
            (24.9e3, Some(1e3), 60.0),
            (25e3, None, 30.0),
        ],
        resistor: 50e3,
        phases: [10.0, 5.0, 400.0],
        surface: 0.0,
        bleed: 0.0,
    };
    check(
        &case,
        1e-3,
        &[
            1.0, 15.0, 22.0, 35.0, 42.0, 50.0, 62.0, 70.0, 120.0, 123.0, 150.0, 153.0, 160.0,
            172.0, 250.0,
        ],
    );
}

#[test]
fn a_guarded_surface_and_a_built_in_path() {
    let case = Case {
        farads: 200e-9,
        siemens: 1e-10,
        branches: vec![(50e6, 20e-9), (500e6, 40e-9)],
        limit: 1e-3,
        series: 500e3,
        // To a level that the limit reaches late, and down to one that the path leads to.
        legs: vec![(10e3, Some(5e3), 20.0), (6e3, Some(1e3), 60.0), (8e3, None, 20.0)],
        resistor: 100e3,
        phases: [1.0, 20.0, 100.0],
        surface: 2e-10,
        bleed: 2e-8,
    };
    check(
        &case,
        5e-4,
        &[0.5, 1.5, 5.0, 21.5, 24.0, 30.0, 80.0, 85.5, 100.0, 105.5, 106.02, 106.7, 110.0, 150.0],
    );
}
