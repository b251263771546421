//! Tenants: the only rows that belong to none. Adding, finding by the token's claim, and erasing with everything.

use domain::id::TenantId;
use sea_orm::sea_query::{Expr, ExprTrait, Query, SimpleExpr};
use sea_orm::{
    ColumnTrait, ConnectionTrait, DbBackend, EntityTrait, IntoActiveModel, QueryFilter, QueryOrder,
    QuerySelect,
};

use super::{Store, StoreError, Tx, table};
use crate::clock::truncate_to_millis;
use crate::row::{TenantRow, tenant as tenants};

/// How many rows one transaction of an erasure deletes at most.
pub(super) const BATCH: u64 = 1_000;

/// All tables of tenants' rows; one that names another stands before it.
pub(super) const TABLES: &[&str] = &[
    "delivery_attempts",
    "deliveries",
    "subscriptions",
    "inbound_reports",
    "inbound_events",
    "contractor_sources",
    "report_links",
    "completion_links",
    "readings",
    "observations",
    "surface_history",
    "cost_part_rollups",
    "cost_rollups",
    "completion_paces",
    "completion_lines",
    "completions",
    "commitments",
    "schedule_revisions",
    "schedule_choices",
    "schedules",
    "plan_lines",
    "plans",
    "estimates",
    "estimate_job_parts",
    "estimate_jobs",
    "import_rows",
    "import_files",
    "imports",
    "handed_over",
    "finish_synonyms",
    "due_items",
    "due_surfaces",
    "surfaces",
    "contractors",
    "products",
    "stock_items",
    "budgets",
    "rate_cards",
    "sites",
    "revocations",
    "audit",
    "outbox",
    "idempotency_keys",
];

/// The list of tenants.
#[derive(Debug, Clone, Copy)]
pub struct Tenants<'a>(pub(super) &'a Store);

impl Tenants<'_> {
    /// Adds a tenant.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its id or key is taken.
    pub async fn add(&self, row: &TenantRow) -> Result<(), StoreError> {
        let model = tenants::Model {
            id: row.id.uuid(),
            key: row.key.clone(),
            name: row.name.clone(),
            created_at: truncate_to_millis(row.created_at),
        };
        tenants::Entity::insert(model.into_active_model())
            .exec_without_returning(&self.0.writer)
            .await?;
        Ok(())
    }

    /// The tenant that a token's claim names.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn find_by_key(&self, key: &str) -> Result<Option<TenantRow>, StoreError> {
        let found = tenants::Entity::find()
            .filter(tenants::Column::Key.eq(key))
            .one(&self.0.reader)
            .await?;
        Ok(found.map(TenantRow::from))
    }

    /// The ids of all tenants, for work that is done for each of them.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn ids(&self) -> Result<Vec<TenantId>, StoreError> {
        let ids: Vec<uuid::Uuid> = tenants::Entity::find()
            .select_only()
            .column(tenants::Column::Id)
            .into_tuple()
            .all(&self.0.reader)
            .await?;
        Ok(ids.into_iter().map(TenantId::from_uuid).collect())
    }

    /// All tenants in the order of their keys, for whoever does something for each of them.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn all(&self) -> Result<Vec<TenantRow>, StoreError> {
        let found = tenants::Entity::find()
            .order_by_asc(tenants::Column::Key)
            .all(&self.0.reader)
            .await?;
        Ok(found.into_iter().map(TenantRow::from).collect())
    }

    /// Deletes every row of a tenant and the tenant itself; false if there is none. Many short transactions, so
    /// that others can write in between; after a failure, call it again.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: somebody still writes for the tenant. Call it again.
    pub async fn erase(&self, tenant: TenantId) -> Result<bool, StoreError> {
        self.unlink(tenant).await?;
        for table in TABLES {
            loop {
                let tx = self.0.begin(tenant).await?;
                let n_deleted = delete_some(&tx, table, None).await?;
                tx.commit().await?;
                if n_deleted < BATCH {
                    break;
                }
            }
        }
        let done = tenants::Entity::delete_by_id(tenant.uuid())
            .exec(&self.0.writer)
            .await?;
        Ok(done.rows_affected == 1)
    }

    /// Corrections name what they correct; a batch could not delete a row whose correction is in the next batch.
    async fn unlink(&self, tenant: TenantId) -> Result<(), StoreError> {
        for table in ["completions", "observations"] {
            while self.unlink_some(tenant, table).await? >= BATCH {}
        }
        Ok(())
    }

    async fn unlink_some(&self, tenant: TenantId, table: &'static str) -> Result<u64, StoreError> {
        let tx = self.0.begin(tenant).await?;
        let linked = Expr::col("supersedes").is_not_null();
        let rows = some(&tx, table, Some(linked));
        let update = Query::update()
            .table(table)
            .value("supersedes", Option::<uuid::Uuid>::None)
            .and_where(rows)
            .take();
        let n_unlinked = tx.inner.execute(&update).await?.rows_affected();
        tx.commit().await?;
        Ok(n_unlinked)
    }
}

/// Deletes up to a batch of the tenant's rows and says how many.
pub(super) async fn delete_some(
    tx: &Tx,
    table: &'static str,
    only: Option<SimpleExpr>,
) -> Result<u64, StoreError> {
    let delete = Query::delete()
        .from_table(table)
        .and_where(some(tx, table, only))
        .take();
    Ok(tx.inner.execute(&delete).await?.rows_affected())
}

/// The row is one of a batch. Neither database limits a DELETE or UPDATE itself, but both name a row's place.
fn some(tx: &Tx, table: &'static str, only: Option<SimpleExpr>) -> SimpleExpr {
    let place = if tx.inner.get_database_backend() == DbBackend::Postgres {
        "ctid"
    } else {
        "rowid"
    };
    let mut batch = Query::select()
        .expr(Expr::cust(place))
        .from(table)
        .and_where(table::is("tenant_id", tx.tenant.uuid()))
        .limit(BATCH)
        .take();
    if let Some(only) = only {
        batch.and_where(only);
    }
    Expr::cust(place).in_subquery(batch)
}
