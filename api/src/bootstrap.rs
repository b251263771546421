//! The only place where concrete parts meet: from a configuration and parts to a service that listens.

use std::{any::Any, net::SocketAddr, sync::Arc, time::Duration};

use actix_web::{
    HttpServer,
    dev::{Server, ServerHandle},
    web,
};
use domain::knowledge::KnowledgeBase;
use infra::{
    clock::{IdSource as _, SystemClock, UuidV7Source},
    store::{OpenError, Store},
};
use jsonwebtoken::Algorithm;
#[cfg(any(target_os = "linux", target_os = "android"))]
use socket2::SockRef;
#[cfg(any(target_os = "linux", target_os = "android"))]
use tokio::net::TcpStream;
use tokio::sync::Notify;

use crate::{
    app::{import::Headway, learning::Lately},
    auth::{Accepted, Published, Revoked, Tenants, Verifier},
    body::Validators,
    config::{AuthConfig, AuthKey, Config, ConfigFaults, Secret},
    context::{Context, Parts},
    courier,
    cursor::CursorKey,
    egress::{Allowed, Egress},
    limit::Limits,
    metrics::Metrics,
    paper::Press,
    readiness::Readiness,
    running::Running,
    seal::SealKeys,
    server, worker,
};

/// How long a connection may be idle.
const KEEP_ALIVE: Duration = Duration::from_secs(30);

