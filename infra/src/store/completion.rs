//! Completions and their lines.

mod recent;

use chrono::{DateTime, Utc};
use domain::id::{CompletionId, ContractorId, PlanId, SiteId, SurfaceId};
use sea_orm::sea_query::{Expr, ExprTrait, LikeExpr, Order};
use sea_orm::{Condition, EntityTrait, QueryFilter, QueryOrder, QuerySelect};
use uuid::Uuid;

use super::site::by_external;
use super::turn::{Place, Turn};
use super::{Access, Page, StoreError, Tx, table};
use crate::clock::truncate_to_millis;
use crate::row::{
    CompletionLineRow, CompletionRow, CompletionStatus, DeviationState, External, completion,
};

/// Which completions to list; what is absent is not asked for.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct CompletionFilter {
    /// Of this site.
    pub site_id: Option<SiteId>,
    /// On this surface.
    pub surface_id: Option<SurfaceId>,
    /// That cite this plan.
    pub plan_id: Option<PlanId>,
    /// By this contractor.
    pub contractor_id: Option<ContractorId>,
    /// Begun at or after this moment.
    pub started_from: Option<DateTime<Utc>>,
    /// Begun before this moment.
    pub started_to: Option<DateTime<Utc>>,
    /// With this external name.
    pub external: Option<External>,
    /// Also those that were corrected or voided.
    pub include_superseded: bool,
    /// That stand here; in the place of `include_superseded`.
    pub status: Option<CompletionStatus>,
    /// By this process.
    pub process: Option<String>,
    /// That cite no plan.
    pub unplanned: bool,
    /// With such deviations.
    pub deviation: Option<DeviationFilter>,
}

/// Which deviations to look for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DeviationFilter {
    /// Any.
    Any,
    /// One that nobody has acknowledged.
    Open,
    /// With this code, acknowledged or not.
    Code(String),
}

/// The completions of the tenant.
#[derive(Debug, Clone, Copy)]
pub struct Completions<'a, A = Tx>(pub(super) &'a A);

impl Completions<'_> {
    /// Adds a completion with its lines, to the sums of its month too; what it corrects is taken out of them.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its id is taken, what it corrects is corrected already, or what it names is not
    /// there.
    pub async fn insert(
        &self,
        row: &CompletionRow,
        lines: &[CompletionLineRow],
    ) -> Result<(), StoreError> {
        table::insert(self.0, row).await?;
        if let Some(old) = row.supersedes {
            table::touch::<CompletionRow>(self.0, old.uuid(), row.created_at).await?;
        }
        table::insert_many(self.0, lines).await?;
        self.0.rollups().add(row.id, row.supersedes).await?;
        self.0.dues().mark(row.surface_id.uuid()).await
    }
}

impl<A: Access> Completions<'_, A> {
    /// The completion with this id, without its lines.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn get(&self, id: CompletionId) -> Result<Option<CompletionRow>, StoreError> {
        table::get(self.0, id.uuid()).await
    }

    /// The completion that counts and has this external name.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn find_external(
        &self,
        external: &External,
    ) -> Result<Option<CompletionRow>, StoreError> {
        table::find_external(self.0, external).await
    }

    /// The lines of a completion in their order.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn lines(&self, id: CompletionId) -> Result<Vec<CompletionLineRow>, StoreError> {
        let select = table::rows::<CompletionLineRow>(self.0)
            .filter(table::is("completion_id", id.uuid()))
            .order_by(Expr::col("line_no"), Order::Asc);
        table::all(self.0, select).await
    }

    /// Completions in the order of a turn.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn list(
        &self,
        filter: &CompletionFilter,
        turn: Turn,
        limit: u64,
    ) -> Result<Page<CompletionRow, Place>, StoreError> {
        let rows = table::turn(self.0, condition(filter), turn, limit).await?;
        let place = |row: &CompletionRow| turn.place(row.id.uuid(), row.changed_at);
        Ok(Page::cut(rows, limit, place))
    }
}

