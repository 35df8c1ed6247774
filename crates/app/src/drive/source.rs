//! Where readings come from, as `--from` names it.

use std::path::PathBuf;
use std::str::FromStr;

use instrument::{Address, AddressError};

/// Where readings come from.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Source {
    /// A person types them, or a pipe gives them.
    Keys,
    /// A file of readings, taken earlier.
    Csv(PathBuf),
    /// A meter on a wire.
    Wire(Address),
    /// Every meter of the job, each at its own address.
    Meters,
    /// The practice set, in this program.
    Sim {
        /// What its objects are drawn by.
        seed: u64,
    },
}

/// Why `--from` names no source.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum SourceError {
    /// It begins like none.
    Kind { found: String },
    /// The file has no name.
    File,
    /// The seed is no whole number.
    Seed { found: String },
    /// The address of the meter is wrong.
    Address(AddressError),
}

impl std::error::Error for SourceError {}

impl FromStr for Source {
    type Err = SourceError;

    fn from_str(text: &str) -> Result<Self, SourceError> {
        let (kind, rest) = match text.split_once(':') {
            Some((kind, rest)) => (kind, Some(rest)),
            None => (text, None),
        };
        match (kind, rest) {
            ("keys", None) => Ok(Self::Keys),
            ("meters", None) => Ok(Self::Meters),
            ("csv", Some("") | None) => Err(SourceError::File),
            ("csv", Some(file)) => Ok(Self::Csv(PathBuf::from(file))),
            ("sim", None) => Ok(Self::Sim { seed: 1 }),
            ("sim", Some(seed)) => match seed.parse() {
                Ok(seed) => Ok(Self::Sim { seed }),
                Err(_) => Err(SourceError::Seed { found: seed.to_owned() }),
            },
            ("tcp" | "serial", _) => text.parse().map(Self::Wire).map_err(SourceError::Address),
            _ => Err(SourceError::Kind { found: text.to_owned() }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_kind_of_source_is_read() {
        let check = |text: &str, expected: Source| assert_eq!(text.parse(), Ok(expected), "{text}");
        check("keys", Source::Keys);
        check("meters", Source::Meters);
        check("csv:a/b.csv", Source::Csv("a/b.csv".into()));
        check("csv:C:/b.csv", Source::Csv("C:/b.csv".into()));
        check("sim", Source::Sim { seed: 1 });
        check("sim:17", Source::Sim { seed: 17 });
        let tcp = Address::Tcp { host: "127.0.0.1".to_owned(), port: 5025 };
        check("tcp:127.0.0.1:5025", Source::Wire(tcp));
        let serial = Address::Serial { device: "/dev/ttyUSB0".to_owned(), baud: 9600 };
        check("serial:/dev/ttyUSB0", Source::Wire(serial));
    }

    #[test]
    fn what_is_no_source_is_told_what_to_write() {
        let check = |text: &str, told: &str| {
            let error = text.parse::<Source>().expect_err(text);
            assert!(error.to_string().contains(told), "{text}: {error}");
        };
        check("", "keys, csv:FILE, tcp:HOST:PORT, serial:DEVICE[:BAUD], meters or sim[:SEED]");
        check("key", "keys, csv:FILE");
        check("csv", "csv:FILE");
        check("csv:", "csv:FILE");
        check("sim:-1", "sim:SEED");
        check("tcp:host", "PORT");
    }
}
