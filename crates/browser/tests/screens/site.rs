//! The invented site of `demo`, and every screen of it that a link leads to.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use browser::walk::Walked;
use browser::{Asked, Chromium, Fault, Page, Served, call};

/// Of screens that differ by what they show alone, so many.
const ALIKE: u32 = 2;

/// Of sheets more: each may stand in another state, or have come to another verdict.
const SHEETS: u32 = 5;

/// The database of the invented site, made once for all tests.
pub(crate) fn db() -> Result<&'static Path, Fault> {
    static MADE: OnceLock<PathBuf> = OnceLock::new();
    if let Some(made) = MADE.get() {
        return Ok(made);
    }
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("site");
    if folder.exists() {
        fs::remove_dir_all(&folder)?;
    }
    let told = call(["demo", "--no-serve", "--dir", &folder.display().to_string()])?;
    assert!(told.status.success(), "{}", String::from_utf8_lossy(&told.stderr));
    Ok(MADE.get_or_init(|| folder.join("records.db")))
}

/// Serves a copy of it.
pub(crate) fn served() -> Result<Served, Fault> {
    Served::start(Asked { copy_of: Some(db()?), ..Asked::default() })
}

/// The walk through it, made once for all tests: every copy has the same links.
async fn walked(page: &Page) -> Result<&'static Walked, Fault> {
    static MADE: OnceLock<Walked> = OnceLock::new();
    if let Some(made) = MADE.get() {
        return Ok(made);
    }
    let walked = page.walk(ALIKE, SHEETS).await?;
    Ok(MADE.get_or_init(|| walked))
}

/// Every screen that links lead to, of those that are alike a few; and one that is not there.
pub(crate) async fn screens(page: &Page) -> Result<Vec<String>, Fault> {
    let mut screens = walked(page).await?.screens.clone();
    screens.push("/nothing-is-here".to_owned());
    Ok(screens)
}

#[tokio::test]
#[ignore = "needs chromium and chromedriver"]
async fn every_link_leads_somewhere() -> Result<(), Fault> {
    let served = served()?;
    let chromium = Chromium::start()?;
    let page = chromium.page(&served).await?;
    let Walked { screens, broken } = walked(&page).await?;
    assert!(broken.is_empty(), "{}", broken.join("\n"));
    assert!(screens.len() > 3, "{screens:?}");
    page.close().await
}
