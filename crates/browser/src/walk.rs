//! The screens that links lead to.

use serde_json::json;

use crate::{Fault, Page};

/// What a walk came by.
#[derive(Clone, Debug, serde::Deserialize)]
pub struct Walked {
    /// Every screen that links lead to; of those whose addresses are alike a few.
    pub screens: Vec<String>,
    /// The links on these that lead nowhere, or away from this machine.
    pub broken: Vec<String>,
}

impl Page {
    /// Follows the links from *today* on; of screens whose addresses are alike to at most so many,
    /// and to so many sheets.
    ///
    /// # Errors
    ///
    /// Where *today* cannot be reached.
    pub async fn walk(&self, alike: u32, sheets: u32) -> Result<Walked, Fault> {
        self.go("/").await?;
        let found = self.js_later(WALK, &[json!(alike), json!(sheets)]).await?;
        Ok(serde_json::from_value(found).expect("the walk gives two lists"))
    }
}

const WALK: &str = "const [alike, sheets, done] = arguments;
    const queue = [['/', '']], seen = new Set(['/']), counts = {}, screens = [], broken = [];
    const walk = async () => {
        while (queue.length > 0) {
            const [path, from] = queue.shift();
            const answer = await fetch(path);
            if (!answer.ok) { broken.push(`${from} leads to ${path}: ${answer.status}`); continue; }
            if (!answer.headers.get('content-type').startsWith('text/html')) continue;
            screens.push(path);
            const text = await answer.text();
            const found = new DOMParser().parseFromString(text, 'text/html');
            for (const link of found.querySelectorAll('a[href]')) {
                const to = new URL(link.getAttribute('href'), new URL(path, location.origin));
                if (to.origin !== location.origin) broken.push(`${path} leads to ${to}`);
                const next = to.pathname + to.search;
                if (seen.has(next)) continue;
                seen.add(next);
                const [, kind, name, ...rest] = to.pathname.split('/');
                const like = [kind, name ? '*' : '', ...rest, to.search ? '?' : ''].join('/');
                counts[like] = (counts[like] ?? 0) + 1;
                if (counts[like] > (like === 'sheet/*/' ? sheets : alike)) continue;
                queue.push([next, path]);
            }
        }
        return { screens, broken };
    };
    walk().then(done, e => done({ screens, broken: [String(e)] }))";
