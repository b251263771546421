//! Cost reports: planned beside actual, summed by the database and never across currencies.

pub(crate) use infra::store::Dim;

use std::collections::{BTreeMap, BTreeSet, btree_map::Entry};

use domain::{
    id::{ContractorId, SiteId, SurfaceId, TenantId},
    quantity::Area,
};
use infra::store::{CostFilter, CostRow, CostsError, MAX_GROUPS, Tx};

use crate::{
    body::Fault,
    context::Context,
    problem::{Code, Problem},
    wire::report::{CostRowView, Month, RowNames},
};

/// What a cost report is asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Asked {
    /// The first month.
    pub(crate) from: Month,
    /// The month after the last.
    pub(crate) to: Month,
    /// What to group by, each once.
    pub(crate) group_by: Vec<Dim>,
    /// Only this site.
    pub(crate) site_id: Option<SiteId>,
    /// Only by this contractor.
    pub(crate) contractor_id: Option<ContractorId>,
    /// Only on this material.
    pub(crate) material: Option<String>,
    /// Only this process.
    pub(crate) process: Option<String>,
}

/// The groups of a report, and their sums for each currency.
#[derive(Debug)]
pub(crate) struct Costs {
    /// The groups, in the order of what they are grouped by.
    pub(crate) rows: Vec<CostRowView>,
    /// One for each currency.
    pub(crate) totals: Vec<CostRow>,
}

/// Costs of the tenant's completions that count.
///
/// # Errors
/// `parameter_out_of_range` for more groups than a report may have; those of the store.
pub(crate) async fn costs(
    ctx: &Context,
    tenant: TenantId,
    asked: &Asked,
) -> Result<Costs, Problem> {
    // Rows and totals agree only if they are of one moment.
    let tx = ctx.store.snapshot(tenant).await?;
    let filter = CostFilter {
        from_month: asked.from.to_string(),
        to_month: asked.to.to_string(),
        site_id: asked.site_id,
        contractor_id: asked.contractor_id,
        material: asked.material.clone(),
        process: asked.process.clone(),
    };
    let mut rows = sums(&tx, &filter, &asked.group_by).await?;
    // Databases differ in how they order text; the same data gives the same bytes on each.
    rows.sort_by_cached_key(|row| key(row, &asked.group_by));
    let totals = if asked.group_by.iter().any(|dim| dim.is_of_lines()) {
        // A completion stands in several of these groups, and counts once in the total.
        totals(&sums(&tx, &filter, &[]).await?)
    } else {
        totals(&rows)
    };
    let totals = totals.ok_or_else(too_large)?;
    let names = Names::of(&tx, &rows).await?;
    let view = |row: &CostRow| CostRowView::new(row, &asked.group_by, names.of_row(row));
    Ok(Costs {
        totals,
        rows: rows.iter().map(view).collect(),
    })
}

async fn sums(tx: &Tx, filter: &CostFilter, dims: &[Dim]) -> Result<Vec<CostRow>, Problem> {
    match tx.reports().costs(filter, dims).await {
        Ok(rows) => Ok(rows),
        Err(CostsError::TooManyGroups) => Err(too_many()),
        Err(CostsError::TooLarge) => Err(too_large()),
        Err(CostsError::Store(error)) => Err(error.into()),
    }
}

fn too_many() -> Problem {
    let detail = format!(
        "The report would have more than {MAX_GROUPS} rows: group by less, or ask for fewer months or one site."
    );
    let fault = Fault::parameter("group_by", "too_many_groups", detail);
    Problem::with_faults(Code::ParameterOutOfRange, vec![fault])
}

/// A sum that no ledger holds comes of amounts that nobody meant.
fn too_large() -> Problem {
    let detail = "A sum lies outside what is counted here: ask for fewer months or one site, and supersede the completion \
                  whose amounts are beyond reason.";
    let fault = Fault::parameter("from", "amount_out_of_range", detail);
    Problem::with_faults(Code::ParameterOutOfRange, vec![fault])
}

/// What people call the things in the rows.
struct Names {
    sites: BTreeMap<SiteId, String>,
    surfaces: BTreeMap<SurfaceId, String>,
    contractors: BTreeMap<ContractorId, String>,
}

impl Names {
    async fn of(tx: &Tx, rows: &[CostRow]) -> Result<Self, Problem> {
        let sites = distinct(rows, |row| row.site_id);
        let surfaces = distinct(rows, |row| row.surface_id);
        let contractors = distinct(rows, |row| row.contractor_id);
        let sites = tx.sites().get_many(&sites).await?;
        let surfaces = tx.surfaces().get_many(&surfaces).await?;
        let contractors = tx.contractors().get_many(&contractors).await?;
        Ok(Self {
            sites: sites.into_iter().map(|row| (row.id, row.name)).collect(),
            surfaces: surfaces.into_iter().map(|row| (row.id, row.name)).collect(),
            contractors: contractors
                .into_iter()
                .map(|row| (row.id, row.name))
                .collect(),
        })
    }

