//! One Chromium on one screen: what a person does to it, and what is then on it.

use std::path::Path;
use std::time::Duration;
use std::{fmt, fs};

use fantoccini::Client;
use fantoccini::actions::{
    Actions, InputSource as _, KeyAction, KeyActions, MOUSE_BUTTON_LEFT, PointerAction,
    TouchActions,
};
use fantoccini::error::CmdError;
use fantoccini::key::Key;
use fantoccini::wd::WebDriverCompatibleCommand;
use serde_json::{Value, json};
use tokio::time::{Instant, MissedTickBehavior, interval};

use crate::Fault;

/// Between two looks at the page.
const LOOK: Duration = Duration::from_millis(20);

/// What has not moved for so long is at rest.
const REST: Duration = Duration::from_millis(150);

/// What comes later does not come.
const PATIENCE: Duration = Duration::from_secs(20);

/// The least side of what is touched, in gloves `[px]`.
const TARGET_PX: f64 = 56.0;

/// How bright it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Theme {
    /// Sunlight.
    Daylight,
    /// A dim switch-room.
    Dim,
}

impl Theme {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Daylight, Self::Dim];

    /// As the cookie and file names have it.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Daylight => "daylight",
            Self::Dim => "dim",
        }
    }
}

/// One Chromium on one screen.
#[derive(Clone, Debug)]
pub struct Page {
    client: Client,
    base: String,
}

impl Page {
    pub(crate) const fn of(client: Client, base: String) -> Self {
        Self { client, base }
    }

    /// The driver's own handle.
    #[must_use]
    pub const fn client(&self) -> &Client {
        &self.client
    }

    /// Closes this Chromium.
    ///
    /// # Errors
    ///
    /// Where it does not close.
    pub async fn close(self) -> Result<(), Fault> {
        self.client.clone().close().await.map_err(driver("close"))
    }

    // ---- where it is

    /// Goes to an address of what is served, as in `/values`, or to a whole address.
    ///
    /// # Errors
    ///
    /// Where it cannot be reached.
    pub async fn go(&self, path: &str) -> Result<(), Fault> {
        let whole =
            if path.starts_with('/') { format!("{}{path}", self.base) } else { path.into() };
        self.client.goto(&whole).await.map_err(driver(format!("go to {path}")))
    }

    /// The path that is shown, without host.
    ///
    /// # Errors
    ///
    /// Where Chromium does not say.
    pub async fn path(&self) -> Result<String, Fault> {
        Ok(self.js("return location.pathname", &[]).await?.as_str().unwrap_or_default().to_owned())
    }

    /// Sets the size of the screen `[px]`; below what a window may be, too.
    ///
    /// # Errors
    ///
    /// Where Chromium refuses.
    pub async fn size(&self, width: u32, height: u32) -> Result<(), Fault> {
        let size = json!({
            "width": width, "height": height, "deviceScaleFactor": 1, "mobile": false,
        });
        self.cdp("Emulation.setDeviceMetricsOverride", size).await.map(drop)
    }

    /// The same, as a tablet that is touched.
    ///
    /// # Errors
    ///
    /// Where Chromium refuses.
    pub async fn tablet(&self, width: u32, height: u32) -> Result<(), Fault> {
        let size = json!({
            "width": width, "height": height, "deviceScaleFactor": 1, "mobile": true,
        });
        self.cdp("Emulation.setDeviceMetricsOverride", size).await?;
        let touch = json!({ "enabled": true, "maxTouchPoints": 5 });
        self.cdp("Emulation.setTouchEmulationEnabled", touch).await.map(drop)
    }

    /// Sets the theme for the pages that are gone to afterwards.
    ///
    /// # Errors
    ///
    /// Where Chromium refuses.
    pub async fn theme(&self, theme: Theme) -> Result<(), Fault> {
        let cookie = json!({ "name": "theme", "value": theme.key(), "url": self.base });
        self.cdp("Network.setCookie", cookie).await.map(drop)
    }

    /// Lets no script of any page run from now on.
    ///
    /// # Errors
    ///
    /// Where Chromium refuses.
    pub async fn without_script(&self) -> Result<(), Fault> {
        self.cdp("Emulation.setScriptExecutionDisabled", json!({ "value": true })).await.map(drop)
    }

    // ---- what a hand does

