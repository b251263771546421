//! The letters that can be printed: those of the fonts that the program brings along, and of those in a folder that whoever
//! runs it names. A letter that none of them has is printed as U+FFFD, and the page says at its end how many there are.

use std::{
    collections::BTreeSet,
    fs, io,
    path::{Path, PathBuf},
};

use typst::{
    foundations::Bytes,
    text::{Font, FontBook},
};

use super::tree::{Element, Node, Page};
use crate::sheet::Language;

/// Regular and bold; `font/LICENSE` is their licence.
const OWN: [&[u8]; 2] = [
    include_bytes!("font/DejaVuSansCondensed.ttf"),
    include_bytes!("font/DejaVuSansCondensed-Bold.ttf"),
];
/// The most bytes of the fonts of a folder: they are held in memory.
const MAX_BYTES: u64 = 256 * 1024 * 1024;
/// What stands for a letter that cannot be printed (Unicode's replacement character).
const STAND_IN: char = '\u{fffd}';

/// A folder whose fonts cannot be used.
#[derive(Debug, thiserror::Error)]
pub(crate) enum BadFonts {
    /// It cannot be read.
    #[error("{0} cannot be read: {1}")]
    Unread(PathBuf, io::Error),
    /// A file in it is no font.
    #[error("{0} is not a font that can be used")]
    NoFont(PathBuf),
    /// There are none.
    #[error("{0} holds no font (.ttf, .otf, .ttc or .otc)")]
    Empty(PathBuf),
    /// There are too many.
    #[error("the fonts in {0} are larger than 256 MiB together")]
    TooLarge(PathBuf),
}

/// The fonts of the program, and behind them those of a folder in the order of their files' names.
///
/// # Errors
/// [`BadFonts`].
pub(super) fn fonts(folder: Option<&Path>) -> Result<Vec<Font>, BadFonts> {
    let own = OWN.into_iter();
    let mut fonts: Vec<Font> = own.flat_map(|font| Font::iter(Bytes::new(font))).collect();
    let Some(folder) = folder else {
        return Ok(fonts);
    };
    let unread = |error| BadFonts::Unread(folder.to_owned(), error);
    let mut files = BTreeSet::new();
    let mut left = MAX_BYTES;
    for entry in fs::read_dir(folder).map_err(unread)? {
        let path = entry.map_err(unread)?.path();
        let is_font = path.extension().is_some_and(|end| {
            let end = end.to_ascii_lowercase();
            ["ttf", "otf", "ttc", "otc"]
                .iter()
                .any(|known| end == *known)
        });
        if is_font {
            let size = fs::metadata(&path).map_err(unread)?.len();
            let room = left.checked_sub(size);
            left = room.ok_or_else(|| BadFonts::TooLarge(folder.to_owned()))?;
            files.insert(path);
        }
    }
    if files.is_empty() {
        return Err(BadFonts::Empty(folder.to_owned()));
    }
    for path in files {
        let content = fs::read(&path).map_err(unread)?;
        let before = fonts.len();
        fonts.extend(Font::iter(Bytes::new(content)));
        if fonts.len() == before {
            return Err(BadFonts::NoFont(path));
        }
    }
    Ok(fonts)
}

/// Puts [`STAND_IN`] in the place of each letter that no font has, and says so at the end of the page; `address` is where the page
/// can be read with all its letters. The page's name for programs keeps them.
pub(super) fn stand_in(page: &mut Page, book: &FontBook, address: &str) {
    let mut found = BTreeSet::new();
    each_text(page, &mut |text| {
        found.extend(text.chars().filter(|letter| is_drawn(*letter)));
    });
    let lacking: BTreeSet<char> = found
        .into_iter()
        .filter(|letter| !is_in(book, *letter))
        .collect();
    if lacking.is_empty() {
        return;
    }
    let mut n_lacking = 0_usize;
    each_text(page, &mut |text| {
        if text.contains(|letter| lacking.contains(&letter)) {
            let stood_in = text.chars().map(|letter| {
                let lacks = lacking.contains(&letter);
                n_lacking = n_lacking.saturating_add(lacks.into());
                if lacks { STAND_IN } else { letter }
            });
            *text = stood_in.collect();
        }
    });
    let told = Language::of(&page.lang).unprinted(n_lacking, address);
    page.body.push(Node::Element(Element {
        tag: "p".to_owned(),
        inside: vec![Node::Text(told)],
        ..Element::default()
    }));
}

