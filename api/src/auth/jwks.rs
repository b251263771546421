//! Keys that an issuer publishes as a JSON Web Key Set (RFC 7517), and the ones of them that are taken.

use base64::{Engine, engine::general_purpose::URL_SAFE_NO_PAD};
use jsonwebtoken::{Algorithm, DecodingKey};
use serde_json::{Map, Value};

use super::key::VerifyKey;
use crate::body;

/// The most keys of a set that are looked at.
const MAX_KEYS: usize = 100;
/// The longest key id, in bytes.
const MAX_ID: usize = 255;
/// The least length of an RSA modulus, in bytes (RFC 7518, section 3.3).
const MIN_MODULUS: usize = 256;

/// The keys of a set that sign tokens with the algorithm; `None` if the text is not a key set.
///
/// A key for another use, of another kind, too short or with its private half is left out: the rest of the set may be
/// good, and an issuer publishes keys for others too.
pub(super) fn read(algorithm: Algorithm, text: &[u8]) -> Option<Vec<VerifyKey>> {
    let Ok(Value::Object(set)) = body::parse(text) else {
        return None;
    };
    let rows = set.get("keys")?.as_array()?;
    let rows = rows.iter().take(MAX_KEYS).filter_map(Value::as_object);
    Some(rows.filter_map(|row| key(algorithm, row)).collect())
}

fn key(algorithm: Algorithm, row: &Map<String, Value>) -> Option<VerifyKey> {
    let text = |name: &str| row.get(name).and_then(Value::as_str);
    let (kind, curve, name) = match algorithm {
        Algorithm::EdDSA => ("OKP", Some("Ed25519"), "EdDSA"),
        Algorithm::ES256 => ("EC", Some("P-256"), "ES256"),
        Algorithm::RS256 => ("RSA", None, "RS256"),
        _ => return None,
    };
    let may_verify = match row.get("key_ops") {
        None => true,
        Some(uses) => uses.as_array()?.iter().any(|one| one == "verify"),
    };
    let fits = text("kty") == Some(kind)
        && text("crv") == curve
        && row.get("use").is_none_or(|used| used == "sig")
        && row.get("alg").is_none_or(|named| named == name)
        && may_verify
        && !row.contains_key("d");
    if !fits {
        return None;
    }
    let id = match row.get("kid") {
        None => None,
        Some(Value::String(id)) if id.len() <= MAX_ID => Some(id.clone()),
        Some(_) => return None,
    };
    let key = match algorithm {
        Algorithm::EdDSA => DecodingKey::from_ed_components(long(text("x")?, 32)?),
        Algorithm::ES256 => {
            DecodingKey::from_ec_components(long(text("x")?, 32)?, long(text("y")?, 32)?)
        }
        _ => {
            let modulus = text("n")?;
            let bytes = URL_SAFE_NO_PAD.decode(modulus).ok()?;
            let zeros = bytes.iter().take_while(|byte| **byte == 0).count();
            if bytes.len().saturating_sub(zeros) < MIN_MODULUS {
                return None;
            }
            DecodingKey::from_rsa_components(modulus, text("e")?)
        }
    };
    Some(VerifyKey::published(id, algorithm, key.ok()?))
}

/// A member of this many bytes in base64url.
fn long(text: &str, length: usize) -> Option<&str> {
    let bytes = URL_SAFE_NO_PAD.decode(text).ok()?;
    (bytes.len() == length).then_some(text)
}

#[cfg(test)]
mod tests {
    use jsonwebtoken::Algorithm;
    use serde_json::{Value, json};

    use super::read;

    const X: &str = "bU5R5HKyh6lNzTV5ZcSqs96pq-Y5DVLWUyDCTb6lfhM";

    fn ids(algorithm: Algorithm, keys: &Value) -> Vec<Option<String>> {
        let text = json!({"keys": keys}).to_string();
        let keys = read(algorithm, text.as_bytes()).unwrap();
        keys.into_iter().map(|key| key.id).collect()
    }

    #[test]
    fn only_keys_that_sign_with_the_algorithm_are_taken() {
        let ed = |id: &str, more: Value| {
            let mut key = json!({"kty": "OKP", "crv": "Ed25519", "x": X, "kid": id});
            for (name, value) in more.as_object().unwrap() {
                key[name] = value.clone();
            }
            key
        };
        let keys = json!([
            ed("plain", json!({})),
            ed("told", json!({"use": "sig", "alg": "EdDSA", "key_ops": ["verify"]})),
            ed("encrypts", json!({"use": "enc"})),
            ed("other", json!({"alg": "ES256"})),
            ed("signs", json!({"key_ops": ["sign"]})),
            ed("private", json!({"d": X})),
            ed("curve", json!({"crv": "X25519"})),
            ed("short", json!({"x": "AAAA"})),
            ed("number", json!({"kid": 7})),
            {"kty": "oct", "k": X, "kid": "secret"},
            {"kty": "RSA", "n": X, "e": "AQAB", "kid": "weak"},
            "no object",
        ]);
        let taken = ids(Algorithm::EdDSA, &keys);
        assert_eq!(taken, [Some("plain".to_owned()), Some("told".to_owned())]);
        assert!(ids(Algorithm::RS256, &keys).is_empty());
        assert!(ids(Algorithm::HS256, &keys).is_empty());
        let long = X.repeat(8);
        let rsa = json!([{"kty": "RSA", "n": long, "e": "AQAB", "kid": "good"}]);
        assert_eq!(ids(Algorithm::RS256, &rsa), [Some("good".to_owned())]);
        let point = json!([{"kty": "EC", "crv": "P-256", "x": X, "y": X}]);
        assert_eq!(ids(Algorithm::ES256, &point), [None]);
    }

    #[test]
    fn what_is_no_key_set_is_told_from_an_empty_one() {
        let read = |text: &str| read(Algorithm::EdDSA, text.as_bytes()).map(|keys| keys.len());
        assert_eq!(read(r#"{"keys":[]}"#), Some(0));
        for text in [
            "",
            "[]",
            "{}",
            r#"{"keys":{}}"#,
            r#"{"keys":[],"keys":[]}"#,
            "<html>",
        ] {
            assert_eq!(read(text), None, "{text}");
        }
    }
}
