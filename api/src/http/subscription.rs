//! Subscriptions over HTTP.

use actix_web::{HttpRequest, HttpResponse, web};
use domain::id::SubscriptionId;

use super::route::{Id, no_query};
use crate::{
    app::{
        self,
        subscription::{SubscriptionRow, SubscriptionStatus},
    },
    auth::{
        Actor,
        scope::{SubscriptionsRead, SubscriptionsWrite},
    },
    body::{Bare, Strict},
    context::Context,
    cursor::List,
    etag::Expected,
    page::{Page, PageRequest},
    patch::Patch,
    problem::Problem,
    query::Query,
    wire::{
        self,
        delivery::DeliveryView,
        subscription::{
            ReplayRequest, ReplayView, RotateSubscriptionRequest, SubscriptionPage,
            SubscriptionPatchRequest, SubscriptionRequest, SubscriptionView,
        },
    },
    write::{self, KeyRule, Reply},
};

/// Makes a subscription: events are sent to its address from now on, signed with its secret.
///
/// The secret is told in this answer and in no other (sent again with the same `Idempotency-Key`, it is this answer). What
/// is sent, and when again, stands under `webhooks` in this document.
#[utoipa::path(post, path = "/v1/subscriptions", tag = "subscriptions", request_body = SubscriptionRequest, responses(
    (status = 201, description = "The subscription, with its secret.", body = SubscriptionView),
))]
pub(crate) async fn make(
    actor: Actor<SubscriptionsWrite>,
    ctx: web::Data<Context>,
    body: Strict<SubscriptionRequest>,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &body.raw, KeyRule::Optional, async |tx| {
        let (row, secret) = app::subscription::make(&ctx, tx, &body.value).await?;
        let view = SubscriptionView::new(&row)?.with_secret(&secret);
        let path = format!("/v1/subscriptions/{}", row.id);
        Ok(Reply::created(path, row.version, wire::document(&view)?).secret())
    })
    .await
}

/// Lists subscriptions, oldest first.
#[utoipa::path(get, path = "/v1/subscriptions", tag = "subscriptions",
    params(("status" = Option<String>, Query, description = "Only those that stand here: `enabled` or `disabled`.", max_length = 20, pattern = "^(enabled|disabled)$")),
    responses((status = 200, description = "A page of subscriptions.", body = SubscriptionPage)),
)]
pub(crate) async fn list(
    actor: Actor<SubscriptionsRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let mut query = Query::of(&request);
    let asked = PageRequest::take(&mut query);
    let words = [SubscriptionStatus::Enabled, SubscriptionStatus::Disabled];
    let status = query.one_of("status", &words.map(|word| (word.as_str(), word)));
    query.finish()?;
    let list =
        List::new("listSubscriptions").filter("status", status.map(SubscriptionStatus::as_str));
    let page = (asked.after(&ctx, &actor, &list)?, asked.limit());
    let rows = app::subscription::list(&ctx, actor.tenant(), status, page).await?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |document| document)?.answer(&request))
}

/// Reads one subscription. Its secret is told nowhere but where it was made.
#[utoipa::path(get, path = "/v1/subscriptions/{subscription_id}", tag = "subscriptions",
    params(("subscription_id" = String, Path, description = "The subscription.", max_length = 40, pattern = "^sub_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The subscription.", body = SubscriptionView)),
)]
pub(crate) async fn get(
    actor: Actor<SubscriptionsRead>,
    ctx: web::Data<Context>,
    Id(id): Id<SubscriptionId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let row = app::subscription::get(&ctx, actor.tenant(), id).await?;
    Ok(found(&row)?.unless_known(request.headers()))
}

/// Changes a subscription, by a JSON Merge Patch (RFC 7396) of what it was made with.
///
/// What waits for it goes to the new address. `{"enabled": true}` lets one that was disabled go on where it stopped; what
/// happened meanwhile is sent by `replay`.
#[utoipa::path(patch, path = "/v1/subscriptions/{subscription_id}", tag = "subscriptions",
    params(("subscription_id" = String, Path, description = "The subscription.", max_length = 40, pattern = "^sub_[0-9a-f-]{36}$")),
    request_body(content = SubscriptionPatchRequest, content_type = "application/merge-patch+json"),
    responses((status = 200, description = "It as it is now.", body = SubscriptionView)),
)]
pub(crate) async fn change(
    actor: Actor<SubscriptionsWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<SubscriptionId>,
    patch: Patch,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &patch.raw, KeyRule::Optional, async |tx| {
        let row = app::subscription::find(tx, id).await?;
        Expected::of(&patch.raw.headers)?.check(row.version)?;
        let request = patch.apply(&app::subscription::request_of(&row)?)?;
        found(&app::subscription::change(&ctx, tx, row, &request).await?)
    })
    .await
}

