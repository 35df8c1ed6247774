//! What two rooms count by the same, while a test runs and when its record is judged.
//!
//! What is advised and what is judged of one record must not part: the words and numbers are here
//! once. Numbers are common practice, no source.

use quantity::Time;

/// Words for why something was advised, as they stand in records.
pub mod why {
    /// The current rises while the voltage stands.
    pub const RISING: &str = "rising";
    /// The current jumped while the voltage stood.
    pub const JUMP: &str = "jump";
    /// The current is restless.
    pub const UNREST: &str = "unrest";
    /// The current grows faster than the voltage.
    pub const TURNS_UP: &str = "turns-up";
    /// The next step reaches where a model has conduction run away.
    pub const FORECAST_NEAR: &str = "forecast-near";
    /// The voltage comes down already.
    pub const COMING_DOWN: &str = "coming-down";
}

/// When currents are read against the voltage.
pub mod against {
    /// So many half digits a current must be to have a sign.
    pub const CLEAR: f64 = 4.0;
    /// So many readings on end that agree show it, of meters: six of noise about zero agree so once
    /// in some hundred thousand (derived: 0.1 to the sixth power at best).
    pub const ON_END: usize = 6;
    /// The same of a hand.
    pub const BY_HAND: usize = 3;
    /// Agreeing within this factor.
    pub const AGREE: f64 = 1.5;
    /// Or so many in any way, for what grows fast does not agree.
    pub const IN_ANY_WAY: usize = 16;
}

/// Readings further apart come from a hand.
pub const SELDOM: Time = Time::from_seconds(5.0);
/// Voltages within this part of each other are alike.
pub const ALIKE: f64 = 0.03;
/// Ages within this factor are alike.
pub const AGED_ALIKE: f64 = 1.5;

/// Where the set's own link stands; says nothing of a guard at the object.
const OF_THE_SET: [&str; 3] = ["guard-to-ground", "return-to-ground", "none"];

/// Whether the words for a link say where the set's own stands.
#[must_use]
pub fn is_of_the_set(link: &str) -> bool {
    OF_THE_SET.contains(&link.to_lowercase().trim())
}

/// What a person's words for the link say of the guard: on, off, or nothing.
#[must_use]
pub fn guard_said(link: &str) -> Option<bool> {
    if is_of_the_set(link) {
        return None;
    }
    let words = link.to_lowercase();
    let denies = ["no guard", "not guard", "unguard", "without", "guard off", "guard open"];
    if denies.iter().any(|denial| words.contains(denial)) {
        return Some(false);
    }
    words.contains("guard").then_some(true)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Derived from what the words mean; the set's own link is written as the job file has it.
    #[test]
    fn what_people_write_of_the_guard() {
        let check = |link, expected| assert_eq!(guard_said(link), expected, "{link:?}");
        check("guard-to-ground", None);
        check("return-to-ground", None);
        check("return to ground", None);
        check("Guard on", Some(true));
        check("guarded", Some(true));
        check("no guard", Some(false));
        check("unguarded", Some(false));
        check("without guard rings", Some(false));
    }
}
