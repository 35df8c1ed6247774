//! Bytes to text.

use std::borrow::Cow;

use super::fault::{FaultKind, ReadingsFault};

/// The bytes as text: UTF-8, or UTF-16 where a byte order mark says so.
///
/// # Errors
/// Where the bytes are no text.
pub fn decode(bytes: &[u8]) -> Result<Cow<'_, str>, ReadingsFault> {
    let text = match bytes {
        [0xff, 0xfe, rest @ ..] => Cow::Owned(utf16(rest, u16::from_le_bytes)?),
        [0xfe, 0xff, rest @ ..] => Cow::Owned(utf16(rest, u16::from_be_bytes)?),
        [0xef, 0xbb, 0xbf, rest @ ..] => Cow::Borrowed(utf8(rest)?),
        _ => Cow::Borrowed(utf8(bytes)?),
    };
    match text.bytes().position(is_control) {
        Some(offset) => Err(FaultKind::Binary.at(line_at(text.as_bytes(), offset))),
        None => Ok(text),
    }
}

fn utf8(bytes: &[u8]) -> Result<&str, ReadingsFault> {
    std::str::from_utf8(bytes).map_err(|error| {
        let offset = error.valid_up_to();
        match bytes[..offset].iter().position(|&byte| is_control(byte)) {
            Some(offset) => FaultKind::Binary.at(line_at(bytes, offset)),
            None => FaultKind::NotUtf8.at(line_at(bytes, offset)),
        }
    })
}

const fn is_control(byte: u8) -> bool {
    byte < b' ' && !matches!(byte, b'\t' | b'\n' | b'\r')
}

fn utf16(bytes: &[u8], unit: fn([u8; 2]) -> u16) -> Result<String, ReadingsFault> {
    let (pairs, rest) = bytes.as_chunks::<2>();
    let mut text = String::with_capacity(pairs.len());
    for character in char::decode_utf16(pairs.iter().map(|&pair| unit(pair))) {
        let line = || line_at(text.as_bytes(), text.len());
        text.push(character.map_err(|_| FaultKind::NotUtf8.at(line()))?);
    }
    if rest.is_empty() { Ok(text) } else { Err(FaultKind::NotUtf8.at(line_at(bytes, 0))) }
}

fn line_at(bytes: &[u8], offset: usize) -> usize {
    1 + bytes[..offset].iter().filter(|&&byte| byte == b'\n').count()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(bytes: &[u8], expected: Result<&str, (usize, FaultKind)>) {
        let found = decode(bytes).map_err(|one| (one.line, one.fault));
        assert_eq!(found.as_deref(), expected.as_ref().map(|text| *text));
    }

    #[test]
    fn marks_are_obeyed_and_binaries_refused() {
        check(b"a\n", Ok("a\n"));
        check(b"\xef\xbb\xbfa", Ok("a"));
        check(b"\xff\xfea\0\xb5\0", Ok("a\u{b5}"));
        check(b"\xfe\xff\0a", Ok("a"));
        check(b"\xff\xfea\0\n", Err((1, FaultKind::NotUtf8)));
        check(b"a\n\xb5A", Err((2, FaultKind::NotUtf8)));
        check(b"a\nb\0", Err((2, FaultKind::Binary)));
        check(b"a\0\n\xff", Err((1, FaultKind::Binary)));
    }
}
