//! The way out: calls to addresses that others named.
//!
//! Such an address must never lead into the network that the service runs in. Three gates stand in a row: the address as
//! it is parsed ([`target`]), every address that its name stands for ([`lookup`]), and that of the peer that was reached.
//! A name is looked up once for each attempt and the connection goes to what was looked at, so that nobody can change his
//! mind in between. There are no redirects, no proxies and no connections that are kept.

mod address;
mod lookup;
mod target;

use std::{sync::Arc, time::Duration};

use reqwest::{
    Url,
    header::{HeaderMap, HeaderValue, RETRY_AFTER},
    redirect::Policy,
};

pub(crate) use self::target::{Allowed, target};

/// How long connecting may take.
const CONNECT: Duration = Duration::from_secs(3);
/// How long an attempt may take in all.
const TOTAL: Duration = Duration::from_secs(15);
/// How much of an answer is read, in bytes.
const MAX_READ: usize = 20_000;
/// How much of it is kept, in characters.
const MAX_KEPT: usize = 1_000;

/// What a receiver answered.
#[derive(Debug)]
pub(crate) struct Answered {
    /// The HTTP status.
    pub(crate) status: u16,
    /// The beginning of the text, without what no text may hold.
    pub(crate) text: String,
    /// What it says of when to come back.
    pub(crate) retry_after: Option<HeaderValue>,
}

/// Why there was no answer. Callers are told that there was none and no more: how a host refuses says what is there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Unanswered {
    /// No whole answer came in time.
    TimedOut,
    /// No connection, or one that broke; or the address may not be called.
    NotReached,
}

/// Calls the addresses of others.
#[derive(Debug)]
pub(crate) struct Egress {
    http: reqwest::Client,
    allowed: Allowed,
}

impl Egress {
    /// A way out to what is allowed.
    ///
    /// # Errors
    /// What the HTTP client says of its surroundings.
    pub(crate) fn new(allowed: Allowed) -> Result<Self, reqwest::Error> {
        let resolver = lookup::Guarded::new(lookup::System, allowed.is_insecure);
        Self::with_resolver(allowed, resolver)
    }

    fn with_resolver(
        allowed: Allowed,
        resolver: impl reqwest::dns::Resolve + 'static,
    ) -> Result<Self, reqwest::Error> {
        let http = reqwest::Client::builder()
            .no_proxy()
            // HTTP/2 is compiled in for another crate.
            .http1_only()
            .redirect(Policy::none())
            .referer(false)
            .https_only(!allowed.is_insecure)
            .connect_timeout(CONNECT)
            .timeout(TOTAL)
            .dns_resolver(Arc::new(resolver))
            // Each attempt looks the name up and connects anew.
            .pool_max_idle_per_host(0)
            .user_agent(concat!("wearcourse/", env!("CARGO_PKG_VERSION")))
            .build()?;
        Ok(Self { http, allowed })
    }

    /// What may be called.
    pub(crate) const fn allowed(&self) -> &Allowed {
        &self.allowed
    }

    /// Sends a POST and reads the beginning of the answer.
    ///
    /// # Errors
    /// [`Unanswered`].
    pub(crate) async fn post(
        &self,
        url: &str,
        headers: HeaderMap,
        body: String,
    ) -> Result<Answered, Unanswered> {
        // Looked at again at each attempt: what may be called can have changed since it was registered.
        let url: Url = target(url, &self.allowed).map_err(|fault| {
            tracing::debug!(%fault, "an address may not be called");
            Unanswered::NotReached
        })?;
        let sent = self.http.post(url).headers(headers).body(body).send().await;
        let mut answer = sent.map_err(|error| unanswered(&error))?;
        let is_peer_allowed = answer
            .remote_addr()
            .is_some_and(|peer| self.allowed.is_insecure || address::is_public(peer.ip()));
        if !is_peer_allowed {
            return Err(Unanswered::NotReached);
        }
        let mut text = Vec::new();
        // What lies beyond is left unread: the connection is closed with it.
        while text.len() < MAX_READ {
            match answer.chunk().await {
                Ok(Some(part)) => {
                    let room = MAX_READ.saturating_sub(text.len());
                    text.extend_from_slice(part.get(..room).unwrap_or(&part));
                }
                Ok(None) => break,
                // The status is an answer, whatever becomes of its text.
                Err(error) if error.is_timeout() => return Err(Unanswered::TimedOut),
                Err(_broken) => break,
            }
        }
        Ok(Answered {
            status: answer.status().as_u16(),
            text: cleaned(&text),
            retry_after: answer.headers().get(RETRY_AFTER).cloned(),
        })
    }
}

fn unanswered(error: &reqwest::Error) -> Unanswered {
    let error: &dyn std::error::Error = error;
    tracing::debug!(error, "a receiver gave no answer");
    let mut cause = Some(error);
    while let Some(error) = cause {
        let own = error.downcast_ref::<reqwest::Error>();
        if own.is_some_and(reqwest::Error::is_timeout) {
            return Unanswered::TimedOut;
        }
        cause = error.source();
    }
    Unanswered::NotReached
}

/// Text of others as it may be kept and shown: the beginning, without control characters.
fn cleaned(bytes: &[u8]) -> String {
    let text = String::from_utf8_lossy(bytes);
    let kept = text.chars().filter(|c| !crate::body::is_forbidden(*c));
    kept.take(MAX_KEPT).collect()
}

#[cfg(test)]
mod tests;
