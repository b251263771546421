//! A contractor's own system: it has an address and a secret and signs what it sends.
//!
//! Signatures are made by the reference library of the Standard Webhooks specification (the crate `standardwebhooks`), which
//! shares no code with the service.

#![expect(clippy::expect_used, reason = "a test that cannot sign cannot go on")]

use chrono::{DateTime, Utc};
use reqwest::Method;
use serde_json::{Value, json};
use standardwebhooks::Webhook;

use crate::{
    app::TestApp,
    client::{Answer, Call, Caller},
    read,
};

/// The signature of a message, as `webhook-signature` holds it.
///
/// # Panics
/// If the secret is none.
#[must_use]
pub fn sign(secret: &str, id: &str, at: DateTime<Utc>, body: &[u8]) -> String {
    let webhook = Webhook::new(secret).expect("a secret");
    let signature = webhook.sign(id, at.timestamp(), body);
    signature.expect("a signature")
}

/// A contractor's own system.
#[derive(Debug, Clone)]
pub struct Sender {
    /// The source's id.
    pub id: String,
    /// The contractor's id.
    pub contractor: String,
    /// The path of the address.
    pub path: String,
    /// The secret.
    pub secret: String,
    caller: Caller,
}

impl Sender {
    /// A system of a new source of a contractor, made by `admin`.
    ///
    /// # Panics
    /// If it cannot be made.
    pub async fn new(app: &TestApp, admin: &Caller, contractor: &str) -> Self {
        let body = json!({"contractor_id": contractor, "name": "Crew app"});
        let made = admin.post("/v1/contractor-sources", &body).await;
        let made = made.must(201).json();
        Self {
            id: read::text(&made, "/id").to_owned(),
            contractor: contractor.to_owned(),
            path: read::text(&made, "/address").to_owned(),
            secret: read::text(&made, "/secret").to_owned(),
            caller: app.stranger(),
        }
    }

    /// A message that is signed for `at`.
    #[must_use]
    pub fn message(&self, path: &str, id: &str, at: DateTime<Utc>, body: &str) -> Call {
        let signature = sign(&self.secret, id, at, body.as_bytes());
        self.unsigned(path, body)
            .header("webhook-id", id)
            .header("webhook-timestamp", &at.timestamp().to_string())
            .header("webhook-signature", &signature)
    }

    /// A message without the three headers.
    #[must_use]
    pub fn unsigned(&self, path: &str, body: &str) -> Call {
        let call = self.caller.call(Method::POST, path);
        call.header("Content-Type", "application/json").bytes(body)
    }

    /// Sends an event, signed now.
    pub async fn send(&self, app: &TestApp, id: &str, event: &Value) -> Answer {
        let body = event.to_string();
        self.message(&self.path, id, app.now(), &body)
            .answer()
            .await
    }

    /// Sends several events in one message, signed now.
    pub async fn send_all(&self, app: &TestApp, events: &[Value]) -> Answer {
        let (path, body) = (
            format!("{}/batch", self.path),
            json!({"events": events}).to_string(),
        );
        self.message(&path, "message", app.now(), &body)
            .answer()
            .await
    }
}

/// An event of a type about `data`, which happened `minute` minutes after six in the morning of 12 May 2026.
#[must_use]
pub fn event(kind: &str, minute: u32, data: &Value) -> Value {
    let timestamp = format!("2026-05-12T{:02}:{:02}:00Z", 6 + minute / 60, minute % 60);
    json!({"type": kind, "timestamp": timestamp, "data": data})
}
