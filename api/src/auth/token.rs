//! Checks access tokens (RFC 9068 with the advice of RFC 8725).
//!
//! The signature is the library's business; everything else is decided here, on a strictly read header and payload,
//! because a library's defaults leave gaps: `nbf` unread, wrong JSON types skipped, `crit` ignored. One algorithm is
//! fixed by configuration and never taken from the token. All refusals look the same from outside; the reason goes
//! to the log.

use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use chrono::{DateTime, Utc};
use domain::id::ContractorId;
use jsonwebtoken::Algorithm;
use serde_json::{Map, Value};

use super::key::{KeyFault, VerifyKey};
use crate::{body, config::AuthConfig};

/// The longest token that is looked at, in bytes.
const MAX_TOKEN: usize = 8 * 1024;
/// How far clocks may be apart, in seconds.
pub(super) const LEEWAY_S: i64 = 30;
/// The longest life of a token, in seconds: one with a far `exp` would be valid for ever.
pub(super) const MAX_LIFE_S: i64 = 24 * 60 * 60;
/// The longest name in a claim, in bytes.
const MAX_NAME: usize = 255;
/// Header members that change what a token means or bring their own key.
const REFUSED: [&str; 8] = ["crit", "b64", "jku", "jwk", "x5u", "x5c", "zip", "enc"];

/// Why a token is not accepted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub(crate) struct TokenFault(pub(super) &'static str);

/// A token whose key nobody here has: the issuer may have a new one.
pub(super) const UNKNOWN_KEY: TokenFault = TokenFault("no key of ours has its id");

/// What an accepted token says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Claims {
    /// The key of the tenant.
    pub(super) tenant: String,
    /// Who acts.
    pub(super) subject: String,
    /// The program that acts for them.
    pub(super) client_id: String,
    /// What it may do.
    pub(super) scopes: Vec<String>,
    /// The contractor whose work alone it is good for; none if it is bound to nobody.
    pub(super) contractor: Option<ContractorId>,
    /// The second of its issue, since 1970.
    pub(super) issued_s: i64,
    /// Its last second, since 1970.
    pub(super) expires_s: i64,
}

impl Claims {
    /// Whether they are not expired; that they had begun was seen when they were first read.
    pub(super) fn are_in_time(&self, now: DateTime<Utc>) -> bool {
        !is_over(self.expires_s, now.timestamp())
    }
}

/// The rules for tokens of one issuer.
#[derive(Debug)]
pub(crate) struct Verifier {
    algorithm: &'static str,
    keys: Vec<VerifyKey>,
    issuer: String,
    audience: String,
    tenant_claim: String,
    scope_claim: String,
    contractor_claim: String,
    token_type: String,
}

impl Verifier {
    /// The rules that a configuration asks for.
    ///
    /// # Errors
    /// [`KeyFault`] if a key is too weak or of the wrong kind.
    pub(crate) fn new(config: &AuthConfig) -> Result<Self, KeyFault> {
        let keys = config
            .keys
            .iter()
            .map(|key| VerifyKey::new(config.algorithm, key));
        Ok(Self {
            algorithm: match config.algorithm {
                Algorithm::HS256 => "HS256",
                Algorithm::EdDSA => "EdDSA",
                Algorithm::ES256 => "ES256",
                Algorithm::RS256 => "RS256",
                _ => return Err(KeyFault::Algorithm),
            },
            keys: keys.collect::<Result<_, _>>()?,
            issuer: config.issuer.clone(),
            audience: config.audience.clone(),
            tenant_claim: config.tenant_claim.clone(),
            scope_claim: config.scope_claim.clone(),
            contractor_claim: config.contractor_claim.clone(),
            token_type: config.token_type.clone(),
        })
    }

    /// What a token says, if it is one of our issuer's for us and for now.
    ///
    /// # Errors
    /// [`TokenFault`] with the reason, for the log.
    pub(crate) fn verify(&self, token: &str, now: DateTime<Utc>) -> Result<Claims, TokenFault> {
        self.verify_with(&self.keys, token, now)
    }

    /// As [`Verifier::verify`], with these keys in place of those of the configuration.
    ///
    /// # Errors
    /// [`TokenFault`] with the reason, for the log; [`UNKNOWN_KEY`] if none of the keys has the id that the token names.
    pub(super) fn verify_with(
        &self,
        keys: &[VerifyKey],
        token: &str,
        now: DateTime<Utc>,
    ) -> Result<Claims, TokenFault> {
        if token.len() > MAX_TOKEN {
            return Err(TokenFault("too long"));
        }
        let mut parts = token.split('.');
        let (Some(header), Some(payload), Some(signature), None) =
            (parts.next(), parts.next(), parts.next(), parts.next())
        else {
            return Err(TokenFault("not three parts"));
        };
        let signed = token.get(..header.len().saturating_add(payload.len()).saturating_add(1));
        let signed = signed.unwrap_or_default();
        self.check_signature(keys, &object(header)?, signed, signature)?;
        self.check_claims(&object(payload)?, now.timestamp())
    }

