//! How each screen comes up: first paint, bytes, and that nothing moves once it is painted.

use browser::{Chromium, Fault};

use crate::site;

/// What a screen may weigh `[B]`.
const BYTES: f64 = 300e3;

/// From going there to the first paint, on a quiet machine `[ms]`. A test beside others says only
/// that it is of this order; `cargo bench -p browser` gives the figure.
const FIRST_PAINT_MS: f64 = 200.0;
const ORDER: f64 = 10.0;

#[tokio::test]
#[ignore = "needs chromium and chromedriver"]
async fn every_screen_of_the_site() -> Result<(), Fault> {
    let served = site::served()?;
    let chromium = Chromium::start()?;
    let page = chromium.page(&served).await?;
    let mut over = Vec::new();
    for path in &site::screens(&page).await? {
        for width in [1440, 360] {
            page.size(width, 1000).await?;
            let came = page.came(path).await?;
            println!("{path} {width} px: {came:?}");
            let well = came.bytes > 1000.0
                && came.bytes <= BYTES
                && came.shift == 0.0
                && came.first_paint_ms <= FIRST_PAINT_MS * ORDER;
            if !well {
                over.push(format!("{path} at {width} px: {came:?}"));
            }
        }
    }
    assert!(over.is_empty(), "{}", over.join("\n"));
    page.close().await
}
