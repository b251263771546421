//! Reads request bodies: one strict reader for every route, so that no route is laxer than another.
//!
//! In this order: media type and encoding (415 before a byte is read), size (413) and time (408), JSON (400),
//! characters and schema (422, every fault of both at once). What comes out is a value of the request type and the raw
//! request, from which the fingerprint of an idempotent write is made.

mod fault;
mod file;
mod schema;
mod strict;
mod text;

use fault::UNKNOWN_MEMBER;
pub(crate) use fault::{Fault, Faults, MAX_FAULTS};
pub(crate) use file::BuildingFile;
pub(crate) use schema::Validators;
pub(crate) use strict::{JsonFault, parse};
pub(crate) use text::is_forbidden;

use actix_web::{
    FromRequest, HttpRequest,
    dev::Payload,
    http::{
        Method,
        header::{self, HeaderMap, HeaderName, HeaderValue},
    },
    web::{self, Bytes, BytesMut},
};
use futures_util::{StreamExt, future::LocalBoxFuture};
use serde::de::DeserializeOwned;
use serde_json::Value;
use utoipa::ToSchema;

use crate::{
    config::Deadlines,
    context::Context,
    problem::{Code, Problem},
    wire,
};

/// The largest body of an ordinary request, in bytes.
pub(crate) const MAX_BODY: usize = 256 * 1024;
/// The largest body of a batch request, in bytes.
pub(crate) const MAX_BATCH: usize = 5 * 1024 * 1024;
/// The largest body of a request that says nothing in it, in bytes.
const MAX_BARE: usize = 1024;
/// How much is set aside for a body on the word of its `Content-Length`, in bytes.
const FIRST_BUFFER: usize = 64 * 1024;

const JSON: &str = "application/json";
const FORM: &str = "application/x-www-form-urlencoded";
const MERGE_PATCH: &str = "application/merge-patch+json";
const ACCEPT_POST: HeaderName = HeaderName::from_static("accept-post");
const ACCEPT_PATCH: HeaderName = HeaderName::from_static("accept-patch");

/// A request as it was sent: what an idempotent write is recognised by.
#[derive(Debug, Clone)]
pub(crate) struct RawRequest {
    /// The method.
    pub(crate) method: Method,
    /// The path, still encoded.
    pub(crate) path: String,
    /// The query string, still encoded.
    pub(crate) query: String,
    /// The media type of the body.
    pub(crate) content_type: String,
    /// The body.
    pub(crate) body: Bytes,
    /// The headers.
    pub(crate) headers: HeaderMap,
}

/// A body of at most `LIMIT` bytes that is valid by the schema of `T`.
#[derive(Debug)]
pub(crate) struct Strict<T, const LIMIT: usize = MAX_BODY> {
    /// What the body says.
    pub(crate) value: T,
    /// The request as it was sent.
    pub(crate) raw: RawRequest,
}

impl<T, const LIMIT: usize> FromRequest for Strict<T, LIMIT>
where
    T: DeserializeOwned + ToSchema + 'static,
{
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let (request, payload) = (request.clone(), payload.take());
        Box::pin(async move {
            let (value, raw) = read(&request, payload, LIMIT).await?;
            Ok(Self { value, raw })
        })
    }
}

/// A request that says nothing in its body: it has none, or an empty object.
#[derive(Debug)]
pub(crate) struct Bare {
    /// The request as it was sent.
    pub(crate) raw: RawRequest,
}

impl FromRequest for Bare {
    type Error = Problem;
    type Future = LocalBoxFuture<'static, Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let (request, payload) = (request.clone(), payload.take());
        Box::pin(async move {
            let body = in_time(&request, gather(&request, payload, MAX_BARE)).await?;
            if !matches!(body.trim_ascii(), b"" | b"{}") {
                let fault = Fault::at(
                    "#",
                    "unknown_member",
                    "Send no body here, or an empty object.",
                );
                return Err(Problem::with_faults(Code::InvalidBody, vec![fault]));
            }
            // Many clients send `{}` where there is nothing to say: to an idempotency key it is the same request.
            let raw = raw(&request, "", Bytes::new());
            Ok(Self { raw })
        })
    }
}

/// Reads a body of at most `limit` bytes.
///
/// # Errors
/// `unsupported_media_type`, `body_too_large`, `request_timeout`, `malformed_json`, `duplicate_member`,
/// `invalid_body`.
async fn read<T: DeserializeOwned + ToSchema>(
    request: &HttpRequest,
    payload: Payload,
    limit: usize,
) -> Result<(T, RawRequest), Problem> {
    let raw = receive(request, payload, limit).await?;
    let value = into_typed("#", into_value(&raw.body)?)?;
    Ok((value, raw))
}

