//! Tables whose columns line up; the widest columns of words are wrapped if the table is wider than the paper.

use super::wrap;

/// Between two columns.
const BETWEEN: &str = "  ";
/// No column of words becomes narrower than this, in characters.
const NARROWEST: usize = 12;

/// How a column stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::demo) enum Column {
    /// Words: on the left, wrapped where they must be.
    Words(&'static str),
    /// Figures: on the right, so that units and points stand below each other.
    Figure(&'static str),
}

impl Column {
    const fn title(self) -> &'static str {
        match self {
            Self::Words(title) | Self::Figure(title) => title,
        }
    }
}

/// A table.
#[derive(Debug)]
pub(in crate::demo) struct Table {
    columns: Vec<Column>,
    rows: Vec<Vec<String>>,
    n_sums: usize,
}

impl Table {
    pub(in crate::demo) fn new(columns: &[Column]) -> Self {
        Self {
            columns: columns.to_vec(),
            rows: Vec::new(),
            n_sums: 0,
        }
    }

    /// Adds a row; cells that are missing at its end are empty.
    pub(in crate::demo) fn row(&mut self, cells: impl IntoIterator<Item = String>) {
        self.rows.push(cells.into_iter().collect());
    }

    /// Adds a row below the line that ends the table. Sums come last.
    pub(in crate::demo) fn sum(&mut self, cells: impl IntoIterator<Item = String>) {
        self.rows.push(cells.into_iter().collect());
        self.n_sums = self.n_sums.saturating_add(1);
    }

    /// The lines of the table, none wider than `width` if its words can be wrapped so far.
    pub(super) fn lines(&self, width: usize) -> Vec<String> {
        let widths = self.widths(width);
        let titles: Vec<String> = self
            .columns
            .iter()
            .map(|column| column.title().to_owned())
            .collect();
        let rule: Vec<String> = widths.iter().map(|width| "-".repeat(*width)).collect();
        let rule = rule.join(BETWEEN);
        let mut lines = self.row_lines(&titles, &widths);
        lines.push(rule.clone());
        let first_sum = self.rows.len().saturating_sub(self.n_sums);
        for (at, row) in self.rows.iter().enumerate() {
            if self.n_sums > 0 && at == first_sum {
                lines.push(rule.clone());
            }
            lines.extend(self.row_lines(row, &widths));
        }
        lines
    }

    /// As wide as the widest cell; the widest columns of words give way.
    fn widths(&self, available: usize) -> Vec<usize> {
        let mut widths: Vec<usize> = self
            .columns
            .iter()
            .enumerate()
            .map(|(at, column)| {
                let cells = self.rows.iter().filter_map(|row| row.get(at));
                let longest = cells.map(|cell| cell.chars().count()).max();
                column.title().chars().count().max(longest.unwrap_or(0))
            })
            .collect();
        let gaps = BETWEEN.len().saturating_mul(widths.len().saturating_sub(1));
        let total = widths.iter().sum::<usize>().saturating_add(gaps);
        for _ in available..total {
            let words = widths
                .iter_mut()
                .zip(&self.columns)
                .filter(|(width, column)| {
                    matches!(column, Column::Words(_)) && **width > NARROWEST
                });
            if let Some((widest, _)) = words.max_by_key(|(width, _)| **width) {
                *widest = widest.saturating_sub(1);
            }
        }
        widths
    }

    fn row_lines(&self, row: &[String], widths: &[usize]) -> Vec<String> {
        let columns = self.columns.iter().zip(widths).enumerate();
        let cells: Vec<(Column, usize, Vec<String>)> = columns
            .map(|(at, (column, width))| {
                let cell = row.get(at).map_or("", String::as_str);
                (*column, *width, wrap(cell, *width))
            })
            .collect();
        let height = cells.iter().map(|(_, _, lines)| lines.len()).max();
        (0..height.unwrap_or(0))
            .map(|at| {
                let parts: Vec<String> = cells
                    .iter()
                    .map(|(column, width, lines)| {
                        let width = *width;
                        let part = lines.get(at).map_or("", String::as_str);
                        match column {
                            Column::Words(_) => format!("{part:<width$}"),
                            Column::Figure(_) => format!("{part:>width$}"),
                        }
                    })
                    .collect();
                parts.join(BETWEEN).trim_end().to_owned()
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::{Column, Table};

    fn cells<const N: usize>(cells: [&str; N]) -> [String; N] {
        cells.map(str::to_owned)
    }

    #[test]
    fn words_stand_left_and_figures_right() {
        let mut table = Table::new(&[Column::Words("what"), Column::Figure("L")]);
        table.row(cells(["seal", "9.50"]));
        table.row(cells(["stripper", "12.00"]));
        table.sum(cells(["all", "21.50"]));
        let expected = [
            "what          L",
            "--------  -----",
            "seal       9.50",
            "stripper  12.00",
            "--------  -----",
            "all       21.50",
        ];
        assert_eq!(table.lines(96), expected);
    }

    #[test]
    fn the_widest_words_are_wrapped_to_fit() {
        let mut table = Table::new(&[
            Column::Words("process"),
            Column::Words("why"),
            Column::Figure("h"),
        ]);
        table.row(cells([
            "recoat",
            "a reason that is longer than the paper is wide",
            "1.5",
        ]));
        let lines = table.lines(40);
        assert!(lines.iter().all(|line| line.chars().count() <= 40));
        assert_eq!(lines.len(), 4);
        assert!(lines[2].ends_with("1.5"));
        assert!(lines[3].starts_with("         "));
    }

    #[test]
    fn a_column_of_words_keeps_some_width() {
        let mut table = Table::new(&[Column::Words("a"), Column::Figure("b")]);
        table.row(cells([&"word ".repeat(8), &"9".repeat(30)]));
        assert!(table.lines(20).iter().all(|line| line.len() <= 12 + 2 + 30));
    }

    #[test]
    fn missing_cells_are_empty() {
        let mut table = Table::new(&[Column::Words("a"), Column::Words("b")]);
        table.row(cells(["x"]));
        assert_eq!(table.lines(96), ["a  b", "-  -", "x"]);
    }
}
