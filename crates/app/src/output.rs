//! How a command ends: what it wrote, what went wrong, and the exit status of either.

use std::fmt;
use std::fs::File;
use std::io::{BufWriter, ErrorKind, IntoInnerError, Write};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::atomic::{AtomicBool, Ordering};

use store::trouble::{
    AppendError, BackupError, CopyError, ExportError, ImportError, KeepError, OpenError, ReadError,
    SheetError,
};

use crate::input::BadInput;
use crate::meet::WireError;

/// A command that did its work.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum End {
    /// Done, whatever the verdict.
    Done,
    /// Done, asked to gate, and the verdict is not `accept`.
    Gated,
    /// Done, and a seal does not hold.
    Broken,
    /// Done, and something was refused by name.
    Refused,
}

impl From<End> for ExitCode {
    fn from(end: End) -> Self {
        match end {
            End::Done => Self::SUCCESS,
            End::Gated | End::Broken | End::Refused => Self::from(1),
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
    /// Something could not be kept.
    Keep(KeepError),
    /// A record could not be read.
    Read(ReadError),
    /// A sheet could not be written.
    Sheet(SheetError),
    /// What is kept of a record is not what was sealed.
    Seals { record: String, first: String, more: usize },
    /// A record could not be begun or added to.
    Append(AppendError),
    /// A record could not be written out.
    Export(ExportError),
    /// The office was not met to the end.
    Office { address: String, error: WireError },
    /// What the office gave could not be taken in.
    Take(store::meet::TakeError),
    /// Not all that is kept could be copied.
    Copy(CopyError),
    /// There is no backup.
    Backup(BackupError),
    /// A file could not be taken in.
    Import { path: PathBuf, error: ImportError },
    /// The instrument does not answer.
    Meter(instrument::OpenError),
    /// It was lost before it said who it is.
    Asking(instrument::AskError),
    /// Events of a live test are in no database.
    NotKept { events: usize },
    /// Readings and acts of a live test were refused: there was no room for them to wait.
    Refused { count: u64 },
    /// Lines of a pipe are not in the record.
    NotTaken { lines: u64 },
    /// A live run of the demo did not end well.
    Live { job: PathBuf, said: String },
    /// A file could not be written.
    Unwritable { path: PathBuf, error: std::io::Error },
    /// The screens cannot be served there.
    Listen { address: SocketAddr, error: std::io::Error },
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
            Self::Keep(error) => ExitCode::from(of_keeping(error)),
            Self::Read(error) => ExitCode::from(of_reading(error)),
            Self::Sheet(error) => ExitCode::from(of_sheets(error)),
            Self::Export(error) => ExitCode::from(of_exporting(error)),
            Self::Import { error, .. } => ExitCode::from(of_importing(error)),
            Self::Backup(BackupError::Taken { .. } | BackupError::NoText { .. }) => {
                ExitCode::from(2)
            }
            Self::Backup(BackupError::Open(error)) => ExitCode::from(of_opening(error)),
            Self::Backup(_) | Self::Copy(_) => ExitCode::from(3),
            Self::Append(_)
            | Self::Office { .. }
            | Self::Take(_)
            | Self::Seals { .. }
            | Self::Meter(_)
            | Self::Asking(_)
            | Self::NotKept { .. }
            | Self::Live { .. }
            | Self::Refused { .. }
            | Self::Unwritable { .. }
            | Self::Listen { .. }
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
            Self::Keep(error) => error.fmt(f),
            Self::Read(error) => error.fmt(f),
            Self::Sheet(error) => error.fmt(f),
            Self::Append(error) => error.fmt(f),
            Self::Seals { record, first, more } => {
                write!(
                    f,
                    "Go by the paper, or by an export or a copy whose seals hold; look at what is \
                     wrong with `ohmstead verify --record {record}` ({first}"
                )?;
                if *more > 0 {
                    write!(f, "; and {more} more")?;
                }
                f.write_str(")")
            }
            Self::Export(error) => error.fmt(f),
            Self::Copy(error) => error.fmt(f),
            Self::Backup(error) => error.fmt(f),
            Self::Import { path, error } => write!(f, "{}: {error}", path.display()),
            Self::Office { address, error } => write!(f, "{address}: {error}"),
            Self::Take(error) => error.fmt(f),
            Self::Meter(error) => error.fmt(f),
            Self::Asking(error) => error.fmt(f),
            Self::NotKept { events } => write!(
                f,
                "NOT KEPT: write the lines above on the job sheet, then put the database right and \
                 run again to close the record ({events} events are in no database)"
            ),
            Self::Refused { count } => write!(
                f,
                "Type what was refused from your sheet, or run the test again ({count} readings \
                 and acts were refused while nothing could be kept; what was taken is kept)"
            ),
            Self::NotTaken { lines } => write!(
                f,
                "Correct the lines told above and give them again ({lines} were not taken; what \
                 was taken is kept)"
            ),
            Self::Live { job, said } => write!(
                f,
                "Run it by itself with `ohmstead run {} --from sim` to see why ({said})",
                job.display()
            ),
            Self::Unwritable { path, error } => write!(
                f,
                "{}: check that the folder exists and has room, then run again ({error})",
                path.display()
            ),
            Self::Listen { address, error } => not_served(f, address, error),
            Self::System(error) => {
                write!(f, "Close what else runs on this machine, then run again ({error})")
            }
            Self::Paper(error) => write!(f, "The paper could not be made: {error}"),
        }
    }
}

fn not_served(
    f: &mut fmt::Formatter<'_>,
    address: &SocketAddr,
    error: &std::io::Error,
) -> fmt::Result {
    let remedy = match error.kind() {
        ErrorKind::AddrInUse => {
            "End the other program that serves there, or choose another port with --listen"
        }
        ErrorKind::AddrNotAvailable => {
            "Choose an address of this machine with --listen, or 0.0.0.0 for all of them"
        }
        _ => "Choose another address, or a port above 1023, with --listen",
    };
    write!(f, "{remedy} ({address}: {error})")
}

