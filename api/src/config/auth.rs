//! Whose tokens are accepted.

use std::path::PathBuf;

use jsonwebtoken::Algorithm;

use super::{ConfigFaults, Secret, source::Source};
use crate::auth::VerifyKey;

/// A key that tokens are checked with.
#[derive(Debug, Clone)]
pub struct AuthKey {
    /// The `kid` that tokens signed with it carry; none if they carry none.
    pub id: Option<String>,
    /// The secret, or the public key in PEM.
    pub material: Secret,
}

/// Where the issuer's key set (RFC 7517) is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum JwksSource {
    /// In a file.
    File(PathBuf),
    /// At an address of the issuer's: `https`, or `http` on this machine.
    Url(String),
}

/// The issuer of tokens and what its tokens look like.
#[derive(Debug, Clone)]
pub struct AuthConfig {
    /// `WEARCOURSE_AUTH_ALGORITHM`, default `HS256`: the one algorithm.
    pub algorithm: Algorithm,
    /// `WEARCOURSE_AUTH_SECRET` or `WEARCOURSE_AUTH_PUBLIC_KEY_FILE`, then the key before (`…_PREVIOUS_…`).
    pub keys: Vec<AuthKey>,
    /// `WEARCOURSE_AUTH_JWKS_FILE` or `WEARCOURSE_AUTH_JWKS_URL`, in place of `keys`.
    pub jwks: Option<JwksSource>,
    /// `WEARCOURSE_AUTH_ISSUER`, default `wearcourse`.
    pub issuer: String,
    /// `WEARCOURSE_AUTH_AUDIENCE`, default `wearcourse`.
    pub audience: String,
    /// `WEARCOURSE_AUTH_TENANT_CLAIM`, default `tenant`.
    pub tenant_claim: String,
    /// `WEARCOURSE_AUTH_SCOPE_CLAIM`, default `scope`.
    pub scope_claim: String,
    /// `WEARCOURSE_AUTH_CONTRACTOR_CLAIM`, default `contractor`.
    pub contractor_claim: String,
    /// `WEARCOURSE_AUTH_TOKEN_TYPE`, default `at+jwt`.
    pub token_type: String,
    /// `WEARCOURSE_CURSOR_SECRET`; none: made from the auth secret, or for this process alone.
    pub cursor_secret: Option<Secret>,
}

impl AuthConfig {
    pub(super) fn from_source(source: &mut Source) -> Self {
        let algorithm = algorithm(source);
        let text = |source: &Source, name: &str, default: &str| {
            source.text(name).unwrap_or_else(|| default.to_owned())
        };
        let keys: Vec<_> = ["", "PREVIOUS_"]
            .iter()
            .filter_map(|age| key(source, algorithm, age))
            .collect();
        let jwks = jwks(source, algorithm, !keys.is_empty());
        Self {
            algorithm,
            keys,
            jwks,
            issuer: text(source, "WEARCOURSE_AUTH_ISSUER", "wearcourse"),
            audience: text(source, "WEARCOURSE_AUTH_AUDIENCE", "wearcourse"),
            tenant_claim: text(source, "WEARCOURSE_AUTH_TENANT_CLAIM", "tenant"),
            scope_claim: text(source, "WEARCOURSE_AUTH_SCOPE_CLAIM", "scope"),
            contractor_claim: text(source, "WEARCOURSE_AUTH_CONTRACTOR_CLAIM", "contractor"),
            token_type: token_type(source),
            cursor_secret: cursor_secret(source),
        }
    }
}

impl AuthConfig {
    /// Whether every replica with this configuration reads the cursors of the others.
    pub(super) fn can_share_cursors(&self) -> bool {
        self.cursor_secret.is_some()
            || (self.algorithm == Algorithm::HS256 && !self.keys.is_empty())
    }

    /// Goes on if there is a key: without one nobody could be let in.
    ///
    /// # Errors
    /// [`ConfigFaults`] that names the variable.
    pub fn require_key(&self) -> Result<(), ConfigFaults> {
        if !self.keys.is_empty() || self.jwks.is_some() {
            return Ok(());
        }
        Err(ConfigFaults::one(if self.algorithm == Algorithm::HS256 {
            "WEARCOURSE_AUTH_SECRET must be set to serve"
        } else {
            "WEARCOURSE_AUTH_PUBLIC_KEY_FILE, WEARCOURSE_AUTH_JWKS_FILE or WEARCOURSE_AUTH_JWKS_URL must be set to serve"
        }))
    }
}

