//! Every screen of the invented site, wide, as a tablet and narrow, dim as a tablet: before the
//! checker, for what is cut off, for what it fetches from elsewhere, and as a picture.

use browser::{Chromium, Fault, Page, Theme};

use crate::pictures::SIZES;
use crate::{checker, narrow, outside, pictures, site};

/// A screen of a desk that is enlarged twice; a browser lays both out alike `[px]`.
const ENLARGED: (u32, u32) = (720, 500);

#[tokio::test]
#[ignore = "needs chromium and chromedriver"]
async fn every_screen_of_the_site() -> Result<(), Fault> {
    let served = site::served()?;
    let chromium = Chromium::start()?;
    let page = chromium.page(&served).await?;
    let mut found = Vec::new();
    for path in &site::screens(&page).await? {
        for theme in Theme::ALL {
            page.theme(theme).await?;
            let own = served.address().to_string();
            // What a theme changes is colours, and they are the same at every width.
            let sizes = if theme == Theme::Daylight { &SIZES[..] } else { &SIZES[1..2] };
            for &size in sizes {
                let here = format!("{path}, {}, {} px", theme.key(), size.0);
                let mut seen = seen(&page, path, size, theme).await?;
                seen.extend(outside::fetched(&page, &own).await?);
                found.extend(seen.into_iter().map(|one| format!("{here}: {one}")));
            }
        }
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
    page.close().await
}

/// What is wrong with one screen at one size, of which a picture is taken.
async fn seen(
    page: &Page,
    path: &str,
    size: (u32, u32),
    theme: Theme,
) -> Result<Vec<String>, Fault> {
    page.size(size.0, size.1).await?;
    page.go(path).await?;
    let mut found = checker::check(page).await?;
    found.extend(sideways(page).await?);
    pictures::whole(page, path, size.0, theme).await?;
    if size == SIZES[0] {
        page.size(ENLARGED.0, ENLARGED.1).await?;
        found.extend(sideways(page).await?.map(|out| format!("enlarged twice: {out}")));
    }
    Ok(found)
}

async fn sideways(page: &Page) -> Result<Option<String>, Fault> {
    Ok(narrow::fits(page).await?.map(|out| format!("scrolls sideways: {out}")))
}
