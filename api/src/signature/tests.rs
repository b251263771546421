//! Signatures against those that the specification's own libraries are tested with, and against whoever forges them.

use actix_web::http::header::{HeaderMap, HeaderName, HeaderValue};
use base64::{
    Engine,
    engine::general_purpose::{STANDARD, STANDARD_NO_PAD, URL_SAFE},
};
use chrono::{DateTime, TimeDelta, Utc};

use super::{
    NotProven, TOLERANCE_S, WEBHOOK_ID, WEBHOOK_SIGNATURE, WEBHOOK_TIMESTAMP, WebhookSecret, verify,
};

/// Secret, id, moment, body and signature of the tests of the reference libraries: the first of those for Go, JavaScript, PHP,
/// C# and Java, the second of that for Rust (repository standard-webhooks/standard-webhooks).
const PUBLISHED: [(&str, &str, i64, &str, &str); 2] = [
    (
        "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw",
        "msg_p5jXN8AQM9LWM0D4loKWxJek",
        1_614_265_330,
        r#"{"test": 2432232314}"#,
        "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=",
    ),
    (
        "whsec_C2FVsBQIhrscChlQIMV+b5sSYspob7oD",
        "msg_27UH4WbU6Z5A5EzD8u03UvzRbpk",
        1_649_367_553,
        r#"{"email":"test@example.com","username":"test_user"}"#,
        "v1,tZ1I4/hDygAJgO5TYxiSd6Sd0kDW6hPenDe+bTa3Kkw=",
    ),
];

fn headers(sent: &[(HeaderName, &str)]) -> HeaderMap {
    let mut headers = HeaderMap::new();
    for (name, value) in sent {
        headers.append(name.clone(), HeaderValue::from_str(value).unwrap());
    }
    headers
}

fn moment(seconds: i64) -> DateTime<Utc> {
    DateTime::from_timestamp(seconds, 0).unwrap()
}

/// The first published message; each test changes what it is about.
struct Message<'a> {
    id: &'a str,
    timestamp: &'a str,
    signature: &'a str,
    body: &'a [u8],
    now: i64,
}

impl Default for Message<'_> {
    fn default() -> Self {
        let (_, id, now, body, signature) = PUBLISHED[0];
        Self {
            id,
            timestamp: "1614265330",
            signature,
            body: body.as_bytes(),
            now,
        }
    }
}

impl Message<'_> {
    fn is_proven(&self) -> bool {
        let sent = [
            (WEBHOOK_ID, self.id),
            (WEBHOOK_TIMESTAMP, self.timestamp),
            (WEBHOOK_SIGNATURE, self.signature),
        ];
        let secret = WebhookSecret::parse(PUBLISHED[0].0).unwrap();
        verify(&[secret], &headers(&sent), self.body, moment(self.now)).is_ok()
    }

    /// The same, signed anew for what it says.
    fn signed(&self, secret: &str) -> String {
        let secret = WebhookSecret::parse(secret).unwrap();
        secret.sign(self.id, self.timestamp.parse().unwrap(), self.body)
    }
}

#[test]
fn s_040_signatures_are_those_that_are_published() {
    for (secret, id, timestamp, body, signature) in PUBLISHED {
        let secret = WebhookSecret::parse(secret).unwrap();
        assert_eq!(secret.sign(id, timestamp, body.as_bytes()), signature);
        let sent = [
            (WEBHOOK_ID, id),
            (WEBHOOK_TIMESTAMP, &timestamp.to_string()),
            (WEBHOOK_SIGNATURE, signature),
        ];
        let headers = headers(&sent);
        let proven = verify(
            std::slice::from_ref(&secret),
            &headers,
            body.as_bytes(),
            moment(timestamp),
        );
        assert_eq!(proven, Ok(id));
    }
}

