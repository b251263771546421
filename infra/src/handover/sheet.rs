//! Sheets of a workbook, row by row.

use std::{collections::BTreeMap, io::Read};

use domain::handover::{Place, Refusal, RefusalKind};

use super::{
    archive::Archive,
    xml::{Token, Xml, attribute},
};

/// The most rows of a sheet.
const MAX_ROWS: u32 = 200_000;
/// The most columns that are looked at; what stands further to the right is passed over.
const MAX_COLUMNS: usize = 64;
/// The most sheets.
const MAX_SHEETS: usize = 200;
/// The most texts that cells share, and the most bytes of them.
const MAX_SHARED: usize = 1_000_000;
const MAX_SHARED_BYTES: usize = 64 * 1024 * 1024;

/// A cell.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Cell {
    /// What it shows, without format.
    pub(super) text: String,
    /// Whether it is text by its type, whatever it shows.
    pub(super) is_text: bool,
}

/// A workbook.
pub(super) struct Workbook<'f> {
    archive: Archive<'f>,
    /// The part of each sheet, by the sheet's name in small letters.
    parts: BTreeMap<String, String>,
    shared: Shared,
}

impl<'f> Workbook<'f> {
    /// Opens a workbook: its list of sheets, and the texts that cells share.
    pub(super) fn open(bytes: &'f [u8]) -> Result<Self, Refusal> {
        let mut archive = Archive::open(bytes)?;
        let parts = sheets(&mut archive)?;
        let shared = Shared::read(&mut archive)?;
        Ok(Self {
            archive,
            parts,
            shared,
        })
    }

    /// Gives each row of a sheet to `take`; false where there is no such sheet.
    pub(super) fn rows(
        &mut self,
        sheet: &str,
        mut take: impl FnMut(u32, &[Cell]) -> Result<(), Refusal>,
    ) -> Result<bool, Refusal> {
        let Some(name) = self.parts.get(&sheet.to_lowercase()) else {
            return Ok(false);
        };
        let Some(part) = self.archive.part(name)? else {
            return Ok(false);
        };
        let mut rows = Rows {
            xml: Xml::new(name, part),
            shared: &self.shared,
            number: 0,
            cells: Vec::new(),
        };
        while rows.row()? {
            if rows.number > MAX_ROWS {
                let detail = format!("The sheet has more than {MAX_ROWS} rows.");
                return Err(Refusal::new(
                    RefusalKind::TooLarge,
                    detail,
                    rows.xml.place(),
                ));
            }
            take(rows.number, &rows.cells)?;
        }
        Ok(true)
    }
}

/// The part of each sheet, by the relations of the workbook.
fn sheets(archive: &mut Archive<'_>) -> Result<BTreeMap<String, String>, Refusal> {
    let mut targets: BTreeMap<String, String> = BTreeMap::new();
    let rels = "xl/_rels/workbook.xml.rels";
    if let Some(part) = archive.part(rels)? {
        let mut xml = Xml::new(rels, part);
        loop {
            match xml.next()? {
                Token::Open(start) if start.local_name().into_inner() == "Relationship" => {
                    let named = attribute(&start, "Id").zip(attribute(&start, "Target"));
                    if let Some((id, target)) = named.filter(|_| targets.len() < MAX_SHEETS) {
                        let part = target.strip_prefix('/').map(str::to_owned);
                        targets.insert(id, part.unwrap_or_else(|| format!("xl/{target}")));
                    }
                }
                Token::End => break,
                _ => {}
            }
        }
    }
    let name = "xl/workbook.xml";
    let Some(part) = archive.part(name)? else {
        let detail = "The archive holds no workbook.";
        return Err(Refusal::new(RefusalKind::NotTheFormat, detail, Place::File));
    };
    let mut xml = Xml::new(name, part);
    let mut sheets = BTreeMap::new();
    loop {
        match xml.next()? {
            Token::Open(start) if start.local_name().into_inner() == "sheet" => {
                let named = attribute(&start, "name").zip(attribute(&start, "id"));
                if let Some((name, id)) = named.filter(|_| sheets.len() < MAX_SHEETS)
                    && let Some(target) = targets.get(&id)
                {
                    sheets.insert(name.trim().to_lowercase(), target.clone());
                }
            }
            Token::End => return Ok(sheets),
            _ => {}
        }
    }
}

/// The texts that cells share, one behind the other.
#[derive(Default)]
struct Shared {
    text: String,
    /// Where each ends.
    ends: Vec<usize>,
}

