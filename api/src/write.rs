//! Writes: one transaction for the effect, its events and the answer to its idempotency key.
//!
//! The behaviour is that of the IETF draft on the Idempotency-Key header (draft 07, expired, not an RFC): the same
//! key with the same request answers what the first answered, byte for byte; with another request it is refused.
//! Only committed successes are remembered, so a request that failed may be sent again with its key. A write that
//! others got in the way of is tried three times, whole.

mod key;

use actix_web::{
    HttpResponse,
    http::{
        StatusCode,
        header::{self, HeaderMap, HeaderName},
    },
};
use domain::id::TenantId;
use infra::store::{Begin, By, StoreError, StoredReply, Tx};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use uuid::Uuid;

use self::key::{fingerprint, key};
use crate::{
    audit::{self, Deed},
    auth::{Actor, Scope},
    body::RawRequest,
    context::Context,
    etag::{self, Expected},
    problem::{Code, Problem},
    query::Query,
    seal::Place,
    wire,
};

const IDEMPOTENCY_KEY: HeaderName = HeaderName::from_static("idempotency-key");
/// Says that an answer was given before.
pub(crate) const REPLAYED: HeaderName = HeaderName::from_static("idempotent-replayed");
/// The longest key, in bytes.
const MAX_KEY: usize = 255;
/// How often a write is tried.
const ATTEMPTS: u32 = 3;
const JSON: &str = "application/json";

/// Whether a write needs an idempotency key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum KeyRule {
    /// Taken if sent.
    Optional,
    /// Refused without: what is recorded counts, and twice would be wrong.
    Required,
}

/// A successful answer: what is sent now is what is sent again for the same key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Reply {
    status: u16,
    head: Head,
    body: Vec<u8>,
}

/// The headers of a reply, as they are kept.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct Head {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    content_type: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    location: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    etag: Option<String>,
    /// Whether the body is kept sealed, because it holds a secret.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    sealed: bool,
}

impl Reply {
    /// 201 for a record that now exists at a path, with its document.
    pub(crate) fn created(path: String, version: i64, document: String) -> Self {
        let mut reply = Self {
            status: 201,
            ..Self::found(version, document)
        };
        reply.head.location = Some(path);
        reply
    }

    /// 202 for work that is yet to be done, with the document of the record that stands for it at a path.
    pub(crate) fn accepted(path: String, version: i64, document: String) -> Self {
        Self {
            status: 202,
            ..Self::created(path, version, document)
        }
    }

    /// 200 with a record's document and the tag of its version.
    pub(crate) fn found(version: i64, document: String) -> Self {
        let mut reply = Self::plain(document);
        reply.head.etag = Some(etag::tag(version));
        reply
    }

    /// 200 with JSON that is not a record.
    pub(crate) fn plain(json: String) -> Self {
        let head = Head {
            content_type: Some(JSON.to_owned()),
            location: None,
            etag: None,
            sealed: false,
        };
        Self {
            status: 200,
            head,
            body: json.into_bytes(),
        }
    }

    /// 204: the record is not there any more.
    pub(crate) const fn gone() -> Self {
        Self {
            status: 204,
            head: Head {
                content_type: None,
                location: None,
                etag: None,
                sealed: false,
            },
            body: Vec::new(),
        }
    }

    /// The same, which holds a secret: it is kept sealed.
    #[must_use]
    pub(crate) fn secret(mut self) -> Self {
        self.head.sealed = true;
        self
    }

    /// The answer, or 304 if the caller already has this version.
    pub(crate) fn unless_known(self, headers: &HeaderMap) -> HttpResponse {
        match &self.head.etag {
            Some(etag) if etag::is_known(headers, etag) => HttpResponse::NotModified()
                .insert_header((header::ETAG, etag.as_str()))
                .finish(),
            Some(_) | None => self.answer(false),
        }
    }

    fn answer(self, replayed: bool) -> HttpResponse {
        let status = StatusCode::from_u16(self.status).unwrap_or(StatusCode::OK);
        let mut answer = HttpResponse::build(status);
        if let Some(content_type) = self.head.content_type {
            answer.insert_header((header::CONTENT_TYPE, content_type));
        }
        if let Some(location) = self.head.location {
            answer.insert_header((header::LOCATION, location));
        }
        if let Some(etag) = self.head.etag {
            answer.insert_header((header::ETAG, etag));
        }
        if replayed {
            answer.insert_header((REPLAYED, "true"));
        }
        answer.body(self.body)
    }
}

/// Does a write in one transaction of the actor's tenant and answers what `effect` replies.
///
/// `effect` may run more than once and must do everything through the transaction that it is given; what it does
/// is kept only if it replies.
///
/// # Errors
/// The problem of `effect`; `unknown_parameter`, `idempotency_key_required`, `invalid_idempotency_key`, `idempotency_in_flight`,
/// `idempotency_key_reused`; `contended` if others were in the way three times.
pub(crate) async fn run<S, F>(
    ctx: &Context,
    actor: &Actor<S>,
    raw: &RawRequest,
    rule: KeyRule,
    effect: F,
) -> Result<HttpResponse, Problem>
where
    S: Scope,
    F: AsyncFn(&Tx) -> Result<Reply, Problem>,
{
    // No other write takes query parameters.
    Query::parse(&raw.query).finish()?;
    run_queried(ctx, actor, raw, rule, effect).await
}

