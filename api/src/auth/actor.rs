//! The actor: proof in a handler's signature that the caller may do what the handler does.

use std::{
    future::{Ready, ready},
    marker::PhantomData,
    rc::Rc,
    sync::Arc,
};

use actix_web::{
    Error, FromRequest, HttpMessage, HttpRequest, ResponseError,
    body::BoxBody,
    dev::{Payload, ServiceRequest, ServiceResponse},
    http::header::{self, HeaderMap, HeaderValue},
    middleware::Next,
    web,
};
use chrono::{DateTime, Utc};
use domain::id::{ContractorId, TenantId};
use infra::store::By;
use uuid::Uuid;

use super::{
    published::Keys,
    token::{Claims, TokenFault, UNKNOWN_KEY},
};
use crate::{
    context::Context,
    limit,
    problem::{Code, Problem},
};

/// Something that a token can allow.
pub(crate) trait Scope: 'static {
    /// As it stands in the token.
    const NAME: &'static str;
}

/// Who calls.
#[derive(Debug)]
struct Identity {
    tenant: TenantId,
    operation: &'static str,
    claims: Arc<Claims>,
}

/// A caller who may do what the scope `S` allows, for one tenant.
#[derive(Debug)]
pub(crate) struct Actor<S: Scope> {
    identity: Rc<Identity>,
    scope: PhantomData<S>,
}

impl<S: Scope> Actor<S> {
    /// The tenant: every row that is read or written is theirs.
    pub(crate) fn tenant(&self) -> TenantId {
        self.identity.tenant
    }

    /// The contractor whose work alone the caller may report and see; none if the token is bound to nobody.
    pub(crate) fn contractor(&self) -> Option<ContractorId> {
        self.identity.claims.contractor
    }

    /// The contractor whose work is to be looked for where that of `asked` is asked for.
    pub(crate) fn work_of(&self, asked: Option<ContractorId>) -> Option<ContractorId> {
        match (self.contractor(), asked) {
            // Told like one that never was: no record has this id.
            (Some(own), Some(other)) if own != other => Some(ContractorId::from_uuid(Uuid::nil())),
            (own, asked) => own.or(asked),
        }
    }

    /// The program that calls; idempotency keys are its own.
    pub(crate) fn client_id(&self) -> &str {
        &self.identity.claims.client_id
    }

    /// The operation that is called.
    pub(crate) fn operation(&self) -> &'static str {
        self.identity.operation
    }

    /// Who acts, as it is kept with what is written.
    pub(crate) fn by(&self) -> By {
        let claims = &self.identity.claims;
        By {
            client: claims.client_id.clone(),
            subject: claims.subject.clone(),
        }
    }
}

impl<S: Scope> FromRequest for Actor<S> {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let identity = request.extensions().get::<Rc<Identity>>().map(Rc::clone);
        ready(match identity {
            Some(identity) if holds(&identity.claims, S::NAME) => Ok(Self {
                identity,
                scope: PhantomData,
            }),
            Some(_) => Err(insufficient(S::NAME)),
            None => Err(missing()),
        })
    }
}

/// What a route asks of who calls it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Door {
    /// The scope that the token must carry.
    pub(crate) scope: &'static str,
    /// The id of the operation.
    pub(crate) operation: &'static str,
    /// Whether the answer may take as long as that of a report.
    pub(crate) is_long: bool,
}

/// Lets a request through to a route if its token is good and carries the scope.
///
/// Runs before the route's extractors, so that nothing of a request is looked at for a stranger.
///
/// # Errors
/// Those of the route.
pub(crate) async fn guard(
    door: Door,
    request: ServiceRequest,
    next: Next<BoxBody>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let Some(ctx) = request.app_data::<web::Data<Context>>().cloned() else {
        return Err(Problem::internal(&TokenFault("no context")).into());
    };
    match identify(&ctx, &request, door).await {
        Ok(identity) => {
            let (span, claims) = (tracing::Span::current(), &identity.claims);
            span.record("tenant", claims.tenant.as_str());
            span.record("client", claims.client_id.as_str());
            span.record("subject", claims.subject.as_str());
            request.extensions_mut().insert(Rc::new(identity));
            let deadline = if door.is_long {
                ctx.deadlines.long
            } else {
                ctx.deadlines.handler
            };
            let answer = tokio::time::timeout(deadline, next.call(request)).await;
            answer.unwrap_or_else(|_elapsed| Err(Problem::timed_out(deadline).into()))
        }
        Err(problem) => Ok(request.into_response(problem.error_response())),
    }
}

