//! Schedules, which are made in the background.
//!
//! Whoever works on one holds it by a lease, as estimates in the background are held: nothing is written for it that does not
//! find the lease with its owner, in the statement that writes.

mod revision;

use chrono::{DateTime, Utc};
use domain::id::{ScheduleId, SiteId, TenantId};
use sea_orm::sea_query::{Expr, ExprTrait, Order};
use sea_orm::{
    ColumnTrait, Condition, EntityTrait, IntoActiveModel, PaginatorTrait, QueryFilter, QueryOrder,
    QuerySelect, UpdateMany,
};

use super::{Access, Lease, Page, Store, StoreError, Tx, table};
use crate::clock::truncate_to_millis;
use crate::row::schedule::{Column, Entity};
use crate::row::{JobStatus, ScheduleRow, Stored as _, choice, schedule_revision};

/// How many jobs that wait are looked at at once: another process may take the first before we do.
const LOOKED_AT: u64 = 8;
/// How many old jobs are forgotten at once.
const SWEPT: u64 = 100;

/// Which schedules to list.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ScheduleFilter {
    /// Of this site.
    pub site_id: Option<SiteId>,
    /// That stand here.
    pub status: Option<JobStatus>,
}

/// A schedule that somebody should work on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DueSchedule {
    /// Whose it is.
    pub tenant: TenantId,
    /// The job.
    pub row: ScheduleRow,
}

impl Store {
    /// Jobs of any tenant that nobody works on, the oldest first: new ones, and those whose lease has run out.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn due_schedules(&self, now: DateTime<Utc>) -> Result<Vec<DueSchedule>, StoreError> {
        let found = Entity::find()
            .filter(is_due(now))
            .order_by(Column::CreatedAt, Order::Asc)
            .limit(LOOKED_AT)
            .all(&self.look_for_work().await?)
            .await?;
        let job = |model: crate::row::schedule::Model| {
            Ok(DueSchedule {
                tenant: TenantId::from_uuid(model.tenant_id),
                row: ScheduleRow::from_model(model)?,
            })
        };
        found.into_iter().map(job).collect()
    }

    /// Forgets jobs of any tenant that came to their end before a moment, and says how many.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn sweep_schedules(&self, before: DateTime<Utc>) -> Result<usize, StoreError> {
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
            let id = ScheduleId::from_uuid(id);
            schedule_revision::Entity::delete_many()
                .filter(of_job(&tx, id))
                .exec(&tx.inner)
                .await?;
            choice::Entity::delete_many()
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
fn is_due(now: DateTime<Utc>) -> Condition {
    let left = Condition::all()
        .add(table::is("status", JobStatus::Running.as_str()))
        .add(Expr::col("lease_until").lt(truncate_to_millis(now)));
    Condition::any()
        .add(table::is("status", JobStatus::Queued.as_str()))
        .add(left)
}

/// It is still worked on by this owner.
fn is_held(owner: &str) -> Condition {
    Condition::all()
        .add(table::is("status", JobStatus::Running.as_str()))
        .add(table::is("lease_owner", owner))
}

/// It has not come to its end.
fn is_unfinished() -> Condition {
    Condition::all().add(Expr::col("finished_at").is_null())
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
        let rows = table::rows::<ScheduleRow>(self.0).filter(is_unfinished());
        Ok(rows.count(&self.0.inner).await?)
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
        Ok(true)
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
        // How far it is makes no new version: it is not what was asked for, nor what came of it.
        self.set(Entity::update_many(), id, is_held(lease.owner), progress)
            .await
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
        let [status, finished] = ends(JobStatus::Succeeded, now);
        let end = [
            status,
            finished,
            ("n_done", Expr::val(n_done)),
            ("result", Expr::val(result)),
        ];
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
        let as_found = Condition::all()
            .add(table::is("version", version))
            .add(table::is("status", JobStatus::Succeeded.as_str()));
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
        let [status, finished] = ends(JobStatus::Failed, now);
        let end = [status, finished, ("problem", Expr::val(problem))];
        self.change(id, is_held(owner), end).await
    }

    /// Takes a job back that has not come to its end; false if it has.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn cancel(&self, id: ScheduleId, now: DateTime<Utc>) -> Result<bool, StoreError> {
        let [client, subject] = table::by(self.0).map(|(name, value)| (name, Expr::val(value)));
        let [status, finished] = ends(JobStatus::Cancelled, now);
        let end = [status, finished, client, subject];
        self.change(id, is_unfinished(), end).await
    }

    /// Changes columns of a job for which a condition holds in the same statement; says whether it did.
    async fn change<const N: usize>(
        &self,
        id: ScheduleId,
        only: Condition,
        columns: [(&'static str, Expr); N],
    ) -> Result<bool, StoreError> {
        let update = Entity::update_many().col_expr("version", Expr::col("version").add(1));
        self.set(update, id, only, columns).await
    }

    /// The same in an update that is begun.
    async fn set<const N: usize>(
        &self,
        update: UpdateMany<Entity>,
        id: ScheduleId,
        only: Condition,
        columns: [(&'static str, Expr); N],
    ) -> Result<bool, StoreError> {
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
        filter: &ScheduleFilter,
        after: Option<ScheduleId>,
        limit: u64,
    ) -> Result<Page<ScheduleRow, ScheduleId>, StoreError> {
        let site = filter.site_id.map(|id| table::is("site_id", id.uuid()));
        let status = filter
            .status
            .map(|status| table::is("status", status.as_str()));
        let condition = Condition::all().add_option(site).add_option(status);
        let after = after.map(ScheduleId::uuid);
        let rows = table::list(self.0, condition, after, limit).await?;
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
