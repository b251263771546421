//! Cost reports: planned beside actual, summed by the database and never across currencies.

mod period;
mod top;

pub(crate) use infra::store::{CostFilter, Dim, Wanted};
pub(crate) use top::Measure;

use std::collections::{BTreeMap, BTreeSet};

use domain::{
    id::{CompletionId, ContractorId, SiteId, SurfaceId, TenantId},
    knowledge::{KnowledgeBase, Process},
};
use infra::store::{Again, CostRow, CostsError, MAX_GROUPS, Page, Tx};
use sha2::{Digest, Sha256};

use self::top::Top;
use crate::{
    body::Fault,
    context::Context,
    hex::hex,
    problem::{Code, Problem},
    wire::report::{CostRowView, Month, RowNames, Shown},
};

/// The most months of one report that reads months which are added up already: ten years.
pub(crate) const MAX_MONTHS: i32 = 120;
/// The most months of one report that reads completions one by one: a year.
pub(crate) const MAX_MONTHS_OF_COMPLETIONS: i32 = 12;

/// What a cost report is asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Asked {
    /// The first month.
    pub(crate) from: Month,
    /// The month after the last.
    pub(crate) to: Month,
    /// What to group by, each once.
    pub(crate) group_by: Vec<Dim>,
    /// Which completions; its months are those above.
    pub(crate) filter: CostFilter,
    /// Only so many rows, those that are first in a measure; all others are one row.
    pub(crate) top: Option<(usize, Measure)>,
    /// Whether months without anything are left out.
    pub(crate) skip_empty: bool,
    /// Within how many days work counts as done again, where that is asked for.
    pub(crate) rework_days: Option<i32>,
}

/// The groups of a report, and their sums for each currency.
#[derive(Debug)]
pub(crate) struct Costs {
    /// The groups, in the order of what they are grouped by.
    pub(crate) rows: Vec<CostRowView>,
    /// One for each currency.
    pub(crate) totals: Vec<CostRowView>,
}

/// What a pull brings.
#[derive(Debug)]
pub(crate) enum Pulled {
    /// The report, and the mark by which a later pull tells whether it changed.
    New(Costs, String),
    /// Nothing changed since the pull that had this mark.
    Known(String),
}

/// Costs of the tenant's completions that count; `known` tells whether the caller has what bears a mark.
///
/// # Errors
/// `parameter_out_of_range` for more groups than a report may have; those of the store.
pub(crate) async fn costs(
    ctx: &Context,
    tenant: TenantId,
    asked: &Asked,
    known: impl Fn(&str) -> bool,
) -> Result<Pulled, Problem> {
    // Rows and totals agree only if they are of one moment.
    let tx = ctx.store.snapshot(tenant).await?;
    let mark = mark(&tx, asked).await?;
    if known(&mark) {
        return Ok(Pulled::Known(mark));
    }
    let mut rows = sums(&tx, &asked.filter, &asked.group_by).await?;
    // A completion stands in several groups of a stage, and floors in several of most: they count once in the total.
    let mut totals = sums(&tx, &asked.filter, &[]).await?;
    if let Some(days) = asked.rework_days {
        let again = Again {
            days,
            processes: laying(ctx.knowledge),
        };
        let reports = tx.reports();
        for (rows, dims) in [(&mut rows, asked.group_by.as_slice()), (&mut totals, &[])] {
            let of = (&asked.filter, dims);
            reports.add_rework(rows, of, &again).await.map_err(told)?;
        }
    }
    if asked.top.is_none() && !asked.skip_empty {
        period::fill(&mut rows, asked, MAX_GROUPS).ok_or_else(too_many)?;
    }
    // Databases differ in how they order text; the same data gives the same bytes on each.
    rows.sort_by_cached_key(|row| key(row, &asked.group_by));
    totals.sort_by_key(|row| row.currency.code());
    let top = asked.top.map(|(n, measure)| Top { n, measure });
    let ranked = top::cut(rows, top).ok_or_else(too_large)?;
    let rows: Vec<&CostRow> = ranked.iter().map(|(row, _)| row).collect();
    let names = Names::of(&tx, &rows).await?;
    let view = |row: &CostRow, is_other| {
        let months = period::months(&row.key, asked);
        let dims = &asked.group_by;
        let shown = Shown {
            dims,
            months,
            is_other,
            has_rework: asked.rework_days.is_some(),
        };
        CostRowView::new(row, shown, names.of_row(row))
    };
    let whole = Shown {
        dims: &[],
        months: asked.from.until(asked.to),
        is_other: None,
        has_rework: asked.rework_days.is_some(),
    };
    let costs = Costs {
        rows: ranked
            .iter()
            .map(|(row, is_other)| view(row, *is_other))
            .collect(),
        totals: totals
            .iter()
            .map(|row| CostRowView::new(row, whole, RowNames::default()))
            .collect(),
    };
    Ok(Pulled::New(costs, mark))
}

/// The processes that prepare or protect a floor: what is done again of them was done badly, or for nothing. Floors are swept and
/// scrubbed every day.
fn laying(knowledge: &KnowledgeBase) -> Vec<String> {
    let lays = |process: &&Process| process.steps.iter().any(|step| step.stage != "maintain");
    let all = knowledge.processes.iter().filter(lays);
    all.map(|process| process.key.clone()).collect()
}

