//! A narrow screen, and one that is enlarged twice: nothing is cut off, nothing scrolls sideways
//! but a table inside its own frame.

use browser::{Fault, Page};

/// What stands out of a page to the right, where one can scroll there. 720 px is a screen of
/// 1440 px enlarged to 200 %: a browser lays both out alike.
pub(crate) async fn fits(page: &Page) -> Result<Option<String>, Fault> {
    let wide = "const room = document.documentElement.clientWidth;
        if (document.documentElement.scrollWidth <= room + 1) return null;
        const out = [...document.querySelectorAll('body *')].filter(e =>
            e.getBoundingClientRect().right + scrollX > room + 1 && !e.closest('.scroll, .skip'));
        const told = out.slice(0, 4).map(e => e.outerHTML.slice(0, 160)).join(' | ');
        return told || 'nothing that shows'";
    Ok(page.js(wide, &[]).await?.as_str().map(str::to_owned))
}