/// The same for a write whose query parameters were read already.
///
/// # Errors
/// As [`run`].
pub(crate) async fn run_queried<S, F>(
    ctx: &Context,
    actor: &Actor<S>,
    raw: &RawRequest,
    rule: KeyRule,
    effect: F,
) -> Result<HttpResponse, Problem>
where
    S: Scope,
    F: AsyncFn(&Tx) -> Result<Reply, Problem>,
{
    let key = key(&raw.headers, rule)?;
    let key = key.map(|text| Key {
        client: actor.client_id(),
        text,
        fingerprint: fingerprint(raw, actor.contractor()),
    });
    let _turn = match &key {
        Some(key) => {
            let turn = ctx
                .running
                .begin(actor.tenant(), key.client, key.text)
                .await;
            Some(turn.ok_or_else(in_flight)?)
        }
        None => None,
    };
    // Whoever changes any version cannot be too late: the change is made to the version that is there now.
    let any = matches!(Expected::of(&raw.headers), Ok(Expected::Any));
    attempts(ctx, actor.tenant(), &actor.by(), async |tx| {
        let done = once(ctx, tx, (actor.operation(), raw), key.as_ref(), &effect).await;
        done.map_err(|problem| match problem.code() {
            Code::StaleVersion if any => StoreError::Contended.into(),
            _ => problem,
        })
    })
    .await
}

/// Does `work`, which begins with a new transaction of the tenant and ends it: again, whole, where others got in the way.
///
/// # Errors
/// Those of `work`; `contended` if others were in the way three times.
pub(crate) async fn attempts<R>(
    ctx: &Context,
    tenant: TenantId,
    by: &By,
    work: impl AsyncFn(Tx) -> Result<R, Problem>,
) -> Result<R, Problem> {
    let mut attempt = 1;
    loop {
        // Who waited for the one writer's turn in vain is told so at once: trying again would double the queue.
        let tx = ctx.store.begin(tenant).await?.signed_by(by.clone());
        match work(tx).await {
            Err(problem) if problem.code() == Code::Contended && attempt < ATTEMPTS => attempt += 1,
            Ok(done) => {
                // What was written was told of, and somebody may be waiting to hear it.
                ctx.outbound.notify_one();
                return Ok(done);
            }
            Err(problem) => return Err(problem),
        }
    }
}

/// The answer to who sends something again before the first time is done with.
pub(crate) fn in_flight() -> Problem {
    let detail = "The first request with this key is not finished.";
    Problem::new(Code::IdempotencyInFlight, detail)
}

/// An idempotency key and the request that it was sent with.
struct Key<'a> {
    client: &'a str,
    text: &'a str,
    fingerprint: String,
}

impl Key<'_> {
    /// Where an answer that holds a secret is kept.
    fn place(&self, tenant: TenantId) -> Place {
        let mut hash = Sha256::new();
        for part in [self.client, self.text] {
            hash.update(part.len().to_be_bytes());
            hash.update(part);
        }
        let digest = hash.finalize();
        let row = Uuid::from_slice(digest.get(..16).unwrap_or_default());
        Place {
            tenant,
            purpose: "idempotent_answer",
            row: row.unwrap_or_default(),
        }
    }
}

async fn once<F>(
    ctx: &Context,
    tx: Tx,
    (operation, raw): (&str, &RawRequest),
    key: Option<&Key<'_>>,
    effect: &F,
) -> Result<HttpResponse, Problem>
where
    F: AsyncFn(&Tx) -> Result<Reply, Problem>,
{
    if let Some(key) = key {
        let now = ctx.clock.now();
        match tx
            .idempotency()
            .begin(key.client, key.text, &key.fingerprint, now)
            .await?
        {
            Begin::Started => {}
            Begin::Stored(stored) => {
                let place = key.place(tx.tenant());
                return replay(ctx, &place, stored).map(|reply| reply.answer(true));
            }
            Begin::InFlight => return Err(in_flight()),
            Begin::OtherFingerprint => {
                let detail = "The key came with another request before.";
                return Err(Problem::new(Code::IdempotencyKeyReused, detail));
            }
        }
    }
    let reply = effect(&tx).await?;
    if let Some(key) = key {
        let headers = wire::document(&reply.head)?;
        let keep = async |body: &[u8]| tx.idempotency().finish(reply.status, &headers, body).await;
        if reply.head.sealed {
            let sealed = ctx.seals.seal(&key.place(tx.tenant()), &reply.body)?;
            keep(sealed.as_bytes()).await?;
        } else {
            keep(&reply.body).await?;
        }
        if ctx.running.is_to_sweep() {
            tx.idempotency().sweep(ctx.clock.now()).await?;
        }
    }
    let deed = Deed {
        operation,
        resource: reply
            .head
            .location
            .as_deref()
            .unwrap_or_else(|| audit::record_of(&raw.path)),
        after: (!reply.head.sealed && !reply.body.is_empty()).then_some(reply.body.as_slice()),
    };
    audit::append(&tx, deed, ctx.clock.now()).await?;
    tx.commit().await?;
    Ok(reply.answer(false))
}

/// The answer that was kept.
fn replay(ctx: &Context, place: &Place, stored: StoredReply) -> Result<Reply, Problem> {
    let head: Head =
        serde_json::from_str(&stored.headers).map_err(|error| Problem::internal(&error))?;
    let body = if head.sealed {
        ctx.seals
            .open(place, &String::from_utf8_lossy(&stored.body))?
    } else {
        stored.body
    };
    Ok(Reply {
        status: stored.status,
        head,
        body,
    })
}
