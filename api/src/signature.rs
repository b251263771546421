//! Signatures of webhooks, in and out, as the Standard Webhooks specification 1.0 has them.
//!
//! Signed are the bytes `<webhook-id>.<webhook-timestamp>.<body as it is sent>`, with HMAC-SHA256; a signature reads `v1,` and
//! its base64. `webhook-signature` holds one or several, separated by spaces; one that is right is enough, and versions that
//! nobody knows are passed over. A secret is 24 to 64 random bytes, written `whsec_` and their base64. The version with public keys
//! (`v1a`) is not offered.

use actix_web::http::header::{HeaderMap, HeaderName};
use aws_lc_rs::{constant_time::verify_slices_are_equal, hmac};
use base64::{Engine, engine::general_purpose::STANDARD};
use chrono::{DateTime, Utc};

use crate::seal::{SealError, random};

/// The header that names a message; the same however often it is sent.
pub(crate) const WEBHOOK_ID: HeaderName = HeaderName::from_static("webhook-id");
/// The header with the moment of this sending, in seconds since 1970.
pub(crate) const WEBHOOK_TIMESTAMP: HeaderName = HeaderName::from_static("webhook-timestamp");
/// The header with the signatures.
pub(crate) const WEBHOOK_SIGNATURE: HeaderName = HeaderName::from_static("webhook-signature");
/// How far the moment of sending may lie from now, either way, in seconds.
pub(crate) const TOLERANCE_S: i64 = 300;
/// The longest id of a message, in bytes.
pub(crate) const MAX_ID: usize = 64;
/// The most signatures that are looked at.
pub(crate) const MAX_SIGNATURES: usize = 10;

const PREFIX: &str = "whsec_";
const VERSION: &str = "v1,";
/// The length of a secret that is made here, in bytes.
const LENGTH: usize = 32;
/// The lengths of a secret that are accepted, in bytes.
const LENGTHS: std::ops::RangeInclusive<usize> = 24..=64;
/// The most digits of a moment in seconds: enough for the next 30,000 years.
const MAX_DIGITS: usize = 12;

/// What both sides know and nobody else. It shows nothing of itself but by [`WebhookSecret::text`].
#[derive(Clone)]
pub(crate) struct WebhookSecret(Vec<u8>);

impl WebhookSecret {
    /// A new secret of 32 random bytes.
    ///
    /// # Errors
    /// [`SealError::NoRandom`].
    pub(crate) fn generate() -> Result<Self, SealError> {
        random::<LENGTH>().map(|bytes| Self(bytes.to_vec()))
    }

    /// A secret of these bytes; none unless they are 24 to 64.
    pub(crate) fn from_bytes(bytes: Vec<u8>) -> Option<Self> {
        LENGTHS.contains(&bytes.len()).then_some(Self(bytes))
    }

    /// Reads `whsec_` and base64, or the base64 alone; none if it is something else.
    pub(crate) fn parse(text: &str) -> Option<Self> {
        let bytes = STANDARD.decode(text.strip_prefix(PREFIX).unwrap_or(text));
        bytes.ok().and_then(Self::from_bytes)
    }

    /// The bytes, to be sealed.
    pub(crate) fn bytes(&self) -> &[u8] {
        &self.0
    }

    /// The secret as it is handed out, once.
    pub(crate) fn text(&self) -> String {
        format!("{PREFIX}{}", STANDARD.encode(&self.0))
    }

    /// The signature of a message for `webhook-signature`; `timestamp` is in seconds since 1970.
    pub(crate) fn sign(&self, id: &str, timestamp: i64, body: &[u8]) -> String {
        let tag = self.tag(id, &timestamp.to_string(), body);
        format!("{VERSION}{}", STANDARD.encode(tag.as_ref()))
    }

    fn tag(&self, id: &str, timestamp: &str, body: &[u8]) -> hmac::Tag {
        let mut signed = hmac::Context::with_key(&hmac::Key::new(hmac::HMAC_SHA256, &self.0));
        for part in [id.as_bytes(), b".", timestamp.as_bytes(), b".", body] {
            signed.update(part);
        }
        signed.sign()
    }
}

impl std::fmt::Debug for WebhookSecret {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("WebhookSecret([redacted])")
    }
}

/// The message was not shown to come from who knows the secret. There is no saying why: whoever guesses learns nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct NotProven;

/// The headers of a signed message, read but not yet believed.
struct Claim<'a> {
    id: &'a str,
    /// As it was sent, for that is what was signed.
    timestamp: &'a str,
    seconds: i64,
    signatures: Vec<Vec<u8>>,
}

/// Checks that a message was signed with one of these secrets within 5 minutes of `now`; answers its id.
///
/// The work is the same whether it is or not: as many signatures are made as there are secrets, of the whole body, and
/// compared in constant time.
///
/// # Errors
/// [`NotProven`], for whatever reason: a header that is missing, doubled or malformed, a stale moment, a wrong signature.
pub(crate) fn verify<'a>(
    secrets: &[WebhookSecret],
    headers: &'a HeaderMap,
    body: &[u8],
    now: DateTime<Utc>,
) -> Result<&'a str, NotProven> {
    let claim = Claim::read(headers);
    let (id, timestamp) = claim
        .as_ref()
        .map_or(("", ""), |claim| (claim.id, claim.timestamp));
    let mut is_proven = false;
    for secret in secrets {
        let tag = secret.tag(id, timestamp, body);
        for signature in claim.iter().flat_map(|claim| &claim.signatures) {
            is_proven |= verify_slices_are_equal(tag.as_ref(), signature).is_ok();
        }
    }
    let is_fresh = |claim: &Claim<'_>| {
        now.timestamp()
            .checked_sub(claim.seconds)
            .is_some_and(|age| age.abs() <= TOLERANCE_S)
    };
    claim
        .filter(|claim| is_proven && is_fresh(claim))
        .map(|claim| claim.id)
        .ok_or(NotProven)
}

impl<'a> Claim<'a> {
    fn read(headers: &'a HeaderMap) -> Option<Self> {
        let id = one(headers, &WEBHOOK_ID)?;
        // A dot would let an id and a moment be cut apart in another place.
        let is_id = |byte: u8| byte.is_ascii_graphic() && byte != b'.';
        if !(1..=MAX_ID).contains(&id.len()) || !id.bytes().all(is_id) {
            return None;
        }
        let timestamp = one(headers, &WEBHOOK_TIMESTAMP)?;
        let is_number = (1..=MAX_DIGITS).contains(&timestamp.len())
            && timestamp.bytes().all(|byte| byte.is_ascii_digit());
        let seconds = timestamp.parse().ok().filter(|_| is_number)?;
        let signatures = one(headers, &WEBHOOK_SIGNATURE)?;
        if signatures.split(' ').count() > MAX_SIGNATURES {
            return None;
        }
        let signatures = signatures
            .split(' ')
            .filter_map(|one| STANDARD.decode(one.strip_prefix(VERSION)?).ok())
            .collect();
        Some(Self {
            id,
            timestamp,
            seconds,
            signatures,
        })
    }
}

/// The value of a header that is sent once.
fn one<'a>(headers: &'a HeaderMap, name: &HeaderName) -> Option<&'a str> {
    let mut sent = headers.get_all(name);
    let value = sent.next()?.to_str().ok()?;
    sent.next().is_none().then_some(value)
}

#[cfg(test)]
mod tests;
#[cfg(test)]
mod vectors;
