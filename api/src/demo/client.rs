//! Calls the service as any client would: over HTTP with a token, and nothing else.

use std::{io, net::SocketAddr, time::Duration};

use reqwest::{Method, StatusCode, header, redirect::Policy};
use serde::{Deserialize, Serialize, de::DeserializeOwned};
use serde_json::ser::Formatter;

/// How long an answer may take.
const PATIENCE: Duration = Duration::from_secs(30);

/// Why a call did not bring what was asked for.
#[derive(Debug, thiserror::Error)]
pub(super) enum CallError {
    /// The client cannot be made, or no answer came.
    #[error("{what} got no answer")]
    Transport {
        /// The request.
        what: String,
        /// Why not.
        source: reqwest::Error,
    },
    /// The service said no.
    #[error("{what} was answered with {status}: {told}")]
    Refused {
        /// The request.
        what: String,
        /// The status.
        status: StatusCode,
        /// What the answer says.
        told: String,
    },
    /// The answer is not what the description of the API promises.
    #[error("the answer to {what} cannot be read")]
    Unreadable {
        /// The request.
        what: String,
        /// What is wrong with it.
        source: serde_json::Error,
    },
    /// The body cannot be written.
    #[error("the body of {what} cannot be written")]
    Body {
        /// The request.
        what: String,
        /// Why not.
        source: serde_json::Error,
    },
}

/// A client with a token.
pub(super) struct Client {
    http: reqwest::Client,
    base: String,
    token: String,
}

/// An answer, and the exchange that led to it.
#[derive(Debug)]
pub(super) struct Answer<T> {
    /// `POST /v1/plans`.
    pub(super) request: String,
    /// The body that was sent, with a blank after each colon and comma.
    pub(super) sent: String,
    /// `201 Created`.
    pub(super) status: StatusCode,
    /// Where what was made can be read.
    pub(super) location: Option<String>,
    /// What came.
    pub(super) body: T,
}

impl Client {
    /// A client of the service at `address`.
    ///
    /// # Errors
    /// [`CallError::Transport`] if the client cannot be made.
    pub(super) fn new(address: SocketAddr, token: String) -> Result<Self, CallError> {
        // Only this machine is called, in the open: no proxy, no redirect, and no certificates, which a bare machine
        // may not have.
        let http = reqwest::Client::builder()
            .no_proxy()
            .redirect(Policy::none())
            .tls_certs_only([])
            .timeout(PATIENCE)
            .build();
        let what = "the client".to_owned();
        Ok(Self {
            http: http.map_err(|source| CallError::Transport { what, source })?,
            base: format!("http://{address}"),
            token,
        })
    }

    /// Reads what is at a path.
    ///
    /// # Errors
    /// [`CallError`].
    pub(super) async fn get<T: DeserializeOwned>(
        &self,
        path: &str,
    ) -> Result<Answer<T>, CallError> {
        self.send(Method::GET, path, String::new(), None).await
    }

    /// Posts a body under an idempotency key.
    ///
    /// # Errors
    /// [`CallError`].
    pub(super) async fn post<T: DeserializeOwned>(
        &self,
        path: &str,
        body: &impl Serialize,
        key: &str,
    ) -> Result<Answer<T>, CallError> {
        let sent = spaced(body).map_err(|source| CallError::Body {
            what: format!("POST {path}"),
            source,
        })?;
        self.send(Method::POST, path, sent, Some(key)).await
    }

    async fn send<T: DeserializeOwned>(
        &self,
        method: Method,
        path: &str,
        sent: String,
        key: Option<&str>,
    ) -> Result<Answer<T>, CallError> {
        let what = format!("{method} {path}");
        let mut request = self
            .http
            .request(method, format!("{}{path}", self.base))
            .bearer_auth(&self.token);
        if let Some(key) = key {
            request = request
                .header("idempotency-key", key)
                .header(header::CONTENT_TYPE, "application/json")
                .body(sent.clone());
        }
        let transport = |source| CallError::Transport {
            what: what.clone(),
            source,
        };
        let response = request.send().await.map_err(transport)?;
        let status = response.status();
        let location = response.headers().get(header::LOCATION);
        let location = location.and_then(|at| Some(at.to_str().ok()?.to_owned()));
        let bytes = response.bytes().await.map_err(transport)?;
        if !status.is_success() {
            let told = told(&bytes);
            return Err(CallError::Refused { what, status, told });
        }
        match serde_json::from_slice(&bytes) {
            Ok(body) => Ok(Answer {
                request: what,
                sent,
                status,
                location,
                body,
            }),
            Err(source) => Err(CallError::Unreadable { what, source }),
        }
    }
}

#[derive(Deserialize)]
struct Problem {
    code: String,
    detail: String,
    #[serde(default)]
    errors: Vec<Fault>,
}

#[derive(Deserialize)]
struct Fault {
    detail: String,
    #[serde(default)]
    pointer: Option<String>,
}

/// What a problem says, in one line.
fn told(bytes: &[u8]) -> String {
    let Ok(problem) = serde_json::from_slice::<Problem>(bytes) else {
        return String::from_utf8_lossy(bytes).into_owned();
    };
    let mut text = format!("{}: {}", problem.code, problem.detail);
    for fault in problem.errors {
        text.push_str("; ");
        if let Some(pointer) = fault.pointer {
            text.push_str(&pointer);
            text.push(' ');
        }
        text.push_str(&fault.detail);
    }
    text
}

/// JSON on one line that a person can read and a printer can break: a blank after each colon and comma.
fn spaced(body: &impl Serialize) -> Result<String, serde_json::Error> {
    let mut text = Vec::new();
    let mut writer = serde_json::Serializer::with_formatter(&mut text, Spaced);
    body.serialize(&mut writer)?;
    Ok(String::from_utf8_lossy(&text).into_owned())
}

struct Spaced;

impl Formatter for Spaced {
    fn begin_array_value<W: ?Sized + io::Write>(
        &mut self,
        out: &mut W,
        first: bool,
    ) -> io::Result<()> {
        out.write_all(if first { b"" } else { b", " })
    }

    fn begin_object_key<W: ?Sized + io::Write>(
        &mut self,
        out: &mut W,
        first: bool,
    ) -> io::Result<()> {
        out.write_all(if first { b"" } else { b", " })
    }

    fn begin_object_value<W: ?Sized + io::Write>(&mut self, out: &mut W) -> io::Result<()> {
        out.write_all(b": ")
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::{spaced, told};

    #[test]
    fn a_body_can_be_broken_at_its_blanks() {
        let text = spaced(&json!({"a": [1, 2], "b": {"c": "x,y"}})).expect("is JSON");
        assert_eq!(text, r#"{"a": [1, 2], "b": {"c": "x,y"}}"#);
    }

    #[test]
    fn a_problem_is_told_in_one_line() {
        let problem = json!({
            "code": "invalid_body", "detail": "1 fault.",
            "errors": [{"code": "x", "detail": "Too large.", "pointer": "#/area_m2"}],
        });
        let text = told(problem.to_string().as_bytes());
        assert_eq!(text, "invalid_body: 1 fault.; #/area_m2 Too large.");
        assert_eq!(told(b"gone"), "gone");
    }
}
