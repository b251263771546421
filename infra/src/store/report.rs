//! Sums over completions that count, planned beside actual, and what is committed. The database adds; nothing is added here.
//!
//! A report reads months that are added up already (`super::rollup`); where it asks for completions, the lines themselves. Both give
//! the same numbers.

mod areas;
mod committed;
mod rework;
mod row;
pub(super) mod sql;
mod version;

use std::fmt::Write as _;

use domain::id::{CompletionId, ContractorId, SiteId, SurfaceId};
use sea_orm::{ConnectionTrait, DbBackend, QueryResult, Statement, Value};
use uuid::Uuid;

use self::areas::Areas;
pub use self::rework::Again;
pub use self::row::{CostKey, CostRow, CostSums};
use self::sql::{Apart, Source};
use super::{Page, StoreError, Tx};

/// The most groups that one report gives.
pub const MAX_GROUPS: usize = 10_000;

/// What a report is grouped by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Dim {
    /// The site.
    Site,
    /// The storey at the time of the work.
    Storey,
    /// The surface.
    Surface,
    /// The material at the time of the work.
    Material,
    /// The process that was done.
    Process,
    /// The part of floor care that a line belongs to.
    Stage,
    /// Who did it.
    Contractor,
    /// The class of product that a line is for.
    ProductClass,
    /// The month, in the site's time zone.
    Month,
    /// The quarter that the month lies in.
    Quarter,
    /// The year that the month lies in.
    Year,
    /// The completion.
    Completion,
}

impl Dim {
    const fn column(self) -> &'static str {
        match self {
            Self::Site => "site_id",
            Self::Storey => "storey",
            Self::Surface => "surface_id",
            Self::Material => "material",
            Self::Process => "process",
            Self::Stage => "stage",
            Self::Contractor => "contractor_id",
            Self::ProductClass => "product_class",
            Self::Month => "month",
            Self::Quarter => "quarter",
            Self::Year => "year",
            Self::Completion => "completion_id",
        }
    }

    /// How it is read of a row `r`, with a comma's worth of name.
    const fn expression(self) -> &'static str {
        match self {
            Self::Site => "r.site_id AS site_id",
            Self::Storey => "r.storey AS storey",
            Self::Surface => "r.surface_id AS surface_id",
            Self::Material => "r.material AS material",
            Self::Process => "r.process AS process",
            Self::Stage => "r.stage AS stage",
            Self::Contractor => "r.contractor_id AS contractor_id",
            Self::ProductClass => "r.product_class AS product_class",
            Self::Month => "r.month AS month",
            Self::Quarter => {
                "substr(r.month, 1, 4) || '-Q' || CAST((CAST(substr(r.month, 6, 2) AS integer) + 2) / 3 AS text) AS quarter"
            }
            Self::Year => "substr(r.month, 1, 4) AS year",
            Self::Completion => "r.completion_id AS completion_id",
        }
    }

    /// Whether one completion can stand in several groups, because its lines differ in this.
    pub const fn is_of_lines(self) -> bool {
        matches!(self, Self::Stage | Self::ProductClass)
    }

    /// Whether it is a stretch of time.
    pub const fn is_period(self) -> bool {
        matches!(self, Self::Month | Self::Quarter | Self::Year)
    }
}

/// What is wanted of something that a row may lack.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub enum Wanted<T> {
    /// Whatever it is.
    #[default]
    Any,
    /// The rows that lack it.
    Nothing,
    /// This.
    This(T),
}

impl<T> Wanted<T> {
    fn as_value(&self, value: impl Fn(&T) -> Value) -> Wanted<Value> {
        match self {
            Self::Any => Wanted::Any,
            Self::Nothing => Wanted::Nothing,
            Self::This(this) => Wanted::This(value(this)),
        }
    }
}

impl<T: Into<Value>> From<Option<T>> for Wanted<Value> {
    fn from(this: Option<T>) -> Self {
        this.map_or(Self::Any, |this| Self::This(this.into()))
    }
}

