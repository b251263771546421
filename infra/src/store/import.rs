//! Files that were handed over with buildings, and what becomes of their spaces.
//!
//! Whoever works on a file holds it by a lease, and what comes of it is written in one transaction with its end: two that began on
//! one file, because the first was taken for dead, leave what one of them has made.

mod said;

use chrono::{DateTime, Utc};
use domain::id::{ImportId, SiteId, TenantId};
use sea_orm::sea_query::{Expr, ExprTrait, Order};
use sea_orm::{
    ColumnTrait, Condition, EntityTrait, IntoActiveModel, PaginatorTrait, QueryFilter, QueryOrder,
    QuerySelect,
};

use super::estimate_job::{is_due, is_held, is_unfinished};
use super::{Access, Lease, Page, Store, StoreError, Tx, table};
use crate::clock::truncate_to_millis;
use crate::row::{ImportRow, ImportStage, JobStatus, OutcomeRow, Stored as _, file, outcome};

/// How many files that wait are looked at at once: another process may take the first before we do.
const LOOKED_AT: u64 = 8;
/// How many old files are forgotten at once.
const SWEPT: u64 = 20;
/// The most rows in one statement.
const MAX_ROWS: usize = 500;

/// Which imports to list.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ImportFilter {
    /// Of this site.
    pub site_id: Option<SiteId>,
    /// That stand here.
    pub status: Option<JobStatus>,
}

/// A file that somebody should work on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DueImport {
    /// Whose it is.
    pub tenant: TenantId,
    /// The import.
    pub row: ImportRow,
}

/// How an import came to its end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ImportEnd {
    /// It was read; with what came of it as a whole.
    Succeeded(String),
    /// It was not; with the reason.
    Failed(String),
}

impl Store {
    /// Files of any tenant that nobody works on, the oldest first: new ones, and those whose lease has run out.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn due_imports(&self, now: DateTime<Utc>) -> Result<Vec<DueImport>, StoreError> {
        use crate::row::import::{Column, Entity};
        let found = Entity::find()
            .filter(is_due(now))
            .order_by(Column::CreatedAt, Order::Asc)
            .limit(LOOKED_AT)
            .all(&self.look_for_work().await?)
            .await?;
        let import = |model: crate::row::import::Model| {
            Ok(DueImport {
                tenant: TenantId::from_uuid(model.tenant_id),
                row: ImportRow::from_model(model)?,
            })
        };
        found.into_iter().map(import).collect()
    }

    /// Forgets imports of any tenant that came to their end before a moment, and says how many.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn sweep_imports(&self, before: DateTime<Utc>) -> Result<usize, StoreError> {
        use crate::row::import::{Column, Entity};
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
            let id = ImportId::from_uuid(id);
            tx.imports().forget(id).await?;
            file::Entity::delete_many()
                .filter(of_import(&tx, id))
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

fn of_import(tx: &impl Access, id: ImportId) -> Condition {
    Condition::all()
        .add(table::is("tenant_id", tx.tenant().uuid()))
        .add(table::is("import_id", id.uuid()))
}

/// The imports of the tenant.
#[derive(Debug, Clone, Copy)]
pub struct Imports<'a, A = Tx>(pub(super) &'a A);

