//! What contractors' own systems send, over HTTP. No token: the address names the source, the signature proves.

use std::time::{Duration, Instant};

use actix_web::{
    HttpRequest, HttpResponse,
    http::header::{self, HeaderValue},
    web::{self, Payload},
};
use chrono::{DateTime, Utc};
use serde_json::Value;
use utoipa::IntoParams;

use crate::{
    app::inbound::{self, Event, Named, Proven},
    body::{MAX_BATCH, MAX_BODY, RawRequest, Sent, into_lenient, into_value, receive},
    context::Context,
    limit,
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

/// How many events of a batch share a transaction.
const TOGETHER: usize = 50;
/// How long a batch may take; what is left then is to be sent again. Below the time that any request has.
const BUDGET: Duration = Duration::from_secs(20);

/// Where a source sends to.
#[derive(IntoParams)]
#[into_params(parameter_in = Path)]
#[expect(dead_code, reason = "it is there to be described")]
struct Address {
    /// The last part of the source's address.
    #[param(min_length = 43, max_length = 43, pattern = "^[A-Za-z0-9_-]{43}$")]
    source: String,
}

/// How an event is taken.
#[derive(IntoParams)]
#[into_params(parameter_in = Query)]
#[expect(dead_code, reason = "it is there to be described")]
struct TryOut {
    /// Whether to say what would become of the event and keep nothing; `false` if left out.
    dry_run: Option<bool>,
}

/// What proves a message.
#[derive(IntoParams)]
#[into_params(parameter_in = Header)]
#[expect(dead_code, reason = "it is there to be described")]
struct Signed {
    /// Names the event, and in a batch the message; the same however often it is sent.
    #[param(
        rename = "webhook-id",
        min_length = 1,
        max_length = 64,
        pattern = "^[!-\\-/-~]{1,64}$",
        example = "evt-88213-1"
    )]
    id: String,
    /// When it is sent, in seconds since 1970; within 5 minutes of now.
    #[param(
        rename = "webhook-timestamp",
        min_length = 1,
        max_length = 12,
        pattern = "^[0-9]{1,12}$",
        example = "1772426400"
    )]
    timestamp: String,
    /// Up to 10 signatures with a space between them; one that is right is enough.
    #[param(
        rename = "webhook-signature",
        min_length = 4,
        max_length = 2000,
        example = "v1,K5oZfzN95Z9UVu1EsfQmfVNQhnkZ2pj9o9NDN/H/pI4="
    )]
    signature: String,
}

/// Takes an event of a contractor's own system.
///
/// It is signed as the Standard Webhooks specification has it: `webhook-signature` holds `v1,` and the base64 of the HMAC-SHA256 of
/// `<webhook-id>.<webhook-timestamp>.<body>`, keyed with the bytes whose base64 follows `whsec_` in the source's secret. The event
/// has one effect however often and however concurrently it is sent; sent again, it is answered the same. Of several
/// events about one report (named by `external`) the one that happened last counts, in whatever order they arrive. Unknown
/// members are ignored. Everything that keeps a message from being proven is answered alike.
///
/// With `?dry_run=true` signature and event are judged as they would be and nothing is kept: the answer has `"dry_run": true`, its
/// ids are nobody's, and the same `webhook-id` may be sent in earnest afterwards.
#[utoipa::path(post, path = "/v1/inbound/{source}", tag = "inbound",
    params(Address, TryOut, Signed),
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
    // Whoever is not proven does not learn what the query may hold.
    let mut query = Query::parse(&raw.query);
    let is_dry = query.flag("dry_run");
    query.finish()?;
    let event = inbound::read("#", into_value(&raw.body)?, ctx.clock.now())?;
    let named = Named {
        root: "#",
        id: &id,
        event: &event,
    };
    if is_dry {
        let view = inbound::try_out(&ctx, &source, named).await?;
        return answer(&view, false);
    }
    let (view, replayed) = inbound::take(&ctx, &source, named).await?;
    answer(&view, replayed)
}

