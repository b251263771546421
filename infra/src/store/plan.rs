//! Plans and their lines.

mod versions;

use std::collections::BTreeMap;

use chrono::{DateTime, NaiveDate, Utc};
use domain::id::{PlanId, SiteId, SurfaceId};
use domain::plan::Verdict;
use domain::record::WHOLE_PPM;
use domain::survey::Goal;
use sea_orm::sea_query::{Expr, ExprTrait, Func, Order, Query};
use sea_orm::{Condition, EntityTrait, QueryFilter, QueryOrder, QuerySelect};
use uuid::Uuid;

pub use self::versions::InputVersions;
use super::turn::{Place, Turn};
use super::{Access, Page, StoreError, Tx, table};
use crate::clock::truncate_to_millis;
use crate::row::plan::BriefModel;
use crate::row::{
    CommitmentRow, CompletionRow, CompletionStatus, PlanBrief, PlanLineRow, PlanRow, PlanStatus,
    Stored,
};

/// Which plans to list; what is absent is not asked for.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct PlanFilter {
    /// Of this site.
    pub site_id: Option<SiteId>,
    /// For this surface.
    pub surface_id: Option<SurfaceId>,
    /// That stand here.
    pub status: Option<PlanStatus>,
    /// With this verdict.
    pub verdict: Option<Verdict>,
    /// For this goal.
    pub goal: Option<Goal>,
    /// Whose work is this process.
    pub process: Option<String>,
    /// Whose work is to begin on this day.
    pub planned_on: Option<NaiveDate>,
    /// That are accepted, and of which completions have not yet done all.
    pub is_open: bool,
}

/// The plans of the tenant.
#[derive(Debug, Clone, Copy)]
pub struct Plans<'a, A = Tx>(pub(super) &'a A);

impl Plans<'_> {
    /// Adds a plan with its lines.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its id is taken, or the surface is not there.
    pub async fn insert(&self, row: &PlanRow, lines: &[PlanLineRow]) -> Result<(), StoreError> {
        table::insert(self.0, row).await?;
        table::insert_many(self.0, lines).await
    }
}

impl<A: Access> Plans<'_, A> {
    /// Those of the plans with these ids that are there, in no order that counts.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn get_many(&self, ids: &[PlanId]) -> Result<Vec<PlanRow>, StoreError> {
        let ids: Vec<Uuid> = ids.iter().map(|id| id.uuid()).collect();
        table::get_many(self.0, &ids).await
    }

    /// The plan with this id, without its lines.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn get(&self, id: PlanId) -> Result<Option<PlanRow>, StoreError> {
        table::get(self.0, id.uuid()).await
    }

    /// The lines of a plan in their order.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn lines(&self, id: PlanId) -> Result<Vec<PlanLineRow>, StoreError> {
        let select = table::rows::<PlanLineRow>(self.0)
            .filter(table::is("plan_id", id.uuid()))
            .order_by(Expr::col("line_no"), Order::Asc);
        table::all(self.0, select).await
    }

    /// What there is to say of plans in short, in the order of a turn.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn list(
        &self,
        filter: &PlanFilter,
        turn: Turn,
        limit: u64,
    ) -> Result<Page<PlanBrief, Place>, StoreError> {
        let tenant = self.0.tenant().uuid();
        let briefs =
            table::briefs::<PlanRow, BriefModel, _>(self.0, condition(filter, tenant), turn, limit)
                .await?;
        let place = |brief: &PlanBrief| turn.place(brief.id.uuid(), brief.changed_at);
        let mut page = Page::cut(briefs, limit, place);
        let ids: Vec<Uuid> = page.items.iter().map(|brief| brief.id.uuid()).collect();
        let done = self.done(&ids).await?;
        for brief in &mut page.items {
            brief.done_ppm = done.get(&brief.id.uuid()).copied().unwrap_or(0);
        }
        Ok(page)
    }

    /// How much of each of these plans the completions that count have done, in parts per million.
    async fn done(&self, plans: &[Uuid]) -> Result<BTreeMap<Uuid, i64>, StoreError> {
        if plans.is_empty() {
            return Ok(BTreeMap::new());
        }
        let share = Expr::col("planned_share_ppm").sum().cast_as("bigint");
        let sums: Vec<(Uuid, i64)> = table::rows::<CompletionRow>(self.0)
            .filter(Expr::col("plan_id").is_in(plans.iter().copied()))
            .filter(table::is_recorded())
            .select_only()
            .column_as(Expr::col("plan_id"), "plan_id")
            .column_as(share, "share")
            .group_by(Expr::col("plan_id"))
            .into_tuple()
            .all(self.0.on())
            .await?;
        Ok(sums.into_iter().collect())
    }
}

