//! What stands on a screen and is not so any more, or not seen yet.

use std::fs::read_to_string;

use browser::{Asked, Chromium, Fault, Served};
use serde_json::json;

use crate::at_work::AtWork;

/// A cable, whose length decides what current is to be expected.
const CABLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/examples/cable.toml");

/// Another program goes on with the record: what is shown of it here is as it was kept.
#[tokio::test]
#[ignore = "needs chromium and chromedriver"]
async fn a_stage_of_which_nothing_is_told_says_that_the_link_is_lost() -> Result<(), Fault> {
    let work = AtWork::start()?;
    let chromium = Chromium::start()?;
    let page = chromium.page(&work.served).await?;
    page.go("/").await?;
    for line in ["energise", "rise", "20 0.41"] {
        page.say(&work.record, line).await?;
    }
    let beside = work.served.beside()?;
    page.go(&format!("http://{}{}", beside.address(), work.sheet())).await?;
    page.wait_for(".stage").await?;
    page.wait_for_words("#link-lost", "HAZARDOUS, LINK LOST").await?;
    page.wait_for_words("#hazards", "20.00 kV").await?;
    page.go(&format!("http://{}/", beside.address())).await?;
    page.wait_for_words("#hazards", "HAZARDOUS").await?;
    page.until("three seconds of words", HEARD, &[]).await?;
    assert!(!page.has("#link-lost").await?, "this page is told all that it shows");
    page.go(&work.sheet()).await?;
    page.wait_for(".stage").await?;
    page.until("three seconds of words", HEARD, &[]).await?;
    assert!(!page.has("#link-lost").await?, "here it is at work");
    page.close().await
}

/// One second more than a page waits.
const HEARD: &str = "return performance.now() > 3000";

/// Typed and pressed at once, before the plan has answered.
#[tokio::test]
#[ignore = "needs chromium and chromedriver"]
async fn a_record_begins_with_the_plan_that_was_seen() -> Result<(), Fault> {
    let served = Served::start(Asked::default())?;
    let chromium = Chromium::start()?;
    let page = chromium.page(&served).await?;
    page.go("/sheet/new").await?;
    let sheet = page.path().await?;
    page.js_later(TAKE, &[json!(read_to_string(CABLE)?)]).await?;
    page.go(&sheet).await?;
    page.js(TYPE_AND_PRESS, &[]).await?;
    page.until("the plan once more", LOOK_AGAIN, &[]).await?;
    assert_eq!(page.path().await?, sheet, "nothing is begun");
    page.js("document.querySelector('#begin-now button').click()", &[]).await?;
    page.until("the record", "return location.pathname !== arguments[0]", &[json!(sheet)]).await?;
    page.wait_for_words("main", "999 m").await?;
    page.close().await
}

const TAKE: &str = "const [text, done] = arguments;
    fetch(`${location.pathname}/job-file`, { method: 'POST', body: new URLSearchParams({ text }) })
        .then(() => done(null), done)";

const TYPE_AND_PRESS: &str = "document.querySelector('#who').value = 'first technician';
    const field = document.querySelector('[name=\"asset.cable.length_m\"]');
    field.value = '999';
    field.dispatchEvent(new Event('input', { bubbles: true }));
    document.querySelector('#begin-now button').click()";

const LOOK_AGAIN: &str = "return document.querySelector('#look-again')?.checkVisibility()";