/// All that is drawn: the texts, those of drawings, and the foot, which is on every page and not counted more than once.
fn each_text(page: &mut Page, look: &mut impl FnMut(&mut String)) {
    look(&mut page.foot);
    for node in &mut page.body {
        each_of(node, look);
    }
}

fn each_of(node: &mut Node, look: &mut impl FnMut(&mut String)) {
    match node {
        Node::Text(text) => look(text),
        Node::Element(element) => {
            look(&mut element.svg);
            for node in &mut element.inside {
                each_of(node, look);
            }
        }
    }
}

/// Whether a letter needs a shape of its own: blanks, and marks that join or part their neighbours, need none.
fn is_drawn(letter: char) -> bool {
    let is_mark = matches!(letter, '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{2069}'
        | '\u{fe00}'..='\u{fe0f}' | '\u{feff}' | '\u{e0100}'..='\u{e01ef}');
    !(letter.is_whitespace() || letter.is_control() || is_mark)
}

fn is_in(book: &FontBook, letter: char) -> bool {
    let mut infos = (0..).map_while(|index| book.info(index));
    infos.any(|info| info.coverage.contains(letter.into()))
}

#[cfg(test)]
mod tests {
    use typst::text::FontBook;

    use super::{
        super::tree::{Node, Page, tree},
        BadFonts, STAND_IN, fonts, is_drawn, is_in, stand_in,
    };

    fn book() -> FontBook {
        FontBook::from_fonts(&fonts(None).unwrap())
    }

    fn stood_in(text: &str) -> Page {
        let html = format!(
            "<html lang=\"de\"><head><title>{text}</title></head><body><p>{text}<svg><text>{text}</text></svg></p></body></html>"
        );
        let mut page = tree(&html).unwrap();
        stand_in(&mut page, &book(), "https://floors.example/sheet");
        page
    }

    #[test]
    fn what_stands_in_for_a_letter_can_be_printed_itself() {
        assert!(is_in(&book(), STAND_IN));
        for letter in "Az9ÄßñŁøĞΩЖяשع€²≥☐–".chars() {
            assert!(is_in(&book(), letter), "{letter}");
        }
        assert!(!is_in(&book(), '京'));
        assert!(is_drawn('京') && !is_drawn('\u{200b}') && !is_drawn(' '));
    }

    #[test]
    fn a_page_says_how_many_of_its_letters_cannot_be_printed_and_where_they_are() {
        let page = stood_in("北京 Süd");
        assert_eq!(
            (page.title.as_str(), page.foot.as_str()),
            ("北京 Süd", "\u{fffd}\u{fffd} Süd")
        );
        let told = serde_json::to_value(&page.body).unwrap();
        assert_eq!(told[0]["inside"][0], "\u{fffd}\u{fffd} Süd");
        assert_eq!(
            told[0]["inside"][1]["svg"],
            "<svg><text>\u{fffd}\u{fffd} Süd</text></svg>"
        );
        let note = told[1]["inside"][0].as_str().unwrap();
        assert!(
            note.starts_with("6 ") && note.ends_with("https://floors.example/sheet"),
            "{note}"
        );
        let whole = stood_in("Ελλάδα שלום");
        assert_eq!(whole.body.len(), 1);
        assert_eq!(whole.foot, whole.title);
        assert!(matches!(&whole.body[0], Node::Element(_)));
    }

    #[test]
    fn a_folder_without_fonts_or_with_what_is_none_is_refused_by_name() {
        let folder = std::env::temp_dir().join(format!("wearcourse-fonts-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        let refused = fonts(Some(&folder)).unwrap_err();
        assert!(matches!(refused, BadFonts::Empty(_)), "{refused}");
        std::fs::write(folder.join("a.TTF"), "no font").unwrap();
        let refused = fonts(Some(&folder)).unwrap_err().to_string();
        assert!(refused.contains("a.TTF is not a font"), "{refused}");
        std::fs::remove_dir_all(&folder).unwrap();
        assert!(matches!(fonts(Some(&folder)), Err(BadFonts::Unread(..))));
    }
}