/// Reads the bytes of a body whose media type is right for the method, without looking into it.
///
/// # Errors
/// `unsupported_media_type`, `body_too_large`, `request_timeout`, `bad_request`.
pub(crate) async fn receive(
    request: &HttpRequest,
    payload: Payload,
    limit: usize,
) -> Result<RawRequest, Problem> {
    let content_type = media_type(request)?;
    let body = in_time(request, gather(request, payload, limit)).await?;
    Ok(raw(request, content_type, body))
}

/// Reads the bytes of what an HTML form sends.
///
/// # Errors
/// `unsupported_media_type`, `body_too_large`, `request_timeout`, `bad_request`.
pub(crate) async fn receive_form(
    request: &HttpRequest,
    payload: Payload,
    limit: usize,
) -> Result<RawRequest, Problem> {
    let content_type = of_type(request, FORM)?;
    let body = in_time(request, gather(request, payload, limit)).await?;
    Ok(raw(request, content_type, body))
}

/// What arrives in time.
async fn in_time(
    request: &HttpRequest,
    body: impl Future<Output = Result<Bytes, Problem>>,
) -> Result<Bytes, Problem> {
    let ctx = request.app_data::<web::Data<Context>>();
    let deadline = ctx
        .map_or_else(Deadlines::default, |ctx| ctx.deadlines)
        .body;
    let body = tokio::time::timeout(deadline, body).await;
    body.unwrap_or_else(|_elapsed| {
        let seconds = deadline.as_secs_f64();
        let detail = format!("The body did not arrive within {seconds} seconds.");
        Err(Problem::new(Code::RequestTimeout, detail))
    })
}

fn raw(request: &HttpRequest, content_type: &str, body: Bytes) -> RawRequest {
    RawRequest {
        method: request.method().clone(),
        path: request.path().to_owned(),
        query: request.query_string().to_owned(),
        content_type: content_type.to_owned(),
        body,
        headers: request.headers().clone(),
    }
}

/// A JSON value and what is wrong with the characters and numbers in it.
#[derive(Debug, Clone)]
pub(crate) struct Sent {
    /// The value.
    pub(crate) value: Value,
    /// The faults, to be told together with those of the schema.
    faults: Vec<Fault>,
}

/// Reads JSON and brings its strings to the form in which they are stored.
///
/// # Errors
/// `malformed_json`, `duplicate_member`; `invalid_body` for a number that cannot be held.
pub(crate) fn into_value(body: &[u8]) -> Result<Sent, Problem> {
    let mut value = parse(body).map_err(refuse)?;
    let faults = text::normalise(&mut value);
    Ok(Sent { value, faults })
}

impl Sent {
    /// A value that was read before, without faults.
    pub(crate) const fn sound(value: Value) -> Self {
        Self {
            value,
            faults: Vec::new(),
        }
    }

    /// Whether a member of the value is `true`.
    pub(crate) fn asks(&self, member: &str) -> bool {
        self.value.get(member) == Some(&Value::Bool(true))
    }

    /// The same faults with another value.
    pub(crate) fn with(&self, value: Value) -> Self {
        Self {
            value,
            faults: self.faults.clone(),
        }
    }
}

/// Holds a value to the schema of `T` and reads it; `root` is its pointer.
///
/// # Errors
/// `invalid_body` with every fault of characters and schema; `internal` if `T` is not a component of the API
/// description.
pub(crate) fn into_typed<T: DeserializeOwned + ToSchema>(
    root: &str,
    Sent { value, mut faults }: Sent,
) -> Result<T, Problem> {
    faults.extend(broken::<T>(root, &value)?);
    if !faults.is_empty() {
        return Err(Problem::with_faults(Code::InvalidBody, faults));
    }
    serde_json::from_value(value).map_err(|error| laxer(root, &error))
}

/// The same, but passes over members that nobody knows: others may add to what they send before we know it.
///
/// # Errors
/// As [`into_typed`].
pub(crate) fn into_lenient<T: DeserializeOwned + ToSchema>(
    root: &str,
    Sent { value, mut faults }: Sent,
) -> Result<T, Problem> {
    let broken = broken::<T>(root, &value)?;
    faults.extend(
        broken
            .into_iter()
            .filter(|fault| fault.code != UNKNOWN_MEMBER),
    );
    if !faults.is_empty() {
        return Err(Problem::with_faults(Code::InvalidBody, faults));
    }
    wire::lenient(value).map_err(|error| laxer(root, &error))
}

/// Every way in which a value breaks the schema of `T`.
fn broken<T: ToSchema>(root: &str, value: &Value) -> Result<Vec<Fault>, Problem> {
    let validators = Validators::shared().map_err(|fault| Problem::internal(&fault))?;
    let broken = validators.faults::<T>(root, value);
    broken.map_err(|fault| Problem::internal(&fault))
}

