//! Headers of signed messages. The first three lines of an input are the headers' values, the rest is the body; where the third
//! is `ours`, the message is signed as it stands.

#![no_main]

use actix_web::http::header::{HeaderMap, HeaderValue};
use chrono::DateTime;
use libfuzzer_sys::fuzz_target;

#[allow(dead_code)]
#[path = "../../../api/src/signature.rs"]
mod signature;

/// In the place of what seals secrets, of which reading signatures needs nothing.
mod seal {
    #[derive(Debug)]
    pub(crate) enum SealError {
        NoRandom,
    }
    pub(crate) fn random<const N: usize>() -> Result<[u8; N], SealError> {
        Err(SealError::NoRandom)
    }
}

use signature::{
    MAX_ID, TOLERANCE_S, WEBHOOK_ID, WEBHOOK_SIGNATURE, WEBHOOK_TIMESTAMP, WebhookSecret, verify,
};

const NOW: i64 = 1_700_000_000;

fuzz_target!(|bytes: &[u8]| {
    let mut parts = bytes.splitn(4, |byte| *byte == b'\n');
    let mut part = || parts.next().unwrap_or_default();
    let (id, timestamp, signatures, body) = (part(), part(), part(), part());
    let Some(secret) = WebhookSecret::from_bytes(vec![7; 32]) else {
        return;
    };
    let (Ok(id_text), Ok(timestamp_text)) = (str::from_utf8(id), str::from_utf8(timestamp)) else {
        return;
    };
    let seconds: Option<i64> = timestamp_text.parse().ok();
    let own = secret.sign(id_text, seconds.unwrap_or(NOW), body);
    let signatures = if signatures == b"ours" { own.as_bytes() } else { signatures };
    let mut headers = HeaderMap::new();
    for (name, value) in [
        (WEBHOOK_ID, id),
        (WEBHOOK_TIMESTAMP, timestamp),
        (WEBHOOK_SIGNATURE, signatures),
    ] {
        let Ok(value) = HeaderValue::from_bytes(value) else {
            return;
        };
        headers.append(name, value);
    }
    let now = DateTime::from_timestamp(NOW, 0).unwrap_or_default();
    if let Ok(proven) = verify(&[secret.clone()], &headers, body, now) {
        assert_eq!(proven, id_text);
        assert!((1..=MAX_ID).contains(&proven.len()) && !proven.contains('.'));
        assert!(seconds.is_some_and(|seconds| (NOW - seconds).abs() <= TOLERANCE_S));
    } else {
        let is_id = |byte: &u8| byte.is_ascii_graphic() && *byte != b'.';
        let is_right = signatures == own.as_bytes()
            && seconds.is_some_and(|seconds| seconds.to_string() == timestamp_text)
            && seconds.is_some_and(|seconds| (NOW - seconds).abs() <= TOLERANCE_S)
            && (1..=MAX_ID).contains(&id.len())
            && id.iter().all(is_id);
        assert!(!is_right, "what was signed is refused");
    }
});
