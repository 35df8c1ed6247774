//! Where a meter is found.

use std::fmt;
use std::str::FromStr;

/// Bits per second of a serial line where none is written; common practice, no source.
pub const USUAL_BAUD: u32 = 9600;

/// Bits per second that a serial line may be set to.
const BAUDS: std::ops::RangeInclusive<u32> = 50..=4_000_000;

/// Where a meter is found: `tcp:HOST:PORT` or `serial:DEVICE[:BAUD]`.
///
/// ```
/// use instrument::Address;
/// let address: Address = "serial:/dev/ttyUSB0".parse()?;
/// assert_eq!(address, Address::Serial { device: "/dev/ttyUSB0".to_owned(), baud: 9600 });
/// # Ok::<(), instrument::AddressError>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Address {
    /// A socket.
    Tcp {
        /// Name or number; an IPv6 number stands in brackets.
        host: String,
        /// Port.
        port: u16,
    },
    /// A serial line or a pseudo-terminal.
    Serial {
        /// Path of the device.
        device: String,
        /// Bits per second.
        baud: u32,
    },
}

/// Why a text is no address.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum AddressError {
    /// Neither a socket nor a serial line.
    Kind {
        /// As written.
        found: String,
    },
    /// A socket without its host.
    Host {
        /// As written.
        found: String,
    },
    /// A socket without its port, or with one that is none.
    Port {
        /// The host as far as it could be read.
        host: String,
        /// What stands where the port should.
        found: String,
    },
    /// A serial line without its device.
    Device,
    /// A rate that no serial line has.
    Baud {
        /// The device.
        device: String,
        /// The rate as written.
        found: String,
    },
}

impl FromStr for Address {
    type Err = AddressError;

    fn from_str(text: &str) -> Result<Self, AddressError> {
        let text = text.trim();
        match text.split_once(':') {
            Some(("tcp", rest)) => tcp(rest),
            Some(("serial", rest)) => serial(rest),
            _ => Err(AddressError::Kind { found: text.to_owned() }),
        }
    }
}

fn tcp(rest: &str) -> Result<Address, AddressError> {
    let bracketed = rest.starts_with('[');
    let (host, port) = match rest.rsplit_once(':') {
        Some((host, _)) if bracketed && !host.ends_with(']') => (rest, ""),
        Some(parts) => parts,
        None => (rest, ""),
    };
    let naked = host.trim_start_matches('[').trim_end_matches(']');
    if naked.is_empty() || host.contains(char::is_whitespace) {
        return Err(AddressError::Host { found: rest.to_owned() });
    }
    if !bracketed && host.contains(':') {
        return Err(AddressError::Host { found: rest.to_owned() });
    }
    match port.parse() {
        Ok(port) if port > 0 => Ok(Address::Tcp { host: host.to_owned(), port }),
        _ => Err(AddressError::Port { host: host.to_owned(), found: port.to_owned() }),
    }
}

/// Paths of devices may hold colons, so only digits after the last one are a rate.
fn serial(rest: &str) -> Result<Address, AddressError> {
    let (device, baud) = match rest.rsplit_once(':') {
        Some((device, baud)) if baud.bytes().all(|byte| byte.is_ascii_digit()) => {
            (device, Some(baud))
        }
        _ => (rest, None),
    };
    if device.is_empty() {
        return Err(AddressError::Device);
    }
    let device = device.to_owned();
    let Some(found) = baud else { return Ok(Address::Serial { device, baud: USUAL_BAUD }) };
    match found.parse() {
        Ok(baud) if BAUDS.contains(&baud) => Ok(Address::Serial { device, baud }),
        _ => Err(AddressError::Baud { device, found: found.to_owned() }),
    }
}

impl fmt::Display for Address {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Tcp { host, port } => write!(f, "tcp:{host}:{port}"),
            Self::Serial { device, baud } => write!(f, "serial:{device}:{baud}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(text: &str, expected: Result<&str, &str>) {
        match (text.parse::<Address>(), expected) {
            (Ok(address), Ok(shown)) => {
                assert_eq!(address.to_string(), shown, "{text}");
                assert_eq!(shown.parse(), Ok(address), "{text}");
            }
            (Err(error), Err(part)) => assert!(error.to_string().contains(part), "{text}: {error}"),
            (found, _) => panic!("{text}: {found:?}"),
        }
    }

    #[test]
    fn addresses_are_read_and_written() {
        check("tcp:127.0.0.1:5025", Ok("tcp:127.0.0.1:5025"));
        check(" tcp:meter-2.local:80 ", Ok("tcp:meter-2.local:80"));
        check("tcp:[::1]:5025", Ok("tcp:[::1]:5025"));
        check("serial:/dev/ttyS0", Ok("serial:/dev/ttyS0:9600"));
        check("serial:/dev/pts/7:115200", Ok("serial:/dev/pts/7:115200"));
        let by_path = "serial:/dev/by-path/pci-0000:00:14.0-usb-0:1:1.0-port0";
        check(by_path, Ok(&format!("{by_path}:9600")));
    }

    #[test]
    fn what_is_no_address_says_what_to_write() {
        check("", Err("tcp:HOST:PORT"));
        check("/dev/ttyS0", Err("serial:DEVICE"));
        check("udp:127.0.0.1:1", Err("tcp:HOST:PORT"));
        check("tcp:127.0.0.1", Err("tcp:127.0.0.1:PORT"));
        check("tcp:127.0.0.1:0", Err("tcp:127.0.0.1:PORT"));
        check("tcp:127.0.0.1:70000", Err("`70000`"));
        check("tcp::5025", Err("HOST"));
        check("tcp:[]:5025", Err("HOST"));
        check("tcp:::1:5025", Err("[::1]"));
        check("tcp:[::1]", Err("tcp:[::1]:PORT"));
        check("serial:", Err("serial:DEVICE"));
        check("serial::9600", Err("serial:DEVICE"));
        check("serial:/dev/ttyS0:", Err("serial:/dev/ttyS0:9600"));
        check("serial:/dev/ttyS0:12", Err("serial:/dev/ttyS0:9600"));
    }
}
