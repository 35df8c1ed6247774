//! One key for each act, the same at a terminal and in a browser.

/// One key and the words it begins.
pub(crate) struct Key {
    /// The key.
    pub(crate) key: char,
    /// How the line begins.
    pub(crate) words: &'static str,
    /// What else must be typed, where anything must.
    pub(crate) asks: Option<&'static str>,
    /// Beside the key, in the table on the screen.
    pub(crate) label: &'static str,
}

const fn key(key: char, words: &'static str, label: &'static str) -> Key {
    Key { key, words, asks: None, label }
}

const fn asking(key: char, words: &'static str, label: &'static str, asks: &'static str) -> Key {
    Key { key, words, asks: Some(asks), label }
}

/// The key that shows the longer reason of what is advised.
pub(crate) const WHY: &str = "!";

/// The key that takes a typed reading back.
pub(crate) const WITHDRAW: &str = "Ctrl+Z";

/// The key that closes the record.
pub(crate) const CLOSE: &str = "Ctrl+D";

/// Every key that stands for an act, in the order of a test.
pub(crate) const KEYS: &[Key] = &[
    asking('l', "lead", "lead moved", "Lead is on conductor"),
    key('c', "check", "checklist done"),
    key('i', "blank", "blank run"),
    key('e', "energise", "HV on at zero"),
    key('u', "rise", "rising"),
    key('d', "dwell", "at a step"),
    key('h', "hold", "at the level"),
    key('s', "stop", "dial coming down"),
    key('k', "abort", "HV cut at once"),
    key('x', "trip", "set tripped"),
    key('y', "flashover", "flashover"),
    key('b', "breakdown", "breakdown"),
    key('o', "off", "dial zero, HV off"),
    asking('v', "residual", "volts left", "Kilovolts left, or ? when the needle cannot tell"),
    key('t', "tool", "tool laid on"),
    asking('g', "ground", "ground on", "Ground number, then where: 3 at far end"),
    asking('f', "lift", "ground taken off", "Number of the ground that came off"),
    asking('p', "leave", "ground passed on", "Ground number, then to whom: 3 to NAME"),
    asking('w', "cause", "why it ended", "Why it ended so"),
    key('a', "again", "apply again"),
    key('n', "end", "no further voltage"),
    key('j', "reset", "trip reset"),
    key('z', "zero", "dial at zero"),
    key('r', "release", "released"),
    asking('#', "here", "somebody was heard", "Who was heard: far-end, watch, or both"),
    asking('m', "remark", "remark", "Remark"),
];
