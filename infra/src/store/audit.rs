//! Who did what, in a chain for each tenant.
//!
//! Rows of one tenant are added one after the other: whoever adds one holds the chain's end until he commits. That is asked
//! for last in a transaction, so others wait for no more than the commit of who was before them.

use sea_orm::sea_query::{Expr, ExprTrait, Order};
use sea_orm::{
    Condition, ConnectionTrait, DbBackend, QueryFilter, QueryOrder, QuerySelect, Statement,
};

use chrono::{DateTime, Utc};

use super::{Page, StoreError, Tx, table, tenant::delete_some};
use crate::clock::truncate_to_millis;
use crate::row::AuditRow;

/// Sets the locks of chains apart from those of other kinds: `wc_audit` in ASCII.
const LOCK: u64 = 0x7763_5f61_7564_6974;

/// Which rows to list.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct AuditFilter {
    /// Of this operation.
    pub operation: Option<String>,
    /// About this resource.
    pub resource: Option<String>,
    /// Done on behalf of this subject.
    pub subject: Option<String>,
}

/// Where a chain ends, and what it knows of a resource.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct AuditEnd {
    /// The number of the last row; 0 if there is none.
    pub number: i64,
    /// Its hash; empty if there is none.
    pub hash: String,
    /// The hash of the resource's document, as the last row about it has it.
    pub before: Option<String>,
}

/// The tenant's chain.
#[derive(Debug, Clone, Copy)]
pub struct Audits<'a>(pub(super) &'a Tx);

impl Audits<'_> {
    /// Where the chain ends, for a row about `resource` that is about to be added; nobody else adds one until this
    /// transaction ends.
    ///
    /// # Errors
    /// [`StoreError::Contended`]: somebody else held the end for too long.
    pub async fn end(&self, resource: &str) -> Result<AuditEnd, StoreError> {
        let (on, tenant) = (&self.0.inner, self.0.tenant.uuid());
        let backend = on.get_database_backend();
        if backend == DbBackend::Postgres {
            let (high, low) = tenant.as_u64_pair();
            let key = (high ^ low ^ LOCK).cast_signed();
            let sql = "SELECT pg_advisory_xact_lock($1)";
            let lock = Statement::from_sql_and_values(backend, sql, [key.into()]);
            on.query_one_raw(lock).await?;
        }
        // A statement of its own: it has to see what was committed before the lock was free.
        let sql = "SELECT number, hash, (SELECT after_hash FROM audit WHERE tenant_id = $1 AND resource = $2
                       ORDER BY number DESC LIMIT 1)
                   FROM audit WHERE tenant_id = $1 ORDER BY number DESC LIMIT 1";
        let values = [tenant.into(), resource.into()];
        let last = Statement::from_sql_and_values(backend, sql, values);
        let Some(row) = on.query_one_raw(last).await? else {
            return Ok(AuditEnd::default());
        };
        Ok(AuditEnd {
            number: row.try_get_by_index(0)?,
            hash: row.try_get_by_index(1)?,
            before: row.try_get_by_index(2)?,
        })
    }

    /// Adds the row that follows the end.
    ///
    /// # Errors
    /// [`StoreError::Conflict`]: its number is taken.
    pub async fn append(&self, row: &AuditRow) -> Result<(), StoreError> {
        table::insert(self.0, row).await
    }

    /// The last row from before a moment.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn last_before(&self, moment: DateTime<Utc>) -> Result<Option<AuditRow>, StoreError> {
        let rows = table::rows::<AuditRow>(self.0)
            .filter(Expr::col("at").lt(truncate_to_millis(moment)))
            .order_by(Expr::col("number"), Order::Desc)
            .limit(1);
        Ok(table::all(self.0, rows).await?.into_iter().next())
    }

    /// Deletes up to a thousand rows up to a number and says how many. Who serves requests has no right to.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn delete_up_to(&self, number: i64) -> Result<u64, StoreError> {
        let only = Expr::col("number").lte(number);
        delete_some(self.0, "audit", Some(only)).await
    }

    /// Rows after a number, in the order of the chain.
    ///
    /// # Errors
    /// What the database answered.
    pub async fn list(
        &self,
        filter: &AuditFilter,
        after: Option<i64>,
        limit: u64,
    ) -> Result<Page<AuditRow, i64>, StoreError> {
        let text = |column, text: &Option<String>| {
            text.as_ref().map(|text| table::is(column, text.as_str()))
        };
        let asked = Condition::all()
            .add_option(text("operation", &filter.operation))
            .add_option(text("resource", &filter.resource))
            .add_option(text("subject", &filter.subject))
            .add(Expr::col("number").gt(after.unwrap_or(0)));
        let rows = table::rows::<AuditRow>(self.0)
            .filter(asked)
            .order_by(Expr::col("number"), Order::Asc)
            .limit(limit.saturating_add(1));
        let rows = table::all(self.0, rows).await?;
        Ok(Page::cut(rows, limit, |row: &AuditRow| row.number))
    }
}
