//! XML, event by event: no document type, no entity of its own, no tag or text without end.

use std::io::{self, BufReader, Read};

use domain::handover::{Place, Refusal, RefusalKind};
use quick_xml::{
    Error, Reader,
    events::{BytesStart, Event},
};

/// The most bytes between two angle brackets: a cell holds at most 32,767 characters, of four bytes each.
const MAX_TOKEN: usize = 256 * 1024;
/// How deep elements may lie in one another.
const MAX_DEPTH: usize = 32;
/// What a part says where more comes out of it than may.
pub(super) const TOO_MUCH: &str =
    "The entry unpacks to more than 100 times its size, or all of them to more than 512 MiB.";
const LONG: &str = "A tag or a text is longer than 256 KiB.";
const DECLARED: &str =
    "The part holds a document type, a comment or a section of raw text: no workbook does.";

/// An event.
pub(super) enum Token<'b> {
    /// An element begins.
    Open(BytesStart<'b>),
    /// An element ends; one without content begins and ends.
    Close(&'b str),
    /// Text, as it is meant.
    Text(&'b str),
    /// The part ends.
    End,
}

/// A part that is read.
pub(super) struct Xml<R: Read> {
    reader: Reader<BufReader<Guard<R>>>,
    buf: Vec<u8>,
    text: String,
    depth: usize,
    name: String,
}

impl<R: Read> Xml<R> {
    /// A part with its name.
    pub(super) fn new(name: &str, part: R) -> Self {
        let guard = Guard {
            inner: part,
            since: 0,
            after_open: false,
        };
        let mut reader = Reader::from_reader(BufReader::with_capacity(64 * 1024, guard));
        let config = reader.config_mut();
        config.expand_empty_elements = true;
        Self {
            reader,
            buf: Vec::new(),
            text: String::new(),
            depth: 0,
            name: name.to_owned(),
        }
    }

    /// The next event.
    pub(super) fn next(&mut self) -> Result<Token<'_>, Refusal> {
        self.buf.clear();
        self.text.clear();
        let place = Place::Part(self.name.clone());
        let event = match self.reader.read_event_into(&mut self.buf) {
            Ok(event) => event,
            Err(error) => return Err(refusal(&error, place)),
        };
        match event {
            Event::Start(start) | Event::Empty(start) => {
                self.depth = self.depth.saturating_add(1);
                if self.depth > MAX_DEPTH {
                    let detail = "Elements lie more than 32 deep in one another.";
                    return Err(Refusal::new(RefusalKind::Hostile, detail, place));
                }
                Ok(Token::Open(start))
            }
            Event::End(end) => {
                self.depth = self.depth.saturating_sub(1);
                self.text.push_str(end.local_name().into_inner());
                Ok(Token::Close(&self.text))
            }
            Event::Text(text) => {
                self.text.push_str(&text.xml10_content());
                Ok(Token::Text(&self.text))
            }
            Event::GeneralRef(entity) => {
                let c = match entity.as_ref() {
                    "amp" => Some('&'),
                    "lt" => Some('<'),
                    "gt" => Some('>'),
                    "quot" => Some('"'),
                    "apos" => Some('\''),
                    _ => entity.resolve_char_ref().ok().flatten(),
                };
                let Some(c) = c else {
                    let detail = "The part names an entity that XML does not have.";
                    return Err(Refusal::new(RefusalKind::Hostile, detail, place));
                };
                self.text.push(c);
                Ok(Token::Text(&self.text))
            }
            Event::DocType(_) | Event::Comment(_) | Event::CData(_) => {
                Err(Refusal::new(RefusalKind::Hostile, DECLARED, place))
            }
            Event::Decl(_) | Event::PI(_) => Ok(Token::Text(&self.text)),
            Event::Eof if self.depth > 0 => Err(malformed(place)),
            Event::Eof => Ok(Token::End),
        }
    }

    /// Where this is.
    pub(super) fn place(&self) -> Place {
        Place::Part(self.name.clone())
    }
}

/// An attribute by its local name.
pub(super) fn attribute(start: &BytesStart<'_>, name: &str) -> Option<String> {
    let mut attributes = start.attributes();
    let mut found = attributes.with_checks(false).filter_map(Result::ok);
    let found = found.find(|one| one.key.local_name().into_inner() == name)?;
    let value = found
        .normalized_value(quick_xml::XmlVersion::Implicit1_0)
        .ok()?;
    Some(value.into_owned())
}

fn refusal(error: &Error, place: Place) -> Refusal {
    let Error::Io(error) = error else {
        return malformed(place);
    };
    let said = error.to_string();
    let of = |kind| Refusal::new(kind, said.clone(), place.clone());
    match said.as_str() {
        TOO_MUCH | DECLARED => of(RefusalKind::Hostile),
        LONG => of(RefusalKind::TooLarge),
        _ => malformed(place),
    }
}

fn malformed(place: Place) -> Refusal {
    Refusal::new(
        RefusalKind::Malformed,
        "The part is broken, cut off or not UTF-8.",
        place,
    )
}

/// Stops where a tag or a text goes on too long, before the parser gathers it, and where a document type begins.
pub(super) struct Guard<R> {
    inner: R,
    /// How many bytes since the last angle bracket.
    since: usize,
    /// Whether that was an opening one, just before.
    after_open: bool,
}

impl<R: Read> Read for Guard<R> {
    fn read(&mut self, buf: &mut [u8]) -> io::Result<usize> {
        let n_read = self.inner.read(buf)?;
        for byte in buf.iter().take(n_read) {
            if self.after_open && *byte == b'!' {
                return Err(io::Error::other(DECLARED));
            }
            self.after_open = *byte == b'<';
            self.since = if matches!(byte, b'<' | b'>') {
                0
            } else {
                self.since.saturating_add(1)
            };
            if self.since > MAX_TOKEN {
                return Err(io::Error::other(LONG));
            }
        }
        Ok(n_read)
    }
}
