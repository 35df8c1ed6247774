//! Fewer rows where more than paper can bear were read.

use session::Reading;

/// At most about twice `most` of the readings: evenly spaced ones with the first and the last, and
/// those a reader looks for, which bear a remark or are where the meter went over its range.
pub(crate) fn thinned(readings: &[Reading], most: usize) -> Vec<&Reading> {
    let most = most.max(1);
    let stride = readings.len().div_ceil(most).max(1);
    let last = readings.len().saturating_sub(1);
    let goes_over = |index: usize| {
        readings[index].overload && !index.checked_sub(1).is_some_and(|at| readings[at].overload)
    };
    let stands_out = |index: usize| readings[index].note.is_some() || goes_over(index);
    let odd = (0..readings.len()).filter(|&index| stands_out(index)).count();
    let odd_stride = odd.div_ceil(most).max(1);
    let mut seen = 0;
    let mut stays = |index: usize| {
        let mut kept = index.is_multiple_of(stride) || index == last;
        if stands_out(index) {
            kept |= seen % odd_stride == 0;
            seen += 1;
        }
        kept
    };
    readings.iter().enumerate().filter(|(index, _)| stays(*index)).map(|(_, one)| one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use quantity::Time;

    #[test]
    fn the_ends_and_the_remarks_stay() {
        let mut readings: Vec<Reading> = (0..1000)
            .map(|index| Reading { at: Time::from_seconds(f64::from(index)), ..Reading::default() })
            .collect();
        readings[501].note = Some("unquiet".to_owned());
        let kept: Vec<f64> = thinned(&readings, 100).iter().map(|one| one.at.seconds()).collect();
        assert_eq!(kept.len(), 102);
        assert!([0.0, 10.0, 501.0, 990.0, 999.0].iter().all(|at| kept.contains(at)));
        assert_eq!(thinned(&readings[..7], 100).len(), 7);
        assert!(thinned(&[], 100).is_empty());
        // A meter that stays over its range, or goes over and over, must not fill a book.
        readings.iter_mut().for_each(|one| one.overload = true);
        assert_eq!(thinned(&readings, 100).len(), 102);
        readings.iter_mut().step_by(2).for_each(|one| one.overload = false);
        assert!(thinned(&readings, 100).len() <= 201);
    }
}
