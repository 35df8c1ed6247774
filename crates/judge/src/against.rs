//! Currents that are read against the voltage, as by a meter whose leads are changed over: their
//! sizes are judged, and what the meter shows is left open.

use session::counts::SELDOM;
use session::counts::against::{AGREE, BY_HAND, CLEAR, IN_ANY_WAY, ON_END};

use crate::draft::Draft;
use crate::findings::Outcome;
use crate::part::Part;
use crate::trace::Row;
use crate::words::{Id, Link, More, MoreLink, Said};

/// From this part of the highest voltage on a voltage drives the current. Common practice, no
/// source.
const DRIVEN: f64 = 0.1;
/// From this part of the clear readings on all of them are taken so.
const ALL: f64 = 0.9;

/// Takes the sizes of currents that are read against the voltage; gives how many of them there are,
/// none where they are noise.
pub(crate) fn right(rows: &mut [Row]) -> usize {
    let peak = rows.iter().fold(0.0_f64, |peak, row| peak.max(row.volts));
    let is_clear = |row: &Row| {
        let least = CLEAR * row.amps_half.unwrap_or(0.0);
        row.volts > peak * DRIVEN && row.amps.is_some_and(|amps| amps.abs() > least)
    };
    let clear = rows.iter().filter(|row| is_clear(row)).count();
    let is_against = |row: &Row| is_clear(row) && row.amps.is_some_and(|amps| amps < 0.0);
    let count = rows.iter().filter(|row| is_against(row)).count();
    if count == 0 || !is_told(rows, is_against) {
        return 0;
    }
    let all = count as f64 >= ALL * clear as f64;
    for row in rows.iter_mut().filter(|row| all || is_against(row)) {
        row.amps = row.amps.map(|amps| -amps);
    }
    count
}

/// Whether a run of them is too long, or agrees too well, for noise about zero.
fn is_told(rows: &[Row], is_against: impl Fn(&Row) -> bool) -> bool {
    let with_current: Vec<&Row> = rows.iter().filter(|row| row.amps.is_some()).collect();
    with_current.chunk_by(|one, next| is_against(one) == is_against(next)).any(|run| {
        let size = |row: &&Row| row.amps.map_or(0.0, f64::abs);
        let agrees = |some: &[&Row]| {
            let (low, high) = some
                .iter()
                .map(size)
                .fold((f64::INFINITY, 0.0), |(low, high), a| (a.min(low), a.max(high)));
            high <= low * AGREE
        };
        let seldom =
            |some: &[&Row]| some.windows(2).all(|two| two[1].t_s - two[0].t_s > SELDOM.seconds());
        is_against(run[0])
            && (run.len() >= IN_ANY_WAY
                || run.windows(ON_END).any(agrees)
                || run.windows(BY_HAND).any(seldom))
    })
}

/// What is told of it; nothing where every current flows with its voltage.
pub(crate) fn finding(part: &Part<'_>) -> Option<Draft> {
    let count: usize = part.traces.iter().map(|trace| trace.against).sum();
    let draft = Draft::new(Id::Signs, Outcome::Warn, Said::More(More::Against));
    let links = [Link::from(MoreLink::Against { count }), Link::from(MoreLink::AgainstRule)];
    (count > 0).then(|| draft.value(count as f64, "readings").chain(links))
}

#[cfg(test)]
mod tests {
    use quantity::{Current, Time, Voltage};
    use session::Reading;

    use super::*;
    use crate::trace;

    /// Seconds between rows, and kilovolts and microamperes of each; how many are against.
    fn check(every: f64, rows: &[(f64, f64)], expected: usize) {
        let of = |(index, (kv, ua)): (usize, &(f64, f64))| {
            trace::row(&Reading {
                at: Time::from_seconds(every * index as f64),
                voltage: Some(Voltage::from_kilovolts(*kv)),
                current: Some(Current::from_microamperes(*ua)),
                current_half_digit: Some(Current::from_microamperes(0.0005)),
                ..Reading::default()
            })
        };
        let mut found: Vec<Row> = rows.iter().enumerate().filter_map(of).collect();
        assert_eq!(right(&mut found), expected, "{rows:?}");
        if expected > 0 {
            assert!(found.iter().all(|row| row.amps > Some(0.0)), "{found:?}");
        }
    }

    /// Derived from the rule: what flows against the voltage for long, or evenly, is no noise about
    /// zero; the meter's zero before voltage is on is none of it.
    #[test]
    fn a_current_against_the_voltage_is_taken_by_its_size_and_told() {
        check(0.2, &[(50.0, -2.2); 40], 40);
        check(0.2, &[(50.0, 2.2); 40], 0);
        check(30.0, &[(50.0, -2.2), (50.0, -1.4), (50.0, -1.1)], 3);
        let grows: Vec<(f64, f64)> = (0..40).map(|n| (50.0, -(2f64.powi(n)))).collect();
        check(1.0, &grows, 40);
        let turned: Vec<(f64, f64)> =
            (0..40).map(|n| (50.0, if n < 20 { 2.0 } else { -2.0 })).collect();
        check(0.2, &turned, 20);
        let noise: Vec<(f64, f64)> =
            (0..40).map(|n| (50.0, if n % 5 == 0 { 0.3 } else { -0.2 })).collect();
        check(0.2, &noise, 0);
        let before: Vec<(f64, f64)> =
            (0..40).map(|n| if n < 20 { (0.0, -0.1) } else { (50.0, 2.0) }).collect();
        check(0.2, &before, 0);
    }
}