/// Why the service does not start.
#[derive(Debug, thiserror::Error)]
pub enum StartError {
    /// The configuration cannot be used.
    #[error(transparent)]
    Config(#[from] ConfigFaults),
    /// An address cannot be listened on.
    #[error("cannot listen on {address}")]
    Listen {
        /// The address.
        address: SocketAddr,
        /// Why not.
        source: std::io::Error,
    },
    /// The database cannot be opened or brought to the tables of this version.
    #[error("the database cannot be used")]
    Database(#[source] Box<OpenError>),
    /// The fonts that are configured cannot be used.
    #[error("the fonts of WEARCOURSE_FONTS cannot be used")]
    Fonts(#[source] Box<dyn std::error::Error + Send + Sync>),
    /// A mistake of ours that shows at start.
    #[error("the service is inconsistent")]
    Inconsistent(#[source] Box<dyn std::error::Error + Send + Sync>),
}

/// A service that listens and, once it runs, serves.
pub struct Application {
    addr: SocketAddr,
    metrics_addr: Option<SocketAddr>,
    drain: Duration,
    service: Server,
    metrics: Option<Server>,
    /// Whether events are sent from here.
    sends: bool,
    ctx: web::Data<Context>,
}

impl Parts {
    /// The parts of a real service: its database, brought to the tables of this version, the clock of the machine
    /// and fresh ids.
    ///
    /// # Errors
    /// [`StartError::Database`].
    pub async fn open(config: &Config) -> Result<Self, StartError> {
        let database = |error: OpenError| StartError::Database(Box::new(error));
        let store = Store::open(&config.database.for_store())
            .await
            .map_err(database)?;
        store
            .migrate()
            .await
            .map_err(|error| database(error.into()))?;
        Ok(Self {
            store,
            clock: Arc::new(SystemClock),
            ids: Arc::new(UuidV7Source),
        })
    }
}

impl Application {
    /// Binds the listeners; port 0 takes a free one. Must be called inside a Tokio runtime.
    ///
    /// # Errors
    /// [`StartError`]: no key for tokens, an address in use.
    pub fn build(config: &Config, parts: Parts) -> Result<Self, StartError> {
        Validators::shared().map_err(|fault| StartError::Inconsistent(Box::new(fault)))?;
        let ctx = web::Data::new(context(config, parts)?);
        let (service, addr) = serve(config, &ctx)?;
        let metrics = config
            .http
            .metrics_bind
            .map(|bind| expose(bind, &ctx))
            .transpose()?;
        let (metrics, metrics_addr) = metrics.unzip();
        Ok(Self {
            addr,
            metrics_addr,
            drain: config.http.drain,
            service,
            metrics,
            sends: config.outbound.is_on,
            ctx,
        })
    }

    /// Where the service listens.
    pub const fn addr(&self) -> SocketAddr {
        self.addr
    }

    /// Where the metrics are, if they are anywhere.
    pub const fn metrics_addr(&self) -> Option<SocketAddr> {
        self.metrics_addr
    }

    /// Stops the service from elsewhere.
    pub fn stopper(&self) -> Stopper {
        Stopper {
            drain: self.drain,
            service: self.service.handle(),
            metrics: self.metrics.as_ref().map(Server::handle),
            ctx: self.ctx.clone(),
        }
    }

    /// Serves until it is stopped: by a [`Stopper`] or, if `until` ends, by itself.
    ///
    /// # Errors
    /// Those of the listeners.
    pub async fn run(self, until: impl Future<Output = ()>) -> std::io::Result<()> {
        self.run_until(until, std::future::pending()).await
    }

    /// As [`Application::run`]; if `hurry` ends while the service stops, it is given up with what it is still doing.
    ///
    /// # Errors
    /// Those of the listeners.
    pub async fn run_until(
        self,
        until: impl Future<Output = ()>,
        hurry: impl Future<Output = ()>,
    ) -> std::io::Result<()> {
        let stopper = self.stopper();
        tracing::info!(addr = %self.addr, "serving");
        let metrics = async {
            match self.metrics {
                Some(metrics) => metrics.await,
                None => Ok(()),
            }
        };
        let stop = async {
            until.await;
            let given_up = async {
                hurry.await;
                tracing::warn!("stopping at once: requests that are running are given up");
            };
            tokio::select! {
                () = stopper.stop() => false,
                () = given_up => true,
            }
        };
        let serve = async { tokio::try_join!(self.service, metrics) };
        // What they are at when the service stops is begun anew by another, or at the next start.
        let ctx = self.ctx.into_inner();
        let courier = async {
            if self.sends {
                Box::pin(courier::work(&ctx)).await
            } else {
                std::future::pending().await
            }
        };
        let schedules = Box::pin(worker::make_schedules(Arc::clone(&ctx)));
        let work = futures_util::future::join3(worker::work(Arc::clone(&ctx)), courier, schedules);
        tokio::pin!(serve, stop);
        tokio::select! {
            done = &mut serve => done.map(|_| ()),
            given_up = &mut stop => if given_up { Ok(()) } else { serve.await.map(|_| ()) },
            (never, _, _) = work => match never {},
        }
    }
}

impl std::fmt::Debug for Application {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Application")
            .field("addr", &self.addr)
            .finish_non_exhaustive()
    }
}

/// Stops a service: not ready at once, closed once those who send requests had time to notice, then whole once running
/// requests are done or out of time.
pub struct Stopper {
    drain: Duration,
    service: ServerHandle,
    metrics: Option<ServerHandle>,
    ctx: web::Data<Context>,
}

impl Stopper {
    /// Stops the service and returns when it has stopped.
    #[expect(
        clippy::disallowed_methods,
        reason = "whoever sends requests here tells nobody when he has stopped: time is all there is"
    )]
    pub async fn stop(&self) {
        self.ctx.readiness.drain();
        tracing::info!("stopping");
        // Until a balancer has seen that, it sends requests here, and a closed listener would lose them.
        tokio::time::sleep(self.drain).await;
        self.service.stop(true).await;
        if let Some(metrics) = &self.metrics {
            metrics.stop(false).await;
        }
    }
}

impl std::fmt::Debug for Stopper {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Stopper { .. }")
    }
}

/// What the requests of a service can reach.
pub(crate) fn context(config: &Config, parts: Parts) -> Result<Context, StartError> {
    let auth = &config.auth;
    config.require_to_serve()?;
    let inconsistent =
        |error: Box<dyn std::error::Error + Send + Sync>| StartError::Inconsistent(error);
    let published = auth
        .jwks
        .clone()
        .map(|source| Published::new(source, auth.algorithm))
        .transpose()
        .map_err(|error| inconsistent(Box::new(error)))?;
    let metrics = Metrics::new().map_err(|error| inconsistent(Box::new(error)))?;
    metrics.watch(&parts.store);
    let press = Press::new(config.paper.fonts.as_deref());
    let press = press.map_err(|bad| StartError::Fonts(Box::new(bad)))?;
    Ok(Context {
        published,
        store: parts.store,
        clock: parts.clock,
        ids: parts.ids,
        knowledge: KnowledgeBase::builtin().map_err(|error| inconsistent(Box::new(error)))?,
        cursors: cursor_key(auth),
        seals: SealKeys::new(&config.seal).map_err(|error| inconsistent(Box::new(error)))?,
        verifier: Verifier::new(auth).map_err(|fault| inconsistent(Box::new(fault)))?,
        accepted: Accepted::default(),
        tenants: Tenants::default(),
        revoked: Revoked::default(),
        learnt: Lately::default(),
        limits: Limits::new(&config.limits),
        deadlines: config.http.deadlines,
        metrics,
        readiness: Readiness::default(),
        running: Running::default(),
        headway: Headway::default(),
        jobs: Notify::new(),
        schedules: Notify::new(),
        outbound: Notify::new(),
        press: Arc::new(press),
        egress: Egress::new(allowed(config)).map_err(|error| inconsistent(Box::new(error)))?,
        base: config.http.public_url.clone(),
        docs: config.http.docs.unwrap_or(false),
    })
}

