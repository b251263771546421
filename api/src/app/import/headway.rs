//! How far this process is with the file that it works on.
//!
//! What is done within the transaction that writes is seen by nobody else before it is committed, and SQLite has no second
//! writer who could tell of it. So the process that works tells its own callers from here; on PostgreSQL callers of other
//! processes read the row, which is written batch by batch.

use std::sync::{Mutex, PoisonError};

use chrono::TimeDelta;
use domain::id::{ImportId, TenantId};
use infra::{
    row::{ImportRow, ImportStage, JobStatus},
    store::Lease,
};

use crate::{context::Context, problem::Problem};

/// The stage, how many spaces are done, and how many there are.
type Told = (ImportStage, i64, i64);

/// What is told of the one file that a process works on.
#[derive(Debug, Default)]
pub(crate) struct Headway(Mutex<Option<(ImportId, Told)>>);

impl Headway {
    fn set(&self, told: Option<(ImportId, Told)>) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = told;
    }

    /// What this process knows. It is asked before a row is read: what it has forgotten by then is in the row.
    pub(crate) fn now(&self) -> Known {
        Known(*self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

/// What this process knew at a moment.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Known(Option<(ImportId, Told)>);

impl Known {
    /// Brings a row that was read since up to it; says whether it was more.
    pub(crate) fn onto(self, row: &mut ImportRow) -> bool {
        let Some((id, (stage, n_done, n_total))) = self.0 else {
            return false;
        };
        let is_newer = (stage, n_done) > (row.stage, row.n_done);
        if id != row.id || row.status != JobStatus::Running || !is_newer {
            return false;
        }
        (row.stage, row.n_done, row.n_total) = (stage, n_done, n_total);
        true
    }
}

/// Tells how far one file is, until it is dropped.
pub(super) struct Teller<'c> {
    ctx: &'c Context,
    tenant: TenantId,
    id: ImportId,
    owner: &'c str,
    lease: TimeDelta,
    n_total: i64,
}

impl<'c> Teller<'c> {
    /// Of a file with so many spaces.
    pub(super) fn new(
        ctx: &'c Context,
        (tenant, id): (TenantId, ImportId),
        (owner, lease): (&'c str, TimeDelta),
        n_spaces: usize,
    ) -> Self {
        Self {
            ctx,
            tenant,
            id,
            owner,
            lease,
            n_total: count(n_spaces),
        }
    }

    /// Tells a stage before a transaction that writes has begun; false if the import is another's by now, or cancelled.
    ///
    /// # Errors
    /// Those of the store.
    pub(super) async fn stage(&self, stage: ImportStage) -> Result<bool, Problem> {
        let told = (stage, 0, self.n_total);
        self.ctx.headway.set(Some((self.id, told)));
        self.keep(told).await
    }

    /// Tells callers of this process how many spaces are done.
    pub(super) fn done(&self, n_done: usize) {
        let told = (ImportStage::Applying, count(n_done), self.n_total);
        self.ctx.headway.set(Some((self.id, told)));
    }

    /// Tells all others too, beside the transaction that writes; false as [`Teller::stage`].
    ///
    /// # Errors
    /// Those of the store.
    pub(super) async fn done_by_now(&self, n_done: usize) -> Result<bool, Problem> {
        self.done(n_done);
        if self.ctx.store.has_one_writer() {
            return Ok(true);
        }
        let told = (ImportStage::Applying, count(n_done), self.n_total);
        match self.keep(told).await {
            // What is done is worth more than to tell of it; whether it is still ours is asked again at the end.
            Err(problem) if problem.may_pass() => Ok(true),
            told => told,
        }
    }

    async fn keep(&self, told: Told) -> Result<bool, Problem> {
        let lease = Lease {
            owner: self.owner,
            until: self.ctx.clock.now() + self.lease,
        };
        let tx = self.ctx.store.begin(self.tenant).await?;
        let is_ours = tx.imports().tell(self.id, lease, told).await?;
        tx.commit().await?;
        Ok(is_ours)
    }
}

impl Drop for Teller<'_> {
    fn drop(&mut self) {
        self.ctx.headway.set(None);
    }
}

fn count(n: usize) -> i64 {
    i64::try_from(n).unwrap_or(i64::MAX)
}

#[cfg(test)]
mod tests {
    use chrono::DateTime;
    use domain::id::{ImportId, SiteId};
    use infra::row::{ImportRow, ImportStage, JobStatus};

    use super::Headway;

    fn row(number: u128, (stage, n_done): (ImportStage, i64)) -> ImportRow {
        ImportRow {
            id: ImportId::from_uuid(uuid::Uuid::from_u128(number)),
            site_id: SiteId::from_uuid(uuid::Uuid::nil()),
            version: 3,
            status: JobStatus::Running,
            format: "csv".to_owned(),
            n_bytes: 1,
            applies: true,
            n_attempts: 1,
            stage,
            n_done,
            n_total: 0,
            summary: None,
            problem: None,
            by: None,
            lease_owner: None,
            lease_until: None,
            created_at: DateTime::UNIX_EPOCH,
            started_at: None,
            finished_at: None,
        }
    }

    #[test]
    fn what_is_known_here_never_takes_a_row_back_and_is_of_one_import_alone() {
        let headway = Headway::default();
        let mut read = row(1, (ImportStage::Matching, 0));
        assert!(!headway.now().onto(&mut read), "nothing is known");
        headway.set(Some((read.id, (ImportStage::Applying, 1_000, 2_500))));
        assert!(headway.now().onto(&mut read));
        assert_eq!((read.n_done, read.n_total), (1_000, 2_500));
        let mut later = row(1, (ImportStage::Applying, 2_000));
        assert!(!headway.now().onto(&mut later));
        assert_eq!(later.n_done, 2_000);
        let mut other = row(2, (ImportStage::Reading, 0));
        assert!(!headway.now().onto(&mut other));
        let mut ended = row(1, (ImportStage::Applying, 0));
        ended.status = JobStatus::Cancelled;
        assert!(!headway.now().onto(&mut ended));
        headway.set(None);
        assert!(!headway.now().onto(&mut row(1, (ImportStage::Reading, 0))));
    }
}
