//! Pictures of screens: `target/screens`.

use std::path::PathBuf;

use browser::{Fault, Page, Theme};

/// Widths and heights of a desk, a tablet and a telephone `[px]`.
pub(crate) const SIZES: [(u32, u32); 3] = [(1440, 1000), (820, 1180), (360, 740)];

/// What is to be seen now, at every width, in both themes, without going anywhere else.
pub(crate) async fn of_this(page: &Page, name: &str) -> Result<(), Fault> {
    for theme in Theme::ALL {
        let set = "document.documentElement.dataset.theme = arguments[0]";
        page.js(set, &[theme.key().into()]).await?;
        for (width, height) in SIZES {
            page.size(width, height).await?;
            page.picture(&file(name, width, theme), width, false).await?;
        }
    }
    Ok(())
}

/// The whole of what is shown now, however long.
pub(crate) async fn whole(page: &Page, path: &str, width: u32, theme: Theme) -> Result<(), Fault> {
    let plain = |letter: char| if letter.is_ascii_alphanumeric() { letter } else { '-' };
    let name: String = path.chars().map(plain).collect();
    page.picture(&file(&name, width, theme), width, true).await
}

fn file(name: &str, width: u32, theme: Theme) -> PathBuf {
    let root = concat!(env!("CARGO_MANIFEST_DIR"), "/../../target/screens");
    let name = match name.trim_matches('-') {
        "" => "today",
        name => name,
    };
    format!("{root}/{name}-{width}-{}.png", theme.key()).into()
}