fn algorithm(source: &mut Source) -> Algorithm {
    let name = "WEARCOURSE_AUTH_ALGORITHM";
    match source.text(name).as_deref() {
        None | Some("HS256") => Algorithm::HS256,
        Some("EdDSA") => Algorithm::EdDSA,
        Some("ES256") => Algorithm::ES256,
        Some("RS256") => Algorithm::RS256,
        Some(_) => {
            source.fault(name, "must be `HS256`, `EdDSA`, `ES256` or `RS256`");
            Algorithm::HS256
        }
    }
}

/// The key of now or, with `age` `PREVIOUS_`, of before.
fn key(source: &mut Source, algorithm: Algorithm, age: &str) -> Option<AuthKey> {
    let secret_name = format!("WEARCOURSE_AUTH_{age}SECRET");
    let file_name = format!("WEARCOURSE_AUTH_{age}PUBLIC_KEY_FILE");
    let id = source.text(&format!("WEARCOURSE_AUTH_{age}KEY_ID"));
    let (secret, pem) = (source.secret(&secret_name), source.file(&file_name));
    let (name, material, other) = if algorithm == Algorithm::HS256 {
        (secret_name, secret, pem.map(|_| file_name))
    } else {
        (file_name, pem, secret.map(|_| secret_name))
    };
    if let Some(other) = other {
        source.fault(&other, "is not for the algorithm that is configured");
    }
    let key = AuthKey {
        id,
        material: material?,
    };
    if let Err(fault) = VerifyKey::new(algorithm, &key) {
        source.fault(&name, fault);
    }
    Some(key)
}

/// The key set, which stands alone: two places for keys would leave open which of them counts.
fn jwks(source: &mut Source, algorithm: Algorithm, has_keys: bool) -> Option<JwksSource> {
    let (file, url) = ("WEARCOURSE_AUTH_JWKS_FILE", "WEARCOURSE_AUTH_JWKS_URL");
    let (name, found) = match (source.text(file), source.text(url)) {
        (None, None) => return None,
        (Some(_), Some(_)) => {
            source.fault(file, format_args!("and {url} are both set; set one"));
            return None;
        }
        (Some(path), None) => {
            // Read once now, so that a wrong path shows at start.
            let _read = source.file(file);
            (file, JwksSource::File(path.into()))
        }
        (None, Some(address)) => {
            if !is_safe(&address) {
                let form = "must be an https address (http only for this machine), without user or fragment";
                source.fault(url, form);
            }
            (url, JwksSource::Url(address))
        }
    };
    if algorithm == Algorithm::HS256 {
        source.fault(name, "is not for the algorithm that is configured");
    }
    if has_keys {
        source.fault(name, "and a single key are both set; set one");
    }
    Some(found)
}

/// Whether an address can be asked for keys: whoever answers there decides who gets in.
fn is_safe(address: &str) -> bool {
    let Ok(url) = reqwest::Url::parse(address) else {
        return false;
    };
    let is_local = matches!(url.host_str(), Some("localhost" | "127.0.0.1" | "[::1]"));
    let is_secret = url.scheme() == "https" || (url.scheme() == "http" && is_local);
    is_secret
        && url.host_str().is_some()
        && url.username().is_empty()
        && url.password().is_none()
        && url.fragment().is_none()
}

fn token_type(source: &mut Source) -> String {
    let name = "WEARCOURSE_AUTH_TOKEN_TYPE";
    let text = source.text(name).unwrap_or_else(|| "at+jwt".to_owned());
    if !["at+jwt", "JWT"].contains(&text.as_str()) {
        source.fault(name, "must be `at+jwt` or `JWT`");
    }
    text
}

fn cursor_secret(source: &mut Source) -> Option<Secret> {
    let name = "WEARCOURSE_CURSOR_SECRET";
    let secret = source.secret(name)?;
    let key = AuthKey {
        id: None,
        material: secret.clone(),
    };
    if let Err(fault) = VerifyKey::new(Algorithm::HS256, &key) {
        source.fault(name, fault);
    }
    Some(secret)
}