    /// Types text, a key at a time, to whatever has the focus; the end of a line is Enter, and a
    /// tabulator Tab.
    ///
    /// # Errors
    ///
    /// Where Chromium refuses.
    pub async fn keys(&self, text: &str) -> Result<(), Fault> {
        let mut keys = KeyActions::new("keyboard".to_owned());
        for letter in text.chars() {
            let value = match letter {
                '\n' => Key::Enter.into(),
                '\t' => Key::Tab.into(),
                other => other,
            };
            keys = keys.then(KeyAction::Down { value }).then(KeyAction::Up { value });
        }
        self.perform(keys.into()).await
    }

    /// Presses one key.
    ///
    /// # Errors
    ///
    /// Where Chromium refuses.
    pub async fn press(&self, key: Key) -> Result<(), Fault> {
        self.keys(&char::from(key).to_string()).await
    }

    /// Presses one key while another is held.
    ///
    /// # Errors
    ///
    /// Where Chromium refuses.
    pub async fn chord(&self, held: Key, value: char) -> Result<(), Fault> {
        let held = char::from(held);
        let keys = KeyActions::new("keyboard".to_owned())
            .then(KeyAction::Down { value: held })
            .then(KeyAction::Down { value })
            .then(KeyAction::Up { value })
            .then(KeyAction::Up { value: held });
        self.perform(keys.into()).await
    }

    /// Presses Tab until the focus is on what this selector names.
    ///
    /// # Errors
    ///
    /// Where the focus never comes there.
    pub async fn tab_to(&self, css: &str) -> Result<(), Fault> {
        self.wait_for(css).await?;
        for _ in 0..400 {
            let on = "return document.activeElement?.matches(arguments[0]) ?? false";
            if self.js(on, &[json!(css)]).await? == Value::Bool(true) {
                return Ok(());
            }
            self.press(Key::Tab).await?;
        }
        Err(self.missing(format!("{css} that Tab comes to")).await)
    }

    /// Comes by Tab to what this selector names and presses Enter there.
    ///
    /// # Errors
    ///
    /// Where it is not reached.
    pub async fn enter(&self, css: &str) -> Result<(), Fault> {
        self.tab_to(css).await?;
        self.press(Key::Enter).await
    }

    /// Comes by Tab to a field, takes out what is in it and types this.
    ///
    /// # Errors
    ///
    /// Where it is not reached.
    pub async fn fill(&self, css: &str, text: &str) -> Result<(), Fault> {
        self.tab_to(css).await?;
        self.chord(Key::Control, 'a').await?;
        self.keys(text).await
    }

    /// Touches the middle of what this selector names, once it is in sight.
    ///
    /// # Errors
    ///
    /// Where there is no such thing, it is too small for a glove, or something lies over it.
    pub async fn tap(&self, css: &str) -> Result<(), Fault> {
        self.wait_for(css).await?;
        let place = self.at_rest(css).await?;
        let number = |key: &str| place[key].as_f64().unwrap_or(f64::NAN);
        let (width, height) = (number("width"), number("height"));
        // Half a pixel is lost to rounding where a layout divides its width.
        if !(width >= TARGET_PX - 0.5 && height >= TARGET_PX - 0.5) {
            let what = format!("{css} of {TARGET_PX} px or more: it is {width} by {height}");
            return Err(self.missing(what).await);
        }
        if place["over"] != Value::Null {
            let what = format!("{css} in reach: {} lies over it", place["over"]);
            return Err(self.missing(what).await);
        }
        let to = PointerAction::MoveTo { duration: None, x: number("x"), y: number("y") };
        let button = MOUSE_BUTTON_LEFT;
        let finger = TouchActions::new("finger".to_owned())
            .then(to)
            .then(PointerAction::Down { button })
            .then(PointerAction::Up { button });
        self.perform(finger.into()).await
    }

    /// Where something is, once it stands still: a hand reaches for what it sees.
    async fn at_rest(&self, css: &str) -> Result<Value, Fault> {
        let mut looks = interval(REST);
        let mut before = Value::Null;
        for _ in 0..50 {
            looks.tick().await;
            // What is put in its place right now is looked for again.
            let now = self.js(PLACE, &[json!(css)]).await.unwrap_or_default();
            if now == before && now != Value::Null {
                return Ok(now);
            }
            before = now;
        }
        Err(self.missing(format!("{css} that stands still")).await)
    }

