//! Estimates that are made in the background.
//!
//! Whoever works on a job holds it by a lease: nothing is written for it that does not find the lease with its owner, in
//! the statement that writes. So a job that two began, because the first was taken for dead, keeps the lines of one.

use chrono::{DateTime, Utc};
use domain::id::{EstimateJobId, SiteId, SurfaceId, TenantId};
use sea_orm::sea_query::{Expr, ExprTrait, Order};
use sea_orm::{
    ColumnTrait, Condition, EntityTrait, IntoActiveModel, PaginatorTrait, QueryFilter, QueryOrder,
    QuerySelect,
};

use super::{Access, Page, Store, StoreError, Tx, table};
use crate::clock::truncate_to_millis;
use crate::row::{EstimateJobRow, JobStatus, Stored as _, part};

/// How many jobs that wait are looked at at once: another process may take the first before we do.
const LOOKED_AT: u64 = 8;
/// How many old jobs are forgotten at once.
const SWEPT: u64 = 100;

/// Which jobs to list.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct EstimateJobFilter {
    /// Of this site.
    pub site_id: Option<SiteId>,
    /// That stand here.
    pub status: Option<JobStatus>,
}

/// A job that somebody should work on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DueJob {
    /// Whose it is.
    pub tenant: TenantId,
    /// The job.
    pub row: EstimateJobRow,
}

/// The right to work on a job.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Lease<'a> {
    /// Who has it.
    pub owner: &'a str,
    /// Until when, if it is not prolonged.
    pub until: DateTime<Utc>,
}

impl Store {
    /// Jobs of any tenant that nobody works on, the oldest first: new ones, and those whose lease has run out.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn due_estimate_jobs(&self, now: DateTime<Utc>) -> Result<Vec<DueJob>, StoreError> {
        use crate::row::estimate_job::{Column, Entity};
        let found = Entity::find()
            .filter(is_due(now))
            .order_by(Column::CreatedAt, Order::Asc)
            .limit(LOOKED_AT)
            .all(&self.look_for_work().await?)
            .await?;
        let job = |model: crate::row::estimate_job::Model| {
            Ok(DueJob {
                tenant: TenantId::from_uuid(model.tenant_id),
                row: EstimateJobRow::from_model(model)?,
            })
        };
        found.into_iter().map(job).collect()
    }

    /// Forgets jobs of any tenant that came to their end before a moment, and says how many.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn sweep_estimate_jobs(&self, before: DateTime<Utc>) -> Result<usize, StoreError> {
        use crate::row::estimate_job::{Column, Entity};
        let old: Vec<(uuid::Uuid, uuid::Uuid)> = Entity::find()
            .filter(Column::FinishedAt.lt(truncate_to_millis(before)))
            .select_only()
            .columns([Column::TenantId, Column::Id])
            .limit(SWEPT)
            .into_tuple()
            .all(&self.look_for_work().await?)
            .await?;
        let n_old = old.len();
        for (tenant, id) in old {
            let tx = self.begin(TenantId::from_uuid(tenant)).await?;
            let id = EstimateJobId::from_uuid(id);
            part::Entity::delete_many()
                .filter(of_job(&tx, id))
                .exec(&tx.inner)
                .await?;
            Entity::delete_many()
                .filter(table::is("tenant_id", tenant))
                .filter(table::is("id", id.uuid()))
                .exec(&tx.inner)
                .await?;
            tx.commit().await?;
        }
        Ok(n_old)
    }
}

/// Nobody works on it, and somebody should.
pub(super) fn is_due(now: DateTime<Utc>) -> Condition {
    let left = Condition::all()
        .add(table::is("status", JobStatus::Running.as_str()))
        .add(Expr::col("lease_until").lt(truncate_to_millis(now)));
    Condition::any()
        .add(table::is("status", JobStatus::Queued.as_str()))
        .add(left)
}

/// It is still worked on by this owner.
pub(super) fn is_held(owner: &str) -> Condition {
    Condition::all()
        .add(table::is("status", JobStatus::Running.as_str()))
        .add(table::is("lease_owner", owner))
}

