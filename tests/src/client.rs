//! A thin HTTP client: it follows no redirect, repeats nothing and hides no header.

#![expect(
    clippy::expect_used,
    clippy::panic,
    reason = "an answer that does not arrive, or is not what was awaited, ends the test"
)]

use std::sync::atomic::{AtomicU64, Ordering};

use reqwest::{Method, header::HeaderMap};
use serde_json::Value;

/// How many idempotency keys were made.
static N_KEYS: AtomicU64 = AtomicU64::new(0);

/// Somebody who calls the service, with or without a token.
#[derive(Debug, Clone)]
pub struct Caller {
    http: reqwest::Client,
    base: String,
    token: Option<String>,
}

impl Caller {
    /// What callers share: connections, and the refusal of proxies and redirects.
    ///
    /// # Errors
    /// The library's, if it cannot be set up.
    pub fn http() -> Result<reqwest::Client, reqwest::Error> {
        reqwest::Client::builder()
            .no_proxy()
            .redirect(reqwest::redirect::Policy::none())
            .tls_certs_only([])
            .build()
    }

    /// A caller of the service at `base`, an address without a slash at the end.
    pub const fn new(http: reqwest::Client, base: String, token: Option<String>) -> Self {
        Self { http, base, token }
    }

    /// The address of the service, without a slash at the end.
    pub fn base(&self) -> &str {
        &self.base
    }

    /// The token, if there is one.
    pub fn token(&self) -> Option<&str> {
        self.token.as_deref()
    }

    /// Starts a request.
    pub fn call(&self, method: Method, path: &str) -> Call {
        let mut request = self.http.request(method, format!("{}{path}", self.base));
        if let Some(token) = &self.token {
            request = request.header("Authorization", format!("Bearer {token}"));
        }
        Call(request)
    }

    /// Reads.
    pub async fn get(&self, path: &str) -> Answer {
        self.call(Method::GET, path).answer().await
    }

    /// Creates, without an idempotency key.
    pub async fn post(&self, path: &str, body: &Value) -> Answer {
        self.call(Method::POST, path).json(body).answer().await
    }

    /// Creates, with an idempotency key.
    pub async fn post_keyed(&self, path: &str, key: &str, body: &Value) -> Answer {
        let call = self.call(Method::POST, path).json(body);
        call.header("Idempotency-Key", key).answer().await
    }

    /// Creates, with an idempotency key that nobody has used.
    pub async fn record(&self, path: &str, body: &Value) -> Answer {
        self.post_keyed(path, &fresh_key(), body).await
    }

    /// Changes the version that `if_match` names.
    pub async fn patch(&self, path: &str, if_match: &str, body: &Value) -> Answer {
        let call = self.call(Method::PATCH, path).merge_patch(body);
        call.header("If-Match", if_match).answer().await
    }
}

/// An idempotency key that no other call of these tests has.
pub fn fresh_key() -> String {
    let n = N_KEYS.fetch_add(1, Ordering::Relaxed);
    format!("test-{n}")
}

/// A request that is being put together.
#[derive(Debug)]
pub struct Call(reqwest::RequestBuilder);

impl Call {
    /// Adds a header.
    #[must_use]
    pub fn header(self, name: &str, value: &str) -> Self {
        Self(self.0.header(name, value))
    }

    /// Adds a body as it is.
    #[must_use]
    pub fn bytes(self, body: impl Into<Vec<u8>>) -> Self {
        Self(self.0.body(body.into()))
    }

    /// Adds a body of JSON.
    #[must_use]
    pub fn json(self, body: &Value) -> Self {
        self.header("Content-Type", "application/json")
            .bytes(body.to_string())
    }

    /// Adds a body of JSON that changes a record (RFC 7396).
    #[must_use]
    pub fn merge_patch(self, body: &Value) -> Self {
        self.header("Content-Type", "application/merge-patch+json")
            .bytes(body.to_string())
    }

    /// Sends it and reads the whole answer.
    ///
    /// # Errors
    /// The library's, if no answer arrives.
    pub async fn send(self) -> Result<Answer, reqwest::Error> {
        let answer = self.0.send().await?;
        Ok(Answer {
            status: answer.status().as_u16(),
            headers: answer.headers().clone(),
            body: answer.bytes().await?.to_vec(),
        })
    }

    /// Sends it; for tests, where an answer must arrive.
    ///
    /// # Panics
    /// If none arrives.
    pub async fn answer(self) -> Answer {
        self.send().await.expect("an answer")
    }
}

/// What came back.
#[derive(Debug, Clone)]
pub struct Answer {
    /// The status.
    pub status: u16,
    /// The headers.
    pub headers: HeaderMap,
    /// The body.
    pub body: Vec<u8>,
}

impl Answer {
    /// The answer, if its status is the one that is awaited.
    ///
    /// # Panics
    /// If it is another; the body is shown.
    #[must_use]
    #[track_caller]
    pub fn must(self, status: u16) -> Self {
        let found = self.status;
        assert!(found == status, "{found} and not {status}: {}", self.text());
        self
    }

    /// The body as text; what is not UTF-8 is replaced.
    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    /// The body as JSON; null for one that is not.
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.body).unwrap_or_default()
    }

    /// A header, if there is exactly one of that name.
    pub fn header(&self, name: &str) -> Option<&str> {
        let mut all = self.headers.get_all(name).iter();
        let only = all.next().filter(|_| all.next().is_none());
        only.and_then(|value| value.to_str().ok())
    }

    /// The tag of the record's version.
    ///
    /// # Panics
    /// If there is none.
    #[track_caller]
    pub fn etag(&self) -> String {
        self.header("ETag").expect("an ETag").to_owned()
    }

    /// The id of the record.
    ///
    /// # Panics
    /// If the answer holds none.
    #[track_caller]
    pub fn id(&self) -> String {
        match self.json().get("id").and_then(Value::as_str) {
            Some(id) => id.to_owned(),
            None => panic!("{} without an id: {}", self.status, self.text()),
        }
    }

    /// The answer as the problem that it must be: of this status and code, in the right media type.
    ///
    /// # Panics
    /// If it is another, or none.
    #[track_caller]
    pub fn problem(&self, status: u16, code: &str) -> Value {
        let (shown, told) = (self.text(), self.json());
        let word = |name: &str| told.get(name).and_then(Value::as_str).unwrap_or_default();
        assert!(
            self.status == status && word("code") == code,
            "{} {shown}",
            self.status
        );
        assert_eq!(
            self.header("Content-Type"),
            Some("application/problem+json"),
            "{shown}"
        );
        assert_eq!(told.get("status"), Some(&status.into()), "{shown}");
        assert!(
            word("type").ends_with(&format!("/problems/{code}")),
            "{shown}"
        );
        told
    }

    /// The faults of an answer: place (pointer, parameter or header) and code, in order.
    pub fn faults(&self) -> Vec<(String, String)> {
        let told = self.json();
        let faults = told.get("errors").and_then(Value::as_array);
        let place = |fault: &Value| {
            let names = ["pointer", "parameter", "header"];
            let place = names
                .iter()
                .find_map(|name| fault.get(*name).and_then(Value::as_str));
            let code = fault.get("code").and_then(Value::as_str);
            (
                place.unwrap_or_default().to_owned(),
                code.unwrap_or_default().to_owned(),
            )
        };
        let mut faults: Vec<_> = faults.into_iter().flatten().map(place).collect();
        faults.sort();
        faults
    }
}