    fn check_signature(
        &self,
        keys: &[VerifyKey],
        header: &Map<String, Value>,
        signed: &str,
        signature: &str,
    ) -> Result<(), TokenFault> {
        if header.get("alg").and_then(Value::as_str) != Some(self.algorithm) {
            return Err(TokenFault("another algorithm"));
        }
        if REFUSED.iter().any(|name| header.contains_key(*name)) {
            return Err(TokenFault("a header member that is never accepted"));
        }
        let kind = header
            .get("typ")
            .and_then(Value::as_str)
            .unwrap_or_default();
        let kind = kind.strip_prefix("application/").unwrap_or(kind);
        if !kind.eq_ignore_ascii_case(&self.token_type) {
            return Err(TokenFault("another type of token"));
        }
        let key_id = match header.get("kid") {
            None => None,
            Some(Value::String(text)) => Some(text.as_str()),
            Some(_) => return Err(TokenFault("a key id that is not a text")),
        };
        // Without a key id any key may have signed; with one, only the key of that name.
        let mut named = keys
            .iter()
            .filter(|key| key_id.is_none() || key.id.as_deref() == key_id)
            .peekable();
        if named.peek().is_none() {
            return Err(UNKNOWN_KEY);
        }
        if named.any(|key| key.verifies(signature, signed.as_bytes())) {
            Ok(())
        } else {
            Err(TokenFault("no key of ours signed it"))
        }
    }

    fn check_claims(&self, claims: &Map<String, Value>, now: i64) -> Result<Claims, TokenFault> {
        if claims.get("iss").and_then(Value::as_str) != Some(&self.issuer) {
            return Err(TokenFault("another issuer"));
        }
        let is_ours = |audience: &Value| audience.as_str() == Some(&self.audience);
        let for_us = match claims.get("aud") {
            Some(Value::Array(audiences)) => {
                audiences.iter().all(Value::is_string) && audiences.iter().any(is_ours)
            }
            Some(audience) => is_ours(audience),
            None => false,
        };
        if !for_us {
            return Err(TokenFault("another audience"));
        }
        let (issued_s, expires_s) = check_times(claims, now)?;
        let subject = name(claims, "sub")?.ok_or(TokenFault("no subject"))?;
        let client_id = match name(claims, "client_id")? {
            Some(client) => client,
            None => name(claims, "azp")?.unwrap_or_else(|| subject.clone()),
        };
        Ok(Claims {
            tenant: name(claims, &self.tenant_claim)?.ok_or(TokenFault("no tenant"))?,
            subject,
            client_id,
            scopes: scopes(claims.get(&self.scope_claim))?,
            contractor: contractor(name(claims, &self.contractor_claim)?)?,
            issued_s,
            expires_s,
        })
    }
}

fn is_over(expires_s: i64, now_s: i64) -> bool {
    now_s > expires_s.saturating_add(LEEWAY_S)
}

/// The second of issue and the last one of a token that is good now.
fn check_times(claims: &Map<String, Value>, now: i64) -> Result<(i64, i64), TokenFault> {
    let expires = time(claims, "exp")?.ok_or(TokenFault("no expiry"))?;
    let issued = time(claims, "iat")?.ok_or(TokenFault("no time of issue"))?;
    let latest = now.saturating_add(LEEWAY_S);
    if is_over(expires, now) {
        return Err(TokenFault("expired"));
    }
    if issued > latest || time(claims, "nbf")?.is_some_and(|start| start > latest) {
        return Err(TokenFault("not valid yet"));
    }
    if expires.saturating_sub(issued) > MAX_LIFE_S {
        return Err(TokenFault("a life of more than 24 hours"));
    }
    Ok((issued, expires))
}

/// One part of a token: base64url without padding of a JSON object in which no member stands twice.
fn object(part: &str) -> Result<Map<String, Value>, TokenFault> {
    let bytes = URL_SAFE_NO_PAD
        .decode(part)
        .map_err(|_detail| TokenFault("not base64url"))?;
    match body::parse(&bytes) {
        Ok(Value::Object(object)) => Ok(object),
        Ok(_) | Err(_) => Err(TokenFault("a part that is not a JSON object")),
    }
}

/// A point in time: whole seconds since 1970.
fn time(claims: &Map<String, Value>, name: &str) -> Result<Option<i64>, TokenFault> {
    let Some(value) = claims.get(name) else {
        return Ok(None);
    };
    let seconds = value.as_i64().filter(|seconds| *seconds >= 0);
    seconds
        .map(Some)
        .ok_or(TokenFault("a time that is not whole seconds"))
}

/// A name: a text of 1 to 255 bytes without control characters.
fn name(claims: &Map<String, Value>, claim: &str) -> Result<Option<String>, TokenFault> {
    match claims.get(claim) {
        None => Ok(None),
        Some(Value::String(text))
            if (1..=MAX_NAME).contains(&text.len()) && !text.chars().any(char::is_control) =>
        {
            Ok(Some(text.clone()))
        }
        Some(_) => Err(TokenFault("a name that is not a text of 1 to 255 bytes")),
    }
}

/// Who is named by no id is nobody: a token that should be bound must not be good for everybody's work.
fn contractor(claim: Option<String>) -> Result<Option<ContractorId>, TokenFault> {
    let id = claim.map(|text| text.parse());
    id.transpose()
        .map_err(|_not_an_id| TokenFault("a contractor that is named by no id"))
}

/// Scopes: a text with spaces between them (RFC 8693), or a list of texts as some issuers have it.
fn scopes(claim: Option<&Value>) -> Result<Vec<String>, TokenFault> {
    match claim {
        None => Ok(Vec::new()),
        Some(Value::String(text)) => Ok(text.split_whitespace().map(str::to_owned).collect()),
        Some(Value::Array(scopes)) => scopes
            .iter()
            .map(|scope| scope.as_str().map(str::to_owned))
            .collect::<Option<_>>()
            .ok_or(TokenFault("a scope that is not a text")),
        Some(_) => Err(TokenFault("scopes that are neither a text nor a list")),
    }
}

#[cfg(test)]
mod tests;
