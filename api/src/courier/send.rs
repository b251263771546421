//! One attempt: the message is signed and sent, and what came of it is recorded.

use std::{sync::Arc, time::Instant};

use actix_web::http::header::HeaderName as IncomingName;
use chrono::{DateTime, TimeDelta, Utc};
use domain::{
    delivery::{Failure, Next, Outcome, is_given_up, next},
    event::EventKind,
    id::TenantId,
};
use infra::{
    clock::{IdSource as _, UuidV7Source},
    row::{
        AttemptRow, DeliveryRow, DeliveryStatus, DisabledBecause, SubscriptionRow,
        SubscriptionStatus,
    },
    store::{Recorded, Tx},
};
use reqwest::header::{CONTENT_TYPE, HeaderMap, HeaderName, HeaderValue};
use uuid::Uuid;

use crate::{
    app::subscription::{place, request_of, tell},
    call::Call,
    context::Context,
    egress::{Answered, Unanswered},
    problem::Problem,
    signature::{WEBHOOK_ID, WEBHOOK_SIGNATURE, WEBHOOK_TIMESTAMP, WebhookSecret},
    trace::{self, TRACEPARENT},
    wire::event::MEDIA_TYPE,
};

/// A delivery that is to be tried.
#[derive(Debug)]
pub(super) struct Errand {
    /// Whose it is.
    pub(super) tenant: TenantId,
    /// What proves, when it is recorded, that nobody else has it.
    pub(super) lease: Uuid,
    /// Where it goes.
    pub(super) subscription: Arc<SubscriptionRow>,
    /// The body, as it is sent.
    pub(super) payload: String,
    /// The delivery.
    pub(super) delivery: DeliveryRow,
}

/// What an attempt came to, in a word for the log and for the schedule.
struct Tried {
    word: &'static str,
    outcome: Outcome,
    answered: Option<(Answered, i64)>,
}

/// Makes the attempt.
///
/// # Errors
/// Those of the store: nothing is recorded then, and the delivery is due again when its lease has run out.
pub(super) async fn run(ctx: &Context, errand: Errand) -> Result<(), Problem> {
    let begun = ctx.clock.now();
    let tried = match message(ctx, &errand, begun) {
        Ok((url, headers)) => attempt(ctx, &url, headers, errand.payload.clone(), begun).await,
        // What cannot be made or signed here is tried again like everything else: a key may be configured meanwhile.
        Err(problem) => {
            tracing::error!(delivery = %errand.delivery.id, %problem, "a message cannot be made");
            Tried {
                word: "undeliverable",
                outcome: Outcome::Failed(Failure::default()),
                answered: None,
            }
        }
    };
    ctx.metrics.attempted(tried.word);
    record(ctx, &errand, begun, tried).await
}

/// The address and the headers of a message that is sent now.
fn message(
    ctx: &Context,
    errand: &Errand,
    now: DateTime<Utc>,
) -> Result<(String, HeaderMap), Problem> {
    let subscription = &errand.subscription;
    let at = place(errand.tenant, subscription.id);
    let previous = subscription.previous.as_ref();
    let previous = previous.filter(|(_, until)| *until > now);
    let sealed = [
        Some(&subscription.secret),
        previous.map(|(sealed, _)| sealed),
    ];
    let (id, seconds) = (errand.delivery.event_id.to_string(), now.timestamp());
    let mut signatures = Vec::new();
    for sealed in sealed.into_iter().flatten() {
        let secret = WebhookSecret::from_bytes(ctx.seals.open(&at, sealed)?);
        let secret = secret.ok_or_else(|| Problem::internal(&NoSecret))?;
        signatures.push(secret.sign(&id, seconds, errand.payload.as_bytes()));
    }
    let trace = trace::parent(errand.delivery.event_id.uuid(), UuidV7Source.uuid());
    let mut headers = HeaderMap::new();
    headers.insert(CONTENT_TYPE, HeaderValue::from_static(MEDIA_TYPE));
    for (name, value) in [
        (&TRACEPARENT, trace),
        (&WEBHOOK_ID, id),
        (&WEBHOOK_TIMESTAMP, seconds.to_string()),
        (&WEBHOOK_SIGNATURE, signatures.join(" ")),
    ] {
        let value = HeaderValue::from_str(&value).map_err(|error| Problem::internal(&error))?;
        headers.insert(outgoing(name), value);
    }
    Ok((request_of(subscription)?.url, headers))
}

/// The same name for the library that sends: it has types of its own.
fn outgoing(name: &IncomingName) -> HeaderName {
    HeaderName::from_bytes(name.as_str().as_bytes()).unwrap_or(CONTENT_TYPE)
}

/// What was unsealed is no secret: a mistake of ours.
#[derive(Debug, thiserror::Error)]
#[error("what is sealed for a subscription is no secret")]
struct NoSecret;

async fn attempt(
    ctx: &Context,
    url: &str,
    headers: HeaderMap,
    body: String,
    begun: DateTime<Utc>,
) -> Tried {
    let clock = Instant::now();
    match ctx.egress.post(url, headers, body).await {
        Ok(answered) => {
            let took = i64::try_from(clock.elapsed().as_millis()).unwrap_or(i64::MAX);
            let (word, outcome) = judge(&answered, begun);
            Tried {
                word,
                outcome,
                answered: Some((answered, took)),
            }
        }
        Err(why) => Tried {
            word: "unreached",
            outcome: Outcome::Failed(Failure {
                is_overrun: why == Unanswered::TimedOut,
                retry_after: None,
            }),
            answered: None,
        },
    }
}

