//! A whole test, from *today* to the signed report: once by keyboard alone, once by touch alone.

use std::time::Duration;

use browser::{Asked, Chromium, Fault, Page, Served};
use serde_json::{Value, json};

/// A minute is longer than a gloved thumb takes for a reading; half an hour under ground is not
/// longer than a test may wait.
const PACE: u32 = 25;

/// The whole of the ground time, and what a machine under load adds.
const GROUND_TIME: Duration = Duration::from_secs(150);

#[tokio::test]
#[ignore = "needs chromium and chromedriver"]
async fn by_keyboard_alone() -> Result<(), Fault> {
    let served = Served::start(Asked { practice_pace: Some(PACE), ..Asked::default() })?;
    let chromium = Chromium::start()?;
    let page = chromium.page(&served).await?;
    // Where a pointer would do anything, it is found out at the end.
    page.go("/").await?;
    whole(&Hand { page: &page, touches: false }).await?;
    assert_signed(&served)?;
    page.close().await
}

#[tokio::test]
#[ignore = "needs chromium and chromedriver"]
async fn by_touch_alone() -> Result<(), Fault> {
    let served = Served::start(Asked { practice_pace: Some(PACE), ..Asked::default() })?;
    let chromium = Chromium::start()?;
    let page = chromium.page(&served).await?;
    page.tablet(820, 1180).await?;
    page.go("/").await?;
    whole(&Hand { page: &page, touches: true }).await?;
    assert_signed(&served)?;
    page.close().await
}

/// A person at a screen.
struct Hand<'a> {
    page: &'a Page,
    touches: bool,
}

impl Hand<'_> {
    /// Follows a link or presses a button.
    async fn press(&self, css: &str) -> Result<(), Fault> {
        if self.touches { self.page.tap(css).await } else { self.page.enter(css).await }
    }

    /// Opens what is folded, where it is.
    async fn unfold(&self, details: &str) -> Result<(), Fault> {
        self.page.wait_for(&format!("{details} > summary")).await?;
        if !self.page.has(&format!("{details}[open]")).await? {
            self.press(&format!("{details} > summary")).await?;
            self.page.wait_for(&format!("{details}[open]")).await?;
        }
        Ok(())
    }

    /// Chooses one of a few.
    async fn choose(&self, name: &str, value: &str) -> Result<(), Fault> {
        let box_of = |value: &str| format!("input[name='{name}'][value='{value}']");
        if self.touches {
            self.page.tap(&box_of(value)).await?;
        } else {
            self.page.tab_to(&format!("input[name='{name}']")).await?;
            for _ in 0..30 {
                if self.page.has(&format!("{}:checked", box_of(value))).await? {
                    break;
                }
                let on_it = self.page.has(&format!("{}:focus", box_of(value))).await?;
                self.page.keys(if on_it { " " } else { "\u{e015}" }).await?;
            }
        }
        self.page.wait_for(&format!("{}:checked", box_of(value))).await
    }

    /// Writes into a field; a tablet's own keyboard gives keys too.
    async fn write(&self, css: &str, text: &str) -> Result<(), Fault> {
        if self.touches {
            self.page.tap(css).await?;
            self.page.chord(fantoccini::key::Key::Control, 'a').await?;
            self.page.keys(text).await
        } else {
            self.page.fill(css, text).await
        }
    }

    /// Ticks every hold point that is not ticked yet, one after the other.
    async fn tick_all(&self) -> Result<(), Fault> {
        let open = "li[data-hold] form.tick[data-line^='tick '] button";
        while self.page.has(open).await? {
            let which = "return document.querySelector(arguments[0]).id";
            let id = self.page.js(which, &[open.into()]).await?;
            let id = id.as_str().unwrap_or_default().to_owned();
            self.press(&format!("#{id}")).await?;
            let done = "return document.getElementById(arguments[0])?.closest('form')
                .dataset.line.startsWith('untick ')";
            self.page.until("the tick", done, &[id.into()]).await?;
        }
        Ok(())
    }

    /// Makes a statement, with what is to be written beside it; nothing leaves what stands there.
    async fn state(&self, words: &str, fields: &[&str]) -> Result<(), Fault> {
        let css = format!("[data-line='{words}']");
        self.page.wait_for(&css).await?;
        self.page.until("a page that stands still", STILL, &[]).await?;
        let before = self.page.js(OFFERED, &[]).await?;
        self.make(&css, fields).await?;
        let other = format!("return ({OFFERED_OF}) !== arguments[0]");
        self.page.until(&format!("{words:?} in the record"), &other, &[before]).await.map(drop)
    }

    async fn make(&self, css: &str, fields: &[&str]) -> Result<(), Fault> {
        if self.touches {
            let what = if fields.is_empty() { "button" } else { "summary" };
            self.page.tap(&format!("{css} > {what}")).await?;
            let named = ["first", "second"].iter().zip(fields);
            for (name, text) in named.filter(|(_, text)| !text.is_empty()) {
                self.write(&format!("{css} [name='{name}']"), text).await?;
            }
            if !fields.is_empty() {
                self.page.tap(&format!("{css} form button")).await?;
            }
        } else {
            let key = self.page.attribute(css, "data-key").await?;
            if key.chars().count() == 1 {
                self.page.keys(&format!("{key}{}", fields.join("\t"))).await?;
                if !fields.is_empty() {
                    self.page.keys("\n").await?;
                }
            } else {
                self.page.enter(&format!("{css} > button")).await?;
            }
        }
        Ok(())
    }

    /// Reads the needles: kilovolts, microamperes.
    async fn read(&self, kv: &str, ua: &str) -> Result<(), Fault> {
        if self.touches {
            for figure in kv.chars() {
                self.page.tap(&format!("[data-press='{figure}']")).await?;
            }
            self.page.tap("[data-press=enter]").await?;
            for figure in ua.chars() {
                self.page.tap(&format!("[data-press='{figure}']")).await?;
            }
            self.page.tap("[data-press=enter]").await?;
        } else {
            self.page.keys(&format!("{kv}\n{ua}\n")).await?;
        }
        self.kept(&format!("{kv} kV, {ua} µA")).await
    }

    /// Waits until the last line is acknowledged.
    async fn kept(&self, said: &str) -> Result<(), Fault> {
        let script = "const rows = [...document.querySelectorAll('[data-said] li')];
            return rows.some(row => row.innerText.includes(arguments[0])
                && row.innerText.includes(document.querySelector('[data-said]').dataset.kept))";
        self.page.until(&format!("{said:?} kept"), script, &[json!(said)]).await.map(drop)
    }
}

