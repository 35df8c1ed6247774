//! The seal of an event: it covers the event's bytes and, through the seal before it, every event
//! before.
//!
//! `seal(n) = SHA-256( "ohmstead-event-1" ‖ record ‖ writer ‖ n ‖ seal before ‖ length ‖ bytes )`
//! with record and writer as their 36 letters, `n` and length as eight bytes, the highest first.
//! Event 0 is what the record begins with and follows thirty-two zero bytes. A second writer's
//! chain begins at 1 and follows event 0, so that it belongs to no other record.

use std::fmt;

use serde::Serialize;
use sha2::{Digest, Sha256};

/// What the bytes under a seal are, and the edition of this layout.
const EVENT_TAG: &[u8] = b"ohmstead-event-1";
/// The same for findings.
const FINDINGS_TAG: &[u8] = b"ohmstead-findings-1";
/// The same for signatures.
const SIGNATURE_TAG: &[u8] = b"ohmstead-signature-1";

/// SHA-256 of something sealed.
pub(crate) type Hash = [u8; 32];

/// What event 0 follows.
pub(crate) const NOTHING_BEFORE: Hash = [0; 32];

/// How far a chain has come, and the code that stands for all of it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Seal {
    /// Number of the last event; what the record begins with is number 0.
    pub seq: u64,
    /// Sixty-four hexadecimal letters.
    pub code: String,
}

impl Seal {
    pub(crate) fn of(seq: u64, hash: &Hash) -> Self {
        Self { seq, code: hex(hash) }
    }

    /// The code as it is printed: its first sixteen letters in groups of four.
    #[must_use]
    pub fn short(&self) -> String {
        let mut short = String::with_capacity(19);
        for (at, letter) in self.code.chars().take(16).enumerate() {
            if at > 0 && at % 4 == 0 {
                short.push(' ');
            }
            short.push(letter);
        }
        short
    }
}

impl fmt::Display for Seal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} (event {})", self.short(), self.seq)
    }
}

/// One chain, as seals are made on it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Chain<'a> {
    pub(crate) record: &'a str,
    pub(crate) writer: &'a str,
}

impl Chain<'_> {
    /// The seal of this event.
    pub(crate) fn seal(&self, seq: u64, before: &Hash, bytes: &[u8]) -> Hash {
        let mut hasher = Sha256::new();
        hasher.update(EVENT_TAG);
        hasher.update(self.record);
        hasher.update(self.writer);
        hasher.update(seq.to_be_bytes());
        hasher.update(before);
        hasher.update((bytes.len() as u64).to_be_bytes());
        hasher.update(bytes);
        hasher.finalize().into()
    }
}

/// Findings as their seal covers them, all but their seal.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Sealed<'a> {
    pub(crate) record: &'a str,
    pub(crate) id: &'a str,
    pub(crate) judged_us: i64,
    /// The code that the record had when it was judged.
    pub(crate) code: &'a str,
    pub(crate) method: &'a str,
    pub(crate) verdict: &'a str,
    pub(crate) bytes: &'a [u8],
}

impl Sealed<'_> {
    /// The seal: over every part with its length before it.
    pub(crate) fn seal(&self) -> Hash {
        let Self { record, id, judged_us, code, method, verdict, bytes } = *self;
        let judged = judged_us.to_be_bytes();
        let texts = [code, method, verdict].map(str::as_bytes);
        let mut hasher = Sha256::new();
        hasher.update(FINDINGS_TAG);
        let named = [record.as_bytes(), id.as_bytes(), &judged];
        for part in named.into_iter().chain(texts).chain([bytes]) {
            hasher.update((part.len() as u64).to_be_bytes());
            hasher.update(part);
        }
        hasher.finalize().into()
    }
}

/// A signature as its seal covers it, all but its seal.
#[derive(Clone, Copy, Debug)]
pub(crate) struct SealedName<'a> {
    pub(crate) record: &'a str,
    pub(crate) id: &'a str,
    pub(crate) signed_us: i64,
    pub(crate) name: &'a str,
    pub(crate) role: &'a str,
    pub(crate) remark: Option<&'a str>,
    /// The code that the record had when it was signed.
    pub(crate) code: &'a str,
    /// The findings that were signed.
    pub(crate) findings: Option<&'a str>,
}

