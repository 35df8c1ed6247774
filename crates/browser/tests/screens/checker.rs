//! A screen before an automated checker of WCAG 2.2 AA.

use std::fs;

use browser::{Asked, Chromium, Fault, Page, Served};
use serde_json::{Value, json};

/// The rules that must hold; `best-practice` is told and fails nothing.
const RULES: &[&str] = &["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"];

/// What the checker finds on what is shown now.
pub(crate) async fn check(page: &Page) -> Result<Vec<String>, Fault> {
    page.js(&format!("{}; return true", checker()?), &[]).await?;
    let run = "const done = arguments[1];
        axe.run({ runOnly: { type: 'tag', values: [...arguments[0], 'best-practice'] } })
            .then(r => done(r.violations.map(v => ({
                id: v.id, help: v.help, tags: v.tags,
                at: v.nodes.map(n => n.target.join(' ') + ': ' + n.failureSummary),
            }))), e => done([{ id: String(e), tags: arguments[0], help: '', at: [] }]))";
    let found = page.js_later(run, &[json!(RULES)]).await?;
    let mut broken = Vec::new();
    for one in found.as_array().map(Vec::as_slice).unwrap_or_default() {
        let text = |key: &str| one[key].as_str().unwrap_or_default().to_owned();
        let told = format!("{}: {} {}", text("id"), text("help"), one["at"]);
        let is_rule = |tag: &Value| tag.as_str().is_some_and(|tag| RULES.contains(&tag));
        if one["tags"].as_array().is_some_and(|tags| tags.iter().any(is_rule)) {
            broken.push(told);
        } else {
            println!("advice, {}: {}", page.path().await?, text("id"));
        }
    }
    Ok(broken)
}

/// The checker's own script, where `.ci/run` puts it.
fn checker() -> Result<String, Fault> {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/../..");
    Ok(fs::read_to_string(format!("{root}/target/checker/axe_playwright_python/axe.min.js"))?)
}

#[tokio::test]
#[ignore = "needs chromium and chromedriver"]
async fn the_checker_sees_a_fault() -> Result<(), Fault> {
    let served = Served::start(Asked::default())?;
    let chromium = Chromium::start()?;
    let page = chromium.page(&served).await?;
    page.go("/").await?;
    let faults = "document.querySelector('main').insertAdjacentHTML('beforeend',
        '<input><button></button>')";
    page.js(faults, &[]).await?;
    let found = check(&page).await?;
    for rule in ["label: ", "button-name: "] {
        assert!(found.iter().any(|one| one.starts_with(rule)), "{rule} is not in {found:?}");
    }
    page.close().await
}
