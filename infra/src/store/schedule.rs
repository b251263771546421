//! Schedules, which are made in the background.

mod revision;

use chrono::{DateTime, Utc};
use domain::id::ScheduleId;
use sea_orm::sea_query::Expr;
use sea_orm::{ColumnTrait, Condition, EntityTrait, IntoActiveModel, QueryFilter, QuerySelect};

use super::job::{self, is_held};
use super::{Access, DueJob, JobFilter, Lease, Page, Store, StoreError, Tx, table};
use crate::clock::truncate_to_millis;
use crate::row::{JobStatus, ScheduleRow, choice, schedule_revision};

/// How many old jobs are forgotten at once.
const SWEPT: u64 = 100;

impl Store {
    /// Jobs of any tenant that nobody works on, the oldest first: new ones, and those whose lease has run out.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn due_schedules(
        &self,
        now: DateTime<Utc>,
    ) -> Result<Vec<DueJob<ScheduleRow>>, StoreError> {
        job::due(self, now).await
    }

    /// Forgets jobs of any tenant that came to their end before a moment, and says how many.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn sweep_schedules(&self, before: DateTime<Utc>) -> Result<usize, StoreError> {
        let old = job::ended::<ScheduleRow>(self, before, SWEPT).await?;
        let n_old = old.len();
        for (tenant, uuid) in old {
            let tx = self.begin(tenant).await?;
            let id = ScheduleId::from_uuid(uuid);
            schedule_revision::Entity::delete_many()
                .filter(of_job(&tx, id))
                .exec(&tx.inner)
                .await?;
            choice::Entity::delete_many()
                .filter(of_job(&tx, id))
                .exec(&tx.inner)
                .await?;
            job::delete::<ScheduleRow>(&tx, uuid).await?;
            tx.commit().await?;
        }
        Ok(n_old)
    }
}

fn of_job(tx: &impl Access, id: ScheduleId) -> Condition {
    Condition::all()
        .add(table::is("tenant_id", tx.tenant().uuid()))
        .add(table::is("schedule_id", id.uuid()))
}

/// The schedules of the tenant.
#[derive(Debug, Clone, Copy)]
pub struct Schedules<'a, A = Tx>(pub(super) &'a A);

impl Schedules<'_> {
    /// Adds one.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its id is taken, or the site is not there.
    pub async fn insert(&self, row: &ScheduleRow) -> Result<(), StoreError> {
        table::insert(self.0, row).await
    }

    /// How many have not come to their end.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn n_unfinished(&self) -> Result<u64, StoreError> {
        job::n_unfinished::<ScheduleRow>(self.0).await
    }

    /// Takes a job that is due, as it was when it was found, and forgets what was done of it; false if it has changed
    /// since, so that somebody else has it.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn claim(
        &self,
        found: &ScheduleRow,
        lease: Lease<'_>,
        now: DateTime<Utc>,
    ) -> Result<bool, StoreError> {
        let begun = job::begins(found.n_attempts, lease, now);
        let begun = begun.into_iter().chain([("n_done", Expr::val(0_i64))]);
        let as_found = job::is_version(found.version);
        self.change(found.id, as_found, begun).await
    }

    /// Keeps how far it is and prolongs the lease; false if it is another's by now, or cancelled.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn keep(
        &self,
        id: ScheduleId,
        lease: Lease<'_>,
        n_done: i64,
        best_until: Option<DateTime<Utc>>,
    ) -> Result<bool, StoreError> {
        let progress = [
            ("n_done", Expr::val(n_done)),
            ("best_until", Expr::val(best_until.map(truncate_to_millis))),
            ("lease_until", Expr::val(truncate_to_millis(lease.until))),
        ];
        let held = is_held(lease.owner);
        job::note::<ScheduleRow>(self.0, id.uuid(), held, progress).await
    }

    /// Brings it to its end with what came of it and the tasks of each choice, from 1; false if it is another's by now, or
    /// cancelled.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn succeed(
        &self,
        id: ScheduleId,
        owner: &str,
        (n_done, result, tasks): (i64, &str, Vec<String>),
        now: DateTime<Utc>,
    ) -> Result<bool, StoreError> {
        let made = [("n_done", Expr::val(n_done)), ("result", Expr::val(result))];
        let end = job::ends(JobStatus::Succeeded, now).into_iter().chain(made);
        if !self.change(id, is_held(owner), end).await? {
            return Ok(false);
        }
        for (number, tasks) in (1_i64..).zip(tasks) {
            let model = choice::Model {
                tenant_id: self.0.tenant.uuid(),
                schedule_id: id.uuid(),
                number,
                tasks,
            };
            choice::Entity::insert(model.into_active_model())
                .exec_without_returning(&self.0.inner)
                .await?;
        }
        Ok(true)
    }

    /// Says which choice is to be done; false if it is not made, or is not as it was found.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn choose(
        &self,
        id: ScheduleId,
        version: i64,
        number: i64,
    ) -> Result<bool, StoreError> {
        let as_found =
            job::is_version(version).add(table::is("status", JobStatus::Succeeded.as_str()));
        let chosen = [("chosen", Expr::val(number))];
        self.change(id, as_found, chosen).await
    }

    /// Gives a job up; false if it is another's by now, or cancelled.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn fail(
        &self,
        id: ScheduleId,
        owner: &str,
        problem: &str,
        now: DateTime<Utc>,
    ) -> Result<bool, StoreError> {
        job::fail::<ScheduleRow>(self.0, id.uuid(), owner, problem, now).await
    }

    /// Takes a job back that has not come to its end; false if it has.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn cancel(&self, id: ScheduleId, now: DateTime<Utc>) -> Result<bool, StoreError> {
        job::cancel::<ScheduleRow>(self.0, id.uuid(), now).await
    }

    async fn change(
        &self,
        id: ScheduleId,
        only: Condition,
        columns: impl IntoIterator<Item = job::Set>,
    ) -> Result<bool, StoreError> {
        job::change::<ScheduleRow>(self.0, id.uuid(), only, columns).await
    }
}

impl<A: Access> Schedules<'_, A> {
    /// The job with this id.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn get(&self, id: ScheduleId) -> Result<Option<ScheduleRow>, StoreError> {
        table::get(self.0, id.uuid()).await
    }

    /// Jobs in the order of their ids, which is that of their making.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn list(
        &self,
        filter: &JobFilter,
        after: Option<ScheduleId>,
        limit: u64,
    ) -> Result<Page<ScheduleRow, ScheduleId>, StoreError> {
        let after = after.map(ScheduleId::uuid);
        let rows = table::list(self.0, job::asked(filter), after, limit).await?;
        Ok(Page::cut(rows, limit, |row: &ScheduleRow| row.id))
    }

    /// The tasks of a choice; `None` where there is no such choice.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn tasks(&self, id: ScheduleId, number: i64) -> Result<Option<String>, StoreError> {
        let found: Option<(String,)> = choice::Entity::find()
            .filter(of_job(self.0, id))
            .filter(choice::Column::Number.eq(number))
            .select_only()
            .column(choice::Column::Tasks)
            .into_tuple()
            .one(self.0.on())
            .await?;
        Ok(found.map(|(tasks,)| tasks))
    }
}
