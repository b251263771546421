//! Plans and their lines.

mod versions;

use domain::id::{PlanId, SiteId, SurfaceId};
use domain::plan::Verdict;
use sea_orm::sea_query::{Expr, ExprTrait, Order, Query};
use sea_orm::{Condition, EntityTrait, QueryFilter, QueryOrder};

pub use self::versions::InputVersions;
use super::{Access, Page, StoreError, Tx, table};
use crate::row::plan::BriefModel;
use crate::row::{CommitmentRow, PlanBrief, PlanLineRow, PlanRow, PlanStatus, Stored};

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

    /// What there is to say of plans in short, in the order of their ids, which is that of their making.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn list(
        &self,
        filter: &PlanFilter,
        after: Option<PlanId>,
        limit: u64,
    ) -> Result<Page<PlanBrief, PlanId>, StoreError> {
        let condition = Condition::all()
            .add_option(filter.site_id.map(|id| table::is("site_id", id.uuid())))
            .add_option(
                filter
                    .surface_id
                    .map(|id| table::is("surface_id", id.uuid())),
            )
            .add_option(
                filter
                    .status
                    .map(|status| table::is("status", status.as_str())),
            )
            .add_option(
                filter
                    .verdict
                    .map(|verdict| table::is("verdict", verdict.word())),
            );
        let after = after.map(PlanId::uuid);
        let briefs =
            table::briefs::<PlanRow, BriefModel, _>(self.0, condition, after, limit).await?;
        Ok(Page::cut(briefs, limit, |brief: &PlanBrief| brief.id))
    }
}

impl Plans<'_> {
    /// Writes all columns; `row.version` is the new version, `expected` the one that is there.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: it is not there in that version.
    pub async fn update(&self, row: &PlanRow, expected: i64) -> Result<(), StoreError> {
        table::update(self.0, row, row.id.uuid(), expected).await
    }

    /// Lets a plan stand elsewhere; its version grows by one from `expected`.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: it is not there in that version.
    pub async fn set_status(
        &self,
        id: PlanId,
        status: PlanStatus,
        expected: i64,
    ) -> Result<(), StoreError> {
        let [client, subject] = table::by(self.0);
        let done = <PlanRow as Stored>::Entity::update_many()
            .col_expr(client.0, Expr::val(client.1))
            .col_expr(subject.0, Expr::val(subject.1))
            .col_expr("status", Expr::val(status.as_str()))
            .col_expr("version", Expr::val(expected.saturating_add(1)))
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
