//! Reading the audit trail, and verifying it.

use chrono::{DateTime, Utc};
use domain::id::TenantId;
pub(crate) use infra::store::AuditFilter;
use infra::{
    row::AuditRow,
    store::{Page, Store, StoreError},
};

use crate::{
    audit::{self, Break, CUT, Chain},
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
    let (mut chain, mut after) = (beginning(store, tenant).await?, None);
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

/// Where a trail begins: at its first row, or behind the rows that were cut off as a row of the trail itself says. Where no
/// row says so, it is a gap.
async fn beginning(store: &Store, tenant: TenantId) -> Result<Chain, StoreError> {
    let tx = store.read(tenant).await?;
    let first = tx.audits().list(&AuditFilter::default(), None, 1).await?;
    let n_gone = first.items.first().map_or(0, |row| row.number - 1);
    if n_gone == 0 {
        return Ok(Chain::new(tenant));
    }
    let cut = AuditFilter {
        operation: Some(CUT.to_owned()),
        resource: Some(audit::cut_at(n_gone)),
        subject: None,
    };
    let told = tx.audits().list(&cut, None, 1).await?.items.pop();
    let hash = told.and_then(|row| row.after);
    Ok(hash.map_or_else(
        || Chain::new(tenant),
        |hash| Chain::behind(tenant, n_gone, hash),
    ))
}

/// Forgets the rows of a trail from before a moment, in short transactions; says how many. That it was cut off, and with which
/// hash it went on, is written down first.
///
/// # Errors
/// Those of the store.
pub(crate) async fn prune(
    store: &Store,
    tenant: TenantId,
    (before, now): (DateTime<Utc>, DateTime<Utc>),
) -> Result<u64, StoreError> {
    let tx = store.begin(tenant).await?;
    let Some(last) = tx.audits().last_before(before).await? else {
        return Ok(0);
    };
    audit::cut(&tx, &last, now).await?;
    tx.commit().await?;
    let mut n_gone = 0;
    loop {
        let tx = store.begin(tenant).await?;
        let n = tx.audits().delete_up_to(last.number).await?;
        tx.commit().await?;
        if n == 0 {
            return Ok(n_gone);
        }
        n_gone += n;
    }
}
