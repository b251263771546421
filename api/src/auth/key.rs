//! Keys that tokens are checked with, and the weak ones that are refused at start.

use std::collections::BTreeSet;

use jsonwebtoken::{Algorithm, DecodingKey, crypto};

use crate::config::AuthKey;

/// The least length of a secret, in bytes (RFC 7518, section 3.2).
const MIN_SECRET: usize = 32;
/// The least number of different bytes in a secret: fewer is a word repeated.
const MIN_DISTINCT: usize = 8;
/// The least length of an RSA modulus, in bytes (RFC 7518, section 3.3).
const MIN_MODULUS: usize = 256;
/// The length of a point of P-256, uncompressed.
const P256_POINT: usize = 65;

/// Why a key is refused. The texts go after the name of a variable and show nothing of the key.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub(crate) enum KeyFault {
    /// Shorter than the hash that it keys.
    #[error("must have at least 32 bytes")]
    ShortSecret,
    /// A word, a byte or a pattern repeated.
    #[error("is easy to guess; use random bytes")]
    WeakSecret,
    /// Not PEM, or not the public half.
    #[error("must be a public key in PEM")]
    NotPublicPem,
    /// Of another kind than the algorithm needs.
    #[error("is not a key for the algorithm that is configured")]
    WrongKind,
    /// An RSA key that can be factored.
    #[error("must be an RSA key of at least 2048 bits")]
    ShortModulus,
    /// No rules for this algorithm.
    #[error("is for an algorithm that is not offered")]
    Algorithm,
}

/// A key with the one algorithm that it is for.
pub(crate) struct VerifyKey {
    /// The `kid` of tokens that it checks.
    pub(super) id: Option<String>,
    algorithm: Algorithm,
    key: DecodingKey,
}

impl VerifyKey {
    /// Takes a key if it is strong enough for its algorithm.
    ///
    /// # Errors
    /// [`KeyFault`].
    pub(crate) fn new(algorithm: Algorithm, key: &AuthKey) -> Result<Self, KeyFault> {
        let material = key.material.expose();
        let key_of = match algorithm {
            Algorithm::HS256 => secret(material)?,
            Algorithm::EdDSA => public(material, DecodingKey::from_ed_pem, |key| key.len() == 32)?,
            Algorithm::ES256 => public(material, DecodingKey::from_ec_pem, |key| {
                key.len() == P256_POINT
            })?,
            Algorithm::RS256 => {
                let key = public(material, DecodingKey::from_rsa_pem, |_| true)?;
                let modulus = key.try_get_as_bytes().ok().and_then(modulus_length);
                match modulus {
                    Some(length) if length >= MIN_MODULUS => key,
                    Some(_) => return Err(KeyFault::ShortModulus),
                    None => return Err(KeyFault::WrongKind),
                }
            }
            _ => return Err(KeyFault::Algorithm),
        };
        Ok(Self {
            id: key.id.clone(),
            algorithm,
            key: key_of,
        })
    }

    /// Takes a key that was found good where it was published.
    pub(super) const fn published(
        id: Option<String>,
        algorithm: Algorithm,
        key: DecodingKey,
    ) -> Self {
        Self { id, algorithm, key }
    }

    /// Whether a signature, in base64url, is that of a message.
    pub(super) fn verifies(&self, signature: &str, message: &[u8]) -> bool {
        crypto::verify(signature, message, &self.key, self.algorithm).unwrap_or(false)
    }
}

impl std::fmt::Debug for VerifyKey {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("VerifyKey")
            .field("id", &self.id)
            .finish_non_exhaustive()
    }
}

fn secret(text: &str) -> Result<DecodingKey, KeyFault> {
    let bytes = text.as_bytes();
    if bytes.len() < MIN_SECRET {
        return Err(KeyFault::ShortSecret);
    }
    let lower = text.to_ascii_lowercase();
    let distinct: BTreeSet<u8> = bytes.iter().copied().collect();
    if distinct.len() < MIN_DISTINCT || lower.contains("changeme") || lower.contains("change-me") {
        return Err(KeyFault::WeakSecret);
    }
    Ok(DecodingKey::from_secret(bytes))
}

fn public(
    pem: &str,
    read: impl Fn(&[u8]) -> jsonwebtoken::errors::Result<DecodingKey>,
    fits: impl Fn(&[u8]) -> bool,
) -> Result<DecodingKey, KeyFault> {
    if !pem.contains("PUBLIC KEY-----") || pem.contains("PRIVATE KEY") {
        return Err(KeyFault::NotPublicPem);
    }
    // What the reader complains of may quote the file, so it is not passed on.
    let key = read(pem.as_bytes()).map_err(|_unquoted| KeyFault::WrongKind)?;
    if key.try_get_as_bytes().is_ok_and(fits) {
        Ok(key)
    } else {
        Err(KeyFault::WrongKind)
    }
}

/// The length in bytes of the modulus of `RSAPublicKey ::= SEQUENCE { n INTEGER, e INTEGER }` (RFC 8017, A.1.1).
fn modulus_length(der: &[u8]) -> Option<usize> {
    let sequence = content(der, 0x30)?;
    let modulus = content(sequence, 0x02)?;
    let zeros = modulus.iter().take_while(|byte| **byte == 0).count();
    modulus.len().checked_sub(zeros)
}

/// What a DER element with this tag holds.
fn content(der: &[u8], tag: u8) -> Option<&[u8]> {
    let (_, rest) = der.split_first().filter(|(first, _)| **first == tag)?;
    let (length, rest) = rest.split_first()?;
    if *length < 0x80 {
        return rest.get(..usize::from(*length));
    }
    let (length, rest) = rest.split_at_checked(usize::from(length & 0x7F))?;
    let length = length.iter().try_fold(0_usize, |sum, byte| {
        sum.checked_mul(256)?.checked_add(usize::from(*byte))
    })?;
    rest.get(..length)
}

#[cfg(test)]
mod tests;
