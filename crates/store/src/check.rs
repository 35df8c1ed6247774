//! One chain gone through link by link: what does not hold, and what probably happened to it.

use std::collections::BTreeMap;

use jiff::Timestamp;
use serde::Serialize;

use crate::chain::{Chain, Hash};

/// Places kept for a closer look; what lies beyond is counted.
const KEPT: usize = 32;

/// How far events are looked for from where they should stand.
const SHIFTS: i64 = 16;

/// A place where a seal does not hold.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Broken {
    /// Which record.
    pub record: String,
    /// Whose chain; empty where it is of the record as a whole.
    pub writer: String,
    /// Which event; what the record begins with is number 0.
    pub seq: Option<u64>,
    /// What is wrong.
    pub how: How,
    /// What stands there now, as far as it can be read.
    pub seen: Option<Seen>,
}

/// An event as far as it can be read.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Seen {
    /// Its kind.
    pub event: String,
    /// When it says that it entered the record.
    pub wall: Option<Timestamp>,
}

/// What is wrong.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum How {
    /// Its bytes are not those that were sealed, or those of the event before and its seal.
    Changed,
    /// It has changed places with another one.
    Swapped {
        /// With this one.
        with: u64,
    },
    /// It was sealed elsewhere.
    Foreign {
        /// In this record.
        record: String,
        /// As this event.
        seq: u64,
    },
    /// Events from this one to the last named are not there.
    Missing {
        /// The last that is missing.
        to: u64,
    },
    /// Events were cut out here, and those after it numbered anew.
    CutOut {
        /// How many.
        count: u64,
    },
    /// Events were put in here, and those after it numbered anew.
    PutIn {
        /// How many.
        count: u64,
    },
    /// Events from this one to the end are not there, and the chain says that they were.
    CutShort {
        /// The last that is missing.
        to: u64,
    },
    /// It stands after the end that the chain has.
    BeyondEnd,
    /// It is the last, and the chain ends with another seal.
    OtherEnd,
    /// There is no beginning to go on from.
    NoBeginning,
    /// The record's line in the list says otherwise than its events.
    Listed {
        /// What of it.
        column: &'static str,
    },
    /// Findings are not those that were kept.
    Findings {
        /// Their name.
        id: String,
    },
    /// A signature is not the one that was given.
    Signature {
        /// Its name.
        id: String,
    },
    /// More places are broken than are named.
    More {
        /// How many.
        count: u64,
    },
}

/// One event as it lies there.
#[derive(Clone, Debug)]
pub(crate) struct Link {
    pub(crate) seq: u64,
    pub(crate) bytes: Vec<u8>,
    pub(crate) seal: Hash,
}

/// A link that does not hold, with the seal that stands before it.
struct Suspect {
    link: Link,
    before: Hash,
}

/// Goes through one chain.
pub(crate) struct Check<'a> {
    chain: Chain<'a>,
    next: u64,
    before: Option<Hash>,
    suspects: BTreeMap<u64, Suspect>,
    shift: Option<i64>,
    broken: Vec<Broken>,
    more: u64,
    last: Option<(u64, Hash)>,
    end: u64,
}

impl<'a> Check<'a> {
    /// A chain whose first event has this number and follows this seal, and which says that it
    /// ends with that number.
    pub(crate) fn new(chain: Chain<'a>, first: u64, before: Hash, end: u64) -> Self {
        Self {
            chain,
            next: first,
            before: Some(before),
            suspects: BTreeMap::new(),
            shift: None,
            broken: Vec::new(),
            more: 0,
            last: None,
            end,
        }
    }

    /// The next event.
    pub(crate) fn link(&mut self, link: Link) {
        // A database has one event of a number; a file may name several.
        if link.seq < self.next {
            return self.complain(Some(link.seq), How::PutIn { count: 1 }, seen(&link));
        }
        if link.seq > self.next {
            let missing = How::Missing { to: link.seq - 1 };
            self.complain(Some(self.next), missing, None);
            self.before = None;
        }
        if link.seq > self.end {
            self.complain(Some(link.seq), How::BeyondEnd, seen(&link));
        }
        let (seq, seal) = (link.seq, link.seal);
        if let Some(before) = self.before
            && self.chain.seal(seq, &before, &link.bytes) != seal
        {
            self.suspect(Suspect { link, before });
        }
        self.next = seq.saturating_add(1);
        self.before = Some(seal);
        self.last = Some((seq, seal));
    }

