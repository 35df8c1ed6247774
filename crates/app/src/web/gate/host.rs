//! The names that this machine may be called by. A page of elsewhere can have its own name resolve
//! to this machine; what it then asks for names that name.

use std::net::{IpAddr, SocketAddr};

use axum::extract::Request;
use axum::http::HeaderMap;
use axum::http::header::{FORWARDED, HOST, VIA};
use axum::http::uri::Authority;

/// What the browser calls this machine.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Host {
    /// With its port, in small letters.
    pub(super) text: String,
    /// Without it.
    pub(super) name: String,
}

impl Host {
    /// As the request has it, once.
    pub(super) fn of(request: &Request) -> Option<Self> {
        let mut given = request.headers().get_all(HOST).into_iter();
        let header = given.next().and_then(|one| one.to_str().ok());
        if given.next().is_some() {
            return None;
        }
        let text = match request.uri().authority() {
            Some(authority) => authority.as_str(),
            None => header?,
        };
        Self::parse(text)
    }

    fn parse(text: &str) -> Option<Self> {
        let text = text.to_ascii_lowercase();
        let authority: Authority = text.parse().ok()?;
        let name = authority.host();
        let port = text.strip_prefix(name)?;
        let digits = |port: &str| port.bytes().all(|one| one.is_ascii_digit());
        if !port.is_empty() && !port.strip_prefix(':').is_some_and(digits) {
            return None;
        }
        let name = name.strip_suffix('.').unwrap_or(name).to_owned();
        (!name.is_empty()).then_some(Self { text, name })
    }

    fn ip(&self) -> Option<IpAddr> {
        let bare = self.name.strip_prefix('[').and_then(|name| name.strip_suffix(']'));
        bare.unwrap_or(&self.name).parse().ok()
    }

    /// A name that every machine has for itself.
    pub(super) fn is_loopback(&self) -> bool {
        self.name == "localhost" || self.ip().is_some_and(|ip| ip.to_canonical().is_loopback())
    }
}

/// The names, beside those that every machine has for itself.
#[derive(Debug)]
pub(super) struct Hosts {
    pub(super) names: Vec<String>,
}

impl Hosts {
    pub(super) fn new(names: &[String]) -> Self {
        let names = names.iter().map(|name| name.trim_end_matches('.').to_ascii_lowercase());
        Self { names: names.collect() }
    }

    /// Whether it is a name of this machine: its own for itself, the address that the browser came
    /// to, or one that was told at the start.
    pub(super) fn know(&self, host: &Host, local: SocketAddr) -> bool {
        host.is_loopback()
            || host.ip().is_some_and(|ip| ip.to_canonical() == local.ip())
            || self.names.contains(&host.name)
    }
}

/// Whether another program passed it on: what comes from this machine then need not be of someone
/// who sits at it.
pub(super) fn was_forwarded(headers: &HeaderMap) -> bool {
    let by_name = headers.keys().any(|name| name.as_str().starts_with("x-forwarded-"));
    by_name
        || headers.contains_key(FORWARDED)
        || headers.contains_key(VIA)
        || headers.contains_key("x-real-ip")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_machine_is_known_by_its_own_names_and_by_those_it_was_told() {
        let hosts = Hosts::new(&["Bench.Test.".to_owned()]);
        let local: SocketAddr = "192.0.2.7:4170".parse().expect("an address");
        let check = |text: &str, expected: bool| {
            let known = Host::parse(text).is_some_and(|host| hosts.know(&host, local));
            assert_eq!(known, expected, "{text}");
        };
        for good in ["localhost", "LOCALHOST:4170", "localhost.:80", "127.0.0.1:4170", "127.9.9.9"]
        {
            check(good, true);
        }
        for good in
            ["[::1]:4170", "[::ffff:127.0.0.1]", "192.0.2.7:4170", "bench.test:1", "bench.test."]
        {
            check(good, true);
        }
        for bad in ["", "evil.test", "localhost.evil.test", "192.0.2.8:4170", "a@localhost", "[::1"]
        {
            check(bad, false);
        }
        for bad in ["bench.test.evil", "xbench.test", "0.0.0.0", "2130706433", "localhost:x@y"] {
            check(bad, false);
        }
        for bad in ["127.0.0.1:4170.evil.test", "localhost:4170x", "bench.test:-1"] {
            check(bad, false);
        }
    }
}