impl Shared {
    fn read(archive: &mut Archive<'_>) -> Result<Self, Refusal> {
        let name = "xl/sharedStrings.xml";
        let mut shared = Self::default();
        let Some(part) = archive.part(name)? else {
            return Ok(shared);
        };
        let mut xml = Xml::new(name, part);
        let (mut in_text, mut aside) = (false, false);
        loop {
            match xml.next()? {
                Token::Open(start) => match start.local_name().into_inner() {
                    "t" => in_text = true,
                    // How a text is spoken stands beside it.
                    "rPh" => aside = true,
                    _ => {}
                },
                Token::Text(text) if in_text && !aside => shared.text.push_str(text),
                Token::Close("t") => in_text = false,
                Token::Close("rPh") => aside = false,
                Token::Close("si") => shared.ends.push(shared.text.len()),
                Token::Text(_) | Token::Close(_) => {}
                Token::End => return Ok(shared),
            }
            if shared.ends.len() > MAX_SHARED || shared.text.len() > MAX_SHARED_BYTES {
                let detail = "Cells share more than 1,000,000 texts, or more than 64 MiB of them.";
                return Err(Refusal::new(RefusalKind::TooLarge, detail, xml.place()));
            }
        }
    }

    fn get(&self, index: usize) -> Option<&str> {
        let end = *self.ends.get(index)?;
        let before = index
            .checked_sub(1)
            .and_then(|before| self.ends.get(before));
        self.text.get(before.copied().unwrap_or(0)..end)
    }
}

/// The rows of a sheet.
struct Rows<'a, R: Read> {
    xml: Xml<R>,
    shared: &'a Shared,
    number: u32,
    cells: Vec<Cell>,
}

impl<R: Read> Rows<'_, R> {
    /// Goes to the next row and reads its cells; false at the end.
    fn row(&mut self) -> Result<bool, Refusal> {
        loop {
            match self.xml.next()? {
                Token::Open(start) if start.local_name().into_inner() == "row" => {
                    let told = attribute(&start, "r").and_then(|number| number.parse().ok());
                    let next = self.number.saturating_add(1);
                    // A row says its number where rows are left out; it never goes back.
                    self.number = told.filter(|number| *number >= next).unwrap_or(next);
                    for cell in &mut self.cells {
                        cell.text.clear();
                        cell.is_text = false;
                    }
                    self.fill()?;
                    return Ok(true);
                }
                Token::End => return Ok(false),
                _ => {}
            }
        }
    }

    /// Reads the cells up to the end of the row.
    fn fill(&mut self) -> Result<(), Refusal> {
        let mut next = 0_usize;
        let (mut column, mut kind) = (0_usize, String::new());
        let mut in_value = false;
        let mut value = String::new();
        loop {
            match self.xml.next()? {
                Token::Open(start) => match start.local_name().into_inner() {
                    "c" => {
                        column = attribute(&start, "r")
                            .and_then(|name| column_of(&name))
                            .unwrap_or(next);
                        next = column.saturating_add(1);
                        kind = attribute(&start, "t").unwrap_or_default();
                        value.clear();
                    }
                    "v" | "t" => in_value = true,
                    _ => {}
                },
                Token::Text(text) if in_value && value.len() <= MAX_CELL => value.push_str(text),
                Token::Close("v" | "t") => in_value = false,
                Token::Close("c") => self.put(column, &kind, &value),
                Token::Close("row") | Token::End => return Ok(()),
                Token::Text(_) | Token::Close(_) => {}
            }
        }
    }

    fn put(&mut self, column: usize, kind: &str, value: &str) {
        if column >= MAX_COLUMNS {
            return;
        }
        if self.cells.len() <= column {
            self.cells
                .resize_with(column.saturating_add(1), Cell::default);
        }
        let text = match kind {
            "s" => value
                .trim()
                .parse()
                .ok()
                .and_then(|index| self.shared.get(index))
                .map_or("", start),
            // A formula that came to nothing.
            "e" => "",
            _ => value,
        };
        if let Some(cell) = self.cells.get_mut(column) {
            cell.text.clear();
            cell.text.push_str(text);
            cell.is_text = matches!(kind, "s" | "str" | "inlineStr");
        }
    }
}

/// The most bytes of a value that are kept.
const MAX_CELL: usize = 200_000;
/// The most bytes of a shared text that are copied into a cell, which may be done for each of millions of cells. No name that is
/// kept has as many.
const MAX_COPIED: usize = 1_000;

/// The beginning of a text.
fn start(text: &str) -> &str {
    text.split_at(text.floor_char_boundary(MAX_COPIED)).0
}

/// The column, from 0, of a cell named like `AB12`.
fn column_of(name: &str) -> Option<usize> {
    let letters = name.bytes().take_while(u8::is_ascii_uppercase).take(4);
    let column = letters.fold(0_usize, |column, letter| {
        column * 26 + usize::from(letter - b'A') + 1
    });
    column.checked_sub(1)
}

#[cfg(test)]
mod tests {
    use super::column_of;

    #[test]
    fn columns_are_counted_by_letters() {
        let found = ["A1", "Z1", "AA10", "BB3263", "1", ""].map(column_of);
        assert_eq!(found, [Some(0), Some(25), Some(26), Some(53), None, None]);
    }
}
