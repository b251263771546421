//! A page that was written as HTML, as a tree for the press. It reads our own pages only: what [`maud`] writes is well-formed.

use quick_xml::{
    Reader, XmlVersion,
    escape::resolve_predefined_entity,
    events::{BytesStart, Event},
};
use serde::Serialize;

/// Elements that hold nothing and are not closed.
const VOID: [&str; 2] = ["br", "meta"];
/// The longest word, in characters, that is never broken on a line and in a cell. A longer one is broken without a sign.
const LINE_WORD: usize = 36;
const CELL_WORD: usize = 20;
/// After how many characters it may be broken.
const PIECE: usize = 10;
const BREAK: char = '\u{200b}';

/// A page.
#[derive(Debug, PartialEq, Serialize)]
pub(super) struct Page {
    /// The language of its own words (BCP 47).
    pub(super) lang: String,
    /// What a reader shows as its name.
    pub(super) title: String,
    /// The same as it stands at the foot of each sheet of paper.
    pub(super) foot: String,
    /// What stands on it.
    pub(super) body: Vec<Node>,
}

/// Text, or an element.
#[derive(Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub(super) enum Node {
    Text(String),
    Element(Element),
}

/// An element with what it holds; a drawing holds its SVG.
#[derive(Debug, Default, PartialEq, Serialize)]
pub(super) struct Element {
    pub(super) tag: String,
    pub(super) lang: String,
    pub(super) class: String,
    pub(super) alt: String,
    pub(super) width: f64,
    pub(super) svg: String,
    pub(super) inside: Vec<Node>,
}

