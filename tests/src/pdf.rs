//! What a PDF says, by a library that knows nothing of the one that writes it.

#![expect(
    clippy::expect_used,
    reason = "a PDF that cannot be read ends the test"
)]

use lopdf::{Dictionary, Document, Object};

/// A PDF that was read.
#[derive(Debug)]
pub struct Pdf(Document);

/// An element of its structure: what it is, and the words that stand for a drawing.
#[derive(Debug, PartialEq, Eq)]
pub struct Tag {
    /// Its kind, by the standard: `H1`, `P`, `Table`.
    pub kind: String,
    /// Its text for who does not see it.
    pub alt: Option<String>,
}

/// A text without blanks and places for breaks: lines are broken elsewhere on paper.
pub fn squeezed(text: &str) -> String {
    let shown = |letter: &char| !letter.is_whitespace() && *letter != '\u{200b}';
    text.chars().filter(shown).collect()
}

/// The texts that stand in the body of an HTML page of ours.
///
/// # Panics
/// At a page without one.
pub fn texts(html: &str) -> Vec<String> {
    let (_, body) = html.split_once("<body>").expect("a page with a body");
    body.split('<')
        .filter_map(|part| Some(part.split_once('>')?.1))
        .map(|text| {
            let text = text.replace("&lt;", "<").replace("&gt;", ">");
            text.replace("&quot;", "\"").replace("&amp;", "&")
        })
        .filter(|text| !squeezed(text).is_empty())
        .collect()
}

impl Pdf {
    /// Reads a PDF.
    ///
    /// # Panics
    /// At bytes that are none.
    #[track_caller]
    pub fn of(content: &[u8]) -> Self {
        Self(Document::load_mem(content).expect("a PDF"))
    }

    /// The text of each page, without blanks.
    ///
    /// # Panics
    /// Where it cannot be read.
    pub fn pages(&self) -> Vec<String> {
        let numbers = self.0.get_pages().into_keys();
        numbers
            .map(|number| squeezed(&self.0.extract_text(&[number]).expect("text")))
            .collect()
    }

    /// The language that it says it is in.
    pub fn language(&self) -> Option<String> {
        let language = self.0.catalog().ok()?.get(b"Lang").ok()?;
        Some(String::from_utf8_lossy(language.as_str().ok()?).into_owned())
    }

    /// Whether it says that it meets PDF/UA-1 (ISO 14289-1), which it does in its metadata.
    pub fn claims_universal_access(&self) -> bool {
        let metadata = || {
            let metadata = self.0.catalog().ok()?.get(b"Metadata").ok()?;
            let (_, metadata) = self.0.dereference(metadata).ok()?;
            let stream = metadata.as_stream().ok()?;
            let plain = stream.decompressed_content();
            Some(
                String::from_utf8_lossy(&plain.unwrap_or_else(|_| stream.content.clone()))
                    .into_owned(),
            )
        };
        metadata().is_some_and(|text| text.contains("<pdfuaid:part>1</pdfuaid:part>"))
    }

    /// The fonts, and whether each is in the file.
    pub fn fonts(&self) -> Vec<(String, bool)> {
        let objects = self.0.objects.values();
        let fonts = objects.filter_map(|object| object.as_dict().ok());
        let described = fonts.filter(|font| font.has_type(b"FontDescriptor"));
        described
            .map(|font| {
                let name = font.get(b"FontName").and_then(Object::as_name);
                let name = String::from_utf8_lossy(name.unwrap_or_default()).into_owned();
                (name, font.has(b"FontFile2") || font.has(b"FontFile3"))
            })
            .collect()
    }

    /// The elements of its structure in the order of reading.
    ///
    /// # Panics
    /// Where it has none.
    pub fn tags(&self) -> Vec<Tag> {
        let catalog = self.0.catalog().expect("a catalogue");
        let root = catalog.get(b"StructTreeRoot").expect("a structure");
        let mut tags = Vec::new();
        self.walk(root, &mut tags);
        tags
    }

    fn walk(&self, object: &Object, tags: &mut Vec<Tag>) {
        let Ok((_, object)) = self.0.dereference(object) else {
            return;
        };
        if let Ok(parts) = object.as_array() {
            for part in parts {
                self.walk(part, tags);
            }
        }
        let Ok(element) = object.as_dict() else {
            return;
        };
        if let Ok(kind) = element.get(b"S").and_then(Object::as_name) {
            tags.push(Tag {
                kind: String::from_utf8_lossy(kind).into_owned(),
                alt: self.alt(element),
            });
        }
        if let Ok(below) = element.get(b"K") {
            self.walk(below, tags);
        }
    }

    fn alt(&self, element: &Dictionary) -> Option<String> {
        let (_, alt) = self.0.dereference(element.get(b"Alt").ok()?).ok()?;
        lopdf::decode_text_string(alt).ok()
    }
}
