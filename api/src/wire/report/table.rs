//! The rows of a cost report as a table.

use infra::store::Dim;

use super::{CostRowView, NetAndTax};
use crate::{
    problem::Problem,
    wire::{
        csv::{self, Cell},
        money::MoneyView,
    },
};

/// A column: the dimension that it goes with, its name and what stands in it.
type Column = (Option<Dim>, &'static str, fn(&CostRowView) -> Cell);

/// The columns, in the order of the members of a row. Columns of what is not grouped by are left out.
#[rustfmt::skip]
static COLUMNS: &[Column] = &[
    (Some(Dim::Site),     "site_id",       |row| Cell::text(row.site_id.as_deref())),
    (Some(Dim::Site),     "site_name",     |row| Cell::text(row.site_name.as_deref())),
    (Some(Dim::Storey),   "storey",        |row| Cell::text(row.storey.as_deref())),
    (Some(Dim::Material), "material",      |row| Cell::text(row.material.as_deref())),
    (Some(Dim::Process),  "process",       |row| Cell::text(row.process.as_deref())),
    (Some(Dim::Month),    "month",         |row| Cell::text(row.month.as_deref())),
    (Some(Dim::Surface),      "surface_id",      |row| Cell::text(row.surface_id.as_deref())),
    (Some(Dim::Surface),      "surface_name",    |row| Cell::text(row.surface_name.as_deref())),
    (Some(Dim::Stage),        "stage",           |row| Cell::text(inner(row.stage.as_ref()))),
    (Some(Dim::ProductClass), "product_class",   |row| Cell::text(inner(row.product_class.as_ref()))),
    (Some(Dim::Contractor),   "contractor_id",   |row| Cell::text(inner(row.contractor_id.as_ref()))),
    (Some(Dim::Contractor),   "contractor_name", |row| Cell::text(row.contractor_name.as_deref())),
    (None,                "currency",      |row| Cell::text(Some(row.currency))),
    (None,                "n_completions", |row| Cell::number(Some(row.n_completions))),
    (None,                "n_unplanned",   |row| Cell::number(Some(row.n_unplanned))),
    (None,                "area_m2",       |row| Cell::number(Some(row.area_m2))),
    (None,                "planned_net",   |row| money(row.planned.as_ref().map(net))),
    (None,                "planned_tax",   |row| money(row.planned.as_ref().map(tax))),
    (None,                "committed_net", |row| money(Some(&row.committed.net))),
    (None,                "committed_tax", |row| money(Some(&row.committed.tax))),
    (None,                "actual_net",    |row| money(Some(&row.actual.net))),
    (None,                "actual_tax",    |row| money(Some(&row.actual.tax))),
    (None,                "variance_net",  |row| money(row.variance_net.as_ref())),
    (None,                "planned_hours", |row| Cell::number(row.planned_hours)),
    (None,                "actual_hours",  |row| Cell::number(Some(row.actual_hours))),
    (None,                "planned_l",     |row| Cell::number(row.planned_l)),
    (None,                "actual_l",      |row| Cell::number(Some(row.actual_l))),
    (None,                "actual_per_m2", |row| money(row.actual_per_m2.as_ref())),
];

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

fn money(money: Option<&MoneyView>) -> Cell {
    Cell::number(money.map(|money| &money.amount))
}

/// Writes the rows as CSV, without totals: adding them up is what the reader's program does.
///
/// # Errors
/// `internal` if it cannot be written.
pub(crate) fn csv(group_by: &[Dim], rows: &[CostRowView]) -> Result<Vec<u8>, Problem> {
    let shown = |column: &&Column| column.0.is_none_or(|dim| group_by.contains(&dim));
    let columns: Vec<&Column> = COLUMNS.iter().filter(shown).collect();
    let header: Vec<&str> = columns.iter().map(|column| column.1).collect();
    let rows = rows
        .iter()
        .map(|row| columns.iter().map(|column| (column.2)(row)).collect());
    csv::write(&header, rows).map_err(|error| Problem::internal(&error))
}
