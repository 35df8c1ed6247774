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
    for path in &site::screens(&page).await? {
        for width in [360, 720] {
            page.size(width, 740).await?;
            page.go(path).await?;
            fits(&page, &format!("{path} at {width} px")).await?;
        }
    }
    page.close().await
}

/// 720 px is a screen of 1440 px enlarged to 200 %: a browser lays both out alike.
pub(crate) async fn fits(page: &Page, here: &str) -> Result<(), Fault> {
    let wide = "const room = document.documentElement.clientWidth;
        const out = [...document.querySelectorAll('body *')].filter(e =>
            e.checkVisibility() && e.getBoundingClientRect().right > room + 1 &&
            !e.closest('.scroll, .skip'));
        return document.documentElement.scrollWidth > room + 1 ?
            out.slice(0, 5).map(e => e.outerHTML.slice(0, 200)).concat('scrolls') : null";
    let wide = page.js(wide, &[]).await?;
    assert!(wide.is_null(), "{here} scrolls sideways: {wide}");
    Ok(())
}