/// A schema that is laxer than the type is our mistake, but the body is still what the type cannot hold.
fn laxer(root: &str, error: &serde_json::Error) -> Problem {
    tracing::warn!(cause = %error, "a schema let through what its type refuses");
    let detail = "The value does not have the documented form.";
    Problem::with_faults(Code::InvalidBody, vec![Fault::at(root, "schema", detail)])
}

/// Refuses a body that is compressed or otherwise encoded: inflating is where a small body becomes a large one.
///
/// # Errors
/// `unsupported_media_type`.
pub(crate) fn refuse_encoding(method: &Method, headers: &HeaderMap) -> Result<(), Problem> {
    let plain = |value: &HeaderValue| value.as_bytes().eq_ignore_ascii_case(b"identity");
    if headers.get_all(header::CONTENT_ENCODING).all(plain) {
        return Ok(());
    }
    Err(unsupported(
        method,
        "Bodies are read as they are: send no `Content-Encoding`.",
    ))
}

/// The media type of the body, if it is the one that the method takes.
fn media_type(request: &HttpRequest) -> Result<&'static str, Problem> {
    let wanted = if request.method() == Method::PATCH {
        MERGE_PATCH
    } else {
        JSON
    };
    of_type(request, wanted)
}

/// The media type of the body, if it is this one.
fn of_type(request: &HttpRequest, wanted: &'static str) -> Result<&'static str, Problem> {
    let mut sent = request.headers().get_all(header::CONTENT_TYPE);
    let (Some(sent), None) = (sent.next(), sent.next()) else {
        return Err(unsupported(request.method(), "Send one `Content-Type`."));
    };
    let sent = sent.to_str().unwrap_or_default();
    let (essence, parameters) = sent.split_once(';').unwrap_or((sent, "charset=utf-8"));
    let parameters = parameters.trim().replace('"', "");
    let is_utf8 = parameters.eq_ignore_ascii_case("charset=utf-8");
    if essence.trim().eq_ignore_ascii_case(wanted) && is_utf8 {
        return Ok(wanted);
    }
    let refused = unsupported(request.method(), format!("Send `Content-Type: {wanted}`."));
    Err(if wanted == FORM {
        refused.header(ACCEPT_POST, HeaderValue::from_static(FORM))
    } else {
        refused
    })
}

fn unsupported(method: &Method, detail: impl Into<std::borrow::Cow<'static, str>>) -> Problem {
    let (name, value) = if method == Method::PATCH {
        (ACCEPT_PATCH, MERGE_PATCH)
    } else {
        (ACCEPT_POST, JSON)
    };
    Problem::new(Code::UnsupportedMediaType, detail).header(name, HeaderValue::from_static(value))
}

/// Gathers the body; one that declares too much is refused before it is read.
async fn gather(
    request: &HttpRequest,
    mut payload: Payload,
    limit: usize,
) -> Result<Bytes, Problem> {
    let too_large = || {
        Problem::new(
            Code::BodyTooLarge,
            format!("The body may have up to {limit} bytes."),
        )
    };
    let declared = request.headers().get(header::CONTENT_LENGTH);
    let declared = declared.and_then(|length| length.to_str().ok()?.parse::<usize>().ok());
    if declared.is_some_and(|length| length > limit) {
        return Err(too_large());
    }
    let mut body = BytesMut::with_capacity(declared.unwrap_or(0).min(FIRST_BUFFER));
    while let Some(chunk) = payload.next().await {
        let chunk = chunk?;
        if body.len().saturating_add(chunk.len()) > limit {
            return Err(too_large());
        }
        body.extend_from_slice(&chunk);
    }
    Ok(body.freeze())
}

fn refuse(fault: JsonFault) -> Problem {
    let detail = fault.to_string();
    let (code, pointer, word, told) = match fault {
        JsonFault::Duplicate { pointer } => (
            Code::DuplicateMember,
            pointer,
            "duplicate_member",
            "This member is named twice.",
        ),
        JsonFault::Reserved { pointer } => (
            Code::InvalidBody,
            pointer,
            UNKNOWN_MEMBER,
            "There is no member of this name: leave it out.",
        ),
        JsonFault::NumberTooLarge => (
            Code::InvalidBody,
            "#".to_owned(),
            "number_out_of_range",
            "A number is larger than any that is read here.",
        ),
        JsonFault::TooDeep | JsonFault::Syntax { .. } => {
            return Problem::new(Code::MalformedJson, format!("The body is {detail}."));
        }
    };
    Problem::with_faults(code, vec![Fault::at(pointer, word, told)])
}
