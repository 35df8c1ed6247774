//! `practice`: the practice set behind a socket or a pseudo-terminal, for another program.

use std::net::{SocketAddr, TcpListener};
use std::path::PathBuf;

use clap::Args;
use instrument::serve::{serve_pty, serve_tcp};
use standards::Library;

use crate::drive::practice_set::{self, FaultWish, Wish};
use crate::drive::{self, Pace};
use crate::input;
use crate::output::{End, Trouble, print};

/// Arguments of `practice`.
#[derive(Args)]
pub(crate) struct Practice {
    /// The job file; set, object and hand are made from its plan
    #[arg(value_name = "JOB.toml")]
    job: PathBuf,
    /// Where it listens; port 0 takes a free one
    #[arg(long, value_name = "ADDRESS:PORT", default_value = "127.0.0.1:0")]
    listen: SocketAddr,
    /// A pseudo-terminal instead of a socket
    #[arg(long, conflicts_with = "listen")]
    pty: bool,
    /// What its objects are drawn by; the same seed is the same run
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// What is wrong with the object, and in which conductor, as in knee:B
    #[arg(long, value_name = "NAME[:CONDUCTOR]")]
    fault: Option<FaultWish>,
    /// How fast its time goes; `run` must be told the same
    #[arg(long, value_enum, default_value_t = Pace::Real)]
    pace: Pace,
}

impl Practice {
    pub(crate) fn run(self, library: &Library) -> Result<End, Trouble> {
        let job = input::read_job(&self.job)?;
        let plan = plan::plan(&job, library);
        let wish = Wish { seed: self.seed, fault: self.fault };
        let device = practice_set::device(practice_set::skin(&job, &plan, &wish)?, self.pace, 1.0);
        let server = if self.pty {
            serve_pty(device).map_err(Trouble::System)?
        } else {
            let unusable = |error: std::io::Error| Trouble::Argument {
                remedy: "Give another --listen ADDRESS:PORT, or leave it out".to_owned(),
                detail: format!("{} cannot be listened at: {error}", self.listen),
            };
            let listener = TcpListener::bind(self.listen).map_err(unusable)?;
            serve_tcp(listener, device).map_err(Trouble::System)?
        };
        print(&format!("{}\n", server.address()));
        drive::until_asked_to_end();
        server.stop();
        Ok(End::Done)
    }
}
