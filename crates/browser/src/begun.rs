//! A test that is begun as a page begins it, without looking at the page: for what is measured
//! afterwards.

use serde_json::{Value, json};

use crate::{Fault, Page};

impl Page {
    /// Begins a test of this job file, its readings coming from `keys`, or from a meter at an
    /// address as `tcp:127.0.0.1:5025`; gives the record.
    ///
    /// # Errors
    ///
    /// Where it is not begun.
    pub async fn begin(&self, job: &str, from: &str) -> Result<String, Fault> {
        self.go("/").await?;
        let begun = self.js_later(BEGIN, &[json!(job), json!(from)]).await?;
        match &begun {
            Value::String(record) if !record.contains(' ') => {
                self.go(&format!("/sheet/{record}")).await?;
                Ok(record.clone())
            }
            told => Err(self.missing(format!("record that is begun: {told}")).await),
        }
    }

    /// Says a line of the record, as a form without script does.
    ///
    /// # Errors
    ///
    /// Where it is not taken.
    pub async fn say(&self, record: &str, line: &str) -> Result<(), Fault> {
        let refused = self.js_later(SAY, &[json!(record), json!(line)]).await?;
        if refused.is_null() {
            return Ok(());
        }
        Err(self.missing(format!("place for {line:?}, which was refused: {refused}")).await)
    }

    /// Says everything up to voltage on conductor `1`, whose lead is moved to it.
    ///
    /// # Errors
    ///
    /// Where a line is not taken.
    pub async fn energise(&self, record: &str) -> Result<(), Fault> {
        self.confirm(record).await?;
        for line in ["@1 ground 1 at cuff", "lead 1", "check", "lift 1", "energise", "rise"] {
            self.say(record, line).await?;
        }
        Ok(())
    }

    /// Confirms every hold point that the sheet of this record has open, and that everybody was
    /// heard who must be.
    ///
    /// # Errors
    ///
    /// Where a line is not taken.
    pub async fn confirm(&self, record: &str) -> Result<(), Fault> {
        let lines = self.js_later(TICKS, &[json!(record)]).await?;
        for line in lines.as_array().into_iter().flatten().filter_map(Value::as_str) {
            self.say(record, line).await?;
        }
        Ok(())
    }
}

const BEGIN: &str = "const [text, from, done] = arguments;
    const post = (path, fields) =>
        fetch(path, { method: 'POST', body: new URLSearchParams(fields) });
    const last = answer => new URL(answer.url).pathname.split('/').at(-1);
    (async () => {
        const draft = last(await fetch('/sheet/new'));
        await post(`/sheet/${draft}/job-file`, { text });
        const [source, address] = from.includes(':') ? ['meter', from] : [from, ''];
        const start = { who: 'first technician', from: source, address };
        const begun = await post(`/sheet/${draft}/begin`, start);
        const record = last(begun);
        const page = new DOMParser().parseFromString(await begun.text(), 'text/html');
        return record === draft || record === 'begin'
            ? `not begun: ${page.body.textContent}` : record;
    })().then(done, e => done(`not begun: ${e}`))";

const TICKS: &str = "const [record, done] = arguments;
    fetch(`/sheet/${record}`).then(async answer => {
        const page = new DOMParser().parseFromString(await answer.text(), 'text/html');
        const lines = [...page.querySelectorAll('form.tick, form.act')];
        const wanted = lines.map(one => one.dataset.line ?? '');
        done([...new Set(wanted)].filter(line => /^(tick|here) /.test(line)));
    }, e => done(String(e)))";

const SAY: &str = "const [record, line, done] = arguments;
    const body = new URLSearchParams({ line, nonce: crypto.randomUUID() });
    fetch(`/sheet/${record}/say`, { method: 'POST', body }).then(async answer => {
        if (answer.ok) return done(null);
        const page = new DOMParser().parseFromString(await answer.text(), 'text/html');
        done(page.querySelector('main')?.textContent ?? String(answer.status));
    }, e => done(String(e)))";
