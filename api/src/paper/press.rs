//! The press: lays a page out and writes it as a PDF. What is laid out comes as data and is never read as markup, and the
//! layout program reaches no file, no package and no clock.

use std::{path::Path, sync::OnceLock};

use typst::{
    Library, LibraryExt as _, World, comemo,
    diag::{FileError, FileResult, SourceDiagnostic},
    ecow::EcoVec,
    foundations::{Bytes, Datetime, Duration, Smart},
    syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot},
    text::{Font, FontBook},
    utils::LazyHash,
};
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards};

use super::{
    letters::{self, BadFonts},
    tree::Page,
};

/// How pages look.
const LAYOUT: &str = include_str!("page.typ");

/// The fonts, and what else is the same for all pages once one is printed.
pub(crate) struct Press {
    fonts: Vec<Font>,
    outfit: OnceLock<Option<Outfit>>,
}

/// What is the same for all pages.
struct Outfit {
    library: LazyHash<Library>,
    book: LazyHash<FontBook>,
    fonts: Vec<Font>,
    layout: Source,
    data: FileId,
}

impl Press {
    /// A press with the fonts of a folder beside its own.
    ///
    /// # Errors
    /// [`BadFonts`].
    pub(crate) fn new(folder: Option<&Path>) -> Result<Self, BadFonts> {
        Ok(Self {
            fonts: letters::fonts(folder)?,
            outfit: OnceLock::new(),
        })
    }

    fn outfit(&self) -> Option<&Outfit> {
        self.outfit.get_or_init(|| self.fit_out()).as_ref()
    }

    fn fit_out(&self) -> Option<Outfit> {
        let file = |name: &str| {
            let path = VirtualPath::new(name).ok()?;
            Some(RootedPath::new(VirtualRoot::Project, path).intern())
        };
        Some(Outfit {
            library: LazyHash::new(Library::default()),
            book: LazyHash::new(FontBook::from_fonts(&self.fonts)),
            fonts: self.fonts.clone(),
            layout: Source::new(file("page.typ")?, LAYOUT.to_owned()),
            data: file("page.json")?,
        })
    }
}

/// A page that could not be printed.
#[derive(Debug, thiserror::Error)]
pub(crate) enum Unprinted {
    /// The page could not be told to the press.
    #[error("the page cannot be written down: {0}")]
    Data(#[from] serde_json::Error),
    /// The layout has a fault.
    #[error("the layout failed: {0}")]
    Layout(String),
}

/// Prints a page: A4, tagged, by PDF/UA-1. Letters that no font has are marked, and the page says that they can be read at `address`.
///
/// # Errors
/// A fault of the layout.
pub(super) fn print(press: &Press, page: &mut Page, address: &str) -> Result<Vec<u8>, Unprinted> {
    let press = press
        .outfit()
        .ok_or_else(|| Unprinted::Layout("no files".to_owned()))?;
    letters::stand_in(page, &press.book, address);
    let sheet = OneSheet {
        press,
        page: Bytes::new(serde_json::to_vec(page)?),
    };
    let printed = typst::compile::<PagedDocument>(&sheet)
        .output
        .and_then(|document| {
            // A font may have a letter and no shape for it; better printed than not at all.
            typst_pdf::pdf(&document, &options(&[PdfStandard::Ua_1]))
                .or_else(|_missing| typst_pdf::pdf(&document, &options(&[])))
        });
    // Nothing of a tenant's page stays behind.
    comemo::evict(0);
    printed.map_err(|faults| Unprinted::Layout(told(&faults)))
}

fn options(standards: &[PdfStandard]) -> PdfOptions {
    PdfOptions {
        creator: Smart::Custom(Some("Wearcourse".to_owned())),
        standards: PdfStandards::new(standards).unwrap_or_default(),
        ..PdfOptions::default()
    }
}

fn told(faults: &EcoVec<SourceDiagnostic>) -> String {
    let messages: Vec<&str> = faults.iter().map(|fault| fault.message.as_str()).collect();
    messages.join("; ")
}

/// The press with one page in it.
struct OneSheet<'a> {
    press: &'a Outfit,
    page: Bytes,
}

impl World for OneSheet<'_> {
    fn library(&self) -> &LazyHash<Library> {
        &self.press.library
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &self.press.book
    }

    fn main(&self) -> FileId {
        self.press.layout.id()
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        if id == self.press.layout.id() {
            return Ok(self.press.layout.clone());
        }
        Err(FileError::AccessDenied)
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        if id == self.press.data {
            return Ok(self.page.clone());
        }
        Err(FileError::AccessDenied)
    }

    fn font(&self, index: usize) -> Option<Font> {
        self.press.fonts.get(index).cloned()
    }

    fn today(&self, _offset: Option<Duration>) -> Option<Datetime> {
        None
    }
}

#[cfg(test)]
mod tests {
    use typst::{World as _, syntax::FileId};

    use super::{Bytes, LAYOUT, OneSheet, Press, RootedPath, VirtualPath, VirtualRoot};

    /// The layout is a program: it loads its page and nothing else, makes no code of texts, and cites nothing, so that the parts
    /// of the library which read styles, plug-ins and packages are never met.
    #[test]
    fn the_layout_reaches_nothing_but_its_page() {
        let code = LAYOUT
            .lines()
            .filter(|line| !line.trim_start().starts_with("//"));
        let code: Vec<&str> = code.collect();
        let words: Vec<&str> = code
            .iter()
            .flat_map(|line| line.split(|letter: char| !letter.is_ascii_alphanumeric()))
            .collect();
        for word in [
            "bibliography",
            "cbor",
            "cite",
            "csv",
            "eval",
            "import",
            "include",
            "plugin",
            "read",
            "toml",
            "xml",
            "yaml",
        ] {
            assert!(!words.contains(&word), "{word}");
        }
        assert_eq!(words.iter().filter(|word| **word == "json").count(), 2);
        assert!(code.contains(&"#let told = json(\"page.json\")"));
        let press = Press::new(None).unwrap();
        let press = press.outfit().unwrap();
        let sheet = OneSheet {
            press,
            page: Bytes::new([]),
        };
        let other = VirtualPath::new("secret.json").unwrap();
        let other: FileId = RootedPath::new(VirtualRoot::Project, other).intern();
        assert!(sheet.file(other).is_err() && sheet.source(other).is_err());
        assert!(sheet.file(press.data).is_ok() && sheet.today(None).is_none());
    }
}
