//! What can go wrong: one enum for each operation, with the database's own trouble in common.

use std::io::ErrorKind;
use std::path::PathBuf;

use jiff::civil::Date;
use sqlx::postgres::PgDatabaseError;

use crate::check::Broken;
use crate::id::RecordId;
use crate::things::ThingKind;

/// The database, or what it stands on, failed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Trouble {
    /// No room is left on the disk.
    Full,
    /// It may only be read.
    ReadOnly,
    /// Another program holds it.
    Locked,
    /// What stands in the file is damaged.
    Corrupt {
        /// What the database said.
        said: String,
    },
    /// The file that was opened is not in its place any more.
    Gone,
    /// The file, or one beside it, cannot be opened.
    Shut {
        /// What the database said.
        said: String,
    },
    /// The disk failed.
    Disk {
        /// What the database said.
        said: String,
    },
    /// The server is not there, or went away.
    Away {
        /// What was said last.
        said: String,
    },
    /// The database did not answer in time.
    Silent,
    /// Another program wrote to the same place at the same moment.
    Crossed,
    /// The server does not let this program in, or not to this.
    Denied {
        /// What the database said.
        said: String,
    },
    /// The database refused in another way.
    Refused {
        /// What the database said.
        said: String,
    },
}

impl std::error::Error for Trouble {}

impl Trouble {
    /// Whether the same may work later, without anything but the surroundings put right.
    #[must_use]
    pub const fn may_pass(&self) -> bool {
        match self {
            Self::Full
            | Self::ReadOnly
            | Self::Locked
            | Self::Gone
            | Self::Shut { .. }
            | Self::Disk { .. }
            | Self::Away { .. }
            | Self::Silent
            | Self::Crossed
            | Self::Denied { .. } => true,
            Self::Corrupt { .. } | Self::Refused { .. } => false,
        }
    }
}

impl From<sqlx::Error> for Trouble {
    fn from(error: sqlx::Error) -> Self {
        match &error {
            sqlx::Error::PoolTimedOut => Self::Silent,
            sqlx::Error::Io(found) => of_io(found),
            sqlx::Error::Database(found) => match found.try_downcast_ref::<PgDatabaseError>() {
                Some(found) => of_state(found.code(), found.message()),
                None => {
                    let code = found.code().and_then(|code| code.parse::<i32>().ok());
                    of_code(code.unwrap_or(0), found.message())
                }
            },
            // A connection that broke in the middle of a transaction.
            sqlx::Error::BeginFailed | sqlx::Error::Protocol(_) => {
                Self::Away { said: error.to_string() }
            }
            _ => Self::Refused { said: error.to_string() },
        }
    }
}

/// A file answers with codes of its own: what comes so is of the way to a server.
fn of_io(error: &std::io::Error) -> Trouble {
    match error.kind() {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => Trouble::Full,
        _ => Trouble::Away { said: error.to_string() },
    }
}

/// The SQLSTATE of a server: two letters name its class. PostgreSQL 15 documentation, appendix A.
fn of_state(state: &str, said: &str) -> Trouble {
    let said = said.to_owned();
    match state {
        // Not serialisable, deadlock, and a key or a name that another one took meanwhile.
        "40001" | "40P01" | "23505" | "42P07" | "42710" => Trouble::Crossed,
        "53100" => Trouble::Full,
        "25006" => Trouble::ReadOnly,
        "55P03" => Trouble::Locked,
        // No commit is known of: whoever wrote it looks again.
        "40003" => Trouble::Away { said },
        "42501" => Trouble::Denied { said },
        _ => match state.get(..2) {
            Some("08" | "53" | "57") => Trouble::Away { said },
            Some("28" | "3D") => Trouble::Denied { said },
            Some("58") => Trouble::Disk { said },
            Some("XX") => Trouble::Corrupt { said },
            _ => Trouble::Refused { said },
        },
    }
}

/// SQLite's result codes: the low byte of an extended code is its kind.
fn of_code(code: i32, said: &str) -> Trouble {
    let said = said.to_owned();
    match code & 0xff {
        5 | 6 => Trouble::Locked,
        8 => Trouble::ReadOnly,
        13 => Trouble::Full,
        11 | 26 => Trouble::Corrupt { said },
        14 => Trouble::Shut { said },
        10 => Trouble::Disk { said },
        _ => Trouble::Refused { said },
    }
}

