//! The rows of a cost report as Parquet: the columns of the table, typed.
//!
//! Money is DECIMAL(18, 4) in the currency of its row, so that a program adds it up without a float; measured numbers are
//! doubles with the unit in the column's name. A report is one row group: it has no more rows than one holds well.

use std::sync::Arc;

use parquet::{
    basic::{Compression, LogicalType, Repetition, Type as Physical},
    data_type::{BoolType, ByteArray, ByteArrayType, DataType, DoubleType, Int64Type},
    errors::ParquetError,
    file::{
        metadata::KeyValue,
        properties::WriterProperties,
        writer::{SerializedFileWriter, SerializedRowGroupWriter},
    },
    schema::types::Type,
};

use super::{
    CostRowView,
    table::{Column, Layout, Value, columns},
};
use crate::problem::Problem;

/// What a report is sent as.
pub(crate) const CONTENT_TYPE: &str = "application/vnd.apache.parquet";

/// Digits of money in all, and behind the point.
const DIGITS: (i32, i32) = (18, 4);

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
        .map(|column| field(column.name, (column.value)(&empty)));
    let fields: Vec<_> = fields.collect::<Result<_, _>>()?;
    let schema = Type::group_type_builder("costs")
        .with_fields(fields)
        .build()?;
    let about = about
        .iter()
        .map(|(key, value)| KeyValue::new((*key).to_owned(), value.clone()));
    let properties = WriterProperties::builder()
        .set_compression(Compression::SNAPPY)
        .set_created_by(concat!("wearcourse ", env!("CARGO_PKG_VERSION")).to_owned())
        .set_key_value_metadata(Some(about.collect()))
        .build();
    let mut file = SerializedFileWriter::new(Vec::new(), Arc::new(schema), Arc::new(properties))?;
    let mut group = file.next_row_group()?;
    for column in columns {
        put(&mut group, column, rows)?;
    }
    group.close()?;
    file.into_inner()
}

/// The type of a column, by what stands in an empty row. Every column may hold nothing.
fn field(name: &str, value: Value<'_>) -> Result<Arc<Type>, ParquetError> {
    let (physical, logical) = match value {
        Value::Text(_) => (Physical::BYTE_ARRAY, Some(LogicalType::String)),
        Value::Count(_) => (Physical::INT64, None),
        Value::Number(_) => (Physical::DOUBLE, None),
        Value::Money(_) => {
            let (precision, scale) = DIGITS;
            (
                Physical::INT64,
                Some(LogicalType::decimal(scale, precision)),
            )
        }
        Value::Flag(_) => (Physical::BOOLEAN, None),
    };
    let mut field = Type::primitive_type_builder(name, physical)
        .with_repetition(Repetition::OPTIONAL)
        .with_logical_type(logical);
    if matches!(value, Value::Money(_)) {
        field = field.with_precision(DIGITS.0).with_scale(DIGITS.1);
    }
    Ok(Arc::new(field.build()?))
}

fn put(
    group: &mut SerializedRowGroupWriter<'_, Vec<u8>>,
    column: &Column,
    rows: &[CostRowView],
) -> Result<(), ParquetError> {
    let of = column.value;
    match of(&CostRowView::default()) {
        Value::Text(_) => fill::<ByteArrayType>(group, rows, |row| match of(row) {
            Value::Text(text) => text.map(ByteArray::from),
            _ => None,
        }),
        Value::Count(_) => fill::<Int64Type>(group, rows, |row| match of(row) {
            Value::Count(count) => Some(count),
            _ => None,
        }),
        Value::Number(_) => fill::<DoubleType>(group, rows, |row| match of(row) {
            Value::Number(number) => number,
            _ => None,
        }),
        Value::Money(_) => {
            let all = rows.iter().map(|row| match of(row) {
                Value::Money(Some(money)) => units(&money.amount).map(Some),
                _ => Ok(None),
            });
            put_cells::<Int64Type>(group, all.collect::<Result<_, _>>()?)
        }
        Value::Flag(_) => fill::<BoolType>(group, rows, |row| match of(row) {
            Value::Flag(flag) => flag,
            _ => None,
        }),
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

fn fill<T: DataType>(
    group: &mut SerializedRowGroupWriter<'_, Vec<u8>>,
    rows: &[CostRowView],
    value: impl Fn(&CostRowView) -> Option<T::T>,
) -> Result<(), ParquetError> {
    put_cells::<T>(group, rows.iter().map(value).collect())
}

fn put_cells<T: DataType>(
    group: &mut SerializedRowGroupWriter<'_, Vec<u8>>,
    cells: Vec<Option<T::T>>,
) -> Result<(), ParquetError> {
    let levels: Vec<i16> = cells.iter().map(|cell| i16::from(cell.is_some())).collect();
    let values: Vec<T::T> = cells.into_iter().flatten().collect();
    let missing = || ParquetError::General("a column is not in the schema".to_owned());
    let mut writer = group.next_column()?.ok_or_else(missing)?;
    writer
        .typed::<T>()
        .write_batch(&values, Some(&levels), None)?;
    writer.close()
}
