//! Sums over the lines of completions that count, planned beside actual, and of what is committed. The database adds;
//! nothing is added here.

mod committed;

use std::fmt::Write as _;

use domain::id::{ContractorId, SiteId, SurfaceId};
use domain::money::Currency;
use domain::quantity::Area;
use sea_orm::{ConnectionTrait, DbBackend, QueryResult, Statement, Value};
use uuid::Uuid;

use super::{StoreError, Tx};

/// The most groups that one report gives.
pub const MAX_GROUPS: usize = 10_000;

/// What a report is grouped by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Dim {
    /// The site.
    Site,
    /// The storey at the time of the work.
    Storey,
    /// The material at the time of the work.
    Material,
    /// The process that was done.
    Process,
    /// The month, in the site's time zone.
    Month,
    /// The surface.
    Surface,
    /// The part of floor care that a line belongs to.
    Stage,
    /// The class of product that a line is for.
    ProductClass,
    /// Who did it.
    Contractor,
}

impl Dim {
    const fn column(self) -> &'static str {
        match self {
            Self::Site => "site_id",
            Self::Storey => "storey",
            Self::Material => "material",
            Self::Process => "process",
            Self::Month => "month",
            Self::Surface => "surface_id",
            Self::Stage => "stage",
            Self::ProductClass => "product_class",
            Self::Contractor => "contractor_id",
        }
    }

    /// Whether one completion can stand in several groups, because its lines differ in this.
    pub const fn is_of_lines(self) -> bool {
        matches!(self, Self::Stage | Self::ProductClass)
    }
}

/// Which completions a report covers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CostFilter {
    /// The first month, `YYYY-MM`.
    pub from_month: String,
    /// The month after the last one, `YYYY-MM`.
    pub to_month: String,
    /// Only this site.
    pub site_id: Option<SiteId>,
    /// Only by this contractor. Nothing is committed to a contractor.
    pub contractor_id: Option<ContractorId>,
    /// Only on this material.
    pub material: Option<String>,
    /// Only this process.
    pub process: Option<String>,
}

impl CostFilter {
    /// Conditions on a table, after those that bind `$1` to `$3`, and what they bind.
    fn more(&self, table: &str) -> (String, Vec<Value>) {
        let wanted: [(&str, Option<Value>); 4] = [
            ("site_id", self.site_id.map(|id| id.uuid().into())),
            (
                "contractor_id",
                self.contractor_id.map(|id| id.uuid().into()),
            ),
            ("material", self.material.clone().map(Into::into)),
            ("process", self.process.clone().map(Into::into)),
        ];
        let (mut sql, mut values) = (String::new(), Vec::new());
        for (column, value) in wanted {
            if let Some(value) = value {
                values.push(value);
                let place = values.len().saturating_add(3);
                // Writing to a string does not fail.
                let _ = write!(sql, " AND {table}.{column} = ${place}");
            }
        }
        (sql, values)
    }

    /// What `$1` to `$3` are: the tenant and the months.
    fn first(&self, tenant: Uuid) -> Vec<Value> {
        vec![
            tenant.into(),
            self.from_month.clone().into(),
            self.to_month.clone().into(),
        ]
    }
}

/// The sums of one group. What it was not grouped by is none.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CostRow {
    /// The site.
    pub site_id: Option<SiteId>,
    /// The storey.
    pub storey: Option<String>,
    /// The material.
    pub material: Option<String>,
    /// The process.
    pub process: Option<String>,
    /// The month, `YYYY-MM`.
    pub month: Option<String>,
    /// The surface.
    pub surface_id: Option<SurfaceId>,
    /// The stage; none also for lines that belong to no stage.
    pub stage: Option<String>,
    /// The class of product; none also for lines that are for none.
    pub product_class: Option<String>,
    /// The contractor; none also for work by nobody named, and for what is committed.
    pub contractor_id: Option<ContractorId>,
    /// The currency of the amounts; two are never added.
    pub currency: Currency,
    /// How many completions; of those that have a line in the group.
    pub n_completions: i64,
    /// How many of them cite no plan.
    pub n_unplanned: i64,
    /// The area that was worked on, each completion that has a line in the group once.
    pub area: Area,
    /// Planned working time in seconds.
    pub planned_seconds: i64,
    /// Reported working time in seconds.
    pub actual_seconds: i64,
    /// Planned volume in millilitres.
    pub planned_ml: i64,
    /// Reported volume in millilitres.
    pub actual_ml: i64,
    /// Planned cost without tax in 1/10,000 of the currency's unit.
    pub planned_net: i64,
    /// The cost without tax that the rate card gives for what was reported.
    pub computed_net: i64,
    /// The cost without tax that counts.
    pub actual_net: i64,
    /// Planned tax.
    pub planned_tax: i64,
    /// The tax that counts.
    pub actual_tax: i64,
    /// What is left to do of accepted plans, without tax, by the month in which they were accepted.
    pub committed_net: i64,
    /// The tax on it.
    pub committed_tax: i64,
}

