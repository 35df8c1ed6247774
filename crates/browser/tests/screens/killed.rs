//! The program is killed in the middle of a hold, with a page open, and started again.

use std::time::Duration;

use browser::{Chromium, Fault};
use tokio::time::Instant;

use crate::at_work::AtWork;

/// Two seconds of silence, and what a page needs to look at its clock.
const LOST_WITHIN: Duration = Duration::from_millis(2500);

#[tokio::test]
#[ignore = "needs chromium and chromedriver"]
async fn a_page_says_so_and_comes_back_by_itself() -> Result<(), Fault> {
    let mut work = AtWork::start()?;
    let chromium = Chromium::start()?;
    let page = chromium.page(&work.served).await?;
    page.go(&work.sheet()).await?;
    for line in ["energise", "rise", "20 0.41", "50 0.92", "hold", "50 0.83"] {
        page.say(&work.record, line).await?;
    }
    page.wait_for(".stage").await?;
    page.wait_for_words("#hazards", "HAZARDOUS").await?;
    assert!(!page.has("#link-lost").await?, "the link is there");

    work.served.kill()?;
    let killed = Instant::now();
    page.until_within(LOST_WITHIN, "LINK LOST", LOST, &[]).await?;
    println!("LINK LOST after {:.2} s", killed.elapsed().as_secs_f64());
    let said = page.text("#link-lost").await?;
    assert!(said.contains("HAZARDOUS, LINK LOST"), "{said}");
    // Typed while nobody hears it.
    page.keys("50\n0.80\n").await?;

    work.served.again()?;
    let begun = Instant::now();
    page.until("the link", "return !document.querySelector('#link-lost')", &[]).await?;
    println!("back {:.2} s after the program", begun.elapsed().as_secs_f64());
    page.wait_for_words("#hazards", "HAZARDOUS").await?;
    page.wait_for(".stage").await?;
    page.say(&work.record, "50 0.79").await?;

    let readings = work.readings()?;
    let count = |ua: f64| readings.iter().filter(|[_, _, one]| (one - ua).abs() < 1e-9).count();
    for ua in [0.41, 0.92, 0.83, 0.79] {
        assert_eq!(count(ua), 1, "{ua} µA in {readings:?}");
    }
    assert!(count(0.80) <= 1, "{readings:?}");
    // What nobody acknowledged is said to be so, or stands in the record.
    if count(0.80) == 0 {
        page.wait_for_words("[data-refusal]", "Not acknowledged").await?;
    }
    page.until("as many points as readings", POINTS, &[readings.len().into()]).await?;
    // The hazard line stands on every other page of the new program, too.
    page.go("/").await?;
    assert!(page.text("#hazards").await?.contains("HAZARDOUS"));
    page.close().await
}

const LOST: &str = "return document.querySelector('#link-lost')?.checkVisibility()";

/// Points held by all curves of the page.
const POINTS: &str = "return [...document.querySelectorAll('canvas[data-points]')]
    .reduce((sum, one) => sum + Number(one.dataset.points), 0) === arguments[0]";
