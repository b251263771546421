//! The log of deliveries over HTTP.

use actix_web::{HttpRequest, HttpResponse, web};
use domain::id::DeliveryId;

use super::route::{Id, no_query};
use crate::{
    app::{
        self,
        delivery::{DeliveryFilter, DeliveryStatus},
    },
    auth::{
        Actor,
        scope::{SubscriptionsRead, SubscriptionsWrite},
    },
    body::Bare,
    context::Context,
    cursor::List,
    page::{Page, PageRequest},
    problem::Problem,
    query::Query,
    wire::{
        self,
        delivery::{DeliveryPage, DeliveryView},
    },
    write::{self, KeyRule, Reply},
};

/// Lists deliveries, in the order of their making.
///
/// They are kept for 30 days. Without their attempts: read one for those.
#[utoipa::path(get, path = "/v1/deliveries", tag = "subscriptions",
    params(
        ("subscription_id" = Option<String>, Query, description = "Only those to this subscription.", max_length = 40, pattern = "^sub_[0-9a-f-]{36}$"),
        ("event_id" = Option<String>, Query, description = "Only those of this event.", max_length = 40, pattern = "^evt_[0-9a-f-]{36}$"),
        ("status" = Option<String>, Query, description = "Only those that stand here: `pending`, `delivered`, `dead` or `cancelled`.", max_length = 20, pattern = "^(pending|delivered|dead|cancelled)$"),
    ),
    responses((status = 200, description = "A page of deliveries.", body = DeliveryPage)),
)]
pub(crate) async fn list(
    actor: Actor<SubscriptionsRead>,
    ctx: web::Data<Context>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    const WORDS: [DeliveryStatus; 4] = [
        DeliveryStatus::Pending,
        DeliveryStatus::Delivered,
        DeliveryStatus::Dead,
        DeliveryStatus::Cancelled,
    ];
    let mut query = Query::of(&request);
    let asked = PageRequest::take(&mut query);
    let filter = DeliveryFilter {
        subscription_id: query.parsed("subscription_id", "Must be the id of a subscription."),
        event_id: query.parsed("event_id", "Must be the id of an event."),
        status: query.one_of("status", &WORDS.map(|word| (word.as_str(), word))),
    };
    query.finish()?;
    let subscription = filter.subscription_id.map(|id| id.to_string());
    let event = filter.event_id.map(|id| id.to_string());
    let list = List::new("listDeliveries")
        .filter("subscription_id", subscription.as_deref())
        .filter("event_id", event.as_deref())
        .filter("status", filter.status.map(DeliveryStatus::as_str));
    let page = (asked.after(&ctx, &actor, &list)?, asked.limit());
    let rows = app::delivery::list(&ctx, actor.tenant(), &filter, page).await?;
    Ok(Page::new((&ctx, &actor, &list), &asked, rows, |document| document)?.answer(&request))
}

/// Reads one delivery with its attempts.
#[utoipa::path(get, path = "/v1/deliveries/{delivery_id}", tag = "subscriptions",
    params(("delivery_id" = String, Path, description = "The delivery.", max_length = 40, pattern = "^dlv_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The delivery.", body = DeliveryView)),
)]
pub(crate) async fn get(
    actor: Actor<SubscriptionsRead>,
    ctx: web::Data<Context>,
    Id(id): Id<DeliveryId>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    no_query(&request)?;
    let (row, attempts) = app::delivery::get(&ctx, actor.tenant(), id).await?;
    let view = DeliveryView::new(&row).with_attempts(attempts);
    Ok(Reply::found(row.version, wire::document(&view)?).unless_known(request.headers()))
}

/// Sends a delivery again, whatever came of it, with all its attempts before it once more.
///
/// The event keeps its id; moment and signature are new. One that is being tried at this moment is left to that.
#[utoipa::path(post, path = "/v1/deliveries/{delivery_id}/replay", tag = "subscriptions",
    params(("delivery_id" = String, Path, description = "The delivery.", max_length = 40, pattern = "^dlv_[0-9a-f-]{36}$")),
    responses((status = 200, description = "The delivery as it is now.", body = DeliveryView)),
)]
pub(crate) async fn replay(
    actor: Actor<SubscriptionsWrite>,
    ctx: web::Data<Context>,
    Id(id): Id<DeliveryId>,
    Bare { raw }: Bare,
) -> Result<HttpResponse, Problem> {
    write::run(&ctx, &actor, &raw, KeyRule::Required, async |tx| {
        let row = app::delivery::replay(&ctx, tx, id).await?;
        Ok(Reply::found(
            row.version,
            wire::document(&DeliveryView::new(&row))?,
        ))
    })
    .await
}
