//! The rows of a cost report as a table: one list of columns for every form that has columns.

use infra::store::Dim;

use super::{CostRowView, NetAndTax, VarianceParts};
use crate::{
    problem::Problem,
    wire::{
        csv::{self, Cell},
        money::MoneyView,
    },
};

/// What stands in a cell.
#[derive(Debug, Clone, Copy)]
pub(super) enum Value<'a> {
    /// Text.
    Text(Option<&'a str>),
    /// A count.
    Count(i64),
    /// A measured number.
    Number(Option<f64>),
    /// An amount in the currency of the row.
    Money(Option<&'a MoneyView>),
    /// Yes or no.
    Flag(Option<bool>),
}

impl Value<'_> {
    fn cell(self) -> Cell {
        match self {
            Self::Text(text) => Cell::text(text),
            Self::Count(count) => Cell::number(Some(count)),
            Self::Number(number) => Cell::number(number),
            Self::Money(money) => Cell::number(money.map(|money| &money.amount)),
            Self::Flag(flag) => Cell::text(flag.map(|flag| if flag { "true" } else { "false" })),
        }
    }
}

/// When a column is part of the table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Shown {
    Always,
    /// Where it is grouped by.
    By(Dim),
    /// Where only the first rows are shown.
    Top,
    /// Where what was done again is told.
    Rework,
}

/// Which columns a table has besides those that every table has.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Layout<'a> {
    /// What the report is grouped by.
    pub(crate) group_by: &'a [Dim],
    /// Whether only the first rows are shown.
    pub(crate) is_top: bool,
    /// Whether what was done again is told.
    pub(crate) has_rework: bool,
}

/// A column.
pub(super) struct Column {
    shown: Shown,
    /// Its name, with its unit.
    pub(super) name: &'static str,
    /// What stands in it.
    pub(super) value: for<'a> fn(&'a CostRowView) -> Value<'a>,
}

const fn column(
    shown: Shown,
    name: &'static str,
    value: for<'a> fn(&'a CostRowView) -> Value<'a>,
) -> Column {
    Column { shown, name, value }
}

