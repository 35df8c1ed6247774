//! Texts as addresses, queries and cookies carry them.

/// Every byte but letters, figures and `-_.~` as a percent sign and two hexadecimal figures.
///
/// # Source
/// RFC 3986 sections 2.1 and 2.3; each of these letters may stand in a cookie too (RFC 6265
/// section 4.1.1).
pub(super) fn encoded(text: &str) -> String {
    text.bytes().fold(String::with_capacity(text.len()), |mut out, byte| {
        if byte.is_ascii_alphanumeric() || b"-_.~".contains(&byte) {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
        out
    })
}

/// The text that was encoded; a percent sign without two figures stands for itself.
pub(super) fn decoded(text: &str) -> String {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.as_bytes();
    while let [first, after @ ..] = rest {
        rest = after;
        let hex = after.get(..2).and_then(|hex| std::str::from_utf8(hex).ok());
        match hex.and_then(|hex| u8::from_str_radix(hex, 16).ok()).filter(|_| *first == b'%') {
            Some(byte) => {
                bytes.push(byte);
                rest = &after[2..];
            }
            None => bytes.push(*first),
        }
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    // Derived by hand from RFC 3986 section 2.1.
    #[test]
    fn a_text_goes_there_and_comes_back() {
        let check = |text: &str, expected: &str| {
            assert_eq!(encoded(text), expected);
            assert_eq!(decoded(expected), text);
        };
        check("FDR-2", "FDR-2");
        check("T 4/µ", "T%204%2F%C2%B5");
        check("A. Tester; é\r\n", "A.%20Tester%3B%20%C3%A9%0D%0A");
        check("", "");
        assert_eq!(decoded("100% of 50%2"), "100% of 50%2");
    }
}
