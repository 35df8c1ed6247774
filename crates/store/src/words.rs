//! What a person reads: first what to do now, by hand, then the detail.

use std::fmt;

use crate::check::{Broken, How};
use crate::things::ThingKind;
use crate::trouble::{
    AppendError, BackupError, CopyError, ExportError, ImportError, KeepError, OpenError, ReadError,
    SheetError, SignError, Trouble,
};

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Full => f.write_str("make room on the disk — it is full"),
            Self::ReadOnly => f.write_str(
                "check that the database file and its disk may be written to — the database may \
                 only be read",
            ),
            Self::Locked => f.write_str(
                "end the other program that uses the database, or wait for it — it is locked",
            ),
            Self::Corrupt { said } => write!(
                f,
                "put the database file aside, do not delete it, and go on with a new one — the \
                 file is damaged or no database: {said}"
            ),
            Self::Gone => f.write_str(
                "put the database file back where it was, with the files beside it — it was moved \
                 or deleted",
            ),
            Self::Shut { said } => write!(
                f,
                "check that the folder of the database is there, and that it and its disk may be \
                 written to — {said}"
            ),
            Self::Disk { said } => {
                write!(f, "check the disk and its cable — the disk failed: {said}")
            }
            Self::Away { said } => write!(
                f,
                "check that the database server runs and that the network reaches it — there is \
                 no connection: {said}"
            ),
            Self::Silent => f.write_str(
                "wait, then try again; see whether another program holds the database and whether \
                 its server can be reached — it did not answer in time",
            ),
            Self::Crossed => f.write_str(
                "try again — other programs wrote to the same place at the same moment, again and \
                 again",
            ),
            Self::Denied { said } => write!(
                f,
                "check name, password and database in the address, and ask who keeps the server to \
                 let you in — {said}"
            ),
            Self::Refused { said } => {
                write!(f, "note this message and keep on paper — the database refused: {said}")
            }
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
                "give a file for the database, or an address as postgres://name@host/database — \
                 {asked} is not known here"
            ),
            Self::Name { given, said } => {
                write!(f, "give another name for the database — \"{given}\" cannot be used: {said}")
            }
            Self::IsFolder { folder } => write!(
                f,
                "give a file for the database, for example {} — {} is a folder",
                folder.join("records.db").display(),
                folder.display()
            ),
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
            Self::Older { place, found, known } => write!(
                f,
                "open it once with a command that keeps something, such as `ohmstead --db {0} keep \
                 JOB.toml` — {0} is of edition {found}, and here it must be {known}",
                place.display()
            ),
            Self::Setting { name, wanted, found } => write!(
                f,
                "put the database on a plain disk of this machine; keep on paper until then — the \
                 setting {name} must be {wanted} so that nothing is lost, and is {found}"
            ),
            Self::Server { name, wanted, found } => write!(
                f,
                "ask who keeps the database server to set {name} to {wanted}, and keep records in \
                 a file until then — it is {found}, so a power cut could take what was acknowledged"
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
            Self::Held => f.write_str(
                "write the readings down by hand; go on in the other window, or end the program \
                 there — another program that still runs goes on with this record",
            ),
            Self::OtherProgram { found, known } => write!(
                f,
                "write the readings down by hand and end one of the two programs — another one has \
                 written to this record: it has {found} events, and this one knows of {known}"
            ),
            Self::Closed => f.write_str(
                "write it down by hand and begin a new record — this one is closed, nothing \
                 follows",
            ),
            Self::Unwritable { said } => {
                write!(f, "write it down by hand — it has no written form: {said}")
            }
            Self::Database(trouble) => {
                write!(f, "write the readings down by hand; {trouble}")
            }
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
            Self::Code { given } => write!(
                f,
                "give the code as it is printed, sixteen letters and figures from 0 to f or more \
                 — found \"{given}\""
            ),
            Self::Thing { kind, name, said } => write!(
                f,
                "keep the {kind} \"{name}\" anew from its job file — what is kept of it cannot be \
                 read: {said}"
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

impl fmt::Display for ThingKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Apparatus => "apparatus",
            Self::Set => "test set",
            Self::Meter => "meter",
        })
    }
}

impl fmt::Display for KeepError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoName { kind } => write!(f, "give the {kind} a name — it has none"),
            Self::DueBefore { date, due } => {
                write!(f, "give a day after {date} — a calibration cannot end on {due}")
            }
            Self::NoRecord { record } => {
                write!(f, "see the names with `ohmstead list` — no record \"{record}\" is here")
            }
            Self::Unwritable { said } => {
                write!(f, "write it down by hand — it has no written form: {said}")
            }
            Self::Read(error) => error.fmt(f),
            Self::Database(trouble) => trouble.fmt(f),
        }
    }
}

impl fmt::Display for SheetError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoSheet { sheet } => {
                write!(f, "go back to today and look there — no sheet \"{sheet}\" is here")
            }
            Self::Begun { record } => write!(
                f,
                "go on with record {record} — the test was begun from this sheet, which stays as \
                 it was"
            ),
            Self::Read(error) => error.fmt(f),
            Self::Database(trouble) => trouble.fmt(f),
        }
    }
}

