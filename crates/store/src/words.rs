//! What a person reads: first what to do now, by hand, then the detail.

use std::fmt;

use crate::trouble::{AppendError, OpenError, ReadError, Trouble};

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Full => f.write_str(
                "write the readings down by hand and make room on the disk — the disk is full",
            ),
            Self::ReadOnly => f.write_str(
                "write the readings down by hand; check that the disk and the database file may \
                 be written to — the database may only be read",
            ),
            Self::Locked => f.write_str(
                "write the readings down by hand; end the other program that uses the database — \
                 it is locked",
            ),
            Self::Corrupt { said } => write!(
                f,
                "write the readings down by hand; put the database file aside, do not delete it, \
                 and go on with a new one — the file is damaged or no database: {said}"
            ),
            Self::Disk { said } => write!(
                f,
                "write the readings down by hand; check the disk and its cable — the disk failed: \
                 {said}"
            ),
            Self::Refused { said } => write!(
                f,
                "write the readings down by hand, and note this message — the database refused: \
                 {said}"
            ),
        }
    }
}

impl fmt::Display for OpenError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotThere { place } => write!(
                f,
                "check the name of the database; one is made when a test is run or a job is kept \
                 — none is at {}",
                place.display()
            ),
            Self::Engine { asked } => write!(
                f,
                "give a file for the database — this version keeps its records in SQLite alone, \
                 and {asked} was asked for"
            ),
            Self::Name { given, said } => {
                write!(f, "give another name for the database — \"{given}\" cannot be used: {said}")
            }
            Self::Folder { folder, error } => write!(
                f,
                "make the folder {} or give another place for the database — {error}",
                folder.display()
            ),
            Self::Foreign { place } => write!(
                f,
                "give another file for the database — {} holds something else",
                place.display()
            ),
            Self::Newer { found, known } => write!(
                f,
                "use the newer version of this program that made the database; keep on paper until \
                 then — the database is of edition {found}, and {known} is the last known here"
            ),
            Self::Older { found, known } => write!(
                f,
                "open the database once with a command that keeps something, such as `keep` — it \
                 is of edition {found}, and here it must be {known}"
            ),
            Self::Setting { name, wanted, found } => write!(
                f,
                "put the database on a plain disk of this machine; keep on paper until then — the \
                 setting {name} must be {wanted} so that nothing is lost, and is {found}"
            ),
            Self::Database(trouble) => trouble.fmt(f),
        }
    }
}

impl fmt::Display for AppendError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoRecord { record } => write!(
                f,
                "write the readings down by hand and begin a new record — no record {record} is \
                 here"
            ),
            Self::OtherProgram { found, known } => write!(
                f,
                "write the readings down by hand and end one of the two programs — another one \
                 goes on with this record: it has {found} events, and this one knows of {known}"
            ),
            Self::Closed => f.write_str(
                "write it down by hand and begin a new record — this one is closed, nothing \
                 follows",
            ),
            Self::Unwritable { said } => {
                write!(f, "write it down by hand — it has no written form: {said}")
            }
            Self::Database(trouble) => trouble.fmt(f),
        }
    }
}

impl fmt::Display for ReadError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoRecord { record } => {
                write!(f, "see the names with `ohmstead list` — no record \"{record}\" is here")
            }
            Self::Several { asked, records } => write!(
                f,
                "give more letters of the record's name — \"{asked}\" stands for several: {}",
                records.join(", ")
            ),
            Self::Edition { found } => write!(
                f,
                "read it with the version of this program that made it — the record is of the \
                 form \"{found}\", which is not known here"
            ),
            Self::Unreadable { record, writer, seq, said } => write!(
                f,
                "check the record with `ohmstead verify --record {record}` — event {seq} of writer \
                 {writer} cannot be read: {said}"
            ),
            Self::Database(trouble) => trouble.fmt(f),
        }
    }
}