    fn of_row(&self, row: &CostRow) -> RowNames {
        RowNames {
            site: row.site_id.and_then(|id| self.sites.get(&id).cloned()),
            surface: row
                .surface_id
                .and_then(|id| self.surfaces.get(&id).cloned()),
            contractor: row
                .contractor_id
                .and_then(|id| self.contractors.get(&id).cloned()),
        }
    }
}

fn distinct<T: Ord>(rows: &[CostRow], of: impl Fn(&CostRow) -> Option<T>) -> Vec<T> {
    let all: BTreeSet<T> = rows.iter().filter_map(of).collect();
    all.into_iter().collect()
}

/// Where a row stands among the others.
fn key(row: &CostRow, group_by: &[Dim]) -> Vec<Option<String>> {
    let part = |dim: &Dim| match dim {
        Dim::Site => row.site_id.map(|id| id.to_string()),
        Dim::Storey => row.storey.clone(),
        Dim::Material => row.material.clone(),
        Dim::Process => row.process.clone(),
        Dim::Month => row.month.clone(),
        Dim::Surface => row.surface_id.map(|id| id.to_string()),
        Dim::Stage => row.stage.clone(),
        Dim::ProductClass => row.product_class.clone(),
        Dim::Contractor => row.contractor_id.map(|id| id.to_string()),
    };
    let currency = Some(row.currency.code().to_owned());
    group_by.iter().map(part).chain([currency]).collect()
}

/// The sums of the rows for each currency, in the order of their codes; `None` if one lies outside the ledger.
fn totals(rows: &[CostRow]) -> Option<Vec<CostRow>> {
    let mut totals: BTreeMap<_, CostRow> = BTreeMap::new();
    for row in rows {
        let bare = CostRow {
            site_id: None,
            storey: None,
            material: None,
            process: None,
            month: None,
            surface_id: None,
            stage: None,
            product_class: None,
            contractor_id: None,
            ..row.clone()
        };
        match totals.entry(row.currency.code()) {
            Entry::Occupied(mut sum) => add(sum.get_mut(), row)?,
            Entry::Vacant(none) => {
                none.insert(bare);
            }
        }
    }
    Some(totals.into_values().collect())
}

fn add(sum: &mut CostRow, row: &CostRow) -> Option<()> {
    sum.area = Area::from_mm2(sum.area.mm2().checked_add(row.area.mm2())?);
    for (sum, more) in [
        (&mut sum.n_completions, row.n_completions),
        (&mut sum.n_unplanned, row.n_unplanned),
        (&mut sum.planned_seconds, row.planned_seconds),
        (&mut sum.actual_seconds, row.actual_seconds),
        (&mut sum.planned_ml, row.planned_ml),
        (&mut sum.actual_ml, row.actual_ml),
        (&mut sum.planned_net, row.planned_net),
        (&mut sum.computed_net, row.computed_net),
        (&mut sum.actual_net, row.actual_net),
        (&mut sum.planned_tax, row.planned_tax),
        (&mut sum.actual_tax, row.actual_tax),
        (&mut sum.committed_net, row.committed_net),
        (&mut sum.committed_tax, row.committed_tax),
    ] {
        *sum = sum.checked_add(more)?;
    }
    Some(())
}

#[cfg(test)]
mod tests {
    use domain::quantity::Area;
    use infra::store::{CostRow, Dim};

    use super::{key, totals};

    fn row(storey: &str, currency: &str, amount: i64) -> CostRow {
        CostRow {
            site_id: None,
            storey: Some(storey.to_owned()),
            material: None,
            process: None,
            month: None,
            surface_id: None,
            stage: None,
            product_class: None,
            contractor_id: None,
            currency: currency.parse().unwrap(),
            n_completions: 1,
            n_unplanned: 0,
            area: Area::from_mm2(amount),
            planned_seconds: amount,
            actual_seconds: amount,
            planned_ml: amount,
            actual_ml: amount,
            planned_net: amount,
            computed_net: amount,
            actual_net: amount,
            planned_tax: amount,
            actual_tax: amount,
            committed_net: amount,
            committed_tax: amount,
        }
    }

    #[test]
    fn totals_never_add_two_currencies() {
        let rows = [row("1", "GBP", 1), row("1", "EUR", 10), row("2", "GBP", 2)];
        let sums = totals(&rows).unwrap();
        let eur = CostRow {
            storey: None,
            ..row("", "EUR", 10)
        };
        let gbp = CostRow {
            storey: None,
            n_completions: 2,
            ..row("", "GBP", 3)
        };
        assert_eq!(sums, [eur, gbp]);
        assert_eq!(
            totals(&[row("1", "EUR", i64::MAX), row("2", "EUR", 1)]),
            None
        );
    }

    #[test]
    fn rows_stand_in_the_order_of_their_words() {
        let by = [Dim::Storey];
        assert!(key(&row("B", "EUR", 1), &by) < key(&row("a", "EUR", 1), &by));
        assert!(key(&row("a", "EUR", 1), &by) < key(&row("a", "GBP", 1), &by));
    }
}
