//! What Chromium itself measures.

use serde_json::{Value, json};

use crate::{Answered, Fault, Page};

/// How a screen came up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Came {
    /// From the beginning of going there to the first paint `[ms]`.
    pub first_paint_ms: f64,
    /// What went over the wire, with everything it needs `[B]`.
    pub bytes: f64,
    /// How much of it moved after it was painted; zero is nothing.
    pub shift: f64,
}

/// A number that changed on a screen.
#[derive(Clone, Debug, PartialEq)]
pub struct Shown {
    /// What is shown.
    pub text: String,
    /// When the frame with it was drawn, since 1970 `[ms]`.
    pub drawn_ms: f64,
}

impl Page {
    /// Goes there as a browser that was never there, and tells how it came up.
    ///
    /// # Errors
    ///
    /// Where it cannot be reached, or does not come to rest.
    pub async fn came(&self, path: &str) -> Result<Came, Fault> {
        // An empty page first: what counts begins with this one's own navigation.
        self.go("about:blank").await?;
        self.cdp("Network.setCacheDisabled", json!({ "cacheDisabled": true })).await?;
        self.go(path).await?;
        let found = self.until("the figures of a page at rest", CAME, &[]).await?;
        let number = |key: &str| found[key].as_f64().unwrap_or(f64::NAN);
        Ok(Came { first_paint_ms: number("first"), bytes: number("bytes"), shift: number("shift") })
    }

    /// Notes each change of the words that this selector names, from now on; [`Page::shown`] gives
    /// them. The moment is that of the frame which is drawn with them.
    ///
    /// # Errors
    ///
    /// Where there is no such thing.
    pub async fn note_changes(&self, css: &str) -> Result<(), Fault> {
        self.wait_for(css).await?;
        self.js(NOTE, &[json!(css)]).await.map(drop)
    }

    /// The changes that were noted so far.
    ///
    /// # Errors
    ///
    /// Where nothing is noted on this page.
    pub async fn shown(&self) -> Result<Vec<Shown>, Fault> {
        let noted = self.js("return window.noted", &[]).await?;
        let noted = noted.as_array().map(Vec::as_slice).unwrap_or_default();
        let one = |one: &Value| {
            Some(Shown { text: one[0].as_str()?.to_owned(), drawn_ms: one[1].as_f64()? })
        };
        Ok(noted.iter().filter_map(one).collect())
    }
}

/// Half a second after all was loaded, what had to move has moved.
const CAME: &str = "const done = performance.getEntriesByType('navigation')[0]?.loadEventEnd;
    const first = performance.getEntriesByName('first-contentful-paint')[0]?.startTime;
    if (window.shifts === undefined) {
        window.shifts = [];
        new PerformanceObserver(list => window.shifts.push(...list.getEntries()))
            .observe({ type: 'layout-shift', buffered: true });
    }
    if (!done || first === undefined || performance.now() < done + 500) return null;
    const all = performance.getEntries().filter(e => e.transferSize !== undefined);
    return {
        first,
        bytes: all.reduce((sum, e) => sum + Math.max(e.transferSize, e.encodedBodySize), 0),
        shift: window.shifts.reduce((sum, e) => sum + e.value, 0),
    }";

/// The frame in which a change is drawn begins with the next animation frame; the message that is
/// posted from there comes when it was drawn.
const NOTE: &str = "const css = arguments[0];
    window.noted = [];
    let before = document.querySelector(css).textContent;
    new MutationObserver(() => {
        const text = document.querySelector(css)?.textContent ?? '';
        if (text === before) return;
        before = text;
        requestAnimationFrame(() => {
            const drawn = new MessageChannel();
            drawn.port1.onmessage = () =>
                window.noted.push([text, performance.timeOrigin + performance.now()]);
            drawn.port2.postMessage(0);
        });
    }).observe(document.body, { subtree: true, childList: true, characterData: true });";

/// From each answer of a meter to the frame that shows it, over those that a screen showed `[ms]`,
/// in order of length. An answer that the next one overtook before a frame was drawn is in none.
#[must_use]
pub fn delays(answered: &[Answered], shown: &[Shown]) -> Vec<f64> {
    let mut delays: Vec<f64> = shown.iter().filter_map(|one| delay(answered, one)).collect();
    delays.sort_by(f64::total_cmp);
    delays
}

fn delay(answered: &[Answered], shown: &Shown) -> Option<f64> {
    let (number, unit) = shown.text.split_once(' ')?;
    let places = if unit.starts_with('n') { 1e-3 } else { 1.0 };
    let microamperes = number.parse::<f64>().ok()? * places;
    let of = |one: &&Answered| {
        (one.microamperes - microamperes).abs() < 1e-6 && one.left_ms <= shown.drawn_ms
    };
    answered.iter().rfind(of).map(|one| shown.drawn_ms - one.left_ms)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Derived: differences of the moments that stand here.
    #[test]
    fn the_newest_answer_of_that_value_is_meant() {
        let answer = |microamperes, left_ms| Answered { microamperes, left_ms };
        let answered = [answer(1.0, 0.0), answer(1.01, 20.0), answer(1.0, 16_000.0)];
        let shown = |text: &str, drawn_ms| Shown { text: text.to_owned(), drawn_ms };
        let shown = [shown("1.00 µA", 31.0), shown("1010 nA", 25.0), shown("1.00 µA", 16_007.0)];
        assert_eq!(delays(&answered, &shown), [5.0, 7.0, 31.0]);
        assert!(delays(&answered, &[Shown { text: "?".to_owned(), drawn_ms: 9.0 }]).is_empty());
    }
}
