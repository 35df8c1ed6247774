//! What a browser remembers for this program, and sends with all that it asks.

use axum::http::header::COOKIE;
use axum::http::{HeaderMap, HeaderValue};

use super::percent::{decoded, encoded};

/// A year, in seconds.
const YEAR: u32 = 365 * 24 * 3600;

/// Whoever works at this machine, where it is not a pass that says so.
const WHO: &str = "who";

/// The cookie of this name, as it was sent.
pub(super) fn sent<'a>(headers: &'a HeaderMap, name: &str) -> Option<&'a str> {
    let all = headers.get_all(COOKIE).into_iter().filter_map(|one| one.to_str().ok());
    let mut pairs = all.flat_map(|one| one.split(';')).filter_map(|one| one.trim().split_once('='));
    pairs.find(|(key, _)| *key == name).map(|(_, value)| value)
}

/// The name that was remembered.
pub(super) fn who(headers: &HeaderMap) -> Option<String> {
    sent(headers, WHO).map(decoded).filter(|name| !name.is_empty())
}

/// Remembers a name.
pub(super) fn of_who(name: &str) -> HeaderValue {
    let name = encoded(name);
    let cookie = format!("{WHO}={name}; Path=/; Max-Age={YEAR}; HttpOnly; SameSite=Strict");
    HeaderValue::from_str(&cookie).expect("an encoded name has plain letters alone")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_remembered_among_other_cookies() {
        let check = |lines: &[&'static str], expected: Option<&str>| {
            let mut headers = HeaderMap::new();
            for line in lines {
                headers.append(COOKIE, HeaderValue::from_static(line));
            }
            assert_eq!(who(&headers).as_deref(), expected, "{lines:?}");
        };
        check(&["theme=dim; who=R.%20Tester"], Some("R. Tester"));
        check(&["theme=dim", "pass=1; who=%C3%85"], Some("Å"));
        check(&["xwho=a; whom=b"], None);
        check(&["who="], None);
        check(&[], None);
        let told = of_who("R. Tester; é");
        assert!(told.to_str().is_ok_and(|text| text.starts_with("who=R.%20Tester%3B%20%C3%A9; ")));
    }
}
