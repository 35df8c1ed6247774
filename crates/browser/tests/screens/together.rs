//! Two browsers type into one record at once, and a third one watches.

use browser::{Chromium, Fault, Page};

use crate::at_work::AtWork;

/// Readings of each browser.
const EACH: u32 = 15;

#[tokio::test]
#[ignore = "needs chromium and chromedriver"]
async fn each_reading_once_and_everyone_sees_the_same() -> Result<(), Fault> {
    let work = AtWork::start()?;
    let chromium = Chromium::start()?;
    let (first, second) = (chromium.page(&work.served).await?, chromium.page(&work.served).await?);
    let third = chromium.page(&work.served).await?;
    for line in ["energise", "rise"] {
        first.go(&work.sheet()).await?;
        first.say(&work.record, line).await?;
    }
    for page in [&first, &second] {
        page.go(&work.sheet()).await?;
        page.js(LISTEN, &[]).await?;
        page.wait_for(".stage [data-reading]").await?;
    }
    third.go(&work.watch()).await?;

    let (one, other) = tokio::join!(type_all(&first, 1), type_all(&second, 2));
    one?;
    other?;

    let readings = work.readings()?;
    assert_eq!(readings.len(), usize::try_from(2 * EACH).expect("few"), "{readings:?}");
    for browser in [1, 2] {
        for number in 0..EACH {
            let (kv, ua) = typed(browser, number);
            let same = |one: &&[f64; 3]| (one[1] - kv).abs() + (one[2] - ua).abs() < 1e-6;
            assert_eq!(readings.iter().filter(same).count(), 1, "{kv} kV, {ua} µA");
        }
    }
    let held = [points(&first, readings.len()).await?, points(&second, readings.len()).await?];
    assert_eq!(held[0], held[1], "the two pages hold the same in the same order");
    // A record tells its readings by the time of their first digit, a page as they were said.
    let mut by_time = held[0].clone();
    by_time.sort_by(|one, other| one[0].total_cmp(&other[0]));
    for (point, reading) in by_time.iter().zip(&readings) {
        let near = |at: usize| (point[at] - reading[at]).abs() < 0.01;
        assert!(near(0) && near(1) && near(2), "{by_time:?}\n{readings:?}");
    }
    let kv = typed(1, EACH - 1).0;
    third.wait_for_words("[data-live=kilovolts]", &format!("{kv}")).await?;
    for page in [first, second, third] {
        page.close().await?;
    }
    Ok(())
}

async fn type_all(page: &Page, browser: u32) -> Result<(), Fault> {
    for number in 0..EACH {
        let (kv, ua) = typed(browser, number);
        page.keys(&format!("{kv:.2}\n{ua:.2}\n")).await?;
        page.wait_for_words("[data-said]", &format!("{ua:.2}")).await?;
    }
    page.until("every line kept", KEPT, &[]).await.map(drop)
}

/// What a page holds, in its order, once it is all there.
async fn points(page: &Page, count: usize) -> Result<Vec<[f64; 3]>, Fault> {
    let all = "return window.held.length === arguments[0]";
    page.until("every point", all, &[count.into()]).await?;
    let held = page.js("return window.held", &[]).await?;
    Ok(serde_json::from_value(held).expect("the page holds three numbers of each"))
}

/// What a browser types: its own number stands in the current.
fn typed(browser: u32, number: u32) -> (f64, f64) {
    (10.0 + f64::from(number) * 0.5, f64::from(browser) + f64::from(number) * 0.01)
}

/// The newest lines that were sent, none without its acknowledgement.
const KEPT: &str = "const list = document.querySelector('[data-said]');
    return list.children.length > 0 &&
        [...list.children].every(row => row.innerText.includes(list.dataset.kept))";

/// Points by their numbers, as they come.
const LISTEN: &str = "window.held = [];
    document.addEventListener('points', ({ detail }) => {
        for (let at = 0; at < detail.count; at += 1)
            window.held[detail.first + at] = [detail.t_s[at], detail.kv[at], detail.ua[at]];
    })";
