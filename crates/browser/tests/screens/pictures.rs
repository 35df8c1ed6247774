//! A picture of every screen, wide, as a tablet and narrow, in both themes: `target/screens`.

use std::path::PathBuf;

use browser::{Chromium, Fault, Page, Theme};

use crate::site;

/// Widths and heights of a desk, a tablet and a telephone `[px]`.
const SIZES: [(u32, u32); 3] = [(1440, 1000), (820, 1180), (360, 740)];

#[tokio::test]
#[ignore = "needs chromium and chromedriver"]
async fn of_every_screen_of_the_site() -> Result<(), Fault> {
    let served = site::served()?;
    let chromium = Chromium::start()?;
    let page = chromium.page(&served).await?;
    for path in site::screens(&page).await? {
        for theme in Theme::ALL {
            page.theme(theme).await?;
            for (width, height) in SIZES {
                page.size(width, height).await?;
                page.go(&path).await?;
                let name: String =
                    path.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).collect();
                page.picture(&file(&name, width, theme), width, true).await?;
            }
        }
    }
    page.close().await
}

/// What is to be seen now, at every width, in both themes, without going anywhere else.
pub(crate) async fn of_this(page: &Page, name: &str) -> Result<(), Fault> {
    for theme in Theme::ALL {
        let set = "document.documentElement.dataset.theme = arguments[0]";
        page.js(set, &[theme.key().into()]).await?;
        for (width, height) in SIZES {
            page.size(width, height).await?;
            page.picture(&file(name, width, theme), width, false).await?;
        }
    }
    Ok(())
}

fn file(name: &str, width: u32, theme: Theme) -> PathBuf {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/../../target/screens");
    let name = match name.trim_matches('-') {
        "" => "today",
        name => name,
    };
    format!("{root}/{name}-{width}-{}.png", theme.key()).into()
}
