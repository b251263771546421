//! What happens to every request, before and after its route: a name, a span, limits, headers.
//!
//! Nothing gets past this without a request id, a deadline and the security headers; a panic further in becomes
//! a 500 like any other and costs nobody else their answer.

use std::{panic::AssertUnwindSafe, time::Duration};

use actix_web::{
    Error, ResponseError,
    body::{BoxBody, MessageBody},
    dev::{ServiceRequest, ServiceResponse},
    error::InternalError,
    http::{
        StatusCode,
        header::{self, HeaderMap, HeaderName, HeaderValue},
    },
    middleware::Next,
    web,
};
use futures_util::FutureExt;
use tracing::{Instrument, field};

use crate::{body, call::Call, context::Context, problem::Problem, trace};

/// The name of a request, as callers send it and as we send it back.
const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");
/// What a page of ours may do: nothing.
const CSP: HeaderValue = HeaderValue::from_static("default-src 'none'; frame-ancestors 'none'");

/// A handler that panicked.
#[derive(Debug, thiserror::Error)]
#[error("a handler panicked: {0}")]
struct Panicked(String);

/// Serves one request.
///
/// # Errors
/// Only with an answer inside: where there is no route to answer through.
pub(crate) async fn serve(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let Some(ctx) = request.app_data::<web::Data<Context>>().cloned() else {
        return Err(Problem::internal(&Panicked("no context".to_owned())).into());
    };
    let sent = request
        .headers()
        .get(REQUEST_ID)
        .and_then(|id| id.to_str().ok());
    let call = Call::new(sent, &ctx.base);
    let id = HeaderValue::from_str(&call.id);
    let span = tracing::info_span!(
        "http.request",
        request_id = %call.id,
        trace_id = %trace::id_of(request.headers()),
        method = %request.method(),
        tenant = field::Empty,
        client = field::Empty,
        subject = field::Empty,
    );
    let method = request.method().clone();
    // Asked for now: who panics or is out of time has no request left to ask.
    let route = request.match_pattern().unwrap_or_default();
    let _active = ctx.metrics.begin();
    let started = tokio::time::Instant::now();
    // An error becomes its answer while the call is known: the answer names it.
    let work = async {
        answer(request, next, ctx.deadlines.long)
            .await
            .map_err(|error| error.error_response())
    };
    let mut answer = call.scope(work.instrument(span.clone())).await;
    let status = match &mut answer {
        Ok(answer) => {
            secure(answer.headers_mut(), id.as_ref().ok());
            answer.status()
        }
        Err(refused) => {
            secure(refused.headers_mut(), id.as_ref().ok());
            refused.status()
        }
    };
    let took = started.elapsed();
    ctx.metrics.answered(&method, &route, status, took);
    span.in_scope(|| tell(&route, status, took));
    answer.map_err(|refused| InternalError::from_response("refused", refused).into())
}

/// The answer of the route, or why there is none.
async fn answer(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
    deadline: Duration,
) -> Result<ServiceResponse<BoxBody>, Error> {
    if let Err(problem) = body::refuse_encoding(request.method(), request.headers()) {
        return Ok(request.into_response(problem.error_response()));
    }
    let work = AssertUnwindSafe(next.call(request)).catch_unwind();
    match tokio::time::timeout(deadline, work).await {
        Ok(Ok(answer)) => Ok(answer?.map_into_boxed_body()),
        Ok(Err(panic)) => {
            let text = panic.downcast_ref::<&str>().map(|text| (*text).to_owned());
            let text = text.or_else(|| panic.downcast_ref::<String>().cloned());
            Err(Problem::internal(&Panicked(text.unwrap_or_default())).into())
        }
        Err(_elapsed) => Err(Problem::timed_out(deadline).into()),
    }
}

/// One line for each request; the span says which. What is known only now belongs to the line: each field that a span
/// learns later has its whole text written anew.
fn tell(route: &str, status: StatusCode, took: Duration) {
    let (status, duration_ms) = (status.as_u16(), took.as_secs_f64() * 1000.0);
    if status >= 500 {
        tracing::warn!(route, status, duration_ms, "request failed");
    } else {
        tracing::info!(route, status, duration_ms, "request served");
    }
}

/// The headers of every answer.
fn secure(headers: &mut HeaderMap, id: Option<&HeaderValue>) {
    let cache = if headers.contains_key(header::ETAG) {
        "private, no-cache"
    } else {
        "no-store"
    };
    let fixed = [
        (header::CACHE_CONTROL, HeaderValue::from_static(cache)),
        (header::CONTENT_SECURITY_POLICY, CSP),
        (
            header::REFERRER_POLICY,
            HeaderValue::from_static("no-referrer"),
        ),
        (
            header::VARY,
            HeaderValue::from_static("Accept, Authorization"),
        ),
        (
            header::X_CONTENT_TYPE_OPTIONS,
            HeaderValue::from_static("nosniff"),
        ),
    ];
    for (name, value) in fixed {
        if !headers.contains_key(&name) {
            headers.insert(name, value);
        }
    }
    if let Some(id) = id {
        headers.insert(REQUEST_ID, id.clone());
    }
}

#[cfg(test)]
mod tests;
