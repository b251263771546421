//! Workbooks that tests put together.

use std::io::{Cursor, Write};

use zip::{CompressionMethod, ZipWriter, write::SimpleFileOptions};

/// An archive of parts.
pub(super) fn archive(parts: &[(&str, &[u8])]) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    let options = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated);
    for (name, bytes) in parts {
        zip.start_file(*name, options).unwrap();
        zip.write_all(bytes).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

/// The list of sheets of a workbook, and where they stand.
fn frame(sheets: &[&str]) -> (String, String) {
    let mut book = String::from("<workbook><sheets>");
    let mut rels = String::from("<Relationships>");
    for (number, name) in (1..).zip(sheets) {
        let row = format!(r#"<sheet name="{name}" sheetId="{number}" r:id="rId{number}"/>"#);
        book.push_str(&row);
        let target = format!("worksheets/sheet{number}.xml");
        let row = format!(r#"<Relationship Id="rId{number}" Target="{target}"/>"#);
        rels.push_str(&row);
    }
    (book + "</sheets></workbook>", rels + "</Relationships>")
}

/// A workbook of whose sheets the text of the XML is given.
pub(super) fn raw_book(sheets: &[(&str, &str)], shared: &str) -> Vec<u8> {
    let names: Vec<&str> = sheets.iter().map(|(name, _)| *name).collect();
    let (book, rels) = frame(&names);
    let parts: Vec<String> = (1..=sheets.len())
        .map(|n| format!("xl/worksheets/sheet{n}.xml"))
        .collect();
    let mut all: Vec<(&str, &[u8])> = vec![
        ("xl/workbook.xml", book.as_bytes()),
        ("xl/_rels/workbook.xml.rels", rels.as_bytes()),
        ("xl/sharedStrings.xml", shared.as_bytes()),
    ];
    all.extend(
        parts
            .iter()
            .zip(sheets)
            .map(|(part, (_, text))| (part.as_str(), text.as_bytes())),
    );
    archive(&all)
}

/// The XML of a sheet with these rows: numbers as numbers, all else as text.
pub(super) fn sheet(rows: &[&[&str]]) -> String {
    let mut text = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?><worksheet><sheetData>");
    for row in rows {
        text.push_str("<row>");
        for cell in *row {
            let written = if cell.parse::<f64>().is_ok() {
                format!("<c><v>{cell}</v></c>")
            } else {
                let cell = cell.replace('&', "&amp;").replace('<', "&lt;");
                format!("<c t=\"inlineStr\"><is><t>{cell}</t></is></c>")
            };
            text.push_str(&written);
        }
        text.push_str("</row>");
    }
    text + "</sheetData></worksheet>"
}

/// A small building: two rooms on a floor and a roof.
pub(super) fn small() -> Vec<(&'static str, String)> {
    vec![
        (
            "Facility",
            sheet(&[
                &["Name", "LinearUnits", "AreaUnits"],
                &["Demo", "feet", "square feet"],
            ]),
        ),
        (
            "Floor",
            sheet(&[&["Name", "Category"], &["L1", "Floor"], &["Top", "Roof"]]),
        ),
        (
            "Space",
            sheet(&[
                &[
                    "Name",
                    "FloorName",
                    "Description",
                    "ExtSystem",
                    "ExtIdentifier",
                    "UsableHeight",
                    "GrossArea",
                    "NetArea",
                ],
                &[
                    "101",
                    "L1",
                    "Kitchen & store",
                    "model",
                    "a-1",
                    "8",
                    "n/a",
                    "200",
                ],
                &[
                    "102",
                    "L1",
                    "=HYPERLINK(1)",
                    "n/a",
                    "n/a",
                    "n/a",
                    "100",
                    "n/a",
                ],
                &["R1", "Top", "Roof", "model", "a-3", "0", "0", "5000"],
                &["103", "L9", "Office", "model", "a-1", "0", "n/a", "twenty"],
            ]),
        ),
        (
            "Attribute",
            sheet(&[
                &["Name", "SheetName", "RowName", "Value", "Unit"],
                &["Perimeter", "Space", "101", "18.288", "meter"],
                &["Perimeter", "Space", "102", "40", "n/a"],
                &["Floor Covering", "Space", "101", " Sheet  vinyl ", "n/a"],
                &["FloorMaterial", "Space", "102", "FloorMaterial", "n/a"],
                &["FloorMaterial", "Space", "999", "RUBBER", "n/a"],
                &["FloorMaterial", "Type", "101", "RUBBER", "n/a"],
            ]),
        ),
    ]
}

/// The workbook of [`small`].
pub(super) fn small_book() -> Vec<u8> {
    let sheets = small();
    let sheets: Vec<(&str, &str)> = sheets
        .iter()
        .map(|(name, text)| (*name, text.as_str()))
        .collect();
    raw_book(&sheets, "<sst/>")
}