/// What an answer means.
fn judge(answered: &Answered, now: DateTime<Utc>) -> (&'static str, Outcome) {
    let retry_after = answered.retry_after.as_ref();
    match answered.status {
        200..300 => ("taken", Outcome::Taken),
        410 => ("refused", Outcome::Gone),
        status => {
            let failure = Failure {
                is_overrun: status == 429,
                retry_after: retry_after.and_then(|value| pause(value.to_str().ok()?, now)),
            };
            ("refused", Outcome::Failed(failure))
        }
    }
}

/// How long `Retry-After` asks to wait (RFC 9110, 10.2.3): seconds, or a date; none for anything else.
fn pause(text: &str, now: DateTime<Utc>) -> Option<TimeDelta> {
    if !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit()) {
        let seconds = text.parse().unwrap_or(u32::MAX);
        return Some(TimeDelta::seconds(seconds.into()));
    }
    let date = DateTime::parse_from_rfc2822(text).ok()?;
    Some(date.signed_duration_since(now))
}

/// Writes down what came of the attempt, and how the receiver does.
async fn record(
    ctx: &Context,
    errand: &Errand,
    begun: DateTime<Utc>,
    tried: Tried,
) -> Result<(), Problem> {
    let (delivery, now) = (&errand.delivery, ctx.clock.now());
    let n_round = u32::try_from(delivery.n_round.saturating_add(1)).unwrap_or(u32::MAX);
    let after = match next(tried.outcome, n_round, delivery.id.uuid().as_u128(), now) {
        Next::Delivered => (DeliveryStatus::Delivered, None),
        Next::Again(at) => (DeliveryStatus::Pending, Some(at)),
        Next::Dead => (DeliveryStatus::Dead, None),
    };
    let recorded = Recorded {
        status: after.0,
        due_at: after.1,
        now,
    };
    let (outcome, word) = (tried.outcome, tried.word);
    let (answered, duration_ms) = tried.answered.unzip();
    let attempt = AttemptRow {
        delivery_id: delivery.id,
        number: delivery.n_attempts.saturating_add(1),
        started_at: begun,
        duration_ms,
        http_status: answered.as_ref().map(|answered| answered.status.into()),
        outcome: word.to_owned(),
        answer: answered
            .map(|answered| answered.text)
            .filter(|text| !text.is_empty()),
    };
    let tx = ctx.store.begin(errand.tenant).await?;
    // The subscription before its deliveries, as everywhere.
    let subscription = tx.subscriptions().hold(delivery.subscription_id).await?;
    if !tx
        .deliveries()
        .record(errand.lease, &attempt, recorded)
        .await?
    {
        tracing::info!(delivery = %delivery.id, "an attempt came back after its lease");
        return Ok(());
    }
    if let Some(row) = subscription {
        note_health(ctx, &tx, row, outcome, now).await?;
    }
    tx.commit().await?;
    if recorded.status == DeliveryStatus::Dead {
        ctx.metrics.died();
        tracing::warn!(delivery = %delivery.id, subscription = %delivery.subscription_id, "a delivery is dead");
    }
    Ok(())
}

/// Notes since when a receiver takes nothing, and disables its subscription where it wants nothing any more or has failed
/// for too long.
async fn note_health(
    ctx: &Context,
    tx: &Tx,
    row: SubscriptionRow,
    outcome: Outcome,
    now: DateTime<Utc>,
) -> Result<(), Problem> {
    let because = match (outcome, row.failing_since) {
        (Outcome::Taken, Some(_)) => {
            return Ok(tx.subscriptions().set_failing_since(&row, None).await?);
        }
        (Outcome::Gone, _) => DisabledBecause::Gone,
        (Outcome::Failed(_), Some(since)) if is_given_up(since, now) => DisabledBecause::Failing,
        (Outcome::Taken, None) | (Outcome::Failed(_), Some(_)) => return Ok(()),
        (Outcome::Failed(_), None) => {
            let since = Some(now);
            return Ok(tx.subscriptions().set_failing_since(&row, since).await?);
        }
    };
    if row.status != SubscriptionStatus::Enabled {
        return Ok(());
    }
    let disabled = SubscriptionRow {
        version: row.version.saturating_add(1),
        status: SubscriptionStatus::Disabled,
        disabled_because: Some(because),
        updated_at: now,
        ..row.clone()
    };
    tx.subscriptions().update(&disabled, row.version).await?;
    tracing::warn!(subscription = %row.id, %because, "a subscription is disabled");
    // Links of the event are made as those of a request are.
    let told = tell(ctx, tx, EventKind::SubscriptionDisabled, &disabled);
    Call::new(None, &ctx.base).scope(told).await
}

#[cfg(test)]
mod tests {
    use chrono::{DateTime, TimeDelta, Utc};

    use super::pause;

    #[test]
    fn f_36_retry_after_is_seconds_or_a_date_and_junk_is_passed_over() {
        let now: DateTime<Utc> = "1994-11-06T08:47:37Z".parse().unwrap();
        // The example of a date is that of RFC 9110, 5.6.7.
        for (text, seconds) in [
            ("120", Some(120)),
            ("0", Some(0)),
            ("99999999999999999999", Some(i64::from(u32::MAX))),
            ("Sun, 06 Nov 1994 08:49:37 GMT", Some(120)),
            ("Sun, 06 Nov 1994 08:47:07 GMT", Some(-30)),
            ("-5", None),
            ("1.5", None),
            ("soon", None),
            ("", None),
            ("１２０", None),
        ] {
            assert_eq!(pause(text, now), seconds.map(TimeDelta::seconds), "{text}");
        }
    }
}
