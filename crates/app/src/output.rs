//! How a command ends: what it wrote, what went wrong, and the exit status of either.

use std::fmt;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use store::trouble::{AppendError, OpenError, ReadError};

use crate::input::BadInput;

/// A command that did its work.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum End {
    /// Done, whatever the verdict.
    Done,
    /// Done, asked to gate, and the verdict is not `accept`.
    Gated,
}

impl From<End> for ExitCode {
    fn from(end: End) -> Self {
        match end {
            End::Done => Self::SUCCESS,
            End::Gated => Self::from(1),
        }
    }
}

/// A command that could not do its work.
#[derive(Debug)]
pub(crate) enum Trouble {
    /// What was given cannot be used.
    Input(BadInput),
    /// A value on the command line cannot be used.
    Argument { remedy: String, detail: String },
    /// The place of the records could not be opened.
    Open(OpenError),
    /// A record could not be read.
    Read(ReadError),
    /// A record could not be begun or added to.
    Append(AppendError),
    /// The instrument does not answer.
    Meter(instrument::OpenError),
    /// It was lost before it said who it is.
    Asking(instrument::AskError),
    /// Events of a live test are in no database.
    NotKept { events: usize },
    /// Lines of a pipe are not in the record.
    NotTaken { lines: u64 },
    /// A file could not be written.
    Unwritable { path: PathBuf, error: std::io::Error },
    /// The machine has no room left for what a command needs to run.
    System(std::io::Error),
    /// The paper could not be made.
    Paper(report::ReportError),
}

impl Trouble {
    /// 2 for bad input, 3 for the surroundings.
    pub(crate) fn exit_code(&self) -> ExitCode {
        match self {
            Self::Input(bad) => ExitCode::from(bad.exit_code()),
            Self::Argument { .. } | Self::NotTaken { .. } => ExitCode::from(2),
            Self::Open(error) => ExitCode::from(of_opening(error)),
            Self::Read(error) => ExitCode::from(of_reading(error)),
            Self::Append(_)
            | Self::Meter(_)
            | Self::Asking(_)
            | Self::NotKept { .. }
            | Self::Unwritable { .. }
            | Self::System(_)
            | Self::Paper(_) => ExitCode::from(3),
        }
    }
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Input(bad) => bad.fmt(f),
            Self::Argument { remedy, detail } => write!(f, "{remedy} ({detail})"),
            Self::Open(error) => error.fmt(f),
            Self::Read(error) => error.fmt(f),
            Self::Append(error) => error.fmt(f),
            Self::Meter(error) => error.fmt(f),
            Self::Asking(error) => error.fmt(f),
            Self::NotKept { events } => write!(
                f,
                "NOT KEPT: write the lines above on the job sheet, then put the database right and \
                 run again to close the record ({events} events are in no database)"
            ),
            Self::NotTaken { lines } => write!(
                f,
                "Correct the lines told above and give them again ({lines} were not taken; what \
                 was taken is kept)"
            ),
            Self::Unwritable { path, error } => write!(
                f,
                "{}: check that the folder exists and has room, then run again ({error})",
                path.display()
            ),
            Self::System(error) => {
                write!(f, "Close what else runs on this machine, then run again ({error})")
            }
            Self::Paper(error) => write!(f, "The paper could not be made: {error}"),
        }
    }
}

/// 2 where another name, file or database is the remedy.
fn of_opening(error: &OpenError) -> u8 {
    match error {
        OpenError::NotThere { .. }
        | OpenError::Engine { .. }
        | OpenError::Name { .. }
        | OpenError::Foreign { .. } => 2,
        OpenError::Folder { .. }
        | OpenError::Newer { .. }
        | OpenError::Older { .. }
        | OpenError::Setting { .. }
        | OpenError::Database(_) => 3,
    }
}

/// 2 where another name is the remedy.
fn of_reading(error: &ReadError) -> u8 {
    match error {
        ReadError::NoRecord { .. } | ReadError::Several { .. } => 2,
        ReadError::Edition { .. } | ReadError::Unreadable { .. } | ReadError::Database(_) => 3,
    }
}

impl From<OpenError> for Trouble {
    fn from(error: OpenError) -> Self {
        Self::Open(error)
    }
}

impl From<AppendError> for Trouble {
    fn from(error: AppendError) -> Self {
        Self::Append(error)
    }
}

impl From<ReadError> for Trouble {
    fn from(error: ReadError) -> Self {
        Self::Read(error)
    }
}

impl From<BadInput> for Trouble {
    fn from(bad: BadInput) -> Self {
        Self::Input(bad)
    }
}

impl From<report::ReportError> for Trouble {
    fn from(error: report::ReportError) -> Self {
        Self::Paper(error)
    }
}

/// Writes a whole file or none of it: beside its place first, then moved there.
pub(crate) fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), Trouble> {
    let unwritable = |error| Trouble::Unwritable { path: path.to_owned(), error };
    let mut name = path.file_name().unwrap_or_default().to_owned();
    name.push(format!(".part-{}", std::process::id()));
    let beside = path.with_file_name(name);
    let written = std::fs::write(&beside, bytes).and_then(|()| std::fs::rename(&beside, path));
    written.map_err(|error| {
        // The first error is the one to tell; a left-over part file is only untidy.
        let _ = std::fs::remove_file(&beside);
        unwritable(error)
    })
}

/// Prints a result; a reader that went away is no failure of ours.
pub(crate) fn print(text: &str) {
    let _ = std::io::stdout().lock().write_all(text.as_bytes());
}

/// Prints a value as JSON.
pub(crate) fn print_json(value: &impl serde::Serialize) {
    let mut text = serde_json::to_string_pretty(value).expect("plain data always serialises");
    text.push('\n');
    print(&text);
}
