//! Secrets at rest: what must be read again (the secret of a signature) is kept sealed with a key outside the database.
//!
//! AES-256-GCM (NIST SP 800-38D) with a random nonce. What is sealed is bound to its place: the tenant, what it is for and
//! the row that holds it, so that nobody who can write to the database can move it elsewhere. A sealed secret reads
//! `s1.<name of the key>.<base64url of nonce, ciphertext and tag>`; the name leads to the key after a rotation.
//!
//! The place and the key's name are associated data, each part led by its length in 8 bytes, most significant first: `s1`, the
//! name, the 16 bytes of the tenant, the purpose, the 16 bytes of the row.

use aws_lc_rs::{
    aead::{AES_256_GCM, Aad, NONCE_LEN, Nonce, RandomizedNonceKey},
    rand,
};
use base64::{
    Engine,
    engine::general_purpose::{STANDARD, URL_SAFE_NO_PAD},
};
use domain::id::TenantId;
use uuid::Uuid;

use crate::{config::SealConfig, problem::Problem};

/// The length of a key, in bytes.
pub(crate) const KEY_LENGTH: usize = 32;
/// The form of a sealed secret; another form gets another word.
const FORM: &str = "s1";

/// Why a secret was not sealed or not opened. Says nothing of the secret.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub(crate) enum SealError {
    /// No key is configured.
    #[error("no key to seal with is configured: set WEARCOURSE_SEAL_KEYS")]
    NoKey,
    /// A key of the configuration does not have the form that was checked.
    #[error("a configured key does not have 32 bytes")]
    BadKey,
    /// The machine has no random bytes.
    #[error("no random bytes")]
    NoRandom,
    /// Not a text that was sealed here, or sealed with a key that is not configured any more.
    #[error("sealed with a key that is not configured, or not sealed at all")]
    UnknownKey,
    /// Changed, or sealed for another place.
    #[error("the sealed secret was changed or belongs elsewhere")]
    Forged,
}

impl From<SealError> for Problem {
    fn from(error: SealError) -> Self {
        match error {
            SealError::NoKey => Self::new(
                crate::problem::Code::Unavailable,
                "This service keeps no secrets: whoever runs it has to configure a key to seal them with.",
            ),
            SealError::BadKey | SealError::NoRandom | SealError::UnknownKey | SealError::Forged => {
                Self::internal(&error)
            }
        }
    }
}

/// Where a sealed secret belongs; it opens nowhere else.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Place {
    /// Whose it is.
    pub(crate) tenant: TenantId,
    /// What it is for: one constant word for each use.
    pub(crate) purpose: &'static str,
    /// The row that holds it.
    pub(crate) row: Uuid,
}

impl Place {
    fn bound_to(&self, key: &str) -> Vec<u8> {
        let tenant = self.tenant.uuid();
        let parts: [&[u8]; 5] = [
            FORM.as_bytes(),
            key.as_bytes(),
            tenant.as_bytes(),
            self.purpose.as_bytes(),
            self.row.as_bytes(),
        ];
        let mut bound = Vec::new();
        for part in parts {
            // The length keeps one part from running into the next.
            let length = u64::try_from(part.len()).unwrap_or(u64::MAX);
            bound.extend_from_slice(&length.to_be_bytes());
            bound.extend_from_slice(part);
        }
        bound
    }
}

/// The keys: the first seals, all open.
pub(crate) struct SealKeys(Vec<(String, RandomizedNonceKey)>);

impl SealKeys {
    /// The keys of the configuration; without one, nothing can be sealed.
    ///
    /// # Errors
    /// [`SealError::BadKey`].
    pub(crate) fn new(config: &SealConfig) -> Result<Self, SealError> {
        let keys = config.keys.iter().map(|key| {
            let bytes = STANDARD
                .decode(key.material.expose())
                .map_err(|_not_base64| SealError::BadKey)?;
            let made = RandomizedNonceKey::new(&AES_256_GCM, &bytes);
            Ok((key.name.clone(), made.map_err(|_length| SealError::BadKey)?))
        });
        keys.collect::<Result<_, _>>().map(Self)
    }

    /// A new key, in base64.
    ///
    /// # Errors
    /// [`SealError::NoRandom`].
    pub(crate) fn random_key() -> Result<String, SealError> {
        random::<KEY_LENGTH>().map(|bytes| STANDARD.encode(bytes))
    }

    /// Seals a secret for a place.
    ///
    /// # Errors
    /// [`SealError::NoKey`], [`SealError::NoRandom`].
    pub(crate) fn seal(&self, place: &Place, secret: &[u8]) -> Result<String, SealError> {
        let (name, key) = self.0.first().ok_or(SealError::NoKey)?;
        let mut sealed = secret.to_vec();
        let nonce = key
            .seal_in_place_append_tag(Aad::from(place.bound_to(name)), &mut sealed)
            .map_err(|_unspecified| SealError::NoRandom)?;
        let mut bytes = nonce.as_ref().to_vec();
        bytes.append(&mut sealed);
        Ok(format!("{FORM}.{name}.{}", URL_SAFE_NO_PAD.encode(bytes)))
    }

    /// Opens what was sealed for this place.
    ///
    /// # Errors
    /// [`SealError::UnknownKey`], [`SealError::Forged`].
    pub(crate) fn open(&self, place: &Place, sealed: &str) -> Result<Vec<u8>, SealError> {
        let parts = sealed
            .strip_prefix(FORM)
            .and_then(|rest| rest.strip_prefix('.'));
        let (name, text) = parts
            .and_then(|rest| rest.split_once('.'))
            .ok_or(SealError::UnknownKey)?;
        let found = self.0.iter().find(|(known, _)| known == name);
        let (_, key) = found.ok_or(SealError::UnknownKey)?;
        let mut bytes = URL_SAFE_NO_PAD
            .decode(text)
            .map_err(|_not_base64| SealError::Forged)?;
        let (nonce, ciphertext) = bytes
            .split_at_mut_checked(NONCE_LEN)
            .ok_or(SealError::Forged)?;
        let nonce = Nonce::try_assume_unique_for_key(nonce).map_err(|_length| SealError::Forged)?;
        let opened = key.open_in_place(nonce, Aad::from(place.bound_to(name)), ciphertext);
        opened
            .map(|secret| secret.to_vec())
            .map_err(|_tag| SealError::Forged)
    }
}

impl std::fmt::Debug for SealKeys {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("SealKeys([redacted])")
    }
}

/// Fresh random bytes.
///
/// # Errors
/// [`SealError::NoRandom`].
pub(crate) fn random<const N: usize>() -> Result<[u8; N], SealError> {
    let mut bytes = [0; N];
    rand::fill(&mut bytes).map_err(|_unspecified| SealError::NoRandom)?;
    Ok(bytes)
}

#[cfg(test)]
mod tests;
