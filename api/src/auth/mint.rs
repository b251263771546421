//! Makes tokens with the service's own secret: for the demo, for trying things out, for tests.
//!
//! In production an issuer of tokens does this; with a public key configured there is nothing here to sign with.

use chrono::{DateTime, Utc};
use infra::clock::{IdSource as _, UuidV7Source};
use jsonwebtoken::{Algorithm, EncodingKey, Header};
use serde_json::json;

use crate::config::AuthConfig;

/// Why no token can be made.
#[derive(Debug, thiserror::Error)]
pub enum MintError {
    /// Tokens are signed by somebody else.
    #[error("tokens can be made only where WEARCOURSE_AUTH_SECRET is set")]
    NoSecret,
    /// The library could not sign.
    #[error("the token could not be signed")]
    Sign(#[from] jsonwebtoken::errors::Error),
}

/// What a token says.
#[derive(Debug, Clone, Copy)]
pub struct Grant<'a> {
    /// The key of the tenant.
    pub tenant: &'a str,
    /// Who acts.
    pub subject: &'a str,
    /// The program that acts for them.
    pub client_id: &'a str,
    /// The scopes, separated by spaces.
    pub scope: &'a str,
    /// The id of the contractor that it is bound to; none for one that is bound to nobody.
    pub contractor: Option<&'a str>,
    /// How long it is valid, in seconds; the service accepts at most 24 hours.
    pub life_s: u32,
}

/// Makes a token that starts at `now`.
///
/// # Errors
/// [`MintError::NoSecret`] unless the algorithm is `HS256` and a secret is set.
pub fn mint(
    config: &AuthConfig,
    grant: &Grant<'_>,
    now: DateTime<Utc>,
) -> Result<String, MintError> {
    let key = config
        .keys
        .first()
        .filter(|_| config.algorithm == Algorithm::HS256);
    let key = key.ok_or(MintError::NoSecret)?;
    let mut header = Header::new(Algorithm::HS256);
    header.typ = Some(config.token_type.clone());
    header.kid.clone_from(&key.id);
    let issued = now.timestamp();
    let mut claims = json!({
        "iss": config.issuer,
        "aud": config.audience,
        "sub": grant.subject,
        "client_id": grant.client_id,
        "iat": issued,
        "exp": issued.saturating_add(grant.life_s.into()),
        "jti": UuidV7Source.uuid().to_string(),
    });
    if let Some(claims) = claims.as_object_mut() {
        claims.insert(config.tenant_claim.clone(), grant.tenant.into());
        claims.insert(config.scope_claim.clone(), grant.scope.into());
        if let Some(contractor) = grant.contractor {
            claims.insert(config.contractor_claim.clone(), contractor.into());
        }
    }
    let secret = EncodingKey::from_secret(key.material.expose().as_bytes());
    Ok(jsonwebtoken::encode(&header, &claims, &secret)?)
}
