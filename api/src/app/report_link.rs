//! Links to reports: made with an address that is told once, read, taken back, and opened by whoever has the address.
//!
//! A link reads one report; it is no token and no tenant's records are reached by it otherwise.

use chrono::{DateTime, TimeDelta, Utc};
use domain::id::{ReportLinkId, TenantId};
pub(crate) use infra::row::ReportLinkRow;
use infra::{
    row::LinkStatus,
    store::{Page, Tx},
};

use crate::{
    app::capability::Capability,
    context::Context,
    problem::{Code, Problem},
    wire::{
        self,
        report_link::{ReportLinkRequest, ReportLinkView},
    },
};

/// Makes a link; the path of its address is for this one answer. The query must have been judged.
///
/// # Errors
/// `internal` without random numbers; those of the store.
pub(crate) async fn make(
    ctx: &Context,
    tx: &Tx,
    request: &ReportLinkRequest,
) -> Result<(ReportLinkRow, String), Problem> {
    let (id, now) = (ReportLinkId::from_uuid(ctx.ids.uuid()), ctx.clock.now());
    let opens = Capability::make(tx.tenant(), id.uuid())?;
    let until = now.checked_add_signed(TimeDelta::days(request.days.into()));
    let row = ReportLinkRow {
        id,
        version: 1,
        name: request.name.clone(),
        status: LinkStatus::Active,
        query: request.query.clone(),
        secret_hash: opens.hash(),
        expires_at: until.unwrap_or(now),
        created_at: now,
        updated_at: now,
    };
    tx.report_links().insert(&row).await?;
    Ok((row, format!("/v1/shared-reports/{}", opens.address())))
}

/// Takes a link back for good.
///
/// # Errors
/// `state_conflict` if it was taken back before; those of the store.
pub(crate) async fn revoke(
    ctx: &Context,
    tx: &Tx,
    old: ReportLinkRow,
) -> Result<ReportLinkRow, Problem> {
    if old.status == LinkStatus::Revoked {
        let detail = "The link is revoked already.";
        return Err(Problem::new(Code::StateConflict, detail));
    }
    let row = ReportLinkRow {
        version: old.version.saturating_add(1),
        status: LinkStatus::Revoked,
        updated_at: ctx.clock.now(),
        ..old
    };
    tx.report_links().update(&row, old.version).await?;
    Ok(row)
}

/// A link in a transaction.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn find(tx: &Tx, id: ReportLinkId) -> Result<ReportLinkRow, Problem> {
    let row = tx.report_links().get(id).await?;
    row.ok_or_else(Problem::not_found)
}

/// One link.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn get(
    ctx: &Context,
    tenant: TenantId,
    id: ReportLinkId,
) -> Result<ReportLinkRow, Problem> {
    let row = ctx.store.glance(tenant).report_links().get(id).await?;
    row.ok_or_else(Problem::not_found)
}

/// Up to `limit` links after an id.
///
/// # Errors
/// Those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    (after, limit): (Option<ReportLinkId>, u64),
) -> Result<Page<String, ReportLinkId>, Problem> {
    let rows = ctx
        .store
        .glance(tenant)
        .report_links()
        .list(after, limit)
        .await?;
    rows.try_map(|row| wire::document(&ReportLinkView::new(&row)))
}

/// Whose report an address opens, and its query. There is one answer for every reason why it opens none, after the same work.
///
/// # Errors
/// `not_found` for an address that nobody was told, or whose link expired or was revoked; those of the store.
pub(crate) async fn open(ctx: &Context, address: &str) -> Result<(TenantId, String), Problem> {
    let asked = Capability::named(address);
    let (tenant, id) = (asked.tenant, ReportLinkId::from_uuid(asked.link));
    let row = ctx.store.glance(tenant).report_links().get(id).await?;
    let kept = row.as_ref().map_or("", |row| row.secret_hash.as_str());
    let proven = asked.is_proven(kept);
    let row = row.filter(|row| proven && is_open(row, ctx.clock.now()));
    let row = row.ok_or_else(|| {
        let detail = "Nothing is at this address, or not any more.";
        Problem::new(Code::NotFound, detail)
    })?;
    Ok((tenant, row.query))
}

/// Whether a link opens its report at a moment.
fn is_open(row: &ReportLinkRow, now: DateTime<Utc>) -> bool {
    row.status == LinkStatus::Active && now < row.expires_at
}