impl fmt::Display for SignError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoName => f.write_str("write your name — a signature needs one"),
            Self::NoRecord { record } => {
                write!(f, "see the names with `ohmstead list` — no record \"{record}\" is here")
            }
            Self::WentOn => f.write_str(
                "look at the sheet again, then sign — the record went on since this page was made",
            ),
            Self::NoFindings { id } => write!(
                f,
                "look at the sheet again, then sign — the record has no findings of the name {id}"
            ),
            Self::Read(error) => error.fmt(f),
            Self::Database(trouble) => trouble.fmt(f),
        }
    }
}

impl fmt::Display for ExportError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::RunsTogether { phase } => write!(
                f,
                "export the record as JSON — conductor {phase} was energised twice without a \
                 ground between, and a readings file would make one run of that"
            ),
            Self::Read(error) => error.fmt(f),
            Self::Write(error) => write!(
                f,
                "check the disk and that you may write there, then export again; what was written \
                 so far is not whole — {error}"
            ),
        }
    }
}

impl fmt::Display for BackupError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Taken { file } => write!(
                f,
                "give the backup another name — {} is there already, and nothing is overwritten",
                file.display()
            ),
            Self::NoText { file } => {
                write!(f, "give the backup a name in plain letters — {} is no text", file.display())
            }
            Self::Unwritable { file, error } => write!(
                f,
                "check the disk and that you may write there, then make it again — {}: {error}",
                file.display()
            ),
            Self::Open(error) => error.fmt(f),
            Self::Copy(error) => error.fmt(f),
            Self::Read(error) => error.fmt(f),
            Self::Database(trouble) => trouble.fmt(f),
        }
    }
}

impl fmt::Display for CopyError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        const GO_ON: &str = "then copy again: it goes on where it was";
        match self {
            Self::Keep(error) => write!(f, "{error}; {GO_ON}"),
            Self::Database(trouble) => write!(f, "{trouble}; {GO_ON}"),
        }
    }
}

impl fmt::Display for ImportError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Cut { line } => write!(
                f,
                "copy the file again from where it was exported — it ends in the middle, at line \
                 {line}; nothing was taken in"
            ),
            Self::NotAnExport { line, said } => write!(
                f,
                "give a file that `ohmstead export --format json` wrote — line {line}: {said}; \
                 nothing was taken in"
            ),
            Self::Edition { found } => write!(
                f,
                "read it with the version of this program that made it — the file is of the form \
                 \"{found}\", which is not known here; nothing was taken in"
            ),
            Self::Broken { broken } => {
                f.write_str(
                    "copy the file again from where it was exported; if that one is the same, keep \
                     both and ask who had it — seals do not hold, nothing was taken in:",
                )?;
                broken.iter().try_for_each(|one| write!(f, "\n{one}"))
            }
            Self::Conflict { record, writer, seq } => write!(
                f,
                "keep both, the file and the database, and find out which one is right — event \
                 {seq} of writer {writer} in record {record} is here already and is another one; \
                 nothing was taken in"
            ),
            Self::FindingsConflict { record, id } => write!(
                f,
                "keep both, the file and the database, and find out which one is right — findings \
                 {id} of record {record} are here already and are others; nothing was taken in"
            ),
            Self::SignatureConflict { record, id } => write!(
                f,
                "keep both, the file and the database, and find out which one is right — signature \
                 {id} of record {record} is here already and is another one; nothing was taken in"
            ),
            Self::Database(trouble) => trouble.fmt(f),
        }
    }
}

impl fmt::Display for Broken {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { record, writer, seq, how, seen } = self;
        write!(f, "record {record}")?;
        if !writer.is_empty() {
            write!(f, ", writer {writer}")?;
        }
        if let Some(seq) = seq {
            write!(f, ", event {seq}")?;
        }
        if let Some(seen) = seen {
            write!(f, " ({}", seen.event)?;
            if let Some(wall) = seen.wall {
                write!(f, ", {wall}")?;
            }
            f.write_str(")")?;
        }
        f.write_str(": ")?;
        how.fmt(f)
    }
}

impl fmt::Display for How {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Changed => f.write_str(
                "it was changed after it was sealed, or the one before it was and sealed anew",
            ),
            Self::Swapped { with } => write!(f, "it has changed places with event {with}"),
            Self::Foreign { record, seq } => {
                write!(f, "it was sealed elsewhere, as event {seq} of record {record}")
            }
            Self::Missing { to } => write!(f, "events are missing from this one to event {to}"),
            Self::CutOut { count } => {
                write!(f, "{count} cut out just before it, and the rest numbered anew")
            }
            Self::PutIn { count } => {
                write!(f, "{count} put in just before it, and the rest numbered anew")
            }
            Self::CutShort { to } => {
                write!(f, "the end was cut off, from this one to event {to}")
            }
            Self::BeyondEnd => f.write_str("it was put behind the end of the chain"),
            Self::OtherEnd => f.write_str("the chain ends with another seal than it has"),
            Self::NoBeginning => f.write_str("it belongs to no beginning"),
            Self::Listed { column } => {
                write!(f, "the list says otherwise than the events ({column})")
            }
            Self::Findings { id } => write!(f, "findings {id} were changed after they were sealed"),
            Self::Signature { id } => write!(f, "signature {id} was changed after it was sealed"),
            Self::More { count } => write!(f, "and {count} places more"),
        }
    }
}
