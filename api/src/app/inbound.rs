//! What contractors' own systems send: proven by its signature, taken once, and put in the order in which it happened.
//!
//! About one report several events may come, in any order. The one that happened last counts: a correction is a whole report,
//! so it is recorded when it comes, also before the report that it corrects, which then changes nothing; a report that was
//! voided before it came is not recorded. So nothing waits for what may never come, and the same events lead to the
//! same records however they arrive.

mod effect;
mod prove;

pub(crate) use prove::{Proven, prove};

use chrono::{DateTime, TimeDelta, Utc};
use infra::store::{Arrival, Arrived, Tx};
use serde_json::Value;
use sha2::{Digest, Sha256};

use crate::{
    audit::{self, Deed},
    body::{Faults, Sent, into_lenient},
    context::Context,
    problem::{Code, Problem},
    wire::{
        self,
        completion::CompletionRequest,
        inbound::{InboundEventRequest, InboundType, InboundView, InboundVoidRequest},
        reading::ReadingRequest,
    },
    write,
};

/// How far in the future an event may have happened, for clocks that are set wrong.
const MAX_AHEAD_H: i64 = 24;

/// The operation that takes an event, by itself or in a batch.
const TAKEN: &str = "takeEvent";

/// An event that was read.
#[derive(Debug)]
pub(crate) struct Event {
    kind: InboundType,
    at: DateTime<Utc>,
    data: Data,
    /// What it says, in one spelling.
    payload: String,
}

/// What an event is about.
#[derive(Debug)]
enum Data {
    Completion(Box<CompletionRequest>),
    Void(InboundVoidRequest),
    Reading(Box<ReadingRequest>),
}

/// Reads an event; members that nobody knows are passed over. `root` is the pointer of the event in its message.
///
/// # Errors
/// `invalid_body` with every fault.
pub(crate) fn read(root: &str, sent: Sent, now: DateTime<Utc>) -> Result<Event, Problem> {
    let envelope: InboundEventRequest = into_lenient(root, sent)?;
    let mut faults = Faults::new();
    if envelope.timestamp.signed_duration_since(now) > TimeDelta::hours(MAX_AHEAD_H) {
        let detail = format!("This lies more than {MAX_AHEAD_H} hours in the future.");
        faults.push(format!("{root}/timestamp"), "in_future", detail);
    }
    faults.finish()?;
    let payload = wire::document(&envelope)?;
    let place = format!("{root}/data");
    let sent = Sent::sound(envelope.data);
    let data = match envelope.kind {
        InboundType::Reported | InboundType::Corrected => {
            Data::Completion(Box::new(into_lenient(&place, sent)?))
        }
        InboundType::Voided => Data::Void(into_lenient(&place, sent)?),
        InboundType::Reading => Data::Reading(Box::new(into_lenient(&place, sent)?)),
    };
    Ok(Event {
        kind: envelope.kind,
        at: envelope.timestamp,
        data,
        payload,
    })
}

/// An event with its id and the pointer of its place in the message.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Named<'a> {
    /// Where it stands.
    pub(crate) root: &'a str,
    /// Its id, which is the sender's.
    pub(crate) id: &'a str,
    /// What it says.
    pub(crate) event: &'a Event,
}

/// Does what an event says, once: whoever brings it again is answered the same. Says whether it was known.
///
/// # Errors
/// `webhook_id_reused` if the id came with another event; `idempotency_in_flight` while the same event is worked on;
/// `invalid_body`, with pointers below the event's place; `contended`; those of the store.
pub(crate) async fn take(
    ctx: &Context,
    source: &Proven,
    named: Named<'_>,
) -> Result<(InboundView, bool), Problem> {
    let by = source.by();
    let turn = ctx.running.begin(source.tenant, &by.client, named.id).await;
    let _turn = turn.ok_or_else(write::in_flight)?;
    write::attempts(ctx, source.tenant, &by, async |tx| {
        let Done { view, new } = once(ctx, &tx, source, named).await?;
        if let Some(new) = &new {
            audit::append(&tx, new.deed(), ctx.clock.now()).await?;
        }
        if ctx.running.is_to_sweep() {
            tx.inbound().sweep(ctx.clock.now()).await?;
        }
        tx.commit().await?;
        Ok((view, new.is_none()))
    })
    .await
}

