//! `serve`: the screens, in a browser.

use std::net::SocketAddr;

use clap::Args;
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
    #[arg(long = "name", value_name = "HOST")]
    names: Vec<String>,
    #[arg(
        help = "For practice: time goes so many times faster, and every record begun says PRACTICE",
        long,
        value_name = "TIMES",
        value_parser = times
    )]
    practice_pace: Option<f64>,
}

fn times(text: &str) -> Result<f64, String> {
    match text.parse() {
        Ok(times) if (1.0..=1000.0).contains(&times) => Ok(times),
        _ => Err("write a number from 1 to 1000, such as 60".to_owned()),
    }
}

impl Serve {
    pub(crate) fn run(self, library: &Library, db: Option<&str>) -> Result<End, Trouble> {
        let order = web::Order {
            listen: self.listen,
            names: self.names,
            practice_pace: self.practice_pace,
            db: database::place(db)?,
        };
        web::serve(order, library)
    }
}