    // ---- what is on it

    /// The words of the first thing that this selector names.
    ///
    /// # Errors
    ///
    /// Where there is none.
    pub async fn text(&self, css: &str) -> Result<String, Fault> {
        let script = "return document.querySelector(arguments[0])?.innerText ?? null";
        match self.js(script, &[json!(css)]).await? {
            Value::String(text) => Ok(text),
            _ => Err(self.missing(css.to_owned()).await),
        }
    }

    /// The words of everything that this selector names.
    ///
    /// # Errors
    ///
    /// Where Chromium refuses.
    pub async fn texts(&self, css: &str) -> Result<Vec<String>, Fault> {
        let script = "return [...document.querySelectorAll(arguments[0])].map(e => e.innerText)";
        let all = self.js(script, &[json!(css)]).await?;
        let all = all.as_array().map(Vec::as_slice).unwrap_or_default();
        Ok(all.iter().filter_map(Value::as_str).map(str::to_owned).collect())
    }

    /// An attribute of the first thing that this selector names.
    ///
    /// # Errors
    ///
    /// Where there is no such thing, or it has no such attribute.
    pub async fn attribute(&self, css: &str, name: &str) -> Result<String, Fault> {
        let script = "return document.querySelector(arguments[0])?.getAttribute(arguments[1])";
        match self.js(script, &[json!(css), json!(name)]).await? {
            Value::String(text) => Ok(text),
            _ => Err(self.missing(format!("{css} with {name}")).await),
        }
    }

    /// Whether this is on the page, and to be seen.
    ///
    /// # Errors
    ///
    /// Where Chromium refuses.
    pub async fn has(&self, css: &str) -> Result<bool, Fault> {
        Ok(self.js(SEEN, &[json!(css)]).await? == Value::Bool(true))
    }

    /// What a script gives back.
    ///
    /// # Errors
    ///
    /// Where it throws.
    pub async fn js(&self, script: &str, words: &[Value]) -> Result<Value, Fault> {
        self.client.execute(script, words.to_vec()).await.map_err(driver(script))
    }

    /// What a script hands to its last argument.
    ///
    /// # Errors
    ///
    /// Where it throws, or never does.
    pub async fn js_later(&self, script: &str, words: &[Value]) -> Result<Value, Fault> {
        self.client.execute_async(script, words.to_vec()).await.map_err(driver(script))
    }

    /// Waits until this is on the page and to be seen.
    ///
    /// # Errors
    ///
    /// Where it does not come.
    pub async fn wait_for(&self, css: &str) -> Result<(), Fault> {
        self.until_within(PATIENCE, css, SEEN, &[json!(css)]).await.map(drop)
    }

    /// Waits until the words of what this selector names hold these.
    ///
    /// # Errors
    ///
    /// Where they do not come.
    pub async fn wait_for_words(&self, css: &str, words: &str) -> Result<(), Fault> {
        let script = "return [...document.querySelectorAll(arguments[0])]\
            .some(e => e.innerText.includes(arguments[1]))";
        let what = format!("{words:?} in {css}");
        self.until_within(PATIENCE, &what, script, &[json!(css), json!(words)]).await.map(drop)
    }

    /// Waits until a script gives back something true, and gives it on.
    ///
    /// # Errors
    ///
    /// Where it does not come.
    pub async fn until(&self, what: &str, script: &str, words: &[Value]) -> Result<Value, Fault> {
        self.until_within(PATIENCE, what, script, words).await
    }

    /// The same, by a deadline of its own. A page that is being left is looked at again.
    ///
    /// # Errors
    ///
    /// Where it does not come.
    pub async fn until_within(
        &self,
        patience: Duration,
        what: &str,
        script: &str,
        words: &[Value],
    ) -> Result<Value, Fault> {
        let started = Instant::now();
        let mut looks = interval(LOOK);
        looks.set_missed_tick_behavior(MissedTickBehavior::Delay);
        while started.elapsed() < patience {
            looks.tick().await;
            match self.js(script, words).await {
                Ok(Value::Null | Value::Bool(false)) | Err(_) => {}
                Ok(found) => return Ok(found),
            }
        }
        let page = self.told().await;
        Err(Fault::Late { what: what.to_owned(), waited_s: patience.as_secs_f64(), page })
    }

