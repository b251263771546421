//! What is counted, under the names of the OpenTelemetry conventions for HTTP servers.
//!
//! The number of series is bounded: a route is its template and never a path that was sent, a method that we do
//! not know is `_OTHER`.

use std::time::Duration;

use actix_web::{
    HttpResponse,
    http::{Method, StatusCode, header},
    web,
};
use infra::store::Backlog;
use infra::store::{Connections, Store};
use prometheus::{
    Encoder, GaugeVec, Histogram, HistogramOpts, HistogramVec, IntCounter, IntCounterVec, IntGauge,
    IntGaugeVec, Opts, Registry, TextEncoder,
};

const BUCKETS: [f64; 14] = [
    0.005, 0.01, 0.025, 0.05, 0.075, 0.1, 0.25, 0.5, 0.75, 1.0, 2.5, 5.0, 7.5, 10.0,
];

/// A connection is given up after two seconds, and SQLite's writer after five.
const WAITS: [f64; 11] = [
    0.000_1, 0.000_5, 0.001, 0.005, 0.01, 0.05, 0.1, 0.5, 1.0, 2.0, 5.0,
];

/// The counters of one service.
#[derive(Debug, Clone)]
pub(crate) struct Metrics {
    registry: Registry,
    durations: HistogramVec,
    active: IntGauge,
    outbound: Outbound,
    connections: IntGaugeVec,
    waits: Histogram,
}

/// What is counted of events on their way out.
#[derive(Debug, Clone)]
struct Outbound {
    waiting: IntGaugeVec,
    oldest: GaugeVec,
    attempts: IntCounterVec,
    dead: IntCounter,
}

impl Outbound {
    fn new(registry: &Registry) -> Result<Self, prometheus::Error> {
        let waiting = IntGaugeVec::new(
            Opts::new(
                "wearcourse_outbound_waiting",
                "Events to be handed out, and deliveries to be tried, of all processes; measured every 10 seconds.",
            ),
            &["what"],
        )?;
        let oldest = GaugeVec::new(
            Opts::new(
                "wearcourse_outbound_oldest_seconds",
                "How long the oldest event waits to be handed out, and the first delivery that is due for its attempt.",
            ),
            &["what"],
        )?;
        let attempts = IntCounterVec::new(
            Opts::new(
                "wearcourse_outbound_attempts_total",
                "Attempts of this process to hand an event over, by what came of them.",
            ),
            &["outcome"],
        )?;
        let dead = IntCounter::new(
            "wearcourse_outbound_dead_total",
            "Deliveries that this process gave up.",
        )?;
        registry.register(Box::new(waiting.clone()))?;
        registry.register(Box::new(oldest.clone()))?;
        registry.register(Box::new(attempts.clone()))?;
        registry.register(Box::new(dead.clone()))?;
        Ok(Self {
            waiting,
            oldest,
            attempts,
            dead,
        })
    }
}

impl Metrics {
    /// Counters that stand at zero.
    ///
    /// # Errors
    /// Those of the library, for names that it does not take.
    pub(crate) fn new() -> Result<Self, prometheus::Error> {
        let durations = HistogramVec::new(
            HistogramOpts::new(
                "http_server_request_duration_seconds",
                "Time to answer requests.",
            )
            .buckets(BUCKETS.to_vec()),
            &[
                "http_request_method",
                "http_route",
                "http_response_status_code",
            ],
        )?;
        let active = IntGauge::new("http_server_active_requests", "Requests being answered.")?;
        let build = IntGaugeVec::new(
            Opts::new("wearcourse_build_info", "The build."),
            &["version"],
        )?;
        build.with_label_values(&[env!("CARGO_PKG_VERSION")]).set(1);
        let connections = IntGaugeVec::new(
            Opts::new("db_client_connection_count", "Connections to the database."),
            &["db_client_connection_state"],
        )?;
        let waits = Histogram::with_opts(
            HistogramOpts::new(
                "db_client_connection_wait_time_seconds",
                "How long transactions waited for a connection until they had begun on it.",
            )
            .buckets(WAITS.to_vec()),
        )?;
        let registry = Registry::new();
        registry.register(Box::new(waits.clone()))?;
        registry.register(Box::new(connections.clone()))?;
        registry.register(Box::new(durations.clone()))?;
        registry.register(Box::new(active.clone()))?;
        registry.register(Box::new(build))?;
        let outbound = Outbound::new(&registry)?;
        Ok(Self {
            registry,
            durations,
            active,
            outbound,
            connections,
            waits,
        })
    }