/// 2 where another name, file or database is the remedy.
fn of_opening(error: &OpenError) -> u8 {
    match error {
        OpenError::NotThere { .. }
        | OpenError::Engine { .. }
        | OpenError::Name { .. }
        | OpenError::IsFolder { .. }
        | OpenError::Foreign { .. } => 2,
        OpenError::Folder { .. }
        | OpenError::Newer { .. }
        | OpenError::Older { .. }
        | OpenError::Setting { .. }
        | OpenError::Server { .. }
        | OpenError::Database(_) => 3,
    }
}

/// 2 where another name is the remedy.
fn of_reading(error: &ReadError) -> u8 {
    match error {
        ReadError::NoRecord { .. } | ReadError::Several { .. } | ReadError::Code { .. } => 2,
        ReadError::Edition { .. }
        | ReadError::Thing { .. }
        | ReadError::Unreadable { .. }
        | ReadError::Database(_) => 3,
    }
}

/// 2 where another name or day is the remedy.
fn of_keeping(error: &KeepError) -> u8 {
    match error {
        KeepError::NoName { .. } | KeepError::DueBefore { .. } | KeepError::NoRecord { .. } => 2,
        KeepError::Read(error) => of_reading(error),
        KeepError::Unwritable { .. } | KeepError::Database(_) => 3,
    }
}

/// 2 where another name is the remedy.
fn of_sheets(error: &SheetError) -> u8 {
    match error {
        SheetError::NoSheet { .. } | SheetError::Begun { .. } => 2,
        SheetError::Read(error) => of_reading(error),
        SheetError::Database(_) => 3,
    }
}

/// 2 where another form or name is the remedy.
fn of_exporting(error: &ExportError) -> u8 {
    match error {
        ExportError::RunsTogether { .. } => 2,
        ExportError::Read(error) => of_reading(error),
        ExportError::Write(_) => 3,
    }
}

/// 2 where the file is what is wrong.
fn of_importing(error: &ImportError) -> u8 {
    match error {
        ImportError::Database(_) => 3,
        _ => 2,
    }
}

impl From<ExportError> for Trouble {
    fn from(error: ExportError) -> Self {
        Self::Export(error)
    }
}

impl From<store::meet::TakeError> for Trouble {
    fn from(error: store::meet::TakeError) -> Self {
        Self::Take(error)
    }
}

impl From<CopyError> for Trouble {
    fn from(error: CopyError) -> Self {
        Self::Copy(error)
    }
}

impl From<BackupError> for Trouble {
    fn from(error: BackupError) -> Self {
        Self::Backup(error)
    }
}

impl From<KeepError> for Trouble {
    fn from(error: KeepError) -> Self {
        Self::Keep(error)
    }
}

impl From<SheetError> for Trouble {
    fn from(error: SheetError) -> Self {
        Self::Sheet(error)
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
    let (part, file) = write_beside(path)?;
    let mut file = BufWriter::new(file);
    file.write_all(bytes).map_err(|error| part.unwritable(error))?;
    part.finish(file)
}

/// Opens a file beside the place of another one, which it takes when it is whole.
pub(crate) fn write_beside(path: &Path) -> Result<(Part, File), Trouble> {
    let mut name = path.file_name().unwrap_or_default().to_owned();
    name.push(format!(".part-{}", std::process::id()));
    let part = Part { path: path.to_owned(), beside: path.with_file_name(name) };
    let file = File::create(&part.beside).map_err(|error| part.unwritable(error))?;
    Ok((part, file))
}

/// A file that is not whole yet; it is gone when this is dropped before it is.
pub(crate) struct Part {
    path: PathBuf,
    beside: PathBuf,
}

impl Part {
    /// It is whole: moved to its place.
    pub(crate) fn finish(self, file: BufWriter<File>) -> Result<(), Trouble> {
        let written = file.into_inner().map_err(IntoInnerError::into_error).map(drop);
        let moved = written.and_then(|()| std::fs::rename(&self.beside, &self.path));
        moved.map_err(|error| self.unwritable(error))
    }

    fn unwritable(&self, error: std::io::Error) -> Trouble {
        Trouble::Unwritable { path: self.path.clone(), error }
    }
}

impl Drop for Part {
    fn drop(&mut self) {
        // Moved to its place, or of no use; what cannot be removed is only untidy.
        let _ = std::fs::remove_file(&self.beside);
    }
}

/// Whether a result could not be written.
static UNPRINTED: AtomicBool = AtomicBool::new(false);

/// Prints a result; a reader that went away is no failure of ours. Any other is told at the end:
/// a test that is being run goes on.
pub(crate) fn print(text: &str) {
    let mut out = std::io::stdout().lock();
    let written = out.write_all(text.as_bytes()).and_then(|()| out.flush());
    if written.is_err_and(|error| error.kind() != ErrorKind::BrokenPipe) {
        UNPRINTED.store(true, Ordering::Relaxed);
    }
}

/// How a command ends that did its work; where its results could not be written, in status 3.
pub(crate) fn ended(end: End) -> ExitCode {
    if !UNPRINTED.load(Ordering::Relaxed) {
        return end.into();
    }
    eprintln!("check the disk that the output goes to, then ask again; not all of it was written");
    ExitCode::from(3)
}

/// Prints a value as JSON.
pub(crate) fn print_json(value: &impl serde::Serialize) {
    let mut text = serde_json::to_string_pretty(value).expect("plain data always serialises");
    text.push('\n');
    print(&text);
}
