//! Where an office is.

use std::fmt;

use axum::http::Uri;

/// The port of `serve` where none is said.
const PORT: u16 = 4170;

/// An office's address.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Address {
    /// A name or an address, in brackets where it is of IPv6.
    host: String,
    port: u16,
}

impl Address {
    /// As a person writes it; `Err` says what to write instead.
    pub(crate) fn parse(text: &str) -> Result<Self, String> {
        let good = "write it as it stands in a browser there, such as 192.168.4.7:4170";
        let text = text.trim();
        if text.starts_with("https://") {
            return Err("lay a tunnel that encrypts to the office and give its near end, such as \
                 127.0.0.1:4170; this program speaks no TLS itself"
                .to_owned());
        }
        let bare = text.strip_prefix("http://").unwrap_or(text).trim_end_matches('/');
        let uri: Uri = format!("http://{bare}/").parse().map_err(|_| good.to_owned())?;
        let authority = uri.authority().ok_or(good)?;
        let is_plain = uri.path() == "/" && uri.query().is_none();
        if !is_plain || authority.as_str().contains('@') || authority.host().is_empty() {
            return Err(good.to_owned());
        }
        let rest = &authority.as_str()[authority.host().len()..];
        let port = match rest.strip_prefix(':') {
            None => PORT,
            Some(port) => port.parse().map_err(|_| good.to_owned())?,
        };
        Ok(Self { host: authority.host().to_ascii_lowercase(), port })
    }

    /// What a socket is opened to.
    pub(super) fn socket(&self) -> (&str, u16) {
        (self.host.trim_start_matches('[').trim_end_matches(']'), self.port)
    }

    /// With its port, as a request names it.
    pub(super) fn authority(&self) -> String {
        format!("{}:{}", self.host, self.port)
    }
}

impl fmt::Display for Address {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "http://{}:{}/", self.host, self.port)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_is_read_as_it_is_written() {
        let check = |text: &str, expected: Option<&str>| {
            let read = Address::parse(text).ok().map(|address| address.to_string());
            assert_eq!(read.as_deref(), expected, "{text}");
        };
        check("192.0.2.7:4171", Some("http://192.0.2.7:4171/"));
        check(" http://192.0.2.7:4171/ ", Some("http://192.0.2.7:4171/"));
        check("Office.example", Some("http://office.example:4170/"));
        check("[2001:db8::7]:80", Some("http://[2001:db8::7]:80/"));
        for bad in ["", "http://", "office/x", "office?x=1", "a@office", "office:99999", "a b"] {
            check(bad, None);
        }
        assert!(Address::parse("https://office").is_err_and(|said| said.contains("tunnel")));
    }
}
