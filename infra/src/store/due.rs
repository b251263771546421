//! When what is due: kept for each floor, and reckoned anew once something was told or done that may change it.
//!
//! What changes a floor marks it in its own transaction; whoever reads, or the worker, reckons marked floors anew. Reckoning
//! locks a mark before it reads what the dates come from, so nothing that is committed meanwhile is lost: it marks the floor
//! again. A mark that another holds is passed over, so reckoning waits for nobody.

mod key;
mod mark;

use std::collections::BTreeMap;

use chrono::NaiveDate;
use domain::due::Done;
use domain::id::{PlanId, SiteId, SurfaceId};
use domain::quantity::Area;
use sea_orm::sea_query::{Expr, ExprTrait, Order};
use sea_orm::{Condition, ConnectionTrait, EntityTrait, QueryFilter, QueryOrder, QuerySelect};
use uuid::Uuid;

pub use self::key::{DueKey, NoDueKey};
pub use self::mark::Unreckoned;
use super::{Access, Page, StoreError, Tx, table};
use crate::row::{CompletionRow, DueRow, PlanRow, PlanStatus, Stored};

/// Which due dates to list; what is absent is not asked for.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct DueFilter {
    /// Of this site.
    pub site_id: Option<SiteId>,
    /// Due on this day or before.
    pub by: Option<NaiveDate>,
    /// Of this process.
    pub process: Option<String>,
    /// Also routine cleaning that nobody ever reported; with a process it counts in any case.
    pub routine: bool,
    /// On floors that are still there on this day.
    pub there_on: Option<NaiveDate>,
}

/// A plan that is accepted for a floor and a process.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Covering {
    /// The floor.
    pub surface_id: SurfaceId,
    /// The process.
    pub process: String,
    /// The plan.
    pub plan_id: PlanId,
}

/// When what is due on the tenant's floors.
#[derive(Debug, Clone, Copy)]
pub struct Dues<'a, A = Tx>(pub(super) &'a A);

impl<A: Access> Dues<'_, A> {
    /// Due dates, the earliest first, then in the order of floors and processes; one statement over one index.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn list(
        &self,
        filter: &DueFilter,
        after: Option<DueKey>,
        limit: u64,
    ) -> Result<Page<DueRow, DueKey>, StoreError> {
        let select = table::rows::<DueRow>(self.0)
            .filter(condition(filter))
            .filter(Condition::all().add_option(after.map(onwards)))
            .order_by(Expr::col("due_on"), Order::Asc)
            .order_by(Expr::col("surface_id"), Order::Asc)
            .order_by(Expr::col("process"), Order::Asc)
            .limit(limit.saturating_add(1));
        let rows = table::all(self.0, select).await?;
        Ok(Page::cut(rows, limit, |row: &DueRow| DueKey {
            due_on: row.due.due_on,
            surface: row.surface_id,
            process: row.due.process.clone(),
        }))
    }

    /// How much is due on each day, the earliest first.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: a day cannot be read.
    pub async fn by_day(&self, filter: &DueFilter) -> Result<Vec<(NaiveDate, i64)>, StoreError> {
        let rows: Vec<(String, i64)> = table::rows::<DueRow>(self.0)
            .filter(condition(filter))
            .select_only()
            .column_as(Expr::col("due_on"), "due_on")
            .column_as(Expr::col("due_on").count(), "n_due")
            .group_by(Expr::col("due_on"))
            .order_by(Expr::col("due_on"), Order::Asc)
            .into_tuple()
            .all(self.0.on())
            .await?;
        let read = |(day, count): (String, i64)| {
            let parsed = day.parse::<NaiveDate>();
            let parsed = parsed.map_err(|source| StoreError::Corrupt {
                table: <DueRow as Stored>::TABLE,
                column: "due_on",
                row: day.clone(),
                source: source.into(),
            })?;
            Ok((parsed, count))
        };
        rows.into_iter().map(read).collect()
    }

    /// The plans that are accepted for these floors.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn covering(&self, surfaces: &[SurfaceId]) -> Result<Vec<Covering>, StoreError> {
        let mut found = Vec::new();
        for chunk in surfaces.chunks(table::MAX_KEYS) {
            let rows: Vec<(Uuid, Option<String>, Uuid)> = table::rows::<PlanRow>(self.0)
                .filter(Expr::col("surface_id").is_in(chunk.iter().map(|id| id.uuid())))
                .filter(table::is("status", PlanStatus::Accepted.as_str()))
                .order_by(Expr::col("id"), Order::Asc)
                .select_only()
                .column_as(Expr::col("surface_id"), "surface_id")
                .column_as(Expr::col("process"), "process")
                .column_as(Expr::col("id"), "id")
                .into_tuple()
                .all(self.0.on())
                .await?;
            found.extend(rows.into_iter().filter_map(|(surface, process, plan)| {
                Some(Covering {
                    surface_id: SurfaceId::from_uuid(surface),
                    process: process?,
                    plan_id: PlanId::from_uuid(plan),
                })
            }));
        }
        Ok(found)
    }
}

