//! What a meter sends is shown, and the curve holds every reading of it.

use std::time::Duration;

use browser::{Asked, Chromium, Fault, Meter, Served, delays};
use tokio::time::interval;

use crate::at_work::readings;

const GLOVE: &str = include_str!("../jobs/glove.toml");

/// A second's readings, and some.
const READINGS: usize = 100;

#[tokio::test]
#[ignore = "needs chromium and chromedriver"]
async fn as_many_points_in_view_as_the_meter_sent() -> Result<(), Fault> {
    let meter = Meter::start()?;
    let served = Served::start(Asked { practice_pace: Some(2), ..Asked::default() })?;
    let chromium = Chromium::start()?;
    let page = chromium.page(&served).await?;
    let record = page.begin(GLOVE, &meter.address()).await?;
    page.energise(&record).await?;
    meter.show(10.0);
    page.note_changes("[data-live=current]").await?;
    let before = meter.answered().len();
    let enough = "return Number(document.querySelector('canvas[data-points]')
        ?.dataset.pointsInView) >= arguments[0]";
    page.until("a hundred points", enough, &[READINGS.into()]).await?;
    let shown = page.shown().await?;
    meter.fall_silent();

    // Each number that was shown is one that the meter sent, and was sent before it was shown.
    let delays = delays(&meter.answered(), &shown);
    assert!(delays.len() * 10 >= shown.len() * 9, "{} of {}", delays.len(), shown.len());
    assert!(delays.len() > READINGS / 4, "{} of {READINGS} were shown", delays.len());
    println!(
        "{} shown of {} sent, half within {:.1} ms, the longest {:.1} ms",
        delays.len(),
        meter.answered().len() - before,
        delays[delays.len() / 2],
        delays[delays.len() - 1]
    );

    // Once the last is kept, the curve has as many points as the record has readings.
    let points = "return Number(document.querySelector('canvas[data-points]').dataset.points)";
    let mut looks = interval(Duration::from_millis(200));
    let mut told = (0, 0);
    for _ in 0..50 {
        looks.tick().await;
        let held = page.js(points, &[]).await?.as_u64().unwrap_or_default();
        told = (usize::try_from(held).unwrap_or_default(), readings(&served, &record)?.len());
        if told.0 == told.1 {
            break;
        }
    }
    assert_eq!(told.0, told.1, "points on the curve, and readings in the record");
    page.close().await
}
