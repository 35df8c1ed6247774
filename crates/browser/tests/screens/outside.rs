//! Nothing leaves this machine.

use browser::{Fault, Page};

/// What the screen that is shown fetched from elsewhere, or was kept from fetching.
pub(crate) async fn fetched(page: &Page, address: &str) -> Result<Vec<String>, Fault> {
    let fetched = "return performance.getEntries().filter(e => 'initiatorType' in e)
        .map(e => e.name)";
    let fetched = page.js(fetched, &[]).await?;
    let fetched = fetched.as_array().map(Vec::as_slice).unwrap_or_default();
    let own = format!("http://{address}/");
    let from_here =
        |one: &&serde_json::Value| one.as_str().is_some_and(|one| one.starts_with(&own));
    let mut found: Vec<String> =
        fetched.iter().filter(|one| !from_here(one)).map(|one| format!("fetched {one}")).collect();
    if fetched.is_empty() {
        found.push("fetched nothing, not even itself".to_owned());
    }
    // What a policy of the page stopped is complained of, too; and that nothing is at an address.
    let complaints = page.complaints().await?;
    found.extend(complaints.into_iter().filter(|one| !one.contains("404")));
    Ok(found)
}