    fn suspect(&mut self, suspect: Suspect) {
        let Suspect { link, before } = &suspect;
        let shifted = |by: i64| {
            let place = link.seq.checked_add_signed(by);
            place.is_some_and(|place| self.chain.seal(place, before, &link.bytes) == link.seal)
        };
        if self.shift.is_some_and(shifted) {
            return;
        }
        if let Some(by) = (-SHIFTS..=SHIFTS).find(|by| *by != 0 && shifted(*by)) {
            self.shift = Some(by);
            // The first that moved follows a seal that is gone, so it was taken for a changed one.
            let first = link.seq.saturating_sub(1);
            let known = self.suspects.remove(&first);
            let what = known.as_ref().and_then(|known| seen(&known.link));
            let count = by.unsigned_abs();
            let how = if by > 0 { How::CutOut { count } } else { How::PutIn { count } };
            self.complain(Some(first), how, what);
            return;
        }
        if self.suspects.len() == KEPT {
            self.more += 1;
            return;
        }
        self.suspects.insert(suspect.link.seq, suspect);
    }

    /// The end, with the seal that the chain says it has; what is broken, in order.
    pub(crate) fn end(mut self, seal: &Hash) -> Vec<Broken> {
        if self.next <= self.end {
            self.complain(Some(self.next), How::CutShort { to: self.end }, None);
        } else if let Some((seq, last)) = self.last
            && seq == self.end
            && last != *seal
            && !self.suspects.contains_key(&seq)
        {
            self.complain(Some(seq), How::OtherEnd, None);
        }
        let swapped = self.swapped();
        for (seq, suspect) in &self.suspects {
            let how = match swapped.get(seq) {
                Some(Moved::To(with)) => How::Swapped { with: *with },
                Some(Moved::Neighbour) => continue,
                None => How::Changed,
            };
            self.broken.push(self.chain.broken(Some(*seq), how, seen(&suspect.link)));
        }
        self.broken.sort_by_key(|broken| broken.seq);
        if self.more > 0 {
            let count = self.more;
            self.broken.push(self.chain.broken(None, How::More { count }, None));
        }
        self.broken
    }

    /// Which of the suspects changed places, and which only stand behind one that did.
    fn swapped(&self) -> BTreeMap<u64, Moved> {
        let mut moved = BTreeMap::new();
        for (here, one) in &self.suspects {
            let from = self.suspects.iter().find(|(there, other)| {
                let fits = |before: &Hash| {
                    let seal = self.chain.seal(**there, before, &one.link.bytes);
                    seal == one.link.seal || seal == other.link.seal
                };
                *there != here && [other.before, other.link.seal].iter().any(fits)
            });
            if let Some((there, _)) = from {
                moved.insert(*here, Moved::To(*there));
            }
        }
        // A pair is named from both sides, also where only one side shows it.
        let pairs: Vec<(u64, u64)> = moved
            .iter()
            .filter_map(|(here, to)| match to {
                Moved::To(there) => Some((*here, *there)),
                Moved::Neighbour => None,
            })
            .collect();
        for (here, there) in pairs {
            moved.entry(there).or_insert(Moved::To(here));
        }
        for (here, one) in &self.suspects {
            let Some(Moved::To(there)) = here.checked_sub(1).and_then(|at| moved.get(&at)) else {
                continue;
            };
            let holds = self.suspects.get(there).is_some_and(|other| {
                self.chain.seal(*here, &other.link.seal, &one.link.bytes) == one.link.seal
            });
            if holds && !moved.contains_key(here) {
                moved.insert(*here, Moved::Neighbour);
            }
        }
        moved
    }

