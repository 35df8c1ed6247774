//! A file that cannot be used, and what to do about it.

use std::fmt;
use std::io::{Error, ErrorKind};
use std::path::{Path, PathBuf};

use plan::keys::InputFault;
use session::readings::ReadingsFault;

/// Faults printed before the rest is only counted.
const SHOWN: usize = 20;

/// A file that cannot be used.
#[derive(Debug)]
pub(crate) enum BadInput {
    /// It was read, and is wrong in these lines.
    Faults {
        /// The file.
        path: PathBuf,
        /// Line, and what to write instead.
        faults: Vec<(usize, String)>,
    },
    /// It is not there, or not ours to read.
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        error: Error,
    },
    /// The disk failed.
    Disk {
        /// The file.
        path: PathBuf,
        /// What the system said.
        error: Error,
    },
}

impl BadInput {
    /// 2 for what the person can put right in the file or its name, 3 for trouble with the disk.
    pub(crate) fn exit_code(&self) -> u8 {
        match self {
            Self::Faults { .. } | Self::Unreadable { .. } => 2,
            Self::Disk { .. } => 3,
        }
    }

    pub(super) fn of_keys(path: &Path, faults: &[InputFault]) -> Self {
        Self::of(path, faults.iter().map(|fault| (fault.line, fault.to_string())))
    }

    pub(super) fn of_readings(path: &Path, faults: &[ReadingsFault]) -> Self {
        Self::of(path, faults.iter().map(|fault| (fault.line, fault.to_string())))
    }

    pub(super) fn of(path: &Path, faults: impl Iterator<Item = (usize, String)>) -> Self {
        let faults = faults.map(|(line, said)| (line, in_one_line(&said))).collect();
        Self::Faults { path: path.to_owned(), faults }
    }

    pub(super) fn too_large(path: &Path, limit: u64) -> Self {
        let text = format!(
            "give a file of at most {} MB — this one is larger; is it the one you mean, or can it \
             be split?",
            limit >> 20
        );
        Self::of(path, std::iter::once((1, text)))
    }

    pub(super) fn unreadable(path: &Path, error: Error) -> Self {
        let path = path.to_owned();
        match error.kind() {
            ErrorKind::NotFound
            | ErrorKind::PermissionDenied
            | ErrorKind::IsADirectory
            | ErrorKind::NotADirectory
            | ErrorKind::InvalidInput
            | ErrorKind::InvalidFilename => Self::Unreadable { path, error },
            _ => Self::Disk { path, error },
        }
    }
}

impl fmt::Display for BadInput {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Faults { path, faults } => {
                for (index, (line, text)) in faults.iter().take(SHOWN).enumerate() {
                    let end = if index == 0 { "" } else { "\n" };
                    write!(f, "{end}{}:{line}: {text}", path.display())?;
                }
                match faults.len().saturating_sub(SHOWN) {
                    0 => Ok(()),
                    more => write!(f, "\n{}: and {more} more", path.display()),
                }
            }
            Self::Unreadable { path, error } => write!(
                f,
                "{}:1: check the name of the file and that you may read it — {error}",
                path.display()
            ),
            Self::Disk { path, error } => {
                write!(f, "{}: check the disk, then run it again — {error}", path.display())
            }
        }
    }
}

impl std::error::Error for BadInput {}

/// Longest message, in characters; what was found in the file may be of any length.
const LONGEST: usize = 400;

/// What was found in the file may hold line ends too; a message is one line.
fn in_one_line(said: &str) -> String {
    let shown = said.chars().flat_map(|c| {
        let control = c.is_control().then(|| c.escape_default());
        let plain = (!c.is_control()).then_some(c);
        control.into_iter().flatten().chain(plain)
    });
    let mut line: String = shown.take(LONGEST).collect();
    if said.chars().count() > LONGEST {
        line.push('…');
    }
    line
}

/// The bytes as text, a byte order mark obeyed.
pub(super) fn text(path: &Path, bytes: Vec<u8>) -> Result<String, BadInput> {
    session::readings::decode(&bytes)
        .map(|text| text.into_owned())
        .map_err(|fault| BadInput::of_readings(path, &[fault]))
}
