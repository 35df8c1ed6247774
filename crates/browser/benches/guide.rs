//! Two whole tests on the practice set as series of pictures for docs/hour.md: a cable of 9 km that
//! charges for more than two hours, and a 13.8 kV winding by graded steps. They stand in
//! `target/guide`, and are kept in docs with 16 colours.

use std::path::{Path, PathBuf};
use std::time::Duration;

use browser::{Asked, Chromium, Fault, Page, Served, Theme};
use serde_json::json;

const CABLE: &str = include_str!("../tests/jobs/long-cable.toml");
const WINDING: &str = include_str!("../tests/jobs/graded-winding.toml");

/// A tablet on its side `[px]`.
const TABLET: (u32, u32) = (1180, 820);

/// The longest wait of the practice hand is ten hours under ground.
const PATIENCE: Duration = Duration::from_secs(900);

/// One picture: its name, when it is taken, and what is at the head of the screen then.
struct Shot {
    name: &'static str,
    /// What the words of the stage must hold.
    of: &'static str,
    /// Kilovolts, at the least and at the most.
    kv: (f64, f64),
    look: Look,
}

/// What is looked at.
enum Look {
    /// The stage from its head.
    Stage,
    /// The same with the longer reason of the advice.
    Why,
    /// The curves.
    Chart,
    /// The second screen.
    Watch,
}

const fn shot(name: &'static str, of: &'static str, kv: (f64, f64), look: Look) -> Shot {
    Shot { name, of, kv, look }
}

const HIGHEST: f64 = 1000.0;

const OF_CABLE: &[Shot] = &[
    shot("cable-1-charging", "rising", (8.0, HIGHEST), Look::Stage),
    shot("cable-2-an-hour-on", "rising", (45.0, HIGHEST), Look::Chart),
    shot("cable-3-barrier", "rising", (70.0, HIGHEST), Look::Watch),
    shot("cable-4-holding", "holding", (95.0, HIGHEST), Look::Stage),
    shot("cable-5-why", "holding", (95.0, HIGHEST), Look::Why),
    shot("cable-6-curves", "holding", (95.0, HIGHEST), Look::Chart),
    shot("cable-7-falling", "coming down", (20.0, 80.0), Look::Stage),
    shot("cable-8-last-volts", "coming down", (5.5, 15.0), Look::Stage),
];

const OF_WINDING: &[Shot] = &[
    shot("winding-1-resistance", "resistance test", (4.9, HIGHEST), Look::Stage),
    shot("winding-2-first-step", "dwelling · step 1 ", (7.0, HIGHEST), Look::Stage),
    shot("winding-3-ahead", "dwelling · step 1 ", (7.0, HIGHEST), Look::Chart),
    shot("winding-4-why", "dwelling · step 3 ", (9.0, HIGHEST), Look::Why),
    shot("winding-5-stairs", "dwelling · step 7 ", (16.0, HIGHEST), Look::Chart),
    shot("winding-6-barrier", "dwelling · step 9 ", (18.0, HIGHEST), Look::Watch),
    shot("winding-7-last-level", "holding · step 11 ", (22.0, HIGHEST), Look::Stage),
];

/// Both series.
pub(crate) async fn guide() -> Result<(), Fault> {
    series(CABLE, 60, OF_CABLE).await?;
    series(WINDING, 100, OF_WINDING).await
}

async fn series(job: &str, pace: u32, shots: &[Shot]) -> Result<(), Fault> {
    let served = Served::start(Asked { practice_pace: Some(pace), ..Asked::default() })?;
    let chromium = Chromium::start()?;
    let (stage, barrier) = (chromium.page(&served).await?, chromium.page(&served).await?);
    for page in [&stage, &barrier] {
        page.size(TABLET.0, TABLET.1).await?;
    }
    let record = stage.begin(job, "sim").await?;
    barrier.theme(Theme::Dim).await?;
    barrier.go(&format!("/watch/{record}")).await?;
    for shot in shots {
        taken(if matches!(shot.look, Look::Watch) { &barrier } else { &stage }, shot).await?;
    }
    stage.close().await?;
    barrier.close().await
}

async fn taken(page: &Page, shot: &Shot) -> Result<(), Fault> {
    let words = [json!(shot.of), json!(shot.kv.0), json!(shot.kv.1)];
    page.until_within(PATIENCE, shot.name, STANDS, &words).await?;
    let look = match shot.look {
        Look::Watch => "top",
        Look::Stage => "stage",
        Look::Why => "why",
        Look::Chart => "chart",
    };
    page.js(LOOK, &[json!(look)]).await?;
    page.until("two frames", FRAMES, &[]).await?;
    page.picture(&file(shot.name), TABLET.0, false).await?;
    println!("{}", file(shot.name).display());
    Ok(())
}

fn file(name: &str) -> PathBuf {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../../target/guide"))
        .join(format!("{name}.png"))
}

/// The words of the stage hold these, and the voltage lies there.
const STANDS: &str = "const [of, least, most] = arguments;
    const kv = Number(document.querySelector('[data-live=kilovolts]')?.textContent);
    const words = document.querySelector('[data-live=of]')?.textContent ?? '';
    return kv >= least && kv <= most && words.includes(of);";

/// Opens what is looked at, and puts it at the head of the screen.
const LOOK: &str = "const why = document.querySelector('[data-more]');
    if (why && (why.ariaExpanded === 'true') !== (arguments[0] === 'why')) why.click();
    const chart = document.querySelector('figure.live:not([hidden])');
    if (arguments[0] === 'chart') chart?.scrollIntoView();
    else if (arguments[0] === 'why') document.querySelector('.stage .next').scrollIntoView();
    else if (arguments[0] === 'stage') scrollTo(0, 0), scrollTo(0, scrollY
        + document.querySelector('.stage > .state').getBoundingClientRect().top);
    else scrollTo(0, 0);";

const FRAMES: &str = "window.framed = (window.framed ?? 0) + 1;
    if (window.framed < 8) return false;
    window.framed = 0;
    return true;";
