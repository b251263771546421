//! What programs outside read of the ledger: files of lines, and the manifest that says which of them are whole.
//!
//! The columns bear the names and types of a report's. Tenant and month stand in the path, as Hive does it, and not in the
//! file. No name that people gave anything is in it: ids are, and the API tells their names.

use std::{
    collections::{BTreeMap, BTreeSet},
    mem,
};

use chrono::{DateTime, Utc};
use domain::quantity::float;
use infra::store::LedgerLine;
use parquet::{
    data_type::{ByteArray, ByteArrayType, DoubleType, Int64Type},
    errors::ParquetError,
    file::writer::SerializedFileWriter,
};
use serde::{Deserialize, Serialize};

use super::{
    parquet::{Kind, begin, put_cells},
    time,
};

/// What stands in a column of a line.
#[derive(Debug, Clone, Copy)]
enum Cell {
    Text(fn(&LedgerLine) -> Option<String>),
    Count(fn(&LedgerLine) -> i64),
    Number(fn(&LedgerLine) -> f64),
    Money(fn(&LedgerLine) -> Option<i64>),
}

impl Cell {
    const fn kind(self) -> Kind {
        match self {
            Self::Text(_) => Kind::Text,
            Self::Count(_) => Kind::Count,
            Self::Number(_) => Kind::Number,
            Self::Money(_) => Kind::Money,
        }
    }
}

/// The columns. Plans are unknown where a completion cites none.
#[rustfmt::skip]
static COLUMNS: &[(&str, Cell)] = &[
    ("completion_id",         Cell::Text(|line| Some(line.completion_id.to_string()))),
    ("line_no",               Cell::Count(|line| line.line_no)),
    ("site_id",               Cell::Text(|line| Some(line.site_id.to_string()))),
    ("storey",                Cell::Text(|line| Some(line.storey.clone()))),
    ("surface_id",            Cell::Text(|line| Some(line.surface_id.to_string()))),
    ("material",              Cell::Text(|line| Some(line.material.clone()))),
    ("process",               Cell::Text(|line| Some(line.process.clone()))),
    ("stage",                 Cell::Text(|line| line.stage.clone())),
    ("product_class",         Cell::Text(|line| line.product_class.clone())),
    ("contractor_id",         Cell::Text(|line| line.contractor_id.map(|id| id.to_string()))),
    ("plan_id",               Cell::Text(|line| line.plan_id.map(|id| id.to_string()))),
    ("kind",                  Cell::Text(|line| Some(line.kind.clone()))),
    ("currency",              Cell::Text(|line| Some(line.currency.code().to_owned()))),
    ("n_completions",         Cell::Count(|line| line.n_completions)),
    ("n_unplanned",           Cell::Count(|line| line.n_unplanned)),
    ("area_m2",               Cell::Number(|line| float(line.area_mm2) / 1e6)),
    ("planned_net",           Cell::Money(|line| line.plan_id.map(|_| line.planned_net))),
    ("planned_tax",           Cell::Money(|line| line.plan_id.map(|_| line.planned_tax))),
    ("actual_net",            Cell::Money(|line| Some(line.actual_net))),
    ("actual_tax",            Cell::Money(|line| Some(line.actual_tax))),
    ("variance_net",          Cell::Money(|line| Some(line.variance_net()))),
    ("variance_price",        Cell::Money(|line| Some(line.price_net()))),
    ("variance_quantity",     Cell::Money(|line| Some(line.quantity_net))),
    ("variance_productivity", Cell::Money(|line| Some(line.productivity_net))),
    ("variance_overheads",    Cell::Money(|line| Some(line.overheads_net))),
    ("variance_unplanned",    Cell::Money(|line| Some(line.unplanned_net))),
    ("planned_hours",         Cell::Number(|line| float(line.planned_seconds) / 3600.0)),
    ("actual_hours",          Cell::Number(|line| float(line.actual_seconds) / 3600.0)),
    ("planned_l",             Cell::Number(|line| float(line.planned_ml) / 1e3)),
    ("actual_l",              Cell::Number(|line| float(line.actual_ml) / 1e3)),
    ("water_l",               Cell::Number(|line| float(line.water_ml) / 1e3)),
    ("voc_g",                 Cell::Number(|line| float(line.voc_mg) / 1e3)),
    ("voc_unknown_l",         Cell::Number(|line| float(line.voc_unknown_ml) / 1e3)),
];