/// Which completions a report covers.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct CostFilter {
    /// The first month, `YYYY-MM`.
    pub from_month: String,
    /// The month after the last one, `YYYY-MM`.
    pub to_month: String,
    /// Only this site.
    pub site_id: Option<SiteId>,
    /// Only on this storey.
    pub storey: Option<String>,
    /// Only on this surface.
    pub surface_id: Option<SurfaceId>,
    /// Only on this material.
    pub material: Option<String>,
    /// Only this process.
    pub process: Option<String>,
    /// Only lines of this stage.
    pub stage: Wanted<String>,
    /// Only by this contractor. Nothing is committed to a contractor.
    pub contractor_id: Wanted<ContractorId>,
    /// Only lines for this class of product.
    pub product_class: Wanted<String>,
    /// Only in this currency.
    pub currency: Option<String>,
}

impl CostFilter {
    /// Whether lines of one completion can differ in what is asked for.
    pub fn is_of_lines(&self) -> bool {
        self.stage != Wanted::Any || self.product_class != Wanted::Any
    }

    fn source(&self, dims: &[Dim]) -> Source {
        if dims.contains(&Dim::Completion) {
            return Source::Lines;
        }
        let by_stage = self.stage != Wanted::Any || dims.contains(&Dim::Stage);
        let by_class = self.product_class != Wanted::Any || dims.contains(&Dim::ProductClass);
        match (by_stage, by_class) {
            (true, true) => Source::Parts(Apart::Both),
            (true, false) => Source::Parts(Apart::Stage),
            (false, true) => Source::Parts(Apart::Class),
            (false, false) => Source::Rollups,
        }
    }

