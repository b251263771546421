//! When what is due: kept for each floor, and reckoned anew once something was told or done that may change it.
//!
//! What changes a floor marks it in its own transaction; whoever reads, or the worker, reckons marked floors anew. Reckoning
//! locks a mark before it reads what the dates come from, so nothing that is committed meanwhile is lost: it marks the floor
//! again. A mark that another holds is passed over, so reckoning waits for nobody.

mod key;

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use domain::due::Done;
use domain::id::{PlanId, SiteId, SurfaceId, TenantId};
use domain::quantity::Area;
use sea_orm::sea_query::{Expr, ExprTrait, Order};
use sea_orm::{
    Condition, ConnectionTrait, DbBackend, EntityTrait, QueryFilter, QueryOrder, QueryResult,
    QuerySelect, Statement, Value,
};
use uuid::Uuid;

pub use self::key::{DueKey, NoDueKey};
use super::{Access, Page, Store, StoreError, Tx, table};
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

/// A site of a tenant with floors of which nothing is reckoned.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Unreckoned {
    /// The tenant.
    pub tenant: TenantId,
    /// The site.
    pub site: SiteId,
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

    /// The sites, of which one may be named, with floors that are not reckoned with this edition of the knowledge base.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn unreckoned_sites(
        &self,
        edition: &str,
        site: Option<SiteId>,
    ) -> Result<Vec<SiteId>, StoreError> {
        let only = if site.is_some() {
            "AND site_id = $3"
        } else {
            ""
        };
        let sql = format!(
            "SELECT DISTINCT site_id FROM due_surfaces WHERE tenant_id = $1 \
             AND (reckoned_with < $2 OR reckoned_with > $2) {only} ORDER BY site_id LIMIT 1000"
        );
        let tenant = [self.0.tenant().uuid().into(), edition.into()];
        let values = tenant.into_iter().chain(site.map(|id| id.uuid().into()));
        let on = self.0.on();
        let statement = Statement::from_sql_and_values(on.get_database_backend(), sql, values);
        let rows = on.query_all_raw(statement).await?;
        let read = |row: &QueryResult| Ok(SiteId::from_uuid(row.try_get_by_index(0)?));
        rows.iter().map(read).collect()
    }
}

impl Dues<'_> {
    /// Takes up to `limit` floors of a site that are not reckoned with this edition, and keeps others from reckoning them
    /// until this transaction ends. Read what their dates come from afterwards, in the same transaction.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn take(
        &self,
        edition: &str,
        site: SiteId,
        limit: u64,
    ) -> Result<Vec<SurfaceId>, StoreError> {
        let backend = self.0.inner.get_database_backend();
        let lock = match backend {
            DbBackend::Postgres => "FOR NO KEY UPDATE SKIP LOCKED",
            _ => "",
        };
        let sql = format!(
            "SELECT surface_id FROM due_surfaces WHERE tenant_id = $1 AND site_id = $3 \
             AND (reckoned_with < $2 OR reckoned_with > $2) ORDER BY surface_id LIMIT {limit} {lock}"
        );
        let values: [Value; 3] = [
            self.0.tenant.uuid().into(),
            edition.into(),
            site.uuid().into(),
        ];
        let statement = Statement::from_sql_and_values(backend, sql, values);
        let rows = self.0.inner.query_all_raw(statement).await?;
        let read = |row: &QueryResult| Ok(SurfaceId::from_uuid(row.try_get_by_index(0)?));
        rows.iter().map(read).collect()
    }

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

    /// Notes that what is known of a floor has changed.
    pub(super) async fn mark(&self, surface: Uuid) -> Result<(), StoreError> {
        self.execute(
            "UPDATE due_surfaces SET reckoned_with = '' WHERE tenant_id = $1 AND surface_id = $2",
            [surface],
        )
        .await
    }

    /// The same of many floors, in the order of their ids, so that two that mark wait for each other in turn.
    pub(super) async fn mark_many(&self, surfaces: &BTreeSet<SurfaceId>) -> Result<(), StoreError> {
        for surface in surfaces {
            self.mark(surface.uuid()).await?;
        }
        Ok(())
    }

    /// Notes that what is known of all floors of a site has changed: what day it is there.
    pub(super) async fn mark_site(&self, site: SiteId) -> Result<(), StoreError> {
        self.execute(
            "UPDATE due_surfaces SET reckoned_with = '' WHERE tenant_id = $1 AND site_id = $2",
            [site.uuid()],
        )
        .await
    }

    /// Adds the marks of floors that were just added, as not reckoned; hundreds by each statement.
    pub(super) async fn add(&self, rows: &[(SurfaceId, SiteId)]) -> Result<(), StoreError> {
        for chunk in rows.chunks(table::MAX_KEYS) {
            let mut insert = sea_orm::sea_query::Query::insert()
                .into_table("due_surfaces")
                .columns(["tenant_id", "surface_id", "site_id", "reckoned_with"])
                .take();
            for (surface, site) in chunk {
                let values: [Value; 4] = [
                    self.0.tenant.uuid().into(),
                    surface.uuid().into(),
                    site.uuid().into(),
                    "".into(),
                ];
                insert.values_panic(values.map(Expr::val));
            }
            self.0.inner.execute(&insert).await?;
        }
        Ok(())
    }

    async fn execute<const N: usize>(
        &self,
        sql: &'static str,
        ids: [Uuid; N],
    ) -> Result<(), StoreError> {
        let values = std::iter::once(self.0.tenant.uuid()).chain(ids);
        let values = values.map(Value::from);
        let backend = self.0.inner.get_database_backend();
        let statement = Statement::from_sql_and_values(backend, sql, values);
        self.0.inner.execute_raw(statement).await?;
        Ok(())
    }
}

impl Store {
    /// Sites of any tenant with floors that are not reckoned with this edition of the knowledge base.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn unreckoned(&self, edition: &str) -> Result<Vec<Unreckoned>, StoreError> {
        let sql = "SELECT DISTINCT tenant_id, site_id FROM due_surfaces \
                   WHERE reckoned_with < $1 OR reckoned_with > $1 LIMIT 100";
        let found = self.look(sql, edition.into()).await?;
        let read = |row: &QueryResult| {
            Ok(Unreckoned {
                tenant: TenantId::from_uuid(row.try_get_by_index(0)?),
                site: SiteId::from_uuid(row.try_get_by_index(1)?),
            })
        };
        found.iter().map(read).collect()
    }

    /// Tenants with a due date up to a day of which no event told yet.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn tenants_with_untold(&self, by: NaiveDate) -> Result<Vec<TenantId>, StoreError> {
        let sql = "SELECT DISTINCT tenant_id FROM due_items WHERE is_routine = 0 AND due_on <= $1 \
                   AND (told_due_on IS NULL OR told_due_on <> due_on) LIMIT 100";
        let found = self.look(sql, by.to_string().into()).await?;
        let read = |row: &QueryResult| Ok(TenantId::from_uuid(row.try_get_by_index(0)?));
        found.iter().map(read).collect()
    }

    async fn look(&self, sql: &'static str, value: Value) -> Result<Vec<QueryResult>, StoreError> {
        let statement = Statement::from_sql_and_values(self.backend(), sql, [value]);
        Ok(self.look_for_work().await?.query_all_raw(statement).await?)
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