async fn whole(hand: &Hand<'_>) -> Result<(), Fault> {
    plates(hand).await?;
    before(hand).await?;
    voltage(hand).await?;
    down(hand).await?;
    after(hand).await
}

/// The plates are typed, the plan appears, the record is begun.
async fn plates(hand: &Hand<'_>) -> Result<(), Fault> {
    let page = hand.page;
    if page.has("a[href='/sheet/new']").await? {
        hand.press("a[href='/sheet/new']").await?;
    } else {
        page.go("/sheet/new").await?;
    }
    page.wait_for("[data-sheet-form]").await?;
    hand.choose("asset.class", "protective").await?;
    hand.choose("test.purpose", "maintenance").await?;
    hand.write("#f-asset-id-in", "G-0512").await?;
    page.wait_for("[name='asset.protective.item']").await?;
    hand.choose("asset.protective.item", "glove").await?;
    hand.choose("asset.protective.class", "2").await?;
    for (group, fields) in PLATES {
        hand.unfold(&format!("details.group:has({group})")).await?;
        for (name, text) in *fields {
            hand.write(&format!("#f-{name}-in"), text).await?;
        }
    }
    // The plan of a class 2 glove: 29 CFR 1910.137, Table I-2, direct voltage.
    page.wait_for_words("#plan-line", "50 kV").await?;
    page.wait_for_words("#plan-now", "3 min").await?;
    hand.write("#who", "first technician").await?;
    hand.press("#begin-now button").await?;
    page.wait_for("main[data-record]").await
}

/// Fields of each group, by a field in it.
const PLATES: &[(&str, &[(&str, &str)])] = &[
    (
        "#f-set-rated-kv",
        &[
            ("set-id", "HV set 2"),
            ("set-rated-kv", "80"),
            ("set-rated-ma", "5"),
            ("set-voltmeter-ranges-kv", "20 40 80"),
            ("set-ammeter-ranges-ua", "10 100 1000 5000"),
            ("set-trip-ma", "0.5 5"),
            // A field of a day takes month, day and year.
            ("set-calibrated", "03022026"),
            ("set-calibration-interval-months", "12"),
        ],
    ),
    (
        "#f-discharge-tool-resistance-kohm",
        &[
            ("discharge-tool-resistance-kohm", "50"),
            ("discharge-tool-rated-kv", "100"),
            ("discharge-tool-rated-j", "2000"),
        ],
    ),
];

/// Grounded, connected, looked over; the ground comes off last.
async fn before(hand: &Hand<'_>) -> Result<(), Fault> {
    hand.state("@1 ground", &["1", "cuff"]).await?;
    hand.state("@1 lead", &[]).await?;
    hand.state("@1 check", &[]).await?;
    hand.tick_all().await?;
    hand.state("@1 lift", &[""]).await
}

