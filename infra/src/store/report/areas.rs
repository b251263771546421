//! Areas that a statement of their own tells of the rows of a report.

use std::collections::HashMap;

use sea_orm::QueryResult;

use super::{CostKey, CostRow, Dim};
use crate::store::StoreError;

/// Areas by what tells rows apart.
pub(super) struct Areas(HashMap<(&'static str, CostKey), i64>);

impl Areas {
    /// The areas in `column` of rows that have the columns of `dims` and the currency.
    pub(super) fn read(
        found: &[QueryResult],
        dims: &[Dim],
        column: &str,
    ) -> Result<Self, StoreError> {
        let mut areas = HashMap::with_capacity(found.len());
        for row in found {
            let area = row.try_get("", column)?;
            let row = CostRow::bare(row, dims)?;
            areas.insert((row.currency.code(), row.key), area);
        }
        Ok(Self(areas))
    }

    /// The area in mm² of a row; zero if nothing is told of it.
    pub(super) fn of(&self, row: &CostRow) -> i64 {
        let key = (row.currency.code(), row.key.clone());
        self.0.get(&key).copied().unwrap_or(0)
    }
}