/// A page that is not written as ours are.
#[derive(Debug, thiserror::Error)]
pub(crate) enum Unreadable {
    /// Not XML.
    #[error("the page is not well-formed: {0}")]
    Xml(#[from] quick_xml::Error),
    /// No attribute of XML.
    #[error("the page is not well-formed: {0}")]
    Attribute(#[from] quick_xml::events::attributes::AttrError),
    /// A name for a character that is not predefined.
    #[error("the page names a character &{0};")]
    Entity(String),
    /// Without title, language or body.
    #[error("the page has no {0}")]
    Missing(&'static str),
}

/// Reads a page.
///
/// # Errors
/// A page that is not written as ours are.
pub(super) fn tree(html: &str) -> Result<Page, Unreadable> {
    let mut reader = Reader::from_str(html);
    reader.config_mut().check_end_names = false;
    let mut open = vec![Element::default()];
    let mut text = String::new();
    loop {
        let at = place(&reader);
        match reader.read_event()? {
            Event::Text(part) => text.push_str(&part),
            Event::GeneralRef(name) => {
                let meant = resolve_predefined_entity(&name).map(str::to_owned);
                let number = || name.resolve_char_ref().ok().flatten().map(String::from);
                let meant = meant.or_else(number);
                text.push_str(&meant.ok_or_else(|| Unreadable::Entity(name.to_string()))?);
            }
            Event::Start(start) => {
                close_text(&mut open, &mut text);
                let element = element(&start)?;
                if element.tag == "svg" {
                    let end = start.to_end().into_owned();
                    reader.read_to_end(end.name())?;
                    let svg = html.get(at..place(&reader)).unwrap_or_default().to_owned();
                    put(&mut open, Node::Element(Element { svg, ..element }));
                } else if VOID.contains(&element.tag.as_str()) {
                    put(&mut open, Node::Element(element));
                } else {
                    open.push(element);
                }
            }
            Event::End(_) => {
                close_text(&mut open, &mut text);
                if open.len() > 1
                    && let Some(element) = open.pop()
                {
                    put(&mut open, Node::Element(element));
                }
            }
            Event::Eof => break,
            Event::Empty(_)
            | Event::CData(_)
            | Event::Comment(_)
            | Event::Decl(_)
            | Event::PI(_)
            | Event::DocType(_) => {}
        }
    }
    page(open.into_iter().next().unwrap_or_default())
}

fn place(reader: &Reader<&[u8]>) -> usize {
    usize::try_from(reader.buffer_position()).unwrap_or(usize::MAX)
}

fn element(start: &BytesStart<'_>) -> Result<Element, Unreadable> {
    let mut element = Element {
        tag: start.name().as_ref().to_owned(),
        ..Element::default()
    };
    for attribute in start.attributes() {
        let attribute = attribute?;
        let value = attribute.normalized_value(XmlVersion::Implicit1_0)?;
        match attribute.key.as_ref() {
            "lang" => element.lang = value.into_owned(),
            "class" => element.class = value.into_owned(),
            "aria-label" => element.alt = value.into_owned(),
            "width" => element.width = value.parse().unwrap_or_default(),
            _ => {}
        }
    }
    Ok(element)
}

fn put(open: &mut [Element], node: Node) {
    if let Some(holder) = open.last_mut() {
        holder.inside.push(node);
    }
}

/// Puts text where it stands: blanks are one, as a browser shows them, and long words may be broken.
fn close_text(open: &mut [Element], text: &mut String) {
    if text.is_empty() {
        return;
    }
    let in_cell = open
        .iter()
        .any(|element| matches!(element.tag.as_str(), "td" | "th"));
    let longest = if in_cell { CELL_WORD } else { LINE_WORD };
    let mut shown = String::with_capacity(text.len());
    for word in text.split_inclusive(|letter: char| letter.is_ascii_whitespace()) {
        let letters = word.trim_end_matches(|letter: char| letter.is_ascii_whitespace());
        if letters.chars().nth(longest).is_none() {
            shown.push_str(letters);
        } else {
            for (n, letter) in letters.chars().enumerate() {
                if n > 0 && n % PIECE == 0 {
                    shown.push(BREAK);
                }
                shown.push(letter);
            }
        }
        if letters.len() < word.len() && !shown.ends_with(' ') {
            shown.push(' ');
        }
    }
    text.clear();
    put(open, Node::Text(shown));
}

fn page(root: Element) -> Result<Page, Unreadable> {
    let html = child(root, "html").ok_or(Unreadable::Missing("root"))?;
    let mut page = Page {
        lang: html.lang,
        title: String::new(),
        foot: String::new(),
        body: Vec::new(),
    };
    for node in html.inside {
        match node {
            Node::Element(head) if head.tag == "head" => {
                let title = child(head, "title").ok_or(Unreadable::Missing("title"))?;
                for node in title.inside {
                    if let Node::Text(text) = node {
                        page.title
                            .extend(text.chars().filter(|&letter| letter != BREAK));
                    }
                }
            }
            Node::Element(body) if body.tag == "body" => page.body = body.inside,
            Node::Element(_) | Node::Text(_) => {}
        }
    }
    page.foot.clone_from(&page.title);
    if page.body.is_empty() {
        return Err(Unreadable::Missing("body"));
    }
    Ok(page)
}

fn child(holder: Element, tag: &str) -> Option<Element> {
    holder.inside.into_iter().find_map(|node| match node {
        Node::Element(element) if element.tag == tag => Some(element),
        Node::Element(_) | Node::Text(_) => None,
    })
}

#[cfg(test)]
mod tests {
    use super::{Node, Unreadable, tree};

    fn page(body: &str) -> String {
        format!(
            "<!DOCTYPE html><html lang=\"de\"><head><meta charset=\"utf-8\"><title>A &amp; B</title></head><body>{body}</body></html>"
        )
    }

    #[test]
    fn elements_texts_and_drawings_are_read_as_they_stand() {
        let drawing = "<svg width=\"48\" aria-label=\"a bay\"><path d=\"M0 0\"></path><text>7 &lt; 8</text></svg>";
        let read = tree(&page(&format!(
            "<p class=\"stop\" lang=\"en\">1 &lt; 2<br>  and &#x2265; <strong>&quot;3&quot;</strong></p>{drawing}<p>end</p>"
        )));
        let read = read.unwrap();
        assert_eq!((read.lang.as_str(), read.title.as_str()), ("de", "A & B"));
        let told = serde_json::to_value(&read.body).unwrap();
        assert_eq!(told[0]["class"], "stop");
        assert_eq!(told[0]["lang"], "en");
        assert_eq!(told[0]["inside"][0], "1 < 2");
        assert_eq!(told[0]["inside"][1]["tag"], "br");
        assert_eq!(told[0]["inside"][2], " and ≥ ");
        assert_eq!(told[0]["inside"][3]["inside"][0], "\"3\"");
        assert_eq!(told[1]["svg"], drawing);
        assert_eq!(
            (&told[1]["width"], &told[1]["alt"]),
            (&48.0.into(), &"a bay".into())
        );
        assert_eq!(told[2]["inside"][0], "end");
    }

    #[test]
    fn a_word_is_broken_where_no_line_holds_it() {
        let word = "x".repeat(37);
        let read = tree(&page(&format!(
            "<p>{word}</p><table><tr><td>{}</td></tr></table>",
            "y".repeat(20)
        )));
        let told = serde_json::to_string(&read.unwrap().body).unwrap();
        assert!(told.contains(&format!(
            "{0}\u{200b}{0}\u{200b}{0}\u{200b}xxxxxxx\"",
            "x".repeat(10)
        )));
        assert!(told.contains(&"y".repeat(20)));
    }

    #[test]
    fn a_page_that_is_not_ours_is_refused() {
        for (html, is_refused) in [
            ("", "root"),
            (
                "<html lang=\"en\"><head></head><body><p>a</p></body></html>",
                "title",
            ),
            (&page(""), "body"),
            (&page("<p>&nbsp;</p>"), "&nbsp;"),
            (&page("<p class=stop>a</p>"), "well-formed"),
        ] {
            let refused: Unreadable = tree(html).unwrap_err();
            assert!(
                refused.to_string().contains(is_refused),
                "{html}: {refused}"
            );
        }
        assert_eq!(tree(&page("a")).unwrap().body, [Node::Text("a".to_owned())]);
    }
}
