//! What the service listens on.

use std::{net::SocketAddr, time::Duration};

use super::source::Source;

/// How long things may take.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Deadlines {
    /// The head of a request, until it has arrived.
    pub head: Duration,
    /// Its body.
    pub body: Duration,
    /// Its answer, from when the head has arrived.
    pub handler: Duration,
    /// The answer of a report, a batch or an estimate.
    pub long: Duration,
    /// How long a reader may take nothing of what is sent.
    pub stall: Duration,
}

impl Default for Deadlines {
    fn default() -> Self {
        Self {
            head: Duration::from_secs(5),
            body: Duration::from_secs(10),
            handler: Duration::from_secs(15),
            long: Duration::from_secs(30),
            stall: Duration::from_secs(30),
        }
    }
}

/// The listeners and their limits.
#[derive(Debug, Clone)]
pub struct HttpConfig {
    /// `WEARCOURSE_BIND`, default `127.0.0.1:8080`; port 0 takes a free one.
    pub bind: SocketAddr,
    /// `WEARCOURSE_METRICS_BIND`, default `127.0.0.1:9464`; none if `off`.
    pub metrics_bind: Option<SocketAddr>,
    /// `WEARCOURSE_PUBLIC_URL`, without a final slash; empty if not set: links are then relative.
    pub public_url: String,
    /// `WEARCOURSE_DOCS`: `on` or `off`; not set: on in the demo, off otherwise.
    pub docs: Option<bool>,
    /// `WEARCOURSE_WORKERS`, threads; none for one for each core.
    pub workers: Option<usize>,
    /// `WEARCOURSE_MAX_CONNECTIONS`, connections of one thread, default 4096.
    pub max_connections: usize,
    /// `WEARCOURSE_DRAIN_S`, default 5 seconds: how long requests are still taken after `/readyz` says no.
    pub drain: Duration,
    /// `WEARCOURSE_SHUTDOWN_S`, default 10 seconds.
    pub shutdown: Duration,
    /// How long requests may take; no variable sets it.
    pub deadlines: Deadlines,
}

impl HttpConfig {
    pub(super) fn from_source(source: &mut Source) -> Self {
        let bind = SocketAddr::from(([127, 0, 0, 1], 8080));
        let workers = source.number("WEARCOURSE_WORKERS", 0, 0..=512);
        let connections = source.number("WEARCOURSE_MAX_CONNECTIONS", 4096, 1..=100_000);
        let drain = source.number("WEARCOURSE_DRAIN_S", 5, 0..=300);
        let shutdown = source.number("WEARCOURSE_SHUTDOWN_S", 10, 1..=600);
        Self {
            bind: source.parsed("WEARCOURSE_BIND", bind, "an address and a port"),
            metrics_bind: metrics_bind(source),
            public_url: public_url(source),
            docs: source.switch("WEARCOURSE_DOCS"),
            workers: usize::try_from(workers).ok().filter(|workers| *workers > 0),
            max_connections: usize::try_from(connections).unwrap_or(usize::MAX),
            drain: Duration::from_secs(drain.into()),
            shutdown: Duration::from_secs(shutdown.into()),
            deadlines: Deadlines::default(),
        }
    }
}

fn metrics_bind(source: &mut Source) -> Option<SocketAddr> {
    let name = "WEARCOURSE_METRICS_BIND";
    if source.text(name).as_deref() == Some("off") {
        return None;
    }
    let default = SocketAddr::from(([127, 0, 0, 1], 9464));
    Some(source.parsed(name, default, "an address and a port, or `off`"))
}

/// Plain HTTP is for this machine only: tokens would travel in the open.
fn public_url(source: &mut Source) -> String {
    let name = "WEARCOURSE_PUBLIC_URL";
    let Some(url) = source.text(name) else {
        return String::new();
    };
    let url = url.trim_end_matches('/');
    let local = ["http://127.0.0.1", "http://localhost", "http://[::1]"];
    let is_local = local.iter().any(|start| {
        url.strip_prefix(start)
            .is_some_and(|rest| rest.is_empty() || rest.starts_with([':', '/']))
    });
    let is_plain = url
        .bytes()
        .all(|byte| byte.is_ascii_graphic() && !b"\"<>\\^`{|}?#".contains(&byte));
    if (url.starts_with("https://") || is_local) && is_plain {
        return url.to_owned();
    }
    source.fault(
        name,
        "must be an https address (http only for this machine), without query or fragment",
    );
    String::new()
}
