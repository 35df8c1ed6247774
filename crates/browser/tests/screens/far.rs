//! The guard of the far end at a telephone, and the operator at the set: heard, silent, calling.

use std::fs::read_to_string;
use std::time::Duration;

use browser::{Asked, Chromium, Fault, Page, Served};
use serde_json::Value;

use crate::checker::check;
use crate::narrow::fits;
use crate::pictures::{SIZES, of_this};

const CABLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/examples/cable.toml");

/// Time goes so many times faster, so that the far end is missed within seconds.
const PACE: u32 = 20;

/// Twice the time that the far end is given, and what a page needs.
const MISSED: Duration = Duration::from_secs(20);

/// What a gloved thumb meets. Common practice, no source `[px]`.
const LARGE: f64 = 120.0;

#[tokio::test]
#[ignore = "needs chromium and chromedriver"]
async fn heard_silent_and_calling() -> Result<(), Fault> {
    let served = Served::start(Asked { practice_pace: Some(PACE), ..Asked::default() })?;
    let chromium = Chromium::start()?;
    let (operator, guard) = (chromium.page(&served).await?, chromium.page(&served).await?);
    let job = read_to_string(CABLE)? + "\n[people]\nfar_end_every_s = 120\n";
    let record = operator.begin(&job, "keys").await?;
    guard.size(360, 740).await?;
    guard.go(&format!("/far/{record}")).await?;
    let mut found = looked_at(&guard, "far-not-heard").await?;
    for line in ["@A ground 1", "@B ground 2", "@C ground 3", "lead A", "check A"] {
        operator.say(&record, line).await?;
    }
    operator.confirm(&record).await?;
    for line in ["@A lift 1", "here watch"] {
        operator.say(&record, line).await?;
    }
    // By keyboard, then by thumb.
    guard.enter("#far-here").await?;
    guard.wait_for_words("[data-far-told]", "In the record").await?;
    for line in ["energise", "rise"] {
        operator.say(&record, line).await?;
    }
    guard.wait_for_words("[data-state]", "HAZARDOUS").await?;
    guard.wait_for_words("#far-here", "next answer within").await?;
    operator.go(&format!("/sheet/{record}")).await?;
    operator.wait_for(".stage").await?;
    operator.wait_for_words(".far-end", "heard").await?;

    let silent = "return document.querySelector('[data-standing]').textContent
        .includes('far-end guard was not heard')";
    operator.until_within(MISSED, "the silence", silent, &[]).await?;
    operator.wait_for_words("[data-advice]", "Come down").await?;
    operator.wait_for_words("[data-live=next]", "bring the voltage down").await?;
    operator.wait_for_words("#hazards", "COME DOWN").await?;
    found.extend(looked_at(&guard, "far-silent").await?);

    guard.tap("#far-call").await?;
    operator.wait_for_words("[data-standing]", "somebody is near").await?;
    guard.tap("#far-here").await?;
    let heard = "return !document.querySelector('[data-standing]').textContent.includes('DOWN')";
    operator.until("the end of the call", heard, &[]).await?;
    assert!(found.is_empty(), "{}", found.join("\n"));
    guard.close().await?;
    operator.close().await
}

/// What the checker finds, what does not fit, and what is too small for a thumb.
async fn looked_at(page: &Page, name: &str) -> Result<Vec<String>, Fault> {
    let mut found = check(page).await?;
    for (width, height) in SIZES {
        page.size(width, height).await?;
        found.extend(fits(page).await?.map(|out| format!("{width} px: {out}")));
        for button in ["#far-here", "#far-call"] {
            let size = page.js(SIZE, &[button.into()]).await?;
            let side = |at: usize| size.get(at).and_then(Value::as_f64).unwrap_or_default();
            // Seen without scrolling, whatever else is said above.
            let hidden = side(3) > side(4);
            if side(0) < side(2) - 2.0 || side(1) < LARGE || hidden {
                found.push(format!("{width} px: {button} is {size}"));
            }
        }
    }
    of_this(page, name).await?;
    page.size(360, 740).await?;
    Ok(found.into_iter().map(|one| format!("{name}: {one}")).collect())
}

/// Width and height of a button, and the room that it has; its lower edge, and where the line at
/// the foot begins.
const SIZE: &str = "const one = document.querySelector(arguments[0]);
    scrollTo(0, 0);
    const { width, height, bottom } = one.getBoundingClientRect();
    const foot = document.querySelector('body > footer').getBoundingClientRect().top;
    return [width, height, one.closest('.far').getBoundingClientRect().width, bottom, foot]";
