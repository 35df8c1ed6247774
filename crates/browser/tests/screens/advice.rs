//! Advice on the stage: one line with its shape, the longer reason by key and by touch, the length
//! of what charging takes, and nothing that moves under a hand when it changes.

use browser::{Asked, Chromium, Fault, Page, Served};
use serde_json::Value;

const GLOVE: &str = include_str!("../jobs/glove.toml");

/// Which of the shapes are drawn.
const SHAPES: &str = "return [...document.querySelector('[data-advice] svg').children]
    .filter(one => getComputedStyle(one).display !== 'none').map(one => one.classList[0]).join()";

/// Where what stands below the advice begins.
const BELOW: &str = "return document.querySelector('.stage .current').getBoundingClientRect().top
    + scrollY";

/// Voltage is on and rises, by keys.
async fn rising(page: &Page) -> Result<String, Fault> {
    let record = page.begin(GLOVE, "keys").await?;
    page.energise(&record).await?;
    page.go(&format!("/sheet/{record}")).await?;
    page.wait_for(".stage [data-advice]").await?;
    Ok(record)
}

async fn urge(page: &Page, urge: &str) -> Result<(), Fault> {
    page.wait_for(&format!("[data-advice][data-urge={urge}]")).await?;
    let shapes = page.js(SHAPES, &[]).await?;
    assert_eq!(shapes, urge, "the shape says what the word says, and is alone");
    Ok(())
}

#[tokio::test]
#[ignore = "needs chromium and chromedriver"]
async fn its_reason_is_one_key_or_one_touch_away() -> Result<(), Fault> {
    let served = Served::start(Asked { practice_pace: Some(2), ..Asked::default() })?;
    let chromium = Chromium::start()?;
    let page = chromium.page(&served).await?;
    page.tablet(1180, 820).await?;
    let record = rising(&page).await?;
    // What is not known is said to be unknown.
    urge(&page, "unknown").await?;
    let before = page.js(BELOW, &[]).await?;
    page.say(&record, "20 1.2").await?;
    urge(&page, "carry-on").await?;
    page.wait_for_words("[data-charging-said]", "of what the set gives").await?;
    // Far above the plan's highest level: the first thing that advice is for.
    page.say(&record, "56 48").await?;
    urge(&page, "come-down").await?;
    assert_eq!(page.js(BELOW, &[]).await?, before, "what stands below moved under a hand");

    assert!(!page.has("#advice-more").await?);
    page.keys("!").await?;
    page.wait_for("#advice-more li").await?;
    assert!(page.texts("#advice-more li").await?.len() > 2);
    page.keys("!").await?;
    let folded = "return !document.querySelector('#advice-more').checkVisibility()";
    page.until("the reason folded", folded, &[]).await?;
    page.tap("[data-more]").await?;
    page.wait_for("#advice-more li").await?;
    page.tap("[data-more]").await?;
    page.until("the reason folded", folded, &[]).await?;

    // The colleague at the barrier reads the same, in letters as large as what comes next.
    page.go(&format!("/watch/{record}")).await?;
    urge(&page, "come-down").await?;
    let large = "const size = css =>
            parseFloat(getComputedStyle(document.querySelector(css)).fontSize);
        return size('.watch .advice') >= size('.watch .next')";
    assert_eq!(page.js(large, &[]).await?, Value::Bool(true));
    let scrolls = "return document.documentElement.scrollHeight > innerHeight";
    assert_eq!(page.js(scrolls, &[]).await?, Value::Bool(false), "it never scrolls");
    page.close().await
}

#[tokio::test]
#[ignore = "needs chromium and chromedriver"]
async fn what_is_expected_now_stands_in_words_table_and_curve() -> Result<(), Fault> {
    let served = Served::start(Asked { practice_pace: Some(2), ..Asked::default() })?;
    let chromium = Chromium::start()?;
    let page = chromium.page(&served).await?;
    let record = rising(&page).await?;
    for line in ["50 2.4", "hold", "50 2.3", "50 2.2"] {
        page.say(&record, line).await?;
    }
    page.wait_for_words("[data-expected]", "now").await?;
    page.wait_for_words(".ahead-said", "By the readings so far").await?;
    let rows = "return document.querySelectorAll('[data-ahead] tr').length";
    assert_eq!(page.js(rows, &[]).await?, 8);
    // Ink where nothing but the band ahead is drawn: behind the newest reading, on its own canvas.
    let inked = "const canvas = document.querySelector('figure.live canvas');
        const from = Math.round(canvas.width * 0.3);
        const data = canvas.getContext('2d')
            .getImageData(from, Math.round(canvas.height / 2), canvas.width - from,
                Math.round(canvas.height / 2)).data;
        return data.some((value, at) => at % 4 === 3 && value > 0)";
    page.until("the band ahead on the curve", inked, &[]).await?;
    page.close().await
}