impl Completions<'_> {
    /// Lets `new` count in the place of `old`. Insert `new` with `supersedes` afterwards, in the same transaction: of two
    /// that count only one may have an external name.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: `old` does not count any more, or is not there.
    pub async fn supersede(&self, old: CompletionId, new: CompletionId) -> Result<(), StoreError> {
        table::supersede::<CompletionRow>(self.0, old.uuid(), new.uuid()).await
    }

    /// Writes down what `new` says beyond `old`: what is said of it, where it stands and since when; one that counts no more
    /// leaves the sums of its month.
    ///
    /// # Errors
    /// [`StoreError::StaleVersion`]: it is not there, or stands elsewhere, or something was said of it meanwhile.
    pub async fn amend(&self, old: &CompletionRow, new: &CompletionRow) -> Result<(), StoreError> {
        let [client, subject] = table::by(self.0);
        let done = completion::Entity::update_many()
            .col_expr(client.0, Expr::val(client.1))
            .col_expr(subject.0, Expr::val(subject.1))
            .col_expr("status", Expr::val(new.status.as_str()))
            .col_expr("amendments", Expr::val(new.amendments.as_str()))
            .col_expr("deviation_state", Expr::val(new.deviation_state.as_str()))
            .col_expr("changed_at", Expr::val(truncate_to_millis(new.changed_at)))
            .filter(table::is("tenant_id", self.0.tenant.uuid()))
            .filter(table::is("id", old.id.uuid()))
            .filter(table::is("status", old.status.as_str()))
            .filter(table::is("amendments", old.amendments.as_str()))
            .exec(&self.0.inner)
            .await?;
        if done.rows_affected != 1 {
            return Err(StoreError::StaleVersion);
        }
        if new.status != old.status {
            self.0.rollups().take_away(old.id).await?;
            self.0.dues().mark(old.surface_id.uuid()).await?;
        }
        Ok(())
    }

    /// Every completion of these surfaces by one of these processes, corrected or not, in the order of their recording.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn of_surfaces(
        &self,
        surfaces: &[SurfaceId],
        processes: &[&str],
    ) -> Result<Vec<CompletionRow>, StoreError> {
        let ids: Vec<Uuid> = surfaces.iter().map(|id| id.uuid()).collect();
        let by = Expr::col("process").is_in(processes.iter().copied());
        table::of_surfaces(self.0, &ids, &Condition::all().add(by)).await
    }
}

impl<A: Access> Completions<'_, A> {
    /// How much of a plan the completions that count have fulfilled, in parts per million.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn live_plan_share_ppm(&self, plan: PlanId) -> Result<i64, StoreError> {
        let sum: Option<Option<i64>> = table::rows::<CompletionRow>(self.0)
            .filter(table::is("plan_id", plan.uuid()))
            .filter(table::is_recorded())
            .select_only()
            .column_as(
                Expr::col("planned_share_ppm").sum().cast_as("bigint"),
                "share",
            )
            .into_tuple()
            .one(self.0.on())
            .await?;
        Ok(sum.flatten().unwrap_or(0))
    }
}

pub(super) fn condition(filter: &CompletionFilter) -> Condition {
    let from = filter.started_from.map(truncate_to_millis);
    let to = filter.started_to.map(truncate_to_millis);
    Condition::all()
        .add_option(filter.site_id.map(|id| table::is("site_id", id.uuid())))
        .add_option(
            filter
                .surface_id
                .map(|id| table::is("surface_id", id.uuid())),
        )
        .add_option(filter.plan_id.map(|id| table::is("plan_id", id.uuid())))
        .add_option(
            filter
                .contractor_id
                .map(|id| table::is("contractor_id", id.uuid())),
        )
        .add_option(from.map(|moment| Expr::col("started_at").gte(moment)))
        .add_option(to.map(|moment| Expr::col("started_at").lt(moment)))
        .add_option(filter.external.as_ref().map(by_external))
        .add_option(
            filter
                .process
                .clone()
                .map(|process| table::is("process", process)),
        )
        .add_option(filter.unplanned.then(|| Expr::col("plan_id").is_null()))
        .add_option(filter.deviation.as_ref().map(deviates))
        .add_option(match filter.status {
            Some(status) => Some(table::is("status", status.as_str())),
            None => (!filter.include_superseded).then(table::is_recorded),
        })
}

/// Whether a completion has such a deviation. Each state is a range of an index; a code is looked for in two of them.
fn deviates(wanted: &DeviationFilter) -> Condition {
    let state = |state: DeviationState| table::is("deviation_state", state.as_str());
    let any = || {
        Condition::any()
            .add(state(DeviationState::Open))
            .add(state(DeviationState::Acknowledged))
    };
    match wanted {
        DeviationFilter::Any => any(),
        DeviationFilter::Open => Condition::all().add(state(DeviationState::Open)),
        DeviationFilter::Code(code) => {
            // A code is letters and underscores; the latter stand for any character in a pattern, and so are escaped.
            let pattern = format!("%|{}|%", code.replace('_', "\\_"));
            let pattern = LikeExpr::new(pattern).escape('\\');
            Condition::all()
                .add(any())
                .add(Expr::col("deviations").like(pattern))
        }
    }
}