#[test]
fn s_041_a_flipped_bit_anywhere_proves_nothing() {
    let good = Message::default();
    assert!(good.is_proven());
    for at in 0..good.body.len() * 8 {
        let mut body = good.body.to_vec();
        body[at / 8] ^= 1 << (at % 8);
        assert!(
            !Message {
                body: &body,
                ..Message::default()
            }
            .is_proven()
        );
    }
    let id = "msg_p5jXN8AQM9LWM0D4loKWxJel";
    assert!(
        !Message {
            id,
            ..Message::default()
        }
        .is_proven()
    );
    let timestamp = "1614265331";
    assert!(
        !Message {
            timestamp,
            ..Message::default()
        }
        .is_proven()
    );
    let bytes = STANDARD.decode(&good.signature[3..]).unwrap();
    for at in 0..bytes.len() * 8 {
        let mut flipped = bytes.clone();
        flipped[at / 8] ^= 1 << (at % 8);
        let signature = &format!("v1,{}", STANDARD.encode(flipped));
        assert!(
            !Message {
                signature,
                ..Message::default()
            }
            .is_proven()
        );
    }
    let signature = &good.signed(PUBLISHED[1].0);
    assert!(
        !Message {
            signature,
            ..Message::default()
        }
        .is_proven(),
        "another secret"
    );
}

#[test]
fn s_042_a_signature_of_another_form_proves_nothing() {
    let good = Message::default().signature;
    let bytes = STANDARD.decode(&good[3..]).unwrap();
    let longer: Vec<u8> = bytes.iter().copied().chain([0]).collect();
    let v1 = |text: String| format!("v1,{text}");
    for signature in [
        v1(STANDARD.encode(&bytes[..16])),
        v1(STANDARD.encode(&bytes[..31])),
        v1(STANDARD.encode(&longer)),
        v1(String::new()),
        v1(URL_SAFE.encode(&bytes)),
        v1(STANDARD_NO_PAD.encode(&bytes)),
        good.replace("v1,", ""),
        good.replace("v1,", "v1 "),
        good.replace("v1,", "V1,"),
        good.replace("v1,", "v1a,"),
        good.replace("v1,", "v1,,"),
        good.replace(' ', "\t"),
        String::new(),
    ] {
        let signature = &signature;
        // The tab is in no signature: that row is the control.
        let is_good = signature == good;
        assert_eq!(
            Message {
                signature,
                ..Message::default()
            }
            .is_proven(),
            is_good,
            "{signature:?}"
        );
    }
}

#[test]
fn s_043_one_good_signature_of_up_to_ten_is_enough() {
    let good = Message::default().signature;
    let bad = &Message::default().signed(PUBLISHED[1].0);
    let ten = format!("{} {good}", [bad.as_str(); 9].join(" "));
    let eleven = format!("{bad} {ten}");
    for (signature, is_proven) in [
        (format!("{bad} {good}"), true),
        (format!("v9,AAAA {good}"), true),
        (format!("v1,not-base64 {good}"), true),
        (format!("{bad} {bad}"), false),
        (ten, true),
        (eleven, false),
    ] {
        let signature = &signature;
        assert_eq!(
            Message {
                signature,
                ..Message::default()
            }
            .is_proven(),
            is_proven,
            "{signature}"
        );
    }
}

#[test]
fn s_044_a_moment_counts_for_five_minutes_either_way_and_in_digits_only() {
    for (age, is_proven) in [
        (TOLERANCE_S, true),
        (-TOLERANCE_S, true),
        (TOLERANCE_S + 1, false),
        (-TOLERANCE_S - 1, false),
    ] {
        let now = PUBLISHED[0].2 + age;
        assert_eq!(
            Message {
                now,
                ..Message::default()
            }
            .is_proven(),
            is_proven,
            "{age}"
        );
    }
    let secret = WebhookSecret::parse(PUBLISHED[0].0).unwrap();
    for timestamp in [
        "1e9",
        "+1",
        " 1",
        "01614265330 ",
        "-1614265330",
        "16142653300000000000",
        "",
    ] {
        let good = Message::default();
        let tag = secret.tag(good.id, timestamp, good.body);
        let signature = &format!("v1,{}", STANDARD.encode(tag.as_ref()));
        assert!(
            !Message {
                timestamp,
                signature,
                ..good
            }
            .is_proven(),
            "{timestamp:?}"
        );
    }
}