impl Dues<'_> {
    /// What was done on these floors by completions that count, by floor: one statement for each few hundred, without
    /// documents.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn done(&self, surfaces: &[SurfaceId]) -> Result<Vec<(SurfaceId, Done)>, StoreError> {
        let mut found = Vec::new();
        for chunk in surfaces.chunks(table::MAX_KEYS) {
            let rows: Vec<(Uuid, String, chrono::DateTime<chrono::Utc>, i64)> =
                table::rows::<CompletionRow>(self.0)
                    .filter(Expr::col("surface_id").is_in(chunk.iter().map(|id| id.uuid())))
                    .filter(table::is_recorded())
                    .select_only()
                    .column_as(Expr::col("surface_id"), "surface_id")
                    .column_as(Expr::col("process"), "process")
                    .column_as(Expr::col("finished_at"), "finished_at")
                    .column_as(Expr::col("area_mm2"), "area_mm2")
                    .into_tuple()
                    .all(&self.0.inner)
                    .await?;
            found.extend(rows.into_iter().map(|(surface, process, at, area)| {
                let area = Area::from_mm2(area);
                (SurfaceId::from_uuid(surface), Done { process, at, area })
            }));
        }
        Ok(found)
    }

    /// Puts `rows` in the place of all due dates of these floors, and notes that they are reckoned. A date that an event told
    /// of already stays told.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn put(
        &self,
        edition: &str,
        surfaces: &[SurfaceId],
        mut rows: Vec<DueRow>,
    ) -> Result<(), StoreError> {
        let mut told_before: BTreeMap<(SurfaceId, String), NaiveDate> = BTreeMap::new();
        for chunk in surfaces.chunks(table::MAX_KEYS) {
            let among = || Expr::col("surface_id").is_in(chunk.iter().map(|id| id.uuid()));
            let before: Vec<DueRow> =
                table::all(self.0, table::rows::<DueRow>(self.0).filter(among())).await?;
            let told = before
                .into_iter()
                .filter_map(|old| Some(((old.surface_id, old.due.process), old.told_due_on?)));
            told_before.extend(told);
            <DueRow as Stored>::Entity::delete_many()
                .filter(table::is("tenant_id", self.0.tenant.uuid()))
                .filter(among())
                .exec(&self.0.inner)
                .await?;
            let update = sea_orm::sea_query::Query::update()
                .table("due_surfaces")
                .value("reckoned_with", edition)
                .and_where(table::is("tenant_id", self.0.tenant.uuid()))
                .and_where(among())
                .take();
            self.0.inner.execute(&update).await?;
        }
        for row in &mut rows {
            row.told_due_on = told_before.remove(&(row.surface_id, row.due.process.clone()));
        }
        table::insert_many(self.0, &rows).await
    }

    /// What was spent at these sites in months from `first` on and before `after` (`YYYY-MM`), before tax, in 1/10,000 of the
    /// currency's unit; a site where nothing was done is left out.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn spent(
        &self,
        sites: &[SiteId],
        (first, after): (&str, &str),
    ) -> Result<Vec<(SiteId, i64)>, StoreError> {
        let mut found = Vec::new();
        for chunk in sites.chunks(table::MAX_KEYS) {
            let sum = Expr::col("actual_net").sum().cast_as("bigint");
            let query = sea_orm::sea_query::Query::select()
                .column("site_id")
                .expr(sum)
                .from("cost_rollups")
                .and_where(table::is("tenant_id", self.0.tenant.uuid()))
                .and_where(Expr::col("site_id").is_in(chunk.iter().map(|id| id.uuid())))
                .and_where(Expr::col("month").gte(first))
                .and_where(Expr::col("month").lt(after))
                .group_by_col("site_id")
                .take();
            for row in self.0.inner.query_all(&query).await? {
                let site = SiteId::from_uuid(row.try_get_by_index(0)?);
                found.push((site, row.try_get_by_index(1)?));
            }
        }
        Ok(found)
    }

    /// Notes that an event tells of this due date; false if one did, or if it is another date by now. Whoever notes it
    /// first tells: another that tries at the same time waits and finds it noted.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn tell(&self, row: &DueRow) -> Result<bool, StoreError> {
        let due_on = row.due.due_on.to_string();
        let untold = Condition::any()
            .add(Expr::col("told_due_on").is_null())
            .add(Expr::col("told_due_on").ne(due_on.clone()));
        let done = <DueRow as Stored>::Entity::update_many()
            .col_expr("told_due_on", Expr::val(due_on.clone()))
            .filter(table::is("tenant_id", self.0.tenant.uuid()))
            .filter(table::is("surface_id", row.surface_id.uuid()))
            .filter(table::is("process", row.due.process.clone()))
            .filter(table::is("due_on", due_on))
            .filter(untold)
            .exec(&self.0.inner)
            .await?;
        Ok(done.rows_affected == 1)
    }

    /// Due dates up to a day of which no event told yet, the earliest first; of routine cleaning none.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn untold(&self, by: NaiveDate, limit: u64) -> Result<Vec<DueRow>, StoreError> {
        let select = table::rows::<DueRow>(self.0)
            .filter(is_untold(by))
            .order_by(Expr::col("due_on"), Order::Asc)
            .order_by(Expr::col("surface_id"), Order::Asc)
            .order_by(Expr::col("process"), Order::Asc)
            .limit(limit);
        table::all(self.0, select).await
    }
}

