//! Tables as Parquet, column by column.
//!
//! Money is DECIMAL(18, 4) in the currency of its row, so that a program adds it up without a float; measured numbers are
//! doubles with the unit in the column's name. Every column may hold nothing.

use std::{io::Write, sync::Arc};

use parquet::{
    basic::{Compression, LogicalType, Repetition, Type as Physical},
    data_type::DataType,
    errors::ParquetError,
    file::{
        metadata::KeyValue,
        properties::WriterProperties,
        writer::{SerializedFileWriter, SerializedRowGroupWriter},
    },
    schema::types::Type,
};

/// Digits of money in all, and behind the point.
const DIGITS: (i32, i32) = (18, 4);

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    /// Text.
    Text,
    /// A count.
    Count,
    /// A measured number.
    Number,
    /// An amount, in 1/10,000 of the currency's unit.
    Money,
    /// Yes or no.
    Flag,
}

/// Begins a file of these columns; `about` is kept in it beside them.
///
/// # Errors
/// What the writer answered.
pub(crate) fn begin<W: Write + Send>(
    into: W,
    name: &str,
    columns: impl Iterator<Item = (&'static str, Kind)>,
    about: &[(&str, String)],
) -> Result<SerializedFileWriter<W>, ParquetError> {
    let fields = columns.map(|(name, kind)| field(name, kind));
    let fields: Vec<_> = fields.collect::<Result<_, _>>()?;
    let schema = Type::group_type_builder(name).with_fields(fields).build()?;
    let about = about
        .iter()
        .map(|(key, value)| KeyValue::new((*key).to_owned(), value.clone()));
    let properties = WriterProperties::builder()
        .set_compression(Compression::SNAPPY)
        .set_created_by(concat!("wearcourse ", env!("CARGO_PKG_VERSION")).to_owned())
        .set_key_value_metadata(Some(about.collect()))
        .build();
    SerializedFileWriter::new(into, Arc::new(schema), Arc::new(properties))
}

fn field(name: &str, kind: Kind) -> Result<Arc<Type>, ParquetError> {
    let (precision, scale) = DIGITS;
    let (physical, logical) = match kind {
        Kind::Text => (Physical::BYTE_ARRAY, Some(LogicalType::String)),
        Kind::Count => (Physical::INT64, None),
        Kind::Number => (Physical::DOUBLE, None),
        Kind::Money => (
            Physical::INT64,
            Some(LogicalType::decimal(scale, precision)),
        ),
        Kind::Flag => (Physical::BOOLEAN, None),
    };
    let mut field = Type::primitive_type_builder(name, physical)
        .with_repetition(Repetition::OPTIONAL)
        .with_logical_type(logical);
    if kind == Kind::Money {
        field = field.with_precision(precision).with_scale(scale);
    }
    Ok(Arc::new(field.build()?))
}

/// Writes the next column of a group of rows.
///
/// # Errors
/// What the writer answered.
pub(crate) fn put_cells<T: DataType, W: Write + Send>(
    group: &mut SerializedRowGroupWriter<'_, W>,
    cells: impl Iterator<Item = Option<T::T>>,
) -> Result<(), ParquetError> {
    let (mut levels, mut values) = (Vec::<i16>::new(), Vec::new());
    for cell in cells {
        levels.push(i16::from(cell.is_some()));
        values.extend(cell);
    }
    let missing = || ParquetError::General("a column is not in the schema".to_owned());
    let mut writer = group.next_column()?.ok_or_else(missing)?;
    writer
        .typed::<T>()
        .write_batch(&values, Some(&levels), None)?;
    writer.close()
}
