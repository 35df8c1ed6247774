//! What changed since last time, and whether the meters can tell.

use quantity::edge::twelve_digits;

use super::like::Brought;
use super::series::Change;
use super::test::Figure;

/// The newest against the one before it.
///
/// Each day's doubt counts in full: meters are calibrated and thermometers placed anew between
/// tests, so that nothing is taken to cancel (JCGM 100:2008, 5.1.2, uncorrelated).
pub(crate) fn of(brought: &[Brought<'_>], figure: Figure) -> Option<Change> {
    let [.., then, now] = brought else { return None };
    let (value, expanded, from_none) = if figure.is_logarithmic() {
        let ratio = now.value / then.value;
        let relative = (now.standard / now.value).hypot(then.standard / then.value);
        (ratio, 2.0 * relative * ratio, ratio.ln().abs() > 2.0 * relative)
    } else {
        let (difference, standard) = (now.value - then.value, now.standard.hypot(then.standard));
        (difference, 2.0 * standard, difference.abs() > 2.0 * standard)
    };
    Some(Change {
        since_record: then.test.record.clone(),
        since: then.on,
        value: twelve_digits(value),
        unit: (!figure.is_logarithmic()).then(|| figure.unit().to_owned()),
        expanded_u: twelve_digits(expanded),
        resolved: from_none,
        worse: (now.value < then.value) == figure.falls_when_worse(),
    })
}