/// Why there is no report.
#[derive(Debug, thiserror::Error)]
pub enum CostsError {
    /// It has more than [`MAX_GROUPS`] groups: ask for fewer months or dimensions.
    #[error("the report has more than {MAX_GROUPS} groups")]
    TooManyGroups,
    /// A sum lies outside the ledger.
    #[error("a sum lies outside the ledger")]
    TooLarge,
    /// The store did not answer.
    #[error(transparent)]
    Store(StoreError),
}

impl From<StoreError> for CostsError {
    fn from(error: StoreError) -> Self {
        match error {
            StoreError::Overflow => Self::TooLarge,
            error => Self::Store(error),
        }
    }
}

/// The reports of the tenant.
#[derive(Debug, Clone, Copy)]
pub struct Reports<'a>(pub(super) &'a Tx);

impl Reports<'_> {
    /// Costs, hours and litres by currency and by `dims`, in their order.
    ///
    /// # Errors
    /// [`CostsError`]: too many groups, or what the database answered. It may take 20 seconds instead of 5.
    pub async fn costs(
        &self,
        filter: &CostFilter,
        dims: &[Dim],
    ) -> Result<Vec<CostRow>, CostsError> {
        self.allow_more_time().await?;
        let (more, bound) = filter.more("l");
        let values = [filter.first(self.0.tenant.uuid()), bound].concat();
        let done = self.query(costs_sql(dims, &more), values).await?;
        let mut rows: Vec<CostRow> = done
            .iter()
            .map(|row| read(row, dims))
            .collect::<Result<_, _>>()?;
        committed::add(self, filter, dims, &mut rows).await?;
        if rows.len() > MAX_GROUPS {
            return Err(CostsError::TooManyGroups);
        }
        Ok(rows)
    }

    async fn query(&self, sql: String, values: Vec<Value>) -> Result<Vec<QueryResult>, StoreError> {
        let backend = self.0.inner.get_database_backend();
        let statement = Statement::from_sql_and_values(backend, sql, values);
        Ok(self.0.inner.query_all_raw(statement).await?)
    }

    async fn allow_more_time(&self) -> Result<(), StoreError> {
        if self.0.inner.get_database_backend() == DbBackend::Postgres {
            self.0
                .inner
                .execute_unprepared("SET LOCAL statement_timeout = '20s'")
                .await?;
        }
        Ok(())
    }
}