/// What events may be sent to.
fn allowed(config: &Config) -> Allowed {
    let outbound = &config.outbound;
    let own = reqwest::Url::parse(&config.http.public_url).ok();
    Allowed {
        ports: outbound.ports.clone(),
        is_insecure: outbound.is_insecure,
        own_host: own.and_then(|url| url.host_str().map(str::to_owned)),
    }
}

/// The key of cursors: its own secret, or one that goes with the secret of tokens and then is rotated with it, or one that
/// lives with the process.
fn cursor_key(auth: &AuthConfig) -> CursorKey {
    if let Some(secret) = &auth.cursor_secret {
        return CursorKey::new(secret);
    }
    // Prefixed, so that no cursor is ever a token's signature.
    let derived =
        |key: &AuthKey| Secret::new(format!("wearcourse cursor 1 {}", key.material.expose()));
    let mut keys = auth.keys.iter().map(derived);
    match keys.next() {
        Some(secret) if auth.algorithm == Algorithm::HS256 => {
            keys.fold(CursorKey::new(&secret), |key, old| key.or(&old))
        }
        Some(_) | None => {
            tracing::warn!("cursors end with this process: set WEARCOURSE_CURSOR_SECRET");
            let random: Vec<_> = (0..4).map(|_| UuidV7Source.uuid().to_string()).collect();
            CursorKey::new(&Secret::new(random.concat()))
        }
    }
}

fn serve(config: &Config, ctx: &web::Data<Context>) -> Result<(Server, SocketAddr), StartError> {
    let (data, address) = (ctx.clone(), config.http.bind);
    let listen = |source| StartError::Listen { address, source };
    let stall = config.http.deadlines.stall;
    let mut server = HttpServer::new(move || server::app(data.clone()))
        .on_connect(move |connection, _extensions| hang_up_after(stall, connection))
        .client_request_timeout(config.http.deadlines.head)
        .keep_alive(KEEP_ALIVE)
        .max_connections(config.http.max_connections)
        .shutdown_timeout(config.http.shutdown.as_secs())
        .disable_signals();
    if let Some(workers) = config.http.workers {
        server = server.workers(workers);
    }
    let server = server.bind_auto_h2c(address).map_err(listen)?;
    let bound = server.addrs().first().copied().unwrap_or(address);
    Ok((server.run(), bound))
}

/// Has the system hang up on who takes nothing of what is sent for so long: the framework has no deadline for that.
///
/// Where the system knows no such limit, such a reader keeps the connection, of which there are `max_connections`.
fn hang_up_after(stall: Duration, connection: &dyn Any) {
    #[cfg(any(target_os = "linux", target_os = "android"))]
    if let Some(stream) = connection.downcast_ref::<TcpStream>()
        && let Err(error) = SockRef::from(stream).set_tcp_user_timeout(Some(stall))
    {
        tracing::debug!(%error, "a connection without a limit for a reader that does not read");
    }
    #[cfg(not(any(target_os = "linux", target_os = "android")))]
    let _ = (stall, connection);
}

fn expose(
    address: SocketAddr,
    ctx: &web::Data<Context>,
) -> Result<(Server, SocketAddr), StartError> {
    let metrics = web::Data::from(Arc::new(ctx.metrics.clone()));
    let store = web::Data::new(ctx.store.clone());
    let server = HttpServer::new(move || server::metrics_app(metrics.clone(), store.clone()))
        .workers(1)
        .disable_signals()
        .bind(address)
        .map_err(|source| StartError::Listen { address, source })?;
    let bound = server.addrs().first().copied().unwrap_or(address);
    Ok((server.run(), bound))
}

#[cfg(test)]
mod tests;
