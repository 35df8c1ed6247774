//! Passwords, and what a browser carries.

use std::fmt::Write as _;

use argon2::password_hash::phc::PasswordHash;
use argon2::password_hash::{PasswordHasher as _, PasswordVerifier as _};
use argon2::{Algorithm, Argon2, Params, Version};

/// Fewest letters of a password. Common practice, no source.
pub(crate) const FEWEST: usize = 12;

/// Most bytes of a password; more would only be work.
pub(crate) const MOST: usize = 1024;

/// Argon2id with the second choice of RFC 9106 section 4: three passes, four lanes, 64 MiB, a tag
/// of 32 bytes; the salt has 16.
const MEMORY_KIB: u32 = 64 * 1024;
const PASSES: u32 = 3;
const LANES: u32 = 4;
const TAG: usize = 32;

fn argon2() -> Argon2<'static> {
    let params = Params::new(MEMORY_KIB, PASSES, LANES, Some(TAG));
    let params = params.expect("memory, passes, lanes and tag are in their ranges");
    Argon2::new(Algorithm::Argon2id, Version::V0x13, params)
}

/// The hash of a password with a new salt, in the PHC string format.
pub(crate) fn hash(password: &str) -> String {
    let hashed = argon2().hash_password(password.as_bytes());
    hashed
        .expect("a password of bounded length is hashed where the system gives chance")
        .to_string()
}

/// Whether it is the password of this hash. Where there is no hash it takes as long, and is not.
pub(crate) fn is_right(password: &str, secret: Option<&str>) -> bool {
    let Some(secret) = secret else {
        std::hint::black_box(hash(password));
        return false;
    };
    PasswordHash::new(secret)
        .is_ok_and(|parsed| argon2().verify_password(password.as_bytes(), &parsed).is_ok())
}

/// Something that nobody guesses.
pub(crate) fn token() -> [u8; 32] {
    let mut token = [0; 32];
    getrandom::fill(&mut token).expect("the system gives chance");
    token
}

/// As a cookie carries it.
pub(crate) fn text(token: &[u8; 32]) -> String {
    token.iter().fold(String::with_capacity(64), |mut text, byte| {
        // Writing to a text cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// What a cookie carries.
pub(crate) fn token_of(text: &str) -> Option<[u8; 32]> {
    let mut token = [0; 32];
    if text.len() != 2 * token.len() || !text.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        return None;
    }
    for (at, byte) in token.iter_mut().enumerate() {
        *byte = u8::from_str_radix(&text[2 * at..2 * at + 2], 16).ok()?;
    }
    Some(token)
}

/// Compares in the same time wherever the two differ.
pub(crate) fn same(one: &[u8], other: &[u8]) -> bool {
    let differ = one.iter().zip(other).fold(0, |differ, (one, other)| differ | (one ^ other));
    one.len() == other.len() && differ == 0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_password_is_right_for_its_own_hash_alone() {
        let secret = hash("correct horse battery");
        // The fields of the PHC string are those of RFC 9106 section 4, second choice.
        assert!(secret.starts_with("$argon2id$v=19$m=65536,t=3,p=4$"), "{secret}");
        assert_ne!(secret, hash("correct horse battery"), "the salt is new each time");
        assert!(is_right("correct horse battery", Some(&secret)));
        assert!(!is_right("correct horse batterz", Some(&secret)));
        assert!(!is_right("correct horse battery", None));
        assert!(!is_right("correct horse battery", Some("no hash")));
    }

    #[test]
    fn a_token_goes_through_its_text_and_nothing_else_is_one() {
        let one = token();
        assert_ne!(one, token());
        assert_eq!(token_of(&text(&one)), Some(one));
        let long = format!("{}00", text(&one));
        for bad in ["", "00", long.as_str(), &"g".repeat(64), &"é".repeat(32)] {
            assert_eq!(token_of(bad), None, "{bad}");
        }
        assert!(same(b"abc", b"abc") && !same(b"abc", b"abd") && !same(b"abc", b"ab"));
    }
}
