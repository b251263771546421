//! Estimates that are made in the background, by parts.

use chrono::{DateTime, Utc};
use domain::id::{EstimateJobId, SurfaceId};
use sea_orm::sea_query::Expr;
use sea_orm::{ColumnTrait, Condition, EntityTrait, IntoActiveModel, QueryFilter, QuerySelect};

use super::job::{self, is_held};
use super::{Access, DueJob, JobFilter, Lease, Page, Store, StoreError, Tx, table};
use crate::clock::truncate_to_millis;
use crate::row::{EstimateJobRow, JobStatus, part};

/// How many old jobs are forgotten at once.
const SWEPT: u64 = 100;

impl Store {
    /// Jobs of any tenant that nobody works on, the oldest first: new ones, and those whose lease has run out.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn due_estimate_jobs(
        &self,
        now: DateTime<Utc>,
    ) -> Result<Vec<DueJob<EstimateJobRow>>, StoreError> {
        job::due(self, now).await
    }

    /// Forgets jobs of any tenant that came to their end before a moment, and says how many.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn sweep_estimate_jobs(&self, before: DateTime<Utc>) -> Result<usize, StoreError> {
        let old = job::ended::<EstimateJobRow>(self, before, SWEPT).await?;
        let n_old = old.len();
        for (tenant, id) in old {
            let tx = self.begin(tenant).await?;
            part::Entity::delete_many()
                .filter(of_job(&tx, EstimateJobId::from_uuid(id)))
                .exec(&tx.inner)
                .await?;
            job::delete::<EstimateJobRow>(&tx, id).await?;
            tx.commit().await?;
        }
        Ok(n_old)
    }
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
        job::n_unfinished::<EstimateJobRow>(self.0).await
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
        let begun = job::begins(found.n_attempts, lease, now);
        let begun = begun.into_iter().chain([("n_done", Expr::val(0_i64))]);
        let as_found = job::is_version(found.version);
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
        let end = job::ends(JobStatus::Succeeded, now);
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
        job::fail::<EstimateJobRow>(self.0, id.uuid(), owner, problem, now).await
    }

    /// Takes a job back that has not come to its end; false if it has.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn cancel(&self, id: EstimateJobId, now: DateTime<Utc>) -> Result<bool, StoreError> {
        job::cancel::<EstimateJobRow>(self.0, id.uuid(), now).await
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

    async fn change(
        &self,
        id: EstimateJobId,
        only: Condition,
        columns: impl IntoIterator<Item = job::Set>,
    ) -> Result<bool, StoreError> {
        job::change::<EstimateJobRow>(self.0, id.uuid(), only, columns).await
    }
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
        filter: &JobFilter,
        after: Option<EstimateJobId>,
        limit: u64,
    ) -> Result<Page<EstimateJobRow, EstimateJobId>, StoreError> {
        let after = after.map(EstimateJobId::uuid);
        let rows = table::list(self.0, job::asked(filter), after, limit).await?;
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