    fn complain(&mut self, seq: Option<u64>, how: How, seen: Option<Seen>) {
        if self.broken.len() < KEPT {
            self.broken.push(self.chain.broken(seq, how, seen));
        } else {
            self.more += 1;
        }
    }
}

enum Moved {
    To(u64),
    Neighbour,
}

impl Chain<'_> {
    pub(crate) fn broken(&self, seq: Option<u64>, how: How, seen: Option<Seen>) -> Broken {
        let (record, writer) = (self.record.to_owned(), self.writer.to_owned());
        Broken { record, writer, seq, how, seen }
    }
}

/// What an event is, if it can still be read.
pub(crate) fn seen(link: &Link) -> Option<Seen> {
    let value: serde_json::Value = serde_json::from_slice(&link.bytes).ok()?;
    if link.seq == 0 && value.get("job").is_some() {
        return Some(Seen { event: "beginning".to_owned(), wall: None });
    }
    let what = value.get("what")?;
    let kind = what.as_str().or_else(|| what.as_object()?.keys().next().map(String::as_str));
    let wall = value.pointer("/at/wall").and_then(|wall| wall.as_str()?.parse().ok());
    Some(Seen { event: kind?.to_owned(), wall })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chain::NOTHING_BEFORE;

    const CHAIN: Chain<'_> = Chain { record: "r", writer: "w" };

    fn links(count: u64) -> Vec<Link> {
        let mut before = NOTHING_BEFORE;
        (0..count)
            .map(|seq| {
                let bytes = format!("{{\"what\":{{\"remark\":{seq}}}}}").into_bytes();
                before = CHAIN.seal(seq, &before, &bytes);
                Link { seq, bytes, seal: before }
            })
            .collect()
    }

    /// Ten events, meddled with; what is found. Derived: each meddling is known.
    fn check(meddle: impl Fn(&mut Vec<Link>), expected: &[(u64, How)]) {
        let mut links = links(10);
        let (end, seal) = (9, links[9].seal);
        meddle(&mut links);
        let mut check = Check::new(CHAIN, 0, NOTHING_BEFORE, end);
        links.into_iter().for_each(|link| check.link(link));
        let found: Vec<_> = check.end(&seal).into_iter().map(|one| (one.seq, one.how)).collect();
        let expected: Vec<_> =
            expected.iter().map(|(seq, how)| (Some(*seq), how.clone())).collect();
        assert_eq!(found, expected);
    }

    fn swap_whole(links: &mut [Link], one: usize, other: usize) {
        links.swap(one, other);
        (links[one].seq, links[other].seq) = (one as u64, other as u64);
    }

    fn number(links: &mut [Link]) {
        for (seq, link) in links.iter_mut().enumerate() {
            link.seq = seq as u64;
        }
    }

    #[test]
    fn a_whole_chain_holds() {
        check(|_| {}, &[]);
    }

    #[test]
    fn what_was_changed_is_named_alone() {
        check(|links| links[4].bytes.push(b' '), &[(4, How::Changed)]);
        check(|links| links[0].bytes.push(b' '), &[(0, How::Changed)]);
        check(|links| links[9].bytes.push(b' '), &[(9, How::Changed)]);
        let sealed_anew = |links: &mut Vec<Link>| {
            links[4].bytes.push(b' ');
            links[4].seal = CHAIN.seal(4, &links[3].seal, &links[4].bytes);
        };
        check(sealed_anew, &[(5, How::Changed)]);
        let last_sealed_anew = |links: &mut Vec<Link>| {
            links[9].bytes.push(b' ');
            links[9].seal = CHAIN.seal(9, &links[8].seal, &links[9].bytes);
        };
        check(last_sealed_anew, &[(9, How::OtherEnd)]);
    }

    #[test]
    fn what_changed_places_is_named_from_both_sides() {
        for (one, other) in [(2, 3), (2, 4), (3, 7), (8, 9)] {
            let (a, b) = (one as u64, other as u64);
            let expected = [(a, How::Swapped { with: b }), (b, How::Swapped { with: a })];
            check(|links| swap_whole(links, one, other), &expected);
            let bytes_alone = |links: &mut Vec<Link>| {
                let kept = links[one].bytes.clone();
                links[one].bytes = std::mem::replace(&mut links[other].bytes, kept);
            };
            check(bytes_alone, &expected);
        }
    }

    #[test]
    fn what_was_cut_is_named_with_its_numbers() {
        let drop = |range: std::ops::Range<usize>| {
            move |links: &mut Vec<Link>| {
                links.drain(range.clone());
            }
        };
        check(drop(4..5), &[(4, How::Missing { to: 4 })]);
        check(drop(4..7), &[(4, How::Missing { to: 6 })]);
        check(drop(0..1), &[(0, How::Missing { to: 0 })]);
        check(drop(8..10), &[(8, How::CutShort { to: 9 })]);
        let numbered_anew = |links: &mut Vec<Link>| {
            links.remove(4);
            number(links);
        };
        check(numbered_anew, &[(4, How::CutOut { count: 1 }), (9, How::CutShort { to: 9 })]);
    }

    #[test]
    fn what_was_added_is_named() {
        let at_the_end = |links: &mut Vec<Link>| {
            let bytes = b"{}".to_vec();
            let seal = CHAIN.seal(10, &links[9].seal, &bytes);
            links.push(Link { seq: 10, bytes, seal });
        };
        check(at_the_end, &[(10, How::BeyondEnd)]);
        let sealed_in_between = |links: &mut Vec<Link>| {
            let bytes = b"{}".to_vec();
            let seal = CHAIN.seal(4, &links[3].seal, &bytes);
            links.insert(4, Link { seq: 4, bytes, seal });
            number(links);
        };
        check(sealed_in_between, &[(5, How::PutIn { count: 1 }), (10, How::BeyondEnd)]);
        // One more event 4, and what follows is sealed anew.
        let twice = |links: &mut Vec<Link>| {
            let bytes = b"{}".to_vec();
            let seal = CHAIN.seal(4, &links[4].seal, &bytes);
            links.insert(5, Link { seq: 4, bytes, seal });
            for at in 6..links.len() {
                let seq = links[at].seq;
                links[at].seal = CHAIN.seal(seq, &links[at - 1].seal, &links[at].bytes);
            }
        };
        check(twice, &[(4, How::PutIn { count: 1 }), (5, How::Changed), (9, How::OtherEnd)]);
        let last_of_all = |links: &mut Vec<Link>| links[9].seq = u64::MAX;
        check(last_of_all, &[(9, How::Missing { to: u64::MAX - 1 }), (u64::MAX, How::BeyondEnd)]);
    }

    /// Derived: every bit of every event and seal is under a seal.
    #[test]
    fn no_bit_can_be_turned_unseen() {
        let whole = links(4);
        let end = whole[3].seal;
        for (at, link) in whole.iter().enumerate() {
            for bit in 0..8 * (link.bytes.len() + link.seal.len()) {
                let mut turned = whole.clone();
                let (byte, mask) = (bit / 8, 1 << (bit % 8));
                match byte.checked_sub(link.bytes.len()) {
                    None => turned[at].bytes[byte] ^= mask,
                    Some(byte) => turned[at].seal[byte] ^= mask,
                }
                let mut check = Check::new(CHAIN, 0, NOTHING_BEFORE, 3);
                turned.into_iter().for_each(|link| check.link(link));
                assert!(!check.end(&end).is_empty(), "event {at}, bit {bit}");
            }
        }
    }

    #[test]
    fn a_long_list_is_cut_and_counted() {
        let mut links = links(100);
        let seal = links[99].seal;
        links.iter_mut().for_each(|link| link.bytes.push(b' '));
        let mut check = Check::new(CHAIN, 0, NOTHING_BEFORE, 99);
        links.into_iter().for_each(|link| check.link(link));
        let found = check.end(&seal);
        assert_eq!(found.len(), KEPT + 1);
        assert_eq!(found.last().map(|one| one.how.clone()), Some(How::More { count: 68 }));
    }
}
