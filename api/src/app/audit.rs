//! Reading the audit trail, and verifying it.

use domain::id::TenantId;
pub(crate) use infra::store::AuditFilter;
use infra::{
    row::AuditRow,
    store::{Page, Store, StoreError},
};

use crate::{
    audit::{Break, Chain},
    problem::Problem,
};

/// How many rows are read at once.
const AT_ONCE: u64 = 1_000;

/// Up to `limit` rows after a number.
///
/// # Errors
/// Those of the store.
pub(crate) async fn list(
    store: &Store,
    tenant: TenantId,
    filter: &AuditFilter,
    after: Option<i64>,
    limit: u64,
) -> Result<Page<AuditRow, i64>, Problem> {
    let tx = store.read(tenant).await?;
    Ok(tx.audits().list(filter, after, limit).await?)
}

/// Goes through a tenant's whole trail, a thousand rows at a time; `each` sees every row, and what is wrong with it.
///
/// # Errors
/// Those of the store.
pub(crate) async fn walk(
    store: &Store,
    tenant: TenantId,
    mut each: impl FnMut(AuditRow, Option<Break>),
) -> Result<Chain, StoreError> {
    let (mut chain, mut after) = (Chain::new(tenant), None);
    loop {
        let tx = store.read(tenant).await?;
        let page = tx
            .audits()
            .list(&AuditFilter::default(), after, AT_ONCE)
            .await?;
        for row in page.items {
            let wrong = chain.follow(&row).err();
            each(row, wrong);
        }
        match page.next {
            Some(next) => after = Some(next),
            None => return Ok(chain),
        }
    }
}
