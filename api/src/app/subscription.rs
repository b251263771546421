//! Subscriptions: made with a secret that is told once, read, changed, given a new secret, deleted.

use chrono::TimeDelta;
use domain::{
    event::EventKind,
    id::{EventId, SiteId, SubscriptionId, TenantId},
};
pub(crate) use infra::row::{SubscriptionRow, SubscriptionStatus};
use infra::{
    row::DisabledBecause,
    store::{Page, Tx},
};

use crate::{
    body::Faults,
    context::Context,
    egress::target,
    problem::{Code, Problem},
    seal::Place,
    signature::WebhookSecret,
    wire::{
        self,
        event::data::SubscriptionEventData,
        subscription::{RotateSubscriptionRequest, SubscriptionRequest, SubscriptionView},
    },
};

/// The most subscriptions of a tenant.
const MAX_SUBSCRIPTIONS: u64 = 50;

/// Where a secret of a subscription is sealed.
pub(crate) const fn place(tenant: TenantId, subscription: SubscriptionId) -> Place {
    Place {
        tenant,
        purpose: "subscription",
        row: subscription.uuid(),
    }
}

/// Makes a subscription and tells of it; the secret is for this one answer.
///
/// # Errors
/// `invalid_body` with every fault; `state_conflict` if the tenant has 50 of them; `unavailable` if no secret can be kept;
/// those of the store.
pub(crate) async fn make(
    ctx: &Context,
    tx: &Tx,
    request: &SubscriptionRequest,
) -> Result<(SubscriptionRow, WebhookSecret), Problem> {
    let mut faults = Faults::new();
    let secret = secret(request.secret.as_deref(), &mut faults)?;
    check(ctx, tx, request, faults).await?;
    if tx.subscriptions().count().await? >= MAX_SUBSCRIPTIONS {
        let detail = format!("A tenant may have {MAX_SUBSCRIPTIONS} subscriptions: delete one.");
        return Err(Problem::new(Code::StateConflict, detail));
    }
    let (id, now) = (SubscriptionId::from_uuid(ctx.ids.uuid()), ctx.clock.now());
    let (status, disabled_because) = status(request);
    let row = SubscriptionRow {
        id,
        version: 1,
        name: request.name.clone(),
        status,
        disabled_because,
        document: document(request)?,
        secret: ctx.seals.seal(&place(tx.tenant(), id), secret.bytes())?,
        previous: None,
        failing_since: None,
        created_at: now,
        updated_at: now,
    };
    tx.subscriptions().insert(&row).await?;
    tell(ctx, tx, EventKind::SubscriptionMade, &row).await?;
    Ok((row, secret))
}

/// Changes a subscription to what a request says and tells of it; a request that says the same changes nothing. What
/// waits for it goes to the new address.
///
/// # Errors
/// `invalid_body` with every fault; `stale_version` if somebody else was faster; those of the store.
pub(crate) async fn change(
    ctx: &Context,
    tx: &Tx,
    old: SubscriptionRow,
    request: &SubscriptionRequest,
) -> Result<SubscriptionRow, Problem> {
    let mut faults = Faults::new();
    if request.secret.is_some() {
        let detail = "It cannot be changed here: POST to `rotate` exchanges it.";
        faults.push("#/secret", "read_only", detail);
    }
    check(ctx, tx, request, faults).await?;
    if *request == request_of(&old)? {
        return Ok(old);
    }
    let (status, because) = status(request);
    let was_enabled = old.status == SubscriptionStatus::Enabled;
    let is_enabled = status == SubscriptionStatus::Enabled;
    let row = SubscriptionRow {
        version: old.version.saturating_add(1),
        name: request.name.clone(),
        status,
        // Whoever changes the name of one that is disabled does not become the reason.
        disabled_because: because.map(|because| old.disabled_because.unwrap_or(because)),
        document: document(request)?,
        // Whoever enables it again gives its receiver time.
        failing_since: old.failing_since.filter(|_| was_enabled == is_enabled),
        updated_at: ctx.clock.now(),
        ..old
    };
    tx.subscriptions().update(&row, old.version).await?;
    let kind = if was_enabled && !is_enabled {
        EventKind::SubscriptionDisabled
    } else {
        EventKind::SubscriptionChanged
    };
    tell(ctx, tx, kind, &row).await?;
    Ok(row)
}

/// Gives a subscription a new secret; messages are signed with the old one too until the overlap ends.
///
/// # Errors
/// `not_found`; `invalid_body` for a secret that is none; `unavailable` if no secret can be kept; those of the store.
pub(crate) async fn rotate(
    ctx: &Context,
    tx: &Tx,
    id: SubscriptionId,
    request: &RotateSubscriptionRequest,
) -> Result<(SubscriptionRow, WebhookSecret), Problem> {
    let mut faults = Faults::new();
    let secret = secret(request.secret.as_deref(), &mut faults)?;
    faults.finish()?;
    let (old, now) = (find(tx, id).await?, ctx.clock.now());
    let until = now.checked_add_signed(TimeDelta::hours(request.overlap_h.into()));
    let previous = until.filter(|until| *until > now);
    let row = SubscriptionRow {
        version: old.version.saturating_add(1),
        secret: ctx.seals.seal(&place(tx.tenant(), id), secret.bytes())?,
        previous: previous.map(|until| (old.secret, until)),
        updated_at: now,
        ..old
    };
    tx.subscriptions().update(&row, old.version).await?;
    tell(ctx, tx, EventKind::SubscriptionRotated, &row).await?;
    Ok((row, secret))
}

