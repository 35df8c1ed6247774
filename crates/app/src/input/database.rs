//! Where records are kept.

use std::ffi::OsString;
use std::path::{Path, PathBuf};

use crate::output::Trouble;

/// Waits for what is done with the database: a command does one thing at a time.
pub(crate) fn wait<T>(work: impl Future<Output = Result<T, Trouble>>) -> Result<T, Trouble> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    runtime.map_err(Trouble::System)?.block_on(work)
}

/// The place of the records: a file, or a URL.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Place(String);

impl Place {
    /// What was asked for by `--db` or `OHMSTEAD_DB`, else the file in the user's data folder.
    pub(crate) fn find(asked: Option<&str>) -> Result<Self, Trouble> {
        match asked {
            Some("") => Err(Trouble::Argument {
                remedy: "Give --db, or OHMSTEAD_DB, the name of a file, or leave it out".to_owned(),
                detail: "it is empty".to_owned(),
            }),
            Some(asked) => Ok(Self(asked.to_owned())),
            None => usual(std::env::var_os("XDG_DATA_HOME"), std::env::var_os("HOME")),
        }
    }

    /// The place as it is opened: a path or a URL.
    pub(crate) fn as_str(&self) -> &str {
        &self.0
    }

    /// The file, where it is one on this machine.
    pub(crate) fn file(&self) -> Option<&Path> {
        let rest = match self.0.strip_prefix("sqlite:") {
            Some(rest) => rest.strip_prefix("//").unwrap_or(rest),
            None if self.0.contains("://") => return None,
            None => return Some(Path::new(&self.0)),
        };
        Some(Path::new(rest.split('?').next().unwrap_or(rest)))
    }

    /// The place, if something is kept there already; for commands that only read.
    pub(crate) fn existing(asked: Option<&str>) -> Result<Self, Trouble> {
        let place = Self::find(asked)?;
        match place.file() {
            Some(file) if !file.exists() => Err(Trouble::NoDatabase { place: place.0 }),
            _ => Ok(place),
        }
    }
}

/// The file in the user's data folder; a data folder that is no full path counts as not given.
fn usual(data: Option<OsString>, home: Option<OsString>) -> Result<Place, Trouble> {
    let given =
        |folder: Option<OsString>| folder.map(PathBuf::from).filter(|one| one.is_absolute());
    let folder = given(data)
        .or_else(|| given(home).map(|home| home.join(".local/share")))
        .ok_or_else(|| Trouble::Argument {
            remedy: "Say where records are kept: --db FILE, or set OHMSTEAD_DB".to_owned(),
            detail: "there is no HOME and no XDG_DATA_HOME to find your data folder by".to_owned(),
        })?;
    let path = folder.join("ohmstead/records.db");
    let text = path.into_os_string().into_string().map_err(|path| Trouble::Argument {
        remedy: "Say where records are kept: --db FILE, or set OHMSTEAD_DB".to_owned(),
        detail: format!("the name of your data folder is no text: {}", path.to_string_lossy()),
    })?;
    Ok(Place(text))
}

#[cfg(test)]
mod tests {
    use super::{Place, usual};

    /// The variables are those of the XDG Base Directory Specification 0.8, which says that a
    /// relative path in them is to be ignored.
    #[test]
    fn the_usual_place_is_in_the_data_folder() {
        let check = |data: Option<&str>, home: Option<&str>, expected: Option<&str>| {
            let found = usual(data.map(Into::into), home.map(Into::into)).ok();
            assert_eq!(found, expected.map(|path| Place(path.to_owned())), "{data:?} {home:?}");
        };
        let at_home = "/home/me/.local/share/ohmstead/records.db";
        check(Some("/data"), Some("/home/me"), Some("/data/ohmstead/records.db"));
        check(None, Some("/home/me"), Some(at_home));
        check(Some("data"), Some("/home/me"), Some(at_home));
        check(Some(""), Some("/home/me"), Some(at_home));
        check(None, Some(""), None);
        check(None, None, None);
    }

    #[test]
    fn a_place_tells_its_file() {
        let check = |asked: &str, expected: Option<&str>| {
            let place = Place::find(Some(asked)).expect("it is not empty");
            assert_eq!(place.file().and_then(|file| file.to_str()), expected, "{asked}");
        };
        check("records.db", Some("records.db"));
        check("/var/a b.db", Some("/var/a b.db"));
        check("sqlite:/var/a.db?mode=ro", Some("/var/a.db"));
        check("sqlite:///var/a.db", Some("/var/a.db"));
        check("sqlite:a.db", Some("a.db"));
        check("postgres://host/records", None);
        assert!(Place::find(Some("")).is_err());
    }
}
