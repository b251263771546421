//! Messages that are not proven: one answer for every reason.

use std::collections::BTreeSet;

use chrono::TimeDelta;
use serde_json::json;
use tests::{
    build,
    client::{Answer, Call},
    inbound::{Sender, event, sign},
};

use super::Crew;

/// What an answer says, but for what names the request; and its headers.
#[track_caller]
fn told(answer: &Answer) -> String {
    let mut told = answer.problem(401, "not_proven");
    for member in ["request_id", "instance"] {
        told.as_object_mut().unwrap().remove(member);
    }
    let challenge = answer.header("WWW-Authenticate");
    format!("{told} {challenge:?} {}", answer.body.len())
}

/// A message whose headers can be chosen.
fn message<'a>(
    crew: &Crew,
    path: &str,
    headers: impl IntoIterator<Item = &'a (String, String)>,
    body: &str,
) -> Call {
    let call = crew.sender.unsigned(path, body);
    headers
        .into_iter()
        .fold(call, |call, (name, value)| call.header(name, value))
}

/// The three headers of a message.
fn headers(id: &str, stamp: &str, signature: &str) -> [(String, String); 3] {
    [
        ("webhook-id".to_owned(), id.to_owned()),
        ("webhook-timestamp".to_owned(), stamp.to_owned()),
        ("webhook-signature".to_owned(), signature.to_owned()),
    ]
}

/// The headers of a message that was signed at a moment.
fn stamped_at(
    secret: &str,
    (id, moment): (&str, chrono::DateTime<chrono::Utc>),
    body: &str,
) -> [(String, String); 3] {
    let signature = sign(secret, id, moment, body.as_bytes());
    headers(id, &moment.timestamp().to_string(), &signature)
}

#[tokio::test]
async fn s_041_to_s_051_every_reason_has_the_same_answer_and_no_effect() {
    let crew = Crew::new().await;
    let reported = event("completion.reported", 0, &crew.report("1", json!({})));
    let (body, now) = (reported.to_string(), crew.app.now());
    let (path, secret) = (crew.sender.path.as_str(), crew.sender.secret.as_str());
    let souths = crew.app.admin_of(tests::app::SOUTH);
    let south = Sender::new(&crew.app, &souths, &build::new_contractor(&souths).await).await;
    let other = Sender::new(&crew.app, &crew.admin, &crew.sender.contractor).await;
    let stamp = now.timestamp().to_string();
    let good = sign(secret, "evt-1", now, body.as_bytes());
    let of = |secret: &str| sign(secret, "evt-1", now, body.as_bytes());
    let (old, early) = [-301, 301].map(|s| now + TimeDelta::seconds(s)).into();
    let at = |moment, id: &str| stamped_at(&crew.sender.secret, (id, moment), &body);
    let long = "m".repeat(65);
    let eleven = [good.as_str(); 11].join(" ");
    let nobody = format!("/v1/inbound/{}", "A".repeat(43));
    let cases = [
        (path, headers("evt-2", &stamp, &good), body.clone()),
        (
            path,
            headers("evt-1", &(now.timestamp() + 1).to_string(), &good),
            body.clone(),
        ),
        (
            path,
            headers("evt-1", &stamp, &of(&other.secret)),
            body.clone(),
        ),
        (
            path,
            headers("evt-1", &stamp, &of(&south.secret)),
            body.clone(),
        ),
        (path, headers("evt-1", &stamp, &good[..20]), body.clone()),
        (path, headers("evt-1", &stamp, &eleven), body.clone()),
        (path, headers("evt-1", &stamp, &good), format!("{body} ")),
        (path, at(old, "evt-1"), body.clone()),
        (path, at(early, "evt-1"), body.clone()),
        (path, at(now, "evt.1"), body.clone()),
        (path, at(now, &long), body.clone()),
        (&nobody, headers("evt-1", &stamp, &good), body.clone()),
        (
            "/v1/inbound/x",
            headers("evt-1", &stamp, &good),
            body.clone(),
        ),
        (&other.path, headers("evt-1", &stamp, &good), body.clone()),
        (&south.path, headers("evt-1", &stamp, &good), body.clone()),
    ];
    let mut texts = BTreeSet::new();
    for (path, headers, body) in &cases {
        texts.insert(told(&message(&crew, path, headers, body).answer().await));
    }
    let whole = headers("evt-1", &stamp, &good);
    for at in 0..3 {
        let fewer = whole.iter().enumerate().filter(|(n, _)| *n != at);
        let fewer = message(&crew, path, fewer.map(|(_, header)| header), &body);
        let more = message(&crew, path, whole.iter().chain([&whole[at]]), &body);
        for call in [fewer, more] {
            texts.insert(told(&call.answer().await));
        }
    }
    assert_eq!(texts.len(), 1, "{texts:#?}");
    assert_eq!(crew.all().await.len(), 0);
    // The control: the same message as it was signed is taken, also beside a bad signature and at the edge of the tolerance.
    let both = format!("v9,AAAA {} {good}", of(&other.secret));
    for (n, stamped) in [
        headers("evt-1", &stamp, &both),
        at(now - TimeDelta::seconds(299), "evt-1"),
        at(now + TimeDelta::seconds(299), "evt-1"),
    ]
    .iter()
    .enumerate()
    {
        let answer = message(&crew, path, stamped, &body)
            .answer()
            .await
            .must(200);
        assert_eq!(answer.header("Idempotent-Replayed").is_some(), n > 0);
    }
    assert_eq!(crew.all().await.len(), 1);
}

#[tokio::test]
async fn s_052_another_kind_of_body_is_refused_unread() {
    let crew = Crew::new().await;
    let event = event("completion.reported", 0, &crew.report("1", json!({})));
    let body = event.to_string();
    let signed = || (crew.sender).message(&crew.sender.path, "evt-1", crew.app.now(), &body);
    for coding in ["gzip", "br"] {
        let answer = signed().header("Content-Encoding", coding).answer().await;
        answer.problem(415, "unsupported_media_type");
    }
    let text = crew.sender.unsigned(&crew.sender.path, &body);
    let answer = text.header("Content-Type", "text/plain").answer().await;
    answer.problem(415, "unsupported_media_type");
    let huge = " ".repeat(256 * 1024 + 1);
    let answer = (crew.sender).message(&crew.sender.path, "evt-1", crew.app.now(), &huge);
    answer.answer().await.problem(413, "body_too_large");
    let path = format!("{}?surprise=1", crew.sender.path);
    let answer = (crew.sender).message(&path, "evt-1", crew.app.now(), &body);
    answer.answer().await.problem(400, "unknown_parameter");
}