/// Says what would become of an event: all is done, and taken back.
///
/// # Errors
/// As [`take`].
pub(crate) async fn try_out(
    ctx: &Context,
    source: &Proven,
    named: Named<'_>,
) -> Result<InboundView, Problem> {
    write::attempts(ctx, source.tenant, &source.by(), async |tx| {
        // The transaction is dropped, which takes everything back.
        let Done { view, .. } = once(ctx, &tx, source, named).await?;
        Ok(InboundView {
            dry_run: true,
            ..view
        })
    })
    .await
}

/// Does what several events say in one transaction, which is faster by far: all of them, or none.
///
/// # Errors
/// As [`take`], for the first that cannot be taken: take each by itself then.
pub(crate) async fn take_together(
    ctx: &Context,
    source: &Proven,
    all: &[Named<'_>],
) -> Result<Vec<InboundView>, Problem> {
    write::attempts(ctx, source.tenant, &source.by(), async |tx| {
        let (mut views, mut news) = (Vec::with_capacity(all.len()), Vec::new());
        for named in all {
            let done = once(ctx, &tx, source, *named).await?;
            views.push(done.view);
            news.extend(done.new);
        }
        // Last, because nobody else of the tenant writes anything down meanwhile.
        for new in &news {
            audit::append(&tx, new.deed(), ctx.clock.now()).await?;
        }
        tx.commit().await?;
        Ok(views)
    })
    .await
}

async fn once(
    ctx: &Context,
    tx: &Tx,
    source: &Proven,
    Named { root, id, event }: Named<'_>,
) -> Result<Done, Problem> {
    let fingerprint = format!("{:x}", Sha256::digest(&event.payload));
    let arrived = Arrived {
        source: source.id,
        webhook_id: id,
        fingerprint: &fingerprint,
        payload: &event.payload,
    };
    match tx.inbound().begin(arrived, ctx.clock.now()).await? {
        Arrival::New => {}
        Arrival::Known(reply) => {
            let view = wire::stored(&reply)?;
            return Ok(Done { view, new: None });
        }
        Arrival::OtherPayload => return Err(reused(source, id)),
        Arrival::InFlight => return Err(write::in_flight()),
    }
    let done = effect::apply(ctx, tx, source, (id, event)).await;
    let view = done.map_err(|problem| problem.under(&format!("{root}/data")))?;
    let reply = wire::document(&view)?;
    tx.inbound().finish(source.id, id, &reply).await?;
    let made = view.completion_id.as_ref().map(|id| ("completions", id));
    let made = made.or(view.reading_id.as_ref().map(|id| ("readings", id)));
    let resource = made.map_or_else(
        || format!("/v1/contractor-sources/{}", source.id),
        |(kind, id)| format!("/v1/{kind}/{id}"),
    );
    let new = Some(New { resource, reply });
    Ok(Done { view, new })
}

/// What became of an event.
struct Done {
    view: InboundView,
    /// What is to be written down of it, if it was not known.
    new: Option<New>,
}

/// What an event that was not known did.
struct New {
    resource: String,
    reply: String,
}

impl New {
    fn deed(&self) -> Deed<'_> {
        Deed {
            operation: TAKEN,
            resource: &self.resource,
            after: Some(self.reply.as_bytes()),
        }
    }
}

fn reused(source: &Proven, id: &str) -> Problem {
    tracing::warn!(source = %source.id, webhook_id = id, "a webhook-id came with another event");
    let detail = "This id came with another event before; what that one did stands.";
    Problem::new(Code::WebhookIdReused, detail)
}

/// The value of a message without the members that only name it.
pub(crate) fn without_name(mut value: Value) -> Value {
    if let Some(members) = value.as_object_mut() {
        members.remove("id");
    }
    value
}