/// A Parquet file of lines that is handed on while it is made: it holds one group of rows at a time.
pub(crate) struct LedgerFile(SerializedFileWriter<Vec<u8>>);

impl LedgerFile {
    /// Begins one; `about` is kept in it beside the lines.
    ///
    /// # Errors
    /// What the writer answered.
    pub(crate) fn new(about: &[(&str, String)]) -> Result<Self, ParquetError> {
        let columns = COLUMNS.iter().map(|(name, cell)| (*name, cell.kind()));
        Ok(Self(begin(Vec::new(), "ledger", columns, about)?))
    }

    /// Writes lines as a group and gives the bytes that this made.
    ///
    /// # Errors
    /// What the writer answered.
    pub(crate) fn put(&mut self, lines: &[LedgerLine]) -> Result<Vec<u8>, ParquetError> {
        let mut group = self.0.next_row_group()?;
        for (_, cell) in COLUMNS {
            match cell {
                Cell::Text(of) => {
                    let text = lines.iter().map(of);
                    let bytes =
                        text.map(|text| text.map(|text| ByteArray::from(text.into_bytes())));
                    put_cells::<ByteArrayType, _>(&mut group, bytes)?;
                }
                Cell::Count(of) => {
                    put_cells::<Int64Type, _>(&mut group, lines.iter().map(|line| Some(of(line))))?;
                }
                Cell::Number(of) => {
                    put_cells::<DoubleType, _>(
                        &mut group,
                        lines.iter().map(|line| Some(of(line))),
                    )?;
                }
                Cell::Money(of) => put_cells::<Int64Type, _>(&mut group, lines.iter().map(of))?,
            }
        }
        group.close()?;
        self.0.flush()?;
        Ok(mem::take(self.0.inner_mut()))
    }

    /// Ends it and gives its last bytes.
    ///
    /// # Errors
    /// What the writer answered.
    pub(crate) fn finish(self) -> Result<Vec<u8>, ParquetError> {
        self.0.into_inner()
    }
}

/// What is in a tenant's folder: which months are whole, and which a run began and did not end.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Manifest {
    /// The tenant's key as it is, whatever its folder is called.
    pub(crate) tenant: String,
    /// The run that wrote last.
    pub(crate) run: String,
    /// The months that hold lines, each with its file.
    pub(crate) months: BTreeMap<String, ExtractedMonth>,
    /// Months whose files may be of an earlier moment, or not there: a run that covers them mends it.
    pub(crate) unfinished: BTreeSet<String>,
}

/// The file of a month.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct ExtractedMonth {
    /// How many lines it holds.
    pub(crate) n_lines: u64,
    /// How many bytes it has.
    pub(crate) n_bytes: u64,
    /// Their SHA-256.
    pub(crate) sha256: String,
    /// The moment before which everything that was committed is in it.
    pub(crate) as_of: String,
}

impl Manifest {
    /// The manifest that was written; `None` if it is none of ours.
    pub(crate) fn read(bytes: &[u8]) -> Option<Self> {
        serde_json::from_slice(bytes).ok()
    }

    /// How it is kept.
    ///
    /// # Errors
    /// What the writer answered.
    pub(crate) fn write(&self) -> Result<Vec<u8>, serde_json::Error> {
        serde_json::to_vec_pretty(self)
    }
}

impl ExtractedMonth {
    /// The file of a month: its lines, its bytes and their hash, and the moment.
    pub(crate) fn new(
        (n_lines, n_bytes): (u64, u64),
        sha256: String,
        as_of: DateTime<Utc>,
    ) -> Self {
        Self {
            n_lines,
            n_bytes,
            sha256,
            as_of: time::write(as_of),
        }
    }
}
