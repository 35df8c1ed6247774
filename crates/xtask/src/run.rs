//! Running cargo and other programs.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Command, Stdio};

/// The cargo that runs us, else the one on the path.
pub(crate) fn cargo(root: &Path, words: &[&str]) -> Command {
    let program = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let mut command = Command::new(program);
    // A machine that builds once, and hands nothing out, may build lighter: see .ci/levels.toml.
    if let Some(levels) = std::env::var_os("OHMSTEAD_LEVELS") {
        command.arg("--config").arg(levels);
    }
    command.current_dir(root).args(words);
    command
}

/// Whether it ended well; a program that cannot be started is said and counts as not.
pub(crate) fn succeeds(mut command: Command) -> bool {
    match command.status() {
        Ok(status) => status.success(),
        Err(error) => {
            eprintln!("cannot start {:?}: {error}", command.get_program());
            false
        }
    }
}

/// What ran, whether it ended well, and each line it wrote to standard output.
pub(crate) struct Ended {
    pub(crate) well: bool,
    pub(crate) lines: Vec<String>,
}

/// Runs it, keeps its lines and, if told so, shows them as they come.
pub(crate) fn capture(mut command: Command, show: bool) -> Ended {
    let mut child = match command.stdout(Stdio::piped()).spawn() {
        Ok(child) => child,
        Err(error) => {
            eprintln!("cannot start {:?}: {error}", command.get_program());
            return Ended { well: false, lines: Vec::new() };
        }
    };
    let output = child.stdout.take().expect("standard output was piped");
    let mut lines = Vec::new();
    for line in BufReader::new(output).split(b'\n').map_while(Result::ok) {
        let line = String::from_utf8_lossy(&line).into_owned();
        if show {
            println!("{line}");
        }
        lines.push(line);
    }
    Ended { well: child.wait().is_ok_and(|status| status.success()), lines }
}

/// Whether this runs with every right.
#[cfg(unix)]
pub(crate) fn is_root() -> bool {
    use std::os::unix::fs::MetadataExt as _;
    std::fs::metadata("/proc/self").is_ok_and(|own| own.uid() == 0)
}

/// Nothing that needs every right is tried here.
#[cfg(not(unix))]
pub(crate) fn is_root() -> bool {
    false
}

/// Whether a program of this name is on the path.
pub(crate) fn has(program: &str) -> bool {
    std::env::var_os("PATH").is_some_and(|path| {
        std::env::split_paths(&path).any(|folder| folder.join(program).is_file())
    })
}