/// Up, held, read, down.
async fn voltage(hand: &Hand<'_>) -> Result<(), Fault> {
    let page = hand.page;
    hand.state("here watch", &[]).await?;
    hand.state("@1 energise", &[]).await?;
    page.wait_for("main[data-stage=true]").await?;
    page.wait_for_words("#hazards", "HAZARDOUS").await?;
    hand.state("@1 rise", &[]).await?;
    hand.read("25", "1.2").await?;
    hand.read("50", "2.4").await?;
    hand.state("@1 hold", &[]).await?;
    // The stay is served when the page asks to come down; until then the needle falls.
    let asks = "return document.querySelector('[data-line=\"@1 stop\"] .first') !== null";
    let mut hundredths = 231;
    while page.js(asks, &[]).await? == Value::Bool(false) {
        hand.read("50", &format!("{:.2}", f64::from(hundredths) / 100.0)).await?;
        hundredths -= 1;
        // Nobody reads a needle twenty times a second; five seconds of practice lie between two.
        page.js_later("setTimeout(arguments[0], 200)", &[]).await?;
        assert!(hundredths > 100, "the hold of three minutes never ends");
    }
    hand.state("@1 stop", &[]).await?;
    hand.state("@1 off", &[]).await
}

/// Nothing is left of it but the ground.
async fn down(hand: &Hand<'_>) -> Result<(), Fault> {
    let page = hand.page;
    hand.state("@1 residual", &["?"]).await?;
    hand.state("@1 tool", &[]).await?;
    hand.state("@1 ground", &["2", "cuff"]).await?;
    page.wait_for("main[data-stage=false]").await?;
    // The page says by itself when the ground has been on for its time.
    let served = "return document.querySelector('[data-line=\"@1 leave\"] .first, \
        [data-line=\"@1 lift\"] .first') !== null";
    page.until_within(GROUND_TIME, "the end of the ground time", served, &[]).await?;
    hand.state("@1 leave", &["", "the owner"]).await?;
    hand.state("@1 release", &[]).await
}

/// Closed, judged, signed, printed.
async fn after(hand: &Hand<'_>) -> Result<(), Fault> {
    let page = hand.page;
    hand.state("close", &[]).await?;
    page.wait_for_words("#findings", "ACCEPT").await?;
    hand.unfold("#signatures > details").await?;
    hand.write("#sign-name", "first technician").await?;
    page.until("a page that stands still", STILL, &[]).await?;
    hand.press("form.sign button").await?;
    page.wait_for_words("#signatures", "first technician").await?;
    let fetched = page
        .js_later(
            "const link = document.querySelector('a[href$=\"report.pdf\"]');
            fetch(link.href).then(async answer => {
                const bytes = new Uint8Array(await answer.arrayBuffer());
                arguments[0]([answer.status, new TextDecoder().decode(bytes.slice(0, 5)),
                    bytes.length]);
            })",
            &[],
        )
        .await?;
    assert_eq!(fetched[0], 200, "{fetched}");
    assert_eq!(fetched[1], "%PDF-", "{fetched}");
    Ok(())
}

/// What came of it, as a command tells it: one record, closed.
fn assert_signed(served: &Served) -> Result<(), Fault> {
    let list = served.call(&["list", "records", "--json"])?;
    let list: Value = serde_json::from_slice(&list.stdout).expect("a list is JSON");
    assert_eq!(list.as_array().map(Vec::len), Some(1), "{list}");
    assert_eq!(list[0]["closed"], true, "{list}");
    assert_eq!(list[0]["kind"], "practice", "{list}");
    let verified = served.call(&["verify"])?;
    assert!(verified.status.success(), "{}", String::from_utf8_lossy(&verified.stdout));
    Ok(())
}

/// What can be said now, as one word.
const OFFERED_OF: &str = "(document.getElementById('main').dataset.deeds ?? '') + ' ' +
    (document.getElementById('acts')?.dataset.acts ?? '')";
const OFFERED: &str = "return (document.getElementById('main').dataset.deeds ?? '') + ' ' +
    (document.getElementById('acts')?.dataset.acts ?? '')";

/// Nothing was put in another's place for a third of a second: a hand reaches for what stands.
const STILL: &str = "const now = [document.getElementById('main'),
        document.getElementById('acts')?.firstElementChild];
    if (now.some((one, at) => one !== window.stood?.[at])) {
        window.stood = now;
        window.stoodSince = performance.now();
    }
    return performance.now() - window.stoodSince > 350";
