//! Every state of one test on its sheet, and on the second screen: before the checker, narrow, and
//! before the camera.

use browser::{Asked, Chromium, Fault, Page, Served, Theme};

use crate::checker::check;
use crate::narrow::fits;
use crate::pictures::of_this;

const GLOVE: &str = include_str!("../../jobs/glove.toml");

/// Stands for a tick at each hold point.
const CONFIRM: &str = "confirm";

/// What is said, and what the state is called that it leads to.
const STATES: &[(&[&str], &str)] = &[
    (&[], "before-voltage"),
    (&["@1 ground 1 at cuff", "lead 1", "check", CONFIRM, "lift 1"], "ready"),
    (&["energise"], "energised-at-zero"),
    (&["rise", "20 1.2"], "rising"),
    (&["50 48"], "above-the-band"),
    (&["hold", "50 2.1", "50 2.0"], "holding"),
    (&["stop", "20 0.4"], "coming-down"),
    (&["off"], "off"),
    (&["residual 2.1", "tool"], "tool-on"),
    (&["ground 2 at cuff"], "grounded"),
    (&["lift 2"], "lifted"),
];

#[tokio::test]
#[ignore = "needs chromium and chromedriver"]
async fn of_one_test() -> Result<(), Fault> {
    let served = Served::start(Asked { practice_pace: Some(2), ..Asked::default() })?;
    let chromium = Chromium::start()?;
    let page = chromium.page(&served).await?;
    let record = page.begin(GLOVE, "keys").await?;
    let mut found = Vec::new();
    for (lines, name) in STATES {
        for line in *lines {
            match *line {
                CONFIRM => page.confirm(&record).await?,
                line => page.say(&record, line).await?,
            }
        }
        for place in ["sheet", "watch"] {
            page.size(1440, 1000).await?;
            page.go(&format!("/{place}/{record}")).await?;
            page.wait_for("main[data-record]").await?;
            found.extend(looked_at(&page, &format!("{place}-{name}")).await?);
        }
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
    page.close().await
}

#[tokio::test]
#[ignore = "needs chromium and chromedriver"]
async fn a_trip_and_a_lost_link() -> Result<(), Fault> {
    let mut served = Served::start(Asked { practice_pace: Some(2), ..Asked::default() })?;
    let chromium = Chromium::start()?;
    let page = chromium.page(&served).await?;
    let record = page.begin(GLOVE, "keys").await?;
    page.energise(&record).await?;
    for line in ["30 1.4", "trip"] {
        page.say(&record, line).await?;
    }
    page.go(&format!("/sheet/{record}")).await?;
    page.wait_for(".stage").await?;
    let mut found = looked_at(&page, "sheet-tripped").await?;
    served.kill()?;
    page.wait_for("#link-lost").await?;
    found.extend(looked_at(&page, "sheet-link-lost").await?);
    assert!(found.is_empty(), "{}", found.join("\n"));
    page.close().await
}

/// What the checker finds, at two widths and in both themes; narrow, it fits; pictures are taken.
async fn looked_at(page: &Page, name: &str) -> Result<Vec<String>, Fault> {
    let mut found = Vec::new();
    for theme in Theme::ALL {
        for width in [1440, 360] {
            let set = "document.documentElement.dataset.theme = arguments[0]";
            page.js(set, &[theme.key().into()]).await?;
            page.size(width, 1000).await?;
            let here = format!("{name}, {}, {width} px", theme.key());
            found.extend(check(page).await?.into_iter().map(|one| format!("{here}: {one}")));
            if let Some(out) = fits(page).await? {
                found.push(format!("{here} scrolls sideways: {out}"));
            }
        }
    }
    of_this(page, name).await?;
    Ok(found)
}
