//! Comma-separated values (RFC 4180) that a spreadsheet opens without running anything.
//!
//! A text cell that begins like a formula is led by an apostrophe, as OWASP advises ("CSV Injection"); numbers are
//! written as they are, so that a negative amount stays a number.

use std::{
    fmt::{self, Write as _},
    io, iter,
};

use domain::handover::shielded;

/// What a table of ours is sent as: UTF-8 with a header row.
pub(crate) const CONTENT_TYPE: &str = "text/csv; charset=utf-8; header=present";

/// One cell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Cell {
    /// Nothing: not zero, not the empty text.
    Empty,
    /// Text, of whomever.
    Text(String),
    /// Digits that this service wrote.
    Number(String),
}

impl Cell {
    /// Text, or nothing.
    pub(crate) fn text(text: Option<&str>) -> Self {
        text.map_or(Self::Empty, |text| Self::Text(text.to_owned()))
    }

    /// A number, or nothing.
    pub(crate) fn number(number: Option<impl ToString>) -> Self {
        number.map_or(Self::Empty, |number| Self::Number(number.to_string()))
    }
}

/// Lines of a table, cell by cell, each line ended by CR LF.
#[derive(Debug)]
pub(crate) struct Lines {
    writer: csv::Writer<Vec<u8>>,
    /// The digits of the number at hand.
    digits: String,
}

impl Lines {
    /// No line yet.
    pub(crate) fn new() -> Self {
        let mut builder = csv::WriterBuilder::new();
        Self {
            writer: builder
                .terminator(csv::Terminator::CRLF)
                .from_writer(Vec::new()),
            digits: String::new(),
        }
    }

    /// A cell of text, of whomever.
    ///
    /// # Errors
    /// Those of the writer; none in memory.
    pub(crate) fn text(&mut self, text: &str) -> io::Result<()> {
        Ok(self.writer.write_field(&*shielded(text))?)
    }

    /// A cell of text or of nothing.
    ///
    /// # Errors
    /// As [`Lines::text`].
    pub(crate) fn perhaps(&mut self, text: Option<&str>) -> io::Result<()> {
        self.text(text.unwrap_or_default())
    }

    /// A cell of a number or of nothing.
    ///
    /// # Errors
    /// As [`Lines::text`].
    pub(crate) fn number(&mut self, number: Option<impl fmt::Display>) -> io::Result<()> {
        self.digits.clear();
        if let Some(number) = number {
            write!(self.digits, "{number}").map_err(io::Error::other)?;
        }
        Ok(self.writer.write_field(&self.digits)?)
    }

    fn cell(&mut self, cell: &Cell) -> io::Result<()> {
        match cell {
            Cell::Empty => self.perhaps(None),
            Cell::Text(text) => self.text(text),
            Cell::Number(digits) => self.number(Some(digits)),
        }
    }

    /// The end of a line, which has as many cells as the others.
    ///
    /// # Errors
    /// One for a line with fewer or more cells than the first.
    pub(crate) fn end(&mut self) -> io::Result<()> {
        Ok(self.writer.write_record(None::<&[u8]>)?)
    }

    /// What was written.
    ///
    /// # Errors
    /// As [`Lines::text`].
    pub(crate) fn bytes(self) -> io::Result<Vec<u8>> {
        let written = self.writer.into_inner();
        written.map_err(csv::IntoInnerError::into_error)
    }
}

/// Writes a header and rows, each line ended by CR LF.
///
/// # Errors
/// Those of the writer; none in memory with rows as long as the header.
pub(crate) fn write(
    header: &[&str],
    rows: impl IntoIterator<Item = Vec<Cell>>,
) -> io::Result<Vec<u8>> {
    let header = header.iter().map(|name| Cell::Text((*name).to_owned()));
    lines(iter::once(header.collect()).chain(rows))
}

/// Writes rows that follow others.
///
/// # Errors
/// As [`write`].
pub(crate) fn lines(rows: impl IntoIterator<Item = Vec<Cell>>) -> io::Result<Vec<u8>> {
    let mut lines = Lines::new();
    for row in rows {
        for cell in &row {
            lines.cell(cell)?;
        }
        lines.end()?;
    }
    lines.bytes()
}

#[cfg(test)]
mod tests {
    use super::{Cell, write};

    fn line(cells: Vec<Cell>) -> String {
        let header: Vec<_> = cells.iter().map(|_| "h").collect();
        let written = String::from_utf8(write(&header, [cells]).unwrap()).unwrap();
        written.split_once("\r\n").unwrap().1.to_owned()
    }

    #[test]
    fn s_112_text_that_begins_like_a_formula_is_led_by_an_apostrophe() {
        for hostile in [
            "=1+1",
            "=cmd|' /C calc'!A0",
            "=HYPERLINK(A1)",
            "+1",
            "-1",
            "@SUM(A1)",
            "\t=1",
            "\r=1",
            "\n=1",
            "\0=1",
            "  =1",
            "\u{a0}=1",
            "＝1",
            "＋1",
            "－1",
            "＠1",
        ] {
            let mut reader =
                csv::ReaderBuilder::new()
                    .has_headers(false)
                    .from_reader(std::io::Cursor::new(line(vec![
                        Cell::Text(hostile.to_owned()),
                        Cell::Empty,
                    ])));
            let read = reader.records().next().unwrap().unwrap();
            assert_eq!(&read[0], format!("'{hostile}"), "{hostile:?}");
        }
    }

    #[test]
    fn other_text_and_numbers_stay_as_they_are() {
        let cells = vec![
            Cell::Text("Ward 3 = north".to_owned()),
            Cell::text(None),
            Cell::number(Some("-12.50")),
            Cell::number(Some(7)),
            Cell::number(None::<i64>),
        ];
        assert_eq!(line(cells), "Ward 3 = north,,-12.50,7,\r\n");
    }

    #[test]
    fn quotes_separators_and_line_breaks_are_quoted() {
        let cells = vec![
            Cell::Text("a,\"b\"".to_owned()),
            Cell::Text("two\r\nlines".to_owned()),
        ];
        assert_eq!(line(cells), "\"a,\"\"b\"\"\",\"two\r\nlines\"\r\n");
        assert_eq!(write(&["a", "b"], []).unwrap(), b"a,b\r\n");
    }
}