    /// What is asked for of each column; nothing in a column that may lack it is a condition too.
    fn wanted(&self) -> [(&'static str, Wanted<Value>); 9] {
        let word = |text: &String| text.clone().into();
        [
            ("site_id", self.site_id.map(SiteId::uuid).into()),
            ("storey", self.storey.clone().into()),
            ("surface_id", self.surface_id.map(SurfaceId::uuid).into()),
            ("material", self.material.clone().into()),
            ("process", self.process.clone().into()),
            ("stage", self.stage.as_value(word)),
            (
                "contractor_id",
                self.contractor_id.as_value(|id| id.uuid().into()),
            ),
            ("product_class", self.product_class.as_value(word)),
            ("currency", self.currency.clone().into()),
        ]
    }

    /// Conditions on `table` in those of its columns that `of` names, after those that bind `$1` to `$3`, and what they bind.
    fn more(&self, table: &str, of: impl Fn(&str) -> bool) -> (String, Vec<Value>) {
        self.more_after(0, table, of)
    }

    /// The same after `n` more that are bound before.
    fn more_after(&self, n: usize, table: &str, of: impl Fn(&str) -> bool) -> (String, Vec<Value>) {
        let (mut sql, mut values) = (String::new(), Vec::new());
        for (column, wanted) in self.wanted().into_iter().filter(|(column, _)| of(column)) {
            let value = match wanted {
                Wanted::Any => continue,
                Wanted::This(value) => Some(value),
                Wanted::Nothing => nothing(table, column),
            };
            let Some(value) = value else {
                // Writing to a string does not fail.
                let _ = write!(sql, " AND {table}.{column} IS NULL");
                continue;
            };
            values.push(value);
            let place = values.len().saturating_add(n).saturating_add(3);
            let _ = write!(sql, " AND {table}.{column} = ${place}");
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
    /// Costs, hours and litres by currency and by `dims`, in their order; one that is named twice counts once.
    ///
    /// # Errors
    /// [`CostsError`]: too many groups, or what the database answered. It may take 20 seconds instead of 5.
    pub async fn costs(
        &self,
        filter: &CostFilter,
        dims: &[Dim],
    ) -> Result<Vec<CostRow>, CostsError> {
        let dims = &distinct(dims);
        let mut rows = self.done(filter, dims).await?;
        committed::add(self, filter, dims, &mut rows).await?;
        if rows.len() > MAX_GROUPS {
            return Err(CostsError::TooManyGroups);
        }
        Ok(rows)
    }

    async fn done(&self, filter: &CostFilter, dims: &[Dim]) -> Result<Vec<CostRow>, StoreError> {
        let (backend, source) = (self.backend(), filter.source(dims));
        let (more, bound) = filter.more(source.table(), |_| true);
        let values = [filter.first(self.0.tenant.uuid()), bound].concat();
        let limit = MAX_GROUPS.saturating_add(1);
        let found = self
            .query(
                sql::costs(backend, source, (dims, &more), limit),
                values.clone(),
            )
            .await?;
        let rows: Result<Vec<CostRow>, StoreError> =
            found.iter().map(|row| CostRow::read(row, dims)).collect();
        let mut rows = rows?;
        if source != Source::Lines {
            let found = self
                .query(sql::floors(backend, source, (dims, &more), limit), values)
                .await?;
            let areas = Areas::read(&found, dims, "floor_mm2")?;
            for row in &mut rows {
                row.floor_mm2 = areas.of(row);
            }
        }
        Ok(rows)
    }

    /// The completions of a report, each with what it adds to the sums, in the order of their recording. `dims` are what else is
    /// told of each. Nothing is committed here: that is of plans.
    ///
    /// # Errors
    /// [`CostsError`]: what the database answered. It may take 20 seconds instead of 5.
    pub async fn completions(
        &self,
        filter: &CostFilter,
        dims: &[Dim],
        after: Option<CompletionId>,
        limit: u64,
    ) -> Result<Page<CostRow, CompletionId>, CostsError> {
        let dims = distinct(&[&[Dim::Completion], dims].concat());
        let (mut more, bound) = filter.more("l", |_| true);
        let mut values = [filter.first(self.0.tenant.uuid()), bound].concat();
        if let Some(after) = after {
            values.push(after.uuid().into());
            // Writing to a string does not fail.
            let _ = write!(more, " AND l.completion_id > ${}", values.len());
        }
        let cut = usize::try_from(limit)
            .unwrap_or(MAX_GROUPS)
            .saturating_add(1);
        let found = self
            .query(
                sql::costs(self.backend(), Source::Lines, (&dims, &more), cut),
                values,
            )
            .await?;
        let rows: Result<Vec<CostRow>, StoreError> =
            found.iter().map(|row| CostRow::read(row, &dims)).collect();
        let id = |row: &CostRow| {
            row.key
                .completion_id
                .unwrap_or(CompletionId::from_uuid(Uuid::nil()))
        };
        Ok(Page::cut(rows?, limit, id))
    }

    async fn query(&self, sql: String, values: Vec<Value>) -> Result<Vec<QueryResult>, StoreError> {
        let statement = Statement::from_sql_and_values(self.backend(), sql, values);
        Ok(self.0.inner.query_all_raw(statement).await?)
    }

    fn backend(self) -> DbBackend {
        self.0.inner.get_database_backend()
    }
}

/// What rollups write down for what a line lacks, because a key holds no NULL; none of other tables.
fn nothing(table: &str, column: &str) -> Option<Value> {
    let (whole, parts) = (Source::Rollups.table(), Source::Parts(Apart::Both).table());
    match column {
        "contractor_id" if table == whole || table == parts => Some(Uuid::nil().into()),
        "stage" | "product_class" if table == parts => Some("".into()),
        _ => None,
    }
}

/// The dimensions in their order, each once.
fn distinct(dims: &[Dim]) -> Vec<Dim> {
    let mut once: Vec<Dim> = Vec::with_capacity(dims.len());
    for dim in dims {
        if !once.contains(dim) {
            once.push(*dim);
        }
    }
    once
}