/// Takes up to 1,000 events of a contractor's own system in one signed message.
///
/// Each event has an `id` of its own and is taken as it would be by itself; the answer says for each what became of it. One that
/// cannot be taken keeps no other from it. The id of the message itself names nothing: it may be sent again whole.
#[utoipa::path(post, path = "/v1/inbound/{source}/batch", tag = "inbound",
    params(Address, Signed),
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
    Query::parse(&raw.query).finish()?;
    let batch: InboundBatchRequest = into_lenient("#", into_value(&raw.body)?)?;
    let now = ctx.clock.now();
    let events = batch.events.into_iter().enumerate();
    let events: Vec<Part> = events
        .map(|(index, event)| part(index, event, now))
        .collect();
    let started = Instant::now();
    let mut items = Vec::with_capacity(events.len());
    for some in events.chunks(TOGETHER) {
        items.extend(take(&ctx, &source, some, started).await);
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
    let now = ctx.clock.now();
    let proven = inbound::prove(ctx, token, raw).await;
    let proven = proven.map_err(|problem| {
        let source = limit::source_of(request.peer_addr(), &raw.headers, &ctx.limits.proxies);
        let problem = ctx.limits.refused(problem, source, now);
        let is_refused = problem.code() == Code::NotProven;
        let scheme = HeaderValue::from_static("Webhook-Signature");
        if is_refused {
            problem.header(header::WWW_AUTHENTICATE, scheme)
        } else {
            problem
        }
    })?;
    ctx.limits.admit(proven.0.tenant, now)?;
    Ok(proven)
}

/// One event of a batch: its place, its id as far as it could be read, and the event or what is wrong with it.
struct Part {
    index: usize,
    root: String,
    id: Option<String>,
    event: Result<Event, Problem>,
}

impl Part {
    /// The event with its name, if both could be read.
    fn named(&self) -> Option<Named<'_>> {
        Some(Named {
            root: &self.root,
            id: self.id.as_deref()?,
            event: self.event.as_ref().ok()?,
        })
    }

    fn taken(&self, view: InboundView) -> InboundItemView {
        InboundItemView {
            index: self.index,
            id: self.id.clone(),
            outcome: view.outcome,
            completion_id: view.completion_id,
            reading_id: view.reading_id,
            deviations: view.deviations,
            code: None,
            errors: Vec::new(),
        }
    }

    fn refused(&self, problem: &Problem) -> InboundItemView {
        InboundItemView {
            index: self.index,
            id: self.id.clone(),
            outcome: InboundOutcome::Refused,
            completion_id: None,
            reading_id: None,
            deviations: Vec::new(),
            code: Some(problem.code().as_str()),
            errors: problem.faults().to_vec(),
        }
    }
}

/// Reads one event of a batch.
fn part(index: usize, event: Value, now: DateTime<Utc>) -> Part {
    let root = format!("#/events/{index}");
    let name = into_lenient::<InboundNameRequest>(&root, Sent::sound(event.clone()));
    let (id, event) = match name {
        Ok(name) => {
            let sent = Sent::sound(inbound::without_name(event));
            (Some(name.id), inbound::read(&root, sent, now))
        }
        Err(problem) => (None, Err(problem)),
    };
    Part {
        index,
        root,
        id,
        event,
    }
}

/// Takes some events: together, or each by itself if one of them cannot be taken or too little time is left.
async fn take(
    ctx: &Context,
    source: &Proven,
    some: &[Part],
    started: Instant,
) -> Vec<InboundItemView> {
    let named: Vec<Named<'_>> = some.iter().filter_map(Part::named).collect();
    let is_late = || started.elapsed() > BUDGET;
    if named.len() == some.len()
        && !is_late()
        && let Ok(views) = inbound::take_together(ctx, source, &named).await
    {
        let pairs = some.iter().zip(views);
        return pairs.map(|(part, view)| part.taken(view)).collect();
    }
    let mut items = Vec::with_capacity(some.len());
    for part in some {
        let item = match (&part.event, part.named()) {
            (Err(problem), _) => part.refused(problem),
            (Ok(_), Some(named)) if !is_late() => match inbound::take(ctx, source, named).await {
                Ok((view, _replayed)) => part.taken(view),
                Err(problem) => part.refused(&problem),
            },
            (Ok(_), _) => part.refused(&Problem::new(
                Code::TimedOut,
                "There was no time left for this event: send it again.",
            )),
        };
        items.push(item);
    }
    items
}

fn answer(view: &impl serde::Serialize, replayed: bool) -> Result<HttpResponse, Problem> {
    let mut answer = HttpResponse::Ok();
    answer.insert_header((header::CONTENT_TYPE, "application/json"));
    if replayed {
        answer.insert_header((REPLAYED, "true"));
    }
    Ok(answer.body(wire::document(view)?))
}