impl Imports<'_> {
    /// Adds an import with its file.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its id is taken, or the site is not there.
    pub async fn insert(&self, row: &ImportRow, content: Vec<u8>) -> Result<(), StoreError> {
        table::insert(self.0, row).await?;
        let model = file::Model {
            tenant_id: self.0.tenant.uuid(),
            import_id: row.id.uuid(),
            content,
        };
        file::Entity::insert(model.into_active_model())
            .exec_without_returning(&self.0.inner)
            .await?;
        Ok(())
    }

    /// How many have not come to their end.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn n_unfinished(&self) -> Result<u64, StoreError> {
        let rows = table::rows::<ImportRow>(self.0).filter(Expr::col("finished_at").is_null());
        Ok(rows.count(&self.0.inner).await?)
    }

    /// The bytes of a file.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn content(&self, id: ImportId) -> Result<Option<Vec<u8>>, StoreError> {
        let found = file::Entity::find()
            .filter(of_import(self.0, id))
            .one(&self.0.inner)
            .await?;
        Ok(found.map(|found| found.content))
    }

    /// Takes an import that is due, as it was when it was found; false if it has changed since, so that somebody else has it.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn claim(
        &self,
        found: &ImportRow,
        lease: Lease<'_>,
        now: DateTime<Utc>,
    ) -> Result<bool, StoreError> {
        let as_found = Condition::all().add(table::is("version", found.version));
        let begun = [
            ("status", Expr::val(JobStatus::Running.as_str())),
            ("stage", Expr::val(ImportStage::Reading.as_str())),
            ("n_done", Expr::val(0_i64)),
            ("n_total", Expr::val(0_i64)),
            ("n_attempts", Expr::val(found.n_attempts.saturating_add(1))),
            ("lease_owner", Expr::val(lease.owner)),
            ("lease_until", Expr::val(truncate_to_millis(lease.until))),
            ("started_at", Expr::val(truncate_to_millis(now))),
        ];
        self.change(found.id, as_found, begun).await
    }

    /// Has an import that was only said made true; false if it has changed since it was read.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn apply(&self, row: &ImportRow) -> Result<bool, StoreError> {
        let as_read = Condition::all().add(table::is("version", row.version));
        let [client, subject] = table::by(self.0).map(|(name, value)| (name, Expr::val(value)));
        let again = [
            client,
            subject,
            ("status", Expr::val(JobStatus::Queued.as_str())),
            ("stage", Expr::val(ImportStage::Waiting.as_str())),
            ("n_done", Expr::val(0_i64)),
            ("applies", Expr::val(1_i64)),
            ("n_attempts", Expr::val(0_i64)),
            ("finished_at", Expr::val(Option::<DateTime<Utc>>::None)),
        ];
        self.change(row.id, as_read, again).await
    }

    /// Says how far it is and prolongs the lease; false if it is another's by now, or cancelled.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn tell(
        &self,
        id: ImportId,
        lease: Lease<'_>,
        (stage, n_done, n_total): (ImportStage, i64, i64),
    ) -> Result<bool, StoreError> {
        let told = [
            ("stage", Expr::val(stage.as_str())),
            ("n_done", Expr::val(n_done)),
            ("n_total", Expr::val(n_total)),
            ("lease_until", Expr::val(truncate_to_millis(lease.until))),
        ];
        self.change(id, is_held(lease.owner), told).await
    }

    /// Takes an import back that has not come to its end; false if it has.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn cancel(&self, id: ImportId, now: DateTime<Utc>) -> Result<bool, StoreError> {
        let [client, subject] = table::by(self.0).map(|(name, value)| (name, Expr::val(value)));
        let end = [
            client,
            subject,
            ("status", Expr::val(JobStatus::Cancelled.as_str())),
            ("finished_at", Expr::val(truncate_to_millis(now))),
        ];
        self.change(id, is_unfinished(), end).await
    }

    /// Brings an import to its end; false if it is another's by now.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn finish(
        &self,
        id: ImportId,
        owner: &str,
        end: &ImportEnd,
        now: DateTime<Utc>,
    ) -> Result<bool, StoreError> {
        let (status, column, text) = match end {
            ImportEnd::Succeeded(summary) => (JobStatus::Succeeded, "summary", summary),
            ImportEnd::Failed(problem) => (JobStatus::Failed, "problem", problem),
        };
        let n_done = match end {
            ImportEnd::Succeeded(_) => "n_total",
            ImportEnd::Failed(_) => "n_done",
        };
        let columns = [
            ("status", Expr::val(status.as_str())),
            ("n_done", Expr::col(n_done)),
            ("finished_at", Expr::val(truncate_to_millis(now))),
            (column, Expr::val(text.as_str())),
        ];
        self.change(id, is_held(owner), columns).await
    }

    /// Puts what becomes of each space in the place of what was said before.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn put_rows(&self, id: ImportId, rows: &[OutcomeRow]) -> Result<(), StoreError> {
        self.forget(id).await?;
        for chunk in rows.chunks(MAX_ROWS) {
            let model = |row: &OutcomeRow| {
                let model = outcome::Model {
                    tenant_id: self.0.tenant.uuid(),
                    import_id: id.uuid(),
                    number: row.number,
                    outcome: row.outcome.clone(),
                    document: row.document.clone(),
                };
                model.into_active_model()
            };
            outcome::Entity::insert_many(chunk.iter().map(model))
                .exec_without_returning(&self.0.inner)
                .await?;
        }
        Ok(())
    }

    async fn forget(&self, id: ImportId) -> Result<(), StoreError> {
        outcome::Entity::delete_many()
            .filter(of_import(self.0, id))
            .exec(&self.0.inner)
            .await?;
        Ok(())
    }

    /// Changes columns of an import for which a condition holds in the same statement; says whether it did.
    async fn change<const N: usize>(
        &self,
        id: ImportId,
        only: Condition,
        columns: [(&'static str, Expr); N],
    ) -> Result<bool, StoreError> {
        use crate::row::import::Entity;
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

impl<A: Access> Imports<'_, A> {
    /// The import with this id.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: it cannot be read.
    pub async fn get(&self, id: ImportId) -> Result<Option<ImportRow>, StoreError> {
        table::get(self.0, id.uuid()).await
    }

    /// Imports in the order in which they were sent.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`]: one cannot be read.
    pub async fn list(
        &self,
        filter: &ImportFilter,
        after: Option<ImportId>,
        limit: u64,
    ) -> Result<Page<ImportRow, ImportId>, StoreError> {
        let site = filter.site_id.map(|id| table::is("site_id", id.uuid()));
        let status = filter
            .status
            .map(|status| table::is("status", status.as_str()));
        let condition = Condition::all().add_option(site).add_option(status);
        let after = after.map(ImportId::uuid);
        let rows = table::list(self.0, condition, after, limit).await?;
        Ok(Page::cut(rows, limit, |row: &ImportRow| row.id))
    }

    /// What becomes of the spaces of a file, in its order; of those with an outcome, if one is named.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn rows(
        &self,
        id: ImportId,
        outcome: Option<&str>,
        after: Option<i64>,
        limit: u64,
    ) -> Result<Page<OutcomeRow, i64>, StoreError> {
        use outcome::{Column, Entity};
        let found = Entity::find()
            .filter(of_import(self.0, id))
            .filter(
                Condition::all()
                    .add_option(outcome.map(|word| Column::Outcome.eq(word)))
                    .add_option(after.map(|number| Column::Number.gt(number))),
            )
            .order_by(Column::Number, Order::Asc)
            .limit(limit.saturating_add(1))
            .all(self.0.on())
            .await?;
        let row = |model: outcome::Model| OutcomeRow {
            number: model.number,
            outcome: model.outcome,
            document: model.document,
        };
        let rows = found.into_iter().map(row).collect();
        Ok(Page::cut(rows, limit, |row: &OutcomeRow| row.number))
    }
}