/// No event told of the date, which comes no later than `by`.
fn is_untold(by: NaiveDate) -> Condition {
    let untold = Condition::any()
        .add(Expr::col("told_due_on").is_null())
        .add(Expr::col("told_due_on").ne(Expr::col("due_on")));
    Condition::all()
        .add(table::is("is_routine", 0))
        .add(Expr::col("due_on").lte(by.to_string()))
        .add(untold)
}

fn condition(filter: &DueFilter) -> Condition {
    let process = filter.process.as_deref();
    let counts = || {
        let reported = Expr::col("last_done_on").is_not_null();
        Condition::any()
            .add(table::is("is_routine", 0))
            .add(reported)
    };
    let still_there = |day: NaiveDate| {
        Condition::any()
            .add(Expr::col("gone_on").is_null())
            .add(Expr::col("gone_on").gt(day.to_string()))
    };
    Condition::all()
        .add_option(filter.site_id.map(|id| table::is("site_id", id.uuid())))
        .add_option(
            filter
                .by
                .map(|day| Expr::col("due_on").lte(day.to_string())),
        )
        .add_option(process.map(|key| table::is("process", key)))
        .add_option((!filter.routine && process.is_none()).then(counts))
        .add_option(filter.there_on.map(still_there))
}

/// Behind a key: days are kept as texts of one length, whose order is that of the days.
fn onwards(key: DueKey) -> Condition {
    let (day, surface) = (key.due_on.to_string(), key.surface.uuid());
    let same_floor = Condition::all()
        .add(table::is("due_on", day.clone()))
        .add(table::is("surface_id", surface))
        .add(Expr::col("process").gt(key.process));
    let same_day = Condition::all()
        .add(table::is("due_on", day.clone()))
        .add(Expr::col("surface_id").gt(surface));
    // The first part alone says no more than the others, and names a range of the index.
    Condition::all()
        .add(Expr::col("due_on").gte(day.clone()))
        .add(
            Condition::any()
                .add(Expr::col("due_on").gt(day))
                .add(same_day)
                .add(same_floor),
        )
}