/// The columns, in the order of the members of a row.
#[rustfmt::skip]
static COLUMNS: &[Column] = &[
    column(Shown::By(Dim::Site),         "site_id",              |row| Value::Text(row.site_id.as_deref())),
    column(Shown::By(Dim::Site),         "site_name",            |row| Value::Text(row.site_name.as_deref())),
    column(Shown::By(Dim::Storey),       "storey",               |row| Value::Text(row.storey.as_deref())),
    column(Shown::By(Dim::Material),     "material",             |row| Value::Text(row.material.as_deref())),
    column(Shown::By(Dim::Process),      "process",              |row| Value::Text(row.process.as_deref())),
    column(Shown::By(Dim::Month),        "month",                |row| Value::Text(row.month.as_deref())),
    column(Shown::By(Dim::Quarter),      "quarter",              |row| Value::Text(row.quarter.as_deref())),
    column(Shown::By(Dim::Year),         "year",                 |row| Value::Text(row.year.as_deref())),
    column(Shown::By(Dim::Surface),      "surface_id",           |row| Value::Text(row.surface_id.as_deref())),
    column(Shown::By(Dim::Surface),      "surface_name",         |row| Value::Text(row.surface_name.as_deref())),
    column(Shown::By(Dim::Stage),        "stage",                |row| Value::Text(inner(row.stage.as_ref()))),
    column(Shown::By(Dim::ProductClass), "product_class",        |row| Value::Text(inner(row.product_class.as_ref()))),
    column(Shown::By(Dim::Contractor),   "contractor_id",        |row| Value::Text(inner(row.contractor_id.as_ref()))),
    column(Shown::By(Dim::Contractor),   "contractor_name",      |row| Value::Text(row.contractor_name.as_deref())),
    column(Shown::Top,                   "is_other",             |row| Value::Flag(row.is_other)),
    column(Shown::Always,                "currency",             |row| Value::Text(Some(row.currency))),
    column(Shown::Always,                "n_completions",        |row| Value::Count(row.n_completions)),
    column(Shown::Always,                "n_unplanned",          |row| Value::Count(row.n_unplanned)),
    column(Shown::Always,                "area_m2",              |row| Value::Number(Some(row.area_m2))),
    column(Shown::Rework,                "rework_m2",            |row| Value::Number(row.rework_m2)),
    column(Shown::Rework,                "rework_share",         |row| Value::Number(row.rework_share)),
    column(Shown::Always,                "planned_net",          |row| Value::Money(row.planned.as_ref().map(net))),
    column(Shown::Always,                "planned_tax",          |row| Value::Money(row.planned.as_ref().map(tax))),
    column(Shown::Always,                "committed_net",        |row| Value::Money(Some(&row.committed.net))),
    column(Shown::Always,                "committed_tax",        |row| Value::Money(Some(&row.committed.tax))),
    column(Shown::Always,                "actual_net",           |row| Value::Money(Some(&row.actual.net))),
    column(Shown::Always,                "actual_tax",           |row| Value::Money(Some(&row.actual.tax))),
    column(Shown::Always,                "variance_net",         |row| Value::Money(row.variance_net.as_ref())),
    column(Shown::Always,                "variance_price",       |row| part(row, |parts| &parts.price)),
    column(Shown::Always,                "variance_quantity",    |row| part(row, |parts| &parts.quantity)),
    column(Shown::Always,                "variance_productivity", |row| part(row, |parts| &parts.productivity)),
    column(Shown::Always,                "variance_overheads",   |row| part(row, |parts| &parts.overheads)),
    column(Shown::Always,                "variance_unplanned",   |row| part(row, |parts| &parts.unplanned)),
    column(Shown::Always,                "planned_hours",        |row| Value::Number(row.planned_hours)),
    column(Shown::Always,                "actual_hours",         |row| Value::Number(Some(row.actual_hours))),
    column(Shown::Always,                "planned_l",            |row| Value::Number(row.planned_l)),
    column(Shown::Always,                "actual_l",             |row| Value::Number(Some(row.actual_l))),
    column(Shown::Always,                "water_l",              |row| Value::Number(Some(row.water_l))),
    column(Shown::Always,                "voc_g",                |row| Value::Number(Some(row.voc_g))),
    column(Shown::Always,                "voc_unknown_l",        |row| Value::Number(Some(row.voc_unknown_l))),
    column(Shown::Always,                "actual_per_m2",        |row| Value::Money(row.actual_per_m2.as_ref())),
    column(Shown::Always,                "floor_m2",             |row| Value::Number(row.floor_m2)),
    column(Shown::Always,                "actual_per_m2_year",   |row| Value::Money(row.actual_per_m2_year.as_ref())),
];

/// The columns of a report.
pub(super) fn columns(layout: Layout<'_>) -> Vec<&'static Column> {
    let shown = |column: &&Column| match column.shown {
        Shown::Always => true,
        Shown::By(dim) => layout.group_by.contains(&dim),
        Shown::Top => layout.is_top,
        Shown::Rework => layout.has_rework,
    };
    COLUMNS.iter().filter(shown).collect()
}

/// The text of a member that may be null.
fn inner(text: Option<&Option<String>>) -> Option<&str> {
    text.and_then(Option::as_deref)
}

const fn net(sum: &NetAndTax) -> &MoneyView {
    &sum.net
}

const fn tax(sum: &NetAndTax) -> &MoneyView {
    &sum.tax
}

fn part(row: &CostRowView, of: fn(&VarianceParts) -> &MoneyView) -> Value<'_> {
    Value::Money(row.variance_parts.as_ref().map(of))
}

/// Writes the rows as CSV, without totals: adding them up is what the reader's program does.
///
/// # Errors
/// `internal` if it cannot be written.
pub(crate) fn csv(layout: Layout<'_>, rows: &[CostRowView]) -> Result<Vec<u8>, Problem> {
    let columns = columns(layout);
    let header: Vec<&str> = columns.iter().map(|column| column.name).collect();
    let rows = rows.iter().map(|row| {
        let cells = columns.iter().map(|column| (column.value)(row).cell());
        cells.collect()
    });
    csv::write(&header, rows).map_err(|error| Problem::internal(&error))
}
