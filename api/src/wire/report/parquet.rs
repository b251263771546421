//! The rows of a cost report as Parquet: the columns of the table, typed.
//!
//! A report is one row group: it has no more rows than one holds well.

use parquet::{
    data_type::{BoolType, ByteArray, ByteArrayType, DoubleType, Int64Type},
    errors::ParquetError,
    file::writer::SerializedRowGroupWriter,
};

use super::{
    CostRowView,
    table::{Column, Layout, Value, columns},
};
use crate::{
    problem::Problem,
    wire::parquet::{Kind, begin, put_cells},
};

/// What a report is sent as.
pub(crate) const CONTENT_TYPE: &str = "application/vnd.apache.parquet";

/// Writes the rows, without totals. `about` is kept in the file beside them.
///
/// # Errors
/// `internal` if it cannot be written.
pub(crate) fn parquet(
    layout: Layout<'_>,
    rows: &[CostRowView],
    about: &[(&str, String)],
) -> Result<Vec<u8>, Problem> {
    let columns = columns(layout);
    write(&columns, rows, about).map_err(|error| Problem::internal(&error))
}

fn write(
    columns: &[&Column],
    rows: &[CostRowView],
    about: &[(&str, String)],
) -> Result<Vec<u8>, ParquetError> {
    let empty = CostRowView::default();
    let fields = columns
        .iter()
        .map(|column| (column.name, kind((column.value)(&empty))));
    let mut file = begin(Vec::new(), "costs", fields, about)?;
    let mut group = file.next_row_group()?;
    for column in columns {
        put(&mut group, column, rows)?;
    }
    group.close()?;
    file.into_inner()
}

/// What a column holds, by what stands in an empty row.
const fn kind(value: Value<'_>) -> Kind {
    match value {
        Value::Text(_) => Kind::Text,
        Value::Count(_) => Kind::Count,
        Value::Number(_) => Kind::Number,
        Value::Money(_) => Kind::Money,
        Value::Flag(_) => Kind::Flag,
    }
}

fn put(
    group: &mut SerializedRowGroupWriter<'_, Vec<u8>>,
    column: &Column,
    rows: &[CostRowView],
) -> Result<(), ParquetError> {
    let values = rows.iter().map(column.value);
    match kind((column.value)(&CostRowView::default())) {
        Kind::Text => {
            let cells = values.map(|value| match value {
                Value::Text(text) => text.map(ByteArray::from),
                _ => None,
            });
            put_cells::<ByteArrayType, _>(group, cells)
        }
        Kind::Count => {
            let cells = values.map(|value| match value {
                Value::Count(count) => Some(count),
                _ => None,
            });
            put_cells::<Int64Type, _>(group, cells)
        }
        Kind::Number => {
            let cells = values.map(|value| match value {
                Value::Number(number) => number,
                _ => None,
            });
            put_cells::<DoubleType, _>(group, cells)
        }
        Kind::Money => {
            let cells = values.map(|value| match value {
                Value::Money(Some(money)) => units(&money.amount).map(Some),
                _ => Ok(None),
            });
            let cells: Vec<_> = cells.collect::<Result<_, _>>()?;
            put_cells::<Int64Type, _>(group, cells.into_iter())
        }
        Kind::Flag => {
            let cells = values.map(|value| match value {
                Value::Flag(flag) => flag,
                _ => None,
            });
            put_cells::<BoolType, _>(group, cells)
        }
    }
}

/// The amount that is shown, in 1/10,000 of its currency's unit; refuses what has more digits than the column.
fn units(shown: &str) -> Result<i64, ParquetError> {
    let (whole, fraction) = shown.split_once('.').unwrap_or((shown, ""));
    let units = format!("{whole}{fraction:0<4}").parse::<i64>().ok();
    let fits = |units: &i64| units.unsigned_abs() < 10_u64.pow(18);
    let too_long = || ParquetError::General(format!("{shown} has more digits than a column holds"));
    units.filter(fits).ok_or_else(too_long)
}
