//! What another device can type to come here.

use std::net::{IpAddr, Ipv4Addr, SocketAddr, UdpSocket};

/// Addresses to type: by each name that was told, else by each address of this machine that the
/// program listens on. None where it listens to this machine alone.
pub(crate) fn to_type(listen: SocketAddr, names: &[String], behind_tls: bool) -> Vec<String> {
    if behind_tls {
        return names.iter().map(|name| format!("https://{name}/")).collect();
    }
    if listen.ip().is_loopback() {
        return Vec::new();
    }
    let port = listen.port();
    let names = names.iter().map(|name| format!("http://{name}:{port}/"));
    let of = |ip| format!("http://{}/", SocketAddr::new(ip, port));
    let own = if listen.ip().is_unspecified() { own() } else { vec![listen.ip()] };
    names.chain(own.into_iter().map(of)).collect()
}

/// The addresses of this machine, without those that lead to itself.
fn own() -> Vec<IpAddr> {
    let listed = std::fs::read_to_string("/proc/net/fib_trie").map(|text| local(&text));
    let mut all = listed.unwrap_or_default();
    if all.is_empty() {
        all.extend(towards_others());
    }
    all.into_iter().map(IpAddr::V4).collect()
}

/// The kernel's table of routes names each own address on the line before `/32 host LOCAL`.
fn local(table: &str) -> Vec<Ipv4Addr> {
    let mut found: Vec<Ipv4Addr> = Vec::new();
    let mut last: Option<Ipv4Addr> = None;
    for line in table.lines().map(str::trim) {
        match line.strip_prefix("|-- ") {
            Some(address) => last = address.parse().ok(),
            None if line == "/32 host LOCAL" => found.extend(last.take()),
            None => {}
        }
    }
    found.retain(|address| !address.is_loopback());
    found.sort_unstable();
    found.dedup();
    found
}

/// The address that would be used to reach others; nothing is sent. The one asked about is of
/// RFC 5737, which is nobody's.
fn towards_others() -> Option<Ipv4Addr> {
    let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).ok()?;
    socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9)).ok()?;
    match socket.local_addr().ok()?.ip() {
        IpAddr::V4(own) if !own.is_loopback() && !own.is_unspecified() => Some(own),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A table as the kernel writes it, cut short.
    const TABLE: &str = "Local:
  +-- 0.0.0.0/0 3 0 5
     +-- 127.0.0.0/8 2 0 2
           |-- 127.0.0.1
              /32 host LOCAL
        |-- 127.255.255.255
           /32 link BROADCAST
     +-- 192.0.2.0/24 2 0 2
           |-- 192.0.2.0
              /24 link UNICAST
           |-- 192.0.2.2
              /32 host LOCAL
        |-- 192.0.2.255
           /32 link BROADCAST
";

    #[test]
    fn own_addresses_are_read_off_the_table_of_routes() {
        assert_eq!(local(&format!("{TABLE}{TABLE}")), [Ipv4Addr::new(192, 0, 2, 2)]);
        assert_eq!(local(""), [] as [Ipv4Addr; 0]);
    }

    #[test]
    fn a_device_types_a_name_or_an_address() {
        let check = |listen: &str, names: &[&str], behind_tls, expected: &[&str]| {
            let names: Vec<String> = names.iter().map(|name| (*name).to_owned()).collect();
            let listen = listen.parse().expect("an address");
            assert_eq!(to_type(listen, &names, behind_tls), expected, "{listen}");
        };
        check("127.0.0.1:4170", &["bench.test"], false, &[]);
        check("192.0.2.7:4170", &[], false, &["http://192.0.2.7:4170/"]);
        let both = ["http://bench.test:80/", "http://[2001:db8::7]:80/"];
        check("[2001:db8::7]:80", &["bench.test"], false, &both);
        check("127.0.0.1:4170", &["bench.test"], true, &["https://bench.test/"]);
    }
}