/// The inner query makes one row of each completion, so that its area and the completion itself count once however
/// many lines it has. Only words of this file are put into the text; values are bound.
fn costs_sql(dims: &[Dim], more: &str) -> String {
    let outer = list("", dims);
    let inner = list("l.", dims);
    let limit = MAX_GROUPS + 1;
    format!(
        "SELECT {outer}currency, COUNT(*) AS n_completions,
            CAST(SUM(unplanned) AS bigint) AS n_unplanned,
            CAST(SUM(area_mm2) AS bigint) AS area_mm2,
            CAST(SUM(planned_seconds) AS bigint) AS planned_seconds,
            CAST(SUM(actual_seconds) AS bigint) AS actual_seconds,
            CAST(SUM(planned_ml) AS bigint) AS planned_ml,
            CAST(SUM(actual_ml) AS bigint) AS actual_ml,
            CAST(SUM(planned_net) AS bigint) AS planned_net,
            CAST(SUM(computed_net) AS bigint) AS computed_net,
            CAST(SUM(actual_net) AS bigint) AS actual_net,
            CAST(SUM(planned_tax) AS bigint) AS planned_tax,
            CAST(SUM(actual_tax) AS bigint) AS actual_tax
        FROM (
            SELECT l.completion_id, {inner}l.currency,
                MAX(CASE WHEN c.plan_id IS NULL THEN 1 ELSE 0 END) AS unplanned,
                MAX(c.area_mm2) AS area_mm2,
                SUM(l.planned_seconds) AS planned_seconds,
                SUM(l.actual_seconds) AS actual_seconds,
                SUM(l.planned_ml) AS planned_ml,
                SUM(l.actual_ml) AS actual_ml,
                SUM(CASE WHEN l.kind = 'tax' THEN 0 ELSE l.planned_amount END) AS planned_net,
                SUM(CASE WHEN l.kind = 'tax' THEN 0 ELSE l.computed_amount END) AS computed_net,
                SUM(CASE WHEN l.kind = 'tax' THEN 0 ELSE l.actual_amount END) AS actual_net,
                SUM(CASE WHEN l.kind = 'tax' THEN l.planned_amount ELSE 0 END) AS planned_tax,
                SUM(CASE WHEN l.kind = 'tax' THEN l.actual_amount ELSE 0 END) AS actual_tax
            FROM completion_lines AS l
            JOIN completions AS c ON c.tenant_id = l.tenant_id AND c.id = l.completion_id
            WHERE l.tenant_id = $1 AND l.month >= $2 AND l.month < $3{more}
                AND c.status = 'recorded'
            GROUP BY l.completion_id, {inner}l.currency
        ) AS once
        GROUP BY {outer}currency
        ORDER BY {outer}currency
        LIMIT {limit}"
    )
}

/// The columns, each followed by a comma; one that is named twice counts once.
fn list(table: &str, dims: &[Dim]) -> String {
    let mut text = String::new();
    for (place, dim) in dims.iter().enumerate() {
        if !dims.iter().take(place).any(|earlier| earlier == dim) {
            text.push_str(table);
            text.push_str(dim.column());
            text.push_str(", ");
        }
    }
    text
}

/// A group without sums.
fn group(row: &QueryResult, dims: &[Dim]) -> Result<CostRow, StoreError> {
    let text = |dim: Dim| -> Result<Option<String>, StoreError> {
        if dims.contains(&dim) {
            Ok(row.try_get("", dim.column())?)
        } else {
            Ok(None)
        }
    };
    let id = |dim: Dim| -> Result<Option<Uuid>, StoreError> {
        if dims.contains(&dim) {
            Ok(row.try_get("", dim.column())?)
        } else {
            Ok(None)
        }
    };
    let currency: String = row.try_get("", "currency")?;
    Ok(CostRow {
        site_id: id(Dim::Site)?.map(SiteId::from_uuid),
        storey: text(Dim::Storey)?,
        material: text(Dim::Material)?,
        process: text(Dim::Process)?,
        month: text(Dim::Month)?,
        surface_id: id(Dim::Surface)?.map(SurfaceId::from_uuid),
        stage: text(Dim::Stage)?,
        product_class: text(Dim::ProductClass)?,
        contractor_id: id(Dim::Contractor)?.map(ContractorId::from_uuid),
        currency: currency.parse().map_err(|source| StoreError::Corrupt {
            table: "completion_lines",
            column: "currency",
            row: currency.clone(),
            source: Box::new(source),
        })?,
        n_completions: 0,
        n_unplanned: 0,
        area: Area::ZERO,
        planned_seconds: 0,
        actual_seconds: 0,
        planned_ml: 0,
        actual_ml: 0,
        planned_net: 0,
        computed_net: 0,
        actual_net: 0,
        planned_tax: 0,
        actual_tax: 0,
        committed_net: 0,
        committed_tax: 0,
    })
}

fn read(row: &QueryResult, dims: &[Dim]) -> Result<CostRow, StoreError> {
    let number = |column: &str| row.try_get::<i64>("", column);
    Ok(CostRow {
        n_completions: number("n_completions")?,
        n_unplanned: number("n_unplanned")?,
        area: Area::from_mm2(number("area_mm2")?),
        planned_seconds: number("planned_seconds")?,
        actual_seconds: number("actual_seconds")?,
        planned_ml: number("planned_ml")?,
        actual_ml: number("actual_ml")?,
        planned_net: number("planned_net")?,
        computed_net: number("computed_net")?,
        actual_net: number("actual_net")?,
        planned_tax: number("planned_tax")?,
        actual_tax: number("actual_tax")?,
        ..group(row, dims)?
    })
}