/// A database could not be opened.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// Nothing is there, and reading makes nothing.
    NotThere {
        /// Where it was looked for.
        place: PathBuf,
    },
    /// Another engine was asked for.
    Engine {
        /// Its name.
        asked: String,
    },
    /// The name cannot be used.
    Name {
        /// As it was given.
        given: String,
        /// Why.
        said: String,
    },
    /// A folder was named in the place of a file.
    IsFolder {
        /// Which folder.
        folder: PathBuf,
    },
    /// The folder for it cannot be made.
    Folder {
        /// Which folder.
        folder: PathBuf,
        /// What the system said.
        error: std::io::Error,
    },
    /// It is something else's.
    Foreign {
        /// Which file.
        place: PathBuf,
    },
    /// A later version of this program has used it.
    Newer {
        /// Its edition.
        found: i64,
        /// The last edition that is known here.
        known: i64,
    },
    /// An earlier version has used it, and it was to be opened without writing.
    Older {
        /// The file, or the address without its password.
        place: PathBuf,
        /// Its edition.
        found: i64,
        /// The last edition that is known here.
        known: i64,
    },
    /// A connection is not as durable as it was asked to be.
    Setting {
        /// Which setting.
        name: &'static str,
        /// What was asked for.
        wanted: &'static str,
        /// What it is.
        found: String,
    },
    /// A server answers before what is written is on its disk.
    Server {
        /// Which setting.
        name: &'static str,
        /// What was asked for.
        wanted: &'static str,
        /// What it is.
        found: String,
    },
    /// The database failed.
    Database(#[from] Trouble),
}

