//! The invented site of `demo`, and every screen of it that a link leads to.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use browser::{Asked, Chromium, Fault, Page, Served, call};
use serde_json::json;

/// Of screens that differ by what they show alone, so many.
const ALIKE: u32 = 3;

/// Of sheets more: each may stand in another state, or have come to another verdict.
const SHEETS: u32 = 10;

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

/// Every screen that links lead to, from *today* on; of those that are alike a few. And one that
/// is not there.
pub(crate) async fn screens(page: &Page) -> Result<Vec<String>, Fault> {
    let mut screens = walk(page).await?.screens;
    screens.push("/nothing-is-here".to_owned());
    Ok(screens)
}

#[derive(serde::Deserialize)]
struct Walked {
    screens: Vec<String>,
    broken: Vec<String>,
}

async fn walk(page: &Page) -> Result<Walked, Fault> {
    page.go("/").await?;
    let found = page.js_later(WALK, &[json!(ALIKE), json!(SHEETS)]).await?;
    Ok(serde_json::from_value(found).expect("the walk gives two lists"))
}

const WALK: &str = "const [alike, sheets, done] = arguments;
    const queue = [['/', '']], seen = new Set(['/']), counts = {}, screens = [], broken = [];
    const walk = async () => {
        while (queue.length > 0) {
            const [path, from] = queue.shift();
            const answer = await fetch(path);
            if (!answer.ok) { broken.push(`${from} leads to ${path}: ${answer.status}`); continue; }
            if (!answer.headers.get('content-type').startsWith('text/html')) continue;
            screens.push(path);
            const text = await answer.text();
            const found = new DOMParser().parseFromString(text, 'text/html');
            for (const link of found.querySelectorAll('a[href]')) {
                const to = new URL(link.getAttribute('href'), new URL(path, location.origin));
                if (to.origin !== location.origin) broken.push(`${path} leads to ${to}`);
                const next = to.pathname + to.search;
                if (seen.has(next)) continue;
                seen.add(next);
                const [, kind, name, ...rest] = to.pathname.split('/');
                const like = [kind, name ? '*' : '', ...rest, to.search ? '?' : ''].join('/');
                counts[like] = (counts[like] ?? 0) + 1;
                if (counts[like] > (like === 'sheet/*/' ? sheets : alike)) continue;
                queue.push([next, path]);
            }
        }
        return { screens, broken };
    };
    walk().then(done, e => done({ screens, broken: [String(e)] }))";

#[tokio::test]
#[ignore = "needs chromium and chromedriver"]
async fn every_link_leads_somewhere() -> Result<(), Fault> {
    let served = served()?;
    let chromium = Chromium::start()?;
    let page = chromium.page(&served).await?;
    let Walked { screens, broken } = walk(&page).await?;
    assert!(broken.is_empty(), "{}", broken.join("\n"));
    assert!(screens.len() > 3, "{screens:?}");
    page.close().await
}