/// A mark that changes with whatever a report of these months may show, made of a few sums and not of the report.
async fn mark(tx: &Tx, asked: &Asked) -> Result<String, Problem> {
    // What was done in the days before the first month decides what was done again in it.
    let earlier = asked.rework_days.map_or(0, |days| days / 28 + 1);
    let from = asked.from.plus(-earlier).unwrap_or(asked.from);
    let covered = CostFilter {
        from_month: from.to_string(),
        ..asked.filter.clone()
    };
    let version = tx.reports().version(&covered).await?;
    // Another release may show the same numbers otherwise.
    let text = format!("{}\n{asked:?}\n{version:?}", env!("CARGO_PKG_VERSION"));
    let hash = Sha256::digest(text.as_bytes());
    let mut text = hex(&hash);
    text.truncate(32);
    Ok(text)
}

/// What else is told of each completion behind a report.
const OF_COMPLETIONS: &[Dim] = &[
    Dim::Site,
    Dim::Storey,
    Dim::Surface,
    Dim::Material,
    Dim::Process,
    Dim::Contractor,
    Dim::Month,
];

/// Up to `limit` completions behind a report after an id, each with what it adds to the sums.
///
/// # Errors
/// `parameter_out_of_range` for sums outside the ledger; those of the store.
pub(crate) async fn completions(
    ctx: &Context,
    tenant: TenantId,
    filter: &CostFilter,
    (after, limit): (Option<CompletionId>, u64),
) -> Result<Page<CostRowView, CompletionId>, Problem> {
    let tx = ctx.store.snapshot(tenant).await?;
    let page = tx
        .reports()
        .completions(filter, OF_COMPLETIONS, after, limit)
        .await;
    let page = page.map_err(told)?;
    let rows: Vec<&CostRow> = page.items.iter().collect();
    let names = Names::of(&tx, &rows).await?;
    let shown = Shown {
        dims: OF_COMPLETIONS,
        months: 1,
        is_other: None,
        has_rework: false,
    };
    page.try_map(|row| Ok(CostRowView::new(&row, shown, names.of_row(&row))))
}

/// What completions that count come to, for each currency.
///
/// # Errors
/// Those of the store.
pub(crate) async fn totals(
    ctx: &Context,
    tenant: TenantId,
    filter: &CostFilter,
) -> Result<Vec<CostRow>, Problem> {
    let tx = ctx.store.read(tenant).await?;
    let mut totals = sums(&tx, filter, &[]).await?;
    totals.sort_by_key(|row| row.currency.code());
    Ok(totals)
}

async fn sums(tx: &Tx, filter: &CostFilter, dims: &[Dim]) -> Result<Vec<CostRow>, Problem> {
    tx.reports().costs(filter, dims).await.map_err(told)
}

fn told(error: CostsError) -> Problem {
    match error {
        CostsError::TooManyGroups => too_many(),
        CostsError::TooLarge => too_large(),
        CostsError::Store(error) => error.into(),
    }
}

fn too_many() -> Problem {
    let detail = format!(
        "The report would have more than {MAX_GROUPS} rows: group by less, ask for fewer months or one site, leave months without \
         anything out with `skip_empty=true`, or ask for the first ones with `top`."
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
    async fn of(tx: &Tx, rows: &[&CostRow]) -> Result<Self, Problem> {
        let sites = distinct(rows, |row| row.key.site_id);
        let surfaces = distinct(rows, |row| row.key.surface_id);
        let contractors = distinct(rows, |row| row.key.contractor_id);
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
        let key = &row.key;
        RowNames {
            site: key.site_id.and_then(|id| self.sites.get(&id).cloned()),
            surface: key
                .surface_id
                .and_then(|id| self.surfaces.get(&id).cloned()),
            contractor: key
                .contractor_id
                .and_then(|id| self.contractors.get(&id).cloned()),
        }
    }
}

fn distinct<T: Ord>(rows: &[&CostRow], of: impl Fn(&CostRow) -> Option<T>) -> Vec<T> {
    let all: BTreeSet<T> = rows.iter().filter_map(|row| of(row)).collect();
    all.into_iter().collect()
}

/// Where a row stands among the others.
fn key(row: &CostRow, group_by: &[Dim]) -> Vec<Option<String>> {
    let key = &row.key;
    let part = |dim: &Dim| match dim {
        Dim::Site => key.site_id.map(|id| id.to_string()),
        Dim::Storey => key.storey.clone(),
        Dim::Material => key.material.clone(),
        Dim::Process => key.process.clone(),
        Dim::Month => key.month.clone(),
        Dim::Quarter => key.quarter.clone(),
        Dim::Year => key.year.clone(),
        Dim::Surface => key.surface_id.map(|id| id.to_string()),
        Dim::Stage => key.stage.clone(),
        Dim::ProductClass => key.product_class.clone(),
        Dim::Contractor => key.contractor_id.map(|id| id.to_string()),
        Dim::Completion => key.completion_id.map(|id| id.to_string()),
    };
    let currency = Some(row.currency.code().to_owned());
    group_by.iter().map(part).chain([currency]).collect()
}

#[cfg(test)]
mod tests {
    use infra::store::{CostKey, CostRow, Dim};

    use super::key;

    fn row(storey: &str, currency: &str) -> CostRow {
        let key = CostKey {
            storey: Some(storey.to_owned()),
            ..CostKey::default()
        };
        CostRow::empty(key, currency.parse().unwrap())
    }

    #[test]
    fn rows_stand_in_the_order_of_their_words() {
        let by = [Dim::Storey];
        assert!(key(&row("B", "EUR"), &by) < key(&row("a", "EUR"), &by));
        assert!(key(&row("a", "EUR"), &by) < key(&row("a", "GBP"), &by));
    }
}
