//! The program, serving its screens from a database of its own.

use std::ffi::OsStr;
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};
use std::{env, fs, process, thread};

use serde_json::Value;

use crate::Fault;

/// How it is to serve.
#[derive(Clone, Copy, Debug, Default)]
pub struct Asked<'a> {
    /// Time goes so many times faster.
    pub practice_pace: Option<u32>,
    /// Seconds between two readings of a meter.
    pub every_s: Option<f64>,
    /// The database that its own is a copy of; an empty one otherwise.
    pub copy_of: Option<&'a Path>,
    /// Where; a free port of this machine otherwise.
    pub at: Option<SocketAddr>,
}

/// The program while it serves; it ends with this, and its folder goes.
#[derive(Debug)]
pub struct Served {
    child: Child,
    address: SocketAddr,
    folder: PathBuf,
    db: PathBuf,
    pace: Option<u32>,
    every_s: Option<f64>,
}

impl Served {
    /// Starts it and waits until it says where it is.
    ///
    /// # Errors
    ///
    /// Where it does not start, or ends at once.
    pub fn start(asked: Asked<'_>) -> Result<Self, Fault> {
        let folder = scratch("records")?;
        let db = folder.join("records.db");
        if let Some(other) = asked.copy_of {
            fs::copy(other, &db)?;
            // What was written last may still lie beside it.
            let beside = |path: &Path| PathBuf::from(format!("{}-wal", path.display()));
            if beside(other).exists() {
                fs::copy(beside(other), beside(&db))?;
            }
        }
        let at = asked.at.map_or_else(|| "127.0.0.1:0".to_owned(), |at| at.to_string());
        let Asked { practice_pace: pace, every_s, .. } = asked;
        let (child, address) = serve(&db, &at, pace, every_s)?;
        Ok(Self { child, address, folder, db, pace, every_s })
    }

    /// The program once more, on the same database and at another place.
    ///
    /// # Errors
    ///
    /// Where it does not start, or ends at once.
    pub fn beside(&self) -> Result<Self, Fault> {
        let folder = scratch("beside")?;
        let (child, address) = serve(&self.db, "127.0.0.1:0", self.pace, self.every_s)?;
        let (db, pace, every_s) = (self.db.clone(), self.pace, self.every_s);
        Ok(Self { child, address, folder, db, pace, every_s })
    }

    /// Where it is.
    #[must_use]
    pub const fn address(&self) -> SocketAddr {
        self.address
    }

    /// Its database.
    #[must_use]
    pub fn db(&self) -> &Path {
        &self.db
    }

    /// Ends it at once, as a loss of power does to a program.
    ///
    /// # Errors
    ///
    /// Where the system refuses.
    pub fn kill(&mut self) -> Result<(), Fault> {
        self.child.kill()?;
        self.child.wait()?;
        Ok(())
    }

    /// Starts it again on the same database and the same port.
    ///
    /// # Errors
    ///
    /// Where it does not start.
    pub fn again(&mut self) -> Result<(), Fault> {
        let (child, _) = serve(&self.db, &self.address.to_string(), self.pace, self.every_s)?;
        self.child = child;
        Ok(())
    }

    /// Runs the program on its database, beside what is served.
    ///
    /// # Errors
    ///
    /// Where it does not start.
    pub fn call(&self, words: &[&str]) -> Result<Output, Fault> {
        call(words.iter().map(OsStr::new).chain([OsStr::new("--db"), self.db.as_os_str()]))
    }
}

/// Lines that confirm every hold point of the plan of a job file, and that the watch was heard.
///
/// # Errors
///
/// Where the program does not plan it.
pub fn confirms(job: &str) -> Result<String, Fault> {
    let plan = call(["plan", job, "--json"])?;
    let plan: Value = serde_json::from_slice(&plan.stdout).unwrap_or_default();
    let lines = plan["checklist"].as_array().into_iter().flatten();
    let lines = lines.filter(|line| line["when"] == "before" || line["when"] == "connecting");
    let questions = plan["ready"]["questions"].as_array().into_iter().flatten();
    let holds = lines.chain(questions).filter(|one| one["hold_point"] == true);
    let ticks = holds.filter_map(|one| Some(format!("tick {}\n", one["id"].as_str()?)));
    Ok(ticks.chain(["here watch\n".to_owned()]).collect())
}