    /// A picture of what is to be seen, or of the page down to its end.
    ///
    /// # Errors
    ///
    /// Where it cannot be taken or written.
    pub async fn picture(&self, file: &Path, width: u32, whole: bool) -> Result<(), Fault> {
        if whole {
            let script = "return document.documentElement.scrollHeight";
            let height = self.js(script, &[]).await?.as_u64().unwrap_or(1000);
            self.size(width, u32::try_from(height.clamp(300, 12_000)).unwrap_or(1000)).await?;
        }
        let picture = self.client.screenshot().await.map_err(driver("take a picture"))?;
        if let Some(folder) = file.parent() {
            fs::create_dir_all(folder)?;
        }
        Ok(fs::write(file, picture)?)
    }

    /// What Chromium complained of since the last call: errors of scripts, what its policy
    /// blocked, what could not be fetched.
    ///
    /// # Errors
    ///
    /// Where its driver does not say.
    pub async fn complaints(&self) -> Result<Vec<String>, Fault> {
        let log = Post { at: "se/log", body: json!({ "type": "browser" }) };
        let log = self.client.issue_cmd(log).await.map_err(driver("read its log"))?;
        let severe = log.as_array().map(Vec::as_slice).unwrap_or_default().iter();
        let severe = severe.filter(|line| line["level"] == "SEVERE");
        Ok(severe.map(|line| line["message"].as_str().unwrap_or_default().to_owned()).collect())
    }

    /// Says a line of the protocol that Chromium's own tools speak.
    ///
    /// # Errors
    ///
    /// Where Chromium refuses.
    pub async fn cdp(&self, command: &str, words: Value) -> Result<Value, Fault> {
        let body = json!({ "cmd": command, "params": words });
        let post = Post { at: "goog/cdp/execute", body };
        self.client.issue_cmd(post).await.map_err(driver(command))
    }

    async fn perform(&self, actions: Actions) -> Result<(), Fault> {
        self.client.perform_actions(actions).await.map_err(driver("press or touch"))
    }

    pub(crate) async fn missing(&self, what: String) -> Fault {
        Fault::Missing { what, page: self.told().await }
    }

    /// Address and words of the page, for the message of a fault.
    async fn told(&self) -> String {
        let script = "return location.href + ': ' + document.body.innerText.slice(0, 3000)";
        match self.js(script, &[]).await {
            Ok(told) => told.as_str().unwrap_or_default().to_owned(),
            Err(why) => why.to_string(),
        }
    }
}

/// Whether something is to be seen.
const SEEN: &str = "const e = document.querySelector(arguments[0]);
    return e !== null && e.checkVisibility({ visibilityProperty: true })";

/// Where something is, after it was brought into sight; what a label stands for is as large as its
/// label. What lies over its middle is named.
const PLACE: &str = "const e = document.querySelector(arguments[0]);
    if (e === null) return null;
    e.scrollIntoView({ block: 'center', behavior: 'instant' });
    const hit = e.matches('input[type=checkbox], input[type=radio]') ? e.closest('label') ?? e : e;
    const r = hit.getBoundingClientRect();
    const x = r.x + r.width / 2, y = r.y + r.height / 2;
    const top = document.elementFromPoint(x, y);
    const mine = top !== null && (hit.contains(top) || top.contains(hit));
    const over = mine ? null : top?.outerHTML ?? 'nothing';
    // A finger meets the screen, of which a tablet may show a part, enlarged.
    const seen = visualViewport;
    return { x: (x - seen.offsetLeft) * seen.scale, y: (y - seen.offsetTop) * seen.scale,
        width: r.width, height: r.height, over }";

/// A command that is no part of the standard.
#[derive(Debug)]
struct Post {
    at: &'static str,
    body: Value,
}

impl WebDriverCompatibleCommand for Post {
    fn endpoint(
        &self,
        base: &url::Url,
        session: Option<&str>,
    ) -> Result<url::Url, url::ParseError> {
        base.join(&format!("session/{}/{}", session.unwrap_or_default(), self.at))
    }

    fn method_and_body(&self, _: &url::Url) -> (http::Method, Option<String>) {
        (http::Method::POST, Some(self.body.to_string()))
    }
}

fn driver(doing: impl fmt::Display) -> impl FnOnce(CmdError) -> Fault {
    let doing = doing.to_string();
    move |why| Fault::Driver { doing, why: Box::new(why) }
}
