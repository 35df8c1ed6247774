//! Names of what is kept.

use std::fmt;

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::{NoContext, Uuid};

/// Name of a record, the same wherever the record is taken; names sort by when they were given.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct RecordId(String);

impl RecordId {
    pub(crate) fn new(wall: Timestamp) -> Self {
        Self(fresh(wall))
    }

    pub(crate) fn of(text: String) -> Self {
        Self(text)
    }

    /// When it was given, to the millisecond; every seal of the record covers it with the name.
    pub(crate) fn given(&self) -> Option<Timestamp> {
        let (seconds, nanoseconds) = Uuid::try_parse(&self.0).ok()?.get_timestamp()?.to_unix();
        Timestamp::new(i64::try_from(seconds).ok()?, i32::try_from(nanoseconds).ok()?).ok()
    }

    /// As it is written.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for RecordId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// A name that nobody else gives, of this moment.
pub(crate) fn fresh(wall: Timestamp) -> String {
    let seconds = u64::try_from(wall.as_second()).unwrap_or(0);
    let nanoseconds = u32::try_from(wall.subsec_nanosecond()).unwrap_or(0);
    Uuid::new_v7(uuid::Timestamp::from_unix(NoContext, seconds, nanoseconds)).to_string()
}

/// A number that nobody else gives, as far as chance can tell: many programs give some at once.
pub(crate) fn number() -> i64 {
    let random = Uuid::now_v7().as_u128() & ((1 << 62) - 1);
    i64::try_from(random).unwrap_or(i64::MAX)
}

/// Whether it has the form of such a name.
pub(crate) fn is_name(text: &str) -> bool {
    text.len() == 36 && Uuid::try_parse(text).is_ok_and(|uuid| uuid.to_string() == text)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_sort_by_their_moment_and_are_never_the_same() {
        let early = RecordId::new(Timestamp::from_second(1_700_000_000).expect("a moment"));
        let late = RecordId::new(Timestamp::from_second(1_800_000_000).expect("a moment"));
        assert!(early < late, "{early} {late}");
        let again = RecordId::new(Timestamp::from_second(1_700_000_000).expect("a moment"));
        assert_ne!(early, again);
        assert!(is_name(early.as_str()) && !is_name("MR-F3"));
        let moment: Timestamp = "2026-11-03T09:00:00.1234567Z".parse().expect("a moment");
        let given = RecordId::new(moment).given().map(|given| given.to_string());
        assert_eq!(given.as_deref(), Some("2026-11-03T09:00:00.123Z"));
        assert_eq!(RecordId::of("MR-F3".to_owned()).given(), None);
        assert!(!is_name(&early.as_str().to_uppercase()));
    }
}