/// It has not come to its end.
pub(super) fn is_unfinished() -> Condition {
    Condition::all().add(Expr::col("finished_at").is_null())
}

fn of_job(tx: &impl Access, id: EstimateJobId) -> Condition {
    Condition::all()
        .add(table::is("tenant_id", tx.tenant().uuid()))
        .add(table::is("job_id", id.uuid()))
}

/// The jobs of the tenant.
#[derive(Debug, Clone, Copy)]
pub struct EstimateJobs<'a, A = Tx>(pub(super) &'a A);

impl EstimateJobs<'_> {
    /// Adds a job with its surfaces, by parts.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its id is taken, or the site is not there.
    pub async fn insert(
        &self,
        row: &EstimateJobRow,
        parts: &[&[SurfaceId]],
    ) -> Result<(), StoreError> {
        table::insert(self.0, row).await?;
        for (number, surfaces) in (1_i64..).zip(parts) {
            self.add_part(row.id, number, surfaces, None).await?;
        }
        Ok(())
    }

    /// How many have not come to their end.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn n_unfinished(&self) -> Result<u64, StoreError> {
        let rows = table::rows::<EstimateJobRow>(self.0).filter(is_unfinished());
        Ok(rows.count(&self.0.inner).await?)
    }

    /// Takes a job that is due, as it was when it was found, and forgets what was done of it; false if it has changed
    /// since, so that somebody else has it.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn claim(
        &self,
        found: &EstimateJobRow,
        lease: Lease<'_>,
        now: DateTime<Utc>,
    ) -> Result<bool, StoreError> {
        let as_found = Condition::all().add(table::is("version", found.version));
        let begun = [
            ("status", Expr::val(JobStatus::Running.as_str())),
            ("n_done", Expr::val(0_i64)),
            ("n_attempts", Expr::val(found.n_attempts.saturating_add(1))),
            ("lease_owner", Expr::val(lease.owner)),
            ("lease_until", Expr::val(truncate_to_millis(lease.until))),
            ("started_at", Expr::val(truncate_to_millis(now))),
        ];
        if !self.change(found.id, as_found, begun).await? {
            return Ok(false);
        }
        part::Entity::update_many()
            .col_expr(part::Column::Lines, Expr::val(Option::<String>::None))
            .filter(of_job(self.0, found.id))
            .exec(&self.0.inner)
            .await?;
        Ok(true)
    }

    /// Keeps the lines of a part and prolongs the lease; false if the job is another's by now, or cancelled.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn keep(
        &self,
        id: EstimateJobId,
        lease: Lease<'_>,
        n_done: i64,
        (number, lines): (i64, String),
    ) -> Result<bool, StoreError> {
        let progress = [
            ("n_done", Expr::val(n_done)),
            ("lease_until", Expr::val(truncate_to_millis(lease.until))),
        ];
        if !self.change(id, is_held(lease.owner), progress).await? {
            return Ok(false);
        }
        part::Entity::update_many()
            .col_expr(part::Column::Lines, Expr::val(lines))
            .filter(of_job(self.0, id))
            .filter(part::Column::Number.eq(number))
            .exec(&self.0.inner)
            .await?;
        Ok(true)
    }

    /// Brings a job to its end with the last part of its result; false if it is another's by now, or cancelled.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn succeed(
        &self,
        id: EstimateJobId,
        owner: &str,
        (number, line): (i64, String),
        now: DateTime<Utc>,
    ) -> Result<bool, StoreError> {
        let end = ends(JobStatus::Succeeded, now);
        if !self.change(id, is_held(owner), end).await? {
            return Ok(false);
        }
        self.add_part(id, number, &[], Some(line)).await?;
        Ok(true)
    }

    /// Gives a job up; false if it is another's by now, or cancelled.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn fail(
        &self,
        id: EstimateJobId,
        owner: &str,
        problem: &str,
        now: DateTime<Utc>,
    ) -> Result<bool, StoreError> {
        let [status, finished] = ends(JobStatus::Failed, now);
        let end = [status, finished, ("problem", Expr::val(problem))];
        self.change(id, is_held(owner), end).await
    }

    /// Takes a job back that has not come to its end; false if it has.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn cancel(&self, id: EstimateJobId, now: DateTime<Utc>) -> Result<bool, StoreError> {
        let [client, subject] = table::by(self.0).map(|(name, value)| (name, Expr::val(value)));
        let [status, finished] = ends(JobStatus::Cancelled, now);
        let end = [status, finished, client, subject];
        self.change(id, is_unfinished(), end).await
    }

    async fn add_part(
        &self,
        job: EstimateJobId,
        number: i64,
        surfaces: &[SurfaceId],
        lines: Option<String>,
    ) -> Result<(), StoreError> {
        let model = part::Model {
            tenant_id: self.0.tenant.uuid(),
            job_id: job.uuid(),
            number,
            surfaces: part::packed(surfaces),
            lines,
        };
        part::Entity::insert(model.into_active_model())
            .exec_without_returning(&self.0.inner)
            .await?;
        Ok(())
    }

    /// Changes columns of a job for which a condition holds in the same statement; says whether it did.
    async fn change<const N: usize>(
        &self,
        id: EstimateJobId,
        only: Condition,
        columns: [(&'static str, Expr); N],
    ) -> Result<bool, StoreError> {
        use crate::row::estimate_job::Entity;
        let update = Entity::update_many().col_expr("version", Expr::col("version").add(1));
        let update = columns
            .into_iter()
            .fold(update, |update, (name, value)| update.col_expr(name, value));
        let done = update
            .filter(table::is("tenant_id", self.0.tenant.uuid()))
            .filter(table::is("id", id.uuid()))
            .filter(only)
            .exec(&self.0.inner)
            .await?;
        Ok(done.rows_affected == 1)
    }
}

/// What is written where a job comes to an end.
fn ends(status: JobStatus, now: DateTime<Utc>) -> [(&'static str, Expr); 2] {
    [
        ("status", Expr::val(status.as_str())),
        ("finished_at", Expr::val(truncate_to_millis(now))),
    ]
}

impl<A: Access> EstimateJobs<'_, A> {
    /// The job with this id.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn get(&self, id: EstimateJobId) -> Result<Option<EstimateJobRow>, StoreError> {
        table::get(self.0, id.uuid()).await
    }

    /// Jobs in the order of their ids, which is that of their making.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn list(
        &self,
        filter: &EstimateJobFilter,
        after: Option<EstimateJobId>,
        limit: u64,
    ) -> Result<Page<EstimateJobRow, EstimateJobId>, StoreError> {
        let site = filter.site_id.map(|id| table::is("site_id", id.uuid()));
        let status = filter
            .status
            .map(|status| table::is("status", status.as_str()));
        let condition = Condition::all().add_option(site).add_option(status);
        let after = after.map(EstimateJobId::uuid);
        let rows = table::list(self.0, condition, after, limit).await?;
        Ok(Page::cut(rows, limit, |row: &EstimateJobRow| row.id))
    }

    /// The surfaces of a part; `None` behind the last.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn surfaces(
        &self,
        id: EstimateJobId,
        number: i64,
    ) -> Result<Option<Vec<SurfaceId>>, StoreError> {
        let found: Option<Vec<u8>> = self.part(id, number, part::Column::Surfaces).await?;
        Ok(found.map(|bytes| part::unpacked(&bytes)))
    }

    /// The lines of a part of the result; `None` where there are none.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn lines(
        &self,
        id: EstimateJobId,
        number: i64,
    ) -> Result<Option<String>, StoreError> {
        let found: Option<Option<String>> = self.part(id, number, part::Column::Lines).await?;
        Ok(found.flatten())
    }

    async fn part<T: sea_orm::TryGetable>(
        &self,
        id: EstimateJobId,
        number: i64,
        column: part::Column,
    ) -> Result<Option<T>, StoreError> {
        let select = part::Entity::find()
            .filter(of_job(self.0, id))
            .filter(part::Column::Number.eq(number));
        let found: Option<(T,)> = select
            .select_only()
            .column(column)
            .into_tuple()
            .one(self.0.on())
            .await?;
        Ok(found.map(|(value,)| value))
    }
}
