//! A narrow screen, and one that is enlarged twice: nothing is cut off, nothing scrolls sideways
//! but a table inside its own frame.

use browser::{Chromium, Fault, Page};

use crate::site;

#[tokio::test]
#[ignore = "needs chromium and chromedriver"]
async fn every_screen_of_the_site() -> Result<(), Fault> {
    let served = site::served()?;
    let chromium = Chromium::start()?;
    let page = chromium.page(&served).await?;
    let mut wide = Vec::new();
    for path in &site::screens(&page).await? {
        for width in [360, 720] {
            page.size(width, 740).await?;
            page.go(path).await?;
            if let Some(out) = fits(&page).await? {
                wide.push(format!("{path} at {width} px scrolls sideways: {out}"));
            }
        }
    }
    assert!(wide.is_empty(), "{}", wide.join("\n"));
    page.close().await
}

/// What stands out of a page to the right, where one can scroll there. 720 px is a screen of
/// 1440 px enlarged to 200 %: a browser lays both out alike.
pub(crate) async fn fits(page: &Page) -> Result<Option<String>, Fault> {
    let wide = "const room = document.documentElement.clientWidth;
        if (document.documentElement.scrollWidth <= room + 1) return null;
        const out = [...document.querySelectorAll('body *')].filter(e =>
            e.getBoundingClientRect().right + scrollX > room + 1 && !e.closest('.scroll, .skip'));
        const told = out.slice(0, 4).map(e => e.outerHTML.slice(0, 160)).join(' | ');
        return told || 'nothing that shows'";
    Ok(page.js(wide, &[]).await?.as_str().map(str::to_owned))
}
