//! Who asks.

use std::convert::Infallible;

use axum::extract::FromRequestParts;
use axum::http::HeaderMap;
use axum::http::header::AUTHORIZATION;
use axum::http::request::Parts;
use jiff::{Timestamp, ToSpan as _};
use store::people::{May, Pass};

use crate::web::cookie;

/// Who asks, as far as the gate found out.
#[derive(Clone, Debug)]
pub(crate) enum Visitor {
    /// Someone at this machine itself.
    Here,
    /// A browser that was let in.
    Known(Pass),
    /// Nobody known; sees how to come in, and nothing else.
    Stranger,
}

impl Visitor {
    /// May say lines in a test, and write on a sheet.
    pub(crate) fn may_say(&self) -> bool {
        match self {
            Self::Here => true,
            Self::Known(pass) => matches!(pass.may, May::Operate | May::Say),
            Self::Stranger => false,
        }
    }

    /// May answer for the far end of some record.
    pub(crate) fn may_guard_any(&self) -> bool {
        match self {
            Self::Known(pass) => pass.may == May::FarEnd || self.may_say(),
            Self::Here | Self::Stranger => self.may_say(),
        }
    }

    /// May answer for the far end of this record: a device that was let in for one of another
    /// says nothing here.
    pub(crate) fn may_guard(&self, record: &str) -> bool {
        match self {
            Self::Known(pass) if pass.may == May::FarEnd => pass.record.as_deref() == Some(record),
            _ => self.may_say(),
        }
    }

    /// The device, where it was let in for the far end: what it says is said by whoever holds it.
    pub(crate) fn device(&self) -> Option<&str> {
        match self {
            Self::Known(pass) if pass.may == May::FarEnd => Some(&pass.device),
            _ => None,
        }
    }

    /// May let others in.
    pub(crate) fn may_operate(&self) -> bool {
        match self {
            Self::Here => true,
            Self::Known(pass) => pass.may == May::Operate,
            Self::Stranger => false,
        }
    }

    /// May exchange records: another laptop, and whoever may do everything.
    pub(crate) fn may_exchange(&self) -> bool {
        match self {
            Self::Known(pass) => pass.may == May::Exchange || self.may_operate(),
            Self::Here | Self::Stranger => self.may_operate(),
        }
    }

    /// What the laptop is called, where one exchanges records.
    pub(crate) fn laptop(&self) -> Option<&str> {
        match self {
            Self::Known(pass) => Some(&pass.device),
            Self::Here | Self::Stranger => None,
        }
    }

    /// The account that let it in.
    pub(crate) fn person(&self) -> Option<&str> {
        match self {
            Self::Known(pass) => Some(&pass.person),
            Self::Here | Self::Stranger => None,
        }
    }
}

/// Where the gate did not look, nobody is known.
impl<S: Sync> FromRequestParts<S> for Visitor {
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Infallible> {
        Ok(parts.extensions.get().cloned().unwrap_or(Self::Stranger))
    }
}

/// Days that a browser may stay away.
const AWAY_DAYS: i64 = 30;

/// Days after which it has to come in anew, however often it came.
const LONGEST_DAYS: i64 = 180;

/// How long a browser keeps its cookie, in seconds; whether it still counts is told here.
pub(crate) const COOKIE_LIFE: i64 = LONGEST_DAYS * 24 * 3600;

/// Until when a browser may come that was let in then and came now.
pub(crate) fn until(made: Timestamp, now: Timestamp) -> Timestamp {
    let after = |from: Timestamp, days: i64| from.checked_add((days * 24).hours()).unwrap_or(from);
    after(now, AWAY_DAYS).min(after(made, LONGEST_DAYS))
}

/// Until when a laptop may come that was let in then: it may be away for weeks.
pub(crate) fn of_laptop(made: Timestamp) -> Timestamp {
    made.checked_add((LONGEST_DAYS * 24).hours()).unwrap_or(made)
}

/// Its name; behind TLS one that a browser takes from this very host and over TLS alone
/// (RFC 6265bis section 4.1.3.2).
pub(crate) const fn cookie_name(behind_tls: bool) -> &'static str {
    if behind_tls { "__Host-pass" } else { "pass" }
}

/// What the browser carries.
pub(super) fn token(headers: &HeaderMap, behind_tls: bool) -> Option<[u8; 32]> {
    super::secret::token_of(cookie::sent(headers, cookie_name(behind_tls))?)
}

/// What a laptop carries (RFC 6750 section 2.1); no page can have a browser send it.
pub(super) fn borne(headers: &HeaderMap) -> Option<[u8; 32]> {
    let (scheme, token) = headers.get(AUTHORIZATION)?.to_str().ok()?.split_once(' ')?;
    scheme.eq_ignore_ascii_case("bearer").then(|| super::secret::token_of(token.trim()))?
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Derived: thirty days after it came, and never more than 180 after it was let in.
    #[test]
    fn a_browser_may_stay_away_for_a_while_and_comes_in_anew_in_the_end() {
        let check = |made: &str, now: &str, expected: &str| {
            let at = |text: &str| text.parse::<Timestamp>().expect("a moment");
            assert_eq!(until(at(made), at(now)), at(expected), "{made} {now}");
        };
        check("2026-01-01T00:00:00Z", "2026-01-01T00:00:00Z", "2026-01-31T00:00:00Z");
        check("2026-01-01T00:00:00Z", "2026-05-01T06:00:00Z", "2026-05-31T06:00:00Z");
        check("2026-01-01T00:00:00Z", "2026-06-25T00:00:00Z", "2026-06-30T00:00:00Z");
    }
}