/// Nothing of what was handed over is kept.
#[derive(Debug, thiserror::Error)]
pub enum AppendError {
    /// No such record is here.
    NoRecord {
        /// The name that was asked for.
        record: String,
    },
    /// Another program that still runs goes on with this record.
    Held,
    /// Another program has written to this record.
    OtherProgram {
        /// How many events it has kept.
        found: u64,
        /// How many were known here.
        known: u64,
    },
    /// The record is closed.
    Closed,
    /// It has no written form.
    Unwritable {
        /// Why.
        said: String,
    },
    /// The database failed.
    Database(#[from] Trouble),
}

impl AppendError {
    /// Whether nobody knows what of it is kept.
    pub(crate) const fn is_lost(&self) -> bool {
        matches!(self, Self::Database(Trouble::Away { .. } | Trouble::Silent))
    }
}

/// A record could not be read.
#[derive(Debug, thiserror::Error)]
pub enum ReadError {
    /// No such record is here.
    NoRecord {
        /// The name that was asked for.
        record: String,
    },
    /// Several records begin so.
    Several {
        /// What was asked for.
        asked: String,
        /// Some that begin so.
        records: Vec<String>,
    },
    /// A later version of this program has made it.
    Edition {
        /// Its form.
        found: String,
    },
    /// It is no code as they are printed.
    Code {
        /// As it was given.
        given: String,
    },
    /// What is kept of a thing has lost its written form.
    Thing {
        /// What it is.
        kind: ThingKind,
        /// Its name.
        name: String,
        /// Why.
        said: String,
    },
    /// An event has lost its written form.
    Unreadable {
        /// Which record.
        record: String,
        /// Whose event.
        writer: String,
        /// Its number.
        seq: u64,
        /// Why.
        said: String,
    },
    /// The database failed.
    Database(#[from] Trouble),
}

/// A sheet is not written.
#[derive(Debug, thiserror::Error)]
pub enum SheetError {
    /// No such sheet is here.
    NoSheet {
        /// The name that was asked for.
        sheet: String,
    },
    /// It became a record and stays as it was.
    Begun {
        /// Which record.
        record: RecordId,
    },
    /// What is kept could not be read.
    Read(#[from] ReadError),
    /// The database failed.
    Database(#[from] Trouble),
}

/// It is not kept.
#[derive(Debug, thiserror::Error)]
pub enum KeepError {
    /// It has no name to be found by.
    NoName {
        /// What it is.
        kind: ThingKind,
    },
    /// A calibration that would end before it was made.
    DueBefore {
        /// The day it was made.
        date: Date,
        /// The day it would end.
        due: Date,
    },
    /// No such record is here.
    NoRecord {
        /// The name that was asked for.
        record: String,
    },
    /// It has no written form.
    Unwritable {
        /// Why.
        said: String,
    },
    /// What is kept could not be read.
    Read(#[from] ReadError),
    /// The database failed.
    Database(#[from] Trouble),
}

/// Nothing is signed.
#[derive(Debug, thiserror::Error)]
pub enum SignError {
    /// Nobody's name was given.
    NoName,
    /// No such record is here.
    NoRecord {
        /// The name that was asked for.
        record: String,
    },
    /// The record is not as it was when it was looked at.
    WentOn,
    /// The findings are not of this record.
    NoFindings {
        /// Their name.
        id: String,
    },
    /// What is kept could not be read.
    Read(#[from] ReadError),
    /// The database failed.
    Database(#[from] Trouble),
}

/// An export stopped.
#[derive(Debug, thiserror::Error)]
pub enum ExportError {
    /// Two applications of voltage would be read as one.
    RunsTogether {
        /// Of this conductor.
        phase: String,
    },
    /// The record could not be read.
    Read(#[from] ReadError),
    /// The file could not be written.
    Write(#[from] std::io::Error),
}

/// There is no backup.
#[derive(Debug, thiserror::Error)]
pub enum BackupError {
    /// Something has this name already.
    Taken {
        /// Which file.
        file: PathBuf,
    },
    /// The name is no text.
    NoText {
        /// Which file.
        file: PathBuf,
    },
    /// The file could not be made durable under its name.
    Unwritable {
        /// Which file.
        file: PathBuf,
        /// What the system said.
        error: std::io::Error,
    },
    /// It could not be opened, to write or to read it back.
    Open(#[from] OpenError),
    /// What is kept could not be copied.
    Copy(#[from] CopyError),
    /// It could not be read back.
    Read(#[from] ReadError),
    /// The database failed.
    Database(#[from] Trouble),
}

impl From<sqlx::Error> for BackupError {
    fn from(error: sqlx::Error) -> Self {
        Self::Database(error.into())
    }
}

/// A copy stopped; what was copied by then is there.
#[derive(Debug, thiserror::Error)]
pub enum CopyError {
    /// Rows could not be kept.
    Keep(#[from] KeepError),
    /// One of the two databases failed.
    Database(#[from] Trouble),
}

/// A file was not taken in; nothing of it was.
#[derive(Debug, thiserror::Error)]
pub enum ImportError {
    /// It ends in the middle.
    Cut {
        /// The line where it ends.
        line: usize,
    },
    /// It is no export.
    NotAnExport {
        /// The line where that shows.
        line: usize,
        /// How.
        said: String,
    },
    /// A later version of this program has made it.
    Edition {
        /// Its form.
        found: String,
    },
    /// Seals in it do not hold.
    Broken {
        /// Each place.
        broken: Vec<Broken>,
    },
    /// Another event is kept here already in the place of one in the file.
    Conflict {
        /// Of this record.
        record: String,
        /// Of this writer.
        writer: String,
        /// The event's number.
        seq: u64,
    },
    /// Other findings are kept here already under the name of some in the file.
    FindingsConflict {
        /// Of this record.
        record: String,
        /// Their name.
        id: String,
    },
    /// Another signature is kept here already under the name of one in the file.
    SignatureConflict {
        /// Of this record.
        record: String,
        /// Its name.
        id: String,
    },
    /// The database failed.
    Database(#[from] Trouble),
}

impl From<sqlx::Error> for CopyError {
    fn from(error: sqlx::Error) -> Self {
        Self::Database(error.into())
    }
}

impl From<sqlx::Error> for SignError {
    fn from(error: sqlx::Error) -> Self {
        Self::Database(error.into())
    }
}

impl From<sqlx::Error> for ImportError {
    fn from(error: sqlx::Error) -> Self {
        Self::Database(error.into())
    }
}

impl From<sqlx::Error> for KeepError {
    fn from(error: sqlx::Error) -> Self {
        Self::Database(error.into())
    }
}

impl From<sqlx::Error> for SheetError {
    fn from(error: sqlx::Error) -> Self {
        Self::Database(error.into())
    }
}

impl From<sqlx::Error> for OpenError {
    fn from(error: sqlx::Error) -> Self {
        Self::Database(error.into())
    }
}

impl From<sqlx::Error> for AppendError {
    fn from(error: sqlx::Error) -> Self {
        Self::Database(error.into())
    }
}

impl From<sqlx::Error> for ExportError {
    fn from(error: sqlx::Error) -> Self {
        Self::Read(error.into())
    }
}

impl From<sqlx::Error> for ReadError {
    fn from(error: sqlx::Error) -> Self {
        Self::Database(error.into())
    }
}
