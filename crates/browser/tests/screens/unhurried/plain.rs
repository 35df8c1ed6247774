//! Without script the sheet reads and a reading can be said; with it nothing makes a sound that
//! nobody asked for.

use browser::{Chromium, Fault};

use crate::at_work::AtWork;

#[tokio::test]
#[ignore = "needs chromium and chromedriver"]
async fn a_reading_is_said_by_form() -> Result<(), Fault> {
    let work = AtWork::start()?;
    let chromium = Chromium::start()?;
    let page = chromium.page(&work.served).await?;
    page.go("/").await?;
    for line in ["energise", "rise"] {
        page.say(&work.record, line).await?;
    }
    page.without_script().await?;
    page.go(&work.sheet()).await?;
    assert!(page.text("main").await?.contains("HAZARDOUS"));
    assert!(page.text("#hazards").await?.contains("G-0512"));
    page.fill("[data-reading] [name=first]", "21.5").await?;
    page.fill("[data-reading] [name=second]", "1.37").await?;
    page.keys("\n").await?;
    page.wait_for_words("[data-live=kilovolts]", "21.5").await?;
    let readings = work.readings()?;
    assert_eq!(readings.len(), 1, "{readings:?}");
    assert!((readings[0][1] - 21.5).abs() + (readings[0][2] - 1.37).abs() < 1e-9);
    // A statement is a form as well.
    page.enter("[data-line$='stop'] button").await?;
    page.wait_for("[data-line$='off']").await?;
    page.close().await
}

#[tokio::test]
#[ignore = "needs chromium and chromedriver"]
async fn ticks_and_speech_are_off_until_somebody_wants_them() -> Result<(), Fault> {
    let work = AtWork::start()?;
    let chromium = Chromium::start()?;
    let page = chromium.page(&work.served).await?;
    // What would sound is counted from the first moment of every page.
    let count = "window.sounds = 0;
        for (const name of ['AudioContext', 'OfflineAudioContext']) {
            const real = window[name];
            window[name] = class extends real {
                constructor(...words) { super(...words); window.sounds += 1; }
            };
        }
        const speak = speechSynthesis.speak.bind(speechSynthesis);
        speechSynthesis.speak = words => { window.sounds += 1; speak(words); };";
    let source = serde_json::json!({ "source": count });
    page.cdp("Page.addScriptToEvaluateOnNewDocument", source).await?;
    page.go(&work.sheet()).await?;
    for line in ["energise", "rise", "50 1.2", "hold", "50 90"] {
        page.say(&work.record, line).await?;
    }
    page.wait_for("[data-ticks]").await?;
    page.wait_for_words("[data-live=current]", "90").await?;
    for button in ["[data-ticks]", "[data-speech]"] {
        assert_eq!(page.attribute(button, "aria-pressed").await?, "false", "{button}");
    }
    assert_eq!(page.js("return window.sounds", &[]).await?, 0);
    // And once they are wanted, they are on.
    page.enter("[data-ticks]").await?;
    page.until("ticks", "return window.sounds > 0", &[]).await?;
    assert_eq!(page.attribute("[data-ticks]", "aria-pressed").await?, "true");
    page.close().await
}
