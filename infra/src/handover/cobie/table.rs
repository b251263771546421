//! A sheet as a table: its first row names the columns.

use domain::handover::{Place, Refusal, RefusalKind, told};

use crate::handover::sheet::{Cell, Workbook};

/// A row of a table, of which `N` columns are looked at.
pub(super) struct Row<'r, const N: usize> {
    sheet: &'static str,
    number: u32,
    labels: [&'static str; N],
    columns: &'r [Option<usize>; N],
    cells: &'r [Cell],
}

static EMPTY: Cell = Cell {
    text: String::new(),
    is_text: false,
};

impl<const N: usize> Row<'_, N> {
    /// A cell by the index of its column among those that are looked at.
    pub(super) fn cell(&self, index: usize) -> &Cell {
        let column = self.columns.get(index).copied().flatten();
        column
            .and_then(|column| self.cells.get(column))
            .unwrap_or(&EMPTY)
    }

    /// What a cell tells, blanks folded; `None` for nothing and for placeholders.
    pub(super) fn told(&self, index: usize) -> Option<String> {
        told(&self.cell(index).text, self.label(index))
    }

    /// The name of a column.
    pub(super) fn label(&self, index: usize) -> &'static str {
        self.labels.get(index).copied().unwrap_or("")
    }

    /// Where the row stands.
    pub(super) const fn place(&self) -> Place {
        Place::Row {
            sheet: self.sheet,
            row: self.number,
        }
    }
}

/// Gives each row of a sheet to `take`, with the wanted columns; false where there is no such sheet. Of the wanted columns the first
/// must be there.
pub(super) fn read_table<const N: usize>(
    book: &mut Workbook<'_>,
    sheet: &'static str,
    wanted: [&'static str; N],
    mut take: impl FnMut(&Row<'_, N>) -> Result<(), Refusal>,
) -> Result<bool, Refusal> {
    let mut header: Option<[Option<usize>; N]> = None;
    book.rows(sheet, |number, cells| {
        let Some(columns) = &header else {
            let find = |name: &str| {
                cells
                    .iter()
                    .position(|cell| cell.text.trim().eq_ignore_ascii_case(name))
            };
            let found = wanted.map(find);
            if found.first().copied().flatten().is_none() {
                let (name, row) = (wanted.first().copied().unwrap_or(""), number);
                let detail = format!("The first row of the sheet names no column `{name}`.");
                return Err(Refusal::new(
                    RefusalKind::NotTheFormat,
                    detail,
                    Place::Row { sheet, row },
                ));
            }
            header = Some(found);
            return Ok(());
        };
        if cells.iter().all(|cell| cell.text.is_empty()) {
            return Ok(());
        }
        take(&Row {
            sheet,
            number,
            labels: wanted,
            columns,
            cells,
        })
    })
}
