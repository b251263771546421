//! The key that makes a request one that is done once, and what tells two requests apart.

use actix_web::http::header::HeaderMap;
use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use domain::id::ContractorId;
use sha2::{Digest, Sha256};

use super::{IDEMPOTENCY_KEY, KeyRule, MAX_KEY};
use crate::{
    body::{Fault, RawRequest},
    problem::{Code, Problem},
};

/// The key of a request, with or without the quotes of a structured field.
pub(super) fn key(headers: &HeaderMap, rule: KeyRule) -> Result<Option<&str>, Problem> {
    let mut sent = headers.get_all(IDEMPOTENCY_KEY);
    let Some(value) = sent.next() else {
        let missing = || {
            let fault = Fault::header(
                "Idempotency-Key",
                "required",
                "This header is required here.",
            );
            Problem::with_faults(Code::IdempotencyKeyRequired, vec![fault])
        };
        return if rule == KeyRule::Required {
            Err(missing())
        } else {
            Ok(None)
        };
    };
    let text = value.to_str().unwrap_or_default();
    // A quote that nothing closes makes no structured field, and no bare key of anybody's either.
    let text = match text.strip_prefix('"') {
        Some(quoted) => quoted.strip_suffix('"').unwrap_or_default(),
        None => text,
    };
    let is_visible = text.bytes().all(|byte| byte.is_ascii_graphic());
    if sent.next().is_none() && (1..=MAX_KEY).contains(&text.len()) && is_visible {
        return Ok(Some(text));
    }
    let fault = Fault::header(
        "Idempotency-Key",
        "malformed",
        "Send one key of 1 to 255 visible ASCII characters.",
    );
    Err(Problem::with_faults(
        Code::InvalidIdempotencyKey,
        vec![fault],
    ))
}

/// SHA-256 of all that makes a request what it is, in base64url. For whom it is done is part of it where the token says so.
pub(super) fn fingerprint(raw: &RawRequest, contractor: Option<ContractorId>) -> String {
    let mut query: Vec<&str> = raw.query.split('&').collect();
    query.sort_unstable();
    let query = query.join("&");
    let contractor = contractor.map(|id| id.to_string()).unwrap_or_default();
    let parts: [&[u8]; 6] = [
        raw.method.as_str().as_bytes(),
        raw.path.as_bytes(),
        query.as_bytes(),
        raw.content_type.as_bytes(),
        &raw.body,
        contractor.as_bytes(),
    ];
    let mut hash = Sha256::new();
    for part in parts {
        // The length keeps one part from running into the next.
        hash.update(part.len().to_be_bytes());
        hash.update(part);
    }
    URL_SAFE_NO_PAD.encode(hash.finalize())
}
