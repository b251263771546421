//! What estimates, schedules and imports have in common: they are made in the background.
//!
//! Whoever works on a job holds it by a lease: nothing is written for it that does not find the lease with its owner, in
//! the statement that writes. So a job that two began, because the first was taken for dead, keeps what one of them made.

use chrono::{DateTime, Utc};
use domain::id::{SiteId, TenantId};
use sea_orm::sea_query::{Expr, ExprTrait, Order};
use sea_orm::{
    Condition, ConnectionTrait as _, EntityTrait, FromQueryResult as _, PaginatorTrait,
    QueryFilter, QueryOrder, QueryResult, QuerySelect, QueryTrait as _, UpdateMany,
};
use uuid::Uuid;

use super::{Store, StoreError, Tx, table};
use crate::clock::truncate_to_millis;
use crate::row::{JobStatus, Stored};

/// How many jobs that wait are looked at at once: another process may take the first before we do.
const LOOKED_AT: u64 = 8;

/// A column, and what it is to hold.
pub(super) type Set = (&'static str, Expr);

/// Which jobs to list.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct JobFilter {
    /// Of this site.
    pub site_id: Option<SiteId>,
    /// That stand here.
    pub status: Option<JobStatus>,
}

/// A job that somebody should work on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DueJob<R> {
    /// Whose it is.
    pub tenant: TenantId,
    /// The job.
    pub row: R,
}

/// The right to work on a job.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Lease<'a> {
    /// Who has it.
    pub owner: &'a str,
    /// Until when, if it is not prolonged.
    pub until: DateTime<Utc>,
}

/// Jobs of any tenant that nobody works on, the oldest first: new ones, and those whose lease has run out.
pub(super) async fn due<R: Stored>(
    store: &Store,
    now: DateTime<Utc>,
) -> Result<Vec<DueJob<R>>, StoreError> {
    let tx = store.look_for_work().await?;
    let select = R::Entity::find()
        .filter(is_due(now))
        .order_by(Expr::col("created_at"), Order::Asc)
        .limit(LOOKED_AT);
    let rows = tx
        .query_all_raw(select.build(tx.get_database_backend()))
        .await?;
    let job = |row: &QueryResult| {
        Ok(DueJob {
            tenant: TenantId::from_uuid(row.try_get("", "tenant_id")?),
            row: R::from_model(R::Model::from_query_result(row, "")?)?,
        })
    };
    rows.iter().map(job).collect()
}

/// Up to `most` jobs of any tenant that came to their end before a moment.
pub(super) async fn ended<R: Stored>(
    store: &Store,
    before: DateTime<Utc>,
    most: u64,
) -> Result<Vec<(TenantId, Uuid)>, StoreError> {
    let found: Vec<(Uuid, Uuid)> = R::Entity::find()
        .filter(Expr::col("finished_at").lt(truncate_to_millis(before)))
        .select_only()
        .expr(Expr::col("tenant_id"))
        .expr(Expr::col("id"))
        .limit(most)
        .into_tuple()
        .all(&store.look_for_work().await?)
        .await?;
    let id = |(tenant, id)| (TenantId::from_uuid(tenant), id);
    Ok(found.into_iter().map(id).collect())
}

/// Deletes a job, whatever its version.
pub(super) async fn delete<R: Stored>(tx: &Tx, id: Uuid) -> Result<(), StoreError> {
    R::Entity::delete_many()
        .filter(table::is("tenant_id", tx.tenant.uuid()))
        .filter(table::is("id", id))
        .exec(&tx.inner)
        .await?;
    Ok(())
}

/// How many have not come to their end.
pub(super) async fn n_unfinished<R: Stored>(tx: &Tx) -> Result<u64, StoreError> {
    let rows = table::rows::<R>(tx).filter(is_unfinished());
    Ok(rows.count(&tx.inner).await?)
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
pub(super) fn is_held(owner: &str) -> Condition {
    Condition::all()
        .add(table::is("status", JobStatus::Running.as_str()))
        .add(table::is("lease_owner", owner))
}

/// It has not come to its end.
fn is_unfinished() -> Condition {
    Condition::all().add(Expr::col("finished_at").is_null())
}

/// It is as it was found.
pub(super) fn is_version(version: i64) -> Condition {
    Condition::all().add(table::is("version", version))
}

/// The jobs that a filter asks for.
pub(super) fn asked(filter: &JobFilter) -> Condition {
    let site = filter.site_id.map(|id| table::is("site_id", id.uuid()));
    let status = filter
        .status
        .map(|status| table::is("status", status.as_str()));
    Condition::all().add_option(site).add_option(status)
}

/// What is written where somebody begins on a job that was begun `n_attempts` times before.
pub(super) fn begins(n_attempts: i64, lease: Lease<'_>, now: DateTime<Utc>) -> [Set; 5] {
    [
        ("status", Expr::val(JobStatus::Running.as_str())),
        ("n_attempts", Expr::val(n_attempts.saturating_add(1))),
        ("lease_owner", Expr::val(lease.owner)),
        ("lease_until", Expr::val(truncate_to_millis(lease.until))),
        ("started_at", Expr::val(truncate_to_millis(now))),
    ]
}

/// What is written where a job comes to an end.
pub(super) fn ends(status: JobStatus, now: DateTime<Utc>) -> [Set; 2] {
    [
        ("status", Expr::val(status.as_str())),
        ("finished_at", Expr::val(truncate_to_millis(now))),
    ]
}

/// Gives a job up; false if it is another's by now, or cancelled.
pub(super) async fn fail<R: Stored>(
    tx: &Tx,
    id: Uuid,
    owner: &str,
    problem: &str,
    now: DateTime<Utc>,
) -> Result<bool, StoreError> {
    let why = [("problem", Expr::val(problem))];
    let end = ends(JobStatus::Failed, now).into_iter().chain(why);
    change::<R>(tx, id, is_held(owner), end).await
}

/// Takes a job back that has not come to its end; false if it has.
pub(super) async fn cancel<R: Stored>(
    tx: &Tx,
    id: Uuid,
    now: DateTime<Utc>,
) -> Result<bool, StoreError> {
    let by = table::by(tx).map(|(name, value)| (name, Expr::val(value)));
    let end = ends(JobStatus::Cancelled, now).into_iter().chain(by);
    change::<R>(tx, id, is_unfinished(), end).await
}

/// Changes columns of a job for which a condition holds in the same statement, and says whether it did: a new version.
pub(super) async fn change<R: Stored>(
    tx: &Tx,
    id: Uuid,
    only: Condition,
    columns: impl IntoIterator<Item = Set>,
) -> Result<bool, StoreError> {
    let grown = ("version", Expr::col("version").add(1));
    note::<R>(tx, id, only, columns.into_iter().chain([grown])).await
}

/// As [`change`] without a new version: how far a job is is neither what was asked for nor what came of it.
pub(super) async fn note<R: Stored>(
    tx: &Tx,
    id: Uuid,
    only: Condition,
    columns: impl IntoIterator<Item = Set>,
) -> Result<bool, StoreError> {
    let update: UpdateMany<R::Entity> = R::Entity::update_many();
    let update = columns
        .into_iter()
        .fold(update, |update, (name, value)| update.col_expr(name, value));
    let done = update
        .filter(table::is("tenant_id", tx.tenant.uuid()))
        .filter(table::is("id", id))
        .filter(only)
        .exec(&tx.inner)
        .await?;
    Ok(done.rows_affected == 1)
}
