//! What contractors' own systems send, over HTTP. No token: the address names the source, the signature proves.

use actix_web::{
    HttpRequest, HttpResponse,
    http::header::{self, HeaderValue},
    web::{self, Payload},
};
use serde_json::Value;

use crate::{
    app::inbound::{self, Proven},
    body::{MAX_BATCH, MAX_BODY, RawRequest, Sent, into_lenient, into_value, receive},
    context::Context,
    problem::{Code, Problem},
    query::Query,
    wire::{
        self,
        inbound::{
            InboundBatchRequest, InboundBatchView, InboundEventRequest, InboundItemView,
            InboundNameRequest, InboundOutcome, InboundView,
        },
    },
    write::REPLAYED,
};

/// Takes an event of a contractor's own system.
///
/// It is signed as the Standard Webhooks specification has it: `webhook-signature` holds `v1,` and the base64 of the HMAC-SHA256 of
/// `<webhook-id>.<webhook-timestamp>.<body>`, keyed with the bytes whose base64 follows `whsec_` in the source's secret. The event
/// has one effect however often and however concurrently it is sent; sent again, it is answered the same. Of several
/// events about one report (named by `external`) the one that happened last counts, in whatever order they arrive. Unknown
/// members are ignored. Everything that keeps a message from being proven is answered alike.
#[utoipa::path(post, path = "/v1/inbound/{source}", tag = "inbound",
    params(
        ("source" = String, Path, description = "The last part of the source's address.", min_length = 43, max_length = 43, pattern = "^[A-Za-z0-9_-]{43}$"),
        ("webhook-id" = String, Header, description = "Names the event; the same however often it is sent.", min_length = 1, max_length = 64, pattern = "^[!-\\-/-~]{1,64}$", example = "evt-88213-1"),
        ("webhook-timestamp" = String, Header, description = "When it is sent, in seconds since 1970; within 5 minutes of now.", min_length = 1, max_length = 12, pattern = "^[0-9]{1,12}$", example = "1772426400"),
        ("webhook-signature" = String, Header, description = "Up to 10 signatures with a space between them; one that is right is enough.", min_length = 4, max_length = 2000, example = "v1,K5oZfzN95Z9UVu1EsfQmfVNQhnkZ2pj9o9NDN/H/pI4="),
    ),
    request_body = InboundEventRequest,
    responses((status = 200, description = "What became of it.", body = InboundView)),
)]
pub(crate) async fn deliver(
    ctx: web::Data<Context>,
    request: HttpRequest,
    payload: Payload,
) -> Result<HttpResponse, Problem> {
    let raw = receive(&request, payload.into_inner(), MAX_BODY).await?;
    let (source, id) = prove(&ctx, &request, &raw).await?;
    let event = inbound::read("#", into_value(&raw.body)?, ctx.clock.now())?;
    let (view, replayed) = inbound::take(&ctx, &source, ("#", &id), &event).await?;
    answer(&view, replayed)
}

/// Takes up to 1,000 events of a contractor's own system in one signed message.
///
/// Each event has an `id` of its own and is taken as it would be by itself; the answer says for each what became of it. One that
/// cannot be taken keeps no other from it. The id of the message itself names nothing: it may be sent again whole.
#[utoipa::path(post, path = "/v1/inbound/{source}/batch", tag = "inbound",
    params(
        ("source" = String, Path, description = "The last part of the source's address.", min_length = 43, max_length = 43, pattern = "^[A-Za-z0-9_-]{43}$"),
        ("webhook-id" = String, Header, description = "Names the message; each event in it has an id of its own.", min_length = 1, max_length = 64, pattern = "^[!-\\-/-~]{1,64}$", example = "night-2026-03-01"),
        ("webhook-timestamp" = String, Header, description = "When it is sent, in seconds since 1970; within 5 minutes of now.", min_length = 1, max_length = 12, pattern = "^[0-9]{1,12}$", example = "1772426400"),
        ("webhook-signature" = String, Header, description = "Up to 10 signatures with a space between them; one that is right is enough.", min_length = 4, max_length = 2000, example = "v1,K5oZfzN95Z9UVu1EsfQmfVNQhnkZ2pj9o9NDN/H/pI4="),
    ),
    request_body = InboundBatchRequest,
    responses((status = 200, description = "What became of each.", body = InboundBatchView)),
)]
pub(crate) async fn deliver_batch(
    ctx: web::Data<Context>,
    request: HttpRequest,
    payload: Payload,
) -> Result<HttpResponse, Problem> {
    let raw = receive(&request, payload.into_inner(), MAX_BATCH).await?;
    let (source, _message) = prove(&ctx, &request, &raw).await?;
    let batch: InboundBatchRequest = into_lenient("#", into_value(&raw.body)?)?;
    let mut items = Vec::with_capacity(batch.events.len());
    for (index, event) in batch.events.into_iter().enumerate() {
        items.push(item(&ctx, &source, (index, event)).await);
    }
    answer(&InboundBatchView { items }, false)
}

async fn prove(
    ctx: &Context,
    request: &HttpRequest,
    raw: &RawRequest,
) -> Result<(Proven, String), Problem> {
    let token = request.match_info().iter().next();
    let token = token.map(|(_, text)| text).unwrap_or_default();
    let proven = inbound::prove(ctx, token, raw).await.map_err(|problem| {
        let is_refused = problem.code() == Code::NotProven;
        let scheme = HeaderValue::from_static("Webhook-Signature");
        if is_refused {
            problem.header(header::WWW_AUTHENTICATE, scheme)
        } else {
            problem
        }
    })?;
    // Whoever is not proven does not learn what the query may hold.
    Query::parse(&raw.query).finish()?;
    Ok(proven)
}

/// Takes one event of a batch and says what became of it.
async fn item(ctx: &Context, source: &Proven, (index, event): (usize, Value)) -> InboundItemView {
    let root = format!("#/events/{index}");
    let name = into_lenient::<InboundNameRequest>(&root, Sent::sound(event.clone()));
    let id = name.as_ref().ok().map(|name| name.id.clone());
    let taken = async {
        let id = name?.id;
        let sent = Sent::sound(inbound::without_name(event));
        let event = inbound::read(&root, sent, ctx.clock.now())?;
        inbound::take(ctx, source, (&root, &id), &event).await
    };
    match taken.await {
        Ok((view, _replayed)) => InboundItemView {
            index,
            id,
            outcome: view.outcome,
            completion_id: view.completion_id,
            reading_id: view.reading_id,
            deviations: view.deviations,
            code: None,
            errors: Vec::new(),
        },
        Err(problem) => InboundItemView {
            index,
            id,
            outcome: InboundOutcome::Refused,
            completion_id: None,
            reading_id: None,
            deviations: Vec::new(),
            code: Some(problem.code().as_str()),
            errors: problem.into_faults(),
        },
    }
}

fn answer(view: &impl serde::Serialize, replayed: bool) -> Result<HttpResponse, Problem> {
    let mut answer = HttpResponse::Ok();
    answer.insert_header((header::CONTENT_TYPE, "application/json"));
    if replayed {
        answer.insert_header((REPLAYED, "true"));
    }
    Ok(answer.body(wire::document(view)?))
}
