//! Tokens that are refused before they end.

use chrono::DurationRound;
use domain::id::{RevocationId, TenantId};
pub(crate) use infra::row::RevocationRow;
use infra::store::{MAX_REVOCATIONS, Page, Tx};

use crate::{
    auth::revoked::still_counting, body::Faults, context::Context, problem::Problem,
    wire::revocation::RevocationRequest,
};

/// Keeps a revocation.
///
/// # Errors
/// `invalid_body` without a holder, with two, for a moment that is to come, or for too many; those of the store.
pub(crate) async fn revoke(
    ctx: &Context,
    tx: &Tx,
    request: &RevocationRequest,
) -> Result<RevocationRow, Problem> {
    let (now, mut faults) = (ctx.clock.now(), Faults::new());
    let named = match (&request.subject, &request.client_id) {
        (Some(subject), None) => Some(("subject", subject)),
        (None, Some(client)) => Some(("client", client)),
        _ => {
            faults.push("#", "required", "Name either `subject` or `client_id`.");
            None
        }
    };
    let until = request.issued_until.unwrap_or(now);
    if until > now {
        let detail = "Tokens that are yet to be issued are refused by not issuing them: send a moment that is past, or none.";
        faults.push("#/issued_until", "in_future", detail);
    }
    let counting = tx.revocations().since(still_counting(now)).await?;
    if u64::try_from(counting.len()).is_ok_and(|n| n >= MAX_REVOCATIONS) {
        let detail = "2,000 revocations are in force: tokens end after 24 hours at most, wait until some do, or change the key that signs them.";
        faults.push("#", "too_many", detail);
    }
    faults.finish()?;
    let (holder, name) = named.ok_or_else(Problem::not_found)?;
    let row = RevocationRow {
        id: RevocationId::from_uuid(ctx.ids.uuid()),
        version: 1,
        holder: holder.to_owned(),
        name: name.clone(),
        // Tokens tell whole seconds.
        issued_until: until
            .duration_trunc(chrono::TimeDelta::seconds(1))
            .unwrap_or(until),
        reason: request.reason.clone(),
        created_at: now,
    };
    tx.revocations().insert(&row).await?;
    Ok(row)
}

/// Up to `limit` revocations after an id.
///
/// # Errors
/// Those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    after: Option<RevocationId>,
    limit: u64,
) -> Result<Page<RevocationRow, RevocationId>, Problem> {
    let tx = ctx.store.read(tenant).await?;
    Ok(tx.revocations().list(after, limit).await?)
}

/// One revocation.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn find(tx: &Tx, id: RevocationId) -> Result<RevocationRow, Problem> {
    let found = tx.revocations().get(id).await?;
    found.ok_or_else(Problem::not_found)
}
