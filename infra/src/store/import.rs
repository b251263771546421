//! Files that were handed over with buildings, and what becomes of their spaces.
//!
//! Whoever works on a file holds it by a lease, and what comes of it is written in one transaction with its end: two that began on
//! one file, because the first was taken for dead, leave what one of them has made.

mod said;

use chrono::{DateTime, Utc};
use domain::id::ImportId;
use sea_orm::sea_query::{Expr, Order};
use sea_orm::{
    ColumnTrait, Condition, EntityTrait, IntoActiveModel, QueryFilter, QueryOrder, QuerySelect,
};

use super::job::{self, is_held};
use super::{Access, DueJob, JobFilter, Lease, Page, Store, StoreError, Tx, table};
use crate::clock::truncate_to_millis;
use crate::row::{ImportRow, ImportStage, JobStatus, OutcomeRow, file, outcome};

/// How many old files are forgotten at once.
const SWEPT: u64 = 20;
/// The most rows in one statement.
const MAX_ROWS: usize = 500;

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
    pub async fn due_imports(
        &self,
        now: DateTime<Utc>,
    ) -> Result<Vec<DueJob<ImportRow>>, StoreError> {
        job::due(self, now).await
    }

    /// Forgets imports of any tenant that came to their end before a moment, and says how many.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn sweep_imports(&self, before: DateTime<Utc>) -> Result<usize, StoreError> {
        let old = job::ended::<ImportRow>(self, before, SWEPT).await?;
        let n_old = old.len();
        for (tenant, uuid) in old {
            let tx = self.begin(tenant).await?;
            let id = ImportId::from_uuid(uuid);
            tx.imports().forget(id).await?;
            file::Entity::delete_many()
                .filter(of_import(&tx, id))
                .exec(&tx.inner)
                .await?;
            job::delete::<ImportRow>(&tx, uuid).await?;
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
        job::n_unfinished::<ImportRow>(self.0).await
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
        let anew = [
            ("stage", Expr::val(ImportStage::Reading.as_str())),
            ("n_done", Expr::val(0_i64)),
            ("n_total", Expr::val(0_i64)),
        ];
        let begun = job::begins(found.n_attempts, lease, now)
            .into_iter()
            .chain(anew);
        let as_found = job::is_version(found.version);
        self.change(found.id, as_found, begun).await
    }

    /// Has an import that was only said made true; false if it has changed since it was read.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn apply(&self, row: &ImportRow) -> Result<bool, StoreError> {
        let as_read = job::is_version(row.version);
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
        job::cancel::<ImportRow>(self.0, id.uuid(), now).await
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
        let told = [
            ("n_done", Expr::col(n_done)),
            (column, Expr::val(text.as_str())),
        ];
        let columns = job::ends(status, now).into_iter().chain(told);
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

    async fn change(
        &self,
        id: ImportId,
        only: Condition,
        columns: impl IntoIterator<Item = job::Set>,
    ) -> Result<bool, StoreError> {
        job::change::<ImportRow>(self.0, id.uuid(), only, columns).await
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
        filter: &JobFilter,
        after: Option<ImportId>,
        limit: u64,
    ) -> Result<Page<ImportRow, ImportId>, StoreError> {
        let after = after.map(ImportId::uuid);
        let rows = table::list(self.0, job::asked(filter), after, limit).await?;
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
