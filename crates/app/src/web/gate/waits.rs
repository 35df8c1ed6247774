//! After wrong passwords and codes, each further try waits longer.

use std::collections::HashMap;
use std::net::{IpAddr, Ipv6Addr};
use std::time::{Duration, Instant};

/// Whose tries are counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum Key {
    /// Everyone's together, whatever the name they try: a crowd guesses no faster than this.
    All,
    /// Those of one machine, or of its share of a network.
    Peer(IpAddr),
}

impl Key {
    /// A machine has a whole /64 of IPv6 addresses for itself (RFC 4291 section 2.5.4).
    pub(super) fn of(ip: IpAddr) -> Self {
        match ip.to_canonical() {
            IpAddr::V6(ip) => {
                let [a, b, c, d, ..] = ip.segments();
                Self::Peer(Ipv6Addr::new(a, b, c, d, 0, 0, 0, 0).into())
            }
            ip => Self::Peer(ip),
        }
    }

    /// Wrong tries that cost nothing.
    const fn free(self) -> u32 {
        match self {
            Self::All => 20,
            Self::Peer(_) => 3,
        }
    }

    /// Short for all together: else one who guesses would keep everyone out.
    const fn longest(self) -> Duration {
        match self {
            Self::All => Duration::from_secs(10),
            Self::Peer(_) => Duration::from_secs(300),
        }
    }
}

/// Peers that are remembered at most.
const MOST: usize = 1024;

/// A wrong try is forgotten after so long.
const FORGET: Duration = Duration::from_secs(900);

#[derive(Clone, Copy, Debug)]
struct Wrong {
    times: u32,
    last: Instant,
}

/// Who tried wrong, and how often.
#[derive(Debug, Default)]
pub(super) struct Waits(HashMap<Key, Wrong>);

impl Waits {
    /// How long until a further try is looked at.
    pub(super) fn left(&self, key: &Key, now: Instant) -> Option<Duration> {
        let wrong = self.0.get(key)?;
        let beyond = wrong.times.checked_sub(key.free())?;
        let wait = Duration::from_secs(1 << beyond.min(16)).min(key.longest());
        wait.checked_sub(now.duration_since(wrong.last)).filter(|left| !left.is_zero())
    }

    /// Counts a wrong try; says how many there are by now.
    pub(super) fn wrong(&mut self, key: Key, now: Instant) -> u32 {
        self.0.retain(|_, wrong| now.duration_since(wrong.last) < FORGET);
        if self.0.len() >= MOST && !self.0.contains_key(&key) {
            let oldest = self.0.iter().min_by_key(|(_, wrong)| wrong.last).map(|(key, _)| *key);
            oldest.map(|oldest| self.0.remove(&oldest));
        }
        let wrong = self.0.entry(key).or_insert(Wrong { times: 0, last: now });
        *wrong = Wrong { times: wrong.times.saturating_add(1), last: now };
        wrong.times
    }

    pub(super) fn right(&mut self, key: &Key) {
        self.0.remove(key);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn peer(text: &str) -> Key {
        Key::of(text.parse().expect("an address"))
    }

    /// Derived: three are free, then 1, 2, 4 … seconds, 300 at most.
    #[test]
    fn each_wrong_try_waits_twice_as_long_as_the_one_before() {
        let (mut waits, start) = (Waits::default(), Instant::now());
        let key = peer("192.0.2.7");
        let mut found = Vec::new();
        for _ in 0..14 {
            waits.wrong(key, start);
            found.push(waits.left(&key, start).map_or(0, |left| left.as_secs()));
        }
        assert_eq!(found, [0, 0, 1, 2, 4, 8, 16, 32, 64, 128, 256, 300, 300, 300]);
        let later = start + Duration::from_secs(299);
        assert_eq!(waits.left(&key, later), Some(Duration::from_secs(1)));
        assert_eq!(waits.left(&key, later + Duration::from_secs(1)), None);
        assert_eq!(waits.left(&peer("192.0.2.8"), start), None, "another one does not wait");
        waits.right(&key);
        assert_eq!(waits.left(&key, start), None);
    }

    #[test]
    fn all_together_wait_ten_seconds_at_most() {
        let (mut waits, start) = (Waits::default(), Instant::now());
        for _ in 0..1000 {
            waits.wrong(Key::All, start);
        }
        assert_eq!(waits.left(&Key::All, start), Some(Duration::from_secs(10)));
        let much_later = start + FORGET;
        assert_eq!(waits.wrong(Key::All, much_later), 1, "what is long ago is forgotten");
    }

    #[test]
    fn the_table_does_not_grow_and_forgets_the_oldest_first() {
        let (mut waits, start) = (Waits::default(), Instant::now());
        for number in 0..3000_u32 {
            let at = start + Duration::from_millis(u64::from(number));
            waits.wrong(Key::of(std::net::Ipv4Addr::from(number).into()), at);
        }
        assert_eq!(waits.0.len(), MOST);
        assert!(waits.0.contains_key(&Key::of(std::net::Ipv4Addr::from(2999).into())));
        assert!(!waits.0.contains_key(&Key::of(std::net::Ipv4Addr::from(0).into())));
    }

    #[test]
    fn a_share_of_a_network_counts_as_one() {
        assert_eq!(peer("2001:db8:1:2::7"), peer("2001:db8:1:2:ffff::8"));
        assert_ne!(peer("2001:db8:1:2::7"), peer("2001:db8:1:3::7"));
        assert_eq!(peer("::ffff:192.0.2.7"), peer("192.0.2.7"));
    }
}