    /// Counts from now on how long transactions of a store wait to begin.
    pub(crate) fn watch(&self, store: &Store) {
        let waits = self.waits.clone();
        store.tell_waits(move |wait| waits.observe(wait.as_secs_f64()));
    }

    /// Counts a request as being answered until what is returned is dropped.
    pub(crate) fn begin(&self) -> Active {
        self.active.inc();
        Active(self.active.clone())
    }

    /// Counts an answer.
    pub(crate) fn answered(
        &self,
        method: &Method,
        route: &str,
        status: StatusCode,
        took: Duration,
    ) {
        let labels = [known(method), route, status.as_str()];
        self.durations
            .with_label_values(&labels)
            .observe(took.as_secs_f64());
    }

    /// Notes how events stand on their way out.
    pub(crate) fn backlog(&self, backlog: Backlog) {
        let Outbound {
            waiting, oldest, ..
        } = &self.outbound;
        for (what, n, age) in [
            ("events", backlog.n_events, backlog.oldest_event),
            ("deliveries", backlog.n_deliveries, backlog.oldest_due),
        ] {
            waiting.with_label_values(&[what]).set(n);
            oldest.with_label_values(&[what]).set(age.as_seconds_f64());
        }
    }

    /// Counts an attempt to hand an event over.
    pub(crate) fn attempted(&self, outcome: &str) {
        let attempts = self.outbound.attempts.with_label_values(&[outcome]);
        attempts.inc();
    }

    /// Counts a delivery that was given up.
    pub(crate) fn died(&self) {
        self.outbound.dead.inc();
    }

    /// Notes how the connections to the database are used.
    pub(crate) fn connections(&self, found: Connections) {
        let used = found.open.saturating_sub(found.idle);
        for (state, n) in [("used", used), ("idle", found.idle)] {
            let n = i64::try_from(n).unwrap_or(i64::MAX);
            self.connections.with_label_values(&[state]).set(n);
        }
    }

    /// All of it in the text format of Prometheus.
    pub(crate) fn text(&self) -> Vec<u8> {
        let mut text = Vec::new();
        // Writing to memory fails only for families without a name, of which there are none.
        let _ = TextEncoder::new().encode(&self.registry.gather(), &mut text);
        text
    }
}

/// A request that is being answered.
#[derive(Debug)]
pub(crate) struct Active(IntGauge);

impl Drop for Active {
    fn drop(&mut self) {
        self.0.dec();
    }
}

/// `GET /metrics`, on a listener of its own.
pub(crate) async fn show(metrics: web::Data<Metrics>, store: web::Data<Store>) -> HttpResponse {
    metrics.connections(store.connections());
    let kind = (
        header::CONTENT_TYPE,
        "text/plain; version=0.0.4; charset=utf-8",
    );
    HttpResponse::Ok().insert_header(kind).body(metrics.text())
}

fn known(method: &Method) -> &'static str {
    match method.as_str() {
        "GET" => "GET",
        "HEAD" => "HEAD",
        "POST" => "POST",
        "PUT" => "PUT",
        "PATCH" => "PATCH",
        "DELETE" => "DELETE",
        "OPTIONS" => "OPTIONS",
        "TRACE" => "TRACE",
        "CONNECT" => "CONNECT",
        _ => "_OTHER",
    }
}
