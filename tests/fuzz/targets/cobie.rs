//! Workbooks of which the sheets are made up: the archive around them is always whole.
//!
//! What is made up is cut at bytes of 0xFF, which no text in UTF-8 holds, into the parts of the workbook.

#![no_main]

use std::io::{Cursor, Write};

use domain::handover::Format;
use libfuzzer_sys::fuzz_target;
use zip::{CompressionMethod, ZipWriter, write::SimpleFileOptions};

/// What is always the same: which sheet is which part.
const FRAME: [(&str, &str); 2] = [
    (
        "xl/workbook.xml",
        r#"<workbook><sheets><sheet name="Facility" id="a"/><sheet name="Floor" id="b"/><sheet name="Space" id="c"/><sheet name="Attribute" id="d"/></sheets></workbook>"#,
    ),
    (
        "xl/_rels/workbook.xml.rels",
        r#"<Relationships><Relationship Id="a" Target="a"/><Relationship Id="b" Target="b"/><Relationship Id="c" Target="c"/><Relationship Id="d" Target="d"/></Relationships>"#,
    ),
];
const PARTS: [&str; 5] = ["xl/c", "xl/a", "xl/d", "xl/b", "xl/sharedStrings.xml"];

fn book(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    let options = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
    let frame = FRAME.iter().map(|(name, text)| (*name, text.as_bytes()));
    for (name, part) in frame.chain(PARTS.into_iter().zip(bytes.split(|byte| *byte == 0xFF))) {
        zip.start_file(name, options).ok()?;
        zip.write_all(part).ok()?;
    }
    Some(zip.finish().ok()?.into_inner())
}

fuzz_target!(|bytes: &[u8]| {
    if let Some(book) = book(bytes) {
        fuzz::read(Format::Cobie, &book);
    }
});
