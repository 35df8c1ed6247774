//! What every answer tells the browser to leave alone.

use axum::http::header::{
    CACHE_CONTROL, CONTENT_SECURITY_POLICY, HeaderName, REFERRER_POLICY, X_CONTENT_TYPE_OPTIONS,
};
use axum::http::{HeaderMap, HeaderValue};

/// Nothing comes from elsewhere, nothing is written into a page, nobody frames it.
const CONTENT: &str = "default-src 'none'; script-src 'self'; style-src 'self'; \
     img-src 'self' data:; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; \
     base-uri 'none'";

/// What no screen here needs.
const FEATURES: &str = "accelerometer=(), camera=(), display-capture=(), geolocation=(), \
     gyroscope=(), magnetometer=(), microphone=(), midi=(), payment=(), serial=(), usb=()";

const EVERY: [(HeaderName, &str); 6] = [
    (CONTENT_SECURITY_POLICY, CONTENT),
    (X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (REFERRER_POLICY, "same-origin"),
    (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    (HeaderName::from_static("permissions-policy"), FEATURES),
];

pub(super) fn put(headers: &mut HeaderMap) {
    for (name, value) in EVERY {
        headers.insert(name, HeaderValue::from_static(value));
    }
    headers.entry(CACHE_CONTROL).or_insert(HeaderValue::from_static("no-store"));
}