/// Deletes a subscription and tells of it: what waits for it is cancelled, its secrets are gone. The log of its
/// deliveries stays for as long as any.
///
/// # Errors
/// `stale_version` if somebody else was faster; those of the store.
pub(crate) async fn delete(ctx: &Context, tx: &Tx, old: SubscriptionRow) -> Result<(), Problem> {
    let now = ctx.clock.now();
    let row = SubscriptionRow {
        version: old.version.saturating_add(1),
        status: SubscriptionStatus::Deleted,
        disabled_because: None,
        secret: String::new(),
        previous: None,
        updated_at: now,
        ..old
    };
    tx.subscriptions().update(&row, old.version).await?;
    tx.deliveries().cancel(row.id, now).await?;
    tell(ctx, tx, EventKind::SubscriptionDeleted, &row).await
}

/// The secret that the caller brought, or a new one.
fn secret(own: Option<&str>, faults: &mut Faults) -> Result<WebhookSecret, Problem> {
    match own.map(WebhookSecret::parse) {
        Some(Some(secret)) => Ok(secret),
        Some(None) => {
            let detail = "Must be `whsec_` and the base64 of 24 to 64 random bytes.";
            faults.push("#/secret", "malformed", detail);
            Ok(WebhookSecret::generate()?)
        }
        None => Ok(WebhookSecret::generate()?),
    }
}

/// Holds a request to what no schema knows: where it wants to be called, and the sites that it names.
async fn check(
    ctx: &Context,
    tx: &Tx,
    request: &SubscriptionRequest,
    mut faults: Faults,
) -> Result<(), Problem> {
    if let Err(fault) = target(&request.url, ctx.egress.allowed()) {
        faults.push("#/url", fault.code(), fault.to_string());
    }
    let asked = request.site_ids.as_deref().unwrap_or_default();
    let ids: Vec<Option<SiteId>> = asked.iter().map(|id| id.parse().ok()).collect();
    let known: Vec<SiteId> = ids.iter().copied().flatten().collect();
    let sites = tx.sites().get_many(&known).await?;
    for (index, id) in ids.iter().enumerate() {
        if !sites.iter().any(|site| Some(site.id) == *id) {
            let pointer = format!("#/site_ids/{index}");
            faults.push(pointer, "reference_not_found", "There is no such site.");
        }
    }
    faults.finish()
}

const fn status(request: &SubscriptionRequest) -> (SubscriptionStatus, Option<DisabledBecause>) {
    if request.enabled {
        (SubscriptionStatus::Enabled, None)
    } else {
        (SubscriptionStatus::Disabled, Some(DisabledBecause::Asked))
    }
}

/// The request as it is kept: without a secret.
fn document(request: &SubscriptionRequest) -> Result<String, Problem> {
    wire::document(&SubscriptionRequest {
        secret: None,
        ..request.clone()
    })
}

/// What was asked for, as it stands: also where the service itself disabled it.
///
/// # Errors
/// `internal` for a row that is not what was written.
pub(crate) fn request_of(row: &SubscriptionRow) -> Result<SubscriptionRequest, Problem> {
    let request: SubscriptionRequest = wire::stored(&row.document)?;
    Ok(SubscriptionRequest {
        enabled: row.status == SubscriptionStatus::Enabled,
        ..request
    })
}

/// Tells of a subscription; an event holds no secret.
///
/// # Errors
/// Those of the store.
pub(crate) async fn tell(
    ctx: &Context,
    tx: &Tx,
    kind: EventKind,
    row: &SubscriptionRow,
) -> Result<(), Problem> {
    let event = EventId::from_uuid(ctx.ids.uuid());
    let data = SubscriptionEventData::from(row);
    let event = wire::event::encode(event, kind, row.updated_at, &data)?;
    Ok(tx.outbox().append(&event).await?)
}

/// A subscription in a transaction.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn find(tx: &Tx, id: SubscriptionId) -> Result<SubscriptionRow, Problem> {
    let row = tx.subscriptions().get(id).await?;
    row.ok_or_else(Problem::not_found)
}

/// Up to `limit` subscriptions after an id.
///
/// # Errors
/// Those of the store.
pub(crate) async fn list(
    ctx: &Context,
    tenant: TenantId,
    status: Option<SubscriptionStatus>,
    page: (Option<SubscriptionId>, u64),
) -> Result<Page<String, SubscriptionId>, Problem> {
    let glance = ctx.store.glance(tenant);
    let rows = glance.subscriptions().list(status, page).await?;
    rows.try_map(|row| wire::document(&SubscriptionView::new(&row)?))
}

/// One subscription.
///
/// # Errors
/// `not_found`; those of the store.
pub(crate) async fn get(
    ctx: &Context,
    tenant: TenantId,
    id: SubscriptionId,
) -> Result<SubscriptionRow, Problem> {
    let glance = ctx.store.glance(tenant);
    let row = glance.subscriptions().get(id).await?;
    row.ok_or_else(Problem::not_found)
}
