//! Lines and cells of RFC 4180: a quoted cell may hold separators, line ends and doubled quotes.

use std::borrow::Cow;

use super::{Refusal, refused};

/// The most columns.
const MAX_COLUMNS: usize = 64;
/// The most bytes of a cell.
const MAX_CELL: usize = 8_000;

/// A row of a table.
#[derive(Debug)]
pub(super) struct Line<'t> {
    /// On which line it begins, from 1.
    pub(super) number: u64,
    /// Its cells.
    pub(super) cells: Vec<Cow<'t, str>>,
}

/// Takes a text apart row by row.
pub(super) struct Splitter<'t> {
    rest: &'t str,
    line: u64,
}

impl<'t> Splitter<'t> {
    pub(super) const fn new(text: &'t str) -> Self {
        Self {
            rest: text,
            line: 1,
        }
    }

    /// The next row that is not empty; `None` at the end.
    pub(super) fn next(&mut self) -> Result<Option<Line<'t>>, Refusal> {
        while let Some(rest) = self
            .rest
            .strip_prefix("\r\n")
            .or_else(|| self.rest.strip_prefix('\n'))
        {
            self.rest = rest;
            self.line = self.line.saturating_add(1);
        }
        if self.rest.is_empty() {
            return Ok(None);
        }
        let number = self.line;
        let mut cells = Vec::new();
        loop {
            if cells.len() >= MAX_COLUMNS {
                return Err(refused(
                    format!("There are more than {MAX_COLUMNS} columns."),
                    number,
                ));
            }
            let cell = match self.rest.strip_prefix('"') {
                Some(rest) => self.quoted(rest, number)?,
                None => self.plain(number)?,
            };
            cells.push(cell);
            let (ended, rest) = match self.rest.as_bytes() {
                [] => (true, ""),
                [b',', ..] => (false, self.rest.get(1..).unwrap_or("")),
                [b'\n', ..] => (true, self.rest.get(1..).unwrap_or("")),
                [b'\r', b'\n', ..] => (true, self.rest.get(2..).unwrap_or("")),
                _ => {
                    return Err(refused(
                        "Behind a closing quote stands neither a comma nor a line's end.",
                        number,
                    ));
                }
            };
            if ended && !self.rest.is_empty() {
                self.line = self.line.saturating_add(1);
            }
            self.rest = rest;
            if ended {
                return Ok(Some(Line { number, cells }));
            }
        }
    }

    /// A cell up to the next comma or line end.
    fn plain(&mut self, number: u64) -> Result<Cow<'t, str>, Refusal> {
        let end = self.rest.find([',', '\n', '"']).unwrap_or(self.rest.len());
        let (cell, rest) = self.rest.split_at_checked(end).unwrap_or((self.rest, ""));
        if rest.starts_with('"') {
            return Err(refused(
                "A quote stands within a cell that does not begin with one.",
                number,
            ));
        }
        // A line end of two characters belongs to the line, not to the cell.
        let kept = if rest.starts_with('\n') {
            cell.strip_suffix('\r').unwrap_or(cell)
        } else {
            cell
        };
        self.rest = self.rest.get(kept.len()..).unwrap_or("");
        size(kept, number)?;
        Ok(Cow::Borrowed(kept))
    }

    /// A cell between quotes, of which the first is taken off.
    fn quoted(&mut self, rest: &'t str, number: u64) -> Result<Cow<'t, str>, Refusal> {
        let mut from = 0;
        loop {
            let Some(found) = rest.get(from..).and_then(|tail| tail.find('"')) else {
                return Err(refused("A quote is opened here and never closed.", number));
            };
            let at = from.saturating_add(found);
            let behind = at.saturating_add(1);
            if rest.as_bytes().get(behind) == Some(&b'"') {
                from = behind.saturating_add(1);
                continue;
            }
            let inner = rest.get(..at).unwrap_or("");
            size(inner, number)?;
            self.rest = rest.get(behind..).unwrap_or("");
            let ends = inner.bytes().filter(|byte| *byte == b'\n').count();
            self.line = self
                .line
                .saturating_add(u64::try_from(ends).unwrap_or(u64::MAX));
            return Ok(if inner.contains('"') {
                Cow::Owned(inner.replace("\"\"", "\""))
            } else {
                Cow::Borrowed(inner)
            });
        }
    }
}

fn size(cell: &str, number: u64) -> Result<(), Refusal> {
    if cell.len() > MAX_CELL {
        return Err(refused(
            format!("A cell is larger than {MAX_CELL} bytes."),
            number,
        ));
    }
    Ok(())
}