/// Who calls. A token that is refused counts for its source, one that is good for its tenant.
async fn identify(
    ctx: &Context,
    request: &ServiceRequest,
    door: Door,
) -> Result<Identity, Problem> {
    let now = ctx.clock.now();
    let known = known(ctx, request.headers(), now).await;
    let (tenant, claims) = known.map_err(|problem| {
        let proxies = &ctx.limits.proxies;
        let source = limit::source_of(request.peer_addr(), request.headers(), proxies);
        ctx.limits.refused(problem, source, now)
    })?;
    ctx.limits.admit(tenant, now)?;
    if !holds(&claims, door.scope) {
        tracing::info!(tenant = %tenant, scope = door.scope, "a token without the scope was refused");
        return Err(insufficient(door.scope));
    }
    Ok(Identity {
        tenant,
        operation: door.operation,
        claims,
    })
}

/// The tenant and the claims of a good token.
async fn known(
    ctx: &Context,
    headers: &HeaderMap,
    now: DateTime<Utc>,
) -> Result<(TenantId, Arc<Claims>), Problem> {
    let claims = claims(ctx, bearer(headers)?, now).await?;
    let tenant = ctx.tenants.find(&ctx.store, &claims.tenant, now).await?;
    let tenant = tenant.ok_or_else(|| invalid(TokenFault("an unknown tenant")))?;
    let of = (tenant, &*claims);
    if ctx.revoked.refuses(&ctx.store, of, now).await? {
        return Err(invalid(TokenFault("revoked")));
    }
    Ok((tenant, claims))
}

/// What a token says, checked with the keys of the configuration or with those that the issuer publishes.
async fn claims(ctx: &Context, token: &str, now: DateTime<Utc>) -> Result<Arc<Claims>, Problem> {
    let Some(published) = &ctx.published else {
        let check = || ctx.verifier.verify(token, now);
        let told = ctx.accepted.claims(token, None, now, check);
        return told.map_err(invalid);
    };
    let keys = published.keys(now).await;
    let keys = keys.ok_or_else(|| {
        let detail = "The keys of the tokens' issuer cannot be read.";
        Problem::new(Code::Unavailable, detail)
    })?;
    let told = |keys: &Keys| {
        let check = || ctx.verifier.verify_with(keys, token, now);
        ctx.accepted.claims(token, Some(keys), now, check)
    };
    match told(&keys) {
        Err(fault) if fault == UNKNOWN_KEY => match published.renewed(&keys, now).await {
            Some(keys) => told(&keys).map_err(invalid),
            None => Err(invalid(fault)),
        },
        told => told.map_err(invalid),
    }
}

/// The token of the one `Authorization` header (RFC 6750, section 2.1); no other place is looked at.
fn bearer(headers: &HeaderMap) -> Result<&str, Problem> {
    let mut sent = headers.get_all(header::AUTHORIZATION);
    let (sent, more) = (sent.next(), sent.next());
    if more.is_some() {
        return Err(Problem::new(
            Code::BadRequest,
            "Send one `Authorization` header.",
        ));
    }
    let credentials = sent
        .and_then(|value| value.to_str().ok())
        .unwrap_or_default();
    let (scheme, token) = credentials.split_once(' ').unwrap_or((credentials, ""));
    if scheme.eq_ignore_ascii_case("bearer") {
        Ok(token.trim())
    } else {
        Err(missing())
    }
}

fn holds(claims: &Claims, scope: &str) -> bool {
    claims.scopes.iter().any(|held| held == scope)
}

fn challenge(problem: Problem, error: &str) -> Problem {
    let value = format!("Bearer realm=\"wearcourse\"{error}");
    let value = HeaderValue::from_str(&value);
    problem.header(
        header::WWW_AUTHENTICATE,
        value.unwrap_or_else(|_| HeaderValue::from_static("Bearer")),
    )
}

fn missing() -> Problem {
    challenge(
        Problem::new(Code::TokenRequired, "Send `Authorization: Bearer <token>`."),
        "",
    )
}

/// One text for every reason: what is wrong with a token is for its issuer, not for whoever sends it.
fn invalid(fault: TokenFault) -> Problem {
    tracing::info!(reason = %fault, "an access token was refused");
    let problem = Problem::new(Code::InvalidToken, "The access token is not accepted.");
    challenge(problem, ", error=\"invalid_token\"")
}

fn insufficient(scope: &str) -> Problem {
    let problem = Problem::new(
        Code::InsufficientScope,
        format!("The token needs the scope `{scope}`."),
    );
    challenge(
        problem,
        &format!(", error=\"insufficient_scope\", scope=\"{scope}\""),
    )
}
