//! Nothing leaves this machine, and nothing makes a sound that nobody asked for.

use browser::{Chromium, Fault};

use crate::site;

#[tokio::test]
#[ignore = "needs chromium and chromedriver"]
async fn all_that_is_fetched_comes_from_the_program() -> Result<(), Fault> {
    let served = site::served()?;
    let chromium = Chromium::start()?;
    let page = chromium.page(&served).await?;
    for path in &site::screens(&page).await? {
        page.go(path).await?;
        let fetched = "return performance.getEntries().filter(e => 'initiatorType' in e)
            .map(e => e.name)";
        let fetched = page.js(fetched, &[]).await?;
        let fetched = fetched.as_array().map(Vec::as_slice).unwrap_or_default();
        assert!(!fetched.is_empty(), "{path} fetched nothing, not even itself");
        let own = format!("http://{}/", served.address());
        for one in fetched {
            assert!(one.as_str().is_some_and(|one| one.starts_with(&own)), "{path} fetched {one}");
        }
        // What a policy of the page stopped is complained of, too.
        let mut complaints = page.complaints().await?;
        // That there is nothing at an address is complained of, too.
        complaints.retain(|one| !one.contains("404"));
        assert!(complaints.is_empty(), "{path}: {complaints:?}");
    }
    page.close().await
}
