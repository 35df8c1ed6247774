//! The typesetter's world: templates, data and fonts in memory, and nothing else.
//!
//! Paths that were not handed in do not exist, so a template cannot read the host.

use std::collections::HashMap;
use std::path::PathBuf;
use std::sync::OnceLock;

use typst::diag::{FileError, FileResult};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};

/// What every document shares: made once in a process.
struct Shop {
    library: LazyHash<Library>,
    book: LazyHash<FontBook>,
    fonts: Vec<Font>,
}

fn shop() -> &'static Shop {
    static SHOP: OnceLock<Shop> = OnceLock::new();
    SHOP.get_or_init(|| {
        let faces: [&'static [u8]; 6] = [
            dejavu::sans::regular(),
            dejavu::sans::bold(),
            dejavu::sans::oblique(),
            dejavu::sans::bold_oblique(),
            dejavu::sans_condensed::regular(),
            dejavu::sans_condensed::bold(),
        ];
        let fonts: Vec<Font> =
            faces.into_iter().flat_map(|face| Font::iter(Bytes::new(face))).collect();
        Shop {
            library: LazyHash::new(Library::default()),
            book: LazyHash::new(FontBook::from_fonts(&fonts)),
            fonts,
        }
    })
}

/// Whether any of the fonts has this character.
pub(crate) fn can_print(character: char) -> bool {
    shop().fonts.iter().any(|font| font.info().coverage.contains(u32::from(character)))
}

/// The files of one document.
pub(crate) struct Desk {
    main: FileId,
    files: HashMap<FileId, Bytes>,
}

impl Desk {
    /// A desk with its files; the first is the one to be set.
    pub(crate) fn new(main: &str, files: Vec<(&str, Vec<u8>)>) -> Self {
        let files = files.into_iter().map(|(name, bytes)| (id(name), Bytes::new(bytes))).collect();
        Self { main: id(main), files }
    }

    fn missing(file: FileId) -> FileError {
        FileError::NotFound(PathBuf::from(file.get().vpath().get_without_slash()))
    }
}

fn id(name: &str) -> FileId {
    let path = VirtualPath::new(name).expect("our own file names are plain");
    FileId::new(RootedPath::new(VirtualRoot::Project, path))
}

impl World for Desk {
    fn library(&self) -> &LazyHash<Library> {
        &shop().library
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &shop().book
    }

    fn main(&self) -> FileId {
        self.main
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        let bytes = self.files.get(&id).ok_or_else(|| Self::missing(id))?;
        let text = std::str::from_utf8(bytes).map_err(|_| FileError::InvalidUtf8)?;
        Ok(Source::new(id, text.to_owned()))
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        self.files.get(&id).cloned().ok_or_else(|| Self::missing(id))
    }

    fn font(&self, index: usize) -> Option<Font> {
        shop().fonts.get(index).cloned()
    }

    fn today(&self, _offset: Option<Duration>) -> Option<Datetime> {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_trade_writes_can_be_printed() {
        for character in "Ωµ±≥≤°·–×²√☐⚠▲●■✕ÄéÑŁЖ".chars() {
            assert!(can_print(character), "{character}");
        }
        assert!(!can_print('試'));
    }

    #[test]
    fn a_file_that_was_not_handed_in_does_not_exist() {
        let desk = Desk::new("main.typ", vec![("main.typ", b"= A".to_vec())]);
        assert!(desk.source(id("main.typ")).is_ok());
        assert!(matches!(desk.file(id("etc/passwd")), Err(FileError::NotFound(_))));
        assert_eq!(desk.today(None), None);
    }
}