impl SealedName<'_> {
    /// The seal: over every part with its length before it; what is not there has no length.
    pub(crate) fn seal(&self) -> Hash {
        let Self { record, id, signed_us, name, role, remark, code, findings } = *self;
        let signed = signed_us.to_be_bytes();
        let text = |text: Option<&'_ str>| text.map(|text| text.as_bytes().to_owned());
        let parts = [Some(record), Some(id)].map(text).into_iter();
        let parts = parts.chain([Some(signed.to_vec())]);
        let rest = [Some(name), Some(role), remark, Some(code), findings].map(text);
        let mut hasher = Sha256::new();
        hasher.update(SIGNATURE_TAG);
        for part in parts.chain(rest) {
            let length = part.as_ref().map_or(u64::MAX, |part| part.len() as u64);
            hasher.update(length.to_be_bytes());
            hasher.update(part.unwrap_or_default());
        }
        hasher.finalize().into()
    }
}

pub(crate) fn digest(bytes: &[u8]) -> Hash {
    Sha256::digest(bytes).into()
}

pub(crate) fn hex(hash: &Hash) -> String {
    use fmt::Write as _;
    hash.iter().fold(String::with_capacity(64), |mut text, byte| {
        // Writing to a text cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

pub(crate) fn unhex(text: &str) -> Option<Hash> {
    if text.len() != 64 || !text.is_ascii() {
        return None;
    }
    let mut hash = [0; 32];
    for (at, byte) in hash.iter_mut().enumerate() {
        *byte = u8::from_str_radix(&text[2 * at..2 * at + 2], 16).ok()?;
    }
    Some(hash)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// FIPS 180-4, its published examples for SHA-256 of one and of two blocks.
    #[test]
    fn the_hash_is_sha_256() {
        let check =
            |text: &str, expected: &str| assert_eq!(hex(&digest(text.as_bytes())), expected);
        check("abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
        check(
            "abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
        );
    }

    /// Derived: the layout at the head of this file, its bytes put together one after the other.
    #[test]
    fn the_first_links_are_as_written_down() {
        let record = "01900000-0000-7000-8000-000000000001";
        let writer = "01900000-0000-7000-8000-000000000002";
        let chain = Chain { record, writer };
        let by_hand = |seq: u8, before: &[u8], bytes: &[u8]| {
            let mut all = format!("ohmstead-event-1{record}{writer}").into_bytes();
            all.extend([0, 0, 0, 0, 0, 0, 0, seq]);
            all.extend(before);
            all.extend([0, 0, 0, 0, 0, 0, 0, u8::try_from(bytes.len()).expect("short")]);
            all.extend(bytes);
            digest(&all)
        };
        let first = chain.seal(0, &NOTHING_BEFORE, b"{\"a\":1}");
        assert_eq!(first, by_hand(0, &[0; 32], b"{\"a\":1}"));
        let second = chain.seal(1, &first, b"{\"b\":2}");
        assert_eq!(second, by_hand(1, &first, b"{\"b\":2}"));
        assert_ne!(second, chain.seal(2, &first, b"{\"b\":2}"));
    }

    /// Derived: the layout written at the seal, its bytes put together one after the other.
    #[test]
    fn a_signature_is_sealed_as_written_down() {
        let sealed = SealedName {
            record: "r",
            id: "i",
            signed_us: 1,
            name: "n",
            role: "tester",
            remark: None,
            code: "c",
            findings: Some("f"),
        };
        let mut all = b"ohmstead-signature-1".to_vec();
        let time = 1_u64.to_be_bytes();
        for part in [&b"r"[..], b"i", &time, b"n", b"tester"] {
            all.extend((part.len() as u64).to_be_bytes());
            all.extend(part);
        }
        all.extend([0xff; 8]);
        for part in [b"c", b"f"] {
            all.extend([0, 0, 0, 0, 0, 0, 0, 1]);
            all.extend(part);
        }
        assert_eq!(sealed.seal(), digest(&all));
        let empty = SealedName { remark: Some(""), ..sealed };
        assert_ne!(empty.seal(), sealed.seal(), "nothing said is not an empty word");
    }

    #[test]
    fn codes_read_back() {
        let hash = digest(b"abc");
        assert_eq!(unhex(&hex(&hash)), Some(hash));
        assert_eq!(unhex("ba78"), None);
        assert_eq!(unhex(&"g".repeat(64)), None);
        assert_eq!(Seal::of(3, &hash).to_string(), "ba78 16bf 8f01 cfea (event 3)");
    }
}
