//! Fewer rows where more than paper can bear were read.

use session::Reading;

/// At most about `most` of the readings, evenly: the first, the last and every one that bears a
/// remark or went over range always stay, because they are what a reader looks for.
pub(crate) fn thinned(readings: &[Reading], most: usize) -> Vec<&Reading> {
    let stride = readings.len().div_ceil(most.max(1)).max(1);
    let last = readings.len().saturating_sub(1);
    let stays = |(index, reading): &(usize, &Reading)| {
        index.is_multiple_of(stride) || *index == last || reading.note.is_some() || reading.overload
    };
    readings.iter().enumerate().filter(stays).map(|(_, reading)| reading).collect()
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
    }
}
