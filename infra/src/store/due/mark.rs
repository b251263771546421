//! Which floors wait to be reckoned: a mark for each, taken off by whoever tells or does something on the floor.

use std::collections::BTreeSet;

use chrono::NaiveDate;
use domain::id::{SiteId, SurfaceId, TenantId};
use sea_orm::sea_query::Expr;
use sea_orm::{ConnectionTrait, DbBackend, QueryResult, Statement, Value};
use uuid::Uuid;

use super::Dues;
use crate::store::{Access, Store, StoreError, table};

/// A site of a tenant with floors of which nothing is reckoned.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Unreckoned {
    /// The tenant.
    pub tenant: TenantId,
    /// The site.
    pub site: SiteId,
}

impl<A: Access> Dues<'_, A> {
    /// The sites, of which one may be named, with floors that are not reckoned with this edition of the knowledge base.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn unreckoned_sites(
        &self,
        edition: &str,
        site: Option<SiteId>,
    ) -> Result<Vec<SiteId>, StoreError> {
        let only = if site.is_some() {
            "AND site_id = $3"
        } else {
            ""
        };
        let sql = format!(
            "SELECT DISTINCT site_id FROM due_surfaces WHERE tenant_id = $1 \
             AND (reckoned_with < $2 OR reckoned_with > $2) {only} ORDER BY site_id LIMIT 1000"
        );
        let tenant = [self.0.tenant().uuid().into(), edition.into()];
        let values = tenant.into_iter().chain(site.map(|id| id.uuid().into()));
        let on = self.0.on();
        let statement = Statement::from_sql_and_values(on.get_database_backend(), sql, values);
        let rows = on.query_all_raw(statement).await?;
        let read = |row: &QueryResult| Ok(SiteId::from_uuid(row.try_get_by_index(0)?));
        rows.iter().map(read).collect()
    }
}

impl Dues<'_> {
    /// Takes up to `limit` floors of a site that are not reckoned with this edition, and keeps others from reckoning them
    /// until this transaction ends. Read what their dates come from afterwards, in the same transaction.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn take(
        &self,
        edition: &str,
        site: SiteId,
        limit: u64,
    ) -> Result<Vec<SurfaceId>, StoreError> {
        let backend = self.0.inner.get_database_backend();
        let lock = match backend {
            DbBackend::Postgres => "FOR NO KEY UPDATE SKIP LOCKED",
            _ => "",
        };
        let sql = format!(
            "SELECT surface_id FROM due_surfaces WHERE tenant_id = $1 AND site_id = $3 \
             AND (reckoned_with < $2 OR reckoned_with > $2) ORDER BY surface_id LIMIT {limit} {lock}"
        );
        let values: [Value; 3] = [
            self.0.tenant.uuid().into(),
            edition.into(),
            site.uuid().into(),
        ];
        let statement = Statement::from_sql_and_values(backend, sql, values);
        let rows = self.0.inner.query_all_raw(statement).await?;
        let read = |row: &QueryResult| Ok(SurfaceId::from_uuid(row.try_get_by_index(0)?));
        rows.iter().map(read).collect()
    }

    /// Notes that what is known of a floor has changed.
    pub(in crate::store) async fn mark(&self, surface: Uuid) -> Result<(), StoreError> {
        self.execute(
            "UPDATE due_surfaces SET reckoned_with = '' WHERE tenant_id = $1 AND surface_id = $2",
            [surface],
        )
        .await
    }

    /// The same of many floors, in the order of their ids, so that two that mark wait for each other in turn.
    pub(in crate::store) async fn mark_many(
        &self,
        surfaces: &BTreeSet<SurfaceId>,
    ) -> Result<(), StoreError> {
        for surface in surfaces {
            self.mark(surface.uuid()).await?;
        }
        Ok(())
    }

    /// Notes that what is known of all floors of a site has changed: what day it is there.
    pub(in crate::store) async fn mark_site(&self, site: SiteId) -> Result<(), StoreError> {
        self.execute(
            "UPDATE due_surfaces SET reckoned_with = '' WHERE tenant_id = $1 AND site_id = $2",
            [site.uuid()],
        )
        .await
    }

    /// Adds the marks of floors that were just added, as not reckoned; hundreds by each statement.
    pub(in crate::store) async fn add(
        &self,
        rows: &[(SurfaceId, SiteId)],
    ) -> Result<(), StoreError> {
        for chunk in rows.chunks(table::MAX_KEYS) {
            let mut insert = sea_orm::sea_query::Query::insert()
                .into_table("due_surfaces")
                .columns(["tenant_id", "surface_id", "site_id", "reckoned_with"])
                .take();
            for (surface, site) in chunk {
                let values: [Value; 4] = [
                    self.0.tenant.uuid().into(),
                    surface.uuid().into(),
                    site.uuid().into(),
                    "".into(),
                ];
                insert.values_panic(values.map(Expr::val));
            }
            self.0.inner.execute(&insert).await?;
        }
        Ok(())
    }

    async fn execute<const N: usize>(
        &self,
        sql: &'static str,
        ids: [Uuid; N],
    ) -> Result<(), StoreError> {
        let values = std::iter::once(self.0.tenant.uuid()).chain(ids);
        let values = values.map(Value::from);
        let backend = self.0.inner.get_database_backend();
        let statement = Statement::from_sql_and_values(backend, sql, values);
        self.0.inner.execute_raw(statement).await?;
        Ok(())
    }
}

impl Store {
    /// Sites of any tenant with floors that are not reckoned with this edition of the knowledge base.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn unreckoned(&self, edition: &str) -> Result<Vec<Unreckoned>, StoreError> {
        let sql = "SELECT DISTINCT tenant_id, site_id FROM due_surfaces \
                   WHERE reckoned_with < $1 OR reckoned_with > $1 LIMIT 100";
        let found = self.look(sql, edition.into()).await?;
        let read = |row: &QueryResult| {
            Ok(Unreckoned {
                tenant: TenantId::from_uuid(row.try_get_by_index(0)?),
                site: SiteId::from_uuid(row.try_get_by_index(1)?),
            })
        };
        found.iter().map(read).collect()
    }

    /// Tenants with a due date up to a day of which no event told yet.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn tenants_with_untold(&self, by: NaiveDate) -> Result<Vec<TenantId>, StoreError> {
        let sql = "SELECT DISTINCT tenant_id FROM due_items WHERE is_routine = 0 AND due_on <= $1 \
                   AND (told_due_on IS NULL OR told_due_on <> due_on) LIMIT 100";
        let found = self.look(sql, by.to_string().into()).await?;
        let read = |row: &QueryResult| Ok(TenantId::from_uuid(row.try_get_by_index(0)?));
        found.iter().map(read).collect()
    }

    async fn look(&self, sql: &'static str, value: Value) -> Result<Vec<QueryResult>, StoreError> {
        let statement = Statement::from_sql_and_values(self.backend(), sql, [value]);
        Ok(self.look_for_work().await?.query_all_raw(statement).await?)
    }
}