/// Runs the program to its end, with nothing to read.
///
/// # Errors
///
/// Where it does not start.
pub fn call<W: AsRef<OsStr>>(words: impl IntoIterator<Item = W>) -> Result<Output, Fault> {
    call_with(words, "")
}

/// Runs the program to its end, with this on its input.
///
/// # Errors
///
/// Where it does not start, or does not take its input.
pub fn call_with<W: AsRef<OsStr>>(
    words: impl IntoIterator<Item = W>,
    input: &str,
) -> Result<Output, Fault> {
    let program = program();
    let mut command = Command::new(&program);
    command.args(words).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = command
        .spawn()
        .map_err(|why| Fault::Start { program: program.display().to_string(), why })?;
    if let Some(mut stdin) = child.stdin.take() {
        stdin.write_all(input.as_bytes())?;
    }
    Ok(child.wait_with_output()?)
}

impl Drop for Served {
    fn drop(&mut self) {
        // It may have ended already; a folder that stays is in the system's place for these.
        let _ = self.child.kill();
        let _ = self.child.wait();
        let _ = fs::remove_dir_all(&self.folder);
    }
}

/// The program: as told, else beside the folder of this test.
fn program() -> PathBuf {
    if let Some(told) = env::var_os("OHMSTEAD_BIN") {
        return told.into();
    }
    let own = env::current_exe().unwrap_or_default();
    own.ancestors().nth(2).unwrap_or(&own).join("ohmstead")
}

fn serve(
    db: &Path,
    at: &str,
    pace: Option<u32>,
    every_s: Option<f64>,
) -> Result<(Child, SocketAddr), Fault> {
    let program = program();
    let named = program.display().to_string();
    let mut command = Command::new(&program);
    command.args(["serve", "--listen", at, "--db"]).arg(db);
    if let Some(pace) = pace {
        command.args(["--practice-pace", &pace.to_string()]);
    }
    if let Some(every_s) = every_s {
        command.args(["--every", &every_s.to_string()]);
    }
    command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::inherit());
    let mut child = command.spawn().map_err(|why| Fault::Start { program: named.clone(), why })?;
    let address = first_line(&mut child, |line| {
        let at = line.split_once("http://")?.1;
        at.split(['/', ' ']).next()?.parse().ok()
    });
    match address {
        Ok(address) => Ok((child, address)),
        Err(said) => {
            // It ended by itself, or says what nobody here understands.
            let _ = child.kill();
            let _ = child.wait();
            Err(Fault::Ended { program: named, said })
        }
    }
}

/// The first line of a child in which something is found, or all that it said. What it says later
/// is read and dropped, so that it never waits for a reader.
pub(crate) fn first_line<T>(
    child: &mut Child,
    find: impl Fn(&str) -> Option<T>,
) -> Result<T, String> {
    let Some(stdout) = child.stdout.take() else { return Err(String::new()) };
    let mut stdout = BufReader::new(stdout);
    let mut said = String::new();
    loop {
        let mut line = String::new();
        if stdout.read_line(&mut line).map_or(true, |read| read == 0) {
            return Err(said);
        }
        if let Some(found) = find(&line) {
            thread::spawn(move || {
                let mut buffer = [0; 4096];
                while stdout.read(&mut buffer).is_ok_and(|read| read > 0) {}
            });
            return Ok(found);
        }
        said += &line;
    }
}

/// A new folder of this name.
pub(crate) fn scratch(name: &str) -> Result<PathBuf, Fault> {
    static COUNT: AtomicU32 = AtomicU32::new(0);
    let number = COUNT.fetch_add(1, Ordering::Relaxed);
    let folder = env::temp_dir().join(format!("ohmstead-{name}-{}-{number}", process::id()));
    fs::create_dir_all(&folder)?;
    Ok(folder)
}
