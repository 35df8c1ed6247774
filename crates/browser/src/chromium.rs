//! Chromium and its driver.

use std::io::{Read as _, Write as _};
use std::net::{Ipv4Addr, TcpStream};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::sync::Mutex;
use std::{fs, io};

use fantoccini::ClientBuilder;
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};

use crate::served::{Served, first_line, scratch};
use crate::{Fault, Page};

/// How often the driver is started before its last word is told.
const STARTS: usize = 5;

/// The driver; every page that it opens is a Chromium of its own, with a fresh profile.
#[derive(Debug)]
pub struct Chromium {
    driver: Child,
    port: u16,
    profiles: Mutex<Vec<PathBuf>>,
}

impl Chromium {
    /// Starts the driver on a free port.
    ///
    /// # Errors
    ///
    /// Where it does not start.
    pub fn start() -> Result<Self, Fault> {
        // It takes a port that is free in IPv6 and ends where another program has it in IPv4.
        (1..STARTS).find_map(|_| Self::start_once().ok()).map_or_else(Self::start_once, Ok)
    }

    fn start_once() -> Result<Self, Fault> {
        let program = "chromedriver".to_owned();
        let mut command = Command::new(&program);
        command.arg("--port=0").stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::null());
        let mut driver =
            command.spawn().map_err(|why| Fault::Start { program: program.clone(), why })?;
        let port = first_line(&mut driver, |line| {
            line.split_once("successfully on port ")?.1.trim().trim_end_matches('.').parse().ok()
        });
        match port {
            Ok(port) => Ok(Self { driver, port, profiles: Mutex::default() }),
            Err(said) => {
                let _ = driver.kill();
                let _ = driver.wait();
                Err(Fault::Ended { program, said })
            }
        }
    }

    /// Opens a Chromium on what is served.
    ///
    /// # Errors
    ///
    /// Where it does not open.
    pub async fn page(&self, served: &Served) -> Result<Page, Fault> {
        let profile = scratch("profile")?;
        let mut builder = ClientBuilder::new(HttpConnector::new());
        let asked = capabilities(&profile.display().to_string());
        if let Value::Object(asked) = asked {
            builder.capabilities(asked);
        }
        if let Ok(mut profiles) = self.profiles.lock() {
            profiles.push(profile);
        }
        let client = builder.connect(&format!("http://127.0.0.1:{}", self.port)).await?;
        let page = Page::of(client, format!("http://{}", served.address()));
        page.size(1440, 1000).await?;
        Ok(page)
    }
}

impl Chromium {
    fn shut_down(&self) -> io::Result<()> {
        let mut socket = TcpStream::connect((Ipv4Addr::LOCALHOST, self.port))?;
        socket.write_all(b"GET /shutdown HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")?;
        let mut answer = Vec::new();
        socket.read_to_end(&mut answer).map(drop)
    }
}

impl Drop for Chromium {
    fn drop(&mut self) {
        // The driver ends its Chromiums when it is asked to, and not when it is killed.
        if self.shut_down().is_err() {
            let _ = self.driver.kill();
        }
        let _ = self.driver.wait();
        for profile in self.profiles.get_mut().into_iter().flatten() {
            let _ = fs::remove_dir_all(profile);
        }
    }
}

fn capabilities(profile: &str) -> Value {
    let mut flags: Vec<String> = [
        "--headless=new",
        "--disable-gpu",
        "--disable-quic",
        "--disable-dev-shm-usage",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--force-color-profile=srgb",
        "--hide-scrollbars",
        "--window-size=1440,1000",
    ]
    .map(str::to_owned)
    .into();
    flags.push(format!("--user-data-dir={profile}"));
    // Its sandbox refuses a person with every right, which is who runs this on a bare machine.
    flags.push("--no-sandbox".to_owned());
    json!({
        "browserName": "chrome",
        "goog:chromeOptions": { "args": flags },
        "goog:loggingPrefs": { "browser": "ALL" },
    })
}
