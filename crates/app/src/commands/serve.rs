//! `serve`: the screens, in a browser.

use std::net::{Ipv6Addr, SocketAddr};

use clap::Args;
use quantity::Time;
use standards::Library;

use crate::input::database;
use crate::output::{End, Trouble};
use crate::web;

/// Arguments of `serve`.
#[derive(Args)]
pub(crate) struct Serve {
    /// Where the screens are served; beyond this machine itself a login is asked for
    #[arg(long, value_name = "ADDRESS:PORT", default_value = "127.0.0.1:4170")]
    listen: SocketAddr,
    /// A further name that browsers may call this machine by
    #[arg(long = "name", value_name = "HOST", value_parser = host)]
    names: Vec<String>,
    #[arg(
        help = "For practice: time goes so many times faster, and every record begun says PRACTICE",
        long,
        value_name = "TIMES",
        value_parser = times
    )]
    practice_pace: Option<f64>,
    /// Seconds between two readings of a meter; 0 asks as fast as it answers, else it is 0.2
    #[arg(long, value_name = "SECONDS", value_parser = super::run::every)]
    every: Option<f64>,
    /// A program that you trust stands before this one and speaks TLS with browsers: everyone logs
    /// in, at this machine too, and cookies travel over TLS alone
    #[arg(long)]
    behind_tls: bool,
    /// Tell what is served, a line of JSON for each answer, where errors are told
    #[arg(long, value_enum, value_name = "FORM")]
    log: Option<Log>,
    /// Tell where it is served in JSON
    #[arg(long)]
    json: bool,
}

/// How a log is written.
#[derive(Clone, Copy, clap::ValueEnum)]
enum Log {
    /// A line of JSON for each thing
    Json,
}

fn times(text: &str) -> Result<f64, String> {
    match text.parse() {
        Ok(times) if (1.0..=1000.0).contains(&times) => Ok(times),
        _ => Err("write a number from 1 to 1000, such as 60".to_owned()),
    }
}

/// A name or address without scheme, port and path, as browsers write it.
fn host(text: &str) -> Result<String, String> {
    let bare = text.trim_start_matches('[').trim_end_matches(']');
    if let Ok(address) = bare.parse::<Ipv6Addr>() {
        return Ok(format!("[{address}]"));
    }
    let plain = |byte: u8| byte.is_ascii_alphanumeric() || b"-._".contains(&byte);
    if text.is_empty() || !text.bytes().all(plain) {
        return Err(
            "write the name alone, without http:// and port, such as bench.example".to_owned()
        );
    }
    Ok(text.to_owned())
}

impl Serve {
    pub(crate) fn run(self, library: &Library, db: Option<&str>) -> Result<End, Trouble> {
        if let Some(Log::Json) = self.log {
            crate::log::in_json();
        }
        let order = web::Order {
            listen: self.listen,
            names: self.names,
            behind_tls: self.behind_tls,
            practice_pace: self.practice_pace,
            every: self.every.map(Time::from_seconds),
            db: database::place(db)?,
            json: self.json,
        };
        web::serve(order, library)
    }
}

#[cfg(test)]
mod tests {
    use super::host;

    #[test]
    fn a_name_is_what_a_browser_calls_the_machine() {
        let check = |text: &str, expected: Option<&str>| {
            assert_eq!(host(text).ok().as_deref(), expected, "{text}");
        };
        check("bench.example", Some("bench.example"));
        check("192.0.2.7", Some("192.0.2.7"));
        check("2001:db8:0::7", Some("[2001:db8::7]"));
        check("[2001:db8::7]", Some("[2001:db8::7]"));
        for bad in ["", "http://bench", "bench:80", "bench/", "bench example", "bänk"] {
            check(bad, None);
        }
    }
}