#[test]
fn s_045_an_id_has_no_dot_and_at_most_64_characters() {
    let longest = "m".repeat(64);
    let too_long = "m".repeat(65);
    for (id, is_proven) in [
        (longest.as_str(), true),
        (&too_long, false),
        ("msg.1", false),
        ("msg 1", false),
        ("", false),
    ] {
        let signature = &Message {
            id,
            ..Message::default()
        }
        .signed(PUBLISHED[0].0);
        assert_eq!(
            Message {
                id,
                signature,
                ..Message::default()
            }
            .is_proven(),
            is_proven,
            "{id}"
        );
    }
}

#[test]
fn a_header_that_is_missing_or_sent_twice_proves_nothing() {
    let good = Message::default();
    let all = [
        (WEBHOOK_ID, good.id),
        (WEBHOOK_TIMESTAMP, good.timestamp),
        (WEBHOOK_SIGNATURE, good.signature),
    ];
    let secrets = [WebhookSecret::parse(PUBLISHED[0].0).unwrap()];
    let check = |sent: &[(HeaderName, &str)]| {
        verify(&secrets, &headers(sent), good.body, moment(good.now)).map(|_| ())
    };
    assert_eq!(check(&all), Ok(()));
    for at in 0..all.len() {
        let mut fewer = all.to_vec();
        let taken = fewer.remove(at);
        assert_eq!(check(&fewer), Err(NotProven), "without {}", taken.0);
        let mut more = all.to_vec();
        more.push(taken);
        assert_eq!(check(&more), Err(NotProven), "{} twice", more[at].0);
    }
}

#[test]
fn during_a_rotation_either_secret_proves() {
    let (old, new) = (
        WebhookSecret::parse(PUBLISHED[0].0).unwrap(),
        WebhookSecret::generate().unwrap(),
    );
    let good = Message::default();
    for signer in [&old, &new] {
        let signature = signer.sign(good.id, good.now, good.body);
        let sent = [
            (WEBHOOK_ID, good.id),
            (WEBHOOK_TIMESTAMP, good.timestamp),
            (WEBHOOK_SIGNATURE, signature.as_str()),
        ];
        let proven = |secrets: &[WebhookSecret]| {
            verify(secrets, &headers(&sent), good.body, moment(good.now)).is_ok()
        };
        assert!(proven(&[new.clone(), old.clone()]));
        assert!(!proven(&[]));
    }
}

#[test]
fn a_moment_in_the_far_past_is_too_old_whatever_it_is() {
    let now = moment(0) - TimeDelta::days(100_000);
    let good = Message::default();
    let now = now.timestamp();
    assert!(!Message { now, ..good }.is_proven());
}

#[test]
fn s_030_a_secret_has_24_to_64_bytes_and_shows_nothing() {
    let made = WebhookSecret::generate().unwrap();
    assert_eq!(made.bytes().len(), 32);
    assert_eq!(
        WebhookSecret::parse(&made.text()).unwrap().bytes(),
        made.bytes()
    );
    assert_ne!(WebhookSecret::generate().unwrap().bytes(), made.bytes());
    assert!(!format!("{made:?}").contains(&made.text()[6..]));
    for (length, is_taken) in [(0, false), (23, false), (24, true), (64, true), (65, false)] {
        let text = format!("whsec_{}", STANDARD.encode(vec![7; length]));
        assert_eq!(
            WebhookSecret::parse(&text).is_some(),
            is_taken,
            "{length} bytes"
        );
    }
    assert!(WebhookSecret::parse("whsec_not base64").is_none());
}
