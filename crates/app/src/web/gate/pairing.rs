//! Codes that let a tablet in, once, for a short time.

use std::time::{Duration, Instant};

use store::people::May;

use super::secret::same;

/// No two of these are taken for each other, by eye or ear of a hurried reader.
const LETTERS: &[u8; 23] = b"3479ACDEFHJKMNPQRTUVWXY";

/// 23⁸ are 7.8 × 10¹⁰ codes.
const LENGTH: usize = 8;

/// How long a code is good for.
const LIFE: Duration = Duration::from_secs(300);

/// Codes that may wait to be typed.
const MOST: usize = 8;

/// A code that may be typed once.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Code {
    text: String,
    /// The account that lets in.
    pub(crate) person: String,
    /// What the tablet may do.
    pub(crate) may: May,
    /// The record that it answers for, where it is a device of the far end.
    pub(crate) record: Option<String>,
    until: Instant,
}

impl Code {
    /// In two halves, as it is read.
    pub(crate) fn shown(&self) -> String {
        let (first, second) = self.text.split_at(LENGTH / 2);
        format!("{first} {second}")
    }

    /// How long it is still good for.
    pub(crate) fn left(&self, now: Instant) -> Duration {
        self.until.duration_since(now)
    }
}

/// Codes that wait to be typed.
#[derive(Debug, Default)]
pub(crate) struct Pairing(Vec<Code>);

impl Pairing {
    /// Makes a code; where too many wait, the oldest is good no more.
    pub(crate) fn make(
        &mut self,
        person: &str,
        may: May,
        record: Option<String>,
        now: Instant,
    ) -> Code {
        self.forget(now);
        if self.0.len() == MOST {
            self.0.remove(0);
        }
        let (text, person, until) = (letters(), person.to_owned(), now + LIFE);
        let code = Code { text, person, may, record, until };
        self.0.push(code.clone());
        code
    }

    /// The code that was typed, which is then used up; small letters, gaps and dashes count for
    /// nothing.
    pub(crate) fn take(&mut self, typed: &str, now: Instant) -> Option<Code> {
        self.take_where(typed, now, |may| may != May::Exchange)
    }

    /// The same of a laptop that exchanges records: its code lets no browser in.
    pub(crate) fn take_of_laptop(&mut self, typed: &str, now: Instant) -> Option<Code> {
        self.take_where(typed, now, |may| may == May::Exchange)
    }

    fn take_where(&mut self, typed: &str, now: Instant, fits: fn(May) -> bool) -> Option<Code> {
        self.forget(now);
        let typed: String = typed
            .chars()
            .filter(|letter| !letter.is_whitespace() && *letter != '-')
            .map(|letter| letter.to_ascii_uppercase())
            .take(LENGTH + 1)
            .collect();
        let is_it = |code: &Code| fits(code.may) && same(code.text.as_bytes(), typed.as_bytes());
        let at = self.0.iter().position(is_it)?;
        Some(self.0.remove(at))
    }

    /// Those that wait, the oldest first.
    pub(crate) fn waiting(&mut self, now: Instant) -> &[Code] {
        self.forget(now);
        &self.0
    }

    fn forget(&mut self, now: Instant) {
        self.0.retain(|code| now < code.until);
    }
}

/// Each letter as likely as any other: bytes beyond the last whole round are drawn again.
fn letters() -> String {
    const ROUNDS: usize = 256 / LETTERS.len() * LETTERS.len();
    let mut text = String::with_capacity(LENGTH);
    while text.len() < LENGTH {
        let drawn = super::secret::token();
        let good = drawn.into_iter().map(usize::from).filter(|byte| *byte < ROUNDS);
        let missing = LENGTH - text.len();
        text.extend(good.map(|byte| char::from(LETTERS[byte % LETTERS.len()])).take(missing));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_code_is_taken_once_however_it_is_typed() {
        let (mut pairing, now) = (Pairing::default(), Instant::now());
        let code = pairing.make("Op", May::Watch, None, now);
        let typed = format!(" {}-{} ", &code.text[..3].to_lowercase(), &code.text[3..]);
        assert_eq!(pairing.take(&code.text[..7], now), None);
        assert_eq!(pairing.take(&format!("{}A", code.text), now), None);
        assert_eq!(pairing.take(&typed, now), Some(code));
        assert_eq!(pairing.take(&typed, now), None, "it is used up");
    }

    #[test]
    fn a_code_is_good_for_five_minutes() {
        let (mut pairing, now) = (Pairing::default(), Instant::now());
        let code = pairing.make("Op", May::Say, None, now);
        assert_eq!(
            pairing.waiting(now + LIFE - Duration::from_millis(1)),
            std::slice::from_ref(&code)
        );
        assert_eq!(pairing.take(&code.text, now + LIFE), None);
    }

    #[test]
    fn codes_have_no_letters_that_are_taken_for_others_and_only_so_many_wait() {
        let (mut pairing, now) = (Pairing::default(), Instant::now());
        let made: Vec<Code> = (0..50).map(|_| pairing.make("Op", May::Watch, None, now)).collect();
        for code in &made {
            assert_eq!(code.text.len(), LENGTH);
            assert!(code.text.bytes().all(|letter| LETTERS.contains(&letter)), "{}", code.text);
        }
        assert_eq!(pairing.waiting(now), &made[42..]);
        assert!(made.windows(2).all(|two| two[0].text != two[1].text));
    }
}
