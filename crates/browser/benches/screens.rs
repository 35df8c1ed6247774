//! Figures of the screens in Chromium, as rows for docs/performance.md: how each comes up, and how
//! long a reading is on its way from the meter to the screen. `cargo bench -p browser`, after
//! `cargo build --release`; a word chooses one: `paint`, `delay` or `load`. The word `guide` takes
//! the pictures of docs/hour.md instead.

mod guide;

use std::env;
use std::time::Duration;

use browser::{Asked, Chromium, Fault, Meter, Served, call, delays};
use tokio::time::sleep;

const GLOVE: &str = include_str!("../tests/jobs/glove.toml");

/// How long readings are looked at.
const LOOKED: Duration = Duration::from_secs(65);

fn main() -> Result<(), Fault> {
    let words: Vec<String> = env::args().skip(1).filter(|word| !word.starts_with('-')).collect();
    let wanted = |name: &str| words.is_empty() || words.iter().any(|word| word == name);
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build()?;
    runtime.block_on(async {
        if wanted("paint") {
            paint().await?;
        }
        if wanted("delay") {
            delay(Asked { practice_pace: Some(2), ..Asked::default() }).await?;
        }
        if wanted("load") {
            delay(Asked { every_s: Some(0.001), ..Asked::default() }).await?;
        }
        // A quarter of an hour, and no figures.
        if words.iter().any(|word| word == "guide") {
            guide::guide().await?;
        }
        Ok(())
    })
}

async fn paint() -> Result<(), Fault> {
    let folder = env::temp_dir().join(format!("ohmstead-paint-{}", std::process::id()));
    call(["demo", "--no-serve", "--dir", &folder.display().to_string()])?;
    let db = folder.join("records.db");
    let served = Served::start(Asked { copy_of: Some(&db), ..Asked::default() })?;
    std::fs::remove_dir_all(&folder)?;
    let chromium = Chromium::start()?;
    let page = chromium.page(&served).await?;
    println!("| screen | first paint, median of 9 | longest | bytes | shift |");
    println!("|---|---|---|---|---|");
    for path in page.walk(1, 4).await?.screens {
        let mut times = Vec::new();
        let (mut bytes, mut shift) = (0.0, 0.0);
        for _ in 0..9 {
            let came = page.came(&path).await?;
            times.push(came.first_paint_ms);
            (bytes, shift) = (came.bytes, f64::max(shift, came.shift));
        }
        times.sort_by(f64::total_cmp);
        let kilobytes = bytes / 1e3;
        println!(
            "| `{path}` | {:.0} ms | {:.0} ms | {kilobytes:.0} kB | {shift} |",
            times[4], times[8]
        );
    }
    page.close().await
}

/// A clock that goes twice as fast asks a meter 50 times a second; else it is said.
async fn delay(asked: Asked<'_>) -> Result<(), Fault> {
    let meter = Meter::start()?;
    let served = Served::start(asked)?;
    let chromium = Chromium::start()?;
    let page = chromium.page(&served).await?;
    let record = page.begin(GLOVE, &meter.address()).await?;
    page.energise(&record).await?;
    meter.show(10.0);
    page.note_changes("[data-live=current]").await?;
    let before = meter.answered().len();
    sleep(LOOKED).await;
    let shown = page.shown().await?;
    let answered = meter.answered();
    let delays = delays(&answered, &shown);
    let at = |part: usize| delays.get(delays.len() * part / 1000).copied().unwrap_or(f64::NAN);
    println!("| answers of the meter | shown | half within | 99 % within | longest |");
    println!("|---|---|---|---|---|");
    println!(
        "| {} in {} s | {} | {:.1} ms | {:.1} ms | {:.1} ms |",
        answered.len() - before,
        LOOKED.as_secs(),
        delays.len(),
        at(500),
        at(990),
        delays.last().copied().unwrap_or(f64::NAN)
    );
    page.close().await
}
