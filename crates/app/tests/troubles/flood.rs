//! More than may wait.

use crate::live::Live;
use crate::locked::Lock;
use crate::place::Place;
use crate::{hand_first, row, say_rows};

#[test]
fn when_no_more_can_wait_it_is_refused_aloud_and_counted() {
    let place = Place::new("flood");
    let mut live = Live::start(place.run(&["--from", "keys", "--json"]));
    say_rows(&mut live, 1, 3);
    let lock = Lock::take(&place);
    let many: String = (4..=5000).map(|number| row(number) + "\n").collect();
    live.say_all(&many);
    let told = live.until_err("READINGS ARE REFUSED");
    hand_first(&told, "write every reading and every act by hand", "wait to be kept");
    assert_eq!(live.kept(), 3);
    drop(lock);
    let told = live.until_err("taken again");
    hand_first(&told, "type from your sheet", "were not taken");
    let not_taken: u64 = told
        .split(['(', ' '])
        .find_map(|word| word.parse().ok())
        .unwrap_or_else(|| panic!("no number in {told}"));
    live.say(&row(5001));
    live.until_kept(5001 - not_taken);
    let ended = live.end();
    assert_eq!(ended.kept(), 5001 - not_taken);
    assert_eq!(ended.status, Some(3), "readings were refused: {}", ended.err);
    hand_first(ended.told("were refused"), "ype what", "were refused");
    let rows = place.record().rows();
    assert_eq!(rows.len() as u64, 5001 - not_taken);
    assert!(rows.is_sorted_by(|one, two| one.0 < two.0), "each is there once, in its order");
    assert_eq!(rows.last().map(|row| row.0), Some(5001.0));
}
