//! A log of another make is given to a sheet: what is understood of it is seen, put right, and only
//! then taken in.

use std::fs::read_to_string;

use browser::{Asked, Chromium, Fault, Page, Served};
use serde_json::json;

use crate::checker::check;
use crate::narrow::fits;
use crate::pictures::{SIZES, of_this};

const CABLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/examples/cable.toml");

/// Nothing says in what the voltage is: a person has to.
const LOG: &str = "Bench log 3\nElapsed (s);U;I (nA)\n1,0;13000;2505,5\n20,0;13001;1490,0\n";

#[tokio::test]
#[ignore = "needs chromium and chromedriver"]
async fn seen_put_right_and_taken_in() -> Result<(), Fault> {
    let served = Served::start(Asked::default())?;
    let chromium = Chromium::start()?;
    let page = chromium.page(&served).await?;
    let sheet = drafted(&page).await?;
    page.go(&sheet).await?;
    page.enter("a[href$='/log']").await?;
    page.wait_for("#log-file").await?;
    let mut found = looked_at(&page, "log-asked").await?;
    // As a browser does when a file is picked.
    page.js(PICK, &[json!(LOG)]).await?;
    page.wait_for_words("#log .fault", "say what the voltage is in").await?;
    assert!(!page.has("button[value=take]").await?, "nothing is taken in that is in doubt");
    page.js("document.getElementById('log-kv-unit').value = 'V'", &[]).await?;
    page.enter("#log-again").await?;
    page.wait_for("#log-rows").await?;
    let rows = page.text("#log-rows").await?;
    assert!(rows.contains("13") && rows.contains("2.5055"), "{rows}");
    assert!(page.text("#log-span").await?.contains("2 rows"));
    found.extend(looked_at(&page, "log-understood").await?);
    // What is changed after it was seen is shown once more before it is taken in.
    page.js("document.getElementById('log-ua-unit').value = 'uA'", &[]).await?;
    page.enter("button[value=take]").await?;
    page.wait_for_words("#log [role=alert]", "Look once more").await?;
    page.js("document.getElementById('log-ua-unit').value = 'nA'", &[]).await?;
    page.enter("#log-again").await?;
    page.wait_for_words("#log-rows", "2.5055").await?;
    page.enter("button[value=take]").await?;
    page.wait_for_words(".banner", "TRANSCRIBED").await?;
    assert!(page.path().await?.starts_with("/sheet/"));
    assert!(found.is_empty(), "{}", found.join("\n"));
    page.close().await
}

/// A sheet with the example's job; its address.
async fn drafted(page: &Page) -> Result<String, Fault> {
    page.go("/sheet/new").await?;
    page.wait_for("[data-sheet-form]").await?;
    let sheet = page.path().await?;
    let script = "const done = arguments[arguments.length - 1];
        fetch(location.pathname + '/job-file',
            { method: 'POST', body: new URLSearchParams({ text: arguments[0] }) })
            .then(answer => done(answer.ok));";
    let took = page.js_later(script, &[json!(read_to_string(CABLE)?)]).await?;
    assert_eq!(took, true, "the job file is taken");
    Ok(sheet)
}

async fn looked_at(page: &Page, name: &str) -> Result<Vec<String>, Fault> {
    let mut found = check(page).await?;
    for (width, height) in SIZES {
        page.size(width, height).await?;
        found.extend(fits(page).await?.map(|out| format!("{width} px: {out}")));
    }
    of_this(page, name).await?;
    Ok(found.into_iter().map(|one| format!("{name}: {one}")).collect())
}

const PICK: &str = "const files = new DataTransfer();
    files.items.add(new File([arguments[0]], 'log.txt', { type: 'text/plain' }));
    const input = document.getElementById('log-file');
    input.files = files.files;
    input.dispatchEvent(new Event('change', { bubbles: true }));";