pub(super) fn condition(filter: &PlanFilter, tenant: Uuid) -> Condition {
    let id = |column, id: Option<Uuid>| id.map(|id| table::is(column, id));
    let status = filter.status.map(PlanStatus::as_str);
    let day = filter.planned_on.map(|day| day.to_string());
    let condition = Condition::all()
        .add_option(id("site_id", filter.site_id.map(SiteId::uuid)))
        .add_option(id("surface_id", filter.surface_id.map(SurfaceId::uuid)))
        .add_option(status.map(|status| table::is("status", status)))
        .add_option(
            filter
                .verdict
                .map(|verdict| table::is("verdict", verdict.word())),
        )
        .add_option(filter.goal.map(|goal| table::is("goal", goal.word())))
        .add_option(filter.process.clone().map(|key| table::is("process", key)))
        .add_option(day.map(|day| table::is("planned_on", day)));
    if !filter.is_open {
        return condition;
    }
    let of = |column| Expr::col(("completions", column));
    let done = Query::select()
        .expr(of("planned_share_ppm").sum())
        .from("completions")
        .and_where(of("tenant_id").eq(tenant))
        .and_where(of("plan_id").eq(Expr::col(("plans", "id"))))
        .and_where(of("status").eq(CompletionStatus::Recorded.as_str()))
        .take();
    let done = Func::coalesce([Expr::from(done), Expr::val(0)]);
    let left = Expr::from(done).lt(WHOLE_PPM);
    condition
        .add(table::is("status", PlanStatus::Accepted.as_str()))
        .add(left)
}

impl Plans<'_> {
    /// Writes all columns; `row.version` is the new version, `expected` the one that is there.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: it is not there in that version.
    pub async fn update(&self, row: &PlanRow, expected: i64) -> Result<(), StoreError> {
        table::update(self.0, row, row.id.uuid(), expected).await
    }

    /// Lets a plan stand elsewhere from a moment on; its version grows by one from `expected`.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: it is not there in that version.
    pub async fn set_status(
        &self,
        id: PlanId,
        status: PlanStatus,
        (expected, at): (i64, DateTime<Utc>),
    ) -> Result<(), StoreError> {
        let [client, subject] = table::by(self.0);
        let done = <PlanRow as Stored>::Entity::update_many()
            .col_expr(client.0, Expr::val(client.1))
            .col_expr(subject.0, Expr::val(subject.1))
            .col_expr("status", Expr::val(status.as_str()))
            .col_expr("version", Expr::val(expected.saturating_add(1)))
            .col_expr("changed_at", Expr::val(truncate_to_millis(at)))
            .filter(table::is("tenant_id", self.0.tenant().uuid()))
            .filter(table::is("id", id.uuid()))
            .filter(table::is("version", expected))
            .exec(&self.0.inner)
            .await?;
        if done.rows_affected == 1 {
            Ok(())
        } else {
            Err(StoreError::StaleVersion)
        }
    }

    /// Notes under which words an accepted plan is reported. Once for each plan.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: it was noted before, or the plan is not there.
    pub async fn commit(&self, row: &CommitmentRow) -> Result<(), StoreError> {
        table::insert(self.0, row).await
    }
}

impl<A: Access> Plans<'_, A> {
    /// The plans of a surface for a goal that are accepted, in the order of their making.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn accepted(
        &self,
        surface: SurfaceId,
        goal: &str,
    ) -> Result<Vec<PlanRow>, StoreError> {
        let committed = Query::select()
            .column("plan_id")
            .from(CommitmentRow::TABLE)
            .and_where(table::is("tenant_id", self.0.tenant().uuid()))
            .and_where(table::is("surface_id", surface.uuid()))
            .and_where(table::is("goal", goal))
            .take();
        let select = table::rows::<PlanRow>(self.0)
            .filter(Expr::col("id").in_subquery(committed))
            .filter(table::is("status", PlanStatus::Accepted.as_str()))
            .order_by(Expr::col("id"), Order::Asc);
        table::all(self.0, select).await
    }
}

impl Plans<'_> {
    /// Keeps others from recording work against the plan until this transaction ends; false if it is not there.
    ///
    /// # Errors
    /// [`StoreError::Contended`]: another transaction holds it for too long.
    pub async fn lock_plan(&self, id: PlanId) -> Result<bool, StoreError> {
        table::lock::<PlanRow>(self.0, id.uuid()).await
    }
}