/// Deletes a subscription: it is told nothing any more, and what waits for it is cancelled.
///
/// The log of its deliveries stays for 30 days.
#[utoipa::path(delete, path = "/v1/subscriptions/{subscription_id}", tag = "subscriptions",
    params(("subscription_id" = String, Path, description = "The subscription.", max_length = 40, pattern = "^sub_[0-9a-f-]{36}$")),
    responses((status = 204, description = "It is deleted.")),
)]
pub(crate) async fn delete(
    actor: Actor<SubscriptionsWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<SubscriptionId>,
    Bare { raw }: Bare,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &raw, KeyRule::Optional, async |tx| {
        let row = app::subscription::find(tx, id).await?;
        Expected::of(&raw.headers)?.check(row.version)?;
        app::subscription::delete(&ctx, tx, row).await?;
        Ok(Reply::gone())
    })
    .await
}

/// Gives a subscription a new secret; messages are signed with the old one too for a while.
///
/// `previous_secret_until` says until when messages carry both signatures: a receiver that knows either accepts them.
#[utoipa::path(post, path = "/v1/subscriptions/{subscription_id}/rotate", tag = "subscriptions",
    params(("subscription_id" = String, Path, description = "The subscription.", max_length = 40, pattern = "^sub_[0-9a-f-]{36}$")),
    request_body = RotateSubscriptionRequest,
    responses((status = 200, description = "The subscription, with its new secret.", body = SubscriptionView)),
)]
pub(crate) async fn rotate(
    actor: Actor<SubscriptionsWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<SubscriptionId>,
    body: Strict<RotateSubscriptionRequest>,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &body.raw, KeyRule::Required, async |tx| {
        let (row, secret) = app::subscription::rotate(&ctx, tx, id, &body.value).await?;
        let view = SubscriptionView::new(&row)?.with_secret(&secret);
        Ok(Reply::found(row.version, wire::document(&view)?).secret())
    })
    .await
}

/// Tries a subscription out: sends it an event of the type `wearcourse.subscription.pinged.v1`, whatever it asks for.
///
/// The answer is the delivery: read it again to see what came of it.
#[utoipa::path(post, path = "/v1/subscriptions/{subscription_id}/ping", tag = "subscriptions",
    params(("subscription_id" = String, Path, description = "The subscription.", max_length = 40, pattern = "^sub_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The delivery of the event.", body = DeliveryView)),
)]
pub(crate) async fn ping(
    actor: Actor<SubscriptionsWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<SubscriptionId>,
    Bare { raw }: Bare,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &raw, KeyRule::Required, async |tx| {
        let row = app::delivery::ping(&ctx, tx, id).await?;
        Ok(Reply::found(
            row.version,
            wire::document(&DeliveryView::new(&row))?,
        ))
    })
    .await
}

/// Sends again what happened in a span of time: what did not arrive, and what the subscription was not told of.
///
/// For a receiver that was down for longer than events are tried, and for a subscription that was disabled or is new. Events
/// keep their ids: a receiver that knows them passes over what it has. At most 10,000 deliveries are sent again by one
/// call; `next_from` says where to go on.
#[utoipa::path(post, path = "/v1/subscriptions/{subscription_id}/replay", tag = "subscriptions",
    params(("subscription_id" = String, Path, description = "The subscription.", max_length = 40, pattern = "^sub_[0-9a-f-]{36}$")),
    request_body = ReplayRequest,
    responses((status = 200, description = "How much is sent again.", body = ReplayView)),
)]
pub(crate) async fn replay(
    actor: Actor<SubscriptionsWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<SubscriptionId>,
    body: Strict<ReplayRequest>,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &body.raw, KeyRule::Required, async |tx| {
        let view = app::delivery::replay_span(&ctx, tx, id, &body.value).await?;
        Ok(Reply::plain(wire::document(&view)?))
    })
    .await
}

fn found(row: &SubscriptionRow) -> Result<Reply, Problem> {
    Ok(Reply::found(
        row.version,
        wire::document(&SubscriptionView::new(row)?)?,
    ))
}
