//! Where records are kept, and opening it.

use std::ffi::OsString;
use std::path::PathBuf;

use store::Store;

use crate::output::Trouble;

/// Waits for what is done with the database: a command does one thing at a time.
pub(crate) fn wait<T>(work: impl Future<Output = Result<T, Trouble>>) -> Result<T, Trouble> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    runtime.map_err(Trouble::System)?.block_on(work)
}

/// The same with a thread for each processor, where there is work for all of them.
pub(crate) fn wait_at_once<T>(
    work: impl Future<Output = Result<T, Trouble>>,
) -> Result<T, Trouble> {
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build();
    runtime.map_err(Trouble::System)?.block_on(work)
}

/// Opens it to keep something in; it is made where nothing is.
pub(crate) async fn to_keep(asked: Option<&str>) -> Result<Store, Trouble> {
    Ok(Store::open(&place(asked)?).await?)
}

/// Opens it to keep something beside what is there.
pub(crate) async fn existing(asked: Option<&str>) -> Result<Store, Trouble> {
    Ok(Store::open_existing(&place(asked)?).await?)
}

/// Opens it to look something up and writes nothing to it.
pub(crate) async fn to_read(asked: Option<&str>) -> Result<Store, Trouble> {
    Ok(Store::open_to_read(&place(asked)?).await?)
}

/// Path or URL: what was asked for by `--db` or `OHMSTEAD_DB`, else the file in the user's data
/// folder.
pub(crate) fn place(asked: Option<&str>) -> Result<String, Trouble> {
    match asked {
        Some(asked) => Ok(asked.to_owned()),
        None => usual(std::env::var_os("XDG_DATA_HOME"), std::env::var_os("HOME")),
    }
}

/// The file in the user's data folder; a data folder that is no full path counts as not given.
fn usual(data: Option<OsString>, home: Option<OsString>) -> Result<String, Trouble> {
    let no_place = |detail: String| Trouble::Argument {
        remedy: "Say where records are kept: --db FILE, or set OHMSTEAD_DB".to_owned(),
        detail,
    };
    let given =
        |folder: Option<OsString>| folder.map(PathBuf::from).filter(|one| one.is_absolute());
    let folder =
        given(data).or_else(|| given(home).map(|home| home.join(".local/share"))).ok_or_else(
            || no_place("there is no HOME and no XDG_DATA_HOME to find your data folder by".into()),
        )?;
    folder.join("ohmstead/records.db").into_os_string().into_string().map_err(|path| {
        no_place(format!("the name of your data folder is no text: {}", path.to_string_lossy()))
    })
}

#[cfg(test)]
mod tests {
    use super::usual;

    /// The variables are those of the XDG Base Directory Specification 0.8, which says that a
    /// relative path in them is to be ignored.
    #[test]
    fn the_usual_place_is_in_the_data_folder() {
        let check = |data: Option<&str>, home: Option<&str>, expected: Option<&str>| {
            let found = usual(data.map(Into::into), home.map(Into::into)).ok();
            assert_eq!(found.as_deref(), expected, "{data:?} {home:?}");
        };
        let at_home = "/home/me/.local/share/ohmstead/records.db";
        check(Some("/data"), Some("/home/me"), Some("/data/ohmstead/records.db"));
        check(None, Some("/home/me"), Some(at_home));
        check(Some("data"), Some("/home/me"), Some(at_home));
        check(Some(""), Some("/home/me"), Some(at_home));
        check(None, Some(""), None);
        check(None, None, None);
    }
}
