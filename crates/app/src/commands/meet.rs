//! `meet`: this laptop meets its office.

use std::io::{IsTerminal as _, Write as _};

use clap::Args;
use jiff::Timestamp;

use crate::input::database;
use crate::meet::{self, Address, Asked, Ended, Fetch, Progress};
use crate::output::{End, Trouble, print, print_json};
use crate::show;
use crate::web::plain;

/// Arguments of `meet`.
#[derive(Args)]
pub(crate) struct Meet {
    /// The office, as a browser calls it; without it, the one that was met last
    #[arg(value_name = "ADDRESS")]
    address: Option<String>,
    /// Say what would move, and move nothing
    #[arg(long)]
    dry_run: bool,
    /// What is fetched; everything that is here and not there is always sent
    #[arg(long, value_enum, default_value_t = Fetch::All)]
    fetch: Fetch,
    /// The code that was made at the office, once; the laptop is known there from then on
    #[arg(long)]
    code: Option<String>,
    /// What the office calls this laptop; used with --code
    #[arg(long, value_name = "NAME", default_value = "laptop")]
    device: String,
    /// Answer in JSON
    #[arg(long)]
    json: bool,
}

impl Meet {
    pub(crate) fn run(self, db: Option<&str>) -> Result<End, Trouble> {
        let ended = database::wait(self.met(db))?;
        if self.json {
            print_json(&ended);
        } else {
            print(&show::meeting::text(&ended));
        }
        Ok(if ended.refused.is_empty() { End::Done } else { End::Refused })
    }

    async fn met(&self, db: Option<&str>) -> Result<Ended, Trouble> {
        let store = database::to_keep(db).await?;
        let address = match &self.address {
            Some(address) => address.clone(),
            None => {
                let offices = store.offices().await?;
                let last = offices.into_iter().next().map(|office| office.address);
                last.ok_or_else(|| Trouble::Argument {
                    remedy: "Give the office's address: ohmstead meet ADDRESS".to_owned(),
                    detail: "no office was met yet".to_owned(),
                })?
            }
        };
        let address = Address::parse(&address).map_err(|remedy| Trouble::Argument {
            remedy,
            detail: format!("{address:?} is no address of an office"),
        })?;
        if let Some(code) = &self.code {
            let device = plain(&self.device).ok_or_else(|| Trouble::Argument {
                remedy: "Name the laptop in one line, 64 letters at most".to_owned(),
                detail: format!("{:?} is no name", self.device),
            })?;
            let paired = meet::pair(&address, code, &device).await;
            let token =
                paired.map_err(|error| Trouble::Office { address: address.to_string(), error })?;
            store.keep_office(&address.to_string(), &token).await?;
        }
        let asked = Asked { address, fetch: self.fetch, dry_run: self.dry_run };
        let mut teller = Teller::new();
        let ended = meet::meet(&store, &asked, &mut |progress| teller.tell(progress)).await;
        teller.end();
        store.close().await;
        ended
    }
}

/// Tells how far it has come: one line that changes, or a line for every tenth part.
struct Teller {
    on_one_line: bool,
    said: Option<(bool, u64)>,
    begun: Timestamp,
}

impl Teller {
    fn new() -> Self {
        let on_one_line = std::io::stderr().is_terminal();
        Self { on_one_line, said: None, begun: Timestamp::now() }
    }

    fn tell(&mut self, progress: Progress) {
        let Progress { sends, records, of_records, events, of_events } = progress;
        let percent = (100 * events).checked_div(of_events).unwrap_or(100);
        let step = if self.on_one_line { percent } else { percent / 10 };
        if self.said == Some((sends, step)) {
            return;
        }
        if self.on_one_line && self.said.is_some_and(|(before, _)| before != sends) {
            eprintln!();
        }
        self.said = Some((sends, step));
        let deed = if sends { "sent" } else { "fetched" };
        let line = format!(
            "{deed} {records} of {of_records} records, {events} of {of_events} events, {percent} %"
        );
        let mut err = std::io::stderr().lock();
        // Nobody reads it, and what moves goes on.
        let _ = if self.on_one_line { write!(err, "\r{line}   ") } else { writeln!(err, "{line}") };
        let _ = err.flush();
    }

    fn end(&self) {
        if self.on_one_line && self.said.is_some() {
            let took = Timestamp::now().duration_since(self.begun);
            eprintln!("\rtook {:.1} s{:60}", took.as_secs_f64(), "");
        }
    }
}
